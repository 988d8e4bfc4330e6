"""What milk holds and conducts, against books and libraries.

Figures "own computation" were computed apart from this project's code, by closed forms or another program.
"""

from __future__ import annotations

import iapws
import numpy as np
import pytest
from CoolProp import CoolProp
from hypothesis import given
from hypothesis import strategies as st

from thawline.engines.physics import numbers
from thawline.engines.physics.milk import (
    DEFAULT,
    DENSITY,
    FREEZING_C,
    Milk,
    Recipe,
    component,
    constant,
    freezing_of,
    milk,
    mixed_density,
    pure,
)

PARTS = ("Water", "Ice", "Protein", "Fat", "Carbohydrate", "Ash")


def test_water_at_20_and_ice_at_minus_18() -> None:
    # Choi and Okos 1986, own computation of the polynomials; water's heat capacity by the textbook's coefficient.
    assert component("water", 20) == pytest.approx((0.60366, 995.74, 4176.6), rel=1e-4)
    assert component("ice", -18) == pytest.approx((2.36498, 919.243, 1952.92), rel=1e-4)


@pytest.mark.parametrize(
    ("name", "t_c", "k"),
    [("fat", 37, 0.17025), ("protein", 20, 0.20164), ("carbohydrate", 4, 0.20689), ("ash", 20, 0.35648)],
)
def test_conductivity_of_the_dry_parts(name: str, t_c: float, k: float) -> None:
    # CoolProp 8.0.0, INCOMP::Food*, as printed.
    assert component(name, t_c)[0] == pytest.approx(k, rel=1e-4)


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("t_c", [-30.0, -18.0, -5.0, 4.0, 20.0, 37.0, 60.0])
def test_every_part_agrees_with_coolprop(name: str, t_c: float) -> None:
    if (name == "Ice" and t_c > 0) or (name != "Ice" and t_c < 0):
        return
    k, rho, c = (CoolProp.PropsSI(what, "T", t_c + 273.15, "P", 101325, f"INCOMP::Food{name}") for what in "LDC")
    ours = component(name.lower(), t_c)
    assert ours[:2] == pytest.approx((k, rho), rel=1e-4)
    # The library carries the ASHRAE 2006 figure for water's heat capacity, 1.1 % below the textbook's.
    assert ours[2] == pytest.approx(c * (4.1762 / 4.1289) if name == "Water" else c, rel=4e-4)


def test_water_and_ice_agree_with_the_international_formulation() -> None:
    # IAPWS-95 and IAPWS-06, library iapws 1.5.5.
    for t_c in (4, 20, 37):
        water = iapws.IAPWS95(T=t_c + 273.15, P=0.101325)
        assert component("water", t_c) == pytest.approx((water.k, water.rho, water.cp * 1000), rel=0.023)
    for t_c in (-10, -18):
        ice = iapws._iapws._Ice(t_c + 273.15, 0.101325)
        assert component("ice", t_c)[1:] == pytest.approx((ice["rho"], ice["cp"] * 1000), rel=0.012)


def test_latent_heat_of_water_is_the_published_one() -> None:
    water, ice = iapws.IAPWS95(T=273.16, P=0.101325), iapws._iapws._Ice(273.15, 0.101325)
    assert numbers.value("milk", "latent_heat") == pytest.approx(water.h - ice["h"], rel=1e-3)


def test_milk_at_4_degrees() -> None:
    # Own computation.
    ours = milk()
    assert float(ours.conductivity(4)) == pytest.approx(0.540, rel=3e-3)
    assert float(ours.enthalpy(4.5) - ours.enthalpy(3.5)) == pytest.approx(3870, rel=3e-3)
    assert mixed_density(DEFAULT, 4) == pytest.approx(1025.7, rel=3e-4)
    assert mixed_density(DEFAULT, 37) == pytest.approx(1019.9, rel=3e-4)


def test_ice_in_milk() -> None:
    # Own computation of the dilute solution (ASHRAE's enthalpy uses the same form); none above the freezing point.
    assert milk().ice(np.array([-18.0, -10.0, -1.0])) == pytest.approx([0.8440, 0.8227, 0.3918], abs=5e-4)
    assert milk().ice(np.array([FREEZING_C, 0.0, 4.0])).tolist() == [0, 0, 0]


def test_heat_between_freezer_and_refrigerator() -> None:
    # Own computation.
    ours = milk()
    assert float(ours.enthalpy(4) - ours.enthalpy(-18)) / 1000 == pytest.approx(333.7, rel=5e-3)
    assert float(ours.enthalpy(0) - ours.enthalpy(-10)) / 1000 == pytest.approx(295.5, rel=5e-3)


def test_table_of_enthalpy_ice_and_conductivity() -> None:
    # Own computation.
    t = np.array([-18.0, -10.0, -5.0, -2.0, -1.0, 4.0, 20.0, 37.0])
    ours = milk()
    assert ours.enthalpy(t) / 1000 == pytest.approx(
        [-316.1, -293.3, -267.4, -213.5, -131.6, 17.6, 79.6, 145.5], abs=0.06
    )
    assert ours.ice(t) / DEFAULT.water == pytest.approx([0.965, 0.940, 0.886, 0.721, 0.448, 0, 0, 0], abs=6e-4)
    assert ours.conductivity(t) == pytest.approx([2.109, 2.010, 1.899, 1.645, 1.235, 0.540, 0.563, 0.585], abs=2e-3)


