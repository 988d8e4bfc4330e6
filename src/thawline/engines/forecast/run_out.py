"""Until when a stock lasts: from many paths, some of which outlast the days looked at, and in closed form."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc, erfcx

from .course import Array, Lasts

__all__ = ["days_of_cover", "empty_chance", "first_passage", "first_true", "lasts", "short_before"]

Days = NDArray[np.int64]


def first_true(by_day: NDArray[np.bool_]) -> Days:
    """By path (column) the first day (row) that is true; the number of days where none is."""
    return np.where(by_day.any(axis=0), by_day.argmax(axis=0), len(by_day)).astype(np.int64)


def lasts(first_d: Days, *, days: int, points: tuple[float, float, float]) -> Lasts:
    """Points of a day that some paths never reach (`first_d` = `days`): a point among those is None.

    A point is the first day by which that part of all paths has come, so it needs no guess about the rest.
    """
    early, likely, late = (int(day) for day in np.quantile(first_d, points, method="inverted_cdf"))
    known = [None if day >= days else day for day in (early, likely, late)]
    return Lasts(known[0], known[1], known[2], float(np.mean(first_d >= days)))


def short_before(first_d: Days, *, days: int) -> Array:
    """The chance that the day came before day d, for d from 0 to `days`."""
    came = np.bincount(first_d, minlength=days + 1)[:days]
    return np.concatenate([[0.0], np.cumsum(came) / len(first_d)])


def days_of_cover(stock_ml: float, missing_ml: float) -> float:
    """Days that a stock lasts if every day misses the same: S / m (infinite where nothing is missing)."""
    return stock_ml / missing_ml if missing_ml > 0 else math.inf


def first_passage(stock_ml: float, missing_ml: float, sd_ml: float, days: float) -> tuple[float, float]:
    """The two terms of the chance that a stock is empty within so many days.

    A day misses `missing_ml` on the mean, `sd_ml` to either side, each day for itself. P = Phi((km - S)/(s sqrt k)) +
    exp(2mS/s^2) Phi(-(km + S)/(s sqrt k)), the first passage of a Brownian motion with drift (inverse Gaussian
    distribution); by erfc and erfcx, since exp(2mS/s^2) alone overflows.
    """
    if not (stock_ml > 0 and sd_ml > 0 and days > 0):
        raise ValueError("a first passage needs stock_ml, sd_ml and days above 0")
    wide = sd_ml * math.sqrt(2 * days)
    a, b = (days * missing_ml - stock_ml) / wide, (days * missing_ml + stock_ml) / wide
    direct = 0.5 * float(erfc(-a))
    drift = 2 * missing_ml * stock_ml / sd_ml**2
    if b > 0:  # exp(drift - b^2) is exp(-a^2): no large figure arises
        return direct, 0.5 * math.exp(-a * a) * float(erfcx(b))
    return direct, 0.5 * math.exp(drift) * float(erfc(b))


def empty_chance(stock_ml: float, missing_ml: float, sd_ml: float, days: float) -> float:
    """The chance that a stock is empty within so many days, as `first_passage`; without spread it is 0 or 1.

    Raises ValueError below zero. It treats the days as independent: spread of the level itself is not in it.
    """
    if stock_ml < 0 or sd_ml < 0 or days < 0:
        raise ValueError("stock_ml, sd_ml and days may not be below 0")
    if stock_ml == 0:
        return 1.0
    if sd_ml == 0 or days == 0:
        return float(days * missing_ml >= stock_ml)
    return min(1.0, sum(first_passage(stock_ml, missing_ml, sd_ml, days)))
