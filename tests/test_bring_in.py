"""Past sessions and stock out of a table: read by its columns, told before it is kept, kept once, never a crash."""

from __future__ import annotations

import csv
import io
import random
import time
import tracemalloc
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.stores import new_household

from thawline.core import events as ev
from thawline.core.replay import moment, run
from thawline.core.units import ML_PER_FL_OZ
from thawline.records.memory import MemoryStore
from thawline.services import bring_in, recording, take_out
from thawline.services.board import board
from thawline.services.bring_in import CannotReadError, Looked, Mapped
from thawline.services.bring_in_rows import minutes_of
from thawline.services.recording import line_of

NOW = moment("2027-02-03T14:00:00+00:00")
ZONE = "Europe/Lisbon"
HOME: list[dict[str, Any]] = [
    {"id": "h", "kind": "household", "zone": ZONE, "guideline": "cdc", "units": ["ml", "C"]},
    {"id": "p1", "kind": "place", "place": "counter", "is": "room", "temp_c": 21},
    {"id": "p2", "kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": 4},
    {"id": "p3", "kind": "place", "place": "freezer", "is": "freezer", "temp_c": -18},
]


def furnish(store: Any) -> Any:
    lines = [line_of({"at": "2026-01-01T00:00:00+00:00", **one}) for one in HOME]
    assert not recording.record(store, lines, now=NOW).refused
    return store


@pytest.fixture
def store() -> Any:
    return furnish(MemoryStore())


def looked(store: Any, text: str | bytes, what: bring_in.What = "sessions", **given: Any) -> tuple[Looked, Mapped]:
    """A table looked through as its columns are proposed, with these answers put in."""
    table, _text = bring_in.read_table(text if isinstance(text, bytes) else text.encode())
    mapped = bring_in.propose(table, what, board(store, now=NOW))._replace(**given)
    return bring_in.look(store, table, mapped, what, now=NOW), mapped


def kept(store: Any, text: str | bytes, what: bring_in.What = "sessions", **given: Any) -> bring_in.Kept:
    found, mapped = looked(store, text, what, **given)
    return bring_in.keep(store, found, mapped, what, now=NOW, person="Marta", rng=random.Random(1))


def faults(found: Looked) -> list[tuple[int, str, str]]:
    return [(one.line, one.column, one.code) for one in found.faults]


def told(found: Looked) -> list[tuple[str, float]]:
    return [(one.row.at, one.row.ml) for one in found.new]


# ---- how it was written ------------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_separator_encoding_and_line_end_reads_the_same(store: Any, sign: str, encoding: str, end: str) -> None:
    rows = [["Datum", "Uhrzeit", "Menge (ml)", "Notiz"], ["13.01.2027", "07:10", "120", "früh, müde"],
            ["14.01.2027", "7:05", "95", 'sie sagte "mehr"']]  # fmt: skip
    text = io.StringIO()
    csv.writer(text, delimiter=sign, lineterminator=end).writerows(rows)
    found, _ = looked(store, text.getvalue().encode(encoding))
    assert told(found) == [("2027-01-13T07:10:00+00:00", 120), ("2027-01-14T07:05:00+00:00", 95)]
    assert found.faults == ()


def test_a_decimal_comma_beside_semicolons_is_a_decimal(store: Any) -> None:
    found, _ = looked(store, "Date;Time;Amount (ml)\n2027-01-13;07:10;120,5\n2027-01-14;07:10;90,0\n")
    assert [ml for _, ml in told(found)] == [120.5, 90]


def test_a_lone_quote_swallows_no_rows(store: Any) -> None:
    lines = [f"2027-01-{day:02},07:10,{90 + day},{'5' + chr(34) if day == 3 else 'x'}" for day in range(1, 31)]
    found, _ = looked(store, "date,time,ml,note\n" + "\n".join(lines))
    assert len(found.new) == 30


