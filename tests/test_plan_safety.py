"""What a plan never does with milk, and what it counts on, told by households made to tempt it.

Limits are the guideline files' own, named beside each check; margins are ours (services/plan_figures.toml).
"""

from __future__ import annotations

import json
from datetime import date

import pytest
from tests.plan_households import House, planned, wrong_now, wrong_then
from tests.test_plan_service import BOTTLE, NOW, ZONE, Ledger, chores, given_to, nursery, told

from thawline.core.replay import run
from thawline.core.times import DAY, HOUR, MINUTE, written, zone_named
from thawline.services.habits import Apart, Habits
from thawline.services.plan import make, plan_from, plan_now
from thawline.services.plan_days import clock_on
from thawline.services.plan_kinds import PlanNow
from thawline.services.plan_seen import seen_in
from thawline.services.terms import place_of

PARIS = zone_named(ZONE)


# Whose time is over, or nearly


def test_milk_that_is_warm_or_was_drunk_from_is_not_planned_with() -> None:
    ledger = Ledger()
    for name in ("warm", "begun", "left over"):
        ledger.fresh(name, 100, 6)
    ledger.add("warmed", 0.2, container="warm", how="warm_water")
    ledger.add("feed_began", 0.2, container="begun", child="mia")
    ledger.fed("left over", 0.5, left_ml=60)
    assert not given_to(plan_from(ledger.seen(), BOTTLE, days=1, told=told()))


def test_a_bag_stays_in_the_freezer_until_it_is_surely_solid() -> None:
    """Taken out within 24 h of going in, milk is judged by the fresh limits as well (clock rules, 3)."""
    ledger = Ledger()
    ledger.fresh("new bag", 300, 90)
    ledger.add("moved", 10, container="new bag", to="freezer")
    plan = plan_from(ledger.seen(), BOTTLE, days=2, told=told())
    assert all(at >= NOW + 14 * HOUR for at, _ in chores(plan, "thaw").values())
    ledger.add("moved", 9, container="new bag", to="fridge")
    assert not given_to(plan_from(ledger.seen(), BOTTLE, days=2, told=told(0.0)))


@pytest.mark.parametrize("minutes", [2, 15])
def test_milk_out_of_the_refrigerator_goes_back_in_time_for_its_limit_to_stand(minutes: int) -> None:
    """Out for less than 20 min it keeps its refrigerator days (60 mL and more; clock rules, 4); after that, 2 h."""
    ledger = Ledger()
    ledger.fresh("out", 200, 20)
    ledger.add("moved", minutes / 60, container="out", to="room")
    plan = plan_from(ledger.seen(), BOTTLE, days=1, told=told(400))
    [(at, by)] = chores(plan, "chill").values()
    assert NOW <= at <= by <= NOW + (20 - minutes) * MINUTE
    back = {"id": "back", "kind": "moved", "at": written(by, PARIS), "container": "out", "to": "fridge"}
    then = run([*ledger.lines, json.dumps(back).encode()], now=by)
    [out] = [one for one in then.verdicts if one.container == "out"]
    assert out.use_by == NOW + (96 - 20) * HOUR, "US CDC: four days in the refrigerator"


# Without power


def test_no_chore_takes_milk_to_a_place_without_power() -> None:
    ledger = Ledger()
    ledger.fresh("out", 100, 2, place="room")
    ledger.frozen("bag", 100, 40)
    ledger.add("power_lost", 1, place="fridge")
    plan = plan_from(ledger.seen(), BOTTLE, days=2, told=told())
    assert "fridge" not in {one.to for one in plan.chores}
    ledger.add("power_back", 0.5, place="fridge")
    assert "fridge" in {one.to for one in plan_from(ledger.seen(), BOTTLE, days=2, told=told()).chores}


def test_milk_in_a_refrigerator_without_power_is_counted_on_for_its_four_hours_only() -> None:
    """FoodSafety.gov: a closed refrigerator keeps cold for about 4 hours; the margin comes off."""
    ledger = Ledger()
    ledger.fresh("cold", 900, 10)
    ledger.add("power_lost", 1, place="fridge")
    plan = plan_from(ledger.seen(), BOTTLE, days=1, told=told())
    assert given_to(plan)
    assert all(feed.at < NOW + 3 * HOUR for feed in plan.feeds if feed.parts)


# A place's own rule


