"""What a family's own thaws say about its refrigerator: the film coefficient behind "ice gone at" observations."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from . import quick
from .assumed import FREEZER, MODEL_ERROR, interval
from .case import Case, Corner, case
from .milk import Array
from .numbers import table
from .record import Logged, case_thaw_h
from .spread import Air, Range, Vessel

PRIOR = interval("film", "air", "clock")
_FILMS: Array = np.geomspace(1.5, 60.0, 121)


class Seen(NamedTuple):
    """One thaw: in which container and air, and between which hours after leaving the freezer the last ice went.

    Ice still seen after `at_least_h` (0: never looked), none any more at `at_most_h` (infinite: never looked).
    """

    vessel: Vessel
    air: Air | Logged
    at_least_h: float
    at_most_h: float
    start_c: Range = FREEZER


def film(seen: Sequence[Seen], prior: Range = PRIOR) -> Range:
    """The film coefficient in W/(m2 K) that fits what was seen, with its honest doubt.

    No narrower than 20 % to either side after one thaw and 10 % after many; outside of `prior` only where the
    observations say so; `prior` itself where there are none or they contradict each other.
    """
    if not seen:
        return prior
    logs = np.log(_FILMS)
    likely = _believed(logs, prior)
    for one in seen:
        likely = likely * _likelihood(one)
    total = float(likely.sum())
    if total < 1e-12:
        return prior
    low, middle, high = (float(np.exp(x)) for x in np.interp((0.025, 0.5, 0.975), np.cumsum(likely) / total, logs))
    part = _least_part(seen)
    near_low, near_high = middle * (1 - part), middle * (1 + part)
    low, high = min(low, near_low), max(high, near_high)
    if middle >= prior.low:
        low = max(low, min(prior.low, near_low))
    if middle <= prior.high:
        high = min(high, max(prior.high, near_high))
    return Range(low, middle, high)


def _believed(logs: Array, prior: Range) -> Array:
    """What is believed before: mostly inside the prior, with a thin even rest so that observations can leave it."""
    middle = math.log(prior.nominal)
    sides = np.where(logs < middle, middle - math.log(prior.low), math.log(prior.high) - middle) / 2
    bell = np.exp(-(((logs - middle) / sides) ** 2) / 2)
    return np.asarray(0.99 * bell / bell.sum() + 0.01 / len(logs))


def _likelihood(seen: Seen) -> Array:
    """How likely such a sighting is with each film; some sightings are mistakes, and say little of any."""
    hours = np.array([_thaw_h(seen, value) for value in _FILMS])
    # Nothing thaws in such air, or nothing was frozen; or ice was seen after there was none.
    if not np.all((hours > 0) & (hours < math.inf)) or seen.at_least_h >= seen.at_most_h:
        return np.ones(len(_FILMS))
    mistaken = table("intervals", "fit_mistaken")
    anyhow = _between(seen, np.log([_thaw_h(seen, PRIOR.nominal)]), mistaken["spread"])
    return np.asarray((1 - mistaken["part"]) * _between(seen, np.log(hours), _doubt(seen)) + mistaken["part"] * anyhow)


def _between(seen: Seen, middle: Array, doubt: float) -> Array:
    """The probability of a thaw between what was seen, about so many hours (their logarithms)."""
    late = ndtr((math.log(seen.at_most_h) - middle) / doubt) if seen.at_most_h < math.inf else 1.0
    early = ndtr((math.log(seen.at_least_h) - middle) / doubt) if seen.at_least_h > 0 else 0.0
    return np.asarray(late - early)


def _doubt(seen: Seen) -> float:
    """Everything but the film that makes a thaw longer or shorter, as one standard deviation of its logarithm."""
    vessel, at = seen.vessel, PRIOR.nominal
    spread = (math.log1p(MODEL_ERROR) / 2) ** 2
    for ends in (
        [vessel._replace(across_mm=Range.exactly(x)) for x in (vessel.across_mm.low, vessel.across_mm.high)],
        [vessel._replace(faces=Range.exactly(x)) for x in (vessel.faces.low, vessel.faces.high)],
        [vessel._replace(wall=Range.exactly(x)) for x in (vessel.wall.low, vessel.wall.high)],
    ):
        spread += _part(*(_thaw_h(seen._replace(vessel=each), at) for each in ends))
    spread += _part(_thaw_h(seen, at, "slow"), _thaw_h(seen, at, "fast"))
    return math.sqrt(spread)


def _part(one_h: float, other_h: float) -> float:
    if not (0 < one_h < math.inf and 0 < other_h < math.inf):
        return 1.0
    return (math.log(one_h / other_h) / 4) ** 2


def _thaw_h(seen: Seen, film_w: float, air: Corner = "nominal") -> float:
    one = case(seen.vessel, Range.exactly(film_w), "nominal", "warming")
    return _in_air(seen, one, air)


def _in_air(seen: Seen, one: Case, air: Corner) -> float:
    if isinstance(seen.air, Logged):
        return case_thaw_h(one, seen.air, seen.start_c.nominal, air)
    c = {"slow": seen.air.c.low, "nominal": seen.air.c.nominal, "fast": seen.air.c.high}[air]
    return quick.thaw_h(one, c, seen.start_c.nominal)


def _least_part(seen: Sequence[Seen]) -> float:
    """The narrowest that may be said, as a part to either side: each thaw's doubt averages out, the model's not."""
    data = table("intervals", "fit")
    one, least = data["one_part"], data["least_part"]
    closed = sum(1 for each in seen if each.at_least_h > 0 and each.at_most_h < math.inf)
    return float(math.sqrt(least**2 + (one**2 - least**2) / max(1, closed)))
