"""A family that lives from expressing and a stock: what it has, what it notes, and on which day it truly runs out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .family import PAST_D, Family, Kind, dips, family, noise
from .figures import MONTH_D, Array, figures

SHORT_ML = 1.0


class Bag(NamedTuple):
    """A frozen bag: mL, and the last day (0: today) on which it may leave the freezer."""

    ml: float
    last_d: int


class Noted(NamedTuple):
    """A session as noted: hour of the day, hours since the one before, mL."""

    hour: float
    gap_h: float
    ml: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stocked:
    """A family with its stock: what it will express each day from today on, and the sessions it noted before."""

    family: Family
    bags: tuple[Bag, ...]
    hours: tuple[float, ...]
    expressed_ml: Array
    noted: tuple[Noted, ...]


def stocked(kind: Kind, rng: np.random.Generator) -> Stocked:
    """A family all of whose feeds are bottles, of expressed milk and the stock, or of the stock alone."""
    days = figures()["stock"]["days"]
    found = family(kind, rng, days=days, early=True)
    none = bool(rng.random() < figures()["supply"]["none"])
    hours, sessions = ((), np.zeros((PAST_D + days, 0))) if none else _sessions(kind, rng, found)
    return Stocked(
        family=found,
        bags=_bags(rng, none=none),
        hours=hours,
        expressed_ml=sessions[PAST_D:].sum(axis=1),
        noted=_noted(rng, hours, sessions[:PAST_D]),
    )


def _sessions(kind: Kind, rng: np.random.Generator, one: Family) -> tuple[tuple[float, ...], Array]:
    """The hours of a day's sessions, and what each brings, by day and session."""
    row, days = figures()["supply"], len(one.drunk_ml)
    count = int(rng.integers(row["sessions"][0], row["sessions"][1] + 1))
    hours = np.sort((6 + 18 * (np.arange(count) + rng.uniform(-0.25, 0.25, count)) / count) % 24)
    share = np.minimum(gaps_h(hours), row["flat_from_h"]) * (1 + rng.uniform(*row["morning"]) * _earliness(hours))
    a_day = float(one.drunk_ml[:PAST_D].mean()) * rng.uniform(*row["of_need"])
    slope = row["drift_cv_a_month"] * rng.standard_normal()
    level = np.exp(slope * (np.arange(days) - PAST_D) / MONTH_D)
    level *= np.maximum(0.1, 1 + rng.uniform(*row["day_cv"]) * noise(kind, rng, days))
    if kind == "dips":
        level *= dips(rng, days, "supply_factor")
    each = np.maximum(0.0, 1 + rng.uniform(*row["session_cv"]) * rng.standard_normal((days, count)))
    return tuple(map(float, hours)), a_day * share / share.sum() * level[:, None] * each


def gaps_h(hours: Array) -> Array:
    """Hours since the session before, around the clock."""
    gaps = (hours - np.roll(hours, 1)) % 24
    return np.where(gaps == 0, 24.0, gaps)


def _earliness(hours: Array) -> Array:
    """1 at six in the morning, -1 at six in the evening."""
    return np.cos((hours - 6) * 2 * np.pi / 24)


def _noted(rng: np.random.Generator, hours: tuple[float, ...], past: Array) -> tuple[Noted, ...]:
    if not hours:
        return ()
    low, high = figures()["supply"]["noted_days"]
    step, gaps = figures()["told"]["reading_ml"], gaps_h(np.array(hours))
    return tuple(
        Noted(hour, float(gap), float(step * round(ml / step)))
        for day in past[-int(rng.integers(low, high + 1)) :]
        for hour, gap, ml in zip(hours, gaps, day, strict=True)
    )


def _bags(rng: np.random.Generator, *, none: bool) -> tuple[Bag, ...]:
    """The stock of a family that knows nothing of what will come."""
    row = figures()["stock"]
    middle = row["median_without_supply_ml" if none else "median_ml"]
    left = float(np.clip(middle * np.exp(row["log_sd"] * rng.standard_normal()), row["least_ml"], row["most_ml"]))
    oldest, found = int(rng.integers(5, row["oldest_d"] + 1)), []
    while left > 0:
        ml = float(rng.choice(row["bags_ml"]))
        found.append(Bag(ml, row["freezer_d"] - int(rng.integers(0, oldest + 1))))
        left -= ml
    return tuple(sorted(found, key=lambda bag: bag.last_d))


# What comes true


def runs_out_d(one: Stocked) -> int | None:
    """The first day whose need is not met whole; None where there is none within the days looked at."""
    row = figures()["stock"]
    freezer = [[bag.last_d, bag.ml, bag.ml] for bag in one.bags]
    fresh: list[list[float]] = []
    thawed: list[list[float]] = []
    for day, (need, milk) in enumerate(zip(one.family.ahead_ml, one.expressed_ml, strict=True)):
        freezer = [bag for bag in freezer if bag[0] >= day]
        fresh.append([day, float(milk)])
        missing = _drink(thawed, float(need))
        missing = _drink(fresh, missing)
        while missing > 0 and freezer:
            ml = _open(freezer)
            if ml > missing:
                thawed.append([day, ml - missing])
            missing = max(0.0, missing - ml)
        if missing > SHORT_ML:
            return day
        thawed = [left for left in thawed if left[1] > 0 and day < left[0] + row["thawed_d"]]
        over = [left for left in fresh if left[1] > 0 and day >= left[0] + row["freeze_after_d"]]
        fresh = [left for left in fresh if left not in over]
        freezer += [[day + row["freezer_d"], left[1], row["bags_ml"][0]] for left in over]
    return None


def _drink(shelf: list[list[float]], need: float) -> float:
    """Drink from a shelf, oldest first; what is missing still."""
    for left in shelf:
        taken = min(left[1], need)
        left[1] -= taken
        need -= taken
    return need


def _open(freezer: list[list[float]]) -> float:
    """Take the oldest bag out; a day's milk lies in bags of its own size."""
    _last, ml, bag_ml = freezer[0]
    taken = min(ml, bag_ml)
    freezer[0][1] -= taken
    if freezer[0][1] <= 0:
        freezer.pop(0)
    return taken
