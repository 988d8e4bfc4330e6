"""A ledger out and in again: each event to the byte, each once, whatever the file holds besides."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.households import Tale, tales

from thawline.core import events as ev
from thawline.core.ledger import Refusal
from thawline.core.replay import moment, run
from thawline.records.memory import MemoryStore
from thawline.services import people, transfer
from thawline.services.demo import demo_ledger
from thawline.services.people import CannotError
from thawline.services.recording import line_of, parse

NOW = moment("2027-03-11T14:20:00+00:00")


def nursed(name: str, **more: Any) -> bytes:
    return line_of({"id": name, "at": "2027-03-01T08:00:00+00:00", "kind": "nursed", "child": "Mira", **more})


def out(store: Any) -> list[bytes]:
    return list(transfer.take_out(store))


def firsts(lines: Sequence[bytes]) -> list[bytes]:
    """What a ledger keeps: the first readable line of each id."""
    found: dict[str, bytes] = {}
    for line in lines:
        event = parse(line, 1, "UTC")
        if not isinstance(event, Refusal):
            found.setdefault(event.event_id, line)
    return list(found.values())


spaces = st.sampled_from([b"", b" ", b"\t", b"\r"])
texts = st.text(st.characters(codec="utf-8"), max_size=12)


@st.composite
def spelled(draw: st.DrawFn) -> bytes:
    """One event in any spelling that JSON has for it."""
    event = {"id": draw(st.text(st.characters(codec="utf-8"), min_size=1, max_size=8)), "kind": "nursed"}
    event |= {"at": "2027-03-01T08:00:00+00:00", "child": draw(st.text(st.characters(codec="utf-8"), min_size=1))}
    order = draw(st.permutations(list(event)))
    separators = draw(st.sampled_from([(",", ":"), (", ", ": "), (" ,", " : ")]))
    text = json.dumps({name: event[name] for name in order}, ensure_ascii=draw(st.booleans()), separators=separators)
    return draw(spaces) + text.encode() + draw(spaces)


@given(st.lists(st.one_of(spelled(), st.binary(max_size=30).map(lambda some: some.replace(b"\n", b""))), max_size=12))
def test_every_event_comes_out_as_it_went_in_whatever_stands_beside_it(lines: list[bytes]) -> None:
    store = MemoryStore()
    found = transfer.take_in(store, lines, now=NOW)
    plain = [line.removeprefix(b"\xef\xbb\xbf").strip() if not at else line.strip() for at, line in enumerate(lines)]
    assert out(store) == firsts(plain)
    assert found.added == len(out(store))
    unread = [f"line {at}" for at, line in enumerate(plain, 1) if line and isinstance(parse(line, at, "UTC"), Refusal)]
    assert [one.event for one in found.refused if one.code != "duplicate_differs"] == unread
    again = MemoryStore()
    transfer.take_in(again, out(store), now=NOW)
    assert out(again) == out(store)


@pytest.mark.django_db
@settings(max_examples=max(8, settings().max_examples // 6))
@given(tale=tales())
def test_a_household_moved_by_file_says_the_same(tale: Tale) -> None:
    first = people.bare_household("first")
    lines = [line_of(event) for batch in tale.batches for event in batch]
    transfer.take_in(first, lines, now=NOW)
    second = people.bare_household("second")
    transfer.take_in(second, out(first), now=NOW)
    assert out(second) == out(first) == firsts(lines)
    assert run(out(second), now=NOW).verdicts == run(out(first), now=NOW).verdicts
    assert second.refused() == first.refused()


@pytest.mark.django_db
def test_the_same_file_twice_or_its_rest_adds_what_is_new_only() -> None:
    lines = demo_ledger(now=NOW)
    store = people.bare_household("home")
    half = transfer.take_in(store, lines[: len(lines) // 2], now=NOW)
    rest = transfer.take_in(store, lines, now=NOW)
    assert half.added + rest.added == len(lines)
    assert rest.known == half.added
    nothing = transfer.take_in(store, lines, now=NOW)
    assert (nothing.added, nothing.known, nothing.refused) == (0, len(lines), ())
    assert out(store) == lines


def test_lines_that_cannot_be_read_are_told_by_their_number_in_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transfer, "PART", 3)
    lines = [nursed("a"), b"", b"rubbish", nursed("b"), b"{}", nursed("c"), nursed("d"), nursed("e"), b"\xff"]
    found = transfer.take_in(MemoryStore(), lines, now=NOW)
    assert [one.event for one in found.refused] == ["line 3", "line 5", "line 9"]
    assert found.added == 5


def test_another_event_under_a_known_id_is_told_by_its_id() -> None:
    store = MemoryStore()
    found = transfer.take_in(store, [nursed("a"), nursed("a", minutes=9), nursed("b")], now=NOW)
    assert [(one.event, one.code) for one in found.refused] == [("a", "duplicate_differs")]
    assert [ev.decoder.decode(line).id for line in out(store)] == ["a", "b"]


def test_a_part_is_kept_whole_or_not_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transfer, "PART", 2)
    store = MemoryStore()

    def lines() -> Any:
        yield from (nursed(name) for name in "abc")
        raise OSError("the disk went away")

    with pytest.raises(OSError, match="went away"):
        transfer.take_in(store, lines(), now=NOW)
    assert out(store) == [nursed("a"), nursed("b")]


@pytest.mark.django_db
def test_a_part_costs_no_more_in_a_long_ledger() -> None:
    store = people.bare_household("home")

    def session(name: str) -> list[bytes]:
        at = "2027-03-01T08:00:00+00:00"
        rows: list[dict[str, Any]] = [
            {"id": f"{name}-e", "kind": "expressed", "into": [{"container": name, "ml": 60}], "place": "fridge"},
            {"id": f"{name}-p", "kind": "power_lost", "place": "fridge"},
            {"id": f"{name}-v", "kind": "voided", "event": f"{name}-e"},
        ]
        return [line_of(row | {"at": at}) for row in rows]

    def queries(lines: list[bytes]) -> int:
        with CaptureQueriesContext(connection) as found:
            transfer.take_in(store, lines, now=NOW)
        return len(found)

    first = queries(session("first"))
    transfer.take_in(store, [line for at in range(300) for line in session(f"m{at}")], now=NOW)
    assert queries(session("last")) <= first


@pytest.mark.django_db
def test_a_household_is_chosen_by_name_by_key_or_because_it_is_the_only_one() -> None:
    with pytest.raises(CannotError, match="no household yet"):
        transfer.choose(None)
    first = transfer.bare("Lisbon kitchen")[1]
    assert transfer.choose(None)[1].key == first.key
    with pytest.raises(CannotError, match="called Lisbon kitchen already"):
        transfer.bare("Lisbon  kitchen")
    with pytest.raises(CannotError, match="at most 80"):
        transfer.bare(" ")
    second = transfer.bare("Porto")[1]
    assert transfer.choose("Porto")[1].key == second.key
    for name in (None, "Nowhere"):
        with pytest.raises(CannotError, match="Lisbon kitchen, Porto"):
            transfer.choose(name)
    twin = people.bare_household("Porto")
    with pytest.raises(CannotError, match=twin.key):
        transfer.choose("Porto")
    assert transfer.choose(twin.key)[1].key == twin.key
