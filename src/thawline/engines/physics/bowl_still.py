"""Milk that lies still in a bowl of water, worked out at once: melting from the outside in, then plain conduction.

While ice melts, milk behaves at each moment as it would in a bath that stays as warm as this one is then. Afterwards
milk and water are cells that share their heat and lose some to the room, which has a closed solution.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from . import numbers, quick
from .case import Case
from .milk import DENSITY, Array
from .spread import INFINITE

MOST_H = 6.0
_PARTS, _CELLS, _HALVINGS = 12, 12, 10
# Water may fall to where milk melts; below this gap (K) it melts no differently.
_LEAST_GAP_K = 0.3
_HALF_WARM_C = 10.0
_X: Array = (np.arange(_PARTS) + 0.5) / _PARTS
_EDGE: Array = np.linspace(0.0, 1.0, _CELLS + 1)
_MIDDLE: Array = (_EDGE[1:] + _EDGE[:-1]) / 2
_TIMES: Array = np.append(0.0, np.geomspace(0.02, 12.0, 48))


class Times(NamedTuple):
    """Hours until the last ice is gone and until milk is warm; infinite where it never is."""

    thawed_h: float
    reached_h: float


class Soaked(NamedTuple):
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
        """The milk, kg."""
        return self.ml * DENSITY / 1e6

    @property
    def water_j_k(self) -> float:
        """What the water holds, J/K."""
        return self.water_kg * 1000 * numbers.value("milk", "bath_water")


class _Melted(NamedTuple):
    """The ice is gone after so many seconds: the water's temperature then, and the milk's surface's, in C."""

    time_s: float
    water_c: float
    surface_c: float


class _Parts(NamedTuple):
    """Melting in equal parts of its heat.

    `slows`: the share of the whole resistance that each part meets; `warms`: what milk that is thawed by then holds,
    J per K of water above freezing; `lag`: how far the rest is below freezing, K; `outside`: the resistance of film
    and wall over that of the milk's depth.
    """

    slows: Array
    warms: Array
    lag: Array
    outside: float


def still_times(at: Soaked, to_c: float) -> Times:
    """When the last ice is gone and when the centre has come to `to_c`, with heat going one way; at most 6 h."""
    if at.start_c >= to_c:
        return Times(0.0, 0.0)
    at = at._replace(case=at.case._replace(top=0, base=0))
    frozen = at.start_c < at.case.milk.freezing_c
    now = _melt(at) if frozen else _Melted(0.0, at.water_c, at.start_c)
    reached_s = now.time_s + _warm_s(at, now, to_c) if now.time_s < INFINITE else INFINITE
    return Times(*(one / 3600 if one <= MOST_H * 3600 else INFINITE for one in (now.time_s, reached_s)))


def _shape(case: Case) -> tuple[float, float]:
    """Milk that has just thawed: the power by which it gets warmer outwards, and how far its surface lags."""
    found = numbers.table("heat_table", "still", "flat" if case.flat else "upright")
    return float(found["power"]), float(found["lag"])


def _parts(at: Soaked) -> tuple[_Parts, float, float]:
    """The parts, the heat that melting takes (J) and what thawed milk holds (J/K)."""
    case, milk, freezing = at.case, quick.curve(at.case.milk), at.case.milk.freezing_c
    start, warm = milk.enthalpy(at.start_c), milk.enthalpy(2 * _HALF_WARM_C)
    outside = milk.conductivity(_HALF_WARM_C) / (case.u * case.half_m)
    x, inside = _X, _X if case.flat else -np.log(1 - _X) / 2
    slows = (outside + inside) / (outside + 0.5) / _PARTS
    holds = at.kg * warm / (2 * _HALF_WARM_C - freezing)
    warms = holds * (x * x / 2 if case.flat else inside - x / 2) / (outside + inside)
    lag = freezing - np.interp(start * (1 - x), milk.h, milk.t)
    return _Parts(slows, warms, lag, outside), -at.kg * start, holds


