"""Thawing and warming up where a logger wrote down the air: milk marched along the record."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from . import full, quick
from .around import Recorded
from .assumed import FREEZER, MODEL_ERROR, WARM_C, widened
from .case import Case, Corner, case, pick, start_c
from .march import End
from .quick import ERROR
from .spread import INFINITE, Range, Triple, Vessel

Slower = Callable[[float], float]
LEAST_GAP_K = 0.25
EXPECTED_H = 20.0


class Logged(NamedTuple):
    """The air as a logger saw it: hours from the start (rising, the first 0), degrees C, its uncertainty in K.

    `then` is the air after its end; without it nothing is known there.
    """

    hours: Sequence[float]
    c: Sequence[float]
    doubt_k: float
    then: Range | None = None


class Stretch(NamedTuple):
    """A part of a record: hours it lasts (infinite at the end) and the air's temperature in C."""

    hours: float
    c: float


def thaw_logged(
    vessel: Vessel, logged: Logged, film: Range, *, start_c: Range = FREEZER, exact: bool = False
) -> Triple:
    """Hours until the last ice is gone in air that was recorded, the film in W/(m2 K).

    What is not reached by the record's end, with nothing known after it, comes then at the earliest and may never.
    """

    def at(corner: Corner) -> float:
        one, start = _corner(vessel, film, start_c, corner)
        if exact:
            return _solved(one, logged, corner, start, "thawed")
        return case_thaw_h(one, logged, start, corner)

    return _triple(logged, (at("fast"), at("nominal"), at("slow")), 0.0 if exact else ERROR["logged"])


def warm_up_logged(
    vessel: Vessel, logged: Logged, film: Range, *, start_c: Range, to_c: float = WARM_C, exact: bool = False
) -> Triple:
    """Hours until milk has warmed up in air that was recorded: early and nominal swirled, late still."""

    def at(corner: Corner) -> float:
        one, start = _corner(vessel, film, start_c, corner)
        if start >= to_c:
            return 0.0
        if corner != "slow":
            return until_h(one, _stretches(logged, corner), start, to_c, _evenly)
        return _solved(one, logged, corner, start, ("centre", to_c)) if exact else _slow_h(one, logged, start, to_c)

    return _triple(logged, (at("fast"), at("nominal"), at("slow")), 0.0 if exact else ERROR["logged"])


def case_thaw_h(one: Case, logged: Logged, start_c: float, air: Corner = "nominal") -> float:
    """Hours until the last ice of one case is gone in recorded air, which may be taken at either end of its doubt."""
    return until_h(one, _stretches(logged, air), start_c, one.milk.freezing_c, _conducting(one, start_c))


def until_h(one: Case, stretches: Sequence[Stretch], start_c: float, to_c: float, slower: Slower) -> float:
    """Hours until evenly warm milk has risen to `to_c`; infinite where it has not by the end.

    `slower` says for an air temperature how many times longer everything takes.
    """
    road = _Road(one, start_c, to_c)
    passed_h = 0.0
    for stretch in stretches:
        took_s = road.go(stretch, slower(stretch.c))
        if took_s < math.inf:
            return passed_h + took_s / 3600
        passed_h += stretch.hours
    return INFINITE


