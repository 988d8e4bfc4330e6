"""Closed forms against published examples, `ht`, `CoolProp` and `scipy`; the source stands beside each check."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from thawline.engines.physics import forms
from thawline.engines.physics.forms import Phase
from thawline.engines.physics.milk import freezing_of, milk

MILK = milk()
BAG_KG_W_K = 1030 * 0.0075
ICE = Phase(2.22, 1000, 2060)
WATER = Phase(0.57, 1000, 4200)


def test_freezing_point_from_osmolality() -> None:
    """301 mOsm/kg (Arch Pediatr 2018, cryoscopy) and 1.86 K kg/mol (J Chem Educ 84:1673), own computation."""
    assert freezing_of(301) == pytest.approx(-0.560, abs=0.002)


# Conduction


@pytest.mark.parametrize(
    ("body", "bi", "root", "weight"),
    [
        ("slab", 0.1, 0.3111, 1.0161),
        ("slab", 1, 0.8603, 1.1191),
        ("slab", 10, 1.4289, 1.2620),
        ("cylinder", 0.1, 0.4417, 1.0246),
        ("cylinder", 1, 1.2558, 1.2071),
        ("cylinder", 10, 2.1795, 1.5677),
    ],
)
def test_first_root_and_weight(body: forms.Body, bi: float, root: float, weight: float) -> None:
    """Own computation; equal to textbook tables from memory."""
    z = forms.roots(body, bi, 1)
    assert z[0] == pytest.approx(root, abs=1e-4)
    assert forms.weights(body, z)[0] == pytest.approx(weight, abs=1e-4)


@given(body=st.sampled_from(["slab", "cylinder", "sphere"]), bi=st.floats(0.01, 100))
def test_roots_are_the_first_ones_in_order(body: forms.Body, bi: float) -> None:
    z = forms.roots(body, bi, 20)
    assert np.all(np.diff(z) > 2.5)
    assert np.all(np.diff(z) < 4.5)
    assert z[0] < {"slab": math.pi / 2, "cylinder": 2.41, "sphere": math.pi}[body]


@given(body=st.sampled_from(["slab", "cylinder", "sphere"]), bi=st.floats(0.05, 20))
def test_at_first_nothing_of_the_gap_is_gone_and_one_term_is_enough_later(body: forms.Body, bi: float) -> None:
    assert forms.conduction(body, bi, 0.005) == pytest.approx(1, abs=2e-3)
    # One term is right to 2 % once Fo is above 0.2, as textbooks say.
    assert forms.conduction(body, bi, 0.25, terms=1) == pytest.approx(forms.conduction(body, bi, 0.25), rel=0.02)


def test_insulated_wall_of_incropera_5_4() -> None:
    """Incropera, example 5.4, as transcribed (it prints 42.9 by one term): 40 mm, one face, 480 s."""
    fo, bi = 18.8e-6 * 480 / 0.04**2, 500 * 0.04 / 63.9
    at = [60 - 80 * forms.conduction("slab", bi, fo, x) for x in (0, 1)]
    assert at == pytest.approx([43.0, 45.4], abs=0.15)


def test_long_cylinder_of_cengel_4_5() -> None:
    """Cengel, example 4.5, as transcribed (from a chart it prints 360); exact by own computation."""
    left = forms.conduction("cylinder", 80 * 0.1 / 14.9, 3.95e-6 * 2700 / 0.1**2)
    assert 200 + 400 * left == pytest.approx(364.3, abs=0.3)


def test_boiled_egg_of_cengel_4_3() -> None:
    """Cengel, example 4.3, as transcribed, by one term: a sphere of 25 mm from 5 in 95, centre at 70 C."""
    egg = Phase(0.627, 1000, 0.627 / (1000 * 0.151e-6))
    assert forms.conduction_time_s("sphere", egg, half_m=0.025, film=1200, left=25 / 90, terms=1) / 60 == pytest.approx(
        14.38, abs=0.02
    )
    assert forms.conduction_time_s("sphere", egg, half_m=0.025, film=1200, left=25 / 90) / 60 == pytest.approx(
        14.36, abs=0.02
    )


def test_tin_of_geankoplis_5_3_4() -> None:
    """Geankoplis, example 5.3-4, as transcribed (by charts: 106.6): short cylinder, exact by own computation."""
    radius, half = 0.0681 / 2, 0.1016 / 2
    round_part = forms.conduction("cylinder", 4540 * radius / 0.830, 2.007e-7 * 2700 / radius**2)
    flat_part = forms.conduction("slab", 4540 * half / 0.830, 2.007e-7 * 2700 / half**2)
    assert 115.6 - 86.2 * round_part * flat_part == pytest.approx(108.4, abs=0.1)


def test_apple_of_lienhard_5_2() -> None:
    """Lienhard, example 5.2, as transcribed: an apple of 0.1 m from 30 in a 5 C refrigerator, centre at 10 C."""
    apple = Phase(0.603, 997.6, 4180)
    assert forms.conduction_time_s("sphere", apple, half_m=0.05, film=6, left=5 / 25) == pytest.approx(22290, abs=50)


def test_bag_and_bottle_in_a_bath() -> None:
    """Own computation, exact: 4 to 37 C in 40 C, film 250, 15 mm and 50 mm."""
    liquid = Phase(0.56, 1030, 3900)
    assert forms.conduction_time_s("slab", liquid, half_m=0.0075, film=250, left=3 / 36) == pytest.approx(
        725.75, abs=0.1
    )
    assert forms.conduction_time_s("cylinder", liquid, half_m=0.025, film=250, left=3 / 36) == pytest.approx(
        2718.35, abs=0.3
    )


# Mixed bodies


def test_glass_of_milk_of_som_4_4() -> None:
    """Som, example 4.4, as transcribed: 50 mm across, its side only, 80 in 25, to 30 C."""
    tau = 900 * 4200 * 0.05 / 4 / 100
    assert tau == pytest.approx(472.5, abs=0.1)
    assert forms.mixed_time_s(tau, 80, 30, 25) == pytest.approx(1133, abs=1)


def test_steel_ball_of_geankoplis_5_2() -> None:
    """Geankoplis, examples 5.2-1 and 5.2-2, as transcribed."""
    tau = 7849 * 460.6 * 0.0254 / 3 / 11.36
    end = forms.mixed_c(tau, 699.9, 394.3, 3600)
    assert end == pytest.approx(474.6, abs=0.1)
    heat = 7849 * 460.6 * 4 / 3 * math.pi * 0.0254**3 * (699.9 - end)
    assert heat == pytest.approx(55901, abs=20)


def test_junction_of_incropera_5_1() -> None:
    """Incropera, example 5.1, as transcribed: one second, then 25 in 200, to 199 C."""
    across = 6 * 400 * 1 / (8500 * 400)
    assert across == pytest.approx(7.06e-4, rel=1e-3)
    assert forms.mixed_time_s(8500 * 400 * 7.06e-4 / 6 / 400, 25, 199, 200) == pytest.approx(5.16, abs=0.01)


def test_temperature_of_the_air_is_never_reached() -> None:
    assert forms.mixed_time_s(100, 25, 4, 4) == math.inf
    assert forms.mixed_time_s(100, 25, 3, 4) == math.inf
    assert forms.mixed_time_s(100, 25, 30, 4) == math.inf
    assert forms.mixed_time_s(100, 25, 25, 4) == 0


def _mixed_h(start_c: float, end_c: float, around_c: float, kg_w_k: float) -> float:
    step = 1 if end_c > start_c else -1
    between = MILK.t[(MILK.t > min(start_c, end_c)) & (MILK.t < max(start_c, end_c))][::step]
    c = np.concatenate([[start_c], between, [end_c]])
    return float(forms.mixed_times_s(c, MILK.enthalpy(c), around_c, kg_w_k)[-1]) / 3600


def test_mixed_bag_thaws_and_freezes() -> None:
    """Own computation: 15 mm, film 8, thaw in 4 C; freeze to -10 in -18 C; thaw in a 40 C bath, film 250."""
    assert _mixed_h(-18, -0.55, 4, BAG_KG_W_K / 8) == pytest.approx(14.60, rel=5e-3)
    assert _mixed_h(4, -10, -18, BAG_KG_W_K / 8) == pytest.approx(5.235, rel=5e-3)
    assert _mixed_h(-18, -0.55, 40, BAG_KG_W_K / 250) * 60 == pytest.approx(3.8, rel=2e-2)


def test_mixed_milk_cools_and_warms() -> None:
    """Own computation, prototype's figures: bag 25 and 37 to 5 in 4 C air; 4 to 10 in a 22 C room; bottle in a bath."""
    assert _mixed_h(25, 5, 4, BAG_KG_W_K / 8) == pytest.approx(3.15, abs=0.03)
    assert _mixed_h(37, 5, 4, BAG_KG_W_K / 8) == pytest.approx(3.62, abs=0.03)
    assert _mixed_h(4, 10, 22, BAG_KG_W_K / 8) * 60 == pytest.approx(25, abs=0.5)
    assert _mixed_h(4, 37, 40, 1030 * 0.0125 / 250) * 60 == pytest.approx(8.3, abs=0.1)


