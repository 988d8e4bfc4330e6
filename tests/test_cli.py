"""What a person sees at the command line: the board, the shelf of guidelines, help, and how little is loaded."""

from __future__ import annotations

import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from tests.cli_tools import (
    COMMAND,
    NOW,
    Event,
    Ran,
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

from thawline.core.guideline import shipped, shipped_ids

WIDTH = 60


def columns(line: str) -> int:
    """How wide a terminal shows it."""
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in line)
    return len(line) + wide - sum(unicodedata.combining(letter) > 0 for letter in line)


def board(folder: Path, ledger: list[Event], *arguments: str, now: str = NOW) -> str:
    file = folder / "ledger.ndjson"
    file.write_bytes(ndjson(ledger))
    ran = thawline("replay", str(file), "--now", now, *arguments)
    assert (ran.code, ran.err) == (0, "")
    assert max(columns(line) for line in ran.out.splitlines()) <= WIDTH
    assert all(letter.isprintable() or letter == "\n" for letter in ran.out)
    return ran.out


def many(name: str) -> list[Event]:
    """A bit of everything, with one name for containers, places and children."""
    return [
        *settings(event("h2", "2026-02-01T00:00:00Z", "household", zone="America/Argentina/ComodRivadavia")),
        event("pp", "2026-02-01T00:00:00Z", "place", place=name, is_="refrigerator", temp_c=4),
        expressed(into=name, place=name),
        expressed("f", "08:05", name + "2"),
        event("m", "08:10", "warmed", container=name + "2", how="microwave"),
        poured("p", "08:20", name + "3", **{name: 33.333, name + "2": 11.111}),
        event("s", "08:30", "stocked", container=name + "4", ml=90, place="freezer", expressed="2026-04-01"),
        event("t", "08:40", "moved", container=name + "4", to=name),
        event("d", "08:50", "held", container=name + "4", why="clinician"),
        event(name, "09:00", "moved", container=name + " missing", to="fridge"),
        event("z", "13:00", "moved", container=name, to="fridge"),
    ]


NAMES = [
    "A",
    "the blue bottle from the second evening session " * 3,
    "x" * 150,
    "牛乳と母乳のびん" * 10,
    "🍼" * 60,
    "e\u0301" * 70,
    "red \x1b[31m and \x1b[2J clear",
    "two\nlines\r\tand a tab",
    "\u202egnp.elttob",
    "zero\u200bwidth\u2060\ufeff",
    "\x9b31m",
    "\0",
]


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
@pytest.mark.parametrize("more", [[], ["--all", "--guideline", "bfn", "--also", "us-or", "--also", "au-tas"]])
def test_the_board_fits_and_steers_no_terminal(name: str, more: list[str], tmp_path: Path) -> None:
    out = board(tmp_path, many(name), *more)
    assert "Events after this time: 1" in out
    assert "not taken in: " in out


@pytest.mark.parametrize("guide", shipped_ids())
def test_the_board_under_every_guideline(guide: str, tmp_path: Path) -> None:
    overlay = shipped(guide).role == "childcare"
    board(tmp_path, many("A"), "--also" if overlay else "--guideline", guide)
    if overlay:
        assert "--also" in unreadable(replay(tmp_path, many("A"), "--guideline", guide))


def test_the_board_says_what_when_and_why(tmp_path: Path) -> None:
    out = board(tmp_path, [*settings(), expressed(), event("m", "09:00", "moved", container="A", to="fridge")])
    for words in (
        "Wed 06 May 2026, 12:00",
        "US CDC",
        "A",
        "100 mL",
        "fridge",
        "4 days from expression",
        "In all: 100 mL",
    ):
        assert words in out
    assert "care team" in out  # the caution stands under every board


def test_an_empty_board(tmp_path: Path) -> None:
    out = board(tmp_path, [])
    assert "Nothing is there." in out and "In all: 0 mL" in out


def test_a_file_guideline_on_the_board_fits_too(tmp_path: Path) -> None:
    file = tmp_path / "long.toml"
    file.write_text(
        f'id = "long"\nname = "{"long " * 40}\\u001b[2J"\nrole = "home"\npublisher = "P"\ntitle = "T"\nedition = "1"\n'
        'about = "x"\n[[limit]]\nid = "long.r"\nsituation = ["fresh_room"]\nstarts = "expressed"\nruns = "stay"\n'
        f'allows = "3 hours"\ngrade = "use"\nmark = "ours"\nsays = """{"長い" * 60}\n\\u001b[2J{"y" * 90}"""\n'
    )
    board(tmp_path, [*settings(), expressed()], "--guideline", str(file))
    shown = thawline("guidelines", "show", str(file))
    assert shown.code == 0 and "\x1b" not in shown.out
    assert max(columns(line) for line in shown.out.splitlines()) <= WIDTH


