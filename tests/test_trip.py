"""Milk on a trip: how long packs last, what follows of packing and arriving, and that each of the two is one act."""

from __future__ import annotations

import json
import re
from typing import Any
from urllib.parse import urlencode

import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from hypothesis import given
from hypothesis import strategies as st
from tests.cli_tools import thawline
from tests.pages import Family, text

from thawline.core.guideline import shipped_ids
from thawline.core.times import HOUR
from thawline.core.verdict import Verdict
from thawline.services import people, trip
from thawline.services.board import board
from thawline.services.recording import new_act

BOX = {"size": "box", "packs": "2", "grams": "400", "pack_c": "-18", "outside": "30", "touch": "yes", "openings": "0"}


def address(page: str = "/trip/", /, **fields: Any) -> str:
    return f"{page}?{urlencode({**BOX, 'hours': '4', **fields}, doseq=True)}"


def there(home: Family) -> dict[str, Verdict]:
    return {one.container: one for one in board(home.store, now=home.now).verdicts}


def recorded(home: Family, act: str) -> list[dict[str, Any]]:
    return [json.loads(row.line) for row in home.store.act(act)]


def milk(home: Family) -> None:
    """Two bottles in the fridge and two bags in the freezer."""
    home.expressed("KA34", 120, 30)
    home.expressed("KA39", 80, 3)
    for code in ("HE40", "HE41"):
        home.note("stocked", 60, container=code, ml=80, place="freezer", expressed="2026-11-02", frozen_on="2026-11-02")


def packs(home: Family, *codes: str, status: int = 200, **fields: Any) -> tuple[str, BeautifulSoup]:
    """These go into the cooler now: the act, and the page that answers."""
    page = home.see(f"/trip/pack/?{urlencode({'code': codes}, doseq=True)}")
    sent = home.fill(page, "/trip/pack/", **fields) | {"code": list(codes)}
    return str(sent["act"]), home.send("/trip/pack/", sent, status)


def arrives(home: Family, status: int = 200, /, **fields: Any) -> tuple[str, BeautifulSoup]:
    """The cooler is taken out, everything where the page suggests but for these fields."""
    page = home.see("/trip/arrive/")
    sent = home.fill(page, "/trip/arrive/", **fields)
    sent["code"] = [str(one["value"]) for one in page.select("main input[name=code]")]
    return str(sent["act"]), home.send("/trip/arrive/", sent, status)


def undo(home: Family, page: BeautifulSoup) -> None:
    form = page.select_one("form[action^='/undo/']")
    assert form is not None, text(page)
    home.send(str(form["action"]), home.fill(page, str(form["action"])))


def lines(page: BeautifulSoup) -> dict[str, str]:
    """What is said of each container."""
    rows = page.select("main li.line")
    return {str(row.select_one(".code").text): " ".join(row.get_text(" ").split()) for row in rows}  # type: ignore[union-attr]


def clocks(page: BeautifulSoup) -> dict[str, list[str]]:
    """The moments of the trip, on each clock."""
    return {
        str(row.select_one("th").text): [cell.text for cell in row.select("td")]  # type: ignore[union-attr]
        for row in page.select("main tbody tr")
    }


# How long the packs last


def test_hours_are_those_of_the_worked_cases(home: Family) -> None:
    # Own computation: box of polystyrene 30 x 20 x 20 cm, wall 25 mm, two packs of 400 g at -18 C, 30 C outside:
    # 480 mL at 4 C hold 7.85 h, from 37 C with five openings 6.07 h; shown in half hours.
    given = ["heat", "trip", "--cooler", "box", "--pack-c", "-18", "--outside", "30", "--milk-ml", "480", "--json"]
    cold = thawline(*given, "--openings", "0").json()["hours"]
    warm = thawline(*given, "--openings", "5", "--milk-c", "37").json()["hours"]
    assert (cold["nominal_h"], warm["nominal_h"]) == (8.0, 6.0)
    assert 0 < warm["early_h"] < cold["early_h"] < cold["nominal_h"] < cold["late_h"]


def test_the_early_hours_stand_first_and_are_called_an_estimate(home: Family) -> None:
    said = text(home.see(address()))
    early = thawline(*["heat", "trip", "--cooler", "box", "--pack-c", "-18", "--outside", "30", "--milk-ml", "0",
                       "--openings", "0", "--json"]).json()["hours"]["early_h"]  # fmt: skip
    hours, half = divmod(early, 1)
    told = f"Count on {hours:.0f} h 30 min" if half else f"Count on {hours:.0f} hours"
    assert told in said
    assert "An estimate" in said
    assert said.index("Count on") < said.index("likely")


