"""The figures that the physics rests on: data files in this folder, each figure beside its source and its mark."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

MARKS = ("seen", "second-hand", "memory", "library", "own", "ours")


@lru_cache
def load(name: str) -> dict[str, Any]:
    """A data file by its name without the ending; it is not to be changed."""
    return tomllib.loads(files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def table(name: str, *path: str) -> dict[str, Any]:
    """One table of a data file, by the names that lead to it."""
    found: dict[str, Any] = load(name)
    for step in path:
        found = found[step]
    return found


def value(name: str, *path: str) -> float:
    """The figure of an entry that has `value`, `unit`, `mark` and `source`."""
    return float(table(name, *path)["value"])


def coefficients(name: str, *path: str) -> tuple[float, ...]:
    """A row of coefficients."""
    *above, last = path
    return tuple(float(one) for one in table(name, *above)[last])
