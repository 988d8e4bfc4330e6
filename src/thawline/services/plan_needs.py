"""What children will drink from bottles over the next days: needs with their spread, and the feeds they come in."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from thawline.core.times import DAY, HOUR, day_start
from thawline.engines.forecast import intake
from thawline.engines.forecast.growth import LAST_D
from thawline.engines.forecast.kinds import Band, Child
from thawline.engines.planner.kinds import Feed, Need
from thawline.services import feeding_past as past_of
from thawline.services.habits import Habits
from thawline.services.plan_along import along, begun
from thawline.services.plan_days import Day, Stretch, days_from
from thawline.services.plan_figures import figure
from thawline.services.plan_kinds import NoPlan
from thawline.services.plan_pieces import Level, Look, Piece
from thawline.services.plan_seen import Kid, Seen

# A nominal 80 % range ends so many standard deviations from its middle.
Z80 = 1.2815515655446004
_LEAST_ML = 1.0


class Told(NamedTuple):
    """Means that a caller knows instead of the forecast: a day's milk in mL by child, its CV, sessions of a day.

    `sessions`: (hour of the day, mean mL); None where they are learned as usual.
    """

    day_ml: Mapping[str, float]
    cv: float
    sessions: tuple[tuple[float, float], ...] | None = None


class Wanted(NamedTuple):
    """What is to be given: needs and feeds as the planner takes them, bands of a whole day by child, and why none.

    `about`: of each need the child, the place and the stretch it belongs to; `bags`: of each time apart that has
    begun, as its needs call the place, the containers that are along.
    """

    needs: tuple[Need, ...]
    feeds: tuple[Feed, ...]
    day: Mapping[str, Band]
    none: tuple[NoPlan, ...]
    about: Mapping[str, tuple[str, str, Stretch | None]]
    bags: Mapping[str, frozenset[str]] = {}


def why_none(kid: Kid, seen: Seen) -> NoPlan | None:
    """Why nothing is foretold of a child, if so: in hospital, not born or too young, until when."""
    if kid.care == "hospital" and seen.base.rules.guideline.role != "care_team":
        return NoPlan("hospital", kid.name)
    age = past_of.age_d(kid.born, seen.now, seen.zone)
    if intake.too_early(age):
        birth = day_start(kid.born, seen.zone)
        return NoPlan("too_young", kid.name, birth + int(intake.FIRST_D * DAY))
    if age > LAST_D:
        return NoPlan("too_old", kid.name)
    return None


def learning_since(now: int) -> int:
    """From when on days count for learning."""
    return now - int((figure("past", "learn_days") + 1) * DAY)


def child_of(kid: Kid, seen: Seen, habits: Habits) -> Child:
    """A child as the forecast takes it."""
    zone = seen.zone
    solids = next((day for name, day in habits.solids if name == kid.name), None)
    since = None if solids is None else (day_start(solids, zone) - day_start(kid.born, zone)) / DAY
    word = (kid.sex or "").strip().lower()
    sex = "boy" if word in ("boy", "male", "m") else "girl" if word in ("girl", "female", "f") else None
    age = past_of.age_d(kid.born, seen.now, zone)
    return Child(age, sex, past_of.weights_of(seen.past, kid.name, kid.born, zone), since)  # type: ignore[arg-type]


def forecast(kid: Kid, seen: Seen, habits: Habits, days: Sequence[Day]) -> intake.Intake:
    """A child's intake on each of these days, learned from its complete days."""
    logs = past_of.whole_days(
        seen.past, kid.name, kid.born, seen.zone,
        by_bottle=habits.fed == "bottle", since=learning_since(seen.now), now=seen.now,
    )  # fmt: skip
    ages = [past_of.age_d(kid.born, (day.start + day.end) // 2, seen.zone) for day in days]
    return intake.forecast(child_of(kid, seen, habits), logs, ages_d=ages)


def levels(kid: Kid, seen: Seen, habits: Habits, days: Sequence[Day], told: Told | None) -> list[Level]:
    """The level of each day, forecast or told."""
    if told is not None and kid.name in told.day_ml:
        return [Level(told.day_ml[kid.name], 0.0, told.cv)] * len(days)
    found = forecast(kid, seen, habits, days)
    rows = zip(found.likely_ml, found.between, found.within, strict=True)
    return [Level(float(mean), float(between), float(within)) for mean, between, within in rows]


def wanted(seen: Seen, habits: Habits, *, days: int, until: int, told: Told | None = None) -> Wanted:
    """What all children need by bottle from now until an instant, within so many days."""
    calendar = days_from(seen.now, days + 1, seen.zone)
    needs: list[Need] = []
    feeds: list[Feed] = []
    bands: dict[str, Band] = {}
    none: list[NoPlan] = []
    about: dict[str, tuple[str, str, Stretch | None]] = {}
    bags: dict[str, frozenset[str]] = {}
    for kid in seen.kids:
        why = why_none(kid, seen)
        if why is not None:
            none.append(why)
            continue
        look = Look(kid, seen, habits)
        heights = levels(kid, seen, habits, calendar, told)
        pieces = [
            piece for day, level in zip(calendar, heights, strict=True) for piece in look.day(day, level)
        ]  # fmt: skip
        if not pieces:
            none.append(NoPlan("nothing_by_bottle", kid.name))
        bands[kid.name] = _band_of([piece for piece in pieces if piece.name.endswith(calendar[1].iso)])
        for piece in pieces:
            bag = _bag(piece, seen, habits)
            part = _cut(piece, seen.now, until, going_on=bool(bag))
            if part is None:
                continue
            about[part.name] = (kid.name, part.where, part.stretch)
            need = _need(part, kid.name, seen, habits)
            if bag and part.stretch is not None:
                need = replace(
                    need, where=begun(part.where, part.stretch), leave_h=None, short_cost=figure("cost", "home")
                )
                bags[need.where] = bag
            needs.append(need)
            whole = sum(weight for _, weight in part.feeds)
            feeds += [Feed(at_h=(at - seen.now) / HOUR, need=part.name, share=w / whole) for at, w in part.feeds]
    feeds.sort(key=lambda feed: (feed.at_h, feed.need))
    return Wanted(tuple(needs), tuple(feeds), bands, tuple(none), about, bags)


def _band_of(pieces: Sequence[Piece]) -> Band:
    mean, sd = sum(piece.mean_ml for piece in pieces), math.sqrt(sum(piece.var for piece in pieces))
    return Band(max(0.0, mean - Z80 * sd), mean, mean + Z80 * sd)


def _need(piece: Piece, child: str, seen: Seen, habits: Habits) -> Need:
    mended = habits.fed == "apart" or any(one.form == "frozen" and one.standing == "fine" for one in seen.verdicts)
    cost = figure("cost", "apart" if piece.stretch is not None else "home" if mended else "bottle")
    leave = None if piece.stretch is None else (piece.stretch.start - seen.now) / HOUR
    return Need(
        name=piece.name, child=child, where=piece.where, mean_ml=piece.mean_ml, sd_ml=math.sqrt(piece.var),
        short_cost=cost, leave_h=leave,
    )  # fmt: skip


def _bag(piece: Piece, seen: Seen, habits: Habits) -> frozenset[str]:
    """The containers along on a time apart that has begun; none before it begins."""
    stretch = piece.stretch
    return frozenset() if stretch is None or stretch.start >= seen.now else along(seen, habits, stretch)


def _cut(piece: Piece, now: int, until: int, *, going_on: bool) -> Piece | None:
    """What of it lies ahead and within the plan.

    Of a time apart that has begun what is left of it if milk is known to be along, else nothing: it left already.
    """
    if piece.stretch is not None and not going_on and not now <= piece.stretch.start < until:
        return None
    whole_stretch = piece.stretch is not None and not going_on
    feeds = tuple((at, weight) for at, weight in piece.feeds if now <= at < until or whole_stretch)
    whole, part = sum(w for _, w in piece.feeds), sum(w for _, w in feeds)
    if not feeds or not whole:
        return None
    share = part / whole
    mean = piece.mean_ml * share
    if mean < _LEAST_ML:
        return None
    # The part's variance is its share of the whole's.
    within = math.sqrt(max(0.0, (piece.between**2 + piece.within**2) / share - piece.between**2))
    return piece._replace(mean_ml=mean, within=within, feeds=feeds)
