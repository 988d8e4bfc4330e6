"""One household under every policy on the same days, and what a class of households adds up to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from bench.simulated.audit import Audit, audit, faults
from bench.simulated.by_hand import ByHand, Sizes, fixed
from bench.simulated.families import Kind, draw
from bench.simulated.house import House
from bench.simulated.spreadsheet import Habit, habits, names_expressed
from bench.simulated.thawline_way import Thawline, our_sizes
from bench.simulated.ways import Way, live
from bench.simulated.world import Course, Scale, course
from numpy.typing import NDArray

FIXED = (60.0, 75.0, 90.0, 105.0, 120.0, 150.0)
HAND, TOPPED, GREEDY, THAWLINE, KNOWING = "by hand", "by hand, topping up", "greedy, our sizes", "Thawline", "knowing"
BEST = "by hand, best fixed sizes"
POLICIES = (HAND, TOPPED, BEST, GREEDY, THAWLINE, KNOWING)
RESAMPLES, LEAST_ML = 2000, 1e-6


class Job(NamedTuple):
    """A household to be run."""

    seed: int
    number: int
    kind: Kind
    days: int
    scale: Scale = Scale()
    whole: bool = False
    refine: bool = False
    policies: tuple[str, ...] = POLICIES


class Ran(NamedTuple):
    """What a policy came to in one household, mL; `late`, `refrozen` and `acts` by the core."""

    fed: float
    thrown: float
    short: float
    unmet: float
    there: float
    late: float
    refrozen: float
    acts: dict[str, int]
    faults: tuple[str, ...]
    by: dict[str, float]


class Household(NamedTuple):
    """A household: what came of each policy, of each fixed size with topping up, and of a spreadsheet."""

    job: Job
    apart: bool
    wanted: float
    ran: dict[str, Ran]
    sheet: tuple[Habit, ...]


def run(job: Job) -> Household:
    """Run a household under every policy."""
    family = draw(job.seed, job.number, job.kind, job.days)
    days = course(family, seed=job.seed, days=job.days, scale=job.scale)
    ways: dict[str, Callable[[House], Way]] = {
        HAND: lambda house: ByHand(house, days, fixed(Sizes()), whole=job.whole),
        TOPPED: lambda house: ByHand(house, days, fixed(Sizes(step_ml=30.0)), whole=job.whole),
        GREEDY: lambda house: ByHand(house, days, our_sizes(days), whole=job.whole),
        THAWLINE: lambda house: Thawline(house, days, refine=job.refine),
        KNOWING: lambda house: Thawline(house, days, refine=job.refine, knowing=True),
    }
    if BEST in job.policies:
        for size in FIXED:
            ways[f"{BEST} {size:.0f}"] = _sized(days, size, job.whole)
    found, sheet = {}, tuple[Habit, ...]()
    for name, way in ways.items():
        if name in job.policies or name.startswith(f"{BEST} "):
            ran, seen, house = _lived(way, days)
            found[name] = ran
            if name == HAND:
                sheet = habits(seen.verdicts, names_expressed(house.lines()))
    wanted = sum(feed.ml for feed in days.feeds if feed.bottle)
    return Household(job, family.work is not None, wanted, found, sheet)


def _sized(days: Course, size: float, whole: bool) -> Callable[[House], Way]:
    return lambda house: ByHand(house, days, fixed(Sizes(size, 30.0, size)), whole=whole)


def _lived(way: Callable[[House], Way], days: Course) -> tuple[Ran, Audit, House]:
    house = House(days.family, days.thaw)
    live(way(house), house, days)
    seen, count = audit(house, 24.0 * days.days), house.count
    ran = Ran(
        seen.fed, seen.thrown, count.short, count.unmet, seen.still_there, seen.late_ml, seen.refrozen_ml, seen.acts,
        tuple(faults(house, seen)), dict(count.thrown_by),
    )  # fmt: skip
    return ran, seen, house


# A class of households


class Interval(NamedTuple):
    """A mean (or ratio) and its 95 % interval by bootstrap over households."""

    mean: float
    low: float
    high: float


Numbers = NDArray[np.float64]


def resampled(rows: Sequence[Sequence[float]], what: Callable[[Numbers], Numbers]) -> Interval:
    """`what` of the sums over households (a row each), and its interval; the seed is fixed."""
    table = np.asarray(rows, dtype=float)
    rng = np.random.default_rng(20270301)
    picks = rng.integers(len(table), size=(RESAMPLES, len(table)))
    sums = table[picks].sum(axis=1)
    found = what(sums)
    low, high = np.quantile(found, (0.025, 0.975))
    return Interval(float(what(table.sum(axis=0)[None, :])[0]), float(low), float(high))


def best_size(households: Sequence[Household]) -> str:
    """The fixed size by which a class throws away and lacks least."""
    names = [f"{BEST} {size:.0f}" for size in FIXED]
    return min(names, key=lambda name: sum(h.ran[name].thrown + h.ran[name].short for h in households))


class Verdicts(NamedTuple):
    """What a class shows: the comparisons that were promised, each with its interval, and whether they hold."""

    late_ml: float
    refrozen_ml: float
    of_hand: Interval
    less_than_greedy_ml_d: Interval
    over_knowing: Interval
    short_over_hand_ml_d: Interval
    short_over_topped_ml_d: Interval

    def misses(self) -> list[str]:
        """The promises that do not hold."""
        said = {
            "fed past a deadline": self.late_ml <= 0,
            "refrozen": self.refrozen_ml <= 0,
            "at most half of by hand": self.of_hand.mean <= 0.5,
            "below greedy with our sizes": self.less_than_greedy_ml_d.low > 0,
            "within 2 % of the milk fed of knowing": self.over_knowing.mean <= 0.02,
            "shortage no worse than by hand": self.short_over_hand_ml_d.mean <= 0,
        }
        return [what for what, holds in said.items() if not holds]


def judge(households: Sequence[Household]) -> Verdicts:
    """The promised comparisons over the households of one class."""
    days = float(households[0].job.days)

    def pairs(one: str, other: str, name: str) -> list[list[float]]:
        return [[getattr(h.ran[one], name), getattr(h.ran[other], name), 1.0] for h in households]

    def a_day(sums: Numbers) -> Numbers:
        return np.asarray((sums[:, 0] - sums[:, 1]) / sums[:, 2] / days)

    knowing = [[h.ran[THAWLINE].thrown, h.ran[KNOWING].thrown, h.ran[THAWLINE].fed] for h in households]
    return Verdicts(
        sum(h.ran[THAWLINE].late for h in households), sum(h.ran[THAWLINE].refrozen for h in households),
        resampled(pairs(THAWLINE, HAND, "thrown"), lambda s: np.asarray(s[:, 0] / np.maximum(s[:, 1], LEAST_ML))),
        resampled(pairs(GREEDY, THAWLINE, "thrown"), a_day),
        resampled(knowing, lambda s: np.asarray((s[:, 0] - s[:, 1]) / np.maximum(s[:, 2], LEAST_ML))),
        resampled(pairs(THAWLINE, HAND, "short"), a_day),
        resampled(pairs(THAWLINE, TOPPED, "short"), a_day),
    )  # fmt: skip
