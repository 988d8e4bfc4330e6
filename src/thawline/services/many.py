"""Many containers at once: what is where, and one act on several, recorded and undone together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.ledger import Refusal
from thawline.core.times import DAY, local, zone_named
from thawline.core.verdict import Verdict
from thawline.records.store import Row, Store
from thawline.services.acts import Act
from thawline.services.known import fold_kins, known
from thawline.services.looking_ahead import preview

WITHIN = ("fine", "soon")
AWAY_SINCE = 30 * DAY
_PAGE, _MOST = 500, 2000


class Total(NamedTuple):
    """How many containers, the milk in them in mL, and how much of it is not within its limits or held back."""

    containers: int
    ml: float
    barred: int
    barred_ml: float


def total(verdicts: Iterable[Verdict]) -> Total:
    """The sum of some containers."""
    rows = [(one.ml, one.standing in WITHIN) for one in verdicts]
    barred = [ml for ml, within in rows if not within]
    return Total(len(rows), round(sum(ml for ml, _ in rows), 2), len(barred), round(sum(barred), 2))


def oldest_first(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """By the day on the label, then by use-by."""
    return sorted(verdicts, key=lambda one: (one.dated, one.use_by or 0, one.container))


def by_place(verdicts: Iterable[Verdict]) -> dict[str, list[Verdict]]:
    """The containers of each place, oldest first."""
    found: dict[str, list[Verdict]] = {}
    for one in oldest_first(verdicts):
        found.setdefault(one.place or "", []).append(one)
    return found


def by_age(verdicts: Iterable[Verdict], *, now: int, zone: str) -> dict[str, list[Verdict]]:
    """The containers of `this` week, `last` week, and of each month before (`2027-01`), oldest first within."""
    here = zone_named(zone)
    today = local(now, here).date()
    this = today - timedelta(days=today.weekday())
    found: dict[str, list[Verdict]] = {}
    for one in oldest_first(verdicts):
        found.setdefault(_age(local(one.dated, here).date(), this), []).append(one)
    # Newest group first, as the weeks are named.
    return dict(sorted(found.items(), key=lambda item: max(one.dated for one in item[1]), reverse=True))


def _age(day: date, this: date) -> str:
    if day >= this:
        return "this"
    return "last" if day >= this - timedelta(days=7) else f"{day:%Y-%m}"


class Away(NamedTuple):
    """A container that was handed over to someone outside the household's places; its amount in mL."""

    container: str
    ml: float
    to: str
    at: int


def away(store: Store, *, now: int) -> list[Away]:
    """What was handed over in the last thirty days and did not come back, latest first."""
    given = _given(store, now)
    cache = known(store)
    with cache.lock:
        base = cache.ground(store, now)
        keys = sorted({kin.key for kin in store.kins_of(list(given)).values()})
        lines = [line for kin in store.kin_lines(keys).values() for line in kin]
        parts, _ = fold_kins(base, {0: lines}, now) if lines else ({}, {})
    containers = parts[0].containers if parts else {}
    return [
        Away(name, containers[name].ml, event.to, row.at)
        for name, (row, event) in given.items()
        if name in containers and containers[name].away
    ]


def _given(store: Store, now: int) -> dict[str, tuple[Row, ev.HandedOver]]:
    """The latest handing over of each container that still counts, else the latest of all."""
    rows = [row for row in _recent(store, now) if row.kind == "handed_over"]
    voided = store.voided_by([row.event_id for row in rows])
    found: dict[str, tuple[Row, ev.HandedOver]] = {}
    for row in sorted(rows, key=lambda row: (row.event_id in voided, -row.at)):
        event = ev.decoder.decode(row.line)
        if isinstance(event, ev.HandedOver) and event.place is None:
            found.setdefault(event.container, (row, event))
    return found


def _recent(store: Store, now: int) -> list[Row]:
    found: list[Row] = []
    before: tuple[int, str] | None = None
    while len(found) < _MOST:
        rows = store.history(before=before, limit=_PAGE)
        found += [row for row in rows if row.at <= now]
        if len(rows) < _PAGE or rows[-1].at < now - AWAY_SINCE:
            break
        before = rows[-1].at, rows[-1].event_id
    return [row for row in found if row.at >= now - AWAY_SINCE]


# One act on several


def move(act: Act, chosen: Sequence[Verdict], to: str) -> None:
    """They go to a place; those that are there already stay."""
    for one in chosen:
        if one.place != to:
            act.add("moved", container=one.container, to=to)


def each(act: Act, kind: str, chosen: Sequence[Verdict], **fields: str | bool | None) -> None:
    """The same event for each of them."""
    for one in chosen:
        act.add(kind, at=None, container=one.container, **fields)


def count(act: Act, found: Mapping[str, float]) -> None:
    """What is really in each, in mL; nothing where it was not there any more."""
    for name, ml in found.items():
        act.add("counted", container=name, ml=ml)


class Follows(NamedTuple):
    """What would follow of an act: its containers afterwards, the earliest use-by within limits, what does not fit."""

    after: Total
    use_by: int | None
    verdicts: tuple[Verdict, ...]
    refused: tuple[Refusal, ...]
    breached: frozenset[str]


def follows(store: Store, act: Act, *, now: int) -> Follows:
    """What would follow if this act were recorded now; nothing is written."""
    seen = preview(store, act.events, now=now)
    names = {str(event["container"]) for event in act.events if "container" in event}
    there = tuple(one for name, one in seen.after.items() if name in names and one.standing != "gone")
    ends = [one.use_by for one in there if one.standing in WITHIN and one.use_by is not None]
    broken = frozenset(one.container for one in seen.breaches)
    return Follows(total(there), min(ends, default=None), there, seen.refused, broken)
