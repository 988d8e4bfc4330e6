"""The table of a thermometer's record: what stands between its columns, and which hold moment and temperature."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from thawline.services.paste_words import fold
from thawline.services.readings_cells import is_clock, is_day, stamp, temp

MOST_BYTES, MOST_READINGS, MOST_COLUMNS = 1_000_000, 100_000, 200
_SAMPLE, _CELL, _SHOWN = 60, 60, 20
_TIME_HEAD = r"time|date|datum|uhr|zeit|heure|jour|fecha|hora|data\b|ora\b|tijd|utc|gmt|stamp"
_TEMP_HEAD = r"temp|celsius|fahrenheit|[°º]|\bdeg|\bc\b|\bf\b|probe|sensor|kanal|channel|\bch ?\d|fuhler|sonde|sonda"
_OTHER_HEAD = (
    r"hum|feucht|hygro|%|\brh\b|dew|tau|rosee|rocio|alarm|batt|volt|press|druck|lux|\bmin|\bmax|\bavg|average|\bid\b"
    r"|\bno\b|\bnr\b|number|index|status|serial|rssi|signal"
)
Unit = Literal["C", "F"]


class UnreadableError(ValueError):
    """A file that can't be read as a record of temperatures; its text says what to do."""


class Answers(NamedTuple):
    """What the family said of the file: columns by number (from 0), order of day and month, unit, its clock."""

    time: int | None = None
    temp: int | None = None
    day_first: bool | None = None
    unit: Unit | None = None
    clock: str | None = None


class Question(NamedTuple):
    """Something only the family knows; choices are value and label."""

    kind: Literal["time", "temp", "day_first", "unit", "clock"]
    says: str
    choices: tuple[tuple[str, str], ...]


class Row(NamedTuple):
    """A line of the file, as cells."""

    line: int
    cells: list[str]


class Columns(NamedTuple):
    """Where the moment and the temperature stand; `clock` where the time of day has a column of its own."""

    time: int
    clock: int | None
    temp: int
    names: tuple[str, ...]


def decoded(data: bytes) -> str:
    """The text of a file, whatever a logger wrote it in; raises `UnreadableError`."""
    if len(data) > MOST_BYTES:
        raise UnreadableError("That is more than 1 MB. Export fewer days, or a longer interval.")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise UnreadableError("That is not a text file. Export the readings as CSV.")
    return text.removeprefix("\ufeff")


def _rows(text: str, sign: str) -> Iterator[Row]:
    if not sign:
        # A moment and a temperature with nothing but spaces between.
        for number, line in enumerate(text.splitlines(), 1):
            found = re.match(
                r"(.*\d(?: ?[AaPp][Mm])?)\s+([-+\u2212]?\d+(?:[.,]\d+)?\s*[°º]?\s*[CFcf]?)\s*$", line[:200]
            )
            yield Row(number, [found[1].strip(), found[2].strip()] if found else [line.strip()[:_CELL]])
        return
    reader = csv.reader(io.StringIO(text), delimiter=sign, skipinitialspace=True)
    try:
        for cells in reader:
            yield Row(reader.line_num, [cell.strip() for cell in cells])
    except csv.Error as fault:
        raise UnreadableError(f"Line {reader.line_num} can't be read. Export the readings as CSV again.") from fault


