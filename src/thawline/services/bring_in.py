"""Past sessions and stock out of a table: looked at whole, then kept; the same table again adds nothing."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple
from uuid import UUID, uuid5

from thawline.core import events as ev
from thawline.core.ledger import Entry, Refusal
from thawline.core.times import is_date, parse_instant
from thawline.records.store import Store
from thawline.services import acts, take_out
from thawline.services.board import Board, board, today, warmest
from thawline.services.bring_in_columns import (
    KNOWN_HEAD,
    NEEDED,
    ROLES,
    Mapped,
    Measure,
    Role,
    What,
    proposed,
    unit_of,
)  # fmt: skip
from thawline.services.bring_in_days import Question
from thawline.services.bring_in_events import New, events_of
from thawline.services.bring_in_rows import SAYS, Fault, Read, Row, read_rows
from thawline.services.bring_in_table import (
    MOST_BYTES,
    MOST_ROWS,
    SIGNS,
    CannotReadError,
    Line,
    Table,
    decoded,
    packed,
    table_of,
    unpacked,
)  # fmt: skip
from thawline.services.codes import new_codes
from thawline.services.known import fold_kins, ground_now
from thawline.services.paste_cells import Reader
from thawline.services.paste_words import Unit
from thawline.services.recording import line_of, new_act, record
from thawline.services.take_out import Whole

# Ours, made once: what rows are named under.
_ROWS = UUID("6e0c7a52-1c0f-4d0b-9a53-5f6f1a4f1f7e")
_PART = 1000
_TRIES = 6

__all__ = [
    "MOST_BYTES", "MOST_ROWS", "NEEDED", "ROLES", "SIGNS", "CannotReadError", "Fault", "Kept", "Looked", "Mapped",
    "Measure", "Question", "Role", "Row", "Table", "What", "decoded", "keep", "look", "packed", "propose", "read_table",
    "take_back", "unpacked",
]  # fmt: skip


class Looked(NamedTuple):
    """A table looked through: what is new, what is there already, what to mend or to answer, and what to know.

    `ml` is the milk of what is new; `back` are the events that brought in what is there already, where nothing has
    happened to that milk since.
    """

    new: tuple[New, ...]
    known: int
    faults: tuple[Fault, ...]
    skipped: tuple[int, ...]
    questions: tuple[Question, ...]
    notes: tuple[str, ...]
    ml: float
    first: str = ""
    last: str = ""
    back: tuple[str, ...] = ()

    @property
    def bad(self) -> int:
        """How many rows can't be taken as they are."""
        return len({fault.line for fault in self.faults})


class Kept(NamedTuple):
    """What became of it: rows recorded, rows there already, and what the records did not take."""

    rows: int
    known: int
    refused: tuple[Refusal, ...]


def read_table(data: bytes) -> tuple[Table, str]:
    """A file as a table, and its text; raises `CannotReadError`."""
    text, encoding = decoded(data)
    return table_of(text, KNOWN_HEAD, encoding=encoding), text


def reader_of(found: Board) -> Reader:
    """What reads cells with this household's places and day."""
    return Reader(date.fromisoformat(today(found)), {place.name: place.kind for place in found.places})


def propose(table: Table, what: What, found: Board) -> Mapped:
    """What the columns seem to hold; a unit only where nothing speaks against it."""
    columns = proposed(table, what, reader_of(found))
    usual: Unit = "fl_oz" if found.units[0] == "fl_oz" else "ml"
    return Mapped(columns, unit_of(table, columns, usual))


# ---- looking -----------------------------------------------------------------------------------------------


def look(store: Store, table: Table, mapped: Mapped, what: What, *, now: int) -> Looked:
    """A table held against the records; nothing is written."""
    found = board(store, now=now)
    if mapped.place is None and what == "sessions" and mapped.gone:
        usual = warmest(found)
        mapped = mapped._replace(place=None if usual is None else usual.name)
    read = read_rows(table, mapped, what, reader_of(found), zone=found.settings.zone, now=now)
    if mapped.unit is None and _bare(table, mapped):
        read.questions.append(_ask_unit(table, mapped))
    there = _There(take_out.whole(store, now=now), what)
    fresh = [row for row in read.rows if not there.has(row)]
    case = _Case(store, table, mapped, what, found)
    new, faults = _named(case, fresh)
    unfit = _unfit(case, new)
    bad = {fault.line for fault in (*faults, *unfit)}
    new = [one for one in new if one.row.line not in bad]
    return _looked(read, new, len(read.rows) - len(fresh), [*faults, *unfit], there.back())


