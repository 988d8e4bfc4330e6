"""`thawline plan` and `thawline outlook`: what they print, how wide, as JSON, and how they refuse."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from tests.cli_tools import installed, thawline, unreadable
from tests.test_cli import columns

from thawline.core.times import parse_instant
from thawline.engines.forecast import portions
from thawline.engines.planner.reasons import SAYS
from thawline.faces.cli.plan_words import DOES, NONE, REASONS
from thawline.services.demo import demo_ledger

NOW = "2026-05-06T12:00:00+00:00"
WIDTH = 80
FAMILY = {
    "apart": [{"child": "Mira", "days": [0, 1, 2, 3, 4], "start": "08:00", "end": "17:00", "where": "nursery",
               "rule": "us-or"}],
    "goal": {"why": "apart", "on": "2026-06-01", "until": "2026-06-30"},
}  # fmt: skip


@pytest.fixture
def ledger(tmp_path: Path) -> str:
    file = tmp_path / "ledger.ndjson"
    file.write_bytes(b"\n".join(demo_ledger(now=parse_instant(NOW))))
    return str(file)


@pytest.fixture
def habits(tmp_path: Path) -> str:
    file = tmp_path / "habits.json"
    file.write_text(json.dumps(FAMILY))
    return str(file)


def printed(*arguments: str) -> str:
    ran = thawline(*arguments, "--now", NOW)
    assert (ran.code, ran.err) == (0, "")
    assert max(columns(line) for line in ran.out.splitlines()) <= WIDTH
    assert all(letter.isprintable() or letter == "\n" for letter in ran.out)
    assert "safe" not in ran.out.lower()
    assert "…" not in ran.out
    return ran.out


def found(*arguments: str) -> dict[str, Any]:
    ran = thawline(*arguments, "--now", NOW, "--json")
    assert (ran.code, ran.err) == (0, "")
    answer: dict[str, Any] = json.loads(ran.out)
    return answer


def test_a_plan_is_told_in_words_with_its_reasons_and_cautions(ledger: str, habits: str) -> None:
    out = printed("plan", ledger, "--habits", habits, "--days", "2")
    out = " ".join(out.split())
    for text in ("TO DO", "FEEDS", "SIZES", "pack for nursery", "into fridge", "care team", "no target", "Tomorrow"):
        assert text in out
    assert "No plan could do better" in out


def test_a_plan_as_json_has_all_that_is_planned(ledger: str, habits: str) -> None:
    answer = found("plan", ledger, "--habits", habits, "--days", "1")
    assert answer["zone"] == "Europe/Lisbon"
    assert answer["now"] == "2026-05-06T13:00:00+01:00"
    assert {one["do"] for one in answer["chores"]} >= {"chill", "pack", "discard"}
    assert all(one["why"]["says"] and "…" not in one["why"]["says"] for one in answer["chores"])
    parts = [part for feed in answer["feeds"] for part in feed["parts"]]
    assert parts
    assert all(part["ml"] > 0 and part["why"]["code"] for part in parts)
    assert answer["need"]["Mira"]["low"] < answer["need"]["Mira"]["likely"]
    assert {one["where"] for one in answer["portions"]} == {"home", "nursery"}
    assert answer == found("plan", ledger, "--habits", habits, "--days", "1")


def test_a_quick_plan_is_not_refined(ledger: str) -> None:
    assert found("plan", ledger, "--quick")["refined"] is False
    assert found("plan", ledger)["refined"] is True


def test_an_outlook_is_told_in_words_with_its_sources(ledger: str, habits: str) -> None:
    out = printed("outlook", ledger, "--habits", habits, "--paths", "200")
    out = " ".join(out.split())
    for text in (
        "by age",
        "by weight",
        "WHO",
        "stock at its end",
        "The goal",
        "has a use before its date",
        "care team",
    ):
        assert text in out
    assert "target" not in out.replace("no target", "")


def test_an_outlook_as_json_answers_a_what_if(ledger: str, habits: str) -> None:
    plain = found("outlook", ledger, "--habits", habits, "--paths", "200", "--days", "30")
    more = found(
        "outlook", ledger, "--habits", habits, "--paths", "200", "--days", "30", "--sessions", "2", "--apart-h", "12",
        "--start", "2026-05-11",
    )  # fmt: skip
    assert len(plain["days"]) == len(more["days"]) == 30
    assert more["what_if"] == {"sessions": 2.0, "apart_h": 12.0, "start": "2026-05-11"}
    assert more["days"][20]["supply"]["likely"] < plain["days"][20]["supply"]["likely"]
    assert more["days"][20]["need"]["likely"] > plain["days"][20]["need"]["likely"]


def test_fluid_ounces_where_the_household_writes_them(ledger: str) -> None:
    file = Path(ledger)
    file.write_bytes(file.read_bytes().replace(b'"units": ["ml", "C"]', b'"units": ["fl_oz", "F"]'))
    assert "fl oz" in printed("plan", ledger)
    assert " mL" not in printed("outlook", ledger, "--paths", "100").replace("kcal/mL", "")


@pytest.mark.parametrize("command", ["plan", "outlook"])
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nowhere.ndjson"], "nowhere.ndjson"),
        ([], "file"),
        (["LEDGER", "--days", "0"], "days"),
        (["LEDGER", "--now", "noon"], "noon"),
        (["LEDGER", "--habits", "nowhere.json"], "nowhere.json"),
        (["LEDGER", "--habits", "LEDGER"], "JSON"),
        (["EMPTY"], "ledger"),
        (["LEDGER", "--habits", "ZOE"], "zoe"),
    ],
)
def test_what_can_t_be_used_is_refused_in_one_line(
    ledger: str, tmp_path: Path, command: str, arguments: list[str], says: str
) -> None:
    (tmp_path / "EMPTY").write_bytes(b"\n\n")
    (tmp_path / "ZOE").write_text('{"solids": [["zoe", "2026-06-01"]]}')
    files = {"LEDGER": ledger, "EMPTY": str(tmp_path / "EMPTY"), "ZOE": str(tmp_path / "ZOE")}
    assert says.lower() in unreadable(thawline(command, *[files.get(one, one) for one in arguments])).lower()


def test_an_outlook_refuses_a_start_that_is_no_day(ledger: str) -> None:
    assert "2027-02-03" in unreadable(thawline("outlook", ledger, "--now", NOW, "--start", "soon"))


def test_the_installed_command_prints_nothing_but_its_answer(ledger: str) -> None:
    """A solver's banner would make the JSON unreadable."""
    ran = installed("plan", ledger, "--now", NOW, "--json", "--days", "1")
    assert (ran.code, ran.err) == (0, "")
    assert json.loads(ran.out)["feeds"]
    piped = installed("plan", "-", "--now", NOW, "--json", "--days", "1", stdin=Path(ledger).read_bytes())
    assert piped.out == ran.out


