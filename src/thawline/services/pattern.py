"""How sessions went: when, how much, from which side, and what a day came to; days without a note stay unknown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from statistics import median, quantiles
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.times import HOUR, day_start, is_date, local, zone_named
from thawline.records.store import Row, Store
from thawline.services.board import manners
from thawline.services.correcting import not_fitting, voids_of
from thawline.services.feeding_past import hour_of

# What may be looked back on, in days.
SPANS = (14, 30, 90)
# A median of seven days needs this many that are known, and a middle half this many sessions; ours.
_WEEK, _LEAST_DAYS, _LEAST_SESSIONS = 7, 4, 4
_PAGE = 200


class Sat(NamedTuple):
    """A session: its start (microseconds), mL, side and minutes as noted, the hour of the day, hours since the last.

    `hour` and `gap_h` are None where only the day is known; `gap_h` also where none came in the week before.
    """

    at: int
    day: str
    ml: float
    side: str | None
    minutes: float | None
    hour: float | None
    gap_h: float | None


class Day(NamedTuple):
    """What a day came to: mL, None where nothing was noted; sessions; the median of the seven days up to it, in mL."""

    day: str
    ml: float | None
    sessions: int
    week_ml: float | None


class Middle(NamedTuple):
    """Some sessions as one: how many, the median, and the lower and upper quarter in mL (None where there are few)."""

    number: int
    median_ml: float
    low_ml: float | None
    high_ml: float | None
    minutes: float | None


class Pattern(NamedTuple):
    """The days of a span, oldest first and without today, today so far in mL, and the sessions of all of them."""

    days: tuple[Day, ...]
    today: Day
    sessions: tuple[Sat, ...]
    mothers: tuple[str, ...]

    @property
    def missing(self) -> int:
        """Days on which nothing was noted."""
        return sum(day.ml is None for day in self.days)


def pattern(store: Store, *, now: int, days: int = SPANS[0], mother: str = "") -> Pattern:
    """The last `days` whole days and today, on the household's calendar; of one mother only, where named."""
    zone = zone_named(manners(store, now=now)[0])
    today = local(now, zone).date()
    first = today - timedelta(days=days)
    # Six days more for the first median, and one for the first gap.
    since = day_start((first - timedelta(days=_WEEK)).isoformat(), zone)
    read = [(row, event) for row, event in _expressed(store, since=since, now=now)]
    mothers = tuple(sorted({event.mother for _row, event in read if event.mother}))
    found = _sessions([pair for pair in read if not mother or pair[1].mother == mother], zone_name=zone.key)
    shown = [first + timedelta(days=number) for number in range(days)]
    totals = _totals(found)
    last = _day(today, totals)
    return Pattern(
        tuple(_day(day, totals) for day in shown), last,
        tuple(one for one in found if one.day >= first.isoformat()), mothers,
    )  # fmt: skip


def _expressed(store: Store, *, since: int, now: int) -> Iterator[tuple[Row, ev.Expressed]]:
    """Sessions that happened and count, oldest first."""
    rows = [row for row in _rows(store, since) if row.at <= now]
    ids = [row.event_id for row in rows]
    voided, unfit = voids_of(store, ids, now=now), not_fitting(store, ids, now=now)
    for row in sorted(rows, key=lambda row: (row.at, row.event_id)):
        event = ev.decoder.decode(row.line)
        if isinstance(event, ev.Expressed) and row.event_id not in voided and row.event_id not in unfit:
            yield row, event


def _rows(store: Store, since: int) -> Iterator[Row]:
    before: tuple[int, str] | None = None
    while True:
        rows = store.history(before=before, limit=_PAGE, kinds=("expressed",))
        yield from (row for row in rows if row.at >= since)
        if len(rows) < _PAGE or rows[-1].at < since:
            return
        before = rows[-1].at, rows[-1].event_id


def _sessions(read: Iterable[tuple[Row, ev.Expressed]], *, zone_name: str) -> list[Sat]:
    zone = zone_named(zone_name)
    found: list[Sat] = []
    last: int | None = None
    for row, event in read:
        vague = is_date(event.at)
        ml = sum(portion.ml for portion in event.into)
        gap = None if vague or last is None else (row.at - last) / HOUR
        hour = None if vague else hour_of(row.at, zone)
        day = local(row.at, zone).date().isoformat()
        found.append(Sat(row.at, day, ml, event.side, event.minutes, hour, gap))
        last = last if vague else row.at
    return found


def _totals(sessions: Sequence[Sat]) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for one in sessions:
        found.setdefault(one.day, []).append(one.ml)
    return found


def _day(day: date, totals: dict[str, list[float]]) -> Day:
    """A day with the median of the known ones among the seven up to it."""
    week = [(day - timedelta(days=number)).isoformat() for number in range(_WEEK)]
    known = [sum(totals[one]) for one in week if one in totals]
    own = totals.get(day.isoformat())
    return Day(
        day.isoformat(), None if own is None else sum(own), len(own or ()),
        median(known) if len(known) >= _LEAST_DAYS else None,
    )  # fmt: skip


def middle(sessions: Sequence[Sat]) -> Middle | None:
    """Some sessions as one; None where there are none."""
    if not sessions:
        return None
    amounts = [one.ml for one in sessions]
    low, high = None, None
    if len(amounts) >= _LEAST_SESSIONS:
        low, _half, high = quantiles(amounts, n=4, method="inclusive")
    minutes = [one.minutes for one in sessions if one.minutes is not None]
    return Middle(len(amounts), median(amounts), low, high, median(minutes) if minutes else None)


def by_side(sessions: Sequence[Sat]) -> dict[str, Middle]:
    """The sessions of each side; "" where none was noted."""
    found = {
        side: middle([one for one in sessions if (one.side or "") == side]) for side in ("left", "right", "both", "")
    }
    return {side: one for side, one in found.items() if one is not None}


def by_hours(sessions: Sequence[Sat], *, width_h: int = 4) -> list[tuple[int, Middle]]:
    """The sessions of each so many hours of the day, by the hour at which they begin; empty ones are left out."""
    found = []
    for start in range(0, 24, width_h):
        one = middle([row for row in sessions if row.hour is not None and start <= row.hour < start + width_h])
        if one is not None:
            found.append((start, one))
    return found


def weeks(days: Sequence[Day]) -> tuple[Middle | None, Middle | None]:
    """The last seven days, and the seven before, each as the days' totals; None where none of them is known."""

    def of(some: Sequence[Day]) -> Middle | None:
        return middle([Sat(0, one.day, one.ml, None, None, None, None) for one in some if one.ml is not None])

    return of(days[-_WEEK:]), of(days[-2 * _WEEK : -_WEEK])
