"""A nominal 80 % band from a mean and a coefficient of variation.

Amounts are positive and skewed to the right, so the band is that of a gamma distribution. At 12 months (mean 432 mL,
CV 0.58) 40 children ranged from 27 to 1154 g: a normal band goes below zero there, a log-normal one leaves no room for
the children who hardly drink milk any more. For small CVs all three agree.
"""

from __future__ import annotations

import numpy as np
from scipy.special import gammaincinv, ndtri

from . import numbers
from .kinds import Band

SHARE = numbers.value("lactation", "band")
NEARLY_NORMAL = 0.001  # below this CV the gamma's shape is too large to tell it from a normal


def quantile(mean: float, cv: float, share: float) -> float:
    """The amount below which a share of cases falls; `mean` where `cv` is 0."""
    if cv < NEARLY_NORMAL:
        return float(mean * (1 + cv * ndtri(share)))
    return float(mean * cv**2 * gammaincinv(cv**-2, share))


def band(mean: float, cv: float) -> Band:
    """The middle 80 %; its `likely` is the mean (of a very skewed one never outside the band)."""
    low, high = (quantile(mean, cv, share) for share in ((1 - SHARE) / 2, (1 + SHARE) / 2))
    return Band(low, float(np.clip(mean, low, high)), high)
