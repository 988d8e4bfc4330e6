"""Tables taken out: RFC 4180, no formulas, the household's clock, and what comes out goes in again."""

from __future__ import annotations

import csv
import io
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.pages import Family, home
from tests.people import carer, childcare, service
from tests.test_bring_in import NOW, furnish, kept, looked

from thawline.core.replay import run
from thawline.core.times import DAY, MINUTE, written, zone_named
from thawline.records.memory import MemoryStore
from thawline.services import recording, tables
from thawline.services.board import board
from thawline.services.demo import demo_ledger
from thawline.services.recording import line_of
from thawline.services.tables import Span

__all__ = ["home"]


def out(store: Any, what: tables.What, **more: Any) -> str:
    bom = more.pop("bom", False)
    return b"".join(tables.written_out(tables.table(store, what, now=NOW, **more), bom=bom)).decode()


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def demo() -> Any:
    store = MemoryStore()
    recording.record(store, demo_ledger(now=NOW), now=NOW)
    return store


def told(store: Any, *events: dict[str, Any]) -> None:
    found = recording.record(store, [line_of({"at": "2027-01-12T07:10:00+00:00", **one}) for one in events], now=NOW)
    assert not found.refused


# ---- the format --------------------------------------------------------------------------------------------


@given(st.lists(st.lists(st.text(max_size=8), min_size=2, max_size=4), min_size=1, max_size=6))
def test_rows_are_written_as_rfc_4180_has_them(cells: list[list[str]]) -> None:
    # RFC 4180, section 2: CRLF ends each record (1), quotes around cells with CR, LF, quotes or commas (6), doubled
    # quotes within (7). A second, plain reading of the grammar:
    cells = [[cell.encode("utf-8", "replace").decode() for cell in row] for row in cells]
    text = b"".join(tables.written_out(cells)).decode()
    assert text.endswith("\r\n")
    read: list[list[str]] = [[]]
    at = 0
    while at < len(text):
        if text[at] == '"':
            end = at + 1
            while text[end] != '"' or text[end + 1 : end + 2] == '"':
                end += 2 if text[end] == '"' else 1
            read[-1].append(text[at + 1 : end].replace('""', '"'))
            at = end + 1
        else:
            end = min(text.index(sign, at) for sign in (",", "\r\n") if sign in text[at:])
            assert '"' not in text[at:end] and "\n" not in text[at:end]
            read[-1].append(text[at:end])
            at = end
        if text[at] == ",":
            at += 1
        else:
            assert text[at : at + 2] == "\r\n"
            at += 2
            read += [[]] if at < len(text) else []
    guarded = [
        [f"'{cell}" if cell[:1] in tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20") else cell for cell in row]
        for row in cells
    ]
    assert read == guarded


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_cell_of_text_is_a_formula_for_a_spreadsheet(name: str) -> None:
    # OWASP, "CSV Injection": = + - @ (wide ones too), tab, carriage return and line feed at the beginning of a cell.
    store = furnish(MemoryStore())
    told(store, {"id": "e", "kind": "expressed", "into": [{"container": name, "ml": 90}], "place": "fridge"})
    for what in tables.WHATS:
        for row in rows(out(store, what)):
            assert not [cell for cell in row.values() if cell[:1] in "=+@\t\r-" and cell], row


def test_numbers_stay_numbers() -> None:
    assert b"".join(tables.written_out([[-5, -0.5, 120.5, 2, None, 1234567.25]])) == b"-5,-0.5,120.5,2,,1234567.25\r\n"


def test_a_byte_order_mark_stands_first_where_it_is_wished_for(demo: Any) -> None:
    assert out(demo, "sessions", bom=True) == "\ufeff" + out(demo, "sessions")


def test_times_have_their_offset_and_the_households_day_and_clock(demo: Any) -> None:
    told(demo, {"id": "late", "at": "2026-07-12T23:30:00Z", "kind": "nursed", "child": "Mira"})
    row = next(one for one in rows(out(demo, "feeds")) if one["at"].startswith("2026-07"))
    # Lisbon in July is UTC+1 (IANA tz database).
    assert (row["at"], row["date"], row["time"]) == ("2026-07-13T00:30:00+01:00", "2026-07-13", "00:30")


# ---- what stands in them -----------------------------------------------------------------------------------


def test_the_tables_totals_are_the_ledgers(demo: Any) -> None:
    booked = run(demo.lines(), now=NOW).fold.booked()
    assert sum(float(row["ml"]) for row in rows(out(demo, "sessions"))) == pytest.approx(booked.expressed)
    fed = [float(row["ml"]) for row in rows(out(demo, "feeds")) if row["what"] == "bottle"]
    assert sum(fed) == pytest.approx(booked.fed)
    assert sum(float(row["ml"]) for row in rows(out(demo, "stock"))) == pytest.approx(booked.still_there)
    assert len(rows(out(demo, "events"))) == sum(1 for _ in demo.lines())


def test_a_span_of_days_takes_both_its_ends(demo: Any) -> None:
    days = {row["date"] for row in rows(out(demo, "sessions", span=Span("2027-01-20", "2027-01-22")))}
    assert days == {"2027-01-20", "2027-01-21", "2027-01-22"}


def test_what_was_taken_back_is_in_no_table_but_the_one_of_entries() -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {"id": "e", "kind": "expressed", "into": [{"container": "A1", "ml": 90}], "place": "fridge"},
        {"id": "v", "kind": "voided", "event": "e"},
    )
    assert rows(out(store, "sessions")) == rows(out(store, "stock")) == []
    stands = {row["id"]: row["stands"] for row in rows(out(store, "events"))}
    assert (stands["e"], stands["v"]) == ("taken back", "yes")


