"""Reads one cell of a thermometer's record: a moment, as its day and its time may be meant, or a temperature."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core.times import FIRST_YEAR, LAST_YEAR, SECOND, zone_named
from thawline.core.units import celsius
from thawline.services.paste_words import month_named

_CLOCK = r"(?P<h>\d{1,2})[:.](?P<m>\d{2})(?:[:.](?P<s>\d{2}))?(?:[.,]\d{1,9})?\s*(?P<half>[AaPp]\.?[Mm]\.?)?"
_OFFSET = r"(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
_BETWEEN = r"(?:,?\s+|T|,\s*)"
_NUMBERS = re.compile(
    rf"(?P<a>\d{{1,4}})(?P<sign>[./-])(?P<b>\d{{1,2}})(?P=sign)(?P<c>\d{{1,4}}){_BETWEEN}{_CLOCK}\s*{_OFFSET}"
)
_DAY_NAMED = re.compile(
    rf"(?P<d>\d{{1,2}})\.?[ -]?(?P<name>[^\W\d_]+)\.?[ -]?(?P<y>\d{{4}}){_BETWEEN}{_CLOCK}\s*{_OFFSET}"
)
_NAMED_DAY = re.compile(rf"(?P<name>[^\W\d_]+)\.? (?P<d>\d{{1,2}}),? (?P<y>\d{{4}}){_BETWEEN}{_CLOCK}\s*{_OFFSET}")
_SECONDS = re.compile(r"\d{10}(?:\.\d{1,6})?|\d{13}")
_SHEET = re.compile(r"[345]\d{4}\.\d{1,12}")
_CLOCK_ALONE = re.compile(rf"{_CLOCK}\s*{_OFFSET}")
_TEMP = re.compile(r"(?P<value>[-+]?\d{1,5}(?:[.,]\d{1,9})?)\s*(?:[°º]?\s*(?P<unit>[CFcf]))?\.?")
_LONGEST = 60


class Stamp(NamedTuple):
    """A moment as written: with the day first, with the month first, and its offset where it has one."""

    day_first: datetime | None
    month_first: datetime | None
    zone: timezone | None = None

    @property
    def open(self) -> bool:
        """Whether both orders give a day, and not the same."""
        return None not in (self.day_first, self.month_first) and self.day_first != self.month_first


def _sure(value: datetime) -> Stamp | None:
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        return None
    offset = value.utcoffset()
    naive = value.replace(tzinfo=None)
    return Stamp(naive, naive, None if offset is None else timezone(offset))


def offset_of(text: str) -> timezone | None:
    """`Z`, `UTC`, `+01:00` or `+0100` as an offset; None where it is none."""
    if text in ("Z", "UTC", "GMT"):
        return UTC
    found = re.fullmatch(r"([+-])(\d{1,2})(?::?(\d{2}))?", text)
    if found is None or int(found[2]) > 14 or int(found[3] or 0) > 59:
        return None
    passed = timedelta(hours=int(found[2]), minutes=int(found[3] or 0))
    return timezone(passed if found[1] == "+" else -passed)


def stamp(text: str) -> Stamp | None:
    """The moment that a cell names; None where it names none."""
    if len(text) > _LONGEST:
        return None
    if len(text) >= 16 and text[4:5] == "-":
        try:
            return _sure(datetime.fromisoformat(text))
        except ValueError:
            pass
    if _SECONDS.fullmatch(text) or _SHEET.fullmatch(text):
        return _counted(text)
    return _in_numbers(text) or _in_words(text)


@lru_cache(maxsize=1024)
def is_day(text: str) -> bool:
    """Whether a cell holds a day without a time."""
    return len(text) <= _LONGEST and stamp(text) is None and stamp(f"{text} 00:00") is not None


def is_clock(text: str) -> bool:
    """Whether a cell holds a time of day without a day."""
    return len(text) <= _LONGEST and _CLOCK_ALONE.fullmatch(text) is not None


def _counted(text: str) -> Stamp | None:
    """Seconds (or thousandths) since 1970, or a spreadsheet's days since 1899."""
    if _SHEET.fullmatch(text):
        return _sure(datetime(1899, 12, 30) + timedelta(seconds=round(float(text) * 86_400)))  # noqa: DTZ001
    passed = float(text) / (1000 if len(text) == 13 and "." not in text else 1)
    return _sure(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=passed))


