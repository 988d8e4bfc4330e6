"""Reads stock pasted from a spreadsheet or from notes: each line as a row, and what must be mended or asked first."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Mapping
from datetime import date
from typing import Literal, NamedTuple

from thawline.services.paste_cells import (
    TAKE,
    Draft,
    Problem,
    Reader,
    take_amounts,
    to_ml,
)
from thawline.services.paste_words import (
    AMOUNT,
    COMMA,
    DATE_COMMA,
    FORMS,
    HEADS,
    KINDS,
    MONTHS,
    MOST_IN_LINE,
    MOST_IN_TEXT,
    MOST_ML,
    MOST_ROWS,
    SPLIT,
    TIME,
    TOTAL,
    UNIT,
    Form,
    Unit,
    fold,
    plain_words,
)


class PasteTooLongError(ValueError):
    """More than 500 rows, or a line past all measure; its text says what to do."""


class Question(NamedTuple):
    """Something only the family knows, asked once for the whole paste; choices are value and label."""

    kind: Literal["day_first", "unit"]
    says: str
    choices: tuple[tuple[str, str], ...]


class Row(NamedTuple):
    """One line: `count` containers alike, each of `ml` millilitres, as far as it could be read."""

    number: int
    raw: str
    code: str | None
    ml: float | None
    expressed: str | None
    frozen_on: str | None
    place: str | None
    form: Form | None
    count: int  # type: ignore[assignment]  # the household's word; nobody counts values in a row
    note: str | None
    problems: tuple[Problem, ...]


class Pasted(NamedTuple):
    """The whole paste; every line is a row or stands in `skipped` (blank, heading, rule or total)."""

    rows: tuple[Row, ...]
    questions: tuple[Question, ...]
    columns: tuple[str, ...]
    header: bool
    skipped: tuple[int, ...]


# ---- columns -----------------------------------------------------------------------------------------------


def _lines(text: str) -> list[str]:
    plain = re.sub("[\ufeff\u200b]", "", text).replace("\r\n", "\n").replace("\r", "\n")
    lines = re.sub(r"[^\S\t\n ]", " ", plain).split("\n")
    if len(plain) > MOST_IN_TEXT:
        raise PasteTooLongError("That is more text than fits: paste at most 500 lines at a time.")
    if not lines[-1]:
        lines.pop()
    for number, line in enumerate(lines, 1):
        if len(line) > MOST_IN_LINE:
            raise PasteTooLongError(
                f"Line {number} is longer than {MOST_IN_LINE} characters: paste one container a line."
            )
    return lines


def _separator(lines: list[str]) -> str:
    """What stands between the cells of at least half of the lines; empty where nothing does."""
    for sign, pattern in (("\t", r"\t"), (";", ";"), ("|", r"\|"), (",", COMMA), ("  ", r"\S {2,}\S")):
        if lines and 2 * sum(bool(re.search(pattern, line)) for line in lines) >= len(lines):
            return sign
    return ""


def _cells(line: str, sign: str) -> list[str]:
    if sign in ("", "  "):
        cells = re.split(" {2,}", line.strip()) if sign else [line]
    else:
        # "Apr 3, 2027" is one cell.
        whole = DATE_COMMA.sub(r"\1", line) if sign == "," else line
        # A lone quote would swallow the rest of the line.
        quoting: Literal[0, 3] = csv.QUOTE_NONE if whole.count('"') % 2 else csv.QUOTE_MINIMAL
        cells = next(csv.reader([whole], delimiter=sign, skipinitialspace=True, quoting=quoting), [])
        cells = cells[1:] if sign == "|" and line.lstrip().startswith("|") else cells
    cells = [" ".join(cell.split()) for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _heads(text: str) -> list[str]:
    """The roles that a heading's words name, the most telling first."""
    words = "code" if text == "#" else " ".join(re.findall(r"\w+", fold(text)))
    return [role for role, pattern in HEADS.items() if re.search(rf"\b(?:{pattern})", words)]


def _header(table: dict[int, list[str]]) -> int | None:
    """The number of the line that names the columns, if one does before the first line with a figure."""
    for number, cells in list(table.items())[:5]:
        if re.search(r"\d", "".join(cells)):
            return None
        named = [_heads(cell) for cell in cells]
        if sum(map(bool, named)) >= 2 or (len(cells) == 1 and len(named[0]) >= 3):
            return number
    return None


def _named_roles(cells: list[str]) -> list[str]:
    """The role of each headed column; empty where the heading says nothing we know."""
    roles = [(_heads(cell) or ["unknown" if cell else ""])[0] for cell in cells]
    measured = "ml" in roles or "amount" in roles
    merged = {"amount": "note" if "ml" in roles else "ml", "quantity": "count" if measured else "ml"}
    roles = [merged.get(role, role) for role in roles]
    return [
        "note" if role in roles[:index] and role not in ("", "unknown") else role for index, role in enumerate(roles)
    ]


