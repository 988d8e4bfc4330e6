"""A table on its way in by the pages: columns chosen, what would be recorded shown, recorded once, taken back."""

from __future__ import annotations

from typing import Any

from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile
from tests.pages import Family, home, text
from tests.people import carer, childcare, service

from thawline.services.board import board

__all__ = ["home"]
PAST = "date,time,ml,side\n2027-01-12,07:10,100,left\n2027-01-12,11:10,90,both\n2027-01-13,07:10,110,right\n"


def events(home: Family) -> int:
    return sum(1 for _ in home.store.lines())


def send(home: Family, csv: str, what: str = "sessions", status: int = 200) -> BeautifulSoup:
    """The page that answers a pasted table: its columns."""
    return home.send("/in/", {"what": what, "text": csv}, status)


def press(home: Family, page: BeautifulSoup, status: int = 200, **fields: Any) -> BeautifulSoup:
    """Send the form on a page of the way in."""
    return home.send("/in/", home.fill(page, "/in/") | fields, status)


def _pressed(home: Family, page: BeautifulSoup, fields: dict[str, str]) -> BeautifulSoup:
    return home.send("/in/", home.fill(page, "/in/") | fields)


def test_a_file_is_asked_about_shown_and_only_then_recorded(home: Family) -> None:
    before = events(home)
    file = SimpleUploadedFile("sessions.csv", PAST.encode("utf-16"))
    columns = home.send("/in/", {"what": "sessions", "file": file})
    assert "3 rows" in text(columns) and "Nothing is recorded yet." in text(columns)
    chosen = {str(one["name"]): one.select_one("option[selected]") for one in columns.select("select[name^=column]")}
    assert {name: one["value"] for name, one in chosen.items() if one is not None} == {
        "column-date": "0", "column-time": "1", "column-amount": "2", "column-side": "3",
    }  # fmt: skip
    look = press(home, columns)
    assert "3 new rows, 300 mL in all, Tue 12 Jan to Wed 13 Jan." in text(look)
    assert "Line 2: left" in text(look) and "Line 3: both sides" in text(look)
    assert events(home) == before
    done = press(home, look, step="record")
    assert "3 rows are recorded." in done.get_text(" ")
    assert events(home) == before + 6
    assert board(home.store, now=home.now).verdicts == []


def test_sent_twice_counts_once_and_the_same_table_again_has_nothing_new(home: Family) -> None:
    look = press(home, send(home, PAST))
    press(home, look, step="record")
    after = events(home)
    again = press(home, look, step="record")
    assert "0 rows are recorded. 3 were there already." in again.get_text(" ")
    assert events(home) == after
    seen = press(home, send(home, PAST))
    assert "There is nothing new to record." in text(seen) and "3 rows are in your records already." in text(seen)
    assert not seen.select('button[value="record"]')


def test_what_a_table_brought_in_is_taken_back_by_it(home: Family) -> None:
    press(home, press(home, send(home, PAST)), step="record")
    seen = press(home, send(home, PAST))
    assert seen.select_one('button[value="back"]') is not None
    assert "taken back" in press(home, seen, step="back").get_text(" ")
    assert "3 new rows" in text(press(home, send(home, PAST)))


def test_an_order_of_days_nothing_tells_is_asked_at_once(home: Family) -> None:
    page = send(home, "date,time,ml\n3/1/2027,07:10,120\n")
    labels = [one.get_text(" ").strip() for one in page.select("#day_first label")]
    assert labels == ["3 January 2027", "1 March 2027"]
    unanswered = press(home, page, status=422)
    assert "Which day is “3/1/2027 07:10”?" in text(unanswered)
    seen = press(home, unanswered, day_first="day")
    assert "Sun 3 Jan 07:10" in text(seen)


def test_bad_rows_are_listed_and_left_out_only_when_that_is_said(home: Family) -> None:
    before = events(home)
    seen = press(home, send(home, PAST + "someday,07:10,90,left\n2027-01-14,07:10,,left\n"))
    told = [one.get_text(" ", strip=True) for one in seen.select("#faults li")]
    assert told[0].startswith("Line 5 date “someday” is no clear day") and told[1].startswith("Line 6 ml")
    refused = press(home, seen, status=422, step="record")
    assert "Tick that they are left out" in text(refused) and events(home) == before
    press(home, refused, step="record", without="yes")
    assert events(home) == before + 6


def test_a_column_that_is_needed_is_asked_for(home: Family) -> None:
    page = press(home, send(home, "a,b\nx,120 ml\ny,90 ml\n"), status=422)
    assert "Say which column holds this: Day (or day and time)." in text(page)


def test_stock_goes_to_the_stock_with_its_labels(home: Family) -> None:
    look = press(
        home, send(home, "label,ml,expressed,place\nA1,100,2027-01-12,freezer\n,80,2027-01-13,freezer\n", "stock")
    )
    assert "A1" in text(look) and "gets a label" in text(look)
    done = press(home, look, step="record")
    assert "2 rows are recorded." in done.get_text(" ")
    assert {one.ml for one in board(home.store, now=home.now).verdicts} == {100, 80}


def test_one_goes_back_to_the_columns_with_what_was_chosen(home: Family) -> None:
    look = _pressed(home, send(home, PAST), {"column-side": "", "gone": "no", "place": "freezer"})
    assert "freezer" in text(look)
    page = press(home, look, step="columns")
    side, place = page.select_one("#column-side option[selected]"), page.select_one("#place option[selected]")
    assert side is None and place is not None and place["value"] == "freezer"
    chosen = page.select_one('input[name="gone"][checked]')
    assert chosen is not None and chosen["value"] == "no"


def test_what_is_no_table_or_did_not_arrive_is_said(home: Family) -> None:
    for data in ({"what": "sessions", "text": "  "}, {"what": "sessions", "step": "look", "packed": "xx"},
                 {"what": "stock", "file": SimpleUploadedFile("a.xlsx", b"PK\x03\x04\0\0\0\0binary")}):  # fmt: skip
        page = home.send("/in/", data, status=422)
        assert page.select_one("#problems") is not None
    assert home.phone.post("/in/", {"step": "record", "packed": "", "column-date": "999"}).status_code == 422


def test_odd_answers_never_break_the_page(home: Family) -> None:
    look = home.fill(press(home, send(home, PAST)), "/in/")
    for odd in ({"column-date": "77"}, {"unit": "cups"}, {"day_first": "?"}, {"seen": "9" * 40}, {"place": "moon"},
                {"gone": ""}, {"step": "zzz"}, {"column-amount": "-1"}):  # fmt: skip
        assert home.phone.post("/in/", look | odd).status_code in (200, 302, 422), odd


def test_only_who_settles_may_bring_in(home: Family) -> None:
    for phone in (carer(home), childcare(home, service=service(home))):
        assert phone.get("/in/").status_code == 403
        assert phone.post("/in/", {"what": "sessions", "text": PAST}).status_code == 403
