"""Films of air and water against published examples and the library `ht`; the source stands beside each check."""

from __future__ import annotations

import math

import ht
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from thawline.engines.physics import films
from thawline.engines.physics.numbers import MARKS, load, value


def test_plate_of_incropera_9_2() -> None:
    """Incropera, example 9.2, as transcribed."""
    hot = films.Fluid(k=0.0338, viscosity=26.4e-6, diffusivity=38.3e-6, expansion=0.0025)
    ra = hot.rayleigh(232 - 23, 0.71)
    nu = films.nusselt("plate", ra, 0.69)
    assert ra == pytest.approx(1.814e9, rel=2e-3)
    assert nu == pytest.approx(147.15, rel=2e-3)
    assert nu * hot.k / 0.71 * 0.71 * 1.02 * (232 - 23) == pytest.approx(1060, rel=2e-3)


def test_plate_of_cengel_9_2() -> None:
    """Cengel, example 9.2, as transcribed; the wall is 0.6 m square."""
    nu = films.nusselt("plate", 7.649e8, 0.7202)
    assert nu == pytest.approx(113.34, rel=1e-3)
    assert nu * 0.02808 / 0.6 * 0.6**2 * 60 == pytest.approx(114.6, rel=1e-3)


@pytest.mark.parametrize(
    ("surface", "prandtl", "grashof", "expected"),
    [("plate", 0.71, 1e7, 28.3304), ("tube", 0.69, 2.63e9, 139.1349), ("ball", 0.7, 1e7, 25.6709)],
)
def test_figures_printed_by_ht(surface: films.Surface, prandtl: float, grashof: float, expected: float) -> None:
    """Library ht 1.2.0."""
    assert films.nusselt(surface, prandtl * grashof, prandtl) == pytest.approx(expected, rel=1e-5)


def test_tube_of_cengel() -> None:
    """Library ht 1.2.0; the book's own value from memory."""
    assert films.nusselt("tube", 1.869e6, 0.7241) == pytest.approx(17.40, rel=1e-3)


def test_pipe_of_incropera_9_4_with_its_radiation() -> None:
    """Incropera, example 9.4, as transcribed: 763 W for each metre."""
    air = films.Fluid(k=0.0313, viscosity=22.8e-6, diffusivity=32.8e-6, expansion=0.002725)
    film = films.nusselt("tube", air.rayleigh(165 - 23, 0.1), 0.697) * air.k / 0.1
    radiation = 0.85 * 5.67e-8 * (438**4 - 296**4)
    assert math.pi * 0.1 * (film * (165 - 23) + radiation) == pytest.approx(763, abs=1)


@given(prandtl=st.floats(0.5, 20), grashof=st.floats(1e2, 1e11), tall=st.floats(0.2, 5))
def test_correlations_agree_with_ht_everywhere(prandtl: float, grashof: float, tall: float) -> None:
    ra = prandtl * grashof
    assert films.nusselt("plate", ra, prandtl) == pytest.approx(ht.Nu_vertical_plate_Churchill(prandtl, grashof))
    assert films.nusselt("tube", ra, prandtl) == pytest.approx(
        ht.Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof)
    )
    assert films.nusselt("ball", ra, prandtl) == pytest.approx(ht.Nu_sphere_Churchill(prandtl, grashof))
    upright = films.nusselt("plate", ra, prandtl) * films.slender(ra, prandtl, height_m=tall, across_m=1)
    assert upright == pytest.approx(
        ht.conv_free_immersed.Nu_vertical_cylinder_Popiel_Churchill(prandtl, grashof, L=tall, D=1)
    )


BOTTLE = [
    (25, 4, 2.384e6, 20.92, 5.33, 5.79, 4.86),
    (10, 4, 7.70e5, 15.45, 3.85, 4.28, 4.49),
    (-0.55, 4, 6.38e5, 14.71, 3.60, 4.03, 4.24),
    (-0.55, -18, 2.96e6, 22.22, 5.25, 5.69, 3.75),
]


@pytest.mark.parametrize("row", BOTTLE)
def test_film_on_a_bottle_in_refrigerator_and_freezer(row: tuple[float, ...]) -> None:
    """Own computation with library air (CoolProp 8.0.0) and ht 1.2.0: 0.10 m high, 50 mm across."""
    surface_c, air_c, ra, nu, plate, upright, radiation = row
    air = films.fluid("air", (surface_c + air_c) / 2)
    here = air.rayleigh(surface_c - air_c, 0.1)
    assert here == pytest.approx(ra, rel=2e-3)
    assert films.nusselt("plate", here, air.prandtl) == pytest.approx(nu, rel=1e-3)
    film = films.still_film("air", "plate", surface_c=surface_c, around_c=air_c, size_m=0.1)
    assert film == pytest.approx(plate, abs=0.01)
    assert film * films.slender(here, air.prandtl, height_m=0.1, across_m=0.05) == pytest.approx(upright, abs=0.01)
    assert films.radiation_film(surface_c, air_c) == pytest.approx(radiation, abs=0.01)


def test_taller_bag_has_a_weaker_film() -> None:
    """Own computation, as above: 0.15 m, -0.55 in -18 C air."""
    assert films.still_film("air", "plate", surface_c=-0.55, around_c=-18, size_m=0.15) == pytest.approx(4.92, abs=0.01)


@pytest.mark.parametrize(("surface_c", "water_c", "film"), [(4, 40, 807), (35, 40, 570), (0, 20, 461)])
def test_film_in_a_bath(surface_c: float, water_c: float, film: float) -> None:
    """Own computation with library water (CoolProp 8.0.0): 0.06 m high."""
    here = films.still_film("water", "plate", surface_c=surface_c, around_c=water_c, size_m=0.06)
    assert here == pytest.approx(film, rel=3e-3)


@given(c=st.floats(-20, 40))
def test_tables_of_air_follow_the_library(c: float) -> None:
    air = films.fluid("air", c)
    assert air.k == pytest.approx(PropsSI("conductivity", "T", c + 273.15, "P", 101325, "Air"), rel=1e-3)
    assert air.prandtl == pytest.approx(PropsSI("Prandtl", "T", c + 273.15, "P", 101325, "Air"), rel=2e-3)


def test_bottle_wall_dominates_a_bath_film() -> None:
    """Own computation: film 250, 1.5 mm of polypropylene with 0.2 W/(m K)."""
    assert films.through_wall(250, 1.5e-3, value("films", "wall_k", "polypropylene")) == pytest.approx(87.0, abs=0.1)


def test_wall_alone_where_films_are_perfect() -> None:
    through = films.conductance(
        inside_film=float("inf"),
        inside_m2=1,
        wall_m=0.03,
        wall_k=0.033,
        wall_m2=0.5,
        outside_film=float("inf"),
        outside_m2=9,
    )
    assert through == pytest.approx(0.033 * 0.5 / 0.03)


@pytest.mark.parametrize("name", ["films", "forms", "cooler", "box"])
def test_every_figure_names_its_mark_and_source(name: str) -> None:
    def entries(node: dict[str, object]) -> list[dict[str, object]]:
        if "source" in node or not any(isinstance(one, dict) for one in node.values()):
            return [node]
        return [entry for one in node.values() if isinstance(one, dict) for entry in entries(one)]

    found = entries(load(name))
    assert found
    for entry in found:
        assert entry["mark"] in MARKS
        assert entry["source"]
