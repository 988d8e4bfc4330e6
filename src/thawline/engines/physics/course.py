"""How milk's temperature runs on the way, for pictures: heat spread evenly, stretched to the hours worked out."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from . import forms, numbers, quick
from .assumed import FREEZING, bath_film, interval
from .case import Case, Change, Corner, air_c, case
from .milk import DENSITY
from .spread import Air, Triple, Vessel

_POINTS = 16
# A bowl is followed until the milk is this near to where both settle: the rest takes for ever.
_SETTLED_K = 0.5
Path = list[tuple[float, float]]


class Course(NamedTuple):
    """Points of hours and degrees Celsius, early, likely and late; none where it does not get there."""

    early: Path
    nominal: Path
    late: Path


def course(vessel: Vessel, air: Air, takes: Triple, *, start_c: float, end_c: float) -> Course:
    """The way from one temperature to another that takes so many hours."""
    change: Change = "warming" if end_c > start_c else "cooling"
    corners: tuple[tuple[Corner, float], ...] = (
        ("fast", takes.early_h), ("nominal", takes.nominal_h), ("slow", takes.late_h))  # fmt: skip
    return Course(
        *(_path(case(vessel, air.film, one, change), air_c(air, one, change), start_c, end_c, hours)
          for one, hours in corners)
    )  # fmt: skip


def _path(one: Case, air: float, start_c: float, end_c: float, hours: float) -> Path:
    whole = quick.even_h(one, air, start_c, end_c)
    if math.isinf(hours) or math.isinf(whole) or whole <= 0:
        return []
    _, temps = _grid(one, start_c, end_c)
    return [(hours * quick.even_h(one, air, start_c, c) / whole, c) for c in temps]


def _grid(one: Case, start_c: float, end_c: float) -> tuple[list[float], list[float]]:
    """Enthalpies and temperatures on the way, evenly by heat: while ice melts, little temperature goes a long way."""
    milk = quick.curve(one.milk)
    heat = np.linspace(np.interp(start_c, milk.t, milk.h), np.interp(end_c, milk.t, milk.h), _POINTS)
    return heat.tolist(), np.interp(heat, milk.h, milk.t).tolist()


def ice_shares(path: Path) -> Path:
    """A thaw's points of hours and degrees Celsius as hours and the share of its ice that is left."""
    ice = [1 - FREEZING.nominal / c for _, c in path]
    return [(hours, max(0.0, one / ice[0])) for (hours, _), one in zip(path, ice, strict=True)]


def settles_c(ml: float, *, water_kg: float, water_c: float, start_c: float) -> float:
    """Where so many mL of milk and a bowl of water settle if nothing is lost to the room, in degrees Celsius."""
    milk = quick.curve(quick.USUAL)
    return forms.bath_end_c(milk.enthalpy, ml * DENSITY / 1e6, start_c, _water_j_k(water_kg), water_c)


def _water_j_k(water_kg: float) -> float:
    return water_kg * 1000 * numbers.value("milk", "bath_water")


def in_bowl(vessel: Vessel, *, water_kg: float, water_c: float, start_c: float, end_c: float) -> Path:
    """The way of milk that is swirled in a bowl of water, as far as `end_c` or near to where both settle."""
    wet = vessel._replace(faces=interval("faces", f"bath_{vessel.shape}"))
    one = case(wet, bath_film(), "nominal", "warming")
    milk_kg = vessel.ml * DENSITY / 1e6
    water_j_k = _water_j_k(water_kg)
    conducts = one.u * vessel.ml / 1e6 / one.volume_over_area_m
    settled = settles_c(vessel.ml, water_kg=water_kg, water_c=water_c, start_c=start_c)
    end_c = min(end_c, settled - _SETTLED_K)
    if end_c <= start_c:
        return []
    heat, temps = _grid(one, start_c, end_c)
    found, hours = [(0.0, start_c)], 0.0
    for (h0, t0), (h1, t1) in pairwise(zip(heat, temps, strict=True)):
        water = water_c - milk_kg * ((h0 + h1) / 2 - heat[0]) / water_j_k
        hours += milk_kg * (h1 - h0) / (conducts * (water - (t0 + t1) / 2)) / 3600
        found.append((hours, t1))
    return found
