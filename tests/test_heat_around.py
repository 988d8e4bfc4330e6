"""Air that was recorded and bowls of water around milk, against closed forms and heat balances.

"Own computation": computed apart from this project's code.
"""

from __future__ import annotations

import math
from functools import partial

import pytest

from thawline.engines.physics.around import Steady
from thawline.engines.physics.milk import DENSITY, constant, milk
from thawline.engines.physics.solver import Bath, Recorded, run

SOFT = constant(0.56, 1030, 3900)
bag = partial(run, shape="slab", half_mm=7.5)


# Recorded air


def test_a_ramp_of_air_against_the_closed_form() -> None:
    # Evenly warm body in air that rises steadily: T = Ta - s tau (1 - exp(-t/tau)), own computation.
    tau_h, slope = 1030 * 3900 * 0.0075 / 8 / 3600, 10.0
    after = bag(SOFT.stirred(), u=8, air_c=Recorded([0, 3], [4, 4 + slope * 3]), start_c=4, end=None, most_h=2)
    assert after.mean_c == pytest.approx(4 + slope * (2 - tau_h * (1 - math.exp(-2 / tau_h))), abs=0.03)


def test_a_flat_recording_is_steady_air_and_its_last_value_holds() -> None:
    ours = milk()
    steady = bag(ours, u=8, air_c=4, start_c=-18, end="thawed", step_s=30).time_h
    assert bag(ours, u=8, air_c=Recorded([0, 5], [4, 4]), start_c=-18, end="thawed", step_s=30).time_h == pytest.approx(
        steady
    )
    warmer = bag(ours, u=8, air_c=Recorded([0, 5], [4, 6]), start_c=-18, end="thawed").time_h
    assert bag(ours, u=8, air_c=6, start_c=-18, end="thawed").time_h < warmer < steady


def test_an_excursion_is_judged_by_mean_and_by_the_hottest_part() -> None:
    ours = milk()
    out = Recorded([0, 0.1, 1.0, 1.1], [4, 28, 28, 4])
    mean = bag(ours, u=8, air_c=out, start_c=4, end=("mean", 15))
    first = bag(ours, u=8, air_c=out, start_c=4, end=("hottest", 15))
    assert 0.5 < first.time_h < mean.time_h < 1.1
    short = Recorded([0, 0.1, 0.4, 0.5], [4, 28, 28, 4])
    assert math.isinf(bag(ours, u=8, air_c=short, start_c=4, end=("hottest", 15)).time_h)


def test_a_run_goes_on_from_where_another_ended() -> None:
    ours = milk()
    whole = bag(ours, u=8, air_c=4, start_c=-18, end="thawed", step_s=30).time_h
    half = bag(ours, u=8, air_c=4, start_c=-18, end=None, most_h=6, step_s=30)
    rest = bag(ours, u=8, air_c=4, start_c=0, start_h=half.final_h, end="thawed", step_s=30)
    assert 6 + rest.time_h == pytest.approx(whole, rel=1e-6)
    assert ours.enthalpy(half.final_c) == pytest.approx(half.final_h, abs=1e-3)


def test_recorded_hours_must_rise() -> None:
    with pytest.raises(ValueError, match="must rise"):
        bag(milk(), u=8, air_c=Recorded([0, 2, 1], [4, 4, 4]), start_c=-18, end="thawed")


def test_a_short_burst_of_warm_air_is_not_passed_over_by_long_steps() -> None:
    # A month of 4 C with five minutes of 40 C in it: the heat of 180 degree-minutes over the film, on a body like milk.
    month = Recorded([0, 100, 100, 100 + 1 / 12, 100 + 1 / 12, 720], [4, 4, 40, 40, 4, 4])
    after = bag(SOFT.stirred(), u=8, air_c=month, start_c=4, end=None, most_h=100.1, step_s=290)
    assert after.heat_in == pytest.approx(8 * 36 * 300 / (0.0075 * 1030), rel=0.1)


def test_the_mean_of_recorded_air_over_a_stretch() -> None:
    air = Steady(Recorded([1, 2, 2, 3], [4, 8, 20, 20]))
    assert air.over(3600, 3600) == pytest.approx(6)
    assert air.over(1.5 * 3600, 3600) == pytest.approx((7 + 20) / 2)
    assert air.over(0, 3600) == pytest.approx(4)
    assert air.over(2.5 * 3600, 7200) == pytest.approx(20)
    assert air.at(1.5 * 3600) == pytest.approx(6) and air.at(1e9) == 20
    assert air.reach(0) == (4, 20) and air.reach(2.1 * 3600) == (20, 20)