def test_milk_on_the_counter_is_judged_by_the_rule_of_the_place_it_is_for() -> None:
    """Tasmania: 72 h in the refrigerator; US CDC: 96 h. On Saturday at 08:00 it is 70 h old, the margin is 6 h."""
    ledger = Ledger()
    ledger.fresh("out", 200, 2, place="room")
    plain, strict = nursery(days=(5,)), nursery(days=(5,), rule="au-tas")
    assert given_to(plan_from(ledger.seen(), plain, days=3, told=told()), "childcare")
    assert not given_to(plan_from(ledger.seen(), strict, days=3, told=told()), "childcare")


def test_thawed_milk_is_not_packed_where_the_rule_gives_it_no_time() -> None:
    """Washington's childcare rule asks for a refrigerator at 39 °F for thawed milk: this one is at 4 °C."""
    ledger = Ledger()
    ledger.frozen("bag", 300, 40)
    assert given_to(plan_from(ledger.seen(), nursery(), days=1, told=told()), "childcare")
    plan = plan_from(ledger.seen(), nursery(rule="us-wa"), days=1, told=told())
    assert not given_to(plan, "childcare")
    assert plan.short


# The family's own places


def with_their_fridge() -> Ledger:
    ledger = Ledger()
    ledger.add("place", 24 * 390, place="a colder fridge", is_="refrigerator", temp_c=2)
    return ledger


def test_no_chore_takes_milk_to_a_refrigerator_that_is_not_the_familys() -> None:
    ledger = with_their_fridge()
    ledger.fresh("lunch", 50, 60)
    ledger.add("handed_over", 50, container="lunch", to="childcare", place="a colder fridge")
    ledger.fresh("out", 100, 2, place="room")
    ledger.frozen("bag", 100, 40)
    seen = ledger.seen()
    assert place_of(seen.base, NOW, "refrigerator") == "a colder fridge"
    for plan in (plan_from(seen, BOTTLE, days=2, told=told()), plan_now(ledger.store(), BOTTLE, now=NOW, days=2)):
        assert {one.to for one in plan.chores if one.does in ("chill", "thaw") and one.to} == {"fridge"}
        assert "lunch" not in given_to(plan)


def test_a_place_called_as_the_time_apart_is_not_the_familys() -> None:
    ledger = Ledger()
    ledger.add("place", 24 * 390, place="childcare", is_="refrigerator", temp_c=2)
    ledger.fresh("there", 100, 20)
    ledger.add("moved", 10, container="there", to="childcare")
    habits = Habits(fed="bottle", apart=nursery().apart)
    assert not given_to(plan_from(ledger.seen(), habits, days=1, told=told()), "home")


# A time apart that has begun


def apart_today(ledger: Ledger) -> PlanNow:
    """Wednesday at noon, apart since 08:00."""
    habits = Habits(fed="bottle", apart=(Apart("mia", (2,), "08:00", "17:00"),))
    return plan_from(ledger.seen(), habits, days=1, told=told())


def test_milk_that_is_along_counts_for_what_is_left_of_a_time_apart_and_nowhere_else() -> None:
    ledger = with_their_fridge()
    for name, ml in (("along", 90), ("in the bag", 60), ("at home", 300)):
        ledger.fresh(name, ml, 20)
    ledger.add("handed_over", 3.5, container="along", to="childcare", place="a colder fridge")
    ledger.add("moved", 4.5, container="in the bag", to="bag")
    plan = apart_today(ledger)
    assert set(given_to(plan, "childcare")) == {"along", "in the bag"}
    assert set(given_to(plan, "home")) == {"at home"}
    assert all(one.at < NOW + 5 * HOUR for one in plan.feeds if one.where == "childcare")
    assert not {"along", "in the bag"} & {name for one in plan.chores for name in one.containers}


def test_where_nobody_noted_what_went_along_nothing_is_said_to_be_short_there() -> None:
    ledger = Ledger()
    ledger.fresh("at home", 300, 20)
    plan = apart_today(ledger)
    assert not [one for one in plan.feeds if one.where == "childcare"]
    assert not [one for one in plan.short if one.where == "childcare"]


def test_what_was_just_packed_is_not_asked_back_into_the_refrigerator() -> None:
    ledger = Ledger()
    ledger.fresh("packed", 300, 10)
    ledger.add("moved", 0.2, container="packed", to="bag")
    habits = Habits(apart=(Apart("mia", (2,), "12:30", "17:00"),))
    plan = plan_from(ledger.seen(), habits, days=1, told=told())
    assert given_to(plan, "childcare").keys() == {"packed"}
    assert not chores(plan, "chill")


# What is counted on


