"""The spreadsheet habit "date + 4 days, dates only" beside the clock rules, on the same containers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from bench.simulated.house import START

from thawline.core.times import HOUR
from thawline.core.verdict import Verdict

DAYS, THAWED_DAYS = 4, 1


class Habit(NamedTuple):
    """Of one kind of milk: containers, and how many hours the sheet's date is later (less than 0: earlier)."""

    what: str
    off_h: tuple[float, ...]


def habits(verdicts: Sequence[Verdict], opened: set[str]) -> tuple[Habit, ...]:
    """The sheet's last moment less the core's, for chilled milk as it was expressed and for bags that were thawed.

    The sheet has dates only. `through`: used until that date's last minute; `before`: thrown away as that date begins.
    """
    fresh = [one for one in verdicts if one.form == "fresh" and one.use_by is not None and one.container in opened]
    thawed = [one for one in verdicts if one.form in ("thawing", "thawed") and one.use_by is not None]
    thawed = [one for one in thawed if one.container in opened and one.warmed is None and one.fed_from is None]
    found = []
    for what, some, days in (("chilled", fresh, DAYS), ("thawed", thawed, THAWED_DAYS)):
        dates = [_since(one, thawed=what == "thawed") for one in some]
        ends = [24.0 * (math.floor(at / 24) + days) for at in dates]
        uses = [_hours(one.use_by or 0) for one in some]
        found.append(Habit(f"{what}, through the date", tuple(e + 24 - u for e, u in zip(ends, uses, strict=True))))
        found.append(Habit(f"{what}, before the date", tuple(e - u for e, u in zip(ends, uses, strict=True))))
    return tuple(found)


def _since(one: Verdict, *, thawed: bool) -> float:
    """The moment whose date stands in the sheet: expressed, or taken out of the freezer."""
    if not thawed:
        return _hours(one.dated)
    starts = [link.start for link in one.why if "thawed" in link.rule]
    return _hours(max(starts, default=one.dated))


def _hours(at: int) -> float:
    return (at - START.timestamp() * 1e6) / HOUR


def names_expressed(lines: Sequence[bytes]) -> set[str]:
    """Containers as they were expressed or stocked, or filled to freeze: those that a sheet has a line for."""
    import json  # noqa: PLC0415

    found: set[str] = set()
    for event in map(json.loads, lines):
        if event["kind"] == "expressed":
            found.update(one["container"] for one in event["into"])
        elif event["kind"] == "moved":
            found.add(event["container"])
    return found
