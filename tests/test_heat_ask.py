"""What a household asks of milk in air and water: three answers, the safe way round at both ends.

"Own computation": figures worked out apart from this project's code, by an earlier program of the same kind.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thawline.engines.physics import ask, assumed, numbers, quick
from thawline.engines.physics.case import Case, Kind
from thawline.engines.physics.spread import INFINITE, Air, Range, Triple, Vessel

exactly = Range.exactly
BARE = exactly(0.0)
FROZEN = exactly(-18.0)
BAG = assumed.vessel("flat", 120, exactly(15), faces=2, wall=BARE)
PLAIN = Air(exactly(4), exactly(8))


def bottle(faces: float, wall: Range = BARE) -> Vessel:
    """120 mL in a bottle of 50 mm."""
    return assumed.vessel("upright", 120, exactly(50), faces=faces, wall=wall)


def ordered(triple: Triple) -> bool:
    return triple.early_h <= triple.nominal_h <= triple.late_h


# Worked values


@pytest.mark.parametrize(
    ("vessel", "hours"),
    [(BAG, 14.98), (bottle(1), 26.70), (bottle(1.25), 25.39), (bottle(1.5), 24.24), (bottle(2), 19.93)],
)
def test_thaw_in_a_refrigerator(vessel: Vessel, hours: float) -> None:
    # Own computation, 4 C, film 8, from -18 C: bag of 15 mm; bottle by its side, with half a top, a top, both ends.
    assert ask.thaw(vessel, PLAIN, start_c=FROZEN).nominal_h == pytest.approx(hours, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(("vessel", "hours"), [(BAG, 14.98), (bottle(1.5), 24.24), (bottle(2), 19.93)])
def test_thaw_in_a_refrigerator_by_the_solver(vessel: Vessel, hours: float) -> None:
    assert ask.thaw(vessel, PLAIN, start_c=FROZEN, exact=True).nominal_h == pytest.approx(hours, rel=0.005)


@pytest.mark.parametrize(("vessel", "hours"), [(BAG, 5.33), (bottle(1), 9.12), (bottle(1.5), 7.78), (bottle(2), 6.56)])
def test_freezing_hard(vessel: Vessel, hours: float) -> None:
    # Own computation, from 4 C in air of -18 C, film 8, to -10 C at the centre.
    frozen = ask.freeze(vessel, Air(FROZEN, exactly(8)), start_c=exactly(4))
    assert frozen.hard.nominal_h == pytest.approx(hours, rel=0.01)
    assert frozen.solid.nominal_h < frozen.hard.nominal_h


def test_freezing_solid_comes_at_the_end_of_the_plateau() -> None:
    # Own computation: 4.67 h for the bag, 8.06 h for the bottle's side alone.
    air = Air(FROZEN, exactly(8))
    assert ask.freeze(BAG, air, start_c=exactly(4)).solid.nominal_h == pytest.approx(4.67, rel=0.01)
    assert ask.freeze(bottle(1), air, start_c=exactly(4)).solid.nominal_h == pytest.approx(8.06, rel=0.01)


def test_the_safety_corner_and_the_wide_late_one() -> None:
    # Own computation: 4.48 h x 0.9 (film 15, 6 C, 12 mm, fatty, freezing at -0.60 C), 48.6 h x 1.1 (5, 2 C, 18 mm).
    bag = assumed.vessel("flat", 120, 15, faces=2, wall=BARE)
    takes = ask.thaw(bag, assumed.air("refrigerator"), start_c=exactly(-18))
    assert takes.early_h == pytest.approx(4.48 * 0.9, rel=0.02)
    assert takes.late_h == pytest.approx(48.6 * 1.1, rel=0.04)


def test_a_solid_shelf_takes_twice_as_long() -> None:
    # Own computation: 31 h for the bag of 15 mm by its upper face alone, against 15.0 h.
    shelf = BAG._replace(faces=exactly(1))
    assert ask.thaw(shelf, PLAIN, start_c=FROZEN).nominal_h == pytest.approx(31, rel=0.02)


@pytest.mark.parametrize(
    ("film", "to_c", "hours"), [(12, 5, 2.4), (8, 5, 3.6), (5, 5, 5.8), (12, 6, 2.0), (8, 6, 2.9), (5, 6, 4.6)]
)
def test_cooling_swirled(film: float, to_c: float, hours: float) -> None:
    # Own computation, bag from 37 C in 4 C air to within 1 and 2 K of it (the earlier program printed 5.7 for 5.8).
    takes = ask.cool(BAG, Air(exactly(4), exactly(film)), start_c=exactly(37), to_c=to_c)
    assert takes.nominal_h == pytest.approx(hours, abs=0.06)
    assert ordered(takes)


def test_cooling_still_is_the_late_bound() -> None:
    # Own computation, 37 to 5 C by conduction alone: 3.79 h for the bag, 6.78 h for the bottle's side.
    usual = {"bag": 3.79, "bottle": 6.78}
    for name, vessel in (("bag", BAG), ("bottle", bottle(1))):
        takes = ask.cool(vessel, PLAIN, start_c=exactly(37), to_c=5)
        assert usual[name] * 1.1 <= takes.late_h <= usual[name] * 1.1 * 1.06
        assert takes.nominal_h < usual[name]


@pytest.mark.parametrize(("vessel", "minutes"), [(BAG, 25), (bottle(2), 30)])
def test_warming_in_a_room(vessel: Vessel, minutes: float) -> None:
    # Own computation, 4 to 10 C in a room of 22 C, swirled.
    takes = ask.warm_up(vessel, Air(exactly(22), exactly(8)), start_c=exactly(4), to_c=10)
    assert takes.nominal_h * 60 == pytest.approx(minutes, abs=1)


@pytest.mark.parametrize("air_c", [-11, -18, -30])
@pytest.mark.parametrize("freezing_c", [-0.60, -0.55, -0.50])
@pytest.mark.parametrize("rich", ["lean", "usual", "fatty"])
def test_freezing_bounds_hold_for_every_milk(
    air_c: float, freezing_c: float, rich: Literal["lean", "usual", "fatty"]
) -> None:
    frozen = ask.freeze(BAG, Air(exactly(air_c), exactly(8)), start_c=exactly(20))
    plain = Case(flat=True, half_m=0.0075, u=8, fill_m=INFINITE, top=0, base=0, milk=Kind(rich, freezing_c))
    for question, bounds in (("solid", frozen.solid), ("hard", frozen.hard)):
        hours = quick.freeze_h(plain, air_c, 20, question)
        assert bounds.early_h <= hours * 0.9 * 0.9925
        assert bounds.late_h >= hours * 1.1 * 1.0075


# What never happens is said so


@pytest.mark.parametrize("low", [-2.0, -0.5])
def test_air_that_may_be_too_cold_may_never_thaw_it(low: float) -> None:
    takes = ask.thaw(BAG, Air(Range(low, 2, 4), exactly(8)))
    assert math.isinf(takes.late_h)
    assert takes.early_h < takes.nominal_h < INFINITE


def test_a_freezer_never_thaws_milk() -> None:
    assert ask.thaw(BAG, assumed.air("freezer")) == (INFINITE, INFINITE, INFINITE)


def test_a_refrigerator_never_freezes_milk() -> None:
    frozen = ask.freeze(BAG, assumed.air("refrigerator"), start_c=exactly(4))
    assert frozen.solid == frozen.hard == (INFINITE, INFINITE, INFINITE)


def test_air_between_solid_and_hard_freezes_it_solid_only() -> None:
    frozen = ask.freeze(BAG, Air(exactly(-8), exactly(8)), start_c=exactly(4))
    assert frozen.solid.late_h < INFINITE
    assert math.isinf(frozen.hard.early_h)


def test_milk_never_gets_as_cold_as_the_air() -> None:
    assert math.isinf(ask.cool(BAG, PLAIN, start_c=exactly(37), to_c=4).early_h)
    doubtful = ask.cool(BAG, Air(Range(2, 4, 6), exactly(8)), start_c=exactly(37), to_c=5)
    assert doubtful.nominal_h < math.inf
    assert math.isinf(doubtful.late_h)


def test_what_is_done_takes_no_time() -> None:
    assert ask.cool(BAG, PLAIN, start_c=exactly(4), to_c=6) == (0, 0, 0)
    assert ask.warm_up(BAG, Air(exactly(22), exactly(8)), start_c=exactly(16)) == (0, 0, 0)
    assert ask.thaw(BAG, PLAIN, start_c=exactly(4)) == (0, 0, 0)


def test_cold_air_never_warms_milk() -> None:
    assert math.isinf(ask.warm_up(BAG, PLAIN, start_c=exactly(4)).early_h)


# When to begin


def test_the_latest_moment_to_move_uses_the_late_bound() -> None:
    by = ask.thaw_by(40, BAG, PLAIN, start_c=FROZEN)
    assert by.at_h == pytest.approx(40 - by.takes.late_h)
    assert ask.thaw_by(5, BAG, PLAIN, start_c=FROZEN).at_h < 0


def test_where_it_may_not_thaw_no_moment_is_early_enough() -> None:
    assert ask.thaw_by(40, BAG, Air(Range(-1, 2, 4), exactly(8))).at_h == -math.inf


# A bowl of water


def bowl(vessel: Vessel, kg: float, start_c: float, *, to_c: float = 37, c: float = 40, loss: float = 0) -> ask.Bathed:
    return ask.bath(
        vessel, water_kg=exactly(kg), water_c=exactly(c), start_c=exactly(start_c), to_c=to_c, loss_w_k=loss
    )


@pytest.mark.parametrize(
    ("kg", "start_c", "water_c", "end_c"),
    [
        (0.5, -18, 40, 17.2), (1, -18, 40, 27.5), (2, -18, 40, 33.4), (3, -18, 40, 35.5),
        (0.5, 4, 40, 33.3), (1, 4, 40, 36.3), (2, 4, 40, 38.1), (3, 4, 40, 38.7),
        (0.5, -18, 20, 1.0), (1, -18, 20, 9.5), (2, -18, 20, 14.5), (3, -18, 20, 16.2),
    ],
)  # fmt: skip
def test_where_milk_and_water_settle(kg: float, start_c: float, water_c: float, end_c: float) -> None:
    # Own computation, 120 mL, nothing lost to the room.
    assert bowl(bottle(2), kg, start_c, c=water_c).settles_c.nominal == pytest.approx(end_c, abs=0.06)


@pytest.mark.parametrize(("start_c", "kg"), [(4, 1.26), (-18, 4.55)])
def test_how_much_water_is_enough(start_c: float, kg: float) -> None:
    # Own computation: the least water of 40 C that takes 120 mL to 37 C before losses.
    small = bowl(BAG, kg * 0.95, start_c)
    assert small.enough_kg == pytest.approx(kg, rel=0.003)
    assert not small.reaches
    assert bowl(BAG, kg * 1.05, start_c).reaches


def test_a_bowl_that_loses_heat_needs_more_water() -> None:
    losing = bowl(BAG, 1.0, 4, loss=1.0)
    assert 1.26 < losing.enough_kg < 3
    assert bowl(BAG, losing.enough_kg * 1.02, 4, loss=1.0).reaches
    assert not bowl(BAG, losing.enough_kg * 0.97, 4, loss=1.0).reaches


def test_advice_never_takes_water_warmer_than_40() -> None:
    hot = bowl(BAG, 1.0, 4, c=55)
    assert hot.too_warm
    assert hot.enough_kg == pytest.approx(1.26, rel=0.003)
    assert not bowl(BAG, 1.0, 4, c=40).too_warm


def test_no_water_of_30_makes_milk_37() -> None:
    cool = bowl(BAG, 5, 4, c=30)
    assert math.isinf(cool.enough_kg)
    assert cool.reached == (INFINITE, INFINITE, INFINITE)


@pytest.mark.parametrize(("vessel", "still_min", "swirled_min"), [("bag", 10.2, 3.8), ("bottle", 44.7, 6.4)])
def test_thawing_in_much_water(vessel: str, still_min: float, swirled_min: float) -> None:
    # Own computation, 40 C, film 250, no wall; the bottle by its side alone (swirled 6.4 min), an unending bath.
    container = BAG if vessel == "bag" else bottle(1)
    at = bowl(container, 500, -18)
    assert at.thawed is not None
    assert at.still_thawed is not None
    assert at.swirled_thawed is not None
    assert at.still_thawed.nominal_h * 60 == pytest.approx(still_min, rel=0.02)
    # A bottle's base is wet as well: 5.4 min between the side alone and all faces (4.5).
    expected = swirled_min if vessel == "bag" else 5.35
    assert at.swirled_thawed.nominal_h * 60 == pytest.approx(expected, rel=0.03)
    assert at.thawed == (at.swirled_thawed.early_h, at.swirled_thawed.nominal_h, at.still_thawed.late_h)


def test_warming_in_much_water() -> None:
    # Own computation, bag 4 to 37 C in 40 C: 11.8 min at the centre of still milk, 5.0 min swirled.
    at = bowl(BAG, 500, 4)
    assert at.thawed is None
    assert at.still_reached.nominal_h * 60 == pytest.approx(11.8, rel=0.02)
    assert at.swirled_reached.nominal_h * 60 == pytest.approx(5.0, rel=0.02)


def test_from_frozen_to_warm() -> None:
    # Own computation, bag in 40 C: 21.1 min still, 9.0 min swirled.
    at = bowl(BAG, 500, -18)
    assert at.still_reached.nominal_h * 60 == pytest.approx(21.1, rel=0.02)
    assert at.swirled_reached.nominal_h * 60 == pytest.approx(9.0, rel=0.02)


# What nobody said is taken from the data file


def test_not_measured_is_wider() -> None:
    air = assumed.air("refrigerator")
    loose = ask.thaw(assumed.vessel("flat", 120, 15, faces=2), air)
    tight = ask.thaw(assumed.vessel("flat", 120, 15, measured=True, faces=2), air)
    assert loose.early_h < tight.early_h
    assert tight.late_h < loose.late_h
    assert loose.nominal_h == tight.nominal_h


def test_planning_is_narrower_and_inside() -> None:
    wide = ask.thaw(assumed.vessel("flat", 120), assumed.air("refrigerator"))
    plan = ask.thaw(assumed.vessel("flat", 120, planning=True), assumed.air("refrigerator", planning=True))
    assert wide.early_h < plan.early_h
    assert plan.late_h < wide.late_h


def test_a_size_nobody_measured_follows_from_the_volume() -> None:
    # 120 mL: 80 cm2 a face make 15 mm; 1.22 times as high as wide makes 50 mm across.
    assert assumed.vessel("flat", 120).across_mm == pytest.approx((12, 15, 18))
    assert assumed.vessel("upright", 120).across_mm.nominal == pytest.approx(50, rel=0.001)
    assert not assumed.vessel("flat", 120, measured=True).measured


def test_a_temperature_somebody_read_is_nearly_known() -> None:
    assert assumed.air("refrigerator", 4.0).c == (3.5, 4.0, 4.5)


MARKS = set(numbers.MARKS)


def test_every_assumption_has_a_mark_and_a_source() -> None:
    def leaves(at: object) -> list[dict[str, object]]:
        if not isinstance(at, dict):
            return []
        if any(not isinstance(value, dict) for value in at.values()):
            return [at]
        return [leaf for value in at.values() for leaf in leaves(value)]

    for leaf in leaves(numbers.load("intervals")):
        assert leaf.get("mark") in MARKS, leaf
        assert leaf.get("source"), leaf
        if {"low", "value", "high"} <= leaf.keys():
            assert leaf["low"] <= leaf["value"] <= leaf["high"]  # type: ignore[operator]


# Nothing ever reverses


class Setting(NamedTuple):
    """One container in its air, with no doubt about anything."""

    shape: Literal["flat", "upright"]
    across: float
    faces: float
    film: float
    air_c: float
    start_c: float

    def vessel(self) -> Vessel:
        # The same height of milk however wide the bottle: narrower then is smaller all round.
        ml = 120.0 if self.shape == "flat" else math.pi / 4 * self.across**2 * 60 / 1000
        return assumed.vessel(self.shape, ml, exactly(self.across), faces=self.faces, wall=BARE)

    def air(self) -> Air:
        return Air(exactly(self.air_c), exactly(self.film))


def part(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def thaws(shape: Literal["flat", "upright"]) -> st.SearchStrategy[Setting]:
    wide = (5, 40) if shape == "flat" else (25, 90)
    return st.builds(
        Setting, st.just(shape), part(*wide), part(1, 2), part(3, 25), part(-0.3, 40), part(-30, -2)
    )  # fmt: skip


def freezes(shape: Literal["flat", "upright"]) -> st.SearchStrategy[Setting]:
    wide = (5, 40) if shape == "flat" else (25, 90)
    return st.builds(
        Setting, st.just(shape), part(*wide), part(1, 2), part(3, 25), part(-35, -10.5), part(1, 40)
    )  # fmt: skip


THAWS = st.one_of(thaws("flat"), thaws("upright"))
FREEZES = st.one_of(freezes("flat"), freezes("upright"))
SLIGHTLY = 1 + 1e-9


def quicker(one: Setting, change: str, by: float) -> Setting:
    """The same with one thing made quicker for thawing."""
    if change == "film":
        return one._replace(film=one.film * (1 + by))
    if change == "air":
        return one._replace(air_c=one.air_c + 5 * by)
    if change == "start":
        return one._replace(start_c=min(-1.5, one.start_c + 10 * by))
    if change == "thinner":
        return one._replace(across=one.across / (1 + by))
    return one._replace(faces=min(2.0, one.faces + by))


CHANGES = st.sampled_from(["film", "air", "start", "thinner", "faces"])


@given(one=THAWS, change=CHANGES, by=part(0.001, 1))
@settings(max_examples=300, deadline=None)
def test_thawing_never_gets_slower_by_what_helps(one: Setting, change: str, by: float) -> None:
    other = quicker(one, change, by)
    before = ask.thaw(one.vessel(), one.air(), start_c=exactly(one.start_c))
    after = ask.thaw(other.vessel(), other.air(), start_c=exactly(other.start_c))
    for was, now in zip(before, after, strict=True):
        assert now <= was * SLIGHTLY


@given(one=FREEZES, change=st.sampled_from(["film", "air", "start", "thinner", "faces"]), by=part(0.001, 1))
@settings(max_examples=300, deadline=None)
def test_freezing_never_gets_slower_by_what_helps(one: Setting, change: str, by: float) -> None:
    if change == "air":
        other = one._replace(air_c=one.air_c - 5 * by)
    elif change == "start":
        other = one._replace(start_c=max(0.5, one.start_c - 10 * by))
    else:
        other = quicker(one, change, by)
    before = ask.freeze(one.vessel(), one.air(), start_c=exactly(one.start_c))
    after = ask.freeze(other.vessel(), other.air(), start_c=exactly(other.start_c))
    for was, now in zip((*before.solid, *before.hard), (*after.solid, *after.hard), strict=True):
        assert now <= was * SLIGHTLY


@given(one=THAWS, wider=part(0, 0.5))
@settings(max_examples=150, deadline=None)
def test_more_doubt_never_narrows_an_answer(one: Setting, wider: float) -> None:
    vessel, air = one.vessel(), one.air()
    known = ask.thaw(vessel, air, start_c=exactly(one.start_c))
    doubtful = ask.thaw(
        vessel._replace(across_mm=Range.about(one.across, wider)),
        Air(Range(one.air_c - wider, one.air_c, one.air_c + wider), Range.about(one.film, wider)),
        start_c=Range(one.start_c - wider, one.start_c, min(-1, one.start_c + wider)),
    )
    assert ordered(doubtful)
    assert doubtful.early_h <= known.early_h * SLIGHTLY
    assert doubtful.late_h * SLIGHTLY >= known.late_h


@given(one=THAWS.filter(lambda one: one.across < 50), change=CHANGES, by=part(0.02, 1))
@settings(max_examples=3, deadline=None)
@pytest.mark.slow
def test_thawing_by_the_solver_never_gets_slower_by_what_helps(one: Setting, change: str, by: float) -> None:
    if one.shape == "upright":
        one = one._replace(faces=1.0)
    other = quicker(one, change, by) if change != "faces" or one.shape == "flat" else one
    before = ask.thaw(one.vessel(), one.air(), start_c=exactly(one.start_c), exact=True)
    after = ask.thaw(other.vessel(), other.air(), start_c=exactly(other.start_c), exact=True)
    for was, now in zip(before, after, strict=True):
        assert now <= was * (1 + 1e-4)
