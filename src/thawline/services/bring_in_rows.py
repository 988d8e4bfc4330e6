"""The rows of a table read by their columns: what each says, or what in it has to be mended and in which column."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple

from thawline.core.times import DAY, FIRST_YEAR, MINUTE, day_start, written, zone_named
from thawline.services.bring_in_columns import Mapped, Role, What, side_of
from thawline.services.bring_in_days import Day, Question, day_alone, moment, order_of
from thawline.services.bring_in_table import Line, Table
from thawline.services.paste_cells import Draft, Reader, take_amounts, to_ml
from thawline.services.paste_words import FORMS, MOST_ML, TOTAL, YES, fold, plain_words
from thawline.services.readings_cells import place_in_time

OLDEST = 3700 * DAY
SAYS = {
    "date_missing": "no day stands here: write it like 2027-04-03",
    "date_unclear": "“{}” is no clear day: write it like 2027-04-03",
    "time_unclear": "“{}” is no time of day: write it like 07:10, or leave the cell empty",
    "date_order": "“{}” can be two days: say whether the day or the month stands first",
    "date_other_order": "“{}” is no day in the order that was chosen: check day and month",
    "date_ahead": "“{}” is still to come: check the day",
    "date_long_ago": "“{}” is more than ten years ago: check the year",
    "time_skipped": "“{}” never was: the clocks went forward past it. Check the time",
    "amount_missing": "no amount stands here: write how much it was",
    "amount_unclear": "“{}” is no clear amount: write it like 120 ml or 4 oz",
    "amount_none": "“{}” is no milk at all: write more than 0, or leave the row out",
    "amount_much": "“{}” is more than 5,000 mL: check the amount and its unit",
    "unit_unclear": "“{}” is no unit known here: write ml, cl or oz",
    "side_unclear": "“{}” is no side: write left, right or both, or leave the cell empty",
    "minutes_unclear": "“{}” is no number of minutes from 0 to 1,440: write it like 15",
    "place_missing": "no place stands here: write where it is kept, or choose one for all",
    "place_unknown": "“{}” is none of your places: write one of them",
    "frozen_unclear": "“{}” is no clear day: write it like 2027-04-03",
    "frozen_before": "frozen on “{}” is before it was expressed: check both days",
    "frozen_ahead": "“{}” is still to come: check the day of freezing",
    "form_unclear": "“{}” is neither fresh, frozen nor thawed",
    "code_long": "the label “{}” is longer than 60 characters: shorten it",
    "code_repeated": "the label “{}” stands on an earlier row too: give each its own",
    "code_taken": "a container with the label “{}” is or was in your records: give this one another",
    "does_not_fit": "it does not fit your records: {}",
}
_UNITS = {"ml": "ml", "milliliter": "ml", "millilitre": "ml", "cc": "ml", "cl": "cl", "oz": "fl_oz", "floz": "fl_oz",
          "ounce": "fl_oz", "ounces": "fl_oz", "unzen": "fl_oz", "onzas": "fl_oz", "onces": "fl_oz",
          "once": "fl_oz"}  # fmt: skip
_MOST_CODE = 60


class Fault(NamedTuple):
    """What has to be mended: the line of the file, the column's name, and how."""

    line: int
    column: str
    code: str
    says: str


class Row(NamedTuple):
    """A row as far as it could be read; `at` as the ledger writes it (a bare date where no time stood there)."""

    line: int
    at: str
    order: int
    ml: float
    side: str | None = None
    minutes: float | None = None
    code: str | None = None
    place: str | None = None
    frozen_on: str | None = None
    form: str | None = None


class Read(NamedTuple):
    """The rows that can be taken, what is wrong with others, lines left out as totals, what was asked and noticed."""

    rows: list[Row]
    faults: list[Fault]
    skipped: list[int]
    questions: list[Question]
    notes: list[str]


class _Draft:
    """A row while it is being read."""

    def __init__(self, line: int) -> None:
        self.line = line
        self.when: Day | None = None
        self.frozen: Day | None = None
        self.fields: dict[str, Any] = {}


# ---- other cells -------------------------------------------------------------------------------------------


