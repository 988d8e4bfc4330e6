"""How long a cooler holds: worked examples with their source beside them, and what may never reverse."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thawline.engines.physics import cooler
from thawline.engines.physics.cooler import Cooler, Load, Packs
from thawline.engines.physics.films import conductance

BOX, FOAM, BAG = (cooler.kinds()[name] for name in ("box", "foam", "bag"))
TWO = Packs(2, 0.4, -18)
COLD = Load(480, 4)
NO_FILM = math.inf


# Published boxes with ice


def test_polystyrene_chest_of_cengel() -> None:
    """Cengel, solutions manual, as transcribed: 50 kg of ice at 28 C (its text says 45 kg, its arithmetic 50)."""
    w_k = conductance(
        inside_film=NO_FILM, inside_m2=1, wall_m=0.03, wall_k=0.033, wall_m2=0.5708, outside_film=18, outside_m2=0.74
    )
    assert 1 / w_k == pytest.approx(1.668, rel=3e-3)
    assert w_k * 28 == pytest.approx(16.79, rel=3e-3)
    assert cooler.ice_lasts_h(50, w_k * 28, 333.7) == pytest.approx(276, rel=3e-3)


def test_ice_box_of_a_school_text() -> None:
    """School text (NCERT), as transcribed: 4 kg of ice, 45 C outside, 6 h."""
    w_k = conductance(
        inside_film=NO_FILM, inside_m2=1, wall_m=0.05, wall_k=0.01, wall_m2=0.54, outside_film=NO_FILM, outside_m2=1
    )
    melted = cooler.ice_melts_kg(w_k * 45, 6, 335)
    assert melted == pytest.approx(0.313, abs=1e-3)
    assert 4 - melted == pytest.approx(3.687, abs=1e-3)


def test_chest_with_a_base_that_takes_no_heat() -> None:
    """Physics class problem, inputs as transcribed, own computation with the outer sides as the wall's area."""
    area = 0.5 * 0.4 + 2 * (0.5 + 0.4) * 0.3
    w_k = conductance(
        inside_film=NO_FILM, inside_m2=1, wall_m=0.03, wall_k=0.033, wall_m2=area, outside_film=NO_FILM, outside_m2=1
    )
    assert w_k * 25 == pytest.approx(20.35, rel=3e-3)
    assert cooler.ice_lasts_h(30, w_k * 25, 333.2) == pytest.approx(136.5, rel=3e-3)


def test_iced_tank_of_cengel() -> None:
    """Cengel, as restated: 7978.3 W for a day (the copy seen prints less, by an integer division)."""
    assert pytest.approx(689.3, rel=1e-3) == 7978.3 * 86400 / 1e6
    assert cooler.ice_melts_kg(7978.3, 24, 333.7) == pytest.approx(2066, rel=1e-3)


# Own worked table: box 30 x 20 x 20 cm, 30 C around it, two packs of 400 g at -18 C


def test_leak_of_each_kind_of_cooler() -> None:
    """Own computation: dry and damp polystyrene, polyurethane, soft bag."""
    assert BOX.leak_w_k() == pytest.approx(0.375, abs=5e-4)
    assert BOX._replace(wall_k=0.045).leak_w_k() == pytest.approx(0.432, abs=5e-4)
    assert FOAM.leak_w_k() == pytest.approx(0.260, abs=5e-4)
    assert BAG.leak_w_k() == pytest.approx(0.520, abs=5e-4)


def test_what_two_packs_hold() -> None:
    """Own computation: 296.5 kJ, of which 266.8 melt the ice."""
    assert cooler.stock_kj(TWO) == pytest.approx(296.5, abs=0.1)
    assert cooler.stock_kj(Packs(2, 0.4, -1e-9)) == pytest.approx(266.8, abs=0.1)


@pytest.mark.parametrize(
    ("start_c", "openings", "hours", "margin"),
    [(4, 0, 7.85, 5.5), (4, 5, 7.74, 5.4), (25, 5, 6.68, 4.7), (37, 5, 6.07, 4.2)],
)
def test_hold_of_the_worked_box(start_c: float, openings: int, hours: float, margin: float) -> None:
    """Own computation; the last column keeps 0.7 of the hours, as the early answer does."""
    found = cooler.hold_h(BOX, TWO, Load(480, start_c), ambient_c=30, openings=openings)
    assert found == pytest.approx(hours, abs=0.006)
    assert 0.7 * found == pytest.approx(margin, abs=0.06)


