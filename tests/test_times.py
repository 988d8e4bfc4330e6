"""Instants, days and months where the calendar is awkward."""

from __future__ import annotations

import calendar
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thawline.core.times import (
    DAY,
    HOUR,
    MINUTE,
    SECOND,
    BadTimeError,
    check_date,
    day_start,
    is_date,
    local,
    parse_instant,
    span_of,
    written,
    zone_named,
)

AWKWARD = (
    "UTC",
    "Europe/London",
    "America/New_York",
    "Australia/Lord_Howe",
    "Asia/Beirut",
    "America/Santiago",
    "Africa/Cairo",
    "America/Havana",
    "America/Asuncion",
    "Pacific/Apia",
    "Pacific/Kiritimati",
    "Asia/Kathmandu",
    "America/St_Johns",
    "Africa/Casablanca",
)
zones = st.sampled_from(AWKWARD).map(ZoneInfo)
days = st.dates(date(2000, 1, 2), date(2100, 12, 30))
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def instant(text: str) -> int:
    """Microseconds since 1970, by the standard library alone."""
    return (datetime.fromisoformat(text) - EPOCH) // timedelta(microseconds=1)


# ---- RFC 3339 ----------------------------------------------------------------------------------------------


# RFC 3339, "Date and Time on the Internet: Timestamps", section 5.8. Its examples lie in the last century, which
# is refused here: the same clock times and offsets stand in later years.
@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("2085-04-12T23:20:50.52Z", "2085-04-12T23:20:50.520000+00:00"),
        ("2016-12-19T16:39:57-08:00", "2016-12-20T00:39:57+00:00"),
        ("2016-12-31T23:59:60Z", "2016-12-31T23:59:59+00:00"),
        ("2016-12-31T15:59:60-08:00", "2016-12-31T23:59:59+00:00"),
        ("2037-01-01T12:00:27.87+00:20", "2037-01-01T11:40:27.870000+00:00"),
    ],
)
def test_examples_of_the_standard(text: str, same: str) -> None:
    assert parse_instant(text) == instant(same)


@pytest.mark.parametrize(
    "text",
    ["1985-04-12T23:20:50.52Z", "1996-12-19T16:39:57-08:00", "1990-12-31T23:59:60Z", "1937-01-01T12:00:27.87+00:20"],
)
def test_the_standards_own_years_are_before_any_milk(text: str) -> None:
    with pytest.raises(BadTimeError, match="outside 2000-2100"):
        parse_instant(text)


# RFC 3339, section 5.6: T and Z may be in lower case; the note on a space in place of T is not taken up.
def test_lower_case_is_read() -> None:
    assert parse_instant("2027-02-03t07:10:00z") == instant("2027-02-03T07:10:00+00:00")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2027-02-03",
        "2027-02-03 07:10:00Z",
        "2027-02-03T07:10Z",
        "2027-02-03T07:10:00",
        "2027-02-03T07:10:00+0100",
        "2027-02-03T07:10:00+01",
        "2027-02-03T07:10:00.Z",
        "2027-02-03T24:00:00Z",
        "2027-02-03T07:60:00Z",
        "2027-02-03T07:10:61Z",
        "2027-02-03T07:10:00+24:00",
        "2027-02-29T07:10:00Z",
        "2027-13-01T07:10:00Z",
        "20270203T071000Z",
        "2027-02-03T07:10:00Z\n",
        "٢٠٢٧-02-03T07:10:00Z",
        "1999-12-31T23:59:59Z",
        "2101-01-01T00:00:00Z",
    ],
)
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(BadTimeError):
        parse_instant(text)


def test_digits_past_the_microsecond_are_cut() -> None:
    assert parse_instant("2027-02-03T07:10:00.1234569Z") == instant("2027-02-03T07:10:00.123456+00:00")


