"""When the expressing kit has to be washed and sanitised: the published cadences, and what holds for any past."""

from __future__ import annotations

import json
import tomllib
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thawline.core.guideline import MARKS, shipped_ids
from thawline.core.times import DAY, HOUR, MINUTE, day_start, parse_instant, written, zone_named
from thawline.records.memory import MemoryStore
from thawline.services import kit
from thawline.services.kit import Sanitising, basin, sanitising, steps, washing
from thawline.services.recording import record

NOW = parse_instant("2027-02-03T14:00:00Z")
# CDC 2017 text as state WIC pages give it; CDC Cronobacter; NCT and Derbyshire NHS; a handout citing Health Canada.
WIC, CRONOBACTER, UK, CANADA = "WIC", "Cronobacter", "NCT", "Health Canada"


class House:
    """An invented household in memory; times are hours before `now`."""

    def __init__(
        self, *, born: str | None = "2026-12-23", care: str = "home", guideline: str = "cdc", zone: str = "UTC",
        now: int = NOW,
    ) -> None:  # fmt: skip
        self.store, self.now, self.zone, self.number = MemoryStore(), now, zone_named(zone), 0
        self.note("household", 24 * 300, zone=zone, guideline=guideline)
        self.note("place", 24 * 300, place="fridge", is_="refrigerator", temp_c=4)
        if born is not None:
            self.note("child", 24 * 300, child="Mira", born=born, care=care)

    def note(self, kind: str, hours_ago: float, *, at: str | None = None, **fields: Any) -> str:
        self.number += 1
        event = {"id": f"e{self.number:04}", "at": at or written(self.now - round(hours_ago * HOUR), self.zone)}
        event |= {"kind": kind} | {key.rstrip("_"): value for key, value in fields.items()}
        found = record(self.store, [json.dumps(event).encode()], now=self.now)
        assert not found.refused, found.refused
        return str(event["id"])

    def expressed(self, hours_ago: float, **fields: Any) -> str:
        into = [{"container": f"C{self.number}", "ml": 90}]
        return self.note("expressed", hours_ago, into=into, place="fridge", **fields)

    def cleaned(self, how: str, hours_ago: float, what: str = "kit") -> str:
        return self.note("cleaned", hours_ago, what=what, how=how)

    def sanitising(self, **more: Any) -> Sanitising:
        return sanitising(self.store, now=self.now, **more)


def test_case_96_six_weeks_old_and_sanitised_25_hours_ago_is_overdue() -> None:
    """Check case 96: healthy, 6 weeks, parts cleaned after each use, sanitised 25 h ago: daily is overdue."""
    house = House(born="2026-12-23")
    house.cleaned("sanitised", 25)
    house.expressed(2)
    house.cleaned("washed", 1.5)
    found = house.sanitising()
    assert found.cadence == "daily" and found.due_at == NOW - HOUR and found.overdue(NOW)
    assert WIC in found.source and found.mark == "seen"


def test_case_97_ten_weeks_is_daily_by_the_text_that_was_seen_and_the_other_stands_beside_it() -> None:
    """Check case 97: daily under "<3 months" (seen), not forced under "<2 months" (memory); it says which counts."""
    house = House(born="2026-11-25")
    found = house.sanitising()
    assert found.cadence == "daily" and "3 months" in found.says and found.mark == "seen" and WIC in found.source
    others = kit.beside(house.store, now=NOW)
    assert [one.mark for one in others if "2 months" in one.says and "CDC text" in one.says] == ["memory"]


def test_case_98_born_early_is_daily_at_eight_months_too() -> None:
    house = House(born="2026-05-20")
    found = house.sanitising(risk={"Mira"})
    assert found.cadence == "daily" and CRONOBACTER in found.source
    assert house.sanitising().cadence == "optional"


def test_case_99_in_a_hospitals_care_the_unit_comes_first() -> None:
    found = House(born="2026-02-01", care="hospital").sanitising()
    assert found.unit and found.cadence == "daily" and "unit" in found.says
    assert not House().sanitising().unit


