"""A timed session: kept for its person on the server, over midnight and changes of the clocks, until it is logged."""

from __future__ import annotations

import re
from typing import Any
from unittest import mock

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.pages import Family, family, text
from tests.people import member, signed_in

from thawline.core import events as ev
from thawline.core.times import DAY, HOUR, MINUTE, SECOND, parse_instant
from thawline.records.ledger.models import Household
from thawline.services import session_timer
from thawline.services.session_timer import Part, Timer

__all__ = ["family"]


def run(home: Family, do: str, phone: object = None, **fields: str) -> str:
    """Something done on the page of the session; the address that it leads to."""
    answer = (phone or home.phone).post("/session/", {"do": do, **fields})  # type: ignore[attr-defined]
    assert answer.status_code == 302, answer.content[:300]
    return str(answer.headers["Location"])


def logged(home: Family) -> list[ev.Expressed]:
    rows = home.store.history(before=None, limit=9, kinds=("expressed",))
    return [event for row in rows if isinstance(event := ev.decoder.decode(row.line), ev.Expressed)]


def test_begin_switch_stop_and_a_number_make_a_session_of_both_sides(home: Family) -> None:
    began = home.now
    run(home, "start", side="left")
    home.hours(0.2)
    run(home, "switch", side="right")
    home.hours(0.1)
    assert "left 12 minutes, right 6 minutes" in text(home.see("/session/"))
    assert not logged(home)
    to = run(home, "stop")
    page = home.see(to)
    sent = home.fill(page, ml_1="95")
    assert (sent["minutes"], sent["side"]) == ("18", "both") and "when" not in sent
    after = home.send(to, sent)
    (event,) = logged(home)
    assert (parse_instant(event.at), event.minutes, event.side) == (began, 18, "both")
    assert event.into[0].ml == 95
    assert "The kit: washed?" in text(after)
    assert "Begin now" in text(home.see("/session/"))


def test_two_taps_and_a_number_are_enough(home: Family) -> None:
    """Begin is one form and stop another; on the log form only the amount is empty."""
    run(home, "start")
    home.hours(0.3)
    page = home.see(run(home, "stop"))
    home.send("/log/", home.fill(page, ml_1="80"))
    assert logged(home)[0].side is None and logged(home)[0].minutes == 18


@pytest.mark.parametrize(
    ("now", "hours", "written"),
    [
        # Through midnight, in Lisbon.
        ("2027-02-03T23:50:00+00:00", 0.5, "2027-02-03T23:50:00+00:00"),
        # The clocks go forward at 01:00 on 28 March 2027: 00:50 to 02:20 by the clock is half an hour.
        ("2027-03-28T00:50:00+00:00", 0.5, "2027-03-28T00:50:00+00:00"),
        # They go back on 31 October 2027: begun in the first 01:30 (WEST), and in the second (WET).
        ("2027-10-31T00:30:00+00:00", 0.5, "2027-10-31T01:30:00+01:00"),
        ("2027-10-31T01:30:00+00:00", 0.5, "2027-10-31T01:30:00+00:00"),
    ],
)
def test_its_start_and_length_hold_over_midnight_and_changes_of_the_clocks(
    db: None, now: str, hours: float, written: str
) -> None:
    home = family("2027-02-03T14:00:00+00:00")
    home.now = parse_instant(now)
    with mock.patch("thawline.services.present.now", side_effect=lambda: home.now):
        run(home, "start", side="both")
        home.hours(hours)
        page = home.see(run(home, "stop"))
        home.send("/log/", home.fill(page, ml_1="70"))
        (event,) = logged(home)
    assert (event.at, event.minutes) == (written, hours * 60)


def test_another_phone_of_the_same_person_shows_and_stops_it_and_the_first_stop_stands(home: Family) -> None:
    other = signed_in("Marta")
    run(home, "start", side="left")
    home.hours(0.25)
    assert b"A session is running" in other.get("/session/").content
    assert run(home, "start", other) == "/session/"
    run(home, "stop", other)
    home.hours(0.5)
    page = home.see(run(home, "stop"))
    assert home.fill(page)["minutes"] == "15"


def test_logged_on_one_phone_it_is_gone_on_the_other_and_counts_once(home: Family) -> None:
    other = signed_in("Marta")
    run(home, "start")
    home.hours(0.25)
    first = home.see(run(home, "stop"))
    second = other.get("/log/?timed=1", follow=True)
    home.send("/log/", home.fill(first, ml_1="80"))
    assert run(home, "stop", other) == "/session/"
    # The form that was open still holds what it showed; it is a second session only if it is sent as one.
    assert re.search(rb'name="minutes"[^>]*value="15"', second.content)


def test_a_session_begun_meanwhile_is_not_thrown_away_with_the_one_that_is_logged(home: Family) -> None:
    run(home, "start")
    home.hours(0.25)
    page = home.see(run(home, "stop"))
    run(home, "forget")
    run(home, "start")
    home.send("/log/", home.fill(page, ml_1="80"))
    assert "A session is running" in text(home.see("/session/"))


def test_another_person_has_a_clock_of_their_own(home: Family) -> None:
    other = member(home, "parent")
    run(home, "start")
    assert b"Begin now" in other.get("/session/").content


