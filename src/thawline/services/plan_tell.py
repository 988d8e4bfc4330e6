"""A planner's answer as a face shows it: chores of several containers together, instants in place of hours."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from thawline.core.containers import Container
from thawline.core.places import FREEZERS
from thawline.core.times import DAY, HOUR, local
from thawline.core.verdict import Verdict
from thawline.engines.planner.kinds import Chore, Does, Plan, Reason, Serving
from thawline.services.habits import Habits
from thawline.services.habits_faults import HOME
from thawline.services.plan_check import goes_to, quick
from thawline.services.plan_coming import COMING
from thawline.services.plan_figures import figure
from thawline.services.plan_kinds import PlanChore, PlanFeed, PlanNow, PlanPart, PlanShort, Portions
from thawline.services.plan_lots import Stock, rules_of
from thawline.services.plan_needs import Wanted
from thawline.services.plan_portions import portions
from thawline.services.plan_seen import Seen
from thawline.services.terms import Terms, place_of

_FAR_H = 24.0 * 366 * 100
_HAIR_ML = 0.05
# Less is no part of a feed, but what rounding left.
_LEAST_ML = 1.0


def tell(
    seen: Seen, habits: Habits, plan: Plan, need: Wanted, there: Stock, allowed: Terms, *, until: int
) -> PlanNow:  # fmt: skip
    """The plan as a face shows it."""
    sizes = portions(seen, habits, need, allowed)
    chores = [*_chores(seen, plan, need, there, allowed), *_at_hand(seen)]
    chores.sort(key=lambda one: (one.at, one.by, one.does, one.key))
    lacks = _lacks(plan)
    first = {plan.servings[index].need: plan.servings[index].at_h for index in sorted(lacks, reverse=True)}
    shorts = [
        PlanShort(
            _at(seen, first.get(one.need, one.at_h)), *need.about[one.need][:2], round(one.ml, 1),
            tuple(_reason(seen, why) for why in one.mends),
        )
        for one in plan.short
    ]  # fmt: skip
    return PlanNow(
        now=seen.now, until=until, zone=seen.base.settings.zone, way=habits.way, chores=tuple(chores),
        feeds=tuple(
            _feed(seen, one, need, sizes, lacks.get(index, 0.0)) for index, one in enumerate(plan.servings)
        ), short=tuple(shorts),
        thrown=tuple((lot, round(ml, 1)) for lot, ml in plan.thrown), better_ml=round(plan.better_ml, 1),
        proven=plan.proven, refined=plan.stage == "refined", need=need.day, portions=sizes, none=need.none,
        try_one=_try_one(seen), guideline=seen.base.rules.guideline.id,
        also=tuple(dict.fromkeys([*(one.id for one in seen.base.rules.all[1:]), *rules_of(habits).values()])),
    )  # fmt: skip


def _at(seen: Seen, hours: float) -> int:
    return seen.now + round(min(hours, _FAR_H) * HOUR)


def _reason(seen: Seen, reason: Reason) -> Reason:
    """Hours from now become instants: `until_h` is told as `until`, in microseconds."""
    args = tuple(
        (name.removesuffix("_h"), _at(seen, value)) if name.endswith("_h") and not isinstance(value, str)
        else (name, value)
        for name, value in reason.args
    )  # fmt: skip
    return Reason(reason.code, args)


# Feeds


def _lacks(plan: Plan) -> dict[int, float]:
    """What each feed (by number) is short of in mL: of each need the last feeds, for what comes helps the first."""
    left = {one.need: one.ml for one in plan.short}
    found = {}
    for index, serving in reversed(list(enumerate(plan.servings))):
        ml = min(serving.short_ml, left.get(serving.need, 0.0))
        if ml > _HAIR_ML:
            found[index] = ml
            left[serving.need] -= ml
    return found


def _feed(seen: Seen, serving: Serving, need: Wanted, sizes: Sequence[Portions], lacks_ml: float) -> PlanFeed:
    """A feed; what its parts lack is short only where milk yet to be expressed will likely not make up for it."""
    child, where, _ = need.about[serving.need]
    size = next((one for one in sizes if one.where == where), None)
    parts = tuple(
        PlanPart(part.lot, round(part.ml, 1), part.lot.startswith(f"{COMING}."), _reason(seen, part.reason))
        for part in serving.parts
        if part.ml >= _LEAST_ML
    )
    later = round(max(0.0, serving.short_ml - lacks_ml), 1)
    pour, step = (size.pour_ml, size.step_ml) if size is not None else (0.0, 0.0)
    return PlanFeed(
        _at(seen, serving.at_h), child, where, round(serving.ml, 1), parts, round(lacks_ml, 1), pour, step, later
    )  # fmt: skip


# Chores


def _chores(seen: Seen, plan: Plan, need: Wanted, there: Stock, allowed: Terms) -> list[PlanChore]:
    """Chores of the same kind at the same time, to the same place and for the same reason are one."""
    groups: dict[tuple[object, ...], list[Chore]] = {}
    for chore in plan.chores:
        to = _to(seen, chore, there, allowed)
        where = need.about[chore.need][1] if chore.need in need.about else ""
        coming = chore.lot.startswith(f"{COMING}.")
        key = (chore.does, round(chore.at_h, 3), to, where, chore.reason.code, coming, chore.night)
        groups.setdefault(key, []).append(chore)
    return [
        _merged(seen, rows, to=str(key[2]) if key[2] is not None else None, where=str(key[3]), coming=bool(key[5]))
        for key, rows in groups.items()
    ]


def _merged(seen: Seen, rows: Sequence[Chore], *, to: str | None, where: str, coming: bool) -> PlanChore:
    first = min(rows, key=lambda row: (row.by_h, row.lot))
    names = tuple(sorted(row.lot for row in rows))
    at = _at(seen, first.at_h)
    return PlanChore(
        key_of(seen, first.does, names, to, where, at), first.does, () if coming else names,
        round(sum(row.ml for row in rows), 1), at, max(at, _at(seen, first.by_h)), first.night, to,
        _reason(seen, first.reason), where, coming,
    )  # fmt: skip


def key_of(seen: Seen, does: Does, names: Sequence[str], to: str | None, where: str, at: int) -> str:
    """The same at every look while the chore stays the same; of what is packed, the day tells apart."""
    day = local(at, seen.zone).date().isoformat() if does == "pack" else ""
    told = "\x1f".join((does, to or "", where, day, *names))
    return f"{does}-{hashlib.sha256(told.encode()).hexdigest()[:12]}"


def _to(seen: Seen, chore: Chore, there: Stock, allowed: Terms) -> str | None:
    if quick(chore):
        return None
    if chore.does == "pack":
        return place_of(seen.base, seen.now, "cooler", away=seen.past.away)
    if chore.lot in there.options:
        return goes_to(there, chore)
    return {"chill": allowed.fridge, "thaw": allowed.fridge, "freeze": allowed.freezer}.get(chore.does)


def _at_hand(seen: Seen) -> list[PlanChore]:
    """What the board asks for beside the plan: throw away, measure, or look for ice; of what is at home."""
    groups: dict[tuple[Does, str], list[Verdict]] = {}
    for one in seen.verdicts:
        if one.place in seen.past.away:
            continue
        if one.standing in ("past", "breached"):
            groups.setdefault(("discard", one.standing), []).append(one)
        elif one.standing == "outside" and one.use_by is not None:
            does: Does = "look_for_ice" if one.form == "frozen" else "measure"
            groups.setdefault((does, "outside"), []).append(one)
    return [_hand(seen, does, code, rows) for (does, code), rows in groups.items()]


def _hand(seen: Seen, does: Does, code: str, rows: Sequence[Verdict]) -> PlanChore:
    names = tuple(sorted(one.container for one in rows))
    ml = round(sum(one.ml for one in rows), 1)
    key = key_of(seen, does, names, None, "", seen.now)
    return PlanChore(key, does, names, ml, seen.now, seen.now, False, None, Reason(code))


def _try_one(seen: Seen) -> str | None:
    """The smallest frozen container to thaw for a try: a week after the first was frozen, if none was ever fed."""
    frozen = [one for one in seen.verdicts if one.form == "frozen" and one.standing in ("fine", "soon") and one.why]
    if not frozen or seen.past.fed_thawed or not _bottle_fed(seen):
        return None
    containers = seen.containers
    since = min(_frozen_since(seen, containers.get(one.container), one) for one in frozen)
    passed = seen.now - since
    if not figure("thaw", "first_h") * HOUR <= passed <= figure("thaw", "tell_days") * DAY:
        return None
    return min(frozen, key=lambda one: (one.ml, one.dated, one.container)).container


def _bottle_fed(seen: Seen) -> bool:
    return any(kid.care == "home" for kid in seen.kids)


def _frozen_since(seen: Seen, container: Container | None, one: Verdict) -> int:
    if container is None:
        return one.why[0].start
    places = seen.base.places
    first = next((s.at for s in container.stays if places.lines[s.place].kind_at(s.at) in FREEZERS), one.why[0].start)
    return min(first, one.why[0].start)


__all__ = ["HOME", "key_of", "tell"]