@pytest.mark.parametrize(
    ("guideline", "born", "cadence", "source"),
    [
        ("bfn", "2026-12-23", "every_use", UK),
        ("bfn", "2025-12-23", "every_use", UK),
        ("healthlinkbc", "2026-12-23", "every_use", CANADA),
        # Until 4 months: on 3 February, born on 4 October not yet, born on 3 October so.
        ("healthlinkbc", "2026-10-04", "every_use", CANADA),
        ("healthlinkbc", "2026-10-03", "optional", CANADA),
        # Under 3 months: born on 4 November still, on 3 November no more.
        ("cdc", "2026-11-04", "daily", WIC),
        ("cdc", "2026-11-03", "optional", WIC),
        ("nhmrc", "2026-12-23", "daily", WIC),
        ("abm", "2026-12-23", "daily", WIC),
    ],
)
def test_the_guideline_in_force_decides_where_it_has_a_cadence(
    guideline: str, born: str, cadence: str, source: str
) -> None:
    """Storage guidelines 4.5 and disagreement 18; ages by calendar months."""
    found = House(guideline=guideline, born=born).sanitising()
    assert (found.cadence, source in found.source) == (cadence, True)


@pytest.mark.parametrize(
    ("born", "at", "young"),
    [
        # A month's end is clamped: three months after 30 November is 28 February, at that day's beginning.
        ("2026-11-30", "2027-02-27T23:59:59+00:00", True),
        ("2026-11-30", "2027-02-28T00:00:00+00:00", False),
        # The day of birth begins by the household's clock, also over a change of the clocks.
        ("2026-12-28", "2027-03-27T23:59:59-00:00", True),
        ("2026-12-28", "2027-03-28T00:00:00+00:00", False),
    ],
)
def test_three_months_end_at_the_beginning_of_the_calendar_day(born: str, at: str, young: bool) -> None:
    house = House(born=born, zone="Europe/Lisbon", now=parse_instant(at.replace("-00:00", "+00:00")))
    assert (house.sanitising().cadence == "daily") is young


def test_a_day_is_24_hours_also_where_the_clocks_change() -> None:
    """Lisbon, clocks forward on 28 March 2027: sanitised at 20:00, due at 21:00 by the clock."""
    house = House(born="2027-02-20", zone="Europe/Lisbon", now=parse_instant("2027-03-28T21:00:00+01:00"))
    house.note("cleaned", 0, at="2027-03-27T20:00:00+00:00", what="kit", how="sanitised")
    house.expressed(3)
    assert house.sanitising().due_at == house.now and not house.sanitising().overdue(house.now)
    assert house.sanitising().overdue(house.now + MINUTE)


def test_the_strictest_child_counts_and_is_named() -> None:
    house = House(born="2025-02-01")
    house.note("child", 1, child="Noa", born="2027-01-10", care="home")
    found = house.sanitising()
    assert (found.child, found.cadence) == ("Noa", "daily")


def test_without_a_child_it_counts_as_for_a_young_one() -> None:
    found = House(born=None).sanitising()
    assert (found.cadence, found.child, found.mark) == ("daily", "", "ours")


def test_a_figure_from_memory_never_decides() -> None:
    data = tomllib.loads(files("thawline.services").joinpath("kit.toml").read_text())
    assert all(row["mark"] in ("seen", "second-hand", "derived") for row in data["cadence"])
    lines = [*data["cadence"], *data["beside"], *(one for part in data["steps"].values() for one in part)]
    assert {row["mark"] for row in lines} <= {*MARKS, "derived"} and {row["source"] for row in lines} <= {
        *data["sources"]
    }
    assert {one for row in lines for one in row.get("guidelines", ())} <= {*shipped_ids()}


def test_where_every_use_counts_it_is_due_from_the_first_use_on() -> None:
    house = House(guideline="bfn")
    house.cleaned("sanitised", 30)
    assert house.sanitising().due_at is None
    house.expressed(6, minutes=30)
    house.expressed(2)
    found = house.sanitising()
    assert found.due_at == NOW - 6 * HOUR + 30 * MINUTE and found.overdue(NOW)
    house.cleaned("sanitised", 1)
    assert house.sanitising().due_at is None and not house.sanitising().overdue(NOW)


def test_a_kit_that_lies_unused_is_not_called_overdue() -> None:
    house = House()
    house.expressed(60)
    house.cleaned("sanitised", 50)
    assert not house.sanitising().overdue(NOW)
    house.expressed(1)
    assert house.sanitising().overdue(NOW)