def _melt(at: Soaked) -> _Melted:
    """How long melting takes while the water gives its heat to milk and room."""
    (slows, warms, lag, outside), melt_j, holds = _parts(at)
    freezing, water = at.case.milk.freezing_c, at.water_j_k
    full_j = water * (at.water_c - freezing)
    pace = _pace(at, slows, lag, (full_j - melt_j) / (water + holds / 2))
    gap, time_s, lost_j = at.water_c - freezing, 0.0, 0.0
    for number, (slow, warm, behind) in enumerate(zip(slows.tolist(), warms.tolist(), lag.tolist(), strict=True)):
        effort, both = slow * pace(gap), water + warm
        left = full_j - melt_j * (number + 0.5) / _PARTS - lost_j
        # Half of what the room takes in this part is gone by its middle, where time is effort over the driving gap.
        room = at.loss_w_k * effort / 2
        half = (left + both * behind - room) / (2 * both)
        drives = half + math.sqrt(max(0.0, half * half + room * (at.room_c - freezing + behind) / both))
        if drives <= 0:
            return _Melted(INFINITE, at.water_c, freezing)
        gap = drives - behind
        time_s += effort / drives
        lost_j += at.loss_w_k * (freezing + gap - at.room_c) * effort / drives
    power, lags = _shape(at.case)
    surface = 1 / (1 + lags * outside)
    gap = (full_j - melt_j - lost_j) / (
        water + holds * surface * (1 / (1 + power) if at.case.flat else 2 / (2 + power))
    )
    return _Melted(time_s, freezing + gap, freezing + surface * gap)


def _pace(at: Soaked, slows: Array, lag: Array, end_k: float) -> Callable[[float], float]:
    """By the gap between water and freezing point: seconds times kelvin that melting takes in such a bath."""
    freezing, first = at.case.milk.freezing_c, at.water_c - at.case.milk.freezing_c
    least = max(_LEAST_GAP_K, min(end_k * 0.7, first * 0.95))
    first = max(first, least * 1.01)
    logs, efforts = [], []
    for part in (0.0, 1.0) if least * 1.5 > first else (0.0, 0.4, 0.7, 1.0):
        gap = least * (first / least) ** part
        logs.append(math.log(gap))
        took_s = quick.along_h(at.case, freezing + gap, at.start_c, "thaw") * 3600
        efforts.append(took_s / float((slows / (gap + lag)).sum()))
    return lambda gap: float(np.interp(math.log(max(gap, least)), logs, efforts))


def _warm_s(at: Soaked, now: _Melted, to_c: float) -> float:
    """Seconds from thawed until the centre is at `to_c`: cells of milk and one of water as fading terms."""
    case, milk = at.case, quick.curve(at.case.milk)
    low = max(at.start_c, case.milk.freezing_c)
    if to_c <= low:
        return 0.0
    round_, k = 0 if case.flat else 1, milk.conductivity((low + to_c) / 2)
    skin = (round_ + 1) * case.u / (milk.density * case.half_m) / (1 + case.u * case.half_m / _CELLS / 2 / k)
    joints = _EDGE[1:-1] ** round_ * _CELLS * (round_ + 1) * k / (milk.density * case.half_m**2)
    c = (milk.enthalpy(to_c) - milk.enthalpy(low)) / (to_c - low)
    holds = np.append(np.diff(_EDGE ** (round_ + 1)) * c, at.water_j_k / at.kg)
    first = np.append(low + (now.surface_c - low) * _MIDDLE ** _shape(case)[0], now.water_c) - at.room_c
    rates, weights = _terms(np.append(joints, skin), holds, at.loss_w_k / at.kg, first)
    return _first_s(rates, weights, to_c - at.room_c)


def _terms(joints: Array, holds: Array, loss: float, first: Array) -> tuple[Array, Array]:
    """How fast each term of a row of cells fades (1/s), and what it weighs in the first cell."""
    flow, root = np.zeros((len(holds), len(holds))), np.sqrt(holds)
    here = np.arange(len(joints))
    flow[here, here] = joints
    flow[here + 1, here + 1] += joints
    flow[-1, -1] += loss
    flow[here + 1, here] = -joints
    rates, shapes = np.linalg.eigh(flow / root / root[:, None])  # reads what lies below the diagonal
    return rates, (first * root) @ shapes * shapes[0] / root[0]


def _first_s(rates: Array, weights: Array, goal: float) -> float:
    """When the terms' sum first comes up to a goal, in seconds; infinite where it does not."""
    times = _TIMES / rates[1]
    there = np.flatnonzero(np.exp(-np.multiply.outer(times, rates)) @ weights >= goal)
    if not len(there):
        return INFINITE
    if there[0] == 0:
        return 0.0
    before, after = float(times[there[0] - 1]), float(times[there[0]])
    for _ in range(_HALVINGS):
        half = (before + after) / 2
        before, after = (before, half) if float(np.exp(-rates * half) @ weights) >= goal else (half, after)
    under, over = (float(np.exp(-rates * one) @ weights) - goal for one in (before, after))
    return before - under * (after - before) / (over - under) if over > under else after