def test_sessions_to_come_are_those_of_that_kind_of_day() -> None:
    """A family that expresses while apart, on Mondays and Thursdays, brings nothing on other days."""
    ledger = Ledger()
    days = [14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1]
    for ago in days:
        day = date.fromordinal(date(2026, 5, 6).toordinal() - ago)
        for clock in ("10:00", "13:00") if day.weekday() in (0, 3) else ():
            ledger.fresh(f"{day} {clock}", 100, (NOW - clock_on(day, clock, PARIS)) / HOUR, place="fridge")
    habits = nursery(days=(0, 3))
    lots = [lot for lot in make(ledger.seen(), habits, days=4).problem.lots if lot.coming]
    assert {lot.name.split(".")[1] for lot in lots} == {"2026-05-07"}
    assert len(lots) == 2


@pytest.mark.parametrize("frozen", [0, 40])
def test_what_a_feed_wants_is_told_whole(frozen: int) -> None:
    """Milk of the plan, milk that will likely be expressed by then, and what is short add up to what is wanted."""
    ledger = Ledger()
    ledger.bottles(8, ("06:00", "10:00", "14:00", "18:00", "22:00"), 150)
    ledger.fresh("a", 120, 4)
    if frozen:
        ledger.frozen("bag", frozen, 30)
    plan = plan_from(ledger.seen(), BOTTLE, days=2)
    for feed in plan.feeds:
        told_ml = sum(part.ml for part in feed.parts) + feed.coming_ml + feed.short_ml
        assert told_ml == pytest.approx(feed.ml, abs=1)
    short = sum(feed.short_ml for feed in plan.feeds)
    assert short == pytest.approx(sum(one.ml for one in plan.short), abs=1)


def test_a_family_that_expresses_what_it_needs_is_not_said_to_be_short() -> None:
    ledger = Ledger()
    ledger.bottles(10, ("06:00", "10:00", "14:00", "18:00", "22:00"), 150)
    for hours in (3, 7, 11, 15):
        ledger.fresh(f"a{hours}", 150, hours)
    ledger.frozen("bag", 100, 30)
    assert not plan_from(ledger.seen(), BOTTLE, days=2).short


# Looks at other times


def test_what_may_be_done_is_asked_anew_while_milk_is_on_its_way_to_freezing() -> None:
    """Its fresh limit does not move with the time of the look."""
    ledger = Ledger()
    ledger.fresh("half frozen", 100, 60)
    ledger.add("moved", 5, container="half frozen", to="freezer")
    store = ledger.store()
    seen_in(store, now=NOW)
    for hours in (0, 3, 9):
        now = NOW + hours * HOUR
        [kept], [fresh] = (
            [one.options for one in look.verdicts if one.container == "half frozen"]
            for look in (seen_in(store, now=now), ledger.seen(now))
        )
        assert kept == fresh


def test_what_was_noted_ahead_counts_once_its_time_has_come() -> None:
    ledger = Ledger()
    ledger.fresh("a", 100, 20)
    ledger.fed("a", -2)
    store = ledger.store()
    assert not seen_in(store, now=NOW).past.feeds
    assert len(seen_in(store, now=NOW + 4 * HOUR).past.feeds) == 1
    assert seen_in(store, now=NOW + 4 * HOUR).past == ledger.seen(NOW + 4 * HOUR).past


def test_in_a_cut_what_is_allowed_is_asked_anew_every_minute() -> None:
    ledger = Ledger()
    ledger.add("power_lost", 1, place="freezer")
    assert plan_from(ledger.seen(), BOTTLE, told=told()) is not None
    later = ledger.seen(NOW + DAY)
    assert not [one for one in plan_from(later, BOTTLE, told=told()).chores if one.to == "freezer"]


# Households made to tempt it


def tried(seed: int) -> list[str]:
    house = House(seed)
    seen, plan = planned(house, refine=seed % 7 == 0)
    return wrong_now(seen, plan) + [fault for late in (0.0, 0.5, 1.0) for fault in wrong_then(house, seen, plan, late)]


@pytest.mark.parametrize("seed", range(8))
def test_carried_out_early_or_at_the_last_moment_a_plan_feeds_nothing_past_its_limit(seed: int) -> None:
    """Nights the clocks change, cuts, warm places, voids, no freezer, stricter rules; the core judges each cup."""
    assert tried(seed) == []


@pytest.mark.slow
@pytest.mark.parametrize("block", range(4))
def test_many_more_households_are_planned_within_their_limits(block: int) -> None:
    for seed in range(100 + block * 25, 125 + block * 25):
        assert tried(seed) == [], seed
