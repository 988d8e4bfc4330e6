"""Days, nights and stretches apart on the household's clock: instants that hold over the nights the clocks change."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core.times import SECOND, day_start, local
from thawline.services.habits import Apart, Habits


class Day(NamedTuple):
    """A day of the household: its date, its first instant and that of the next day."""

    date: date
    start: int
    end: int

    @property
    def iso(self) -> str:
        """Its date as 2027-02-03."""
        return self.date.isoformat()


class Stretch(NamedTuple):
    """One time apart: from and until (instants), and the habit that it comes from."""

    start: int
    end: int
    apart: Apart


def days_from(now: int, count: int, zone: ZoneInfo) -> list[Day]:
    """Today and the days after it, `count` in all."""
    first = local(now, zone).date()
    found = []
    for number in range(count):
        day = first + timedelta(days=number)
        end = day_start((day + timedelta(days=1)).isoformat(), zone)
        found.append(Day(day, day_start(day.isoformat(), zone), end))
    return found


def clock_on(day: date, clock: str, zone: ZoneInfo) -> int:
    """The instant at which a clock shows a time of that day; the first of two, and past a gap the moment after it."""
    hour, minute = (int(part) for part in clock.split(":"))
    at = datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone)
    return int(at.timestamp()) * SECOND


def hour_on(day: date, hour: float, zone: ZoneInfo) -> int:
    """The instant of an hour of the day, 0 to 24."""
    minutes = min(24 * 60 - 1, max(0, round(hour * 60)))
    return clock_on(day, f"{minutes // 60:02d}:{minutes % 60:02d}", zone)


def stretches(habits: Habits, child: str, day: Day, zone: ZoneInfo) -> list[Stretch]:
    """A child's times apart on a day, in order."""
    found = [
        Stretch(clock_on(day.date, one.start, zone), clock_on(day.date, one.end, zone), one)
        for one in habits.apart
        if one.child == child and day.date.weekday() in one.days and _in_season(one, day.iso)
    ]
    return sorted((one for one in found if one.end > one.start), key=lambda one: one.start)


def _in_season(apart: Apart, iso: str) -> bool:
    return (not apart.from_day or apart.from_day <= iso) and (not apart.until_day or iso <= apart.until_day)


def is_night(at: int, habits: Habits, zone: ZoneInfo) -> bool:
    """Whether the family sleeps at that time."""
    clock = f"{local(at, zone):%H:%M}"
    start, end = habits.night_from, habits.night_until
    return start <= clock < end if start < end else clock >= start or clock < end


def nights(habits: Habits, days: list[Day], zone: ZoneInfo) -> Iterator[int]:
    """The middle of each night that begins on one of the days."""
    for day in days:
        start = clock_on(day.date, habits.night_from, zone)
        later = habits.night_from >= habits.night_until
        end = clock_on(day.date + timedelta(days=1) if later else day.date, habits.night_until, zone)
        yield (start + end) // 2
