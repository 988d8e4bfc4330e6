"""What goes into a forecast and what comes out: plain data; ages in days since birth, amounts in mL."""

from __future__ import annotations

from typing import Literal, NamedTuple

Sex = Literal["boy", "girl"]
Sides = Literal["both", "in_turn", "one"]


class Band(NamedTuple):
    """A nominal 80 % range and the value in its middle, in mL, days or whatever its field says."""

    low: float
    likely: float
    high: float


class Child(NamedTuple):
    """What is known of a child; `age_d` at the forecast's start, `weights` as (age in days, kg), oldest first.

    `solids_from_d`: the age in days at which solids began or will begin; None where nothing was said
    (then ordinary solids from six months on).
    """

    age_d: float
    sex: Sex | None = None
    weights: tuple[tuple[float, float], ...] = ()
    solids_from_d: float | None = None


class DayLog(NamedTuple):
    """A complete day: what the child drank in mL, all of it by bottle or weighed; `formula_ml` beside it."""

    age_d: float
    ml: float
    formula_ml: float = 0.0


class Feed(NamedTuple):
    """One feed from a bottle: the hour of the day (0 to 24), what was drunk and what was left, in mL."""

    hour: float
    drunk_ml: float
    left_ml: float


class Session(NamedTuple):
    """One session of expressing: the hour of its start (0 to 24), mL, hours since the last emptying, and how.

    `day`: the number of its day, counted from any one; None where it is told by the order of the sessions.
    """

    hour: float
    ml: float
    gap_h: float | None = None
    sides: Sides = "both"
    in_place_of_feed: bool = True
    day: int | None = None
