"""Where the marks of a picture's axes stand: round numbers, and round times on the household's clock."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import NamedTuple

from django.utils import formats

from thawline.core.times import DAY, HOUR, MINUTE, BadTimeError, day_start
from thawline.faces.words import Words
from thawline.services.acts import BadWhenError, moment

_STEPS = (5 * MINUTE, 15 * MINUTE, 30 * MINUTE, HOUR, 2 * HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR)
_DAYS = (1, 2, 7, 14, 28, 91, 182, 364, 1820, 3640)
_HOURS = (0.1, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672, 1344, 2688)


class Tick(NamedTuple):
    """A mark of an axis: where, what stands at it, and what stands below that (a day)."""

    at: float
    says: str
    below: str = ""


def round_steps(low: float, high: float, most: int) -> list[float]:
    """Round numbers from at or below `low` to at or above `high`, about `most` of them."""
    rough = max(high - low, 1e-9) / max(most - 1, 1)
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * part for part in (1, 2, 5, 10) if size * part >= rough * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(number * step, 10) for number in range(first, last + 1)]


def hour_ticks(low: float, high: float, most: int) -> list[Tick]:
    """Whole hours from a start, or parts of an hour where there are few."""
    step = next((one for one in _HOURS if (high - low) / one <= most), _HOURS[-1])
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [Tick(number * step, str(formats.localize(round(number * step, 2)))) for number in range(first, last + 1)]


def clock_ticks(low: int, high: int, most: int, words: Words) -> list[Tick]:
    """Round times on the household's clock between two instants; the day stands below where another begins."""
    step = next((one for one in _STEPS if (high - low) / one <= most), None)
    if step is None:
        return _day_ticks(low, high, most, words)
    found: list[Tick] = []
    told = ""
    wall = _floored(words.local(low).replace(tzinfo=None), step)
    end = words.local(high).replace(tzinfo=None) + timedelta(hours=2)
    while wall <= end:
        at = _instant(wall, words)
        if at is not None and low <= at <= high:
            day = words.day(at)
            found.append(Tick(at, words.hour(at), day if day != told else ""))
            told = day
        wall += timedelta(microseconds=step)
    return found


def _day_ticks(low: int, high: int, most: int, words: Words) -> list[Tick]:
    size = next((one for one in _DAYS if (high - low) / (one * DAY) <= most), _DAYS[-1])
    days = (words.local(low).date() + timedelta(days=number * size) for number in range(most + 3))
    starts = [(day_start(day.isoformat(), words.zone), day) for day in days]
    shape = "j M" if size < 364 else "M Y"
    return [Tick(at, formats.date_format(day, shape)) for at, day in starts if low <= at <= high]


def _instant(wall: datetime, words: Words) -> int | None:
    """That time on the household's clock; None where the clocks go past it."""
    try:
        return moment(wall.isoformat(), words.zone)
    except (BadTimeError, BadWhenError):
        return None


def _floored(wall: datetime, step: int) -> datetime:
    midnight = wall.replace(hour=0, minute=0, second=0, microsecond=0)
    size = timedelta(microseconds=step)
    return midnight + (wall - midnight) // size * size
