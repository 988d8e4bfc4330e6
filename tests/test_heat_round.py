"""Heat in an upright bottle, along radius and height, against series, its limits in one direction and earlier figures.

"Own computation": computed apart from this project's code, by an exact series or an earlier program of its kind.
"""

from __future__ import annotations

import math
import time
from functools import partial
from typing import TypedDict

import numpy as np
import pytest

from thawline.engines.physics import solver
from thawline.engines.physics.milk import DENSITY, FREEZING_C, constant, milk, pure
from thawline.engines.physics.round import run
from thawline.engines.physics.solver import Bath, End, Recorded

# 120 mL in a bottle 50 mm across stand 61.1 mm high.
bottle = partial(run, radius_mm=25.0, height_mm=120e3 / (math.pi * 625))
coarse = partial(bottle, cells=(10, 12))


class Faces(TypedDict):
    """Films of the three faces, W/(m2 K)."""

    u_side: float
    u_top: float
    u_base: float


ALL = Faces(u_side=8, u_top=8, u_base=8)
NO_BASE = Faces(u_side=8, u_top=8, u_base=0)
POOR_TOP = Faces(u_side=8, u_top=4, u_base=0)


def test_can_of_pea_puree() -> None:
    # Geankoplis, Transport Processes, example 5.3-4: centre 108.4 C by exact series (book, by chart: 106.6).
    puree = constant(0.830, 1000, 0.830 / 2.007e-7 / 1000)
    after = run(
        puree, radius_mm=68.1 / 2, height_mm=101.6, u_side=4540, u_top=4540, u_base=4540, air_c=115.6, start_c=29.4,
        end=None, most_h=0.75, cells=(20, 25), step_s=2,
    )  # fmt: skip
    assert after.final_c[12 * 20] == pytest.approx(108.4, abs=0.1)
    assert float(after.final_c.min()) == after.final_c[12 * 20]


@pytest.mark.parametrize(
    ("air_c", "start_c", "end"), [(4.0, -18.0, "thawed"), (-18.0, 4.0, "hard"), (4.0, 25.0, ("mean", 6.0))]
)
def test_a_bottle_without_ends_is_a_long_cylinder(air_c: float, start_c: float, end: End) -> None:
    sides = Faces(u_side=8, u_top=0, u_base=0)
    two = run(
        milk(), radius_mm=25, height_mm=60, **sides, air_c=air_c, start_c=start_c, end=end, cells=(20, 3), step_s=120
    )
    one = solver.run(
        milk(), shape="cylinder", half_mm=25, u=8, air_c=air_c, start_c=start_c, end=end, cells=20, step_s=120
    )
    assert two.time_h == pytest.approx(one.time_h, rel=1e-6)


@pytest.mark.parametrize(("base", "half_mm"), [(0.0, 30.0), (8.0, 15.0)])
def test_a_bottle_with_an_insulated_side_is_a_slab(base: float, half_mm: float) -> None:
    faces = Faces(u_side=0, u_top=8, u_base=base)
    two = run(
        milk(), radius_mm=25, height_mm=30, **faces, air_c=4, start_c=-18, end="thawed", cells=(3, 20), step_s=300
    )
    one = solver.run(
        milk(), shape="slab", half_mm=half_mm, u=8, air_c=4, start_c=-18, end="thawed", cells=20 if base == 0 else 10,
        step_s=300,
    )  # fmt: skip
    assert two.time_h == pytest.approx(one.time_h, rel=1e-6)


@pytest.mark.parametrize(
    ("faces", "freeze_h", "thaw_h"), [(ALL, 6.56, 19.93), (NO_BASE, 7.78, 24.24), (POOR_TOP, 8.35, 25.39)]
)
def test_table_of_bottles(faces: Faces, freeze_h: float, thaw_h: float) -> None:
    # Own computation: all faces; base insulated; base insulated and a film of 4 on top.
    frozen = bottle(milk(), **faces, air_c=-18, start_c=4, end="hard")
    thawed = bottle(milk(), **faces, air_c=4, start_c=-18, end="thawed")
    assert frozen.time_h == pytest.approx(freeze_h, rel=5e-3)
    assert thawed.time_h == pytest.approx(thaw_h, rel=5e-3)
    assert frozen.imbalance < 1e-9 and thawed.imbalance < 1e-9


def test_a_standing_bottle_in_a_bath() -> None:
    # Own computation: warmed 4 to 37 in 43.2 min, thawed in 43.4 by the earlier program; the latter moves by 3 % with
    # how the base is taken, and an endless cylinder takes 44.7.
    hot = Faces(u_side=250, u_top=250, u_base=0)
    warmed = bottle(milk(), **hot, air_c=40, start_c=4, end=("centre", 37))
    assert warmed.time_h * 60 == pytest.approx(43.2, rel=5e-3)
    thawed = bottle(milk(), **hot, air_c=40, start_c=-18, end="thawed")
    assert thawed.time_h * 60 == pytest.approx(43.4, rel=4e-2)
    assert thawed.time_h * 60 < 44.8


