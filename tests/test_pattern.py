"""The pattern of sessions against a plain recount, with numpy for what is in the middle; days by the calendar."""

from __future__ import annotations

import json
import re
import time
from collections import defaultdict
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.pages import Family, text

from thawline.core.times import DAY, HOUR, MINUTE, local, parse_instant, written, zone_named
from thawline.records.memory import MemoryStore
from thawline.services.pattern import SPANS, Sat, by_hours, by_side, middle, pattern, weeks
from thawline.services.recording import record

ZONE = "Europe/Lisbon"
# A week after the clocks went forward there, on 28 March 2027.
NOW = parse_instant("2027-04-04T15:00:00+01:00")
SESSIONS = st.lists(
    st.tuples(st.integers(0, 60 * 24 * 40), st.integers(1, 200), st.sampled_from(["left", "right", "both", None])),
    max_size=60,
)


def household(now: int = NOW, zone: str = ZONE) -> MemoryStore:
    store = MemoryStore()
    told: list[dict[str, Any]] = [
        {"id": "h", "at": written(now - 400 * DAY, zone_named(zone)), "kind": "household", "zone": zone},
        {"id": "p", "at": written(now - 400 * DAY, zone_named(zone)), "kind": "place", "place": "fridge",
         "is": "refrigerator", "temp_c": 4},
    ]  # fmt: skip
    note(store, told, now=now)
    return store


def note(store: MemoryStore, events: list[dict[str, Any]], *, now: int = NOW) -> None:
    found = record(store, [json.dumps(event).encode() for event in events], now=now)
    assert not found.refused, found.refused


def session(number: int, minutes_ago: float, ml: float, *, now: int = NOW, **more: Any) -> dict[str, Any]:
    at = written(now - round(minutes_ago * MINUTE), zone_named(ZONE))
    into = [{"container": f"C{number}", "ml": ml}]
    event = {"id": f"s{number:04}", "at": at, "kind": "expressed", "into": into, "place": "fridge", **more}
    return {key: value for key, value in event.items() if value is not None}


@given(SESSIONS, st.sampled_from(SPANS))
def test_days_medians_and_gaps_are_those_of_a_plain_recount(told: list[tuple[int, int, str | None]], days: int) -> None:
    """Totals by the date of the local clock; the median of the known ones of seven days by numpy, from four on."""
    store = household()
    note(store, [session(n, ago, ml, side=side) for n, (ago, ml, side) in enumerate(told)])
    found = pattern(store, now=NOW, days=days)
    plain: dict[date, list[float]] = defaultdict(list)
    for ago, ml, _side in told:
        plain[datetime.fromtimestamp((NOW - ago * MINUTE) / 1e6, ZoneInfo(ZONE)).date()].append(ml)
    today = datetime.fromtimestamp(NOW / 1e6, ZoneInfo(ZONE)).date()
    assert [one.day for one in found.days] == [(today - timedelta(days=n)).isoformat() for n in range(days, 0, -1)]
    for one in (*found.days, found.today):
        day = date.fromisoformat(one.day)
        assert one.ml == (sum(plain[day]) if day in plain else None)
        assert one.sessions == len(plain.get(day, ()))
        known = [sum(plain[day - timedelta(days=n)]) for n in range(7) if day - timedelta(days=n) in plain]
        assert one.week_ml == (pytest.approx(np.median(known)) if len(known) >= 4 else None)
    assert found.missing == sum(one.ml is None for one in found.days)
    starts = sorted(NOW - ago * MINUTE for ago, _ml, _side in told)
    shown = [at for at in starts if local(at, zone_named(ZONE)).date() >= today - timedelta(days=days)]
    assert [one.at for one in found.sessions] == shown
    gaps = [(late - early) / HOUR for early, late in pairwise(shown)]
    assert [one.gap_h for one in found.sessions[1:]] == [pytest.approx(gap) for gap in gaps]


@given(
    st.lists(st.tuples(st.floats(0, 23.99), st.integers(1, 300), st.sampled_from(["left", "both", None])), max_size=40)
)
def test_the_middle_and_its_half_are_numpys(told: list[tuple[float, int, str | None]]) -> None:
    rows = [Sat(0, "2027-04-01", ml, side, None, hour, None) for hour, ml, side in told]
    for one in ([row for row in rows if row.side == "left"], rows):
        found = middle(one)
        if not one:
            assert found is None
            continue
        assert found is not None and found.median_ml == pytest.approx(np.median([row.ml for row in one]))
        if len(one) >= 4:
            low, high = np.quantile([row.ml for row in one], [0.25, 0.75])
            assert [found.low_ml, found.high_ml] == pytest.approx([low, high])
        else:
            assert found.low_ml is None and found.high_ml is None
    assert sum(one.number for one in by_side(rows).values()) == len(rows)
    assert sum(one.number for _start, one in by_hours(rows)) == len(rows)


def test_a_day_without_a_note_is_unknown_and_not_nothing() -> None:
    store = household()
    note(store, [session(1, 60 * 24 * 2, 100), session(2, 60 * 24 * 4, 50)])
    found = pattern(store, now=NOW)
    assert [one.ml for one in found.days[-4:]] == [50, None, 100, None] and found.missing == 12
    assert all(one.week_ml is None for one in found.days)