def _in_numbers(text: str) -> Stamp | None:
    found = _NUMBERS.fullmatch(text)
    if found is None:
        return None
    a, b, c = found["a"], found["b"], found["c"]
    if len(a) > 2:
        first = _moment(a, b, c, found)
        return None if first is None else Stamp(first, first, offset_of(found["zone"] or ""))
    day, month = _moment(c, b, a, found), _moment(c, a, b, found)
    if found["sign"] == ".":
        # With full stops the day stands first.
        month = day
    return None if day is None and month is None else Stamp(day, month, offset_of(found["zone"] or ""))


def _in_words(text: str) -> Stamp | None:
    found = _DAY_NAMED.fullmatch(text) or _NAMED_DAY.fullmatch(text)
    number = month_named(found["name"]) if found else None
    if found is None or not number:
        return None
    when = _moment(found["y"], str(number), found["d"], found)
    return None if when is None else Stamp(when, when, offset_of(found["zone"] or ""))


def _moment(year: str, month: str, day: str, found: re.Match[str]) -> datetime | None:
    hour, half = int(found["h"]), (found["half"] or "")[:1].casefold()
    if half and not 1 <= hour <= 12:
        return None
    hour = hour % 12 + 12 * (half == "p") if half else hour
    years = int(year) + 2000 * (len(year) == 2)
    if len(year) not in (2, 4) or not FIRST_YEAR <= years <= LAST_YEAR:
        return None
    try:
        return datetime(years, int(month), int(day), hour, int(found["m"]), int(found["s"] or 0))  # noqa: DTZ001
    except ValueError:
        return None


class Temp(NamedTuple):
    """A figure and the unit that stands with it, if any (`C`, `F`)."""

    value: float
    unit: str


@lru_cache(maxsize=4096)
def temp(text: str) -> Temp | None:
    """The temperature that a cell holds; None where it holds none."""
    found = _TEMP.fullmatch(text.replace("\u2212", "-")) if len(text) <= _LONGEST else None
    return None if found is None else Temp(float(found["value"].replace(",", ".")), (found["unit"] or "").upper())


def in_c(value: float, unit: str) -> float:
    """In degrees Celsius, to a hundredth."""
    return round(celsius(value) if unit == "F" else value, 2)


def clock_named(name: str) -> ZoneInfo | timezone:
    """A zone by its name or its offset; raises `BadTimeError` where there is none."""
    return offset_of(name) or zone_named(name)


class Placed(NamedTuple):
    """Local times as instants (None where the clock never showed it), and how many came twice or never."""

    instants: list[int | None]
    twice: int
    never: int


_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@lru_cache(maxsize=4096)
def _changes(day: tuple[int, int, int], zone: ZoneInfo) -> bool:
    """Whether a clock is put forward or back around a day."""
    noon = datetime(*day, 12, tzinfo=zone)
    return len({(noon + timedelta(hours=hours)).utcoffset() for hours in (-36, -24, -12, 0, 12, 24, 36)}) > 1


def place_in_time(times: list[datetime], zone: ZoneInfo | timezone) -> Placed:
    """Local times in the order of the file; of an hour that came twice the second only once the first is through."""
    backwards = bool(times) and times[0] > times[-1]
    found: list[int | None] = []
    twice = never = 0
    before: int | None = None
    for naive in reversed(times) if backwards else times:
        at: int | None = _instant(naive.replace(tzinfo=zone))
        if isinstance(zone, ZoneInfo) and _changes((naive.year, naive.month, naive.day), zone):
            later = _instant(naive.replace(tzinfo=zone, fold=1))
            if later != at:
                shown = (_EPOCH + timedelta(microseconds=at or 0)).astimezone(zone).replace(tzinfo=None) == naive
                twice, never = twice + shown, never + (not shown)
                at = (later if before is not None and (at or 0) <= before else at) if shown else None
        found.append(at)
        before = at if at is not None else before
    return Placed(found[::-1] if backwards else found, twice, never)


def _instant(value: datetime) -> int:
    passed = value - _EPOCH
    return (passed.days * 86_400 + passed.seconds) * SECOND + passed.microseconds
