"""At which hours a family feeds and expresses, from its own logged days; evenly where it has logged too few."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core.times import local
from thawline.services.feeding_past import Past, hour_of
from thawline.services.plan_figures import figure


class Beat(NamedTuple):
    """A usual time of day: its hour, and its share of the day's milk (or its mL, for a session)."""

    hour: float
    share: float


class Noted(NamedTuple):
    """Something that happened: on which day, at which hour, how much."""

    day: date
    hour: float
    ml: float


def noted(rows: Sequence[tuple[int, float]], zone: ZoneInfo, now: int) -> list[Noted]:
    """Those of the days before today that learning looks at, on the household's clock."""
    today = local(now, zone).date()
    first = today - timedelta(days=int(figure("past", "learn_days")))
    found = [Noted(local(at, zone).date(), hour_of(at, zone), ml) for at, ml in rows]
    return [one for one in found if first <= one.day < today]


def bottles(past: Past, child: str) -> list[tuple[int, float]]:
    """A child's bottles: when, and mL drunk."""
    return [(feed.at, feed.drunk_ml) for feed in past.feeds if feed.child == child]


def days_of(rows: Sequence[Noted]) -> int:
    """On how many days something happened."""
    return len({row.day for row in rows})


def beats(rows: Sequence[Noted], days: int) -> tuple[Beat, ...]:
    """The usual hours over `days` days, and what each brings in mL: sorted hours cut into as many parts as a day has.

    Amounts are drawn halfway to their mean, for single days tell little of an hour.
    """
    if not rows or not days:
        return ()
    count = max(1, round(len(rows) / days))
    ordered = sorted(rows, key=lambda row: (row.hour, row.day))
    mean = sum(row.ml for row in rows) / len(rows)
    edges = [round(index * len(ordered) / count) for index in range(count + 1)]
    found = []
    for start, end in pairwise(edges):
        part = ordered[start:end]
        if part:
            own = sum(row.ml for row in part) / len(part)
            found.append(Beat(sum(row.hour for row in part) / len(part), (own + mean) / 2))
    return tuple(found)


def shares(found: Sequence[Beat]) -> tuple[Beat, ...]:
    """The same hours with shares that add up to 1."""
    whole = sum(beat.share for beat in found)
    return tuple(Beat(beat.hour, beat.share / whole if whole else 1 / len(found)) for beat in found)


def evenly(start: float, end: float) -> tuple[Beat, ...]:
    """Feeds spread evenly between two hours of a day."""
    gap = figure("rhythm", "gap_h")
    count = max(1, round((end - start) / gap))
    step = (end - start) / count
    return tuple(Beat(start + (index + 0.5) * step, 1 / count) for index in range(count))


def feed_beats(past: Past, child: str, zone: ZoneInfo, now: int, within: Callable[[int], bool]) -> tuple[Beat, ...]:
    """A child's usual bottle hours among the times that count, with shares; empty where too few days were logged."""
    rows = noted([(at, ml) for at, ml in bottles(past, child) if within(at)], zone, now)
    days = days_of(rows)
    return shares(beats(rows, days)) if days >= figure("rhythm", "least_days") else ()


def session_beats(
    past: Past, zone: ZoneInfo, now: int, counts: Callable[[date], bool] | None = None
) -> tuple[Beat, ...]:
    """The usual hours of expressing, with their mL; empty where too few days were logged, or few had a session.

    `counts` tells days of a kind: those are looked at alone where there were enough of them.
    """
    rows = noted([(one.at, one.ml) for one in past.sessions], zone, now)
    least = figure("rhythm", "least_days")
    if days_of(rows) < least:
        return ()
    # Days without any count: who skips one day in two expresses half as much.
    first, today = min(row.day for row in rows), local(now, zone).date()
    days = [first + timedelta(days=number) for number in range((today - first).days)]
    if counts is not None and len(kind := [day for day in days if counts(day)]) >= least:
        days, rows = kind, [row for row in rows if counts(row.day)]
    return beats(rows, max(len(days), 1)) if len(rows) / max(len(days), 1) >= 0.5 else ()
