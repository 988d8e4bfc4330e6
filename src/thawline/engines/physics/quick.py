"""The fast path: heat spread evenly, in closed form, stretched by what conduction inside adds (tabulated once)."""

from __future__ import annotations

import bisect
import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from . import forms
from .assumed import FREEZING, HARD_C, SOLID_C
from .case import Case, Kind
from .milk import Array, Recipe, milk
from .numbers import table
from .spread import Vessel


class Grid:
    """A table over three values, read in straight lines between its points; beyond its edges, the edge."""

    def __init__(self, axes: tuple[list[float], ...], logs: tuple[bool, ...], values: list[list[list[float]]]) -> None:
        self.axes = tuple([math.log(x) for x in axis] if log else axis for axis, log in zip(axes, logs, strict=True))
        self.logs, self.values = logs, values

    def at(self, *place: float) -> float:
        """The value at a place."""
        (i, p), (j, q), (k, r) = (
            _between(axis, math.log(x) if log else x) for axis, log, x in zip(self.axes, self.logs, place, strict=True)
        )
        total = 0.0
        for di, wi in ((0, 1 - p), (1, p)):
            for dj, wj in ((0, 1 - q), (1, q)):
                row = self.values[i + di][j + dj]
                total += wi * wj * (row[k] * (1 - r) + row[k + 1] * r)
        return total


def _between(axis: list[float], x: float) -> tuple[int, float]:
    at = min(max(bisect.bisect_right(axis, x) - 1, 0), len(axis) - 2)
    return at, min(1.0, max(0.0, (x - axis[at]) / (axis[at + 1] - axis[at])))


USUAL = Kind("usual", FREEZING.nominal)
ERROR: dict[str, float] = {
    name: table("heat_table", "error")[name] for name in ("thaw", "freeze", "still", "ends", "logged", "bath")
}


def error(question: str, vessel: Vessel) -> float:
    """How far the hours may be from the full solver's, as a part: more for a bottle, whose ends may count."""
    return ERROR["ends" if vessel.shape == "upright" and question != "still" else question]


class Curve(NamedTuple):
    """A milk's temperature (C) at rising enthalpy (J/kg), the slope between, and its conductivity."""

    t: Array
    h: Array
    slope: Array
    k: Array
    density: float

    def conductivity(self, c: float) -> float:
        """Conductivity at a temperature, W/(m K)."""
        return float(np.interp(c, self.t, self.k))

    def enthalpy(self, c: float) -> float:
        """Heat held at a temperature, J/kg."""
        return float(np.interp(c, self.t, self.h))

    def between(self, low_c: float, high_c: float, every: int = 1) -> tuple[Array, Array]:
        """Temperatures and enthalpies from one temperature up to a higher one, at the curve's own points."""
        first, last = int(self.t.searchsorted(low_c, "right")), int(self.t.searchsorted(high_c, "left"))
        t = np.concatenate(([low_c], self.t[first:last:every], [high_c]))
        return t, np.interp(t, self.t, self.h)


@lru_cache(maxsize=64)
def curve(kind: Kind) -> Curve:
    """The milk of a corner, as a curve."""
    made = milk(Recipe.named(kind.rich), kind.freezing_c)
    return Curve(made.t, made.h, np.diff(made.h) / np.diff(made.t), made.k, made.density)


@lru_cache
def _grid(which: str, question: str, kind: str) -> Grid:
    found = table("heat_table", which, question)
    if which == "stretch":
        # Milk changes evenly with the heat it starts with, not with its temperature.
        heat = [curve(USUAL).enthalpy(c) for c in found["start"]]
        return Grid((found["b"], found["gap"], heat), (True, True, False), found[kind])
    return Grid((found["b"], found["tall"], found["gap"]), (True, True, True), found[kind])


def even_h(case: Case, air_c: float, start_c: float, to_c: float) -> float:
    """Hours from one temperature to another while the milk is one temperature throughout (swirled, or thin in air)."""
    if start_c == to_c:
        return 0.0
    if not _leads(air_c, start_c, to_c):
        return math.inf
    milk_ = curve(case.milk)
    low, high = min(start_c, to_c), max(start_c, to_c)
    first, last = int(milk_.t.searchsorted(low, "right")), int(milk_.t.searchsorted(high, "left"))
    logs = np.log(np.abs(air_c - np.concatenate(([low], milk_.t[first:last], [high]))))
    whole = abs(float(milk_.slope[first - 1 : last] @ np.diff(logs)))
    return milk_.density * case.volume_over_area_m / case.u * whole / 3600


def _leads(air_c: float, start_c: float, to_c: float) -> bool:
    return start_c < to_c < air_c or start_c > to_c > air_c


def end_c(question: str, case: Case) -> float:
    """Where a change is complete, in C: the first freezing for "thaw", else the centre of "solid" or "hard" milk."""
    return {"thaw": case.milk.freezing_c, "solid": SOLID_C, "hard": HARD_C}[question]


def question_h(case: Case, air_c: float, start_c: float, question: str) -> float:
    """Hours until "thaw" (no ice left), "solid" or "hard" is complete; infinite where the air never brings it there."""
    side_h = along_h(case, air_c, start_c, question)
    if case.top == 0 or not 0 < side_h < math.inf:
        return side_h
    speeds = [1 / side_h]
    for top, base in ((0.5, 0), (1, 0), (1, 1)):
        # Once worked out, an opening is never slower than a smaller one, whatever the table's straight lines say.
        speeds.append(
            max(speeds[-1], 1 / _opened_h(case._replace(top=top, base=base), air_c, start_c, question, side_h))
        )
        if case.top <= top and case.base <= base:
            break
    return 1 / _opening(case, speeds)