def _looked(read: Read, new: Sequence[New], known: int, more: Sequence[Fault], back: Sequence[str]) -> Looked:
    days = sorted(one.row.at[:10] for one in new)
    return Looked(
        tuple(new), known, tuple(sorted([*read.faults, *more])), tuple(read.skipped), tuple(read.questions),
        tuple(read.notes), round(sum(one.row.ml for one in new), 2), days[0] if days else "", days[-1] if days else "",
        tuple(back),
    )  # fmt: skip


def _bare(table: Table, mapped: Mapped) -> bool:
    """Whether an amount stands there without a unit beside it."""

    def cell(row: Line, role: Role) -> str:
        column = mapped.columns.get(role)
        return row.cells[column] if column is not None and column < len(row.cells) else ""

    return any(
        (amount := cell(row, "amount")) and not any(sign.isalpha() for sign in amount) and not cell(row, "unit")
        for row in table.rows
    )


def _ask_unit(table: Table, mapped: Mapped) -> Question:
    shown = ", ".join(table.examples(mapped.columns.get("amount", 0))[:3])
    choices = (("ml", "mL"), ("fl_oz", "fl oz (US)"), ("cl", "cL"))
    return Question("unit", f"In which unit are {shown}?", choices)


class _There:
    """What the records hold already of that kind, each to be met once: by its moment and amount."""

    def __init__(self, whole: Whole, what: What) -> None:
        self.whole, self.what = whole, what
        self.ids: dict[tuple[object, ...], list[Entry]] = {}
        self.met: list[Entry] = []
        for entry in whole.of(ev.Expressed if what == "sessions" else ev.Stocked):
            self.ids.setdefault(self._key_of(entry), []).append(entry)

    def _key_of(self, entry: Entry) -> tuple[object, ...]:
        event = entry.event
        if isinstance(event, ev.Expressed):
            return (_moment(event.at), round(sum(one.ml for one in event.into), 1))
        assert isinstance(event, ev.Stocked)  # noqa: S101  (for the types)
        return (_moment(event.expressed), round(event.ml, 1), event.place)

    def has(self, row: Row) -> bool:
        """Whether a row is there; each entry stands for one row."""
        key: tuple[object, ...] = (_moment(row.at), round(row.ml, 1))
        key = key if self.what == "sessions" else (*key, row.place)
        held = self.ids.get(key, [])
        # Of bottles alike, the one that bears the row's own label.
        fits = [one for one in held if row.code is None or self.what == "sessions" or _named_so(one, row.code)]
        if not fits:
            return False
        held.remove(fits[0])
        self.met.append(fits[0])
        return True

    def back(self) -> list[str]:
        """What to void to take back those that came from a table and were not touched since."""
        own = [entry for entry in self.met if take_out.from_before(entry.event)]
        if not own:
            return []
        touched = Counter(step.container for step in self.whole.fold.steps)
        mine: dict[str, list[str]] = {}
        for entry in self.whole.ledger.entries:
            mine.setdefault(entry.id.rpartition(".")[0], []).append(entry.id)
        found = []
        for entry in own:
            ids = mine[entry.id.rpartition(".")[0]]
            if all(touched[name] <= len(ids) for name in ev.names_born(entry.event)):
                found += ids
        return found


def _moment(at: str) -> str | int:
    return at if is_date(at) else parse_instant(at)


def _named_so(entry: Entry, code: str) -> bool:
    return ev.names_born(entry.event) == [code]


# ---- names -------------------------------------------------------------------------------------------------


class _Case(NamedTuple):
    """A table on its way into a household: what it holds, what was said of it, and the household as it stands."""

    store: Store
    table: Table
    mapped: Mapped
    what: What
    found: Board

    def head(self, role: Role) -> str:
        """The name of the column that holds this; empty where none does."""
        column = self.mapped.columns.get(role)
        return self.table.heads[column] if column is not None and column < len(self.table.heads) else ""


