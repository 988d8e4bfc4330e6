"""Milk that is held back: what, why, and until when to look again; holding and releasing several at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core import figures
from thawline.core.times import is_date, parse_instant
from thawline.core.verdict import Verdict
from thawline.records.store import Store
from thawline.services import handling
from thawline.services.acts import Act
from thawline.services.board import Board, one
from thawline.services.correcting import voids_of
from thawline.services.kit import Line

HOLD_WHY = handling.HOLD_WHY
_LOOK_BACK = 400  # notes of holding looked through
_LAST = 12  # sessions looked through for one that counts


class Held(NamedTuple):
    """A container that is held back: why, and when to look again as written (None where nobody said)."""

    verdict: Verdict
    why: tuple[str, ...]
    until: str | None

    def due(self, now: int, today: str) -> bool:
        """Whether the time to look again has come: a reminder, which releases nothing."""
        if self.until is None:
            return False
        return self.until <= today if is_date(self.until) else parse_instant(self.until) <= now


def lines(about: str) -> list[Line]:
    """What is said beside a reason: `medicine`, `alcohol`, `clinician`."""
    rows = figures.entry(__package__, "holding", about)
    return [Line(row["says"], row["source"], row["mark"]) for row in rows]


def held(store: Store, board: Board) -> list[Held]:
    """What is held back, oldest first; also where it is past its limit by now."""
    named = {
        event.container
        for row in store.history(before=None, limit=_LOOK_BACK, kinds=("held",))
        if isinstance(event := ev.decoder.decode(row.line), ev.Held)
    }
    maybe = [found for found in board.verdicts if found.standing == "held" or found.container in named]
    whole = [(found, one(store, found.container, now=board.now)) for found in maybe]
    rows = [
        Held(found, full.held, handling.held_until(store, found.container))
        for found, full in whole
        if full is not None and full.held
    ]
    return sorted(rows, key=lambda row: (row.verdict.dated, row.verdict.container))


def to_hold(board: Board, already: Iterable[Held]) -> list[Verdict]:
    """What can be held back, newest first."""
    gone = {row.verdict.container for row in already}
    rows = [found for found in board.verdicts if found.container not in gone]
    return sorted(rows, key=lambda found: (-found.dated, found.container))


def last_session(store: Store, *, now: int) -> list[str]:
    """The containers of the session that was noted last and counts."""
    rows = [row for row in store.history(before=None, limit=_LAST, kinds=("expressed",)) if row.at <= now]
    voided = voids_of(store, [row.event_id for row in rows], now=now)
    for row in rows:
        event = ev.decoder.decode(row.line)
        if isinstance(event, ev.Expressed) and row.event_id not in voided:
            return [portion.container for portion in event.into]
    return []


def hold(act: Act, codes: Sequence[str], *, why: str, on: str, at: str, zone: str) -> None:
    """Hold several back in one act, with the day (and time) at which to look again; raises `BadWhenError`."""
    until = handling.until(on, at, zone=zone)
    for code in codes:
        act.add("held", container=code, why=why, until=until)


def release(act: Act, codes: Sequence[str]) -> None:
    """Release several in one act."""
    for code in codes:
        act.add("released", container=code)
