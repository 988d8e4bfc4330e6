"""The calendar: its secret address, and what a calendar app reads there (RFC 5545, RFC 7986)."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import icalendar
import pytest
import recurring_ical_events
from django.test import Client
from tests.pages import Family, text
from tests.people import carer, childcare, service

from thawline.core.times import HOUR, local, zone_named
from thawline.records.accounts.models import CalendarEntry, CalendarLink, Member
from thawline.services import board, people
from thawline.services.calendar_links import make

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ALL = ("freeze", "use", "thaw", "kit")


def a_home(home: Family, role: str = "owner") -> people.Home:
    row = Member.objects.select_related("user").get(household=home.store.id, role=role)
    assert row.user_id is not None
    return next(one for one in people.homes_of(row.user_id) if one.store.key == home.store.key)


def address(home: Family, *about: str, role: str = "owner") -> str:
    return f"/calendar/{make(a_home(home, role), about or ALL, now=home.now)}.ics"


def raw(url: str, **extra: Any) -> bytes:
    answer = Client().get(url, **extra)
    assert answer.status_code == 200, answer.status_code
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    return bytes(answer.content)


def parsed(data: bytes) -> icalendar.Calendar:
    calendar = icalendar.Calendar.from_ical(data)
    assert isinstance(calendar, icalendar.Calendar)
    for component in calendar.walk():
        assert not component.errors, component.errors
    return calendar


def events(data: bytes) -> dict[str, Any]:
    """Events by UID, each UID once."""
    found = [one for one in parsed(data).walk("VEVENT") if isinstance(one, icalendar.Event)]
    by_uid = {str(one["UID"]): one for one in found}
    assert len(by_uid) == len(found)
    return by_uid


def micros(at: datetime) -> int:
    return (at - EPOCH) // timedelta(microseconds=1)


def titles(data: bytes) -> list[str]:
    return [str(one["SUMMARY"]) for one in events(data).values()]


@pytest.fixture
def milk(home: Family) -> Family:
    """Chilled, frozen and standing milk, one held back, one past its limit."""
    home.expressed("KA34", 90, 20)
    home.expressed("RA77", 60, 20)
    home.expressed("PE99", 80, 2)
    home.expressed("HE33", 80, 24 * 5)
    home.note("expressed", 1, into=[{"container": "ME99", "ml": 50}], place="counter")
    home.expressed("TE34", 100, 24 * 30)
    home.note("moved", 24 * 29, container="TE34", to="freezer")
    home.expressed("WE49", 70, 10)
    home.note("held", 9, container="WE49", why="medicine")
    return home


# RFC 5545, each rule by its section


def test_what_is_sent_is_a_calendar_by_the_rfc(milk: Family) -> None:
    data = raw(address(milk))
    lines = data.decode().split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR" and lines[-2:] == ["END:VCALENDAR", ""]  # 3.4
    assert b"\n" not in data.replace(b"\r\n", b"") and b"\r" not in data.replace(b"\r\n", b"")  # 3.1
    assert all(len(line.encode()) <= 75 for line in lines)  # 3.1: folded after 75 octets
    calendar = parsed(data)
    assert calendar["VERSION"] == "2.0"  # 3.7.4
    assert str(calendar["PRODID"]).startswith("-//Thawline//")  # 3.7.3
    assert "METHOD" not in calendar  # 3.7.2: so that DTSTAMP is the last revision (3.8.7.2)
    assert b"REFRESH-INTERVAL;VALUE=DURATION:PT1H" in data  # RFC 7986, 5.7
    for event in events(data).values():
        for once in ("UID", "DTSTAMP", "DTSTART", "SUMMARY", "SEQUENCE", "LAST-MODIFIED", "DESCRIPTION"):  # 3.6.1
            assert once in event and not isinstance(event[once], list), once
        for utc in ("DTSTAMP", "LAST-MODIFIED", "DTSTART"):  # 3.3.5, form 2; 3.8.7.2 and 3.8.7.3: in UTC
            assert event[utc].dt.tzinfo is UTC or event[utc].dt.utcoffset() == timedelta(0)
            assert event[utc].to_ical().endswith(b"Z")
        assert event["TRANSP"] == "TRANSPARENT"  # 3.8.2.7
        assert not ("DTEND" in event and "DURATION" in event)  # 3.6.1
        for alarm in event.walk("VALARM"):  # 3.6.6
            assert alarm["ACTION"] == "DISPLAY" and alarm["DESCRIPTION"] and "TRIGGER" in alarm
            assert alarm["TRIGGER"].dt <= timedelta(0)
    # Read again and written again it is the same: nothing was lost or mended on the way.
    assert parsed(calendar.to_ical()).to_ical() == calendar.to_ical()


def test_a_second_library_finds_each_event_at_its_time(milk: Family) -> None:
    data = raw(address(milk))
    start = datetime(2027, 2, 1, tzinfo=UTC)
    found = recurring_ical_events.of(parsed(data)).between(start, start + timedelta(days=400))
    assert sorted(str(one["UID"]) for one in found) == sorted(events(data))
    starts = {str(one["UID"]): one.start for one in found}
    assert starts == {uid: one["DTSTART"].dt for uid, one in events(data).items()}


def test_a_calendar_with_nothing_in_it_is_still_one(home: Family) -> None:
    # RFC 5545, 3.6: at least one component.
    calendar = parsed(raw(address(home)))
    assert not calendar.walk("VEVENT") and len(calendar.subcomponents) == 1


def test_text_is_escaped_and_folded(home: Family) -> None:
    # RFC 5545, 3.3.11: backslash, semicolon, comma and line feed; 3.1: a fold never splits a character.
    name = "Ä;b,c\\d 🍼 " + "ü" * 60
    home.expressed(name, 90, 2)
    data = raw(address(home))
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    (event,) = events(data).values()
    assert name in str(event["SUMMARY"]) and name in str(event["DESCRIPTION"])


# What stands in it


def test_deadlines_are_the_boards(milk: Family) -> None:
    verdicts = {one.container: one for one in board.board(milk.store, now=milk.now).verdicts}
    seen = set()
    for event in events(raw(address(milk))).values():
        code = re.search(r"(?:Use or freeze|Use) (\w+) by", str(event["SUMMARY"]))
        assert code is not None
        assert micros(event["DTSTART"].dt) == (verdicts[code[1]].use_by or 0) // 1_000_000 * 1_000_000
        seen.add(code[1])
    assert seen == {"KA34", "RA77", "PE99", "ME99", "TE34"}


def test_milk_held_back_or_past_its_limit_has_no_entry(milk: Family) -> None:
    told = " ".join(titles(raw(address(milk))))
    assert "WE49" not in told and "HE33" not in told


def test_only_the_first_of_those_that_come_due_together_rings(milk: Family) -> None:
    ringing = {str(one["SUMMARY"]): len(one.walk("VALARM")) for one in events(raw(address(milk))).values()}
    together = {told: rings for told, rings in ringing.items() if "KA34" in told or "RA77" in told}
    assert sorted(together.values()) == [0, 2]
    (first,) = [told for told, rings in together.items() if rings]
    assert "KA34" in first and "RA77" in first


def test_one_entry_says_use_or_freeze_where_both_end_at_once(milk: Family) -> None:
    # CDC: freshly chilled milk may be frozen as long as it may be used (case 33 and 37 of the reference cases).
    assert any(told.startswith("Use or freeze KA34 by ") for told in titles(raw(address(milk))))
    assert any(told.startswith("Freeze KA34 by ") for told in titles(raw(address(milk, "freeze"))))
    assert any(told.startswith("Use KA34 by ") for told in titles(raw(address(milk, "use"))))
    assert not any("TE34" in told for told in titles(raw(address(milk, "freeze"))))
    assert titles(raw(address(milk, "kit"))) == []


def test_the_reason_its_guideline_and_the_caution_stand_in_it(milk: Family) -> None:
    for event in events(raw(address(milk))).values():
        says = str(event["DESCRIPTION"])
        assert "US Centers for Disease Control and Prevention" in says
        assert "healthy babies at home" in says
        assert not re.search(r"\bsafe", says, re.IGNORECASE)


def test_nobody_is_named(milk: Family) -> None:
    data = raw(address(milk)).decode()
    assert not any(name in data for name in ("Marta", "Rui", "Mira"))


def test_a_child_in_hospital_has_no_home_limits_in_a_calendar(milk: Family) -> None:
    milk.note("child", 0.1, child="Mira", born="2026-12-01", care="hospital")
    assert events(raw(address(milk))) == {}


def test_the_kit_stands_there_where_it_is_to_be_sanitised_daily(milk: Family) -> None:
    # A baby of two months: daily (CDC, wording of 2017; the reference's case 96).
    milk.note("cleaned", 5, what="kit", how="sanitised")
    data = raw(address(milk, "kit"))
    (event,) = events(data).values()
    assert str(event["SUMMARY"]).startswith("Sanitise the kit by ")
    assert micros(event["DTSTART"].dt) == milk.now + 19 * HOUR


def test_a_link_leads_to_the_container_but_not_to_this_very_computer(milk: Family) -> None:
    url = address(milk)
    assert b"URL" not in raw(url, headers={"host": "localhost:8300"})
    found = events(raw(url, headers={"host": "milk.lan:8300"}))
    assert any(str(one["URL"]).upper().endswith("/KA34") for one in found.values())


@pytest.mark.parametrize(
    ("zone", "at", "by"),
    [
        # Elapsed hours over the nights on which the clocks change: cases 71 and 72 of our table, a year on (CDC, 4 h).
        ("America/New_York", "2027-03-14T01:15:00-05:00", "2027-03-14T10:15:00+00:00"),
        ("America/New_York", "2027-11-07T00:40:00-04:00", "2027-11-07T08:40:00+00:00"),
    ],
)
def test_a_night_on_which_the_clocks_change_moves_no_deadline(home: Family, zone: str, at: str, by: str) -> None:
    milk_at = datetime.fromisoformat(at)
    home.now = micros(milk_at) + HOUR
    home.note("household", 24 * 20, zone=zone, guideline="cdc")
    home.note("place", 24 * 20, place="counter", is_="room", temp_c=24)
    home.note("expressed", 1, into=[{"container": "KA34", "ml": 90}], place="counter")
    (event,) = events(raw(address(home))).values()
    assert event["DTSTART"].dt == datetime.fromisoformat(by)
    hour = local(micros(event["DTSTART"].dt), zone_named(zone)).strftime("%H:%M")
    assert f"by {hour}" in str(event["SUMMARY"])


# Stable


def test_two_reads_of_the_same_are_the_same_to_the_byte_and_change_nothing(milk: Family) -> None:
    url = address(milk)
    first = raw(url)
    before = (list(milk.store.lines()), milk.store.standing(), list(CalendarEntry.objects.order_by("pk").values()))
    milk.now += 3 * 60 * 1_000_000
    assert raw(url) == first
    assert (list(milk.store.lines()), milk.store.standing(), list(CalendarEntry.objects.order_by("pk").values())) == (
        before
    )


def test_what_has_not_changed_is_not_sent_again(milk: Family) -> None:
    url = address(milk)
    tag = Client().get(url).headers["ETag"]
    assert Client().get(url, headers={"if-none-match": tag}).status_code == 304
    milk.expressed("PA94", 70, 1)
    assert Client().get(url, headers={"if-none-match": tag}).status_code == 200


def test_a_new_deadline_changes_the_entry_and_a_container_that_goes_takes_it_along(milk: Family) -> None:
    url = address(milk, "use")
    before = events(raw(url))
    uid = next(uid for uid, one in before.items() if "PE99" in str(one["SUMMARY"]))
    milk.now += 60_000_000
    milk.note("moved", 0, container="PE99", to="counter")
    after = events(raw(url))
    assert after[uid]["SEQUENCE"] == before[uid]["SEQUENCE"] + 1
    assert after[uid]["LAST-MODIFIED"].dt > before[uid]["LAST-MODIFIED"].dt
    assert after[uid]["DTSTART"].dt < before[uid]["DTSTART"].dt
    gone = milk.note("discarded", 0, container="PE99", why="spilled")
    assert uid not in events(raw(url))
    milk.now += 60_000_000
    milk.note("voided", 0, event=gone, why="mistake")
    assert events(raw(url))[uid]["SEQUENCE"] == after[uid]["SEQUENCE"] + 2


def test_every_address_of_a_household_tells_the_same_entry(milk: Family) -> None:
    one, other = events(raw(address(milk))), events(raw(address(milk, "use")))
    for uid in set(one) & set(other):
        assert one[uid]["DTSTAMP"].to_ical() == other[uid]["DTSTAMP"].to_ical()
    assert set(other) <= set(one)


# The address


@pytest.mark.parametrize("secret", ["x" * 43, "x" * 4000, "%00", "..", "é" * 40])
def test_an_unknown_address_is_not_found(home: Family, secret: str) -> None:
    assert Client().get(f"/calendar/{secret}.ics").status_code == 404


def test_an_address_that_was_taken_back_is_as_unknown_as_any(milk: Family) -> None:
    url = address(milk)
    raw(url)
    row = CalendarLink.objects.get()
    milk.send("/settings/calendar/", {"revoke": str(row.pk)})
    gone, unknown = Client().get(url), Client().get(f"/calendar/{'x' * 43}.ics")
    assert gone.status_code == unknown.status_code == 404
    assert CalendarLink.objects.count() == 0


def test_only_the_digest_of_an_address_is_kept(milk: Family) -> None:
    secret = address(milk).removeprefix("/calendar/").removesuffix(".ics")
    assert len(secret) >= 43  # 256 bits
    assert secret not in str(list(CalendarLink.objects.values()))


def test_an_address_only_reads(milk: Family) -> None:
    url = address(milk)
    assert Client().head(url).status_code == 200
    for method in ("post", "put", "patch", "delete", "options"):
        assert getattr(Client(enforce_csrf_checks=True), method)(url).status_code in (403, 405)


def test_a_calendar_is_kept_by_nobody_on_the_way_and_opens_no_session(milk: Family) -> None:
    answer = Client().get(address(milk))
    assert {"private", "no-store"} <= set(answer.headers["Cache-Control"].split(", "))
    assert not answer.cookies


def test_the_link_of_a_member_who_left_is_dead(milk: Family) -> None:
    carer(milk)
    url = address(milk, role="carer")
    raw(url)
    Member.objects.filter(household=milk.store.id, role="carer").update(left=True)
    assert Client().get(url).status_code == 404


def test_the_link_of_a_member_who_may_no_longer_look_is_dead(milk: Family) -> None:
    carer(milk)
    url = address(milk, role="carer")
    place = service(milk)
    Member.objects.filter(household=milk.store.id, role="carer").update(role="childcare", service=place)
    assert Client().get(url).status_code == 404


def test_childcare_has_no_calendar(milk: Family) -> None:
    phone = childcare(milk, service=service(milk))
    assert phone.get("/settings/calendar/").status_code == 403


def test_each_member_sees_and_takes_back_only_their_own_addresses(milk: Family) -> None:
    other = carer(milk)
    url = address(milk)
    row = CalendarLink.objects.get()
    assert "Take back" not in other.get("/settings/calendar/").content.decode()
    assert other.post("/settings/calendar/", {"revoke": str(row.pk)}).status_code == 404
    raw(url)


def test_another_households_milk_is_in_no_calendar_of_ours(milk: Family) -> None:
    theirs = people.begin(household="Next door", name="Nuno", username="nuno", password="owl-lantern-river")
    other = Family(theirs, Client(), milk.now)
    other.note("household", 24.0 * 400, zone="Europe/Lisbon", guideline="cdc")
    other.note("place", 24.0 * 400, place="counter", is_="room", temp_c=21)
    other.note("place", 24.0 * 400, place="fridge", is_="refrigerator", temp_c=4)
    other.expressed("KA34", 75, 3)
    mine, yours = events(raw(address(milk))), events(raw(address(other)))
    assert not set(mine) & set(yours)
    assert len(yours) == 1


# The page


def test_the_page_shows_an_address_once(milk: Family) -> None:
    page = milk.send("/settings/calendar/", {"about": ["use", "thaw"]})
    link = page.select_one("textarea#link")
    assert link is not None
    url = link.text.strip()
    assert url.endswith(".ics") and page.select_one('a[href^="webcal://"]') is not None
    secret = url.rsplit("/", 1)[-1].removesuffix(".ics")
    assert raw(f"/calendar/{secret}.ics")
    again = milk.see("/settings/calendar/")
    assert secret not in str(again)
    assert "Use by, Move to thaw" in text(again) and "last read today 14:00" in text(again)


def test_the_page_asks_for_something_to_tell(milk: Family) -> None:
    page = milk.send("/settings/calendar/", {}, status=422)
    assert "Choose at least one thing" in text(page)


@pytest.mark.parametrize(
    ("host", "says"),
    [("localhost", "works only on this computer"), ("milk.lan:8300", "not encrypted (http)")],
)
def test_the_page_says_where_an_address_does_not_serve(milk: Family, host: str, says: str) -> None:
    answer = milk.phone.post("/settings/calendar/", {"about": ["use"]}, headers={"host": host})
    assert says in answer.content.decode()


def test_the_page_says_nothing_against_an_encrypted_address(milk: Family) -> None:
    answer = milk.phone.post("/settings/calendar/", {"about": ["use"]}, headers={"host": "milk.lan"}, secure=True)
    assert "https://milk.lan/calendar/" in answer.content.decode()
    assert "not encrypted" not in answer.content.decode()


def test_ten_addresses_are_enough(milk: Family) -> None:
    for _ in range(10):
        address(milk)
    assert "There are ten addresses already" in text(milk.send("/settings/calendar/", {"about": ["use"]}, status=422))
