"""Milk in a bowl of warm water: where the two settle, when the ice is gone, when the milk is warm, still or swirled."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from . import forms, full, numbers, quick, solver
from .around import Bath
from .assumed import BATH_LOSS_W_K, FREEZING, MOST_BATH_C, bath_film, interval, widened
from .case import CORNERS, Case, Corner, case, pick, start_c
from .milk import DENSITY
from .spread import INFINITE, Range, Triple, Vessel

ROOM = interval("air", "room", "clock")
FINE = full.Fine(30, (1, 1), 300)
MOST_H = 6.0


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


class _Times(NamedTuple):
    thawed_h: float
    reached_h: float


class _Corner(NamedTuple):
    """Milk and bowl in one corner."""

    case: Case
    ml: float
    start_c: float
    water_kg: float
    water_c: float
    room_c: float
    loss_w_k: float

    @property
    def kg(self) -> float:
        return self.ml * DENSITY / 1e6

    @property
    def area_m2(self) -> float:
        return self.ml / 1e6 / self.case.volume_over_area_m

    def settles_c(self) -> float:
        milk = quick.curve(self.case.milk)
        return forms.bath_end_c(milk.enthalpy, self.kg, self.start_c, self.water_kg * _water_j(), self.water_c)


def bath(
    vessel: Vessel,
    *,
    water_kg: Range,
    water_c: Range,
    start_c: Range,
    to_c: float = 37.0,
    room_c: Range = ROOM,
    loss_w_k: float = BATH_LOSS_W_K,
) -> Bathed:
    """What becomes of milk in a bowl of water, as far as to `to_c`; the bowl loses heat to the room."""
    wet = vessel._replace(faces=interval("faces", f"bath_{vessel.shape}"))
    corners = {name: _corner(wet, (water_kg, water_c, room_c, start_c), loss_w_k, name) for name in CORNERS}
    swirled = [_swirled(corners[name], to_c) for name in CORNERS]
    still = [_still(corners[name], to_c, expected) for name, expected in zip(CORNERS, swirled, strict=True)]
    thaws = start_c.low < FREEZING.high
    swirled_thawed, still_thawed = (widened(*(one.thawed_h for one in all_)) for all_ in (swirled, still))
    swirled_reached, still_reached = (widened(*(one.reached_h for one in all_)) for all_ in (swirled, still))
    return Bathed(
        settles_c=Range(*(corners[name].settles_c() for name in ("slow", "nominal", "fast"))),
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


def _corner(wet: Vessel, given: tuple[Range, Range, Range, Range], loss_w_k: float, corner: Corner) -> _Corner:
    kg, c, room, start = given
    return _Corner(
        case=case(wet, bath_film(), corner, "warming"),
        ml=wet.ml,
        start_c=start_c(start, corner, "warming"),
        water_kg=pick(kg, corner, "high"),
        water_c=pick(c, corner, "high"),
        room_c=pick(room, corner, "high"),
        loss_w_k=0.0 if corner == "fast" else loss_w_k,
    )


def _span(swirled: Triple, still: Triple) -> Triple:
    return Triple(min(swirled.early_h, still.early_h), swirled.nominal_h, max(swirled.late_h, still.late_h))


def _water_j() -> float:
    return 1000 * numbers.value("milk", "bath_water")


def _enough_kg(at: _Corner, to_c: float) -> float:
    """The least water that does it, in kg: what a lossless bowl needs, and more until this one does it as well."""
    at = at._replace(water_c=min(at.water_c, MOST_BATH_C))
    milk = quick.curve(at.case.milk)
    low = forms.bath_water_kg(milk.enthalpy, at.kg, at.start_c, to_c, at.water_c, _water_j())
    if at.start_c >= to_c:
        return 0.0
    high = 10 * low
    if math.isinf(low) or at.loss_w_k == 0:
        return low
    if math.isinf(_swirled(at._replace(water_kg=high), to_c).reached_h):
        return INFINITE
    while high / low > 1.01:
        middle = math.sqrt(low * high)
        if math.isinf(_swirled(at._replace(water_kg=middle), to_c).reached_h):
            low = middle
        else:
            high = middle
    return high


def _swirled(at: _Corner, to_c: float) -> _Times:
    """Milk and water each one temperature."""
    water_j, conducts = at.water_kg * _water_j(), at.case.u * at.area_m2
    water_c, time_s = at.water_c, 0.0
    thawed_s = 0.0 if at.start_c >= at.case.milk.freezing_c else INFINITE
    for t0, h0, t1, h1 in _steps(at, to_c):
        gave = at.kg * (h1 - h0)
        gap = water_c - gave / water_j / 2 - (t0 + t1) / 2
        if gap <= 0 or water_c - gave / water_j <= t1:
            return _Times(thawed_s / 3600, INFINITE)
        took_s = gave / (conducts * gap)
        time_s += took_s
        water_c -= (gave + at.loss_w_k * (water_c - at.room_c) * took_s) / water_j
        if t1 == at.case.milk.freezing_c:
            thawed_s = time_s
    return _Times(thawed_s / 3600, time_s / 3600)


def _steps(at: _Corner, to_c: float) -> Iterator[tuple[float, float, float, float]]:
    """Temperature and enthalpy before and after each small step up, the freezing point among them."""
    milk, freezing = quick.curve(at.case.milk), at.case.milk.freezing_c
    ends = [at.start_c, freezing, to_c] if at.start_c < freezing < to_c else [at.start_c, to_c]
    for low, high in pairwise(ends):
        if low < high:
            t, h = (row.tolist() for row in milk.between(low, high, every=4))
            yield from ((*one, *other) for one, other in pairwise(zip(t, h, strict=True)))


def _still(at: _Corner, to_c: float, swirled: _Times) -> _Times:
    """Milk that conducts only, through a bag's faces or a bottle's side, by the solver."""
    if math.isinf(swirled.thawed_h):
        return swirled
    material = full.material(at.case)
    water = Bath(at.water_kg, at.water_c, at.room_c, at.loss_w_k, at.ml / 1e6 / full.along_only(at.case))
    now = solver.run(
        material, shape=full.shape(at.case), half_mm=at.case.half_m * 1000, u=at.case.u, air_c=water,
        start_c=at.start_c, end="thawed", cells=FINE.along, step_s=_pace_s(at, swirled.thawed_h), most_h=MOST_H,
    )  # fmt: skip
    if math.isinf(now.time_h) or math.isinf(swirled.reached_h):
        return _Times(now.time_h, INFINITE)
    then = solver.run(
        material, shape=full.shape(at.case), half_mm=at.case.half_m * 1000, u=at.case.u,
        air_c=water._replace(water_c=now.around_c if now.time_h else at.water_c), start_c=0.0, start_h=now.final_h,
        end=("centre", to_c), cells=FINE.along, step_s=_pace_s(at, swirled.reached_h), most_h=MOST_H,
    )  # fmt: skip
    return _Times(now.time_h, now.time_h + then.time_h)


def _pace_s(at: _Corner, swirled_h: float) -> float:
    return max(0.2, swirled_h * 3600 * (1 + at.case.u * at.case.half_m / 2) / FINE.steps)
