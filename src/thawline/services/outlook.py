"""The outlook: how the stock will go, until when it lasts, how a goal stands, and how much is enough."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from thawline.core.times import check_date, local
from thawline.engines.forecast import enough as enough_of
from thawline.engines.forecast import goal as goal_of
from thawline.engines.forecast import paths as paths_of
from thawline.engines.forecast.course import Array, Course, Paths
from thawline.engines.forecast.kinds import Band
from thawline.records.store import Store
from thawline.services.habits import Goal, Habits
from thawline.services.outlook_days import Drunk, asked, drunk, held, need, rules, supply
from thawline.services.outlook_kinds import Enough, GoalSeen, Lasts, OutlookDay, OutlookNow, Route, WhatIf
from thawline.services.plan_days import Day, days_from
from thawline.services.plan_figures import figure, row, text
from thawline.services.plan_kinds import NoPlan
from thawline.services.plan_lots import terms_at
from thawline.services.plan_needs import forecast
from thawline.services.plan_portions import freeze_ml, left_share
from thawline.services.plan_seen import Seen, seen_in

_NOTHING = Band(0.0, 0.0, 0.0)


def outlook_now(
    store: Store, habits: Habits, *, now: int, days: int = 90, what_if: WhatIf | None = None, paths: int = 2000
) -> OutlookNow:
    """The outlook of a stored household; raises `GuidelineError`, and `ValueError` for days that can't be."""
    return outlook_from(seen_in(store, now=now), habits, days=days, what_if=what_if, paths=paths)


def outlook_from(
    seen: Seen, habits: Habits, *, days: int = 90, what_if: WhatIf | None = None, paths: int = 2000
) -> OutlookNow:
    """The outlook of a household as it was looked at; the same look on the same day gives the same answer."""
    most = int(figure("outlook", "most_days"))
    if not 1 <= days <= most:
        raise ValueError(f"An outlook is for 1 to {most} days.")
    if not 1 <= paths <= 100_000:
        raise ValueError("An outlook takes 1 to 100,000 paths.")
    question = what_if or WhatIf()
    _check(question)
    habits = asked(habits, question, seen.kids)
    goal = _ahead(habits.goal, seen)
    today = local(seen.now, seen.zone).date()
    reach = days if goal is None else max(days, _until(today, goal.on) + 1)
    calendar = days_from(seen.now, min(reach, most), seen.zone)
    children, none = drunk(seen, habits, calendar)
    children = [one for one in children if any(one.pieces)]
    if not children:
        return _nothing(seen, question, none, paths)
    return _looked(
        seen, habits, question, goal, calendar=calendar, days=days, children=children, none=none, count=paths
    )


def _check(question: WhatIf) -> None:
    if question.sessions is not None and not 0 <= question.sessions <= 24:
        raise ValueError("Ask for 0 to 24 sessions a day.")
    if question.apart_h is not None and not 0 <= question.apart_h < 24:
        raise ValueError("Ask for 0 hours apart or more, and less than 24.")
    if question.start is not None:
        check_date(question.start)


def _looked(
    seen: Seen, habits: Habits, question: WhatIf, goal: Goal | None, *, calendar: Sequence[Day], days: int,
    children: Sequence[Drunk], none: Sequence[NoPlan], count: int,
) -> OutlookNow:  # fmt: skip
    allowed = terms_at(seen, habits)
    day_ml = sum(float(one.intake.likely_ml[0]) for one in children)
    brings = supply(seen, question, calendar, day_ml)
    course = Course(
        need=need(seen, children, len(calendar)), supply=brings.flow, held=held(seen, habits),
        rules=rules(seen, habits, allowed, freeze_ml(seen, habits, allowed)),
        rotation=_rotation(habits, calendar), thrown_share=left_share(seen, habits, allowed),
    )  # fmt: skip
    rng = np.random.default_rng(_seed(seen, calendar[0]))
    found = paths_of.run(course, paths=count, rng=rng)
    seen_goal, saved = _goal(seen, habits, goal, course, found, children=children, rng=rng, more_ml=brings.more_ml)
    first = children[0]
    return OutlookNow(
        now=seen.now, zone=seen.base.settings.zone, children=tuple(one.kid.name for one in children),
        days=_days(found, calendar[:days]), routes=_routes(first), routes_differ=first.intake.differ,
        complete_days=first.intake.n, sessions=brings.sessions, lasts=_lasts(found, calendar, days),
        short_chance=_chances(found, calendar, days, goal), goal=seen_goal,
        enough=_enough(course, found, calendar, saved), what_if=question, none=tuple(none),
        guideline=seen.base.rules.guideline.id, paths=count,
    )  # fmt: skip


def _nothing(seen: Seen, question: WhatIf, none: Sequence[NoPlan], count: int) -> OutlookNow:
    return OutlookNow(
        now=seen.now, zone=seen.base.settings.zone, children=(), days=(), routes=(), routes_differ=False,
        complete_days=0, sessions=len(seen.past.sessions), lasts=Lasts(None, None, None, 1.0), short_chance=(),
        goal=None, enough=Enough(0.0, False, None, _NOTHING), what_if=question, none=tuple(none),
        guideline=seen.base.rules.guideline.id, paths=count,
    )  # fmt: skip


def _seed(seen: Seen, today: Day) -> int:
    return int.from_bytes(hashlib.sha256(f"{seen.key}|{today.iso}".encode()).digest()[:8], "big")


def _rotation(habits: Habits, calendar: Sequence[Day]) -> tuple[bool, ...]:
    if habits.way != "rotation":
        return ()
    return tuple(day.date.weekday() == habits.rotation_day for day in calendar)


