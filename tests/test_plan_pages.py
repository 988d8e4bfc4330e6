"""The page of the plan: what it tells, and that a chore ticked off is recorded once, and no more than was done."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from string import Formatter
from typing import Any
from unittest import mock

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse
from tests.pages import Family, text
from tests.people import service

from thawline.core.times import HOUR
from thawline.engines.forecast import portions
from thawline.engines.forecast.kinds import Band
from thawline.engines.forecast.kinds import Feed as Drunk
from thawline.engines.planner import reasons
from thawline.engines.planner.kinds import Reason
from thawline.faces.web import plan_words
from thawline.faces.words import words_for
from thawline.services import habits
from thawline.services.board import board
from thawline.services.plan_kinds import NoPlan, PlanChore, PlanFeed, PlanNow, PlanPart, PlanShort, Portions

WHY = Reason("poured_away_soon", (("hours", 1.0), ("where", "childcare")))


def chore(home: Family, does: Any, *codes: str, to: str | None = None, at_h: float = 6, by_h: float = 9,
          **more: Any) -> PlanChore:  # fmt: skip
    """A chore some hours from now."""
    at, by = home.now + int(at_h * HOUR), home.now + int(by_h * HOUR)
    given: dict[str, Any] = {"ml": 120.0, "night": False, "reason": WHY} | more
    return PlanChore(key=f"{does}-{'-'.join(codes)}", does=does, containers=codes, at=at, by=by, to=to, **given)


def made(home: Family, **more: Any) -> PlanNow:
    """A plan of nothing, but for what is given."""
    empty = PlanNow(
        now=home.now, until=home.now + 72 * HOUR, zone="Europe/Lisbon", way="fresh_first", chores=(), feeds=(),
        short=(), thrown=(), better_ml=0.0, proven=True, refined=True, need={}, portions=(), none=(), try_one=None,
        guideline="cdc", also=(),
    )  # fmt: skip
    return empty._replace(**more)


Set = Callable[..., None]


@pytest.fixture
def planned(home: Family) -> Iterator[Set]:
    """Sets what the plan says from then on."""
    found = {"plan": made(home)}

    def put(**more: Any) -> None:
        found["plan"] = made(home, **more)

    with mock.patch("thawline.services.plan.plan_now", side_effect=lambda *_args, **_more: found["plan"]):
        yield put


def places(home: Family) -> dict[str, str | None]:
    """Where each container is."""
    return {one.container: one.place for one in board(home.store, now=home.now).verdicts}


def moves(home: Family) -> int:
    """How many events moved something."""
    return sum(row.kind == "moved" for row in home.store.history(before=None, limit=500))


def ticked(page: BeautifulSoup) -> dict[str, Any]:
    """What the first chore's one tap sends."""
    form = page.select_one('.chore form[action="/plan/done/"]')
    assert form is not None
    sent: dict[str, Any] = {}
    for one in form.select("input[name]"):
        sent.setdefault(str(one["name"]), []).append(one.get("value", ""))
    return sent


# What it tells


