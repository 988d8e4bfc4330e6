"""Still milk in a bowl of water: the quick answer beside the full solver, what never reverses, and what it costs."""

from __future__ import annotations

import math
import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thawline.engines.physics import ask, assumed, bowl, quick
from thawline.engines.physics.bowl_still import MOST_H, Soaked, Times, still_times
from thawline.engines.physics.case import Case, Kind
from thawline.engines.physics.spread import INFINITE, Range, Shape, Triple

exactly = Range.exactly
MILKS = [Kind("usual", -0.55), Kind("fatty", -0.60), Kind("lean", -0.50)]


def drawn(rng: random.Random) -> tuple[Soaked, float]:
    """Any container in any bowl, and how warm it is wanted."""

    def by_size(low: float, high: float) -> float:
        return math.exp(rng.uniform(math.log(low), math.log(high)))

    flat = rng.random() < 0.5
    wall = rng.uniform(0, 0.0005) if flat else rng.uniform(0.0015, 0.0125)
    case = Case(
        flat=flat, half_m=rng.uniform(0.003, 0.02) if flat else rng.uniform(0.01, 0.04),
        u=1 / (1 / by_size(150, 800) + wall), fill_m=INFINITE, top=0, base=0, milk=rng.choice(MILKS),
    )  # fmt: skip
    ml, start_c = by_size(20, 300), rng.uniform(-30, -3) if rng.random() < 0.6 else rng.uniform(0.5, 25)
    water_kg, loss = ml / 1000 * by_size(1.5, 40), rng.choice([0, 0.3, 1, 2])
    at = Soaked(case, ml, start_c, water_kg, rng.uniform(18, 45), rng.uniform(17, 27), loss)
    return at, rng.uniform(max(start_c, 0) + 3, 37)


def solved(at: Soaked, to_c: float) -> tuple[Times, Times]:
    """Swirled, and still by the solver."""
    mixed = bowl.swirled(at, to_c)
    return mixed, bowl.solved(at, to_c, mixed)


@pytest.mark.slow
def test_the_stated_error_holds_on_drawn_bowls() -> None:
    # Where either way says never, or nearly six hours, the other may be a little before or after it.
    rng = random.Random(20261126)
    compared = 0
    for _ in range(50):
        at, to_c = drawn(rng)
        if math.isinf(bowl.swirled(at, to_c).thawed_h):
            continue
        _, slow = solved(at, to_c)
        for fast_h, slow_h in zip(still_times(at, to_c), slow, strict=True):
            if 0 < slow_h < 0.8 * MOST_H and fast_h < INFINITE:
                assert abs(fast_h / slow_h - 1) <= quick.ERROR["bath"], (at, to_c)
                compared += 1
            elif math.isinf(slow_h) and at.loss_w_k == 0:
                assert fast_h > 0.5 * MOST_H or math.isinf(bowl.swirled(at, to_c).reached_h), (at, to_c)
    assert compared > 40


@pytest.mark.slow
@pytest.mark.parametrize("shape", ["flat", "upright"])
@pytest.mark.parametrize("start_c", [-18, 4])
def test_quick_answers_hold_the_solvers(shape: Shape, start_c: float) -> None:
    vessel = assumed.vessel(shape, 120)
    fast, slow = (
        ask.bath(
            vessel, water_kg=Range(7, 8, 9), water_c=Range(39, 40, 40), start_c=exactly(start_c), to_c=30, exact=exact
        )
        for exact in (False, True)
    )
    assert fast.swirled_reached == slow.swirled_reached
    for quickly, exactly_ in ((fast.still_reached, slow.still_reached), (fast.reached, slow.reached)):
        assert quickly.early_h <= exactly_.early_h
        assert quickly.late_h >= exactly_.late_h
        assert quickly.nominal_h == pytest.approx(exactly_.nominal_h, rel=quick.ERROR["bath"])


@pytest.mark.parametrize("exact", [False, True])
def test_a_thick_bottle_is_waited_for_after_its_rim_is_warm(exact: bool) -> None:
    # When the last ice goes, milk in a warm bath is 27 C on average (own computation): warmer than the 10 C wanted.
    bottle = assumed.vessel("upright", 120, exactly(50), faces=1, wall=exactly(0.0))
    at = ask.bath(
        bottle, water_kg=exactly(500), water_c=exactly(40), start_c=exactly(-18), to_c=10, loss_w_k=0, exact=exact
    )
    assert at.still_thawed is not None
    assert at.still_thawed.nominal_h < at.still_reached.nominal_h < at.still_thawed.nominal_h * 1.1


