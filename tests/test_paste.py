"""Stock pasted from a spreadsheet: twelve messy samples with hand-typed readings, and what holds for any text."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from thawline.core.events import PlaceKind
from thawline.services.paste import Pasted, PasteTooLongError, Problem, Row, Unit, read_paste

# 10 May 2027 is a Monday.
TODAY = date(2027, 5, 10)
PLACES = {"fridge": "refrigerator", "Kitchen freezer": "freezer", "garage chest": "deep_freezer"}
SAMPLES = sorted((Path(__file__).parent / "pastes").glob("*.txt"))


def paste(text: str, unit: Unit = "ml", day_first: bool | None = None, amount_unit: Unit | None = None) -> Pasted:
    return read_paste(text, today=TODAY, places=PLACES, unit=unit, day_first=day_first, amount_unit=amount_unit)


def only(text: str) -> Row:
    (row,) = paste(text).rows
    return row


def codes(row: Row) -> list[str]:
    return [f"{problem.field} {problem.code}" for problem in row.problems]


def told(row: Row) -> dict[str, object]:
    """What a row says, without what it leaves at its default."""
    found: dict[str, object] = {**row._asdict(), "problems": codes(row)}
    del found["raw"]
    return {name: value for name, value in found.items() if value not in (None, []) and (name, value) != ("count", 1)}


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_samples_read_as_typed_in_by_hand(path: Path) -> None:
    expected = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    # read_bytes: the line ends are part of the sample
    found = paste(path.read_bytes().decode("utf-8"), **expected.get("given", {}))
    assert [told(row) for row in found.rows] == expected["rows"]
    assert list(found.columns) == expected["columns"]
    assert found.header == expected.get("header", False)
    assert list(found.skipped) == expected.get("skipped", [])
    asked = {question.kind: [label for _, label in question.choices] for question in found.questions}
    assert asked == expected.get("questions", {})


def test_there_are_twelve_samples() -> None:
    assert len(SAMPLES) == 12


# ---- days --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2027-04-03", "2027-04-03"),
        ("2027/4/3", "2027-04-03"),
        ("2027-04-03 00:00:00", "2027-04-03"),
        ("13/4/27", "2027-04-13"),
        ("4/13/2027", "2027-04-13"),
        ("13.04.2027", "2027-04-13"),
        ("3 Apr", "2027-04-03"),
        ("Apr 3 2027", "2027-04-03"),
        ("April 3rd, 2027", "2027-04-03"),
        ("3-Apr-27", "2027-04-03"),
        ("3 Apr 27", "2027-04-03"),
        ("Sat 3 Apr", "2027-04-03"),
        ("mar 3 avr", "2027-04-03"),
        ("3 Jun", "2026-06-03"),
        ("29 Feb", "2024-02-29"),
        ("10 May", "2027-05-10"),
        ("1er mars 2027", "2027-03-01"),
        ("3. März", "2027-03-03"),
        ("3 de abril de 2027", "2027-04-03"),
        ("3 août 2026", "2026-08-03"),
        ("5 gen 2027", "2027-01-05"),
        ("7 out 2026", "2026-10-07"),
        ("8 mrt 2027", "2027-03-08"),
        ("9 dic", "2026-12-09"),
        ("today", "2027-05-10"),
        ("Gestern", "2027-05-09"),
        ("aujourd'hui", "2027-05-10"),
        ("hier", "2027-05-09"),
        ("3 Apr 14:30", "2027-04-03"),
        ("3 Apr 2:30 pm -05:00", "2027-04-03T14:30:00-05:00"),
        ("2027-04-03T07:10:00Z", "2027-04-03T07:10:00Z"),
        ("3 jui 2026", None),
        ("31/4/27", None),
        ("Apr 2027", None),
        ("3 Apr 1999", None),
        ("29 Feb 2027", None),
        ("12", None),
    ],
)
def test_a_day_is_read_however_it_is_written(written: str, day: str | None) -> None:
    row = only(f"date\tml\tplace\n{written}\t120\tfridge")
    assert row.expressed == day
    assert codes(row) == ([] if day else ["expressed date_unclear"])


def test_dates_that_contradict_each_other_are_each_marked() -> None:
    found = paste("13/4\t120\tfridge\n4/14\t120\tfridge\n3/4\t100\tfridge\n2027-04-01\t90\tfridge")
    assert [codes(row) for row in found.rows] == [
        ["expressed dates_disagree"],
        ["expressed dates_disagree"],
        ["expressed date_order"],
        [],
    ]
    assert [question.kind for question in found.questions] == ["day_first"]


def test_an_answer_marks_only_the_lines_that_contradict_it() -> None:
    found = paste("13/4\t120\tfridge\n4/14\t120\tfridge\n3/4\t100\tfridge", day_first=True)
    assert [codes(row) for row in found.rows] == [[], ["expressed dates_disagree"], []]
    assert found.rows[2].expressed == "2027-04-03" and not found.questions


def test_a_month_in_letters_does_not_settle_figures() -> None:
    # Spreadsheets write 3-Apr where people write 4/3.
    assert [question.kind for question in paste("3-Apr\t120\tfridge\n3/4\t100\tfridge").questions] == ["day_first"]


def test_a_use_by_day_is_never_taken_for_the_day_of_expressing() -> None:
    row = only("Use by\tml\tplace\n2027-04-03\t120\tfridge")
    assert row.expressed is None and codes(row) == ["expressed date_missing"] and row.note == "2027-04-03"


def test_a_second_day_without_heading_stays_a_note() -> None:
    row = only("2027-04-03\t120\tfridge\t2027-04-07")
    assert (row.expressed, row.frozen_on, row.note) == ("2027-04-03", None, "2027-04-07")


# ---- amounts -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "ml", "count"),
    [
        ("120", 120, 1),
        ("120 mL", 120, 1),
        ("120cc", 120, 1),
        ("120,5", 120.5, 1),
        ("12 cl", 120, 1),
        ("4 oz", 118.3, 1),  # 4 x 29.5735295625 = 118.294
        ("4oz.", 118.3, 1),
        ("4½oz", 133.1, 1),  # 133.081
        ("½ fl. oz.", 14.8, 1),  # 14.787
        ("1/4 oz", 7.4, 1),  # 7.393
        ("3 x 120 ml", 120, 3),
        ("3x120", 120, 3),
        ("120 ml \u00d7 3", 120, 3),
        ("2 Beutel a 90 ml", 90, 2),
    ],
)
def test_an_amount_is_read_with_its_unit(written: str, ml: float, count: int) -> None:
    row = only(f"date\tamount\tplace\n2027-04-03\t{written}\tfridge")
    assert (row.ml, row.count, codes(row)) == (ml, count, [])


@pytest.mark.parametrize(
    "written", ["1,000 ml", "1.000", "half", "-5", "-5 ml", "<5 ml", "60+60", "5/4 oz", "60 ml, 4 oz"]
)
def test_an_amount_in_doubt_is_not_guessed(written: str) -> None:
    row = only(f"date\tamount\tplace\n2027-04-03\t{written}\tfridge")
    assert row.ml is None and codes(row) == ["ml amount_unclear"]


@pytest.mark.parametrize(("unit", "amounts"), [("ml", ("4", "5.5")), ("fl_oz", ("120", "4"))])
def test_amounts_odd_in_the_households_unit_are_asked_about(unit: Unit, amounts: tuple[str, str]) -> None:
    text = "\n".join(f"2027-04-03\t{amount}\tfridge" for amount in amounts)
    found = paste(text, unit)
    assert [question.kind for question in found.questions] == ["unit"]
    assert [row.ml for row in found.rows] == [None, None]
    assert not paste(text, unit, amount_unit="ml").questions
    assert [row.ml for row in paste(text, unit, amount_unit="ml").rows] == [float(amount) for amount in amounts]


def test_the_heading_tells_the_unit() -> None:
    assert only("date\toz\tplace\n2027-04-03\t4\tfridge").ml == 118.3
    assert only("date\tamount\tunit\tplace\n2027-04-03\t4\toz\tfridge").ml == 118.3


def test_two_bare_figures_are_not_taken_for_a_count_in_silence() -> None:
    row = only("2027-04-03\t120\t3\tfridge")
    assert (row.ml, row.count, codes(row)) == (120, 1, ["count count_unclear"])


def test_quantity_is_a_count_only_beside_an_amount() -> None:
    assert only("date\tquantity\tplace\n2027-04-03\t120\tfridge").ml == 120
    assert only("date\tml\tquantity\tplace\n2027-04-03\t120\t4\tfridge").count == 4


# ---- places ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "place"),
    [
        ("FRIDGE", "fridge"),
        ("in the fridge", "fridge"),
        ("refrigerator", "fridge"),
        ("Kühlschrank", "fridge"),
        ("congélateur", "Kitchen freezer"),
        ("kitchen  freezer", "Kitchen freezer"),
        ("Deep-Freezer", "garage chest"),
        ("vrieskist", "garage chest"),
        ("freezer (top shelf)", "Kitchen freezer"),
        ("grandma's freezer", None),
        ("counter", None),
    ],
)
def test_a_place_is_matched_by_name_then_by_kind(written: str, place: str | None) -> None:
    row = only(f"date\tml\tplace\n2027-04-03\t120\t{written}")
    assert row.place == (place or written)
    assert codes(row) == ([] if place else ["place unknown_place"])


def test_a_kind_that_two_places_have_names_neither() -> None:
    places = {"left": "freezer", "right": "freezer"}
    (row,) = read_paste("2027-04-03\t120 ml\tfreezer", today=TODAY, places=places, unit="ml").rows
    assert row.place == "freezer" and codes(row) == ["place unknown_place"]


# ---- notes -------------------------------------------------------------------------------------------------


def test_cells_out_of_order_are_known_by_their_looks() -> None:
    found = paste("3 Apr, 120 ml, freezer\n5 Apr, fridge, 90 ml\n6 Apr, fridge")
    assert [(row.ml, row.place) for row in found.rows] == [(120, "Kitchen freezer"), (90, "fridge"), (None, "fridge")]


def test_two_containers_on_one_line_are_not_read_as_one() -> None:
    assert "ml amount_unclear" in codes(only("120ml fridge 3/13; 3/14 90ml fridge"))
    assert "ml amount_unclear" in codes(only("Feb 3: 120 and 90"))
    assert "ml amount_unclear" in codes(only("Feb 3: 4oz + 3oz"))


def test_what_is_left_of_a_cell_stays_as_a_note() -> None:
    row = only('2027-04-01,"120 ml, left","fridge, door"')
    assert (row.ml, row.place, row.note) == (120, "fridge", "left; door")


def test_a_lone_quote_swallows_nothing() -> None:
    found = paste('2027-04-01\t120\tfridge\t"from\n2027-04-02\t90\tfridge')
    assert [(row.ml, row.place) for row in found.rows] == [(120, "fridge"), (90, "fridge")]


# ---- limits and properties ---------------------------------------------------------------------------------


def test_too_long_a_paste_is_refused_whole() -> None:
    line = "2027-04-03\t120\tfridge\n"
    assert len(paste(line * 500).rows) == 500
    for text in (line * 501, "1" * 2001, "\n" * 200_001):
        with pytest.raises(PasteTooLongError):
            paste(text)


pieces = st.sampled_from(
    [
        *(
            "3/4",
            "13/4",
            "2027-04-03",
            "3 Apr",
            "mar",
            "46115",
            "today",
            "14:30",
            "+02:00",
            "120",
            "4 oz",
            "½",
            "ml",
            "x",
            "0",
        ),
        *("fridge", "freezer", "frozen", "Date", "Total", "99999999", "-", "/", ".", '"'),
        *("\t", ";", ",", "|", "  ", " ", "\n", "\r\n"),
    ]
)
texts = st.one_of(st.text(max_size=300), st.lists(pieces, max_size=40).map("".join))


@given(texts, st.sampled_from([TODAY, date.min, date.max]), st.sampled_from([None, True, False]))
@example("\x00,\x00\n\ud800;½", TODAY, None)
@example("today", date.min, None)
def test_any_text_is_read_and_every_line_accounted_for(text: str, today: date, day_first: bool | None) -> None:
    found = read_paste(text, today=today, places=PLACES, unit="ml", day_first=day_first)
    rows, skipped = [row.number for row in found.rows], list(found.skipped)
    lines = re.sub("\r\n?", "\n", text).split("\n")
    assert sorted(rows + skipped) == list(range(1, len(lines) + (lines[-1] != "" and 1)))
    for row in found.rows:
        # A row without a problem says all there is to say.
        assert row.problems or (row.ml and row.expressed and row.place in PLACES)
        assert all(problem.says and problem == Problem(*problem) for problem in row.problems)


names = st.text(st.characters(categories=["L", "Nd"]), min_size=1, max_size=12).map("place {}".format)
stocks = st.tuples(
    st.dates(TODAY - timedelta(days=2000), TODAY),
    st.integers(1, 50_000).map(lambda tenths: tenths / 10),
    names,
)


@given(st.lists(stocks, min_size=1, max_size=8), st.sampled_from(get_args(PlaceKind)))
def test_rows_we_print_parse_back_to_themselves(stock: list[tuple[date, float, str]], kind: str) -> None:
    places = {name: kind for _, _, name in stock}
    text = "\n".join(["date\tml\tplace", *(f"{day.isoformat()}\t{ml}\t{name}" for day, ml, name in stock)])
    found = read_paste(text, today=TODAY, places=places, unit="fl_oz")
    assert not found.questions
    assert [(row.expressed, row.ml, row.place, row.problems) for row in found.rows] == [
        (day.isoformat(), ml, name, ()) for day, ml, name in stock
    ]