def test_a_chore_tells_what_of_which_until_when_and_why(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    home.expressed("FE47", 90, 24 * 8, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", "FE47", to="fridge"),))
    page = home.see("/plan/")
    found = text(page)
    assert "Today and tonight" in found
    one = " ".join(page.select(".chore")[0].get_text(" ").split())
    assert "Thaw: fridge today 23:00 at the latest, best around 20:00 FE44 frozen, freezer 120 mL FE47" in one
    assert "poured away within 1 hour" in one


def test_chores_stand_under_their_night_and_day(home: Family, planned: Set) -> None:
    for code in ("FE44", "FE47", "FE49"):
        home.expressed(code, 120, 24 * 9, place="freezer")
    planned(chores=(
        chore(home, "thaw", "FE49", to="fridge", at_h=54, by_h=56),
        chore(home, "thaw", "FE47", to="fridge", at_h=15, by_h=15.5),
        chore(home, "freeze", "FE44", to="freezer", at_h=17, by_h=20),
    ))  # fmt: skip
    page = home.see("/plan/")
    names = [one.text for one in page.select("h2")]
    # 14:00 now; 05:00 still belongs to this night, 07:00 to tomorrow, Friday at 20:00 to Friday.
    assert names[:3] == ["Today and tonight", "Tomorrow", "The days after"]
    assert "Fri 5 Feb 1 thing to do" in text(page)


def test_in_the_evening_it_is_tonight_and_after_midnight_the_day_is_today(home: Family, planned: Set) -> None:
    home.expressed("FE47", 120, 24 * 9, place="freezer")
    home.hours(5)
    planned(chores=(chore(home, "thaw", "FE47", to="fridge", at_h=14, by_h=15),))
    assert [one.text for one in home.see("/plan/").select("h2")][:2] == ["Tonight", "Tomorrow"]
    home.hours(8)
    planned(chores=(chore(home, "thaw", "FE47", to="fridge", at_h=6, by_h=7),))
    assert [one.text for one in home.see("/plan/").select("h2")][:2] == ["Tonight", "Today"]


def test_a_chore_at_night_is_marked_in_words(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", to="fridge", at_h=12, by_h=13, night=True),))
    assert "at night" in text(home.see("/plan/"))


def test_milk_still_to_come_is_told_without_a_tick(home: Family, planned: Set) -> None:
    freeze = chore(home, "freeze", to="freezer", coming=True)
    planned(chores=(freeze,), feeds=(PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 0.0, 0.0, 0.0),))
    page = home.see("/plan/")
    assert "About 120 mL that is still to be expressed" in text(page)
    assert page.select_one(".chore form, .chore .button") is None


def test_where_no_feed_is_foretold_neither_is_milk_to_come(home: Family, planned: Set) -> None:
    planned(chores=(chore(home, "freeze", to="freezer", coming=True),))
    assert "still to be expressed" not in text(home.see("/plan/"))


def test_where_no_feed_is_foretold_nothing_is_said_to_be_needless(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 30)
    ends = (("until", home.now + 20 * HOUR), ("frozen_until", home.now + 9000 * HOUR))
    planned(chores=(chore(home, "freeze", "KA34", to="freezer", reason=Reason("over", ends)),))
    found = text(home.see("/plan/"))
    assert "Only if it will not be fed before its time ends, tomorrow 10:00." in found
    assert "No feed needs it" not in found


def test_a_feed_tells_its_time_amount_containers_and_what_to_pour(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 30)
    parts = (PlanPart("KA34", 90.0, False, WHY), PlanPart("coming-1", 20.0, True, WHY))
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, parts, 10.0, 60.0, 20.0)
    planned(feeds=(feed,))
    page = home.see("/plan/")
    found = text(page)
    assert "16:00 today about 120 mL KA34 fresh, fridge 90 mL" in found
    assert "milk still to be expressed 20 mL" in found
    assert "Pour 60 mL first, then 20 mL at a time." in found
    assert "about 10 mL may be missing" in found
    assert page.select_one('a[href^="/milk/KA34/feed/"]') is not None


def test_what_is_short_is_told_calmly_with_what_would_help(home: Family, planned: Set) -> None:
    planned(short=(PlanShort(home.now + 20 * HOUR, "Mira", "childcare", 60.0, (WHY,)),))
    found = text(home.see("/plan/"))
    assert "Mira, childcare: from tomorrow 10:00 about 60 mL may be missing." in found
    assert "What would help:" in found
    assert "express more" not in found.lower()


def test_what_is_short_later_stands_after_tonight_and_but_the_first_is_folded(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    later = tuple(PlanShort(home.now + (20 + 24 * n) * HOUR, "Mira", "home", 60.0, (WHY,)) for n in range(5))
    thaw = chore(home, "thaw", "FE44", to="fridge")
    planned(chores=(thaw,), short=later)
    page = home.see("/plan/")
    assert text(page).index("Thaw: fridge") < text(page).index("It may not reach")
    assert len(page.select(".caution details li")) == 3
    planned(chores=(thaw,), short=(later[0]._replace(at=home.now + HOUR),))
    found = text(home.see("/plan/"))
    assert found.index("It may not reach") < found.index("Thaw: fridge")


def test_a_feed_says_how_much_of_it_is_yet_to_be_expressed(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 30)
    parts = (PlanPart("KA34", 40.0, False, WHY), PlanPart("coming-1", 20.0, True, WHY))
    planned(feeds=(PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, parts, 0.0, 0.0, 0.0),))
    # 40 of it are there, and nothing is said to be missing: the other 80 are counted on.
    assert "KA34 fresh, fridge 40 mL" in text(home.see("/plan/"))
    assert "milk still to be expressed 80 mL" in text(home.see("/plan/"))


def test_how_to_pour_is_told_once_for_each_place(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 30)
    feeds = tuple(PlanFeed(home.now + n * HOUR, "Mira", "home", 120.0, (), 0.0, 60.0, 20.0) for n in (2, 5, 8))
    planned(feeds=feeds)
    assert text(home.see("/plan/")).count("Pour 60 mL first") == 1


def test_what_is_missing_in_some_days_stands_after_the_days(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    rows = tuple(chore(home, "thaw", "FE44", to="fridge", at_h=at_h, by_h=at_h + 2) for at_h in (6, 54))
    planned(chores=rows, short=(PlanShort(home.now + 80 * HOUR, "Mira", "home", 60.0, (WHY,)),))
    found = text(home.see("/plan/?days=7"))
    assert found.index("The days after") < found.index("It may not reach")


def test_a_full_freezer_is_looked_at_closer_only_where_asked(home: Family) -> None:
    for number in range(41):
        home.expressed(f"FE{number + 10}", 120, 24 * 9, place="freezer")
    with mock.patch("thawline.services.plan.plan_now", return_value=made(home)) as asked:
        home.see("/plan/")
        home.see("/plan/?closer=1")
    assert [one.kwargs["refine"] for one in asked.call_args_list] == [False, True]


def test_a_few_ml_that_may_be_missing_raise_no_alarm(home: Family, planned: Set) -> None:
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 10.0, 0.0, 0.0)
    planned(feeds=(feed,), short=(PlanShort(home.now + 2 * HOUR, "Mira", "home", 10.0, ()),))
    found = text(home.see("/plan/"))
    assert "It may not reach" not in found and "about 10 mL may be missing" in found


def test_what_keeps_milk_comes_before_what_is_thrown_away(home: Family, planned: Set) -> None:
    home.expressed("PA73", 60, 24 * 6)
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(
        chore(home, "discard", "PA73", at_h=0, by_h=0, reason=Reason("past")), chore(home, "thaw", "FE44", to="fridge"),
    ))  # fmt: skip
    found = text(home.see("/plan/"))
    assert found.index("Thaw: fridge") < found.index("Throw away")


