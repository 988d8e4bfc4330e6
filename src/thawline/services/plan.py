"""The plan over the next days: which container for which feed, what to chill, freeze, thaw and pack, and why."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from thawline.core.times import HOUR
from thawline.engines.planner import plan as planner
from thawline.engines.planner.kinds import Plan, Problem, Slot
from thawline.records.store import Store
from thawline.services.habits import Habits
from thawline.services.plan_check import breached
from thawline.services.plan_days import Day, clock_on, days_from, is_night, nights
from thawline.services.plan_figures import clocks, figure
from thawline.services.plan_kinds import PlanNow
from thawline.services.plan_lots import Stock, coming, stock
from thawline.services.plan_needs import Told, Wanted, wanted
from thawline.services.plan_seen import Seen, seen_in
from thawline.services.plan_tell import tell
from thawline.services.terms import Terms, terms

MOST_DAYS = 14
# So often a plan is made anew without milk whose use would break a rule.
_TRIES = 4


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
    """The planner's answer and what it was asked; milk whose use would break a rule is left out."""
    if not 1 <= days <= MOST_DAYS:
        raise ValueError(f"A plan is for 1 to {MOST_DAYS} days.")
    allowed = terms(seen.base, now=seen.now)
    until = horizon(seen, days)
    need = wanted(seen, habits, days=days, until=until, told=told)
    without: set[str] = set()
    for _ in range(_TRIES):
        there = stock(seen, habits, allowed, without=without)
        problem = _problem(seen, habits, allowed, need, there, days=days, told=told, freeze_over=freeze_over)
        plan = planner.make(problem, refine=refine)
        found = breached(seen, plan, problem, allowed)
        if not found:
            break
        without |= found
    else:
        # Rather no plan for this milk than one that breaks a rule.
        there = Stock((), {})
        problem = _problem(seen, habits, allowed, need, there, days=days, told=told, freeze_over=freeze_over)
        plan = planner.make(problem, refine=refine)
    return Made(plan, problem, need, there, allowed)


def horizon(seen: Seen, days: int) -> int:
    """The end of a plan of so many days: the end of the last of the days after today."""
    return days_from(seen.now, days + 1, seen.zone)[-1].end if days < MOST_DAYS else seen.now + days * 24 * HOUR


def _problem(
    seen: Seen, habits: Habits, allowed: Terms, need: Wanted, there: Stock, *, days: int, told: Told | None,
    freeze_over: bool,
) -> Problem:  # fmt: skip
    until = horizon(seen, days)
    calendar = days_from(seen.now, days + 1, seen.zone)
    lots = [*there.lots, *coming(seen, habits, allowed, days=days, until=until, told=told)]
    turn = habits.way == "rotation"
    return Problem(
        horizon_h=(until - seen.now) / HOUR, lots=tuple(lots), needs=need.needs, feeds=need.feeds,
        slots=tuple(_slots(seen, habits, need, calendar, until)),
        order_slack_h=figure("slack", "order_h"),
        rotation=_rotation(seen, habits, calendar) if turn else (),
        freeze_over=freeze_over and allowed.freezer is not None,
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
