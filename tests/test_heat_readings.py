"""A thermometer's record: its means against checked figures, its excursions, and reading it from a logger's file."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.cli_tools import Ran, thawline, unreadable
from tests.strategies import KINDS, Json, Story, held, minute_of, stories, text

from thawline.core.component import Component
from thawline.core.places import PlaceLine
from thawline.core.replay import moment
from thawline.core.times import HOUR, MINUTE, written, zone_named
from thawline.engines.physics import numbers
from thawline.engines.physics.readings import (
    Clean,
    Gap,
    Reading,
    Twice,
    clean,
    excursions,
    gap_limit,
    lines,
    mean,
    mean_kinetic_c,
    thinned,
)
from thawline.services import readings
from thawline.services.readings import Answers, Parsed, UnreadableError, decoded, parse

NOW = moment("2027-06-03T14:00:00+01:00")
ZONE = "Europe/Lisbon"


def series(*pairs: tuple[float, float]) -> Clean:
    """A record from hours and degrees Celsius."""
    return clean([Reading(round(hours * HOUR), c) for hours, c in pairs])


# ---- mean kinetic temperature ------------------------------------------------------------------------------
# The formula, its 83.144 kJ/mol and 8.3144e-3 kJ/(mol K): USP 29, general chapter <1160>. The answers: own computation
# with them, carried to three decimals; no published series with its answer was found.

MEANS = [
    # no. 37 of the checked values
    ([(1, 2), (1, 4), (1, 6), (1, 8)], 5.302, 5.000),
    ([(1, 2), (1, 8)], 5.536, 5.000),
    ([(23, 4), (1, 14)], 4.767, 4.417),
    # no. 38
    ([(18, 4), (6, 14)], 7.796, 6.500),
    ([(22, 4), (2, 25)], 9.327, 5.750),
    ([(1, 20), (1, 25), (1, 30)], 25.858, 25.000),
    ([(1, 15), (1, 30)], 25.224, 22.500),
    ([(23, -18), (1, -5)], -16.608, -17.458),
]


@pytest.mark.parametrize(("spans", "kinetic", "plain"), MEANS)
def test_the_mean_kinetic_temperature_of_spans(spans: list[tuple[float, float]], kinetic: float, plain: float) -> None:
    assert mean_kinetic_c(spans) == pytest.approx(kinetic, abs=0.001)
    hours = sum(weight for weight, _c in spans)
    assert sum(weight * c for weight, c in spans) / hours == pytest.approx(plain, abs=0.001)


def test_a_constant_temperature_is_its_own_mean() -> None:
    # no. 39: an identity
    assert mean_kinetic_c([(5, -18.0), (700, -18.0)]) == pytest.approx(-18, abs=1e-6)


@given(st.lists(st.tuples(st.floats(0.01, 1000), st.floats(-50, 60)), min_size=1, max_size=30))
def test_it_lies_between_the_plain_mean_and_the_warmest(spans: list[tuple[float, float]]) -> None:
    # ICH Q1A(R2): higher than the arithmetic mean.
    found = mean_kinetic_c(spans)
    plain = sum(weight * c for weight, c in spans) / sum(weight for weight, _c in spans)
    assert plain - 1e-6 <= found <= max(c for _weight, c in spans) + 1e-6


def test_the_gas_constant_of_today_changes_nothing() -> None:
    # 8.31446 in place of the pharmacopoeia's 8.3144: no change to 0.0001 C (own computation).
    used = numbers.value("readings", "gas_constant")
    assert used == pytest.approx(8.3144e-3)
    ratio = numbers.value("readings", "activation_energy") / used
    assert ratio == pytest.approx(10_000, rel=1e-9)


def test_an_uneven_record_is_weighed_by_time() -> None:
    # Own computation: trapezoid of the rates 6.818; counting the readings alike would give 7.578.
    record = series((0, 4), (1, 4), (1.5, 12), (2.5, 12), (3, 4), (6, 4))
    found = mean(record)
    assert found.kinetic_c == pytest.approx(6.818, abs=0.001)
    assert found.plain_c == pytest.approx(6.0)
    assert mean_kinetic_c([(1, c) for _at, c in record.readings]) == pytest.approx(7.578, abs=0.001)


def test_one_reading_is_its_own_mean_and_none_has_none() -> None:
    assert mean(series((3, 7.5))).kinetic_c == pytest.approx(7.5)
    assert mean(series()).kinetic_c is None
    with pytest.raises(ValueError, match="no mean"):
        mean_kinetic_c([])


def test_no_mean_is_given_across_a_gap() -> None:
    record = series((0, 4), (1, 4), (1 + gap_limit() / HOUR + 0.1, 4))
    assert record.gaps == (Gap(HOUR, HOUR + gap_limit() + HOUR // 10),)
    assert mean(record).kinetic_c is None and mean(record).gaps == record.gaps
    assert mean(series((0, 4), (gap_limit() / HOUR, 4))).kinetic_c == pytest.approx(4)


# ---- a clean record ----------------------------------------------------------------------------------------


def test_of_one_moment_twice_the_warmer_reading_counts_and_it_is_told() -> None:
    record = series((1, 4.0), (0, 3.0), (1, 9.0), (1, 4.0), (2, 5.0), (2, 5.0))
    assert [one.c for one in record.readings] == [3.0, 9.0, 5.0]
    assert record.differing == (Twice(HOUR, 4.0, 9.0),)
    assert record.alike == 1


@pytest.mark.parametrize("c", [-50.1, 60.1, float("nan"), float("inf"), -127.0, 999.0])
def test_what_no_sensor_can_mean_is_taken_out_and_told(c: float) -> None:
    record = series((0, 4), (1, c), (2, 4))
    assert [one.c for one in record.readings] == [4, 4]
    assert [one.at for one in record.faults] == [HOUR]


@pytest.mark.parametrize("c", [-50.0, 60.0])
def test_the_coldest_and_the_warmest_that_can_be_are_kept(c: float) -> None:
    assert series((0, c)).faults == ()


def test_an_excursion_may_have_begun_right_after_the_last_good_reading() -> None:
    [found] = excursions(series((0, 4), (1, 4), (1.5, 12), (2.5, 12), (3, 4), (6, 4)), 4.0)
    assert (found.earliest, found.first, found.last, found.latest) == (HOUR, 1.5 * HOUR, 2.5 * HOUR, 3 * HOUR)
    assert (found.known, found.most, found.extreme_c) == (HOUR, 2 * HOUR, 12)


def test_an_excursion_without_a_beginning_or_an_end_has_no_longest() -> None:
    first, last = excursions(series((0, 9), (1, 4), (2, 8)), 4.0)
    assert first.earliest is None and first.latest == HOUR and first.most is None
    assert last.earliest == HOUR and last.latest is None and last.most is None and last.known == 0


def test_a_gap_within_an_excursion_adds_nothing_to_what_is_known() -> None:
    [found] = excursions(series((0, 4), (1, 9), (2, 9), (8, 9), (9, 9), (10, 4)), 4.0)
    assert found.gap and found.known == 2 * HOUR and found.most == 10 * HOUR


def test_too_cold_counts_below_a_limit() -> None:
    [found] = excursions(series((0, 1), (1, -2), (2, -3), (3, 1)), -0.5, above=False)
    assert (found.known, found.extreme_c, found.above) == (HOUR, -3, False)


@given(st.lists(st.tuples(st.integers(0, 500), st.sampled_from([2.0, 4.0, 4.1, 9.0])), max_size=40), st.floats(2, 9))
def test_time_beyond_a_limit_falls_as_the_limit_rises(points: list[tuple[int, float]], low: float) -> None:
    record = clean([Reading(minute * MINUTE, c) for minute, c in points])
    known = [sum(one.known for one in excursions(record, limit)) for limit in (low, low + 0.5, low + 3)]
    assert known == sorted(known, reverse=True)
    for one in excursions(record, low):
        assert one.known >= 0 and (one.most is None or one.known <= one.most)


def test_every_figure_of_the_record_has_its_source() -> None:
    data = numbers.load("readings")
    figures = [data[name] for name in data if name != "line"] + data["line"]
    assert len(figures) >= 10
    for one in figures:
        assert one["mark"] in numbers.MARKS and one["source"] and one["unit"]
    assert {line.c for line in lines() if line.above} == {4, 10, 25, -15}


# ---- what is kept ------------------------------------------------------------------------------------------


def test_first_and_last_crossings_gaps_and_the_warmest_of_each_hour_are_kept() -> None:
    points = [(n / 12, 3.0) for n in range(48)]
    points[17] = (17 / 12, 3.5)
    points[30] = (30 / 12, 7.0)
    points += [(9 + n / 12, 3.0) for n in range(3)]
    record = series(*points)
    kept = [round(one.at / HOUR * 12) for one in thinned(record, [4.0])]
    assert {0, 17, 29, 30, 31, 47, 9 * 12, 9 * 12 + 2} <= set(kept)
    assert len(kept) <= 12


@given(
    st.lists(st.tuples(st.integers(1, 200), st.floats(-30, 40)), min_size=1, max_size=80),
    st.lists(st.sampled_from([-18.0, -15.0, 4.0, 4.4, 10.0, 25.0]), unique=True),
)
def test_nothing_kept_is_made_up_and_no_band_is_lost(points: list[tuple[int, float]], limits: list[float]) -> None:
    at, found = 0, []
    for wait, c in points:
        at += wait * MINUTE
        found.append(Reading(at, c))
    record, limits = clean(found), sorted(limits)
    kept = thinned(record, limits)
    assert set(kept) <= set(record.readings) and kept[0] == record.readings[0] and kept[-1] == record.readings[-1]
    for limit in limits:
        full, some = excursions(record, limit), excursions(clean(kept), limit)
        assert [(one.first, one.last, one.earliest, one.latest) for one in full] == [
            (one.first, one.last, one.earliest, one.latest) for one in some
        ]


EPOCH_AT = moment(text(0))
_LEVELS = (3.0, 4.0, 4.44, 4.5, 5.0, 9.0, 15.0, 15.1, 16.0, 22.0, 25.5, 27.0, -17.8, -18.0, -12.0, -4.0)


@st.composite
def logged(draw: st.DrawFn) -> tuple[Story, str, list[Reading], int]:
    """A story, a place of it, what a logger there recorded, and how many minutes later somebody looks."""
    story = draw(stories())
    first = minute_of(text(story.last)) - draw(st.integers(-60, 3000))
    at, found = first, []
    for _ in range(draw(st.integers(1, 14))):
        level, step = draw(st.sampled_from(_LEVELS)), draw(st.sampled_from([1, 5, 10, 15, 30, 47]))
        for n in range(draw(st.integers(1, 40))):
            found.append(Reading(at * MINUTE, round(level + (n * 7 % 5 - 2) * 0.02, 2)))
            at += step
        at += draw(st.sampled_from([0, 0, 0, 0, 61, 125, 241, 400, 1500]))
    return story, draw(st.sampled_from(list(KINDS))), found, draw(st.integers(0, 20_000))


def _judged(story: Story, place: str, kept: tuple[Reading, ...], now: int) -> dict[str, Json]:
    events = [
        {"id": f"m{one.at // MINUTE:09}", "at": text(one.at // MINUTE), "kind": "measured", "place": place,
         "temp_c": one.c}
        for one in kept
    ]  # fmt: skip
    found = held(story.judged(now, story.told(*events)))
    for one in found.values():
        # A limit that ended and began again is named each time.
        one["why"] = list(dict.fromkeys((link["rule"], link["from"], link["until"]) for link in one["why"]))
    return found


@settings(max_examples=60, deadline=None)
@given(logged())
def test_judging_by_what_is_kept_is_judging_by_all(case: tuple[Story, str, list[Reading], int]) -> None:
    story, place, found, later = case
    record = clean(found)
    used = [moment(event["at"]) for event in story.events if event["kind"] in readings.OUT]
    kept = thinned(record, readings.bands(), moments=[at - EPOCH_AT for at in used])
    now = max(story.last, found[-1].at // MINUTE) + later
    assert _judged(story, place, kept, now) == _judged(story, place, record.readings, now)


@st.composite
def to_and_fro(draw: st.DrawFn) -> tuple[Story, str, list[Reading], int]:
    """A story, and a logger in a place of it that crosses the same limits again and again."""
    story = draw(stories())
    at = minute_of(text(story.last)) - draw(st.integers(0, 4000))
    levels = draw(st.lists(st.sampled_from(_LEVELS), min_size=2, max_size=3))
    step = draw(st.sampled_from([1, 7, 20, 61]))
    found = [Reading((at + n * step) * MINUTE, levels[n % len(levels)]) for n in range(draw(st.integers(4, 60)))]
    return story, draw(st.sampled_from(list(KINDS))), found, draw(st.integers(0, 20_000))


@settings(max_examples=60, deadline=None)
@given(to_and_fro())
def test_what_is_settled_once_for_a_band_is_what_is_settled_each_time(
    case: tuple[Story, str, list[Reading], int],
) -> None:
    story, place, found, later = case
    now = max(story.last, found[-1].at // MINUTE) + later
    short = _judged(story, place, tuple(found), now)
    with (
        mock.patch.object(Component, "_starts_once", return_value=False),
        mock.patch.object(PlaceLine, "course", return_value=None),
    ):
        assert short == _judged(story, place, tuple(found), now)


@pytest.mark.parametrize("more", [[], [190], [185, 190, 195, 200, 210, 250], list(range(181, 260))])
def test_reading_a_thermometer_more_often_gives_no_more_time(more: list[int]) -> None:
    # Three hours and more out of the band, then cold again: the room's four hours do not begin anew at each look.
    events: list[Json] = [
        {"id": "h", "at": text(-999), "kind": "household", "zone": "UTC"},
        {"id": "p", "at": text(-999), "kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": 3},
        {"id": "e", "at": text(0), "kind": "expressed", "into": [{"container": "A", "ml": 80}], "place": "fridge"},
        *(
            {"id": f"m{at}", "at": text(at), "kind": "measured", "place": "fridge", "temp_c": 9 if at < 200 else 3}
            for at in (1, 200, *(at + 200 for at in more))
        ),
    ]
    found = held(Story(events, 500, "UTC", "cdc", ()).judged(600))["A"]
    assert (found["standing"], minute_of(found["use_by"])) == ("past", 241)
    assert len(found["why"]) < 6


# ---- a logger's file ---------------------------------------------------------------------------------------


def read(file: str | bytes, **answers: Any) -> Parsed:
    """A file of a household in Lisbon that writes degrees Celsius."""
    raw = file.encode() if isinstance(file, str) else file
    return parse(decoded(raw), zone=ZONE, usual="C", now=NOW, answers=Answers(**answers))


def told(parsed: Parsed) -> list[tuple[str, float]]:
    return [(written(one.at, zone_named(ZONE)), one.c) for one in parsed.readings]


FEBRUARY = [("2027-02-03T07:10:00+00:00", 4.1), ("2027-02-03T07:20:00+00:00", 4.2)]


@pytest.mark.parametrize(
    "file",
    [
        "time,temperature (°C)\n2027-02-03 07:10,4.1\n2027-02-03 07:20,4.2\n",
        "\ufeffDatum;Uhrzeit;Temperatur [°C];Feuchte [%]\n03.02.2027;07:10:00;4,1;55,0\n03.02.2027;07:20:00;4,2;55,1",
        "Log 7\nSerial: 0815\n\nNo.\tC\tTimestamp\n1\t4.1\t2027-02-03T07:10:00Z\n2\t4.2\t2027-02-03T08:20:00+01:00\n",
        'Date,Time,Hum.,Dew point °C,Temp °C\n3 Feb 2027,07:10,50,1.0,"4.1"\n3 Feb 2027,07:20,50,1.0,"4.2"\n',
        "2027-02-03 07:10 4.1\n2027-02-03 07:20   4.2 °C\n",
        "when|°F\n2027/02/03 7:10 AM|39.38\n2027/02/03 7:20 AM|39.56\n",
        "Time (UTC+1),°C\n2027-02-03 08:10,4.1\n2027-02-03 08:20,4.2\n",
        "seconds,°C\n1801638600,4.1\n1801639200,4.2\n",
        'Zeit;"Kanal 1 [°C]"\n"3. Februar 2027 07:10";"4,1"\n"3. Februar 2027 07:20";"4,2"\n',
    ],
)
@pytest.mark.parametrize("coding", ["utf-8", "cp1252", "utf-16"])
def test_a_loggers_file_is_read_whatever_its_shape(file: str, coding: str) -> None:
    if coding != "utf-8":
        file = file.removeprefix("\ufeff")
    parsed = read(file.encode(coding))
    assert parsed.questions == ()
    assert told(parsed) == FEBRUARY


def test_a_day_that_can_be_two_is_asked_for() -> None:
    file = "time,°C\n3/2/2027 07:10,4.1\n4/2/2027 07:10,4.2\n"
    [asked] = read(file).questions
    assert asked.kind == "day_first"
    assert asked.choices == (("day", "Wednesday 3 February 2027"), ("month", "Tuesday 2 March 2027"))
    assert told(read(file, day_first=True))[1][0].startswith("2027-02-04")
    assert told(read(file, day_first=False))[1][0].startswith("2027-04-02")


def test_one_day_past_the_twelfth_settles_the_order_of_all() -> None:
    assert told(read("time,°C\n3/2/2027 07:10,4.1\n13/2/2027 07:10,4.2\n"))[0][0].startswith("2027-02-03")
    assert told(read("time,°C\n3/2/2027 07:10,4.1\n2/13/2027 07:10,4.2\n"))[0][0].startswith("2027-03-02")


def test_a_day_that_the_order_does_not_allow_is_left_out_and_told() -> None:
    parsed = read("time,°C\n3/2/2027 07:10,4.1\n2/13/2027 07:10,4.2\n", day_first=True)
    assert len(parsed.readings) == 1
    assert [(one.line, one.why) for one in parsed.skipped] == [(3, "there was no such day or time")]


def test_two_temperatures_are_not_chosen_between() -> None:
    file = "No,Time,Probe 1 °C,Probe 2 °C\n" + "".join(f"{n},2027-02-03 07:{n}0,4.1,-18\n" for n in (1, 2, 3))
    [asked] = read(file).questions
    assert asked.kind == "temp"
    assert [value for value, _label in asked.choices] == ["2", "3"]
    assert [c for _at, c in told(read(file, temp=3))] == [-18, -18, -18]


def test_a_unit_that_nobody_wrote_is_asked_for_where_it_could_be_either() -> None:
    warm = "time,value\n2027-02-03 07:10,38\n2027-02-03 07:20,39\n"
    assert [one.kind for one in read(warm).questions] == ["unit"]
    assert [c for _at, c in told(read(warm, unit="F"))] == [3.33, 3.89]
    cold = read("time,value\n2027-02-03 07:10,4\n2027-02-03 07:20,5\n")
    assert cold.questions == () and cold.notes == ("No unit is written: taken as °C.",)


def test_fahrenheit_is_converted_before_anything_is_judged() -> None:
    parsed = read("time,°F\n2027-02-03 07:10,104\n2027-02-03 07:20,-40\n2027-02-03 07:30,40\n")
    assert [c for _at, c in told(parsed)] == [40.0, -40.0, 4.44]
    assert clean(parsed.readings).faults == ()


def test_an_hour_that_came_twice_is_read_in_the_order_of_the_file() -> None:
    times = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    rows = [f"2026-10-25 {one},4" for one in times]
    for order in (rows, rows[::-1]):
        parsed = read("time,°C\n" + "\n".join(order))
        instants = sorted(one.at for one in parsed.readings)
        assert {b - a for a, b in pairwise(instants)} == {30 * MINUTE}
        assert "4 times stand in the hour that came twice: taken in the order of the file." in parsed.notes


def test_times_that_never_were_are_asked_about() -> None:
    file = "time,°C\n2027-03-28 00:30,4\n2027-03-28 01:30,5\n2027-03-28 02:30,6\n"
    [asked] = read(file).questions
    assert asked.kind == "clock" and [value for value, _label in asked.choices] == ["+00:00", "local"]
    assert [c for _at, c in told(read(file, clock="local"))] == [4, 6]
    winter = told(read(file, clock="+00:00"))
    assert [at for at, _c in winter][1:] == ["2027-03-28T02:30:00+01:00", "2027-03-28T03:30:00+01:00"]


def test_a_reading_still_ahead_is_left_out_and_told() -> None:
    parsed = read("time,°C\n2027-02-03 07:10,4\n2027-12-03 07:10,4\n")
    assert len(parsed.readings) == 1 and "it lies ahead" in parsed.skipped[0].why


def test_every_line_without_a_reading_is_told() -> None:
    parsed = read("time,°C\n2027-02-03 07:10,4.1\n2027-02-03 07:20,ERR\nyesterday,4\nend\n")
    assert [(one.line, one.why) for one in parsed.skipped] == [
        (3, "no temperature can be read in it"),
        (4, "no time can be read in it"),
        (5, "it has fewer columns than the others"),
    ]


@pytest.mark.parametrize(
    ("file", "says"),
    [
        ("", "No line has a time and a temperature"),
        ("hello\nworld\n", "No line has a time and a temperature"),
        ("time,temp\n2027-02-03 07:10,4,1\n2027-02-03 07:20,4,2\n", "Commas stand between the columns and in"),
        (b"PK\x03\x04\0\0\0", "That is not a text file"),
        (b"2027-02-03 07:10,4\n" * 60_000, "more than 1 MB"),
        (b"2027-02-03 07:10" + b",4" * 300 + b"\n", "more than 200 columns"),
    ],
)
def test_a_file_that_cannot_be_read_says_what_to_do(file: str | bytes, says: str) -> None:
    with pytest.raises(UnreadableError, match=says):
        read(file)


@settings(deadline=None)
@given(st.binary(max_size=400) | st.text(max_size=400).map(str.encode))
def test_no_file_brings_the_reader_down(file: bytes) -> None:
    try:
        found = read(file)
    except UnreadableError:
        return
    assert all(isinstance(one, Reading) for one in found.readings)


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 10**9), st.integers(-5000, 6000)), max_size=50))
def test_what_a_form_carries_comes_back_as_it_went(points: list[tuple[int, int]]) -> None:
    start = moment("2020-01-01T00:00:00Z")
    kept = [Reading(start + ms * 1000, hundredths / 100) for ms, hundredths in sorted(points)]
    now = start + 10**13
    assert readings.unpacked(readings.packed(kept), now=now) == kept


@pytest.mark.parametrize("text", ["1:2", "x", "99999999999999999:1", "1801638600000:400000", "9801638600000:400"])
def test_a_form_that_was_meddled_with_is_refused(text: str) -> None:
    with pytest.raises(UnreadableError):
        readings.unpacked(text, now=NOW)


# ---- the command -------------------------------------------------------------------------------------------


def run(folder: Path, file: str, *arguments: str) -> Ran:
    path = folder / "log.csv"
    path.write_text(file)
    return thawline("heat", "readings", str(path), "--now", "2027-06-03T14:00:00+01:00", *arguments)


UNEVEN = "time,°C\n" + "".join(
    f"2027-02-03 {at},{c}\n"
    for at, c in (("00:00", 4), ("01:00", 4), ("01:30", 12), ("02:30", 12), ("03:00", 4), ("06:00", 4), ("06:10", 99))
)


def test_the_command_tells_the_uneven_record_as_json(tmp_path: Path) -> None:
    found = run(tmp_path, UNEVEN, "--place", "refrigerator", "--limit", "50F", "--json").json()
    assert found["readings"] == 6 and found["mean_kinetic_c"] == pytest.approx(6.818, abs=0.001)
    assert [one["c"] for one in found["limits"]] == [25, 10, 4, -0.5]
    ten = found["limits"][1]
    assert (ten["says"], ten["at_least_min"], ten["at_most_min"]) == ("your limit", 60, 120)
    assert ten["excursions"][0]["earliest"] == "2027-02-03T01:00:00+00:00"
    assert found["faults"] == [{"at": "2027-02-03T06:10:00+00:00", "c": 99.0}]


def test_the_command_says_it_in_lines_for_a_terminal(tmp_path: Path) -> None:
    said = run(tmp_path, UNEVEN, "--place", "refrigerator").out
    assert "mean kinetic temperature 6.818 C, plain mean 6.000 C" in said
    assert "for information only" in said and "left out, since they can not be right: 1" in said
    assert all(len(line) <= 80 for line in said.splitlines())


def test_what_the_command_cannot_know_it_asks_in_one_line(tmp_path: Path) -> None:
    file = "time,°C\n3/2/2027 07:10,4.1\n"
    assert "--day-first or --month-first" in unreadable(run(tmp_path, file))
    assert run(tmp_path, file, "--day-first").code == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--place", "cellar"], "no kind of place"),
        (["--unit", "K"], "--unit is C or F"),
        (["--limit", "cold"], "is no temperature"),
        (["--zone", "Nowhere/At_All"], "unknown zone"),
        (["--clock", "summer"], "unknown zone"),
    ],
)
def test_an_option_that_cannot_be_used_says_so(tmp_path: Path, arguments: list[str], says: str) -> None:
    assert says in unreadable(run(tmp_path, UNEVEN, *arguments))


def test_a_file_that_is_not_there_says_so(tmp_path: Path) -> None:
    assert "No such file" in unreadable(thawline("heat", "readings", str(tmp_path / "none.csv")))
