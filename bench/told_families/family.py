"""One invented family: what its child will truly drink each day, and what the family has told until now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple, get_args

import numpy as np

from .figures import MONTH_D, Array, Cohort, cohorts, figures, late_cv, mean_ml

Kind = Literal["plain", "spurts", "curve", "tails", "sticky", "dips"]
KINDS: tuple[Kind, ...] = get_args(Kind)
PAST_D = 14


class Weight(NamedTuple):
    """A weight on the family's scale: age in days, kg."""

    age_d: float
    kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A family at the moment it asks.

    `drunk_ml`: what the child drinks on each day, from 14 days before until the last day looked at; `told`: the days
    before that it noted whole, as (age in days, mL as read off the bottles).
    """

    kind: Kind
    cohort: str
    late: bool
    age_d: float
    boy: bool
    sex_told: bool
    weights: tuple[Weight, ...]
    drunk_ml: Array
    told: tuple[tuple[float, float], ...]

    @property
    def ahead_ml(self) -> Array:
        """What the child drinks from today on."""
        return self.drunk_ml[PAST_D:]


def family(kind: Kind, rng: np.random.Generator, *, days: int, early: bool = False) -> Family:
    """A family of a kind and its true days ahead; `early`: young enough for a stock's whole way."""
    row = figures()["told"]
    late = not early and rng.random() < row["late_share"]
    span = figures()["stock"]["age_d"] if early else row["late_age_d" if late else "age_d"]
    age = float(rng.uniform(*span))
    choice = cohorts(late=late)
    cohort = choice[rng.integers(len(choice))]
    boy, weight_z = bool(rng.random() < 0.5), float(rng.standard_normal())
    # A newborn's days before day 10 are not told, and not needed.
    ages = np.maximum(age + np.arange(-PAST_D, days), 1.0)
    drunk = _days_ml(kind, rng, cohort, ages, weight_z=weight_z, boy=boy)
    return Family(
        kind=kind,
        cohort=cohort.name,
        late=late,
        age_d=age,
        boy=boy,
        sex_told=bool(rng.random() < row["sex"]),
        weights=_weights(rng, age, weight_z, boy=boy),
        drunk_ml=drunk,
        told=_told(rng, age, drunk),
    )


# What is true


def _days_ml(kind: Kind, rng: np.random.Generator, cohort: Cohort, ages: Array, *, weight_z: float, boy: bool) -> Array:
    now = float(ages[PAST_D])
    usual = mean_ml(cohort, ages) + figures()["boys"]["ml"] * (1 if boy else -1)
    level = _level(kind, rng, cohort, ages, weight_z)
    slope = figures()["drift"]["cv_a_month"] * rng.standard_normal()
    if kind == "curve":
        slope += figures()["curve"]["slope_a_month"] * rng.choice([-1, 1])
    level = level * np.exp(slope * (ages - now) / MONTH_D)
    days = np.maximum(0.1, 1 + figures()["within"]["cv"] * noise(kind, rng, len(ages)))
    found: Array = np.maximum(0.0, usual * level * days)
    if kind == "spurts":
        found = found * _spurts(rng, ages)
    if kind == "dips":
        found = found * dips(rng, len(ages), "intake_factor")
    return found


def _level(kind: Kind, rng: np.random.Generator, cohort: Cohort, ages: Array, weight_z: float) -> Array:
    """The child's level against its cohort; heavier children drink more, older ones differ more."""
    between = figures()["between"]
    cv = cohort.cv if cohort.cv is not None else float(rng.uniform(between["low"], between["high"]))
    with_weight = figures()["weight"]["with_intake"]
    own = with_weight * weight_z + np.sqrt(1 - with_weight**2) * _unit(kind, rng, 1)[0]
    keeps = figures()["between_late"]["keeps"]
    other = keeps * own + np.sqrt(1 - keeps**2) * rng.standard_normal()
    more = np.sqrt(np.maximum(0.0, late_cv(ages) ** 2 - late_cv(np.array(0.0)) ** 2))
    found: Array = np.maximum(0.05, 1 + cv * own + more * other)
    return found


def _unit(kind: Kind, rng: np.random.Generator, count: int) -> Array:
    """Deviations of SD 1."""
    if kind != "tails":
        return rng.standard_normal(count)
    freedom = figures()["tails"]["freedom"]
    return np.asarray(rng.standard_t(freedom, count) / np.sqrt(freedom / (freedom - 2)))


def noise(kind: Kind, rng: np.random.Generator, count: int) -> Array:
    """Deviations of SD 1 from day to day."""
    found = _unit(kind, rng, count)
    if kind == "sticky":
        keeps = figures()["sticky"]["correlation"]
        for day in range(1, count):
            found[day] = keeps * found[day - 1] + np.sqrt(1 - keeps**2) * found[day]
    return found


def _spurts(rng: np.random.Generator, ages: Array) -> Array:
    row, found = figures()["spurts"], np.ones(len(ages))
    more = rng.poisson(row["also_a_month"] * len(ages) / MONTH_D)
    starts = [*(week * 7 + rng.normal(0, 3) for week in row["weeks"]), *rng.uniform(ages[0], ages[-1], more)]
    for start in starts:
        within = (ages >= start) & (ages < start + rng.integers(row["days"][0], row["days"][1] + 1))
        found[within] = rng.uniform(*row["factor"])
    return found


def dips(rng: np.random.Generator, count: int, which: str) -> Array:
    """Stretches of days with less."""
    row, found = figures()["dips"], np.ones(count)
    for start in rng.integers(0, count, rng.poisson(row["a_month"] * count / MONTH_D)):
        found[start : start + rng.integers(row["days"][0], row["days"][1] + 1)] = rng.uniform(*row[which])
    return found


# What is told


def _told(rng: np.random.Generator, age: float, drunk: Array) -> tuple[tuple[float, float], ...]:
    row = figures()["told"]
    most = min(row["most_days"], PAST_D)
    count = 0 if rng.random() < row["no_log"] else int(rng.integers(1, most + 1))
    days = sorted(rng.choice(PAST_D, count, replace=False))
    read = drunk[days] * (1 + row["reading_cv"] * rng.standard_normal(count))
    read = row["reading_ml"] * np.round(read / row["reading_ml"])
    return tuple((age - PAST_D + int(day), float(ml)) for day, ml in zip(days, read, strict=True))


def _weights(rng: np.random.Generator, age: float, z: float, *, boy: bool) -> tuple[Weight, ...]:
    row = figures()["weight"]
    if rng.random() >= row["known"]:
        return ()
    ages = sorted(float(one) for one in rng.uniform(min(10.0, age), age, int(rng.integers(1, 4))))
    usual = np.interp(np.array(ages) / MONTH_D, row["months"], row["boys_kg" if boy else "girls_kg"])
    scale = 1 + row["scale_cv"] * rng.standard_normal(len(ages))
    kg = usual * np.exp(row["cv"] * z) * scale
    return tuple(Weight(at, round(float(one), 2)) for at, one in zip(ages, kg, strict=True))
