"""A child got milk that was not meant for it: the published steps, what is known of the milk, what was done since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from typing import Any, NamedTuple

from thawline.core import events as ev
from thawline.core import figures
from thawline.records.store import Row
from thawline.services import board, childcare, correcting
from thawline.services.acts import Act, written_now
from thawline.services.checking import ANOTHER_CHILD
from thawline.services.people import Home
from thawline.services.permissions import may, may_record
from thawline.services.recording import line_of, record

_MANY = 400
LOGGED = "logged"
# What is told of milk to another family: how it was kept, without a name.
_HANDLED = (
    "expressed", "stocked", "moved", "poured", "thaw_seen", "warmed", "feed_began", "handed_over", "received",
    "returned", "added",
)  # fmt: skip


class Step(NamedTuple):
    """One published step; `tick` where it is something to do. `group`: `now`, `whose` milk it was, who `drank` it."""

    id: str
    group: str
    tick: bool
    says: str
    sources: tuple[str, ...]
    mark: str
    short: str = ""


class Handled(NamedTuple):
    """Something that was done with milk, without names: `at` in microseconds, the kind of event, how, to where."""

    at: int
    kind: str
    detail: str


class Done(NamedTuple):
    """A step that was done, by whom, noted when."""

    id: str
    by: str
    noted: int


class Note(NamedTuple):
    """A free text of an incident, by whom, noted when."""

    says: str
    by: str
    noted: int


class Mixed(NamedTuple):
    """An incident with everything that was noted of it: `event_id` and `act` are those of its first entry."""

    event_id: str
    act: str
    at: int
    written: str
    child: str
    container: str | None
    by: str
    done: tuple[Done, ...]
    notes: tuple[Note, ...]

    @property
    def open(self) -> list[Step]:
        """The steps that nobody has ticked yet."""
        ticked = {one.id for one in self.done}
        return [step for step in steps() if step.tick and step.id not in ticked]


def steps() -> list[Step]:
    """The published steps, in order, each with the full names of its sources."""
    data = figures.load("thawline.services", "mix_up")
    return [
        Step(one["id"], one["group"], one["tick"], one["says"],
             tuple(data["sources"][key] for key in one["sources"]), one["mark"],
             ", ".join(data["short"][key] for key in one["sources"]))
        for one in data["step"]
    ]  # fmt: skip


def sources() -> list[str]:
    """The sources of the steps, in full."""
    return list(figures.load("thawline.services", "mix_up")["sources"].values())


def handled(home: Home, code: str, *, now: int) -> list[Handled]:
    """How milk was handled from the beginning, in order: facts that may be told to another family."""
    rows = [row for row in home.store.history(before=None, limit=_MANY, name=code) if row.kind in _HANDLED]
    undone = correcting.voids_of(home.store, [row.event_id for row in rows], now=now)
    kinds = {place.name: place.kind for place in board.board(home.store, now=now).places}
    kept = [row for row in reversed(rows) if not undone.get(row.event_id) and row.at <= now]
    return [Handled(row.at, row.kind, _detail(correcting.event_of(row), kinds)) for row in kept]


def _detail(event: ev.AnyEvent, kinds: dict[str, str]) -> str:
    if isinstance(event, ev.ThawSeen):
        return "ice" if event.ice else "no_ice"
    if isinstance(event, ev.Warmed):
        return event.how
    if isinstance(event, ev.Added):
        return event.what
    place = event.to if isinstance(event, ev.Moved) else getattr(event, "place", None)
    return kinds.get(place or "", "")


# What was noted


def incidents(home: Home, *, now: int) -> list[Mixed]:
    """The incidents that this person may see, the latest first: all at home, at childcare what its staff noted."""
    rows = home.store.history(before=None, limit=_MANY, kinds=("incident",))
    undone = correcting.voids_of(home.store, [row.event_id for row in rows], now=now)
    rows = _seen(home, [row for row in rows if not undone.get(row.event_id)])
    found: dict[tuple[str, str | None, int], list[Row]] = {}
    for row in sorted(rows, key=lambda one: one.revision):
        event = correcting.event_of(row)
        assert isinstance(event, ev.Incident)  # noqa: S101  (its kind says so)
        found.setdefault((event.child, event.container, row.at), []).append(row)
    mixed = [_mixed(some) for some in found.values()]
    return sorted(mixed, key=lambda one: (-one.at, one.event_id))


def _seen(home: Home, rows: list[Row]) -> list[Row]:
    """What this person may read: at childcare only what the service's own staff wrote."""
    if not may(home.role, "serve"):
        return rows
    service = childcare.service(home.store, home.service)
    return [] if service is None else [row for row in rows if row.person in service.staff]