def test_a_quoted_cell_may_hold_separators_quotes_and_line_ends(store: Any) -> None:
    # RFC 4180, section 2, points 5 to 7.
    text = 'date,time,ml,note\r\n2027-01-13,07:10,120,"a ""b"", c\r\nd"\r\n2027-01-14,07:10,80,x\r\n'
    found, _ = looked(store, text)
    assert [one.row.line for one in found.new] == [2, 4]


@pytest.mark.parametrize("data", [b"", b"\n\n", b"PK\x03\x04\0\0binary\0", b",,,\n;;;"])
def test_what_is_no_table_is_said_in_one_sentence(data: bytes) -> None:
    with pytest.raises(CannotReadError) as fault:
        bring_in.read_table(data)
    assert str(fault.value).endswith(".") and "\n" not in str(fault.value)


def test_more_rows_or_bytes_than_fit_are_refused_with_what_to_do() -> None:
    with pytest.raises(CannotReadError, match="several files"):
        bring_in.read_table(b"x" * (bring_in.MOST_BYTES + 1))
    with pytest.raises(CannotReadError, match="rows"):
        bring_in.read_table(b"date,ml\n" + b"2027-01-01,90\n" * (bring_in.MOST_ROWS + 1))


@given(st.text(max_size=200))
def test_a_packed_text_comes_back_whole(text: str) -> None:
    text = text.encode("utf-8", "replace").decode()
    assert bring_in.unpacked(bring_in.packed(text)) == text


@pytest.mark.parametrize("text", ["", "x", "eJw", "é", "AAAA" * 40])
def test_a_packed_text_that_broke_is_said(text: str) -> None:
    with pytest.raises(CannotReadError):
        bring_in.unpacked(text)


def test_a_small_text_that_unpacks_to_far_too_much_is_refused() -> None:
    with pytest.raises(CannotReadError):
        bring_in.unpacked(bring_in.packed("x" * (5 * bring_in.MOST_BYTES)))


# ---- columns -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "roles"),
    [
        ("Date,Start time,Amount (oz),Side,Duration (min)", ["date", "time", "amount", "side", "minutes"]),
        ("Datum;Uhrzeit;Menge;Seite;Dauer", ["date", "time", "amount", "side", "minutes"]),
        ("fecha\thora\tcantidad ml\tlado\tminutos", ["date", "time", "amount", "side", "minutes"]),
        ("jour;heure;volume;côté;durée", ["date", "time", "amount", "side", "minutes"]),
        ("Date;Heure;Quantité (ml);Sein", ["date", "time", "amount", "side"]),
    ],
)
def test_headings_in_several_languages_propose_their_columns(head: str, roles: list[str]) -> None:
    table, _ = bring_in.read_table(f"{head}\n{head}\n".encode())
    mapped = bring_in.propose(table, "sessions", board(furnish(MemoryStore()), now=NOW))
    assert [role for role, _ in sorted(mapped.columns.items(), key=lambda item: item[1])] == roles


@pytest.mark.parametrize("title", ["Abpumpen 2027", "Abpumpen", "Abpumpen;;;"])
def test_a_title_over_a_table_is_not_taken_for_its_heading(store: Any, title: str) -> None:
    found, _ = looked(store, f"{title}\n\nDatum;Uhrzeit;Menge (ml);Seite\n2027-01-13;07:10;120,5;links\n")
    assert (told(found), found.faults) == ([("2027-01-13T07:10:00+00:00", 120.5)], ())


def test_a_table_without_a_heading_is_proposed_from_its_cells(store: Any) -> None:
    found, mapped = looked(store, "left,07:10,2027-01-13,120 ml\nright,9:40,2027-01-13,80 ml\n")
    assert mapped.columns == {"side": 0, "time": 1, "date": 2, "amount": 3}
    assert [(one.row.side, one.row.ml) for one in found.new] == [("left", 120), ("right", 80)]


def test_a_moment_in_one_cell_needs_no_time_beside_it(store: Any) -> None:
    found, mapped = looked(
        store, "time,ml\n2027-01-13 07:10,120\n2027-01-13 19:10,80\n", columns={"date": 0, "amount": 1}
    )
    assert told(found) == [("2027-01-13T07:10:00+00:00", 120), ("2027-01-13T19:10:00+00:00", 80)]
    assert "time" not in mapped.columns


