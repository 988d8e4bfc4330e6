"""The words of plan and outlook for a terminal 80 columns wide: clocks, amounts, reasons, cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

from thawline.core.times import DAY, HOUR, local, written, zone_named
from thawline.faces.cli.table import CAUTION, ML_PER_FL_OZ, plain

if TYPE_CHECKING:
    from thawline.engines.forecast.kinds import Band
    from thawline.engines.planner.kinds import Reason
    from thawline.services.plan_kinds import NoPlan

WIDTH = 80
# What a reason's instants are called.
INSTANTS = ("at", "by", "until", "best", "frozen_until")
RANGE = "A range, no target: follow the baby's cues, and ask a clinician about weight gain."

REASONS: Mapping[str, str] = {
    # why this milk
    "thawed_already": "thawed already, use by {until}",
    "only_one": "the only milk that fits",
    "ends_first": "its time ends first, {until}",
    "oldest": "the oldest that fits",
    "best_by_near": "best by {best}",
    "saves_milk": "so the least is left over in the end",
    "saves_bag": "so no bag has to be opened",
    "rotation_day": "the day for milk from the freezer",
    "opened_then": "thawed by then, so it is used up",
    "fits": "its size leaves the least over",
    # why this chore
    "needed_then": "needed {at}",
    "thaw_quick": "needed {at}, too soon to thaw in the refrigerator: for that feed only",
    "freezer_ends": "its time in the freezer ends {until}",
    "over": "not needed before {until}; frozen it keeps until {frozen_until}",
    "over_young": "no feed of the next days needs it; frozen while young it keeps until {frozen_until}",
    "put_away": "it stands out; into the cold by {until}",
    "past": "its time is over",
    "breached": "a rule was broken: do not feed it; in doubt, ask",
    "left_over": "what is left of a thawed bag; it can't be frozen again",
    "not_needed": "not needed before its time ends ({until}), and it can't be frozen",
    "outside": "no guideline gives it a time as it is: look after it now",
    # what would mend it
    "express_in_time": "{ml} expressed by {by} would do",
    "thaw_quick_then": "{lot} could be thawed in warm water at the feed",
    "open_one_more": "{lot} could be thawed as well; about {over_ml} of it would be left over",
    "a_moment_for_chores": "{lot} would be ready if somebody took it out by {by}",
    "once_frozen": "{lot}, frozen {at}, could be thawed for it",
    "clear_hold": "{lot} is held back: once that is settled, it may do",
    "older_first": "{lot} has to wait for older milk",
    "other_milk": "other milk or formula, as settled with whoever advises you",
    # why these sizes
    "own_feeds": "from {feeds} feeds of your own, about {ml} each",
    "usual_feeds": "from usual feeds, about {ml} each: your own will replace it",
    "poured_away_soon": "a leftover is poured away within {hours} h there",
    "offered_again": "a leftover may be offered again for {hours} h there",
    "few_small_and_spare": "a few small ones with a spare of {ml} beat one large",
    "freeze_mostly": "freeze mostly {ml}, and some of {some_ml}",
    "none_larger": "no bottle above {ml} at this age",
}

DOES: Mapping[str, str] = {
    "chill": "into {to}",
    "freeze": "into {to}",
    "thaw": "out to thaw, into {to}",
    "thaw_quick": "thaw in warm water",
    "pack": "pack",
    "discard": "throw away",
    "measure": "measure its temperature, or throw it away",
    "look_for_ice": "look for ice",
}

NONE: Mapping[str, str] = {
    "too_young": "{child}: no plan before day 14 after birth, for the milk is still coming in (until {until}).",
    "too_old": "{child}: no figures are held past 24 months.",
    "hospital": "{child}: under a hospital's care. Follow the care team.",
    "nothing_by_bottle": "{child}: no bottles are expected in these days.",
}


class Words(NamedTuple):
    """How this household writes: its zone, its unit of amounts (`ml` or `fl_oz`), and the present."""

    now: int
    zone: str
    unit: str = "ml"

    def ml(self, amount: float) -> str:
        """An amount."""
        if self.unit == "fl_oz":
            return f"{amount / ML_PER_FL_OZ:.1f} fl oz"
        return f"{amount:.0f} mL"

    def between(self, band: Band) -> str:
        """A range with its middle."""
        low, high = self.ml(band.low).split(" ", 1)[0], self.ml(band.high)
        return f"about {self.ml(band.likely)} ({low} to {high})"

    def day(self, at: int) -> str:
        """Today, tomorrow, or the date."""
        zone = zone_named(self.zone)
        then, today = local(at, zone).date(), local(self.now, zone).date()
        near = {0: "Today, ", 1: "Tomorrow, "}.get((then - today).days, "")
        return near + then.strftime("%a ") + f"{then.day} " + then.strftime("%b")

    def clock(self, at: int) -> str:
        """The time of day."""
        return local(at, zone_named(self.zone)).strftime("%H:%M")

    def when(self, at: int) -> str:
        """A time in a sentence: the clock today, the day with it in the next days, the date beyond."""
        zone = zone_named(self.zone)
        then = local(at, zone)
        if then.date() == local(self.now, zone).date():
            return then.strftime("%H:%M")
        if abs(at - self.now) < 7 * DAY:
            return then.strftime("%a %H:%M")
        return f"{then.day} " + then.strftime("%b %Y")

    def iso(self, at: int) -> str:
        """RFC 3339 on the household's clock."""
        return written(at, zone_named(self.zone))

    def why(self, reason: Reason) -> str:
        """A reason in words."""
        text = REASONS.get(reason.code, reason.code.replace("_", " "))
        return text.format_map(_Filled({name: self._told(name, value) for name, value in reason.args}))

    def _told(self, name: str, value: str | float) -> str:
        if name == "lot":
            return milk(str(value))
        if isinstance(value, str):
            return value
        if name in INSTANTS:
            return self.when(int(value))
        return self.ml(value) if name == "ml" or name.endswith("_ml") else f"{value:g}"


