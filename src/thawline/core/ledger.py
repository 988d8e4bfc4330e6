"""Read a ledger: parse, drop what was resent or voided, and put the rest in order."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple
from zoneinfo import ZoneInfo

import msgspec

from . import events as ev
from .times import BadTimeError, check_date, day_start, is_date, parse_instant, zone_named

MAX_LINE_BYTES = 1_000_000
UTC_NAME = "UTC"


class NotALedgerError(ValueError):
    """Nothing in the file can be read as an event."""


class Refusal(NamedTuple):
    """An event that was not applied, and what would mend it."""

    event: str
    code: str
    says: str


class Entry(NamedTuple):
    """An event at its instant; `vague` where only the day is known."""

    at: int
    order: int
    id: str
    event: ev.AnyEvent
    zone: ZoneInfo
    vague: bool


class Ledger(NamedTuple):
    """What was read: entries in order, settings, those after now (the first of them at `wakes`), what was refused."""

    entries: list[Entry]
    settings: list[Entry]
    ahead: list[str]
    refused: list[Refusal]
    wakes: int | None = None


_MISSING, _UNKNOWN, _CHOICE = "Object missing required field ", "Object contains unknown field ", "Invalid value "


def _mend(fault: Exception) -> str:
    if isinstance(fault, RecursionError):
        return "nested too deeply: write one event a line"
    if isinstance(fault, UnicodeDecodeError):
        return "not UTF-8: save the file as UTF-8"
    what, _, path = str(fault)[:400].partition(" - at `$")
    field = path.rstrip("`").lstrip(".")
    if what.startswith((_MISSING, _UNKNOWN)):
        name = ".".join(filter(None, (field, what.removeprefix(_MISSING).removeprefix(_UNKNOWN).strip("`"))))
        return f"field {name} is " + (
            "missing: add it" if _MISSING in what else "not known: mend its name or take it out"
        )
    if what.startswith(_CHOICE):
        what += ": choose one that `thawline replay --schema` names"
    return f"field {field}: {what}" if field else f"{what}: write one JSON object a line"


def _loose_id(line: bytes) -> str | None:
    try:
        value = msgspec.json.decode(line)
    except (msgspec.DecodeError, RecursionError, ValueError):
        return None
    if not isinstance(value, dict):
        return None
    name = value.get("id")
    return name[:200] if isinstance(name, str) and name else ""


_MORE_TIMES: dict[type[ev.Event], tuple[str, ...]] = {
    ev.Stocked: ("expressed",), ev.Held: ("until",), ev.Released: ("until",),
}  # fmt: skip
_DATES: dict[type[ev.Event], str] = {ev.Child: "born", ev.DayComplete: "date", ev.Stocked: "frozen_on"}


def _instant(text: str) -> int | None:
    """An instant, or None for a bare date; raises `BadTimeError`."""
    if len(text) == 10 and is_date(text):
        check_date(text)
        return None
    return parse_instant(text)


def _check_times(event: ev.AnyEvent) -> int | None:
    """`at` as an instant, None where it is a bare date; every other time and date is checked."""
    at = _instant(event.at)
    if event.noted is not None:
        _instant(event.noted)
    kind = type(event)
    for field in _MORE_TIMES.get(kind, ()):
        text = getattr(event, field)
        if text is not None:
            _instant(text)
    day = getattr(event, _DATES[kind]) if kind in _DATES else None
    if day is not None:
        check_date(day)
    if event.zone is not None:
        zone_named(event.zone)
    return at


def _check_shape(event: ev.AnyEvent) -> str | None:
    """What msgspec cannot say: None where the event is well formed."""
    if isinstance(event, ev.Measured) and (event.place is None) == (event.container is None):
        return "field place: name either a place or a container"
    if isinstance(event, ev.Voided) and event.event == event.id:
        return "field event: an event cannot void itself"
    if isinstance(event, ev.Household) and event.units is not None:
        units = event.units
        words = units.replace(",", " ").split() if isinstance(units, str) else list(units)
        words = list(units.values()) if isinstance(units, dict) else words
        if not set(words) <= {"ml", "fl_oz", "C", "F"}:
            return "field units: choose ml or fl_oz, and C or F"
    return None


_SHAPED = (ev.Measured, ev.Voided, ev.Household)


def parse_line(line: bytes) -> tuple[ev.AnyEvent | None, str, str, int | None]:
    """The event, or None with a refusal's code and text; its `at` as an instant, None where only the day is known."""
    if len(line) > MAX_LINE_BYTES:
        return None, "bad_event", f"the line is over {MAX_LINE_BYTES:,} bytes: write one event a line", None
    try:
        event = ev.decoder.decode(line)
    except (msgspec.DecodeError, RecursionError, ValueError) as fault:
        return None, "bad_event", _mend(fault), None
    wrong = _check_shape(event) if type(event) in _SHAPED else None
    if wrong is not None:
        return None, "bad_event", wrong, None
    try:
        at = _check_times(event)
        if isinstance(event, ev.Household):
            zone_named(event.zone)
    except BadTimeError as fault:
        return None, "bad_time", str(fault), None
    return event, "", "", at


