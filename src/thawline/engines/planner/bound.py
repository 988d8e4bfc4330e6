"""A proven bound: no plan is shorter and throws away less than this, taking bags as if they could be opened in part."""

from __future__ import annotations

from typing import NamedTuple

from .case import TINY_ML, Case
from .highs import Program

BAG_ML = 1e-6  # so that the relaxation takes no milk from bags that the cold could give


class Least(NamedTuple):
    """The bound in mL thrown away; what the relaxation that gives it lacks, and takes from the cold by lot and feed."""

    ml: float
    short_ml: float
    cold: dict[tuple[int, int], float]


def least(case: Case) -> Least:
    """The least that shortage (weighted) and milk thrown away can add up to, in mL thrown away.

    A linear relaxation: every bag may be given at any feed that one of its openings reaches, drop by drop, whatever
    else is opened when. Every plan is allowed in it at the same cost or less.
    """
    program = Program()
    short = [program.column(want.cost, want.ml) for want in case.wants]
    gives: list[list[int]] = [[] for _ in case.wants]
    cold: dict[tuple[int, int], int] = {}
    by_day = {i for bag in case.frozen for one in bag.openings if not (one.night or one.quick) for i in one.wants}
    for lot, ml, reached, wasted in _supplies(case):
        columns = [
            program.column(-1.0 if wasted else 0.0 if lot is not None else BAG_ML if i in by_day else 3 * BAG_ML)
            for i in reached
        ]
        for i, column in zip(reached, columns, strict=True):
            gives[i].append(column)
            if lot is not None:
                cold[lot, i] = column
        program.constant += ml if wasted else 0.0
        if columns:
            program.row(0.0, ((column, 1.0) for column in columns), ml)
    for i, want in enumerate(case.wants):
        program.row(want.ml, ((column, 1.0) for column in [short[i], *gives[i]]), want.ml)
    found = program.solve()
    if found is None:
        return Least(0.0, 0.0, {})
    drawn = sum(want.ml for want in case.wants) * 3 * BAG_ML
    ml = max(0.0, found.bound - drawn) + case.sunk_ml
    lacks = sum(found.values[column] for column in short)
    return Least(
        ml, lacks, {arc: found.values[column] for arc, column in cold.items() if found.values[column] > TINY_ML}
    )


def _supplies(case: Case) -> list[tuple[int | None, float, tuple[int, ...], bool]]:
    """Lots in the cold, and bags that reach the same feeds added up (no lot); whether the rest is thrown away."""
    added: dict[tuple[tuple[int, ...], bool], float] = {}
    for bag in case.frozen:
        reached = tuple(sorted({i for opening in bag.openings for i in opening.wants}))
        added[reached, bag.ends] = added.get((reached, bag.ends), 0.0) + bag.ml
    cold = [(cold.lot, cold.ml, cold.wants, cold.wasted) for cold in case.cold]
    return [*cold, *((None, ml, reached, ends) for (reached, ends), ml in added.items())]


class Bags(NamedTuple):
    """How many bags any plan opens at least: `fewest` if it is short as the relaxation is, `all_fed` if nowhere.

    One bag less than `all_fed` is short of `rest_ml` at least.
    """

    fewest: int
    all_fed: int
    rest_ml: float


def bags(case: Case, short_ml: float) -> Bags:
    """What the cold milk can't give at best comes from bags, at best from the largest ones."""
    program = Program()
    gives: list[list[int]] = [[] for _ in case.wants]
    for cold in case.cold:
        columns = [program.column(-1.0) for _ in cold.wants]
        for i, column in zip(cold.wants, columns, strict=True):
            gives[i].append(column)
        if columns:
            program.row(0.0, ((column, 1.0) for column in columns), cold.ml)
    for i, want in enumerate(case.wants):
        if gives[i]:
            program.row(0.0, ((column, 1.0) for column in gives[i]), want.ml)
    found = program.solve()
    missing = sum(want.ml for want in case.wants) + (found.bound if found else -float("inf"))
    sizes = sorted((bag.ml for bag in case.frozen if bag.openings), reverse=True)
    return Bags(_largest(missing - short_ml, sizes)[0], *_largest(missing, sizes))


def _largest(missing_ml: float, sizes: list[float]) -> tuple[int, float]:
    count, rest = 0, 0.0
    missing_ml = min(missing_ml, sum(sizes))  # what no bag gives is short whatever is opened
    for ml in sizes:
        if missing_ml <= TINY_ML:
            break
        count, rest, missing_ml = count + 1, missing_ml, missing_ml - ml
    return count, rest