@given(st.datetimes(datetime(2000, 1, 2), datetime(2100, 12, 30)), zones)  # noqa: DTZ001 - local, without a zone yet
def test_printed_and_read_again_is_the_same_instant(naive: datetime, zone: ZoneInfo) -> None:
    at = (naive.replace(tzinfo=UTC) - EPOCH) // timedelta(microseconds=1)
    text = written(at, zone)
    offset = local(at, zone).utcoffset()
    assert offset is not None
    if not offset.total_seconds() % 60:
        assert parse_instant(text) == at


# ---- days --------------------------------------------------------------------------------------------------


def first_minute(day: date, zone: ZoneInfo) -> int:
    """The first minute of a day, by trying each."""
    at = (datetime(day.year, day.month, day.day, tzinfo=UTC) - EPOCH) // timedelta(minutes=1) - 26 * 60
    while local(at * MINUTE, zone).date() < day:
        at += 1
    return at * MINUTE


@given(days, zones)
def test_a_day_starts_at_its_first_minute(day: date, zone: ZoneInfo) -> None:
    start = day_start(day.isoformat(), zone)
    assert local(start, zone).date() == day
    assert local(start - 1, zone).date() < day
    assert start == first_minute(day, zone)


# Clock changes by the IANA time zone database. Beirut, Havana, Cairo and Santiago skip midnight in spring;
# Asuncion did until 2024. In autumn Havana and Santiago have 23:xx or 00:xx twice.
@pytest.mark.parametrize(
    ("zone", "day", "start"),
    [
        ("Europe/London", "2027-03-28", "2027-03-28T00:00:00+00:00"),
        ("Europe/London", "2027-06-01", "2027-06-01T00:00:00+01:00"),
        ("America/New_York", "2027-11-07", "2027-11-07T00:00:00-04:00"),
        ("Australia/Lord_Howe", "2027-04-04", "2027-04-04T00:00:00+11:00"),
        ("Asia/Beirut", "2027-03-28", "2027-03-28T01:00:00+03:00"),
        ("America/Santiago", "2027-09-05", "2027-09-05T01:00:00-03:00"),
        ("America/Santiago", "2027-04-04", "2027-04-04T00:00:00-04:00"),
        ("America/Havana", "2027-03-14", "2027-03-14T01:00:00-04:00"),
        ("America/Havana", "2027-11-07", "2027-11-07T00:00:00-04:00"),
        ("Africa/Cairo", "2027-04-30", "2027-04-30T01:00:00+03:00"),
        ("America/Asuncion", "2023-10-01", "2023-10-01T01:00:00-03:00"),
        ("Pacific/Apia", "2027-01-01", "2027-01-01T00:00:00+13:00"),
        # Samoa left out 30 December 2011: what is dated so began when the 31st did.
        ("Pacific/Apia", "2011-12-30", "2011-12-31T00:00:00+14:00"),
        ("Pacific/Apia", "2011-12-31", "2011-12-31T00:00:00+14:00"),
    ],
)
def test_days_that_start_oddly(zone: str, day: str, start: str) -> None:
    assert day_start(day, ZoneInfo(zone)) == instant(start)


@pytest.mark.parametrize(
    "text", ["2027-2-3", "2027-02-30", "2026-02-29", "1999-12-31", "2101-01-01", "today", "", "٢٠٢٧-01-01"]
)
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(BadTimeError):
        check_date(text)


def test_only_ten_characters_are_a_date() -> None:
    assert is_date("2028-02-29")
    assert not is_date("2028-02-29\n") and not is_date("2028-02-29T00:00:00Z")


@pytest.mark.parametrize("name", ["", "Mars/Olympus", "../UTC", "/etc/passwd", "Europe", "Europe/Paris\n", "a\0b"])
def test_unknown_zones_are_refused(name: str) -> None:
    with pytest.raises(BadTimeError, match="zone"):
        zone_named(name)


# ---- durations ---------------------------------------------------------------------------------------------


def months_on(at: datetime, count: int) -> datetime:
    """So many months on, by hand: a month at a time, then the day that the month still has."""
    year, month = at.year, at.month
    for _ in range(count):
        month += 1
        if month == 13:
            year, month = year + 1, 1
    return at.replace(year=year, month=month, day=min(at.day, calendar.monthrange(year, month)[1]), fold=0)


