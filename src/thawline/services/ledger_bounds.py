"""The bounds of a ledger file, for judging it with them: `thawline heat bounds` and `replay --bounds`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from thawline.core import events as ev
from thawline.core.component import Bounds
from thawline.core.fold import fold
from thawline.core.ledger import Refusal, read
from thawline.core.places import Places
from thawline.core.replay import Library, rules_of, settings_of
from thawline.core.times import written, zone_named
from thawline.records.store import Parsed
from thawline.services.bounds import bounds_of
from thawline.services.power_hours import cold_early
from thawline.services.recording import parse
from thawline.services.sightings import MOST_SEEN, films_of, observed


def of_ledger(lines: Iterable[bytes], *, now: int) -> Bounds:
    """What the physics lets the clocks assume of a whole ledger; raises `NotALedgerError` and `GuidelineError`."""
    kept = list(lines)
    ledger = read(kept, now=now)
    rules = rules_of(settings_of(ledger.settings, now), None, None, Library())
    places = Places(ledger.settings, ledger.entries, rules.house)
    places.cold_early = cold_early(places.lines, house=rules.house, now=now)
    state = fold(ledger, places)
    seen = observed(state, _sighted(kept))
    return bounds_of(state, films_of(seen))._replace(cold_early=places.cold_early)


def _sighted(lines: list[bytes]) -> set[str]:
    """The containers of the latest sightings, in the order in which a household's history gives them."""
    found: dict[str, Parsed] = {}
    for number, line in enumerate(lines, 1):
        if b"thaw_seen" in line:
            row = parse(line, number, "UTC")
            if not isinstance(row, Refusal) and row.kind == "thaw_seen":
                found.setdefault(row.event_id, row)
    latest = sorted(found.values(), key=lambda row: (row.at, row.event_id))[-MOST_SEEN:]
    events = [ev.decoder.decode(row.line) for row in latest]
    return {event.container for event in events if isinstance(event, ev.ThawSeen)}


def as_object(bounds: Bounds, zone: str) -> dict[str, Any]:
    """The object that `replay --bounds` reads; times are RFC 3339 in that zone."""
    here = zone_named(zone)

    def rows(table: Mapping[tuple[str, int], int], name: str) -> list[dict[str, str]]:
        return [
            {name: of, "from": written(start, here), "at": written(end, here)}
            for (of, start), end in sorted(table.items())
        ]

    return {
        "thawed_early": rows(bounds.thawed_early, "container"),
        "solid_late": rows(bounds.solid_late, "container"),
        "warm_early": rows(bounds.warm_early, "container"),
        "cold_early": rows(bounds.cold_early, "place"),
    }
