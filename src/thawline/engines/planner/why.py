"""The one-line reason of every part of a feed, and what would mend a shortage."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from . import early
from .case import TINY_ML, Case, Choice, Cold, blocked
from .greedy import cold_order
from .kinds import Lot, Reason, Slot
from .reasons import reason
from .windows import EPS_H, end_h, may_drink

SAME_H = 1e-6


def part(case: Case, choice: Choice, lot_number: int, i: int, frozen: Collection[int] = ()) -> Reason:
    """Why this lot for this feed; `frozen`: lots that are frozen whole, which are not compared."""
    lot = case.problem.lots[lot_number]
    if lot.form == "frozen":
        return _bag(case, choice, lot, i)
    if lot.form in ("thawed", "thawing"):
        return reason("thawed_already", lot=lot.name, until_h=lot.until_h)
    apart = {lot_number, *frozen}
    others = [case.problem.lots[cold.lot] for cold in case.cold if i in cold.wants and cold.lot not in apart]
    bags = [bag for bag in case.frozen if any(i in opening.wants for opening in bag.openings)]
    if not others and not bags:
        return reason("only_one", lot=lot.name)
    if not others:
        return reason("saves_bag", lot=lot.name)
    if all(end_h(lot) <= end_h(other) + SAME_H for other in others):
        return reason("ends_first", lot=lot.name, until_h=lot.until_h)
    if all(lot.dated_h <= other.dated_h + SAME_H for other in others if other.form == "fresh"):
        return reason("oldest", lot=lot.name)
    if lot.best_h is not None and lot.best_h <= case.problem.horizon_h:
        return reason("best_by_near", lot=lot.name, best_h=lot.best_h)
    return reason("saves_milk", lot=lot.name)


def _bag(case: Case, choice: Choice, lot: Lot, i: int) -> Reason:
    place = next(k for k, bag in enumerate(case.frozen) if case.problem.lots[bag.lot] is lot)
    row = case.rows[case.row_of[place]]
    if case.wants[i].rotation:
        return reason("rotation_day", lot=lot.name)
    if not any(i in cold.wants for cold in case.cold) and len(row) == 1:
        return reason("only_one", lot=lot.name)
    at_h = choice.opened[place].at_h
    older = row[: row.index(place)]
    waiting = [k for k in older if k not in choice.opened or choice.opened[k].at_h > at_h + EPS_H]
    return reason("fits" if waiting else "oldest", lot=lot.name)


def mends(
    case: Case, choice: Choice, need: str, missing: dict[int, float], freezes: Mapping[int, Slot]
) -> tuple[Reason, ...]:
    """What would mend a need's shortage; `missing`: mL by feed; `freezes`: what is frozen when, by the lot's number.

    The nearest at hand stands first.
    """
    feeds = sorted(missing)
    first, ml = case.wants[feeds[0]], sum(missing.values())
    found = _once_frozen(case, feeds, freezes)
    found += _from_freezer(case, choice, feeds, missing)
    found += [
        reason("clear_hold", lot=lot.name)
        for lot in case.problem.lots
        if lot.held
        and lot.ml > TINY_ML
        and any(may_drink(lot, case.wants[i]) for i in feeds)
        and lot.until_h >= first.at_h
    ][:1]
    found.append(reason("express_in_time", by_h=first.by_h, ml=round(ml, 3)))
    return (*found, reason("other_milk"))


def _once_frozen(case: Case, feeds: Sequence[int], freezes: Mapping[int, Slot]) -> list[Reason]:
    """The first lot that the plan freezes soon enough to be thawed for it: a later plan will count on it."""
    for lot, slot in sorted(freezes.items(), key=lambda one: (one[1].at_h, one[0])):
        if any(early.thawed_by_then(case, lot, slot, i) for i in feeds):
            return [reason("once_frozen", lot=case.problem.lots[lot].name, at_h=slot.at_h)]
    return []


def _from_freezer(case: Case, choice: Choice, feeds: Sequence[int], missing: dict[int, float]) -> list[Reason]:
    """The first bag that would help in each way."""
    found: dict[str, Reason] = {}
    for row in case.rows:
        for k in row:
            if k in choice.opened:
                continue
            bag, name = case.frozen[k], case.problem.lots[case.frozen[k].lot].name
            helps = [one for one in bag.openings if any(i in one.wants for i in feeds)]
            free = [one for one in helps if not blocked(case, k, one.at_h, choice.opened)]
            if free:
                over = max(0.0, bag.ml - sum(missing.get(i, 0.0) for i in free[-1].wants))
                code = "thaw_quick_then" if free[-1].quick else "open_one_more"
                args = {} if free[-1].quick else {"over_ml": round(over, 3)}
                found.setdefault(code, reason(code, lot=name, **args))
            elif helps:
                found.setdefault("older_first", reason("older_first", lot=name))
            else:
                _too_late(case, k, feeds, found)
    return list(found.values())


def _too_late(case: Case, k: int, feeds: Sequence[int], found: dict[str, Reason]) -> None:
    """A bag that would be ready if somebody were there to take it out in time."""
    bag, lot = case.frozen[k], case.problem.lots[case.frozen[k].lot]
    for i in feeds:
        by_h = case.wants[i].by_h - bag.pool.thaw.ready_h
        if bag.first_h <= by_h <= bag.last_h and may_drink(lot, case.wants[i]):
            found.setdefault("a_moment_for_chores", reason("a_moment_for_chores", lot=lot.name, by_h=by_h))


def first_by_age(case: Case) -> list[Cold]:
    """The lots in the cold in the order of use."""
    return sorted(case.cold, key=lambda cold: cold_order(case, cold))
