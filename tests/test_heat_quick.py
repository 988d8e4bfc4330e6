"""The fast path against the full solver: its stated error holds, and its table is the one the solver gives."""

from __future__ import annotations

import math
import random
import runpy
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.integrate import simpson

from thawline.engines.physics import ask, assumed, full, quick
from thawline.engines.physics.case import Case, Kind
from thawline.engines.physics.numbers import table
from thawline.engines.physics.record import Logged, thaw_logged, warm_up_logged
from thawline.engines.physics.spread import INFINITE, Air, Range, Shape

ROOT = Path(__file__).parents[1]
DATA = ROOT / "src/thawline/engines/physics/heat_table.toml"
COARSE = full.Fine(30, (12, 14), 300)
# What the coarse steps of these comparisons add by themselves; finer ones were seen to take it away.
COARSENESS = 0.004
WARMING = [Kind("usual", -0.55), Kind("fatty", -0.60), Kind("lean", -0.50)]
COOLING = [Kind("usual", -0.55), Kind("fatty", -0.50), Kind("lean", -0.60)]


class Drawn(NamedTuple):
    """A question about one case."""

    question: str
    case: Case
    air_c: float
    start_c: float
    to_c: float


def drawn(rng: random.Random, *, ends: bool) -> Drawn:
    """Any container in any air a household may have."""
    question = rng.choice(["thaw", "solid", "hard", "still"])
    flat = not ends and rng.random() < 0.5
    film, wall = math.exp(rng.uniform(math.log(3), math.log(25))), rng.uniform(0, 0.0125)
    radius = rng.uniform(0.012, 0.04)
    top, base = (rng.uniform(0.2, 1.0), 0.0) if rng.random() < 0.6 else (1.0, 1.0)
    case = Case(
        flat=flat,
        half_m=rng.uniform(0.002, 0.03) if flat else radius,
        u=1 / (1 / film + wall),
        fill_m=INFINITE if flat else radius * rng.uniform(0.6, 6),
        top=top if ends else 0.0,
        base=base if ends else 0.0,
        milk=rng.choice(WARMING if question == "thaw" else COOLING),
    )
    if question == "thaw":
        return Drawn(question, case, case.milk.freezing_c + rng.choice([0.3, 1, 4.5, 8, 25]) * rng.uniform(0.8, 1.4),
                     rng.uniform(-30, -3), 0)  # fmt: skip
    if question == "still":
        start_c, air_c = rng.choice([(37, 4), (25, 4), (4, 22), (2, 28), (4, 40)])
        return Drawn(question, case, air_c, start_c, air_c + (start_c - air_c) * rng.uniform(0.03, 0.5))
    end = quick.end_c(question, case)
    return Drawn(question, case, end - rng.uniform(0.5, 20), rng.uniform(0.5, 38), 0)


def both(one: Drawn) -> tuple[float, float]:
    """Hours by the fast path and by the solver."""
    if one.question == "still":
        fast = quick.still_h(one.case, one.air_c, one.start_c, one.to_c)
        end = ("centre", one.to_c)
        return fast, full.solve(one.case, one.air_c, one.start_c, end, fast, fine=COARSE)  # type: ignore[arg-type]
    fast = quick.question_h(one.case, one.air_c, one.start_c, one.question)
    return fast, full.question_h(one.case, one.air_c, one.start_c, one.question, COARSE)


@pytest.mark.slow
@pytest.mark.parametrize(("ends", "count"), [(False, 400), (True, 100)])
def test_the_stated_error_holds_on_500_drawn_questions(ends: bool, count: int) -> None:
    rng = random.Random(20261125 + ends)
    for _ in range(count):
        one = drawn(rng, ends=ends)
        fast, solved = both(one)
        if one.question == "still":
            # One term of the series is late for small changes; late is what it is for.
            assert -quick.ERROR["still"] - COARSENESS <= fast / solved - 1 <= 0.15, one
        else:
            stated = quick.ERROR["ends" if ends else "thaw" if one.question == "thaw" else "freeze"]
            assert abs(fast / solved - 1) <= stated + COARSENESS, one