class _Filled(dict[str, str]):
    def __missing__(self, name: str) -> str:
        return "…"


def milk(name: str) -> str:
    """A container's name; milk that is yet to be expressed by its day."""
    if not name.startswith("coming."):
        return plain(name)
    day = date.fromisoformat(name.split(".")[1])
    return f"milk of {day.strftime('%a')} {day.day} {day.strftime('%b')}"


def hours(at: int, now: int) -> float:
    """Hours from now, rounded to a tenth."""
    return round((at - now) / HOUR, 1)


def reason_object(reason: Reason, words: Words) -> dict[str, Any]:
    """A reason as an object: its code, its sentence, and what it names."""
    args = {name: words.iso(int(value)) if name in INSTANTS and not isinstance(value, str) else value
            for name, value in reason.args}  # fmt: skip
    return {"code": reason.code, "says": words.why(reason), **args}


def none_line(one: NoPlan, words: Words) -> str:
    """Why there is nothing for a child."""
    until = "" if one.until is None else words.when(one.until)
    return NONE.get(one.code, "{child}").format(child=plain(one.child), until=until)


def none_object(one: NoPlan, words: Words) -> dict[str, Any]:
    """The same as an object."""
    until = None if one.until is None else words.iso(one.until)
    return {"code": one.code, "child": one.child, "until": until, "says": none_line(one, words)}


def wrap(text: str, first: str = "", rest: str | None = None) -> list[str]:
    """The text in lines of at most 80 columns."""
    return textwrap.wrap(
        plain(text), WIDTH, initial_indent=first, subsequent_indent=first if rest is None else rest,
        break_on_hyphens=False,
    )  # fmt: skip


def cautions() -> list[str]:
    """What stands below every answer."""
    return ["", *wrap(RANGE), *wrap(CAUTION)]
