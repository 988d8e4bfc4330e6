"""What happens to a family whatever it does: wants at each feed, sessions, days apart, and what is forgotten."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np
from bench.simulated.families import Family, spread
from bench.simulated.figures import figure, span
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Slot = Literal["morning", "noon", "afternoon", "evening"]
SLOTS: tuple[tuple[Slot, float], ...] = (("morning", 6.6), ("noon", 12.5), ("afternoon", 18.0), ("evening", 21.0))


class Feed(NamedTuple):
    """A feed: hours since the first midnight, mL wanted, from a bottle or not, and away from home or not."""

    at_h: float
    ml: float
    bottle: bool
    apart: bool


class Session(NamedTuple):
    """A session of expressing: when, mL, when it is written down, and how long its milk stands on the counter."""

    at_h: float
    ml: float
    logged_h: float
    out_h: float


class Chore(NamedTuple):
    """A moment for chores: when it is really done, None where it is missed."""

    what: Slot
    at_h: float
    done_h: float | None


class Apart(NamedTuple):
    """A stretch apart."""

    leave_h: float
    back_h: float


class Course(NamedTuple):
    """All that happens to a family in its days, the same for every policy; `thaw` a factor of a day's thawing."""

    family: Family
    days: int
    feeds: tuple[Feed, ...]
    sessions: tuple[Session, ...]
    chores: tuple[Chore, ...]
    aparts: tuple[Apart, ...]
    thaw: tuple[float, ...]


class Scale(NamedTuple):
    """How much more or less of what no forecast knows; 1 is as in the data file."""

    surprises: float = 1.0
    forgetting: float = 1.0
    noise: float = 1.0


def course(family: Family, *, seed: int, days: int, scale: Scale | None = None) -> Course:
    """Draw a family's days; the same seed gives the same days."""
    scale = scale or Scale()
    parts = [np.random.default_rng([seed, family.number, ord(family.kind[0]), 2 + i]) for i in range(5)]
    aparts = _aparts(family, days)
    feeds, sessions = _feeds(parts[0], family, days, aparts, scale), _sessions(parts[1], family, days, scale)
    # What is expressed over what is wanted from bottles is the family's ratio in these very days.
    wanted, there = sum(feed.ml for feed in feeds if feed.bottle), sum(one.ml for one in sessions)
    more = family.ratio * wanted / max(there, 1.0)
    family = replace(family, session_ml=tuple(ml * more for ml in family.session_ml))
    return Course(
        family, days, feeds, tuple(one._replace(ml=round(one.ml * more, 1)) for one in sessions),
        _chores(parts[2], days, scale), aparts,
        tuple(spread(parts[3], figure("thawing", "cv")) for _ in range(days + 1)),
    )  # fmt: skip


def _episodes(rng: np.random.Generator, days: int, name: str, change: str, scale: Scale) -> Floats:
    """A factor a day of stretches that come by chance."""
    factor = np.ones(days)
    for _ in range(rng.poisson(scale.surprises * days / figure("events", f"{name}_every_d"))):
        first, low, high = rng.integers(days), *span("events", f"{name}_days")
        by = rng.uniform(*span("events", f"{name}_{change}"))
        factor[first : first + rng.integers(int(low), int(high))] *= 1 + by if change == "more" else 1 - by
    return factor


def _noise(rng: np.random.Generator, days: int, cv: float, memory: float) -> Floats:
    """A log-normal factor a day of mean 1 that remembers the day before."""
    sigma = np.sqrt(np.log(1 + cv * cv))
    found, last = np.empty(days), rng.normal()
    for day in range(days):
        last = memory * last + np.sqrt(1 - memory * memory) * rng.normal()
        found[day] = last
    return np.asarray(np.exp(sigma * found - sigma * sigma / 2))