def _opening(case: Case, speeds: list[float]) -> float:
    """The speed at a top or base that is open in part, between the last two of those worked out."""
    before, after = speeds[-2:]
    part = case.base if case.base > 0 else case.top * 2 - (len(speeds) - 2)
    return before + part * (after - before)


def _opened_h(case: Case, air_c: float, start_c: float, question: str, side_h: float) -> float:
    """Hours for side and ends, which take their share as if apart, corrected by what the solver makes of both."""
    return _together(case, air_c, question) / (1 / side_h + 1 / along_h(ends_of(case), air_c, start_c, question))


def ends_of(case: Case) -> Case:
    """A bottle's milk as if only its ends met the air: a slab of its height, or half of it where the base does too."""
    half_m = case.fill_m / (1 + case.base)
    return Case(flat=True, half_m=half_m, u=case.u * case.top, fill_m=math.inf, top=0, base=0, milk=case.milk)


def along_h(case: Case, air_c: float, start_c: float, question: str) -> float:
    """The same with heat going one way only: through a bag's faces, or through a bottle's side."""
    end = end_c(question, case)
    if (start_c >= end) == (question == "thaw"):
        return 0.0
    even = even_h(case._replace(top=0, base=0), air_c, start_c, end)
    return even * (1 + _added(case, abs(air_c - end), start_c, question)) if even < math.inf else even


def _together(case: Case, air_c: float, question: str) -> float:
    """What the solver makes of a bottle's side and ends together, over the two as if apart."""
    tall = case.fill_m / (1 + case.base) / case.half_m
    grid = _grid("ends", "thaw" if question == "thaw" else "hard", "whole" if case.top == 1 else "half")
    return grid.at(_b(case, question), tall, abs(air_c - end_c(question, case)))


def _added(case: Case, gap: float, start_c: float, question: str) -> float:
    b = _b(case, question)
    return b * _grid("stretch", question, "flat" if case.flat else "upright").at(b, gap, curve(USUAL).enthalpy(start_c))


def _b(case: Case, question: str) -> float:
    """The table's first value, W/(m K), for a milk that conducts otherwise than the usual one."""
    return case.u * case.half_m * _conducts(USUAL, question) / _conducts(case.milk, question)


@lru_cache(maxsize=64)
def _conducts(kind: Kind, question: str) -> float:
    return curve(kind).conductivity(4.0 if question == "thaw" else HARD_C)


def thaw_h(case: Case, air_c: float, start_c: float) -> float:
    """Hours until the last ice is gone; infinite where the air does not melt it."""
    return question_h(case, air_c, start_c, "thaw")


def freeze_h(case: Case, air_c: float, start_c: float, question: str) -> float:
    """Hours until milk is "solid" or "hard"; infinite where the air is not cold enough."""
    return question_h(case, air_c, start_c, question)


def still_h(case: Case, air_c: float, start_c: float, to_c: float) -> float:
    """Hours until the centre of still liquid milk is at `to_c`, by conduction alone (the slowest it can be).

    One term of the series, which is right to late. Frozen milk thaws first and is taken to be cold all through then.
    """
    freezing = case.milk.freezing_c
    if start_c < freezing < to_c:
        thawed_h = thaw_h(case, air_c, start_c)
        return thawed_h + still_h(case, air_c, freezing, to_c) if thawed_h < math.inf else math.inf
    if start_c == to_c:
        return 0.0
    if not _leads(air_c, start_c, to_c):
        return math.inf
    rate, weight = still_rate(case, start_c, to_c)
    return math.log(weight * (air_c - start_c) / (air_c - to_c)) / rate / 3600


def still_rate(case: Case, start_c: float, to_c: float) -> tuple[float, float]:
    """How fast the centre of still liquid milk nears the air in the end (1/s), and its lag as a factor of the gap.

    A bottle's ends multiply what its side leaves.
    """
    rate, weight = _term(case._replace(top=0, base=0), start_c, to_c)
    if case.top > 0:
        more, lag = _term(ends_of(case), start_c, to_c)
        rate, weight = rate + more, weight * lag
    return rate, weight


def even_rate(case: Case, start_c: float, to_c: float) -> float:
    """How fast evenly warm liquid milk nears the air, 1/s."""
    milk_ = curve(case.milk)
    c = (milk_.enthalpy(to_c) - milk_.enthalpy(start_c)) / (to_c - start_c)
    return case.u / (milk_.density * c * case.volume_over_area_m)


def _term(case: Case, start_c: float, to_c: float) -> tuple[float, float]:
    """The last term of conduction one way: how fast it fades (1/s), and its weight at the centre."""
    milk_ = curve(case.milk)
    k = milk_.conductivity((start_c + to_c) / 2)
    c = (milk_.enthalpy(to_c) - milk_.enthalpy(start_c)) / (to_c - start_c)
    body: forms.Body = "slab" if case.flat else "cylinder"
    z = forms.roots(body, case.u * case.half_m / k, 1)
    return float(z[0] ** 2) * k / (milk_.density * c * case.half_m**2), float(forms.weights(body, z)[0])
