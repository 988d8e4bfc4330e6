"""Which bags and moments the program looks at: all of them where there are few, else those of some days at a time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from .case import TINY_ML, Case, Choice
from .windows import Opening

MOST = 60
DAYS_H, STEP_H = 72.0, 48.0  # how long a part of the plan is that is solved at once, and how far the next one starts
BESIDE_H = 24.0
SPARE = 8  # how many bags more than are opened already may be opened


class Look(NamedTuple):
    """Moments by bag (its place in `frozen`); `fixed` bags leave at their one moment for certain."""

    moments: dict[int, list[Opening]]
    fixed: frozenset[int]


def few(case: Case) -> bool:
    """Whether there are so few bags and moments that the program takes them all and is solved to the end."""
    return sum(len(bag.openings) for bag in case.frozen) <= MOST


def everything(case: Case) -> Look:
    """All bags and all their moments."""
    return Look({k: list(bag.openings) for k, bag in enumerate(case.frozen) if bag.openings}, frozenset())


def starts(case: Case) -> list[float]:
    """When the parts of the plan begin that are solved one after the other; one part where the plan is short."""
    last_h = max((want.at_h for want in case.wants), default=0.0)
    return [STEP_H * part for part in range(1 + max(0, int((last_h - DAYS_H + STEP_H) // STEP_H)))]


def part(case: Case, known: Choice, start_h: float) -> Look:
    """The bags that may leave within one part of the plan, all others as in `known`."""
    end_h = start_h + DAYS_H
    moments: dict[int, list[Opening]] = {}
    for row in case.rows:
        moments.update(_row(case, known, row, start_h, end_h))
    fixed = frozenset(k for k in known.opened if k not in moments)
    return Look(moments | {k: [known.opened[k]] for k in sorted(fixed)}, fixed)


def _row(
    case: Case, known: Choice, row: list[int], start_h: float, end_h: float
) -> Iterator[tuple[int, list[Opening]]]:
    """Bags of a row that are opened in the part, and the next ones to be opened, with their moments in it by day."""
    spare = SPARE
    for k in row:
        opening = known.opened.get(k)
        if (opening is None and not spare) or (opening is not None and not start_h <= opening.at_h < end_h):
            continue
        found = [one for one in _by_day(case.frozen[k].openings) if start_h <= one.at_h < end_h]
        if found or opening is not None:
            spare -= opening is None
            yield k, found if opening is None else sorted({*found, opening})


def _by_day(found: tuple[Opening, ...]) -> list[Opening]:
    """Without the moments at night whose feeds are reached by day as well."""
    reached = {i for one in found if not one.night for i in one.wants}
    return [one for one in found if not one.night or not reached.issuperset(one.wants)]


def loses(case: Case, known: Choice, start_h: float) -> bool:
    """Whether milk is short or left over from a bag within a part of the plan, or a little later."""
    end_h = start_h + DAYS_H + BESIDE_H
    fed = [0.0] * len(case.wants)
    given: dict[int, float] = {}
    for (lot, i), ml in known.parts.items():
        fed[i] += ml
        given[lot] = given.get(lot, 0.0) + ml
    if any(want.ml - ml > TINY_ML and start_h <= want.at_h < end_h for want, ml in zip(case.wants, fed, strict=True)):
        return True
    left = (
        case.frozen[k].ml - given.get(case.frozen[k].lot, 0.0) > TINY_ML
        for k, one in known.opened.items()
        if start_h <= one.at_h < end_h
    )
    return any(left)