@pytest.mark.parametrize("hours", [5, 8, 12])
def test_so_many_packs_as_are_said_to_be_needed_do_cover_the_trip(hours: int) -> None:
    given = ["heat", "trip", "--cooler", "foam_large", "--hours", str(hours), "--milk-c", "25", "--json", "--packs"]
    short = thawline(*given, "1").json()
    assert not short["enough"]
    needed = short["packs_needed"]
    assert thawline(*given, str(needed)).json()["enough"]
    assert not thawline(*given, str(needed - 1)).json()["enough"]


def test_the_page_says_how_many_packs_a_longer_trip_takes(home: Family) -> None:
    said = text(home.see(address(hours=6)))
    assert "longer than these packs can be counted on" in said
    assert "It takes 3 packs of 400 g." in said
    assert "That covers your trip of 6 hours" in text(home.see(address(hours=6, packs=3)))


@given(
    st.sampled_from([size.key for size in trip.sizes()]), st.integers(0, 12), st.floats(-5, 40), st.floats(0, 3000),
    st.floats(0, 37), st.floats(1, 30),
)  # fmt: skip
def test_no_hours_are_above_the_published_ones_and_worse_never_lasts_longer(
    size: str, number: int, outside: float, ml: float, warm: float, published: float
) -> None:
    kind = next(one for one in trip.sizes() if one.key == size)
    outfit = trip.Outfit(size, kind.inside_cm, kind.wall_mm, kind.wall, number, 400, None, True, True, outside, 2)
    worse = trip.Outfit(size, kind.inside_cm, kind.wall_mm, kind.wall, number, 400, None, True, True, outside + 3, 4)

    def hours(one: trip.Outfit) -> Any:
        return trip.held(one, [trip.Milk(ml, warm)], hours=4, published_h=published).hours

    found, hotter = hours(outfit), hours(worse)
    assert 0 <= found.early_h <= found.nominal_h <= found.late_h <= published
    assert all(one <= other for one, other in zip(hotter, found, strict=True))


def test_the_published_hours_come_from_the_guideline_in_force() -> None:
    now = 1_800_000_000_000_000
    for name in shipped_ids():
        if name in ("au-tas", "us-or", "us-wa"):
            continue
        rule = trip.rule_under(name, now=now)
        hours = trip.published_h(rule, now)
        assert hours is not None
        assert rule.why[0].until == now + hours * HOUR
        assert thawline(*["heat", "trip", "--guideline", name, "--packs", "60", "--outside", "4", "--json"]).json()[
            "hours"]["late_h"] <= hours  # fmt: skip


def test_a_trip_longer_than_the_guideline_gives_is_said_to_be_so_however_many_packs(home: Family) -> None:
    said = text(home.see(address(hours=30, packs=30, size="foam_large", outside=10)))
    assert "longer than the guideline gives milk in a cooler" in said
    assert "Count on 24 hours" in said
    assert "That covers" not in said


def test_where_packs_do_not_touch_the_milk_nothing_is_said_of_its_temperature(home: Family) -> None:
    loose, close = text(home.see(address(touch="no"))), text(home.see(address(touch="yes")))
    assert "nobody can tell that it stays at 4 °C or below" in loose
    assert "about 7.5 °C" in loose
    assert "nobody can tell" not in close
    assert "about 3.3 °C" in close


def test_packs_touching_in_great_heat_are_warned_of(home: Family) -> None:
    assert "In such heat the milk may come to about 4.4 °C" in text(home.see(address(outside=40)))


