"""Data files that lie in a package of this program: figures in TOML, each beside its unit, its mark and its source."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any


@lru_cache
def text(package: str, file: str) -> str:
    """A file of a package, whole."""
    return files(package).joinpath(file).read_text(encoding="utf-8")


@lru_cache
def load(package: str, name: str) -> dict[str, Any]:
    """A data file by its name without the ending; it is not to be changed."""
    return tomllib.loads(text(package, f"{name}.toml"))


def entry(package: str, name: str, *path: str) -> Any:  # noqa: ANN401  (whatever TOML can hold)
    """What stands in a data file under the names that lead to it."""
    found: Any = load(package, name)
    for step in path:
        found = found[step]
    return found


def row(package: str, name: str, *path: str) -> tuple[float, ...]:
    """A row of figures by the names that lead to it."""
    return tuple(float(one) for one in entry(package, name, *path))