def test_mixed_milk_agrees_with_quadrature() -> None:
    """The integral of the heat over the gap, by scipy."""
    heat = quad(lambda h: 1 / (4 - MILK.temperature(h)), MILK.enthalpy(-18.0), 0.0, epsrel=1e-5, limit=500)[0]
    assert _mixed_h(-18, -0.55, 4, BAG_KG_W_K / 8) == pytest.approx(heat * BAG_KG_W_K / 8 / 3600, rel=1e-4)


def test_mixed_milk_does_not_thaw_at_its_freezing_point() -> None:
    assert _mixed_h(-18, -0.55, -0.55, 1) == math.inf
    assert _mixed_h(-18, -0.55, -0.8, 1) == math.inf
    assert _mixed_h(-18, -10, -30, 1) == math.inf


@given(around=st.floats(-0.5, 30), warmer=st.floats(0.01, 10), start=st.floats(-25, -1), kg=st.floats(0.01, 10))
def test_mixed_milk_never_thaws_later_in_warmer_air(around: float, warmer: float, start: float, kg: float) -> None:
    here = _mixed_h(start, -0.55, around, kg)
    assert _mixed_h(start, -0.55, around + warmer, kg) <= here
    assert _mixed_h(start + 0.1, -0.55, around, kg) <= here
    assert _mixed_h(start, -0.55, around, kg * 1.1) >= here