def _kind(reader: Reader, cell: str) -> str:
    """What a cell by itself looks like."""
    if re.fullmatch(r"\d+(?:[.,]\d+)?", cell) and not re.fullmatch(r"[345][0-9]{4}(?:[.,]\d+)?", cell):
        return "number"
    trial = Draft(0, cell)
    left = [part for part in SPLIT.split(reader.date(trial, "expressed", cell, lone=True)) if plain_words(part)]
    if trial.dates and all(re.fullmatch(TIME, part) for part in left):
        return "expressed"
    rest = take_amounts(trial, cell, alone=True)
    if trial.amount and not plain_words(rest):
        return "ml"
    if reader.place(cell) or plain_words(cell) in KINDS:
        return "place"
    if plain_words(cell) in FORMS:
        return "form"
    if trial.dates or trial.amount or AMOUNT.search(cell):
        return "free"
    if reader.place(SPLIT.split(cell)[0].strip()):
        return "place"
    return "code" if re.fullmatch(r"#?[A-Za-z]{0,4}[- ]?[0-9]{1,4}[A-Za-z]?", cell) else "note"


def _roles(reader: Reader, rows: list[list[str]], named: list[str]) -> list[str]:
    """What each column is taken for: by its heading, else by what most of its cells look like."""
    width = max(map(len, rows), default=0)
    roles = (named + [""] * width)[: max(width, len(named))]
    numbers: dict[int, float] = {}
    for index, head in enumerate(roles):
        cells = [row[index] for row in rows if index < len(row) and row[index]]
        if head not in ("", "unknown"):
            continue
        kind = Counter(_kind(reader, cell) for cell in cells).most_common(1)[0][0] if cells else "empty"
        if kind == "number" and not head:
            numbers[index] = max(
                float(found[0]) for cell in cells if (found := re.match(r"[0-9]{1,9}|$", cell)) if found[0]
            )
        unheard = head == "unknown" and kind in ("expressed", "number", "free")
        kind = "free" if kind == "note" and width == 1 else kind
        roles[index] = "note" if unheard or (kind in roles and kind != "free") else kind
    for index, most in numbers.items():
        amount = "ml" not in roles and most == max(numbers.values())
        roles[index] = "ml" if amount else "unsure"
    return roles


# ---- the whole paste ---------------------------------------------------------------------------------------


def _role(reader: Reader, cell: str, role: str) -> str:
    """What a cell without heading is taken for: what it looks like comes before what its column holds."""
    kind = _kind(reader, cell) if cell and role != "unsure" else role
    # A day beside the day of expressing may be any day, so a column of notes gives none.
    return kind if kind in ("ml", "place", "form") or (kind in ("expressed", "free") and role != "note") else role


def _draft(reader: Reader, number: int, cells: list[str], roles: list[str], headed: int) -> Draft:
    draft = Draft(number, " | ".join(cells))
    unit = cells[roles.index("unit")] if "unit" in roles and roles.index("unit") < len(cells) else ""
    for index in sorted(range(len(cells)), key=lambda index: roles[index] == "note"):
        cell, role = cells[index], roles[index]
        if index >= headed:
            role = _role(reader, cell, role)
        if role == "ml" and unit and cell and not re.search("[A-Za-z]", cell):
            cell = f"{cell} {unit}"
        filled = {"expressed": "expressed" in draft.dates, "ml": draft.amount, "place": draft.place}.get(role)
        if filled and role == "ml":
            draft.problem("ml", "amount_unclear", cell)
        if cell and role in TAKE:
            TAKE["note" if filled else role](reader, draft, cell)
    return draft


def _finish_dates(draft: Draft, day_first: bool | None, mixed: bool, today: date) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, when in draft.dates.items():
        value = when.month if day_first is False else when.day
        if when.open and day_first is None:
            draft.problem(name, "date_order", when.text)
        elif value is None:
            draft.problem(name, "date_unclear", when.text)
        else:
            found[name] = value
            if when.only_day_first is not None and (mixed if day_first is None else when.only_day_first != day_first):
                draft.problem(name, "dates_disagree", when.text)
            if value[:10] > today.isoformat():
                draft.problem(name, "date_ahead", when.text)
    if "frozen_on" in found:
        found["frozen_on"] = found["frozen_on"][:10]
        if found["frozen_on"] < found.get("expressed", "")[:10]:
            draft.problem("frozen_on", "dates_out_of_order", found["frozen_on"])
    if "expressed" not in draft.dates and not any(problem.field == "expressed" for problem in draft.problems):
        draft.problem("expressed", "date_missing")
    return found


def _finish_ml(draft: Draft, unit: str | None) -> float | None:
    amount = draft.amount
    if amount is None:
        if not any(problem.field == "ml" for problem in draft.problems):
            draft.problem("ml", "missing_amount")
        return None
    if amount.value is None or (amount.unit or unit) is None:
        draft.problem("ml", "amount_unclear", amount.text)
        return None
    ml = to_ml(amount.value, amount.unit or unit)
    if ml <= 0 or ml > MOST_ML:
        draft.problem("ml", "too_little" if ml <= 0 else "too_much", amount.text)
    return ml


