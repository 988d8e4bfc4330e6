"""A day of one child cut into pieces: the milk at home and in each stretch apart, with its spread and its feeds."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import NamedTuple

from thawline.core.times import HOUR, MINUTE, local
from thawline.services import feeding_past as past_of
from thawline.services.habits import Habits
from thawline.services.habits_faults import HOME
from thawline.services.plan_days import Day, Stretch, hour_on, stretches
from thawline.services.plan_figures import figure
from thawline.services.plan_rhythm import Beat, bottles, evenly, feed_beats, noted
from thawline.services.plan_seen import Kid, Seen


class Level(NamedTuple):
    """A day's whole intake of a child: its mean in mL, CV of that mean and CV from day to day."""

    mean_ml: float
    between: float
    within: float


class Piece(NamedTuple):
    """A need in the making: mean mL, CV of that mean, CV of one such piece, its feeds (instant, weight), and where."""

    name: str
    where: str
    mean_ml: float
    between: float
    within: float
    feeds: tuple[tuple[int, float], ...]
    stretch: Stretch | None

    @property
    def var(self) -> float:
        """Its variance in mL squared."""
        return self.mean_ml**2 * (self.between**2 + self.within**2)


class _Own(NamedTuple):
    """What the bottles of the last days say: a day's mean in mL, CV of that mean, CV from day to day."""

    mean_ml: float
    between: float
    within: float


