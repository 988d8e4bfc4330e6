"""What to do by when: use, freeze, move to thaw, sanitise the kit.

One entry for each container, not one for a group: its key then names that container for as long as it is there, so
that a new deadline changes the entry of that one, which goes when the container goes. So that a full freezer does not
ring sixty times, only the first of those that come due in the same hour (of the same day for frozen milk) rings.

Milk that is past, breached, held back or without a time has no entry: it needs a hand now, and a calendar is read late.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Sequence
from typing import Literal, NamedTuple

from thawline.core.times import DAY, HOUR, MINUTE, local, zone_named
from thawline.core.verdict import Verdict
from thawline.services import board as boards
from thawline.services import habits, kit
from thawline.services.agenda_thaw import thaws
from thawline.services.board import Board
from thawline.services.childcare_rules import at_services
from thawline.services.people import Home

Kind = Literal["freeze", "use", "thaw", "kit"]
KINDS: tuple[Kind, ...] = ("freeze", "use", "thaw", "kit")
# What one is told: of milk that may still be frozen until the moment it has to be used, both at once.
Says = Literal["freeze", "use", "use_or_freeze", "thaw", "kit"]
# Further ahead than any published limit reaches.
FAR_DAYS = 800
# How long before it rings, by how long the limit allows in all; ours, only comfort hangs on it.
_LEADS: tuple[tuple[int, tuple[int, ...]], ...] = (
    (5 * HOUR, (30 * MINUTE,)),
    (36 * HOUR, (2 * HOUR,)),
    (15 * DAY, (12 * HOUR, 2 * HOUR)),
)
_FROZEN_LEADS, _KIT_LEADS, _THAW_LEADS = (14 * DAY, 2 * DAY), (HOUR,), (15 * MINUTE,)


class Due(NamedTuple):
    """Something to do by an instant; times in microseconds, amounts in mL.

    `key` is the same as long as it is about the same container. `by` equals the board's `use_by`, at a childcare
    service with its rule as well, or the option's `not_after`; `since`: from when it fits best (thaw). `may_freeze`:
    it may be frozen until `by` as well. `place`: where it is, or goes to (thaw). `leads`: how long before `by` it
    rings, empty where another one rings for it;
    `with_it`: the others for which this one rings. `span`: how long the limit allows in all.
    """

    key: str
    kind: Kind
    container: str
    by: int
    since: int | None = None
    place: str | None = None
    ml: float = 0.0
    best_by: int | None = None
    may_freeze: bool = False
    estimated: bool = False
    says: str = ""
    source: str = ""
    span: int = 0
    leads: tuple[int, ...] = ()
    with_it: tuple[str, ...] = ()


def agenda(home: Home, *, now: int, days: int = 14) -> list[Due]:
    """What is due in the next days, the earliest first; raises `GuidelineError`."""
    found = boards.board(home.store, now=now)
    dues = [*_milk(home, found), *_thaw(home, found), *_kit(home, found)]
    zone = zone_named(found.settings.zone)
    near = sorted((one for one in dues if one.by <= now + days * DAY), key=lambda one: (one.by, one.key))
    groups: dict[tuple[object, ...], list[Due]] = {}
    for one in near:
        at = local(one.by, zone)
        hour = at.hour if one.span <= 15 * DAY else None
        groups.setdefault((one.kind, one.may_freeze, at.date(), hour), []).append(one)
    return sorted((one for group in groups.values() for one in _ringing(group)), key=lambda one: (one.by, one.key))


def told(due: Due, about: Collection[str]) -> Says | None:
    """What someone is told of it who wants to know of these kinds; None where it is nothing of theirs."""
    if not due.may_freeze:
        return due.kind if due.kind in about else None
    if "freeze" in about:
        return "use_or_freeze" if "use" in about else "freeze"
    return "use" if "use" in about else None


def key_of(kind: Kind, container: str) -> str:
    """The same for as long as it is about the same container."""
    return f"{kind}-{hashlib.sha256(container.encode()).hexdigest()[:32]}"


def _ringing(group: Sequence[Due]) -> Iterator[Due]:
    """Of those that come due together the first rings for all."""
    first, *rest = group
    yield first._replace(leads=leads(first), with_it=tuple(one.container for one in rest))
    yield from rest


def leads(due: Due) -> tuple[int, ...]:
    """How long before its time it is to be heard of, the longest first (microseconds)."""
    if due.kind == "kit":
        return _KIT_LEADS
    if due.kind == "thaw":
        return _THAW_LEADS if due.since is None else (due.by - due.since,)
    return next((found for longest, found in _LEADS if due.span <= longest), _FROZEN_LEADS)


def _milk(home: Home, found: Board) -> Iterator[Due]:
    """Milk within its limits; where no home limit may be shown, the board has none either."""
    strict = at_services(home.store, now=found.now)
    rows = [strict.get(one.container, one) for one in found.verdicts]
    within = [one for one in rows if one.standing in ("fine", "soon") and one.use_by is not None]
    # Milk that thaws was taken out to be used: that it might go back for some minutes is no date. What lies at a
    # service is not at hand to be frozen.
    fresh = [one.container for one in within if one.form == "fresh" and one.container not in strict]
    options = boards.with_options(home.store, fresh, now=found.now)
    for one in within:
        may = options[one.container].options if one.container in options else ()
        freeze = next((o for o in may if o.do == "freeze"), None)
        same = freeze is not None and freeze.not_after == one.use_by
        yield _of(one, "use", one.use_by or 0)._replace(may_freeze=same)
        if freeze is not None and not same:
            yield _of(one, "freeze", freeze.not_after)


def _of(one: Verdict, kind: Kind, by: int) -> Due:
    why = one.why[0] if one.why else None
    best = one.best_by if one.best_by != one.use_by else None
    return Due(
        key_of(kind, one.container), kind, one.container, by, None, one.place, one.ml, best, estimated=one.estimated,
        says="" if why is None else why.says, source="" if why is None else why.source,
        span=0 if why is None else by - why.start,
    )  # fmt: skip


def _thaw(home: Home, found: Board) -> Iterator[Due]:
    """What the plan wants thawed; without frozen milk no plan is made."""
    now = found.now
    if not any(one.form == "frozen" for one in found.verdicts):
        return
    for one in thaws(home.store, habits.read(home.preferences), now=now):
        since = one.at if now < one.at < one.by else None
        for container in one.containers:
            yield Due(key_of("thaw", container), "thaw", container, one.by, since, one.to)


def _kit(home: Home, found: Board) -> Iterator[Due]:
    """The daily time; a kit that waits for its next use, or is cleaned after each, needs no date of its own."""
    one = kit.sanitising(home.store, now=found.now)
    if one.cadence == "daily" and one.due_at is not None and one.last_at is not None and one.used and not one.unit:
        yield Due("kit", "kit", "", one.due_at, says=one.says, source=one.source, span=one.due_at - one.last_at)