class _Road:
    """Evenly warm milk between the points of its curve, where it answers to the air as a plain body does."""

    def __init__(self, one: Case, start_c: float, to_c: float) -> None:
        milk = quick.curve(one.milk)
        low = milk.t[0]
        self.t = [*milk.between(float(low), to_c, every=3)[0].tolist()]
        h = milk.between(float(low), to_c, every=3)[1].tolist()
        self.tau = [
            one.volume_over_area_m * milk.density * (h1 - h0) / (t1 - t0) / one.u
            for (t0, h0), (t1, h1) in pairwise(zip(self.t, h, strict=True))
        ]
        self.c = start_c
        self.at = next((i for i in range(len(self.tau)) if self.t[i + 1] > start_c), len(self.tau))

    def go(self, stretch: Stretch, slower: float) -> float:
        """Pass through a stretch; the seconds until the end of the road, infinite where it is not reached."""
        left = stretch.hours * 3600
        spent = 0.0
        while self.at < len(self.tau):
            tau = self.tau[self.at] * slower
            up = stretch.c > self.c
            edge = self.t[self.at + 1] if up else self.t[self.at]
            ahead = (stretch.c - edge) / (stretch.c - self.c) if stretch.c != self.c else 0.0
            needs = -tau * math.log(ahead) if ahead > 0 else math.inf
            if needs >= left or (not up and self.at == 0):
                self.c = stretch.c + (self.c - stretch.c) * math.exp(-left / tau)
                return INFINITE
            spent, left = spent + needs, left - needs
            self.c = edge
            self.at += 1 if up else -1
        return spent


def _corner(vessel: Vessel, film: Range, start: Range, corner: Corner) -> tuple[Case, float]:
    return case(vessel, film, corner, "warming"), start_c(start, corner, "warming")


def _shift_k(logged: Logged, corner: Corner) -> float:
    return {"fast": logged.doubt_k, "nominal": 0.0, "slow": -logged.doubt_k}[corner]


def _stretches(logged: Logged, corner: Corner) -> list[Stretch]:
    """Even air between any two readings, at their mean; what is known after the end, for ever."""
    shift = _shift_k(logged, corner)
    readings = list(zip(logged.hours, logged.c, strict=True))
    out = [Stretch(t1 - t0, (c0 + c1) / 2 + shift) for (t0, c0), (t1, c1) in pairwise(readings)]
    if logged.then is not None:
        out.append(Stretch(math.inf, pick(logged.then, corner, "high")))
    return out


def _evenly(_air_c: float) -> float:
    return 1.0


def _conducting(one: Case, start_c: float) -> Slower:
    """How much conduction inside stretches a thaw, by the air's temperature (to a tenth of a degree)."""
    freezing = one.milk.freezing_c

    @lru_cache(maxsize=1024)
    def at(tenths: int) -> float:
        air_c = max(tenths / 10, freezing + LEAST_GAP_K)
        return quick.thaw_h(one, air_c, start_c) / quick.even_h(one, air_c, start_c, freezing)

    return lambda air_c: at(round(air_c * 10)) if start_c < freezing else 1.0


def _slow_h(one: Case, logged: Logged, start_c: float, to_c: float) -> float:
    """The centre of still milk: evenly warm milk that fades as slowly as the centre does, and its first lag."""
    rate, weight = quick.still_rate(one, max(start_c, one.milk.freezing_c), to_c)
    conducts, thaws = quick.even_rate(one, max(start_c, one.milk.freezing_c), to_c) / rate, _conducting(one, start_c)
    along = _stretches(logged, "slow")
    reached = until_h(one, along, start_c, to_c, lambda air_c: max(conducts, thaws(air_c)))
    late = reached + math.log(weight) / rate / 3600
    return late if logged.then is not None or late <= logged.hours[-1] else INFINITE


def _solved(one: Case, logged: Logged, corner: Corner, start_c: float, end: End) -> float:
    shift = _shift_k(logged, corner)
    hours, c = list(logged.hours), [reading + shift for reading in logged.c]
    if logged.then is not None:
        hours, c = [*hours, hours[-1]], [*c, pick(logged.then, corner, "high")]
    most_h = math.inf if logged.then is not None else hours[-1]
    return full.solve(one, Recorded(hours, c), start_c, end, EXPECTED_H, most_h=most_h)


def _triple(logged: Logged, hours: tuple[float, float, float], error: float) -> Triple:
    fast, nominal, slow = hours
    if math.isinf(fast) and logged.then is None:
        fast = logged.hours[-1] / (1 - MODEL_ERROR) / (1 - error)
    return widened(fast, nominal, slow, error)