def test_many_containers_of_a_chore_are_folded_and_all_ticked_off(home: Family, planned: Set) -> None:
    codes = [f"PA{number}" for number in range(71, 80)]
    for code in codes:
        home.expressed(code, 60, 24 * 6)
    planned(chores=(chore(home, "discard", *codes, at_h=0, by_h=0, reason=Reason("past")),))
    page = home.see("/plan/")
    assert "and 5 more, 300 mL" in text(page)
    assert len(page.select(".chore details .code")) == 5
    assert ticked(page)["code"] == codes


def test_a_button_stands_out_only_for_what_is_due(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", to="fridge", at_h=1, by_h=4),))
    assert home.see("/plan/").select_one(".chore form .button-main") is not None
    planned(chores=(chore(home, "thaw", "FE44", to="fridge", at_h=6, by_h=9),))
    page = home.see("/plan/")
    assert page.select_one(".chore form .button") is not None and page.select_one(".chore .button-main") is None


def test_a_part_of_a_container_is_told_as_such(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    left = chore(home, "discard", "FE44", at_h=17, by_h=17, ml=24.0, reason=Reason("left_over"))
    planned(chores=(left,))
    found = text(home.see("/plan/"))
    assert "look around tomorrow 07:00 whether some is left" in found
    assert "frozen, freezer about 25 mL" in found


def test_ounces_are_told_as_a_bottle_is_marked(home: Family) -> None:
    teller = plan_words.Teller(made(home), words_for("Europe/Lisbon", home.now, ("fl_oz", "F")))
    assert teller.pours(105.0, 20.0) == "Pour 3.5 fl oz first, then 0.5 fl oz at a time."
    assert teller.about(112.0) == "4 fl oz"


def test_a_bound_beyond_what_is_thrown_away_is_no_figure(home: Family, planned: Set) -> None:
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 0.0, 0.0, 0.0)
    planned(feeds=(feed,), thrown=(("KA34", 24.0),), better_ml=349.0)
    found = text(home.see("/plan/"))
    assert "It may be that a plan without that is possible." in found and "349" not in found


def test_a_few_days_are_improved_at_once_and_more_where_asked(home: Family) -> None:
    with mock.patch("thawline.services.plan.plan_now", return_value=made(home)) as asked:
        for address in ("/plan/", "/plan/?days=4", "/plan/?days=4&closer=1"):
            home.see(address)
    assert [one.kwargs["refine"] for one in asked.call_args_list] == [True, False, True]


def test_how_good_it_is_stands_in_plain_words(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 30)
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 0.0, 0.0, 0.0)
    planned(feeds=(feed,), thrown=(("KA34", 40.0),), better_ml=25.0, need={"childcare": Band(200, 260, 330)})
    found = text(home.see("/plan/"))
    assert "about 40 mL are thrown away (KA34). No other plan would throw away more than 25 mL less." in found
    assert "200 to 330 mL, most likely about 260 mL" in found
    assert "US CDC" in found