def day_totals(rng: np.random.Generator, family: Family, days: int, scale: Scale) -> Floats:
    """What the child wants in each day, mL."""
    means = np.array([family.day_ml(family.age_d + day) for day in range(days)])
    cv, memory = figure("intake", "within_cv") * scale.noise, figure("intake", "day_memory")
    spurts, ills = _episodes(rng, days, "spurt", "more", scale), _episodes(rng, days, "ill", "less", scale)
    return np.asarray(means * _noise(rng, days, cv, memory) * spurts * ills)


def split(rng: np.random.Generator, total: float, hours: Floats, cv: float) -> Floats:
    """A day's milk over its feeds: log-normal sizes, more in the early hours."""
    sizes = np.array([spread(rng, cv) for _ in hours]) * np.where(hours % 24 < 7, figure("feeds", "early_more"), 1.0)
    return np.asarray(total * sizes / sizes.sum())


def _feeds(
    rng: np.random.Generator, family: Family, days: int, aparts: Sequence[Apart], scale: Scale
) -> tuple[Feed, ...]:
    totals = day_totals(rng, family, days, scale)
    phase, found = rng.uniform(0, 3), []
    for day, total in enumerate(totals):
        mean = family.feeds(family.age_d + day)
        count = int(mean + rng.random()) + int(rng.choice([-1, 0, 1], p=[0.15, 0.7, 0.15]))
        hours = np.sort((phase + (np.arange(count) + 0.3) * 24 / count + _stray(rng, count)) % 24)
        for hour, ml in zip(hours, split(rng, float(total), hours, figure("feeds", "cv")), strict=True):
            at = 24 * day + float(hour)
            away = any(one.leave_h <= at < one.back_h for one in aparts)
            found.append(Feed(round(at, 2), round(float(ml), 1), family.work is None or away, away))
    return tuple(sorted(found))


def _stray(rng: np.random.Generator, count: int) -> Floats:
    return np.asarray(np.clip(rng.normal(0, figure("feeds", "jitter_h"), count), -1, 1))


def _sessions(rng: np.random.Generator, family: Family, days: int, scale: Scale) -> tuple[Session, ...]:
    dips = _episodes(rng, days, "dip", "less", scale)
    cv = figure("yield", "day_cv") * scale.noise
    supply = dips * _noise(rng, days, cv, figure("yield", "day_memory"))
    found = []
    for day in range(days):
        absent = rng.random() < scale.surprises / figure("events", "absent_every_d")
        for hour, ml in zip(family.session_h, family.session_ml, strict=True):
            one = _session(rng, 24 * day + hour, ml * float(supply[day]), scale)
            if not (absent and rng.random() < 0.5) and (family.work is None or family.works(day)):
                found.append(one)
    return tuple(found)


def _session(rng: np.random.Generator, at_h: float, ml: float, scale: Scale) -> Session:
    at = at_h + rng.uniform(-0.4, 0.4)
    amount = ml * spread(rng, figure("yield", "within_cv") * scale.noise)
    late = rng.random() < figure("forgetting", "logged_late") * scale.forgetting
    out = rng.random() < figure("forgetting", "left_out") * scale.forgetting
    stands = rng.uniform(*span("forgetting", "left_out_h"))
    return Session(round(at, 2), round(max(5.0, amount)), at + (8.0 if late else 0.0), stands if out else 0.0)


def _chores(rng: np.random.Generator, days: int, scale: Scale) -> tuple[Chore, ...]:
    found: list[Chore] = []
    missed = figure("forgetting", "chore_missed") * scale.forgetting
    late = figure("forgetting", "chore_late") * scale.forgetting
    for day in range(days):
        for what, hour in SLOTS:
            at, chance, delay = 24 * day + hour, rng.random(), rng.uniform(*span("forgetting", "late_h"))
            done = None if chance < missed else at + delay if chance < missed + late else at
            found.append(Chore(what, at, done))
    return tuple(found)


def _aparts(family: Family, days: int) -> tuple[Apart, ...]:
    work = family.work
    if work is None:
        return ()
    return tuple(Apart(24 * d + work.start_h, 24 * d + work.end_h) for d in range(days) if family.works(d))