class Look:
    """A child's days as they will be cut; what its log says is worked out once."""

    def __init__(self, kid: Kid, seen: Seen, habits: Habits) -> None:
        self.kid, self.seen, self.habits = kid, seen, habits
        self.zone = seen.zone
        self._rhythms: dict[str, tuple[Beat, ...]] = {}
        self._logged: dict[str, list[float]] = {}

    def day(self, day: Day, level: Level) -> list[Piece]:
        """The pieces of a day whose whole intake is at this level."""
        apart = stretches(self.habits, self.kid.name, day, self.zone)
        if self.habits.fed == "bottle":
            return self._whole(day, level, apart)
        return [*(self._stretch(day, level, one) for one in apart), *self._at_home(day, apart)]

    # All feeds by bottle

    @cached_property
    def usual(self) -> tuple[Beat, ...]:
        """The usual hours of all bottles; evenly around the clock where too few were logged."""
        own = feed_beats(self.seen.past, self.kid.name, self.zone, self.seen.now, lambda _at: True)
        return own or evenly(0, 24)

    def _whole(self, day: Day, level: Level, apart: Sequence[Stretch]) -> list[Piece]:
        feeds = [(hour_on(day.date, beat.hour, self.zone), beat.share) for beat in self.usual]
        mean = level.mean_ml
        if day.start <= self.seen.now < day.end:
            mean, feeds = self._rest(day, level, feeds)
        whole = sum(share for _, share in feeds)
        found = []
        for one in apart:
            inside = [feed for feed in feeds if one.start <= feed[0] < one.end]
            feeds = [feed for feed in feeds if feed not in inside]
            if inside:
                found.append(
                    self._part(
                        self._name(one, day), one.apart.where, inside, whole=whole, mean=mean, level=level, stretch=one
                    )
                )
        if feeds:
            found.append(
                self._part(
                    f"{self.kid.name}|{HOME}|{day.iso}", HOME, feeds, whole=whole, mean=mean, level=level, stretch=None
                )
            )
        return found

    def _name(self, one: Stretch, day: Day) -> str:
        return f"{self.kid.name}|{one.apart.where}|{one.apart.start}|{day.iso}"

    def _part(
        self, name: str, where: str, feeds: Sequence[tuple[int, float]], *, whole: float, mean: float, level: Level,
        stretch: Stretch | None,
    ) -> Piece:  # fmt: skip
        """A part of a day: the level's spread, and that of single feeds around their share of it."""
        share = min(1.0, sum(weight for _, weight in feeds) / whole)
        single = (1 - share) / share * figure("spread", "feed") ** 2 / max(len(self.usual) - 1, 1)
        return Piece(name, where, mean * share, level.between, math.hypot(level.within, math.sqrt(single)),
                     tuple(feeds), stretch)  # fmt: skip

    def _rest(
        self, day: Day, level: Level, feeds: Sequence[tuple[int, float]]
    ) -> tuple[float, list[tuple[int, float]]]:
        """What is left of today: its mean once what was drunk is known, and the feeds still to come."""
        now = self.seen.now
        had = [one for one in self.seen.past.feeds if one.child == self.kid.name and day.start <= one.at <= now]
        gone, ahead = [one for one in feeds if one[0] <= now], [one for one in feeds if one[0] > now]
        last = max((one.at for one in had), default=day.start)
        if len(gone) > len(had) and had and now - last > figure("rhythm", "missed_h") * HOUR:
            # A usual feed that nobody logged yet is still to come.
            ahead = [(now + 10 * MINUTE, gone[-1][1]), *ahead]
        share = sum(weight for _, weight in ahead)
        expected = level.mean_ml * share
        if not had or not 0 < share < 1:
            return expected, ahead
        # How much the known part of today says of the whole day: a Bayesian's weight.
        of_day = level.between**2 + level.within**2
        of_feeds = share / (1 - share) * figure("spread", "feed") ** 2 / max(len(feeds) - 1, 1)
        drunk = sum(one.drunk_ml for one in had)
        gain = of_day / (of_day + of_feeds) if of_day else 0.0
        mean = level.mean_ml + gain * (drunk / (1 - share) - level.mean_ml) - drunk
        return min(max(mean, expected / 2), expected * 1.5), ahead

    # Bottles only while apart, and some at home

    def _stretch(self, day: Day, level: Level, one: Stretch) -> Piece:
        """A stretch apart: the day's milk in proportion to its hours, drawn to what was drunk in such stretches."""
        hours = (one.end - one.start) / HOUR
        between = math.hypot(level.between, figure("spread", "stretch"))
        each = math.hypot(
            level.within, figure("spread", "feed") / math.sqrt(max(1.0, hours / figure("rhythm", "gap_h")))
        )
        mean = level.mean_ml * hours / 24
        totals = self._totals_in(one, mean)
        weight = between**2 / (between**2 + each**2 / len(totals)) if totals else 0.0
        if totals:
            mean = weight * sum(totals) / len(totals) + (1 - weight) * mean
        start = past_of.hour_of(one.start, self.zone)
        rhythm = self._rhythm_in(one) or evenly(start, start + hours)
        feeds = tuple((hour_on(day.date, beat.hour, self.zone), beat.share) for beat in rhythm)
        return Piece(
            self._name(one, day), one.apart.where, mean, between * math.sqrt(1 - weight), each, feeds, one
        )  # fmt: skip

    def _in(self, one: Stretch) -> Callable[[int], bool]:
        apart = one.apart

        def within(at: int) -> bool:
            here = local(at, self.zone)
            return here.weekday() in apart.days and apart.start <= f"{here:%H:%M}" < apart.end

        return within

    def _rhythm_in(self, one: Stretch) -> tuple[Beat, ...]:
        key = f"{one.apart.where}|{one.apart.start}|{one.apart.end}|{one.apart.days}"
        if key not in self._rhythms:
            seen = self.seen
            self._rhythms[key] = feed_beats(seen.past, self.kid.name, self.zone, seen.now, self._in(one))
        return self._rhythms[key]

    def _totals_in(self, one: Stretch, least_ml: float) -> list[float]:
        key = f"{one.apart.where}|{one.apart.start}|{one.apart.end}|{one.apart.days}"
        if key not in self._logged:
            nursed = {
                local(other.at, self.zone).date() for other in self.seen.past.others
                if other.child == self.kid.name and other.what == "nursed" and self._in(one)(other.at)
            }  # fmt: skip
            found = self._totals(self._in(one))
            # Days on which they were together after all say nothing, noted or not.
            self._logged[key] = [
                ml for day, ml in found.items()
                if day not in nursed and ml >= figure("spread", "plausible") * least_ml
            ]  # fmt: skip
        return self._logged[key]

    def _totals(self, within: Callable[[int], bool]) -> dict[object, float]:
        rows = [row for row in bottles(self.seen.past, self.kid.name) if within(row[0])]
        found: dict[object, float] = {}
        for row in noted(rows, self.zone, self.seen.now):
            found[row.day] = found.get(row.day, 0.0) + row.ml
        return found

    def _together(self, at: int) -> bool:
        here = local(at, self.zone)
        clock = f"{here:%H:%M}"
        return not any(
            one.child == self.kid.name and here.weekday() in one.days and one.start <= clock < one.end
            for one in self.habits.apart
        )

    @cached_property
    def _own(self) -> _Own | None:
        """A day's bottles beside nursing; None where too few days had any."""
        totals = self._totals(self._together)
        if len(totals) < figure("rhythm", "least_days"):
            return None
        first = min(totals, key=str)
        span = (local(self.seen.now, self.zone).date() - first).days  # type: ignore[operator]
        amounts = [*totals.values(), *([0.0] * (span - len(totals)))]
        mean = sum(amounts) / len(amounts)
        if not mean:
            return None
        cv = math.sqrt(sum((one / mean - 1) ** 2 for one in amounts) / max(1, len(amounts) - 1))
        return _Own(mean, cv / math.sqrt(len(amounts)), cv)

    @cached_property
    def _home_rhythm(self) -> tuple[Beat, ...]:
        return feed_beats(self.seen.past, self.kid.name, self.zone, self.seen.now, self._together)

    def _at_home(self, day: Day, apart: Sequence[Stretch]) -> list[Piece]:
        """The bottles that a child that else nurses usually gets at home."""
        if self._own is None:
            return []
        times = [(hour_on(day.date, beat.hour, self.zone), beat.share) for beat in self._home_rhythm]
        feeds = tuple(one for one in times if not any(each.start <= one[0] < each.end for each in apart))
        share = sum(weight for _, weight in feeds)
        if not share:
            return []
        own = self._own
        name = f"{self.kid.name}|{HOME}|{day.iso}"
        return [Piece(name, HOME, own.mean_ml * share, own.between, own.within / math.sqrt(share), feeds, None)]
