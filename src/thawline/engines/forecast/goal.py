"""What a goal takes (days apart, a trip, weaning by a date), what will be there, and what would bring it there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .course import Array, Course, Flow, Paths
from .draws import draw
from .kinds import Band
from .points import band

__all__ = ["Goal", "Stand", "apart_ml", "by_day_ml", "extra_ml_d", "stand", "target_ml"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """Days for which a stock is saved: `on_d` days ahead the first, one entry of `day_ml` for each of them.

    `day_ml`: what the child drinks in 24 h on each, in mL; `hours` of each day are covered: those apart, or 24 on a
    trip, or when a child is weaned from the breast by `on_d` and goes on with the stock. `between`, `within`: CVs.
    """

    on_d: int
    day_ml: Sequence[float] | Array
    hours: float
    between: float = 0.0
    within: float = 0.0


class Stand(NamedTuple):
    """How a goal stands, in mL: what it takes, what will be there, a day's extra until then, the chance of enough."""

    takes: Band
    there: Band
    extra_ml_d: Band
    chance: float


def apart_ml(day_ml: float, hours: float) -> float:
    """What is drunk in so many hours of a day: its part of 24 h (no daytime share: it differs from child to child)."""
    return day_ml * hours / 24


def target_ml(day_ml: Sequence[float] | Array, hours: float) -> float:
    """What so many hours on each of these days take together."""
    return float(sum(apart_ml(float(one), hours) for one in day_ml))


def extra_ml_d(target_ml: float, usable_ml: float, days: float) -> float:
    """What each of the days until then would have to bring more: (target - usable) / days, never below 0."""
    return max(0.0, target_ml - usable_ml) / max(days, 1.0)


def stand(goal: Goal, course: Course, paths: Paths, *, rng: np.random.Generator) -> Stand:
    """How a goal stands on the paths of a course that reaches to its first day.

    A path whose child drinks more all along drinks more on the goal's days as well. `takes` holds what is thrown away
    with the feeds. `there` is all milk within its day at the end of the day before (now, where the goal begins today);
    that some of it may end during a long goal is not in it. Raises ValueError where the course is too short.
    """
    takes = by_day_ml(goal, course, paths, rng=rng).sum(axis=0)
    there = _there(goal.on_d, course, paths)
    missing = np.maximum(takes - there, 0.0) / max(goal.on_d, 1)
    return Stand(band(takes), band(there), band(missing), float(np.mean(there >= takes)))


def by_day_ml(goal: Goal, course: Course, paths: Paths, *, rng: np.random.Generator) -> Array:
    """By day (from today to the goal's last) and path, what the goal takes, thrown away with feeds or drunk, in mL."""
    _check(goal, paths)
    hours = [apart_ml(float(one), goal.hours) for one in goal.day_ml]
    flow = Flow(mean_ml=np.asarray(hours), between=goal.between, within=goal.within)
    drunk = draw(flow, paths=paths.paths, rng=rng, level=paths.need_level[None, :])
    return np.concatenate([np.zeros((goal.on_d, paths.paths)), drunk / (1 - course.thrown_share)])


def _check(goal: Goal, paths: Paths) -> None:
    if not 0 <= goal.on_d <= paths.days:
        raise ValueError(f"the goal begins on day {goal.on_d}, the course has {paths.days} days")
    if not 0 < goal.hours <= 24 or not len(goal.day_ml):
        raise ValueError("a goal needs a day, and hours above 0 and at most 24")


def _there(on_d: int, course: Course, paths: Paths) -> Array:
    if on_d == 0:
        return np.full(paths.paths, sum(one.ml for one in course.held if one.last_d >= 0), dtype=float)
    found: Array = paths.stock_ml[on_d - 1].astype(float)
    return found
