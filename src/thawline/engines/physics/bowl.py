"""Milk in a bowl of warm water: where the two settle, when the ice is gone, when the milk is warm, still or swirled."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from . import forms, full, quick, solver
from .around import Bath
from .assumed import BATH_LOSS_W_K, FREEZING, MOST_BATH_C, bath_film, interval, widened
from .bowl_still import MOST_H, Soaked, Times, still_times
from .case import CORNERS, Corner, case, pick, start_c
from .spread import INFINITE, Range, Triple, Vessel

ROOM = interval("air", "room", "clock")
FINE = full.Fine(30, (1, 1), 300)
# Steps go over so many points of the milk's curve: while there is ice, and near the water's temperature.
_FROZEN, _LIQUID = 24, 6


class Bathed(NamedTuple):
    """What a bowl of water does to milk: where both settle (C), and hours until thawed and until warm.

    `thawed` is None for milk that is liquid. Of a triple, early and nominal are swirled all the while, late is still;
    the `swirled_` and `still_` ones are the two by themselves. `enough_kg` is the least water, of this temperature but
    no warmer than 40 C, that can do it (infinite: none can); `reaches` says whether this bowl likely does, and
    `too_warm` that its water may be above 40 C. `settles_c` is without what the bowl loses to the room.
    """

    settles_c: Range
    thawed: Triple | None
    reached: Triple
    enough_kg: float
    reaches: bool
    too_warm: bool
    swirled_thawed: Triple | None
    still_thawed: Triple | None
    swirled_reached: Triple
    still_reached: Triple


class _Step(NamedTuple):
    """A little way up: J/kg that it takes, the temperature in its middle and after it (C), whether the ice is gone."""

    heat: float
    middle_c: float
    after_c: float
    thaws: bool


def bath(
    vessel: Vessel,
    *,
    water_kg: Range,
    water_c: Range,
    start_c: Range,
    to_c: float = 37.0,
    room_c: Range = ROOM,
    loss_w_k: float = BATH_LOSS_W_K,
    exact: bool = False,
) -> Bathed:
    """What becomes of milk in a bowl of water, as far as to `to_c`; the bowl loses heat to the room.

    `exact` has milk that lies still computed by the solver.
    """
    wet = vessel._replace(faces=interval("faces", f"bath_{vessel.shape}"))
    corners = {name: _corner(wet, (water_kg, water_c, room_c, start_c), loss_w_k, name) for name in CORNERS}
    both = [_both(at, to_c, exact) for at in corners.values()]
    if _settles_c(corners["fast"]) < corners["fast"].room_c:
        # Water that gets colder than the room is warmed by it, and that is quicker.
        warmed = _both(corners["fast"]._replace(loss_w_k=loss_w_k), to_c, exact)
        both[0] = tuple(Times(*map(min, one, other)) for one, other in zip(both[0], warmed, strict=True))
    mixed, still = zip(*both, strict=True)
    thaws = start_c.low < FREEZING.high
    error = 0.0 if exact else quick.ERROR["bath"]
    swirled_thawed, swirled_reached = _widened(mixed, 0.0)
    still_thawed, still_reached = _widened(still, error)
    return Bathed(
        settles_c=Range(*(_settles_c(corners[name]) for name in ("slow", "nominal", "fast"))),
        thawed=_span(swirled_thawed, still_thawed) if thaws else None,
        reached=_span(swirled_reached, still_reached),
        enough_kg=_enough_kg(corners["nominal"], to_c),
        reaches=swirled_reached.nominal_h < INFINITE,
        too_warm=water_c.high > MOST_BATH_C,
        swirled_thawed=swirled_thawed if thaws else None,
        still_thawed=still_thawed if thaws else None,
        swirled_reached=swirled_reached,
        still_reached=still_reached,
    )


def _corner(wet: Vessel, given: tuple[Range, Range, Range, Range], loss_w_k: float, corner: Corner) -> Soaked:
    kg, c, room, start = given
    return Soaked(
        case=case(wet, bath_film(), corner, "warming"),
        ml=wet.ml,
        start_c=start_c(start, corner, "warming"),
        water_kg=pick(kg, corner, "high"),
        water_c=pick(c, corner, "high"),
        room_c=pick(room, corner, "high"),
        loss_w_k=0.0 if corner == "fast" else loss_w_k,
    )


def _settles_c(at: Soaked) -> float:
    milk = quick.curve(at.case.milk)
    return forms.bath_end_c(milk.enthalpy, at.kg, at.start_c, at.water_j_k, at.water_c)


def _widened(corners: tuple[Times, ...], error: float) -> tuple[Triple, Triple]:
    """Until thawed and until warm, from the three corners."""
    fast, nominal, slow = corners
    return (
        widened(fast.thawed_h, nominal.thawed_h, slow.thawed_h, error),
        widened(fast.reached_h, nominal.reached_h, slow.reached_h, error),
    )


def _span(swirled: Triple, still: Triple) -> Triple:
    return Triple(min(swirled.early_h, still.early_h), swirled.nominal_h, max(swirled.late_h, still.late_h))


def _enough_kg(at: Soaked, to_c: float) -> float:
    """The least water that does it, in kg: what a lossless bowl needs, and more until this one does it as well."""
    if at.start_c >= to_c:
        return 0.0
    at = at._replace(water_c=min(at.water_c, MOST_BATH_C))
    milk = quick.curve(at.case.milk)
    low = forms.bath_water_kg(milk.enthalpy, at.kg, at.start_c, to_c, at.water_c, at._replace(water_kg=1).water_j_k)
    high = 10 * low
    if math.isinf(low) or at.loss_w_k == 0:
        return low
    way = _way(at, to_c)
    if math.isinf(_swirled(at._replace(water_kg=high), way).reached_h):
        return INFINITE
    while high / low > 1.01:
        middle = math.sqrt(low * high)
        if math.isinf(_swirled(at._replace(water_kg=middle), way).reached_h):
            low = middle
        else:
            high = middle
    return high


def swirled(at: Soaked, to_c: float) -> Times:
    """When the ice is gone and when milk has come to `to_c` that is swirled all the while."""
    return _swirled(at, _way(at, to_c))


def _swirled(at: Soaked, way: list[_Step]) -> Times:
    """Milk and water each one temperature; over each step their gap narrows as that of two bodies does."""
    water_j, conducts = at.water_j_k, at.case.u * at.ml / 1e6 / at.case.volume_over_area_m
    water_c, time_s = at.water_c, 0.0
    thawed_s = 0.0 if at.start_c >= at.case.milk.freezing_c else INFINITE
    for heat, middle_c, after_c, thaws in way:
        gave_j = at.kg * heat
        # The room takes as much as the time calls for, and the time is longer for what it takes.
        room_k = at.loss_w_k * gave_j / (2 * water_j * conducts)
        half = (water_c - gave_j / water_j / 2 - middle_c - room_k) / 2
        square = half * half - room_k * (middle_c - at.room_c)
        if square < 0 or (gap := half + math.sqrt(square)) <= 0:
            return Times(thawed_s / 3600, INFINITE)
        before_k = water_c + after_c - 2 * middle_c
        water_c -= gave_j / water_j + 2 * room_k * (gap + middle_c - at.room_c) / gap
        if water_c <= after_c:
            return Times(thawed_s / 3600, INFINITE)
        time_s += gave_j / (conducts * _driving_k(before_k, water_c - after_c))
        thawed_s = time_s if thaws else thawed_s
    return Times(thawed_s / 3600, time_s / 3600)


def _driving_k(before_k: float, after_k: float) -> float:
    """The gap that stands for one that goes from before to after as two bodies share their heat, K."""
    fall = before_k / after_k
    return (before_k - after_k) / math.log(fall) if abs(fall - 1) > 1e-6 else after_k


def _way(at: Soaked, to_c: float) -> list[_Step]:
    """The milk's way up in small steps, of which one ends at the freezing point."""
    milk, freezing = quick.curve(at.case.milk), at.case.milk.freezing_c
    ends = [at.start_c, freezing, to_c] if at.start_c < freezing < to_c else [at.start_c, to_c]
    steps: list[_Step] = []
    for low, high in pairwise(ends):
        if low < high:
            t, h = milk.between(low, high, _FROZEN if low < freezing else _LIQUID)
            rows = zip(np.diff(h).tolist(), ((t[1:] + t[:-1]) / 2).tolist(), t[1:].tolist(), strict=True)
            steps += [_Step(*row, thaws=row[2] == freezing) for row in rows]
    return steps


