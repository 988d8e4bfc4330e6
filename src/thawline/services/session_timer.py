"""A running session of expressing: kept for its person on the server, on every phone of theirs, until it is logged."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, NamedTuple

import msgspec
from django.db import transaction

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.records.ledger.models import Household
from thawline.services.people import Home

Side = Literal["left", "right", "both"]
SIDES: tuple[Side, ...] = ("left", "right", "both")
_KEY = "sessions_running"
# When to ask whether it is still going, and from when on it can only have been forgotten; ours.
ASK_AFTER, FORGOTTEN = 2 * HOUR, DAY


class Part(msgspec.Struct, frozen=True):
    """From an instant on, on this side; None where nobody said which. In microseconds."""

    at: int
    side: Side | None = None


class Timer(msgspec.Struct, frozen=True):
    """A session: its parts in order, when it was stopped, and when its person said that it is still going."""

    parts: tuple[Part, ...]
    stopped: int | None = None
    seen: int | None = None

    @property
    def started(self) -> int:
        """When it began, in microseconds."""
        return self.parts[0].at

    def side(self) -> Side | None:
        """The side that runs, or ran last."""
        return self.parts[-1].side

    def length(self, now: int) -> int:
        """How long it has run, in microseconds of elapsed time."""
        return max(0, self._end(now) - self.started)

    def _end(self, now: int) -> int:
        return now if self.stopped is None else self.stopped

    def by_side(self, now: int) -> dict[Side | None, int]:
        """How long on each side, in microseconds."""
        found: dict[Side | None, int] = {}
        ends = [*(part.at for part in self.parts[1:]), self._end(now)]
        for part, end in zip(self.parts, ends, strict=True):
            found[part.side] = found.get(part.side, 0) + max(0, end - part.at)
        return {side: length for side, length in found.items() if length}

    def whole_side(self) -> Side | None:
        """The side as the ledger has it: one of them, or both where they took turns; None where nobody said."""
        sides = {part.side for part in self.parts} - {None}
        return next(iter(sides)) if len(sides) == 1 else ("both" if sides else None)

    def minutes(self, now: int) -> int:
        """Whole minutes, at least one and at most a day's."""
        return min(max(1, round(self.length(now) / MINUTE)), DAY // MINUTE)

    def asks(self, now: int) -> bool:
        """Whether to ask if it is still going."""
        return self.stopped is None and now - max(self.started, self.seen or 0) > ASK_AFTER


class Summed(NamedTuple):
    """A stopped session as the form takes it: its start in microseconds, whole minutes, and the side."""

    started: int
    minutes: int
    side: Side | None


def running(home: Home) -> Timer | None:
    """The session of this person, running or stopped and not yet logged; None where there is none."""
    found = Household.objects.filter(pk=home.store.id).values_list("preferences", flat=True).first() or {}
    return _read(found, home.member_id)


def _read(preferences: dict[str, Any], member: int) -> Timer | None:
    kept = preferences.get(_KEY)
    try:
        found = msgspec.convert(kept.get(str(member)) if isinstance(kept, dict) else None, type=Timer | None)
    except msgspec.ValidationError:
        return None
    return found if found is not None and found.parts else None


def _change(home: Home, change: Callable[[Timer | None], Timer | None]) -> None:
    with transaction.atomic():
        house = Household.objects.select_for_update().get(pk=home.store.id)
        old = _read(house.preferences, home.member_id)
        new = change(old)
        if new == old:
            return
        kept = house.preferences.get(_KEY)
        every = dict(kept) if isinstance(kept, dict) else {}
        every.pop(str(home.member_id), None)
        if new is not None:
            every[str(home.member_id)] = msgspec.to_builtins(new)
        house.preferences = {**house.preferences, _KEY: every}
        house.save(update_fields=["preferences"])


def start(home: Home, side: Side | None, *, now: int) -> None:
    """Begin; one that runs already goes on."""
    _change(home, lambda old: old or Timer((Part(now, side),)))


def switch(home: Home, side: Side, *, now: int) -> None:
    """Go on at another side; where nobody had said which, it is taken to have been this one from the start."""

    def change(old: Timer | None) -> Timer | None:
        if old is None or old.stopped is not None or old.side() == side:
            return old
        if old.side() is None:
            return msgspec.structs.replace(old, parts=(*old.parts[:-1], Part(old.parts[-1].at, side)))
        return msgspec.structs.replace(old, parts=(*old.parts, Part(max(now, old.parts[-1].at), side)))

    _change(home, change)


def stop(home: Home, *, now: int, minutes: int | None = None) -> None:
    """End it now, or so many minutes after its start; one that has ended keeps its end."""

    def change(old: Timer | None) -> Timer | None:
        if old is None or old.stopped is not None:
            return old
        end = now if minutes is None else min(now, old.started + minutes * MINUTE)
        parts = tuple(part for part in old.parts if part.at < end) or old.parts[:1]
        return msgspec.structs.replace(old, parts=parts, stopped=max(end, old.started))

    _change(home, change)


def go_on(home: Home, *, now: int) -> None:
    """Stopped by mistake: it goes on as if it had not been; or it is still going after a long time."""
    _change(home, lambda old: old and msgspec.structs.replace(old, stopped=None, seen=now))


def forget(home: Home, *, started: int | None = None) -> None:
    """Throw it away; with `started` only the one that began then, for another phone may have begun the next."""
    _change(home, lambda old: None if old is None or started in (None, old.started) else old)


def summed(timer: Timer, *, now: int) -> Summed:
    """What the form takes of it."""
    return Summed(timer.started, timer.minutes(now), timer.whole_side())