def test_after_two_hours_it_asks_and_nothing_is_lost(home: Family) -> None:
    run(home, "start", side="left")
    home.hours(2)
    assert "Still going?" not in text(home.see("/session/"))
    home.hours(0.1)
    assert "Still going?" in text(home.see("/session/"))
    run(home, "on")
    assert "Still going?" not in text(home.see("/session/"))
    home.hours(2.1)
    assert "Still going?" in text(home.see("/session/"))
    page = home.see(run(home, "ended", minutes="25"))
    assert home.fill(page)["minutes"] == "25"


@pytest.mark.parametrize("minutes", ["", "abc", "0", "-5", "1441", "9999999"])
def test_minutes_that_can_not_be_are_told_and_it_runs_on(home: Family, minutes: str) -> None:
    run(home, "start")
    home.hours(3)
    answer = home.phone.post("/session/", {"do": "ended", "minutes": minutes})
    assert answer.status_code == 422 and b"A session is running" in answer.content


def test_stopped_by_mistake_it_goes_on_and_it_can_be_thrown_away(home: Family) -> None:
    run(home, "start")
    home.hours(0.2)
    run(home, "stop")
    assert "The session ended" in text(home.see("/session/"))
    run(home, "on")
    home.hours(0.2)
    assert "24 min" in text(home.see("/session/"))
    run(home, "forget")
    assert "Begin now" in text(home.see("/session/")) and not logged(home)


def test_the_log_form_says_that_a_session_waits(home: Family) -> None:
    assert "waits" not in text(home.see("/log/"))
    run(home, "start")
    home.hours(0.5)
    assert "A timed session of 30 min waits" in text(home.see("/log/"))


def test_a_time_chosen_on_the_form_counts_instead_of_the_clocks(home: Family) -> None:
    run(home, "start")
    home.hours(0.5)
    page = home.see(run(home, "stop"))
    home.send("/log/", home.fill(page, ml_1="80", when="120"))
    assert parse_instant(logged(home)[0].at) == home.now - 2 * HOUR


@pytest.mark.parametrize("timed", ["1", "99999999999999999999", "abc", "-1", "\u0663"])
def test_a_start_that_can_not_be_is_not_taken_for_now(home: Family, timed: str) -> None:
    page = home.see("/log/")
    sent = {key: value for key, value in home.fill(page, ml_1="80").items() if key != "when"}
    assert "timed too long ago" in text(home.send("/log/", sent | {"timed": timed}, status=422))
    assert not logged(home)


def test_minutes_may_be_noted_without_a_clock_and_bad_ones_are_told(home: Family) -> None:
    page = home.see("/log/")
    assert "Write the minutes" in text(home.send("/log/", home.fill(page, ml_1="80", minutes="0"), status=422))
    home.send("/log/", home.fill(home.see("/log/"), ml_1="80", minutes="17", side="right"))
    assert (logged(home)[0].minutes, logged(home)[0].side) == (17, "right")


def test_what_is_kept_for_the_timer_may_be_broken_and_the_page_still_opens(home: Family) -> None:
    house = Household.objects.get(pk=home.store.id)
    every: tuple[Any, ...] = ("x", {"1": "x"}, {"1": {"parts": []}}, {str(n): {"parts": [{}]} for n in range(50)})
    for broken in every:
        house.preferences = {"sessions_running": broken}
        house.save()
        assert "Begin now" in text(home.see("/session/"))


TAPS = st.lists(st.tuples(st.sampled_from(["left", "right", "both"]), st.integers(1, 3000)), min_size=1, max_size=8)


@given(TAPS, st.integers(0, 4000))
def test_the_sides_add_up_to_the_whole_and_each_is_what_a_plain_count_says(
    taps: list[tuple[str, int]], last: int
) -> None:
    at, parts, plain = 0, [], dict.fromkeys(("left", "right", "both"), 0)
    for side, seconds in taps:
        parts.append(Part(at * SECOND, side))  # type: ignore[arg-type]
        at += seconds
        plain[side] += seconds
    plain[taps[-1][0]] += last
    timer = Timer(tuple(parts))
    now = (at + last) * SECOND
    found = timer.by_side(now)
    assert found == {side: seconds * SECOND for side, seconds in plain.items() if seconds}
    assert sum(found.values()) == timer.length(now)
    sides = {side for side, _ in taps}
    assert timer.whole_side() == (sides.pop() if len(sides) == 1 else "both")
    assert 1 <= timer.minutes(now) <= DAY // MINUTE


def test_where_nobody_had_said_which_the_side_chosen_counts_from_the_start(home: Family) -> None:
    run(home, "start")
    home.hours(0.1)
    run(home, "switch", side="left")
    home.hours(0.1)
    page = home.see(run(home, "stop"))
    assert home.fill(page)["side"] == "left"
    assert session_timer.ASK_AFTER == 2 * HOUR


def test_nonsense_is_told_or_left_alone(home: Family) -> None:
    assert home.phone.post("/session/", {"do": "explode"}).status_code == 422
    run(home, "switch", side="left")
    run(home, "stop")
    run(home, "on")
    assert "Begin now" in text(home.see("/session/"))
    run(home, "start", side="up")
    run(home, "switch", side="down")
    assert "A session is running" in text(home.see("/session/"))
