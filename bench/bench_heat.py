"""How fast the heat is worked out: the fast path beside the full solver, the solver beside SciPy's LSODA, in one run.

Ratios are taken within the run, in processor time of this process, so that a busy machine changes them little.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp

from thawline.engines.physics import ask, assumed, full, quick
from thawline.engines.physics.case import Case
from thawline.engines.physics.milk import Array, milk
from thawline.engines.physics.spread import INFINITE, Range

GOAL_MS = {"fast": 2.0, "1-D": 1500.0, "2-D": 10_000.0}
CELLS = 50


class Line(NamedTuple):
    """One line of the answer: what, milliseconds, and what it was divided by."""

    what: str
    ms: float
    beside: str = ""
    ratio: float = 1.0


def ms(run: Callable[[], object], times: int) -> float:
    """The middle of several runs in milliseconds of processor time."""
    took = []
    for _ in range(times):
        began = time.process_time()
        run()
        took.append(1000 * (time.process_time() - began))
    return statistics.median(took)


def by_lines() -> float:
    """The same thaw by the method of lines with SciPy's LSODA: seconds until the middle cell has no ice."""
    material = milk()
    half, u, air_c = 0.0075, 8.0, 4.0
    wide = half / CELLS
    mass = material.density * wide

    def rate(_: float, h: Array) -> Array:
        phi, surface = material.kirchhoff(h), h[-1]
        flux = np.diff(phi) / wide
        t, k = float(material.temperature(surface)), float(np.interp(surface, material.h, material.k))
        into = (air_c - t) / (1 / u + wide / 2 / k)
        return np.asarray((np.append(flux, into) - np.append(0.0, flux)) / mass)

    def melted(_: float, h: Array) -> float:
        return float(h[0])

    melted.terminal = True  # type: ignore[attr-defined]
    start = np.full(CELLS, float(material.enthalpy(-18.0)))
    found = solve_ivp(rate, (0, 200_000), start, method="LSODA", events=melted, rtol=1e-5, atol=1.0, lband=1, uband=1)
    return float(found.t_events[0][0])


def lines() -> list[Line]:
    """Everything measured."""
    air, bag, bottle = assumed.air("refrigerator"), assumed.vessel("flat", 120), assumed.vessel("upright", 120)
    one = Case(flat=True, half_m=0.0075, u=8, fill_m=INFINITE, top=0, base=0, milk=quick.USUAL)
    fast_bag, full_bag = ms(lambda: ask.thaw(bag, air), 200), ms(lambda: ask.thaw(bag, air, exact=True), 5)
    fast_bottle, full_bottle = ms(lambda: ask.thaw(bottle, air), 200), ms(lambda: ask.thaw(bottle, air, exact=True), 3)
    solver, lsoda = ms(lambda: full.thaw_h(one, 4, -18), 5), ms(by_lines, 3)
    off = full.thaw_h(one, 4, -18) * 3600 / by_lines() - 1
    kg, c, start_c = Range.exactly(5), Range.exactly(40), Range.exactly(-18)
    return [
        Line("bag, three answers, fast", fast_bag),
        Line("bag, three answers, solver", full_bag, "fast", full_bag / fast_bag),
        Line("bottle, three answers, fast", fast_bottle),
        Line("bottle, three answers, solver", full_bottle, "fast", full_bottle / fast_bottle),
        Line("bag, one thaw, solver", solver),
        Line(f"bag, one thaw, LSODA ({off:+.2%} off)", lsoda, "solver", lsoda / solver),
        Line("bag in a bowl, still and swirled", ms(lambda: ask.bath(bag, water_kg=kg, water_c=c, start_c=start_c), 3)),
    ]


def main() -> None:
    """Print what was measured, and the goals."""
    for line in lines():
        beside = f"{line.ratio:10.1f} x {line.beside}" if line.beside else ""
        print(f"{line.what:<44}{line.ms:10.2f} ms{beside}")
    print(", ".join(f"goal {what}: {goal:g} ms" for what, goal in GOAL_MS.items()))


if __name__ == "__main__":
    main()
