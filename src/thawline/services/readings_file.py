"""Reads a thermometer's record from a file or from pasted text: its times, its unit, and what to ask first."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core.times import MINUTE, zone_named
from thawline.engines.physics.readings import Reading
from thawline.services.readings_cells import (
    Placed,
    Stamp,
    Temp,
    clock_named,
    in_c,
    offset_of,
    place_in_time,
    stamp,
    temp,
)
from thawline.services.readings_table import (
    Answers,
    Columns,
    Guess,
    Question,
    Row,
    Unit,
    UnreadableError,
    columns_of,
    decoded,
    named,
    table_of,
)

__all__ = ["Answers", "Parsed", "Question", "Skipped", "Unit", "UnreadableError", "decoded", "parse"]
_CELL = 60
_USUAL_C = 30
_FAHRENHEIT, _CELSIUS = r"[°º] ?f\b|\(f\)|\[f\]|_f\b|\bf\b|fahrenheit", r"[°º] ?c\b|\(c\)|\[c\]|_c\b|\bc\b|celsius"


class Skipped(NamedTuple):
    """A line of the file that gave no reading, and why."""

    line: int
    text: str
    why: str


class Parsed(NamedTuple):
    """A file as far as it could be read: readings in its order, what to ask first, what was left out, what to know."""

    readings: tuple[Reading, ...]
    questions: tuple[Question, ...]
    skipped: tuple[Skipped, ...]
    notes: tuple[str, ...]
    columns: tuple[str, ...]
    unit: Unit | None


# ---- cells -------------------------------------------------------------------------------------------------


class _Read(NamedTuple):
    line: int
    when: Stamp
    temp: Temp


def _cells(rows: Sequence[Row], columns: Columns) -> tuple[list[_Read], list[Skipped]]:
    found: list[_Read] = []
    skipped: list[Skipped] = []
    width = max(columns.time, columns.temp, columns.clock or 0)
    for row in rows:
        why = ""
        if width >= len(row.cells):
            why = "it has fewer columns than the others"
        else:
            moment = row.cells[columns.time]
            when = stamp(moment if columns.clock is None else f"{moment} {row.cells[columns.clock]}")
            degrees = temp(row.cells[columns.temp])
            if when is not None and degrees is not None:
                found.append(_Read(row.line, when, degrees))
            else:
                why = "no time can be read in it" if when is None else "no temperature can be read in it"
        if why:
            skipped.append(Skipped(row.line, " ".join(row.cells)[:_CELL], why))
    return found, skipped


def _order(found: Sequence[_Read], answer: bool | None) -> tuple[bool, Question | None]:
    """Whether the day stands before the month; asked where nothing in the file tells."""
    if answer is not None:
        return answer, None
    day = any(one.when.month_first is None for one in found)
    month = any(one.when.day_first is None for one in found)
    unsure = next((one.when for one in found if one.when.open), None)
    if unsure is None or day != month:
        return day or not month, None
    choices = tuple(
        (value, f"{when:%A} {when.day} {when:%B %Y}")
        for value, when in (("day", unsure.day_first), ("month", unsure.month_first))
        if when is not None
    )
    return True, Question("day_first", "Which day is the first one in the file?", choices)


def _unit(found: Sequence[_Read], guess: Guess, columns: Columns, usual: Unit) -> tuple[Unit | None, list[str]]:
    """The unit of figures that stand without one; None where it has to be asked."""
    if guess.answers.unit is not None:
        return guess.answers.unit, []
    written = Counter(one.temp.unit for one in found)
    if not written[""]:
        return ("F" if written["F"] else "C"), []
    for text in (columns.names[columns.temp], guess.before):
        f, c = named(_FAHRENHEIT, text), named(_CELSIUS, text)
        if f != c:
            return ("F" if f else "C"), []
    usual_c = sum(one.temp.value <= _USUAL_C for one in found) >= 0.9 * len(found)
    if usual == "C" and usual_c:
        return "C", ["No unit is written: taken as °C."]
    return None, []


def _clock(guess: Guess, columns: Columns, usual: str) -> tuple[ZoneInfo | timezone, list[str]]:
    """The clock of times that stand without an offset: as answered, as the column's name says, else the household's."""
    if guess.answers.clock is not None and guess.answers.clock != "local":
        return clock_named(guess.answers.clock), []
    written = re.search(r"(?:UTC|GMT)\s?([+-]\d{1,2}(?::?\d{2})?)?", columns.names[columns.time])
    if written and guess.answers.clock is None and (offset := offset_of(written[1] or "UTC")) is not None:
        return offset, [f"The file says that its times are {written[0]}."]
    return zone_named(usual), []


def _instants(found: Sequence[_Read], day_first: bool, clock: ZoneInfo | timezone) -> Placed:
    whens = [(one.when.day_first if day_first else one.when.month_first, one.when.zone) for one in found]
    local = [when for when, zone in whens if when is not None and zone is None]
    placed = place_in_time(local, clock)
    rest = iter(placed.instants)
    instants: list[int | None] = []
    for when, zone in whens:
        if when is None:
            instants.append(None)
        elif zone is not None:
            instants.append(place_in_time([when], zone).instants[0])
        else:
            instants.append(next(rest))
    return placed._replace(instants=instants)


def _ask_clock(placed: Placed, clock: ZoneInfo | timezone, when: Stamp) -> Question:
    day = when.day_first or when.month_first or datetime(2000, 1, 1)  # noqa: DTZ001
    offsets = [day.replace(month=month, day=1, tzinfo=clock).utcoffset() or timedelta(0) for month in (1, 7)]
    minutes = int(min(offsets).total_seconds() // 60)
    offset = f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"
    says = "Some of its times were skipped when the clocks went forward. Which clock did the thermometer keep?"
    kept = f"Winter time all the while ({offset})"
    ours = f"Ours: leave {placed.never} reading{'s' if placed.never != 1 else ''} out"
    return Question("clock", says, ((offset, kept), ("local", ours)))


# ---- the whole file ----------------------------------------------------------------------------------------


def parse(text: str, *, zone: str, usual: Unit, now: int, answers: Answers | None = None) -> Parsed:
    """A logger's text as readings; raises `UnreadableError`, and `BadTimeError` for a clock that is not there."""
    answers = answers or Answers()
    rows = table_of(text)
    guess = Guess(rows, answers)
    columns = columns_of(guess)
    if isinstance(columns, Question):
        return Parsed((), (columns,), (), (), guess.names, None)
    found, skipped = _cells(rows[guess.first :], columns)
    day_first, *asked = _order(found, answers.day_first)
    unit, notes = _unit(found, guess, columns, usual)
    clock, told = _clock(guess, columns, zone)
    placed = _instants(found, day_first, clock)
    if unit is None:
        values = ", ".join(f"{one.temp.value:g}" for one in found[:3])
        asked.append(Question("unit", f"In which unit are {values}?", (("C", "Celsius, °C"), ("F", "Fahrenheit, °F"))))
    if placed.never and answers.clock is None:
        asked.append(_ask_clock(placed, clock, found[0].when))
    readings, left_out = _readings(found, placed, unit or "C", now)
    if placed.twice:
        told.append(f"{placed.twice} times stand in the hour that came twice: taken in the order of the file.")
    questions = tuple(one for one in asked if one is not None)
    return Parsed(tuple(readings), questions, tuple(sorted([*skipped, *left_out])), (*notes, *told), guess.names, unit)


def _readings(found: Sequence[_Read], placed: Placed, unit: Unit, now: int) -> tuple[list[Reading], list[Skipped]]:
    readings: list[Reading] = []
    left_out: list[Skipped] = []
    for one, at in zip(found, placed.instants, strict=True):
        if at is not None and at <= now + 2 * MINUTE:
            readings.append(Reading(at, in_c(one.temp.value, one.temp.unit or unit)))
            continue
        told = f"{one.when.day_first or one.when.month_first}, {one.temp.value:g}"
        ahead = "it lies ahead: look at the day, the month and the clock"
        left_out.append(Skipped(one.line, told, "there was no such day or time" if at is None else ahead))
    return readings, left_out
