"""What the commands for tables and papers do; to be loaded once the settings are."""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterable
from typing import Any, BinaryIO

from thawline.core.times import BadTimeError, check_date
from thawline.faces.cli.replay import UsageError
from thawline.faces.cli.table import plain
from thawline.faces.sheets import bank_log as log_sheet
from thawline.faces.sheets import summary as summary_sheet
from thawline.faces.sheets.flow import PAPERS
from thawline.faces.words import words_for
from thawline.records.store import Store
from thawline.services import bank_log, bring_in, health_record, present, summary, tables, transfer
from thawline.services.backups import new_file
from thawline.services.board import board, manners
from thawline.services.bring_in import CannotReadError, Looked, Mapped, Role, Table, What
from thawline.site.table_commands import In, Out, Paper

_SHOWN = 20
_ORDERS = {"": None, "day": True, "month": False}


def _one_of(name: str, value: str, among: Iterable[str]) -> str:
    offered = tuple(among)
    if value not in offered:
        raise UsageError(f"--{name} {value}: choose one of {', '.join(filter(None, offered))}")
    return value


# ---- out ---------------------------------------------------------------------------------------------------


def out(asked: Out) -> None:
    """Write a table or the health record to a file or to standard output."""
    name, store = transfer.choose(asked.household)
    parts = _parts(asked, store)
    if asked.output is None:
        for part in parts:
            sys.stdout.buffer.write(part)
        sys.stdout.buffer.flush()
    else:
        with new_file(asked.output, force=asked.force) as temporary, temporary.open("wb") as file:
            file.writelines(parts)
    kind = asked.table or "health record"
    found = {"household": name, "kind": kind, "file": None if asked.output is None else str(asked.output)}
    says = f"{name}: {kind}{f' written to {asked.output}' if asked.output else ''}"
    told = json.dumps(found, ensure_ascii=False) if asked.json else plain(says)
    print(told, file=sys.stderr if asked.output is None else sys.stdout)


def _parts(asked: Out, store: Store) -> Iterable[bytes]:
    now = present.now()
    if asked.table is None:
        return [health_record.text_of(health_record.bundle(store, now=now, names=asked.names)) + b"\n"]
    what: Any = _one_of("table", asked.table, tables.WHATS)
    for day in filter(None, (asked.since, asked.until)):
        try:
            check_date(day)
        except BadTimeError as fault:
            raise UsageError(str(fault)) from fault
    rows = tables.table(store, what, now=now, span=tables.Span(asked.since, asked.until))
    return tables.written_out(rows, bom=asked.bom)


def paper(asked: Paper) -> None:
    """Print the summary or the log into a file."""
    size = _one_of("paper", asked.paper, PAPERS)
    _name, store = transfer.choose(asked.household)
    now = present.now()
    zone, units = manners(store, now=now)
    words = words_for(zone, now, units)
    if asked.kind == "summary":
        found = summary.summary(store, now=now, days=asked.days)
        pages = summary_sheet.pages_of(found, words, names=asked.names, paper=size)
    else:
        which: Any = _one_of("which", asked.which, bank_log.WHICH)
        pages = log_sheet.pages_of(bank_log.bank_log(store, which, now=now), words, which, paper=size)
    with new_file(asked.out, force=asked.force) as part:
        part.write_bytes(pages.pdf())
    print(plain(f"{asked.out}: {pages.title}"))  # noqa: T201  (a command prints)


# ---- in ----------------------------------------------------------------------------------------------------


def bring(asked: In, file: BinaryIO) -> bool:
    """Take in a table; whether every row was taken in or known."""
    what: Any = _one_of("table", asked.table, bring_in.ROLES)
    name, store = transfer.choose(asked.household)
    now = present.now()
    try:
        table, _text = bring_in.read_table(file.read(bring_in.MOST_BYTES + 1))
    except CannotReadError as fault:
        raise UsageError(f"{asked.file}: {fault}") from fault
    mapped = _mapped(asked, store, table, what, now)
    looked = bring_in.look(store, table, mapped, what, now=now)
    _answered(looked)
    take = not asked.dry_run and (not looked.bad or asked.leave_out)
    done = None
    if take:
        done = bring_in.keep(store, looked, mapped, what, now=now, person="", rng=random.SystemRandom())
    _report(asked, name, looked, None if done is None else done.rows)
    return not looked.bad


