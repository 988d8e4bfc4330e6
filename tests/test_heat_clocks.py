"""The physics in the clocks: bounds help, and no deadline is later than its clock can physically have started.

What is physically possible is worked out here apart from the code under test: the conduction solver and the lumped
exponential, run at the quick (or slow) end of everything that is not known, over stays read off the story itself.
Sources of the limits: the shipped file of the CDC's guideline. The intervals are ours (thermal model, safe side).
"""

from __future__ import annotations

import json
import math
from functools import cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thawline.core import guideline
from thawline.core.replay import Replay, run
from thawline.core.times import HOUR, MINUTE, parse_instant
from thawline.core.verdict import Verdict
from thawline.engines.physics import solver
from thawline.engines.physics.milk import Recipe, milk
from thawline.services.ledger_bounds import of_ledger

START = parse_instant("2027-03-01T06:00:00Z")
UTC = ZoneInfo("UTC")
CDC = {row.id: row for rows in guideline.shipped("cdc").rows.values() for row in rows}
FRESH, THAWED, ROOM = (
    CDC[f"cdc.{name}"].allows.after(0, UTC) for name in ("fresh_refrigerator", "thawed_cold", "brought_to_room")
)
BRIEF = guideline.house()[0].ice
PLACES = {"room": "room", "fridge": "refrigerator", "freezer": "freezer"}
Json = dict[str, Any]


class Stay(NamedTuple):
    place: str
    hours: float
    c: float | None


class Story(NamedTuple):
    """One measured container: expressed into the first place, then moved on; each place is read as it comes there."""

    flat: bool
    mm: float
    ml: float
    stays: tuple[Stay, ...]

    def lines(self) -> list[bytes]:
        vessel = (
            {"shape": "flat", "thickness_mm": self.mm} if self.flat else {"shape": "upright", "diameter_mm": self.mm}
        )
        events: list[Json] = [{"id": "h", "at": written(0), "kind": "household", "zone": "UTC", "guideline": "cdc"}]
        events += [
            {"id": name, "at": written(0), "kind": "place", "place": name, "is": kind} for name, kind in PLACES.items()
        ]
        hours = 0.0
        for number, stay in enumerate(self.stays):
            if stay.c is not None:
                # Read as it comes there, and in a long stay again before it leaves.
                at = [hours, *([hours + stay.hours - 0.1] if stay.hours > 6 else [])]
                events += [reading(f"m{number}{row}", one, stay.place, stay.c) for row, one in enumerate(at)]
            if number == 0:
                into = [{"container": "A", "ml": self.ml}]
                first = {"id": "x", "at": written(0), "kind": "expressed", "into": into, "place": stay.place}
                events.append({**first, "vessel": vessel})
            else:
                moved = {"id": f"v{number}", "at": written(hours), "kind": "moved", "container": "A"}
                events.append({**moved, "to": stay.place})
            hours += stay.hours
        return [json.dumps(event).encode() for event in events]

    @property
    def places(self) -> list[str]:
        return [stay.place for stay in self.stays]

    @property
    def hours(self) -> float:
        return sum(stay.hours for stay in self.stays)


def reading(name: str, hours: float, place: str, c: float) -> Json:
    return {"id": name, "at": written(hours), "kind": "measured", "place": place, "temp_c": c}


def instant(hours: float) -> int:
    return START + round(hours * 60) * MINUTE


def written(hours: float) -> str:
    minutes = round(hours * 60)
    day, rest = divmod(6 * 60 + minutes, 24 * 60)
    return f"2027-03-{1 + day:02}T{rest // 60:02}:{rest % 60:02}:00Z"


def judged(story: Story, *, bounded: bool = True, at_h: float | None = None) -> Replay:
    now = instant(story.hours if at_h is None else at_h)
    lines = story.lines()
    return run(lines, now=now, bounds=of_ledger(lines, now=now) if bounded else None, everything=True)


