"""At a service the stricter of home and service rules counts: check cases, and what holds for every container."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from tests.pages import ZONE, Family
from tests.people import service

from thawline.core import guideline
from thawline.core.replay import moment, run
from thawline.core.times import DAY, HOUR, MINUTE, written, zone_named
from thawline.core.verdict import Verdict
from thawline.records.memory import MemoryStore
from thawline.services import childcare, childcare_demo, people, recording
from thawline.services.board import board
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_day import day_of
from thawline.services.childcare_rules import WITHIN, Deadline, also_of, closing_at, deadlines, rule_name
from thawline.services.demo import demo_ledger
from thawline.services.known import ground_now

OAK = "Oak room"
CHILDCARE = [name for name in guideline.shipped_ids() if guideline.shipped(name).role == "childcare"]
HOMES = [name for name in guideline.shipped_ids() if guideline.shipped(name).role == "home"]


def one(home: Family, code: str) -> Deadline:
    found = childcare.service(home.store, OAK)
    assert found is not None
    return next(row for row in deadlines(home.store, found, [code], now=home.now))


def at_oak(home: Family, rule: str) -> ServiceNow:
    service(home, OAK, rule=rule)
    found = childcare.services(home.store)[0]
    childcare.give_freezer(home.store, found, by="Marta", now=home.now - 30 * DAY)
    return found


def test_check_case_92_frozen_milk_received_in_washington_ends_after_thirty_days(home: Family) -> None:
    # Washington Administrative Code 110-300-0281: received 4 Feb 2027, use or return by 6 Mar 2027.
    found = at_oak(home, "us-wa")
    home.now = moment("2027-02-04T08:00:00+00:00")
    home.note("stocked", 0, container="TA33", ml=90, place="freezer", expressed="2027-01-20", frozen_on="2027-01-20")
    home.hours(0.1)
    home.note("handed_over", 0, container="TA33", to=OAK, place=found.freezer)
    row = one(home, "TA33")
    assert row.found.use_by == home.now + 30 * DAY
    assert written(row.found.use_by, zone_named(ZONE))[:10] == "2027-03-06"
    assert row.by == "Washington childcare rule"
    home.note("received", -0.1, container="TA33", place=found.freezer)
    home.hours(0.2)
    assert one(home, "TA33").found.use_by == home.now + 30 * DAY - int(0.1 * HOUR)


def test_check_case_93_thawed_milk_in_washington_ends_after_twenty_four_hours(home: Family) -> None:
    # Washington Administrative Code 110-300-0281.
    found = at_oak(home, "us-wa")
    childcare.change(home.store, OAK, by="Marta", now=home.now - 30 * DAY, rule="us-wa", temp_c=3.5)
    home.note("stocked", 40, container="TA33", ml=90, place="freezer", expressed="2027-01-20", frozen_on="2027-01-20")
    home.note("handed_over", 39, container="TA33", to=OAK, place=found.freezer)
    home.note("moved", 30, container="TA33", to=found.place)
    home.note("thaw_seen", 24, container="TA33", ice=True)
    home.note("thaw_seen", 23.9, container="TA33", ice=False)
    assert one(home, "TA33").found.standing != "past"
    home.hours(0.02)
    assert one(home, "TA33").found.standing == "past"


def test_check_case_94_a_bottle_served_two_hours_and_a_minute_ago_is_not_reused_in_oregon(home: Family) -> None:
    # Oregon Administrative Rule 414-305-0610: two hours from serving. CDC: two hours from the end of the feed.
    found = at_oak(home, "us-or")
    home.expressed("KA33", 90, 10)
    home.note("handed_over", 5, container="KA33", to=OAK, place=found.place)
    home.note("feed_began", 2, container="KA33", child="Mira")
    home.note("feed_ended", 1.5, container="KA33", left_ml=30)
    row = one(home, "KA33")
    assert (row.found.standing, row.found.use_by) == ("soon", home.now)
    assert row.own.use_by == home.now + HOUR // 2
    home.hours(1 / 60)
    assert one(home, "KA33").found.standing == "past"


def test_fresh_milk_in_tasmania_ends_after_seventy_two_hours_though_home_has_four_days(home: Family) -> None:
    # Tasmania, breast milk handling practices: 72 hours at 5 degrees or less. CDC: 4 days.
    found = at_oak(home, "au-tas")
    home.expressed("KA33", 90, 10)
    home.note("handed_over", 5, container="KA33", to=OAK, place=found.place)
    row = one(home, "KA33")
    assert row.found.use_by == home.now + 62 * HOUR
    assert row.own.use_by == home.now + 86 * HOUR
    assert row.by == "Tasmania childcare guide"


def test_frozen_milk_says_until_when_it_could_be_fed_if_it_thawed_from_now_on(home: Family) -> None:
    # Oregon: 24 hours, defrosting as well as thawed. CDC: 24 hours from complete thaw; nobody saw it, so from now.
    found = at_oak(home, "us-or")
    home.note("stocked", 40, container="TA33", ml=90, place="freezer", expressed="2027-01-20", frozen_on="2027-01-20")
    home.note("handed_over", 39, container="TA33", to=OAK, place=found.freezer)
    row = one(home, "TA33")
    assert row.thawed == home.now + 24 * HOUR
    assert row.found.form == "frozen"
    home.expressed("KA33", 90, 10)
    home.note("handed_over", 5, container="KA33", to=OAK, place=found.place)
    assert one(home, "KA33").thawed is None


def test_without_a_rule_the_households_own_counts(home: Family) -> None:
    found = at_oak(home, "")
    home.expressed("KA33", 90, 10)
    home.note("handed_over", 5, container="KA33", to=OAK, place=found.place)
    row = one(home, "KA33")
    assert row.found == row.own
    assert also_of(found) == ()


def test_a_rule_that_is_not_shipped_any_more_counts_as_none(home: Family) -> None:
    found = at_oak(home, "us-xx")
    home.expressed("KA33", 90, 10)
    home.note("handed_over", 5, container="KA33", to=OAK, place=found.place)
    assert one(home, "KA33").found.use_by == home.now + 86 * HOUR


def test_closing_is_todays_hour_on_the_households_clock_and_over_once_it_has_passed() -> None:
    there = ServiceNow(OAK, "", "fridge there", "17:30", "")
    now = moment("2027-02-03T14:00:00+00:00")
    assert closing_at(there, now=now, zone=ZONE) == now + int(3.5 * HOUR)
    assert closing_at(there, now=now + 6 * HOUR, zone=ZONE) is None
    assert closing_at(there._replace(closes=""), now=now, zone=ZONE) is None


# What holds for every container

NOW = moment("2027-02-03T14:00:00+00:00")


@st.composite
def told(draw: st.DrawFn) -> tuple[list[bytes], list[dict[str, Any]]]:
    """A household with one container handed to a service: its lines, and the receipt that nobody noted, if so."""
    zone = zone_named(ZONE)
    at = NOW - (draw(st.integers(4, 900)) * 60 + 20) * MINUTE
    events: list[dict[str, Any]] = []

    def note(kind: str, minutes: int, **fields: Any) -> dict[str, Any]:
        nonlocal at
        at = min(NOW, at + minutes * MINUTE)
        event = {"id": f"e{len(events):02d}", "at": written(at, zone), "kind": kind}
        events.append(event | {key.rstrip("_"): value for key, value in fields.items()})
        return events[-1]

    note("household", 0, zone=ZONE, guideline=draw(st.sampled_from(HOMES)), also=draw(st.sampled_from([[], ["us-or"]])))
    temp = draw(st.sampled_from([None, 3.0, 5.0, 9.0]))
    for place, is_, c in (("counter", "room", 21), ("fridge", "refrigerator", 4), ("freezer", "freezer", -18),
                          ("oak refrigerator", "refrigerator", temp), ("oak freezer", "freezer", None)):  # fmt: skip
        note("place", 0, place=place, is_=is_, **({} if c is None else {"temp_c": c}))
    note("child", 0, child="Mira", born="2026-12-01", care="home")
    gap = st.integers(1, 200) | st.integers(1, 3000)
    note("expressed", 1, into=[{"container": "K", "ml": 100}], place="counter")
    note("moved", draw(st.integers(1, 240)), container="K", to=draw(st.sampled_from(["fridge", "freezer"])))
    over = note("handed_over", draw(gap), container="K", to=OAK,
                place=draw(st.sampled_from(["oak refrigerator", "oak freezer"])))  # fmt: skip
    receipt = {**over, "id": "zz", "kind": "received"}
    receipt.pop("to")
    missing = draw(st.booleans())
    if not missing:
        note("received", draw(st.integers(1, 60)), container="K", place=over["place"])
    steps = st.sampled_from(["moved", "warmed", "ice", "feed", "none"])
    for step in draw(st.lists(steps, max_size=3)):
        if step == "moved":
            note("moved", draw(gap), container="K", to="oak refrigerator")
        elif step == "warmed":
            note("warmed", draw(gap), container="K", how="warm_water")
        elif step == "ice":
            note("thaw_seen", draw(gap), container="K", ice=draw(st.booleans()))
        elif step == "feed":
            note("feed_began", draw(gap), container="K", child="Mira")
            note("feed_ended", 10, container="K", left_ml=40)
    # Events of one instant are taken in the order of their kinds, which is not what is asked here.
    milk = [event["at"] for event in events if "container" in event]
    assume(len(set(milk)) == len(milk))
    return [recording.line_of(event) for event in events], [receipt] if missing else []


def _of(found: Verdict) -> tuple[Any, ...]:
    return found.use_by, found.best_by, found.standing, found.form, found.breaches


@given(told(), st.sampled_from(["", *CHILDCARE]))
def test_no_deadline_there_is_later_than_at_home_and_each_is_the_cores_under_both_rules(
    household: tuple[list[bytes], list[dict[str, Any]]], rule: str
) -> None:
    lines, receipts = household
    store = MemoryStore()
    assert not recording.record(store, lines, now=NOW).refused
    there = ServiceNow(OAK, rule, "oak refrigerator", "", "")
    found = deadlines(store, there, ["K"], now=NOW)
    all_lines = [*lines, *(recording.line_of(one) for one in receipts)]
    also = [*ground_now(store, NOW).settings.also, *([rule] if rule else [])]
    core = {one.container: one for one in run(all_lines, now=NOW, also=dict.fromkeys(also)).verdicts}
    assert [_of(row.found) for row in found] == [_of(core[row.found.container]) for row in found]
    assert {row.found.container for row in found} == set(core)
    for row in found:
        if row.found.standing in WITHIN:
            # What a guideline gives no time for, or is past, at home is not within its limits there.
            assert row.own.standing in WITHIN
            assert row.found.use_by is not None
            assert row.own.use_by is not None
            assert row.found.use_by <= row.own.use_by
        assert row.by == "" or row.by in {guideline.shipped(name).name for name in guideline.shipped_ids()}
        assert rule_name(row.found, ground_now(store, NOW)) is not None


@given(told())
def test_milk_that_came_back_is_judged_by_the_home_rules_and_by_all_that_happened_there(
    household: tuple[list[bytes], list[dict[str, Any]]],
) -> None:
    lines, _receipts = household
    now = NOW + HOUR
    back = {"id": "zzz", "at": written(now, zone_named(ZONE)), "kind": "returned", "container": "K", "place": "fridge"}
    store = MemoryStore()
    assert not recording.record(store, [*lines, recording.line_of(back)], now=now).refused
    here = {one.container: _of(one) for one in board(store, now=now).verdicts}
    core = {one.container: _of(one) for one in run([*lines, recording.line_of(back)], now=now).verdicts}
    # The same with nobody but the family about: what a hand-over to a place does is what a move to it does.
    moved = [line.replace(b'"kind":"handed_over"', b'"kind":"moved"').replace(b'"to":"Oak room",', b"")
             .replace(b'"place":"oak', b'"to":"oak') if b"handed_over" in line else line for line in lines]  # fmt: skip
    moved = [line.replace(b'"kind":"received"', b'"kind":"moved"').replace(b'"place":"oak', b'"to":"oak')
             if b'"received"' in line else line for line in moved]  # fmt: skip
    last = recording.line_of({**{k: v for k, v in back.items() if k != "place"}, "kind": "moved", "to": "fridge"})
    plain = {one.container: _of(one) for one in run([*moved, last], now=now, also=None).verdicts}
    assert here == core == plain


@pytest.mark.parametrize("hours", [0, 30])
def test_the_days_record_is_what_the_ledger_says_of_milk_in_the_window(home: Family, hours: float) -> None:
    found = at_oak(home, "us-or")
    home.expressed("KA33", 90, 10)
    home.expressed("KA34", 90, 10)
    home.note("warmed", 6, container="KA34", how="microwave")
    home.note("handed_over", 5, container="KA33", to=OAK, place=found.place)
    home.note("received", 4.9, container="KA33", place=found.place)
    home.note("feed_began", 3, container="KA33", child="Mira")
    home.note("feed_ended", 2.8, container="KA33", left_ml=33)
    home.note("held", 2.7, container="KA33", why="medicine")
    home.note("poured", 2.5, from_=[{"container": "KA33", "ml": 10}], into="KA37")
    home.note("discarded", 2, container="KA37")
    home.note("measured", 1.5, place=found.place, temp_c=4.5)
    home.note("measured", 1.4, place="fridge", temp_c=4.5)
    wrong = home.note("counted", 1.2, container="KA33", ml=80)
    home.note("voided", 1.1, event=wrong)
    home.note("returned", 1, container="KA33", place="fridge")
    home.note("warmed", 0.5, container="KA33", how="warm_water")
    home.hours(hours)
    got = day_of(home.store, found, "2027-02-03", now=home.now)
    kinds = [(type(one.event).__struct_config__.tag, one.container) for one in got]
    assert kinds == [
        ("handed_over", "KA33"), ("received", "KA33"), ("feed_began", "KA33"), ("feed_ended", "KA33"),
        ("poured", "KA37"), ("discarded", "KA37"), ("measured", None), ("returned", "KA33"),
    ]  # fmt: skip
    fed = next(one for one in got if one.left_ml == 33)
    assert (fed.ml, fed.left_ml) == (57, 33)
    assert day_of(home.store, found, "2027-02-04", now=home.now) == []


def test_a_day_long_ago_is_told_as_it_was(home: Family) -> None:
    found = at_oak(home, "us-or")
    for number in range(30):
        code = f"KA{number:02d}"
        home.expressed(code, 90, 24.0 * number + 3)
        home.note("handed_over", 24.0 * number + 2, container=code, to=OAK, place=found.place)
        home.note("discarded", 24.0 * number + 1, container=code, why="not needed")
    got = day_of(home.store, found, "2027-01-20", now=home.now)
    assert [(type(one.event).__struct_config__.tag, one.container, one.ml) for one in got] == [
        ("handed_over", "KA14", None), ("discarded", "KA14", 90),
    ]  # fmt: skip


@pytest.mark.parametrize("now", ["2027-03-11T00:05:00+00:00", "2027-03-11T14:20:00+00:00", "2027-10-31T01:30:00+00:00"])
def test_the_invented_service_has_milk_of_this_morning_and_every_event_fits(db: None, now: str) -> None:
    at = moment(now)
    store = people.begin(household="Demo", name="Marta", username="marta-demo", password="owl-lantern-river")
    recording.record(store, demo_ledger(now=at), now=at)
    childcare_demo.furnish(store, now=at)
    assert board(store, now=at).refused == 0
    found = childcare.services(store)[0]
    rows = deadlines(store, found, childcare.in_window(store, found.name, now=at), now=at)
    assert [row.found.container for row in rows] == ["HU34", "KU47", "MU73"]
    assert {row.found.standing for row in rows} <= {"fine", "soon"}
