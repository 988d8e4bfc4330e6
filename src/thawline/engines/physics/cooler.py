"""How long packs keep milk cold in a cooler, how many it takes, and whether the milk itself stays cold."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Literal, NamedTuple

from .films import conductance
from .numbers import table, value
from .spread import INFINITE, Triple

Contact = Literal["touching", "loose"]


class Cooler(NamedTuple):
    """A box or bag: inside length, width and height in cm, wall thickness in mm, the wall's conductivity in W/(m K)."""

    inside_cm: tuple[float, float, float]
    wall_mm: float
    wall_k: float

    @property
    def litres(self) -> float:
        """Room inside, in litres."""
        return math.prod(self.inside_cm) / 1000

    def leak_w_k(self) -> float:
        """Heat that comes in through the walls, in watts for each degree between outside and inside."""
        inner = _box_area_m2(self.inside_cm, 0.0)
        outer = _box_area_m2(self.inside_cm, 2 * self.wall_mm / 10)
        return conductance(
            inside_film=value("cooler", "inside_film"),
            inside_m2=inner,
            wall_m=self.wall_mm / 1000,
            wall_k=self.wall_k,
            wall_m2=math.sqrt(inner * outer),
            outside_film=value("cooler", "outside_film"),
            outside_m2=outer,
        )


class Packs(NamedTuple):
    """Water-based cold packs: how many, the mass of each in kg, their temperature in C or None where nobody knows."""

    number: int
    kg: float
    start_c: float | None = None


class Load(NamedTuple):
    """Milk that goes in: millilitres in all, and its temperature in C."""

    ml: float
    start_c: float

    @property
    def kg(self) -> float:
        """Its mass."""
        return self.ml * value("milk", "working_density") / 1e6

    def kj(self) -> float:
        """Heat that the packs must take from it to bring it to 4 C, in kJ; 0 for milk that is cold already."""
        above = max(self.start_c - value("cooler", "cold_c"), 0.0)
        return self.kg * value("cooler", "milk_heat_kj_kg_k") * above


class Needed(NamedTuple):
    """Packs for a wanted time: how many at least (None: it cannot be had); whether they find room with the milk."""

    number: int | None
    fits: bool


@cache
def kinds() -> Mapping[str, Cooler]:
    """Coolers to start from where nobody measured: `box` (polystyrene), `foam` (polyurethane), `bag` (soft)."""
    data = table("cooler")["kinds"]
    return MappingProxyType(
        {name: Cooler(tuple(one["inside_cm"]), one["wall_mm"], one["wall_k"]) for name, one in data.items()}
    )


def ice_lasts_h(kg: float, watts: float, latent_kj_kg: float) -> float:
    """Hours until ice at its melting point is gone."""
    return kg * latent_kj_kg / (watts * 3.6)


def ice_melts_kg(watts: float, hours: float, latent_kj_kg: float) -> float:
    """Ice that a steady heat melts, in kg."""
    return watts * 3.6 * hours / latent_kj_kg


def stock_kj(packs: Packs, *, cautious: bool = False) -> float:
    """Cold that the packs hold until the last ice melts, in kJ; a temperature nobody knows is -18, cautiously -10 C."""
    start = table("cooler")["pack_start_c"]["high" if cautious else "value"] if packs.start_c is None else packs.start_c
    melts = value("cooler", "ice_melts_c")
    if packs.number <= 0 or start >= melts:
        return 0.0
    each = value("cooler", "ice_heat_kj_kg_k") * (melts - start) + value("milk", "latent_heat")
    return packs.number * packs.kg * each


def openings_kj(cooler: Cooler, openings: float, ambient_c: float) -> float:
    """Heat that lid openings let in, in kJ."""
    warmer = max(ambient_c - value("cooler", "inside_c"), 0.0)
    air = cooler.litres / 1000 * value("cooler", "air_heat_kj_m3_k") * warmer
    return openings * value("cooler", "opening_factor") * air


def hold_h(cooler: Cooler, packs: Packs, milk: Load, *, ambient_c: float, openings: float = 0) -> float:
    """Hours until the packs are used up, no margin taken; 0: they cannot chill the milk; infinite: a cold room."""
    left = stock_kj(packs) - milk.kj() - openings_kj(cooler, openings, ambient_c)
    return _hours(left, _leak_kj_h(cooler, ambient_c))


