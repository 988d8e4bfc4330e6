"""A plain walk through a plan that names every rule it breaks; it shares only data with the solvers."""

from __future__ import annotations

from collections.abc import Iterator

from .figures import cost
from .kinds import Chore, Feed, Lot, Need, Part, Plan, Problem, Serving

NEAR_ML = 0.01
NEAR_H = 1e-6


def faults(problem: Problem, plan: Plan) -> list[str]:
    """Every broken rule in one English line each; empty where the plan holds.

    Checked: deadlines less the margin, a place's own deadline, thawed and there in time, never refrozen, not more than
    is in it, the right child, nothing held, the freezer's deadline, put away and frozen in time, at a slot, the order
    by age, whole bags, and that what is over or short is told.
    """
    lots = {lot.name: lot for lot in problem.lots}
    unknown = {name for name in (*_named(plan),) if name not in lots}
    if unknown:
        return [f"{name} is not among the lots" for name in sorted(unknown)]
    return [
        *_feeds(problem, plan, lots),
        *_amounts(problem, plan, lots),
        *_thaws(problem, plan, lots),
        *_order(problem, plan, lots),
        *_freezes(problem, plan, lots),
        *_away(problem, plan),
        *_short(problem, plan),
    ]


def _named(plan: Plan) -> Iterator[str]:
    yield from (chore.lot for chore in plan.chores)
    yield from (part.lot for serving in plan.servings for part in serving.parts)
    yield from (name for name, _ in plan.thrown)


def _feeds(problem: Problem, plan: Plan, lots: dict[str, Lot]) -> Iterator[str]:
    """Each part of each feed by itself."""
    needs = {need.name: need for need in problem.needs}
    planned: list[Feed] = sorted(
        (feed for feed in problem.feeds if feed.at_h >= 0), key=lambda one: (one.at_h, one.need)
    )
    if [(feed.at_h, feed.need) for feed in planned] != [(one.at_h, one.need) for one in plan.servings]:
        yield "the feeds of the plan are not those of the problem"
        return
    for serving in plan.servings:
        if sum(part.ml for part in serving.parts) > serving.ml + NEAR_ML:
            yield f"the feed at {serving.at_h} h is given more than it wants"
        for part in serving.parts:
            lot, need = lots[part.lot], needs[serving.need]
            for fault in (*_fits(lot, need, serving), *_in_time(plan, lot, need, serving, part)):
                yield f"{lot.name} at {serving.at_h} h: {fault}"


def _fits(lot: Lot, need: Need, serving: Serving) -> Iterator[str]:
    if lot.held:
        yield "it is held"
    if lot.children is not None and need.child not in lot.children:
        yield f"it is not for {need.child}"
    if need.where in lot.until_at and serving.at_h > lot.until_at[need.where] - lot.margin_h + NEAR_H:
        yield f"past its deadline at {need.where}"


def _in_time(plan: Plan, lot: Lot, need: Need, serving: Serving, part: Part) -> Iterator[str]:
    """There (and thawed) when it must be, and not past its deadline less the margin."""
    there_h = serving.at_h if need.leave_h is None else min(need.leave_h, serving.at_h)
    if part.ml < 0:
        yield "an amount below 0"
    if lot.form == "frozen":
        yield from _thawed_in_time(plan, lot, need, serving, there_h)
        return
    if there_h < lot.from_h - NEAR_H:
        yield "used before it is there"
    if serving.at_h > lot.until_h - lot.margin_h + NEAR_H:
        yield "past its deadline"
    if lot.chore_by_h is not None and lot.chore_by_h < max(0.0, lot.from_h):
        yield "it was not put away in time"


def _thawed_in_time(plan: Plan, lot: Lot, need: Need, serving: Serving, there_h: float) -> Iterator[str]:
    chores = [chore for chore in plan.chores if chore.does == "thaw" and chore.lot == lot.name]
    if not chores or lot.thaw is None:
        yield "used frozen"
        return
    left_h = chores[0].at_h
    if _quick(chores[0]):
        if abs(serving.at_h - left_h) > NEAR_H or chores[0].need != serving.need:
            yield "thawed in water for another feed"
        if need.leave_h is not None:
            yield "thawed in water for a feed away from home"
        return
    if there_h < left_h + lot.thaw.ready_h - NEAR_H:
        yield "used before it is thawed"
    if serving.at_h > left_h + lot.thaw.life_h - lot.thaw.margin_h + NEAR_H:
        yield "past its deadline after thawing"


def _quick(chore: Chore) -> bool:
    """Whether a bag is thawed in water: then the chore names the feed's need."""
    return chore.does == "thaw" and bool(chore.need)


def _amounts(problem: Problem, plan: Plan, lots: dict[str, Lot]) -> Iterator[str]:
    """No lot gives more than is in it, and what ends within the plan is fed, frozen, or told as thrown away.

    Less than is worth a bag may stay in a lot that is fed from after the last moment to freeze it.
    """
    thrown = dict(plan.thrown)
    opened = {chore.lot for chore in plan.chores if chore.does == "thaw"}
    for name, lot in lots.items():
        fed = sum(part.ml for serving in plan.servings for part in serving.parts if part.lot == name)
        frozen = sum(chore.ml for chore in plan.chores if chore.does == "freeze" and chore.lot == name)
        told = fed + frozen + thrown.get(name, 0.0)
        if told > lot.ml + NEAR_ML:
            yield f"{name}: more is taken than is in it"
        ends = lot.until_h - lot.margin_h < problem.horizon_h or name in opened
        stays = cost("part") if lot.freeze_by_h is not None and fed > 0 and not frozen else NEAR_ML
        if ends and not lot.held and told < lot.ml - stays:
            yield f"{name}: some of it ends and is neither fed nor frozen nor told as thrown away"


