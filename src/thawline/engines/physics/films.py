"""Films of air or water on a surface, radiation, and what a wall adds to them."""

from __future__ import annotations

import math
from functools import cache
from typing import Literal, NamedTuple

import numpy as np

from .numbers import coefficients, table, value

Surface = Literal["plate", "tube", "ball"]
Around = Literal["air", "water"]

_KELVIN = 273.15


class Fluid(NamedTuple):
    """A fluid at one temperature: conductivity W/(m K), kinematic viscosity and diffusivity m2/s, expansion 1/K."""

    k: float
    viscosity: float
    diffusivity: float
    expansion: float

    @property
    def prandtl(self) -> float:
        """Viscosity over diffusivity."""
        return self.viscosity / self.diffusivity

    def rayleigh(self, gap_k: float, size_m: float) -> float:
        """How hard warmth lifts the fluid along a surface of that height or diameter."""
        lift = value("films", "gravity") * abs(self.expansion) * abs(gap_k) * size_m**3
        return lift / (self.viscosity * self.diffusivity)


def fluid(name: Around, c: float) -> Fluid:
    """Still air or water at a temperature in C; beyond the table its last row."""
    at, *columns = _rows(name)
    return Fluid(*(float(np.interp(c, at, column)) for column in columns))


def nusselt(surface: Surface, rayleigh: float, prandtl: float) -> float:
    """Film times size over the fluid's conductivity: upright plate, lying tube, ball (Churchill and Chu)."""
    row = table("films", surface)
    hindrance = 1 + (row["prandtl"] / prandtl) ** (9 / 16)
    if surface != "ball":
        return float((row["still"] + row["rise"] * rayleigh ** (1 / 6) / hindrance ** (8 / 27)) ** 2)
    stirred = (1 + row.get("turbulent", 0.0) * rayleigh / hindrance ** (16 / 9)) ** (1 / 12)
    return float(row["still"] + row["rise"] * rayleigh ** (1 / 4) / hindrance ** (4 / 9) * stirred)


def slender(rayleigh: float, prandtl: float, *, height_m: float, across_m: float) -> float:
    """What an upright bottle's narrow side adds to a plate's film, as a factor (Popiel and Churchill)."""
    b, c = coefficients("films", "upright_tube", "b"), coefficients("films", "upright_tube", "c")
    weight = b[0] + b[1] * prandtl ** b[2]
    power = c[0] + c[1] * math.sqrt(prandtl) + c[2] * math.log(prandtl) + c[3] / prandtl
    return float(1 + weight * (32**0.5 * (rayleigh / prandtl) ** -0.25 * height_m / across_m) ** power)


def still_film(around: Around, surface: Surface, *, surface_c: float, around_c: float, size_m: float) -> float:
    """Film of natural convection in W/(m2 K), at the mean of the two temperatures; height or diameter in m."""
    here = fluid(around, (surface_c + around_c) / 2)
    return nusselt(surface, here.rayleigh(surface_c - around_c, size_m), here.prandtl) * here.k / size_m


def radiation_film(surface_c: float, around_c: float, emissivity: float | None = None) -> float:
    """What radiation adds to a film in W/(m2 K), at the mean of the two temperatures."""
    part = value("films", "emissivity") if emissivity is None else emissivity
    return 4 * part * value("films", "stefan_boltzmann") * ((surface_c + around_c) / 2 + _KELVIN) ** 3


def through_wall(film: float, wall_m: float, wall_k: float) -> float:
    """Film and a container's wall together, W/(m2 K)."""
    return 1 / (1 / film + wall_m / wall_k)


def conductance(
    *,
    inside_film: float,
    inside_m2: float,
    wall_m: float,
    wall_k: float,
    wall_m2: float,
    outside_film: float,
    outside_m2: float,
) -> float:
    """Heat through a box's wall in W/K; films in W/(m2 K) (infinite: none), areas m2, thickness m, k W/(m K)."""
    resistance = wall_m / (wall_k * wall_m2)
    for film, area in ((inside_film, inside_m2), (outside_film, outside_m2)):
        resistance += 0.0 if math.isinf(film) else 1 / (film * area)
    return 1 / resistance


@cache
def _rows(name: Around) -> tuple[tuple[float, ...], ...]:
    """The table's columns."""
    return tuple(zip(*table("films", name)["rows"], strict=True))