def _signs(text: str) -> list[str]:
    """Signs that may stand between the columns, the likeliest first."""
    lines = [line for line in text.splitlines() if re.search(r"\d", line)]
    signs = [";", "\t", ",", "|", ""]
    try:
        first = csv.Sniffer().sniff("\n".join(lines[len(lines) // 2 :][:_SAMPLE]), delimiters=";\t,|").delimiter
    except csv.Error:
        return signs
    return sorted(signs, key=lambda sign: sign != first)


def _timed(cells: Sequence[str]) -> bool:
    return any(stamp(cell) for cell in cells) or (
        any(is_day(cell) for cell in cells) and any(is_clock(cell) for cell in cells)
    )


def _likely(row: Row) -> bool:
    """Whether a line holds a moment and a number beside it."""
    return len(row.cells) > 1 and _timed(row.cells) and any(temp(cell) for cell in row.cells)


def table_of(text: str) -> list[Row]:
    """The lines as cells, with the sign between them that makes most sense of them; raises `UnreadableError`."""
    lines = text.splitlines()
    sample = "\n".join(lines[:_SAMPLE] + lines[max(_SAMPLE, len(lines) // 2) :][:_SAMPLE])
    scores = [(sum(map(_likely, _rows(sample, sign))), sign) for sign in _signs(text)]
    most, best = max(scores, key=lambda pair: pair[0])
    if not most:
        raise UnreadableError("No line has a time and a temperature. Each needs both, such as 2027-02-03 07:10, 4.1.")
    rows = [row for row in _rows(text, best) if any(row.cells)]
    if len(rows) > MOST_READINGS + 200:
        raise UnreadableError(f"That is more than {MOST_READINGS:,} readings. Export fewer days, or a longer interval.")
    return rows


# ---- columns -----------------------------------------------------------------------------------------------


def named(pattern: str, name: str) -> bool:
    """Whether a column's name says what the pattern looks for."""
    return re.search(pattern, fold(name).replace("_", " _")) is not None


def _share(rows: Sequence[Row], index: int, test: Callable[[str], object]) -> float:
    cells = [row.cells[index] for row in rows if index < len(row.cells) and row.cells[index]]
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells else 0.0


def _counts(rows: Sequence[Row], index: int) -> bool:
    """Whether a column only counts its lines."""
    cells = [row.cells[index] for row in rows if index < len(row.cells)]
    steps = {int(b) - int(a) for a, b in pairwise(cells) if a.isdecimal() and b.isdecimal()}
    return len(cells) > 2 and all(cell.isdecimal() for cell in cells) and steps == {1}


class Guess:
    """What the columns may be, by their names and by what stands in them."""

    def __init__(self, rows: list[Row], answers: Answers) -> None:
        first = next((index for index, row in enumerate(rows) if _likely(row)), 0)
        self.first = first
        self.sample = [row for row in rows[first : first + _SAMPLE] if _likely(row)] or rows[:1]
        width = max(len(row.cells) for row in self.sample)
        if width > MOST_COLUMNS:
            raise UnreadableError(
                f"That has more than {MOST_COLUMNS} columns. Export the time and the temperature alone."
            )
        heads = next((row.cells for row in reversed(rows[:first]) if len([c for c in row.cells if c]) > 1), [])
        self.headed = bool(heads)
        self.names = tuple((heads[n] if n < len(heads) else "")[:_CELL] for n in range(width))
        self.before = " ".join(" ".join(row.cells) for row in rows[:first])[:4000]
        self.answers = answers
        if heads and len(heads) + 1 == width and self._torn(heads):
            raise UnreadableError(
                "Commas stand between the columns and in the numbers. Export it with semicolons between the columns."
            )

    def _torn(self, heads: Sequence[str]) -> bool:
        """Whether decimal commas have torn numbers in two."""
        width = len(heads) + 1
        return all(
            len(row.cells) == width and row.cells[-1].isdecimal() and re.fullmatch(r"-?\d+", row.cells[-2])
            for row in self.sample
        )

    def label(self, index: int) -> str:
        """A column as it may be chosen: its name and the first values."""
        values = ", ".join(row.cells[index][:_SHOWN] for row in self.sample[:3] if index < len(row.cells))
        return f"{self.names[index] or f'Column {index + 1}'} ({values})"

    def times(self) -> list[int]:
        """The columns with moments; with days alone where the time of day stands apart."""
        width = range(len(self.names))
        whole = [n for n in width if _share(self.sample, n, stamp) > 0.6]
        found = whole or [n for n in width if _share(self.sample, n, is_day) > 0.6]
        headed = [n for n in found if named(_TIME_HEAD, self.names[n])]
        return headed or found

    def clock(self, time: int) -> int | None:
        """The column with the time of day, where `time` holds only days."""
        if _share(self.sample, time, stamp) > 0.6:
            return None
        found = [n for n in range(len(self.names)) if n != time and _share(self.sample, n, is_clock) > 0.6]
        return found[0] if found else None

    def temps(self, taken: Sequence[int | None]) -> list[int]:
        """The columns that may hold the temperature."""
        free = [n for n in range(len(self.names)) if n not in taken and _share(self.sample, n, temp) > 0.4]
        free = [n for n in free if not named(_OTHER_HEAD, self.names[n]) or named("temp", self.names[n])]
        free = [n for n in free if not _counts(self.sample, n)] or free
        plain = [n for n in free if not named(r"\bmin|\bmax|dew|tau", self.names[n])] or free
        return [n for n in plain if named(_TEMP_HEAD, self.names[n])] or plain


def columns_of(guess: Guess) -> Columns | Question:
    """Where moment and temperature stand, or what to ask; raises `UnreadableError`."""
    width = len(guess.names)
    asked = guess.answers
    times = [asked.time] if asked.time is not None and asked.time < width else guess.times()
    if not times:
        raise UnreadableError("No column with times was found. Each line needs one, such as 2027-02-03 07:10.")
    time = times[0]
    clock = guess.clock(time)
    temps = [asked.temp] if asked.temp is not None and asked.temp < width else guess.temps((time, clock))
    if not temps:
        raise UnreadableError("No column with temperatures was found.")
    if len(temps) > 1:
        choices = tuple((str(index), guess.label(index)) for index in temps)
        return Question("temp", "Which column is the temperature of this place?", choices)
    return Columns(time, clock, temps[0], guess.names)