# ---- days --------------------------------------------------------------------------------------------------


def test_an_order_of_days_that_nothing_tells_is_asked_not_guessed(store: Any) -> None:
    found, _ = looked(store, "date,time,ml\n3/1/2027,07:10,120\n4/1/2027,07:10,90\n")
    (asked,) = found.questions
    assert asked.kind == "day_first" and found.new == ()
    assert asked.choices == (("day", "3 January 2027"), ("month", "1 March 2027"))
    day, _ = looked(store, "date,time,ml\n3/1/2027,07:10,120\n", day_first=True)
    assert told(day) == [("2027-01-03T07:10:00+00:00", 120)]
    month, _ = looked(store, "date,time,ml\n1/3/2027,07:10,120\n", day_first=False)
    assert told(month) == [("2027-01-03T07:10:00+00:00", 120)]


def test_one_row_that_tells_the_order_settles_the_column_and_is_named(store: Any) -> None:
    found, _ = looked(store, "date,time,ml\n3/1/2027,07:10,120\n13/1/2027,07:10,90\n")
    assert not found.questions and [at[:10] for at, _ in told(found)] == ["2027-01-03", "2027-01-13"]
    assert any("13/1/2027" in note for note in found.notes)


def test_rows_that_contradict_each_other_are_asked_and_the_odd_ones_named(store: Any) -> None:
    text = "date,time,ml\n3/1/2027,07:10,120\n13/1/2027,07:10,90\n1/14/2027,07:10,90\n"
    asked, _ = looked(store, text)
    assert [one.kind for one in asked.questions] == ["day_first"]
    found, _ = looked(store, text, day_first=True)
    assert len(found.new) == 2 and faults(found) == [(4, "date", "date_other_order")]


def test_a_day_without_a_time_stays_a_day(store: Any) -> None:
    found, _ = looked(store, "date,ml\n2027-01-13,120\n")
    assert told(found) == [("2027-01-13", 120)]


def test_times_are_the_households_and_an_offset_is_kept(store: Any) -> None:
    # Lisbon: UTC+1 in July, UTC+0 in January (IANA tz database).
    found, _ = looked(store, "date,ml\n2026-07-13 07:10,120\n2026-07-13T07:10:00+02:00,90\n")
    assert [at for at, _ in told(found)] == ["2026-07-13T07:10:00+01:00", "2026-07-13T06:10:00+01:00"]


def test_a_time_that_the_clocks_went_past_is_to_be_mended(store: Any) -> None:
    # 29 March 2026, 01:00 in Lisbon did not exist (EU Directive 2000/84/EC: last Sunday of March, 01:00 UTC).
    found, _ = looked(store, "date,time,ml\n2026-03-29,01:30,120\n2026-03-29,02:30,90\n")
    assert faults(found) == [(2, "time", "time_skipped")]
    assert told(found) == [("2026-03-29T02:30:00+01:00", 90)]


def test_an_hour_that_came_twice_is_taken_in_the_files_order_and_told(store: Any) -> None:
    # 25 October 2026: 01:00 to 02:00 came twice in Lisbon.
    found, _ = looked(store, "date,time,ml\n2026-10-25,01:10,120\n2026-10-25,01:50,90\n2026-10-25,01:20,80\n")
    assert [at for at, _ in told(found)] == [
        "2026-10-25T01:10:00+01:00", "2026-10-25T01:50:00+01:00", "2026-10-25T01:20:00+00:00",
    ]  # fmt: skip
    assert any("showed twice" in note for note in found.notes)