def verdict_of(story: Story, *, bounded: bool = True, at_h: float | None = None) -> Verdict:
    return judged(story, bounded=bounded, at_h=at_h).verdicts[0]


# What is physically possible


@cache
def fastest_thaw_h(flat: bool, mm: float, ml: float, air_c: float, freezer_c: float) -> float:
    """The soonest the last ice can be gone: thin, rich, in moving air, all around, by the solver."""
    rich = milk(Recipe(water=0.835, fat=0.080, protein=0.011, carbohydrate=0.072, ash=0.002), -0.60)
    radius_mm = mm * 0.9 / 2
    u = 15.0
    if not flat:
        # Both ends as open as the side: as if that much more heat came through the side.
        fill_mm = 4e3 * ml / (math.pi * mm**2)
        u *= 1 + radius_mm / fill_mm
    found = solver.run(
        rich, shape="slab" if flat else "cylinder", half_mm=radius_mm, u=u, air_c=air_c, start_c=freezer_c,
        end="thawed", cells=20, step_s=120, most_h=240,
    )  # fmt: skip
    return found.time_h


def fastest_warm_h(flat: bool, mm: float, ml: float, room_c: float, fridge_c: float) -> float:
    """The soonest it can be at 15 C as a whole: lumped, thin, in moving air, all around (sensible heat only)."""
    if room_c <= 15:
        return math.inf
    half_m = mm * 0.9 / 2 / 1000
    depth_m = half_m if flat else 1 / (2 / half_m + 2 / (4e-6 * ml / (math.pi * (mm / 1000) ** 2)))
    # Rich milk holds least: 3.6 kJ/(kg K), a little under the mixing rule's 3.71.
    tau_h = 1030 * 3600 * depth_m / 15 / 3600
    return tau_h * math.log((room_c - fridge_c) / (room_c - 15))


@cache
def slowest_solid_h(flat: bool, mm: float, air_c: float) -> float:
    """The latest it can be solid to the middle (-5 C): thick, lean, still air, one face, from 35 C, by the solver."""
    lean = milk(Recipe(water=0.895, fat=0.020, protein=0.011, carbohydrate=0.072, ash=0.002), -0.60)
    wall = 0.0005 if flat else 0.0125
    found = solver.run(
        lean, shape="slab" if flat else "cylinder", half_mm=mm * 1.1 / (1 if flat else 2), u=1 / (1 / 5.0 + wall),
        air_c=air_c, start_c=35.0, end="solid", cells=20, step_s=240, most_h=240,
    )  # fmt: skip
    return found.time_h


def latest_allowed(story: Story) -> int:
    """The latest use-by that any clock of the CDC's allows, each counted from when it can first have started."""
    ends = []
    sure = False
    hours = 0.0
    for before, stay, after in zip((None, *story.stays), story.stays, (*story.stays[1:], None), strict=False):
        if stay.place == "freezer":
            sure = sure or stay.hours >= slowest_solid_h(story.flat, story.mm, -15.0 if stay.c is None else stay.c)
        elif before is not None and before.place == "freezer":
            if after is not None and after.place == "freezer" and stay.hours <= BRIEF / HOUR:
                # So short a time out is the house's rule, not the physics': it has not thawed.
                hours += stay.hours
                continue
            ends.append(instant(hours) + round(thaw_starts_h(story, before, stay, sure=sure) * HOUR) + THAWED)
        elif before is not None and before.place == "fridge" and before.hours >= 14 and "freezer" not in story.places:
            warm_h = warm_starts_h(story, before, stay)
            ends += [instant(hours) + round(warm_h * HOUR) + ROOM] if warm_h <= stay.hours else []
        hours += stay.hours
    if not sure and story.stays[-1].place != "freezer":
        # Perhaps none of it ever froze: then its fresh clock has run since it was expressed.
        ends.append(START + FRESH)
    return min(ends, default=1 << 62)


