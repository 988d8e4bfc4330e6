"""Who may do what: denied unless it stands here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, Literal, Protocol

from thawline.core.times import DAY

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


class Noted(Protocol):
    """What was recorded: by whom (who was signed in), and when, in microseconds."""

    @property
    def person(self) -> str: ...

    @property
    def recorded_at(self) -> int: ...


# For so long after it was recorded whoever is no parent may take back what they noted themselves; then a parent does.
OWN_FOR = DAY  # ours


def may_take_back(role: str, member: str, rows: Iterable[Noted], *, now: int) -> bool:
    """Whether someone of that role and name may take these back: parents anything, others their own of the last day."""
    if may(role, "settle"):
        return True
    if not (may(role, "note") or may(role, "serve")):
        return False
    return all(one.person == member and now - one.recorded_at < OWN_FOR for one in rows)
