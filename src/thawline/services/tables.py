"""A household's records as tables of text (CSV, RFC 4180): sessions, feeds, stock, or every event."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Literal, NamedTuple, get_args

from thawline.core import events as ev
from thawline.core.places import FREEZERS
from thawline.core.times import day_start, is_date, local, parse_instant, written
from thawline.core.units import ML_PER_FL_OZ
from thawline.core.verdict import Verdict
from thawline.records.store import Store
from thawline.services.board import board
from thawline.services.take_out import Whole, whole

What = Literal["sessions", "feeds", "stock", "events"]
WHATS: tuple[What, ...] = get_args(What)
Cell = str | float | int | None
BOM = "\ufeff"
# A spreadsheet takes a cell that begins so for a formula, also in the wide signs of East Asian writing (OWASP, "CSV
# Injection").
_FORMULA = re.compile(r"[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_PART = 500


class Span(NamedTuple):
    """From a day to a day, both with it, ISO; empty: open."""

    since: str = ""
    until: str = ""

    def holds(self, day: str) -> bool:
        """Whether a day is within."""
        return (not self.since or day >= self.since) and (not self.until or day <= self.until)


def table(store: Store, what: What, *, now: int, span: Span | None = None, voided: bool = True) -> Iterator[list[Cell]]:
    """The heading and the rows of a table, oldest first; all of `stock` is of now, whatever the span."""
    found = whole(store, now=now)
    span = span or Span()
    if what == "stock":
        yield from _stock(found, board(store, now=now).verdicts)
    elif what == "events":
        yield from _events(store, found, span, voided=voided)
    else:
        yield from (_sessions if what == "sessions" else _feeds)(found, span)


def written_out(rows: Iterable[Sequence[Cell]], *, bom: bool = False) -> Iterator[bytes]:
    """Rows as CSV in UTF-8, some hundred lines at a time; a byte order mark first where it is wished for."""
    text = io.StringIO(BOM if bom else "")
    text.seek(0, io.SEEK_END)
    writer = csv.writer(text, lineterminator="\r\n")
    for number, row in enumerate(rows, 1):
        writer.writerow([_cell(cell) for cell in row])
        if number % _PART == 0:
            yield text.getvalue().encode("utf-8", "replace")
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode("utf-8", "replace")


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if _FORMULA.match(cell) else cell
    return f"{round(cell, 2):g}" if abs(cell) < 1e6 else str(round(cell, 2))


# ---- the tables --------------------------------------------------------------------------------------------


def _when(found: Whole, at: int, as_written: str = "") -> list[Cell]:
    """The moment with its offset, its day and time on the household's clock; the day alone where only that is known."""
    if is_date(as_written):
        return [as_written, as_written, ""]
    when = local(at, found.zone)
    return [written(at, found.zone), when.date().isoformat(), when.strftime("%H:%M")]


_WHEN = ("at", "date", "time")


def _amount(found: Whole, ml: float | None) -> list[Cell]:
    cells: list[Cell] = [None if ml is None else round(ml, 2)]
    return [*cells, None if ml is None else round(ml / ML_PER_FL_OZ, 2)] if found.units[0] == "fl_oz" else cells


def _amount_head(found: Whole, name: str = "ml") -> list[Cell]:
    other = "fl_oz" if name == "ml" else name.replace("ml", "fl_oz")
    return [name, other] if found.units[0] == "fl_oz" else [name]


def _sessions(found: Whole, span: Span) -> Iterator[list[Cell]]:
    yield [*_WHEN, *_amount_head(found), "side", "minutes", "place", "containers", "handling", "mother", "for", "by"]
    for entry in found.of(ev.Expressed):
        event = entry.event
        assert isinstance(event, ev.Expressed)  # noqa: S101  (for the types)
        if not span.holds(found.day(entry.at)):
            continue
        into = "; ".join(f"{one.container} {one.ml:g}" for one in event.into)
        yield [
            *_when(found, entry.at, event.at), *_amount(found, sum(one.ml for one in event.into)), event.side,
            event.minutes, event.place, into, event.handling, event.mother, event.for_, event.by,
        ]  # fmt: skip


