"""The figures that forecasts rest on: data files in this folder, each figure beside its source and its mark."""

from __future__ import annotations

from functools import partial
from typing import Any

from thawline.core import figures

# seen in a retrieved text; second-hand: in a text that reports it; memory: not confirmed; derived: arithmetic on such
# figures; ours: a choice of this project without a published value, to be replaced by the family's own logs.
MARKS = ("seen", "second-hand", "memory", "library", "derived", "ours")


text = partial(figures.text, __package__)
load = partial(figures.load, __package__)
row = partial(figures.row, __package__)


def table(name: str, *path: str) -> dict[str, Any]:
    """One table of a data file, by the names that lead to it."""
    found: dict[str, Any] = figures.entry(__package__, name, *path)
    return found


def value(name: str, *path: str) -> float:
    """The figure of an entry that has `value`, `unit`, `mark` and `source`."""
    return float(table(name, *path)["value"])