def test_spreadsheet_day_numbers_and_fractions_read(store: Any) -> None:
    # Day 46035 of the 1900 system is 13 January 2026 (own count from 1899-12-30); 0.5 is noon.
    found, _ = looked(store, "date,time,ml\n46035,0.5,120\n")
    assert told(found) == [("2026-01-13T12:00:00+00:00", 120)]


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        (",07:10,120", ("date", "date_missing")),
        ("someday,07:10,120", ("date", "date_unclear")),
        ("2027-02-30,07:10,120", ("date", "date_unclear")),
        ("2027-01-13,25:10,120", ("time", "time_unclear")),
        ("2027-03-13,07:10,120", ("date", "date_ahead")),
        ("2009-03-13,07:10,120", ("date", "date_long_ago")),
        ("2027-01-13,07:10,", ("ml", "amount_missing")),
        ("2027-01-13,07:10,lots", ("ml", "amount_unclear")),
        ("2027-01-13,07:10,-5", ("ml", "amount_unclear")),
        ("2027-01-13,07:10,\"1,000\"", ("ml", "amount_unclear")),
        ("2027-01-13,07:10,9000", ("ml", "amount_much")),
    ],
)  # fmt: skip
def test_a_bad_row_is_named_with_its_column_and_the_good_ones_can_be_taken(
    store: Any, row: str, fault: tuple[str, str]
) -> None:
    found, mapped = looked(store, f"date,time,ml\n2027-01-12,07:10,100\n{row}\n2027-01-14,07:10,90\n")
    assert faults(found) == [(3, *fault)] and found.bad == 1
    assert found.faults[0].says and [one.row.line for one in found.new] == [2, 4]
    done = bring_in.keep(store, found, mapped, "sessions", now=NOW, person="Marta", rng=random.Random(1))
    assert done.rows == 2


def test_totals_and_empty_rows_are_left_out_and_counted(store: Any) -> None:
    found, _ = looked(store, "date,time,ml\n2027-01-12,07:10,100\n,,\nTotal,,100\n")
    assert len(found.new) == 1 and found.skipped == (4,) and found.faults == ()


def test_a_container_called_total_is_a_container(store: Any) -> None:
    found, _ = looked(store, "label,ml,expressed,place\nTOTAL,100,2027-01-12,freezer\nTotal,100,,\n", "stock")
    assert [one.row.code for one in found.new] == ["TOTAL"] and found.skipped == (3,)


# ---- amounts, sides, minutes -------------------------------------------------------------------------------


def test_ounces_are_us_fluid_ounces(store: Any) -> None:
    # NIST Handbook 44, Appendix C: 1 US fl oz = 29.5735... mL.
    found, _ = looked(store, "date,time,Amount (oz)\n2027-01-12,07:10,4\n2027-01-13,07:10,4.5\n")
    assert [ml for _, ml in told(found)] == [round(4 * ML_PER_FL_OZ, 1), round(4.5 * ML_PER_FL_OZ, 1)]


def test_bare_figures_that_would_be_odd_in_the_households_unit_are_asked(store: Any) -> None:
    found, _ = looked(store, "date,time,amount\n2027-01-12,07:10,4\n2027-01-13,07:10,3.5\n")
    assert [one.kind for one in found.questions] == ["unit"]
    said, _ = looked(store, "date,time,amount\n2027-01-12,07:10,4\n", unit="fl_oz")
    assert told(said) == [("2027-01-12T07:10:00+00:00", 118.3)]


def test_a_unit_column_is_obeyed_row_by_row(store: Any) -> None:
    found, _ = looked(
        store, "date,time,amount,unit\n2027-01-12,07:10,4,oz\n2027-01-13,07:10,90,ml\n2027-01-14,07:10,9,cups\n"
    )
    assert [ml for _, ml in told(found)] == [118.3, 90]
    assert faults(found) == [(4, "unit", "unit_unclear")]


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("15", 15), ("15 min", 15), ("0:15", 15), ("0:15:30", 15.5), ("12,5", 12.5), ("1440", 1440), ("1441", None),
     ("long", None), ("-3", None)],
)  # fmt: skip
def test_minutes_read_as_people_write_them(text: str, minutes: float | None) -> None:
    assert minutes_of(text) == minutes


