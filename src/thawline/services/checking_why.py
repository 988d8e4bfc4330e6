"""What speaks against feeding this milk to this child now: codes, the weightiest first."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from thawline.core import events as ev
from thawline.core.verdict import Verdict
from thawline.records.store import Store
from thawline.services import childcare, correcting, next_steps
from thawline.services.board import Board, board
from thawline.services.childcare_rules import deadlines
from thawline.services.people import Home
from thawline.services.permissions import may

_FEEDS = 50  # looked at of one container
# A label of no household of this person; a code that is nowhere; one text that means several containers.
NOT_OURS, UNKNOWN, UNSURE, OTHER_CHILD = "not_ours", "unknown", "unsure", "other_child"
# The computer's clock stands before its newest record.
CLOCK = "clock"
# All that may stop a feed, as it is kept in the ledger.
WHY = (
    OTHER_CHILD, NOT_OURS, UNKNOWN, UNSURE, "gone", "hospital", "drunk", "breached", "past", "held", "outside",
    "frozen", "thawing", CLOCK,
)  # fmt: skip


def for_child(meant_for: str | None, child: str, children: Collection[str]) -> bool:
    """Whether milk that is meant so is for this child too; milk that names none is for every child of the household."""
    if meant_for is None or meant_for == child:
        return child in children
    # What two children's milk was combined into names both; a child may be called like such a pair.
    return child in children and meant_for not in children and child in meant_for.split(" + ")


def against(seen: Board, found: Verdict, child: str, *, held: bool) -> tuple[str, ...]:
    """The codes of what speaks against it, none where it is a match. Under a hospital's care no home limit is named."""
    return tuple(dict.fromkeys(_against(seen, found, child, held=held)))


def _against(seen: Board, found: Verdict, child: str, *, held: bool) -> Iterator[str]:
    if not for_child(found.meant_for, child, [one.name for one in seen.children]):
        yield OTHER_CHILD
    if found.standing == "gone":
        yield "gone"
    elif under_care(seen, found, child):
        yield "hospital"
        if held:
            yield "held"
    else:
        yield from _now(found, held=held)


def drunk_by_another(store: Store, found: Verdict, child: str, *, now: int) -> bool:
    """Whether another child drank from it before, or from what was poured into it: not passed on (ours, no source)."""
    if found.fed_from is None:
        return False
    names, waiting = {found.container}, [found.container]
    while waiting:
        for event in _told(store, waiting.pop(), now):
            if isinstance(event, ev.FeedBegan) and event.container in names and event.child != child:
                return True
            if isinstance(event, ev.Poured) and event.into in names:
                more = {one.container for one in event.from_} - names
                names |= more
                waiting += more
    return False


def _told(store: Store, name: str, now: int) -> list[ev.AnyEvent]:
    """The feeds and pours of a container that count."""
    rows = store.history(before=None, limit=_FEEDS, name=name, kinds=("feed_began", "poured"))
    undone = correcting.voids_of(store, [row.event_id for row in rows], now=now)
    return [correcting.event_of(row) for row in rows if not undone.get(row.event_id) and row.at <= now]


def under_care(seen: Board, found: Verdict | None, child: str) -> bool:
    """Whether only a care team may say what is fed: of this child, or of milk meant for one under its care."""
    if seen.guideline.role == "care_team":
        return False
    return child in seen.settings.hospital or (found is not None and found.use_by is None and found.standing != "gone"
                                               and bool(seen.settings.hospital))  # fmt: skip


def _now(found: Verdict, *, held: bool) -> Iterator[str]:
    if found.standing not in ("fine", "soon", "held"):
        yield found.standing
    if held or found.standing == "held":
        yield "held"
    if found.form == "frozen":
        yield "frozen"
    elif found.form == "thawing" and found.warmed is None:
        yield "thawing"


def next_for(home: Home, child: str, *, now: int) -> Verdict | None:
    """What this child may get next: the first that nothing speaks against; None where there is none."""
    seen = board(home.store, now=now)
    for found in _in_order(home, seen):
        if not against(seen, found, child, held=False) and not drunk_by_another(home.store, found, child, now=now):
            return found
    return None


def _in_order(home: Home, seen: Board) -> list[Verdict]:
    if not may(home.role, "serve"):
        return next_steps.feed_order(seen, home.feed_first, away=childcare.places(home.store))
    service = childcare.service(home.store, home.service)
    if service is None:
        return []
    names = childcare.in_window(home.store, service.name, now=seen.now)
    return [one.found for one in deadlines(home.store, service, names, now=seen.now)]
