"""The planner's own figures: data files in this folder, each figure beside its source and its mark."""

from __future__ import annotations

from functools import lru_cache, partial

from thawline.core import figures

load = partial(figures.load, __package__)


@lru_cache
def cost(name: str) -> float:
    """What something weighs in mL thrown away, or what else `costs.toml` holds under that name."""
    return float(load("costs")[name]["value"])


def margin_h(limit_h: float) -> float:
    """How many hours before a limit of `limit_h` hours a plan stops using the milk."""
    margins = load("margins")
    kind = "hours" if limit_h <= margins["hours"]["limit_up_to_h"] else "days"
    return float(margins[kind]["margin_h"])
