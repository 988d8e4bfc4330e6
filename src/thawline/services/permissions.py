"""Who may do what: denied unless it stands here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, Literal

Action = Literal["look", "note", "check", "supply", "settle", "invite", "own", "self", "serve"]
ROLES = ("owner", "parent", "carer", "childcare")

# look: the milk, the plan, what happened; note: record what was done with it; check: a label before a feed;
# supply: how expressing goes, outlook; settle: settings that move deadlines; invite: who else may come in;
# own: the whole ledger out, or gone; self: one's own sign-in; serve: the window of a childcare service.
MAY: Mapping[str, frozenset[Action]] = MappingProxyType(
    {
        "owner": frozenset({"look", "note", "check", "supply", "settle", "invite", "own", "self"}),
        "parent": frozenset({"look", "note", "check", "supply", "settle", "invite", "self"}),
        "carer": frozenset({"look", "note", "check", "self"}),
        "childcare": frozenset({"serve", "check", "self"}),
    }
)
_SETTINGS = frozenset({"household", "place", "child"})
# What a service may record of milk that was handed to it.
_SERVED = frozenset(
    {
        "received", "moved", "thaw_seen", "warmed", "feed_began", "feed_ended", "discarded", "counted", "returned",
        "measured", "checked", "incident", "voided",
    }
)  # fmt: skip


def may(role: str, action: Action) -> bool:
    """Whether someone of that role may do that."""
    return action in MAY.get(role, frozenset())


def may_record(role: str, events: Iterable[Mapping[str, Any]]) -> bool:
    """Whether someone of that role may record events of these kinds."""
    kinds = {str(event.get("kind")) for event in events}
    if may(role, "settle"):
        return True
    if may(role, "note"):
        return not kinds & _SETTINGS
    return may(role, "serve") and kinds <= _SERVED
