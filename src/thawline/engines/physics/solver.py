"""Heat into or out of milk along one way: a flat bag (slab), a bottle seen from the side (cylinder), a ball."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np

from .around import Around, Bath, Recorded
from .march import Cells, End, Grid, Run, Track, march, pace
from .milk import Array, Milk

__all__ = ["Bath", "End", "Recorded", "Run", "Track", "run"]

Form = Literal["slab", "cylinder", "sphere"]
CELLS = 50
STEPS = 800


def run(
    milk: Milk,
    *,
    shape: Form,
    half_mm: float,
    u: float,
    air_c: Around,
    start_c: float | Array,
    end: End,
    start_h: Array | None = None,
    cells: int = CELLS,
    step_s: float | None = None,
    most_h: float = math.inf,
    keep: bool = False,
) -> Run:
    """Heat until `end`, in hours.

    `half_mm`: half the thickness of a slab (the whole, where only one face is open), or the radius; `u`: film and wall
    together, W/(m2 K); `air_c`: degrees C, `Recorded` or `Bath`; `start_c`: one temperature, or one a cell from the
    middle outwards (`start_h` the same in J/kg); `step_s`: chosen from the expected time unless given; `most_h`: how
    far to go at most; `keep`: keep a track for pictures. Ends: "thawed" (no ice), "solid" (-5 C), "hard" (-10 C),
    ("centre", C) for the part that comes last, ("mean", C) as if swirled, ("hottest", C) once any part is that warm,
    ("coldest", C) once any part is that cold; None goes on for `most_h`.
    """
    if end is None and math.isinf(most_h):
        raise ValueError("a run needs an end or a time")
    filled = _cells(milk, shape, half_mm / 1000, float(u), cells)
    h = np.array(start_h, dtype=float) if start_h is not None else _start(milk, start_c, cells)
    around = air_c if isinstance(air_c, Bath | Recorded) else float(air_c)
    dt = step_s if step_s is not None else pace(filled, h, around, end, steps=STEPS, most_h=most_h)
    scale = around.area_m2 / float(filled.grid.area.sum()) if isinstance(around, Bath) else 1.0
    return march(filled, h, around, end, step_s=dt, most_h=most_h, scale=scale, keep=keep)


def _start(milk: Milk, start_c: float | Array, cells: int) -> Array:
    return np.broadcast_to(milk.enthalpy(start_c), (cells,)).astype(float)


@lru_cache(maxsize=64)
def _cells(milk: Milk, shape: Form, depth: float, u: float, cells: int) -> Cells:
    power = {"slab": 0, "cylinder": 1, "sphere": 2}[shape]
    edge = np.linspace(0.0, depth, cells + 1)
    wide = depth / cells
    grid = Grid(
        volume=np.diff(edge ** (power + 1)) / (power + 1),
        links=((1, edge[1:-1] ** power / wide),),
        skin=np.array([cells - 1]),
        area=np.array([depth**power]),
        half=np.array([wide / 2]),
        u=np.array([u]),
        depth=depth,
        centre=0,
    )
    return Cells(milk, grid)
