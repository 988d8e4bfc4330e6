"""Bad input: always a line that says what to mend, never a traceback."""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as profile
from hypothesis import strategies as st
from tests.cli_tools import (
    NOW,
    event,
    expressed,
    installed,
    ndjson,
    poured,
    replay,
    settings,
    thawline,
    unreadable,
)

from thawline.faces.cli.main import main

NOISE = random.Random(1).randbytes(1_000_000)
DEEP = [b"[" * 100_000, b'{"a":' * 100_000, b'{"id":' + b"[" * 100_000]


def with_line(line: bytes) -> bytes:
    """A good ledger whose last line, the eighth, is another."""
    good = ndjson([*settings(), expressed()])
    assert good.count(b"\n") == 7
    return good + line + b"\n"


# ---- lines ------------------------------------------------------------------------------------------------

BAD_LINES: dict[str, tuple[bytes, str, str]] = {
    "not JSON": (b"08:00 120 ml into the fridge", "bad_event", "one JSON object a line"),
    "cut off": (b'{"id":"x","at":"2026-05-06T08', "bad_event", "one JSON object a line"),
    "a list": (b"[]", "bad_event", "one JSON object a line"),
    "null": (b"null", "bad_event", "one JSON object a line"),
    "a number": (b"12", "bad_event", "one JSON object a line"),
    "a string": (b'"milk"', "bad_event", "one JSON object a line"),
    "NUL bytes": (b"\0\0\0", "bad_event", "one JSON object a line"),
    "NUL in a line": (b'{"id":"x"\0}', "bad_event", "one JSON object a line"),
    "Latin-1": ('{"id":"x","at":"2026-05-06","kind":"moved","to":"crème"}'.encode("latin-1"), "bad_event", "UTF-8"),
    "half a surrogate": (b'{"id":"\\ud800"}', "bad_event", "one JSON object a line"),
    "lists without end": (DEEP[0], "bad_event", "one JSON object a line"),
    "objects without end": (DEEP[1], "bad_event", "too deeply"),
    "a deep id": (DEEP[2], "bad_event", "too deeply"),
    "ten megabytes": (b'{"id":"' + b"x" * 10_000_000 + b'"}', "bad_event", "one event a line"),
    "empty object": (b"{}", "bad_event", "field kind is missing"),
    "no kind": (b'{"id":"x","at":"2026-05-06"}', "bad_event", "field kind is missing"),
    "id is a number": (b'{"id":5,"at":"2026-05-06","kind":"moved"}', "bad_event", "field id"),
    "NaN": (json.dumps(expressed("x", into="B", ml=float("nan"))).encode(), "bad_event", "JSON"),
    "Infinity": (json.dumps(expressed("x", into="B", ml=float("inf"))).encode(), "bad_event", "JSON"),
    "1e999": (ndjson([expressed("x", into="B", ml=77)]).replace(b"77", b"1e999"), "bad_event", "field into[0].ml"),
    "many digits": (ndjson([expressed("x", ml=77)]).replace(b"77", b"7" * 5000), "bad_event", "field into[0].ml"),
}


@pytest.mark.parametrize("name", BAD_LINES)
def test_a_bad_line_among_good_ones_is_refused_and_the_rest_is_judged(name: str, tmp_path: Path) -> None:
    line, code, says = BAD_LINES[name]
    ran = replay(tmp_path, with_line(line))
    assert (ran.code, ran.err) == (0, "")
    found = ran.json()
    [refusal] = found["refused"]
    assert refusal["code"] == code
    assert refusal["says"].startswith("line 8: ") and says in refusal["says"]
    assert len(refusal["says"]) < 600
    assert [each["container"] for each in found["containers"]] == ["A"]