def _mapped(asked: In, store: Store, table: Table, what: What, now: int) -> Mapped:
    found = board(store, now=now)
    mapped = bring_in.propose(table, what, found)
    columns: dict[Role, int] = dict(mapped.columns)
    for given in asked.columns:
        role, _is, column = given.partition("=")
        _one_of("column", role, bring_in.ROLES[what])
        columns[role] = _number(table, column)  # type: ignore[index]
    for role in bring_in.NEEDED:
        if role not in columns:
            raise UsageError(
                f"No column seems to hold the {role}: give --column {role}=NAME. They are: {', '.join(table.heads)}"
            )
    if asked.place:
        _one_of("place", asked.place, [place.name for place in found.places])
    unit: Any = _one_of("unit", asked.unit, ("", "ml", "fl_oz", "cl")) or mapped.unit
    order = _ORDERS[_one_of("order", asked.order, _ORDERS)]
    return Mapped(columns, unit, order, not asked.here, asked.place or None)


def _number(table: Table, column: str) -> int:
    if column in table.heads:
        return table.heads.index(column)
    if column.isascii() and column.isdigit() and 1 <= int(column) <= len(table.heads):
        return int(column) - 1
    raise UsageError(f"There is no column {column}: there are {', '.join(table.heads)}")


_HOW = {"day_first": "--order day or --order month", "unit": "--unit ml, --unit fl_oz or --unit cl"}


def _answered(looked: Looked) -> None:
    for one in looked.questions:
        choices = " or ".join(label for _value, label in one.choices)
        raise UsageError(f"{one.says} {choices}: give {_HOW[one.kind]}")


def _rows(count: int) -> str:
    return f"{count} row" if count == 1 else f"{count} rows"


def _report(asked: In, name: str, looked: Looked, recorded: int | None) -> None:
    new = len(looked.new)
    faults = [one._asdict() for one in looked.faults]
    if asked.json:
        told = {"household": name, "recorded": recorded or 0, "new": new, "known": looked.known, "ml": looked.ml,
                "faults": faults, "skipped": list(looked.skipped), "notes": list(looked.notes)}  # fmt: skip
        print(json.dumps(told, ensure_ascii=False))  # noqa: T201  (a command prints)
        return
    for one in looked.faults[:_SHOWN]:
        print(plain(f"line {one.line}, {one.column}: {one.says}"), file=sys.stderr)  # noqa: T201  (a command prints)
    if looked.faults[_SHOWN:]:
        print(f"and {len(looked.faults) - _SHOWN} more; --json lists them all", file=sys.stderr)  # noqa: T201  (a command prints)
    for note in looked.notes:
        print(plain(note), file=sys.stderr)  # noqa: T201  (a command prints)
    if looked.skipped:
        print(f"left out as totals: line {', '.join(map(str, looked.skipped[:_SHOWN]))}", file=sys.stderr)  # noqa: T201  (a command prints)
    did = f"{_rows(recorded)} recorded" if recorded is not None else f"{_rows(new)} would be recorded, nothing was"
    if new:
        did += f" ({looked.ml:g} mL, {' to '.join(dict.fromkeys((looked.first, looked.last)))})"
    print(plain(f"{name}: {did}, {looked.known} there already, {looked.bad} to mend"))  # noqa: T201  (a command prints)
    if recorded is None and looked.bad and not asked.dry_run:
        print("Mend them, or give --leave-out to go on without them.", file=sys.stderr)  # noqa: T201  (a command prints)
