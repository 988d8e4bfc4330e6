"""The past, and mending it: what was taken back, what stands in its place, and what no longer fits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from string import ascii_lowercase
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from thawline.core import events as ev
from thawline.core.ledger import Refusal
from thawline.core.times import day_start, is_date, parse_instant
from thawline.core.verdict import Verdict
from thawline.records.store import Row, Store
from thawline.services import acts
from thawline.services.acts import Act
from thawline.services.bulk import Bulks
from thawline.services.known import fold_kins, known
from thawline.services.looking_ahead import Preview, preview
from thawline.services.recording import Recorded, line_of, record

CORRECTED = "corrected"
_BATCH, _MOST = 400, 3000  # rows read at a time, and for one page at most


class Stretch(NamedTuple):
    """A part of the past, latest first; `more` is where the next one begins, None where nothing is left.

    `bulks` are those that single rows stand for.
    """

    rows: list[Row]
    more: tuple[int, str] | None
    bulks: Bulks


class Change(NamedTuple):
    """A container before and after; None where it is not known then."""

    before: Verdict | None
    after: Verdict | None


def event_of(row: Row) -> ev.AnyEvent:
    """The event of a row."""
    return ev.decoder.decode(row.line)


def who_did(row: Row) -> str:
    """Who did it, else who recorded it."""
    return event_of(row).by or row.person


def past(
    store: Store, *, before: tuple[int, str] | None, limit: int, name: str | None = None, kinds: Sequence[str] = (),
    person: str = "",
) -> Stretch:  # fmt: skip
    """So many events before a row's `(at, event_id)`: of one container, of these kinds, by one person.

    Of what was recorded in bulk only the entry that stands for all is there.
    """
    found: list[Row] = []
    bulks = Bulks(store)
    read = hidden = 0
    while read < _MOST:
        wanted = _BATCH if person or hidden else limit + 1
        rows = store.history(before=before, limit=wanted, name=name, kinds=kinds)
        shown = [row for row in rows if not bulks.hides(row)]
        hidden += len(rows) - len(shown)
        read += len(shown)
        found += [row for row in shown if not person or who_did(row) == person]
        if len(found) > limit:
            last = found[limit - 1]
            return Stretch(found[:limit], (last.at, last.event_id), bulks)
        if len(rows) < wanted:
            return Stretch(found, None, bulks)
        before = rows[-1].at, rows[-1].event_id
    return Stretch(found, before, bulks)


def voids_of(store: Store, ids: Sequence[str], *, now: int) -> dict[str, list[Row]]:
    """The voids that hold at `now`, by the event that they take back; a void that is itself voided does not hold."""
    voiders: dict[str, list[str]] = {}
    rows: dict[str, Row] = {}
    wanted = list(dict.fromkeys(ids))
    while wanted:
        found = store.voided_by(wanted)
        fresh = store.rows([one for voids in found.values() for one in voids])
        voiders |= {name: [one for one in found.get(name, ()) if fresh[one].at <= now] for name in wanted}
        rows |= fresh
        wanted = [name for name in fresh if name not in voiders]
    holding = _holding(voiders)
    kept = {name: [rows[one] for one in voiders[name] if one in holding] for name in ids}
    return {name: voids for name, voids in kept.items() if voids}


def _holding(voiders: Mapping[str, Sequence[str]]) -> set[str]:
    """The voids that hold, from those that nothing voids inwards; a ring of voids holds nothing."""
    target = {void: name for name, voids in voiders.items() for void in voids}
    waiting = {void: len(voiders.get(void, ())) for void in target}
    ready = [void for void, count in waiting.items() if count == 0]
    gone: set[str] = set()
    holding: set[str] = set()
    while ready:
        void = ready.pop()
        name = target[void]
        if void not in gone:
            holding.add(void)
            gone.add(name)
        if name in waiting:
            waiting[name] -= 1
            if waiting[name] == 0:
                ready.append(name)
    return holding


def is_correction(void: Row) -> bool:
    """Whether a void came with a replacement."""
    event = event_of(void)
    return isinstance(event, ev.Voided) and event.why == CORRECTED


def _replacement(void: Row) -> str | None:
    """The id of what was recorded right after a void, in its place."""
    stem, _dot, number = void.event_id.rpartition(".")
    digits = number.lstrip(ascii_lowercase)
    if not (stem and is_correction(void) and digits.isdecimal()):
        return None
    return f"{stem}.{acts.nth(int(digits) + 1)}"


def standing(store: Store, event_id: str, *, now: int) -> Row | None:
    """What counts in an event's place: itself, or its latest correction; None where it was taken back."""
    wanted: str | None = event_id
    seen: set[str] = set()
    while wanted is not None and wanted not in seen:
        seen.add(wanted)
        voids = voids_of(store, [wanted], now=now).get(wanted, [])
        if not voids:
            return store.rows([wanted]).get(wanted)
        wanted = next((found for void in voids if (found := _replacement(void)) is not None), None)
    return None


