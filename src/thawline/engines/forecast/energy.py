"""The energy an infant needs by weight and age, what food brings of it, and so the milk that is left to drink."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from . import numbers
from .growth import MONTH_D, Array
from .kinds import Sex

KCAL_PER_ML = numbers.value("energy", "milk")
SOLIDS_D = numbers.value("lactation", "solids", "from") * MONTH_D
RAMP_D = numbers.value("lactation", "solids", "ramp")
EARLY_KCAL = numbers.value("lactation", "solids", "early")
TODDLER_D = numbers.value("energy", "toddler") * MONTH_D


def expenditure(kg: npt.ArrayLike, fed: Literal["breastfed", "all", "formula"] = "breastfed") -> Array:
    """Total energy expenditure in kcal a day (FAO/WHO/UNU 2004)."""
    line = numbers.table("energy", "expenditure", fed)
    return np.asarray(line["slope"] * np.asarray(kg, dtype=float) + line["base"])


def iom(kg: npt.ArrayLike, month: float) -> Array:
    """The IOM's estimated energy requirement in kcal a day, by age in months.

    Its step from 3 to 4 months is too large for forecasts over time; they use it after 12 months only.
    """
    line = numbers.table("energy", "iom")
    band = int(np.searchsorted(line["from_month"], month, side="right")) - 1
    return np.asarray(line["slope"] * np.asarray(kg, dtype=float) + line["base"] + line["added"][band])


def deposited(sex: Sex | None, age_d: npt.ArrayLike) -> Array:
    """Energy laid down in growth, kcal a day: monthly means set at the middle of their months, linear between."""
    rows = [numbers.row("energy", "deposited", one) for one in ((sex,) if sex else ("boy", "girl"))]
    months = np.asarray(age_d, dtype=float) / MONTH_D
    return np.asarray(np.interp(months, np.arange(12) + 0.5, np.mean(rows, axis=0)))


def ramp(since_d: npt.ArrayLike) -> Array:
    """How far food has become ordinary, 0 to 1, by the days since it began."""
    return np.asarray(np.clip(np.asarray(since_d, dtype=float) / RAMP_D, 0, 1))


def food(age_d: npt.ArrayLike, solids_from_d: float | None = None) -> Array:
    """Energy from food in kcal a day: none before solids, four weeks to the usual amount; its steps are ramps too."""
    age, began = np.asarray(age_d, dtype=float), SOLIDS_D if solids_from_d is None else solids_from_d
    early = np.where(began < SOLIDS_D, EARLY_KCAL, 0.0)
    return np.asarray(early * ramp(age - began) + (_usual_food(age) - early) * ramp(age - max(began, SOLIDS_D)))


def _usual_food(age_d: Array) -> Array:
    starts = np.array(numbers.row("energy", "food", "from_month"))[1:] * MONTH_D
    levels = numbers.row("energy", "food", "kcal")
    ages = np.ravel(np.column_stack([starts - RAMP_D / 2, starts + RAMP_D / 2]))
    return np.asarray(np.interp(age_d, ages, np.repeat(levels, 2)[1:-1]))


def need(sex: Sex | None, age_d: npt.ArrayLike, kg: npt.ArrayLike) -> Array:
    """The energy a breastfed child needs, kcal a day: expenditure and growth, after 12 months by the IOM."""
    age, weight = np.asarray(age_d, dtype=float), np.asarray(kg, dtype=float)
    infant = expenditure(weight) + deposited(sex, age)
    return np.where(age < TODDLER_D, infant, iom(weight, 13))


def milk(
    sex: Sex | None,
    age_d: npt.ArrayLike,
    kg: npt.ArrayLike,
    solids_from_d: float | None = None,
    kcal_per_ml: float = KCAL_PER_ML,
) -> Array:
    """Milk in mL a day by weight (kg) and age in days: the need less what food brings, never below zero."""
    return np.asarray(np.maximum(need(sex, age_d, kg) - food(age_d, solids_from_d), 0) / kcal_per_ml)
