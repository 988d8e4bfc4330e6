"""Milk that is yet to be expressed, as the planner takes it: the usual sessions of each kind of day."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date
from typing import NamedTuple

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.engines.forecast import yields
from thawline.engines.planner.figures import margin_h
from thawline.engines.planner.kinds import Lot
from thawline.services import feeding_past as past_of
from thawline.services.habits import Habits
from thawline.services.plan_days import Day, days_from, hour_on, stretches
from thawline.services.plan_figures import figure
from thawline.services.plan_lots import LEAST_ML, NEVER_H, Terms, rules_of, terms_at
from thawline.services.plan_needs import Told
from thawline.services.plan_rhythm import Beat, session_beats
from thawline.services.plan_seen import Seen

COMING = "coming"


class _Kept(NamedTuple):
    """How long milk yet to be expressed keeps: what is allowed at home, and hours by stricter place."""

    allowed: Terms
    strict: Mapping[str, float]


def coming(
    seen: Seen, habits: Habits, allowed: Terms, *, days: int, until: int, told: Told | None = None,
    counted: float = 1.0, begun: Collection[str] = (),
) -> list[Lot]:  # fmt: skip
    """The sessions expected until an instant, as lots: their usual hours, their likely mL, chilled at once.

    `counted`: the share of each that is counted on; `begun`: places apart where the child is already.
    """
    if allowed.fridge is None or allowed.fresh_h is None:
        return []
    found = []
    kept = _Kept(allowed, {**_strict(seen, habits, allowed.fresh_h), **dict.fromkeys(begun, NEVER_H)})
    of_day = _expected(seen, habits, told)
    last = max((one.at for one in seen.past.sessions), default=0)
    for day in days_from(seen.now, days + 1, seen.zone):
        # What is expressed while apart comes home at the end of it.
        apart = [one for kid in seen.kids for one in stretches(habits, kid.name, day, seen.zone)]
        for number, (hour, ml) in enumerate(of_day(day)):
            at = hour_on(day.date, hour, seen.zone)
            # One that is late may still come; one that was early has been.
            if not seen.now < at < until or at - last < figure("past", "top_up_min") * MINUTE or ml < LEAST_ML:
                continue
            ready = max([at, *(one.end for one in apart if one.start <= at < one.end)])
            found.append(_coming(seen, kept, f"{COMING}.{day.iso}.{number}", ml * counted, at=at, ready=ready))
    return found


def _strict(seen: Seen, habits: Habits, fresh_h: float) -> dict[str, float]:
    """How long fresh milk keeps where a place's own rule is stricter; not at all where it gives no time."""
    asked = {where: terms_at(seen, habits, rule).fresh_h for where, rule in rules_of(habits).items()}
    return {where: NEVER_H if h is None else h for where, h in asked.items() if h is None or h < fresh_h}


def _expected(seen: Seen, habits: Habits, told: Told | None) -> Callable[[Day], Sequence[tuple[float, float]]]:
    """Hours and mL of the sessions of a day: as told, else as they were on days of its kind."""
    if told is not None and told.sessions is not None:
        known = told.sessions
        return lambda _day: known

    def apart(day: date) -> bool:
        whole = Day(day, 0, 0)
        return any(stretches(habits, kid.name, whole, seen.zone) for kid in seen.kids)

    def rows(beats: Sequence[Beat]) -> list[tuple[float, float]]:
        return [(beat.hour, beat.share) for beat in beats]

    if habits.fed == "bottle" or not habits.apart:
        usual = rows(session_beats(seen.past, seen.zone, seen.now))
        return lambda _day: usual
    kinds = {
        kind: rows(session_beats(seen.past, seen.zone, seen.now, lambda day, kind=kind: apart(day) == kind))  # type: ignore[misc]
        for kind in (True, False)
    }
    return lambda day: kinds[apart(day.date)]


def expected_gaps(beats: Sequence[Beat]) -> list[tuple[float, float]]:
    """Each usual hour with the hours since the one before, around the clock."""
    return [
        (beat.hour, (beat.hour - beats[index - 1].hour) % 24 or 24.0) for index, beat in enumerate(beats)
    ]  # fmt: skip


def yields_of(seen: Seen, day_ml: float) -> yields.Yields:
    """What sessions bring, learned from the last two weeks' sessions."""
    since = seen.now - int(figure("past", "learn_days") * DAY)
    return yields.learn(past_of.sessions_of(seen.past, seen.zone, since), day_ml=day_ml)


def _coming(seen: Seen, kept: _Kept, name: str, ml: float, *, at: int, ready: int) -> Lot:
    allowed = kept.allowed
    made = (at - seen.now) / HOUR
    fresh = allowed.fresh_h or 0.0
    freeze = allowed.freeze_by_h if allowed.freezer is not None else None
    return Lot(
        name=name, ml=ml, form="fresh", dated_h=made, until_h=made + fresh, margin_h=margin_h(fresh),
        from_h=(ready - seen.now) / HOUR + figure("slack", "leave_h"), coming=True,
        freeze_by_h=None if freeze is None else made + freeze,
        frozen_until_h=None if freeze is None or allowed.frozen_h is None else made + freeze + allowed.frozen_h,
        until_at={where: made + h for where, h in kept.strict.items()},
    )  # fmt: skip
