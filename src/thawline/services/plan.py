"""The plan over the next days: which container for which feed, what to chill, freeze, thaw and pack, and why."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from thawline.core.times import HOUR
from thawline.engines.planner import plan as planner
from thawline.engines.planner.kinds import Plan, Problem, Short, Slot
from thawline.records.store import Store
from thawline.services.habits import Habits
from thawline.services.plan_check import breached
from thawline.services.plan_coming import coming
from thawline.services.plan_days import Day, clock_on, days_from, is_night, nights
from thawline.services.plan_figures import clocks, figure
from thawline.services.plan_kinds import PlanNow
from thawline.services.plan_lots import Stock, rules_of, stock, terms_at
from thawline.services.plan_needs import Told, Wanted, wanted
from thawline.services.plan_seen import Seen, seen_in
from thawline.services.plan_tell import tell
from thawline.services.terms import Terms

MOST_DAYS = 14
# So often a plan is made anew without milk whose use would break a rule.
_TRIES = 5
_LEAST_ML = 1.0


class Ask(NamedTuple):
    """What a plan is asked for."""

    seen: Seen
    habits: Habits
    allowed: Terms
    need: Wanted
    days: int
    told: Told | None
    freeze_over: bool


class Made(NamedTuple):
    """A plan with all that it was made from."""

    plan: Plan
    problem: Problem
    wanted: Wanted
    stock: Stock
    terms: Terms


def plan_now(store: Store, habits: Habits, *, now: int, days: int = 3, refine: bool = True) -> PlanNow:
    """The plan of a stored household; `days` 1 to 14; `refine`: improved past the first quick answer.

    Raises `GuidelineError`, and `ValueError` for other days.
    """
    return plan_from(seen_in(store, now=now), habits, days=days, refine=refine)


def plan_from(
    seen: Seen, habits: Habits, *, days: int = 3, refine: bool = True, told: Told | None = None,
    freeze_over: bool = True,
) -> PlanNow:  # fmt: skip
    """The plan of a household as it was looked at; `told`: true means in place of the forecast's."""
    made = make(seen, habits, days=days, refine=refine, told=told, freeze_over=freeze_over)
    until = horizon(seen, days)
    return tell(seen, habits, made.plan, made.wanted, made.stock, made.terms, until=until)


def make(
    seen: Seen, habits: Habits, *, days: int = 3, refine: bool = True, told: Told | None = None,
    freeze_over: bool = True,
) -> Made:  # fmt: skip
    """The planner's answer and what it was asked; milk whose use would break a rule is left out.

    While there is milk in the freezer it counts on a part of the sessions to come, so that there is a reserve when one
    fails; what is short is told by all that is likely to come. Raises `ValueError` for other days.
    """
    if not 1 <= days <= MOST_DAYS:
        raise ValueError(f"A plan is for 1 to {MOST_DAYS} days.")
    need = wanted(seen, habits, days=days, until=horizon(seen, days), told=told)
    ask = Ask(seen, habits, terms_at(seen, habits), need, days, told, freeze_over)
    careful = _kept(ask, figure("supply", "counted"), refine=refine)
    if careful.plan.short_ml < _LEAST_ML or not any(lot.coming for lot in careful.problem.lots):
        return careful
    if not any(lot.form == "frozen" for lot in careful.problem.lots):
        return _kept(ask, 1.0, refine=refine)
    # What the careful plan lacks beyond that is milk that will likely be expressed by then.
    return careful._replace(plan=careful.plan._replace(short=_likely_short(ask, careful)))


def _likely_short(ask: Ask, careful: Made) -> tuple[Short, ...]:
    """What of the careful plan's shortage is left by all that is likely to come; never more than that plan lacks."""
    likely = {one.need: one for one in planner.greedy(_problem(ask, careful.stock, 1.0)).short}
    return tuple(
        other if other.ml <= one.ml else one
        for one in careful.plan.short
        if (other := likely.get(one.need)) is not None and other.ml >= _LEAST_ML
    )


def _kept(ask: Ask, counted: float, *, refine: bool) -> Made:
    """A plan that the core has nothing against: made anew without milk whose use would break a rule."""
    without: set[str] = set()
    rules = rules_of(ask.habits)
    for turn in range(_TRIES):
        there = stock(ask.seen, ask.habits, ask.allowed, without=without, bags=ask.need.bags)
        if turn == _TRIES - 1:
            # Rather a plan without milk like this than one that breaks a rule.
            forms = {one.form for one in ask.seen.verdicts if one.container in without}
            there = Stock(tuple(lot for lot in there.lots if lot.form not in forms), there.options)
        problem = _problem(ask, there, counted)
        plan = planner.make(problem, refine=refine)
        found = breached(ask.seen, plan, problem, there, ask.need.about, rules)
        if not found:
            return Made(plan, problem, ask.need, there, ask.allowed)
        without |= found
    there = Stock((), {})
    problem = _problem(ask, there, counted)
    return Made(planner.make(problem, refine=refine), problem, ask.need, there, ask.allowed)


def horizon(seen: Seen, days: int) -> int:
    """The end of a plan of so many days: the end of the last of the days after today."""
    return days_from(seen.now, days + 1, seen.zone)[-1].end if days < MOST_DAYS else seen.now + days * 24 * HOUR


def _problem(ask: Ask, there: Stock, counted: float) -> Problem:
    seen, habits, allowed, need = ask.seen, ask.habits, ask.allowed, ask.need
    until = horizon(seen, ask.days)
    calendar = days_from(seen.now, ask.days + 1, seen.zone)
    more = coming(
        seen, habits, allowed, days=ask.days, until=until, told=ask.told, counted=counted, begun=need.bags
    )  # fmt: skip
    lots = [*there.lots, *more]
    turn = habits.way == "rotation"
    return Problem(
        horizon_h=(until - seen.now) / HOUR, lots=tuple(lots), needs=need.needs, feeds=need.feeds,
        slots=tuple(_slots(seen, habits, need, calendar, until)),
        order_slack_h=figure("slack", "order_h"),
        rotation=_rotation(seen, habits, calendar) if turn else (),
        freeze_over=ask.freeze_over and allowed.freezer is not None,
    )  # fmt: skip


def _rotation(seen: Seen, habits: Habits, calendar: Collection[Day]) -> tuple[tuple[float, float], ...]:
    return tuple(
        ((day.start - seen.now) / HOUR, (day.end - seen.now) / HOUR)
        for day in calendar
        if day.date.weekday() == habits.rotation_day
    )


def _slots(seen: Seen, habits: Habits, need: Wanted, calendar: list[Day], until: int) -> list[Slot]:
    """Moments for chores: now, the usual ones of a day, before leaving, and once in the night."""
    zone, now = seen.zone, seen.now
    moments = {now}
    for day in calendar:
        moments |= {clock_on(day.date, clock, zone) for clock in clocks("slots")}
    moments |= {
        stretch.start - int(figure("slack", "leave_h") * HOUR)
        for _, _, stretch in need.about.values()
        if stretch is not None
    }
    found = {at: is_night(at, habits, zone) for at in moments}
    found.update((at, True) for at in nights(habits, calendar, zone) if is_night(at, habits, zone))
    return [Slot((at - now) / HOUR, night) for at, night in sorted(found.items()) if now <= at < until]