def test_soft_bag_holds_less() -> None:
    """Own computation: 5.7 h; its leak is 14.5 W."""
    assert BAG.leak_w_k() * 28 == pytest.approx(14.5, abs=0.06)
    assert cooler.hold_h(BAG, TWO, COLD, ambient_c=30) == pytest.approx(5.7, abs=0.05)


def test_warm_milk_and_openings_take_cold() -> None:
    """Own computation: 480 mL from 25 and from 37 C, five openings."""
    assert Load(480, 25).kj() == pytest.approx(40.2, abs=0.05)
    assert Load(480, 37).kj() == pytest.approx(63.1, abs=0.06)
    assert Load(480, 2).kj() == 0
    assert cooler.openings_kj(BOX, 5, 30) == pytest.approx(4.05, abs=0.01)


def test_early_answer_by_hand() -> None:
    """Ours: packs at -10, 35 C, damp wall, ten openings for five, 0.7 of the hours."""
    stock = 0.8 * (2.06 * 10 + 333.55)
    let_in = 10 * 2 * 0.012 * 1.206 * 33
    leak = BOX._replace(wall_k=0.045).leak_w_k() * 33 * 3.6
    unknown = Packs(2, 0.4)
    assert cooler.hold(BOX, unknown, COLD, ambient_c=30, openings=5).early_h == pytest.approx(
        0.7 * (stock - let_in) / leak
    )


def test_known_packs_and_a_worse_wall_are_taken_as_they_are() -> None:
    known = cooler.hold(BOX, TWO, COLD, ambient_c=30).early_h
    assert known > cooler.hold(BOX, TWO._replace(start_c=None), COLD, ambient_c=30).early_h
    worse = BOX._replace(wall_k=0.06)
    assert cooler.hold(worse, TWO, COLD, ambient_c=30).early_h < known


def test_packs_that_cannot_chill_the_milk_hold_nothing() -> None:
    assert cooler.hold(BOX, Packs(1, 0.2, -10), Load(2000, 37), ambient_c=30) == (0, 0, 0)
    assert cooler.hold(BOX, Packs(0, 0.4, -18), COLD, ambient_c=30) == (0, 0, 0)


def test_soft_packs_hold_nothing() -> None:
    assert cooler.hold(BOX, Packs(2, 0.4, 4), COLD, ambient_c=30) == (0, 0, 0)


def test_a_cold_place_needs_no_packs_but_the_early_answer_allows_for_a_warmer_one() -> None:
    found = cooler.hold(BOX, TWO, COLD, ambient_c=0)
    assert found.nominal_h == math.inf
    assert math.isfinite(found.early_h)


def test_never_above_the_published_limit() -> None:
    many = Packs(12, 0.6, -18)
    assert cooler.hold(BOX, many, COLD, ambient_c=20).late_h > 24
    assert cooler.hold(BOX, many, COLD, ambient_c=20, published_h=24) == (24, 24, 24)


# What may never reverse


@dataclass
class Trip:
    cooler: Cooler
    packs: Packs
    milk: Load
    ambient_c: float
    openings: int

    def early(self) -> float:
        return cooler.hold(self.cooler, self.packs, self.milk, ambient_c=self.ambient_c, openings=self.openings).early_h


@st.composite
def trips(draw: st.DrawFn) -> Trip:
    side = st.floats(10, 60)
    return Trip(
        Cooler((draw(side), draw(side), draw(side)), draw(st.floats(6, 60)), draw(st.floats(0.02, 0.07))),
        Packs(draw(st.integers(0, 12)), draw(st.floats(0.1, 1)), draw(st.none() | st.floats(-25, 5))),
        Load(draw(st.floats(0, 3000)), draw(st.floats(-20, 40))),
        draw(st.floats(-10, 45)),
        draw(st.integers(0, 30)),
    )