def _finish_place(reader: Reader, draft: Draft) -> str | None:
    if draft.place is None:
        draft.problem("place", "place_missing")
        return None
    place = reader.place(draft.place)
    if place is None:
        draft.problem("place", "unknown_place", draft.place)
    return place or draft.place


def _order(drafts: list[Draft], day_first: bool | None) -> tuple[bool | None, bool, list[Question]]:
    """Day or month first, whether lines disagree, and what to ask."""
    whens = [when for draft in drafts for when in draft.dates.values()]
    votes = {when.only_day_first for when in whens} - {None}
    unclear = next((when for when in whens if when.open), None)
    if day_first is not None or unclear is None or len(votes) == 1:
        return (next(iter(votes)) if day_first is None and len(votes) == 1 else day_first), len(votes) > 1, []
    choices = (("day", _long(unclear.day)), ("month", _long(unclear.month)))
    return None, len(votes) > 1, [Question("day_first", f"Which day is {unclear.text.strip()}?", choices)]


def _long(day: str | None) -> str:
    year, month, number = (day or "2000-01-01")[:10].split("-")
    return f"{int(number)} {MONTHS[int(month) - 1][0].title()} {year}"


def _unit(drafts: list[Draft], told: str | None, household: Unit) -> tuple[str | None, list[Question]]:
    """The unit of bare figures, and the question where the household's own would make odd containers."""
    bare = [draft.amount.value for draft in drafts if draft.amount and draft.amount.value and not draft.amount.unit]
    # A bag holds some 60 to 250 mL, which is 2 to 8 fl oz.
    odd = bool(bare) and (max(bare) <= 12 if household == "ml" else max(bare) >= 20)
    if told or not odd:
        return told or household, []
    says = f"Amounts like {bare[0]:g} have no unit. Are they mL or fl oz?"
    return None, [Question("unit", says, (("ml", "mL"), ("fl_oz", "fl oz")))]


def _head_unit(cells: list[str]) -> str | None:
    for match in re.finditer(rf"(?<![^\W\d_])(?:{UNIT})(?![^\W\d_])", " ".join(cells), re.IGNORECASE):
        return "ml" if match["ml"] else "cl" if match["cl"] else "fl_oz"
    return None


def _is_total(reader: Reader, cells: list[str]) -> bool:
    first = next(filter(None, cells), "")
    return bool(TOTAL.match(fold(first))) and not any(reader.find(cell, lone=False) for cell in cells)


def read_paste(
    text: str,
    *,
    today: date,
    places: Mapping[str, str],
    unit: Unit,
    day_first: bool | None = None,
    amount_unit: Unit | None = None,
) -> Pasted:
    """What a paste says, line by line, in mL; `places` maps each place's name to its kind."""
    reader, lines = Reader(today, places), _lines(text)
    filled = [line for line in lines if re.search(r"[^\W_]", line)]
    sign = _separator(filled)
    table = {number: _cells(line, sign) for number, line in enumerate(lines, 1) if re.search(r"[^\W_]", line)}
    header = _header(table)
    heading = table.pop(header) if header else []
    table = {number: cells for number, cells in table.items() if not _is_total(reader, cells)}
    if len(table) > MOST_ROWS:
        raise PasteTooLongError(f"That is {len(table)} lines: paste at most {MOST_ROWS} at a time.")
    named = _named_roles(heading) if len(heading) > 1 else []
    roles = _roles(reader, list(table.values()), named)
    drafts = [_draft(reader, number, cells, roles, len(named)) for number, cells in table.items()]
    order, mixed, questions = _order(drafts, day_first)
    bare_unit, more = _unit(drafts, _head_unit(heading) or amount_unit, unit)
    seen: set[str] = set()
    rows = tuple(_row(reader, draft, order, mixed, bare_unit, seen) for draft in drafts)
    skipped = tuple(number for number in range(1, len(lines) + 1) if number not in table)
    return Pasted(rows, tuple(questions + more), tuple(roles), header is not None, skipped)


def _row(reader: Reader, draft: Draft, order: bool | None, mixed: bool, unit: str | None, seen: set[str]) -> Row:
    dates = _finish_dates(draft, order, mixed, reader.today)
    ml, place = _finish_ml(draft, unit), _finish_place(reader, draft)
    if draft.code:
        if fold(draft.code) in seen:
            draft.problem("code", "code_repeated", draft.code)
        seen.add(fold(draft.code))
    return Row(
        draft.number,
        draft.raw,
        draft.code,
        ml,
        dates.get("expressed"),
        dates.get("frozen_on"),
        place,
        draft.form,
        draft.count,
        "; ".join(draft.notes) or None,
        tuple(draft.problems),
    )


__all__ = ["MOST_ROWS", "Form", "PasteTooLongError", "Pasted", "Problem", "Question", "Row", "Unit", "read_paste"]