def test_side_and_minutes_are_kept_with_the_session(store: Any) -> None:
    kept(store, "date,time,ml,side,minutes\n2027-01-12,07:10,100,Both,18\n2027-01-12,11:10,90,L,12\n")
    found = [entry.event for entry in take_out.whole(store, now=NOW).of(ev.Expressed)]
    assert [(one.side, one.minutes) for one in found if isinstance(one, ev.Expressed)] == [("both", 18), ("left", 12)]


# ---- what is recorded --------------------------------------------------------------------------------------

PAST = "date,time,ml\n2027-01-12,07:10,100\n2027-01-12,11:10,90\n2027-01-13,07:10,110\n"


def test_milk_that_is_gone_is_in_the_past_and_not_on_the_board(store: Any) -> None:
    assert kept(store, PAST).rows == 3
    assert board(store, now=NOW).verdicts == []
    replayed = run(store.lines(), now=NOW)
    booked = replayed.fold.booked()
    assert (booked.expressed, booked.still_there) == (300, 0)
    # Nobody followed it: neither fed, nor thrown away, nor given to anyone.
    assert (booked.fed, booked.discarded, booked.handed_over, booked.miscounted) == (0, 0, 0, 300)
    assert not replayed.fold.refused and not [one for one in replayed.verdicts if one.breaches]


def test_milk_of_past_sessions_that_is_still_there_is_on_the_board(store: Any) -> None:
    text = (
        "date,time,ml,place,frozen,code\n2027-01-12,07:10,100,freezer,2027-01-13,A1\n2027-02-03,07:10,90,fridge,,A2\n"
    )
    assert kept(store, text, gone=False).rows == 2
    found = {one.container: (one.ml, one.place, one.form) for one in board(store, now=NOW).verdicts}
    assert found == {"A1": (100, "freezer", "frozen"), "A2": (90, "fridge", "fresh")}
    stays = take_out.whole(store, now=NOW).fold.containers["A1"].stays
    assert [stay.place for stay in stays] == ["fridge", "freezer"]


def test_milk_still_there_needs_a_place(store: Any) -> None:
    found, _ = looked(store, "date,time,ml,place\n2027-01-12,07:10,100,\n2027-01-12,08:10,100,attic\n", gone=False)
    assert faults(found) == [(2, "place", "place_missing"), (3, "place", "place_unknown")]
    for_all, _ = looked(store, PAST, gone=False, place="freezer")
    assert len(for_all.new) == 3 and {one.row.place for one in for_all.new} == {"freezer"}


def test_stock_gets_its_labels_and_those_without_get_new_ones(store: Any) -> None:
    text = "label,ml,expressed,place,frozen on\nA1,100,2027-01-12,freezer,2027-01-13\n,90,2027-01-14,freezer,\n"
    assert kept(store, text, "stock").rows == 2
    found = board(store, now=NOW).verdicts
    assert {one.ml for one in found} == {100, 90} and "A1" in {one.container for one in found}
    assert all(1 < len(one.container) <= 8 for one in found)


def test_a_label_that_stands_twice_or_is_taken_is_to_be_mended(store: Any) -> None:
    kept(store, "label,ml,expressed,place\nA1,100,2027-01-12,freezer\n", "stock")
    text = "label,ml,expressed,place\nB1,100,2027-01-12,freezer\nB1,80,2027-01-13,freezer\nA1,70,2027-01-14,freezer\n"
    found, _ = looked(store, text, "stock")
    assert faults(found) == [(3, "label", "code_repeated"), (4, "label", "code_taken")]


def test_frozen_before_it_was_expressed_is_to_be_mended(store: Any) -> None:
    text = "ml,expressed,place,frozen on\n100,2027-01-12,freezer,2027-01-11\n90,2027-01-12,freezer,2027-03-01\n"
    found, _ = looked(store, text, "stock")
    assert [one.code for one in found.faults] == ["frozen_before", "frozen_ahead"]