@given(st.integers(946771200, 4070908800), st.integers(1, 24), zones)
def test_months_are_counted_on_the_wall_clock(second: int, count: int, zone: ZoneInfo) -> None:
    end = span_of(f"{count} months").after(second * SECOND, zone)
    wanted = months_on(local(second * SECOND, zone), count)
    found = local(end, zone)
    assert abs(found.replace(tzinfo=None) - wanted.replace(tzinfo=None)) <= timedelta(hours=1)
    exists = wanted.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == wanted.replace(tzinfo=None)
    assert not exists or found.replace(tzinfo=None) == wanted.replace(tzinfo=None)


@given(st.integers(946771200, 4070908800), st.integers(0, DAY // SECOND * 40), st.integers(1, 24), zones)
def test_an_earlier_start_never_ends_later(second: int, later: int, count: int, zone: ZoneInfo) -> None:
    """Up to the hour that a wall clock shows twice."""
    span = span_of(f"{count} months")
    first, second_end = (span.after(at * SECOND, zone) for at in (second, second + later))
    assert first <= second_end + HOUR


@pytest.mark.parametrize(
    ("zone", "start", "span", "end"),
    [
        ("UTC", "2027-01-31T10:00:00+00:00", "1 month", "2027-02-28T10:00:00+00:00"),
        ("UTC", "2028-01-31T10:00:00+00:00", "1 month", "2028-02-29T10:00:00+00:00"),
        ("UTC", "2027-08-31T10:00:00+00:00", "6 months", "2028-02-29T10:00:00+00:00"),
        ("UTC", "2028-02-29T10:00:00+00:00", "12 months", "2029-02-28T10:00:00+00:00"),
        ("UTC", "2027-12-31T23:59:00+00:00", "6 months", "2028-06-30T23:59:00+00:00"),
        ("Europe/London", "2027-01-15T10:00:00+00:00", "6 months", "2027-07-15T10:00:00+01:00"),
        # 01:30 does not exist on 28 March 2027 in London: read with the offset before the gap.
        ("Europe/London", "2026-09-28T01:30:00+01:00", "6 months", "2027-03-28T02:30:00+01:00"),
        # 01:30 comes twice on 7 November 2027 in New York: the first of the two.
        ("America/New_York", "2027-05-07T01:30:00-04:00", "6 months", "2027-11-07T01:30:00-04:00"),
        # 01:45 comes twice on 4 April 2027 on Lord Howe, half an hour apart.
        ("Australia/Lord_Howe", "2026-10-04T01:45:00+10:30", "6 months", "2027-04-04T01:45:00+11:00"),
        ("Asia/Beirut", "2026-09-28T00:30:00+03:00", "6 months", "2027-03-28T01:30:00+03:00"),
        # Days and hours are elapsed time: 4 days over a lost hour end an hour later by the clock.
        ("Europe/London", "2027-03-26T09:00:00+00:00", "4 days", "2027-03-30T10:00:00+01:00"),
        ("America/New_York", "2027-11-06T20:00:00-04:00", "24 hours", "2027-11-07T19:00:00-05:00"),
        ("Australia/Lord_Howe", "2027-04-03T22:00:00+11:00", "6 hours", "2027-04-04T03:30:00+10:30"),
        ("America/Santiago", "2027-09-04T22:00:00-04:00", "4 hours", "2027-09-05T03:00:00-03:00"),
        ("Europe/London", "2027-03-20T09:00:00+00:00", "2 weeks", "2027-04-03T10:00:00+01:00"),
    ],
)
def test_durations_over_awkward_days(zone: str, start: str, span: str, end: str) -> None:
    assert span_of(span).after(instant(start), ZoneInfo(zone)) == instant(end)


@pytest.mark.parametrize(
    "text", ["", "4", "4 fortnights", "-1 days", "1.5 hours", "four days", "4days", "99999 days", "² days"]
)
def test_what_is_no_duration_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="duration"):
        span_of(text)