def thaw_starts_h(story: Story, before: Stay, stay: Stay, *, sure: bool) -> float:
    """The soonest, after leaving the freezer, that the last ice can be gone; what never certainly froze has none."""
    if not sure:
        return 0.0
    if stay.place == "room":
        return 0.0
    air_c = 6.0 if stay.c is None else stay.c
    thaw_h = fastest_thaw_h(story.flat, story.mm, story.ml, air_c, -15.0 if before.c is None else before.c)
    # Where it leaves before, the rest of it may go at once; in the last stay it lies on.
    return thaw_h if stay is story.stays[-1] else min(thaw_h, stay.hours)


def warm_starts_h(story: Story, before: Stay, stay: Stay) -> float:
    """The soonest that milk from a refrigerator can be at 15 C; what nobody read was as cold as is assumed."""
    room_c, fridge_c = 18.0 if stay.c is None else stay.c, 2.0 if before.c is None else before.c
    return fastest_warm_h(story.flat, story.mm, story.ml, room_c, fridge_c)


HOURS = st.sampled_from((0.1, 0.25, 0.4, 0.7, 1.5, 3.0, 6.0, 9.0, 14.0, 20.0, 30.0))
READINGS = {"room": (None, 18.0, 22.0, 25.0), "fridge": (None, 1.0, 3.0, 4.0), "freezer": (None, -20.0, -18.0)}


@st.composite
def stories(draw: st.DrawFn) -> Story:
    flat = draw(st.booleans())
    mm = draw(st.sampled_from((8.0, 15.0, 25.0) if flat else (30.0, 50.0)))
    stays: list[Stay] = []
    for _ in range(draw(st.integers(1, 5))):
        near = [place for place in PLACES if not stays or place != stays[-1].place]
        place = draw(st.sampled_from(near))
        stays.append(Stay(place, draw(HOURS), draw(st.sampled_from(READINGS[place]))))
    return Story(flat, mm, draw(st.sampled_from((60.0, 120.0))), tuple(stays))


@pytest.mark.slow
@given(story=stories())
def test_no_deadline_is_later_than_its_clock_can_physically_have_started(story: Story) -> None:
    for bounded in (True, False):
        found = verdict_of(story, bounded=bounded)
        assert found.use_by is not None
        if found.form != "frozen":
            assert found.use_by <= latest_allowed(story)


@pytest.mark.slow
@given(story=stories())
def test_a_bound_of_a_thaw_lies_between_leaving_the_freezer_and_the_soonest_possible_thaw(story: Story) -> None:
    lines = story.lines()
    hours = 0.0
    found = of_ledger(lines, now=instant(story.hours))
    for before, stay in zip((None, *story.stays), story.stays, strict=False):
        early = found.thawed_early.get(("A", instant(hours)))
        if early is not None and before is not None and stay.c is not None:
            thaw_h = fastest_thaw_h(story.flat, story.mm, story.ml, stay.c, -15.0 if before.c is None else before.c)
            assert instant(hours) <= early <= instant(hours) + round(thaw_h * HOUR)
        hours += stay.hours


# What the bounds are good for, and what they ask for

BAG = Story(True, 15.0, 120.0, (Stay("room", 0.25, 21.0), Stay("freezer", 72.0, -18.0), Stay("fridge", 6.0, 3.0)))


def hours_of(at: int | None) -> float:
    assert at is not None
    return (at - START) / HOUR


def without_reading(story: Story, place: str) -> Story:
    stays = tuple(stay._replace(c=None) if stay.place == place else stay for stay in story.stays)
    return story._replace(stays=stays)


def test_a_measured_bag_in_a_logged_refrigerator_counts_from_the_early_thaw() -> None:
    strict, found = verdict_of(BAG, bounded=False), verdict_of(BAG)
    assert hours_of(strict.use_by) == 72.25 + 24
    # Thermal model, safety corner: about a third of the likely 18 h in a refrigerator at 3 C.
    assert 72.25 + 24 + 3 <= hours_of(found.use_by) <= 72.25 + 24 + 9
    assert found.estimated
    assert "early bound" in found.why[0].says


