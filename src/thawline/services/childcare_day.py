"""The day's record of a childcare service: what happened to milk while it was in its window, as the ledger has it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core import events as ev
from thawline.core.ledger import Entry
from thawline.core.times import day_start
from thawline.records.store import PLACES, Store
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_window import Walk
from thawline.services.known import fold_kins, ground_now, known, names_touched

# Of other events, such as why a parent holds milk back, a service is told nothing.
_TOLD = (
    ev.HandedOver, ev.Received, ev.Returned, ev.Moved, ev.Warmed, ev.ThawSeen, ev.FeedBegan, ev.FeedEnded,
    ev.Discarded, ev.Counted, ev.Measured, ev.Poured, ev.Checked, ev.Incident,
)  # fmt: skip
_PAGE = 500


class Happened(NamedTuple):
    """One line of the day: when, by whom, the event, of which container (None: the service's own place).

    `ml` is how much was fed, thrown away or poured off, `left_ml` what was in it afterwards; None where neither counts.
    """

    at: int
    by: str
    event: ev.AnyEvent
    container: str | None
    ml: float | None = None
    left_ml: float | None = None


def day_of(store: Store, service: ServiceNow, day: str, *, now: int) -> list[Happened]:
    """What happened that day (ISO, on the household's clock) to what was in the service's window, in order."""
    base = ground_now(store, now)
    here = ZoneInfo(base.settings.zone)
    start = day_start(day, here)
    end = day_start((date.fromisoformat(day) + timedelta(days=1)).isoformat(), here)
    names = _touched(store, start, end)
    found = [*_of_milk(store, service, names, now), *_of_places(store, service, now)]
    return sorted((one for one in found if start <= one.at < end), key=lambda one: one.at)


def _touched(store: Store, start: int, end: int) -> set[str]:
    """The containers of which anything was noted between two instants."""
    names: set[str] = set()
    before: tuple[int, str] | None = (end, "")
    while before is not None:
        rows = store.history(before=before, limit=_PAGE)
        names |= {name for row in rows if row.at >= start for name in names_touched(ev.decoder.decode(row.line))}
        more = len(rows) == _PAGE and rows[-1].at >= start
        before = (rows[-1].at, rows[-1].event_id) if more else None
    return names


def _of_milk(store: Store, service: ServiceNow, names: set[str], now: int) -> Iterator[Happened]:
    kins = {row.key for row in store.kins_of(sorted(names)).values()}
    lines = [line for kin in store.kin_lines(sorted(kins)).values() for line in kin]
    parts, _ = fold_kins(ground_now(store, now), {0: lines}, now) if lines else ({}, {})
    for part in parts.values():
        refused = {one.event for one in part.refused}
        yield from _walked(service, [one for one in part.entries if one.id not in refused])


def _walked(service: ServiceNow, entries: Sequence[Entry]) -> Iterator[Happened]:
    walk, amounts = Walk([service.site]), Amounts()
    for entry in entries:
        names = _containers(entry.event)
        before = {name for name in names if name in walk.where}
        walk.take(entry.event)
        changed = amounts.take(entry.event)
        for name in names:
            if isinstance(entry.event, _TOLD) and (name in before or name in walk.where):
                ml = changed.get(name)
                yield Happened(entry.at, entry.event.by or "", entry.event, name, ml, amounts.ml.get(name))


def _containers(event: ev.AnyEvent) -> list[str]:
    """The containers that a line of the day is about; of a pour only the one that takes it."""
    return [event.into] if isinstance(event, ev.Poured) else names_touched(event)


def _of_places(store: Store, service: ServiceNow, now: int) -> Iterator[Happened]:
    """Temperatures that were read in the service's own refrigerator or freezer."""
    cache = known(store)
    with cache.lock:
        base = cache.ground(store, now)
    parts, _ = fold_kins(base, {0: store.group(PLACES)}, now)
    for part in parts.values():
        refused = {one.event for one in part.refused}
        for entry in part.entries:
            event = entry.event
            if isinstance(event, ev.Measured) and event.place in service.site.places and entry.id not in refused:
                yield Happened(entry.at, event.by or "", event, None)


class Amounts:
    """How much is in each container after the events so far, in mL."""

    def __init__(self) -> None:
        self.ml: dict[str, float] = {}

    def take(self, event: ev.AnyEvent) -> dict[str, float]:
        """One more event, accepted by the ledger; how much it took out of, or put into, the containers it names."""
        then = dict(self._after(event))
        changed = {name: abs(self.ml.get(name, 0.0) - ml) for name, ml in then.items()}
        self.ml |= then
        return changed

    def _after(self, event: ev.AnyEvent) -> Iterator[tuple[str, float]]:
        if isinstance(event, ev.Expressed):
            yield from ((one.container, one.ml) for one in event.into)
        elif isinstance(event, (ev.Stocked, ev.Counted)):
            yield event.container, event.ml
        elif isinstance(event, ev.FeedEnded):
            yield event.container, event.left_ml
        elif isinstance(event, ev.Discarded):
            there = self.ml.get(event.container, 0.0)
            yield event.container, max(0.0, there - (there if event.ml is None else event.ml))
        elif isinstance(event, ev.Poured):
            yield from self._poured(event)

    def _poured(self, event: ev.Poured) -> Iterator[tuple[str, float]]:
        out: dict[str, float] = {}
        for one in event.from_:
            out[one.container] = out.get(one.container, 0.0) + one.ml
        taken = {name: min(ml, self.ml.get(name, 0.0)) for name, ml in out.items()}
        yield from ((name, self.ml.get(name, 0.0) - ml) for name, ml in taken.items())
        yield event.into, self.ml.get(event.into, 0.0) + sum(taken.values())