def _named(case: _Case, rows: Sequence[Row]) -> tuple[list[New], list[Fault]]:
    """New rows with ids that come of what they say, and names no container has."""
    store, what = case.store, case.what
    history = what == "sessions" and case.mapped.gone
    stems = _stems(store, rows, what)
    codes = [None if history else row.code for row in rows]
    taken = store.taken(sorted({code for code in codes if code}))
    new: list[New] = []
    faults: list[Fault] = []
    seen: set[str] = set()
    for row, stem, code in zip(rows, stems, codes, strict=True):
        wrong = "" if code is None else "code_repeated" if code in seen else "code_taken" if code in taken else ""
        if wrong:
            faults.append(Fault(row.line, case.head("code"), wrong, SAYS[wrong].format(code)))
            continue
        if code is not None:
            seen.add(code)
        new.append(New(row, stem, _past_name(row, stem) if history else code))
    return new, faults


def _past_name(row: Row, stem: str) -> str:
    """A name for milk that is gone: no short code is spent on it."""
    return f"{row.at[:16].replace('T', ' ')} {stem[-4:]}"


def _stems(store: Store, rows: Sequence[Row], what: What) -> list[str]:
    """Ids that the same row always gets; rows alike, and rows taken back before, count on."""
    alike: Counter[str] = Counter()
    tries: list[tuple[str, int]] = []
    for row in rows:
        own = (row.place, row.code or "") if what == "stock" else ("", "")
        says = "|".join(map(str, (store.key, what, _moment(row.at), round(row.ml, 1), *own)))
        tries.append((says, alike[says]))
        alike[says] += 1
    stems = [_stem(*one) for one in tries]
    for _ in range(_TRIES):
        used = store.known([f"{stem}.0" for stem in stems])
        again = [n for n, stem in enumerate(stems) if f"{stem}.0" in used]
        if not again:
            break
        for n in again:
            tries[n] = (tries[n][0], tries[n][1] + alike[tries[n][0]])
            stems[n] = _stem(*tries[n])
    return stems


def _stem(says: str, number: int) -> str:
    return str(uuid5(_ROWS, f"{says}|{number}"))


def _unfit(case: _Case, new: Sequence[New]) -> list[Fault]:
    """What the fold would refuse, told of its row."""
    now, store = case.found.now, case.store
    at = acts.written_now(now, case.found.settings.zone)
    codes = (f"\x01{n}" for n in range(len(new)))
    events = events_of(new, case.what, case.mapped, case.found, codes, at)
    if not events:
        return []
    parts, _wakes = fold_kins(ground_now(store, now), {0: [line_of(event) for event in events]}, now)
    line_of_stem = {one.stem: one.row.line for one in new}
    return [
        Fault(line_of_stem[stem], case.head("date"), "does_not_fit", SAYS["does_not_fit"].format(one.says))
        for one in (parts[0].refused if parts else [])
        if (stem := one.event.rpartition(".")[0]) in line_of_stem
    ]


# ---- keeping -----------------------------------------------------------------------------------------------


def keep(
    store: Store,
    looked: Looked,
    mapped: Mapped,
    what: What,
    *,
    now: int,
    person: str,
    rng: random.Random,
    seen: int | None = None,
) -> Kept:
    """Record what is new, a thousand events at a time; a row that arrived meanwhile counts once.

    `seen` is the moment of the look, at which stock counts as found; `rng` picks the labels of stock without any.
    """
    found = board(store, now=now)
    if mapped.place is None:
        usual = warmest(found)
        mapped = mapped._replace(place=None if usual is None else usual.name)
    nameless = sum(one.code is None for one in looked.new)
    codes = new_codes(nameless, taken=store.taken, rng=rng) if nameless else []
    at = acts.written_now(now if seen is None else seen, found.settings.zone)
    lines = [line_of(event) for event in events_of(looked.new, what, mapped, found, codes, at)]
    refused: list[Refusal] = []
    added = 0
    for start in range(0, len(lines), _PART):
        done = record(store, lines[start : start + _PART], now=now, person=person, whole=False)
        added += sum(name.endswith(".0") for name in done.added)
        refused += done.refused
    return Kept(added, looked.known + len(looked.new) - added, tuple(refused))


def take_back(store: Store, looked: Looked, *, now: int, person: str) -> str | None:
    """Void what a table brought in, as far as nothing happened to it since; the act under which, None for nothing."""
    if not looked.back:
        return None
    zone = board(store, now=now).settings.zone
    act = acts.void(
        looked.back, under=new_act(), by=person, at=acts.written_now(now, zone), why="brought in by mistake"
    )
    lines = [line_of(event) for event in act.events]
    for start in range(0, len(lines), _PART):
        record(store, lines[start : start + _PART], now=now, person=person, whole=False)
    return act.id
