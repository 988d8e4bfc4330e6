"""The same steps on every store, compared after each one."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test
from tests.stores import KINDS, Make, bottle, event, making, parsed, pour, void

from thawline.records.memory import MemoryStore
from thawline.records.store import GROUPS, Store

NAMES = ("A", "B", "C", "D", "a", "é")
IDS = tuple(f"{act}.{number}" for act in ("act", "ac", "é") for number in range(6))
TIMES = tuple(f"2027-02-0{day}T08:00:00Z" for day in (1, 2, 3))
SHARE = {"memory": 4, "sqlite": 6, "postgresql": 12}

names = st.sampled_from(NAMES)
ids = st.sampled_from((*IDS, "h", "nothing"))
times = st.sampled_from(TIMES)


@st.composite
def told(draw: st.DrawFn, name: str) -> bytes:
    """An event of any kind under an id."""
    kind = draw(st.integers(0, 8))
    if kind <= 1:
        return bottle(name, draw(names), draw(times))
    if kind <= 3:
        return pour(name, draw(names), draw(names))
    if kind <= 6:
        return void(name, draw(ids.filter(lambda target: target != name)))
    place = event("measured", name, draw(times), place="fridge", temp_c=4)
    return place if kind == 7 else event("nursed", name, draw(times), child="Mira")


@st.composite
def batches(draw: st.DrawFn) -> list[bytes]:
    """Events under ids of their own, voids of each other among them."""
    chosen = draw(st.lists(st.sampled_from(IDS), unique=True, min_size=1, max_size=5))
    return [draw(told(name)) for name in chosen]


class BrokenOffError(Exception):
    """Somebody pulled the plug."""


def machine(make: Make) -> type[RuleBasedStateMachine]:  # noqa: C901 - the rules of one machine
    """Two households each in a plain store and in the one under test."""

    class Twins(RuleBasedStateMachine):
        def __init__(self) -> None:
            super().__init__()
            self.pairs: list[tuple[Store, Store]] = [(MemoryStore(), make()) for _ in range(2)]
            self.clock = 0
            self.changed: set[int] = set()

        which = st.integers(0, 1)

        def put(self, which: int, lines: list[bytes], *, breaks: bool = False) -> None:
            self.clock += 1
            self.changed.add(which)
            for store in self.pairs[which]:
                try:
                    with store.transaction():
                        known = store.known([parsed(line).event_id for line in lines])
                        new = [parsed(line) for line in lines if parsed(line).event_id not in known]
                        store.add(new, recorded_at=self.clock, person="Marta")
                        if breaks:
                            raise BrokenOffError
                except BrokenOffError:
                    pass

        @rule(which=which, lines=batches())
        def add(self, which: int, lines: list[bytes]) -> None:
            self.put(which, lines)

        @rule(which=which, lines=batches())
        def break_off(self, which: int, lines: list[bytes]) -> None:
            self.put(which, lines, breaks=True)

        @rule(which=which, zone=st.sampled_from(("UTC", "Europe/Lisbon")))
        def settle_in(self, which: int, zone: str) -> None:
            self.put(which, [event("household", "h", zone=zone)])

        @rule(which=which, name=names, there=st.booleans(), refused=st.integers(0, 3), wake=st.none() | st.just(7))
        def settle(self, which: int, name: str, there: bool, refused: int, wake: int | None) -> None:
            self.changed.add(which)
            for store in self.pairs[which]:
                row = store.kins_of([name]).get(name)
                if row is not None:
                    store.settle([row._replace(open=there, refused=refused, wake_at=wake)])

        @rule(which=which, at=times, name=st.none() | names, limit=st.integers(1, 3), before=ids)
        def page(self, which: int, at: str, name: str | None, limit: int, before: str) -> None:
            start = (parsed(bottle("x", "A", at)).at, before)
            plain, other = (s.history(before=start, limit=limit, name=name) for s in self.pairs[which])
            assert plain == other

        @rule(which=which, wanted=st.lists(ids, max_size=4))
        def ask(self, which: int, wanted: list[str]) -> None:
            plain, other = self.pairs[which]
            assert plain.rows(wanted) == other.rows(wanted)
            assert plain.voided_by(wanted) == other.voided_by(wanted)
            assert plain.touched(wanted) == other.touched(wanted)

        @invariant()
        def same(self) -> None:
            for which in self.changed:
                plain, other = self.pairs[which]
                assert snapshot(plain) == snapshot(other)
            self.changed.clear()

        def teardown(self) -> None:
            self.changed = {0, 1}
            self.same()

    return Twins


def snapshot(store: Store) -> dict[str, Any]:
    """All that can be asked of a store, kins by their names in place of keys."""
    kins: dict[int, list[str]] = {}
    for name, row in sorted(store.kins_of(NAMES).items()):
        kins.setdefault(row.key, []).append(name)
    lines = store.kin_lines(list(kins))
    return {
        "standing": store.standing(),
        "lines": list(store.lines()),
        "groups": [store.group(group) for group in GROUPS],
        "later": [store.group(group, after=3) for group in GROUPS],
        "kins": {" ".join(kins[row.key]): row[1:] for row in store.all_kins()},
        "on the board": {" ".join(kins[row.key]) for row in store.kins()},
        "kin lines": {" ".join(found): lines[key] for key, found in kins.items()},
        "refused": store.refused(),
        "acts": [[row.event_id for row in store.act(act)] for act in ("act", "ac", "é")],
        "history": store.history(before=None, limit=99),
    }


@pytest.mark.parametrize("kind", KINDS)
def test_every_store_goes_the_same_way(request: pytest.FixtureRequest, kind: str) -> None:
    for make in making(request, kind):
        usual = settings()
        examples = max(5, usual.max_examples // SHARE[kind])
        run_state_machine_as_test(machine(make), settings=settings(usual, max_examples=examples))
