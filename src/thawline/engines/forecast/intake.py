"""How much milk a child will drink: by age, by weight, and learned from the family's own complete days.

Formula: a complete day's `formula_ml` counts as drunk, since the child was fed by it. The milk needed is the whole
less the family's habit, the mean formula of the days learned from. Bands are wide on purpose: one family in five falls
outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from . import curve, energy, growth, learning, numbers
from .bands import band
from .growth import LAST_D, MONTH_D, Array
from .kinds import Band, Child, DayLog

FIRST_D = curve.FIRST_D
LACKING = numbers.value("lactation", "sources_apart")
DRIFT = numbers.value("lactation", "drift")
SPELLS = numbers.value("lactation", "spells")
EVEN = np.sqrt(12)  # a range over the SD of what may lie anywhere in it alike: here, between the two routes
LEAST_SHARE = 0.05  # of a day's whole: below that, spreads are stated about this part of it


def too_early(age_d: float) -> bool:
    """Whether the child is too young for any forecast: before day 14 the supply still climbs."""
    return age_d < FIRST_D


@dataclass(frozen=True, slots=True, eq=False)
class Intake:
    """A forecast over ages in days: mL of milk a day and how it spreads, as parts of `likely_ml` (CV).

    `between` is what stays uncertain however many days are added up; `within` is from day to day,
    `within_many` the same for adding up many days drawn apart, with spells in it. `between` holds the
    drift away from the curve already. `by_age_ml` and `by_weight_ml` are the two routes to the whole day's need,
    formula included; `by_weight_ml` is None without a usable weight and NaN past 24 months. `differ`: the routes are
    more than 20 % apart at the first age; bands are wider at every age where they are. `k`, `n`: how far the family's
    own `n` complete days count. `formula_ml`: the habit that `likely_ml` leaves out.
    """

    ages_d: Array
    likely_ml: Array
    between: Array
    within: Array
    k: float
    n: int
    by_age_ml: Array
    by_weight_ml: Array | None
    differ: bool
    formula_ml: float
    usual_between: Array
    usual_within: Array

    def day(self, i: int) -> Band:
        """One day's milk."""
        return band(float(self.likely_ml[i]), float(np.hypot(self.between[i], self.within[i])))

    def total(self, i: int, j: int) -> Band:
        """The milk of days i to j - 1 together: days make up for each other, a child's own level does not.

        Days of one spell hang together, so that they make up for each other less than single days would.
        """
        mean, together, apart = self._sums(i, j)
        return band(mean, float(np.hypot(together, apart)) / mean if mean else 0.0)

    @property
    def within_many(self) -> Array:
        """The CV from day to day that makes sums of many days right where each day is drawn by itself."""
        return np.asarray(self.within * np.sqrt(SPELLS))

    def spread(self, i: int, j: int) -> tuple[float, float]:
        """Mean in mL and standard deviation in mL of the total of days i to j - 1."""
        mean, together, apart = self._sums(i, j)
        return mean, float(np.hypot(together, apart))

    def age_band(self, i: int) -> Band:
        """One day by age alone, the whole need."""
        return band(float(self.by_age_ml[i]), self._usual_cv(i))

    def weight_band(self, i: int) -> Band | None:
        """One day by weight, the whole need; None where there is no weight.

        As wide as by age: the equations' error is smaller than the spread between infants (Schoen 2009), single ones'
        errors are large (Nielsen 2013).
        """
        if self.by_weight_ml is None or np.isnan(self.by_weight_ml[i]):
            return None
        return band(float(self.by_weight_ml[i]), self._usual_cv(i))

    def _usual_cv(self, i: int) -> float:
        return float(np.hypot(self.usual_between[i], self.usual_within[i]))

    def _sums(self, i: int, j: int) -> tuple[float, float, float]:
        ml = self.likely_ml[i:j]
        within = np.linalg.norm(ml * self.within[i:j]) * np.sqrt(learning.together(len(ml), SPELLS))
        return float(ml.sum()), float((ml * self.between[i:j]).sum()), float(within)


class _Usual(NamedTuple):
    """What is usual at some ages before the family's own days: mL of the whole need and its spreads."""

    ml: Array
    by_age: Array
    by_weight: Array | None
    differ: npt.NDArray[np.bool_]
    between: Array
    within: Array


class _Learned(NamedTuple):
    """What the family's own days say: how far they count, the child's level, the age they stand for.

    `left`: variance that the logs leave of the level; `within`: their CV from day to day over the usual one.
    """

    k: float
    n: int
    level: float
    age_d: float
    left: float
    within: float
    formula_ml: float
    formula_sd: float


def forecast(child: Child, logs: Sequence[DayLog], *, ages_d: npt.ArrayLike) -> Intake:
    """The forecast at ages in days, learned from complete days of the last 14 days before `child.age_d`.

    From 24 months on the last figures stand still. Raises `ValueError` before day 14, for a child past 24 months, and
    for amounts that are no amounts.
    """
    ages = _ages(child, ages_d)
    counted = _counted(child, logs)
    usual = _usual(child, ages)
    learned = _learn(child, counted)
    whole = usual.ml * learned.level
    milk = np.maximum(whole - learned.formula_ml, 0)
    scale = whole / np.maximum(milk, LEAST_SHARE * whole)
    within = np.hypot(usual.within * learned.within, learned.formula_sd / whole)
    return Intake(
        ages_d=ages, likely_ml=milk, between=_between(usual, learned, ages) * scale, within=within * scale,
        k=learned.k, n=learned.n, by_age_ml=usual.by_age, by_weight_ml=usual.by_weight, differ=bool(usual.differ[0]),
        formula_ml=learned.formula_ml, usual_between=usual.between, usual_within=usual.within,
    )  # fmt: skip


