"""Who gets what, once it is settled which bags leave the freezer when: oldest first wherever that costs no milk."""

from __future__ import annotations

from typing import NamedTuple

from .case import TINY_ML, Case, Choice, Cold, rotation_cost
from .figures import cost
from .greedy import RANK, cold_order
from .highs import Program
from .windows import Opening, Pool


class _Supply(NamedTuple):
    """One lot in the cold, or bags of one pool that leave together."""

    lots: tuple[int, ...]
    ml: float
    wants: tuple[int, ...]
    wasted: bool
    cold: Cold | None


def solve(case: Case, opened: dict[int, Opening]) -> Choice | None:
    """The least milk short and thrown away with these bags opened; among equals first what is thawed, then the oldest.

    The preference for age weighs at most 0.002 per mL: no exchange of milk between fewer than 500 feeds outweighs a mL.
    """
    program, supplies = Program(), _supplies(case, opened)
    horizon = max([1.0, *(want.at_h for want in case.wants)])
    gives: list[list[int]] = [[] for _ in case.wants]
    arcs: dict[tuple[int, int], int] = {}
    for i, want in enumerate(case.wants):
        # Where two feeds can't both be met, the later one is short: there is more time to mend it.
        gives[i].append(program.column(want.cost + cost("age") * (1 - want.at_h / horizon), want.ml))
    for number, supply in enumerate(supplies):
        young = cost("age") * (number + 1) / len(supplies)
        for i in supply.wants:
            weight = young * (2 - case.wants[i].at_h / horizon) - (1.0 if supply.wasted else 0.0)
            if supply.cold is not None:
                weight += rotation_cost(case, supply.cold, case.wants[i])
            arcs[number, i] = program.column(weight)
            gives[i].append(arcs[number, i])
        if supply.wants:
            program.row(0.0, ((arcs[number, i], 1.0) for i in supply.wants), supply.ml)
    for i, want in enumerate(case.wants):
        program.row(want.ml, ((column, 1.0) for column in gives[i]), want.ml)
    found = program.solve()
    if found is None:
        return None
    parts: dict[tuple[int, int], float] = {}
    for number, supply in enumerate(supplies):
        _pour(case, supply, [(i, found.values[arcs[number, i]]) for i in supply.wants], parts)
    return Choice(dict(opened), parts)


def _supplies(case: Case, opened: dict[int, Opening]) -> list[_Supply]:
    """All supplies, the one to use first standing first."""
    keyed: list[tuple[tuple[int, float, float, str], _Supply]] = [
        (cold_order(case, cold), _Supply((cold.lot,), cold.ml, cold.wants, cold.wasted, cold)) for cold in case.cold
    ]
    together: dict[tuple[Pool, Opening], list[int]] = {}
    for k, opening in opened.items():
        together.setdefault((case.frozen[k].pool, opening), []).append(k)
    lots = case.problem.lots
    for (of, opening), bags in together.items():
        bags.sort(key=lambda k: (lots[case.frozen[k].lot].dated_h, lots[case.frozen[k].lot].name))
        numbers, ml = tuple(case.frozen[k].lot for k in bags), sum(case.frozen[k].ml for k in bags)
        oldest = lots[numbers[0]]
        key = RANK["frozen"], opening.at_h + of.thaw.life_h, oldest.dated_h, oldest.name
        keyed.append((key, _Supply(numbers, ml, opening.wants, wasted=True, cold=None)))
    return [supply for _, supply in sorted(keyed, key=lambda one: one[0])]


def _pour(case: Case, supply: _Supply, wanted: list[tuple[int, float]], parts: dict[tuple[int, int], float]) -> None:
    """Pour a supply's bags one after the other, the oldest first, feed after feed."""
    left = [case.problem.lots[lot].ml for lot in supply.lots]
    at = 0
    for i, want_ml in wanted:
        ml = want_ml
        while ml > TINY_ML and at < len(left):
            poured = min(ml, left[at])
            if poured > TINY_ML:
                parts[supply.lots[at], i] = parts.get((supply.lots[at], i), 0.0) + poured
            ml -= poured
            left[at] -= poured
            if left[at] <= TINY_ML:
                at += 1
