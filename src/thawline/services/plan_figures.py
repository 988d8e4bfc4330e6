"""The figures that planning rests on beside the guidelines: each in the data file, with its source and its mark."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any


@lru_cache(maxsize=1)
def _load() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("plan_figures.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=128)
def figure(*path: str) -> float:
    """A figure by the names that lead to it."""
    found: Any = _load()
    for step in path:
        found = found[step]
    return float(found["value"])


@lru_cache(maxsize=16)
def clocks(name: str) -> tuple[str, ...]:
    """Clock times such as 07:00."""
    return tuple(_load()[name]["clocks"])


def row(*path: str) -> tuple[float, ...]:
    """A row of figures: the last name is that of its list."""
    found: Any = _load()
    for step in path:
        found = found[step]
    return tuple(float(one) for one in found)


def text(*path: str) -> str:
    """A text by the names that lead to it."""
    found: Any = _load()
    for step in path:
        found = found[step]
    return str(found)
