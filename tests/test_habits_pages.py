"""How a family uses its milk: each setting is kept as written, and nothing is lost where one is to be mended."""

from __future__ import annotations

from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag
from tests.pages import Family, text

from thawline.records.accounts.models import User
from thawline.records.ledger.models import Household
from thawline.services import habits, household, people
from thawline.services.habits import Apart, Goal, Habits

STRETCH = {"child": "Mira", "days": ["0", "2"], "start": "08:00", "end": "16:30", "where": "nursery", "rule": ""}
KEPT = Apart("Mira", (0, 2), "08:00", "16:30", "nursery")


def now(home: Family) -> Habits:
    """The habits as they are kept."""
    found = people.home_of(User.objects.get(username="marta").pk)
    assert found is not None and home.store is not None
    return habits.read(found.preferences)


def error(page: BeautifulSoup, name: str) -> str:
    """What stands beside a field that is to be mended."""
    told = page.select_one(f"#{name}-error")
    assert isinstance(told, Tag), text(page)
    return told.text.strip()


def value(page: BeautifulSoup, name: str) -> str:
    """What stands in a field."""
    found = page.select_one(f"#{name}")
    assert isinstance(found, Tag)
    return str(found["value"])


def lines(home: Family) -> int:
    return len(list(home.store.lines()))


# All of them


def test_where_nothing_was_said_the_usual_is_shown(home: Family) -> None:
    page = home.see("/settings/habits/")
    for one in ("Fresh first", "Bottles only while apart", "Nothing in particular", "Night from 22:00 to 06:00"):
        assert one in text(page)
    assert now(home) == Habits()


def test_the_way_to_it_is_in_the_settings(home: Family) -> None:
    assert home.see("/settings/").select_one('a[href="/settings/habits/"]') is not None


def test_habits_are_no_events_and_leave_other_preferences_as_they_are(home: Family) -> None:
    before = lines(home)
    people.prefer(home.store, "feed_first", "oldest")
    home.send("/settings/habits/way/", {"way": "rotation", "rotation_day": "6", "fed": "bottle"})
    assert lines(home) == before
    assert Household.objects.get(pk=home.store.id).preferences["feed_first"] == "oldest"


def test_habits_that_cannot_be_read_do_not_break_the_page(home: Family) -> None:
    Household.objects.filter(pk=home.store.id).update(preferences={"habits": {"way": "sideways"}})
    assert "Fresh first" in text(home.see("/settings/habits/"))


# The way


def test_a_day_a_week_from_the_freezer_is_kept_with_its_weekday(home: Family) -> None:
    page = home.send("/settings/habits/way/", {"way": "rotation", "rotation_day": "2", "fed": "bottle"})
    assert (now(home).way, now(home).rotation_day, now(home).fed) == ("rotation", 2, "bottle")
    assert "One day a week from the freezer: Wednesday" in text(page) and "All feeds by bottle" in text(page)
    form = home.fill(home.see("/settings/habits/way/"))
    assert (form["way"], form["rotation_day"], form["fed"]) == ("rotation", "2", "bottle")


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"way": "sideways", "fed": "bottle"}, "way"), ({"way": "fresh_first", "fed": ""}, "fed"),
        ({"way": "rotation", "fed": "bottle", "rotation_day": "9"}, "rotation_day"),
    ],
)  # fmt: skip
def test_a_way_that_is_not_on_offer_is_not_kept(home: Family, sent: dict[str, str], field: str) -> None:
    page = home.send("/settings/habits/way/", sent, 422)
    assert error(page, field) == "Choose one of these."
    assert now(home) == Habits()


# Times apart


def test_a_time_apart_is_added_changed_and_taken_off(home: Family) -> None:
    page = home.send("/settings/habits/apart/", {**STRETCH, "was": ""})
    assert now(home).apart == (KEPT,)
    assert "Monday, Wednesday 08:00 to 16:30, nursery" in text(page)
    form = home.fill(home.see("/settings/habits/apart/?n=0"))
    assert form["start"] == "08:00" and form["where"] == "nursery"
    rule = household.overlays()[0].id
    changed = {**form, "days": ["4"], "end": "17:00", "rule": rule, "from_day": "2027-03-01", "until_day": "2027-07-01"}
    page = home.send("/settings/habits/apart/", changed)
    assert now(home).apart == (Apart("Mira", (4,), "08:00", "17:00", "nursery", rule, "2027-03-01", "2027-07-01"),)
    assert "from 1 March until 1 July" in text(page)
    form = home.fill(home.see("/settings/habits/apart/?n=0"))
    assert (form["rule"], form["from_day"], form["until_day"]) == (rule, "2027-03-01", "2027-07-01")
    home.send("/settings/habits/apart/", {**form, "remove": "yes"})
    assert now(home).apart == ()


