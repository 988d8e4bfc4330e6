"""Learning a family's own mean: between what is usual and what their logs say, the more logs the closer to them."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np

from . import numbers

BETWEEN = numbers.row("lactation", "between", "cv")[1]
WITHIN = numbers.value("lactation", "within")


def together(n: float, spells: float) -> float:
    """How many times the variance of a mean of `n` days is w^2 / n where days hang together.

    1 for one day, towards `spells` (1 to 3) for many.
    """
    return spells - (spells - 1) / max(n, 1)


def trust(n: float, between: float = BETWEEN, within: float = WITHIN, spells: float = 1.0) -> float:
    """How far `n` logs count against what is usual, 0 to 1: k = b^2 / (b^2 + w^2 / n), `n` made less by spells."""
    told = n / together(n, spells)
    return between**2 * told / (between**2 * told + within**2) if n else 0.0


def blend(
    prior: float, logs: Sequence[float], between: float = BETWEEN, within: float = WITHIN, spells: float = 1.0
) -> float:
    """The estimate: k times the logs' mean and 1 - k times the prior, in the unit of both."""
    if not logs:
        return prior
    k = trust(len(logs), between, within, spells)
    return k * float(np.mean(logs)) + (1 - k) * prior


def one_day_cv(n: float, between: float = BETWEEN, within: float = WITHIN) -> float:
    """The CV with which one coming day is known after `n` logs."""
    return sqrt(between**2 * (1 - trust(n, between, within)) + within**2)


def own_within(groups: Sequence[Sequence[float]], usual: float, counts_for: float) -> float:
    """The CV from one log to the next about each group's mean: the usual one, moved by the family's own.

    Theirs may be steadier or less so; the usual one counts for as many logs as `counts_for`.
    """
    told = [np.array(group) / np.mean(group) for group in groups if len(group) > 1 and np.mean(group) > 0]
    squares = sum(float(((group - 1) ** 2).sum()) for group in told)
    freedom = sum(len(group) - 1 for group in told)
    return sqrt((counts_for * usual**2 + squares) / (counts_for + freedom))
