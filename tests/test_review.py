"""Rules that a page must keep where it chooses a time or a place for a person, and where cautions must stand."""

from __future__ import annotations

import json
from typing import Any
from unittest import mock

import pytest
from bs4 import BeautifulSoup
from django.test import Client
from tests.pages import Family, family, text
from tests.test_paper_pages import ENTER, enter, sheet
from tests.test_setup_pages import begin_form, events

from thawline.core.times import HOUR, MINUTE, parse_instant
from thawline.faces.web.amounts import temp_c
from thawline.faces.words import words_for
from thawline.services import acts, recording
from thawline.services.acts import Act, BadWhenError
from thawline.services.board import board, one


def recorded(home: Family) -> list[dict[str, Any]]:
    return [json.loads(line) for line in home.store.lines()]


def use_by(home: Family, code: str) -> int | None:
    found = one(home.store, code, now=home.now)
    assert found is not None
    return found.verdict.use_by


def under(home: Family, guideline: str) -> None:
    home.note("household", 24 * 300, zone="Europe/Lisbon", guideline=guideline, units=["ml", "C"])


# Times


def test_a_local_time_that_never_came_is_asked_for_and_not_guessed() -> None:
    now = parse_instant("2027-03-28T12:00:00+01:00")
    with pytest.raises(BadWhenError, match="clocks went forward"):
        acts.when("at", "2027-03-28T01:30", "", now=now, zone="Europe/Lisbon")


def test_a_time_a_little_ahead_counts_as_now_and_never_later(home: Family) -> None:
    at = acts.when("at", "2027-02-03T14:01", "", now=home.now, zone="Europe/Lisbon")
    assert parse_instant(at) == home.now


def test_a_clock_time_in_the_hour_that_comes_twice_says_which_of_the_two() -> None:
    first = parse_instant("2027-10-31T01:30:00+01:00")
    words = words_for("Europe/Lisbon", first)
    assert words.clock(first) != words.clock(first + HOUR)
    assert words.clock(first + 2 * HOUR).endswith(" 02:30")


def test_events_of_one_moment_stay_in_their_order_however_many_there_are() -> None:
    act = Act(recording.new_act(), by="", at="2027-02-03")
    names = [act.add("moved", container="KA34", to="fridge") for _number in range(1100)]
    assert names == sorted(names)
    assert names[0].endswith(".0") and names[1].endswith(".1")


def test_paper_rows_of_one_day_are_taken_in_the_order_in_which_they_were_written(home: Family) -> None:
    home.expressed("KA34", 100, 60)
    rows = [
        {"time": "", "day": "2027-02-02", "code": "KA34", "what": "to:fridge" if n % 2 else "to:freezer"}
        for n in range(11)
    ]
    rows[-2]["what"], rows[-1]["what"] = "to:freezer", "to:fridge"
    enter(home, *rows, rows="16")
    (found,) = board(home.store, now=home.now).verdicts
    assert found.place == "fridge"


# The rest of a feed


@pytest.mark.parametrize("verb", ["leftover", "feed"])
def test_what_is_left_of_a_feed_never_counts_from_later_than_drinking_began(home: Family, verb: str) -> None:
    under(home, "bfn")
    home.expressed("KA34", 120, 3)
    page = home.see(f"/milk/KA34/{verb}/")
    sent = home.fill(page, left="30", **({"how": "left"} if verb == "feed" else {}))
    count = len(recorded(home))
    assert "how long drinking took" in text(home.send(f"/milk/KA34/{verb}/", sent, status=422))
    assert len(recorded(home)) == count
    home.send(f"/milk/KA34/{verb}/", sent | {"took": "30"})
    assert use_by(home, "KA34") == home.now + 30 * MINUTE
    assert [one["kind"] for one in recorded(home)[-2:]] == ["feed_began", "feed_ended"]


