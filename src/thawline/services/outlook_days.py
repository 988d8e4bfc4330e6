"""What each of the days ahead needs by bottle and brings by expressing, and the milk there is, as a course takes it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

import numpy as np

from thawline.core.times import DAY, HOUR, local
from thawline.engines.forecast.course import Flow, Held, Rules
from thawline.engines.forecast.intake import Intake
from thawline.engines.forecast.yields import Yields
from thawline.engines.planner.figures import margin_h
from thawline.services.habits import Apart, Habits
from thawline.services.outlook_kinds import WhatIf
from thawline.services.plan_along import away_places
from thawline.services.plan_coming import expected_gaps, yields_of
from thawline.services.plan_days import Day, hour_on
from thawline.services.plan_figures import figure
from thawline.services.plan_kinds import NoPlan
from thawline.services.plan_lots import limit_h
from thawline.services.plan_needs import forecast, why_none
from thawline.services.plan_pieces import Level, Look, Piece
from thawline.services.plan_rhythm import Beat, session_beats
from thawline.services.plan_seen import Kid, Seen
from thawline.services.terms import Terms


class Drunk(NamedTuple):
    """A child whose milk is foretold: its intake on each day, and the pieces of it that come from bottles."""

    kid: Kid
    intake: Intake
    pieces: tuple[tuple[Piece, ...], ...]


class Supply(NamedTuple):
    """What expressing brings: mL of a whole day now, a flow over the days, and how many sessions tell of it.

    `more_ml`: the most that more sessions may add to a day, None where no session tells of the present output.
    """

    day_ml: float
    flow: Flow
    sessions: int
    more_ml: float | None = None


def asked(habits: Habits, what_if: WhatIf, kids: Sequence[Kid]) -> Habits:
    """The habits as the question has them: hours apart on week days, from a day on."""
    if what_if.apart_h is None and what_if.start is None:
        return habits
    apart = habits.apart
    if what_if.apart_h is not None:
        apart = tuple(_apart(one, what_if.apart_h) for one in _models(habits, kids)) if what_if.apart_h > 0 else ()
    if what_if.start is not None:
        apart = tuple(_starting(one, what_if.start) for one in apart)
    return _with(habits, apart)


def _models(habits: Habits, kids: Sequence[Kid]) -> tuple[Apart, ...]:
    """One stretch for each child: its present one, else week days from 08:00."""
    own = {one.child: one for one in reversed(habits.apart)}
    names = [kid.name for kid in kids if kid.name in own] or [kid.name for kid in kids]
    return tuple(own.get(name, Apart(name, (0, 1, 2, 3, 4), "08:00", "17:00")) for name in names)


def _apart(one: Apart, hours: float) -> Apart:
    hour, minute = (int(part) for part in one.start.split(":"))
    end = hour * 60 + minute + round(hours * 60)
    start = 0 if end > 24 * 60 - 1 else hour * 60 + minute
    end = min(start + round(hours * 60), 24 * 60 - 1)
    return Apart(one.child, one.days, _clock(start), _clock(end), one.where, one.rule, one.from_day, one.until_day)


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _starting(one: Apart, start: str) -> Apart:
    until = one.until_day if not one.until_day or one.until_day >= start else ""
    return Apart(one.child, one.days, one.start, one.end, one.where, one.rule, start, until)


def _with(habits: Habits, apart: tuple[Apart, ...]) -> Habits:
    return Habits(
        habits.way, habits.rotation_day, habits.fed, apart, habits.goal, habits.solids, habits.night_from,
        habits.night_until, habits.pour_ml, habits.freeze_ml,
    )  # fmt: skip


def drunk(seen: Seen, habits: Habits, days: Sequence[Day]) -> tuple[list[Drunk], list[NoPlan]]:
    """Each child's milk over the days, and why there is none of some."""
    found: list[Drunk] = []
    none: list[NoPlan] = []
    for kid in seen.kids:
        why = why_none(kid, seen)
        if why is not None:
            none.append(why)
            continue
        intake = forecast(kid, seen, habits, days)
        look = Look(kid, seen, habits)
        rows = zip(days, intake.likely_ml, intake.between, intake.within, strict=True)
        pieces = tuple(tuple(look.day(day, Level(float(a), float(b), float(c)))) for day, a, b, c in rows)
        if not any(pieces):
            none.append(NoPlan("nothing_by_bottle", kid.name))
        found.append(Drunk(kid, intake, pieces))
    return found, none


def need(seen: Seen, all_drunk: Sequence[Drunk], days: int) -> Flow:
    """What is needed by bottle on each day; of today what is still to come."""
    mean, between, within = np.zeros(days), np.zeros(days), np.zeros(days)
    for one in all_drunk:
        for number, pieces in enumerate(one.pieces):
            for piece in pieces:
                ml = piece.mean_ml * (_ahead(seen, piece) if number == 0 else 1.0)
                mean[number] += ml
                between[number] += ml * piece.between
                within[number] = math.hypot(within[number], ml * piece.within)
    some = np.where(mean > 0, mean, 1.0)
    return Flow(mean_ml=mean, between=between / some, within=within / some, drift=0.0)


