"""Marching heat through cells of milk: enthalpy method, backward Euler, Newton on the enthalpies."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.linalg import lapack

from . import numbers
from .around import Around, Bath, Bowl, Recorded, Steady
from .milk import Array, Milk

End = Literal["thawed", "solid", "hard"] | tuple[Literal["centre", "mean", "hottest", "coldest"], float] | None
NEAR_J_KG = 1e-2
MOST_TRIES = 30
MOST_STEPS = 100_000


@dataclass(frozen=True, eq=False)
class Grid:
    """Cells and what joins them.

    `volume` m3; `links` area over distance in m between each cell and the one so many places on; `skin` the cells at
    the surface with `area` m2, `half` the way to the surface in m, `u` what lies outside in W/(m2 K); `depth` in m.
    """

    volume: Array
    links: tuple[tuple[int, Array], ...]
    skin: npt.NDArray[np.intp]
    area: Array
    half: Array
    u: Array
    depth: float
    centre: int


class Track(NamedTuple):
    """What happened, for pictures: hours, and degrees C in the middle, on average, at the surface and around."""

    hours: list[float]
    centre_c: list[float]
    mean_c: list[float]
    surface_c: list[float]
    around_c: list[float]


@dataclass(frozen=True)
class Run:
    """Hours to the end (infinite: never), the heat that went in and that was gained (J per kg of milk), the last state.

    `final_c` and `final_h`: the cells' temperatures and enthalpies, from the middle outwards; `around_c`: air or water
    at the end; `lost_j`: what the water lost to the room, J; `elapsed_h`: how far the run went.
    """

    time_h: float
    elapsed_h: float
    heat_in: float
    gained: float
    final_h: Array
    final_c: Array
    mean_c: float
    surface_c: float
    around_c: float
    lost_j: float
    steps: int
    track: Track | None

    @property
    def imbalance(self) -> float:
        """What part of the heat is unaccounted for."""
        return abs(self.heat_in - self.gained) / max(abs(self.heat_in), 1.0)


class Goal(NamedTuple):
    """When to stop: `of` all enthalpies is to rise (or fall) to `h`, at `c` degrees; `judge` shows lost cases."""

    of: Callable[[Array], float]
    judge: Callable[[Array], float]
    h: float
    c: float
    rising: bool

    def ahead(self, h: Array) -> float:
        """Below zero before the end, J/kg."""
        return self.of(h) - self.h if self.rising else self.h - self.of(h)

    def hopeless(self, h: Array, lowest_c: float, highest_c: float) -> bool:
        """Whether surroundings between these temperatures can never bring it there."""
        if self.rising:
            return highest_c <= self.c and self.judge(h) <= self.h
        return lowest_c >= self.c and self.judge(h) >= self.h


class _Flow(NamedTuple):
    """Residual and Jacobian of one Newton step; heat through the skin and how it answers to the cells."""

    missing: Array
    diagonal: Array
    sides: list[tuple[int, Array, Array]]
    heat: Array
    by_cell: Array
    by_air: Array


class Cells:
    """A grid filled with one material; one step of it in surroundings that do or do not answer."""

    def __init__(self, material: Milk, grid: Grid) -> None:
        self.material, self.grid = material, grid
        self.mass = grid.volume * material.density
        self.share = self.mass / self.mass.sum()
        self._inner = material.h[1:-1]
        run = np.diff(material.h)
        self._phi, self._dphi = _lines(material.phi, material.h, run)
        self._t, self._dt = _lines(material.t, material.h, run)
        self._k, self._dk = _lines(material.k, material.h, run)
        self._outside = 1 / grid.u
        self._band = max(offset for offset, _ in grid.links)

    def places(self, h: Array) -> npt.NDArray[np.intp]:
        """Which stretch of the tables each enthalpy lies on."""
        return self._inner.searchsorted(h, side="right")

    def temperature(self, h: Array) -> Array:
        """Degrees C, continued in a straight line beyond the table."""
        at = self.places(h)
        return self._t[at] + self._dt[at] * h

    def step(
        self, before: Array, guess: Array, dt: float, air_c: float, bowl: Bowl | None
    ) -> tuple[Array, float, float]:
        """Enthalpies after `dt` seconds, the heat that came in (J), the water's or air's degrees C; raises if lost."""
        h = guess
        for _ in range(MOST_TRIES):
            flow = self._flow(before, h, dt, air_c)
            change, warmer = self._newton(flow, dt, air_c, bowl)
            h = h + change
            if np.abs(change).max() <= NEAR_J_KG:
                came = flow.heat.sum() + flow.by_cell @ change[self.grid.skin] + flow.by_air.sum() * warmer
                return h, float(came) * dt, air_c + warmer
            air_c += warmer
        raise ArithmeticError("no way found through a step")

    def _flow(self, before: Array, h: Array, dt: float, air_c: float) -> _Flow:
        grid, at = self.grid, self.places(h)
        slope = self._dphi[at]
        phi = self._phi[at] + slope * h
        holds = self.mass / dt
        missing = holds * (before - h)
        diagonal = holds.copy()
        sides = []
        for offset, joint in grid.links:
            flux = joint * (phi[offset:] - phi[:-offset])
            missing[:-offset] += flux
            missing[offset:] -= flux
            below, above = joint * slope[:-offset], joint * slope[offset:]
            diagonal[:-offset] += below
            diagonal[offset:] += above
            sides.append((offset, -below, -above))
        heat, by_cell, by_air = self.skin(h[grid.skin], at[grid.skin], air_c)
        _add(missing, grid.skin, heat)
        _add(diagonal, grid.skin, -by_cell)
        return _Flow(missing, diagonal, sides, heat, by_cell, by_air)

    def skin(self, h: Array, at: npt.NDArray[np.intp], air_c: float) -> tuple[Array, Array, Array]:
        """Heat in through each piece of surface (W), and its change with the cell's enthalpy and the air."""
        grid = self.grid
        k = self._k[at] + self._dk[at] * h
        inside = grid.half / k
        through = grid.area / (self._outside + inside)
        gap = air_c - self._t[at] - self._dt[at] * h
        bends = through * through / grid.area * inside / k * self._dk[at]
        return through * gap, bends * gap - through * self._dt[at], through

    def _newton(self, flow: _Flow, dt: float, air_c: float, bowl: Bowl | None) -> tuple[Array, float]:
        """The change of the cells and of the water that closes what is missing."""
        if bowl is None:
            return self._solve(flow, flow.missing), 0.0
        skin = self.grid.skin
        answer = np.zeros_like(flow.missing)
        _add(answer, skin, flow.by_air)
        both = self._solve(flow, np.column_stack([flow.missing, answer]))
        plain, per_degree = both[:, 0], both[:, 1]
        short = bowl.holds / dt * (bowl.c - air_c) - bowl.loss * (air_c - bowl.room_c) - float(flow.heat.sum())
        stiff = bowl.holds / dt + bowl.loss + float(flow.by_air.sum())
        warmer = (short - float(flow.by_cell @ plain[skin])) / (stiff + float(flow.by_cell @ per_degree[skin]))
        return plain + warmer * per_degree, warmer

    def _solve(self, flow: _Flow, right: Array) -> Array:
        if self._band == 1:
            _, below, above = flow.sides[0]
            *_, found, info = lapack.dgtsv(below, flow.diagonal, above, right)
        else:
            band = self._band
            matrix = np.zeros((3 * band + 1, len(flow.diagonal)), order="F")
            matrix[2 * band] = flow.diagonal
            for offset, below, above in flow.sides:
                matrix[2 * band - offset, offset:] = above
                matrix[2 * band + offset, :-offset] = below
            *_, found, info = lapack.dgbsv(band, band, matrix, right, overwrite_ab=1)
        if info:
            raise ArithmeticError("a step has no solution")
        return np.asarray(found)