def hold(
    cooler: Cooler, packs: Packs, milk: Load, *, ambient_c: float, openings: float = 0, published_h: float | None = None
) -> Triple:
    """Hours that the packs keep the cooler cold: early, nominal, late, none above the published limit if one is given.

    The early answer takes packs at -10 C unless known, 5 C more around the cooler, a damp wall and twice the
    openings, and keeps 0.7 of the hours.
    """
    early = table("cooler")["early"]
    worse = _worse(cooler)
    hot_c = ambient_c + early["ambient_plus_k"]
    left = _early_left_kj(worse, packs, milk, ambient_c, openings)
    early_h = early["times"] * _hours(left, _leak_kj_h(worse, hot_c))
    nominal_h = hold_h(cooler, packs, milk, ambient_c=ambient_c, openings=openings)
    late_h = nominal_h * table("cooler")["late"]["times"]
    most = INFINITE if published_h is None else published_h
    return Triple(min(early_h, nominal_h, most), min(nominal_h, most), min(late_h, most))


def packs_needed(
    cooler: Cooler,
    milk: Load,
    *,
    wanted_h: float,
    ambient_c: float,
    pack_kg: float,
    pack_start_c: float | None = None,
    openings: float = 0,
    published_h: float | None = None,
) -> Needed:
    """The fewest packs whose early answer reaches the wanted hours; None above the published limit, or soft packs."""
    each = stock_kj(Packs(1, pack_kg, pack_start_c), cautious=True)
    if each <= 0 or (published_h is not None and wanted_h > published_h):
        return Needed(None, fits=False)
    early = table("cooler")["early"]
    worse = _worse(cooler)
    leak = _leak_kj_h(worse, ambient_c + early["ambient_plus_k"]) * wanted_h / early["times"]
    missing = leak - _early_left_kj(worse, Packs(0, pack_kg), milk, ambient_c, openings)
    count = max(math.ceil(missing / each - 1e-9), 0)
    return Needed(count, fits=fits(cooler, Packs(count, pack_kg), milk))


def fits(cooler: Cooler, packs: Packs, milk: Load) -> bool:
    """Whether packs and milk find room: their bare volumes, containers not counted."""
    ice = packs.number * packs.kg / value("cooler", "ice_density_kg_m3") * 1000
    return ice + milk.ml / 1000 <= cooler.litres


def milk_near_packs_c(contact: Contact, ambient_c: float) -> float:
    """Where milk's temperature settles while ice remains, in C: packs touching it on both sides, or loose."""
    warm = value("cooler", "to_warm_w_k")
    cold = value("cooler", "to_packs_w_k", contact)
    return (warm * ambient_c + cold * value("cooler", "ice_melts_c")) / (warm + cold)


def stays_cold(contact: Contact, ambient_c: float) -> bool:
    """Whether milk settles at 4 C or below while ice remains; ice that is left does not show it."""
    return milk_near_packs_c(contact, ambient_c) <= value("cooler", "cold_c")


def may_freeze_ml(packs: Packs, milk: Load) -> float:
    """How much of the milk packs that touch it can freeze at most, in mL; 0 where they cannot or it is frozen."""
    freezes = value("milk", "freezing")
    if milk.start_c <= freezes:
        return 0.0
    start = table("cooler")["pack_start_c"]["low"] if packs.start_c is None else packs.start_c
    colder = max(freezes - start, 0.0)
    spare = packs.number * packs.kg * value("cooler", "ice_heat_kj_kg_k") * colder
    spare -= milk.kg * value("cooler", "milk_heat_kj_kg_k") * (milk.start_c - freezes)
    ice_kg = max(spare, 0.0) / value("milk", "latent_heat")
    return min(ice_kg / value("milk", "working_density") * 1e6, milk.ml)


def _worse(cooler: Cooler) -> Cooler:
    """The same cooler with a damp wall."""
    return cooler._replace(wall_k=max(cooler.wall_k, table("cooler")["early"]["wall_k"]))


def _early_left_kj(worse: Cooler, packs: Packs, milk: Load, ambient_c: float, openings: float) -> float:
    """What the packs still hold after milk and openings, all taken cautiously, in kJ."""
    early = table("cooler")["early"]
    let_in = openings_kj(worse, openings * early["openings_times"], ambient_c + early["ambient_plus_k"])
    return stock_kj(packs, cautious=True) - milk.kj() - let_in


def _leak_kj_h(cooler: Cooler, ambient_c: float) -> float:
    return cooler.leak_w_k() * max(ambient_c - value("cooler", "inside_c"), 0.0) * 3.6


def _hours(stock: float, leak: float) -> float:
    if stock < 0:
        return 0.0
    return stock / leak if leak > 0 else INFINITE


def _box_area_m2(sides_cm: tuple[float, float, float], more_cm: float) -> float:
    a, b, c = (side + more_cm for side in sides_cm)
    return 2 * (a * b + b * c + a * c) / 1e4
