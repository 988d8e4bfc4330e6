"""A home server's pulse: when it ran, when it was silent without being told to stop, and what was said of that."""

from __future__ import annotations

from typing import NamedTuple

from django.db import connection, transaction

from thawline.core.times import DAY, MINUTE
from thawline.records.ledger.models import Event, Pulse, Silence, SilenceAnswer
from thawline.records.ledger.store import DatabaseStore

# A silence is asked about from so long, and until so long after it.
FROM, ASKED_FOR = 10 * MINUTE, 14 * DAY
# A computer without a clock of its own starts a little before the moment at which it stopped.
BEHIND = DAY
_ONLY = 1


class Quiet(NamedTuple):
    """A stretch in which the server was off, perhaps because the power was; `out` is what was said of it."""

    key: int
    start: int
    end: int
    out: bool | None


def felt() -> bool:
    """Whether this server stands in a home, so that its silence says something of the power there."""
    return bool(connection.vendor == "sqlite")


def beat(now: int, *, fresh: bool) -> None:
    """The server runs at `now`; a gap since it last did, without an order to stop, is kept as a silence.

    `fresh` while it has not run for long: a computer that slept with it running had power.
    """
    last = Pulse.objects.filter(pk=_ONLY).first()
    if last is None:
        Pulse.objects.create(pk=_ONLY, alive_at=now)
        return
    if last.alive_at > now > last.alive_at - BEHIND:
        return
    with transaction.atomic():
        if fresh and not last.ordered and now - last.alive_at >= FROM:
            Silence.objects.create(start=last.alive_at, end=now)
        Pulse.objects.filter(pk=_ONLY).update(alive_at=now, ordered=False)


def stopping(now: int) -> None:
    """The server was told to stop: what follows is no power cut."""
    Pulse.objects.update_or_create(pk=_ONLY, defaults={"alive_at": now, "ordered": True})


def quiet(store: DatabaseStore, *, now: int) -> list[Quiet]:
    """The silences that concern a household, the earliest first, each with its answer."""
    found = list(Silence.objects.filter(end__gt=now - ASKED_FOR, end__lte=now).order_by("start", "pk"))
    if not found:
        return []
    said = dict(SilenceAnswer.objects.filter(household=store.id).values_list("silence_id", "out"))
    first = Event.objects.filter(household=store.id).order_by("revision").values_list("recorded_at", flat=True).first()
    return [
        Quiet(one.pk, one.start, one.end, said.get(one.pk)) for one in found if first is not None and first <= one.start
    ]


def to_ask(store: DatabaseStore, *, now: int) -> Quiet | None:
    """The silence to ask a household about next."""
    return next((one for one in quiet(store, now=now) if one.out is None), None)


def answer(store: DatabaseStore, key: int, *, out: bool) -> None:
    """Remember what a household said of a silence."""
    SilenceAnswer.objects.update_or_create(household_id=store.id, silence_id=key, defaults={"out": out})