def goal(cells: Cells, h: Array, end: End) -> Goal | None:
    """What an end means for these cells, starting from these enthalpies."""
    if end is None:
        return None
    material, share = cells.material, cells.share

    def mean(now: Array) -> float:
        return float(share @ now)

    if end == "thawed":
        return Goal(_least, mean, 0.0, material.freezing_c, rising=True)
    if isinstance(end, str):
        last_c = float(numbers.table("milk", "ends")[f"{end}_c"])
        return Goal(_most, mean, float(material.enthalpy(last_c)), last_c, rising=False)
    kind, c = end
    target = float(material.enthalpy(c))
    # Milk that lay still may be warmer on average than it is in the middle, which is what is waited for.
    now = float(h[cells.grid.centre]) if kind == "centre" else mean(h)
    rising = {"hottest": True, "coldest": False}.get(kind, now < target)
    of = {"centre": _least if rising else _most, "mean": mean, "hottest": _most, "coldest": _least}[kind]
    return Goal(of, of if kind in {"hottest", "coldest"} else mean, target, c, rising)


def march(
    cells: Cells, h: Array, around: Around, end: End, *, step_s: float, most_h: float, scale: float, keep: bool
) -> Run:
    """Step after step from enthalpies `h` to the end; `scale` is how many such grids lie in a bath."""
    bowl = Bowl(around, scale) if isinstance(around, Bath) else None
    air = Steady(around) if not isinstance(around, Bath) else None
    return _March(cells, h, bowl, air, goal(cells, h, end), keep=keep).run(step_s, most_h * 3600)