# Freezing and melting


def test_plank_of_geankoplis_5_5_2() -> None:
    """Geankoplis, example 5.5-2, as transcribed: a slab of meat, 63.5 mm."""
    seconds = forms.plank_s(
        "slab", rho=1057, latent=0.75 * 335e3, gap_k=270.4 - 244.3, across_m=0.0635, film=17, k=1.038
    )
    assert seconds == pytest.approx(2.394e4, rel=1e-3)
    half = forms.plank_s("cylinder", rho=1057, latent=0.75 * 335e3, gap_k=26.1, across_m=0.0635, film=17, k=1.038)
    assert half == pytest.approx(11972, rel=1e-3)


def test_plank_of_singh_and_heldman_7_10() -> None:
    """Singh and Heldman, problem 7.10, inputs as transcribed; the solution seen prints ten times too much."""
    seconds = forms.plank_s("sphere", rho=950, latent=0.88 * 333.2e3, gap_k=38, across_m=0.02, film=40, k=1.3)
    assert seconds == pytest.approx(705, rel=2e-3)


def test_plank_of_a_70_mm_sphere() -> None:
    """Singh and Heldman, from memory, own computation."""
    seconds = forms.plank_s("sphere", rho=1000, latent=250e3, gap_k=38.75, across_m=0.07, film=50, k=1.2)
    assert seconds == pytest.approx(2603, rel=2e-3)


