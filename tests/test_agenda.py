"""What to do by when: the board's own times, one entry a container, one ring for what comes due together."""

from __future__ import annotations

from unittest import mock

import pytest
from tests.pages import Family
from tests.test_calendar import a_home

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.services import agenda, agenda_thaw, board, habits, plan
from thawline.services.agenda import Due, leads, told
from thawline.services.habits import Apart, Habits, keep


def dues(home: Family, days: int = 14) -> dict[str, Due]:
    return {one.container: one for one in agenda.agenda(a_home(home), now=home.now, days=days)}


def test_times_are_the_boards(home: Family) -> None:
    home.expressed("KA34", 90, 20)
    home.note("expressed", 1, into=[{"container": "ME99", "ml": 50}], place="counter")
    verdicts = {one.container: one for one in board.board(home.store, now=home.now).verdicts}
    found = dues(home)
    assert {name: one.by for name, one in found.items()} == {name: one.use_by for name, one in verdicts.items()}
    options = board.with_options(home.store, list(found), now=home.now)
    for name, one in found.items():
        freeze = next(option for option in options[name].options if option.do == "freeze")
        assert one.may_freeze and freeze.not_after == one.by


def test_where_freezing_ends_earlier_it_has_an_entry_of_its_own(home: Family) -> None:
    home.expressed("KA34", 90, 20)
    found = board.with_options(home.store, ["KA34"], now=home.now)["KA34"]
    earlier = tuple(one._replace(not_after=one.not_after - DAY) if one.do == "freeze" else one for one in found.options)
    with mock.patch.object(board, "with_options", return_value={"KA34": found._replace(options=earlier)}):
        use, freeze = sorted(agenda.agenda(a_home(home), now=home.now), key=lambda one: -one.by)
    assert (use.kind, freeze.kind) == ("use", "freeze") and use.key != freeze.key
    assert use.by - freeze.by == DAY and not use.may_freeze
    assert told(freeze, ("use",)) is None and told(freeze, ("freeze",)) == "freeze"


def test_milk_taken_out_to_thaw_has_no_date_to_go_back(home: Family) -> None:
    home.expressed("TE34", 90, 24 * 9, place="freezer")
    home.note("moved", 0.3, container="TE34", to="fridge")
    home.note("thaw_seen", 0.02, container="TE34", ice=True)
    assert "freeze" in {one.do for one in board.with_options(home.store, ["TE34"], now=home.now)["TE34"].options}
    assert [one.kind for one in agenda.agenda(a_home(home), now=home.now)] == ["use"]


def test_only_the_days_asked_for_are_listed(home: Family) -> None:
    home.expressed("KA34", 90, 20)
    home.expressed("FE44", 90, 24 * 9, place="freezer")
    assert set(dues(home, 14)) == {"KA34"}
    assert set(dues(home, 2)) == set()
    assert set(dues(home, agenda.FAR_DAYS)) == {"KA34", "FE44"}


def test_a_key_names_the_container_whatever_its_deadline(home: Family) -> None:
    home.expressed("KA34", 90, 20)
    before = dues(home)["KA34"]
    home.note("moved", 0, container="KA34", to="counter")
    after = dues(home)["KA34"]
    assert after.key == before.key and after.by < before.by


@pytest.mark.parametrize(
    ("span", "expected"),
    [
        (2 * HOUR, (30 * MINUTE,)),
        (4 * HOUR, (30 * MINUTE,)),
        (24 * HOUR, (2 * HOUR,)),
        (4 * DAY, (12 * HOUR, 2 * HOUR)),
        (365 * DAY, (14 * DAY, 2 * DAY)),
    ],
)
def test_it_rings_the_earlier_the_longer_the_limit(span: int, expected: tuple[int, ...]) -> None:
    # Thawline's own choice; no source.
    assert leads(Due("use-x", "use", "KA34", span, span=span)) == expected
    assert max(expected) < span


