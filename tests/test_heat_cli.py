"""`thawline heat thaw|freeze|warm|cool`: the questions of the pages on the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from thawline.core.replay import moment
from thawline.core.times import HOUR
from thawline.site.main import main

NOW = "2027-02-03T14:00:00+00:00"
QUESTIONS = ("thaw", "freeze", "warm", "cool")
BAG = ("--ml", "120", "--shape", "flat", "--across", "15", "--measured")


def ran(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["heat", *words, "--now", NOW])
    out, err = capsys.readouterr()
    return code, out, err


def told(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    code, out, err = ran(capsys, *words, "--json")
    assert code == 0, err
    found: dict[str, Any] = json.loads(out)
    return found


@pytest.fixture
def ledger(tmp_path: Path) -> str:
    """A household's ledger with a frozen bag that was measured, and fresh milk."""
    start = "2026-12-01T00:00:00Z"
    events = [
        {"id": "h", "at": start, "kind": "household", "zone": "Europe/Berlin"},
        {"id": "r", "at": start, "kind": "place", "place": "counter", "is": "room", "temp_c": 21},
        {"id": "f", "at": start, "kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": 3},
        {"id": "z", "at": start, "kind": "place", "place": "chest", "is": "deep_freezer", "temp_c": -20},
        {"id": "e", "at": "2027-02-01T08:00:00Z", "kind": "expressed", "into": [{"container": "A", "ml": 120}],
         "place": "chest", "vessel": {"kind": "bag", "shape": "flat", "thickness_mm": 15}},
        {"id": "g", "at": "2027-02-03T13:00:00Z", "kind": "expressed", "into": [{"container": "B", "ml": 90}],
         "place": "fridge"},
    ]  # fmt: skip
    file = tmp_path / "home.ndjson"
    file.write_text("\n".join(json.dumps(one) for one in events), "utf-8")
    return str(file)


@pytest.mark.parametrize("name", QUESTIONS)
def test_each_question_answers_for_a_described_container(capsys: pytest.CaptureFixture[str], name: str) -> None:
    code, out, err = ran(capsys, name, *BAG)
    assert (code, err) == (0, "")
    assert "never makes one longer" in " ".join(out.split())
    assert "measured" in out


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_same_as_json_says_what_it_rests_on(capsys: pytest.CaptureFixture[str], name: str) -> None:
    found = told(capsys, name, *BAG)
    assert found["question"] == name
    assert found["rests_on"]["container"]["measured"] is True
    assert found["rests_on"]["container"]["across_mm"]["likely"] == 15


def test_early_is_before_likely_and_likely_before_late(capsys: pytest.CaptureFixture[str]) -> None:
    hours = told(capsys, "thaw", *BAG, "--lies", "rack", "--air", "4")["hours"]
    assert hours["early"] < hours["likely"] < hours["late"]
    # Own computation: 15 mm, both faces, film 8 W/(m2 K), 4 C: 15.0 h.
    assert hours["likely"] == pytest.approx(15.0, abs=1.5)


def test_a_ledgers_container_is_asked_about_with_its_measure_place_and_clock(
    capsys: pytest.CaptureFixture[str], ledger: str
) -> None:
    found = told(capsys, "thaw", ledger, "--container", "A")
    rests = found["rests_on"]
    assert rests["container"]["name"] == "A" and rests["container"]["measured"] is True
    assert (rests["air_c"]["place"], rests["air_c"]["how"], rests["air_c"]["likely"]) == ("fridge", "noted", 3)
    assert rests["start_c"]["likely"] == -20
    assert found["thawed_at"]["likely"].endswith("+01:00")


def test_fresh_milk_in_the_refrigerator_counts_from_when_it_went_in(
    capsys: pytest.CaptureFixture[str], ledger: str
) -> None:
    found = told(capsys, "cool", ledger, "--container", "B")
    went_in = moment(found["cold_at"]["likely"]) - round(found["hours"]["likely"] * HOUR)
    assert went_in == moment("2027-02-03T13:00:00+00:00")