@pytest.mark.parametrize(
    ("start_c", "end_c", "kj"), [(-18, 0, 39.3), (-18, 37, 57.0), (4, 37, 15.8), (25, 4, -10.1), (37, 4, -15.8)]
)
def test_heat_for_120_ml(start_c: float, end_c: float, kj: float) -> None:
    # Own computation: 0.1236 kg.
    ours = milk()
    assert 0.1236 * float(ours.enthalpy(end_c) - ours.enthalpy(start_c)) / 1000 == pytest.approx(kj, abs=0.06)


def test_geometric_mixing_of_frozen_milk_conducts_less() -> None:
    # Own computation; the pair shows what the choice of mixing rule is worth.
    assert float(milk(conductivity="geometric").conductivity(-18)) == pytest.approx(1.79, abs=0.01)


def test_freezing_point_from_osmolality() -> None:
    # 301 mOsm/kg: Archives of Pediatrics 2018; 1.86 K kg/mol: Journal of Chemical Education 84, 1673. Fortified: 443.
    assert freezing_of(301) == pytest.approx(-0.560, abs=2e-3)
    assert freezing_of(443) == pytest.approx(-0.82, abs=5e-3)


def test_chen_holds_a_little_less_heat() -> None:
    # Chen's enthalpy, as in ASHRAE: 311.4 and 290.6 kJ/kg from the freezing point down to -18 and -10; ours within 2 %.
    ours = milk()
    assert -float(ours.enthalpy(-18)) / 1000 == pytest.approx(311.4, rel=0.02)
    assert -float(ours.enthalpy(-10)) / 1000 == pytest.approx(290.6, rel=0.02)


@pytest.mark.parametrize("name", ["usual", "fatty", "lean"])
def test_every_recipe_is_one_whole(name: str) -> None:
    assert sum(Recipe.named(name)) == pytest.approx(1.0)
    assert milk(Recipe.named(name)).density == DENSITY


@given(
    st.floats(-39, 99),
    st.sampled_from(["usual", "fatty", "lean"]),
    st.sampled_from([-0.60, -0.55, -0.50]),
)
def test_tables_lead_there_and_back(t_c: float, name: str, freezing_c: float) -> None:
    ours = milk(Recipe.named(name), freezing_c)
    assert float(ours.temperature(ours.enthalpy(t_c))) == pytest.approx(t_c, abs=1e-9)


@pytest.mark.parametrize("ours", [milk(), milk(conductivity="geometric"), milk(Recipe.named("fatty"), -0.60)])
def test_tables_rise_and_conductivity_is_the_slope_of_its_integral(ours: Milk) -> None:
    assert np.all(np.diff(ours.h) > 0) and np.all(np.diff(ours.t) > 0)
    assert float(ours.enthalpy(ours.freezing_c)) == 0
    slope = np.diff(ours.phi) / np.diff(ours.t)
    assert np.all(slope >= np.minimum(ours.k[1:], ours.k[:-1]) - 1e-9)
    assert np.all(slope <= np.maximum(ours.k[1:], ours.k[:-1]) + 1e-9)


def test_enthalpy_is_the_sum_of_sensible_and_latent_heat() -> None:
    # By another way: small steps of c dT - L dx from the freezing point down, with the formulas written out here.
    t = np.linspace(-18.0, FREEZING_C, 400_001)
    middle = (t[1:] + t[:-1]) / 2
    free = 0.875 - 0.4 * 0.011
    ice = free * (1 - FREEZING_C / middle)
    c = (
        0.040 * (1.9842 + 1.4733e-3 * middle - 4.8008e-6 * middle**2)
        + 0.011 * (2.0082 + 1.2089e-3 * middle - 1.3129e-6 * middle**2)
        + 0.072 * (1.5488 + 1.9625e-3 * middle - 5.9399e-6 * middle**2)
        + 0.002 * (1.0926 + 1.8896e-3 * middle - 3.6817e-6 * middle**2)
        + (0.875 - ice) * 4.18
        + ice * (2.0623 + 6.0769e-3 * middle)
    )
    latent = 333.55 + 2.12 * middle
    down = np.sum(c * np.diff(t) - latent * np.diff(free * (1 - FREEZING_C / t)))
    assert float(milk().enthalpy(-18)) / 1000 == pytest.approx(-down, rel=1e-5)


def test_plain_materials() -> None:
    steel = constant(14.9, 7900, 477)
    assert float(steel.enthalpy(10) - steel.enthalpy(0)) == pytest.approx(4770)
    water = pure(melts_c=0, latent=333.55e3, density=1000, solid=(2.22, 2060), liquid=(0.57, 4200))
    assert float(water.temperature(-100e3)) == 0
    assert float(water.temperature(-333.55e3 - 2060 * 5)) == pytest.approx(-5)


def test_every_figure_of_the_data_file_names_its_source_and_mark() -> None:
    def tables(at: dict[str, object]) -> list[dict[str, object]]:
        inner = [found for one in at.values() if isinstance(one, dict) for found in tables(one)]
        return inner + ([at] if any(not isinstance(one, dict) for one in at.values()) else [])

    for one in tables(numbers.load("milk")):
        assert one["mark"] in numbers.MARKS
        assert one["source"] and one["unit"]
