"""The figures that forecasts rest on: data files in this folder, each figure beside its source and its mark."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any

# seen in a retrieved text; second-hand: in a text that reports it; memory: not confirmed; derived: arithmetic on such
# figures; ours: a choice of this project without a published value, to be replaced by the family's own logs.
MARKS = ("seen", "second-hand", "memory", "library", "derived", "ours")


@lru_cache
def text(file: str) -> str:
    """A file of this folder, whole."""
    return files(__package__).joinpath(file).read_text(encoding="utf-8")


@lru_cache
def load(name: str) -> dict[str, Any]:
    """A data file by its name without the ending; it is not to be changed."""
    return tomllib.loads(text(f"{name}.toml"))


def table(name: str, *path: str) -> dict[str, Any]:
    """One table of a data file, by the names that lead to it."""
    found: dict[str, Any] = load(name)
    for step in path:
        found = found[step]
    return found


def value(name: str, *path: str) -> float:
    """The figure of an entry that has `value`, `unit`, `mark` and `source`."""
    return float(table(name, *path)["value"])


def row(name: str, *path: str) -> tuple[float, ...]:
    """A row of figures; the last name is that of the row within its table."""
    *above, last = path
    return tuple(float(one) for one in table(name, *above)[last])