def test_what_was_read_just_now_stands_before_what_is_noted(capsys: pytest.CaptureFixture[str], ledger: str) -> None:
    air = told(capsys, "thaw", ledger, "--container", "A", "--air", "5")["rests_on"]["air_c"]
    assert (air["how"], air["likely"]) == ("read", 5)


def test_by_when_to_move_it_is_the_wanted_time_less_the_late_thaw(capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, "thaw", *BAG, "--lies", "rack", "--by", "07:00")
    first, second = found["wanted"]
    assert first["too_late"] and first["by"].startswith("2027-02-04T07:00")
    assert not second["too_late"] and second["move_by"] > NOW


def test_it_will_not_thaw_where_it_is_too_cold(capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, "thaw", *BAG, "--air", "-2")
    assert found["thaws"] == "no"
    assert found["hours"] == {"early": None, "likely": None, "late": None}
    assert found["wanted"] == []
    assert "It will not thaw there" in ran(capsys, "thaw", *BAG, "--air", "-2")[1]


def test_a_bowl_too_small_is_told_so_with_what_would_do(capsys: pytest.CaptureFixture[str]) -> None:
    # Own computation: 120 mL from -18 C in 1.0 kg at 40 C settle at 27.5 C; 4.55 kg are needed for 37 C.
    found = told(capsys, "warm", *BAG, "--start", "frozen", "--water", "1", "--water-c", "40")
    assert found["reaches"] == "no"
    assert found["settles_c"]["likely"] == pytest.approx(27.5, abs=0.3)
    assert found["enough_litres"] >= 4.5
    assert found["counts_as_room_from_immersion"] is True


def test_water_is_not_taken_hotter_than_advised(capsys: pytest.CaptureFixture[str]) -> None:
    water = told(capsys, "warm", *BAG, "--water", "3", "--water-c", "70")["water"]
    assert (water["c"], water["too_hot"]) == (40, True)


def test_freezing_compares_thicknesses_without_a_container(capsys: pytest.CaptureFixture[str]) -> None:
    layers = told(capsys, "freeze")["layers"]
    assert [(one["mm"], one["bags"]) for one in layers] == [(10, 1), (15, 1), (20, 1), (30, 1), (30, 2)]
    late = [one["rack"]["late"] for one in layers]
    assert late[0] < late[1] < late[2] < late[3] == late[4]


def test_ice_water_is_quicker_than_the_refrigerator(capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, "cool", *BAG)
    assert found["ice_water_hours"]["likely"] < found["hours"]["likely"] / 5


@pytest.mark.parametrize(
    ("words", "mend"),
    [
        (("thaw",), "--ml"),
        (("thaw", "--ml", "0"), "--ml 0"),
        (("thaw", "--ml", "120", "--shape", "round"), "choose one of flat, upright"),
        (("thaw", "--ml", "120", "--across", "15"), "--shape"),
        (("thaw", "--ml", "120", "--by", "dawn"), "07:00"),
        (("thaw", "--container", "A"), "name the ledger"),
        (("warm", "--ml", "120", "--to", "45"), "--to 45"),
        (("cool", "--ml", "120", "--start", "hot"), "--start"),
        (("freeze", "no-such-file.ndjson", "--container", "A"), "No such file"),
        (("thaw", "--ml", "120", "--zone", "Mars/Base"), "Mars/Base"),
    ],
)
def test_what_cannot_be_used_is_one_line_and_status_2(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], mend: str
) -> None:
    code, out, err = ran(capsys, *words)
    assert (code, out) == (2, "")
    assert mend in err and err.count("\n") == 1


def test_an_unknown_container_is_named(capsys: pytest.CaptureFixture[str], ledger: str) -> None:
    code, _out, err = ran(capsys, "thaw", ledger, "--container", "Z9")
    assert code == 2 and "'Z9'" in err


def test_a_question_that_is_not_about_that_milk_is_refused(capsys: pytest.CaptureFixture[str], ledger: str) -> None:
    for name, code in (("thaw", "B"), ("cool", "A")):
        status, _out, err = ran(capsys, name, ledger, "--container", code)
        assert status == 2 and "this question is about" in err
