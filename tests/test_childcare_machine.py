"""The window holds exactly what was handed over and is there, in any order of hand-overs, returns, pours and voids."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from thawline.core.replay import moment
from thawline.core.times import MINUTE, written, zone_named
from thawline.records.memory import MemoryStore
from thawline.services import recording
from thawline.services.childcare_window import Site, inside

START = moment("2027-02-03T06:00:00+00:00")
ZONE = zone_named("Europe/Lisbon")
HOME = ("fridge", "cooler bag")
SITES = (Site("Oak", frozenset({"oak fridge", "oak freezer"})), Site("Elm", frozenset({"elm fridge"})))
PLACES = (*HOME, "oak fridge", "oak freezer", "elm fridge")
CODES = ("A", "B", "C", "D", "E")

codes = st.sampled_from(CODES)
places = st.sampled_from(PLACES)
takers = st.sampled_from(("Oak", "Elm", "Oak ", "grandmother"))


class Plain:
    """The same told once more, plainly: container by container, from the acts that still stand."""

    def __init__(self) -> None:
        self.window: dict[str, str | None] = {}
        self.here: set[str] = set()
        self.away: set[str] = set()
        self.known: set[str] = set()

    def act(self, does: str, code: str, *more: Any) -> None:
        if does == "new" and code not in self.known:
            self.known.add(code)
            self.here.add(code)
        elif does in ("received", "returned") and code in self.here | self.away:
            self.away.discard(code)
            self.here.add(code)
            of = next((site.name for site in SITES if more[0] in site.places), None)
            self.window[code] = of if does == "received" else None
        elif code in self.here:
            self._there(does, code, *more)

    def _there(self, does: str, code: str, *more: Any) -> None:
        if does == "gone":
            self.here.discard(code)
        elif does == "over":
            to, place = more
            self.window[code] = to if to in [site.name for site in SITES] else None
            if place is None:
                self.here.discard(code)
                self.away.add(code)
        elif does == "moved":
            site = next((site for site in SITES if site.name == self.window.get(code)), None)
            if site is not None and more[0] not in site.places:
                self.window[code] = None
        elif does == "pour" and more[0] != code and (more[0] in self.here or more[0] not in self.known):
            if more[0] not in self.known:
                self.window[more[0]] = self.window.get(code)
            self.known.add(more[0])
            self.here.add(more[0])


class Windows(RuleBasedStateMachine):
    """One household, two services."""

    @initialize()
    def begin(self) -> None:
        self.store = MemoryStore()
        self.now = START
        self.acts: list[tuple[str, tuple[Any, ...]]] = []
        self.voids: list[tuple[str, str]] = []
        self.note("household", zone="Europe/Lisbon")
        for place in PLACES:
            self.note("place", place=place, **{"is": "freezer" if "freezer" in place else "refrigerator"})
        self.note("child", child="Mira", born="2026-12-01", care="home")

    def note(self, kind: str, **fields: Any) -> str:
        """Record an event a minute later."""
        self.now += MINUTE
        name = f"e{self.now}"
        event = {"id": name, "at": written(self.now, ZONE), "kind": kind, **fields}
        found = recording.record(self.store, [recording.line_of(event)], now=self.now)
        assert not found.refused
        return name

    def did(self, name: str, *act: Any) -> None:
        self.acts.append((name, act))

    @rule(code=codes)
    def new(self, code: str) -> None:
        if code not in {act[1] for _, act in self.acts if act[0] == "new"} and code not in self.poured_into():
            self.did(self.note("expressed", into=[{"container": code, "ml": 4000}], place="fridge"), "new", code)

    def poured_into(self) -> set[str]:
        return {act[2] for _, act in self.acts if act[0] == "pour"}

    @rule(code=codes, to=takers, place=st.none() | places)
    def hand_over(self, code: str, to: str, place: str | None) -> None:
        fields = {} if place is None else {"place": place}
        self.did(self.note("handed_over", container=code, to=to, **fields), "over", code, to, place)

    @rule(code=codes, place=places)
    def receive(self, code: str, place: str) -> None:
        self.did(self.note("received", container=code, place=place), "received", code, place)

    @rule(code=codes, place=places)
    def give_back(self, code: str, place: str) -> None:
        self.did(self.note("returned", container=code, place=place), "returned", code, place)

    @rule(code=codes, place=places)
    def move(self, code: str, place: str) -> None:
        self.did(self.note("moved", container=code, to=place), "moved", code, place)

    @rule(code=codes, into=codes)
    def pour(self, code: str, into: str) -> None:
        portions = [{"container": code, "ml": 1}]
        self.did(self.note("poured", **{"from": portions}, into=into), "pour", code, into)
        # So that no container of this machine is ever poured empty.
        self.note("counted", container=into, ml=4000)

    @rule(code=codes)
    def feed(self, code: str) -> None:
        self.note("feed_began", container=code, child="Mira")
        self.note("feed_ended", container=code, left_ml=500)
        self.note("counted", container=code, ml=4000)

    @rule(code=codes)
    def throw_away(self, code: str) -> None:
        self.did(self.note("discarded", container=code), "gone", code)

    @precondition(lambda self: bool(getattr(self, "acts", None)))
    @rule(data=st.data())
    def void(self, data: st.DataObject) -> None:
        targets = [name for name, act in self.acts if act[0] not in ("new", "pour")]
        targets += [name for name, _ in self.voids]
        if targets:
            target = data.draw(st.sampled_from(targets))
            self.voids.append((self.note("voided", event=target), target))

    def standing(self) -> Plain:
        """The plain account of what still stands."""
        taken: set[str] = set()
        for name, target in reversed(self.voids):
            if name not in taken:
                taken.add(target)
        plain = Plain()
        for name, act in self.acts:
            if name not in taken:
                plain.act(*act)
        return plain

    @invariant()
    def the_windows_hold_what_was_handed_over_and_nothing_else(self) -> None:
        if not hasattr(self, "acts"):
            return
        plain = self.standing()
        found = inside(self.store, SITES, now=self.now)
        for site in SITES:
            there = {code for code in plain.here if plain.window.get(code) == site.name}
            away = {code for code in plain.away if plain.window.get(code) == site.name}
            assert set(found.there.get(site.name, ())) == there
            assert set(found.awaited.get(site.name, ())) == away


TestWindows = Windows.TestCase
