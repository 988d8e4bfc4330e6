"""Days and times of a table: in one cell or two, day or month first, as a spreadsheet counts or people speak."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from thawline.services.paste_cells import Reader
from thawline.services.paste_words import plain_words
from thawline.services.readings_cells import Stamp, stamp


class Question(NamedTuple):
    """Something only the family knows: `day_first` or `unit`; choices are value and label."""

    kind: str
    says: str
    choices: tuple[tuple[str, str], ...]


class Day(NamedTuple):
    """A moment as written; `vague` where only the day stands there."""

    stamp: Stamp
    vague: bool
    text: str


@lru_cache(maxsize=4096)
def _clock(cell: str) -> str:
    """A time of day as hours and minutes with a colon; as it stands where it is none."""
    text = re.sub(r"(?i)^(\d{1,2})\s?(?:h|uhr)\s?(\d{2})?$", lambda m: f"{m[1]}:{m[2] or '00'}", cell.strip())
    text = re.sub(r"(?i)^(\d{1,2})\s?([ap])\.?m\.?$", r"\1:00 \2m", text)
    if re.fullmatch(r"0[.,]\d{1,15}", text):
        minutes = round(float(text.replace(",", ".")) * 1440)
        return f"{minutes // 60 % 24:02}:{minutes % 60:02}"
    return text


def day_alone(cell: str) -> str:
    """A spreadsheet's day often comes as a number, or with an empty time."""
    if re.fullmatch(r"[345]\d{4}", cell):
        return (date(1899, 12, 30) + timedelta(days=int(cell))).isoformat()
    return re.sub(r"[T ]0?0:00(?::00(?:\.0+)?)?$", "", cell)


def moment(reader: Reader, cell: str, clock: str) -> Day | None:
    """A day with its time, from one cell or two; None where none can be read."""
    text = f"{cell} {clock}".strip()
    # Where the day has its time with it, the column of times says nothing more.
    if clock and not (re.search(r"\d:\d", cell) and stamp(day_alone(cell)) is not None):
        found = stamp(f"{day_alone(cell)} {_clock(clock)}") or _spoken(reader, day_alone(cell), _clock(clock))
        return None if found is None else Day(found, vague=False, text=text)
    found = stamp(cell) if not re.fullmatch(r"\d{10}|\d{13}", cell) else None
    if found is not None:
        return Day(found, vague=False, text=text)
    found = stamp(f"{day_alone(cell)} 00:00") or _spoken(reader, cell, "00:00")
    return None if found is None else Day(found, vague=True, text=text)


def _spoken(reader: Reader, cell: str, clock: str) -> Stamp | None:
    """A day written as people speak: without a year, with a month's name."""
    found = reader.find(cell, lone=True)
    if found is None or plain_words(cell[: found[1]] + cell[found[2] :]):
        return None
    day, month = (stamp(f"{one} {clock}") if one else None for one in (found[0].day, found[0].month))
    one = found[0]
    first = day and (None if one.only_day_first is False else day.day_first)
    other = month and (None if one.only_day_first is True else month.day_first)
    return None if first is None and other is None else Stamp(first, other)


def order_of(days: Sequence[Day], answer: bool | None) -> tuple[bool | None, list[Question], list[str]]:
    """Whether the day stands before the month: as answered, as the column itself says, else asked."""
    if answer is not None:
        return answer, [], []
    unsure = next((one for one in days if one.stamp.open), None)
    day = next((one for one in days if one.stamp.month_first is None), None)
    month = next((one for one in days if one.stamp.day_first is None), None)
    if (day is None) != (month is None):
        one = day or month
        told = f"“{one.text}” tells that the {'day' if day else 'month'} stands first." if one and unsure else ""
        return day is not None, [], [told] if told else []
    if unsure is None and day is None:
        return True, [], []
    asked = unsure or day
    choices = tuple(
        (value, f"{when.day} {when:%B %Y}" if when else label)
        for value, when, label in (
            ("day", asked and asked.stamp.day_first, "the day stands first"),
            ("month", asked and asked.stamp.month_first, "the month stands first"),
        )
    )
    return None, [Question("day_first", f"Which day is “{asked.text if asked else ''}”?", choices)], []
