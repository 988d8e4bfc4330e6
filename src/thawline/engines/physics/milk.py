"""What milk is made of, how much heat it holds at each temperature, and how well it conducts it, liquid or frozen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from . import numbers

Array = npt.NDArray[np.float64]
Mixing = Literal["parallel", "geometric"]

COLDEST_C, HOTTEST_C = -40.0, 100.0


class Recipe(NamedTuple):
    """Mass fractions of milk, kg in a kg."""

    water: float
    fat: float
    protein: float
    carbohydrate: float
    ash: float

    @classmethod
    def named(cls, name: str) -> Recipe:
        """A recipe of the data file: usual, fatty or lean."""
        row = numbers.table("milk", "recipe", name)
        return cls(*(float(row[part]) for part in cls._fields))


DEFAULT = Recipe.named("usual")
FREEZING_C = numbers.value("milk", "freezing")
DENSITY = numbers.value("milk", "working_density")


def component(name: str, t_c: float) -> tuple[float, float, float]:
    """Conductivity in W/(m K), density in kg/m3 and heat capacity in J/(kg K) of one part of milk."""
    k, rho, c = (float(_polynomial(kind, name, np.array(t_c))) for kind in ("conductivity", "density", "heat_capacity"))
    return k, rho, c * 1000


def freezing_of(mosm_per_kg: float) -> float:
    """Where the first ice forms, in degrees Celsius, from the osmolality in mOsm per kg of water."""
    return -numbers.value("milk", "cryoscopic") * mosm_per_kg / 1000


@dataclass(frozen=True, eq=False)
class Milk:
    """Tables of a material, every one piecewise linear in the enthalpy `h` (J/kg, 0 for liquid where freezing begins).

    `t` temperature (C), `phi` the integral of the conductivity over the temperature (W/m), `k` conductivity in W/(m K).
    """

    freezing_c: float
    density: float
    t: Array
    h: Array
    phi: Array
    k: Array
    freezable: float = 0.0

    def enthalpy(self, t_c: float | Array) -> Array:
        """Heat held at a temperature, J/kg."""
        return np.asarray(np.interp(t_c, self.t, self.h))

    def temperature(self, h: float | Array) -> Array:
        """Temperature in degrees Celsius at an enthalpy in J/kg."""
        return np.asarray(np.interp(h, self.h, self.t))

    def kirchhoff(self, h: float | Array) -> Array:
        """The integral of the conductivity over the temperature, W/m, at an enthalpy in J/kg."""
        return np.asarray(np.interp(h, self.h, self.phi))

    def conductivity(self, t_c: float | Array) -> Array:
        """Conductivity in W/(m K) at a temperature."""
        return np.asarray(np.interp(t_c, self.t, self.k))

    def ice(self, t_c: float | Array) -> Array:
        """Ice in a kg at a temperature, kg."""
        return _ice(np.asarray(t_c, dtype=float), self.freezable, self.freezing_c)

    def stirred(self, times: float = 1000.0) -> Milk:
        """The same material, conducting that many times better: milk that is swirled all the while."""
        return replace(self, phi=self.phi * times, k=self.k * times)


@lru_cache
def milk(recipe: Recipe = DEFAULT, freezing_c: float = FREEZING_C, conductivity: Mixing = "parallel") -> Milk:
    """Milk of a recipe that begins to freeze at that temperature."""
    freezable = recipe.water - numbers.value("milk", "bound_water") * recipe.protein
    frozen, liquid = _grid(freezing_c)
    c_frozen = _heat_capacity(recipe, frozen, _ice(frozen, freezable, freezing_c), below=True)
    c_liquid = _heat_capacity(recipe, liquid, np.zeros_like(liquid), below=False)
    below = _running(c_frozen, frozen)
    h_frozen = below - below[-1] - _melted(frozen, freezable, freezing_c)
    t = np.concatenate([frozen, liquid[1:]])
    k = _conductivity(recipe, t, _ice(t, freezable, freezing_c), conductivity)
    return Milk(
        freezing_c=freezing_c,
        density=DENSITY,
        t=t,
        h=np.concatenate([h_frozen, _running(c_liquid, liquid)[1:]]),
        phi=_running(k, t),
        k=k,
        freezable=freezable,
    )


def constant(k: float, density: float, c: float) -> Milk:
    """A material with one conductivity W/(m K), density kg/m3 and heat capacity J/(kg K), which never freezes."""
    t = np.array([-1000.0, 1000.0])
    return Milk(freezing_c=-1000.0, density=density, t=t, h=c * t, phi=k * t, k=np.full(2, k))


def pure(
    *, melts_c: float, latent: float, density: float, solid: tuple[float, float], liquid: tuple[float, float]
) -> Milk:
    """A material that melts at one temperature; `solid`, `liquid`: conductivity and heat capacity; `latent` in J/kg."""
    (k_s, c_s), (k_l, c_l) = solid, liquid
    reach = 1000.0
    return Milk(
        freezing_c=melts_c,
        density=density,
        t=np.array([melts_c - reach, melts_c, melts_c, melts_c + reach]),
        h=np.array([-latent - c_s * reach, -latent, 0.0, c_l * reach]),
        phi=np.array([-k_s * reach, 0.0, 0.0, k_l * reach]),
        k=np.array([k_s, k_s, k_l, k_l]),
    )


def _grid(freezing_c: float) -> tuple[Array, Array]:
    """Temperatures below and above freezing; half of those below are evenly spread over the ice that forms."""
    most = 1 - freezing_c / COLDEST_C
    by_ice = freezing_c / (1 - np.linspace(0.0, most, 400))
    evenly = np.linspace(COLDEST_C, freezing_c, 200)
    frozen = np.unique(np.concatenate([by_ice, evenly]).round(9))
    frozen = np.append(frozen[frozen < freezing_c - 1e-6], freezing_c)
    return frozen, np.linspace(freezing_c, HOTTEST_C, 201)


def _ice(t: Array, freezable: float, freezing_c: float) -> Array:
    """Ice, kg/kg, of an ideal dilute solution."""
    cold = np.minimum(t, freezing_c) if freezing_c < 0 else np.full_like(t, -1.0)
    return np.asarray(freezable * (1 - freezing_c / cold)) if freezing_c < 0 else np.zeros_like(t)


def _melted(t: Array, freezable: float, freezing_c: float) -> Array:
    """Heat that melting takes from a temperature up to the last ice, J/kg; in closed form."""
    at_0 = numbers.value("milk", "latent_heat")
    slope = numbers.value("milk", "latent_heat_slope")

    def integral(at: Array) -> Array:
        return np.asarray(-at_0 / at + slope * np.log(-at))

    return -1000 * freezable * freezing_c * (integral(np.array(freezing_c)) - integral(t))


def _heat_capacity(recipe: Recipe, t: Array, ice: Array, *, below: bool) -> Array:
    """J/(kg K) without the latent heat."""
    solids = sum(
        (
            fraction * _polynomial("heat_capacity", name, t)
            for name, fraction in zip(recipe._fields[1:], recipe[1:], strict=True)
        ),
        start=np.zeros_like(t),
    )
    liquid = (
        np.full_like(t, numbers.value("milk", "water_below_freezing"))
        if below
        else _polynomial("heat_capacity", "water", t)
    )
    return 1000 * (solids + (recipe.water - ice) * liquid + ice * _polynomial("heat_capacity", "ice", t))


def mixed_density(recipe: Recipe, t_c: float) -> float:
    """Density of liquid milk by mixing its parts, kg/m3."""
    t = np.array(t_c)
    return 1 / sum(float(part / _polynomial("density", name, t)) for name, part in recipe._asdict().items())


def _conductivity(recipe: Recipe, t: Array, ice: Array, mixing: Mixing) -> Array:
    """W/(m K), mixed by volume."""
    masses = {name: np.full_like(t, part) for name, part in recipe._asdict().items()}
    masses["water"] = recipe.water - ice
    masses["ice"] = ice
    volumes = {name: mass / _polynomial("density", name, t) for name, mass in masses.items()}
    whole = sum(volumes.values(), start=np.zeros_like(t))
    each = [(volume / whole, _polynomial("conductivity", name, t)) for name, volume in volumes.items()]
    if mixing == "parallel":
        return sum((share * k for share, k in each), start=np.zeros_like(t))
    return np.asarray(np.exp(sum((share * np.log(k) for share, k in each), start=np.zeros_like(t))))


def _polynomial(kind: str, name: str, t: Array) -> Array:
    a, b, c = numbers.coefficients("milk", kind, name)
    return np.asarray(a + b * t + c * t**2)


def _running(values: Array, at: Array) -> Array:
    """The integral of values from the first place to each."""
    return np.concatenate([[0.0], np.cumsum(np.diff(at) * (values[1:] + values[:-1]) / 2)])
