"""A server that was off asks on its return whether the power was out; a server that was told to stop does not."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import time
from contextlib import closing
from pathlib import Path
from typing import Any
from unittest import mock

import msgspec
import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.db import OperationalError
from django.test import Client
from tests.cli_tools import COMMAND
from tests.pages import Family, text

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.records.ledger.models import Pulse, Silence, SilenceAnswer
from thawline.services import people, power, pulse, recording
from thawline.site.heartbeat import Heartbeat


def silent(home: Family, hours: float, *, ago: float = 0.1, days: float = 1) -> None:
    """Days later the server was off for so many hours, though nobody told it to stop, and has run again since."""
    home.hours(24 * days)
    end = home.now - int(ago * HOUR)
    pulse.beat(end - int(hours * HOUR), fresh=True)
    pulse.beat(end, fresh=True)


def events(home: Family) -> list[dict[str, Any]]:
    return [msgspec.json.decode(line) for line in home.store.lines()]


def question(page: BeautifulSoup) -> str | None:
    found = page.select_one("#silence")
    return None if found is None else " ".join(found.text.split())


def answer(home: Family, page: BeautifulSoup, said: str) -> BeautifulSoup:
    return home.send("/power/silence/", {**home.fill(page, "/power/silence/"), "answer": said})


# What counts as a silence


def test_a_gap_without_an_order_to_stop_is_a_silence(db: None) -> None:
    pulse.beat(100 * DAY, fresh=True)
    pulse.beat(100 * DAY + 3 * HOUR, fresh=True)
    assert [(one.start, one.end) for one in Silence.objects.all()] == [(100 * DAY, 100 * DAY + 3 * HOUR)]


def test_an_ordered_stop_is_none(db: None) -> None:
    pulse.beat(100 * DAY, fresh=True)
    pulse.stopping(100 * DAY + MINUTE)
    pulse.beat(101 * DAY, fresh=True)
    assert not Silence.objects.exists()
    # The order counts once.
    pulse.beat(102 * DAY, fresh=True)
    assert Silence.objects.count() == 1


def test_beats_a_minute_apart_and_a_quick_restart_are_none(db: None) -> None:
    for minute in (0, 1, 2, 3, 8, 9):
        pulse.beat(100 * DAY + minute * MINUTE, fresh=True)
    assert not Silence.objects.exists()
    assert Pulse.objects.get().alive_at == 100 * DAY + 9 * MINUTE


def test_a_computer_that_slept_with_the_server_running_had_power(db: None) -> None:
    pulse.beat(100 * DAY, fresh=True)
    pulse.beat(100 * DAY + 9 * HOUR, fresh=False)
    assert not Silence.objects.exists()


def test_a_computer_without_a_clock_of_its_own_finds_the_silence_once_it_knows_the_time(db: None) -> None:
    pulse.beat(100 * DAY, fresh=True)
    pulse.beat(100 * DAY - 20 * MINUTE, fresh=True)  # just started, still at an older time
    pulse.beat(100 * DAY + 5 * HOUR, fresh=True)  # now it has asked others
    assert [(one.start, one.end) for one in Silence.objects.all()] == [(100 * DAY, 100 * DAY + 5 * HOUR)]


def test_a_clock_that_was_far_ahead_does_not_stop_the_pulse(db: None) -> None:
    pulse.beat(4000 * DAY, fresh=True)
    pulse.beat(100 * DAY, fresh=True)
    pulse.beat(100 * DAY + 2 * HOUR, fresh=True)
    assert [one.start for one in Silence.objects.all()] == [100 * DAY]


# Asking


def test_the_first_page_asks_and_yes_records_both_moments_everywhere(home: Family) -> None:
    silent(home, 3.5)
    page = home.see("/")
    assert question(page) == "Was the power out from today 10:24 to today 13:54?"
    page = answer(home, page, "yes")
    found = power.cuts(home.store, now=home.now)
    start = home.now - int(3.6 * HOUR)
    assert {(cut.place, cut.lost, cut.back) for cut in found} == {
        (place, start, start + int(3.5 * HOUR)) for place in ("fridge", "freezer")
    }
    assert "Power back since today 13:54" in text(page)
    assert page.select_one(".undo form") is not None
    assert question(home.see("/")) is None


def test_no_is_remembered_and_records_nothing(home: Family) -> None:
    silent(home, 3.5)
    before = len(events(home))
    page = answer(home, home.see("/"), "no")
    assert "not out" in text(page) and question(page) is None
    assert len(events(home)) == before
    # It can still be changed.
    page = home.see("/power/")
    link = page.select_one('a[href^="/power/silence/"]')
    assert link is not None and "was not out" in link.text
    answer(home, home.see(str(link["href"])), "yes")
    assert len(power.cuts(home.store, now=home.now)) == 2


def test_the_times_may_differ(home: Family) -> None:
    silent(home, 3.5)
    link = home.see("/").select_one('.ask a[href^="/power/silence/"]')
    assert link is not None
    sent = home.fill(home.see(str(link["href"])), "/power/silence/", lost="2027-02-04T09:30", answer="yes")
    home.send("/power/silence/", sent)
    found = power.cuts(home.store, now=home.now)
    assert {cut.lost for cut in found} == {home.now - int(4.5 * HOUR)}
    assert {cut.back for cut in found} == {home.now - int(0.1 * HOUR)}


@pytest.mark.parametrize(
    ("lost", "back", "says"),
    [
        ("2027-02-04T13:00", "2027-02-04T12:00", "before the power went off"),
        ("2027-02-04T13:00", "2027-02-04T19:00", "still ahead"),
        ("late", "", "Write the day and the time"),
    ],
)
def test_times_that_cannot_be_are_asked_for_again(home: Family, lost: str, back: str, says: str) -> None:
    silent(home, 3.5)
    before = len(events(home))
    page = home.see(f"/power/silence/?key={Silence.objects.get().pk}")
    sent = home.fill(page, "/power/silence/", lost=lost, back=back, answer="yes")
    assert says in text(home.send("/power/silence/", sent, 422))
    assert len(events(home)) == before
    assert question(home.see("/")) is not None


def test_two_phones_that_both_say_yes_record_one_cut(home: Family) -> None:
    silent(home, 3.5)
    one, other = home.see("/"), home.see("/")
    answer(home, one, "yes")
    answer(home, other, "yes")
    answer(home, other, "no")
    assert len(power.cuts(home.store, now=home.now)) == 2
    assert pulse.quiet(home.store, now=home.now)[0].out is True


def test_what_is_noted_already_of_that_time_is_not_told_twice(home: Family) -> None:
    silent(home, 3.5)
    home.note("power_lost", 3.7, place="fridge")
    home.note("power_back", 0.2, place="fridge")
    home.note("power_lost", 3.7, place="freezer", fill="full")
    answer(home, home.see("/"), "yes")
    found = {cut.place: cut for cut in power.cuts(home.store, now=home.now)}
    assert len(power.cuts(home.store, now=home.now)) == 2
    assert found["fridge"].back == home.now - int(0.2 * HOUR)
    assert (found["freezer"].fill, found["freezer"].back) == ("full", home.now - int(0.1 * HOUR))


def test_a_cut_that_is_noted_in_full_only_needs_its_answer(home: Family) -> None:
    silent(home, 3.5)
    for place in ("fridge", "freezer"):
        home.note("power_lost", 3.6, place=place)
        home.note("power_back", 0.1, place=place)
    before = len(events(home))
    assert "noted already" in text(answer(home, home.see("/"), "yes"))
    assert len(events(home)) == before and question(home.see("/")) is None


def test_several_silences_are_asked_one_after_another(home: Family) -> None:
    silent(home, 1, ago=6)
    silent(home, 2, ago=1, days=0)
    first = home.see("/")
    assert "07:00 to today 08:00" in str(question(first))
    second = answer(home, first, "no")
    # It did not run between the two either.
    assert "08:00 to today 11:00" in str(question(second))
    third = answer(home, second, "no")
    assert "11:00 to today 13:00" in str(question(third))
    assert question(answer(home, third, "no")) is None


def test_each_household_answers_for_itself(home: Family) -> None:
    other = people.begin(household="Next door", name="Ana", username="ana", password="heron-basket-north")
    lines = [
        {"id": "a1", "at": home.at(90), "kind": "household", "zone": "Europe/Lisbon"},
        {"id": "a2", "at": home.at(90), "kind": "place", "place": "icebox", "is": "deep_freezer"},
    ]
    recording.record(other, [recording.line_of(one) for one in lines], now=home.now - 2 * DAY)
    ana = Client()
    ana.force_login(get_user_model().objects.get(username="ana"), backend=None)
    silent(home, 3.5)
    answer(home, home.see("/"), "yes")
    page = BeautifulSoup(ana.get("/").content, "html.parser")
    assert question(page) is not None
    assert power.cuts(other, now=home.now) == []


def test_what_a_household_answered_goes_with_it_and_the_others_stays(home: Family) -> None:
    other = people.begin(household="Next door", name="Ana", username="ana", password="heron-basket-north")
    silent(home, 3.5)
    answer(home, home.see("/"), "no")
    pulse.answer(other, Silence.objects.get().pk, out=True)
    people.erase(home.store)
    assert list(SilenceAnswer.objects.values_list("household_id", "out")) == [(other.id, True)]


def test_a_household_that_came_later_or_has_no_refrigerator_is_not_asked(home: Family) -> None:
    late = people.begin(household="New", name="Eva", username="eva", password="cedar-window-salt")
    silent(home, 3.5)
    line = {"id": "b1", "at": home.at(0), "kind": "place", "place": "icebox", "is": "deep_freezer"}
    recording.record(late, [recording.line_of(line)], now=home.now)
    assert pulse.to_ask(late, now=home.now) is None
    for place in ("fridge", "freezer"):
        home.note("place", 0.05, place=place, is_="room")
    assert question(home.see("/")) is None


def test_what_is_long_past_is_not_asked(home: Family) -> None:
    silent(home, 3.5)
    home.hours(24 * 15)
    assert question(home.see("/")) is None


def test_a_silence_that_is_not_there_is_not_found(home: Family) -> None:
    home.see("/power/silence/?key=77", 404)
    home.send("/power/silence/", {"key": "77", "answer": "yes", "act": "01990000-0000-7000-8000-000000000042"}, 404)


# The heartbeat


def test_a_fault_of_the_database_stops_neither_the_heartbeat_nor_the_server(db: None) -> None:
    with (
        mock.patch("thawline.services.pulse.beat", side_effect=OperationalError("disk full")) as beats,
        mock.patch("thawline.services.pulse.stopping", side_effect=OperationalError("disk full")),
        mock.patch("thawline.services.pulse.felt", return_value=True),
        Heartbeat(0.01),
    ):
        end = time.monotonic() + 5
        while beats.call_count < 3 and time.monotonic() < end:
            time.sleep(0.01)
    assert beats.call_count >= 3


def test_a_server_elsewhere_has_no_heartbeat(db: None) -> None:
    with (
        mock.patch("thawline.services.pulse.felt", return_value=False),
        mock.patch("thawline.services.pulse.beat") as beats,
        mock.patch("thawline.services.pulse.stopping") as stop,
        Heartbeat(0.01),
    ):
        time.sleep(0.1)
    assert not beats.called and not stop.called


def _pulse(folder: Path) -> tuple[int, bool] | None:
    file = folder / "thawline.sqlite3"
    if not file.exists():
        return None
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True, timeout=10)) as found:
        try:
            row = found.execute("SELECT alive_at, ordered FROM ledger_pulse").fetchone()
        except sqlite3.OperationalError:
            return None
    return None if row is None else (row[0], bool(row[1]))


def _silences(folder: Path) -> int:
    with closing(sqlite3.connect(folder / "thawline.sqlite3", timeout=10)) as found:
        return int(found.execute("SELECT count(*) FROM ledger_silence").fetchone()[0])


def _served(folder: Path, number: signal.Signals) -> tuple[int, bool]:
    """Serve until the pulse beats, then send a signal; the pulse afterwards."""
    before = _pulse(folder)
    env = {**os.environ, "THAWLINE_HOME": str(folder)}
    env.pop("DATABASE_URL", None)
    with subprocess.Popen(
        [str(COMMAND), "serve", "--port", "0"], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as served:
        end = time.monotonic() + 60
        while _pulse(folder) == before and time.monotonic() < end:
            time.sleep(0.1)
        assert served.poll() is None
        served.send_signal(number)
        served.wait(30)
    found = _pulse(folder)
    assert found is not None
    return found


def _long_ago(folder: Path) -> None:
    with closing(sqlite3.connect(folder / "thawline.sqlite3", timeout=10)) as found, found:
        found.execute("UPDATE ledger_pulse SET alive_at = alive_at - ?", (3 * HOUR,))


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_a_killed_server_finds_its_silence_and_an_ordered_stop_leaves_its_mark(tmp_path: Path) -> None:
    assert _served(tmp_path, signal.SIGKILL)[1] is False
    _long_ago(tmp_path)
    assert _served(tmp_path, signal.SIGINT)[1] is True
    assert _silences(tmp_path) == 1
    _long_ago(tmp_path)
    assert _served(tmp_path, signal.SIGTERM)[1] is True
    assert _silences(tmp_path) == 1


def test_what_is_kept_of_a_pulse_is_a_row(db: None) -> None:
    for minute in range(50):
        pulse.beat(100 * DAY + minute * MINUTE, fresh=True)
    assert Pulse.objects.count() == 1
    assert json.dumps(list(Pulse.objects.values_list("ordered", flat=True))) == "[false]"
