"""What recording keeps, what it keeps once, and what the board makes of it as time passes."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.households import Tale, micros, plain, tales
from tests.stores import bottle, event, void

from thawline.core.guideline import GuidelineError
from thawline.core.replay import moment, run
from thawline.records.memory import MemoryStore
from thawline.records.store import Store
from thawline.services import board
from thawline.services.looking_ahead import preview
from thawline.services.recording import line_of, record

LONG_AGO = "2026-01-01T00:00:00Z"
HOUSEHOLD = event("household", "h", LONG_AGO, zone="UTC")
FRIDGE = event("place", "p", LONG_AGO, place="fridge", is_="refrigerator")
MIRA = event("child", "mira", LONG_AGO, child="Mira", born="2027-01-01", care="home")
NOW = moment("2027-02-03T12:00:00Z")
LATER = moment("2027-02-03T20:00:00Z")


@pytest.fixture
def store() -> MemoryStore:
    found = MemoryStore()
    record(found, [HOUSEHOLD, FRIDGE, MIRA, bottle("a", "A")], now=NOW)
    return found


def same_as_replay(store: Store, now: int) -> None:
    expected = run(store.lines(), now=now)
    found = board.board(store, now=now)
    assert found.verdicts == [plain(one) for one in expected.verdicts]
    assert found.refused == len(expected.fold.refused)


def there(store: Store, now: int) -> list[str]:
    same_as_replay(store, now)
    return [one.container for one in board.board(store, now=now).verdicts]


# Sending again


@given(tale=tales(), data=st.data())
def test_sending_again_changes_nothing(tale: Tale, data: st.DataObject) -> None:
    store = MemoryStore()
    lines = [line_of(one) for one in tale.events]
    now = micros(tale.looks[-1][-1])
    assert len(record(store, lines, now=now).added) == len(lines)
    standing, rows = store.standing(), store.all_kins()
    again = data.draw(st.lists(st.sampled_from(lines), max_size=9))
    spaced = [json.dumps(json.loads(line), sort_keys=True, indent=None).encode() for line in again]
    for some in (lines[: len(again)], again, spaced):
        found = record(store, some, now=now + 1)
        assert not found.added
        assert not found.refused
        assert len(found.known) == len(some)
    assert (store.standing(), store.all_kins()) == (standing, rows)
    assert list(store.lines()) == lines


def test_a_request_that_was_cut_off_is_completed_by_sending_it_again(store: MemoryStore) -> None:
    batch = [bottle("b", "B"), bottle("c", "C"), bottle("d", "D")]
    record(store, batch[:2], now=NOW)
    found = record(store, batch, now=NOW)
    assert (found.added, found.known) == (("d",), ("b", "c"))
    assert store.standing().revision == 7


def test_the_same_event_twice_in_one_request_counts_once(store: MemoryStore) -> None:
    found = record(store, [bottle("b", "B"), bottle("b", "B")], now=NOW)
    assert (found.added, found.known, found.refused) == (("b",), ("b",), ())


@pytest.mark.parametrize("at", [0, 1, 2])
def test_another_content_under_a_known_id_keeps_nothing_of_the_request(store: MemoryStore, at: int) -> None:
    batch = [bottle("b", "B"), bottle("c", "C")]
    batch.insert(at, bottle("a", "other"))
    before = store.standing()
    found = record(store, batch, now=NOW + 5)
    assert (found.added, found.known) == ((), ())
    assert [(refusal.event, refusal.code) for refusal in found.refused] == [("a", "duplicate_differs")]
    assert store.standing() == before
    assert store.taken(["B", "C", "other"]) == set()


def test_where_parts_may_be_kept_the_others_are(store: MemoryStore) -> None:
    found = record(store, [bottle("b", "B"), bottle("a", "other"), b"{"], now=NOW, whole=False)
    assert found.added == ("b",)
    assert {refusal.code for refusal in found.refused} == {"duplicate_differs", "bad_event"}
    assert there(store, NOW) == ["A", "B"]


def test_two_contents_under_one_new_id_are_refused(store: MemoryStore) -> None:
    found = record(store, [bottle("b", "B"), bottle("b", "C")], now=NOW)
    assert [refusal.code for refusal in found.refused] == ["duplicate_differs"]
    assert store.standing().revision == 4


def test_a_character_that_no_database_keeps_is_refused(store: MemoryStore) -> None:
    found = record(store, [bottle("b", "a\0b")], now=NOW)
    assert [refusal.code for refusal in found.refused] == ["bad_event"]


# The clock


def test_a_clock_before_the_newest_record_is_wrong(store: MemoryStore) -> None:
    assert board.board(store, now=NOW - 1).clock_wrong
    assert not board.board(store, now=NOW).clock_wrong
    assert not board.board(store, now=LATER).clock_wrong


def test_old_events_brought_in_do_not_make_the_clock_wrong(store: MemoryStore) -> None:
    record(store, [bottle("old", "OLD", "2026-05-05T08:00:00Z")], now=NOW + 1)
    assert not board.board(store, now=NOW + 1).clock_wrong


def test_events_ahead_do_not_make_the_clock_wrong(store: MemoryStore) -> None:
    record(store, [bottle("ahead", "AHEAD", "2031-05-05T08:00:00Z")], now=NOW + 1)
    found = board.board(store, now=NOW + 1)
    assert not found.clock_wrong
    assert [one.container for one in found.verdicts] == ["A"]


def test_a_record_by_a_slow_clock_leaves_the_newest_in_place(store: MemoryStore) -> None:
    record(store, [bottle("b", "B")], now=NOW - 9)
    assert board.board(store, now=NOW - 1).clock_wrong
    assert not board.board(store, now=NOW).clock_wrong


# What comes true without anything being recorded

AHEAD = "2027-02-03T16:00:00Z"


def test_milk_that_lies_ahead_comes_and_goes_by_itself(store: MemoryStore) -> None:
    gone = event("discarded", "d", AHEAD, container="A")
    record(store, [gone, bottle("b", "B", "2027-02-03T14:00:00Z")], now=NOW)
    assert there(store, NOW) == ["A"]
    assert there(store, moment("2027-02-03T15:00:00Z")) == ["A", "B"]
    assert there(store, LATER) == ["B"]


def test_milk_that_is_gone_is_not_looked_at_again(store: MemoryStore) -> None:
    record(store, [bottle("b", "B"), event("discarded", "d", "2027-02-03T09:00:00Z", container="A")], now=NOW)
    assert store.kins() == [store.kins_of(["B"])["B"]]
    record(store, [void("v", "d")], now=NOW)
    assert len(store.kins()) == 2


def test_a_void_ahead_brings_milk_back(store: MemoryStore) -> None:
    record(store, [event("discarded", "d", "2027-02-03T09:00:00Z", container="A")], now=NOW)
    record(store, [event("voided", "v", AHEAD, event="d")], now=NOW)
    assert there(store, NOW) == []
    assert there(store, LATER) == ["A"]


def test_a_setting_voided_and_restored_ahead_takes_milk_away_and_brings_it_back(store: MemoryStore) -> None:
    voids = [event("voided", "v", "2027-02-03T09:00:00Z", event="p"), event("voided", "w", AHEAD, event="v")]
    record(store, [bottle("b", "B"), *voids], now=NOW)
    assert there(store, NOW) == []
    assert board.board(store, now=NOW).refused == 2
    assert there(store, LATER) == ["A", "B"]
    assert board.board(store, now=LATER).refused == 0


def test_a_place_taken_back_ahead_takes_its_milk_off_the_board(store: MemoryStore) -> None:
    record(store, [bottle("b", "B"), event("voided", "v", AHEAD, event="p")], now=NOW)
    assert there(store, NOW) == ["A", "B"]
    assert there(store, LATER) == []
    assert board.board(store, now=LATER).refused == 2


def test_under_a_care_team_the_reason_names_the_present_at_each_look(store: MemoryStore) -> None:
    record(store, [event("child", "mira2", LONG_AGO, child="Mira", born="2027-01-01", care="hospital")], now=NOW)
    for now in (NOW, NOW + 1, LATER):
        same_as_replay(store, now)
        (found,) = board.board(store, now=now).verdicts
        assert found.why[0].start == now


@pytest.mark.parametrize("steps", [[0], [-1, 0, 1, 2]])
def test_the_board_turns_at_the_very_instant_of_a_limit(store: MemoryStore, steps: list[int]) -> None:
    (found,) = board.board(store, now=NOW).verdicts
    assert found.use_by is not None
    for days in range(6):
        for step in steps:
            same_as_replay(store, found.use_by - 86_400_000_000 * (5 - days) + step)


# What did not fit


@pytest.mark.parametrize(
    ("line", "mended_by"),
    [
        (event("nursed", "x", child="Zoe"), event("child", "z", child="Zoe", born="2027-01-01", care="home")),
        (event("measured", "x", place="shed", temp_c=4), event("place", "z", place="shed", is_="room")),
        (event("power_lost", "x", place="shed"), event("place", "z", place="shed", is_="freezer")),
        (event("moved", "x", container="A", to="shed"), event("place", "z", place="shed", is_="freezer")),
        (event("counted", "x", "2027-02-03T09:00:00Z", container="B", ml=9), bottle("z", "B")),
        (void("x", "z"), event("nursed", "z", child="Mira")),
    ],
)
def test_an_event_that_does_not_fit_is_counted_until_what_it_lacks_arrives(
    store: MemoryStore, line: bytes, mended_by: bytes
) -> None:
    counts = []
    for new in (line, mended_by, event("voided", "u", "2027-02-03T11:00:00Z", event="z")):
        record(store, [new], now=NOW)
        same_as_replay(store, NOW)
        counts.append(board.board(store, now=NOW).refused)
    assert counts[:2] == [1, 0]


def test_voids_that_void_each_other_are_counted_and_one_that_voids_such_a_void_is_not(store: MemoryStore) -> None:
    record(store, [void("1", "2"), void("2", "1"), void("3", "1"), void("4", "nothing"), void("5", "4")], now=NOW)
    same_as_replay(store, NOW)
    assert board.board(store, now=NOW).refused == 3


def test_an_event_ahead_is_not_counted_before_its_time(store: MemoryStore) -> None:
    record(store, [event("nursed", "n", AHEAD, child="Zoe"), event("voided", "v", AHEAD, event="nothing")], now=NOW)
    for now, expected in ((NOW, 0), (LATER, 2)):
        same_as_replay(store, now)
        assert board.board(store, now=now).refused == expected


# A guideline that is not there


def test_a_guideline_that_is_not_known_can_be_taken_back(store: MemoryStore) -> None:
    record(store, [event("household", "h2", "2027-02-01T00:00:00Z", zone="UTC", guideline="nobody")], now=NOW)
    with pytest.raises(GuidelineError):
        board.board(store, now=NOW)
    record(store, [void("v", "h2")], now=NOW)
    assert there(store, NOW) == ["A"]


# Looking ahead


def undoing(store: Store, target: str) -> Any:
    return preview(store, [{"id": "u", "at": "2027-02-03T11:00:00Z", "kind": "voided", "event": target}], now=NOW)


@pytest.mark.parametrize(
    "line",
    [
        event("nursed", "x", child="Mira"),
        event("measured", "x", place="fridge", temp_c=4),
        event("moved", "x", "2027-02-03T09:00:00Z", container="A", to="fridge"),
        event("place", "x", place="shed", is_="room"),
        void("x", "a"),
    ],
)
def test_anything_recorded_can_be_taken_back(store: MemoryStore, line: bytes) -> None:
    record(store, [line], now=NOW)
    assert undoing(store, "x").refused == ()


def test_taking_back_what_is_not_there_does_not_fit(store: MemoryStore) -> None:
    assert [refusal.event for refusal in undoing(store, "nothing").refused] == ["u"]


def test_a_preview_writes_nothing(store: MemoryStore) -> None:
    before = store.standing(), list(store.lines()), store.all_kins()
    undoing(store, "a")
    assert (store.standing(), list(store.lines()), store.all_kins()) == before