def test_a_plan_that_was_not_refined_offers_to_look_closer(home: Family, planned: Set) -> None:
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 0.0, 0.0, 0.0)
    planned(feeds=(feed,), refined=False, thrown=(("KA34", 40.0),), better_ml=25.0)
    page = home.see("/plan/?days=7")
    (link,) = page.select('a[href$="closer=1"]')
    assert link["href"] == "/plan/?days=7&closer=1"
    planned(feeds=(feed,), refined=False, thrown=(("KA34", 40.0),), better_ml=0.0)
    assert "No other plan would throw away less." in text(home.see("/plan/"))
    assert home.see("/plan/").select_one('a[href$="closer=1"]') is None


def test_with_milk_missing_the_bound_says_what_it_weighs(home: Family, planned: Set) -> None:
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 30.0, 0.0, 0.0)
    short = (PlanShort(home.now + 2 * HOUR, "Mira", "home", 30.0, ()),)
    planned(feeds=(feed,), short=short, better_ml=300.0)
    assert "at most 300 mL better; milk missing counts more than milk thrown away" in text(home.see("/plan/"))
    planned(feeds=(feed,), short=short)
    assert "No other plan would do better." in text(home.see("/plan/"))


def test_what_to_pack_and_which_sizes_are_told(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 30)
    sizes = Portions("childcare", 60.0, 20.0, (60.0, 60.0, 30.0), 30.0, 60.0, 1.0, 8.0, (WHY,))
    planned(portions=(sizes,), chores=(chore(home, "pack", "KA34", to="cooler bag", where="childcare"),),
            try_one="KA34")  # fmt: skip
    page = home.see("/plan/")
    found = text(page)
    assert "Bottles to fill: 2 of 60 mL, 1 of 30 mL; and a spare of 30 mL." in found
    assert "Freeze in portions of about 60 mL." in found
    assert "see whether the baby takes it" in found
    assert page.select_one('a[href^="/trip/?code=KA34"]') is not None


# Words


def _fields(says: str) -> list[str]:
    return [name for _text, name, _spec, _conversion in Formatter().parse(says) if name]


def _value(home: Family, name: str) -> str | float:
    """Something for an argument of a reason, as the service hands it on: hours as instants."""
    if name.endswith("_h"):
        return home.now + 30 * HOUR
    return "KA34" if name == "lot" else 40.0


def test_every_reason_of_the_planner_has_words(home: Family) -> None:
    teller = plan_words.Teller(made(home), words_for("Europe/Lisbon", home.now))
    for code, says in reasons.SAYS.items():
        args = tuple((name.removesuffix("_h"), _value(home, name)) for name in _fields(says))
        told = teller.says(Reason(code, args))
        assert told, code
        assert not any(sign in told for sign in ("%", "  ", str(home.now)[:5])), (code, told)
        assert "express more" not in told.lower() and "target" not in told.lower()