def test_without_a_reading_of_the_refrigerator_the_strict_start_stands() -> None:
    assert verdict_of(without_reading(BAG, "fridge")).use_by == verdict_of(BAG, bounded=False).use_by


def test_a_reading_more_than_a_day_old_speaks_for_nothing() -> None:
    lines = [json.loads(line) for line in without_reading(BAG, "fridge").lines()]
    lines.append({"id": "old", "at": written(72.25 - 24.5), "kind": "measured", "place": "fridge", "temp_c": 3})
    assert not of_ledger([json.dumps(line).encode() for line in lines], now=instant(80)).thawed_early
    lines[-1]["at"] = written(72.25 - 23.5)
    assert of_ledger([json.dumps(line).encode() for line in lines], now=instant(80)).thawed_early


def test_without_a_measured_thickness_there_are_no_bounds() -> None:
    lines = [line.replace(b', "thickness_mm": 15.0', b"") for line in BAG.lines()]
    found = of_ledger(lines, now=instant(80))
    assert not (found.thawed_early or found.solid_late or found.warm_early)


def test_a_later_warm_reading_brings_the_bound_forward() -> None:
    def with_reading(c: float) -> int:
        more = {"id": "w", "at": written(73), "kind": "measured", "place": "fridge", "temp_c": c}
        lines = [*BAG.lines(), json.dumps(more).encode()]
        return of_ledger(lines, now=instant(78)).thawed_early["A", instant(72.25)]

    assert (
        with_reading(4.0)
        < with_reading(3.0)
        == of_ledger(BAG.lines(), now=instant(78)).thawed_early["A", instant(72.25)]
    )


def test_milk_taken_out_of_the_refrigerator_before_it_can_have_thawed_counts_from_then_at_the_latest() -> None:
    story = BAG._replace(stays=(*BAG.stays[:2], Stay("fridge", 1.0, 3.0), Stay("room", 0.1, 21.0)))
    assert of_ledger(story.lines(), now=instant(75)).thawed_early["A", instant(72.25)] == instant(73.25)


def test_a_bag_taken_out_before_it_is_surely_solid_has_no_bound() -> None:
    story = BAG._replace(stays=(BAG.stays[0], Stay("freezer", 6.0, -18.0), Stay("fridge", 6.0, 3.0)))
    found = of_ledger(story.lines(), now=instant(12))
    assert not found.thawed_early
    # In the freezer from 0.25 h; the likely time to solid is under 5 h, the late one far beyond the 6 h.
    assert found.solid_late["A", instant(0.25)] > instant(6.25)


def test_bags_of_one_session_count_as_lying_on_each_other() -> None:
    lines = [json.loads(line) for line in BAG.lines()]
    two = [dict(line) for line in lines]
    for line in two:
        if line["kind"] == "expressed":
            line["into"] = [{"container": name, "ml": 120.0} for name in ("A", "B")]
    two.append({"id": "b1", "at": written(0.25), "kind": "moved", "container": "B", "to": "freezer"})

    def solid(events: list[Json]) -> int:
        return of_ledger([json.dumps(one).encode() for one in events], now=instant(80)).solid_late["A", instant(0.25)]

    assert solid(two) > solid(lines)


CHILLED = Story(True, 15.0, 120.0, (Stay("fridge", 30.0, 4.0), Stay("room", 0.4, 20.0), Stay("fridge", 1.0, 4.0)))


def test_a_short_time_in_a_cool_measured_room_starts_no_clock_where_the_milk_stays_cold() -> None:
    # 24 min are over the house's 20 min; a thick bottle in a room of 18 C is still far from 15 C.
    bottle = Story(False, 50.0, 120.0, (Stay("fridge", 30.0, 4.0), Stay("room", 0.4, 18.0), Stay("fridge", 1.0, 4.0)))
    assert hours_of(verdict_of(bottle, bounded=False).use_by) == 32
    assert hours_of(verdict_of(bottle).use_by) == 96


