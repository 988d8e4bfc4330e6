"""The way of the temperature on a picture ends where and when the answer says."""

from __future__ import annotations

from itertools import pairwise

import pytest

from thawline.engines.physics import ask, assumed, course
from thawline.engines.physics.spread import Range

BAG = assumed.vessel("flat", 120, 15, measured=True, faces=2)
FRIDGE = assumed.air("refrigerator", 4.0)


def test_each_way_begins_at_the_start_and_ends_with_its_hours() -> None:
    takes = ask.thaw(BAG, FRIDGE)
    runs = course.course(BAG, FRIDGE, takes, start_c=-18, end_c=-0.55)
    for path, hours in zip(runs, takes, strict=True):
        assert path[0] == pytest.approx((0, -18))
        assert path[-1] == pytest.approx((hours, -0.55))
        assert all(one[0] < other[0] and one[1] < other[1] for one, other in pairwise(path))


def test_what_never_gets_there_has_no_way() -> None:
    air = assumed.air("refrigerator", Range(-3, -2, 4))
    runs = course.course(BAG, air, ask.thaw(BAG, air), start_c=-18, end_c=-0.55)
    assert runs.early and not runs.nominal and not runs.late


def test_the_share_of_ice_falls_from_all_to_none() -> None:
    # Own computation: a bag in 4 C air has lost half its ice at 6.7 of 15.0 h, and 95 % at 14.0 h.
    takes = ask.thaw(BAG, FRIDGE)
    shares = course.ice_shares(course.course(BAG, FRIDGE, takes, start_c=-18, end_c=-0.55).nominal)
    assert shares[0][1] == 1 and shares[-1][1] == pytest.approx(0, abs=1e-6)
    assert all(one[1] > other[1] for one, other in pairwise(shares))
    half = next(hours for hours, share in shares if share <= 0.5)
    assert half / takes.nominal_h == pytest.approx(6.7 / 15.0, abs=0.08)


def test_in_a_bowl_milk_warms_no_further_than_bowl_and_milk_settle() -> None:
    # Own computation: 120 mL from -18 C in 1.0 kg of water at 40 C settle at 27.45 C.
    settled = course.settles_c(120, water_kg=1, water_c=40, start_c=-18)
    assert settled == pytest.approx(27.45, abs=0.05)
    path = course.in_bowl(BAG, water_kg=1, water_c=40, start_c=-18, end_c=37)
    assert all(one[0] < other[0] and one[1] < other[1] for one, other in pairwise(path))
    assert settled - 1 < path[-1][1] < settled


def test_in_much_water_it_gets_as_warm_as_wanted() -> None:
    path = course.in_bowl(BAG, water_kg=20, water_c=40, start_c=4, end_c=37)
    assert path[-1][1] == pytest.approx(37)
