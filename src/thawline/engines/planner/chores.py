"""What there is to do: put away, take out of the freezer, freeze what is over, pack, throw away."""

from __future__ import annotations

from typing import NamedTuple

from . import early
from .case import TINY_ML, Case, Choice, Cold
from .figures import cost
from .kinds import Chore, Lot, Slot
from .reasons import reason
from .windows import Opening, end_h, put_away


class Rest(NamedTuple):
    """What becomes of the milk that is not fed: mL to freeze (and when) and mL to throw away, by the lot's number.

    `young`: lots frozen whole since no feed within the next days takes them.
    """

    freeze: dict[int, float]
    slots: dict[int, Slot]
    young: set[int]
    thrown: dict[int, float]


def rests(case: Case, choice: Choice) -> Rest:
    """What is over: fresh milk is frozen if it can be and would end, else thrown away if it ends within the plan."""
    given = dict.fromkeys(range(len(case.problem.lots)), 0.0)
    last_h: dict[int, float] = {}
    for (one, i), ml in choice.parts.items():
        given[one] += ml
        last_h[one] = max(last_h.get(one, 0.0), case.wants[i].by_h)
    found = Rest({}, {}, set(), {})
    for cold in case.cold:
        over = cold.ml - given[cold.lot]
        if over > TINY_ML and cold.wasted:
            found.thrown[cold.lot] = over
        elif over > TINY_ML:
            _freeze(case, cold, over, last_h.get(cold.lot), found)
    _thrown_bags(case, choice, given, found)
    return found


def _freeze(case: Case, cold: Cold, over_ml: float, last_h: float | None, found: Rest) -> None:
    """Freeze what is over if it is worth it; `last_h`: when the lot is last fed from, None where it is left whole."""
    young = last_h is None and early.may_wait(case, cold)
    if not (young or _worth_freezing(case, cold)):
        return
    slot = early.when(case, cold, last_h or 0.0)
    if over_ml >= cost("part") or slot.at_h >= (last_h or 0.0) or cold.rotated:
        found.freeze[cold.lot], found.slots[cold.lot] = over_ml, slot
        if young:
            found.young.add(cold.lot)


def _thrown_bags(case: Case, choice: Choice, given: dict[int, float], found: Rest) -> None:
    """What is left of opened bags, and of those whose time in the freezer ends."""
    opened = {case.frozen[k].lot for k in choice.opened}
    for number, lot in enumerate(case.problem.lots):
        if lot.form == "frozen" and not lot.held and lot.ml > TINY_ML:
            over = lot.ml - given[number]
            if over > TINY_ML and (number in opened or end_h(lot) < case.problem.horizon_h):
                found.thrown[number] = over


def _worth_freezing(case: Case, cold: Cold) -> bool:
    """Whether it would end within the plan, or soon after with no later chance to freeze it; or it is a freezer day."""
    lot, horizon = case.problem.lots[cold.lot], case.problem.horizon_h
    if not cold.slots:
        return False
    last_chance = lot.freeze_by_h is not None and lot.freeze_by_h - lot.margin_h < horizon
    return cold.rotated or end_h(lot) < horizon or (last_chance and end_h(lot) < horizon + cost("keep"))


def chores(case: Case, choice: Choice, rest: Rest) -> list[Chore]:
    """All chores in the order of time."""
    found = [
        *_thaws(case, choice),
        *_freezes(case, rest),
        *_chills(case, choice, rest),
        *_packs(case, choice),
        *_discards(case, choice, rest),
    ]
    return sorted(found, key=lambda chore: (chore.at_h, chore.by_h, chore.does, chore.lot, chore.need))


def _thaws(case: Case, choice: Choice) -> list[Chore]:
    found = []
    for k, opening in sorted(choice.opened.items()):
        bag, lot = case.frozen[k], case.problem.lots[case.frozen[k].lot]
        fed = [i for (number, i) in choice.parts if number == bag.lot] or list(opening.wants)
        first = min(fed, key=lambda i: (case.wants[i].by_h, i))
        want = case.wants[first]
        if opening.quick:
            why = reason("thaw_quick", lot=lot.name, at_h=want.at_h)
            found.append(Chore("thaw", lot.name, lot.ml, opening.at_h, opening.at_h, opening.night, why, want.need))
            continue
        by_h = max(opening.at_h, min(want.by_h - bag.pool.thaw.ready_h, bag.last_h))
        code = "rotation_day" if want.rotation else "freezer_ends" if bag.ends else "needed_then"
        args = {"needed_then": {"at_h": want.at_h}, "freezer_ends": {"until_h": lot.until_h}}.get(code, {})
        found.append(
            Chore("thaw", lot.name, lot.ml, opening.at_h, by_h, opening.night, reason(code, lot=lot.name, **args))
        )
    return found