@pytest.mark.parametrize("leftover_h", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("age_d", [30.0, 200.0])
def test_every_reason_for_a_size_has_words(home: Family, leftover_h: float, age_d: float) -> None:
    teller = plan_words.Teller(made(home), words_for("Europe/Lisbon", home.now))
    for feeds in ([], [Drunk(hour, 80.0, 5.0) for hour in (8.0, 11.0, 14.0)]):
        for code, args in portions.advise(feeds, age_d=age_d, leftover_h=leftover_h, where="childcare").reasons:
            assert teller.says(Reason(code, args)), code


@pytest.mark.parametrize("code", ["past", "breached", "outside"])
def test_what_the_board_asks_for_has_words(home: Family, code: str) -> None:
    assert plan_words.Teller(made(home), words_for("Europe/Lisbon", home.now)).says(Reason(code))


def test_an_end_that_no_guideline_gives_is_said_to_be_none(home: Family) -> None:
    feed = PlanFeed(home.now + 2 * HOUR, "Mira", "home", 120.0, (), 0.0, 0.0, 0.0)
    teller = plan_words.Teller(made(home, feeds=(feed,)), words_for("Europe/Lisbon", home.now))
    far = home.now + 24 * 366 * 100 * HOUR
    told = teller.says(Reason("over", (("until", home.now + HOUR), ("frozen_until", far))))
    assert told == "No feed needs it before its time ends, today 15:00. Once frozen: no end is given."


# No plan


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("too_young", "Mira is less than two weeks old."),
        ("hospital", "Follow the care team."),
        ("nothing_by_bottle", "drinks nothing from bottles"),
        ("too_old", "Mira is older than two years."),
        ("another", "There is no plan for Mira."),
    ],
)
def test_where_there_is_no_plan_it_says_why(home: Family, planned: Set, code: str, says: str) -> None:
    planned(none=(NoPlan(code, "Mira", home.now + 100 * HOUR),))
    assert says in text(home.see("/plan/"))


def test_a_plan_for_a_young_baby_says_from_when_on(home: Family, planned: Set) -> None:
    planned(none=(NoPlan("too_young", "Mira", home.now + 72 * HOUR),))
    assert "A plan is made from Sat 6 Feb on." in text(home.see("/plan/"))


# Ticking off


