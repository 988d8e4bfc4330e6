"""How much to pour first and then at a time, what to pack and in what to freeze, so that little is thrown away."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc, ndtr, ndtri

from . import numbers
from .kinds import Feed

Array = npt.NDArray[np.float64]
Why = tuple[str, tuple[tuple[str, str | float], ...]]

ML_GRID, OZ_GRID = 5.0, 29.5735 / 4
# A feed is not looked at beyond so many standard deviations above its mean.
_FAR_SD = 6.0


class Size(NamedTuple):
    """How much a child drinks at one feed: mean and standard deviation in mL, and from how many own feeds that is."""

    mean_ml: float
    sd_ml: float
    own: int


class Advice(NamedTuple):
    """Sizes for one place, in mL.

    `bottles`: what to pack for one feed, the spare not among them; `left_ml`: what is expected to be thrown away a
    feed; `pours`: how often one pours a feed; `most_ml`: no bottle larger; `feed`: what the sizes were chosen for.
    """

    pour_ml: float
    step_ml: float
    bottles: tuple[float, ...]
    spare_ml: float
    freeze_ml: float
    left_ml: float
    reasons: tuple[Why, ...]
    pours: float
    most_ml: float
    feed: Size


class Packed(NamedTuple):
    """Bottles to pack and one to spare, in mL each."""

    bottles: tuple[float, ...]
    spare_ml: float


def advise(feeds: Sequence[Feed], *, age_d: float, leftover_h: float, where: str, in_oz: bool = False) -> Advice:
    """Sizes for feeds at a place that offers a leftover again within `leftover_h` (0: never); `feeds` oldest first.

    Least expected milk thrown away, a little added for each pour; sizes are whole steps of 5 mL or quarter ounces.
    """
    if not (math.isfinite(leftover_h) and leftover_h >= 0 and math.isfinite(age_d) and age_d >= 0):
        raise ValueError("age and hours of a leftover must be numbers from 0 on")
    feed, most = learn(feeds), most_ml(age_d)
    again = offered_again(feeds, age_d=age_d, leftover_h=leftover_h)
    grid = OZ_GRID if in_oz else ML_GRID
    pour, step = _best(feed, 1 - again, most, grid)
    freeze = _freeze(feed, 1 - again)
    one = Advice(
        pour_ml=pour,
        step_ml=step,
        bottles=(),
        spare_ml=0.0,
        freeze_ml=freeze,
        left_ml=left_ml(feed, pour, step) * (1 - again),
        reasons=_reasons(feed, again, leftover_h, where, most, freeze),
        pours=pours(feed, pour, step),
        most_ml=most,
        feed=feed,
    )
    packed = pack(feed.mean_ml, feed.sd_ml, one, in_oz=in_oz)
    return one._replace(bottles=packed.bottles, spare_ml=packed.spare_ml)


def pack(
    total_mean_ml: float, total_sd_ml: float, advice: Advice, *, quantile: float | None = None, in_oz: bool = False
) -> Packed:
    """A few small bottles for a stretch apart that needs this total, and a spare.

    They cover the need at the quantile; each holds a first pour, the last one what is missing. Nothing where nothing
    is needed. Raises ValueError where mean or spread is negative or no number.
    """
    if not (math.isfinite(total_mean_ml) and math.isfinite(total_sd_ml) and min(total_mean_ml, total_sd_ml) >= 0):
        raise ValueError("what is needed must be a number from 0 on")
    if not total_mean_ml:
        return Packed((), 0.0)
    grid = OZ_GRID if in_oz else ML_GRID
    level = numbers.value("portions", "pack", "quantile") if quantile is None else quantile
    need = max(0.0, total_mean_ml + float(ndtri(level)) * total_sd_ml)
    spare = max(1, round(numbers.value("portions", "pack", "spare") / grid)) * grid
    evenly = need / numbers.value("portions", "pack", "most")
    size = min(max(advice.pour_ml, _up(evenly, grid)), _down(advice.most_ml, grid))
    whole = int(need / size + 1e-9)
    rest = _up(need - whole * size, grid)
    bottles = (size,) * whole + ((max(rest, advice.step_ml),) if rest > 0 else ())
    return Packed(bottles, spare)


# What a feed is like


def learn(feeds: Sequence[Feed]) -> Size:
    """A feed's size from the family's own feeds, drawn toward the published one while they are few."""
    mean, sd = numbers.value("portions", "feed", "mean"), numbers.value("portions", "feed", "sd")
    drunk = np.array([one.drunk_ml for one in feeds if one.drunk_ml > 0], dtype=float)
    if not len(drunk):
        return Size(mean, sd, 0)
    between, within = numbers.value("portions", "feed", "between"), sd / mean
    trust = between**2 / (between**2 + within**2 / len(drunk))
    own = trust * float(drunk.mean()) + (1 - trust) * mean
    worth = numbers.value("portions", "feed", "spread_worth")
    spread = (worth * within**2 + float(np.sum((drunk / drunk.mean() - 1) ** 2))) / (worth + len(drunk) - 1)
    return Size(own, own * math.sqrt(spread), len(drunk))


def offered_again(feeds: Sequence[Feed], *, age_d: float, leftover_h: float) -> float:
    """The chance from 0 to 1 that the next feed begins within the hours a leftover may be offered again."""
    if leftover_h <= 0:
        return 0.0
    row = numbers.table("portions", "sessions")
    gap_h = 24 / float(np.interp(age_d, row["ages_d"], row["a_day"]))
    shape = numbers.value("portions", "gap", "spread") ** -2
    usual = float(gammainc(shape, shape * leftover_h / gap_h))
    gaps = [float(late.hour - early.hour) % 24 for early, late in pairwise(feeds)]
    within = sum(0 < gap <= leftover_h for gap in gaps)
    worth = numbers.value("portions", "gap", "worth")
    return (worth * usual + within) / (worth + len(gaps))


def most_ml(age_d: float) -> float:
    """The largest bottle at an age in days, in mL."""
    early = age_d < numbers.value("portions", "most", "until")
    return numbers.value("portions", "most", "early" if early else "later")


# What is left


def poured_whole_ml(feed: Size, ml: float) -> float:
    """Expected leftover of a bottle given in one go and not topped up: E(s - X)+ of a normal feed, in mL."""
    return float(_over(feed, np.array([ml]))[0])


def short_of(feed: Size, ml: float) -> float:
    """The chance from 0 to 1 that a feed is larger than so much."""
    return float(ndtr((feed.mean_ml - ml) / feed.sd_ml))


def left_ml(feed: Size, pour_ml: float, step_ml: float) -> float:
    """Expected leftover of a feed that is poured first and topped up by steps until it is enough, in mL."""
    at = _marks(feed, pour_ml, step_ml)
    over, within = _over(feed, at), ndtr((at - feed.mean_ml) / feed.sd_ml)
    return float(over[0] + np.sum(np.diff(over) - step_ml * within[:-1]))


def pours(feed: Size, pour_ml: float, step_ml: float) -> float:
    """How often one pours at a feed, the first pour included."""
    return float(1 + np.sum(ndtr((feed.mean_ml - _marks(feed, pour_ml, step_ml)) / feed.sd_ml)))


def _marks(feed: Size, pour_ml: float, step_ml: float) -> Array:
    """What has been poured after each pour."""
    count = max(0, math.ceil((feed.mean_ml + _FAR_SD * feed.sd_ml - pour_ml) / step_ml))
    return np.asarray(pour_ml + step_ml * np.arange(count + 1))


def _over(feed: Size, at: Array) -> Array:
    z = (at - feed.mean_ml) / feed.sd_ml
    return np.asarray((at - feed.mean_ml) * ndtr(z) + feed.sd_ml * np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi))


# Choosing


def _cost(feed: Size, thrown: float, pour_ml: float, step_ml: float) -> float:
    each = numbers.value("portions", "pour", "cost")
    return thrown * left_ml(feed, pour_ml, step_ml) + each * pours(feed, pour_ml, step_ml)


def _best(feed: Size, thrown: float, most: float, grid: float) -> tuple[float, float]:
    """The first pour and the step that cost least; `thrown` is the chance that a leftover is poured away."""
    least, widest = (numbers.value("portions", "step", name) for name in ("least", "most"))
    steps = _between(least, widest, grid)
    firsts = _between(least, most, grid)
    return min(((one, step) for one in firsts for step in steps), key=lambda pair: _cost(feed, thrown, *pair))


def _freeze(feed: Size, thrown: float) -> float:
    """The size to freeze most of it in, with some of the small ones as its steps."""
    row = numbers.table("portions", "freeze")
    return min((float(ml) for ml in row["sizes_ml"]), key=lambda ml: _cost(feed, thrown, ml, row["some_ml"]))


def _between(low: float, high: float, grid: float) -> list[float]:
    return [n * grid for n in range(math.ceil(low / grid - 1e-9), int(high / grid + 1e-9) + 1)]


def _up(ml: float, grid: float) -> float:
    return math.ceil(ml / grid - 1e-9) * grid


def _down(ml: float, grid: float) -> float:
    return int(ml / grid + 1e-9) * grid


def _reasons(feed: Size, again: float, leftover_h: float, where: str, most: float, freeze: float) -> tuple[Why, ...]:
    known: Why = ("own_feeds", (("feeds", feed.own), ("ml", feed.mean_ml)))
    found: list[Why] = [known if feed.own else ("usual_feeds", (("ml", feed.mean_ml),))]
    if leftover_h <= numbers.value("portions", "soon"):
        found.append(("poured_away_soon", (("hours", leftover_h), ("where", where))))
    else:
        found.append(("offered_again", (("hours", leftover_h), ("where", where), ("chance", again))))
    small = numbers.table("portions", "freeze")["some_ml"]
    found.append(("few_small_and_spare", (("ml", numbers.value("portions", "pack", "spare")),)))
    found.append(("freeze_mostly", (("ml", freeze), ("some_ml", small))))
    if most == numbers.value("portions", "most", "early"):
        found.append(("none_larger", (("ml", most),)))
    return tuple(found)
