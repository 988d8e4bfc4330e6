"""The last weeks out of a store, kept between two looks: only what changed is read and folded anew."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterator, Sequence

from thawline.core import events as ev
from thawline.core.times import DAY
from thawline.records.store import Row, Store
from thawline.services.feeding_past import Past, Tale, away_in, joined, told
from thawline.services.known import Ground, fold_kins
from thawline.services.plan_figures import figure

_HOUSEHOLDS = 64
_PAGE = 1000
_TOUCHING = ("feed_ended", "expressed")
_BESIDE = ("nursed", "fed_other", "day_complete")
_PLACES = ("handed_over", "received", "returned", "expressed", "moved")
_WEIGHTS = 40


class _Kept:
    """What the kins of one household told, by kin and its revision, and the whole as it was last put together."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self.ground: object = None
        self.kins: dict[int, tuple[int, Tale]] = {}
        self.whole: tuple[object, Past] | None = None
        self.wakes: int | None = None
        self.weighed: tuple[int, list[Row]] | None = None


_kept: OrderedDict[str, _Kept] = OrderedDict()
_lock = threading.Lock()


def past_in(store: Store, base: Ground, now: int) -> Past:
    """The last weeks of a household's ledger at `now`; `base` is its ground."""
    with _lock:
        kept = _kept.setdefault(store.key, _Kept())
        _kept.move_to_end(store.key)
        while len(_kept) > _HOUSEHOLDS:
            _kept.popitem(last=False)
    with kept.lock:
        standing = store.standing()
        under = (standing.revision, standing.settings_revision, now // DAY)
        woken = kept.wakes is not None and kept.wakes <= now
        if kept.whole is None or kept.whole[0] != under or woken or _ahead(kept.whole[1], now):
            if kept.ground != standing.settings_revision:
                kept.ground, kept.kins = standing.settings_revision, {}
            kept.whole = (under, _read(store, base, kept, now))
        return kept.whole[1]


def _ahead(past: Past, now: int) -> bool:
    """Whether what was read may hold what has not happened at this moment: the clock went back."""
    latest = max((rows[-1].at for rows in (past.feeds, past.others, past.sessions, past.weights) if rows), default=0)
    return latest > now


def _read(store: Store, base: Ground, kept: _Kept, now: int) -> Past:
    since = now - int(figure("past", "days") * DAY)
    recent = list(_since(store, since))
    # What lies ahead comes true without being recorded anew.
    kept.wakes = min((row.at for row in recent if row.at > now), default=None)
    names = sorted({
        name for row in recent if row.kind in _TOUCHING for name in _names(ev.decoder.decode(row.line))
    })  # fmt: skip
    rows = {row.key: row for row in store.kins_of(names).values()}
    stale = [key for key, row in rows.items() if kept.kins.get(key, (0, None))[0] != row.revision]
    if stale:
        parts, wakes = fold_kins(base, store.kin_lines(stale), now)
        for key, part in parts.items():
            # What lies ahead comes true without a new revision.
            revision = rows[key].revision if wakes.get(key) is None else -1
            kept.kins[key] = (revision, told(part))
    kept.kins = {key: kept.kins[key] for key in rows if key in kept.kins}
    beside = [*(row for row in recent if row.kind in _BESIDE), *_weights(store, kept)]
    known = [(row.at, ev.decoder.decode(row.line)) for row in _standing(store, beside)]
    away = _away(store, [row for row in recent if row.at <= now])
    return joined((tale for _, tale in kept.kins.values()), known, since=since, now=now, away=away)


def _away(store: Store, rows: Sequence[Row]) -> frozenset[str]:
    """Places that are not the family's own; voids are looked for among the events of such places only."""
    read = [(row, ev.decoder.decode(row.line)) for row in rows if row.kind in _PLACES]
    maybe = away_in(event for _, event in read if isinstance(event, (ev.HandedOver, ev.Received)))
    there = [row for row, event in read if _goes_to(event) in maybe]
    return away_in(ev.decoder.decode(row.line) for row in _standing(store, there)) if maybe else frozenset()


def _goes_to(event: ev.AnyEvent) -> str | None:
    return event.to if isinstance(event, ev.Moved) else getattr(event, "place", None)


def _names(event: ev.AnyEvent) -> list[str]:
    if isinstance(event, ev.Expressed):
        return [portion.container for portion in event.into]
    name = getattr(event, "container", None)
    return [name] if isinstance(name, str) else []


def _weights(store: Store, kept: _Kept) -> list[Row]:
    """The last weights, however long ago: looked for through the whole ledger only where some came since."""
    revision = store.standing().revision
    if kept.weighed is None or (revision != kept.weighed[0] and "weighed" in store.kinds_after(kept.weighed[0])):
        kept.weighed = (revision, store.history(before=None, limit=_WEIGHTS, kinds=("weighed",)))
    else:
        kept.weighed = (revision, kept.weighed[1])
    return kept.weighed[1]


def _since(store: Store, since: int) -> Iterator[Row]:
    """The events from an instant on, latest first.

    Asked for by time alone: a kind that is rare would be looked for through the whole ledger.
    """
    before: tuple[int, str] | None = None
    while True:
        rows = store.history(before=before, limit=_PAGE)
        for row in rows:
            if row.at < since:
                return
            yield row
        if len(rows) < _PAGE:
            return
        before = (rows[-1].at, rows[-1].event_id)


def _standing(store: Store, rows: Sequence[Row]) -> list[Row]:
    """Those that no void takes back; a void that is void itself takes nothing back."""
    gone = _voided(store, [row.event_id for row in rows], depth=8)
    return [row for row in rows if row.event_id not in gone]


def _voided(store: Store, ids: Sequence[str], *, depth: int) -> set[str]:
    voids = store.voided_by(ids) if ids else {}
    every = sorted({name for names in voids.values() for name in names})
    if not every or depth == 0:
        return set(voids)
    gone = _voided(store, every, depth=depth - 1)
    return {name for name, names in voids.items() if set(names) - gone}
