"""What is to be mended in a family's settings for plan and outlook: one line in plain words for each fault."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

from thawline.core.guideline import GuidelineError, shipped, shipped_ids
from thawline.core.times import BadTimeError, check_date
from thawline.services.plan_figures import figure

if TYPE_CHECKING:
    from thawline.services.habits import Apart, Goal, Habits

_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)
HOME = "home"


class HabitsError(ValueError):
    """Settings that can't be used; its text says in one line what to mend."""


def faults(habits: Habits, children: Collection[str] | None = None) -> Iterator[str]:
    """What is to be mended, in one line each; `children`: the household's, None where they are not known."""
    for name, clock in (("night_from", habits.night_from), ("night_until", habits.night_until)):
        yield from _clock(clock, f"the night ({name})")
    if habits.night_from == habits.night_until:
        yield "The night begins and ends at the same time: mend one of the two."
    if habits.rotation_day not in range(7):
        yield "Choose a day of the week for the rotation: 0 is Monday, 6 is Sunday."
    for apart in habits.apart:
        yield from _apart(apart, children)
    yield from _overlaps(habits.apart)
    if habits.goal is not None:
        yield from _goal(habits.goal)
    for child, day in habits.solids:
        yield from _child(child, children)
        yield from _day(day, "the day on which solids began")
    yield from _size(habits.pour_ml, "first pour")
    yield from _size(habits.freeze_ml, "size to freeze in")


def _size(ml: float | None, what: str) -> Iterator[str]:
    low, high = figure("sizes", "least_ml"), figure("sizes", "most_ml")
    if ml is not None and not low <= ml <= high:
        yield f"The {what} is to be between {low:g} and {high:g} mL."


def _clock(text: str, what: str) -> Iterator[str]:
    if not _CLOCK.fullmatch(text):
        yield f"Write the time of {what} like 07:30, not {text[:20]!r}."


def _day(text: str, what: str) -> Iterator[str]:
    try:
        check_date(text)
    except BadTimeError:
        yield f"Write {what} as 2027-02-03, not {text[:20]!r}."


def _child(name: str, children: Collection[str] | None) -> Iterator[str]:
    if children is not None and name not in children:
        yield f"There is no child {name[:40]!r} in this household: choose one of those that are there."


def _apart(apart: Apart, children: Collection[str] | None) -> Iterator[str]:
    yield from _child(apart.child, children)
    if not apart.days or any(day not in range(7) for day in apart.days):
        yield "Choose at least one day of the week for the time apart: 0 is Monday, 6 is Sunday."
    wrong = [*_clock(apart.start, "leaving"), *_clock(apart.end, "coming back")]
    yield from wrong
    if not wrong and apart.end <= apart.start:
        yield "The time apart is to end later on the same day than it starts: mend one of the two times."
    if not apart.where.strip() or apart.where == HOME or len(apart.where) > 80:
        yield "Name the place where the child is while you are apart, in at most 80 letters and not 'home'."
    yield from _rule(apart.rule)
    days = [(apart.from_day, "the first day apart"), (apart.until_day, "the last day apart")]
    for day, what in days:
        if day:
            yield from _day(day, what)
    if apart.from_day and apart.until_day and apart.until_day < apart.from_day:
        yield "The last day apart is before the first: mend one of the two."


def _rule(name: str) -> Iterator[str]:
    if not name:
        return
    try:
        fits = name in shipped_ids() and shipped(name).role == "childcare"
    except GuidelineError:
        fits = False
    if not fits:
        known = ", ".join(one for one in shipped_ids() if shipped(one).role == "childcare")
        yield f"There is no childcare rule {name[:40]!r}: choose one of {known}, or none."


def _overlaps(aparts: tuple[Apart, ...]) -> Iterator[str]:
    for index, one in enumerate(aparts):
        for other in aparts[:index]:
            same = one.child == other.child and bool(set(one.days) & set(other.days))
            apart = one.until_day and other.from_day and one.until_day < other.from_day
            apart = apart or (other.until_day and one.from_day and other.until_day < one.from_day)
            if same and not apart and one.start < other.end and other.start < one.end:
                yield f"{one.child} can't be in two places at once: two times apart overlap. Mend one of them."


def _goal(goal: Goal) -> Iterator[str]:
    wrong = [*_day(goal.on, "the goal's first day"), *_day(goal.until, "the goal's last day")]
    yield from wrong
    if not wrong and goal.until < goal.on:
        yield "The goal's last day is before its first: mend one of the two."
    if not 0 < goal.hours <= 24:
        yield "The hours apart a day are to be between 0 and 24."
