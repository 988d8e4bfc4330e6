"""A day's milk in parts: shares of the feeds, and what is drunk in the hours apart."""

from __future__ import annotations

from math import inf

import numpy as np
import numpy.typing as npt

from . import numbers

FEED_CV = numbers.value("lactation", "feed_within_day")


def alpha(feeds: int, cv: float = FEED_CV) -> float:
    """The parameter of the symmetric Dirichlet distribution that gives feeds of a day that CV; infinite for one feed.

    The day's total is drawn first and then split, as feeds of one day make up for each other.
    Raises `ValueError` where so few feeds can't differ that much.
    """
    if feeds == 1 or cv == 0:
        return inf
    found = ((feeds - 1) / cv**2 - 1) / feeds
    if feeds < 1 or found <= 0:
        raise ValueError(f"{feeds} feeds of a day can't have a coefficient of variation of {cv:g}")
    return found


def shares(rng: np.random.Generator, days: int, feeds: int, cv: float = FEED_CV) -> npt.NDArray[np.float64]:
    """Shares of `feeds` feeds on each of `days` days; each row adds up to 1."""
    parameter = alpha(feeds, cv)
    if parameter == inf:
        return np.full((days, feeds), 1 / feeds)
    return rng.dirichlet([parameter] * feeds, size=days)


def apart_ml(day_ml: float, hours: float) -> float:
    """What a child drinks in the hours apart, in mL: an even part of the day.

    Not scaled by day and night: the night's share differs from child to child.
    """
    return day_ml * hours / 24