def _both(at: Soaked, to_c: float, exact: bool) -> tuple[Times, ...]:
    """Swirled all the while, and still."""
    mixed = swirled(at, to_c)
    return mixed, _still(at, to_c, mixed, exact)


def _still(at: Soaked, to_c: float, mixed: Times, exact: bool) -> Times:
    """Milk that conducts only, through a bag's faces or a bottle's side; it never does what swirling cannot."""
    if math.isinf(mixed.thawed_h):
        return mixed
    if exact:
        return solved(at, to_c, mixed)
    quickly = still_times(at, to_c)
    return quickly if mixed.reached_h < INFINITE else quickly._replace(reached_h=INFINITE)


def solved(at: Soaked, to_c: float, mixed: Times) -> Times:
    """The same by the solver, which `mixed` tells how long the steps may be."""
    material = full.material(at.case)
    water = Bath(at.water_kg, at.water_c, at.room_c, at.loss_w_k, at.ml / 1e6 / full.along_only(at.case))
    now = solver.run(
        material, shape=full.shape(at.case), half_mm=at.case.half_m * 1000, u=at.case.u, air_c=water,
        start_c=at.start_c, end="thawed", cells=FINE.along, step_s=_pace_s(at, mixed.thawed_h), most_h=MOST_H,
    )  # fmt: skip
    if math.isinf(now.time_h) or math.isinf(mixed.reached_h):
        return Times(now.time_h, INFINITE)
    then = solver.run(
        material, shape=full.shape(at.case), half_mm=at.case.half_m * 1000, u=at.case.u,
        air_c=water._replace(water_c=now.around_c if now.time_h else at.water_c), start_c=0.0, start_h=now.final_h,
        end=("centre", to_c), cells=FINE.along, step_s=_pace_s(at, mixed.reached_h), most_h=MOST_H,
    )  # fmt: skip
    return Times(now.time_h, now.time_h + then.time_h)


def _pace_s(at: Soaked, mixed_h: float) -> float:
    return max(0.2, mixed_h * 3600 * (1 + at.case.u * at.case.half_m / 2) / FINE.steps)