# ---- the other commands -----------------------------------------------------------------------------------


def test_the_shelf_lists_shows_and_checks() -> None:
    listed = thawline("guidelines")
    assert listed.code == 0
    assert [line.split()[0] for line in listed.out.splitlines()] == list(shipped_ids())
    assert listed.out.startswith("cdc ")
    for name in shipped_ids():
        shown = thawline("guidelines", "show", name)
        assert (shown.code, shown.err) == (0, "")
        assert f"{name}." in shown.out
        assert max(columns(line) for line in shown.out.splitlines()) <= WIDTH, name


def test_the_shelf_has_no_such_guideline() -> None:
    unreadable(thawline("guidelines", "show", "nobody"))
    unreadable(thawline("guidelines", "show"))
    unreadable(thawline("guidelines", "check"))
    unreadable(thawline("guidelines", "juggle"))


def test_help_is_no_error() -> None:
    for arguments in (["--help"], ["replay", "--help"], ["guidelines", "--help"], ["demo", "--help"]):
        ran = thawline(*arguments)
        assert (ran.code, ran.err) == (0, ""), arguments
        assert "usage" in ran.out.lower()
    done = installed("--help")
    assert (done.code, done.err) == (0, "")


def test_wrong_commands_are_one_line_and_2() -> None:
    for arguments in (["juggle"], ["--juggle"], ["demo", "--juggle"], ["demo", "--now", "now"], ["replay"]):
        unreadable(thawline(*arguments))
    unreadable(installed("juggle"))
    unreadable(thawline("demo", "--guideline", "nobody"))


# ---- a good neighbour in a pipe ---------------------------------------------------------------------------


def test_output_is_utf8_whatever_the_terminal_claims(tmp_path: Path) -> None:
    file = tmp_path / "ledger.ndjson"
    file.write_bytes(ndjson(many("crème 牛乳")))
    env = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PYTHONUTF8": "0"}
    for more in (["--json"], []):
        ran = installed("replay", str(file), "--now", NOW, *more, env=env)
        assert (ran.code, ran.err) == (0, "")
        assert "crème" in ran.out


def shell(line: str) -> Ran:
    done = subprocess.run(["/bin/sh", "-c", line], capture_output=True, check=False, timeout=60)
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


def test_a_reader_that_has_seen_enough_is_no_error() -> None:
    ran = shell(f"{COMMAND} guidelines show cdc | head -n 1; {COMMAND} replay --schema | head -c 1")
    assert (ran.code, ran.err) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_is_one_line() -> None:
    ran = shell(f"{COMMAND} replay --schema > /dev/full")
    unreadable(ran)


def test_closed_standard_input_is_one_line() -> None:
    unreadable(shell(f"{COMMAND} replay - <&-"))


# ---- how little is loaded ---------------------------------------------------------------------------------


def test_replay_loads_no_more_than_it_needs(tmp_path: Path) -> None:
    file = tmp_path / "ledger.ndjson"
    file.write_bytes(ndjson([*settings(), expressed()]))
    code = (
        "import sys; from thawline.site.main import main; "
        f"code = main(['replay', {str(file)!r}, '--now', {NOW!r}, '--json']); "
        "print(sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr); sys.exit(code)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True, timeout=60)
    loaded = set(done.stderr.strip("[]\n").replace("'", "").split(", "))
    assert "thawline" in loaded and "msgspec" in loaded
    assert not loaded & {"django", "numpy", "scipy", "typer", "click", "rich", "pydantic", "hypothesis", "pytest"}


def test_the_demo_is_a_ledger_that_replay_takes(tmp_path: Path) -> None:
    shown = thawline("demo", "--now", NOW)
    assert (shown.code, shown.err) == (0, "")
    assert max(columns(line) for line in shown.out.splitlines()) <= WIDTH
    ledger = thawline("demo", "--now", NOW, "--ledger")
    ran = replay(tmp_path, ledger.out.encode())
    assert (ran.code, ran.err) == (0, "")
    assert ran.json()["refused"] == []
