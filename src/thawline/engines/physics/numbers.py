"""The figures that the physics rests on: data files in this folder, each figure beside its source and its mark."""

from __future__ import annotations

from functools import partial
from typing import Any

from thawline.core import figures

MARKS = ("seen", "second-hand", "memory", "library", "own", "ours")

load = partial(figures.load, __package__)
coefficients = partial(figures.row, __package__)


def table(name: str, *path: str) -> dict[str, Any]:
    """One table of a data file, by the names that lead to it."""
    found: dict[str, Any] = figures.entry(__package__, name, *path)
    return found


def value(name: str, *path: str) -> float:
    """The figure of an entry that has `value`, `unit`, `mark` and `source`."""
    return float(table(name, *path)["value"])
