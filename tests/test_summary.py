"""The summary and the log on paper: their totals are the ledger's, nothing overflows, and only facts stand in them."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from itertools import pairwise
from typing import Any

import pdfplumber
import pygrowup  # type: ignore[import-untyped]
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm
from tests.pages import Family, home
from tests.test_bring_in import NOW, furnish, kept

from thawline.core.replay import moment, run
from thawline.core.times import HOUR, written, zone_named
from thawline.faces.sheets import bank_log as log_sheet
from thawline.faces.sheets import summary as sheet
from thawline.faces.sheets.flow import MARGIN
from thawline.faces.words import words_for
from thawline.records.memory import MemoryStore
from thawline.services import bank_log, recording, summary, take_out
from thawline.services.demo import demo_ledger
from thawline.services.recording import line_of

__all__ = ["home"]
ZONE = "Europe/Lisbon"
PAPERS = {"a4": (210, 297), "letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1, mm


@pytest.fixture
def demo() -> Any:
    store = MemoryStore()
    recording.record(store, demo_ledger(now=NOW), now=NOW)
    return store


def told(store: Any, *events: dict[str, Any]) -> None:
    lines = [line_of({"id": f"t{n}", "at": "2027-02-01T07:10:00+00:00", **one}) for n, one in enumerate(events)]
    found = recording.record(store, lines, now=NOW)
    assert not found.refused


def pdf(store: Any, *, days: int = 30, names: bool = False, paper: str = "a4", units: Any = ("ml", "C")) -> bytes:
    found = summary.summary(store, now=NOW, days=days)
    return sheet.pages_of(found, words_for(ZONE, NOW, units), names=names, paper=paper).pdf()


def log(store: Any, which: bank_log.Which = "there", paper: str = "a4") -> bytes:
    logged = bank_log.bank_log(store, which, now=NOW)
    return log_sheet.pages_of(logged, words_for(ZONE, NOW), which, paper=paper).pdf()


def text(data: bytes) -> str:
    with pdfplumber.open(io.BytesIO(data)) as read:
        return "\n".join(page.extract_text() for page in read.pages)


def within(data: bytes, paper: str = "a4") -> None:
    """Every letter of every page stands within its margins, on the paper that was asked for."""
    with pdfplumber.open(io.BytesIO(data)) as read:
        for page in read.pages:
            wide, high = (25.4 / 72 * float(one) for one in (page.width, page.height))
            # Half a millimetre is what the issue allows a printed size to be off.
            assert (wide, high) == pytest.approx(PAPERS[paper], abs=0.5)
            for char in page.chars:
                assert char["x0"] >= MARGIN - 0.5 and char["x1"] <= float(page.width) - MARGIN + 0.5, char["text"]
                assert char["top"] >= MARGIN - 3 and char["bottom"] <= float(page.height) - MARGIN + 3, char["text"]
            rows = {round(char["doctop"], 1) for char in page.chars}
            for top in rows:
                line = sorted((c for c in page.chars if round(c["doctop"], 1) == top), key=lambda c: c["x0"])
                for one, other in pairwise(line):
                    assert other["x0"] >= one["x1"] - 1, "".join(c["text"] for c in line)


# ---- figures -----------------------------------------------------------------------------------------------


def test_the_totals_on_paper_are_the_ledgers(demo: Any) -> None:
    booked = run(demo.lines(), now=NOW).fold.booked()
    said = text(pdf(demo))
    assert re.search(rf"^Expressed {booked.expressed:g} mL", said, re.MULTILINE)
    assert re.search(rf"^Drunk from bottles {booked.fed:g} mL", said, re.MULTILINE)
    assert re.search(rf"^All \d+ {booked.still_there:g} mL", said, re.MULTILINE)
    assert re.search(rf"^All \d+ {booked.discarded:g} mL", said, re.MULTILINE)
    days = re.findall(r"^\w{3} \d+ \w{3} (\d+) ([\d.]+) mL (\d+) ([\d.]+) mL", said, re.MULTILINE)
    assert len(days) == 30
    assert sum(float(ml) for _n, ml, _feeds, _drunk in days) == booked.expressed
    assert sum(float(drunk) for _n, _ml, _feeds, drunk in days) == booked.fed


def test_milk_thrown_away_is_told_by_reason_with_what_was_left_in_it(demo: Any) -> None:
    found = summary.summary(demo, now=NOW)
    assert sum(one.ml for one in found.thrown) == run(demo.lines(), now=NOW).fold.booked().discarded
    assert "left over" in {one.why for one in found.thrown}


def test_a_day_is_the_households_day_also_when_the_clocks_change() -> None:
    store = furnish(MemoryStore())
    # 25 October 2026 has 25 hours in Lisbon; 23:30 UTC is 23:30 there then, 24:30 the day before.
    for n, at in enumerate(("2026-10-24T23:30:00Z", "2026-10-25T23:30:00Z", "2026-10-26T00:30:00Z")):
        told(
            store,
            {
                "id": f"e{n}",
                "at": at,
                "kind": "expressed",
                "place": "fridge",
                "into": [{"container": f"A{n}", "ml": 100}],
            },
        )
    now = moment("2026-10-27T12:00:00Z")
    found = {day.iso: day.sessions for day in summary.summary(store, now=now, days=7).days if day.sessions}
    assert found == {"2026-10-25": 2, "2026-10-26": 1}


def test_what_was_taken_back_counts_nowhere() -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {"kind": "expressed", "place": "fridge", "into": [{"container": "A1", "ml": 100}]},
        {"id": "v", "kind": "voided", "event": "t0"},
    )
    found = summary.summary(store, now=NOW)
    assert (found.sessions, found.total("expressed_ml"), found.stock, found.blank) == (0, 0, (), 30)
    assert "None." in text(pdf(store))


def test_sessions_from_an_older_table_are_counted_and_named_as_not_followed() -> None:
    store = furnish(MemoryStore())
    kept(store, "date,time,ml\n2027-01-12,07:10,100\n2027-01-13,07:10,110\n")
    said = text(pdf(store))
    assert re.search(r"^Expressed 210 mL", said, re.MULTILINE) and "2 sessions came from an older table" in said
    assert "None noted." in said


@pytest.mark.parametrize("sex", ["boy", "girl"])
def test_weights_stand_with_their_who_centile(sex: str) -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {
            "id": "c",
            "at": "2026-10-03T00:00:00Z",
            "kind": "child",
            "child": "Mira",
            "born": "2026-10-03",
            "care": "home",
            "sex": sex,
        },
        {"kind": "weighed", "child": "Mira", "kg": 6.0, "at": "2027-02-02T12:00:00Z"},
    )
    (weight,) = summary.summary(store, now=NOW).children[0].weights
    # Second calculator: pygrowup2, the WHO's daily table; ours is linear between months.
    who = {"boy": "male", "girl": "female"}[sex]
    score = float(pygrowup.Observation(who, age_in_days=round(weight.age_d)).wfa(6.0))
    assert weight.percentile == pytest.approx(100 * norm.cdf(score), abs=1.5)
    said = text(pdf(store))
    assert "WHO Child Growth Standards" in said and f"6.00 kg {weight.percentile:.0f}" in said


def test_without_sex_the_mean_stands_in_and_is_said_and_no_odd_weight_gets_a_centile() -> None:
    said = text(pdf(weighed("home")))
    assert "the mean of girls and boys stands in" in said and "39.00 kg not told" in said
    assert not re.search(r"6.00 kg not told", said)


def test_a_child_under_a_hospitals_care_gets_no_centile() -> None:
    said = text(pdf(weighed("hospital")))
    assert "6.00 kg not told" in said and "its care team's rules apply" in said


def weighed(care: str) -> Any:
    store = furnish(MemoryStore())
    child = {"id": "c", "at": "2026-10-03T00:00:00Z", "kind": "child", "child": "Mira", "born": "2026-10-03"}
    weights = [{"kind": "weighed", "child": "Mira", "kg": kg} for kg in (6.0, 39.0)]
    told(store, {**child, "care": care}, *weights)
    return store


def test_no_weights_no_centiles(demo: Any) -> None:
    store = furnish(MemoryStore())
    assert "centile" not in text(pdf(store)).casefold()


def test_names_stand_there_only_where_they_are_wished_for(demo: Any) -> None:
    told(demo, {"kind": "handed_over", "container": "WE33", "to": "Dr Weisz, ward 4"})
    assert "Mira" not in text(pdf(demo)) and "Weisz" not in text(pdf(demo))
    named = text(pdf(demo, names=True))
    assert "Mira" in named and "Weisz" in named


def test_what_is_not_known_and_the_cautions_are_printed(demo: Any) -> None:
    said = " ".join(text(pdf(demo)).split())
    for part in ("at the breast is not measured", "preterm, ill or in hospital", "no diagnosis and no advice"):
        assert part in said
    assert not re.search(r"\b(un)?safe", said, re.IGNORECASE)


def test_ounces_where_the_household_has_ounces(demo: Any) -> None:
    said = text(pdf(demo, units=("fl_oz", "F")))
    assert "Expressed 278.3 fl oz" in said and " mL" not in said  # 8230 / 29.5735…


@pytest.mark.parametrize(
    ("born", "on", "age"),
    [
        ("2026-10-02", "2027-02-03", (4, 1)),
        ("2026-12-31", "2027-02-28", (1, 28)),
        ("2027-01-31", "2027-03-01", (1, 1)),
        ("2027-02-03", "2027-02-03", (0, 0)),
        ("2026-02-28", "2027-02-28", (12, 0)),
        ("2027-03-01", "2027-02-03", (0, 0)),
    ],
)
def test_an_age_in_months_and_days_is_the_calendars(born: str, on: str, age: tuple[int, int]) -> None:
    assert summary.age_of(born, date.fromisoformat(on)) == age


@pytest.mark.parametrize(
    ("text_", "days"), [("", 30), ("x", 30), ("1", 7), ("90", 90), ("999", 180), ("-5", 30), ("٣", 30)]
)
def test_the_days_asked_for_are_held_within_bounds(text_: str, days: int) -> None:
    assert summary.days_of(text_) == days


# ---- paper -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("days", [7, 30, 180])
def test_the_summary_stays_within_its_margins(demo: Any, paper: str, days: int) -> None:
    within(pdf(demo, days=days, names=True, paper=paper), paper)


long = st.text(st.sampled_from("aÅWẘწЖΩ漢- 'm<&>"), min_size=1, max_size=120).map(str.strip).filter(bool)


@settings(deadline=None, max_examples=12)
@given(long, long, long, st.integers(1, 5000))
def test_no_name_however_long_leaves_the_page(place: str, code: str, why: str, ml: int) -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {"id": "p", "at": "2026-01-01T00:00:00Z", "kind": "place", "place": place, "is": "deep_freezer", "temp_c": -20},
        {"id": "c", "at": "2026-10-03T00:00:00Z", "kind": "child", "child": code, "born": "2026-10-03", "care": "home"},
        {
            "kind": "expressed",
            "place": place,
            "into": [{"container": code, "ml": ml}, {"container": f"{code}2", "ml": 5}],
        },
        {"kind": "weighed", "child": code, "kg": 6.0},
        {"kind": "held", "container": code, "why": "medicine"},
        {"kind": "discarded", "container": f"{code}2", "why": why, "at": "2027-02-02T07:10:00Z"},
    )
    within(pdf(store, names=True))
    within(log(store))
    within(log(store, "handed"))


def test_the_pdf_has_a_title_and_the_same_records_give_the_same_bytes(demo: Any) -> None:
    one, other = pdf(demo), pdf(demo)
    assert one == other
    read = pypdfium2.PdfDocument(one)
    assert read.get_metadata_value("Title") == "Expressing and feeding: 30 days"
    assert log(demo) == log(demo)


def test_pictures_have_ink_in_them(demo: Any) -> None:
    page = pypdfium2.PdfDocument(pdf(demo))[0].render(scale=1).to_pil().convert("RGB")
    bars = {colour: count for count, colour in page.getcolors(1_000_000) or ()}[0x4A, 0x6A, 0x8A]
    assert bars > 5000


# ---- the log for a milk bank -------------------------------------------------------------------------------


def bags(store: Any) -> None:
    told(
        store,
        {"kind": "expressed", "at": "2027-01-10T07:00:00Z", "place": "fridge", "into": [{"container": "A1", "ml": 80}]},
        {"kind": "expressed", "at": "2027-01-10T11:00:00Z", "place": "fridge", "into": [{"container": "A2", "ml": 60}]},
        {
            "kind": "poured",
            "at": "2027-01-10T13:00:00Z",
            "from": [{"container": "A1", "ml": 80}, {"container": "A2", "ml": 60}],
            "into": "B1",
        },
        {"kind": "held", "at": "2027-01-10T13:30:00Z", "container": "B1", "why": "medicine"},
        {"kind": "moved", "at": "2027-01-10T14:00:00Z", "container": "B1", "to": "freezer"},
        {"kind": "measured", "at": "2027-01-12T14:00:00Z", "place": "freezer", "temp_c": -19.5},
        {"kind": "measured", "at": "2027-01-13T14:00:00Z", "place": "freezer", "temp_c": -17},
        {"kind": "released", "at": "2027-01-14T14:00:00Z", "container": "B1"},
    )


def test_a_containers_facts_stand_in_the_log() -> None:
    store = furnish(MemoryStore())
    bags(store)
    (one,) = bank_log.bank_log(store, "frozen", now=NOW)
    assert (one.code, one.ml, one.combined, one.frozen_on, one.held) == (
        "B1",
        140,
        ("A1", "A2"),
        "2027-01-10",
        ("medicine",),
    )
    assert [(stay.place, stay.coldest_c, stay.warmest_c, stay.measured) for stay in one.stays] == [
        ("fridge", None, None, 0),
        ("freezer", -19.5, -17, 2),
    ]
    said = " ".join(text(log(store, "frozen")).split())
    for part in (
        "10 Jan 2027 07:00; 10 Jan 2027 11:00",
        "(2 sessions)",
        "A1, A2",
        "-19.5 °C to -17 °C, 2 measurements",
        "held back: medicine",
        "no longer held back",
        "the bank alone decides",
        "not measured",
    ):
        assert part in said, part
    # Where the milk lay before it was poured together is a part of its past.
    assert [(code, [stay.place for stay in stays]) for code, stays in one.before] == [
        ("A1", ["fridge"]),
        ("A2", ["fridge"]),
    ]
    assert "Before it was poured A1: from 10 Jan 2027 07:00 fridge" in said
    # Facts only: no word of whether a bank may take it.
    assert not re.search(r"\b(un)?safe|eligib|suitab|accept|reject|qualif|fit to", said, re.IGNORECASE)


def test_what_a_guideline_speaks_against_is_told_as_a_fact() -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {
            "kind": "expressed",
            "at": "2027-01-10T07:00:00Z",
            "place": "freezer",
            "into": [{"container": "A1", "ml": 80}],
        },
        {"kind": "moved", "at": "2027-01-20T07:00:00Z", "container": "A1", "to": "fridge"},
        {"kind": "thaw_seen", "at": "2027-01-21T07:00:00Z", "container": "A1", "ice": False},
        {"kind": "moved", "at": "2027-01-21T08:00:00Z", "container": "A1", "to": "freezer"},
    )
    (one,) = bank_log.bank_log(store, "there", now=NOW)
    assert one.outside and one.outside[0].says in " ".join(text(log(store)).split())


def test_a_day_alone_is_no_midnight_in_the_log() -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {
            "kind": "stocked",
            "container": "S1",
            "ml": 90,
            "place": "freezer",
            "expressed": "2027-01-05",
            "frozen_on": "2027-01-06",
        },
    )
    said = text(log(store))
    assert "00:00" not in said and "6 Jan 2027" in said


def test_the_log_as_a_table_says_the_same() -> None:
    store = furnish(MemoryStore())
    bags(store)
    found = bank_log.bank_log(store, "there", now=NOW)
    rows = list(bank_log.rows(found, take_out.whole(store, now=NOW)))
    row = dict(zip(rows[0], rows[1], strict=True))
    assert (row["label"], row["ml"], row["sessions"], row["coldest_c"], row["warmest_c"], row["held_for"]) == (
        "B1",
        140,
        2,
        -19.5,
        -17,
        "medicine",
    )


def test_a_power_cut_where_the_milk_lay_stands_in_the_log() -> None:
    store = furnish(MemoryStore())
    bags(store)
    told(
        store,
        {"id": "c1", "at": "2027-01-09T08:00:00Z", "kind": "power_lost", "place": "freezer"},
        {"id": "c2", "at": "2027-01-09T09:00:00Z", "kind": "power_back", "place": "freezer"},
        {"id": "c3", "at": "2027-01-15T08:00:00Z", "kind": "power_lost", "place": "freezer"},
        {"id": "c4", "at": "2027-01-15T10:40:00Z", "kind": "power_back", "place": "freezer"},
    )
    found = bank_log.bank_log(store, "there", now=NOW)
    assert [len(stay.cuts) for stay in found[0].stays] == [0, 1], "only while it lay there"
    assert "power out 15 Jan 2027 08:00 to 15 Jan 2027 10:40" in " ".join(text(log(store)).split())
    rows = list(bank_log.rows(found, take_out.whole(store, now=NOW)))
    assert dict(zip(rows[0], rows[1], strict=True))["power_cuts"] == "2027-01-15 freezer"


def test_milk_that_was_handed_over_has_its_own_log() -> None:
    store = furnish(MemoryStore())
    bags(store)
    told(
        store,
        {"id": "gift", "at": "2027-02-02T07:10:00Z", "kind": "handed_over", "container": "B1", "to": "the milk bank"},
    )
    assert bank_log.bank_log(store, "there", now=NOW) == []
    (one,) = bank_log.bank_log(store, "handed", now=NOW)
    assert not one.there and one.ml == 140
    assert "handed over to the milk bank" in text(log(store, "handed"))


# ---- the addresses -----------------------------------------------------------------------------------------


def test_the_sheets_open_from_their_addresses_and_reading_changes_nothing(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    home.expressed("FE44", 100, 24 * 9, place="freezer")
    before = list(home.store.lines())
    for query in ("", "?days=7&names=yes&paper=letter", "?days=x&paper=zzz&names=maybe"):
        answer = home.phone.get(f"/print/summary/{query}")
        assert answer.status_code == 200 and answer.content.startswith(b"%PDF-")
    for query in ("", "?which=there", "?which=handed&paper=letter", "?which=zzz", "?code=KA34&code=NOSUCH"):
        answer = home.phone.get(f"/print/bank-log/{query}")
        assert answer.status_code == 200 and answer.content.startswith(b"%PDF-")
    table = home.phone.get("/print/bank-log/?which=there&as=csv")
    read = list(csv.DictReader(io.StringIO(table.content.decode(), newline="")))
    assert {row["label"] for row in read} == {"KA34", "FE44"}
    assert list(home.store.lines()) == before


def test_a_mother_is_counted_not_named() -> None:
    store = furnish(MemoryStore())
    told(
        store,
        {"kind": "expressed", "place": "fridge", "mother": "Lena", "into": [{"container": "A1", "ml": 80}]},
        {"kind": "expressed", "place": "fridge", "mother": "Ines", "into": [{"container": "A2", "ml": 80}]},
        {
            "kind": "poured",
            "at": written(NOW - HOUR, zone_named(ZONE)),
            "from": [{"container": "A1", "ml": 80}],
            "into": "A2",
        },
    )
    said = text(log(store))
    assert "more than one mother" in said and "Lena" not in said
