"""A childcare service's window on a ledger: what was handed to it and is there still, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple

from thawline.core import events as ev
from thawline.core.containers import Container
from thawline.core.fold import Fold
from thawline.core.ledger import Entry
from thawline.core.times import DAY
from thawline.records.store import KinRow, Store
from thawline.services.known import known, names_touched

# Milk given without saying where it lies is awaited for so long; of so many hand-overs at most.
_AWAITED, _LATEST = 3 * DAY, 200


class Site(NamedTuple):
    """A service as the ledger knows it: what hand-overs to it say, and its places."""

    name: str
    places: frozenset[str]


class Window(NamedTuple):
    """By the name of the service: containers with milk that are there, and those it has yet to take in."""

    there: Mapping[str, tuple[str, ...]]
    awaited: Mapping[str, tuple[str, ...]]


def inside(store: Store, sites: Sequence[Site], *, now: int) -> Window:
    """What stands in the windows of these services at `now`; what was taken back does not count."""
    cache = known(store)
    with cache.lock:
        rows = _kins(store, now)
        cache.refresh(store, rows, now)
        folds = [cache.kins[row.key].fold for row in rows]
    held: dict[str, Container] = {}
    where: dict[str, str] = {}
    for names, entries, refused in _together(folds):
        where |= trace((one for one in entries if one.id not in refused), sites, names)
    for fold in folds:
        held |= fold.containers
    return _sorted(where, held)


def _kins(store: Store, now: int) -> list[KinRow]:
    """Every kin with milk left, and those of the latest hand-overs: milk that is on its way counts as gone."""
    rows = store.history(before=None, limit=_LATEST, kinds=("handed_over",))
    recent = [ev.decoder.decode(row.line) for row in rows if row.at >= now - _AWAITED]
    handed = {name for event in recent for name in names_touched(event)}
    found = {row.key: row for row in (*store.kins(), *store.kins_of(sorted(handed)).values())}
    return list(found.values())


def _together(folds: Iterable[Fold]) -> Iterable[tuple[set[str], Sequence[Entry], set[str]]]:
    """The folds by the entries that they share, so that each entry is walked once."""
    found: dict[int, tuple[set[str], Sequence[Entry], set[str]]] = {}
    for fold in folds:
        names, _, refused = found.setdefault(id(fold.entries), (set(), fold.entries, set()))
        names |= set(fold.containers)
        refused |= {one.event for one in fold.refused}
    return found.values()


class Walk:
    """Where each container stands after the entries so far: in whose window, if in any."""

    def __init__(self, sites: Sequence[Site]) -> None:
        self.places = {site.name: site.places for site in sites}
        self.of_place = {place: site.name for site in sites for place in site.places}
        self.where: dict[str, str] = {}
        self.born: set[str] = set()

    def put(self, container: str, service: str | None) -> None:
        """Into that window, or out of any."""
        if service is None:
            self.where.pop(container, None)
        else:
            self.where[container] = service

    def take(self, event: ev.AnyEvent) -> None:
        """One more event, accepted by the ledger."""
        step = _STEPS.get(type(event))
        if step is not None:
            step(self, event)
        self.born.update(names_touched(event))

    def handed_over(self, event: ev.HandedOver) -> None:
        self.put(event.container, event.to if event.to in self.places else None)

    def received(self, event: ev.Received) -> None:
        self.put(event.container, self.of_place.get(event.place))

    def returned(self, event: ev.Returned) -> None:
        self.put(event.container, None)

    def moved(self, event: ev.Moved) -> None:
        # Taken anywhere else it has gone home, though nobody noted that it was returned.
        if event.to not in self.places.get(self.where.get(event.container, ""), ()):
            self.put(event.container, None)

    def poured(self, event: ev.Poured) -> None:
        """What is poured from containers there stays there; of anything that stood elsewhere nothing is shown."""
        services = {self.where.get(portion.container) for portion in event.from_}
        if event.into not in self.born and len(services) == 1:
            self.put(event.into, services.pop())


_STEPS: Mapping[type, Callable[[Walk, Any], None]] = MappingProxyType(
    {
        ev.HandedOver: Walk.handed_over, ev.Received: Walk.received, ev.Returned: Walk.returned,
        ev.Moved: Walk.moved, ev.Poured: Walk.poured,
    }
)  # fmt: skip


def trace(entries: Iterable[Entry], sites: Sequence[Site], names: Collection[str]) -> dict[str, str]:
    """In whose window each of these containers stands after entries in order, none of which was refused."""
    walk = Walk(sites)
    for entry in entries:
        touched = names_touched(entry.event)
        if touched and all(name in names for name in touched):
            walk.take(entry.event)
    return walk.where


def _sorted(where: Mapping[str, str], held: Mapping[str, Container]) -> Window:
    there: dict[str, tuple[str, ...]] = {}
    awaited: dict[str, tuple[str, ...]] = {}
    for name, service in where.items():
        container = held[name]
        if container.left is None:
            there[service] = (*there.get(service, ()), name)
        elif container.away:
            awaited[service] = (*awaited.get(service, ()), name)
    return Window(there, awaited)