def test_mixed_milk_cools_as_one_body() -> None:
    # Own computation: 37 to 5 C in 4 C air, swirled, 4.29 h with all faces, 5.01 h without the base; a part of its way
    # to the air falls off as exp(-t/tau), which gives 5.03.
    swirled = milk().stirred()
    for faces, hours in ((ALL, 4.29), (NO_BASE, 5.01)):
        done = coarse(swirled, **faces, air_c=4, start_c=37, end=("mean", 5))
        assert done.time_h == pytest.approx(hours, rel=1e-2)


def test_fewer_open_faces_take_longer() -> None:
    times = [coarse(milk(), **faces, air_c=4, start_c=-18, end="thawed").time_h for faces in (ALL, NO_BASE, POOR_TOP)]
    endless = solver.run(milk(), shape="cylinder", half_mm=25, u=8, air_c=4, start_c=-18, end="thawed").time_h
    assert times == sorted(times)
    assert times[-1] < endless


@pytest.mark.slow
def test_times_hardly_depend_on_cells_and_steps() -> None:
    usual = bottle(milk(), **NO_BASE, air_c=4, start_c=-18, end="thawed").time_h
    fine = bottle(milk(), **NO_BASE, air_c=4, start_c=-18, end="thawed", cells=(32, 40), step_s=120).time_h
    assert usual == pytest.approx(fine, rel=3e-3)
    assert coarse(milk(), **NO_BASE, air_c=4, start_c=-18, end="thawed").time_h == pytest.approx(fine, rel=5e-3)


def test_cold_air_never_thaws_a_bottle() -> None:
    for air_c in (FREEZING_C, -18.0):
        done = bottle(milk(), **ALL, air_c=air_c, start_c=-18, end="thawed")
        assert math.isinf(done.time_h) and done.steps == 0


def test_recorded_air_holds_its_last_value() -> None:
    warm_then_cold = Recorded([0, 1, 1.5], [4, 4, -5])
    done = coarse(milk(), **ALL, air_c=warm_then_cold, start_c=-18, end="thawed")
    assert math.isinf(done.time_h) and done.elapsed_h < 1.6
    steady = coarse(milk(), **ALL, air_c=22, start_c=4, end=("hottest", 15), step_s=20)
    flat = coarse(milk(), **ALL, air_c=Recorded([0, 3], [22, 22]), start_c=4, end=("hottest", 15), step_s=20)
    mean = coarse(milk(), **ALL, air_c=22, start_c=4, end=("mean", 15), step_s=20)
    assert flat.time_h == pytest.approx(steady.time_h)
    assert steady.time_h < mean.time_h


def test_a_closed_bowl_settles_where_the_heat_balance_says() -> None:
    # 120 mL at 4 C in 1.0 kg at 40 C: 36.30 C; at -18 C: 27.45 C (own computation).
    wet = Faces(u_side=250, u_top=250, u_base=250)
    for start_c, settles_c in ((4.0, 36.30), (-18.0, 27.45)):
        bowl = Bath(1.0, 40.0, 20.0, 0.0, 0.0135)
        after = coarse(milk(), **wet, air_c=bowl, start_c=start_c, end=None, most_h=4)
        assert after.mean_c == pytest.approx(settles_c, abs=0.07)
        assert after.around_c == pytest.approx(after.mean_c, abs=0.05)


def test_heat_of_a_bowl_goes_into_milk_and_room_and_nowhere_else() -> None:
    wet = Faces(u_side=250, u_top=0, u_base=250)
    after = coarse(milk(), **wet, air_c=Bath(1.0, 40.0, 20.0, 1.5, 0.0135), start_c=-18, end=None, most_h=0.5)
    given = 1.0 * 4180 * (40 - after.around_c)
    assert given == pytest.approx(after.heat_in * 120e-6 * DENSITY + after.lost_j, rel=1e-9)
    assert after.imbalance < 1e-9


def test_a_material_that_melts_at_one_temperature_keeps_its_heat() -> None:
    water = pure(melts_c=0.0, latent=333.55e3, density=1000.0, solid=(2.22, 2060.0), liquid=(0.57, 4200.0))
    done = coarse(water, **ALL, air_c=4, start_c=-18, end=("centre", 0.5))
    assert done.imbalance < 1e-9
    assert done.gained > 333.55e3 + 18 * 2060


def test_a_bottle_on_its_base_has_its_middle_at_the_base() -> None:
    standing = coarse(milk(), **NO_BASE, air_c=4, start_c=-18, end=None, most_h=12, keep=True)
    free = coarse(milk(), **ALL, air_c=4, start_c=-18, end=None, most_h=12, keep=True)
    assert int(np.argmin(standing.final_h)) == 0
    assert standing.track is not None and free.track is not None
    assert standing.track.centre_c[-1] == pytest.approx(float(standing.final_c.min()))
    assert free.track.centre_c[-1] == pytest.approx(float(free.final_c.min()), abs=1e-6)
    assert free.track.hours[-1] == pytest.approx(12)


def test_a_run_without_an_end_needs_a_time() -> None:
    with pytest.raises(ValueError, match="end or a time"):
        bottle(milk(), **ALL, air_c=4, start_c=-18, end=None)


@pytest.mark.slow
def test_a_run_takes_at_most_three_seconds() -> None:
    first = time.process_time()
    bottle(milk(), **NO_BASE, air_c=4, start_c=-18, end="thawed")
    assert time.process_time() - first < 3
