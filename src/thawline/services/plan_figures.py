"""The figures that planning rests on beside the guidelines: each in the data file, with its source and its mark."""

from __future__ import annotations

from functools import lru_cache, partial

from thawline.core import figures

_FILE = "plan_figures"
row = partial(figures.row, __package__, _FILE)


@lru_cache(maxsize=128)
def figure(*path: str) -> float:
    """A figure by the names that lead to it."""
    return float(figures.entry(__package__, _FILE, *path)["value"])


@lru_cache(maxsize=16)
def clocks(name: str) -> tuple[str, ...]:
    """Clock times such as 07:00."""
    return tuple(figures.entry(__package__, _FILE, name, "clocks"))


def text(*path: str) -> str:
    """A text by the names that lead to it."""
    return str(figures.entry(__package__, _FILE, *path))
