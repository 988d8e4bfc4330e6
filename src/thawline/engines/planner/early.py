"""Milk that is over is frozen while it is young, so that a forgotten chore costs nothing: which lots, and when."""

from __future__ import annotations

from .case import TINY_ML, Case, Choice, Cold
from .figures import cost
from .kinds import Slot
from .windows import EPS_H, end_h


def released(case: Case, choice: Choice) -> Choice:
    """The choice with young lots left whole where other fresh milk does for all their feeds: nothing else changes."""
    if case.problem.rotation:
        return choice
    parts = dict(choice.parts)
    fed: dict[int, list[int]] = {}
    for lot, i in parts:
        fed.setdefault(lot, []).append(i)
    for cold in sorted((cold for cold in case.cold if cold.lot in fed), key=lambda cold: _youngest(case, cold)):
        if may_wait(case, cold) and all(case.wants[i].by_h > cost("young") for i in fed[cold.lot]):
            parts = _given_by_others(case, parts, cold, sorted(fed[cold.lot])) or parts
    return Choice(choice.opened, parts)


def may_wait(case: Case, cold: Cold) -> bool:
    """Whether a lot is there now, can be frozen, and the plan looks far enough to tell that no feed needs it."""
    lot = case.problem.lots[cold.lot]
    there = bool(cold.slots) and not lot.coming and lot.from_h <= 0
    return there and bool(case.wants) and case.problem.horizon_h >= min(cost("young"), end_h(lot))


def when(case: Case, cold: Cold, after_h: float) -> Slot:
    """When what is over is frozen: the first evening from `after_h` on that leaves a day, else the first slot.

    On a freezer day the first slot; where none is left after the lot's last feed, the last one before.
    """
    if cold.rotated:
        return cold.slots[0]
    left = [slot for slot in cold.slots if slot.at_h >= after_h - EPS_H]
    last_h = cold.slots[-1].at_h - cost("reserve")
    evening = (slot for slot in left if slot.at_h in case.evenings and slot.at_h <= last_h + EPS_H)
    return next(evening, left[0] if left else cold.slots[-1])


def thawed_by_then(case: Case, lot_number: int, slot: Slot, i: int) -> bool:
    """Whether milk frozen at a slot could be thawed in the refrigerator for a feed, as slowly as any bag thaws."""
    lot, want = case.problem.lots[lot_number], case.wants[i]
    thaws = [bag.pool.thaw for bag in case.frozen]
    if not thaws or (lot.children is not None and want.child not in lot.children):
        return False
    ready_h, life_h = max(one.ready_h for one in thaws), min(one.life_h - one.margin_h for one in thaws)
    slots = (one.at_h for one in case.problem.slots if one.at_h >= slot.at_h + cost("freezes"))
    return any(at_h + ready_h <= want.by_h and want.at_h <= at_h + life_h for at_h in slots)


def _youngest(case: Case, cold: Cold) -> tuple[float, str]:
    lot = case.problem.lots[cold.lot]
    return -lot.dated_h, lot.name


def _given_by_others(
    case: Case, parts: dict[tuple[int, int], float], cold: Cold, feeds: list[int]
) -> dict[tuple[int, int], float] | None:
    """The parts with other fresh milk in a lot's place at all its feeds; None where there is not enough."""
    found = {arc: ml for arc, ml in parts.items() if arc[0] != cold.lot}
    others = _others(case, found, cold)
    for i in feeds:
        missing = parts[cold.lot, i]
        for other in others:
            ml = min(missing, others[other]) if i in case.cold[other].wants else 0.0
            if ml > TINY_ML:
                arc = case.cold[other].lot, i
                found[arc] = found.get(arc, 0.0) + ml
                others[other] -= ml
                missing -= ml
        if missing > TINY_ML:
            return None
    return found


def _others(case: Case, parts: dict[tuple[int, int], float], cold: Cold) -> dict[int, float]:
    """What is left in lots that are begun, or yet to come, by their place among the cold lots; the oldest first."""
    given: dict[int, float] = {}
    for (lot, _), ml in parts.items():
        given[lot] = given.get(lot, 0.0) + ml
    lots = case.problem.lots
    found = [
        (lots[one.lot].dated_h, lots[one.lot].name, place)
        for place, one in enumerate(case.cold)
        if one.lot != cold.lot and lots[one.lot].form == "fresh" and (one.lot in given or lots[one.lot].coming)
    ]
    left = ((place, case.cold[place].ml - given.get(case.cold[place].lot, 0.0)) for *_, place in sorted(found))
    return {place: ml for place, ml in left if ml > TINY_ML}