def test_the_same_table_again_adds_nothing_and_a_longer_one_only_what_is_new(store: Any) -> None:
    kept(store, PAST)
    again, _ = looked(store, PAST)
    assert (len(again.new), again.known) == (0, 3)
    longer, _ = looked(store, PAST + "2027-01-14,07:10,95\n")
    assert (len(longer.new), longer.known) == (1, 3)
    assert told(longer) == [("2027-01-14T07:10:00+00:00", 95)]


def test_the_same_confirmation_sent_twice_records_once(store: Any) -> None:
    for what, text in (
        ("sessions", PAST),
        ("stock", "ml,expressed,place\n100,2027-01-12,freezer\n100,2027-01-12,freezer\n"),
    ):
        found, mapped = looked(store, text, what)  # type: ignore[arg-type]
        before = sum(1 for _ in store.lines())
        sent = [
            bring_in.keep(store, found, mapped, what, now=NOW + n, person="M", rng=random.Random(n), seen=NOW)  # type: ignore[arg-type]
            for n in range(2)
        ]
        assert [one.rows for one in sent] == [len(found.new), 0]
        assert sum(1 for _ in store.lines()) == before + len(found.new) * (2 if what == "sessions" else 1)


def test_rows_alike_are_as_many_sessions(store: Any) -> None:
    text = "date,time,ml\n2027-01-12,07:10,100\n2027-01-12,07:10,100\n"
    assert kept(store, text).rows == 2
    again, _ = looked(store, text)
    assert (len(again.new), again.known) == (0, 2)


def test_a_session_that_was_logged_here_counts_as_there(store: Any) -> None:
    event = {"id": "s", "at": "2027-01-12T07:10:00+00:00", "kind": "expressed",
             "into": [{"container": "KA34", "ml": 60}, {"container": "KA35", "ml": 40}], "place": "fridge"}  # fmt: skip
    recording.record(store, [line_of(event)], now=NOW)
    found, _ = looked(store, PAST)
    assert (len(found.new), found.known, found.back) == (2, 1, ())


def test_a_table_can_be_taken_back_and_brought_in_again(store: Any) -> None:
    kept(store, PAST)
    found, _ = looked(store, PAST)
    assert len(found.back) == 6
    assert bring_in.take_back(store, found, now=NOW, person="Marta") is not None
    assert run(store.lines(), now=NOW).fold.booked().expressed == 0
    assert kept(store, PAST).rows == 3
    assert run(store.lines(), now=NOW).fold.booked().expressed == 300
    assert bring_in.take_back(store, looked(store, "date,ml\n2027-01-01,5 ml\n")[0], now=NOW, person="M") is None


def test_stock_that_was_used_since_is_not_taken_back(store: Any) -> None:
    text = "label,ml,expressed,place\nA1,100,2027-01-12,freezer\nA2,80,2027-01-12,freezer\n"
    kept(store, text, "stock")
    event = {"id": "m", "at": "2027-02-03T14:00:00+00:00", "kind": "moved", "container": "A1", "to": "fridge"}
    recording.record(store, [line_of(event)], now=NOW)
    found, _ = looked(store, text, "stock")
    assert found.known == 2 and len(found.back) == 1


def test_looking_writes_nothing(store: Any) -> None:
    before = list(store.lines())
    looked(store, PAST)
    assert list(store.lines()) == before


# ---- anything at all ---------------------------------------------------------------------------------------

cells = st.one_of(
    st.sampled_from([
        "", "2027-01-12", "12.01.2027", "3/4/26", "2027-01-12T07:10:00+01:00", "07:10", "7 pm", "120", "4 oz", "4,5 oz",
        "left", "both", "15 min", "fridge", "freezer", "A1", "=1+1", "'=1", "frozen", "total", "46035", "0.5",
        "\uff11\uff12\uff10",
        "1e400", "nan", "inf", "99999999999999", "2026-03-29", "01:30", "-5", '"', "date", "time", "ml", "\x00",
    ]),
    st.text(max_size=12),
)  # fmt: skip
tables = st.lists(st.lists(cells, min_size=1, max_size=8), min_size=1, max_size=12)


