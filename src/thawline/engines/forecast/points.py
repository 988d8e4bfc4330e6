"""The low, likely and high points of many paths, all at the parts that `course.toml` names."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import numbers
from .course import Array, Bands
from .kinds import Band

__all__ = ["band", "bands", "points"]


def points() -> tuple[float, float, float]:
    """The parts of all paths that lie below low, likely and high."""
    row = numbers.table("course", "points")
    return float(row["low"]), float(row["likely"]), float(row["high"])


def band(by_path: Array) -> Band:
    """The band of one figure a path."""
    low, likely, high = np.quantile(by_path, points())
    return Band(float(low), float(likely), float(high))


def bands(by_day: NDArray[np.float32]) -> Bands:
    """The band of each day (row). One sort of single floats is several times quicker here than `quantile`."""
    ordered, many = np.sort(by_day, axis=1), by_day.shape[1]
    found = []
    for point in points():
        below, part = divmod(point * (many - 1), 1.0)
        low, high = ordered[:, int(below)], ordered[:, min(int(below) + 1, many - 1)]
        found.append(low + part * (high.astype(float) - low))
    return Bands(*found)
