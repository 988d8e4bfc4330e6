"""Record events: parse, keep what is new, and note which containers are still there."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from uuid6 import uuid7

from thawline.core import events as ev
from thawline.core.ledger import Refusal, parse_line
from thawline.core.times import day_start, zone_named
from thawline.records.store import OTHER, PLACES, SETTINGS, KinRow, Parsed, Store
from thawline.services.known import Ground, KinState, fold_kins, ground_for_writing, names_touched

_MANY = 64  # kins folded at once where all have to be


class Recorded(NamedTuple):
    """What became of events that were to be recorded: new, there already, or not taken and why."""

    added: tuple[str, ...]
    known: tuple[str, ...]
    refused: tuple[Refusal, ...]


def new_act() -> str:
    """An id for what is recorded in one go; its events are this with `.0`, `.1` … after it."""
    return str(uuid7())


def line_of(event: Mapping[str, Any]) -> bytes:
    """An event as a line of the ledger."""
    return json.dumps(event, ensure_ascii=False, separators=(",", ":")).encode()


def group_of(event: ev.AnyEvent) -> str | None:
    """The group of an event that touches no container."""
    if isinstance(event, (ev.Household, ev.Place, ev.Child)):
        return SETTINGS
    if isinstance(event, (ev.PowerLost, ev.PowerBack)) or (isinstance(event, ev.Measured) and event.place is not None):
        return PLACES
    return None if names_touched(event) or isinstance(event, ev.Voided) else OTHER


def parse(line: bytes, number: int, zone: str) -> Parsed | Refusal:
    """An event ready to be kept, or why it can't be read."""
    event, code, says, at = parse_line(line)
    if event is not None and b"\\u0000" in line:
        event, code, says = None, "bad_event", "the character U+0000 can't be kept: take it out"
    if event is None:
        return Refusal(f"line {number}", code, says)
    if at is None:
        at = day_start(event.at, zone_named(event.zone or zone))
    kind = str(type(event).__struct_config__.tag)
    voids = event.event if isinstance(event, ev.Voided) else ""
    return Parsed(event.id, kind, at, line, tuple(dict.fromkeys(names_touched(event))), group_of(event), voids)


def record(store: Store, lines: Iterable[bytes], *, now: int, person: str = "", whole: bool = True) -> Recorded:
    """Keep the events of these lines; `whole`: all of them or none.

    The same id with the same content counts once. Another content under a known id is refused, and so is what
    cannot be read. Everything else is kept, whether it fits or not.
    """
    with store.transaction():
        found, refused = _read(store, lines, now)
        new, old, differing = _sort_out(store, found)
        refused += differing
        if whole and refused:
            return Recorded((), (), tuple(refused))
        store.add(new, recorded_at=now, person=person)
        settle(store, new, now=now)
    return Recorded(tuple(one.event_id for one in new), tuple(old), tuple(refused))


def _read(store: Store, lines: Iterable[bytes], now: int) -> tuple[list[Parsed], list[Refusal]]:
    zone = ground_for_writing(store, now).settings.zone
    found: list[Parsed] = []
    refused: list[Refusal] = []
    for number, raw in enumerate(lines, 1):
        line = raw.removeprefix(b"\xef\xbb\xbf").strip() if number == 1 else raw.strip()
        if not line:
            continue
        one = parse(line, number, zone)
        if isinstance(one, Refusal):
            refused.append(one)
        else:
            found.append(one)
    return found, refused


def _sort_out(store: Store, found: Sequence[Parsed]) -> tuple[list[Parsed], list[str], list[Refusal]]:
    """New ones, those there already, and those whose id belongs to another content."""
    there = store.known([one.event_id for one in found])
    new: dict[str, Parsed] = {}
    old: list[str] = []
    refused: list[Refusal] = []
    for one in found:
        line = there.get(one.event_id) or (new[one.event_id].line if one.event_id in new else None)
        if line is None:
            new[one.event_id] = one
        elif line == one.line or ev.decoder.decode(line) == ev.decoder.decode(one.line):
            old.append(one.event_id)
        else:
            says = "another event has this id; give the new one an id of its own"
            refused.append(Refusal(one.event_id, "duplicate_differs", says))
    return list(new.values()), old, refused


def settle(store: Store, new: Sequence[Parsed], *, now: int) -> None:
    """Write down of the kins that new events touch whether milk is left, and what did not fit."""
    if not new:
        return
    voids = [one.event_id for one in new if one.voids]
    standing = store.standing()
    unsettled = standing.settings_revision == standing.revision and not all(store.touched([one]) for one in voids)
    if unsettled or any(one.group == SETTINGS for one in new):
        # Settings may change what fits: all is folded anew. They change seldom.
        rows = store.all_kins()
    else:
        names = {name for one in new for name in one.names} | store.touched(voids)
        rows = list({row.key: row for row in store.kins_of(sorted(names)).values()}.values())
    if rows:
        _settle_kins(store, ground_for_writing(store, now), rows, now)


def _settle_kins(store: Store, base: Ground, rows: Sequence[KinRow], now: int) -> None:
    for start in range(0, len(rows), _MANY):
        some = rows[start : start + _MANY]
        parts, wakes = fold_kins(base, store.kin_lines([row.key for row in some]), now)
        settled = []
        for row in some:
            state = KinState(row.revision, parts[row.key], wakes[row.key])
            found = row._replace(open=state.open or base.restless, refused=len(state.refused), wake_at=state.wakes)
            if found != row:
                settled.append(found)
        store.settle(settled)
