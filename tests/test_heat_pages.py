"""The questions of heat as pages: what they answer, in which words, and what they rest on."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any
from urllib.parse import quote

import pytest
from bs4 import BeautifulSoup
from tests.pages import Family, text

from thawline.core.replay import moment
from thawline.core.times import HOUR
from thawline.faces.web.views import heat_warm
from thawline.services import board, heat, heat_answers

FLAT = {"kind": "bag", "shape": "flat", "thickness_mm": 15}
BOTTLE = {"kind": "bottle", "shape": "upright", "diameter_mm": 50}


def frozen(home: Family, code: str = "KA34", ml: float = 120, hours_ago: float = 96, **more: Any) -> None:
    """Milk that was expressed and put into the freezer at once."""
    home.note("expressed", hours_ago, into=[{"container": code, "ml": ml}], place="counter", **more)
    home.note("moved", hours_ago - 0.1, container=code, to="freezer")


def says(home: Family, url: str, status: int = 200) -> str:
    return text(home.see(url, status))


def subject(home: Family, code: str) -> heat.Subject:
    found = board.one(home.store, code, now=home.now)
    assert found is not None
    return heat.kept(found, board.board(home.store, now=home.now))


def thawed(home: Family, code: str = "KA34", **typed: Any) -> heat_answers.Thaw:
    about = subject(home, code)._replace(**typed)
    return heat_answers.thaw(
        about, heat.around("refrigerator", home_place(home)), heat.frozen_c(home_place(home, "freezer")),
        now=home.now, zone="Europe/Lisbon",
    )  # fmt: skip


def home_place(home: Family, name: str = "fridge") -> board.PlaceNow:
    found = board.board(home.store, now=home.now).place(name)
    assert found is not None
    return found


def cells(page: BeautifulSoup) -> list[list[str]]:
    table = page.select_one("main section > table.numbers")
    assert table is not None
    return [[" ".join(cell.get_text(" ").split()) for cell in row.select("th, td")] for row in table.select("tbody tr")]


# Every page


@pytest.mark.parametrize("question", ["", "thaw/", "freeze/", "warm/", "cool/", "measure/"])
def test_each_page_opens_with_nothing_asked(home: Family, question: str) -> None:
    assert says(home, f"/heat/{question}")


def test_the_hub_leads_to_every_question(home: Family) -> None:
    links = {str(one["href"]) for one in home.see("/heat/").select("main a")}
    assert {"/heat/thaw/", "/heat/freeze/", "/heat/warm/", "/heat/cool/"} <= links


@pytest.mark.parametrize("question", ["thaw", "freeze", "warm", "cool"])
def test_an_answer_says_that_it_is_an_estimate_and_never_makes_a_limit_longer(home: Family, question: str) -> None:
    found = says(home, f"/heat/{question}/?ml=120&shape=flat")
    assert "estimated" in found
    assert "never makes one longer" in found


@pytest.mark.parametrize("question", ["thaw", "freeze", "warm", "cool", "measure"])
def test_a_container_of_nobody_is_not_found(home: Family, question: str) -> None:
    home.see(f"/heat/{question}/?code=XX99", 404)
    home.see(f"/heat/{question}/?code=%00", 404)


@pytest.mark.parametrize(
    ("query", "mend"),
    [
        ("ml=much", "is not a number"),
        ("ml=120&shape=flat&across=0", "Write a length from 1 to 300 mm"),
        ("ml=120&across=15", "Choose whether it lies flat or stands"),
        ("ml=120&temp=900", "out of range"),
        ("ml=120&wanted=breakfast", "Write the time like 07:00"),
    ],
)
def test_what_cannot_be_read_is_named_and_nothing_is_answered(home: Family, query: str, mend: str) -> None:
    found = says(home, f"/heat/thaw/?{query}", 422)
    assert mend in found
    assert "estimated" not in found


@pytest.mark.parametrize("question", ["thaw", "freeze", "cool"])
def test_a_question_that_is_not_about_that_milk_is_told_so_and_not_answered(home: Family, question: str) -> None:
    home.expressed("FR1", 100, 2)
    frozen(home, "IC1")
    home.note("stocked", 2, container="TH1", ml=90, place="fridge", expressed="2027-01-20", form="thawed")
    for code in {"thaw": ("FR1", "TH1"), "freeze": ("TH1",), "cool": ("IC1", "TH1")}[question]:
        found = says(home, f"/heat/{question}/?code={code}")
        assert f"{code} is" in found and "so this is not the question for it" in found
        assert "most likely" not in found.lower()


def test_asking_writes_nothing(home: Family) -> None:
    frozen(home, vessel=FLAT)
    before = list(home.store.lines())
    for question in ("thaw", "freeze", "warm", "cool"):
        home.see(f"/heat/{question}/?code=KA34")
    assert list(home.store.lines()) == before


def test_no_answer_calls_milk_safe(home: Family) -> None:
    frozen(home, vessel=FLAT)
    for question in ("thaw", "freeze", "warm", "cool"):
        page = home.see(f"/heat/{question}/?code=KA34")
        assert not re.search(r"\bsafe\b", text(page), re.IGNORECASE)


def test_a_length_may_come_with_its_unit(home: Family) -> None:
    told = {says(home, f"/heat/thaw/?ml=120&shape=flat&how=measured&across={quote(size)}").partition("Ask again")[0]
            for size in ("15", "1.5 cm", "1,5cm")}  # fmt: skip
    assert len(told) == 1
    assert "about 15 mm measured" in told.pop()


# Thawing


def test_the_range_stands_first_and_the_likely_time_after_it_on_the_households_clock(home: Family) -> None:
    frozen(home, vessel=FLAT)
    when, words = thawed(home).when, says(home, "/heat/thaw/?code=KA34")
    # 14:00 on Wed 3 Feb; the clock counts in Lisbon, to the half hour.
    assert when.early is not None and when.nominal is not None and when.late is not None
    assert when.early < when.nominal < when.late
    assert re.search(
        r"estimated today \d\d:[03]0 to \w+ \d+ Feb \d\d:[03]0 Most likely about tomorrow \d\d:[03]0\.", words
    )


def test_a_limit_counts_with_the_early_time_and_planning_with_the_late_one(home: Family) -> None:
    frozen(home, vessel=FLAT)
    words = says(home, "/heat/thaw/?code=KA34&stands=open")
    found = re.search(r"estimated (today \d\d:\d\d) to (\w+ \d+ \w+ \d\d:\d\d|tomorrow \d\d:\d\d)", words)
    assert found is not None
    assert f"counts from {found[1]} at the latest" in words
    assert f"Plan with {found[2]}." in words


def test_one_night_is_not_promised_to_be_enough(home: Family) -> None:
    frozen(home, vessel=FLAT)
    assert "One night may not be enough" in says(home, "/heat/thaw/?code=KA34&stands=open")


def test_the_likely_thaw_of_a_bag_in_a_4_degree_refrigerator_is_near_15_hours(home: Family) -> None:
    # Own computation: 120 mL, 15 mm, both faces, film 8 W/(m2 K): 15.0 h.
    frozen(home, vessel=FLAT)
    assert thawed(home, stands="open").takes.nominal_h == pytest.approx(15.0, abs=1.5)


def test_the_early_time_is_never_later_than_the_safety_corner(home: Family) -> None:
    # Own computation: film 15, 6 C, 12 mm, both faces, fat milk: 4.48 h, less 10 %. Nobody measured this bag.
    found = heat_answers.thaw(
        heat.Subject(120, "flat"), heat.around("refrigerator"), heat.start_c("frozen"),
        now=home.now, zone="Europe/Lisbon",
    )  # fmt: skip
    assert found.takes.early_h <= 4.0


def test_by_when_to_move_it_is_the_wanted_time_less_the_late_thaw(home: Family) -> None:
    frozen(home, vessel=FLAT)
    page = home.see("/heat/thaw/?code=KA34&stands=open&wanted=07:00")
    late_h = thawed(home, stands="open").takes.late_h
    rows = cells(page)
    assert rows[0][:2] == ["tomorrow 07:00", "too late to be sure"]
    # 7 in the morning of Friday is 41 hours from 14:00 on Wednesday.
    assert rows[1][0] == "Fri 5 Feb 07:00"
    wanted = moment("2027-02-05T07:00:00+00:00")
    last = heat_answers.wanted(thawed(home, stands="open"), wanted, now=home.now)[0].by
    assert last is not None and wanted - last >= late_h * HOUR > wanted - last - HOUR / 2


def test_where_it_may_never_thaw_no_moment_is_promised(home: Family) -> None:
    frozen(home, vessel=FLAT)
    words = says(home, "/heat/thaw/?code=KA34&temp=0")
    assert "perhaps never" in words
    assert "Plan with" not in words
    assert "it may never thaw" in words


def test_a_refrigerator_below_the_freezing_point_does_not_thaw(home: Family) -> None:
    frozen(home, vessel=FLAT)
    page = home.see("/heat/thaw/?code=KA34&temp=-2")
    assert "It will not thaw there." in text(page)
    assert not page.select("main table")


def test_a_typed_temperature_narrows_more_than_a_noted_one_and_a_noted_one_more_than_none(home: Family) -> None:
    read, noted = heat.around("refrigerator", home_place(home), 4.0), heat.around("refrigerator", home_place(home))
    assumed = heat.around("refrigerator")
    widths = [one.c.high - one.c.low for one in (read, noted, assumed)]
    assert widths == sorted(widths) and len(set(widths)) == 3
    assert "read just now" in says(home, "/heat/thaw/?ml=120&temp=4")
    assert "as noted of this place" in says(home, "/heat/thaw/?ml=120")


def test_an_unknown_refrigerator_is_said_to_be_assumed(home: Family) -> None:
    home.note("place", 2, place="pantry fridge", is_="refrigerator")
    assert "assumed: nobody noted it" in says(home, "/heat/thaw/?ml=120&to=pantry+fridge")


def test_measuring_narrows_the_range(home: Family) -> None:
    frozen(home, "KA34", vessel=FLAT)
    frozen(home, "KB22", vessel={"kind": "bag", "shape": "flat"})
    one, other = thawed(home, "KA34", stands="open").takes, thawed(home, "KB22", stands="open").takes
    assert other.early_h <= one.early_h and other.late_h >= one.late_h
    assert "measured" in says(home, "/heat/thaw/?code=KA34")
    assert "guessed from the amount" in says(home, "/heat/thaw/?code=KB22")


def test_of_unknown_shape_both_are_reckoned_with(home: Family) -> None:
    frozen(home)
    takes = thawed(home).takes
    for shape in ("flat", "upright"):
        alone = thawed(home, shape=shape).takes
        assert takes.early_h <= alone.early_h and takes.late_h >= alone.late_h
    assert "a flat bag and a bottle are both reckoned with" in says(home, "/heat/thaw/?code=KA34")


def test_how_a_bag_lies_is_asked_with_what_it_would_mean(home: Family) -> None:
    frozen(home, vessel=FLAT)
    page = home.see("/heat/thaw/?code=KA34")
    links = [one for one in page.select("main .links a") if "stands=" in str(one["href"])]
    assert len(links) == 2
    assert "On a rack" in links[0].text and "On a solid shelf" in links[1].text
    assert "How it lies counts most" not in says(home, str(links[0]["href"]))


def test_milk_that_thaws_already_counts_from_when_it_left_the_freezer(home: Family) -> None:
    frozen(home, vessel=FLAT)
    home.note("moved", 10, container="KA34", to="fridge")
    found = thawed(home)
    assert found.when.early is not None and found.when.early <= home.now - 5 * HOUR
    words = says(home, "/heat/thaw/?code=KA34")
    assert "It may be thawed by now. Look for ice." in words
    assert "Move it by" not in words


def test_ice_that_was_seen_moves_the_early_time_to_then_at_the_earliest(home: Family) -> None:
    frozen(home, vessel=FLAT)
    home.note("moved", 10, container="KA34", to="fridge")
    before = thawed(home).when.early
    home.note("thaw_seen", 1, container="KA34", ice=True)
    after = thawed(home).when.early
    assert before is not None and after is not None
    assert before < after == home.now - HOUR


def test_a_bag_that_holds_a_different_amount_now_is_no_longer_as_thick_as_it_was(home: Family) -> None:
    frozen(home, vessel=FLAT)
    home.note("moved", 20, container="KA34", to="fridge")
    home.note("counted", 1, container="KA34", ml=60)
    found = subject(home, "KA34")
    assert found.changed and not found.measured and found.across_mm is None
    assert "it holds a different amount now" in says(home, "/heat/thaw/?code=KA34")


def test_the_way_to_the_warm_bowl_keeps_the_container(home: Family) -> None:
    frozen(home, "K/1", vessel=FLAT)
    page = home.see("/heat/thaw/?code=K%2F1")
    (link,) = [one for one in page.select("main a") if "/heat/warm/" in str(one["href"])]
    assert "K/1" in says(home, str(link["href"]))


# Freezing


def test_thicker_is_slower_and_a_stack_is_as_slow_as_one_thick_bag(home: Family) -> None:
    rows = cells(home.see("/heat/freeze/"))
    assert [row[0] for row in rows] == ["10 mm", "15 mm", "20 mm", "30 mm", "2 of 15 mm, stacked"]
    layers = heat_answers.layers(heat.around("freezer"), heat.start_c("cold"))
    for thin, thick in pairwise(layers[:4]):
        assert thin.rack.late_h < thick.rack.late_h and thin.rack.early_h < thick.rack.early_h
    assert layers[4].rack == layers[3].rack and layers[4].shelf == layers[3].shelf
    assert all(one.shelf.nominal_h > 1.8 * one.rack.nominal_h for one in layers)


def test_frozen_counts_with_the_late_time(home: Family) -> None:
    home.note("expressed", 0.1, into=[{"container": "KA34", "ml": 120}], place="counter", vessel=FLAT)
    words = says(home, "/heat/freeze/?code=KA34&stands=open")
    found = re.findall(r"estimated (today \d\d:\d\d) to (\w+ \d\d:\d\d)", words)
    assert len(found) == 2
    assert f"Count it as frozen from {found[1][1]} on" in words


def test_the_likely_freezing_of_a_bag_is_near_five_hours(home: Family) -> None:
    # Own computation: 15 mm, both faces, film 8, from 4 C in -18 C until -10 C in the middle: 5.33 h.
    row = heat_answers.layers(heat.around("freezer"), heat.start_c("cold"))[1]
    assert row.rack.nominal_h == pytest.approx(5.33, abs=0.8)


def test_a_freezer_too_warm_to_freeze_is_told_so(home: Family) -> None:
    assert "It will not freeze hard there." in says(home, "/heat/freeze/?ml=120&shape=flat&temp=-3")


# Warming


def test_a_bowl_too_small_is_told_so_with_what_would_do(home: Family) -> None:
    # Own computation: 120 mL from -18 C in 1.0 kg at 40 C settle at 27.5 C; 4.55 kg are needed for 37 C.
    frozen(home, vessel=FLAT)
    words = says(home, "/heat/warm/?code=KA34&water=1&water_c=40")
    assert "No, not to 37 °C" in words
    found = re.search(r"settle at ([\d.]+) °C to ([\d.]+) °C", words)
    assert found is not None and float(found[1]) < 27.5 < float(found[2])
    least = re.search(r"At least ([\d.]+) L of water at 40 °C would do", words)
    assert least is not None and float(least[1]) >= 4.5
    assert "Or change the water once." in words


def test_a_bowl_large_enough_says_how_long_swirled_and_still(home: Family) -> None:
    asked = "/heat/warm/?ml=120&shape=upright&across=50&how=measured&wall=glass&water=12&water_c=40&start=cold"
    assert "Yes, to 37 °C" in says(home, asked)
    ((what, swirled, still),) = cells(home.see(asked))
    assert what == "At 37 °C" and swirled != still


def test_where_only_the_worst_case_fails_it_says_most_likely(home: Family) -> None:
    words = says(home, "/heat/warm/?ml=120&shape=upright&water=6&water_c=40&start=cold")
    assert "Most likely, to 37 °C" in words
    assert "or more, perhaps never" in words


def test_water_is_never_advised_above_40_degrees(home: Family) -> None:
    words = says(home, "/heat/warm/?ml=120&shape=upright&water=2&water_c=60&start=cold")
    assert "Let the water cool to 40 °C (104 °F) first." in words
    assert "2 L of 40 °C" in words
    assert "60 °C" not in words.partition("Ask again")[0]


def test_milk_is_not_warmed_above_40_degrees(home: Family) -> None:
    assert "Milk is not warmed above 40 °C" in says(home, "/heat/warm/?ml=120&to_c=45", 422)


def test_thawed_in_warm_water_it_counts_as_at_room_temperature_from_immersion(home: Family) -> None:
    frozen(home, vessel=FLAT)
    told = "counts as at room temperature from the moment it goes in"
    assert told in says(home, "/heat/warm/?code=KA34")
    assert told not in says(home, "/heat/warm/?ml=120&shape=upright&start=cold")


def test_lukewarm_water_that_never_gets_there_is_told_so(home: Family) -> None:
    words = says(home, "/heat/warm/?ml=120&shape=upright&water=2&water_c=30&start=cold")
    assert "Water at 30 °C never gets it there." in words


def test_a_household_that_counts_in_fahrenheit_reads_and_writes_it(home: Family) -> None:
    home.note("household", 1, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "F"])
    words = says(home, "/heat/warm/?ml=4&shape=upright&water=64+fl+oz&water_c=104&start=cold")
    assert "1.89 L of 104 °F" in words
    assert "98.6 °F" in words


# Chilling


def test_the_late_time_counts_for_combining(home: Family) -> None:
    words = says(home, "/heat/cool/?ml=120&shape=upright&across=50&how=measured")
    found = re.search(r"estimated today \d\d:\d\d to (\w+ \d\d:\d\d)", words)
    assert found is not None
    assert f"Combine it from {found[1]} on" in words
    assert "Cold means 5 °C to 6 °C" in words


def test_ice_water_takes_minutes_where_the_refrigerator_takes_hours(home: Family) -> None:
    about = heat.Subject(120, "upright", 50, measured=True)
    found = heat_answers.cool(
        about, heat.around("refrigerator"), heat.start_c("body"), began=home.now, zone="Europe/Lisbon"
    )  # fmt: skip
    assert found.ice.nominal_h < 0.5
    assert found.air.nominal_h > 2
    assert re.search(
        r"Faster: ice water estimated about \d+ minutes , swirled", says(home, "/heat/cool/?ml=120&shape=upright")
    )


def test_milk_in_the_refrigerator_counts_from_when_it_went_in(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    assert "In fridge since today 11:00: cold" in says(home, "/heat/cool/?code=KA34")
    home.hours(48)
    assert "It is as cold as the refrigerator by now." in says(home, "/heat/cool/?code=KA34")


# Pouring


def look(home: Family, code: str, *others: str) -> str:
    sent = {"step": "look", "container": list(others), "act": "01990000-0000-7000-8000-000000000009", "into": code}
    return text(home.send(f"/milk/{code}/pour/", sent))


def test_fresh_milk_not_surely_cold_is_named_before_it_goes_to_cold_milk(home: Family) -> None:
    home.expressed("OLD1", 100, 48)
    home.expressed("NEW1", 60, 1)
    told = look(home, "OLD1", "NEW1")
    assert "NEW1 may not be cold through yet." in told
    assert "OLD1 may not be cold" not in told


def test_cold_milk_goes_together_without_that_note(home: Family) -> None:
    home.expressed("OLD1", 100, 48)
    home.expressed("OLD2", 60, 40)
    assert "may not be cold through yet" not in look(home, "OLD1", "OLD2")


# Measuring


def measured(home: Family, code: str = "KA34", **fields: str) -> BeautifulSoup:
    page = home.see(f"/heat/measure/?code={code}")
    return home.send(f"/heat/measure/?code={code}", home.fill(page, **fields))


def test_a_measure_is_kept_with_how_the_milk_came_in_and_can_be_undone(home: Family) -> None:
    frozen(home)
    page = measured(home, shape="flat", across="1.8 cm")
    found = subject(home, "KA34")
    assert (found.shape, found.across_mm, found.measured) == ("flat", 18, True)
    undo = page.select_one("form[action*='/undo/']")
    assert undo is not None
    home.send(str(undo["action"]), home.fill(page, str(undo["action"])))
    assert subject(home, "KA34").shape is None


def test_a_containers_page_tells_its_measure(home: Family) -> None:
    frozen(home)
    measured(home, shape="upright", across="50")
    assert "Bottle, wide inside 50 mm" in says(home, "/milk/KA34/")


def test_sent_twice_a_measure_is_kept_once(home: Family) -> None:
    frozen(home)
    page = home.see("/heat/measure/?code=KA34")
    sent = home.fill(page, shape="flat", across="15")
    home.send("/heat/measure/?code=KA34", sent)
    count = len(list(home.store.lines()))
    home.send("/heat/measure/?code=KA34", sent)
    assert len(list(home.store.lines())) == count


def test_measuring_changes_no_amount_place_or_deadline_backwards(home: Family) -> None:
    frozen(home)
    before = board.one(home.store, "KA34", now=home.now)
    measured(home, shape="flat", across="15")
    after = board.one(home.store, "KA34", now=home.now)
    assert before is not None and after is not None
    kept = ("container", "ml", "place", "form", "use_by", "dated")
    assert [getattr(before.verdict, one) for one in kept] == [getattr(after.verdict, one) for one in kept]


def test_what_came_in_together_gets_the_same_measure_and_is_named(home: Family) -> None:
    home.note("expressed", 90, into=[{"container": "KA1", "ml": 120}, {"container": "KA2", "ml": 118}], place="freezer")
    assert "It came in together with KA2" in says(home, "/heat/measure/?code=KA1")
    measured(home, "KA1", shape="flat", across="15")
    assert subject(home, "KA2").across_mm == 15


@pytest.mark.parametrize(("fields", "mend"), [
    ({"shape": "flat", "across": ""}, "Write how thick or how wide it is."),
    ({"shape": "flat", "across": "thick"}, "is not a number"),
    ({"shape": "", "across": "15"}, "Choose one of these."),
])  # fmt: skip
def test_a_measure_that_cannot_be_read_is_asked_again_and_nothing_is_recorded(
    home: Family, fields: dict[str, str], mend: str
) -> None:
    frozen(home)
    before = len(list(home.store.lines()))
    page = home.see("/heat/measure/?code=KA34")
    assert mend in text(home.send("/heat/measure/?code=KA34", home.fill(page, **fields), 422))
    assert len(list(home.store.lines())) == before


# Logging, and the container's page


def logged(home: Family, **fields: str) -> heat.Subject:
    page = home.see("/log/")
    home.send("/log/", home.fill(page, ml_1="120", code_1=fields.pop("code", "KA34"), place="freezer", **fields))
    return subject(home, "KA34")


def test_how_milk_is_kept_may_be_noted_when_it_is_logged(home: Family) -> None:
    found = logged(home, kept="flat", across="15")
    assert (found.shape, found.across_mm, found.measured) == ("flat", 15, True)


def test_unsaid_it_stays_unknown(home: Family) -> None:
    assert logged(home).shape is None


def test_the_measure_noted_last_is_at_hand_and_never_taken_unasked(home: Family) -> None:
    home.note("expressed", 5, into=[{"container": "KB22", "ml": 100}], place="freezer", vessel=BOTTLE)
    page = home.see("/log/")
    assert "As last time: bottle, 50 mm wide" in text(page)
    assert [one["value"] for one in page.select("input[name=kept][checked]")] == [""]
    found = logged(home, kept="last_upright")
    assert (found.shape, found.across_mm) == ("upright", 50)


def test_a_size_without_a_shape_is_asked_back(home: Family) -> None:
    page = home.see("/log/")
    told = text(home.send("/log/", home.fill(page, ml_1="120", across="15"), 422))
    assert "Choose whether the milk lies flat or stands" in told


def test_a_containers_page_leads_to_how_long_it_takes(home: Family) -> None:
    frozen(home)
    home.expressed("KB22", 100, 2)
    assert home.see("/milk/KA34/").select("main a[href='/heat/thaw/?code=KA34']")
    assert home.see("/milk/KB22/").select("main a[href='/heat/cool/?code=KB22']")


@pytest.mark.parametrize("question", ["thaw", "freeze", "warm", "cool"])
def test_a_question_sent_with_no_container_says_what_is_missing(home: Family, question: str) -> None:
    said = says(home, f"/heat/{question}/?code=&ml=&shape=", 422)
    assert "Choose a container, or write how much is in it." in said


def test_thawing_in_warm_water_instead_is_asked_of_the_same_frozen_milk(home: Family) -> None:
    page = home.see("/heat/thaw/?code=&ml=120&shape=flat&across=18&how=measured")
    link = page.select_one("a[href^='/heat/warm/']")
    assert link is not None
    said = text(home.see(str(link["href"])))
    assert "120 mL" in said
    assert "about 18 mm measured" in said
    assert "No ice left" in said


def test_an_answer_leads_to_noting_what_is_done_next(home: Family) -> None:
    frozen(home)
    bar = home.see("/heat/thaw/?code=KA34").select_one(".thumb-actions")
    assert bar is not None
    assert [str(one["href"]).partition("?")[0] for one in bar.select("a")] == ["/milk/KA34/to/", "/heat/thaw/"]
    asked_again = bar.select("a")[1]
    form = home.see(str(asked_again["href"]).partition("#")[0]).select_one("details[open] > #ask")
    assert form is not None
    assert form.select_one("button") is not None


def test_nobody_is_asked_to_measure_what_is_measured(home: Family) -> None:
    frozen(home, vessel=FLAT)
    assert "Measure it once" not in says(home, "/heat/thaw/?code=KA34")


def test_what_to_measure_is_named_with_its_amount_and_place(home: Family) -> None:
    frozen(home)
    assert "KA34 · 120 mL · frozen, freezer" in says(home, "/heat/measure/")


@pytest.mark.parametrize(("litres", "told"), [(0.31, "0.4 L"), (3.0, "3 L"), (20.2, "21 L")])
def test_litres_are_rounded_up_as_somebody_would_measure_them(litres: float, told: str) -> None:
    assert heat_warm.litres_text(litres) == told