# Bowls of water


def bowl(water_kg: float, water_c: float, *, loss: float = 0.0) -> Bath:
    """A bowl around 120 mL in a flat bag of 15 mm: 160 cm2 in all."""
    return Bath(water_kg=water_kg, water_c=water_c, room_c=20.0, loss_w_k=loss, area_m2=0.016)


@pytest.mark.parametrize(
    ("water_kg", "start_c", "water_c", "settles_c"),
    [
        (0.5, -18, 40, 17.2), (1.0, -18, 40, 27.45), (2.0, -18, 40, 33.4), (3.0, -18, 40, 35.5),
        (0.5, 4, 40, 33.3), (1.0, 4, 40, 36.30), (2.0, 4, 40, 38.1), (3.0, 4, 40, 38.7),
        (0.5, -18, 20, 1.0), (1.0, -18, 20, 9.5), (2.0, -18, 20, 14.5), (3.0, -18, 20, 16.2),
    ],
)  # fmt: skip
def test_where_a_closed_bath_settles(water_kg: float, start_c: float, water_c: float, settles_c: float) -> None:
    # Own computation, the heat of the water against that of the milk.
    after = bag(milk(), u=250, air_c=bowl(water_kg, water_c), start_c=start_c, end=None, most_h=3)
    assert after.mean_c == pytest.approx(settles_c, abs=0.08)
    assert after.around_c == pytest.approx(after.mean_c, abs=0.02)


def test_two_bodies_in_a_closed_bath_near_each_other_at_the_known_rate() -> None:
    # Bejan, Heat Transfer Handbook: rate UA (1/m1c1 + 1/m2c2).
    milk_j, water_j, ua = 0.1236 * 3900, 1.0 * 4180, 250 * 0.016
    rate = ua * (1 / milk_j + 1 / water_j)
    settles = (milk_j * 4 + water_j * 40) / (milk_j + water_j)
    after = bag(SOFT.stirred(), u=250, air_c=bowl(1.0, 40), start_c=4, end=None, most_h=100 / 3600, step_s=0.1)
    assert after.mean_c == pytest.approx(settles - (settles - 4) * math.exp(-rate * 100), abs=0.03)


def test_a_bowl_that_cannot_reach_37_says_never() -> None:
    # 1.0 kg of 40 C water around 120 mL at 4 C settles at 36.3 C; at least 1.26 kg are needed (own computation).
    ours = milk()
    small = bag(ours, u=250, air_c=bowl(1.0, 40), start_c=4, end=("mean", 37))
    assert math.isinf(small.time_h) and small.elapsed_h < 1
    assert math.isinf(bag(ours, u=250, air_c=bowl(1.2, 40), start_c=4, end=("mean", 37)).time_h)
    assert bag(ours, u=250, air_c=bowl(1.35, 40), start_c=4, end=("mean", 37)).time_h < 1


def test_heat_of_a_bowl_goes_into_milk_and_room_and_nowhere_else() -> None:
    after = bag(milk(), u=250, air_c=bowl(1.0, 40, loss=2.0), start_c=-18, end=None, most_h=0.5)
    given = 1.0 * 4180 * (40 - after.around_c)
    assert given == pytest.approx(after.heat_in * 0.016 * 0.0075 * DENSITY + after.lost_j, rel=1e-9)
    assert after.imbalance < 1e-9 and after.lost_j > 0
    closed = bag(milk(), u=250, air_c=bowl(1.0, 40), start_c=-18, end=None, most_h=0.5)
    assert after.around_c < closed.around_c


def test_a_great_bowl_is_steady_water() -> None:
    ours = milk()
    steady = bag(ours, u=250, air_c=40, start_c=-18, end="thawed").time_h
    assert bag(ours, u=250, air_c=bowl(1000, 40), start_c=-18, end="thawed").time_h == pytest.approx(steady, rel=2e-3)
    assert bag(ours, u=250, air_c=bowl(1, 40), start_c=-18, end="thawed").time_h > steady * 1.05
