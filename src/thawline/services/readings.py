"""The record of a place's thermometer: what it shows, what of it is kept, and what that changes for the milk."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from thawline.core.guideline import ROUNDING_C, Guideline, house, shipped, shipped_ids
from thawline.core.times import MINUTE, parse_instant, written, zone_named
from thawline.engines.physics import readings as engine
from thawline.engines.physics.readings import Clean, Excursion, Gap, Mean, Reading, gap_limit
from thawline.records.store import Store
from thawline.services.acts import Act
from thawline.services.board import Board, PlaceNow
from thawline.services.known import ground_now
from thawline.services.looking_ahead import Change, resettled
from thawline.services.readings_file import Answers, Parsed, Unit, UnreadableError, decoded, parse
from thawline.services.readings_table import MOST_BYTES

_PACKED = re.compile(r"(-?\d{1,16}):(-?\d{1,5})", re.ASCII)
_EARLIEST = parse_instant("2000-01-01T00:00:00Z")
_ALIKE_C = 0.7
_MOST_MOMENTS = 2000
OUT = ("feed_began", "warmed", "handed_over")
GUIDELINE, USUAL, OWN = "guideline", "usual", "own"


class Limit(NamedTuple):
    """A temperature that the record is held against, in degrees Celsius, and whose it is: guideline, usual, own."""

    c: float
    above: bool
    says: str
    whose: str


class Beyond(NamedTuple):
    """The time beyond a limit: each excursion, and in all at least and at most (microseconds; None: not known)."""

    limit: Limit
    excursions: tuple[Excursion, ...]
    known: int
    most: int | None


class Looked(NamedTuple):
    """A record looked at: made clean, held against its limits, its means, and the readings to keep."""

    record: Clean
    beyond: tuple[Beyond, ...]
    mean: Mean
    kept: tuple[Reading, ...]


def bands(guidelines: Iterable[Guideline] = (), held: Iterable[Limit] = ()) -> list[float]:
    """Every temperature that a verdict may turn on, in degrees Celsius, by any guideline, house rule or limit given."""
    rules, _bans = house()
    found = {rules.hot_room_c, rules.warm_cooler_c}
    lines = {line.c for line in engine.lines()} | {one.c for one in held}
    for one in (*map(shipped, shipped_ids()), *guidelines):
        for row in (row for rows in one.rows.values() for row in rows):
            lines.update(row.band.values(), row.above.values())
    found.update(c + room for c in lines for room in (-ROUNDING_C, 0.0, ROUNDING_C))
    return sorted(found)


def limits(place: PlaceNow, found: Board, own_c: float | None = None) -> list[Limit]:
    """What a place's record is held against: its guideline's band, the usual lines, and a limit of one's own."""
    kept: list[Limit] = [] if own_c is None else [Limit(own_c, True, "your limit", OWN)]
    for one in (found.guideline, *found.also):
        lines = {row.band[place.kind] for rows in one.rows.values() for row in rows if place.kind in row.band}
        kept += [Limit(c, True, one.name, GUIDELINE) for c in lines]
    # Beside a guideline's own line, ours says nothing more.
    usual = [
        one for one in usual_limits(place.kind) if not any(one.above and abs(one.c - c.c) < _ALIKE_C for c in kept)
    ]
    return _once([*kept, *usual])


def usual_limits(kind: str | None = None, own_c: float | None = None) -> list[Limit]:
    """The usual lines of a kind of place (of any where it is not known), and a limit of one's own."""
    kept = [] if own_c is None else [Limit(own_c, True, "your limit", OWN)]
    lines = [line for line in engine.lines() if kind is None or kind in line.kinds]
    return _once([*kept, *(Limit(line.c, line.above, line.says, USUAL) for line in lines)])


def _once(held: Iterable[Limit]) -> list[Limit]:
    """Each temperature once, the first to name it, from the warmest to the coldest."""
    kept: dict[tuple[float, bool], Limit] = {}
    for one in held:
        kept.setdefault((one.c, one.above), one)
    return sorted(kept.values(), key=lambda one: -one.c)


def look(
    readings: Iterable[Reading], held: Sequence[Limit], *, guidelines: Iterable[Guideline] = (),
    moments: Iterable[int] = (),
) -> Looked:  # fmt: skip
    """A record made clean and held against limits.

    `guidelines` are those in force beside the shipped ones; the first reading after each of `moments` is kept.
    """
    record = engine.clean(readings)
    return Looked(
        record, tuple(_beyond(record, one) for one in held), engine.mean(record),
        engine.thinned(record, bands(guidelines, held), moments=moments),
    )  # fmt: skip


def _beyond(record: Clean, limit: Limit) -> Beyond:
    # A published 40 F is a rounded line, as the rules have it.
    edge = limit.c + ROUNDING_C if limit.above else limit.c - ROUNDING_C
    found = engine.excursions(record, edge, above=limit.above)
    most = [one.most for one in found]
    in_all = None if None in most else sum(one for one in most if one is not None)
    return Beyond(limit, tuple(found), sum(one.known for one in found), in_all)


def recorded(store: Store, *, now: int) -> dict[str, list[Reading]]:
    """The temperatures that were noted of each place, in order."""
    lines = ground_now(store, now).places.lines
    return {name: [Reading(at, c) for at, c in line.measured] for name, line in lines.items() if line.measured}


def moments(store: Store) -> list[int]:
    """When milk was warmed, drunk from or handed over: the next reading of its place counts it as lying there again."""
    return [row.at for row in store.history(before=None, limit=_MOST_MOMENTS, kinds=OUT)]


def write(act: Act, place: str, kept: Iterable[Reading], *, zone: str) -> None:
    """Write readings down as measurements of a place."""
    here = zone_named(zone)
    for one in kept:
        act.add("measured", at=written(one.at, here), place=place, temp_c=one.c)


def changes(store: Store, place: str, kept: Iterable[Reading], *, zone: str, now: int) -> list[Change]:
    """The containers whose deadline or standing these readings would change; nothing is written."""
    trial = Act("trial", by="", at=written(now, zone_named(zone)))
    write(trial, place, kept, zone=zone)
    return resettled(store, trial.events, now=now) if trial.events else []


def packed(kept: Iterable[Reading]) -> str:
    """Readings as a short text that a form can carry: ms since the one before, and hundredths of a degree."""
    parts = []
    before = 0
    for one in kept:
        parts.append(f"{one.at // 1000 - before}:{round(one.c * 100)}")
        before = one.at // 1000
    return " ".join(parts)


def unpacked(text: str, *, now: int) -> list[Reading]:
    """The readings of `packed`; raises `UnreadableError` where they can't be."""
    found: list[Reading] = []
    at = 0
    if len(text) > MOST_BYTES:
        raise UnreadableError("That is more than fits.")
    for part in text.split():
        shape = _PACKED.fullmatch(part)
        at += int(shape[1]) if shape else 0
        if shape is None or not _EARLIEST <= at * 1000 <= now + 2 * MINUTE:
            raise UnreadableError("The readings did not arrive whole. Please choose the file again.")
        found.append(Reading(at * 1000, int(shape[2]) / 100))
    return found


__all__ = [
    "GUIDELINE", "MOST_BYTES", "OUT", "OWN", "USUAL", "Answers", "Beyond", "Clean", "Excursion", "Gap", "Limit",
    "Looked", "Mean", "Parsed", "Reading", "Unit", "UnreadableError", "bands", "changes", "decoded", "gap_limit",
    "limits", "look", "moments", "packed", "parse", "recorded", "unpacked", "usual_limits", "write",
]  # fmt: skip