class _Cells:
    """Reads the cells of one row after the other, and keeps what is wrong."""

    def __init__(self, table: Table, mapped: Mapped, what: What, reader: Reader) -> None:
        self.table, self.mapped, self.what, self.reader = table, mapped, what, reader
        self.faults: list[Fault] = []
        # Days that tell the order, though their row has a time to mend.
        self.votes: list[Day] = []
        self.takers = {
            "side": self._side, "minutes": self._minutes, "place": self._place, "form": self._form, "code": self._code,
        }  # fmt: skip

    def wrong(self, line: int, role: Role, code: str, text: str = "") -> None:
        column = self.mapped.columns.get(role)
        name = self.table.heads[column] if column is not None and column < len(self.table.heads) else role
        short = text if len(text) <= 60 else f"{text[:59]}…"
        self.faults.append(Fault(line, name, code, SAYS[code].format(short)))

    def cell(self, row: Line, role: Role) -> str:
        column = self.mapped.columns.get(role)
        return row.cells[column] if column is not None and column < len(row.cells) else ""

    def draft(self, row: Line) -> _Draft:
        """The row as far as it can be read by itself; what can't be is kept among the faults."""
        draft = _Draft(row.number)
        self._when(draft, row)
        self._amount(draft, row)
        for role, take in self.takers.items():
            if cell := self.cell(row, role):  # type: ignore[arg-type]
                take(draft, cell)
        self._frozen(draft, self.cell(row, "frozen_on"))
        self._kept_at(draft)
        return draft

    def _when(self, draft: _Draft, row: Line) -> None:
        cell, clock = self.cell(row, "date"), self.cell(row, "time")
        if not cell:
            self.wrong(draft.line, "date", "date_missing")
            return
        draft.when = moment(self.reader, cell, clock)
        if draft.when is None:
            day = moment(self.reader, day_alone(cell), "") if clock else None
            self.votes += [] if day is None else [day]
            self.wrong(draft.line, *(("time", "time_unclear", clock) if day else ("date", "date_unclear", cell)))

    def _amount(self, draft: _Draft, row: Line) -> None:
        cell, unit = self.cell(row, "amount"), self.cell(row, "unit")
        if not cell:
            self.wrong(draft.line, "amount", "amount_missing")
            return
        trial = Draft(0, cell)
        rest = take_amounts(trial, cell, alone=True)
        found = trial.amount
        if found is None or found.value is None or plain_words(rest) or trial.count != 1 or trial.problems:
            self.wrong(draft.line, "amount", "amount_unclear", cell)
            return
        own = _UNITS.get(re.sub(r"[^a-z]", "", fold(unit))) if unit else None
        if unit and own is None and found.unit is None:
            self.wrong(draft.line, "unit", "unit_unclear", unit)
            return
        self._in_ml(draft, cell, to_ml(found.value, found.unit or own or self.mapped.unit))

    def _in_ml(self, draft: _Draft, cell: str, ml: float) -> None:
        if ml > MOST_ML:
            self.wrong(draft.line, "amount", "amount_much", cell)
        elif ml == 0 and self.what == "stock":
            self.wrong(draft.line, "amount", "amount_none", cell)
        else:
            draft.fields["ml"] = round(ml, 2)

    def _side(self, draft: _Draft, cell: str) -> None:
        draft.fields["side"] = side_of(cell)
        if draft.fields["side"] is None:
            self.wrong(draft.line, "side", "side_unclear", cell)

    def _minutes(self, draft: _Draft, cell: str) -> None:
        found = minutes_of(cell)
        if found is None:
            self.wrong(draft.line, "minutes", "minutes_unclear", cell)
        else:
            draft.fields["minutes"] = found

    def _place(self, draft: _Draft, cell: str) -> None:
        draft.fields["place"] = self.reader.place(cell)
        if draft.fields["place"] is None and not self._history:
            self.wrong(draft.line, "place", "place_unknown", cell)

    @property
    def _history(self) -> bool:
        """Of milk that is gone, it does not matter where it lay."""
        return self.what == "sessions" and self.mapped.gone

    def _kept_at(self, draft: _Draft) -> None:
        if draft.fields.get("place") is None:
            draft.fields["place"] = self.mapped.place
            if self.mapped.place is None and not any(one.line == draft.line and one.code == "place_unknown"
                                                     for one in self.faults[-3:]):  # fmt: skip
                self.wrong(draft.line, "place", "place_missing")

    def _form(self, draft: _Draft, cell: str) -> None:
        # What is thawing is not frozen any more; a table knows no third way.
        draft.fields["form"] = "thawed" if fold(cell) == "thawing" else FORMS.get(plain_words(cell))
        if draft.fields["form"] is None:
            self.wrong(draft.line, "form", "form_unclear", cell)

    def _code(self, draft: _Draft, cell: str) -> None:
        draft.fields["code"] = cell
        if len(cell) > _MOST_CODE:
            self.wrong(draft.line, "code", "code_long", cell)

    def _frozen(self, draft: _Draft, cell: str) -> None:
        if not cell or self._history:
            return
        if fold(cell) in YES:
            draft.fields["form"] = "frozen"
            return
        draft.frozen = moment(self.reader, day_alone(cell), "")
        if draft.frozen is None:
            self.wrong(draft.line, "frozen_on", "frozen_unclear", cell)