@settings(deadline=None)
@given(
    rows=tables, sign=st.sampled_from([",", ";", "\t", "|"]), encoding=st.sampled_from(["utf-8", "utf-16", "cp1252"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]), what=st.sampled_from(["sessions", "stock"]),
    gone=st.booleans(), day_first=st.sampled_from([None, True, False]),
    unit=st.sampled_from([None, "ml", "fl_oz", "cl"]), cut=st.integers(0, 40), data=st.data(),
)  # fmt: skip
def test_no_table_breaks_it_and_every_row_is_new_known_bad_or_left_out(  # noqa: PLR0917  (all of it is drawn)
    rows: list[list[str]], sign: str, encoding: str, quoting: int, what: Any, gone: bool, day_first: bool | None,
    unit: Any, cut: int, data: st.DataObject,
) -> None:  # fmt: skip
    store = furnish(MemoryStore())
    text = io.StringIO()
    csv.writer(text, delimiter=sign, quoting=quoting).writerows(rows)  # type: ignore[arg-type]
    try:
        table, _ = bring_in.read_table(text.getvalue().encode(encoding, "replace")[cut // 4 :])
    except CannotReadError:
        return
    mapped = bring_in.propose(table, what, board(store, now=NOW))
    if data.draw(st.booleans()):
        width = len(table.heads)
        columns = {role: data.draw(st.integers(0, width - 1)) for role in bring_in.ROLES[what]}
        mapped = mapped._replace(columns=columns)
    mapped = mapped._replace(gone=gone, day_first=day_first, unit=unit, place="fridge")
    found = bring_in.look(store, table, mapped, what, now=NOW)
    assert all(one.says and "\n" not in one.says for one in found.faults)
    if not any(one.kind == "day_first" for one in found.questions):
        assert len(found.new) + found.known + found.bad + len(found.skipped) == len(table.rows)
        done = bring_in.keep(store, found, mapped, what, now=NOW, person="M", rng=random.Random(1))
        assert (done.rows, done.refused) == (len(found.new), ())
        assert not run(store.lines(), now=NOW).fold.refused


@settings(deadline=None)
@given(st.binary(max_size=300))
def test_no_bytes_break_it(data: bytes) -> None:
    store = furnish(MemoryStore())
    with suppress(CannotReadError):
        looked(store, data)
        looked(store, data, "stock", place="fridge")


# ---- size --------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.django_db
def test_twenty_thousand_rows_are_looked_through_and_kept_in_reasonable_time_and_memory() -> None:
    # "Reasonable" is ours: a look within 10 s, keeping within 60 s, less than 150 MB beside what was there.
    store = furnish(new_household())
    first = datetime(2025, 1, 1, 6, 0)  # noqa: DTZ001
    rng = random.Random(1)
    rows = ["Datum;Uhrzeit;Menge (ml);Seite"]
    for n in range(bring_in.MOST_ROWS):
        at = first + timedelta(minutes=50 * n)
        rows.append(f"{at:%d.%m.%Y};{at:%H:%M};{rng.randint(20, 200)},5;{rng.choice(['links', 'rechts'])}")
    text = "\n".join(rows)
    tracemalloc.start()
    start = time.perf_counter()
    found, mapped = looked(store, text)
    look_s, (_, peak) = time.perf_counter() - start, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    ahead = len(found.new) + found.bad
    assert ahead == bring_in.MOST_ROWS
    start = time.perf_counter()
    done = bring_in.keep(store, found, mapped, "sessions", now=NOW, person="M", rng=rng)
    keep_s = time.perf_counter() - start
    print(f"look {look_s:.1f} s, keep {keep_s:.1f} s, peak {peak / 1e6:.0f} MB, {done.rows} rows")  # noqa: T201
    assert done.rows == len(found.new)
    assert look_s < 30 and keep_s < 90 and peak < 150e6  # tracing takes its share
    assert board(store, now=NOW).verdicts == []