def test_the_rules_of_every_childcare_overlay_are_offered(home: Family) -> None:
    page = home.see("/settings/habits/apart/")
    assert [str(one["value"]) for one in page.select("#rule option")] == ["", *(one.id for one in household.overlays())]


def test_several_times_apart_stand_beside_each_other(home: Family) -> None:
    home.send("/settings/habits/apart/", {**STRETCH, "was": ""})
    home.send("/settings/habits/apart/", {**STRETCH, "days": ["3"], "where": "grandmother", "was": ""})
    assert {one.where for one in now(home).apart} == {"nursery", "grandmother"}
    assert len(home.see("/settings/habits/").select('a[href*="?n="]')) == 2


@pytest.mark.parametrize(
    ("changed", "field", "says"),
    [
        ({"child": "Nobody"}, "child", "Choose one of these."),
        ({"days": []}, "days", "Choose at least one day."),
        ({"days": ["9", "x"]}, "days", "Choose at least one day."),
        ({"start": ""}, "start", "Write when it begins."),
        ({"end": "25:00"}, "end", "Write the time like 08:00."),
        ({"end": "07:00"}, "end", "It has to end later on the same day than it begins. A night apart is two of these."),
        ({"where": " "}, "where", "Write where the child is then."),
        ({"where": "home"}, "where", "Write where the child is then, not home."),
        ({"where": "w" * 99}, "where", "That is too long: at most 80 characters."),
        ({"rule": "cdc"}, "rule", "Choose one of these."),
        ({"from_day": "soon"}, "from_day", "Write the day like 2027-02-03."),
        ({"from_day": "2027-03-02", "until_day": "2027-03-01"}, "until_day",
         "That is before it begins. Look at both days once more."),
    ],
)  # fmt: skip
def test_a_time_apart_that_cannot_be_is_named_and_nothing_written_is_lost(
    home: Family, changed: dict[str, Any], field: str, says: str
) -> None:
    sent = {**STRETCH, "was": "", "from_day": "", "until_day": "", **changed}
    page = home.send("/settings/habits/apart/", sent, 422)
    assert error(page, field) == says
    assert now(home) == Habits()
    for name in ("start", "end", "where", "from_day", "until_day"):
        assert value(page, name) == sent[name]
    ticked = [str(one["value"]) for one in page.select("input[name=days][checked]")]
    assert ticked == [one for one in sent["days"] if one in "0123456"]


def test_a_child_cannot_be_in_two_places_at_once(home: Family) -> None:
    home.send("/settings/habits/apart/", {**STRETCH, "was": ""})
    page = home.send("/settings/habits/apart/", {**STRETCH, "start": "12:00", "end": "18:00", "was": ""}, 422)
    assert "two places at once" in error(page, "child")
    assert now(home).apart == (KEPT,)


def test_what_somebody_else_changed_meanwhile_is_not_overwritten(home: Family) -> None:
    home.send("/settings/habits/apart/", {**STRETCH, "was": ""})
    first, second = (home.fill(home.see("/settings/habits/apart/?n=0"), days=["0"]) for _ in range(2))
    home.send("/settings/habits/apart/", {**first, "end": "15:00"})
    page = home.send("/settings/habits/apart/", {**second, "end": "14:00"}, 422)
    assert "changed meanwhile" in error(page, "child")
    assert now(home).apart[0].end == "15:00"


@pytest.mark.parametrize("number", ["7", "-1", "x", "99999", "٣"])
def test_a_time_apart_that_is_not_there_is_not_found(home: Family, number: str) -> None:
    home.see(f"/settings/habits/apart/?n={number}", 404)


def test_their_number_has_an_end(home: Family) -> None:
    many = tuple(
        Apart("Mira", (0,), f"{n // 2:02d}:{n % 2 * 30:02d}", f"{n // 2:02d}:{n % 2 * 30 + 29}") for n in range(20)
    )
    habits.keep(home.store, Habits(apart=many))
    page = home.send("/settings/habits/apart/", {**STRETCH, "days": ["5"], "was": ""}, 422)
    assert error(page, "child") == "More than 20 stretches can't be kept."


# What it is for


@pytest.mark.parametrize("why", ["apart", "trip", "weaning"])
def test_what_it_is_saved_for_is_kept(home: Family, why: str) -> None:
    home.send("/settings/habits/goal/", {"why": why, "on": "2027-03-01", "until": "2027-04-30", "hours": "9,5"})
    hours = 9.5 if why == "apart" else 24
    assert now(home).goal == Goal(why, "2027-03-01", "2027-04-30", hours)  # type: ignore[arg-type]
    assert "30 April" in text(home.see("/settings/habits/"))
    form = home.fill(home.see("/settings/habits/goal/"))
    assert (form["why"], form["on"], form["hours"]) == (why, "2027-03-01", f"{hours:g}")
    home.send("/settings/habits/goal/", {**form, "why": ""})
    assert now(home).goal is None