def test_a_thin_bag_in_a_warm_room_starts_its_clock_before_twenty_minutes() -> None:
    thin = Story(True, 5.0, 60.0, (Stay("fridge", 30.0, 4.0), Stay("room", 0.25, 25.0), Stay("fridge", 1.0, 4.0)))
    assert hours_of(verdict_of(thin, bounded=False).use_by) == 96
    assert hours_of(verdict_of(thin).use_by) == 32


def test_milk_not_surely_chilled_gets_no_bound_of_warming() -> None:
    soon = CHILLED._replace(stays=(Stay("fridge", 0.5, 4.0), *CHILLED.stays[1:]))
    assert not of_ledger(soon.lines(), now=instant(3)).warm_early
    assert of_ledger(CHILLED.lines(), now=instant(33)).warm_early


def test_a_power_cut_in_a_hot_room_ends_the_cold_sooner_than_published() -> None:
    def told(c: float) -> list[bytes]:
        events: list[Json] = [
            {"id": "r", "at": written(1), "kind": "measured", "place": "room", "temp_c": c},
            {"id": "f", "at": written(1), "kind": "measured", "place": "fridge", "temp_c": 4},
            {"id": "l", "at": written(2), "kind": "power_lost", "place": "fridge"},
        ]
        story = Story(True, 15.0, 120.0, (Stay("fridge", 20.0, None),))
        return [*story.lines(), *(json.dumps(event).encode() for event in events)]

    now = instant(3)
    assert not of_ledger(told(22.0), now=now).cold_early
    hot = of_ledger(told(33.0), now=now).cold_early["fridge", instant(2)]
    assert instant(2) < hot < instant(6)
    for c, until in ((22.0, instant(6)), (33.0, hot)):
        bounds = of_ledger(told(c), now=now)
        held = run(told(c), now=until, bounds=bounds).verdicts[0]
        over = run(told(c), now=until + MINUTE, bounds=bounds).verdicts[0]
        assert (held.standing, over.standing) == ("fine", "outside")


# What a family saw


def watched(gone_h: float) -> list[bytes]:
    """Three thaws of bags as BAG in one refrigerator, the ice gone after so many hours; then a fourth bag."""
    found = []
    for number, name in enumerate("PQRA"):
        base = number * 96
        lines = [json.loads(line) for line in BAG.lines()]
        for event in lines:
            if event["kind"] in ("household", "place"):
                if number:
                    continue
                found.append(event)
                continue
            hours = (parse_instant(event["at"]) - START) / HOUR
            event = {**event, "id": f"{event['id']}{name}", "at": written(base + hours)}  # noqa: PLW2901
            if event["kind"] == "expressed":
                event["into"] = [{"container": name, "ml": 120.0}]
            if event["kind"] == "moved":
                event["container"] = name
            found.append(event)
        if name != "A":
            out = base + 72.25
            for hours, ice in ((gone_h - 1, True), (gone_h, False)):
                found.append(
                    {
                        "id": f"s{name}{ice}",
                        "at": written(out + hours),
                        "kind": "thaw_seen",
                        "container": name,
                        "ice": ice,
                    }
                )
    return [json.dumps(event).encode() for event in found]


def bound_of_the_fourth(lines: list[bytes]) -> float:
    start = instant(3 * 96 + 72.25)
    return (of_ledger(lines, now=instant(400)).thawed_early["A", start] - start) / HOUR


def test_thaws_that_a_family_watched_move_the_bound_towards_what_they_saw() -> None:
    unseen = [line for line in watched(19) if b"thaw_seen" not in line]
    usual = bound_of_the_fourth(unseen)
    assert usual < bound_of_the_fourth(watched(19)) < 19
    assert bound_of_the_fourth(watched(9)) < bound_of_the_fourth(watched(19))