def test_used_since_it_was_washed_is_overdue_and_sanitised_counts_as_washed() -> None:
    house = House()
    assert not washing(house.store, now=NOW).overdue
    house.expressed(3, minutes=20)
    assert washing(house.store, now=NOW).overdue
    # Noted as washed while the session ran: that was another use.
    house.cleaned("washed", 2.9)
    assert washing(house.store, now=NOW).overdue
    house.cleaned("sanitised", 1)
    assert washing(house.store, now=NOW) == (NOW - HOUR, NOW - 3 * HOUR + 20 * MINUTE)


def test_a_session_is_over_when_it_is_noted_whatever_its_minutes_say() -> None:
    """A minute is the least that is noted: the kit may be washed sooner."""
    house = House()
    house.expressed(0, minutes=1)
    house.now += 10
    house.cleaned("washed", 0)
    assert not washing(house.store, now=house.now).overdue


def test_a_session_of_which_only_the_day_is_known_was_before_it_was_noted() -> None:
    house = House()
    house.expressed(0, at="2027-02-03")
    assert washing(house.store, now=NOW).used_at == NOW
    assert not washing(house.store, now=day_start("2027-02-03", house.zone) - 1).overdue


def test_what_was_taken_back_does_not_count_and_restored_counts_again() -> None:
    house = House()
    house.cleaned("sanitised", 20)
    last = house.cleaned("sanitised", 2)
    void = house.note("voided", 1, event=last)
    assert house.sanitising().last_at == NOW - 20 * HOUR
    house.note("voided", 0.5, event=void)
    assert house.sanitising().last_at == NOW - 2 * HOUR
    use = house.expressed(1)
    assert house.sanitising().used
    house.note("voided", 0, event=use)
    assert not house.sanitising().used


def test_the_basin_is_due_after_three_days_which_is_ours() -> None:
    """The text says every few days, without a number."""
    house = House()
    assert basin(house.store, now=NOW).due_at is None
    house.cleaned("washed", 10, what="basin")
    house.cleaned("washed", 1)
    found = basin(house.store, now=NOW)
    assert found.due_at == NOW - 10 * HOUR + 3 * DAY and found.line.mark == "ours"


def test_two_minutes_of_boiling_stand_under_canada_alone() -> None:
    says = [one.says for one in steps("sanitise", House(guideline="healthlinkbc").store, now=NOW)]
    assert any("2 minutes" in one for one in says)
    assert not any("2 minutes" in one.says for one in steps("sanitise", House().store, now=NOW))


PASTS = st.lists(st.tuples(st.sampled_from(["use", "washed", "sanitised"]), st.integers(0, 60)), max_size=8)


@given(PASTS, st.sampled_from(["cdc", "bfn", "healthlinkbc"]))
def test_any_past_is_counted_as_a_plain_reading_of_it_says(past: list[tuple[str, int]], guideline: str) -> None:
    """Hours before now, each told to a plain reading: the latest of each, and what came after."""
    house = House(guideline=guideline)
    for kind, hours in past:
        _ = house.expressed(hours) if kind == "use" else house.cleaned(kind, hours)
    uses = [NOW - hours * HOUR for kind, hours in past if kind == "use"]
    sanitised = max((NOW - hours * HOUR for kind, hours in past if kind == "sanitised"), default=None)
    washed = max((NOW - hours * HOUR for kind, hours in past if kind != "use"), default=None)
    since = [at for at in uses if sanitised is None or at > sanitised]
    found = house.sanitising()
    assert (found.last_at, found.used) == (sanitised, bool(since))
    if sanitised is None:
        assert found.due_at == max(uses, default=None)
    else:
        assert found.due_at == (sanitised + DAY if guideline == "cdc" else min(since, default=None))
    assert washing(house.store, now=NOW) == (washed, max(uses, default=None))


@given(PASTS, st.integers(1, 5000))
def test_sanitising_once_more_never_brings_the_next_time_nearer(past: list[tuple[str, int]], days: int) -> None:
    house = House(born=written(NOW - days * DAY, zone_named("UTC"))[:10])
    for kind, hours in past:
        _ = house.expressed(hours + 1) if kind == "use" else house.cleaned(kind, hours + 1)
    before = house.sanitising()
    house.cleaned("sanitised", 0)
    after = house.sanitising()
    assert not after.overdue(NOW) and not after.used
    assert after.due_at is None or before.due_at is None or after.due_at >= before.due_at