class _March:
    def __init__(
        self, cells: Cells, h: Array, bowl: Bowl | None, air: Steady | None, to: Goal | None, *, keep: bool
    ) -> None:
        self.cells, self.bowl, self.air, self.to = cells, bowl, air, to
        self.start, self.h, self.last = h, h, h
        self.time, self.heat, self.steps = 0.0, 0.0, 0
        self.around_c = bowl.c if bowl else air.at(0.0) if air else 0.0
        self.track = Track([], [], [], [], []) if keep else None
        self._note()

    def run(self, step_s: float, most_s: float) -> Run:
        if self.to is not None and self.to.ahead(self.h) >= 0:
            return self._answer(0.0)
        most = MOST_STEPS + (int(self.air.ends_s / step_s) if self.air else 0)
        while self.time < most_s - 1e-6 and self.steps < most and not self._hopeless():
            before, heat, was = self.h, self.heat, self.time
            self._take(min(step_s, most_s - self.time))
            if self.to is not None and (now := self.to.ahead(self.h)) >= 0:
                part = min(1.0, max(0.0, 1 - now / (now - self.to.ahead(before))))
                self.h = before + part * (self.h - before)
                self.heat = heat + part * (self.heat - heat)
                self.time = was + part * (self.time - was)
                self._note()
                return self._answer(self.time)
            self._note()
        return self._answer(math.inf)

    def _take(self, dt: float, depth: int = 0) -> None:
        """One step, or two halves of it where Newton does not find through."""
        cells = self.cells
        air_c = self.bowl.c if self.bowl else self.air.over(self.time, dt) if self.air else 0.0
        guess = 2 * self.h - self.last if depth == 0 else self.h
        try:
            h, came, water_c = cells.step(self.h, guess, dt, air_c, self.bowl)
        except ArithmeticError:
            if depth > 20:
                raise
            self._take(dt / 2, depth + 1)
            self._take(dt / 2, depth + 1)
            return
        if self.bowl:
            self.bowl.settle(water_c, dt)
        self.last, self.h, self.around_c = self.h, h, water_c
        self.heat += came
        self.time += dt
        self.steps += 1

    def _hopeless(self) -> bool:
        if self.to is None:
            return False
        lowest, highest = self.bowl.reach() if self.bowl else self.air.reach(self.time) if self.air else (0.0, 0.0)
        return self.to.hopeless(self.h, lowest, highest)

    def _surface(self) -> float:
        grid = self.cells.grid
        at = self.cells.places(self.h)
        heat, _, _ = self.cells.skin(self.h[grid.skin], at[grid.skin], self.around_c)
        return float(self.around_c - heat[0] / grid.area[0] / grid.u[0])

    def _mean(self) -> float:
        return float(self.cells.material.temperature(float(self.cells.share @ self.h)))

    def _note(self) -> None:
        if self.track is None:
            return
        centre = self.cells.grid.centre
        row = (
            self.time / 3600,
            float(self.cells.temperature(self.h)[centre]),
            self._mean(),
            self._surface(),
            self.around_c,
        )
        for column, one in zip(self.track, row, strict=True):
            column.append(one)

    def _answer(self, time_s: float) -> Run:
        whole = float(self.cells.mass.sum())
        return Run(
            time_h=time_s / 3600,
            elapsed_h=self.time / 3600,
            heat_in=self.heat / whole,
            gained=float(self.cells.share @ (self.h - self.start)),
            final_h=self.h,
            final_c=self.cells.temperature(self.h),
            mean_c=self._mean(),
            surface_c=self._surface(),
            around_c=self.around_c,
            lost_j=self.bowl.lost_j if self.bowl else 0.0,
            steps=self.steps,
            track=self.track,
        )