def test_plank_overstates_thawing_in_a_refrigerator() -> None:
    """Own computation: 18.3 to 19.7 h for 14.98 (bag), 34.2 to 36.8 for 26.70 (bottle); freezing 4.58 and 7.89 h."""
    bodies: list[tuple[forms.Body, float]] = [("slab", 0.015), ("cylinder", 0.050)]
    hours = [
        forms.plank_s(body, rho=1030, latent=latent, gap_k=4.55, across_m=across, film=8, k=0.54) / 3600
        for body, across in bodies
        for latent in (293e3, 316e3)
    ]
    assert hours == pytest.approx([18.3, 19.7, 34.2, 36.8], rel=6e-3)
    freezing = [
        forms.plank_s(body, rho=1030, latent=293e3, gap_k=17.45, across_m=across, film=8, k=2.0) / 3600
        for body, across in bodies
    ]
    assert freezing == pytest.approx([4.58, 7.89], rel=5e-3)


@pytest.mark.parametrize(
    ("body", "across", "film", "air_c", "minutes"),
    [
        ("slab", 0.015, 8, 4, 14.3 * 60),
        ("cylinder", 0.050, 8, 4, 25.9 * 60),
        ("slab", 0.015, 250, 40, 10.5),
        ("cylinder", 0.050, 250, 40, 44.7),
    ],
)
def test_thawing_by_cleland(body: forms.Body, across: float, film: float, air_c: float, minutes: float) -> None:
    """Cleland and others 1986, coefficients from memory, own computation; within 5 % of the solver."""
    heat = 1030 * float(MILK.enthalpy(0.0) - MILK.enthalpy(-10.0))
    seconds = forms.cleland_thaw_s(
        body,
        thawed=Phase(0.56, 1030, 3900),
        frozen=Phase(2.05, 1030, 2000),
        heat=heat,
        across_m=across,
        film=film,
        freezes_c=-0.55,
        start_c=-18,
        around_c=air_c,
    )
    assert seconds / 60 == pytest.approx(minutes, rel=0.02)


@pytest.mark.parametrize(("body", "half", "hours"), [("slab", 0.0075, 5.84), ("cylinder", 0.025, 10.07)])
def test_freezing_by_pham(body: forms.Body, half: float, hours: float) -> None:
    """Pham 1986, from memory, own computation; about 10 % above the solver."""
    seconds = forms.pham_freeze_s(
        body,
        thawed=Phase(0.54, 1030, 3870),
        frozen=Phase(2.0, 1030, 1950),
        latent=0.864 * 333.55e3,
        half_m=half,
        film=8,
        start_c=4,
        centre_c=-10,
        around_c=-18,
    )
    assert seconds / 3600 == pytest.approx(hours, rel=0.02)


def _depth_after(factor: float, growing: Phase, seconds: float) -> float:
    return 2 * factor * math.sqrt(growing.diffusivity * seconds)


@pytest.mark.parametrize(
    ("growing", "other", "wall_c", "far_c", "factor", "seconds"),
    [
        (ICE, WATER, -18, 4, 0.22297, 466.6),
        (ICE, WATER, -18, 0, 0.23157, 432.6),
        (WATER, ICE, 40, -18, 0.38573, 1238),
        (WATER, ICE, 40, 0, 0.46627, 847),
        (WATER, ICE, 4, 0, 0.15739, 7437),
    ],
)
def test_front_of_neumann(
    growing: Phase, other: Phase, wall_c: float, far_c: float, factor: float, seconds: float
) -> None:
    """Neumann's solution, form as published (thermofluidcalc), own computation: 10 mm."""
    found = forms.neumann(growing, other, latent=333.55e3, wall_c=wall_c, far_c=far_c)
    assert found == pytest.approx(factor, abs=1e-4)
    assert forms.front_s(found, growing, 0.010) == pytest.approx(seconds, rel=1e-3)


def test_front_after_an_hour() -> None:
    """Own computation: 27.78 mm."""
    factor = forms.neumann(ICE, WATER, latent=333.55e3, wall_c=-18, far_c=4)
    assert _depth_after(factor, ICE, 3600) == pytest.approx(0.02778, rel=1e-3)


def test_lake_ice_is_neumann_without_the_ice_s_own_heat() -> None:
    """The quasi-steady front (olivier.granier.free.fr, lake) is right where the ice takes up next to nothing."""
    light = Phase(2.22, 1000, 1.0)
    exact = _depth_after(forms.neumann(light, WATER, latent=333.55e3, wall_c=-18, far_c=0), light, 3600)
    assert forms.lake_ice_m(2.22, 1000, 333.55e3, 18, 3600) == pytest.approx(exact, rel=1e-4)