@pytest.mark.parametrize(
    ("changed", "field", "says"),
    [
        ({"why": "sale"}, "why", "Choose one of these."),
        ({"on": ""}, "on", "Write the first day."), ({"until": "x"}, "until", "Write the day like 2027-02-03."),
        ({"until": "2027-02-01"}, "until", "That is before it begins. Look at both days once more."),
        ({"hours": ""}, "hours", "Write how many hours."),
        ({"hours": "25"}, "hours", "Write the hours of a day, at most 24."),
        ({"hours": "0"}, "hours", "Write the hours of a day, at most 24."),
        ({"hours": "nine"}, "hours", "“nine” is not a number. Write it like 120 or 4.5."),
    ],
)  # fmt: skip
def test_a_goal_that_cannot_be_is_named_and_nothing_written_is_lost(
    home: Family, changed: dict[str, str], field: str, says: str
) -> None:
    sent = {"why": "apart", "on": "2027-03-01", "until": "2027-04-30", "hours": "9", **changed}
    page = home.send("/settings/habits/goal/", sent, 422)
    assert error(page, field) == says
    assert now(home) == Habits()
    for name in ("on", "until", "hours"):
        assert value(page, name) == sent[name]


# The rest


def test_night_solids_and_sizes_are_kept_and_can_be_emptied(home: Family) -> None:
    sent = {"night_from": "21:30", "night_until": "5:45", "solids_0": "2027-06-05", "pour": "60", "freeze": "90"}
    page = home.send("/settings/habits/rest/", sent)
    found = now(home)
    assert (found.night_from, found.night_until, found.solids) == ("21:30", "05:45", (("Mira", "2027-06-05"),))
    assert (found.pour_ml, found.freeze_ml) == (60, 90)
    for one in ("Night from 21:30 to 05:45", "Mira: solids from 5 June on", "Poured: 60 mL", "Frozen: 90 mL"):
        assert one in text(page)
    form = home.fill(home.see("/settings/habits/rest/"))
    assert form["pour"] == "60" and form["solids_0"] == "2027-06-05"
    home.send("/settings/habits/rest/", {**form, "pour": "", "freeze": "", "solids_0": ""})
    assert (now(home).pour_ml, now(home).freeze_ml, now(home).solids) == (None, None, ())


def test_sizes_read_back_in_the_households_unit(home: Family) -> None:
    home.note("household", 1, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "C"])
    sent = {"night_from": "22:00", "night_until": "06:00", "pour": "2.5", "freeze": ""}
    home.send("/settings/habits/rest/", sent)
    assert now(home).pour_ml == pytest.approx(73.9)
    form = home.fill(home.see("/settings/habits/rest/"))
    assert form["pour"] == "2.5"
    home.send("/settings/habits/rest/", form)
    assert now(home).pour_ml == pytest.approx(73.9)


@pytest.mark.parametrize(
    ("changed", "field", "says"),
    [
        ({"night_from": ""}, "night_from", "Write when your night begins."),
        ({"night_until": "noon"}, "night_until", "Write the time like 08:00."),
        ({"solids_0": "2026-01-01"}, "solids_0", "That day is before the birth. Look at it once more."),
        ({"pour": "lots"}, "pour", "“lots” is not a number. Write it like 120 or 4.5."),
    ],
)
def test_the_rest_that_cannot_be_is_named_and_nothing_written_is_lost(
    home: Family, changed: dict[str, str], field: str, says: str
) -> None:
    sent = {"night_from": "21:30", "night_until": "05:45", "solids_0": "2027-06-05", "pour": "60", "freeze": "90"}
    page = home.send("/settings/habits/rest/", {**sent, **changed}, 422)
    assert error(page, field) == says
    assert now(home) == Habits()
    for name, was in {**sent, **changed}.items():
        assert value(page, name) == was


@pytest.mark.parametrize("ml", ["1", "4000"])
def test_a_size_out_of_range_is_named(home: Family, ml: str) -> None:
    sent = {"night_from": "21:30", "night_until": "05:45", "pour": "60", "freeze": ml}
    assert "Write a size from" in error(home.send("/settings/habits/rest/", sent, 422), "freeze")


def test_a_night_without_length_is_named(home: Family) -> None:
    page = home.send("/settings/habits/rest/", {"night_from": "21:30", "night_until": "21:30"}, 422)
    assert "same time" in error(page, "night_until")
