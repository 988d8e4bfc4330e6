"""How a family uses its milk: which way, when parent and child are apart, and what they save for."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any, Literal

import msgspec

from thawline.services.habits_faults import HabitsError, faults

if TYPE_CHECKING:
    from thawline.records.ledger.store import DatabaseStore


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


def parsed(data: bytes) -> Habits:
    """The habits of a JSON file; raises `HabitsError` with one line that says what to mend."""
    try:
        return msgspec.json.decode(data, type=Habits)
    except (msgspec.DecodeError, RecursionError, ValueError) as fault:
        raise HabitsError(_words(fault)) from fault


def read(preferences: Mapping[str, Any]) -> Habits:
    """The habits among a household's preferences; where none are kept, or none can be read, the usual ones."""
    try:
        found = msgspec.convert(preferences.get("habits", {}), type=Habits)
    except (msgspec.ValidationError, RecursionError, ValueError):
        return Habits()
    return found if next(faults(found), None) is None else Habits()


def check(habits: Habits, children: Collection[str] | None = None) -> Habits:
    """The habits themselves; raises `HabitsError` for the first thing to mend. `children`: those of the household."""
    for fault in faults(habits, children):
        raise HabitsError(fault)
    return habits


def keep(store: DatabaseStore, habits: Habits, children: Collection[str] | None = None) -> None:
    """Keep them among the household's preferences; raises `HabitsError`."""
    from thawline.services.people import keep_habits  # noqa: PLC0415  (what needs no database asks for none)

    keep_habits(store, msgspec.to_builtins(check(habits, children)))


def _words(fault: Exception) -> str:
    """A decoder's fault in plain words."""
    if not isinstance(fault, msgspec.ValidationError):
        return "This is not JSON: write one JSON object."
    what, _, path = str(fault)[:300].partition(" - at `$")
    field = path.rstrip("`").lstrip(".")
    what = what.replace("Object contains unknown field", "there is no field").replace(
        "Object missing required", "add the"
    )
    return f"Mend {field}: {what}." if field else f"Mend this: {what}."