def test_frost_goes_down_into_the_soil() -> None:
    """Incropera's water main, own computation: 20 C soil, surface -15, 60 days (the copy seen prints 0.92 m)."""
    soil = Phase(0.52, 2050, 1840)
    assert forms.depth_m(soil, start_c=20, surface_c=-15, at_c=0, after_s=60 * 86400) == pytest.approx(0.677, abs=0.002)


def test_ice_ball_of_dutta_3_1() -> None:
    """Dutta, example 3.1, as transcribed: 60 mm, 40 % of the volume."""
    gone = 0.03 * (1 - 0.6 ** (1 / 3))
    assert forms.film_melts_s(gone, rho=929, latent=335e3, film=11.4, gap_k=30) == pytest.approx(4274, abs=2)


# Milk and a bowl of water


def _water_j() -> float:
    return float(PropsSI("C", "T", 303.15, "P", 101325, "Water"))


def _heat(c: float) -> float:
    return float(MILK.enthalpy(c))


@pytest.mark.parametrize(
    ("bath_kg", "frozen_in_40", "chilled_in_40", "frozen_in_20"),
    [(0.5, 17.2, 33.3, 1.0), (1.0, 27.5, 36.3, 9.5), (2.0, 33.4, 38.1, 14.5), (3.0, 35.5, 38.7, 16.2)],
)
def test_where_milk_and_bath_settle(
    bath_kg: float, frozen_in_40: float, chilled_in_40: float, frozen_in_20: float
) -> None:
    """Own computation, 120 mL, no loss to the room."""
    bowl = bath_kg * _water_j()
    ends = [forms.bath_end_c(_heat, 0.1236, start, bowl, bath) for start, bath in ((-18, 40), (4, 40), (-18, 20))]
    assert ends == pytest.approx([frozen_in_40, chilled_in_40, frozen_in_20], abs=0.06)


def test_one_litre_never_reaches_37() -> None:
    """Own computation: 36.30 from 4 C, 27.45 from -18 C; at least 1.26 and 4.55 kg are needed."""
    bowl = 1.0 * _water_j()
    assert forms.bath_end_c(_heat, 0.1236, 4, bowl, 40) == pytest.approx(36.30, abs=0.05)
    assert forms.bath_end_c(_heat, 0.1236, -18, bowl, 40) == pytest.approx(27.45, abs=0.05)
    needed = [forms.bath_water_kg(_heat, 0.1236, start, 37, 40, _water_j()) for start in (4, -18)]
    assert needed == pytest.approx([1.26, 4.55], abs=0.01)
    assert forms.bath_water_kg(_heat, 0.1236, 4, 37, 37, _water_j()) == math.inf


@given(kg=st.floats(0.03, 0.3), start=st.floats(-20, 10), end=st.floats(20, 38))
def test_water_needed_settles_exactly_there(kg: float, start: float, end: float) -> None:
    water = forms.bath_water_kg(_heat, kg, start, end, 40, 4180)
    assert forms.bath_end_c(_heat, kg, start, water * 4180, 40) == pytest.approx(end, abs=1e-6)


def test_two_bodies_settle_as_the_equations_say() -> None:
    """Bejan, Heat Transfer Handbook: the gap decays at w_k (1/first + 1/second); oracle scipy."""
    first, second, w_k = 500.0, 4180.0, 3.0

    def rates(_: float, c: list[float]) -> list[float]:
        flow = w_k * (c[1] - c[0])
        return [flow / first, -flow / second]

    run = solve_ivp(rates, (0, 300), [4.0, 40.0], rtol=1e-10, atol=1e-10)
    gap = 36 * math.exp(-300 / forms.shared_tau_s(first, second, w_k))
    assert run.y[1, -1] - run.y[0, -1] == pytest.approx(gap, rel=1e-6)
    settled = forms.shared_c(first, 4, second, 40)
    assert run.y[0, -1] == pytest.approx(settled - gap * second / (first + second), rel=1e-6)
