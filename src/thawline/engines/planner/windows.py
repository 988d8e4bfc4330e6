"""Which milk may be given at which feed: the windows of cold lots and of bags by the moment they leave the freezer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from .demand import Want, within
from .kinds import Lot, Problem, Slot, Thaw

EPS_H = 1e-9


class Opening(NamedTuple):
    """A moment at which a bag may leave the freezer, and the feeds (by number) it may then be given at.

    `quick`: in water, right at the one feed.
    """

    at_h: float
    night: bool
    quick: bool
    wants: tuple[int, ...]


class Pool(NamedTuple):
    """What makes bags alike in all but size and age: how they thaw, who may drink them, and stricter places."""

    thaw: Thaw
    children: tuple[str, ...] | None
    until_at: tuple[tuple[str, float], ...]


def end_h(lot: Lot) -> float:
    """Until when a plan uses a lot: its deadline less the margin; not at all if it was not put away in time."""
    if lot.chore_by_h is not None and lot.chore_by_h < max(0.0, lot.from_h):
        return -1.0
    return lot.until_h - lot.margin_h


def may_drink(lot: Lot, want: Want) -> bool:
    """Whether a lot is meant for the child, and its place's own rule allows it then."""
    if lot.children is not None and want.child not in lot.children:
        return False
    return want.at_h <= lot.until_at.get(want.where, float("inf")) - lot.margin_h + EPS_H


def cold_wants(lot: Lot, wants: Sequence[Want]) -> list[int]:
    """The feeds at which a lot in the cold may be given."""
    end = end_h(lot) + EPS_H
    start = max(0.0, lot.from_h) - EPS_H
    return [i for i, want in enumerate(wants) if start <= want.by_h and want.at_h <= end and may_drink(lot, want)]


def pool(lot: Lot, thaw: Thaw) -> Pool:
    """The pool a frozen lot belongs to."""
    children = None if lot.children is None else tuple(sorted(lot.children))
    until_at = tuple(sorted((where, until - lot.margin_h) for where, until in lot.until_at.items()))
    return Pool(thaw, children, until_at)


def thawed_wants(of: Pool, at_h: float, wants: Sequence[Want]) -> tuple[int, ...]:
    """The feeds at which a bag may be given that leaves the freezer at `at_h` and thaws in the refrigerator."""
    ready, end = at_h + of.thaw.ready_h - EPS_H, at_h + of.thaw.life_h - of.thaw.margin_h + EPS_H
    return tuple(i for i in pool_wants(of, wants) if ready <= wants[i].by_h and wants[i].at_h <= end)


def pool_wants(of: Pool, wants: Sequence[Want]) -> list[int]:
    """The feeds of the children who may drink it, where the place allows it."""
    limits = dict(of.until_at)
    return [
        i
        for i, want in enumerate(wants)
        if (of.children is None or want.child in of.children)
        and want.at_h <= limits.get(want.where, float("inf")) + EPS_H
    ]


def night_at(at_h: float, slots: Sequence[Slot]) -> bool:
    """Whether a moment is at night: the last slot before it tells."""
    before = [slot for slot in slots if slot.at_h <= at_h + EPS_H]
    return bool(before) and max(before).night


def openings(of: Pool, problem: Problem, wants: Sequence[Want]) -> list[Opening]:
    """All moments at which a bag of the pool is of use; in water only where no slot gets one ready for the feed."""
    slots = sorted({slot for slot in problem.slots if slot.at_h >= 0})
    found = [Opening(slot.at_h, slot.night, False, thawed_wants(of, slot.at_h, wants)) for slot in slots]
    found = [opening for opening in found if opening.wants]
    if of.thaw.quick:
        reached = {i for opening in found for i in opening.wants}
        left = [i for i in pool_wants(of, wants) if i not in reached and not wants[i].leaves]
        found += [Opening(wants[i].at_h, night_at(wants[i].at_h, slots), True, (i,)) for i in left]
    return sorted(found)


def alike(found: Iterable[Opening], first_h: float, last_h: float) -> set[float]:
    """The moments from `first_h` to `last_h` that matter: for each set of feeds the earliest and the latest, by day.

    The latest, since the bag keeps in the freezer until then; the earliest, since a younger bag may wait for it.
    """
    same: dict[tuple[tuple[int, ...], bool], list[float]] = {}
    for opening in found:
        if first_h - EPS_H <= opening.at_h <= last_h + EPS_H:
            same.setdefault((opening.wants, opening.night), []).append(opening.at_h)
    by_day = {feeds for feeds, night in same if not night}
    kept = (times for (feeds, night), times in same.items() if not night or feeds not in by_day)
    return {at_h for times in kept for at_h in (min(times), max(times))}


def freeze_slots(problem: Problem, lot: Lot) -> tuple[Slot, ...]:
    """The slots at which what is over of a fresh lot can be frozen, in order: those by day if there is one."""
    turn = within(lot.dated_h, problem.rotation)
    if lot.form != "fresh" or lot.freeze_by_h is None or not (problem.freeze_over or turn) or end_h(lot) < 0:
        return ()
    first_h, last_h = max(0.0, lot.from_h), lot.freeze_by_h - lot.margin_h
    found = sorted(slot for slot in problem.slots if first_h - EPS_H <= slot.at_h <= last_h + EPS_H)
    if not found:
        away = put_away(problem, lot)
        return (away,) if away is not None and away.at_h <= last_h + EPS_H else ()
    return tuple(slot for slot in found if not slot.night) or tuple(found)


def evenings(problem: Problem) -> frozenset[float]:
    """The last slot of each day: a night follows."""
    return frozenset(one.at_h for one, then in pairwise(sorted(problem.slots)) if then.night and not one.night)


def put_away(problem: Problem, lot: Lot) -> Slot | None:
    """When milk on the counter is put away: at a slot in time, else when it comes or now; None if there is no need."""
    first_h = max(0.0, lot.from_h)
    if lot.chore_by_h is None or lot.chore_by_h < first_h:
        return None
    found = sorted(slot for slot in problem.slots if first_h - EPS_H <= slot.at_h <= lot.chore_by_h + EPS_H)
    by_day = [slot for slot in found if not slot.night]
    # Whoever has just expressed is awake, so no slot is needed then.
    return (by_day or [Slot(first_h)])[0]