def _gather(lines: Iterable[bytes], refused: list[Refusal], instants: dict[str, int | None]) -> dict[str, ev.AnyEvent]:
    """Events by id, in arrival order; the first of two with one id stands."""
    known: dict[str, ev.AnyEvent] = {}
    objects = others = 0
    for number, raw in enumerate(lines, 1):
        line = raw.removeprefix(b"\xef\xbb\xbf").strip() if number == 1 else raw.strip()
        if not line:
            continue
        event, code, says, at = parse_line(line)
        if event is None:
            loose = _loose_id(line) if len(line) <= MAX_LINE_BYTES else ""
            others += loose is None
            objects += loose is not None
            refused.append(Refusal(loose or f"line {number}", code, f"line {number}: {says}"))
            continue
        objects += 1
        first = known.setdefault(event.id, event)
        if first is event:
            instants[event.id] = at
        elif first != event:
            text = f"line {number}: another event has this id; give the new one an id of its own"
            refused.append(Refusal(event.id, "duplicate_differs", text))
    if others and not objects:
        first_fault = refused[0].says if refused else ""
        raise NotALedgerError(f"not a ledger: no line is a JSON object in UTF-8 ({first_fault})")
    return known


def _standing_voids(voids: dict[str, ev.Voided], known: dict[str, ev.AnyEvent], refused: list[Refusal]) -> set[str]:
    """The ids taken as if they had never been; voiding a void restores."""
    by_target: dict[str, list[str]] = {}
    for name, void in voids.items():
        by_target.setdefault(void.event, []).append(name)
        if void.event not in known:
            refused.append(Refusal(name, "bad_event", f"field event: no event {void.event!r} in this ledger"))
    # Peel from the voids that nothing voids; what is left over voids itself in a ring.
    waiting = {name: len(by_target.get(name, ())) for name in voids}
    ready = [name for name, count in waiting.items() if count == 0]
    gone: set[str] = set()
    done: set[str] = set()
    while ready:
        name = ready.pop()
        done.add(name)
        target = voids[name].event
        if name not in gone:
            gone.add(target)
        if target in waiting:
            waiting[target] -= 1
            if waiting[target] == 0:
                ready.append(target)
    ring = "field event: these voids void each other in a ring"
    refused.extend(Refusal(name, "bad_event", ring) for name in voids.keys() - done)
    return gone


class _Zones:
    """The household's zone over time."""

    def __init__(self, households: list[ev.Household]) -> None:
        rows = []
        for event in households:
            zone = zone_named(event.zone)
            at = day_start(event.at, zone) if is_date(event.at) else parse_instant(event.at)
            rows.append((at, event.id, zone))
        self.rows = sorted(rows, key=lambda row: row[:2])

    def at(self, instant: int) -> ZoneInfo:
        zone = self.rows[0][2] if self.rows else zone_named(UTC_NAME)
        for start, _, name in self.rows:
            if start > instant:
                break
            zone = name
        return zone


def _entry(event: ev.AnyEvent, zones: _Zones, instant: int | None) -> Entry:
    vague = instant is None
    rough = day_start(event.at, zone_named(UTC_NAME)) if instant is None else instant
    zone = zone_named(event.zone) if event.zone is not None else zones.at(rough)
    at = day_start(event.at, zone) if vague else rough
    return Entry(at, ev.ORDER.get(type(event), ev.LAST), event.id, event, zone, vague)