BAD_FIELDS: dict[str, tuple[dict[str, Any], str, str]] = {
    "unknown kind": ({"kind": "exploded"}, "bad_event", "field kind: Invalid value 'exploded': choose"),
    "kind is a list": ({"kind": ["moved"]}, "bad_event", "field kind"),
    "unknown field": ({"colour": "blue"}, "bad_event", "field colour is not known: mend its name or take it out"),
    "missing field": ({"place": None}, "bad_event", "field place: Expected `str`, got `null`"),
    "missing inside": ({"into": [{"container": "B"}]}, "bad_event", "field into[0].ml is missing: add it"),
    "unknown inside": ({"into": [{"container": "B", "ml": 1, "oz": 2}]}, "bad_event", "field into[0].oz is not known"),
    "nothing inside": ({"into": []}, "bad_event", "field into"),
    "negative": ({"into": [{"container": "B", "ml": -1}]}, "bad_event", "field into[0].ml: Expected `float` >= 0"),
    "five litres and more": ({"into": [{"container": "B", "ml": 5000.1}]}, "bad_event", "<= 5000"),
    "absurd": ({"into": [{"container": "B", "ml": 1e300}]}, "bad_event", "<= 5000"),
    "a word for a number": ({"into": [{"container": "B", "ml": "90"}]}, "bad_event", "field into[0].ml"),
    "true for a number": ({"into": [{"container": "B", "ml": True}]}, "bad_event", "field into[0].ml"),
    "no name": ({"into": [{"container": "", "ml": 1}]}, "bad_event", "field into[0].container"),
    "endless name": ({"into": [{"container": "B" * 201, "ml": 1}]}, "bad_event", "field into[0].container"),
    "no id": ({"id": ""}, "bad_event", "field id"),
    "year 1": ({"at": "0001-01-01T00:00:00Z"}, "bad_time", "the year 1 is outside 2000-2100: mend the year"),
    "year 0": ({"at": "0000-01-01T00:00:00Z"}, "bad_time", "does not exist: mend"),
    "year 9999": ({"at": "9999-12-31T23:59:59-14:00"}, "bad_time", "mend the year"),
    "1999": ({"at": "1999-12-31T23:59:59Z"}, "bad_time", "mend the year"),
    "2101": ({"at": "2101-01-01T00:00:00Z"}, "bad_time", "mend the year"),
    "the day before 2000": ({"at": "1999-12-31"}, "bad_time", "mend the year"),
    "a day in 2101": ({"at": "2101-01-01"}, "bad_time", "mend the year"),
    "24:00": ({"at": "2026-05-06T24:00:00Z"}, "bad_time", "does not exist: mend the day, the hour"),
    "minute 60": ({"at": "2026-05-06T08:60:00Z"}, "bad_time", "does not exist"),
    "second 61": ({"at": "2026-05-06T08:00:61Z"}, "bad_time", "does not exist"),
    "30 February": ({"at": "2026-02-30T08:00:00Z"}, "bad_time", "does not exist"),
    "29 February, no leap year": ({"at": "2026-02-29"}, "bad_time", "is not a day: write it as"),
    "month 13": ({"at": "2026-13-01"}, "bad_time", "is not a day"),
    "no offset": ({"at": "2026-05-06T08:00:00"}, "bad_time", "is not a time: write 2027-02-03T07:10:00+01:00"),
    "offset of 25 hours": ({"at": "2026-05-06T08:00:00+25:00"}, "bad_time", "mend the day, the hour or the offset"),
    "offset of 75 minutes": ({"at": "2026-05-06T08:00:00+01:75"}, "bad_time", "the offset"),
    "offset without minutes": ({"at": "2026-05-06T08:00:00+01"}, "bad_time", "is not a time"),
    "a space for T": ({"at": "2026-05-06 08:00:00Z"}, "bad_time", "is not a time"),
    "no seconds": ({"at": "2026-05-06T08:00Z"}, "bad_time", "is not a time"),
    "digits of another script": ({"at": "٢٠٢٦-05-06T08:00:00Z"}, "bad_time", "is not a time"),
    "now": ({"at": "now"}, "bad_time", "is not a time"),
    "at is a number": ({"at": 1778054400}, "bad_event", "field at"),
    "noted": ({"noted": "yesterday"}, "bad_time", "'yesterday' is not a time"),
    "unknown zone": ({"zone": "Mars/Olympus"}, "bad_time", "unknown zone 'Mars/Olympus': use an IANA name"),
    "zone is a folder": ({"zone": "Europe"}, "bad_time", "unknown zone"),
    "zone is a path": ({"zone": "../../etc/passwd"}, "bad_time", "unknown zone"),
    "zone is a full path": ({"zone": "/etc/localtime"}, "bad_time", "unknown zone"),
    "zone with NUL": ({"zone": "UTC\0"}, "bad_time", "unknown zone"),
    "zone is no zone file": ({"zone": "tzdata.zi"}, "bad_time", "unknown zone"),
}