# What came out


def _days(found: Paths, calendar: Sequence[Day]) -> tuple[OutlookDay, ...]:
    return tuple(
        OutlookDay(day.iso, found.stock.day(number), found.need.day(number), found.supply.day(number))
        for number, day in enumerate(calendar)
    )


def _routes(one: Drunk) -> tuple[Route, ...]:
    intake = one.intake
    found = [Route("age", intake.age_band(0), text("outlook", "sources", "age"))]
    by_weight = intake.weight_band(0)
    if by_weight is not None:
        found.append(Route("weight", by_weight, text("outlook", "sources", "weight")))
    if intake.n:
        found.append(Route("own_days", intake.day(0), text("outlook", "sources", "own_days")))
    return tuple(found)


def _lasts(found: Paths, calendar: Sequence[Day], days: int) -> Lasts:
    """The first day whose need is not met whole; none past the days looked at."""

    def day(number: int | None) -> str | None:
        return None if number is None or number >= days else calendar[number].iso

    lasts, freezer = found.lasts, found.freezer_lasts
    never, full = (float(np.mean(first >= min(days, found.days))) for first in (found.run_out_d, found.empty_d))
    empty = day(freezer.early), day(freezer.likely), day(freezer.late)
    return Lasts(day(lasts.early), day(lasts.likely), day(lasts.late), never, empty, full)


def _chances(found: Paths, calendar: Sequence[Day], days: int, goal: Goal | None) -> tuple[tuple[str, float], ...]:
    numbers = {int(one) for one in row("outlook", "chances", "days")} | {days}
    if goal is not None:
        numbers |= {_until(calendar[0].date, goal.on), _until(calendar[0].date, goal.until)}
    last = len(found.short_before) - 1
    kept = sorted(number for number in numbers if 0 < number <= min(days, last))
    start = calendar[0].date
    return tuple(((start + timedelta(days=n)).isoformat(), float(found.short_before[n])) for n in kept)


def _enough(course: Course, found: Paths, calendar: Sequence[Day], saved: Array | None) -> Enough:
    seen = enough_of.enough(course, found, saved_ml=saved)
    day = None if seen.day is None else calendar[seen.day].iso
    return Enough(seen.ml, seen.reached, day, seen.unused_ml, not seen.reached and day is None)


# The goal


def _ahead(goal: Goal | None, seen: Seen) -> Goal | None:
    """The goal, if some of it is still ahead."""
    today = local(seen.now, seen.zone).date()
    return None if goal is None or goal.until < today.isoformat() else goal


def _until(today: date, iso: str) -> int:
    return max(0, (date.fromisoformat(iso) - today).days)


def _goal(
    seen: Seen, habits: Habits, goal: Goal | None, course: Course, found: Paths, *, children: Sequence[Drunk],
    rng: np.random.Generator, more_ml: float | None,
) -> tuple[GoalSeen | None, Array | None]:  # fmt: skip
    """How the goal stands, and what it takes beside the need by day where the need has not got it already."""
    today = local(seen.now, seen.zone).date()
    if goal is None or _until(today, goal.on) > found.days:
        return None, None
    on_d, until_d = _until(today, goal.on), _until(today, goal.until)
    on_d = max(on_d, 0)
    length = min(until_d, on_d + int(figure("outlook", "most_days"))) - on_d + 1
    mean, between, within = _goal_days(seen, habits, goal, on_d, length, children)
    hours = goal.hours if goal.why == "apart" else figure("outlook", "whole_day_h")
    asks = goal_of.Goal(on_d=on_d, day_ml=mean, hours=hours, between=between, within=within)
    stand = goal_of.stand(asks, course, found, rng=rng)
    told = _told(goal, stand, more_ml)
    if habits.fed == "bottle" or _planned(habits, goal):
        return told, None
    return told, goal_of.by_day_ml(asks, course, found, rng=rng)


def _told(goal: Goal, stand: goal_of.Stand, more_ml: float | None) -> GoalSeen:
    """How the goal stands, no more asked of a day than sessions ever brought beside the present output."""
    extra = stand.extra_ml_d
    beyond = more_ml is not None and extra.likely > more_ml
    if more_ml is not None:
        extra = Band(*(min(ml, more_ml) for ml in extra))
    return GoalSeen(goal.why, goal.on, goal.until, stand.takes, stand.there, extra, stand.chance, more_ml, beyond)


def _planned(habits: Habits, goal: Goal) -> bool:
    """Whether the times apart of the goal are among the habits, and so among the need."""
    return goal.why == "apart" and any(
        (not one.from_day or one.from_day <= goal.until) and (not one.until_day or goal.on <= one.until_day)
        for one in habits.apart
    )


def _goal_days(
    seen: Seen, habits: Habits, goal: Goal, on_d: int, length: int, children: Sequence[Drunk]
) -> tuple[Array, float, float]:
    """A whole day's milk on each of the goal's days (0 on days that are no days apart), and its spreads."""
    calendar = days_from(seen.now, on_d + length, seen.zone)[on_d:]
    intakes = [forecast(one.kid, seen, habits, calendar) for one in children]
    mean = np.sum([one.likely_ml for one in intakes], axis=0)
    if goal.why == "apart":
        days = {day for one in habits.apart for day in one.days} or {0, 1, 2, 3, 4}
        mean = mean * np.array([day.date.weekday() in days for day in calendar], dtype=float)
        if not mean.any():
            mean = np.sum([one.likely_ml for one in intakes], axis=0)
    first = intakes[0]
    return mean, float(first.between.mean()), float(first.within.mean())