def test_a_bowl_too_small_is_said_so_still_and_swirled() -> None:
    small = ask.bath(
        assumed.vessel("flat", 120), water_kg=exactly(0.2), water_c=exactly(25), start_c=exactly(-18), loss_w_k=0
    )
    assert small.thawed == small.still_thawed == small.swirled_thawed == (INFINITE, INFINITE, INFINITE)
    assert small.still_reached == (INFINITE, INFINITE, INFINITE)


def test_water_that_the_room_warms_is_no_later_at_the_earliest() -> None:
    # Milk of -8 C takes half a litre of 25 C to about 2 C; the room does the rest.
    cold = ask.bath(
        assumed.vessel("upright", 120, 20), water_kg=exactly(0.5), water_c=exactly(25), start_c=exactly(-8), to_c=8
    )
    for one in (cold.swirled_reached, cold.still_reached, cold.reached):
        assert one.early_h <= one.nominal_h <= one.late_h
    assert cold.reached.early_h < INFINITE


def test_nothing_is_waited_for_more_than_six_hours() -> None:
    thick = assumed.vessel("upright", 300, exactly(140), wall=exactly(0.0125))
    at = ask.bath(thick, water_kg=exactly(200), water_c=exactly(20), start_c=exactly(-18), to_c=19.5, loss_w_k=0)
    assert math.isinf(at.still_reached.nominal_h)


# Nothing ever reverses


def part(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def answers(shape: Shape, **said: float) -> list[Triple]:
    vessel = assumed.vessel(shape, 120, exactly(said["across"]), wall=exactly(said["wall"]))
    at = ask.bath(
        vessel, water_kg=exactly(said["kg"]), water_c=exactly(said["c"]), start_c=exactly(said["start"]),
        to_c=said["to"], loss_w_k=said["loss"],
    )  # fmt: skip
    return [one for one in (at.still_thawed, at.still_reached, at.swirled_thawed, at.swirled_reached) if one]


def drawn_bowls(start: st.SearchStrategy[float]) -> st.SearchStrategy[dict[str, float]]:
    return st.fixed_dictionaries(
        {
            "across": part(8, 35), "wall": part(0, 0.01), "kg": part(1.5, 10), "c": part(33, 40),
            "start": start, "to": part(8, 37), "loss": part(0, 2),
        }
    )  # fmt: skip


@pytest.mark.parametrize("shape", ["flat", "upright"])
@given(
    said=drawn_bowls(part(-25, -3)) | drawn_bowls(part(1, 7)),
    change=st.sampled_from(["across", "wall", "kg", "c", "start", "to"]),
    by=part(0.02, 0.5),
)
@settings(max_examples=100, deadline=None)
def test_warming_never_gets_slower_by_what_helps(shape: Shape, said: dict[str, float], change: str, by: float) -> None:
    less = change in ("across", "wall", "to")
    moved = said[change] / (1 + by) if less else said[change] + abs(said[change]) * by
    if change == "start":
        moved = min(moved, -1.0) if said["start"] < 0 else min(moved, 7.5)
    before, after = answers(shape, **said), answers(shape, **{**said, change: moved})
    for was, now in zip(before, after, strict=True):
        assert all(one <= other * (1 + 1e-3) for one, other in zip(now, was, strict=True)), (was, now)


# Speed


@pytest.mark.parametrize("shape", ["flat", "upright"])
@pytest.mark.parametrize("start_c", [-18, 4])
def test_a_bowl_costs_ten_milliseconds_at_most(shape: Shape, start_c: float) -> None:
    vessel = assumed.vessel(shape, 120)
    took = []
    for _ in range(20):
        began = time.thread_time()
        ask.bath(vessel, water_kg=Range(4, 5, 6), water_c=Range(38, 39, 40), start_c=exactly(start_c))
        took.append(time.thread_time() - began)
    assert 1000 * min(took) < 10
