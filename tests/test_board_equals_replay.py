"""What the board says, from what it keeps between two looks, is what a replay of the whole ledger says."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from tests.households import Tale, micros, plain, tales
from tests.stores import KINDS, Make, making

from thawline.core.replay import Replay, run
from thawline.records.memory import MemoryStore
from thawline.records.store import Store
from thawline.services import board
from thawline.services.known import forget
from thawline.services.ledger_bounds import of_ledger
from thawline.services.looking_ahead import preview
from thawline.services.recording import line_of, record

SHARE = {"memory": 1, "sqlite": 6, "postgresql": 10}


@pytest.fixture(params=KINDS)
def kind_of_store(request: pytest.FixtureRequest) -> Any:
    for make in making(request, request.param):
        yield request.param, make


def few(kind: str) -> settings:
    """As many examples as a kind of store has time for."""
    return settings(
        max_examples=max(5, settings().max_examples // SHARE[kind]),
        suppress_health_check=[*settings().suppress_health_check, HealthCheck.function_scoped_fixture],
    )


def replayed(store: Store, minute: int, *, everything: bool = False) -> Replay:
    lines, now = list(store.lines()), micros(minute)
    return run(lines, now=now, everything=everything, bounds=of_ledger(lines, now=now))


def keep(store: Store, batch: list[dict[str, Any]], minute: int) -> None:
    found = record(store, [line_of(event) for event in batch], now=micros(minute))
    assert not found.refused


def agrees(store: Store, minute: int) -> None:
    expected = replayed(store, minute)
    found = board.board(store, now=micros(minute))
    assert found.verdicts == [plain(one) for one in expected.verdicts]
    assert found.refused == len(expected.fold.refused), expected.fold.refused
    assert found.settings == expected.settings
    assert (found.guideline, found.also) == (expected.guideline, expected.also)
    missed = {one.container for one in expected.verdicts} - set(_names_of(store))
    assert not missed


def _names_of(store: Store) -> list[str]:
    keys = {row.key for row in store.kins()}
    every = [f"{letter}" for letter in "ABCDEFG"]
    return [name for name, row in store.kins_of(every).items() if row.key in keys]


def agrees_one_by_one(store: Store, minute: int) -> None:
    expected = {one.container: one for one in replayed(store, minute, everything=True).verdicts}
    there = {one.container: one for one in replayed(store, minute).verdicts}
    assert board.with_options(store, [*expected, "unknown"], now=micros(minute)) == there
    for name, verdict in expected.items():
        found = board.one(store, name, now=micros(minute))
        assert found is not None
        assert found.verdict == verdict
    assert board.one(store, "unknown", now=micros(minute)) is None


def test_the_board_says_what_a_replay_says(kind_of_store: tuple[str, Make]) -> None:
    kind, make = kind_of_store

    @few(kind)
    @given(tale=tales())
    def holds(tale: Tale) -> None:
        store = make()
        for batch, minutes in zip(tale.batches, tale.looks, strict=True):
            keep(store, batch, minutes[0])
            for minute in minutes:
                agrees(store, minute)
        forget(store)

    holds()


def test_each_container_is_told_of_as_a_replay_tells(kind_of_store: tuple[str, Make]) -> None:
    kind, make = kind_of_store

    @few(kind)
    @given(tale=tales())
    def holds(tale: Tale) -> None:
        store = make()
        for batch, minutes in zip(tale.batches, tale.looks, strict=True):
            keep(store, batch, minutes[0])
            agrees_one_by_one(store, minutes[-1])
            agrees(store, minutes[-1])
        forget(store)

    holds()


def refusals(found: Replay) -> set[tuple[str, str]]:
    return {(refusal.event, refusal.code) for refusal in found.fold.refused}


@given(tale=tales())
def test_a_preview_says_what_then_comes_true(tale: Tale) -> None:
    store = MemoryStore()
    for batch, minutes in zip(tale.batches, tale.looks, strict=True):
        now = minutes[0]
        seen = preview(store, batch, now=micros(now))
        before = replayed(store, now, everything=True)
        keep(store, batch, now)
        after = replayed(store, now, everything=True)
        earlier = {one.container: plain(one) for one in before.verdicts}
        later = {one.container: plain(one) for one in after.verdicts}
        assert seen.before == {name: earlier[name] for name in seen.before}
        assert seen.after == {name: later[name] for name in seen.after}
        touched = store.touched([event["id"] for event in batch])
        assert touched & earlier.keys() <= seen.before.keys()
        assert touched & later.keys() <= seen.after.keys()
        told = {(refusal.event, refusal.code) for refusal in seen.refused}
        own = {event["id"] for event in batch}
        assert told <= refusals(after) - refusals(before)
        assert {row for row in refusals(after) if row[0] in own} <= told
        agrees(store, now)
    forget(store)