def test_a_household_in_ounces_has_both_units() -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {"id": "u", "kind": "household", "zone": "Europe/Lisbon", "units": ["fl_oz", "F"]},
        {"id": "e", "kind": "expressed", "into": [{"container": "A1", "ml": 118.3}], "place": "fridge"},
    )
    (row,) = rows(out(store, "sessions"))
    assert (row["ml"], row["fl_oz"]) == ("118.3", "4")
    assert looked(furnish(MemoryStore()), out(store, "sessions"))[0].ml == 118.3


def test_an_empty_household_has_headings_alone() -> None:
    for what in tables.WHATS:
        assert out(MemoryStore(), what).count("\r\n") == 1


# ---- out and in --------------------------------------------------------------------------------------------

names = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Zl", "Zp"]), min_size=1, max_size=10
).filter(str.strip)
sessions = st.lists(
    st.tuples(
        st.integers(1, 300 * 24 * 60),
        st.integers(1, 20_000).map(lambda n: n / 10),
        st.sampled_from([None, "left", "right", "both"]),
        st.one_of(st.none(), st.integers(1, 90)),
        names,
        st.booleans(),
    ),
    max_size=8,
    unique_by=(lambda one: one[0], lambda one: one[4]),
)


@settings(deadline=None)
@given(sessions, st.booleans())
def test_sessions_taken_out_and_brought_in_are_the_same_sessions(made: list[Any], bom: bool) -> None:
    store = furnish(MemoryStore())
    here = zone_named("Europe/Lisbon")
    for number, (minutes, ml, side, took, name, day) in enumerate(made):
        at = written(NOW - minutes * MINUTE, here)
        event = {
            "id": f"e{number}",
            "at": at[:10] if day else at,
            "kind": "expressed",
            "place": "fridge",
            "into": [{"container": name, "ml": ml}],
            "side": side,
            "minutes": took,
        }
        told(store, {key: value for key, value in event.items() if value is not None})
    first = out(store, "sessions", bom=bom)
    other = furnish(MemoryStore())
    if made:
        assert kept(other, first, gone=False).rows == len(made)
    columns = ("at", "date", "time", "ml", "side", "minutes", "place")
    again = [{name: row[name] for name in columns} for row in rows(out(other, "sessions"))]
    wanted = [{name: row[name] for name in columns} for row in rows(first.removeprefix("\ufeff"))]
    assert sorted(map(str, again)) == sorted(map(str, wanted))
    if made:
        # At home nothing is new.
        seen, _ = looked(store, first)
        assert (len(seen.new), seen.known) == (0, len(made))


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(2, 150), st.integers(1, 3000), names),
        min_size=1,
        max_size=6,
        unique_by=lambda one: one[2],
    )
)
def test_stock_taken_out_and_brought_in_is_the_same_stock(made: list[tuple[int, int, str]]) -> None:
    store = furnish(MemoryStore())
    for number, (days, ml, name) in enumerate(made):
        day = written(NOW - days * DAY, zone_named("Europe/Lisbon"))[:10]
        event = {
            "id": f"s{number}",
            "at": "2027-02-03T10:00:00+00:00",
            "kind": "stocked",
            "container": name,
            "ml": ml,
            "place": "freezer",
            "expressed": day,
            "frozen_on": day,
        }
        told(store, event)
    other = furnish(MemoryStore())
    done = kept(other, out(store, "stock"), "stock")
    labels = [one[2] for one in made]
    # A label is one line without blanks around: what differs by blanks alone can't stand in a table.
    if len({" ".join(one.split()) for one in labels}) == len(labels):
        assert done.rows == len(made)
        there = {(one.ml, one.place, one.form, one.dated) for one in board(other, now=NOW).verdicts}
        assert there == {(one.ml, one.place, one.form, one.dated) for one in board(store, now=NOW).verdicts}


