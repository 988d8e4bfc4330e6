"""How a family uses its milk: which way, when parent and child are apart, and what they save for."""

from __future__ import annotations

from typing import Literal

import msgspec


class Apart(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A weekly stretch in which a child drinks from bottles elsewhere.

    `days`: 0 is Monday; `start` and `end`: clock times such as 08:00 on the household's clock; `rule`: the overlay of
    that place (a childcare guideline's id), empty where only the home guideline counts.
    """

    child: str
    days: tuple[int, ...]
    start: str
    end: str
    where: str = "childcare"
    rule: str = ""
    from_day: str = ""
    until_day: str = ""


class Goal(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a stock is saved for: days apart of `hours` each from `on` to `until` (ISO dates), or weaning by `until`."""

    why: Literal["apart", "trip", "weaning"]
    on: str
    until: str
    hours: float = 9.0


class Habits(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The family's settings for plan and outlook.

    `way`: fresh milk first and what is over is frozen, or one day a week from the freezer (`rotation_day`; 0: Monday).
    `fed`: all feeds by bottle, or bottles only while apart. `solids`: child and the ISO date on which solids began.
    """

    way: Literal["fresh_first", "rotation"] = "fresh_first"
    rotation_day: int = 6
    fed: Literal["bottle", "apart"] = "apart"
    apart: tuple[Apart, ...] = ()
    goal: Goal | None = None
    solids: tuple[tuple[str, str], ...] = ()
    night_from: str = "22:00"
    night_until: str = "06:00"
    pour_ml: float | None = None
    freeze_ml: float | None = None
