"""How fast the heat is worked out: the fast path beside the full solver, the solver beside SciPy's LSODA, in one run.

Also a bowl of water, and a board of 100 containers judged with what the physics says of their measures, beside the same
board without measures. Ratios are taken within the run, in processor time of this process, so that a busy machine
changes them little.
"""

from __future__ import annotations

import json
import logging
import os
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp

from thawline.engines.physics import ask, assumed, full, quick
from thawline.engines.physics.case import Case
from thawline.engines.physics.milk import Array, milk
from thawline.engines.physics.spread import INFINITE, Range, Vessel

GOAL_MS = {"fast": 2.0, "1-D": 1500.0, "2-D": 10_000.0, "bowl": 5.0}
CELLS, CONTAINERS = 50, 100


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


def air_lines() -> list[Line]:
    """A bag and a bottle that thaw in a refrigerator."""
    air, bag, bottle = assumed.air("refrigerator"), assumed.vessel("flat", 120), assumed.vessel("upright", 120)
    one = Case(flat=True, half_m=0.0075, u=8, fill_m=INFINITE, top=0, base=0, milk=quick.USUAL)
    fast_bag, full_bag = ms(lambda: ask.thaw(bag, air), 200), ms(lambda: ask.thaw(bag, air, exact=True), 5)
    fast_bottle, full_bottle = ms(lambda: ask.thaw(bottle, air), 200), ms(lambda: ask.thaw(bottle, air, exact=True), 3)
    solver, lsoda = ms(lambda: full.thaw_h(one, 4, -18), 5), ms(by_lines, 3)
    off = full.thaw_h(one, 4, -18) * 3600 / by_lines() - 1
    return [
        Line("bag, three answers, fast", fast_bag),
        Line("bag, three answers, solver (1-D)", full_bag, "fast", full_bag / fast_bag),
        Line("bottle, three answers, fast", fast_bottle),
        Line("bottle, three answers, solver (2-D)", full_bottle, "fast", full_bottle / fast_bottle),
        Line("bag, one thaw, solver", solver),
        Line(f"bag, one thaw, LSODA ({off:+.2%} off)", lsoda, "solver", lsoda / solver),
    ]


def bowl_lines() -> list[Line]:
    """Frozen milk in a bowl of water, still and swirled, with the least water that would do."""
    found = []
    for name, vessel in (("bag", assumed.vessel("flat", 120)), ("bottle", assumed.vessel("upright", 120))):

        def run(exact: bool, vessel: Vessel = vessel) -> object:
            kg, c, start_c = Range.about(5, 0.1), Range(39, 40, 40), Range.exactly(-18)
            return ask.bath(vessel, water_kg=kg, water_c=c, start_c=start_c, exact=exact)

        fast, exact = ms(partial(run, False), 50), ms(partial(run, True), 3)
        found += [
            Line(f"{name} in a bowl, fast", fast),
            Line(f"{name} in a bowl, solver", exact, "fast", exact / fast),
        ]
    return found


def household(now: datetime, *, measured: bool) -> list[bytes]:
    """So many containers in a refrigerator and a freezer that are read twice a day, a third of them thawing."""
    found: list[bytes] = []

    def put(at: datetime, kind: str, **fields: object) -> None:
        given = {key.rstrip("_"): value for key, value in fields.items()}
        found.append(json.dumps({"id": f"b{len(found)}", "at": at.isoformat(), "kind": kind, **given}).encode())

    start = now - timedelta(days=30)
    put(start, "household", zone="Europe/Lisbon", guideline="cdc")
    put(start, "child", child="Mira", born="2026-01-01", care="home")
    for place, is_, temp_c in (("fridge", "refrigerator", 4), ("freezer", "freezer", -18)):
        put(start, "place", place=place, is_=is_, temp_c=temp_c)
    for half_days in range(61):
        for place, temp_c in (("fridge", 4), ("freezer", -18)):
            put(start + timedelta(hours=12 * half_days - 1), "measured", place=place, temp_c=temp_c)
    for number in range(CONTAINERS):
        at, name = start + timedelta(hours=5 * number), f"M{number}"
        vessel = {"vessel": {"kind": "bag", "shape": "flat", "thickness_mm": 10 + number % 15}} if measured else {}
        put(at, "expressed", into=[{"container": name, "ml": 60 + number}], place="fridge", **vessel)
        put(at + timedelta(hours=1), "moved", container=name, to="freezer")
        if number % 3 == 0:
            put(now - timedelta(hours=number % 20 + 1), "moved", container=name, to="fridge")
    return found


def board_ms(*, measured: bool) -> float:
    """A whole board of such a household that nobody asked for before."""
    from thawline.records.memory import MemoryStore  # noqa: PLC0415  (needs Django's settings)
    from thawline.services.board import board  # noqa: PLC0415
    from thawline.services.recording import record  # noqa: PLC0415

    at = datetime.now(UTC).replace(microsecond=0)
    now, events, took = int(at.timestamp() * 1e6), household(at, measured=measured), []
    for _ in range(7):
        store = MemoryStore()
        record(store, events, now=now, whole=False)
        took.append(ms(partial(board, store, now=now), 1))
    return statistics.median(took)


def lines() -> list[Line]:
    """Everything measured."""
    plain, known = board_ms(measured=False), board_ms(measured=True)
    boards = [
        Line(f"board of {CONTAINERS}, none measured", plain),
        Line(f"board of {CONTAINERS}, all measured", known, "none measured", known / plain),
    ]
    return air_lines() + bowl_lines() + boards


def main() -> None:
    """Print what was measured, and the goals."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "thawline.site.settings")
    logging.disable(logging.WARNING)
    for line in lines():
        beside = f"{line.ratio:10.1f} x {line.beside}" if line.beside else ""
        print(f"{line.what:<44}{line.ms:10.2f} ms{beside}")
    print(", ".join(f"goal {what}: {goal:g} ms" for what, goal in GOAL_MS.items()))


if __name__ == "__main__":
    main()