def _ages(child: Child, ages_d: npt.ArrayLike) -> Array:
    ages = np.asarray(ages_d, dtype=float)
    if too_early(child.age_d) or (ages.size and too_early(float(ages.min()))):
        raise ValueError(f"no forecast before day {FIRST_D:g} after birth: the supply is still climbing")
    if not ages.size or not np.all(np.isfinite(ages)):
        raise ValueError("a forecast needs at least one age in days")
    if child.age_d > LAST_D:
        raise ValueError("no forecast after 24 months: no figures are held for that age")
    return ages


def _counted(child: Child, logs: Sequence[DayLog]) -> list[DayLog]:
    for log in logs:
        if not (0 <= log.ml < np.inf and 0 <= log.formula_ml < np.inf):
            raise ValueError("a day's amount is a number of mL, not below zero")
    window = numbers.value("lactation", "window")
    recent = [log for log in logs if 0 <= child.age_d - log.age_d < window]
    return [log for log in recent if not too_early(log.age_d) and log.ml + log.formula_ml > 0]


def between_usual(age_d: npt.ArrayLike) -> Array:
    """CV between infants of one age, with what the curve itself lacks."""
    row = numbers.table("lactation", "between")
    return np.asarray(np.hypot(np.interp(np.asarray(age_d, dtype=float) / MONTH_D, row["months"], row["cv"]), LACKING))


def within_usual(age_d: npt.ArrayLike) -> Array:
    """CV of logged days; after 6 months that of the same mL, while the milk grows less (no published figure)."""
    late = curve.ordinary(energy.SOLIDS_D) / curve.ordinary(np.minimum(np.asarray(age_d, dtype=float), LAST_D))
    return np.asarray(
        numbers.value("lactation", "within_logged") * np.where(np.asarray(age_d) > energy.SOLIDS_D, late, 1.0)
    )


def _usual(child: Child, ages: Array) -> _Usual:
    by_age = curve.by_age(child.sex, ages, child.solids_from_d)
    weights = growth.usable(child.sex, child.weights, child.age_d)
    by_weight = _by_weight(child, weights, ages)
    between, within = between_usual(ages), within_usual(ages)
    if by_weight is None:
        return _Usual(by_age, by_age, None, np.zeros(len(ages), bool), between, within)
    apart = np.nan_to_num(np.abs(by_weight - by_age) / by_age)
    differ = apart > numbers.value("lactation", "differ")
    wider = np.hypot(between, np.where(differ, apart / EVEN, 0))
    return _Usual(by_age * _of_weight(child, weights, ages), by_age, by_weight, differ, wider, within)


def _by_weight(child: Child, weights: growth.Weights, ages: Array) -> Array | None:
    if not weights:
        return None
    return energy.milk(child.sex, ages, growth.weights_at(child.sex, weights, ages), child.solids_from_d)


def _of_weight(child: Child, weights: growth.Weights, ages: Array) -> Array:
    """The factor of a weight far from the median, by the last weight's z so that it does not jump on the way."""
    age, kg = weights[-1]
    if abs(growth.z_score(child.sex, age, kg)) <= numbers.value("lactation", "weight", "far"):
        return np.ones(len(ages))
    within = np.clip(ages, 0, LAST_D)
    own = energy.need(child.sex, within, growth.weights_at(child.sex, weights, within))
    usual = energy.need(child.sex, within, growth.weight(child.sex, within, 0))
    return np.asarray((own / usual) ** numbers.value("lactation", "weight", "exponent"))


def _learn(child: Child, logs: Sequence[DayLog]) -> _Learned:
    """The child's level against what is usual at the logs' ages; 1 without logs."""
    if not logs:
        return _Learned(0.0, 0, 1.0, child.age_d, 1.0, 1.0, 0.0, 0.0)
    then = np.array([log.age_d for log in logs])
    usual = _usual(child, then)
    ratios = np.array([log.ml + log.formula_ml for log in logs]) / usual.ml
    between, expected = float(np.mean(usual.between)), float(np.mean(usual.within))
    within = learning.own_within([list(ratios)], expected, numbers.value("lactation", "within_trust"))
    k = learning.trust(len(logs), between, within, SPELLS)
    formula = np.array([log.formula_ml for log in logs])
    level = learning.blend(1.0, list(ratios), between, within, SPELLS)
    return _Learned(
        k, len(logs), level, float(then.mean()), between**2 * (1 - k),
        within / expected, float(formula.mean()), float(formula.std()),
    )  # fmt: skip


def _between(usual: _Usual, learned: _Learned, ages: Array) -> Array:
    """What stays uncertain of the level: what the logs left, the drift since, and what children of one age grow apart.

    Where the spread grows from b0 to b, b (b - b0) is half-way between children who go their own ways (b^2 - b0^2) and
    children who keep their places ((b - b0)^2); ours, no published value. Never wider than without any log.
    """
    if not learned.n:
        return usual.between
    drift = DRIFT * (ages - learned.age_d) / MONTH_D
    then, now = between_usual(learned.age_d), between_usual(ages)
    grown = np.maximum(now * (now - then), 0)
    return np.minimum(np.sqrt(learned.left + drift**2 + grown), usual.between)
