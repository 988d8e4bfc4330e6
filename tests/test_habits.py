"""How a family uses its milk: read, checked in plain words, kept with the household."""

from __future__ import annotations

import json
from typing import Any

import msgspec
import pytest
from django.contrib.auth import get_user_model
from tests.pages import Family

from thawline.services import habits as of
from thawline.services import people
from thawline.services.habits import Apart, Goal, Habits
from thawline.services.habits_faults import HabitsError


def apart(**more: Any) -> Apart:
    return Apart(**{"child": "mia", "days": (0, 2), "start": "08:00", "end": "17:00", **more})


FULL = Habits(
    way="rotation", rotation_day=2, fed="bottle", apart=(apart(rule="us-or", from_day="2027-03-01"),),
    goal=Goal("trip", "2027-04-01", "2027-04-05", 24), solids=(("mia", "2027-06-01"),), pour_ml=60, freeze_ml=90,
)  # fmt: skip


def test_what_is_kept_is_read_again() -> None:
    assert of.read({"habits": msgspec.to_builtins(FULL)}) == FULL
    assert of.parsed(json.dumps(msgspec.to_builtins(FULL)).encode()) == FULL


@pytest.mark.parametrize("kept", [{}, {"habits": {}}, {"habits": {"way": "sideways"}}, {"habits": {"rotation_day": 9}}])
def test_where_nothing_usable_is_kept_the_usual_habits_stand(kept: dict[str, Any]) -> None:
    assert of.read(kept) == Habits()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (Habits(night_from="10 pm"), "like 07:30"),
        (Habits(night_from="22:00", night_until="22:00"), "same time"),
        (Habits(rotation_day=7), "day of the week"),
        (Habits(apart=(apart(days=()),)), "at least one day"),
        (Habits(apart=(apart(days=(7,)),)), "at least one day"),
        (Habits(apart=(apart(start="8:00"),)), "leaving"),
        (Habits(apart=(apart(end="24:00"),)), "coming back"),
        (Habits(apart=(apart(start="17:00", end="08:00"),)), "later on the same day"),
        (Habits(apart=(apart(where="home"),)), "not 'home'"),
        (Habits(apart=(apart(where=" "),)), "Name the place"),
        (Habits(apart=(apart(rule="cdc"),)), "au-tas"),
        (Habits(apart=(apart(child="zoe"),)), "no child 'zoe'"),
        (Habits(apart=(apart(from_day="soon"),)), "2027-02-03"),
        (Habits(apart=(apart(from_day="2027-03-02", until_day="2027-03-01"),)), "before the first"),
        (Habits(apart=(apart(), apart(days=(2, 3), start="12:00", end="18:00"))), "two places at once"),
        (Habits(goal=Goal("apart", "2027-03-02", "2027-03-01")), "before its first"),
        (Habits(goal=Goal("apart", "2027-02-30", "2027-03-01")), "the goal's first day"),
        (Habits(goal=Goal("apart", "2027-03-01", "2027-03-02", 25)), "between 0 and 24"),
        (Habits(solids=(("zoe", "2027-03-01"),)), "no child 'zoe'"),
        (Habits(solids=(("mia", "March"),)), "solids began"),
        (Habits(pour_ml=2), "first pour"),
        (Habits(freeze_ml=900), "size to freeze in"),
    ],
)
def test_each_fault_is_one_line_that_says_what_to_mend(wrong: Habits, says: str) -> None:
    with pytest.raises(HabitsError, match=r".") as fault:
        of.check(wrong, ["mia"])
    assert says in str(fault.value)
    assert "\n" not in str(fault.value)


def test_two_times_apart_on_one_day_may_follow_each_other() -> None:
    day = (apart(start="08:00", end="12:00"), apart(start="12:00", end="17:00", where="grandmother"))
    assert of.check(Habits(apart=day), ["mia"]).apart == day
    season = (apart(until_day="2027-03-01"), apart(from_day="2027-03-02", where="grandmother"))
    assert of.check(Habits(apart=season)).apart == season


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "JSON"),
        (b"{", "JSON"),
        (b'{"fed": "cup"}', "fed"),
        (b'{"feed": "bottle"}', "feed"),
        (b'{"apart": [{"child": "mia"}]}', "apart"),
        (b'{"rotation_day": "Monday"}', "rotation_day"),
        (b"\xff", "JSON"),
        (b"[" * 5000, "object"),
    ],
)
def test_a_file_that_can_t_be_read_is_refused_in_one_line(data: bytes, says: str) -> None:
    with pytest.raises(HabitsError) as fault:
        of.parsed(data)
    assert says in str(fault.value)
    assert "\n" not in str(fault.value)


def test_habits_are_kept_with_the_household_beside_its_other_preferences(home: Family) -> None:
    people.prefer(home.store, "feed_first", "oldest")
    of.keep(home.store, FULL)
    found = people.home_of(get_user_model().objects.get().pk)
    assert found is not None
    assert of.read(found.preferences) == FULL
    assert found.feed_first == "oldest"


def test_habits_that_can_t_be_used_are_not_kept(home: Family) -> None:
    with pytest.raises(HabitsError):
        of.keep(home.store, FULL, ["noa"])
    found = people.home_of(get_user_model().objects.get().pk)
    assert found is not None
    assert "habits" not in found.preferences