def _feeds(found: Whole, span: Span) -> Iterator[list[Cell]]:
    yield [*_WHEN, "child", "what", *_amount_head(found), *_amount_head(found, "left_ml"), "minutes", "container"]
    rows: list[tuple[int, list[Cell]]] = [
        (one.at, [*_when(found, one.at), one.child, "bottle", *_amount(found, one.drunk_ml),
                  *_amount(found, one.left_ml), None, one.container])
        for one in found.feeds()
    ]  # fmt: skip
    for entry in found.of(ev.Nursed, ev.FedOther):
        event = entry.event
        nursed = isinstance(event, ev.Nursed)
        what = "breast" if isinstance(event, ev.Nursed) else event.what  # type: ignore[union-attr]
        ml = None if nursed else event.ml  # type: ignore[union-attr]
        minutes = event.minutes if isinstance(event, ev.Nursed) else None
        rows.append((entry.at, [*_when(found, entry.at, event.at), event.child, what, *_amount(found, ml),  # type: ignore[union-attr]
                                *_amount(found, None), minutes, None]))  # fmt: skip
    yield from (row for at, row in sorted(rows, key=lambda item: item[0]) if span.holds(found.day(at)))


def _stock(found: Whole, verdicts: Sequence[Verdict]) -> Iterator[list[Cell]]:
    yield ["label", *_amount_head(found), "expressed", "frozen_on", "place", "form", "use_by", "best_by", "standing",
           "estimated", "for"]  # fmt: skip
    for one in sorted(verdicts, key=lambda one: (one.dated, one.container)):
        use_by = None if one.use_by is None else written(one.use_by, found.zone)
        best_by = None if one.best_by is None else written(one.best_by, found.zone)
        yield [
            one.container, *_amount(found, one.ml), written(one.dated, found.zone), frozen_on(found, one.container),
            one.place, one.form, use_by, best_by, one.standing, "yes" if one.estimated else "no", one.meant_for,
        ]  # fmt: skip


def frozen_on(found: Whole, name: str) -> str | None:
    """The day on which a container went into a freezer for the first time, or as it was written down of old stock."""
    container = found.fold.containers.get(name)
    if container is None:
        return None
    if isinstance(container.event, ev.Stocked) and container.event.frozen_on:
        return container.event.frozen_on
    cold = (stay for stay in container.stays if found.fold.places.lines[stay.place].kind_at(stay.at) in FREEZERS)
    first = next(cold, None)
    return None if first is None else found.day(first.at)


def _events(store: Store, found: Whole, span: Span, *, voided: bool) -> Iterator[list[Cell]]:
    yield [*_WHEN, "kind", "by", "stands", "id", "event"]
    standing = {entry.id for entry in (*found.ledger.entries, *found.ledger.settings)}
    refused, ahead = {one.event for one in found.fold.refused}, set(found.ledger.ahead)
    for line in store.lines():
        event = ev.decoder.decode(line)
        at = day_start(event.at, found.zone) if is_date(event.at) else None
        when = _when(found, at, event.at) if at is not None else _moment(found, event.at)
        stands = _stands(event, standing, refused, ahead)
        if span.holds(str(when[1])) and (voided or stands == "yes"):
            kind = str(type(event).__struct_config__.tag)
            yield [*when, kind, event.by, stands, event.id, line.decode()]


def _moment(found: Whole, at: str) -> list[Cell]:
    return _when(found, parse_instant(at))


def _stands(event: ev.AnyEvent, standing: set[str], refused: set[str], ahead: set[str]) -> str:
    if event.id in refused:
        return "does not fit"
    if event.id in ahead:
        return "ahead"
    return "yes" if event.id in standing or isinstance(event, ev.Voided) else "taken back"