def pace(cells: Cells, h: Array, around: Around, end: End, *, steps: int, most_h: float) -> float:
    """Seconds a step: the time that evenly warm milk would take, with some more for thick milk, over so many steps."""
    to = goal(cells, h, end)
    longest = _longest(around)
    if to is None:
        return min(longest, most_h * 3600 / steps)
    grid, material = cells.grid, cells.material
    air_c = _driving(around, rising=to.rising)
    path = np.linspace(float(cells.share @ h), to.h, 100)
    gap = np.maximum(np.abs(air_c - material.temperature(path)), 0.05)
    conducts = float(grid.area @ grid.u)
    lumped = cells.mass.sum() * abs(np.diff(path)[0]) * float(np.sum(1 / gap)) / conducts
    biot = conducts / float(grid.area.sum()) * grid.depth / float(material.conductivity(air_c))
    expected = lumped * (1 + biot / 2)
    span = (around.hours[-1] - around.hours[0]) * 3600 if isinstance(around, Recorded) else 0.0
    shortest = max(0.1, min(expected / 60, span / 4000))  # a month of readings is not walked in seconds
    return float(np.clip(expected / steps, min(shortest, longest), longest))


def _longest(around: Around) -> float:
    """Seconds that a step may take, so that it does not pass over what the surroundings do."""
    if isinstance(around, Recorded):
        return float(np.clip((around.hours[-1] - around.hours[0]) * 3600 / 4000, 60, 300))
    return 60.0 if isinstance(around, Bath) else math.inf


def _driving(around: Around, *, rising: bool) -> float:
    if isinstance(around, Bath):
        return around.water_c
    if isinstance(around, float | int):
        return float(around)
    return max(around.c) if rising else min(around.c)


def _least(h: Array) -> float:
    return float(h.min())


def _most(h: Array) -> float:
    return float(h.max())


def _lines(values: Array, nodes: Array, run: Array) -> tuple[Array, Array]:
    """Each stretch of a table as a straight line: value at 0 and slope."""
    slope = np.diff(values) / run
    return values[:-1] - slope * nodes[:-1], slope


def _add(to: Array, places: npt.NDArray[np.intp], values: Array) -> None:
    """Add values at places of which one may come twice."""
    if len(places) == 1:
        to[places[0]] += values[0]
    else:
        np.add.at(to, places, values)