def test_where_the_beginning_was_noted_nothing_more_is_asked(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("feed_began", 0.25, container="KA34", child="Mira")
    page = home.see("/milk/KA34/leftover/")
    assert not page.select('input[name="took"]')
    home.send("/milk/KA34/leftover/", home.fill(page, left="30"))
    assert recorded(home)[-1]["kind"] == "feed_ended"


def test_all_gone_needs_no_beginning(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    page = home.see("/milk/KA34/feed/")
    home.send("/milk/KA34/feed/", home.fill(page, how="gone"))
    assert not board(home.store, now=home.now).verdicts


def test_a_leftover_on_paper_needs_the_line_with_its_beginning(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    rows = sheet(home, {"time": "13:00", "code": "KA34", "what": "left", "amount": "30"})
    assert "When did drinking begin?" in text(home.send(ENTER, rows, status=422))
    fed = {"time": "12:40", "code": "KA34", "what": "fed"}
    found = enter(home, {"time": "13:00", "code": "KA34", "what": "left", "amount": "30"}, fed)
    assert [one["kind"] for one in found] == ["feed_began", "feed_ended"]


# Places and temperatures


def test_set_up_claims_no_temperature_that_nobody_measured(db: None) -> None:
    phone = Client(headers={"host": "localhost"})
    with mock.patch("thawline.services.present.now", return_value=parse_instant("2027-02-03T14:00:00+00:00")):
        assert phone.post("/begin/", begin_form(phone), follow=True).status_code == 200
    assert [one.get("temp_c") for one in events() if one["kind"] == "place"] == [None] * 4


def test_expressed_on_paper_without_a_room_stands_in_the_warmest_place(db: None) -> None:
    home = family()
    for name in ("counter", "cooler bag"):
        home.note("place", 24 * 399, place=name, is_="refrigerator", temp_c=4)
    home.note("place", 24 * 399, place="a chest", is_="deep_freezer", temp_c=-20)
    with mock.patch("thawline.services.present.now", side_effect=lambda: home.now):
        enter(home, {"time": "12:00", "what": "expressed", "amount": "80"})
    found = board(home.store, now=home.now)
    place = found.place(found.verdicts[0].place)
    assert place is not None and place.kind == "refrigerator"


def test_expressed_on_paper_stands_in_the_warmest_room(home: Family) -> None:
    home.note("place", 24 * 399, place="sun room", is_="room", temp_c=27)
    enter(home, {"time": "12:00", "what": "expressed", "amount": "80"})
    assert board(home.store, now=home.now).verdicts[0].place == "sun room"


def test_stock_is_not_put_into_the_coldest_of_several_freezers_unasked(home: Family) -> None:
    assert home.fill(home.see("/stock/enter/"))["place-1"] == "freezer"
    home.note("place", 24, place="garage chest", is_="deep_freezer", temp_c=-20)
    assert home.fill(home.see("/stock/enter/"))["place-1"] == ""


@pytest.mark.parametrize("degrees", [4.6, 4.4, -17.8, -18.0, 3.9])
def test_a_temperature_in_fahrenheit_reads_back_to_the_same(degrees: float) -> None:
    words = words_for("UTC", 0, ("fl_oz", "F"))
    assert temp_c(words.c(degrees), "F") == degrees


def test_a_place_saved_as_it_stands_keeps_its_temperature(home: Family) -> None:
    home.note("household", 24, zone="Europe/Lisbon", guideline="cdc", units=["ml", "F"])
    home.note("place", 20, place="fridge", is_="refrigerator", temp_c=4.6)
    page = home.see("/settings/place/?name=fridge")
    assert "40.3" in str(page)


def test_what_is_poured_together_is_not_put_into_the_colder_place_unasked(home: Family) -> None:
    home.expressed("HA33", 100, 3)
    home.expressed("KA34", 100, 30, place="freezer")
    earlier = use_by(home, "HA33")
    page = home.see("/milk/KA34/pour/")
    looked = home.send("/milk/KA34/pour/", home.fill(page) | {"container": "HA33", "into": "", "into_new": "TA33"})
    home.send("/milk/KA34/pour/", home.fill(looked) | {"step": "confirm", "sure": "yes"})
    (found,) = board(home.store, now=home.now).verdicts
    assert (found.container, found.place) == ("TA33", "fridge")
    assert found.use_by is not None and earlier is not None and found.use_by <= earlier


# A hospital's care


def hospital(home: Family) -> None:
    home.note("child", 24, child="Mira", born="2026-12-01", care="hospital")
    home.expressed("KA34", 100, 2)


def test_the_sheet_shows_no_home_limit_where_every_child_is_under_a_hospitals_care(home: Family) -> None:
    hospital(home)
    told = text(home.see("/paper/"))
    assert "4 days" not in told and "4 hours" not in told
    assert "follow the care team" in told


def test_milk_under_a_hospitals_care_is_not_said_to_follow_a_home_guideline(home: Family) -> None:
    hospital(home)
    assert "follows US CDC" not in text(home.see("/milk/KA34/"))
    page = text(home.see("/milk/KA34/warm/"))
    assert "Times follow" not in page and "Follow the care team." in page


def test_milk_of_a_child_in_hospital_is_not_fed_to_another_without_a_word(home: Family) -> None:
    home.note("child", 24, child="Leo", born="2026-12-01", care="hospital")
    home.note("expressed", 3, into=[{"container": "KA34", "ml": 100}], place="fridge", for_="Leo")
    count = len(recorded(home))
    page = home.see("/milk/KA34/feed/")
    asked = home.send("/milk/KA34/feed/", home.fill(page, how="gone", child="Mira"))
    assert "One moment" in text(asked) and len(recorded(home)) == count
    home.send("/milk/KA34/feed/", home.fill(page, how="gone", child="Leo"))
    assert len(recorded(home)) == count + 2


def test_where_another_child_lives_the_one_to_feed_next_is_named(home: Family) -> None:
    home.note("child", 24, child="Leo", born="2026-12-01", care="hospital")
    home.expressed("KA34", 100, 2)
    assert "Feed Mira next" in text(home.see("/"))


# Clocks and cautions


def behind(home: Family) -> BeautifulSoup:
    home.expressed("KA34", 100, 2)
    home.expressed("HA33", 100, 2)
    home.hours(-1)
    return home.see("/")


def test_a_server_behind_its_newest_record_says_which_clock_is_wrong(home: Family) -> None:
    told = text(behind(home))
    assert "stands before its newest record" in told
    assert "differ by" not in told


def test_no_page_shows_a_time_left_while_the_server_stands_before_its_newest_record(home: Family) -> None:
    assert not behind(home).select(".time-left")
    page = home.see("/milk/KA34/pour/")
    sent = home.fill(page) | {"container": "HA33"}
    looked = home.send("/milk/KA34/pour/", sent)
    assert looked.select(".by") and not looked.select(".time-left")


def test_one_tap_that_warms_stands_beside_its_caution(home: Family) -> None:
    home.expressed("KA34", 100, 2)
    told = text(home.see("/milk/KA34/"))
    assert "Warm in water" in told and "Never microwave" in told and "Not above 40 °C" in told


def test_thawed_milk_and_a_rest_stand_beside_their_cautions(home: Family) -> None:
    home.expressed("KA34", 100, 24 * 20, place="freezer")
    home.note("moved", 10, container="KA34", to="fridge")
    assert "do not refreeze" in text(home.see("/milk/KA34/"))
    home.expressed("HA33", 100, 3)
    home.note("feed_began", 0.5, container="HA33", child="Mira")
    home.note("feed_ended", 0.25, container="HA33", left_ml=30)
    assert "Do not mix it back" in text(home.see("/milk/HA33/"))


def test_taking_back_asks_first_where_that_makes_a_breach(home: Family) -> None:
    home.note("expressed", 30, into=[{"container": "KA34", "ml": 100}], place="counter")
    moved = home.note("moved", 29.5, container="KA34", to="fridge")
    home.note("moved", 20, container="KA34", to="freezer")
    count = len(recorded(home))
    page = home.send(f"/history/{moved}/", {"act": recording.new_act(), "back": "/"})
    assert "One moment" in text(page) and "KA34" in text(page) and len(recorded(home)) == count
    home.send(f"/history/{moved}/", home.fill(page))
    assert len(recorded(home)) == count + 1
