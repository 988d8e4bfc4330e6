"""How fast a stock's possible courses are worked out, beside the same need met from milk that divides at will.

The plain yardstick is the recursion on sums: no containers, no shelves, only a `maximum` and a `minimum` a day. Ratios
are taken within the run, in processor time of this process, so that a busy machine changes them little.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np

from thawline.engines.forecast import draws, paths, recursion
from thawline.engines.forecast.course import Course, Flow, Held, Rules
from thawline.engines.forecast.enough import enough
from thawline.engines.forecast.goal import Goal, stand

GOAL_S, AIM_S = 5.0, 1.0
PATHS, DAYS, CONTAINERS = 10_000, 365, 300
NEED_ML, KEEPS_D = 700.0, 180


class Line(NamedTuple):
    """One line of the answer: what, seconds, and how many times the yardstick that is."""

    what: str
    s: float
    ratio: float = 1.0


def seconds(run: Callable[[], object], times: int = 5) -> float:
    """The middle of several runs in seconds of processor time."""
    took = []
    for _ in range(times):
        began = time.process_time()
        run()
        took.append(time.process_time() - began)
    return statistics.median(took)


def stock() -> tuple[Held, ...]:
    """Invented: so many containers of 60 to 149 mL, frozen over the last half year."""
    rng = np.random.default_rng(1)
    last = np.sort(rng.integers(5, KEEPS_D, CONTAINERS))
    return tuple(Held(float(rng.integers(60, 150)), "frozen", int(day)) for day in last)


def course(supply_ml: float, *, rotation: bool = False) -> Course:
    """Invented: a child on bottles, a parent who expresses more, less or as much."""
    return Course(
        need=Flow(mean_ml=np.full(DAYS, NEED_ML), between=0.16, within=0.09, drift=0.03),
        supply=Flow(mean_ml=np.full(DAYS, supply_ml), between=0.2, within=0.25),
        held=stock(),
        rules=Rules(fresh_d=4, freezer_d=KEEPS_D, thawed_d=1, bag_ml=100, freeze_after_d=2),
        rotation=[day % 7 == 6 for day in range(DAYS)] if rotation else (),
        thrown_share=0.05,
    )


def run(one: Course, many: int = PATHS) -> object:
    """The whole answer for one course."""
    return paths.run(one, paths=many, rng=np.random.default_rng(2))


def yardstick() -> object:
    """Draws, the recursion on sums, and the quantiles of what is left each day."""
    rng, one = np.random.default_rng(2), course(NEED_ML)
    need, supply = (draws.draw(flow, paths=PATHS, rng=rng) for flow in (one.need, one.supply))
    begin = sum(held.ml for held in one.held)
    came = begin + np.cumsum(supply, axis=0)
    ended = np.concatenate([np.zeros((KEEPS_D, PATHS)), came[:-KEEPS_D]])
    drawn = recursion.follow(need, came, ended)
    left = came - np.cumsum(drawn.fed + drawn.expired, axis=0)
    return np.quantile(left, (0.1, 0.5, 0.9), axis=1)


def after() -> float:
    """What is asked of a course that is worked out already: enough, and a goal."""
    one = course(NEED_ML)
    found = paths.run(one, paths=2000, rng=np.random.default_rng(2))
    asked = Goal(on_d=60, day_ml=[780.0] * 5, hours=9, between=0.16, within=0.09)

    def ask() -> object:
        return enough(one, found), stand(asked, one, found, rng=np.random.default_rng(3))

    return seconds(ask)


def lines() -> list[Line]:
    """Everything measured."""
    plain = seconds(yardstick)
    found = [Line("milk that divides, recursion on sums", plain)]
    for name, one in (
        ("short of milk", course(0.85 * NEED_ML)),
        ("as much as is needed", course(NEED_ML)),
        ("more than is needed", course(1.15 * NEED_ML)),
        ("a day a week from the freezer", course(NEED_ML, rotation=True)),
    ):
        took = seconds(partial(run, one))
        found.append(Line(name, took, took / plain))
    few = seconds(partial(run, course(NEED_ML), 2000))
    return [*found, Line("2,000 paths, as a page asks for", few, few / plain)]


def main() -> None:
    """Print what was measured, and the goal."""
    print(f"{PATHS:,} paths x {DAYS} days x {CONTAINERS} containers, seconds of one core")
    for line in lines():
        print(f"{line.what:<44}{line.s:8.2f} s{line.ratio:8.2f} x the first")
    print(f"{'enough and a goal, beside 2,000 paths':<44}{after():8.2f} s")
    print(f"goal {GOAL_S:g} s, aim {AIM_S:g} s")


if __name__ == "__main__":
    main()
