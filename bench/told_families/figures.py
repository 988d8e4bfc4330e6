"""The families' figures, and a mean by age as each cohort found it."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
MONTH_D = 30.4375


class Cohort(NamedTuple):
    """A published cohort: mean mL a day by month, its own CV between infants (None: not published)."""

    name: str
    months: tuple[float, ...]
    ml: tuple[float, ...]
    cv: float | None
    late: bool


@lru_cache
def figures() -> dict[str, Any]:
    """All of them; not to be changed."""
    return tomllib.loads(Path(__file__).with_name("cohorts.toml").read_text(encoding="utf-8"))


@lru_cache
def cohorts(*, late: bool) -> tuple[Cohort, ...]:
    """All cohorts, or those that go on past six months."""
    rows = [
        Cohort(row["name"], tuple(row["months"]), tuple(row["ml"]), row.get("cv"), row.get("late", False))
        for row in figures()["cohort"]
    ]
    return tuple(row for row in rows if row.late or not late)


def mean_ml(cohort: Cohort, ages_d: Array) -> Array:
    """The cohort's mean at ages in days: straight lines between its points, outside them the common shape."""
    months = np.asarray(ages_d, dtype=float) / MONTH_D
    ratios = np.array(cohort.ml) / _shape(np.array(cohort.months))
    return np.asarray(_shape(months) * np.interp(months, cohort.months, ratios))


def _shape(months: Array) -> Array:
    row = figures()["shape"]
    return np.asarray(np.interp(months, row["months"], row["ml"]))


def late_cv(ages_d: Array) -> Array:
    """The CV between infants from six months on."""
    row = figures()["between_late"]
    return np.asarray(np.interp(np.asarray(ages_d) / MONTH_D, row["months"], row["cv"]))