@given(trip=trips(), more=st.floats(0.1, 10))
def test_worse_never_holds_longer(trip: Trip, more: float) -> None:
    here = trip.early() + 1e-9
    assert Trip(trip.cooler, trip.packs, trip.milk, trip.ambient_c + more, trip.openings).early() <= here
    assert Trip(trip.cooler, trip.packs, trip.milk, trip.ambient_c, trip.openings + 1).early() <= here
    warmer = trip.milk._replace(start_c=trip.milk.start_c + more)
    assert Trip(trip.cooler, trip.packs, warmer, trip.ambient_c, trip.openings).early() <= here
    fewer = trip.packs._replace(number=max(trip.packs.number - 1, 0))
    assert Trip(trip.cooler, fewer, trip.milk, trip.ambient_c, trip.openings).early() <= here
    thinner = trip.cooler._replace(wall_mm=trip.cooler.wall_mm * 0.9)
    assert Trip(thinner, trip.packs, trip.milk, trip.ambient_c, trip.openings).early() <= here
    unknown = trip.packs._replace(start_c=-10.0 if trip.packs.start_c is None else max(trip.packs.start_c, -10.0))
    assert Trip(trip.cooler, unknown, trip.milk, trip.ambient_c, trip.openings).early() <= here


@given(trip=trips(), published=st.none() | st.floats(1, 48))
def test_early_nominal_and_late_keep_their_order_below_the_limit(trip: Trip, published: float | None) -> None:
    found = cooler.hold(
        trip.cooler, trip.packs, trip.milk, ambient_c=trip.ambient_c, openings=trip.openings, published_h=published
    )
    assert 0 <= found.early_h <= found.nominal_h <= found.late_h
    assert published is None or found.late_h <= published


# How many packs


@given(trip=trips(), wanted=st.floats(0.5, 24))
def test_needed_packs_are_the_fewest_that_hold(trip: Trip, wanted: float) -> None:
    kg = trip.packs.kg
    need = cooler.packs_needed(
        trip.cooler,
        trip.milk,
        wanted_h=wanted,
        ambient_c=trip.ambient_c,
        pack_kg=kg,
        openings=trip.openings,
        published_h=24,
    )
    assert need.number is not None
    trip.packs = Packs(need.number, kg)
    assert trip.early() >= wanted * (1 - 1e-6) or need.number == 0
    if need.number:
        trip.packs = Packs(need.number - 1, kg)
        assert trip.early() < wanted


def test_more_hours_than_published_cannot_be_had() -> None:
    assert cooler.packs_needed(BOX, COLD, wanted_h=25, ambient_c=20, pack_kg=0.4, published_h=24) == (None, False)
    soft = cooler.packs_needed(BOX, COLD, wanted_h=5, ambient_c=20, pack_kg=0.4, pack_start_c=3)
    assert soft.number is None


def test_packs_that_find_no_room_are_told() -> None:
    need = cooler.packs_needed(BAG, Load(3000, 37), wanted_h=24, ambient_c=40, pack_kg=0.4, published_h=24)
    assert need.number is not None
    assert need.number > 10
    assert not need.fits
    assert cooler.fits(BAG, TWO, COLD)


# The milk itself


def test_milk_between_packs_stays_cold_and_beside_loose_packs_does_not() -> None:
    """Ours, own computation at 30 C: 3.3 C touching, 7.5 C loose."""
    assert cooler.milk_near_packs_c("touching", 30) == pytest.approx(3.33, abs=0.05)
    assert cooler.milk_near_packs_c("loose", 30) == pytest.approx(7.5, abs=0.05)
    assert cooler.stays_cold("touching", 30)
    assert not cooler.stays_cold("loose", 30)


def test_in_great_heat_even_touching_packs_do_not_keep_4_c() -> None:
    assert cooler.stays_cold("touching", 36)
    assert not cooler.stays_cold("touching", 37)


def test_cold_packs_may_freeze_milk_they_touch() -> None:
    """Own computation: what packs take up on their way to -0.55 C, less what cools the milk there."""
    spare = 0.8 * 2.06 * 17.45 - 0.4944 * 3.87 * 4.55
    assert cooler.may_freeze_ml(TWO, COLD) == pytest.approx(spare / 333.55 / 1.03 * 1000)
    assert cooler.may_freeze_ml(Packs(2, 0.4), COLD) > 0


def test_packs_near_0_c_and_little_cold_freeze_nothing() -> None:
    assert cooler.may_freeze_ml(Packs(2, 0.4, -0.5), COLD) == 0
    assert cooler.may_freeze_ml(Packs(1, 0.1, -10), Load(1000, 25)) == 0
    assert cooler.may_freeze_ml(TWO, Load(480, -18)) == 0


def test_no_more_milk_freezes_than_there_is() -> None:
    assert cooler.may_freeze_ml(Packs(10, 1, -30), Load(60, 4)) == 60
