"""Heat into or out of milk in an upright bottle: along the radius and the height, each face with its own film."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from .around import Around, Bath, Recorded
from .march import Cells, End, Grid, Run, march, pace
from .milk import Array, Milk

__all__ = ["run"]

CELLS_R, CELLS_Z = 20, 24
STEPS = 700


def run(
    milk: Milk,
    *,
    radius_mm: float,
    height_mm: float,
    u_side: float,
    u_top: float,
    u_base: float,
    air_c: Around,
    start_c: float | Array,
    end: End,
    start_h: Array | None = None,
    cells: tuple[int, int] = (CELLS_R, CELLS_Z),
    step_s: float | None = None,
    most_h: float = math.inf,
    keep: bool = False,
) -> Run:
    """Heat until `end`, in hours, as `solver.run` does; a face with `u` 0 is insulated.

    `height_mm` is how high the milk stands; a bath's `area_m2` is not used, the size is known here. The cells of a
    start or of the last state go along the radius first, from the base up.
    """
    if end is None and math.isinf(most_h):
        raise ValueError("a run needs an end or a time")
    filled = _cells(milk, (radius_mm / 1000, height_mm / 1000), (float(u_side), float(u_top), float(u_base)), cells)
    many = cells[0] * cells[1]
    h = np.broadcast_to(milk.enthalpy(start_c) if start_h is None else start_h, (many,)).astype(float)
    around = air_c if isinstance(air_c, Bath | Recorded) else float(air_c)
    dt = step_s if step_s is not None else pace(filled, h, around, end, steps=STEPS, most_h=most_h)
    return march(filled, h, around, end, step_s=dt, most_h=most_h, scale=1.0, keep=keep)


@lru_cache(maxsize=32)
def _cells(milk: Milk, size: tuple[float, float], u: tuple[float, float, float], cells: tuple[int, int]) -> Cells:
    (radius, height), (across, up) = size, cells
    edge = np.linspace(0.0, radius, across + 1)
    wide, high = radius / across, height / up
    ring = math.pi * np.diff(edge**2)
    radial = np.tile(np.append(2 * math.pi * edge[1:-1] * high / wide, 0.0), up)[:-1]
    side = np.array(sorted(range(up), key=lambda z: abs(z - up // 2))) * across + across - 1
    whole = np.arange(across)
    faces = [
        (side, np.full(up, 2 * math.pi * radius * high), wide / 2, u[0]),
        (whole + (up - 1) * across, ring, high / 2, u[1]),
        (whole, ring, high / 2, u[2]),
    ]
    open_ones = [face for face in faces if face[3] > 0]
    grid = Grid(
        volume=np.tile(ring * high, up),
        links=((1, radial), (across, np.tile(ring / high, up - 1))),
        skin=np.concatenate([places for places, *_ in open_ones]),
        area=np.concatenate([area for _, area, _, _ in open_ones]),
        half=np.concatenate([np.full(len(places), half) for places, _, half, _ in open_ones]),
        u=np.concatenate([np.full(len(places), film) for places, _, _, film in open_ones]),
        depth=radius,
        centre=across * (up // 2) if u[2] > 0 else 0,
    )
    return Cells(milk, grid)