@pytest.mark.parametrize("name", BAD_FIELDS)
def test_a_bad_field_is_refused_with_its_line_and_its_mend(name: str, tmp_path: Path) -> None:
    change, code, says = BAD_FIELDS[name]
    bad = {**expressed("x", into="B"), **change}
    ran = replay(tmp_path, with_line(json.dumps(bad).encode()))
    assert (ran.code, ran.err) == (0, "")
    found = ran.json()
    [refusal] = found["refused"]
    assert (refusal["event"], refusal["code"]) == (bad["id"] or "line 8", code)
    assert refusal["says"].startswith("line 8: ") and says in refusal["says"]
    assert [each["container"] for each in found["containers"]] == ["A"]


BAD_EVENTS: dict[str, tuple[dict[str, Any], str]] = {
    "measured nothing": (event("x", "09:00", "measured", temp_c=4), "bad_event"),
    "measured both": (event("x", "09:00", "measured", temp_c=4, place="fridge", container="A"), "bad_event"),
    "-61 degrees": (event("x", "09:00", "measured", temp_c=-61, place="fridge"), "bad_event"),
    "111 degrees": (event("x", "09:00", "measured", temp_c=111, place="fridge"), "bad_event"),
    "0.2 kg": (event("x", "09:00", "weighed", child="mia", kg=0.2), "bad_event"),
    "41 kg": (event("x", "09:00", "weighed", child="mia", kg=41), "bad_event"),
    "voids itself": (event("x", "09:00", "voided", event="x"), "bad_event"),
    "voids nothing": (event("x", "09:00", "voided", event="nobody"), "bad_event"),
    "poured into itself": (poured("x", "09:00", "A", A=50), "bad_event"),
    "a feed ended that never began": (event("x", "09:00", "feed_ended", container="A", left_ml=3), "bad_event"),
    "units": (event("x", "09:00", "household", zone="UTC", units="pints"), "bad_event"),
    "born never": (event("x", "09:00", "child", child="ben", born="2026-02-30", care="home"), "bad_time"),
    "household on Mars": (event("x", "09:00", "household", zone="Mars/Olympus"), "bad_time"),
    "a day that is no day": (event("x", "09:00", "day_complete", child="mia", date="Monday"), "bad_time"),
    "held until never": (event("x", "09:00", "held", container="A", why="medicine", until="soon"), "bad_time"),
    "stocked, expressed never": (
        event("x", "09:00", "stocked", container="B", ml=9, place="freezer", expressed="2026-02-30"),
        "bad_time",
    ),
    "stocked, frozen in 1999": (
        event("x", "09:00", "stocked", container="B", ml=9, place="freezer", expressed=NOW, frozen_on="1999-01-01"),
        "bad_time",
    ),
}


@pytest.mark.parametrize("name", BAD_EVENTS)
def test_an_event_that_makes_no_sense_is_refused(name: str, tmp_path: Path) -> None:
    bad, code = BAD_EVENTS[name]
    ran = replay(tmp_path, [*settings(), expressed(), bad])
    assert (ran.code, ran.err) == (0, "")
    assert ran.refused() == [("x", code)]


@pytest.mark.parametrize(
    ("at", "dated"),
    [
        ("2026-05-06T08:00:60Z", "2026-05-06T08:00:59+00:00"),  # a leap second: never later than written
        ("2026-05-06t08:00:00z", "2026-05-06T08:00:00+00:00"),
        ("2026-05-06T08:00:00-00:00", "2026-05-06T08:00:00+00:00"),
        ("2026-05-06T22:00:00+14:00", "2026-05-06T08:00:00+00:00"),
        ("2026-05-06T08:00:00.1234567890Z", "2026-05-06T08:00:00.123456+00:00"),
    ],
)
def test_unusual_but_valid_times_are_taken(at: str, dated: str, tmp_path: Path) -> None:
    ran = replay(tmp_path, [*settings(), expressed(at=at)])
    assert ran.json()["refused"] == []
    assert ran.json()["containers"][0]["dated"] == dated


