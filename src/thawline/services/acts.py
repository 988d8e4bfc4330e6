"""What people do, written as events: one act is one or more events that are recorded, and undone, together."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from thawline.core.times import (
    DAY,
    HOUR,
    MINUTE,
    SECOND,
    BadTimeError,
    check_date,
    is_date,
    local,
    parse_instant,
    written,
    zone_named,
)
from thawline.records.store import Row

_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)


class BadWhenError(ValueError):
    """A time that can't be used; its text says what to mend."""


class Act:
    """Events done in one go: by whom, at `at` (RFC 3339 or a bare date), under ids of one stem."""

    def __init__(self, act: str, *, by: str, at: str) -> None:
        self.id = act
        self.by = by
        self.at = at
        self.events: list[dict[str, Any]] = []

    @property
    def next_id(self) -> str:
        """The id of the event that is written next."""
        return f"{self.id}.{nth(len(self.events))}"

    def add(self, kind: str, *, at: str | None = None, **fields: object) -> str:
        """Write one event; `None` fields are left out, `is_`, `for_`, `from_` lose their line. Returns its id."""
        name = self.next_id
        event: dict[str, Any] = {"id": name, "at": at or self.at, "kind": kind}
        if self.by:
            event["by"] = self.by
        event.update((key.rstrip("_"), value) for key, value in fields.items() if value is not None)
        self.events.append(event)
        return name

    def fed(
        self, container: str, child: str, *, left_ml: float = 0, open_feed: bool = False, began: str | None = None
    ) -> None:
        """A feed from its beginning (`began`, else the act's time) to its end; where it is open, only its end."""
        if not open_feed:
            self.add("feed_began", at=began, container=container, child=child)
        self.add("feed_ended", container=container, left_ml=left_ml)


def nth(number: int) -> str:
    """A number that sorts as a text, for events of one moment are taken in the order of their ids: "9", "a10"."""
    text = str(number)
    return text if len(text) == 1 else f"{chr(ord('a') + len(text) - 2)}{text}"


def written_now(now: int, zone: str) -> str:
    """The present as it is written in the ledger, on the household's clock.

    To the millisecond: two taps within one second must keep their order.
    """
    return written(now - now % MILLISECOND, zone_named(zone))


def next_time(clock: str, zone: ZoneInfo, now: int) -> int:
    """The next moment at which a clock there shows a time ("07:00"); raises `BadWhenError`."""
    if not _CLOCK.fullmatch(clock):
        raise BadWhenError("Write the time like 07:00.")
    for days in range(3):
        try:
            at = moment(f"{local(now + days * DAY, zone).date().isoformat()}T{clock}", zone)
        except BadWhenError:
            # The clocks go past it on that day.
            continue
        if at > now:
            return at
    return now


MILLISECOND = SECOND // 1000
AGO = {"now": 0, "15": 15 * MINUTE, "30": 30 * MINUTE, "60": HOUR, "120": 2 * HOUR}
_FIELD_ORDER = ("at", "on")


def when(choice: str, at: str, on: str, *, now: int, zone: str) -> str:
    """The `at` of an event from the "When?" field; raises `BadWhenError`.

    `choice` is `now`, minutes ago, `at` (then `at` is a local time `2027-02-03T07:10`) or `on` (then `on` is a day).
    A local time that came twice is taken as the earlier one; one that never came has to be mended.
    """
    here = zone_named(zone)
    if choice in AGO:
        return written_now(now - AGO[choice], zone)
    if choice not in _FIELD_ORDER:
        raise BadWhenError("Choose when it was.")
    try:
        if choice == "on":
            check_date(on)
            if on > local(now, here).date().isoformat():
                raise BadWhenError("That day is still ahead. Choose today or a day before.")
            return on
        return _local_time(at, now=now, zone=zone)
    except BadTimeError as fault:
        raise BadWhenError("Write the day and the time, such as 2027-02-03 07:10.") from fault


def _local_time(text: str, *, now: int, zone: str) -> str:
    here = zone_named(zone)
    instant = moment(text, here)
    if instant > now + 2 * MINUTE:
        raise BadWhenError("That time is still ahead. Choose now or a time before.")
    if instant < now - 3700 * DAY:
        raise BadWhenError("That is more than ten years ago. Look at the year.")
    # The phone's clock may be a little ahead; what is noted has happened.
    return written(min(instant, now - now % SECOND), here)


def moment(text: str, zone: ZoneInfo) -> int:
    """The instant of a local time such as `2027-02-03 07:10`, the earlier one where it came twice.

    Raises `BadTimeError` where it can't be read, and `BadWhenError` where the clocks went past it.
    """
    try:
        naive = datetime.fromisoformat(text.strip()).replace(tzinfo=None, microsecond=0)
        instant = int(naive.replace(tzinfo=zone, fold=0).timestamp()) * SECOND
        there = local(instant, zone).replace(tzinfo=None) == naive
    except (ValueError, OverflowError) as fault:
        raise BadTimeError(text) from fault
    if not there:
        raise BadWhenError("There was no such time: the clocks went forward that night. Look at the hour once more.")
    return instant


def before(at: str, minutes: int, *, zone: str) -> str:
    """So many minutes before a time as written; a bare date stays as it is."""
    return at if is_date(at) else written(parse_instant(at) - minutes * MINUTE, zone_named(zone))


def void(ids: Sequence[str], *, under: str, by: str, at: str, why: str = "undone") -> Act:
    """Take single events back."""
    undoing = Act(under, by=by, at=at)
    for event_id in ids:
        undoing.add("voided", event=event_id, why=why)
    return undoing


def correction(row: Row, changed: Mapping[str, Any], *, under: str, by: str, at: str) -> Act:
    """A void of an event and its replacement: recorded both or neither."""
    mended = Act(under, by=by, at=at)
    correct(mended, row, changed)
    return mended


def correct(act: Act, row: Row, changed: Mapping[str, Any]) -> None:
    """Write a void of an event and, right after it, its replacement; what is not changed stays as it was."""
    act.add("voided", event=row.event_id, why="corrected")
    fields = {**msgspec.json.decode(row.line), **changed}
    kind, when_at = str(fields.pop("kind")), str(fields.pop("at"))
    event = {"id": act.next_id, "at": when_at, "kind": kind}
    event.update((key, value) for key, value in fields.items() if key != "id" and value is not None)
    act.events.append(event)


__all__ = [
    "AGO",
    "Act",
    "BadWhenError",
    "Row",
    "before",
    "correct",
    "correction",
    "moment",
    "nth",
    "void",
    "when",
    "written_now",
]
