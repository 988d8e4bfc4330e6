"""What was recorded in one go and is too much for a line each: a logger's readings, and taking them back."""

from __future__ import annotations

from typing import NamedTuple

from thawline.core import events as ev
from thawline.records.store import Row, Store

_MOST_READINGS, _MOST_VOIDS = 3, 40
_KINDS = ("measured", "voided")


class Bulk(NamedTuple):
    """Entries of one act told in one line: the temperatures of a place in degrees Celsius, or voids (no place).

    `shown` is the entry that stands for all: the latest.
    """

    act: str
    place: str
    size: int
    coldest_c: float
    warmest_c: float
    shown: str


class Bulks:
    """The bulks among rows that are looked at one after the other."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.acts: dict[str, dict[str, Bulk]] = {}

    def of(self, row: Row) -> Bulk | None:
        """The bulk that an entry belongs to; None where it has a line of its own."""
        act = row.event_id.rpartition(".")[0]
        about = _about(row) if act else None
        if about is None:
            return None
        if act not in self.acts:
            self.acts[act] = _found(act, self.store.act(act))
        return self.acts[act].get(about)

    def hides(self, row: Row) -> bool:
        """Whether another entry stands for it."""
        bulk = self.of(row)
        return bulk is not None and bulk.shown != row.event_id


def _about(row: Row) -> str | None:
    """The place whose temperature it is; empty for a void, None for anything else."""
    if row.kind not in _KINDS:
        return None
    event = ev.decoder.decode(row.line)
    return event.place if isinstance(event, ev.Measured) else ""


def _found(act: str, rows: list[Row]) -> dict[str, Bulk]:
    groups: dict[str, list[tuple[int, str, float]]] = {}
    for row in rows:
        event = ev.decoder.decode(row.line)
        if isinstance(event, ev.Measured) and event.place is not None:
            groups.setdefault(event.place, []).append((row.at, row.event_id, event.temp_c))
        elif isinstance(event, ev.Voided):
            groups.setdefault("", []).append((row.at, row.event_id, 0.0))
    return {
        about: _bulk(act, about, some)
        for about, some in groups.items()
        if len(some) > (_MOST_READINGS if about else _MOST_VOIDS)
    }


def _bulk(act: str, place: str, rows: list[tuple[int, str, float]]) -> Bulk:
    temps = [c for _, _, c in rows]
    return Bulk(act, place, len(rows), min(temps), max(temps), max(rows)[1])
