"""Possible days, drawn: how much is needed and how much is expressed on each day of each path."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .course import Array, Flow

__all__ = ["MONTH_D", "draw"]

MONTH_D = 30.4375


def draw(flow: Flow, *, paths: int, rng: np.random.Generator, level: Array | None = None) -> Array:
    """Milk in mL by day and path: lognormal about each day's mean, so that none is below nothing.

    A path has one level and one trend for all its days, and each day has a draw of its own. Need and supply are
    drawn apart from each other: no figure for how the two err together was found. `level` (standard normal, a row)
    takes the place of a draw where it is known.
    """
    mean = np.asarray(flow.mean_ml, dtype=float)
    days = len(mean)
    level = rng.standard_normal((1, paths)) if level is None else level
    trend = rng.standard_normal((1, paths))
    months = (np.arange(days) / MONTH_D)[:, None] * flow.drift
    found = rng.standard_normal((days, paths))
    between, within = _sigma(flow.between, days), _sigma(flow.within, days)
    found *= within
    found += between * level
    found += months * trend
    found -= (between**2 + within**2 + months**2) / 2
    np.exp(found, out=found)
    found *= mean[:, None]
    return found


def _sigma(cv: float | Sequence[float] | Array, days: int) -> Array:
    """The lognormal's sigma of a CV, one row a day."""
    return np.broadcast_to(np.sqrt(np.log1p(np.square(np.asarray(cv, dtype=float)))), (days,))[:, None]
