"""The sheet for the fridge door, and entering what was written on it."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from tests.pages import Family, text

from thawline.core.times import parse_instant, zone_named
from thawline.faces.web.views.paper import stamp
from thawline.faces.words import Words
from thawline.services.board import board

ENTER = "/paper/enter/"


def sheet(home: Family, *rows: dict[str, str], **more: str) -> dict[str, str]:
    """A form with these rows, the day being today unless a row says another."""
    sent = {"act": str(uuid.uuid4()), "rows": "8", **more}
    for n, row in enumerate(rows, 1):
        cells = {"day": "2027-02-03", "who": "Marta", "time": "", "code": "", "what": "", "amount": "", **row}
        sent |= {f"{key}-{n}": value for key, value in cells.items()}
    return sent


def recorded(home: Family) -> list[dict[str, Any]]:
    return [json.loads(line) for line in home.store.lines()]


def enter(home: Family, *rows: dict[str, str], **more: str) -> list[dict[str, Any]]:
    """Rows sent, looked at, and confirmed; what was recorded."""
    before = len(recorded(home))
    sent = sheet(home, *rows, **more)
    page = home.send(ENTER, sent)
    assert len(recorded(home)) == before, "nothing is recorded before it was confirmed"
    home.send(ENTER, {**home.fill(page, ENTER), "sure": "yes"})
    return recorded(home)[before:]


# The sheet


def test_the_sheet_lists_every_container_that_is_there_with_the_use_by_of_the_board(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.expressed("HA33", 80, 30)
    home.expressed("RA33", 70, 100, place="freezer")
    home.expressed("TA33", 60, 2, place="counter")
    home.expressed("PA33", 50, 120)
    home.note("discarded", 1, container="PA33")
    page = home.see("/paper/")
    rows = {
        str(row.select_one("th").text): " ".join(row.text.split())  # type: ignore[union-attr]
        for row in page.select(".sheet:not(.sheet-write) tbody tr")
    }
    verdicts = board(home.store, now=home.now).verdicts
    assert set(rows) == {one.container for one in verdicts} == {"KA34", "HA33", "RA33", "TA33"}
    words = Words(zone_named("Europe/Lisbon"), home.now)
    for one in verdicts:
        assert one.use_by is not None
        assert stamp(one.use_by, words) in rows[one.container]
        assert words.ml(one.ml) in rows[one.container]


def test_the_sheet_says_no_time_that_goes_stale(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    told = text(home.see("/paper/"))
    sheet_only = told[told.index("As of") :]
    assert "today" not in sheet_only and "tomorrow" not in sheet_only and " in 3" not in sheet_only
    assert "Wed 3 Feb 14:00" in sheet_only


def test_the_sheet_goes_by_place_oldest_first(home: Family) -> None:
    home.expressed("NEW9", 80, 1)
    home.expressed("OLD9", 80, 40)
    home.expressed("ROOM", 80, 1, place="counter")
    page = home.see("/paper/")
    assert [one.text for one in page.select(".sheet tbody th")] == ["ROOM", "OLD9", "NEW9"]


def test_the_sheet_names_the_guideline_and_its_edition(home: Family) -> None:
    told = text(home.see("/paper/"))
    found = board(home.store, now=home.now).guideline
    assert found.name in told and found.source in told


def test_the_sheet_never_calls_milk_safe_and_says_what_is_past(home: Family) -> None:
    home.expressed("KA34", 120, 200)
    told = text(home.see("/paper/"))
    assert "past its limit" in told
    assert "safe" not in told.lower()


def test_the_blank_sheet_has_lines_but_no_milk(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    page = home.see("/paper/?blank=1")
    assert "KA34" not in text(page)
    assert len(page.select(".sheet-write tbody tr")) > 10
    assert len(page.select(".sheet-blank tbody tr")) > 10


def test_the_words_to_tick_are_those_of_the_form(home: Family) -> None:
    ticks = [one.text for one in home.see("/paper/").select("th.sheet-tick")]
    options = [one.text for one in home.see(ENTER).select("#what-1 option")][1:]
    assert ticks == options
    assert ticks == ["expressed", "to fridge", "to freezer", "thaw", "fed", "left over", "thrown away"]


# Entering it


def test_rows_are_recorded_at_their_own_times_by_whoever_did_it_in_any_order(home: Family) -> None:
    found = enter(
        home,
        {"time": "11:30", "code": "KA34", "what": "fed", "who": "Rui"},
        {"time": "09:20", "code": "KA34", "what": "to:fridge"},
        {"time": "09:00", "code": "KA34", "what": "expressed", "amount": "80"},
    )
    assert [(one["kind"], one["at"], one["by"]) for one in found] == [
        ("expressed", "2027-02-03T09:00:00+00:00", "Marta"),
        ("moved", "2027-02-03T09:20:00+00:00", "Marta"),
        ("feed_began", "2027-02-03T11:30:00+00:00", "Rui"),
        ("feed_ended", "2027-02-03T11:30:00+00:00", "Rui"),
    ]
    assert len({one["id"].rpartition(".")[0] for one in found}) == 1, "one act"
    assert not board(home.store, now=home.now).verdicts


def test_expressed_milk_without_a_code_gets_one_that_is_kept_until_it_is_recorded(home: Family) -> None:
    page = home.send(ENTER, sheet(home, {"time": "09:00", "what": "expressed", "amount": "80"}))
    code = home.fill(page, ENTER)["code-1"]
    assert code and code in text(page)
    home.send(ENTER, {**home.fill(page, ENTER), "sure": "yes"})
    assert [one.container for one in board(home.store, now=home.now).verdicts] == [code]


def test_the_amount_fed_leaves_the_rest_and_what_was_left_over_ends_the_feed(home: Family) -> None:
    home.expressed("KA34", 100, 5)
    home.expressed("HA33", 100, 5)
    found = enter(
        home,
        {"time": "12:00", "code": "ka34", "what": "fed", "amount": "70"},
        {"time": "12:10", "code": "HA33", "what": "fed"},
        {"time": "12:40", "code": "HA33", "what": "left", "amount": "15"},
    )
    assert [(one["kind"], one["container"], one.get("left_ml")) for one in found] == [
        ("feed_began", "KA34", None), ("feed_ended", "KA34", 30),
        ("feed_began", "HA33", None), ("feed_ended", "HA33", 15),
    ]  # fmt: skip
    assert found[3]["at"] == "2027-02-03T12:40:00+00:00"


def test_thawing_goes_to_the_fridge_and_throwing_away_takes_all_or_an_amount(home: Family) -> None:
    home.expressed("KA34", 100, 90, place="freezer")
    home.expressed("HA33", 100, 5)
    found = enter(
        home,
        {"time": "12:00", "code": "KA34", "what": "thaw"},
        {"time": "12:10", "code": "HA33", "what": "thrown", "amount": "40"},
    )
    assert [(one["kind"], one.get("to"), one.get("ml")) for one in found] == [
        ("moved", "fridge", None), ("discarded", None, 40),
    ]  # fmt: skip


def test_a_line_without_a_time_is_recorded_for_its_day_alone(home: Family) -> None:
    home.expressed("KA34", 100, 40)
    found = enter(home, {"day": "2027-02-02", "code": "KA34", "what": "fed"})
    assert {one["at"] for one in found} == {"2027-02-02"}


def test_a_breach_is_told_before_it_is_recorded_and_recorded(home: Family) -> None:
    home.expressed("KA34", 100, 200, place="freezer")
    home.note("moved", 60, container="KA34", to="fridge")
    home.note("thaw_seen", 30, container="KA34", ice=False)
    sent = sheet(home, {"time": "10:00", "code": "KA34", "what": "to:freezer"})
    page = home.send(ENTER, sent)
    assert "What the guideline says" in text(page)
    home.send(ENTER, {**home.fill(page, ENTER), "sure": "yes"})
    assert board(home.store, now=home.now).verdicts[0].standing == "breached"


def test_a_sheet_sent_twice_counts_once(home: Family) -> None:
    page = home.send(ENTER, sheet(home, {"time": "09:00", "code": "KA34", "what": "expressed", "amount": "80"}))
    sent = {**home.fill(page, ENTER), "sure": "yes"}
    home.send(ENTER, sent)
    once = len(recorded(home))
    home.send(ENTER, sent)
    assert len(recorded(home)) == once


def test_the_whole_sheet_is_undone_at_one_tap(home: Family) -> None:
    before = board(home.store, now=home.now).verdicts
    page = home.send(ENTER, sheet(home, {"time": "09:00", "code": "KA34", "what": "expressed", "amount": "80"},
                                  {"time": "09:30", "code": "KA34", "what": "to:fridge"}))  # fmt: skip
    answer = home.phone.post(ENTER, {**home.fill(page, ENTER), "sure": "yes"})
    act = answer.headers["Location"].rpartition("done=")[2]
    home.send(f"/undo/{act}/", {"act": str(uuid.uuid4()), "back": "/history/"})
    assert board(home.store, now=home.now).verdicts == before


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"time": "10:00", "code": "QQ99", "what": "fed"}, "No container has the code QQ99."),
        ({"time": "10:00", "what": "fed"}, "Write the code of the container."),
        ({"time": "10:00", "code": "KA34", "what": "expressed", "amount": "80"}, "was used before"),
        ({"time": "10:00", "what": "expressed"}, "Write how much was expressed."),
        ({"time": "10:00", "code": "KA34", "what": "left"}, "Write how much was left over"),
        ({"time": "10:00", "code": "KA34"}, "Choose what happened."),
        ({"time": "23:00", "code": "KA34", "what": "fed"}, "still ahead"),
        ({"time": "10:00", "code": "KA34", "what": "fed", "amount": "8o"}, "is not a number"),
        ({"day": "2027-01-01", "time": "10:00", "code": "KA34", "what": "fed"}, "held no milk yet"),
    ],
)
def test_what_is_wrong_is_said_at_its_line_and_nothing_is_recorded(
    home: Family, row: dict[str, str], says: str
) -> None:
    home.expressed("KA34", 100, 5)
    before = len(recorded(home))
    page = home.send(ENTER, sheet(home, {"time": "09:40", "code": "KA34", "what": "to:fridge"}, row, sure="yes"), 422)
    error = page.select_one("#row-2-error")
    assert error is not None and says in error.text
    assert page.select_one("#row-1-error") is None
    assert len(recorded(home)) == before


def test_more_rows_come_without_script_and_keep_what_was_written(home: Family) -> None:
    page = home.send(ENTER, sheet(home, {"time": "09:40", "code": "KA34", "what": "fed"}, more="1"))
    assert len(page.select("fieldset.row-edit")) == 16
    assert page.select_one("#code-1")["value"] == "KA34"  # type: ignore[index]


def test_a_time_that_came_twice_is_the_earlier_one(home: Family) -> None:
    home.now = parse_instant("2027-10-31T12:00:00+00:00")
    found = enter(home, {"day": "2027-10-31", "time": "01:30", "what": "expressed", "amount": "80"})
    assert found[0]["at"] == "2027-10-31T01:30:00+01:00"


def test_a_time_that_never_came_is_asked_for(home: Family) -> None:
    home.now = parse_instant("2027-03-28T12:00:00+01:00")
    rows = sheet(home, {"day": "2027-03-28", "time": "01:30", "what": "expressed", "amount": "80"})
    assert "clocks went forward" in text(home.send(ENTER, rows, status=422))


@pytest.mark.parametrize("value", ["", "\x00", "x" * 3000, "🍼", "-1", "9" * 30, "../../", "to:nowhere", "²"])
def test_junk_on_the_sheet_never_fails(home: Family, value: str) -> None:
    home.expressed("KA34", 100, 5)
    good = sheet(home, {"time": "10:00", "code": "KA34", "what": "fed"})
    for field in [*good, "back", "child", "sure"]:
        for sure in ({}, {"sure": "yes"}):
            answer = home.phone.post(ENTER, {**good, **sure, field: value})
            assert answer.status_code in (200, 302, 422), (field, value)
    for query in (f"rows={value}", f"act={value}", f"blank={value}"):
        assert home.phone.get(f"{ENTER}?{query}", follow=True).status_code == 200
        assert home.phone.get(f"/paper/?{query}").status_code == 200
