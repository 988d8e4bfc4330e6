"""What the plan wants moved to thaw, kept for an hour: a calendar that is read often gets the same answer."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import NamedTuple

from thawline.core.times import HOUR
from thawline.records.store import Store
from thawline.services.habits import Habits
from thawline.services.plan import plan_now
from thawline.services.plan_kinds import PlanChore

_HOUSEHOLDS = 64
_FRESH = HOUR


class _Kept(NamedTuple):
    """Chores, and what they were made from."""

    revision: int
    habits: Habits
    at: int
    chores: tuple[PlanChore, ...]


_kept: OrderedDict[str, _Kept] = OrderedDict()
_lock = threading.Lock()


def thaws(store: Store, habits: Habits, *, now: int) -> tuple[PlanChore, ...]:
    """The plan's chores of thawing that are still ahead, in its usual days; raises `GuidelineError`."""
    revision = store.standing().revision
    with _lock:
        found = _kept.get(store.key)
    if found is None or (found.revision, found.habits) != (revision, habits) or not 0 <= now - found.at < _FRESH:
        chores = plan_now(store, habits, now=now, refine=False).chores
        found = _Kept(revision, habits, now, tuple(one for one in chores if one.does == "thaw" and one.containers))
        with _lock:
            _kept[store.key] = found
            _kept.move_to_end(store.key)
            while len(_kept) > _HOUSEHOLDS:
                _kept.popitem(last=False)
    return tuple(one for one in found.chores if one.by >= now)
