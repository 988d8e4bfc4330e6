"""A refrigerator or freezer without power: how its contents warm, and how much of the published hours is left."""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np

from .forms import Floats, mixed_times_s
from .numbers import table, value
from .spread import INFINITE, Triple

Kind = Literal["refrigerator", "freezer"]
Fill = Literal["full", "half", "little"]


class Box(NamedTuple):
    """A closed box: its kind, its contents in kg and their temperature in C, the heat it lets in, in W/K."""

    kind: Kind
    kg: float
    start_c: float
    leak_w_k: float


class Path(NamedTuple):
    """Temperature of the contents in C at each of `hours`: how early, how likely and how late it may rise."""

    hours: tuple[float, ...]
    early_c: tuple[float, ...]
    nominal_c: tuple[float, ...]
    late_c: tuple[float, ...]


def box(
    kind: Kind,
    fill: Fill | None = None,
    *,
    contents_kg: float | None = None,
    litres: float | None = None,
    start_c: float | None = None,
) -> Box:
    """A box from what a parent knows; contents from fill and size where nobody weighed them, -18 or 4 C to start.

    A fill that nobody noted: a refrigerator half full, a freezer with little in it.
    """
    data = table("box")[kind]
    size = 1.0 if litres is None else litres / data["litres"]
    kg = data["contents_kg"][fill or data["fill"]] * size if contents_kg is None else contents_kg
    # A box's surface grows as its volume to the power of two thirds.
    leak = data["leak_w_k"] * size ** (2 / 3)
    return Box(kind, max(kg, 0.0), data["start_c"] if start_c is None else start_c, leak)


@lru_cache(maxsize=512)
def held_part(
    kind: Kind,
    fill: Fill | None,
    *,
    contents_kg: float | None = None,
    room_c: float | None = None,
    litres: float | None = None,
    start_c: float | None = None,
    opened: bool = False,
) -> float:
    """How much of the published hours is left, 0 to 1: multiply the hours published for this kind and fill by it.

    1 under the conditions the hours are taken to mean (a closed box, a room of 25 C, contents of that fill), less in a
    warmer room, with less in it or warmer at the start, and never more. 0 for a freezer less than a quarter full and
    for a box that was opened: there only a thermometer or ice can tell.
    """
    if opened or (kind == "freezer" and _too_empty(fill, contents_kg, litres)):
        return 0.0
    # A refrigerator's hours are published for any fill, a freezer's for each.
    meant = box(kind, fill if kind == "freezer" else None)
    here = box(kind, fill, contents_kg=contents_kg, litres=litres, start_c=start_c)
    usual_c = value("box", "room_c")
    parts = []
    for end_c in table("box")[kind]["ends_c"]:
        actual = reach_h(here, end_c, usual_c if room_c is None else room_c)
        parts.append(1.0 if math.isinf(actual) else actual / reach_h(meant, end_c, usual_c))
    return min(1.0, *parts)


@lru_cache(maxsize=512)
def reach_h(box: Box, to_c: float, room_c: float) -> float:
    """Hours until the contents reach a temperature; infinite where the room never takes them there."""
    if box.start_c >= to_c:
        return 0.0
    if room_c <= to_c:
        return INFINITE
    if box.kg <= 0:
        return 0.0
    c = _steps_c(box.start_c, to_c)
    return float(mixed_times_s(c, _heat_j_kg(c), room_c, box.kg / box.leak_w_k)[-1]) / 3600


def reaches(box: Box, to_c: float, room_c: float) -> Triple:
    """As `reach_h`, with early and late hours: leak and contents are guesses, to either side."""
    quick, slow = _corners(box)
    return Triple(reach_h(quick, to_c, room_c), reach_h(box, to_c, room_c), reach_h(slow, to_c, room_c))


def thawed_c() -> float:
    """The temperature at which a freezer's contents hold no more ice, in C."""
    return float(table("box")["food"]["melting_to_c"])


def path(box: Box, room_c: float, *, hours: float, points: int = 97) -> Path:
    """Temperatures of the contents over time, for a picture."""
    at = np.linspace(0.0, hours, points)
    early, nominal, late = (_path_c(one, room_c, at) for one in (_corners(box)[0], box, _corners(box)[1]))
    return Path(*(tuple(float(x) for x in xs) for xs in (at, early, nominal, late)))


def _too_empty(fill: Fill | None, contents_kg: float | None, litres: float | None) -> bool:
    data = table("box")["freezer"]
    full = data["contents_kg"]["full"] * (1.0 if litres is None else litres / data["litres"])
    return fill in (None, "little") or (contents_kg is not None and contents_kg < data["nothing_below"]["part"] * full)


def _corners(box: Box) -> tuple[Box, Box]:
    """The box that warms sooner and the one that warms later than this one."""
    by = table("box")["spread"]
    leak, kg = by["leak_part"], by["contents_part"]
    return (
        box._replace(leak_w_k=box.leak_w_k * (1 + leak), kg=box.kg * (1 - kg)),
        box._replace(leak_w_k=box.leak_w_k * (1 - leak), kg=box.kg * (1 + kg)),
    )


def _path_c(box: Box, room_c: float, at_h: Floats) -> Floats:
    if room_c <= box.start_c or box.kg <= 0:
        return np.full(len(at_h), box.start_c if box.kg > 0 else max(room_c, box.start_c))
    c = _ahead_c(box.start_c, room_c)
    hours = mixed_times_s(c, _heat_j_kg(c), room_c, box.kg / box.leak_w_k) / 3600
    # The room's own temperature is never reached: the last steps before it end the picture.
    known = np.isfinite(hours)
    return np.interp(at_h, hours[known], c[known], right=float(c[known][-1]))


@cache
def _knots_c() -> Floats:
    """Temperatures up to the end of melting between which the contents' heat is taken as straight."""
    food: dict[str, Any] = table("box")["food"]
    start, end = food["melting_from_c"], food["melting_to_c"]
    # Even steps of heat, not of temperature, along the melting.
    share = np.linspace(0.0, 1.0, 201)[1:]
    return np.concatenate([np.arange(-40.0, start, 0.25), [start], end / (end / start + share * (1 - end / start))])


def _steps_c(start_c: float, to_c: float) -> Floats:
    knots = _knots_c()
    return np.concatenate([[start_c], knots[(knots > start_c) & (knots < to_c)], [to_c]])


def _ahead_c(start_c: float, room_c: float) -> Floats:
    """As `_steps_c`, with steps that grow finer towards the room's temperature, for a line that is drawn."""
    warm = max(start_c, thawed_c())
    finer = room_c - np.geomspace(max(room_c - warm, 1e-3), 1e-4, 200)
    return np.unique(np.concatenate([_steps_c(start_c, room_c), finer[(finer > warm) & (finer < room_c)]]))


def _heat_j_kg(c: Floats) -> Floats:
    """Enthalpy of the contents in J/kg, from the start of the melting."""
    food: dict[str, Any] = table("box")["food"]
    start, end = food["melting_from_c"], food["melting_to_c"]
    cold = np.minimum(c - start, 0.0) * food["frozen_heat_kj_kg_k"]
    inside = np.clip(c, start, end)
    melted = (end / inside - end / start) / (1 - end / start) * food["latent_kj_kg"]
    warm = np.maximum(c - end, 0.0) * food["thawed_heat_kj_kg_k"]
    return np.asarray((cold + melted + warm) * 1000)
