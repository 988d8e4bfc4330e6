"""Milk in mL a day by age alone: the curve of published means, with the sex and the start of solids."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from . import energy, numbers
from .growth import MONTH_D, Array
from .kinds import Sex

DENSITY_G_PER_ML = numbers.value("lactation", "density")
SEX_ML = numbers.value("lactation", "sex")
FIRST_D = numbers.value("lactation", "first_forecast")


def ml_of_g(grams: float) -> float:
    """Millilitres of milk from grams, as papers weigh it."""
    return grams / DENSITY_G_PER_ML


def ordinary(age_d: npt.ArrayLike) -> Array:
    """Both sexes, mL a day: exclusively breastfed to 6 months, with ordinary solids from then on."""
    rows = {name: numbers.row("lactation", "by_age", name) for name in ("days", "day_ml", "months", "month_ml")}
    ages = np.concatenate([rows["days"], np.array(rows["months"]) * MONTH_D])
    ml = np.concatenate([rows["day_ml"], rows["month_ml"]])
    return np.asarray(np.interp(np.asarray(age_d, dtype=float), ages, ml))


def by_age(sex: Sex | None, age_d: npt.ArrayLike, solids_from_d: float | None = None) -> Array:
    """Milk in mL a day at ages in days, the mean of children of that age.

    Solids that began later keep the milk of 6 months until then and catch up in four weeks; earlier ones take a little.
    """
    age = np.asarray(age_d, dtype=float)
    without_food = ordinary(np.minimum(age, energy.SOLIDS_D))
    return without_food - _displaced(age, solids_from_d) + _of_sex(sex, age)


def _displaced(age: Array, solids_from_d: float | None) -> Array:
    usual = ordinary(np.minimum(age, energy.SOLIDS_D)) - ordinary(age)
    if solids_from_d is None or solids_from_d == energy.SOLIDS_D:
        return usual
    begun = energy.ramp(age - solids_from_d)
    if solids_from_d > energy.SOLIDS_D:
        return usual * begun
    return np.maximum(usual, begun * energy.EARLY_KCAL / energy.KCAL_PER_ML)


def _of_sex(sex: Sex | None, age: Array) -> Array:
    side = {"boy": 1.0, "girl": -1.0, None: 0.0}[sex]
    return np.asarray(side * SEX_ML * np.clip((age - FIRST_D) / (MONTH_D - FIRST_D), 0, 1))


def rios_leyvraz(age_d: npt.ArrayLike) -> Array:
    """Milk in mL a day by one published equation (2023), from day 14 on; 5-15 % below some cohorts."""
    of = numbers.table("lactation", "rios_leyvraz")
    age = np.asarray(age_d, dtype=float)
    return np.asarray(of["a"] + of["b"] * age + of["c"] * np.log(age))