@lru_cache(maxsize=4096)
def minutes_of(cell: str) -> float | None:
    """A number of minutes: 15, 15 min, 0:15, 0:15:30; None where the cell holds none."""
    text = re.sub(r"\s*(?:minut\w*|mins?|m|')\.?$", "", fold(cell.strip()))
    found = re.fullmatch(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", text)
    if found:
        value = int(found[1]) * 60 + int(found[2]) + int(found[3] or 0) / 60
    elif re.fullmatch(r"\d{1,4}(?:[.,]\d{1,4})?", text):
        value = float(text.replace(",", "."))
    else:
        return None
    return round(value, 1) if value <= 1440 else None


# ---- the whole table ---------------------------------------------------------------------------------------


def read_rows(table: Table, mapped: Mapped, what: What, reader: Reader, *, zone: str, now: int) -> Read:
    """Every row of a table by its columns; local times are the household's."""
    cells = _Cells(table, mapped, what, reader)
    body, skipped = _without_totals(table, mapped, reader)
    drafts = [cells.draft(row) for row in body]
    days = [day for one in drafts for day in (one.when, one.frozen) if day is not None] + cells.votes
    day_first, questions, notes = order_of(days, mapped.day_first)
    if day_first is None:
        return Read([], cells.faults, skipped, questions, notes)
    whens, told = _placed(drafts, cells, day_first, zone, now)
    rows = [_finished(one, whens[one.line], cells, day_first, zone, now) for one in drafts if one.line in whens]
    bad = {fault.line for fault in cells.faults}
    good = [row for row in rows if row.line not in bad]
    return Read(good, sorted(cells.faults), skipped, questions, [*notes, *told])


def _without_totals(table: Table, mapped: Mapped, reader: Reader) -> tuple[list[Line], list[int]]:
    """Rows without those that sum up: what has a day of its own is none of them, whatever it is called."""
    kept, skipped = [], []
    column = mapped.columns.get("date")
    for row in table.rows:
        first = next(filter(None, row.cells), "")
        day = row.cells[column] if column is not None and column < len(row.cells) else ""
        if TOTAL.match(fold(first)) and moment(reader, day_alone(day), "") is None:
            skipped.append(row.number)
        else:
            kept.append(row)
    return kept, skipped


def _placed(
    drafts: Iterable[_Draft], cells: _Cells, day_first: bool, zone: str, now: int
) -> tuple[dict[int, tuple[str, int]], list[str]]:
    """Each row's moment as the ledger writes it and as an instant, by its line; what is wrong goes to the faults."""
    here = zone_named(zone)
    timed: list[tuple[_Draft, datetime]] = []
    found: dict[int, tuple[str, int]] = {}
    for draft in drafts:
        if draft.when is None:
            continue
        when = draft.when.stamp.day_first if day_first else draft.when.stamp.month_first
        if when is None:
            cells.wrong(draft.line, "date", "date_other_order", draft.when.text)
        elif draft.when.vague:
            found[draft.line] = (when.date().isoformat(), day_start(when.date().isoformat(), here))
        elif draft.when.stamp.zone is not None:
            there = place_in_time([when], draft.when.stamp.zone).instants[0] or 0
            found[draft.line] = (written(there, here), there)
        else:
            timed.append((draft, when))
    placed = place_in_time([when for _, when in timed], here)
    for (draft, _when), at in zip(timed, placed.instants, strict=True):
        if at is None:
            cells.wrong(draft.line, "time", "time_skipped", draft.when.text if draft.when else "")
        else:
            found[draft.line] = (written(at, here), at)
    _past_only(drafts, found, cells, now)
    stand = "1 time stands" if placed.twice == 1 else f"{placed.twice} times stand"
    told = f"{stand} in an hour that the clocks showed twice: taken in the file's order."
    return found, [told] if placed.twice else []


def _past_only(drafts: Iterable[_Draft], found: dict[int, tuple[str, int]], cells: _Cells, now: int) -> None:
    for draft in drafts:
        if draft.line not in found or draft.when is None:
            continue
        at = found[draft.line][1]
        if at > now + 2 * MINUTE:
            cells.wrong(draft.line, "date", "date_ahead", draft.when.text)
        elif at < now - OLDEST:
            cells.wrong(draft.line, "date", "date_long_ago", draft.when.text)


def _finished(
    draft: _Draft, when: tuple[str, int], cells: _Cells, day_first: bool, zone: str, now: int
) -> Row:  # fmt: skip
    at, order = when
    frozen_on = None
    if draft.frozen is not None:
        day = draft.frozen.stamp.day_first if day_first else draft.frozen.stamp.month_first
        frozen_on = day.date().isoformat() if day is not None else None
        if frozen_on is None or int(frozen_on[:4]) < FIRST_YEAR:
            cells.wrong(draft.line, "frozen_on", "frozen_unclear", draft.frozen.text)
        elif frozen_on < at[:10]:
            cells.wrong(draft.line, "frozen_on", "frozen_before", frozen_on)
        elif day_start(frozen_on, zone_named(zone)) > now:
            cells.wrong(draft.line, "frozen_on", "frozen_ahead", frozen_on)
    fields: Mapping[str, Any] = draft.fields
    return Row(
        draft.line, at, order, fields.get("ml", 0.0), fields.get("side"), fields.get("minutes"), fields.get("code"),
        fields.get("place"), frozen_on, fields.get("form"),
    )  # fmt: skip