def test_cold_packs_are_said_to_freeze_milk_they_touch_and_packs_that_just_melt_are_not(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    assert "can freeze milk" in text(home.see(address(code="KA34")))
    assert "can freeze milk" not in text(home.see(address(code="KA34", pack_c="-0.2")))


def test_packs_of_salt_solution_are_promised_no_hours(home: Family) -> None:
    said = text(home.see(address(water="no")))
    assert "no hours are promised" in said
    assert "Count on" not in said
    assert thawline(*["heat", "trip", "--salt", "--json"]).json()["hours"] is None


def test_packs_that_cannot_chill_the_milk_promise_nothing(home: Family) -> None:
    said = text(home.see(address(packs=1, grams=100, empty=6, empty_ml=150)))
    assert "cannot be counted on to keep the milk cold" in said


def test_a_cooler_of_ones_own_counts_with_its_numbers(home: Family) -> None:
    own: dict[str, Any] = {"size": "own", "long": 30, "wide": 20, "high": 20, "wall_mm": 25, "wall": "box"}
    as_box = home.see(address(hours=2)).select_one("main .by b")
    assert home.see(address(hours=2, **own)).select_one("main .by b") == as_box
    assert home.see(address(hours=2, **own | {"wall_mm": 60})).select_one("main .by b") != as_box
    command = ["heat", "trip", "--cooler", "30x20x20", "--wall", "box", "--wall-mm", "25", "--json"]
    assert (
        thawline(*command).json()["hours"] == thawline(*["heat", "trip", "--cooler", "box", "--json"]).json()["hours"]
    )


@pytest.mark.parametrize("cooler", ["tin", "1x2x3", "30x20", "30x20xnan"])
def test_a_cooler_that_cannot_be_is_refused_in_one_line(cooler: str) -> None:
    found = thawline(*["heat", "trip", "--cooler", cooler])
    assert found.code == 2
    assert found.err.startswith("thawline: ") and found.err.count("\n") == 1


@pytest.mark.parametrize(
    ("field", "value"),
    [("packs", "-1"), ("hours", "0"), ("hours", "500"), ("outside", "warm"), ("there", "Nowhere"), ("size", "tin"),
     ("leave", "soon"), ("leave", "2031-01-01T10:00"), ("arrive", "2027-02-03T13:00"), ("empty", "3")],
)  # fmt: skip
def test_what_cannot_be_is_asked_for_again_at_its_field(home: Family, field: str, value: str) -> None:
    page = home.see(address(**{field: value}), 422)
    assert page.select_one(f"#problems a[href='#{'empty_ml' if field == 'empty' else field}']") is not None
    assert "Count on" not in text(page)
    home.see(address("/trip/list/", **{field: value}), 422)


def test_under_a_hospitals_care_no_hours_are_shown(home: Family) -> None:
    home.note("child", 1, child="Mira", born="2026-12-01", care="hospital")
    home.expressed("KA34", 120, 3)
    said = text(home.see(address(code="KA34", hours=4)))
    assert "follow the care team" in said
    assert "Count on" not in said and "24 hours" not in said and "Use by" not in said


def test_no_page_of_a_trip_calls_milk_safe(home: Family) -> None:
    milk(home)
    packs(home, "KA34")
    for url in ("/trip/", address(code=["KA39", "HE40"]), "/trip/air/", "/trip/list/", "/trip/arrive/", "/trip/pack/"):
        page = home.see(url)
        for one in page.select(".source"):
            one.decompose()
        assert "safe" not in text(page).lower(), url


# Container by container


def test_each_container_has_its_time_in_the_cooler_and_what_it_has_on_arrival(home: Family) -> None:
    # Expressed 30 h ago: 24 h in the cooler from packing, then the refrigerator's 4 days from expression.
    milk(home)
    said = lines(home.see(address(code=["KA34", "KA39"], hours=23)))
    assert "Use by tomorrow 14:00" in said["KA34"]
    assert "On arrival: fridge, then use by Sat 6 Feb 08:00" in said["KA34"]
    assert "On arrival: fridge, then use by Sun 7 Feb 11:00" in said["KA39"]


def test_milk_whose_time_ends_on_the_way_comes_first_and_is_to_be_used_then(home: Family) -> None:
    milk(home)
    home.expressed("TA77", 60, 90)
    said = lines(home.see(address(code=["KA39", "TA77"], hours=8)))
    assert next(iter(said)) == "TA77"
    assert "Its time ends before you arrive: use it on the way." in said["TA77"]
    assert "On arrival: fridge" in said["KA39"]


@pytest.mark.parametrize(("guide", "by"), [("cdc", "tomorrow 14:00"), ("bfn", "tomorrow 02:00")])
def test_frozen_milk_with_ice_goes_back_to_the_freezer_and_without_has_the_guidelines_time(
    home: Family, guide: str, by: str
) -> None:
    milk(home)
    home.note("household", 1, zone="Europe/Lisbon", guideline=guide, units=["ml", "C"])
    page = home.see(address(code="HE40", hours=6))
    said = lines(page)["HE40"]
    assert "With ice in it: freezer" in said
    assert f"With none left: fridge, then use by {by}" in said
    assert "refreeze" in text(page) or "not frozen again" in text(page)


def test_both_clocks_show_the_same_moments_and_elapsed_hours_count(home: Family) -> None:
    # Packed 10:45 in Los Angeles, opened in New York: until 13:45 there the next day (own case, elapsed hours).
    url = address(leave="2027-07-17T10:45", zone="America/Los_Angeles", there="America/New_York",
                  arrive="2027-07-17T19:15")  # fmt: skip
    page = home.see(url)
    assert "It takes 5 h 30 min" in text(page)
    found = clocks(page)
    assert found["You leave"] == ["Sat 17 Jul 10:45", "Sat 17 Jul 13:45"]
    assert found["You arrive"] == ["Sat 17 Jul 16:15", "Sat 17 Jul 19:15"]
    assert found["The guideline's time in a cooler ends"] == ["Sun 18 Jul 10:45", "Sun 18 Jul 13:45"]


def test_a_night_in_which_the_clocks_go_forward_is_an_hour_shorter(home: Family) -> None:
    page = home.see(address(leave="2027-03-27T20:00", arrive="2027-03-28T08:00"))
    assert "It takes 11 hours" in text(page)
    assert clocks(page)["The guideline's time in a cooler ends"] == ["Sun 28 Mar 21:00"]


def test_looking_ahead_writes_nothing(home: Family) -> None:
    milk(home)
    before = list(home.store.lines())
    home.see(address(code=["KA34", "HE40"], empty=2, empty_ml=80))
    home.see(address("/trip/list/", code=["KA34", "HE40"]))
    home.see("/trip/pack/?code=KA34")
    assert list(home.store.lines()) == before


# Packing


def test_packing_is_one_act_for_many_and_is_undone_as_one(home: Family) -> None:
    milk(home)
    before = there(home)
    act, page = packs(home, "KA34", "KA39", "HE40")
    assert {(one["kind"], one["container"], one["to"]) for one in recorded(home, act)} == {
        ("moved", code, "cooler bag") for code in ("KA34", "KA39", "HE40")
    }
    assert {one.place for code, one in there(home).items() if code != "HE41"} == {"cooler bag"}
    undo(home, page)
    assert {code: one.place for code, one in there(home).items()} == {code: one.place for code, one in before.items()}


def test_a_form_sent_twice_packs_once(home: Family) -> None:
    milk(home)
    page = home.see("/trip/pack/?code=KA34")
    sent = home.fill(page, "/trip/pack/") | {"code": ["KA34"]}
    home.send("/trip/pack/", sent)
    again = home.send("/trip/pack/", sent)
    assert len(recorded(home, sent["act"])) == 1
    assert "KA34 went to cooler bag" in again.get_text(" ")


def test_a_cooler_that_is_not_on_the_list_is_made_in_the_same_act(home: Family) -> None:
    milk(home)
    act, page = packs(home, "KA34", into="+", new="blue box")
    kinds = [(one["kind"], one.get("is")) for one in recorded(home, act)]
    assert kinds == [("place", "cooler"), ("moved", None)]
    assert there(home)["KA34"].place == "blue box"
    undo(home, page)
    assert there(home)["KA34"].place == "fridge"
    assert board(home.store, now=home.now).place("blue box") is None


def test_without_a_cooler_on_the_list_one_is_made(home: Family) -> None:
    milk(home)
    line = next(json.loads(one) for one in home.store.lines() if b'"cooler bag"' in one)
    home.note("voided", 0, event=line["id"])
    assert "It becomes one of your places" in text(home.see("/trip/pack/?code=KA34"))
    packs(home, "KA34")
    assert there(home)["KA34"].place == "cooler"


@pytest.mark.parametrize("name", ["", "fridge", "x" * 81])
def test_a_new_cooler_needs_a_name_that_no_place_has(home: Family, name: str) -> None:
    milk(home)
    act, page = packs(home, "KA34", status=422, into="+", new=name)
    assert "name for the cooler" in text(page)
    assert not recorded(home, act)


def test_nothing_ticked_is_nothing_packed(home: Family) -> None:
    milk(home)
    _, page = packs(home, status=422)
    assert "Tick what went into the cooler" in text(page)


def test_milk_that_was_packed_earlier_has_its_time_from_then(home: Family) -> None:
    milk(home)
    packs(home, "KA39", when="120")
    assert "Use by tomorrow 12:00" in lines(home.see("/trip/"))["KA39"]


def test_a_day_alone_is_no_time_for_a_cooler(home: Family) -> None:
    milk(home)
    act, page = packs(home, "KA39", status=422, when="on", when_on="2027-02-03")
    assert "hours count" in text(page)
    assert not recorded(home, act)


def test_what_a_guideline_says_against_it_is_asked_first_and_recorded_all_the_same(home: Family) -> None:
    # On the counter for longer than the room limit.
    home.expressed("RA77", 80, 5, place="counter")
    act, page = packs(home, "RA77")
    assert "One moment" in text(page)
    assert not recorded(home, act)
    home.send("/trip/pack/", home.fill(page, sure="yes"))
    assert len(recorded(home, act)) == 1
    assert there(home)["RA77"].breaches


@pytest.mark.parametrize("url", ["/trip/?code=NO99", "/trip/pack/?code=NO99", "/trip/arrive/?place=fridge",
                                 "/trip/arrive/?place=nowhere", "/trip/list/?code=%00"])  # fmt: skip
def test_what_is_not_there_is_not_found(home: Family, url: str) -> None:
    home.see(url, 404)


def test_milk_that_is_gone_is_left_out_of_a_plan_and_named_when_it_is_packed(home: Family) -> None:
    milk(home)
    home.note("discarded", 0, container="KA34")
    assert "KA34" not in text(home.see(address(code=["KA34", "KA39"])))
    sent = home.fill(home.see("/trip/pack/?code=KA39"), "/trip/pack/") | {"code": ["KA34", "KA39"]}
    assert "KA34 is gone already" in text(home.send("/trip/pack/", sent, 422))
    assert not recorded(home, sent["act"])


# While it is packed


def test_the_page_shows_what_is_packed_since_when_and_until_when_the_packs_count(home: Family) -> None:
    milk(home)
    page = home.see(address("/trip/pack/", code="KA39"))
    home.send("/trip/pack/", home.fill(page, "/trip/pack/") | {"code": ["KA39"]})
    outfit = trip.kept(kept("marta")["cooler"])
    assert outfit is not None
    held = trip.held(outfit, [trip.Milk(80, 6.0)], hours=1, published_h=24).hours
    assert held is not None
    early = held.early_h
    home.hours(2)
    said = text(home.see("/trip/"))
    assert "Since today 14:00 for 2 hours" in said
    hour, half = divmod(14 + early, 1)
    assert f"Count on the packs until today {hour:.0f}:{half * 60:02.0f}" in said
    assert "Note a temperature" in said
    home.hours(early)
    assert "Look now: is there ice" in text(home.see("/trip/"))


def test_packs_count_from_when_they_went_in_though_the_milk_of_then_is_gone(home: Family) -> None:
    milk(home)
    page = home.see(address("/trip/pack/", code="KA39"))
    home.send("/trip/pack/", home.fill(page, "/trip/pack/") | {"code": ["KA39"]})
    until = re.search(r"Count on the packs until (today [0-9:]+)", text(home.see("/trip/")))
    assert until is not None
    home.hours(1)
    packs(home, "KA34")
    home.note("moved", container="KA39", to="fridge")
    said = text(home.see("/trip/"))
    assert "Since today 15:00" in said
    assert f"Count on the packs until {until[1]}" in said
    # Of the packs of another day nobody knows.
    home.note("moved", container="KA34", to="fridge")
    home.hours(40)
    packs(home, "HE40")
    assert "How long its packs last is not known here" in text(home.see("/trip/"))


@pytest.mark.parametrize(("number", "pack_c"), [(0, None), (0, -18.0), (2, 0.0), (2, 5.0)])
def test_without_frozen_packs_a_cold_day_promises_nothing(number: int, pack_c: float | None) -> None:
    kind = trip.sizes()[0]
    outfit = trip.Outfit(kind.key, kind.inside_cm, kind.wall_mm, kind.wall, number, 400, pack_c, True, True, -20, 0)
    assert trip.held(outfit, [trip.Milk(120, 4)], hours=2, published_h=24).hours == (0, 0, 0)


def kept(username: str) -> dict[str, Any]:
    """What is kept with the household of somebody."""
    found = people.home_of(get_user_model().objects.get(username=username).pk)
    assert found is not None
    return found.preferences


def test_the_cooler_used_last_is_kept_with_its_household_and_offered_again(home: Family) -> None:
    milk(home)
    other = people.begin(household="Elsewhere", name="Ana", username="ana", password="heron-basket-north")
    page = home.see(address("/trip/pack/", code="KA39", size="foam", packs=5, outside=33))
    home.send("/trip/pack/", home.fill(page, "/trip/pack/") | {"code": ["KA39"]})
    form = home.see("/trip/?plan=1")
    assert form.select_one("input[name=size][checked]")["value"] == "foam"  # type: ignore[index]
    assert form.select_one("input[name=packs]")["value"] == "5"  # type: ignore[index]
    assert form.select_one("input[name=outside]")["value"] == "33 °C"  # type: ignore[index]
    assert other.id != home.store.id
    assert "cooler" not in kept("ana")


def test_a_cooler_of_unknown_numbers_promises_nothing_but_its_milk_has_its_times(home: Family) -> None:
    milk(home)
    packs(home, "KA39")
    page = home.see("/trip/")
    assert "How long its packs last is not known here" in text(page)
    assert "Count on" not in text(page)
    assert "Use by tomorrow 14:00" in lines(page)["KA39"]


def test_a_cooler_found_warm_ends_the_times_it_gave(home: Family) -> None:
    milk(home)
    packs(home, "KA39")
    home.hours(3)
    link = home.see("/trip/").find("a", string="Note a temperature")
    page = home.see(str(link["href"]))  # type: ignore[index]
    home.send("/settings/place/measured/", home.fill(page, "/settings/place/measured/", temp_now="18"))
    assert "tomorrow 14:00" not in lines(home.see("/trip/"))["KA39"]


# Arriving


def test_arriving_is_one_act_and_each_goes_where_the_guideline_allows(home: Family) -> None:
    milk(home)
    packs(home, "KA34", "HE40", "HE41")
    home.hours(5)
    act, page = arrives(home, **{"ice-HE40": "yes", "ice-HE41": "no"})
    moved = {one["container"]: one["to"] for one in recorded(home, act) if one["kind"] == "moved"}
    seen = {one["container"]: one["ice"] for one in recorded(home, act) if one["kind"] == "thaw_seen"}
    assert moved == {"KA34": "fridge", "HE40": "freezer", "HE41": "fridge"}
    assert seen == {"HE40": True, "HE41": False}
    now = there(home)
    assert (now["HE40"].form, now["HE40"].standing) == ("frozen", "fine")
    assert now["HE41"].form == "thawed"
    assert now["KA34"].standing == "fine"
    assert not any(one.breaches for one in now.values())
    undo(home, page)
    assert {there(home)[code].place for code in moved} == {"cooler bag"}


def test_frozen_milk_nobody_looked_at_counts_as_thawing_since_it_left_the_freezer(home: Family) -> None:
    milk(home)
    packs(home, "HE40")
    left = home.now
    home.hours(5)
    act, _ = arrives(home)
    assert [one["kind"] for one in recorded(home, act)] == ["moved"]
    assert there(home)["HE40"].place == "fridge"
    assert there(home)["HE40"].use_by == left + 24 * HOUR


def test_frozen_milk_out_for_a_few_minutes_goes_back_to_the_freezer(home: Family) -> None:
    milk(home)
    packs(home, "HE40")
    home.hours(0.1)
    arrives(home)
    assert (there(home)["HE40"].place, there(home)["HE40"].form) == ("freezer", "frozen")
    assert not there(home)["HE40"].breaches


def test_the_hours_of_the_packs_count_from_the_first_milk_in_the_cooler(home: Family) -> None:
    milk(home)
    packs(home, "KA39")
    home.hours(2)
    packs(home, "KA34")
    assert "Since today 14:00" in text(home.see("/trip/"))


def test_what_was_seen_is_written_before_the_move(home: Family) -> None:
    milk(home)
    packs(home, "HE40")
    home.hours(5)
    act, _ = arrives(home, **{"ice-HE40": "yes"})
    at = {one["kind"]: one["at"] for one in recorded(home, act)}
    assert at["thaw_seen"] < at["moved"]


def test_milk_past_its_time_stays_unless_somebody_says_so_and_then_it_is_asked_first(home: Family) -> None:
    # Packed fresh, arrives 25 h 30 min later: past the cooler's 24 h, not to be chilled as if fresh.
    milk(home)
    packs(home, "KA39")
    home.hours(25.5)
    act, page = arrives(home, 422)
    assert "nothing to record" in text(page)
    act, page = arrives(home, **{"to-KA39": "fridge"})
    assert "One moment" in text(page)
    assert not recorded(home, act)
    form = page.select_one("main form[method=post]")
    sent = {str(one["name"]): str(one.get("value", "")) for one in form.select("input[name]")}  # type: ignore[union-attr]
    home.send("/trip/arrive/", sent)
    assert there(home)["KA39"].place == "fridge"
    assert there(home)["KA39"].breaches


def test_a_place_that_is_not_on_the_list_is_made_in_the_same_act(home: Family) -> None:
    milk(home)
    packs(home, "KA39")
    home.hours(5)
    act, _ = arrives(home, **{"to-KA39": "+", "new": "fridge at Ana's", "new_kind": "refrigerator"})
    assert [one["kind"] for one in recorded(home, act)] == ["place", "moved"]
    assert there(home)["KA39"].place == "fridge at Ana's"
    assert there(home)["KA39"].standing == "fine"


@pytest.mark.parametrize(
    "fields", [{"to-KA39": "+"}, {"to-KA39": "+", "new": "freezer", "new_kind": "refrigerator"},
               {"to-KA39": "+", "new": "shed", "new_kind": "room"}, {"to-KA39": "nowhere"}, {"when": "on"}],
)  # fmt: skip
def test_a_goal_that_cannot_be_is_asked_for_again(home: Family, fields: dict[str, str]) -> None:
    milk(home)
    packs(home, "KA39")
    act, _ = arrives(home, 422, **fields)
    assert not recorded(home, act)
    assert there(home)["KA39"].place == "cooler bag"


def test_some_may_stay_in_the_cooler(home: Family) -> None:
    milk(home)
    packs(home, "KA34", "KA39")
    arrives(home, **{"to-KA34": ""})
    assert (there(home)["KA34"].place, there(home)["KA39"].place) == ("cooler bag", "fridge")


def test_an_arrival_sent_twice_counts_once(home: Family) -> None:
    milk(home)
    packs(home, "KA39")
    page = home.see("/trip/arrive/")
    sent = home.fill(page, "/trip/arrive/") | {"code": ["KA39"]}
    home.send("/trip/arrive/", sent)
    home.send("/trip/arrive/", sent)
    assert len(recorded(home, sent["act"])) == 1


def test_an_empty_cooler_says_so(home: Family) -> None:
    assert "No milk is noted in a cooler" in text(home.see("/trip/arrive/"))
    assert home.send("/trip/arrive/", {"act": new_act()}, 422)


# On paper and in the air


def test_the_packing_list_names_milk_packs_and_times_that_stay_true_on_paper(home: Family) -> None:
    milk(home)
    page = home.see(address("/trip/list/", code=["KA39", "HE40"], hours=6, empty=3, empty_ml=90))
    said = text(page)
    needed = trip.held(
        trip.Outfit("box", (30, 20, 20), 25, "box", 2, 400, -18, True, True, 30, 0),
        [trip.Milk(80, 6), trip.Milk(80, 0), *[trip.Milk(90, 37)] * 3], hours=6, published_h=24,
    ).needed  # fmt: skip
    assert f"{needed} ice packs of 400 g" in said
    assert "KA39" in said and "HE40" in said and "3 clean empty containers for 90 mL each" in said
    assert "Thu 4 Feb 14:00" in said
    for word in ("today", "tomorrow"):
        assert word not in said
    assert page.select(".not-paper") and page.select(".only-paper")


def test_flying_names_publisher_and_mark_of_each_fact_and_says_to_check(home: Family) -> None:
    page = home.see("/trip/air/")
    assert "Check before you fly" in text(page)
    facts = page.select("main section li")
    assert len(facts) == len(trip.facts()["air"])
    for fact in facts:
        assert fact.select_one(".source") is not None
        assert any(mark in fact.get_text() for mark in ("(seen)", "(second-hand)"))
    assert "frozen milk is not taken" in text(page)


def test_every_figure_of_the_data_file_has_its_mark() -> None:
    data = trip.facts()
    rows = [row for key in data for row in (data[key] if isinstance(data[key], list) else [data[key]])]
    assert all(row["mark"] in ("seen", "second-hand", "ours") for row in rows)
    assert all(row.get("source") for row in data["air"])
