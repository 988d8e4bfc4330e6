"""Which entry of a calendar has changed since it was last read, so that a phone takes the newer one."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import msgspec
from django.db import transaction

from thawline.core.times import DAY, SECOND
from thawline.records.accounts.models import CalendarEntry
from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore
from thawline.services.agenda import Due

# What is gone for so long is in no phone any more.
_KEPT = 90 * DAY


class Entry(NamedTuple):
    """Something due, how often it changed, and when it was first told as it is now (a whole second, microseconds)."""

    due: Due
    sequence: int
    at: int


def entries(store: DatabaseStore, dues: Sequence[Due], *, now: int, manner: object = None) -> list[Entry]:
    """All that a household has due, each with its count of changes; reading what has not changed writes nothing.

    `manner`: in which zone and units it is told, since another one changes every entry.
    """
    digests = {one.key: _digest(one, manner) for one in dues}
    rows = _rows(store)
    if _changed(rows, digests):
        rows = _write(store, digests, now - now % SECOND)
    return [Entry(one, rows[one.key].sequence, rows[one.key].at) for one in dues]


def _digest(due: Due, manner: object) -> str:
    return hashlib.sha256(msgspec.json.encode([due, manner])).hexdigest()


def _rows(store: DatabaseStore) -> dict[str, CalendarEntry]:
    return {row.key: row for row in CalendarEntry.objects.filter(household=store.id)}


def _changed(rows: Mapping[str, CalendarEntry], digests: Mapping[str, str]) -> list[str]:
    """The keys whose content is another one than before; what went has none."""
    keys: Iterable[str] = dict.fromkeys([*rows, *digests])
    return [key for key in keys if (rows[key].digest if key in rows else "") != digests.get(key, "")]


def _write(store: DatabaseStore, digests: Mapping[str, str], now: int) -> dict[str, CalendarEntry]:
    with transaction.atomic():
        # Two phones that read at one moment take turns.
        Household.objects.select_for_update().get(pk=store.id)
        rows = _rows(store)
        for key in _changed(rows, digests):
            digest, row = digests.get(key, ""), rows.get(key)
            if row is None:
                CalendarEntry.objects.create(household_id=store.id, key=key, digest=digest, at=now)
            else:
                # A stamp never goes back, whatever the computer's clock does.
                newer = max(now, row.at + SECOND)
                CalendarEntry.objects.filter(pk=row.pk).update(digest=digest, sequence=row.sequence + 1, at=newer)
        CalendarEntry.objects.filter(household=store.id, digest="", at__lt=now - _KEPT).delete()
        return _rows(store)