def _thaws(problem: Problem, plan: Plan, lots: dict[str, Lot]) -> Iterator[str]:
    """Bags leave once, whole, at a slot or feed, before the freezer's deadline."""
    slots = [slot.at_h for slot in problem.slots]
    seen: set[str] = set()
    for chore in (chore for chore in plan.chores if chore.does == "thaw"):
        lot = lots[chore.lot]
        if lot.form != "frozen" or lot.held or lot.thaw is None or chore.lot in seen:
            yield f"{lot.name}: it can't be thawed (again)"
            continue
        seen.add(chore.lot)
        if abs(chore.ml - lot.ml) > NEAR_ML:
            yield f"{lot.name}: a bag is thawed in part"
        if chore.at_h > lot.until_h - lot.margin_h + NEAR_H:
            yield f"{lot.name}: it leaves the freezer past its deadline"
        if chore.at_h < lot.from_h - NEAR_H:
            yield f"{lot.name}: it leaves the freezer before it is in it"
        if not _quick(chore) and chore.at_h not in slots:
            yield f"{lot.name}: nobody is there to take it out at {chore.at_h} h"
        if _quick(chore) and not lot.thaw.quick:
            yield f"{lot.name}: it may not be thawed in water"


def _order(problem: Problem, plan: Plan, lots: dict[str, Lot]) -> Iterator[str]:
    """No bag leaves while one that is older by more than the slack stays though it could leave."""
    if not problem.oldest_first:
        return
    left_h = {chore.lot: chore.at_h for chore in plan.chores if chore.does == "thaw"}
    for name, at_h in left_h.items():
        young = lots[name]
        for old in lots.values():
            same = old.form == "frozen" and old.group == young.group and old.children == young.children
            could = old.from_h <= at_h + NEAR_H and at_h <= old.until_h - old.margin_h + NEAR_H
            usable = not old.held and old.ml > NEAR_ML and old.thaw is not None
            older = old.dated_h < young.dated_h - problem.order_slack_h - NEAR_H
            if same and could and usable and older and left_h.get(old.name, float("inf")) > at_h + NEAR_H:
                yield f"{name} leaves the freezer before {old.name}, which is older"


def _freezes(problem: Problem, plan: Plan, lots: dict[str, Lot]) -> Iterator[str]:
    """Only fresh milk is frozen, in time, and what is frozen is not given afterwards."""
    for chore in (chore for chore in plan.chores if chore.does == "freeze"):
        lot = lots[chore.lot]
        turn = any(start <= lot.dated_h < end for start, end in problem.rotation)
        if lot.form != "fresh":
            yield f"{lot.name}: it would be frozen again"
        elif lot.freeze_by_h is None or chore.at_h > lot.freeze_by_h - lot.margin_h + NEAR_H:
            yield f"{lot.name}: it is frozen too late"
        if chore.at_h < lot.from_h - NEAR_H:
            yield f"{lot.name}: it is frozen before it is there"
        if lot.held:
            yield f"{lot.name}: it is held"
        if chore.ml < cost("part") - NEAR_ML and not turn and _left_ml(problem, plan, chore) > chore.ml + NEAR_ML:
            yield f"{lot.name}: too little of it is poured off and frozen"
        if not (problem.freeze_over or turn):
            yield f"{lot.name}: what is over is not frozen here"
    for chore in plan.chores:
        if chore.by_h < chore.at_h - NEAR_H:
            yield f"{chore.lot}: its latest moment is before the planned one"


def _left_ml(problem: Problem, plan: Plan, chore: Chore) -> float:
    """How much is in a lot by a chore's time: what is not fed or packed before."""
    leave_h = {need.name: need.leave_h for need in problem.needs}
    lot = next(lot for lot in problem.lots if lot.name == chore.lot)
    gone = 0.0
    for serving in plan.servings:
        leaves = leave_h[serving.need]
        at_h = serving.at_h if leaves is None else min(leaves, serving.at_h)
        if at_h <= chore.at_h + NEAR_H:
            gone += sum(part.ml for part in serving.parts if part.lot == lot.name)
    return lot.ml - gone


def _away(problem: Problem, plan: Plan) -> Iterator[str]:
    """What stands on the counter is chilled, frozen or fed by then."""
    by = {need.name: need for need in problem.needs}
    for lot in problem.lots:
        if lot.chore_by_h is None or lot.chore_by_h < max(0.0, lot.from_h) or lot.held:
            continue
        done = sum(
            chore.ml
            for chore in plan.chores
            if chore.lot == lot.name and chore.does in ("chill", "freeze") and chore.at_h <= lot.chore_by_h + NEAR_H
        )
        for serving in plan.servings:
            leave_h = by[serving.need].leave_h
            gone_h = serving.at_h if leave_h is None else min(leave_h, serving.at_h)
            if gone_h <= lot.chore_by_h + NEAR_H:
                done += sum(part.ml for part in serving.parts if part.lot == lot.name)
        if done < lot.ml - NEAR_ML:
            yield f"{lot.name}: it is not put away in time"


def _short(problem: Problem, plan: Plan) -> Iterator[str]:
    """What is short is told."""
    for need in problem.needs:
        missing = sum(serving.short_ml for serving in plan.servings if serving.need == need.name)
        told = sum(short.ml for short in plan.short if short.need == need.name)
        if abs(missing - told) > NEAR_ML:
            yield f"{need.name}: {missing:.1f} mL are short and {told:.1f} mL are told"
