"""Weight for age by the WHO Child Growth Standards: z of a weight, weight of a z, a child's weight at other ages."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from . import numbers
from .kinds import Sex

Array = npt.NDArray[np.float64]
Weights = Sequence[tuple[float, float]]

MONTH_D = numbers.value("lactation", "month")
LAST_D = numbers.value("lactation", "last_forecast") * MONTH_D
NEAR_ZERO = numbers.value("growth", "log_branch")


class Lms(NamedTuple):
    """Power L, median M in kg and coefficient of variation S at one age or many."""

    power: Array
    median_kg: Array
    cv: Array


@lru_cache
def monthly(sex: Sex) -> Lms:
    """The WHO's rows for months 0 to 24."""
    lines = [line for line in numbers.text("who_weight_for_age_lms.csv").splitlines() if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if row["sex"] == f"{sex}s"]
    return Lms(*(np.array([float(row[name]) for row in rows]) for name in "LMS"))


def lms(sex: Sex | None, age_d: npt.ArrayLike) -> Lms:
    """L, M, S at ages in days, linear between months; the mean of both sexes where the sex is unknown.

    Raises `ValueError` outside 0 to 24 months: nothing is extrapolated.
    """
    months = np.asarray(age_d, dtype=float) / MONTH_D
    if not np.all((months >= 0) & (months <= 24 + 1e-9)):
        raise ValueError("weights by age are known from birth to 24 months only")
    tables = [monthly(one) for one in ((sex,) if sex else ("boy", "girl"))]
    means = (np.mean([table[column] for table in tables], axis=0) for column in range(3))
    return Lms(*(np.interp(months, np.arange(25), mean) for mean in means))


def weight_of(power: npt.ArrayLike, median_kg: npt.ArrayLike, cv: npt.ArrayLike, z: npt.ArrayLike) -> Array:
    """The weight in kg at z: M (1 + L S z)^(1/L), and M exp(S z) where L is about 0."""
    l_, m, s, z_ = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (power, median_kg, cv, z)))
    if np.any(1 + l_ * s * z_ <= 0):
        raise ValueError("no weight has so low or so high a z")
    near = np.abs(l_) < NEAR_ZERO
    safe = np.where(near, 1.0, l_)
    raised = np.power(np.where(near, 1.0, 1 + l_ * s * z_), 1 / safe)
    return np.asarray(m * np.where(near, np.exp(s * z_), raised))


def z_of(power: npt.ArrayLike, median_kg: npt.ArrayLike, cv: npt.ArrayLike, kg: npt.ArrayLike) -> Array:
    """The z of a weight in kg: ((X/M)^L - 1)/(L S), and ln(X/M)/S where L is about 0."""
    l_, m, s, x = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (power, median_kg, cv, kg)))
    if not np.all(np.isfinite(x) & (x > 0)):
        raise ValueError("a weight is a number of kilograms above zero")
    near = np.abs(l_) < NEAR_ZERO
    logs = np.log(x / m)
    return np.asarray(np.where(near, logs, np.expm1(l_ * logs) / np.where(near, 1.0, l_)) / s)


def weight(sex: Sex | None, age_d: npt.ArrayLike, z: npt.ArrayLike) -> Array:
    """The weight in kg at z and age in days; `ValueError` outside 0 to 24 months."""
    return weight_of(*lms(sex, age_d), z)


def z_score(sex: Sex | None, age_d: npt.ArrayLike, kg: npt.ArrayLike) -> Array:
    """The z of a weight in kg at an age in days; `ValueError` outside 0 to 24 months."""
    return z_of(*lms(sex, age_d), kg)


def percentile(z: npt.ArrayLike) -> Array:
    """How many of a hundred children of that age weigh less."""
    return np.asarray(100 * ndtr(np.asarray(z, dtype=float)))


def plausible(sex: Sex | None, age_d: float, kg: float) -> bool:
    """Whether it can be a weight of that age at all; beyond that it is taken for a slip of the pen."""
    if not (0 <= age_d <= LAST_D and 0 < kg < np.inf):
        return False
    limits = numbers.table("growth", "implausible")
    return bool(limits["low"] <= z_score(sex, age_d, kg) <= limits["high"])


def usable(sex: Sex | None, weights: Weights, until_d: float) -> list[tuple[float, float]]:
    """The plausible weights up to an age in days, oldest first, one an age."""
    known = {age: kg for age, kg in weights if age <= until_d and plausible(sex, age, kg)}
    return sorted(known.items())


def z_at(sex: Sex | None, weights: Weights, ages_d: Array) -> Array:
    """The z at other ages: linear between weights, held after the last; one weight alone shrinks slowly to the mean."""
    known = np.array([age for age, _kg in weights])
    scores = z_score(sex, known, [kg for _age, kg in weights])
    held = np.interp(ages_d, known, scores)
    if len(weights) > 1:
        return np.asarray(held)
    return np.asarray(held * np.exp(-np.abs(ages_d - known[0]) / numbers.value("growth", "regress")))


def weights_at(sex: Sex | None, weights: Weights, ages_d: npt.ArrayLike) -> Array:
    """A child's weight in kg at ages in days, from at least one weight.

    Before day 30 a weight of the last days stands as it was measured. NaN after 24 months.
    """
    ages = np.asarray(ages_d, dtype=float)
    within = np.clip(ages, 0, LAST_D)
    kg = np.where(ages <= LAST_D, weight(sex, within, z_at(sex, weights, within)), np.nan)
    for age, measured in weights:
        since = ages - age
        fresh = (since >= 0) & (since <= numbers.value("growth", "newborn_fresh"))
        kg = np.where(fresh & (ages < numbers.value("growth", "newborn")), measured, kg)
    return np.asarray(kg)