def test_the_errors_are_stated_in_the_data() -> None:
    assert set(table("heat_table", "error")) >= {"thaw", "freeze", "still", "ends", "logged", "mark", "source"}
    assert all(0 < value <= 0.08 for value in quick.ERROR.values())


def test_the_data_are_small() -> None:
    assert DATA.stat().st_size < 60_000


@pytest.fixture(scope="module")
def maker() -> dict[str, Any]:
    return runpy.run_path(str(ROOT / "scripts/heat_table.py"))


@pytest.mark.parametrize(
    ("question", "flat", "place"),
    [("thaw", True, (1, 4, 1)), ("thaw", False, (3, 7, 2)), ("solid", True, (2, 3, 1)), ("hard", False, (1, 4, 4))],
)
def test_the_stretch_table_is_what_the_solver_gives(
    maker: dict[str, Any], question: str, flat: bool, place: tuple[int, int, int]
) -> None:
    found = table("heat_table", "stretch", question)
    i, j, k = place
    spot = (found["b"][i], found["gap"][j], found["start"][k])
    kept = found["flat" if flat else "upright"][i][j][k]
    # The table's figure counts b times, in a time of which it is a small part.
    assert abs(maker["stretch"](question, flat, spot) - kept) * spot[0] < 2e-3


@pytest.mark.parametrize(("question", "place"), [("thaw", (1, 1, 1)), ("hard", (2, 1, 0))])
def test_the_ends_table_is_what_the_solver_gives(
    maker: dict[str, Any], question: str, place: tuple[int, int, int]
) -> None:
    found = table("heat_table", "ends", question)
    i, j, k = place
    spot = (found["b"][i], found["tall"][j], found["gap"][k])
    assert maker["ends"](question, 1.0, spot) == pytest.approx(found["whole"][i][j][k], abs=2e-3)


# The closed form under it


@pytest.mark.parametrize(
    ("air_c", "start_c", "to_c", "hours"),
    [(4, -18, -0.55, 14.60), (-18, 4, -10, 5.235), (4, 25, 5, 3.15), (4, 37, 5, 3.62)],
)
def test_evenly_warm_milk(air_c: float, start_c: float, to_c: float, hours: float) -> None:
    # Own computation: the lumped integral over the enthalpy for a bag of 15 mm, film 8; exact where milk conducts well.
    bag = Case(flat=True, half_m=0.0075, u=8, fill_m=INFINITE, top=0, base=0, milk=quick.USUAL)
    assert quick.even_h(bag, air_c, start_c, to_c) == pytest.approx(hours, rel=0.006)


def test_evenly_warm_milk_by_another_quadrature() -> None:
    # scipy's Simpson rule over dh / (air - T) along the same curve.
    bag = Case(flat=True, half_m=0.0075, u=8, fill_m=INFINITE, top=0, base=0, milk=quick.USUAL)
    curve = quick.curve(quick.USUAL)
    h = np.linspace(curve.enthalpy(-18), curve.enthalpy(-0.55), 200_001)
    whole = simpson(1 / (4 - np.interp(h, curve.h, curve.t)), x=h)
    assert quick.even_h(bag, 4, -18, -0.55) == pytest.approx(1030 * 0.0075 / 8 * whole / 3600, rel=1e-6)


def test_thin_milk_in_weak_air_needs_no_table() -> None:
    film = Case(flat=True, half_m=1e-5, u=1, fill_m=INFINITE, top=0, base=0, milk=quick.USUAL)
    assert quick.thaw_h(film, 4, -18) == pytest.approx(quick.even_h(film, 4, -18, -0.55), rel=1e-4)


def test_a_bottle_without_open_ends_is_its_side() -> None:
    side = Case(flat=False, half_m=0.025, u=8, fill_m=0.06, top=0, base=0, milk=quick.USUAL)
    assert quick.thaw_h(side, 4, -18) == quick.along_h(side, 4, -18, "thaw")


# Recorded air


def logged(rng: random.Random, around_c: float) -> Logged:
    """A refrigerator or a room that goes up and down, read every ten minutes for two days."""
    swing, slow = rng.uniform(0, 2), rng.uniform(0, 2)
    hours = [i / 6 for i in range(300)]
    c = [around_c + swing * math.sin(5 * h) + slow * math.sin(h / 3) for h in hours]
    return Logged(hours, c, 0.0)


