"""The stock past which more has no use before its date."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from . import numbers
from .course import Array, Course, Paths
from .kinds import Band
from .points import band
from .recursion import follow

__all__ = ["Enough", "enough"]


class Enough(NamedTuple):
    """How much stock is enough, in mL.

    Milk frozen on a day is fed after all that lies before it. `likely_ml`, `ml`: what will be fed out of the freezer
    before today's milk ends, by the likely need and by the high one: with `ml` in the freezer today's milk would have
    no use even then. `reached`: that much is there already; `day`: from which day on it likely is (0 today), None
    where not within the days looked at. `unused_ml`: what will end unused of the containers frozen now;
    `going_on_ml`: of all milk, if all goes on as it is.
    """

    ml: float
    likely_ml: float
    reached: bool
    day: int | None
    unused_ml: Band
    going_on_ml: Band


def enough(course: Course, paths: Paths, *, saved_ml: Array | None = None) -> Enough:
    """The stock that is enough, from a course and its paths.

    `saved_ml`: what a goal takes beside the course's need, as `goal.by_day_ml` gives it; None where the course's need
    has the goal's days already, or there is no goal. Without the goal its stock would count as of no use.

    It looks `freezer_d` days past each day. Where the course ends before, need goes on as in its last four weeks:
    a course of `freezer_d` days or more needs no such guess for today's milk.
    """
    asked = _asked(course, paths, saved_ml)
    use, likely = _uses(asked, days=paths.days, life_d=course.rules.freezer_d)
    reached = np.flatnonzero((paths.freezer.likely >= use) & (paths.freezer.likely > 0))
    frozen = sum(one.ml for one in course.held if one.form == "frozen" and one.last_d >= 0)
    return Enough(
        ml=float(use[0]),
        likely_ml=likely,
        reached=bool(frozen > 0 and frozen >= use[0]),
        day=int(reached[0]) if reached.size else None,
        unused_ml=band(_unused_now(course, asked)),
        going_on_ml=band(_unused_going_on(course, paths, asked)),
    )


def _asked(course: Course, paths: Paths, saved_ml: Array | None) -> Array:
    """By day and path what the freezer is asked for in mL, on to the last day of all milk that may be there."""
    last = max([paths.days + course.rules.freezer_d, *(one.last_d + 1 for one in course.held)])
    found = np.empty((last, paths.paths))
    found[: paths.days] = paths.asked_ml
    found[paths.days :] = paths.asked_ml[-int(numbers.value("course", "beyond_d")) :].mean(axis=0, dtype=float)
    if saved_ml is not None:
        row = np.asarray(saved_ml)[:last]
        found[: len(row)] += row
    return found


def _uses(asked: Array, *, days: int, life_d: int) -> tuple[Array, float]:
    """What is fed out of the freezer before the milk frozen on each day ends, at the high need; today's also likely."""
    summed, high = np.cumsum(asked, axis=0), numbers.value("course", "sure_need")
    found = np.array([np.quantile(summed[t + life_d] - summed[t], high) for t in range(days)])
    return found, float(np.median(summed[life_d] - summed[0]))


def _unused_now(course: Course, asked: Array) -> Array:
    """By path what ends unused of the containers in the freezer now; they go before all that is frozen later."""
    frozen = [one for one in course.held if one.form == "frozen"]
    ended = np.zeros((1 + max([0, *(one.last_d for one in frozen)]), 1))
    for one in frozen:
        if one.last_d >= 0:
            ended[one.last_d] += one.ml
    drawn = follow(asked[: len(ended)], ended.sum(), np.cumsum(ended, axis=0))
    found: Array = drawn.expired.sum(axis=0) + sum(one.ml for one in frozen if one.last_d < 0)
    return found


def _unused_going_on(course: Course, paths: Paths, asked: Array) -> Array:
    """By path what ends unused within the days looked at, and of what is left then."""
    later = asked[paths.days : paths.days + course.rules.freezer_d].sum(axis=0)
    found: Array = paths.totals.expired + np.maximum(paths.freezer_ml[-1] - later, 0.0)
    return found
