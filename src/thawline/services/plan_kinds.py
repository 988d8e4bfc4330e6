"""The plan as a face shows it: instants in microseconds, amounts in mL, reasons as codes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from thawline.engines.forecast.kinds import Band
from thawline.engines.planner.kinds import Does, Reason


class PlanChore(NamedTuple):
    """One chore: several containers that are moved together. `key` is the same at every look while it stays the same.

    `at`: when it fits best, `by`: the latest moment; `to`: the place it goes to (None to throw away or to measure);
    `coming`: amount of milk that is yet to be expressed (no container yet).
    """

    key: str
    does: Does
    containers: tuple[str, ...]
    ml: float
    at: int
    by: int
    night: bool
    to: str | None
    reason: Reason
    where: str = ""
    coming: bool = False


class PlanPart(NamedTuple):
    """Milk of one container for a feed; `coming` where it is yet to be expressed."""

    container: str
    ml: float
    coming: bool
    reason: Reason


class PlanFeed(NamedTuple):
    """An expected feed: how much is planned, of what; `pour_ml` is poured first, then `step_ml` more at a time.

    `ml` = `parts` + `coming_ml` + `short_ml`: `coming_ml` is no milk of the plan, but will likely be expressed by then.
    """

    at: int
    child: str
    where: str
    ml: float
    parts: tuple[PlanPart, ...]
    short_ml: float
    pour_ml: float
    step_ml: float
    coming_ml: float = 0.0


class PlanShort(NamedTuple):
    """What can't be met: when, whom, where, how much, and what would mend it."""

    at: int
    child: str
    where: str
    ml: float
    mends: tuple[Reason, ...]


class NoPlan(NamedTuple):
    """Why there is no plan for a child (`too_young`, `hospital`, `nothing_by_bottle`), until when if that is known."""

    code: str
    child: str
    until: int | None = None


class Portions(NamedTuple):
    """Sizes for one place: first pour, step, bottles to pack (mL each) and the spare, size to freeze in; and why."""

    where: str
    pour_ml: float
    step_ml: float
    bottles: tuple[float, ...]
    spare_ml: float
    freeze_ml: float
    leftover_h: float
    left_ml: float
    reasons: tuple[Reason, ...]


class PlanNow(NamedTuple):
    """The plan at `now`: chores and feeds in order, what is short, what is thrown away, how much better it could be."""

    now: int
    until: int
    zone: str
    way: str
    chores: tuple[PlanChore, ...]
    feeds: tuple[PlanFeed, ...]
    short: tuple[PlanShort, ...]
    thrown: tuple[tuple[str, float], ...]
    better_ml: float
    proven: bool
    refined: bool
    need: Mapping[str, Band]
    portions: tuple[Portions, ...]
    none: tuple[NoPlan, ...]
    try_one: str | None
    guideline: str
    also: tuple[str, ...]
