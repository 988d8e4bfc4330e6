"""A proven bound: no plan is shorter and throws away less than this, taking bags as if they could be opened in part."""

from __future__ import annotations

from typing import NamedTuple

from .case import TINY_ML, Case
from .highs import Program


def best_ml(case: Case) -> float:
    """The least that shortage (weighted) and milk thrown away can add up to, in mL thrown away.

    A linear relaxation: every bag may be given at any feed that one of its openings reaches, drop by drop, whatever
    else is opened when. Every plan is allowed in it at the same cost or less.
    """
    program = Program()
    short = [program.column(want.cost, want.ml) for want in case.wants]
    gives: list[list[int]] = [[] for _ in case.wants]
    for ml, reached, wasted in _supplies(case):
        columns = []
        for i in reached:
            columns.append(program.column(-1.0 if wasted else 0.0))
            gives[i].append(columns[-1])
        program.constant += ml if wasted else 0.0
        if columns:
            program.row(0.0, ((column, 1.0) for column in columns), ml)
    for i, want in enumerate(case.wants):
        program.row(want.ml, ((column, 1.0) for column in [short[i], *gives[i]]), want.ml)
    found = program.solve()
    return 0.0 if found is None else max(0.0, found.bound) + case.sunk_ml


def _supplies(case: Case) -> list[tuple[float, tuple[int, ...], bool]]:
    """Amounts that reach the same feeds, whether what is not fed is thrown away."""
    added: dict[tuple[tuple[int, ...], bool], float] = {}
    for cold in case.cold:
        added[cold.wants, cold.wasted] = added.get((cold.wants, cold.wasted), 0.0) + cold.ml
    for bag in case.frozen:
        reached = tuple(sorted({i for opening in bag.openings for i in opening.wants}))
        added[reached, bag.ends] = added.get((reached, bag.ends), 0.0) + bag.ml
    return [(ml, reached, wasted) for (reached, wasted), ml in added.items()]


class Bags(NamedTuple):
    """How many bags any plan opens at least, and that one less is short of `rest_ml` at least."""

    fewest: int
    rest_ml: float


def bags(case: Case) -> Bags:
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
    return _largest(missing, sorted((bag.ml for bag in case.frozen if bag.openings), reverse=True))


def _largest(missing_ml: float, sizes: list[float]) -> Bags:
    count, rest = 0, 0.0
    for ml in sizes:
        if missing_ml <= TINY_ML:
            break
        count, rest, missing_ml = count + 1, missing_ml, missing_ml - ml
    return Bags(count, rest)