def test_a_steady_record_is_as_steady_air() -> None:
    bag = assumed.vessel("flat", 120, Range.exactly(15), faces=2)
    steady = Logged([0, 10, 20, 48], [4, 4, 4, 4], 0.5)
    film = Range(6, 8, 12)
    by_record = thaw_logged(bag, steady, film)
    plain = ask.thaw(bag, Air(Range(3.5, 4, 4.5), film))
    wider = (1 - quick.ERROR["logged"]) / (1 - quick.ERROR["thaw"])
    assert by_record.early_h == pytest.approx(plain.early_h * wider, rel=0.002)
    assert by_record.nominal_h == pytest.approx(plain.nominal_h, rel=0.002)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_recorded_air_by_the_solver(seed: int) -> None:
    rng = random.Random(seed)
    bag = assumed.vessel("flat", 120, Range.exactly(rng.uniform(8, 25)), faces=2)
    film = Range.exactly(rng.uniform(5, 15))
    fridge, room = logged(rng, rng.uniform(4, 7)), logged(rng, 22)
    for ways in (
        [thaw_logged(bag, fridge, film, exact=exact) for exact in (False, True)],
        [warm_up_logged(bag, room, film, start_c=Range.exactly(4), exact=exact) for exact in (False, True)],
    ):
        fast, solved = ways
        assert fast.early_h <= solved.early_h * 1.002
        assert fast.late_h >= solved.late_h * 0.998
        assert fast.nominal_h == pytest.approx(solved.nominal_h, rel=quick.ERROR["logged"])


def test_what_the_record_does_not_reach_is_not_promised() -> None:
    bag = assumed.vessel("flat", 120, 15, faces=2)
    short = Logged([0, 1, 3], [4, 4, 4], 0.5)
    takes = thaw_logged(bag, short, Range(6, 8, 12))
    assert takes.early_h == pytest.approx(3)
    assert takes.nominal_h == takes.late_h == INFINITE


def test_after_the_record_the_air_may_be_assumed() -> None:
    bag = assumed.vessel("flat", 120, Range.exactly(15), faces=2)
    film = Range.exactly(8)
    open_end = thaw_logged(bag, Logged([0, 3], [4, 4], 0.0, Range.exactly(4)), film)
    assert open_end.nominal_h == pytest.approx(ask.thaw(bag, Air(Range.exactly(4), film)).nominal_h, rel=0.002)


def test_a_freezing_spell_puts_a_thaw_off() -> None:
    bag = assumed.vessel("flat", 120, Range.exactly(15), faces=2)
    hours, film = [0, 8, 8, 12, 12, 60], Range.exactly(8)
    spell = thaw_logged(bag, Logged(hours, [4, 4, -6, -6, 4, 4], 0.0), film)
    steady = thaw_logged(bag, Logged(hours, [4] * 6, 0.0), film)
    assert spell.nominal_h > steady.nominal_h + 4


def test_a_warmer_record_never_thaws_later() -> None:
    rng = random.Random(7)
    bag = assumed.vessel("flat", 120, 15, faces=2)
    for _ in range(20):
        cold = logged(rng, rng.uniform(3, 6))
        warm = cold._replace(c=[c + rng.uniform(0, 1) for c in cold.c])
        pairs = zip(thaw_logged(bag, warm, Range(6, 8, 12)), thaw_logged(bag, cold, Range(6, 8, 12)), strict=True)
        assert all(now <= was * 1.0005 for now, was in pairs)


# Speed


def best_ms(run: Callable[[], object], times: int = 30) -> float:
    took = []
    for _ in range(times):
        began = time.thread_time()
        run()
        took.append(time.thread_time() - began)
    return 1000 * min(took)


@pytest.mark.parametrize("shape", ["flat", "upright"])
def test_a_container_costs_two_milliseconds_at_most(shape: Shape) -> None:
    air, vessel = assumed.air("refrigerator"), assumed.vessel(shape, 120)
    assert best_ms(lambda: ask.thaw(vessel, air)) < 2