def _freezes(case: Case, rest: Rest) -> list[Chore]:
    found = []
    for cold in case.cold:
        if cold.lot not in rest.freeze:
            continue
        lot, slot = case.problem.lots[cold.lot], rest.slots[cold.lot]
        by_h = max(slot.at_h, _freeze_by(lot))
        code = "over_young" if cold.lot in rest.young else "over"
        why = reason(code, lot=lot.name, until_h=lot.until_h, frozen_until_h=lot.frozen_until_h or 0.0)
        if cold.rotated:
            why = reason("rotation_day", lot=lot.name)
        found.append(Chore("freeze", lot.name, rest.freeze[cold.lot], slot.at_h, by_h, slot.night, why))
    return found


def _freeze_by(lot: Lot) -> float:
    return (lot.until_h if lot.freeze_by_h is None else lot.freeze_by_h) - lot.margin_h


def _chills(case: Case, choice: Choice, rest: Rest) -> list[Chore]:
    """Milk on the counter goes into the cold, but for what is fed or frozen by then."""
    found = []
    for number, lot in enumerate(case.problem.lots):
        slot = put_away(case.problem, lot)
        if slot is None or lot.held or lot.ml <= TINY_ML or lot.chore_by_h is None:
            continue
        fed = sum(ml for (one, i), ml in choice.parts.items() if one == number and case.wants[i].by_h <= slot.at_h)
        freeze = rest.slots.get(number)
        if freeze is not None and freeze.at_h <= lot.chore_by_h:
            fed += rest.freeze[number]
        if lot.ml - fed > TINY_ML:
            why = reason("put_away", lot=lot.name, until_h=lot.chore_by_h)
            found.append(Chore("chill", lot.name, lot.ml - fed, slot.at_h, lot.chore_by_h, slot.night, why))
    return found


def _packs(case: Case, choice: Choice) -> list[Chore]:
    """What goes along when a child leaves: each lot once a need."""
    amounts: dict[tuple[str, int], list[tuple[int, float]]] = {}
    for (lot, i), ml in sorted(choice.parts.items()):
        if case.wants[i].leaves:
            amounts.setdefault((case.wants[i].need, lot), []).append((i, ml))
    found = []
    for (need, number), parts in amounts.items():
        name, at_h = case.problem.lots[number].name, case.wants[parts[0][0]].by_h
        why = reason("needed_then", lot=name, at_h=case.wants[parts[0][0]].at_h)
        found.append(Chore("pack", name, sum(ml for _, ml in parts), at_h, at_h, night=False, reason=why, need=need))
    return found


def _discards(case: Case, choice: Choice, rest: Rest) -> list[Chore]:
    """What is thrown away, at the first slot by day after its time; none after the plan's end."""
    opened = {case.frozen[k].lot: (case.frozen[k], opening) for k, opening in choice.opened.items()}
    found = []
    for number, ml in sorted(rest.thrown.items()):
        lot = case.problem.lots[number]
        if number in opened:
            at_h, why = (
                _bag_end(opened[number][1], opened[number][0].pool.thaw.life_h),
                reason("left_over", lot=lot.name),
            )
        elif lot.until_h < 0 or (lot.chore_by_h is not None and lot.chore_by_h < max(0.0, lot.from_h)):
            at_h, why = 0.0, reason("past", lot=lot.name)
        else:
            at_h, why = lot.until_h, reason("not_needed", lot=lot.name, until_h=lot.until_h)
        slots = sorted(slot.at_h for slot in case.problem.slots if not slot.night and slot.at_h >= at_h)
        at_h = slots[0] if slots else at_h
        if at_h <= case.problem.horizon_h:
            found.append(Chore("discard", lot.name, ml, at_h, at_h, night=False, reason=why))
    return found


def _bag_end(opening: Opening, life_h: float) -> float:
    return opening.at_h if opening.quick else opening.at_h + life_h
