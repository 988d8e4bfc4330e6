"""Instants, bare dates and published durations; an instant is whole microseconds since 1970 in UTC."""

from __future__ import annotations

import calendar
import re
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from msgspec import Struct

SECOND = 1_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
FIRST_YEAR, LAST_YEAR = 2000, 2100
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICRO = timedelta(microseconds=1)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_INSTANT = re.compile(r"(\d{4}-\d{2}-\d{2})[Tt](\d{2}:\d{2}):(\d{2})(\.\d+)?([Zz]|[+-]\d{2}:\d{2})", re.ASCII)

# The usual shape: whole seconds, a numeric offset, no leap second.
_PLAIN = re.compile(r"\d{4}-\d\d-\d\dT(?:[01]\d|2[0-3]):\d\d:[0-5]\d[+-]\d\d:[0-5]\d", re.ASCII)


class BadTimeError(ValueError):
    """A time or zone that cannot be used; its text says what to mend."""


@lru_cache(maxsize=64)
def zone_named(name: str) -> ZoneInfo:
    """The IANA zone of that name; `BadTimeError` where there is none."""
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError) as fault:
        raise BadTimeError(f"unknown zone {name[:60]!r}: use an IANA name such as Europe/Paris") from fault


def is_date(text: str) -> bool:
    """Whether only a day was written."""
    return _DATE.fullmatch(text) is not None


def parse_instant(text: str) -> int:
    """An RFC 3339 time with an offset as an instant; `BadTimeError` otherwise.

    Digits past the microsecond are cut, and a leap second counts as the second before it: never later than written.
    """
    if _PLAIN.fullmatch(text) is not None:
        try:
            value = datetime.fromisoformat(text)
        except ValueError as fault:
            raise BadTimeError(f"{text[:60]!r} does not exist: mend the day, the hour or the offset") from fault
        if FIRST_YEAR <= value.year <= LAST_YEAR:
            passed = value - _EPOCH
            return (passed.days * 86_400 + passed.seconds) * SECOND
    match = _INSTANT.fullmatch(text)
    if match is None:
        raise BadTimeError(f"{text[:60]!r} is not a time: write 2027-02-03T07:10:00+01:00, or a bare date")
    day, hour_minute, second, fraction, offset = match.groups()
    micro = (fraction or ".0")[1:7].ljust(6, "0")
    leap = second == "60"
    shape = f"{day}T{hour_minute}:{'59' if leap else second}.{micro}"
    try:
        if hour_minute >= "24:00" or offset[4:] > "59":
            raise ValueError
        value = datetime.fromisoformat(shape + ("+00:00" if offset in "Zz" else offset))
        instant = (value - _EPOCH) // _MICRO
    except (ValueError, OverflowError) as fault:
        raise BadTimeError(f"{text[:60]!r} does not exist: mend the day, the hour or the offset") from fault
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise BadTimeError(f"the year {value.year} is outside {FIRST_YEAR}-{LAST_YEAR}: mend the year")
    return instant


def check_date(text: str) -> None:
    """Raise `BadTimeError` unless the text is a day of the years 2000 to 2100."""
    parts = text.split("-")
    try:
        if not is_date(text):
            raise ValueError
        year = datetime(int(parts[0]), int(parts[1]), int(parts[2]), tzinfo=UTC).year
    except ValueError as fault:
        raise BadTimeError(f"{text[:60]!r} is not a day: write it as 2027-02-03") from fault
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise BadTimeError(f"the year {year} is outside {FIRST_YEAR}-{LAST_YEAR}: mend the year")


def _instant_of(value: datetime) -> int:
    return (value - _EPOCH) // _MICRO


def local(instant: int, zone: ZoneInfo) -> datetime:
    """That instant on the household's clock."""
    return (_EPOCH + timedelta(microseconds=instant)).astimezone(zone)


def day_start(text: str, zone: ZoneInfo) -> int:
    """The earliest instant of a bare date in a zone (midnight may not exist there)."""
    check_date(text)
    year, month, day = (int(part) for part in text.split("-"))
    guess = _instant_of(datetime(year, month, day, tzinfo=zone))
    seen = local(guess, zone)
    if (seen.hour, seen.minute, seen.second) == (0, 0, 0) and seen.day == day:
        return guess
    low, high = guess - 2 * DAY, guess + 2 * DAY
    wanted = (year, month, day)
    while high - low > 1:
        middle = (low + high) // 2
        at = local(middle, zone)
        if (at.year, at.month, at.day) >= wanted:
            high = middle
        else:
            low = middle
    return high


def written(instant: int, zone: ZoneInfo) -> str:
    """An instant as RFC 3339 on the household's clock."""
    return local(instant, zone).isoformat()


class Span(Struct, frozen=True):
    """A published duration: hours, days and weeks are elapsed time, months are calendar months."""

    count: int
    unit: str

    def after(self, start: int, zone: ZoneInfo) -> int:
        """The last allowed instant, counted from `start`; a month's end is clamped."""
        if self.unit != "months":
            return start + self.count * _UNITS[self.unit]
        at = local(start, zone)
        months = at.year * 12 + at.month - 1 + self.count
        year, month = divmod(months, 12)
        day = min(at.day, calendar.monthrange(year, month + 1)[1])
        # A local time that does not exist is read with the offset before the gap, as RFC 5545 does.
        return _instant_of(at.replace(year=year, month=month + 1, day=day, fold=0))

    def hours(self) -> float:
        """Its length in hours, a month counted as 30 days; for comparison only."""
        return self.count * _UNITS[self.unit] / HOUR


_UNITS = {"minutes": MINUTE, "hours": HOUR, "days": DAY, "weeks": 7 * DAY, "months": 30 * DAY}


def span_of(text: str) -> Span:
    """Read "4 days"; `ValueError` where it is no such thing."""
    count, _, unit = text.partition(" ")
    unit = unit if unit.endswith("s") else unit + "s"
    if not (count.isascii() and count.isdigit()) or len(count) > 4 or unit not in _UNITS:
        raise ValueError(f"{text!r} is not a duration: write a whole number and minutes, hours, days, weeks or months")
    return Span(int(count), unit)
