"""The demo household: a ledger that fits, at any moment, and a board worth looking at."""

from __future__ import annotations

import json
from datetime import datetime

import msgspec
import pytest

from thawline.core import events as ev
from thawline.core.replay import Replay, moment, run
from thawline.services.demo import demo_habits, demo_ledger
from thawline.services.habits import check
from thawline.services.outlook import outlook_from
from thawline.services.plan import plan_from
from thawline.services.plan_seen import seen_of

MOMENTS = [
    "2027-03-11T00:05:00+00:00",
    "2027-03-11T07:55:30+00:00",
    "2027-03-11T14:20:00+00:00",
    "2027-03-11T20:26:00+00:00",
    "2027-03-28T00:59:59+00:00",  # a second before the clocks in Lisbon go forward
    "2027-03-28T10:00:00+01:00",
    "2027-04-10T23:59:00+01:00",
    "2027-10-31T01:30:00+01:00",  # the first of two half past ones
    "2027-10-31T01:30:00+00:00",  # the second
    "2027-11-20T12:00:00+00:00",
    "2028-02-29T17:45:12.345678+00:00",
]


def judged(now: str, seed: int = 7) -> Replay:
    at = moment(now)
    return run(demo_ledger(now=at, seed=seed), now=at)


@pytest.mark.parametrize("now", MOMENTS)
def test_every_event_is_taken_in_and_none_lies_ahead(now: str) -> None:
    found = judged(now)
    assert found.fold.refused == []
    assert found.ledger.ahead == []


@pytest.mark.parametrize("now", MOMENTS)
def test_the_board_is_full_and_varied(now: str) -> None:
    found = judged(now).verdicts
    assert 12 <= len(found) <= 20
    assert {"past", "soon", "held", "fine"} <= {one.standing for one in found}
    assert {"fresh", "frozen", "thawing"} <= {one.form for one in found}
    assert {"counter", "fridge", "freezer", "cooler bag"} <= {one.place for one in found}


@pytest.mark.parametrize("now", MOMENTS)
def test_what_is_booked_adds_up(now: str) -> None:
    booked = judged(now).fold.booked()
    came = booked.expressed + booked.stocked
    went = booked.fed + booked.discarded + booked.handed_over + booked.miscounted
    assert came == pytest.approx(went + booked.still_there)
    assert min(booked.fed, booked.discarded, booked.miscounted, booked.still_there) > 0


@pytest.mark.parametrize("seed", range(20))
def test_any_other_seed_gives_a_household_that_fits_too(seed: int) -> None:
    found = judged(MOMENTS[2], seed)
    assert found.fold.refused == []
    assert 12 <= len(found.verdicts) <= 20
    assert len({one.standing for one in found.verdicts}) >= 4


def test_the_same_seed_gives_the_same_ledger_and_another_seed_another() -> None:
    now = moment(MOMENTS[2])
    assert demo_ledger(now=now) == demo_ledger(now=now, seed=7)
    assert demo_ledger(now=now) != demo_ledger(now=now, seed=8)


def test_every_line_is_an_event_in_order_and_within_five_weeks() -> None:
    now = moment(MOMENTS[2])
    lines = demo_ledger(now=now)
    times = [datetime.fromisoformat(ev.decoder.decode(line).at) for line in lines]
    assert times == sorted(times)
    assert (times[-1] - times[0]).days <= 35
    assert len({json.loads(line)["id"] for line in lines}) == len(lines)


def test_the_weeks_hold_what_a_family_goes_through() -> None:
    kinds = {type(msgspec.json.decode(line, type=ev.AnyEvent)) for line in demo_ledger(now=moment(MOMENTS[2]))}
    rare = {ev.Added, ev.FedOther, ev.Incident, ev.Measured, ev.Received, ev.Released}
    assert set(ev.AnyEvent.__args__) - kinds <= rare


def test_a_day_has_four_to_six_sessions_on_most_days() -> None:
    days: dict[str, int] = {}
    for line in demo_ledger(now=moment(MOMENTS[2])):
        event = ev.decoder.decode(line)
        if isinstance(event, ev.Expressed):
            days[event.at[:10]] = days.get(event.at[:10], 0) + 1
    assert sum(4 <= count <= 6 for count in days.values()) >= len(days) * 0.8


@pytest.mark.parametrize("now", MOMENTS)
def test_its_habits_can_be_used_and_give_a_plan_and_a_goal(now: str) -> None:
    at = moment(now)
    habits = check(demo_habits(now=at), ["Mira"])
    seen = seen_of(demo_ledger(now=at), now=at)
    plan = plan_from(seen, habits, days=7, refine=False)
    assert {"home", "nursery"} <= {one.where for one in plan.feeds}
    assert plan.chores
    goal = outlook_from(seen, habits, days=30, paths=100).goal
    assert goal is not None
    assert 0 < goal.chance < 1