def act_of(store: Store, event_id: str) -> tuple[str, list[Row]]:
    """The act in which an event was recorded, and all its events; "" and none where it has none."""
    stem = event_id.rpartition(".")[0]
    rows = store.act(stem) if stem else []
    return (stem, rows) if any(row.event_id == event_id for row in rows) else ("", [])


def taking_back(store: Store, ids: Sequence[str], *, under: str, by: str, at: str, now: int) -> Act:
    """The act that takes events back, or what counts in their place; what was taken back already is left alone."""
    found = [row.event_id for name in ids if (row := standing(store, name, now=now)) is not None]
    return acts.void(list(dict.fromkeys(found)), under=under, by=by, at=at)


def restoring(store: Store, event_id: str, *, under: str, by: str, at: str, now: int) -> Act:
    """The act that makes a voided event count again; what had replaced it goes."""
    found = []
    for void in voids_of(store, [event_id], now=now).get(event_id, []):
        found.append(void.event_id)
        after = _replacement(void)
        instead = standing(store, after, now=now) if after is not None else None
        if instead is not None:
            found.append(instead.event_id)
    return acts.void(found, under=under, by=by, at=at, why="restored")


def record_once(store: Store, act: str, make: Callable[[], Act | None], *, now: int, person: str) -> Recorded | None:
    """Record what `make` gives, worked out and written in one go; None where it is recorded, or nothing is left."""
    with store.transaction():
        made = None if store.act(act) else make()
        if made is None or not made.events:
            return None
        return record(store, [line_of(event) for event in made.events], now=now, person=person)


def look_ahead(store: Store, events: Sequence[Mapping[str, Any]], *, now: int) -> Preview:
    """What would follow from these events, also where they change a place or a setting."""
    return preview(store, events, now=now, everything=True)


def changes(seen: Preview) -> list[Change]:
    """The containers whose deadline, standing, amount or place would change."""
    found = []
    for name in dict.fromkeys([*seen.before, *seen.after]):
        before, after = seen.before.get(name), seen.after.get(name)
        if _shown(before) != _shown(after):
            found.append(Change(before, after))
    return found


def _shown(one: Verdict | None) -> tuple[object, ...] | None:
    return None if one is None else (one.use_by, one.best_by, one.standing, one.ml, one.place, one.form)


def not_fitting(store: Store, ids: Sequence[str], *, now: int) -> dict[str, Refusal]:
    """Those of these events that do not fit, and what would mend each; only their own containers are folded."""
    kins = {row.key for row in store.kins_of(sorted(store.touched(ids))).values() if row.refused}
    if not kins:
        return {}
    cache = known(store)
    with cache.lock:
        base = cache.ground(store, now)
    parts, _wakes = fold_kins(base, store.kin_lines(sorted(kins)), now)
    wanted = set(ids)
    return {one.event: one for part in parts.values() for one in part.refused if one.event in wanted}


def instant_of(at: str, zone: ZoneInfo) -> int:
    """A time as written as an instant: a bare date at its first."""
    return day_start(at, zone) if is_date(at) else parse_instant(at)
