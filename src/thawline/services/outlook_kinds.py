"""The outlook as a face shows it: days by date, amounts in mL, chances from 0 to 1."""

from __future__ import annotations

from typing import NamedTuple

from thawline.engines.forecast.kinds import Band
from thawline.services.plan_kinds import NoPlan


class Route(NamedTuple):
    """One way to an estimate of a day's milk, and where it comes from (a code: `age`, `weight`, `own_days`)."""

    code: str
    ml: Band
    source: str


class OutlookDay(NamedTuple):
    """One day ahead: ISO date; `stock` at its end, what is needed by bottle, what is expressed; mL."""

    day: str
    stock: Band
    need: Band
    supply: Band


class Lasts(NamedTuple):
    """The first day with any need unmet at the 10 %, 50 % and 90 % points, ISO; None: not within the days looked at.

    `freezer`: the first day at whose end the freezer is empty, at the same points; there may be fresh milk every day.
    `freezer_never`: the part of courses in which it is not.
    """

    early: str | None
    likely: str | None
    late: str | None
    never: float
    freezer: tuple[str | None, str | None, str | None] = (None, None, None)
    freezer_never: float = 1.0


class GoalSeen(NamedTuple):
    """How the goal stands: the stock it takes, what there will be by then, a day's extra, and the chance of enough.

    `extra_ml` is a range of what a day's session more would have to bring, in mL a day; 0 where enough is there. No end
    of it is above `most_ml`, which is 40 % of the present output (None where nothing tells of that): `beyond` where
    what is likely missing is more, so that other milk has to be thought of.
    """

    why: str
    on: str
    until: str
    takes: Band
    there: Band
    extra_ml: Band
    chance: float
    most_ml: float | None = None
    beyond: bool = False


class Enough(NamedTuple):
    """The stock past which more has no use before its date, in mL; `reached` now, or on which ISO day likely.

    `all_used`: neither now nor likely within the days looked at: all that is frozen now has a use, and `ml` may be a
    year's need.
    """

    ml: float
    reached: bool
    on: str | None
    unused_ml: Band
    all_used: bool = False


class WhatIf(NamedTuple):
    """A question: sessions a day, hours apart a week day, and from which ISO day on; None: as it is."""

    sessions: float | None = None
    apart_h: float | None = None
    start: str | None = None


class OutlookNow(NamedTuple):
    """The outlook at `now`: one child's milk or all; `routes` of a day's milk now, `complete_days` learned from."""

    now: int
    zone: str
    children: tuple[str, ...]
    days: tuple[OutlookDay, ...]
    routes: tuple[Route, ...]
    routes_differ: bool
    complete_days: int
    sessions: int
    lasts: Lasts
    short_chance: tuple[tuple[str, float], ...]
    goal: GoalSeen | None
    enough: Enough
    what_if: WhatIf
    none: tuple[NoPlan, ...]
    guideline: str
    paths: int