def _touched(event: ev.AnyEvent) -> list[str]:
    if isinstance(event, ev.Poured):
        return [portion.container for portion in event.from_]
    name = getattr(event, "container", None)
    return [name] if isinstance(name, str) and not isinstance(event, ev.Stocked) else []


# What ends something cannot have happened before it began.
_OPENERS: dict[type[ev.Event], str] = {
    ev.FeedBegan: "feed", ev.Held: "hold", ev.PowerLost: "power", ev.HandedOver: "away",
}  # fmt: skip
_CLOSERS: dict[type[ev.Event], str] = {
    ev.FeedEnded: "feed", ev.Released: "hold", ev.PowerBack: "power", ev.Returned: "away", ev.Received: "away",
}  # fmt: skip


def _about(event: ev.AnyEvent) -> str:
    return str(getattr(event, "container", None) or getattr(event, "place", ""))


def _settle_vague(entries: list[Entry]) -> list[Entry]:
    """Put each bare date at the earliest instant of its day at which it can have happened."""
    vague = [index for index, entry in enumerate(entries) if entry.vague]
    if not vague:
        return entries
    born: dict[str, int] = {}
    opened: dict[str, list[int]] = {}
    for entry in sorted(entries, key=lambda entry: entry[:3]):
        for name in ev.names_born(entry.event):
            born.setdefault(name, entry.at)
        opener = _OPENERS.get(type(entry.event))
        if opener is not None:
            opened.setdefault(f"{opener} {_about(entry.event)}", []).append(entry.at)
    # A pour of a vague day may wait for another one: a chain settles in as many rounds as it has links.
    while sum(_moved_later(entries, index, born, opened) for index in vague):
        pass
    return entries


def _moved_later(entries: list[Entry], index: int, born: dict[str, int], opened: dict[str, list[int]]) -> bool:
    entry = entries[index]
    at = max(entry.at, _earliest(entry, born, opened))
    if at == entry.at:
        return False
    entries[index] = entry._replace(at=at)
    for name in ev.names_born(entry.event):
        if born.get(name) == entry.at:
            born[name] = at
    return True


def _earliest(entry: Entry, born: dict[str, int], opened: dict[str, list[int]]) -> int:
    day = day_start(entry.event.at, entry.zone)
    floor = max([born.get(name, day) for name in _touched(entry.event)] + [day])
    closer = _CLOSERS.get(type(entry.event))
    if closer is not None:
        begun = [at for at in opened.get(f"{closer} {_about(entry.event)}", ()) if at >= floor]
        floor = begun[0] if begun else floor
    next_day = day + 26 * 3_600_000_000
    return floor if floor < next_day else entry.at


def read(lines: Iterable[bytes], *, now: int) -> Ledger:
    """Read a ledger as it stood at `now`, an instant; raises `NotALedgerError` where nothing can be read."""
    refused: list[Refusal] = []
    instants: dict[str, int | None] = {}
    known = _gather(lines, refused, instants)
    everyone = [event for event in known.values() if isinstance(event, ev.Household)]
    rough = _Zones(everyone)
    voids = {
        name: event
        for name, event in known.items()
        if isinstance(event, ev.Voided) and _entry(event, rough, instants[event.id]).at <= now
    }
    gone = _standing_voids(voids, known, refused)
    kept = [event for name, event in known.items() if name not in gone]
    zones = _Zones([event for event in kept if isinstance(event, ev.Household)])
    # A void counts from one instant on, whatever it does to the zones of bare dates.
    entries = _settle_vague(
        [_entry(event, rough if isinstance(event, ev.Voided) else zones, instants[event.id]) for event in kept]
    )
    entries.sort(key=lambda entry: entry[:3])
    settings = [entry for entry in entries if isinstance(entry.event, (ev.Household, ev.Place, ev.Child))]
    ahead = [entry for entry in entries if entry.at > now]
    here = [entry for entry in entries if entry.at <= now]
    return Ledger(here, settings, [entry.id for entry in ahead], refused, ahead[0].at if ahead else None)