def test_days_are_those_of_the_calendar_where_the_clocks_change() -> None:
    """28 March 2027 in Lisbon has 23 hours: 00:30 is before the change, 23:30 after it, both that day."""
    store = household()
    ats = ["2027-03-28T00:30:00+00:00", "2027-03-28T23:30:00+01:00", "2027-03-29T00:10:00+01:00"]
    note(store, [{**session(n, 0, 10 * (n + 1)), "at": at} for n, at in enumerate(ats)])
    found = {one.day: one.ml for one in pattern(store, now=NOW).days}
    assert (found["2027-03-28"], found["2027-03-29"]) == (30, 30)
    gaps = [one.gap_h for one in pattern(store, now=NOW).sessions]
    assert gaps == [None, pytest.approx(22), pytest.approx(40 / 60)]


def test_what_was_taken_back_did_not_fit_or_lies_ahead_does_not_count() -> None:
    store = household()
    note(store, [session(1, 600, 100), session(2, 500, 70), session(3, 400, 30)])
    void = {"id": "v1", "at": written(NOW, zone_named(ZONE)), "kind": "voided", "event": "s0002"}
    twice = session(4, 300, 999) | {"into": [{"container": "C1", "ml": 999}]}
    ahead = session(5, -600, 500)
    note(store, [void, twice, ahead])
    assert [one.ml for one in pattern(store, now=NOW).sessions] == [100, 30]
    note(store, [{"id": "v2", "at": written(NOW, zone_named(ZONE)), "kind": "voided", "event": "v1"}])
    assert [one.ml for one in pattern(store, now=NOW).sessions] == [100, 70, 30]


def test_of_a_day_alone_the_total_is_known_and_neither_the_hour_nor_the_gap() -> None:
    store = household()
    note(store, [session(1, 60 * 30, 40), {**session(2, 0, 60), "at": "2027-04-03"}])
    found = pattern(store, now=NOW)
    assert found.days[-1].ml == 100
    assert [(one.hour is None, one.gap_h) for one in found.sessions if one.ml == 60] == [(True, None)]


def test_two_mothers_may_be_looked_at_apart() -> None:
    store = household()
    note(store, [session(1, 600, 100, mother="Ana"), session(2, 500, 70, mother="Eva"), session(3, 400, 30)])
    assert pattern(store, now=NOW).mothers == ("Ana", "Eva")
    assert [one.ml for one in pattern(store, now=NOW, mother="Ana").sessions] == [100]


def test_the_last_seven_days_and_those_before_are_told_without_today() -> None:
    store = household()
    note(store, [session(n, 60 * 24 * n, 10 * n) for n in range(15)])
    last, before = weeks(pattern(store, now=NOW).days)
    assert last is not None and before is not None
    assert (last.median_ml, before.median_ml, last.number, before.number) == (40, 110, 7, 7)


def test_a_long_ledger_is_not_read_for_two_weeks() -> None:
    """Only the window is read: rows asked of the store, not seconds, which differ from machine to machine."""
    store = household()
    note(store, [session(n, 60 * 6 * n, 50) for n in range(500)])
    read = 0
    history = store.history

    def counted(**asked: Any) -> Any:
        nonlocal read
        rows = history(**asked)
        read += len(rows)
        return rows

    store.history = counted  # type: ignore[method-assign]
    assert len(pattern(store, now=NOW).sessions) == 14 * 4 + 3 and read <= 200


# The page


def test_the_page_tells_days_hours_gaps_and_minutes_and_missing_days(home: Family) -> None:
    for day in range(1, 15):
        if day not in (5, 6):
            home.note(
                "expressed",
                24 * day,
                into=[{"container": f"A{day}", "ml": 100}],
                place="fridge",
                side="left",
                minutes=20,
            )
            home.note(
                "expressed", 24 * day + 6, into=[{"container": f"B{day}", "ml": 60}], place="fridge", side="right"
            )
    page = home.see("/pattern/")
    said = text(page)
    assert "The last 7 days: a day came to about 160 mL" in said and "(5 days are known)" in said
    assert "On 2 of 14 days nothing was noted: they are left out, not counted as nothing." in said
    assert "no targets" in said and "ask a lactation consultant or a clinician" in said
    drawn = page.select("figure.chart")
    assert len(drawn) == 4 and all(one.select_one("table tbody tr") for one in drawn)
    days = {row.th.text: [cell.text for cell in row.select("td")] for row in drawn[0].select("tbody tr")}  # type: ignore[union-attr]
    assert days["29 Jan"][0] == "nothing noted" and days["1 Feb"][0] == "160"
    assert not re.search(r"\b(safe|should|must|more milk|target of|goal|increase|boost)\b", said, re.IGNORECASE)


def test_without_sessions_it_says_so_and_any_span_opens(home: Family) -> None:
    assert "No session is noted" in text(home.see("/pattern/"))
    home.expressed("KA34", 90, 30)
    for query in ("", "?days=14", "?days=30", "?days=90", "?days=x", "?mother=nobody", "?mother=%00"):
        home.see(f"/pattern/{query}")


def test_amounts_are_in_the_households_unit(home: Family) -> None:
    home.note("household", 1, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "F"])
    home.expressed("KA34", 88.72, 30)
    said = text(home.see("/pattern/"))
    assert "3 fl oz" in said and "mL" not in said


@pytest.mark.slow
def test_ninety_days_of_a_long_ledger_are_answered_soon(home: Family) -> None:
    """The bound is for a machine of two busy cores."""
    lines = [json.dumps({**session(n, 60 * 3 * n, 50, now=home.now), "id": f"long-{n}"}).encode() for n in range(6000)]
    record(home.store, lines, now=home.now)
    home.see("/pattern/?days=90")
    start = time.perf_counter()
    home.see("/pattern/?days=90")
    assert time.perf_counter() - start < 3
