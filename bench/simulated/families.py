"""Invented families: the child, how much it drinks, how much is expressed and when, what is in the freezer."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from bench.simulated.figures import figure, span

Kind = Literal["short", "balanced", "surplus"]
KINDS: tuple[Kind, ...] = ("short", "balanced", "surplus")
DAYS_OF_WORK = ((0, 1, 2, 3, 4), (0, 1, 2, 3), (0, 1, 3), (1, 2, 4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bag:
    """Milk from before the first day: mL, its age in days; frozen on its first day, or fresh in the refrigerator."""

    ml: float
    age_d: float
    frozen: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Days on which parent and child are apart (0 is Monday), from and to in hours of the day."""

    days: tuple[int, ...]
    start_h: float
    end_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A family as it truly is; `session_h` are the hours of its sessions, `session_ml` their true means in mL.

    `work` is None where all feeds are by bottle; where it is not, the sessions are on days apart only.
    """

    number: int
    kind: Kind
    boy: bool
    age_d: float
    level: float
    ratio: float
    session_h: tuple[float, ...]
    session_ml: tuple[float, ...]
    stock: tuple[Bag, ...]
    work: Work | None

    def day_ml(self, age_d: float) -> float:
        """The true mean of a day's milk at an age."""
        return usual_ml(age_d) * self.level * (1 + figure("intake", "boys") * (1 if self.boy else -1))

    def feeds(self, age_d: float) -> float:
        """The mean number of feeds a day."""
        share = min(1.0, max(0.0, (age_d - 30) / 60))
        return figure("feeds", "first_month") * (1 - share) + figure("feeds", "later") * share

    def bottle_share(self) -> float:
        """The share of a week's milk that is drunk from bottles."""
        if self.work is None:
            return 1.0
        return len(self.work.days) * (self.work.end_h - self.work.start_h) / (7 * 24)

    def works(self, day: int) -> bool:
        """Whether they are apart on a day; day 0 is a Monday."""
        return self.work is not None and day % 7 in self.work.days


def usual_ml(age_d: float) -> float:
    """The mean of a day's milk over infants at an age in days."""
    curve = figure("intake", "base") + figure("intake", "per_day") * age_d
    return figure("intake", "above") * (curve + figure("intake", "per_log_day") * math.log(age_d))


def spread(rng: np.random.Generator, cv: float) -> float:
    """A log-normal factor of mean 1."""
    sigma = math.sqrt(math.log(1 + cv * cv))
    return float(np.exp(rng.normal(-sigma * sigma / 2, sigma)))


def session_size(rng: np.random.Generator) -> float:
    """A mother's usual session, both breasts, in mL: gamma with the published spread between mothers."""
    shape = 1 / figure("yield", "between_cv") ** 2
    return float(rng.gamma(shape, 2 * figure("yield", "one_breast_ml") / shape))


def draw(seed: int, number: int, kind: Kind, days: int) -> Family:
    """The family of that number; the same for every policy."""
    rng = np.random.default_rng([seed, number, KINDS.index(kind), 1])
    low, high = span("families", "age_weeks")
    apart = rng.random() < figure("families", "apart_share")
    family = Family(
        number=number, kind=kind, boy=bool(rng.random() < 0.5), age_d=round(7 * rng.uniform(low, high)),
        level=spread(rng, figure("intake", "between_cv")), ratio=float(rng.uniform(*span("classes", kind))),
        session_h=(), session_ml=(), stock=(), work=_work(rng) if apart else None,
    )  # fmt: skip
    family = _with_sessions(rng, family, days)
    return replace(family, stock=_stock(rng, family))


def _work(rng: np.random.Generator) -> Work:
    start = float(rng.choice([7.5, 8.0, 8.5, 9.0]))
    days = DAYS_OF_WORK[int(rng.integers(len(DAYS_OF_WORK)))]
    return Work(days=days, start_h=start, end_h=start + float(rng.choice([6.0, 8.0, 9.0, 10.0])))


def _with_sessions(rng: np.random.Generator, family: Family, days: int) -> Family:
    """Hours and true means of the sessions, so that supply over need is the family's ratio."""
    need = family.day_ml(family.age_d + days / 2) * family.bottle_share()
    if family.work is None:
        count = int(np.clip(round(need * family.ratio / session_size(rng)), 4, 8))
        hours = np.linspace(6.2, 22.2, count) if count < 7 else np.append(2.5, np.linspace(6.2, 22.2, count - 1))
        daily = need * family.ratio
    else:
        work = family.work
        count = 2 if work.end_h - work.start_h < 8 else 3
        hours = work.start_h + (np.arange(count) + 1) * (work.end_h - work.start_h) / (count + 0.7)
        daily = need * family.ratio * 7 / len(work.days)
    before = None if family.work is None else family.work.start_h - 0.5  # nursed before they part
    weights = _weights([float(hour) for hour in hours], before)
    return replace(
        family, session_h=tuple(float(hour) for hour in hours), session_ml=tuple(float(daily * w) for w in weights)
    )


def _weights(hours: list[float], emptied_h: float | None) -> list[float]:
    earlier = [hours[-1] if emptied_h is None else emptied_h, *hours[:-1]]
    gaps = [(hour - before) % 24 or 24.0 for hour, before in zip(hours, earlier, strict=True)]
    more = [figure("yield", "morning_more") if hour < 10 else 1.0 for hour in hours]
    raw = [min(gap, figure("yield", "full_after_h")) * factor for gap, factor in zip(gaps, more, strict=True)]
    return [one / sum(raw) for one in raw]


def _stock(rng: np.random.Generator, family: Family) -> tuple[Bag, ...]:
    """What lies in the freezer at first, in bags of several sizes, oldest first."""
    days = rng.uniform(*span("families", "stock_days"))
    wanted = days * family.day_ml(family.age_d) * family.bottle_share()
    sibling = rng.random() < figure("families", "sibling_share")
    oldest = max(2.0, family.age_d - 14)
    bags: list[Bag] = []
    while sum(bag.ml for bag in bags) < wanted and len(bags) < 120:
        age = rng.uniform(300, 362) if sibling and rng.random() < 0.3 else rng.uniform(1, oldest)
        bags.append(Bag(ml=float(rng.choice([60, 90, 120, 150])), age_d=round(float(age))))
    fresh = [Bag(ml=round(ml), age_d=age, frozen=False) for ml, age in _yesterday(family)]
    return tuple(sorted([*bags, *fresh], key=lambda bag: -bag.age_d))


def _yesterday(family: Family) -> list[tuple[float, float]]:
    """The last sessions before the first day where all milk comes by bottle: mL and age in days."""
    if family.work is not None:
        return []
    rows = list(zip(family.session_ml, family.session_h, strict=True))[-3:]
    return [(ml, round((24 - hour) / 24, 3)) for ml, hour in rows]