def test_the_first_and_the_last_year_are_taken(tmp_path: Path) -> None:
    edges = [expressed("a", at="2000-01-01T00:00:00+14:00"), expressed("b", at="2100-12-31", into="B", place="freezer")]
    ran = replay(tmp_path, [*settings(), *edges], now="2100-12-31T23:59:59-12:00")
    assert (ran.code, ran.json()["refused"]) == (0, [])
    assert [each["container"] for each in ran.json()["containers"]] == ["A", "B"]


# ---- whole files ------------------------------------------------------------------------------------------

BAD_FILES = {
    "a million random bytes": NOISE,
    "UTF-16": ndjson([*settings(), expressed()]).decode().encode("utf-16"),
    "UTF-16 without a mark": ndjson([*settings(), expressed()]).decode().encode("utf-16-le"),
    "NULs": b"\0" * 100_000,
    "lists without end": DEEP[0],
    "objects without end": DEEP[1],
    "lines of lists": b"[]\n[]\n",
    "one JSON list": json.dumps([*settings(), expressed()]).encode(),
    "a JSON document over several lines": b"[\n  1,\n  2\n]\n",
    "CSV": b"time,ml,place\n08:00,120,fridge\n",
    "Latin-1 prose": "crème fraîche\n".encode("latin-1"),
    "ends of line of old": ndjson([*settings(), expressed()]).replace(b"\n", b"\r"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_file_without_a_single_object_cannot_be_read(name: str, tmp_path: Path) -> None:
    said = unreadable(replay(tmp_path, BAD_FILES[name]))
    assert "not a ledger" in said and "line 1" in said
    assert len(said) < 700


GOOD_FILES = {
    "with a byte order mark": b"\xef\xbb\xbf" + ndjson([*settings(), expressed()]),
    "CRLF": ndjson([*settings(), expressed()]).replace(b"\n", b"\r\n"),
    "no last end of line": ndjson([*settings(), expressed()]).rstrip(),
    "empty lines": ndjson([*settings(), expressed()]).replace(b"\n", b"\n \n\t\n"),
}


@pytest.mark.parametrize("name", GOOD_FILES)
def test_what_editors_do_to_a_file_changes_nothing(name: str, tmp_path: Path) -> None:
    assert replay(tmp_path, GOOD_FILES[name]) == replay(tmp_path, [*settings(), expressed()])


@pytest.mark.parametrize("raw", [b"", b"\n\n", b"\xef\xbb\xbf", b" \r\n"])
def test_an_empty_file_is_a_ledger_in_which_nothing_happened_yet(raw: bytes, tmp_path: Path) -> None:
    ran = replay(tmp_path, raw)
    assert (ran.code, ran.err) == (0, "")
    found = ran.json()
    assert (found["containers"], found["refused"], found["ahead"]) == ([], [], [])
    assert set(found["booked"].values()) == {0.0}


def test_one_object_is_enough_for_the_file_to_be_judged(tmp_path: Path) -> None:
    ran = replay(tmp_path, NOISE.replace(b"\n", b"")[:5000] + b"\n{}\n")
    assert ran.code == 0
    assert [code for _, code in ran.refused()] == ["bad_event", "bad_event"]


def test_one_giant_line_is_no_way_to_use_up_memory_or_time(tmp_path: Path) -> None:
    ran = replay(tmp_path, b'{"id":"' + b"x" * 10_000_000)
    assert ran.code in {0, 2}
    assert len(ran.out) + len(ran.err) < 2000


def test_missing_unreadable_and_odd_files(tmp_path: Path) -> None:
    assert "No such file" in unreadable(thawline("replay", str(tmp_path / "none.ndjson"), "--now", NOW))
    assert "directory" in unreadable(thawline("replay", str(tmp_path), "--now", NOW)).lower()
    assert "NUL" in unreadable(thawline("replay", "a\0b", "--now", NOW))
    assert "No such file" in unreadable(thawline("replay", "a\nb\x1b[2J", "--now", NOW))
    assert "\x1b" not in thawline("replay", "a\nb\x1b[2J", "--now", NOW).err
    assert unreadable(thawline("replay", "x" * 5000, "--now", NOW))
    assert unreadable(thawline("replay", "", "--now", NOW))
    assert unreadable(thawline("replay", os.fsdecode(b"\xff\xfe"), "--now", NOW))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads every file")
def test_a_file_without_permission(tmp_path: Path) -> None:
    file = tmp_path / "ledger.ndjson"
    file.write_bytes(ndjson(settings()))
    file.chmod(0)
    assert "denied" in unreadable(thawline("replay", str(file), "--now", NOW))


# ---- options ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "now", ["", "now", "yesterday", "2026-05-06T12:00:00", "1999-01-01", "9999-12-31T00:00:00Z", "12:00", "2026-02-30"]
)
def test_a_bad_now(now: str, tmp_path: Path) -> None:
    said = unreadable(replay(tmp_path, settings(), now=now))
    assert "write" in said or "mend" in said


BAD_BOUNDS = {
    "empty": b"",
    "not JSON": b"thawed_early: soon",
    "a list": b"[]",
    "an unknown field": b'{"thawed_late": []}',
    "wrong rows": b'{"thawed_early": [1]}',
    "missing": b'{"thawed_early": [{"container": "A"}]}',
    "bad time": b'{"warm_early": [{"container": "A", "from": "08:00", "at": "09:00"}]}',
    "a number": b'{"solid_late": [{"container": "A", "from": 8, "at": 9}]}',
    "deep": b'{"thawed_early":' + b"[" * 100_000,
    "not UTF-8": b'{"thawed_early": [{"container": "\xff"}]}',
    "noise": NOISE,
}


@pytest.mark.parametrize("name", BAD_BOUNDS)
def test_a_bad_file_of_bounds(name: str, tmp_path: Path) -> None:
    file = tmp_path / "bounds.json"
    file.write_bytes(BAD_BOUNDS[name])
    said = unreadable(replay(tmp_path, [*settings(), expressed()], "--bounds", str(file)))
    assert str(file) in said


def test_missing_bounds_and_unknown_options(tmp_path: Path) -> None:
    assert "none.json" in unreadable(replay(tmp_path, settings(), "--bounds", str(tmp_path / "none.json")))
    assert unreadable(replay(tmp_path, settings(), "--bounds", str(tmp_path)))
    assert "--zap" in unreadable(replay(tmp_path, settings(), "--zap"))
    assert "second" in unreadable(replay(tmp_path, settings(), "second"))
    assert "argument" in unreadable(thawline("replay", "x", "--now"))
    for flag in ("--guideline", "--also"):
        assert "choose one of cdc" in unreadable(replay(tmp_path, settings(), flag, "nobody"))


def test_a_household_that_names_an_unknown_guideline_is_told_so(tmp_path: Path) -> None:
    house = event("h", "2026-01-01T00:00:00Z", "household", zone="UTC", guideline="nobody")
    assert "no guideline 'nobody': choose" in unreadable(replay(tmp_path, [house]))
    assert replay(tmp_path, [house], "--guideline", "cdc").code == 0


# ---- the installed command --------------------------------------------------------------------------------


def test_the_installed_command_says_one_line_and_2(tmp_path: Path) -> None:
    file = tmp_path / "ledger.ndjson"
    file.write_bytes(NOISE)
    unreadable(installed("replay", str(file), "--now", NOW, "--json"))
    unreadable(installed("replay", "-", "--now", NOW, stdin=DEEP[0]))
    unreadable(installed("replay", str(tmp_path / "none"), "--now", NOW))
    unreadable(installed("replay", str(tmp_path), "--now", NOW))
    unreadable(installed("replay"))
    unreadable(installed("guidelines", "check", str(file)))


def test_the_installed_command_judges_what_it_can(tmp_path: Path) -> None:
    file = tmp_path / "ledger.ndjson"
    file.write_bytes(with_line(DEEP[1]) + b"\xff\n")
    ran = installed("replay", str(file), "--now", NOW, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert ran.refused() == [("line 8", "bad_event"), ("line 9", "bad_event")]


# ---- fuzz -------------------------------------------------------------------------------------------------


def survives(raw: bytes) -> None:
    """Whatever the bytes: 0 with the contract's object, or 2 with one line."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ledger.ndjson"
        file.write_bytes(raw)
        for more in (["--json", "--all"], []):
            out, err = io.StringIO(), io.StringIO()
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                code = main(["replay", str(file), "--now", NOW, *more])
            if code == 2:
                assert out.getvalue() == "" and len(err.getvalue().splitlines()) == 1
                continue
            assert (code, err.getvalue()) == (0, "")
            if more:
                booked = json.loads(out.getvalue())["booked"]
                came = booked.pop("expressed") + booked.pop("stocked")
                assert abs(came - sum(booked.values())) < 0.1


calm = profile(deadline=None, max_examples=80, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
STORY = [
    *settings(),
    expressed(),
    expressed("f", "08:30", "B", 60, place="fridge", handling="very_clean"),
    event(
        "s", "08:40", "stocked", container="C", ml=90, place="freezer", expressed="2026-04-01", frozen_on="2026-04-01"
    ),
    event("m", "09:00", "moved", container="A", to="fridge"),
    poured("p", "09:10", "D", A=40, B=20),
    event("t", "09:20", "moved", container="C", to="fridge"),
    event("i", "09:30", "thaw_seen", container="C", ice=True),
    event("w", "09:40", "warmed", container="D", how="warm_water"),
    event("b", "09:50", "feed_began", container="D", child="mia"),
    event("n", "10:00", "feed_ended", container="D", left_ml=10),
    event("q", "10:10", "measured", place="fridge", temp_c=5),
    event("l", "10:20", "power_lost", place="fridge"),
    event("k", "10:30", "held", container="B", why="medicine"),
    event("o", "10:40", "handed_over", container="B", to="childcare"),
    event("r", "10:50", "received", container="B", place="fridge"),
    event("d", "11:00", "discarded", container="A", ml=5),
    event("u", "11:10", "counted", container="A", ml=30),
    event("a", "11:20", "added", container="A", what="fortifier"),
    event("v", "11:30", "voided", event="q", why="misread"),
]
WORDS = [
    "A",
    "B",
    "C",
    "D",
    "room",
    "fridge",
    "freezer",
    "cooler",
    "mia",
    "2026-05-06",
    "2026-05-06T09:30:00Z",
    "v",
    "q",
]


@given(st.binary(max_size=400))
@calm
def test_fuzz_any_bytes(raw: bytes) -> None:
    survives(raw)


@given(st.lists(json_values, max_size=5))
@calm
def test_fuzz_any_json(values: list[Any]) -> None:
    survives("\n".join(json.dumps(value) for value in values).encode("utf-8", "surrogatepass"))


@given(st.data())
@calm
def test_fuzz_mutated_events(data: st.DataObject) -> None:
    events = [dict(one) for one in data.draw(st.permutations(STORY))]
    for _ in range(data.draw(st.integers(1, 8))):
        target = data.draw(st.sampled_from(events))
        key = data.draw(st.sampled_from([*target, "zone", "for", "kind"]))
        others = st.sampled_from([one[key] for one in STORY if key in one] or [None])
        target[key] = data.draw(others | st.sampled_from(WORDS) | st.integers(-5, 6000) | json_values)
    survives(ndjson(events))


@given(st.data())
@calm
def test_fuzz_mutated_bytes(data: st.DataObject) -> None:
    raw = bytearray(ndjson(STORY))
    for _ in range(data.draw(st.integers(1, 20))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    survives(bytes(raw[: data.draw(st.integers(0, len(raw)))]))
