"""What a stock's way over the coming days depends on and what comes out: plain data; `paths.run` works it out.

Day 0 is today; a day's milk and need are those of the whole day, `last_d` is the last day on which something may
still be done. Amounts in mL, durations in days, spreads as parts of the mean (CV).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .kinds import Band

__all__ = ["Array", "Bands", "Course", "Flow", "Held", "Lasts", "Paths", "Rules", "Totals", "check"]

Array = NDArray[np.float64]
Form = Literal["fresh", "thawed", "frozen"]
MOST_DAYS = 3660


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """Milk a day, needed by bottle or expressed: the mean of each day ahead in mL and how it spreads.

    `between`: CV of the level itself, one draw a path, never averaged away; `within`: CV from day to day, a draw a
    day; either one figure or one a day. `drift`: spread per month of a trend that nobody knows yet (0.03: 3 % a month).
    """

    mean_ml: Sequence[float] | Array
    between: float | Sequence[float] | Array = 0.0
    within: float | Sequence[float] | Array = 0.0
    drift: float = 0.0


class Held(NamedTuple):
    """Milk that is there now.

    `last_d`: the last day on which it may be fed (fresh, thawed) or leave the freezer (frozen); below 0: past already.
    Fresh milk that may not be frozen any more goes in as "thawed": it is fed as it stands or thrown away.
    """

    ml: float
    form: Form
    last_d: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How long milk keeps, in whole days after the day it entered, and how this family handles it.

    `fresh_d`: milk expressed on day t may be fed until day t + fresh_d; `freezer_d`: frozen on day t, it may leave the
    freezer until t + freezer_d; `thawed_d`: out of the freezer on day t, fed until t + thawed_d (0: that day only).
    `freeze_after_d`: what is over at the end of that many days after its own day is frozen (at most `fresh_d`);
    None: never frozen, what is over past `fresh_d` is thrown away.
    `fresh_from_d`: 0, milk may be fed on its own day; 1, from the next day on (expressed while apart).
    `bag_ml`: the most that is frozen in one container.
    """

    fresh_d: int
    freezer_d: int
    thawed_d: int
    bag_ml: float
    freeze_after_d: int | None = 1
    fresh_from_d: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """All that the stock's way depends on; need and supply have one mean for each of the days ahead.

    `rotation`: one entry a day, true where that day's need comes from the freezer and that day's milk is frozen;
    empty: always fresh milk first. `thrown_share`: part of what is poured that is thrown away with the feeds.
    """

    need: Flow
    supply: Flow
    held: tuple[Held, ...]
    rules: Rules
    rotation: Sequence[bool] = ()
    thrown_share: float = 0.0

    @property
    def days(self) -> int:
        """How many days ahead."""
        return len(self.need.mean_ml)


class Bands(NamedTuple):
    """The 10 %, 50 % and 90 % points of each day."""

    low: Array
    likely: Array
    high: Array

    def day(self, number: int) -> Band:
        """One day's band."""
        return Band(float(self.low[number]), float(self.likely[number]), float(self.high[number]))


class Lasts(NamedTuple):
    """A day at its 10 %, 50 % and 90 % points, None: not within the days looked at; `never`: the part of such paths."""

    early: int | None
    likely: int | None
    late: int | None
    never: float


class Totals(NamedTuple):
    """Sums over all days, one entry a path, in mL: start + expressed = fed + thrown + expired + left.

    `fed`: drunk; `thrown`: left in bottles, thawed and not used up, fresh past its day; `expired`: in the freezer past
    its day; `left`: still there at the end; `short`: needed and not there.
    """

    start: Array
    expressed: Array
    fed: Array
    thrown: Array
    expired: Array
    left: Array
    short: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Paths:
    """What many possible courses have in common.

    `stock` (all milk) and `freezer` are those at a day's end. `run_out_d`: by path the first day whose need is not
    met whole, `empty_d`: the first day at whose end the freezer is empty; either is `days` where there is none.
    `lasts` is of `run_out_d`: **the stock lasts until the day before**; `freezer_lasts` is of `empty_d`.
    `short_before[d]`: the chance of having been short on any day before day d (d from 0 to `days`).
    By day and path: `stock_ml`, `freezer_ml`, and `asked_ml`, what would be fed from the freezer if it were full.
    `need_level`: by path how much more than expected is needed all along (standard normal).
    """

    days: int
    paths: int
    stock: Bands
    freezer: Bands
    need: Bands
    supply: Bands
    lasts: Lasts
    freezer_lasts: Lasts
    short_before: Array
    expired_ml: Band
    thrown_ml: Band
    short_ml: Band
    totals: Totals = field(repr=False)
    run_out_d: NDArray[np.int64] = field(repr=False)
    empty_d: NDArray[np.int64] = field(repr=False)
    stock_ml: NDArray[np.float32] = field(repr=False)
    freezer_ml: NDArray[np.float32] = field(repr=False)
    asked_ml: NDArray[np.float32] = field(repr=False)
    need_level: Array = field(repr=False)


def check(course: Course) -> None:
    """Raise ValueError, in one line, where a course contradicts itself."""
    _check_flow("need", course.need, course.days)
    _check_flow("supply", course.supply, course.days)
    if len(course.rotation) not in (0, course.days):
        raise ValueError(f"rotation has {len(course.rotation)} days, need has {course.days}")
    if not 0 <= course.thrown_share < 1:
        raise ValueError("thrown_share must be at least 0 and below 1")
    for one in course.held:
        if not 0 < one.ml < np.inf:
            raise ValueError("milk that is there must be more than 0 mL")
        if one.last_d > MOST_DAYS:
            raise ValueError(f"last_d must be at most {MOST_DAYS} days ahead")
    _check_rules(course.rules)


def _check_flow(name: str, flow: Flow, days: int) -> None:
    mean = np.asarray(flow.mean_ml, dtype=float)
    if mean.shape != (days,) or not 1 <= days <= MOST_DAYS:
        raise ValueError(f"{name} must have one mean a day, the same number as need, from 1 to {MOST_DAYS}")
    for what, figures in (("mean_ml", mean), ("between", flow.between), ("within", flow.within), ("drift", flow.drift)):
        row = np.asarray(figures, dtype=float)
        if row.shape not in ((), (days,)):
            raise ValueError(f"{name}.{what} must be one figure, or one a day")
        if not (np.isfinite(row) & (row >= 0)).all():
            raise ValueError(f"{name}.{what} must be finite and not below 0")


def _check_rules(rules: Rules) -> None:
    if min(rules.fresh_d, rules.freezer_d, rules.thawed_d) < 0:
        raise ValueError("fresh_d, freezer_d and thawed_d may not be below 0")
    if max(rules.fresh_d, rules.freezer_d, rules.thawed_d) > MOST_DAYS:
        raise ValueError(f"fresh_d, freezer_d and thawed_d must be at most {MOST_DAYS}")
    if rules.fresh_from_d not in (0, 1):
        raise ValueError("fresh_from_d must be 0 or 1")
    if rules.freeze_after_d is not None and not 0 <= rules.freeze_after_d <= rules.fresh_d:
        raise ValueError("freeze_after_d must be from 0 to fresh_d, or None")
    if not 0 < rules.bag_ml < np.inf:
        raise ValueError("bag_ml must be above 0")
