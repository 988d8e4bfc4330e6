"""How much each feed is planned to be given: the quantile that the cost of running short asks for, not the mean."""

from __future__ import annotations

from statistics import NormalDist
from typing import NamedTuple

from .figures import load
from .kinds import Need, Problem


class Want(NamedTuple):
    """What one feed wants: `ml` at `at_h`, its milk there and thawed at `by_h`; what 1 mL short costs."""

    at_h: float
    by_h: float
    need: str
    child: str
    where: str
    ml: float
    cost: float
    leaves: bool
    rotation: bool


def planned_ml(need: Need) -> float:
    """The quantile short_cost / (short_cost + 1) of the need's total, in mL, never below 0."""
    part = min(need.short_cost / (need.short_cost + 1), load("costs")["quantile"]["most"])
    if part <= 0:
        return 0.0
    if need.sd_ml <= 0:
        return max(0.0, need.mean_ml)
    return max(0.0, NormalDist(need.mean_ml, need.sd_ml).inv_cdf(part))


def within(at_h: float, stretches: tuple[tuple[float, float], ...]) -> bool:
    """Whether a moment lies in one of the stretches, their ends not included."""
    return any(start <= at_h < end for start, end in stretches)


def wants(problem: Problem) -> list[Want]:
    """All feeds from now on, in order of time; ValueError where a feed names an unknown need."""
    needs = {need.name: need for need in problem.needs}
    totals = {name: planned_ml(need) for name, need in needs.items()}
    found = []
    for feed in sorted(problem.feeds, key=lambda feed: (feed.at_h, feed.need)):
        if feed.need not in needs:
            raise ValueError(f"a feed belongs to the need {feed.need!r}, which is not among the needs")
        if feed.at_h < 0:
            continue
        need, ml = needs[feed.need], totals[feed.need] * feed.share
        leaves = need.leave_h is not None
        by_h = feed.at_h if need.leave_h is None else min(feed.at_h, need.leave_h)
        rotation = within(feed.at_h, problem.rotation)
        found.append(Want(feed.at_h, by_h, need.name, need.child, need.where, ml, need.short_cost, leaves, rotation))
    return found
