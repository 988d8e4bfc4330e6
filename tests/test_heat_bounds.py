"""Bounds from a ledger's measured containers: what `thawline heat bounds` writes, `replay --bounds` reads."""

from __future__ import annotations

import json
from pathlib import Path

from tests.cli_tools import Ran, event, settings, thawline
from tests.pages import Family, text

from thawline.core.replay import run
from thawline.core.times import HOUR, parse_instant
from thawline.faces.cli.main import main as lean
from thawline.services import board
from thawline.services.known import films_seen
from thawline.services.ledger_bounds import of_ledger

BAG = {"kind": "bag", "shape": "flat", "thickness_mm": 15}
NOW = "2026-05-06T22:00:00+00:00"
THAWING = [
    event("x", "2026-05-01T08:00:00Z", "expressed", into=[{"container": "A", "ml": 120}], place="room", vessel=BAG),
    event("f", "2026-05-01T08:20:00Z", "moved", container="A", to="freezer"),
    event("t", "19:50", "measured", place="fridge", temp_c=4),
    event("o", "20:00", "moved", container="A", to="fridge"),
]


def written(tmp_path: Path, events: list[dict[str, object]]) -> Path:
    file = tmp_path / "family.ndjson"
    file.write_text("\n".join(json.dumps(one) for one in events), encoding="utf-8")
    return file


def bounds_file(tmp_path: Path, ledger: Path) -> Path:
    ran = thawline("heat", "bounds", str(ledger), "--now", NOW)
    assert (ran.code, ran.err) == (0, "")
    file = tmp_path / "bounds.json"
    file.write_text(ran.out, encoding="utf-8")
    return file


def judged(ledger: Path, *more: str) -> Ran:
    return thawline("replay", str(ledger), "--now", NOW, "--json", *more)


def use_by(ran: Ran) -> int:
    assert ran.code == 0, ran.err
    return parse_instant(str(ran.json()["containers"][0]["use_by"]))


def test_replay_is_strict_without_bounds_and_later_with_those_of_the_ledger(tmp_path: Path) -> None:
    ledger = written(tmp_path, settings(*THAWING))
    left = parse_instant("2026-05-06T20:00:00Z")
    strict = judged(ledger)
    assert use_by(strict) == left + 24 * HOUR
    found = judged(ledger, "--bounds", str(bounds_file(tmp_path, ledger)))
    assert left + 26 * HOUR < use_by(found) < left + 39 * HOUR
    assert found.json()["containers"][0]["estimated"]
    assert "early bound" in found.json()["containers"][0]["why"][0]["says"]


def test_the_file_holds_every_kind_of_bound_on_the_clock_that_was_asked_for(tmp_path: Path) -> None:
    hot = [
        event("r", "20:10", "measured", place="room", temp_c=34),
        event("l", "20:20", "power_lost", place="fridge"),
        event(
            "y", "2026-05-01T08:00:00Z", "expressed", into=[{"container": "B", "ml": 90}], place="fridge", vessel=BAG
        ),
        event("b", "20:15", "moved", container="B", to="room"),
    ]
    ledger = written(tmp_path, settings(*THAWING, *hot))
    ran = thawline("heat", "bounds", str(ledger), "--now", NOW, "--zone", "Asia/Tokyo")
    found = ran.json()
    assert {key: len(rows) for key, rows in found.items()} == {
        "thawed_early": 1, "solid_late": 1, "warm_early": 1, "cold_early": 1,
    }  # fmt: skip
    assert found["cold_early"][0]["place"] == "fridge"
    assert found["cold_early"][0]["from"] == "2026-05-07T05:20:00+09:00"
    bounds = tmp_path / "bounds.json"
    bounds.write_text(ran.out, encoding="utf-8")
    lines = ledger.read_bytes().splitlines()
    now = parse_instant(NOW)
    expected = run(lines, now=now, bounds=of_ledger(lines, now=now)).verdicts
    told = {
        one["container"]: parse_instant(one["use_by"])
        for one in judged(ledger, "--bounds", str(bounds)).json()["containers"]
    }
    assert told == {one.container: one.use_by for one in expected}


def test_a_ledger_that_cannot_be_read_is_told_in_one_line(tmp_path: Path) -> None:
    ran = thawline("heat", "bounds", str(tmp_path / "none.ndjson"))
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("\n") == 1


def test_a_time_that_is_no_time_is_told_in_one_line(tmp_path: Path) -> None:
    ran = thawline("heat", "bounds", str(written(tmp_path, settings())), "--now", "soon")
    assert (ran.code, ran.err.count("\n")) == (2, 1)


def test_the_lean_command_still_judges(tmp_path: Path) -> None:
    assert lean(["replay", str(written(tmp_path, settings(*THAWING))), "--now", NOW]) == 0


# The board and the question pages


def thaw(home: Family, code: str, hours_ago: float, *, gone_h: float | None = None) -> None:
    """A measured bag, frozen a week before, goes to a refrigerator that was just read; the ice may be seen to go."""
    home.note("expressed", hours_ago + 168, into=[{"container": code, "ml": 120}], place="counter", vessel=BAG)
    home.note("moved", hours_ago + 167.8, container=code, to="freezer")
    home.note("measured", hours_ago + 0.1, place="fridge", temp_c=4)
    home.note("moved", hours_ago, container=code, to="fridge")
    if gone_h is not None:
        home.note("thaw_seen", hours_ago - gone_h + 1, container=code, ice=True)
        home.note("thaw_seen", hours_ago - gone_h, container=code, ice=False)
        home.note("discarded", hours_ago - gone_h - 0.5, container=code)


def end_of(home: Family, code: str) -> int:
    found = board.one(home.store, code, now=home.now)
    assert found is not None
    assert found.verdict.use_by is not None
    return found.verdict.use_by


def test_the_board_follows_a_thaw_as_soon_as_somebody_watched_it(home: Family) -> None:
    thaw(home, "KA34", 2)
    before = end_of(home, "KA34")
    assert not films_seen(home.store, home.now)
    for number, code in enumerate(("RE37", "TA37", "ME37")):
        thaw(home, code, 30 + 40 * number, gone_h=19)
    seen = films_seen(home.store, home.now)["fridge"]
    assert seen.seen == 3
    # Slow thaws: the family's refrigerator stirs its air little, so the earliest thaw lies later.
    assert seen.high < 15
    assert end_of(home, "KA34") > before


def test_the_question_follows_the_thaws_that_were_watched_and_says_so(home: Family) -> None:
    thaw(home, "KA34", 2)
    assert "What you saw yourselves" not in text(home.see("/heat/thaw/?code=KA34"))
    thaw(home, "RE37", 30, gone_h=19)
    assert "What you saw yourselves 1 thaw" in text(home.see("/heat/thaw/?code=KA34"))