def test_one_tap_records_the_chore_once_and_leads_back(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    home.expressed("FE47", 90, 24 * 8, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", "FE47", to="fridge"),))
    sent = ticked(home.see("/plan/?days=7"))
    assert sent["back"] == ["/plan/?days=7"]
    before = moves(home)
    page = home.send("/plan/done/", sent)
    home.send("/plan/done/", sent)
    assert places(home) == {"FE44": "fridge", "FE47": "fridge"}
    assert moves(home) == before + 2
    assert "went to fridge" in page.get_text(" ")


def test_what_was_ticked_off_can_be_undone(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", to="fridge"),))
    page = home.send("/plan/done/", ticked(home.see("/plan/")))
    form = page.select_one(".undo form")
    assert form is not None
    home.send(str(form["action"]), {str(one["name"]): one.get("value", "") for one in form.select("input[name]")})
    assert places(home) == {"FE44": "freezer"}


def test_a_chore_of_another_day_is_not_ticked_off_with_one_tap(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", to="fridge", at_h=30, by_h=32),))
    page = home.see("/plan/")
    assert page.select_one(".chore form") is None
    assert "Done already" in text(page)


def test_one_container_may_be_left_out_and_the_time_be_earlier(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    home.expressed("FE47", 90, 24 * 8, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", "FE47", to="fridge"),))
    link = home.see("/plan/").select_one('.chore a[href^="/plan/done/"]')
    assert link is not None
    page = home.see(str(link["href"]))
    boxes = page.select("input[name=code]")
    assert [one["value"] for one in boxes if one.has_attr("checked")] == ["FE44", "FE47"]
    sent = home.fill(page, "/plan/done/", code=["FE47"], of=["FE44", "FE47"], when="60")
    home.send("/plan/done/", sent)
    assert places(home) == {"FE44": "freezer", "FE47": "fridge"}
    (row,) = [row for row in home.store.history(before=None, limit=5) if row.kind == "moved"][:1]
    assert row.at == home.now - HOUR


def test_nothing_ticked_is_asked_again(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    page = home.see("/plan/done/?does=thaw&code=FE44&to=fridge")
    sent = home.fill(page, "/plan/done/", of=["FE44"])
    del sent["code"]
    assert "Tick at least one container." in text(home.send("/plan/done/", sent, status=422))
    assert places(home) == {"FE44": "freezer"}


def test_the_place_is_chosen_where_there_is_more_than_one(home: Family, planned: Set) -> None:
    home.note("place", 1, place="cellar freezer", is_="deep_freezer", temp_c=-20)
    home.expressed("KA34", 120, 3)
    page = home.see("/plan/done/?does=freeze&code=KA34")
    assert [one["value"] for one in page.select("input[name=to]")] == ["cellar freezer", "freezer"]
    sent = home.fill(page, "/plan/done/", of=["KA34"])
    assert "Choose where they went." in text(home.send("/plan/done/", sent, status=422))
    home.send("/plan/done/", sent | {"to": "cellar freezer"})
    assert places(home) == {"KA34": "cellar freezer"}


def test_the_only_place_is_chosen_already(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 3)
    page = home.see("/plan/done/?does=freeze&code=KA34")
    home.send("/plan/done/", home.fill(page, "/plan/done/", of=["KA34"]))
    assert places(home) == {"KA34": "freezer"}


def test_the_form_tells_what_follows(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    found = text(home.see("/plan/done/?does=thaw&code=FE44"))
    assert "What follows" in found
    assert "Once fully thawed, do not refreeze." in found


def test_thrown_away_is_recorded_with_its_reason(home: Family, planned: Set) -> None:
    home.expressed("PA73", 60, 24 * 6)
    planned(chores=(chore(home, "discard", "PA73", at_h=0, by_h=1, reason=Reason("past")),))
    home.send("/plan/done/", ticked(home.see("/plan/")))
    assert places(home) == {}
    assert b"past its limit" in next(
        row.line for row in home.store.history(before=None, limit=5) if row.kind == "discarded"
    )


def test_what_may_be_over_later_is_not_thrown_away_today(home: Family, planned: Set) -> None:
    home.expressed("KA34", 60, 24)
    why = Reason("not_needed", (("until", home.now + 5 * HOUR),))
    planned(chores=(chore(home, "discard", "KA34", at_h=5, by_h=5, reason=why),))
    page = home.see("/plan/")
    assert "after today 19:00, if it is still there" in text(page)
    assert "Until then it may be fed." in text(page)
    assert page.select_one(".chore form") is None


def test_milk_thawed_in_water_is_noted_where_that_is_asked(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    why = Reason("thaw_quick", (("at", home.now + 2 * HOUR),))
    planned(chores=(chore(home, "thaw", "FE44", to="fridge", reason=why),))
    page = home.see("/plan/")
    assert "Thaw in water" in text(page)
    assert page.select_one('.chore a[href^="/milk/FE44/warm/?how=warm_water"]') is not None
    assert page.select_one(".chore form") is None


def test_looking_for_ice_asks_what_was_seen(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    home.note("moved", 10, container="FE44", to="fridge")
    planned(chores=(chore(home, "look_for_ice", "FE44"),))
    link = home.see("/plan/").select_one('.chore a[href^="/plan/done/"]')
    assert link is not None
    page = home.see(str(link["href"]))
    sent = home.fill(page, "/plan/done/", of=["FE44"])
    assert "Choose what you saw." in text(home.send("/plan/done/", sent, status=422))
    home.send("/plan/done/", sent | {"ice": "yes"})
    assert any(row.kind == "thaw_seen" for row in home.store.history(before=None, limit=5))


def test_measuring_leads_to_the_containers_own_form(home: Family, planned: Set) -> None:
    home.expressed("RA77", 80, 1, place="counter")
    planned(chores=(chore(home, "measure", "RA77"),))
    assert home.see("/plan/").select_one('.chore a[href^="/milk/RA77/measure/"]') is not None


def test_what_is_packed_leads_to_the_hand_over_of_just_that_where_there_is_a_service(
    home: Family, planned: Set
) -> None:
    home.expressed("KA34", 80, 5)
    planned(chores=(chore(home, "pack", "KA34", to="cooler bag", where="childcare"),))
    assert home.see("/plan/").select_one('.chore a[href^="/hand-over/"]') is None
    service(home, "Oak room")
    link = home.see("/plan/").select_one('.chore a[href^="/hand-over/"]')
    assert link is not None and link["href"] == "/hand-over/?service=Oak+room&code=KA34"
    ticked = home.see(str(link["href"])).select("input[name=code][checked]")
    assert [one["value"] for one in ticked] == ["KA34"]


def test_packing_without_a_cooler_named_leads_to_the_cooler_form(home: Family, planned: Set) -> None:
    home.expressed("KA34", 120, 3)
    planned(chores=(chore(home, "pack", "KA34", where="childcare"),))
    assert home.see("/plan/").select_one('.chore a[href^="/trip/pack/?code=KA34"]') is not None


def test_what_is_gone_is_not_recorded_again(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", to="fridge"),))
    sent = ticked(home.see("/plan/"))
    home.note("discarded", 0, container="FE44")
    assert "FE44 is gone already." in text(home.send("/plan/done/", sent, status=422))


def test_what_a_guideline_says_against_it_is_asked_first(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 20, place="freezer")
    home.note("moved", 40, container="FE44", to="fridge")
    home.note("thaw_seen", 20, container="FE44", ice=False)
    sent = home.fill(home.see("/plan/done/?does=freeze&code=FE44"), "/plan/done/", of=["FE44"])
    page = home.send("/plan/done/", sent)
    assert "One moment" in text(page)
    assert places(home) == {"FE44": "fridge"}


@pytest.mark.parametrize("query", ["does=eat&code=KA34", "does=thaw&code=NOSUCH", "code=KA34", "does=thaw&code=%00"])
def test_a_senseless_address_is_not_found(home: Family, planned: Set, query: str) -> None:
    home.expressed("KA34", 120, 3)
    home.see(f"/plan/done/?{query}", 404)


@pytest.mark.parametrize("days", ["", "0", "14", "99", "abc", "-1", "٣"])
def test_any_number_of_days_gives_a_page(home: Family, planned: Set, days: str) -> None:
    assert home.see(f"/plan/?days={days}").select_one("h1") is not None


def test_looking_at_the_plan_changes_nothing(home: Family, planned: Set) -> None:
    home.expressed("FE44", 120, 24 * 9, place="freezer")
    planned(chores=(chore(home, "thaw", "FE44", to="fridge"),))
    before = list(home.store.lines())
    home.see("/plan/")
    home.see("/plan/done/?does=thaw&code=FE44")
    assert list(home.store.lines()) == before


# With the planner itself


def _apart(home: Family) -> None:
    """Weekdays from half past eight at childcare; a bottle at home each evening so far."""
    apart = habits.Apart(child="Mira", days=(0, 1, 2, 3, 4), start="08:30", end="17:00")
    habits.keep(home.store, habits.Habits(apart=(apart,)))


def test_a_real_household_sees_what_to_thaw_and_pack_and_ticks_it_off(home: Family) -> None:
    _apart(home)
    for number, code in enumerate(("FE43", "FE44", "FE47", "FE49", "FE73", "FE74")):
        home.expressed(code, 120, 24 * (20 - number), place="freezer")
    home.hours(6)
    page = home.see("/plan/")
    assert "Tonight" in text(page) and "childcare" in text(page)
    thaw = next(one for one in page.select(".chore") if "Thaw: fridge" in one.get_text())
    codes = [one.text for one in thaw.select(".code")]
    assert codes and set(codes) <= {"FE43", "FE44", "FE47", "FE49", "FE73", "FE74"}
    form = thaw.select_one("form")
    assert form is not None
    sent: dict[str, Any] = {}
    for one in form.select("input[name]"):
        sent.setdefault(str(one["name"]), []).append(one.get("value", ""))
    after = home.send("/plan/done/", sent)
    assert {code for code, place in places(home).items() if place == "fridge"} == set(codes)
    # The plan was made anew: what is out to thaw is not to be taken out once more.
    again = [
        one.text for chore in after.select(".chore") if "Thaw" in chore.get_text() for one in chore.select(".code")
    ]
    assert not set(again) & set(codes)


def test_a_real_household_is_told_kindly_that_a_newborn_has_no_plan(home: Family) -> None:
    home.note("child", 1, child="Mira", born="2027-01-30", care="home")
    found = text(home.see("/plan/"))
    assert "Mira is less than two weeks old." in found
    assert "A plan is made from Sat 13 Feb on." in found


def test_a_real_household_under_a_hospitals_care_is_led_to_its_care_team(home: Family) -> None:
    home.note("child", 1, child="Mira", born="2026-12-01", care="hospital")
    assert "Follow the care team." in text(home.see("/plan/"))


def test_where_nothing_is_drunk_from_bottles_the_way_to_the_settings_is_shown(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    page = home.see("/plan/")
    assert "drinks nothing from bottles" in text(page)
    assert page.select_one(f'a[href="{reverse("web:habits")}"]') is not None


def test_the_first_page_leads_to_the_plan_without_making_it(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    with mock.patch("thawline.services.plan.plan_now", side_effect=AssertionError):
        assert home.see("/").select_one('a[href="/plan/"]') is not None
        assert home.see("/more/").select_one('a[href="/plan/"]') is not None