def test_of_many_that_come_due_in_one_hour_one_rings_for_all(home: Family) -> None:
    for number in range(20):
        home.expressed(f"KA{number:02d}", 50, 24 + number / 60)
    found = sorted(dues(home).values(), key=lambda one: (one.by, one.key))
    ringing = [one for one in found if one.leads]
    assert len(ringing) <= 2
    assert sorted(name for one in ringing for name in (one.container, *one.with_it)) == sorted(
        one.container for one in found
    )
    assert all(one.with_it == () for one in found if not one.leads)


@pytest.mark.parametrize(
    ("may_freeze", "about", "says"),
    [
        (True, ("freeze", "use"), "use_or_freeze"),
        (True, ("freeze",), "freeze"),
        (True, ("use",), "use"),
        (True, ("thaw", "kit"), None),
        (False, ("freeze",), None),
        (False, ("freeze", "use"), "use"),
    ],
)
def test_one_is_told_what_one_asked_for(may_freeze: bool, about: tuple[str, ...], says: str | None) -> None:
    assert told(Due("use-x", "use", "KA34", 0, may_freeze=may_freeze), about) == says


def frozen(home: Family) -> None:
    keep(home.store, Habits(apart=(Apart("Mira", (0, 1, 2, 3, 4), "08:30", "17:30"),)))
    for number in range(6):
        home.expressed(f"TE3{number}", 110, 24.0 * 12 - number)
        home.note("moved", 24.0 * 11 - number, container=f"TE3{number}", to="freezer")


def test_the_plan_says_what_to_move_to_thaw_and_until_when(home: Family) -> None:
    frozen(home)
    found = [one for one in agenda.agenda(a_home(home), now=home.now) if one.kind == "thaw"]
    assert found
    chores = agenda_thaw.thaws(home.store, habits.read(a_home(home).preferences), now=home.now)
    assert {(one.container, one.by, one.place) for one in found} == {
        (name, chore.by, chore.to) for chore in chores for name in chore.containers
    }
    assert all(one.since is None or home.now < one.since < one.by for one in found)


def test_a_plan_is_made_anew_when_something_is_noted_or_an_hour_went_by(home: Family) -> None:
    frozen(home)
    with mock.patch("thawline.services.agenda_thaw.plan_now", wraps=plan.plan_now) as made:
        for _ in range(3):
            dues(home)
        assert made.call_count == 1
        home.hours(0.9)
        dues(home)
        assert made.call_count == 1
        home.expressed("KA34", 90, 0)
        dues(home)
        assert made.call_count == 2
        home.hours(1.1)
        dues(home)
        assert made.call_count == 3


def test_without_frozen_milk_no_plan_is_made(home: Family) -> None:
    home.expressed("KA34", 90, 20)
    with mock.patch("thawline.services.agenda_thaw.plan_now") as made:
        dues(home)
    made.assert_not_called()


@pytest.mark.parametrize(
    ("sanitised_h", "used_h", "there"),
    [(5.0, 2.0, True), (5.0, 8.0, False), (None, 2.0, False), (30.0, 2.0, True)],
)
def test_the_kit_has_a_time_where_it_was_used_since(
    home: Family, sanitised_h: float | None, used_h: float, there: bool
) -> None:
    # A healthy baby of two months: daily (CDC 2017, under three months; case 97 of the reference cases).
    home.expressed("KA34", 90, used_h)
    if sanitised_h is not None:
        home.note("cleaned", sanitised_h, what="kit", how="sanitised")
    found = [one for one in agenda.agenda(a_home(home), now=home.now) if one.kind == "kit"]
    assert bool(found) == there
    if there and sanitised_h is not None:
        assert found[0].by == home.now - int(sanitised_h * HOUR) + DAY and found[0].source


def test_a_child_in_hospital_has_no_home_limits(home: Family) -> None:
    home.expressed("KA34", 90, 20)
    home.note("cleaned", 21, what="kit", how="sanitised")
    home.note("child", 0.1, child="Mira", born="2026-12-01", care="hospital")
    assert agenda.agenda(a_home(home), now=home.now, days=agenda.FAR_DAYS) == []