def _mixed(rows: Sequence[Row]) -> Mixed:
    """One incident from its entries, in the order in which they were recorded."""
    first, event = rows[0], correcting.event_of(rows[0])
    assert isinstance(event, ev.Incident)  # noqa: S101  (its kind says so)
    done: dict[str, Done] = {}
    for one in (one for row in rows for one in _done(row)):
        done.setdefault(one.id, one)
    notes = tuple(note for row in rows for note in _notes(row))
    act = first.event_id.rpartition(".")[0]
    return Mixed(first.event_id, act, first.at, event.at, event.child, event.container, correcting.who_did(first),
                 tuple(done.values()), notes)  # fmt: skip


def _done(row: Row) -> Iterator[Done]:
    event = correcting.event_of(row)
    if isinstance(event, ev.Incident):
        yield from (Done(step, correcting.who_did(row), row.recorded_at) for step in event.steps)


def _notes(row: Row) -> Iterator[Note]:
    event = correcting.event_of(row)
    if isinstance(event, ev.Incident) and event.says:
        yield Note(event.says, correcting.who_did(row), row.recorded_at)


class Drunk(NamedTuple):
    """Who drank what: the child and its household, the milk's household and code where they are known."""

    home: Home
    child: str
    milk: Home | None
    container: str | None


def note(drunk: Drunk, act: Act, ticked: Sequence[str], says: str, *, now: int) -> bool:
    """Record an incident, once; between two families in both ledgers, the text only in that of the child who drank.

    False where it was recorded already, or whoever records may not.
    """
    ticked = list(dict.fromkeys([*ticked, LOGGED]))
    own = drunk.milk is None or drunk.milk.store.key == drunk.home.store.key
    entries: list[tuple[Home, dict[str, Any]]] = [
        (drunk.home, {"child": drunk.child, "container": drunk.container if own else None, "steps": ticked,
                      "says": says or None, "by": act.by})
    ]  # fmt: skip
    if drunk.milk is not None and not own:
        entries.append((drunk.milk, {"child": ANOTHER_CHILD, "container": drunk.container, "steps": ticked,
                                     "by": drunk.milk.member}))  # fmt: skip
    return _write(entries, act.id, act.at, now)


def add(homes: Sequence[Home], home: Home, mixed: Mixed, act: str, ticked: Sequence[str], says: str, *, by: str,
        now: int) -> bool:  # fmt: skip
    """Note what was done since; the steps also where the same incident stands in another family's ledger."""
    entries: list[tuple[Home, dict[str, Any]]] = [
        (home, {"child": mixed.child, "container": mixed.container, "steps": list(ticked), "says": says or None,
                "by": by, "at": mixed.written})
    ]  # fmt: skip
    for other in homes:
        same = next((one for one in incidents(other, now=now) if one.act == mixed.act), None)
        if same is not None and other.store.key != home.store.key and ticked:
            entries.append((other, {"child": same.child, "container": same.container, "steps": list(ticked),
                                    "by": other.member, "at": same.written}))  # fmt: skip
    return _write(entries, act, mixed.written, now)


def _write(entries: Sequence[tuple[Home, dict[str, Any]]], act: str, at: str, now: int) -> bool:
    if not all(may_record(home.role, [{"kind": "incident"}]) for home, _ in entries):
        return False
    with ExitStack() as all_of_it:
        for home, _ in sorted(entries, key=lambda entry: entry[0].store.key):
            all_of_it.enter_context(home.store.transaction())
        if entries[0][0].store.act(act):
            return False
        for home, fields in entries:
            _record(home, act, at, fields, now)
    return True


def _record(home: Home, act: str, at: str, fields: dict[str, Any], now: int) -> None:
    zone, _units = board.manners(home.store, now=now)
    writing = Act(act, by=str(fields.pop("by")), at=str(fields.pop("at", at)))
    writing.add("incident", noted=written_now(now, zone), **fields)
    record(home.store, [line_of(event) for event in writing.events], now=now, person=home.member)


__all__ = ["Drunk", "Mixed", "Step", "add", "handled", "incidents", "note", "steps"]