def test_the_help_of_all_commands_loads_no_solver() -> None:
    code = (
        "import sys; from thawline.faces.cli.commands import other_command; other_command(['guidelines']);"
        "print('LOADED', *sorted({'numpy', 'scipy', 'highspy', 'django'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, timeout=60)
    assert done.stdout.decode().splitlines()[-1].strip() == "LOADED"


def test_every_reason_has_its_words() -> None:
    assert set(SAYS) <= set(REASONS)
    advice = portions.advise((), age_d=100, leftover_h=2, where="home")
    strict = portions.advise((), age_d=100, leftover_h=0, where="there")
    assert {code for code, _ in (*advice.reasons, *strict.reasons)} <= set(REASONS)
    assert {"past", "breached", "outside"} <= set(REASONS)
    assert set(DOES) >= {"chill", "freeze", "thaw", "pack", "discard", "measure", "look_for_ice"}
    assert set(NONE) == {"too_young", "too_old", "hospital", "nothing_by_bottle"}


def test_names_that_could_steer_a_terminal_are_printed_plainly(tmp_path: Path) -> None:
    lines = [
        {"id": "h", "at": "2026-01-01T00:00:00Z", "kind": "household", "zone": "UTC"},
        {"id": "c", "at": "2026-01-01T00:00:00Z", "kind": "child", "child": "mi\u001b[31ma", "born": "2026-01-02",
         "care": "home"},
        {"id": "p", "at": "2026-01-01T00:00:00Z", "kind": "place", "place": "fr\u009bidge", "is": "refrigerator"},
        {"id": "r", "at": "2026-01-01T00:00:00Z", "kind": "place", "place": "room", "is": "room"},
        {"id": "e", "at": "2026-05-06T10:00:00Z", "kind": "expressed", "place": "room",
         "into": [{"container": "x\u202e\ny" * 30, "ml": 90}]},
    ]  # fmt: skip
    file = tmp_path / "odd.ndjson"
    file.write_text("\n".join(map(json.dumps, lines)))
    family = tmp_path / "habits.json"
    family.write_text('{"fed": "bottle"}')
    printed("plan", str(file), "--habits", str(family))
    printed("outlook", str(file), "--habits", str(family), "--paths", "100")
