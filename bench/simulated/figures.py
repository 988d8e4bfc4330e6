"""The figures that the households are drawn from: `drawn_from.toml`, each beside its source and mark."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any


@lru_cache
def figures() -> dict[str, Any]:
    """The whole data file; it is not to be changed."""
    return tomllib.loads(Path(__file__).with_name("drawn_from.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=256)
def figure(table: str, name: str) -> float:
    """One figure of a table."""
    return float(figures()[table][name]["value"])


@lru_cache(maxsize=256)
def span(table: str, name: str) -> tuple[float, float]:
    """A figure that is a range."""
    low, high = figures()[table][name]["value"]
    return float(low), float(high)