# ---- the pages ---------------------------------------------------------------------------------------------


def test_the_page_leads_to_everything_and_reading_changes_nothing(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    before = list(home.store.lines())
    page = home.see("/out/")
    for form in page.select("main form"):
        values = {str(one["name"]): one.get("value", "") for one in form.select("input[checked], input[type=date]")}
        answer = home.phone.get(str(form["action"]), values)
        assert answer.status_code == 200, form["action"]
        assert b"".join(answer) if answer.streaming else answer.content
    assert list(home.store.lines()) == before


def test_a_table_comes_as_a_file_of_its_day(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    answer = home.phone.get("/out/table/?what=sessions&bom=yes&from=2027-02-03&to=2027-02-03")
    assert answer.streaming and answer.headers["Content-Type"].startswith("text/csv")
    assert 'filename="thawline-sessions-2027-02-03.csv"' in answer.headers["Content-Disposition"]
    body = b"".join(answer).decode()
    assert body.startswith("\ufeffat,date,time,ml") and "KA34 90" in body
    for odd in ("from=x&to=2027-13-99", "from=%00", "bom=maybe"):
        assert home.phone.get(f"/out/table/?what=feeds&{odd}").status_code == 200
    assert home.phone.get("/out/table/?what=secrets").status_code == 404


def test_who_may_not_see_the_supply_takes_nothing_out(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    for phone in (carer(home), childcare(home, service=service(home))):
        for address in ("/out/", "/out/table/", "/out/health-record/", "/print/summary/", "/print/bank-log/"):
            assert phone.get(address).status_code == 403, address


@settings(deadline=None, max_examples=10)
@given(st.integers(0, 2**32))
def test_a_container_written_in_at_random_is_found_in_the_stock(seed: int) -> None:
    store = furnish(MemoryStore())
    rng = random.Random(seed)
    code = "".join(rng.choice("ABC=+-@'\",;\n ü") for _ in range(6)).strip() or "A"
    told(
        store,
        {
            "id": "e",
            "at": "2027-02-03T07:10:00+00:00",
            "kind": "expressed",
            "place": "fridge",
            "into": [{"container": code, "ml": 90}],
        },
    )
    (row,) = rows(out(store, "stock"))
    assert row["label"] in (code, f"'{code}")
