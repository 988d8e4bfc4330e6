"""Whether what came true lies in the band that was shown, with chance's own share where a day is whole or not seen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import stats

LOW, HIGH = 0.1, 0.9


class Coverage(NamedTuple):
    """How many of so many were within, and a 95 % interval of the share (Wilson)."""

    within: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share within, from 0 to 1."""
        return self.within / self.of if self.of else float("nan")


def coverage(within: Sequence[bool]) -> Coverage:
    """The coverage of cases that are each within or not."""
    count = sum(within)
    if not within:
        return Coverage(0, 0, 0.0, 1.0)
    found = stats.binomtest(count, len(within)).proportion_ci(method="wilson")
    return Coverage(count, len(within), float(found.low), float(found.high))


def place(drawn: npt.NDArray[np.int64], came: int, chance: float) -> float:
    """Where a whole number lies in its forecast, from 0 to 1: evenly spread if the forecast is right.

    The randomised probability integral transform (Czado, Gneiting and Held 2009, Biometrics 65:1254): `chance` (0 to 1)
    puts it within the share of the forecast that has just this number. "Not within the days looked at" is one number
    like any other, the last: a forecast that gives it a share of 0.6 puts what is not seen evenly in its upper 0.6.
    So a case neither counts as covered for being unseen, nor is it left out.
    """
    below, same = float(np.mean(drawn < came)), float(np.mean(drawn == came))
    return below + chance * same


def inside(place_at: float) -> bool:
    """Whether a place is in the middle 80 %."""
    return LOW <= place_at <= HIGH
