"""The board: what is there, until when, and what may be done with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.containers import Container
from thawline.core.guideline import Guideline
from thawline.core.judge import Judge
from thawline.core.ledger import Refusal
from thawline.core.replay import Settings, urgency
from thawline.core.times import local, zone_named
from thawline.core.verdict import Verdict, verdict
from thawline.records.store import Store
from thawline.services.known import Ground, Known, judged, known

# Kinds of places from the warmest to the coldest.
WARMEST_FIRST = ("room", "cooler", "refrigerator", "freezer_compartment", "freezer", "deep_freezer")


class PlaceNow(NamedTuple):
    """A place as it is described at the moment; `temp_c` its last known temperature."""

    name: str
    kind: str
    temp_c: float | None


class ChildNow(NamedTuple):
    """A child of the household."""

    name: str
    born: str
    care: str


class Board(NamedTuple):
    """A household's milk at `now`, most urgent first; verdicts carry no options (ask `with_options`)."""

    now: int
    settings: Settings
    units: tuple[str, str]
    guideline: Guideline
    also: tuple[Guideline, ...]
    places: tuple[PlaceNow, ...]
    children: tuple[ChildNow, ...]
    verdicts: list[Verdict]
    refused: int
    clock_wrong: bool
    feeding: frozenset[str]
    away: frozenset[str] = frozenset()

    def place(self, name: str | None) -> PlaceNow | None:
        """The place of that name."""
        return next((place for place in self.places if place.name == name), None)

    def of_kind(self, *kinds: str) -> list[PlaceNow]:
        """The places of those kinds that are at home, not with a childcare service."""
        return [place for place in self.places if place.kind in kinds and place.name not in self.away]


class One(NamedTuple):
    """One container, also one that is gone: its verdict with options, what did not fit, whose milk, and why held."""

    verdict: Verdict
    container: Container
    refused: list[Refusal]
    place_kind: str
    mothers: tuple[str, ...] = ()
    held: tuple[str, ...] = ()


def freezer_of(place: str) -> str:
    """What the freezer is called of a childcare service whose refrigerator is called so."""
    return f"{place.removesuffix(' refrigerator')} freezer"


def away_of(store: Store) -> frozenset[str]:
    """The places of the ledger that are not at home: the refrigerators and freezers of childcare services."""
    return frozenset(name for place in store.away() for name in (place, freezer_of(place)))


def clock_wrong(store: Store, now: int) -> bool:
    """Whether the computer's clock stands before its own newest record."""
    return now < store.standing().recorded_at


def _places(base: Ground, away: frozenset[str], now: int) -> tuple[PlaceNow, ...]:
    """By name, those that are not at home last."""
    found = [PlaceNow(name, line.kind_at(now), line.temp_at(now)) for name, line in base.places.lines.items()]
    return tuple(sorted(found, key=lambda place: (place.name in away, place.name)))


def _children(base: Ground) -> tuple[ChildNow, ...]:
    found = {e.event.child: ChildNow(e.event.child, e.event.born, e.event.care)
             for e in base.entries if isinstance(e.event, ev.Child)}  # fmt: skip
    return tuple(found.values())


def units(base: Ground, now: int) -> tuple[str, str]:
    """The unit of amounts (`ml` or `fl_oz`) and of temperatures (`C` or `F`)."""
    amount, temp = "ml", "C"
    for entry in base.entries:
        event = entry.event
        if isinstance(event, ev.Household) and event.units is not None and entry.at <= now:
            given = event.units
            words = given.replace(",", " ").split() if isinstance(given, str) else given
            words = list(words.values()) if isinstance(words, dict) else words
            amount = "fl_oz" if "fl_oz" in words else "ml"
            temp = "F" if "F" in words else "C"
    return amount, temp


def board(store: Store, *, now: int) -> Board:
    """The board at `now`, from what is cached where that still holds; raises `GuidelineError`."""
    cache = known(store)
    with cache.lock:
        rows = store.kins()
        base = cache.refresh(store, rows, now)
        verdicts = [one for row in rows for one in cache.verdicts(base, row.key, now)]
        feeding = {name for row in rows for name, one in cache.kins[row.key].fold.containers.items() if one.feed}
        refused = cache.refused(store, base, rows, now)
        wrong = now < cache.standing.recorded_at
        keep = {row.key for row in rows}
        for key in [key for key in cache.kins if key not in keep]:
            del cache.kins[key]
    verdicts.sort(key=urgency)
    away = away_of(store)
    return Board(
        now, base.settings, units(base, now), base.rules.guideline, base.rules.all[1:], _places(base, away, now),
        _children(base), verdicts, refused, wrong, frozenset(feeding), away,
    )  # fmt: skip


def with_options(store: Store, names: Sequence[str], *, now: int) -> dict[str, Verdict]:
    """The verdicts on these containers with what may be done with them; those gone or unknown are left out."""
    cache = known(store)
    with cache.lock:
        kins = store.kins_of(names)
        rows = list({row.key: row for row in kins.values()}.values())
        base = cache.refresh(store, rows, now)
        away = away_of(store)
        found = [one for row in rows for one in judged(base, cache.kins[row.key].fold, now, options=True, avoid=away)]
    return {one.container: one for one in found if one.container in names}


def one(store: Store, name: str, *, now: int) -> One | None:
    """One container, there or gone; None where no event names it or none of them fits."""
    cache: Known = known(store)
    with cache.lock:
        kin = store.kins_of([name]).get(name)
        if kin is None:
            return None
        base = cache.refresh(store, [kin], now)
        state = cache.kins[kin.key]
        container = state.fold.containers.get(name)
        if container is None:
            return None
        bounds, away = base.bounds(state.fold), away_of(store)
        judge = Judge(state.fold, base.rules, bounds, now=now, everything=True, avoid=away)
        filling = judge.fillings[name]
        found = verdict(judge, filling, base.settings.hospital, base.settings.children, options=True)
        kind = base.places.lines[container.place].kind_at(now)
        mothers = tuple(sorted({clock.mother for clock in filling.clocks if clock.mother is not None}))
        held = tuple(sorted({why for clock in filling.clocks for why in clock.held}))
        return One(found, container, list(state.refused), kind, mothers, held)


def coldness(place: PlaceNow) -> tuple[int, float]:
    """A key that sorts places from the warmest on: by kind, then by the last known temperature."""
    return WARMEST_FIRST.index(place.kind), math.inf if place.temp_c is None else -place.temp_c


def warmest(board: Board) -> PlaceNow | None:
    """The warmest place, most of all a room: where milk counts as lying while nobody said where it went."""
    return min(board.places, key=coldness, default=None)


def hospital_only(board: Board) -> bool:
    """Whether every child is under a hospital's care, so that no home limit may be shown."""
    hospital = board.settings.hospital
    return bool(hospital) and hospital == board.settings.children and board.guideline.role != "care_team"


def today(board: Board) -> str:
    """The day on the household's clock, ISO."""
    return local(board.now, zone_named(board.settings.zone)).date().isoformat()


def manners(store: Store, *, now: int) -> tuple[str, tuple[str, str]]:
    """The household's zone, and its units of amounts and temperatures."""
    cache = known(store)
    with cache.lock:
        base = cache.ground(store, now)
    return base.settings.zone, units(base, now)
