"""Rows of a table as the ledger has them: sessions whose milk is gone or here, and stock."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from thawline.core.places import FREEZERS
from thawline.services.board import Board
from thawline.services.bring_in_columns import Mapped, What
from thawline.services.bring_in_rows import Row


class New(NamedTuple):
    """A row that is not in the records yet: its stem of ids and the name of its container (None: to be given)."""

    row: Row
    stem: str
    code: str | None


def _events(one: New, code: str, what: What, mapped: Mapped, found: Board, at: str) -> list[dict[str, Any]]:
    """A row as the ledger has it."""
    row = one.row
    if what == "stock":
        fields = {"container": code, "ml": row.ml, "place": row.place, "expressed": row.at, "frozen_on": row.frozen_on,
                  "form": row.form}  # fmt: skip
        return [_event(f"{one.stem}.0", at, "stocked", fields)]
    place, later = _put(row, mapped, found)
    fields = {"into": [{"container": code, "ml": row.ml}], "place": place, "side": row.side, "minutes": row.minutes}
    if mapped.gone and row.code:
        fields["vessel"] = {"tag": row.code}
    told = [_event(f"{one.stem}.0", row.at, "expressed", fields)]
    if mapped.gone and row.ml > 0:
        told.append(_event(f"{one.stem}.1", row.at, "counted", {"container": code, "ml": 0}))
    elif later is not None and row.ml > 0:
        told.append(_event(f"{one.stem}.1", later, "moved", {"container": code, "to": row.place}))
    return told


def _put(row: Row, mapped: Mapped, found: Board) -> tuple[str | None, str | None]:
    """Where milk was put, and when it went on to its place: until the day it was frozen it counts as chilled."""
    place = found.place(row.place)
    fridge = next(iter(found.of_kind("refrigerator")), None)
    frozen = row.frozen_on is not None and row.frozen_on > row.at[:10]
    if mapped.gone or not frozen or place is None or place.kind not in FREEZERS or fridge is None:
        return row.place, None
    return fridge.name, row.frozen_on


def _event(name: str, at: str, kind: str, fields: dict[str, Any]) -> dict[str, Any]:
    return {"id": name, "at": at, "kind": kind} | {key: value for key, value in fields.items() if value is not None}


def events_of(
    new: Iterable[New], what: What, mapped: Mapped, found: Board, codes: Iterable[str], at: str
) -> list[dict[str, Any]]:
    """The events of rows; a row without a label takes the next of these codes, stock is found at `at`."""
    free = iter(codes)
    events: list[dict[str, Any]] = []
    for one in new:
        events += _events(one, one.code if one.code is not None else next(free), what, mapped, found, at)
    return events
