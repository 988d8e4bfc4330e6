"""Which bags and moments the program looks at: all of them where there are few, else those near the answer at once."""

from __future__ import annotations

from .case import Case, Choice
from .windows import Opening

MOST = 400
NEAR_H = 36.0
SPARE = 8


def sensible(case: Case, known: Choice) -> tuple[dict[int, list[Opening]], bool]:
    """Moments by bag (its place in `frozen`), and whether they are all there are. Those of `known` are always in."""
    every = {k: list(bag.openings) for k, bag in enumerate(case.frozen) if bag.openings}
    if sum(map(len, every.values())) <= MOST:
        return every, True
    found: dict[int, list[Opening]] = {}
    for row in case.rows:
        found.update(_row(case, known, [k for k in row if k in every]))
    return dict(sorted(found.items())), False


def _row(case: Case, known: Choice, row: list[int]) -> dict[int, list[Opening]]:
    """Of one row: opened bags near the moment they are opened, and a few more beside each of them, the oldest first."""
    opened = [(place, known.opened[k].at_h) for place, k in enumerate(row) if k in known.opened]
    last = max((place for place, _ in opened), default=-1)
    found = {}
    for place, k in enumerate(row[: last + 1 + SPARE]):
        near = min(opened, key=lambda one: (abs(one[0] - place), one[0]))[1] if opened else 0.0
        at_h = known.opened[k].at_h if k in known.opened else near
        found[k] = [one for one in case.frozen[k].openings if abs(one.at_h - at_h) <= NEAR_H]
    return found
