"""Why: the closed list of codes, one English sentence each; a face puts them into its own words."""

from __future__ import annotations

from .kinds import Reason

SAYS = {
    # why this milk for this feed
    "thawed_already": "It is thawed already and can't be frozen again: until {until_h}.",
    "only_one": "It is the only milk that fits this feed.",
    "ends_first": "Of the milk that fits this feed, its time ends first: {until_h}.",
    "oldest": "It is the oldest that fits this feed.",
    "best_by_near": "It is best by {best_h}.",
    "saves_milk": "This way the least is left over in the end.",
    "saves_bag": "With it no bag has to be opened.",
    "rotation_day": "On this day the milk comes from the freezer, and fresh milk is frozen.",
    "fits": "Its size leaves the least over, and it is among the oldest.",
    # why this chore
    "needed_then": "It is needed at {at_h}.",
    "thaw_quick": "It is needed at {at_h}, too soon to thaw in the refrigerator: thaw it in water for that feed only.",
    "freezer_ends": "Its time in the freezer ends: {until_h}.",
    "over": "It is not needed before its time ends ({until_h}): frozen it keeps until {frozen_until_h}.",
    "over_young": "No feed of the next days needs it: frozen while it is young it keeps until {frozen_until_h}.",
    "put_away": "It stands on the counter: into the cold by {until_h}.",
    "past": "Its time is over.",
    "left_over": "It is what is left of a thawed bag; it can't be frozen again.",
    "not_needed": "It is not needed before its time ends ({until_h}), and can't be frozen.",
    # what would mend a shortage
    "express_in_time": "Milk expressed by {by_h} would do: {ml} mL.",
    "thaw_quick_then": "{lot} could be thawed in water at the feed.",
    "open_one_more": "{lot} could be opened as well; about {over_ml} mL of it would be left over.",
    "a_moment_for_chores": "{lot} would be ready if somebody took it out by {by_h}.",
    "once_frozen": "{lot}, frozen at {at_h}, could be thawed for it.",
    "clear_hold": "{lot} is held: if what holds it is settled, it may do.",
    "older_first": "{lot} has to wait for older milk.",
    "other_milk": "Other milk or formula, as you have settled with whoever advises you.",
}


def reason(code: str, **args: str | float) -> Reason:
    """A reason with what it names; KeyError for a code that is not on the list."""
    if code not in SAYS:
        raise KeyError(code)
    return Reason(code, tuple(sorted(args.items())))
