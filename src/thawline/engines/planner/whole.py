"""The same feeds out of whole lots: what is begun is finished, so that what is over is frozen whole."""

from __future__ import annotations

from .case import TINY_ML, Case, Choice, Cold
from .windows import end_h

Parts = dict[tuple[int, int], float]


def finished(case: Case, choice: Choice) -> Choice:
    """The choice with fewer lots begun and then frozen in part; itself where there is none, or no better way.

    Only fresh milk that can be frozen changes places, so that no feed gets less and nothing more is thrown away.
    """
    if case.problem.rotation:
        return choice
    lots = {cold.lot: cold for cold in case.cold if cold.slots}
    begun = _begun(lots, choice.parts, case)
    if not begun:
        return choice
    wanted = [0.0] * len(case.wants)
    for (lot, i), ml in choice.parts.items():
        wanted[i] += ml if lot in lots else 0.0
    order = sorted(lots.values(), key=lambda cold: _by_end(case, cold))
    parts = _walk(case, order, wanted)
    if parts is None or len(_begun(lots, parts, case)) >= len(begun):
        return choice
    return Choice(choice.opened, {arc: ml for arc, ml in choice.parts.items() if arc[0] not in lots} | parts)


def _by_end(case: Case, cold: Cold) -> tuple[float, float, str]:
    lot = case.problem.lots[cold.lot]
    return end_h(lot), lot.dated_h, lot.name


def _ends(case: Case, cold: Cold) -> bool:
    return end_h(case.problem.lots[cold.lot]) < case.problem.horizon_h


def _begun(lots: dict[int, Cold], parts: Parts, case: Case) -> set[int]:
    """Lots that end within the plan and are fed from, but not wholly."""
    given: dict[int, float] = {}
    for (lot, _), ml in parts.items():
        given[lot] = given.get(lot, 0.0) + ml
    return {lot for lot, cold in lots.items() if lot in given and given[lot] < cold.ml - TINY_ML and _ends(case, cold)}


def _walk(case: Case, order: list[Cold], wanted: list[float]) -> Parts | None:
    """What ends first goes first if it can be used up, the others where feeds are left; None if that is not enough."""
    parts: Parts = {}
    later = []
    for cold in order:
        if _ends(case, cold) and sum(wanted[i] for i in cold.wants) < cold.ml - TINY_ML:
            later.append(cold)
        else:
            _take(cold, wanted, parts)
    while later and max(wanted) > TINY_ML:
        most = max(later, key=lambda cold: sum(wanted[i] for i in cold.wants))
        later.remove(most)
        _take(most, wanted, parts)
    return None if wanted and max(wanted) > TINY_ML else parts


def _take(cold: Cold, wanted: list[float], parts: Parts) -> None:
    """All of a lot that feeds still want, the earliest first."""
    left = cold.ml
    for i in cold.wants:
        ml = min(left, wanted[i])
        if ml > TINY_ML:
            parts[cold.lot, i] = ml
            left -= ml
            wanted[i] -= ml