def _ahead(seen: Seen, piece: Piece) -> float:
    """How much of a piece is still to come today."""
    if piece.stretch is not None:
        return 1.0 if piece.stretch.start > seen.now else 0.0
    whole = sum(weight for _, weight in piece.feeds)
    return sum(weight for at, weight in piece.feeds if at > seen.now) / whole if whole else 0.0


def supply(seen: Seen, what_if: WhatIf, days: Sequence[Day], day_ml: float) -> Supply:
    """What expressing brings on each day, as it was in the last two weeks, or with other sessions a day."""
    beats = session_beats(seen.past, seen.zone, seen.now)
    known = yields_of(seen, day_ml)
    base = sum(beat.share for beat in beats)
    mean = np.full(len(days), base)
    if what_if.sessions is not None:
        then = _with_sessions(beats, known, what_if.sessions, day_ml)
        for number, day in enumerate(days):
            if what_if.start is None or day.iso >= what_if.start:
                mean[number] = then
    mean[0] *= _share_ahead(seen, beats, days[0])
    count = what_if.sessions if what_if.sessions is not None else len(beats)
    flow = Flow(
        mean_ml=mean, between=known.between, within=known.within_of(max(count, 1)), drift=figure("outlook", "drift")
    )  # fmt: skip
    return Supply(base, flow, known.n, known.most_ml - known.day_ml * known.level if known.n else None)


def _with_sessions(beats: Sequence[Beat], known: Yields, count: float, day_ml: float) -> float:
    """A day of so many sessions, evenly apart, in proportion to the present day: later ones bring less each."""
    if count <= 0:
        return 0.0

    def day(sessions: float, gaps: Sequence[tuple[float, float]]) -> float:
        return sum(known.session(hour, gap)[0] for hour, gap in gaps) * sessions / max(len(gaps), 1)

    whole = max(1, round(count))
    then = day(count, [(24 * (index + 0.5) / whole, 24 / whole) for index in range(whole)])
    now = day(len(beats), expected_gaps(beats)) if beats else 0.0
    base = sum(beat.share for beat in beats)
    found = base * then / now if now > 0 and base > 0 else then
    # Never more than 40 % above what is expressed now.
    return min(found, base * known.most_ml / (known.day_ml * known.level)) if base and count > len(beats) else found


def _share_ahead(seen: Seen, beats: Sequence[Beat], today: Day) -> float:
    whole = sum(beat.share for beat in beats)
    ahead = sum(beat.share for beat in beats if hour_on(today.date, beat.hour, seen.zone) > seen.now)
    return ahead / whole if whole else 0.0


def held(seen: Seen, habits: Habits) -> tuple[Held, ...]:
    """The milk within its limits, by the last day on which it may be used, its margin kept."""
    today, away = local(seen.now, seen.zone).date(), away_places(seen, habits)
    found = []
    for one in seen.verdicts:
        if one.standing not in ("fine", "soon") or one.use_by is None or one.ml <= 0 or one.place in away:
            continue
        # What is warmed or drunk from belongs to the feed at hand.
        if one.warmed is not None or one.fed_from is not None:
            continue
        until = one.use_by - int(margin_h(limit_h(one)) * HOUR)
        freezable = any(option.do == "freeze" for option in one.options)
        form = "frozen" if one.form == "frozen" else "fresh" if one.form == "fresh" and freezable else "thawed"
        found.append(Held(one.ml, form, _days(today, until, seen)))  # type: ignore[arg-type]
    return tuple(found)


def _days(today: date, until: int, seen: Seen) -> int:
    end = local(min(until, seen.now + int(figure("outlook", "most_days")) * DAY), seen.zone)
    # A day on which it ends before noon is no day to count on.
    return (end.date() - today).days - (1 if end.hour < 12 and end.date() > today else 0)


def rules(seen: Seen, habits: Habits, allowed: Terms, bag_ml: float) -> Rules:
    """How long milk keeps, in whole days, by what the guidelines in force allow."""
    fresh = allowed.fresh_h or 0.0
    fresh_d = max(0, int((fresh - margin_h(fresh)) // 24))
    frozen_d = int((allowed.frozen_h or 0.0) // 24)
    thawed_d = max(0, int((allowed.thawed_h or 0.0) // 24) - 1)
    freezes = allowed.freezer is not None and allowed.freeze_by_h is not None and frozen_d > 0
    return Rules(
        fresh_d=fresh_d, freezer_d=frozen_d, thawed_d=thawed_d, bag_ml=bag_ml,
        freeze_after_d=max(0, fresh_d - 1) if freezes else None,
        fresh_from_d=0 if habits.fed == "bottle" or fresh_d == 0 else 1,
    )  # fmt: skip
