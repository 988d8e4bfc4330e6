"""What the guidelines in force allow, found by asking the core about milk that is not there: no figure, no guideline.

Hours. A field is None where the guidelines give no time for it, or the household has no such place.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from thawline.core.places import FREEZERS
from thawline.core.replay import Library, rules_of
from thawline.core.times import DAY, HOUR, MINUTE, SECOND, written, zone_named
from thawline.core.verdict import Verdict
from thawline.services.board import PlaceNow, coldness
from thawline.services.known import Ground, fold_kins, judged
from thawline.services.recording import line_of

_KEPT = 256
_FRESH, _FROZEN, _THAWED, _ROOM = "asked.fresh", "asked.frozen", "asked.thawed", "asked.room"


class Terms(NamedTuple):
    """How long milk may be kept, in hours, in the household's own places and under the guidelines in force.

    `fridge` and `freezer` name the places that were asked about. `fresh_h`: chilled at once, from expression;
    `room_h`: on the counter; `freeze_by_h`: until when it may go into the freezer; `frozen_h`: there;
    `thawed_h`: in the refrigerator, strictly from leaving the freezer; `water_h`: thawed in warm water;
    `leftover_h`, `leftover_thawed_h`: from the feed's beginning.
    """

    fridge: str | None = None
    freezer: str | None = None
    room: str | None = None
    fresh_h: float | None = None
    room_h: float | None = None
    freeze_by_h: float | None = None
    frozen_h: float | None = None
    thawed_h: float | None = None
    water_h: float | None = None
    leftover_h: float | None = None
    leftover_thawed_h: float | None = None


_kept: OrderedDict[tuple[object, ...], Terms] = OrderedDict()
_lock = threading.Lock()


def under(base: Ground, also: Sequence[str]) -> Ground:
    """The same ground with further overlays in force; raises `GuidelineError`."""
    more = [name for name in also if name and name not in base.settings.also]
    if not more:
        return base
    rules = rules_of(base.settings, None, (*base.settings.also, *more), Library())
    return base._replace(rules=rules)


def terms(base: Ground, *, now: int, away: Collection[str] = ()) -> Terms:
    """What is allowed from `now` on in places that are not `away`; asked once a day for the same settings and readings.

    Once a minute while the power is out somewhere, once an hour where it was.
    """
    lines = {name: line for name, line in sorted(base.places.lines.items()) if name not in away}
    kinds = tuple((name, line.kind_at(now), line.temp_at(now)) for name, line in lines.items())
    cuts = tuple((name, tuple(line.outages)) for name, line in lines.items() if line.outages)
    out = any(back is None for _, rows in cuts for _, back, _ in rows)
    when = now // (MINUTE if out else HOUR if cuts else DAY)
    rules = tuple(one.id for one in base.rules.all)
    key = (rules, kinds, cuts, base.settings.zone, when)
    with _lock:
        found = _kept.get(key)
    if found is None:
        found = _asked(base, now, away)
        with _lock:
            _kept[key] = found
            while len(_kept) > _KEPT:
                _kept.popitem(last=False)
    return found


def place_of(base: Ground, now: int, *kinds: str, away: Collection[str] = ()) -> str | None:
    """The coldest of the household's places of these kinds that are not `away`."""
    rows = [
        PlaceNow(name, line.kind_at(now), line.temp_at(now))
        for name, line in sorted(base.places.lines.items())
        if name not in away
    ]
    return max((row for row in rows if row.kind in kinds), key=coldness, default=PlaceNow("", "", None)).name or None


def _asked(base: Ground, now: int, away: Collection[str]) -> Terms:
    fridge, room = (place_of(base, now, kind, away=away) for kind in ("refrigerator", "room"))
    freezer = place_of(base, now, *FREEZERS, away=away)
    # Whole seconds: what is written is what is asked.
    now -= now % SECOND
    found = _verdicts(base, _lines(base, now, fridge, freezer, room), now)
    fresh, frozen, thawed = found.get(_FRESH), found.get(_FROZEN), found.get(_THAWED)
    return Terms(
        fridge, freezer, room,
        _hours(fresh.use_by if fresh else None, now),
        _hours(found[_ROOM].use_by if _ROOM in found else None, now),
        _last(fresh, "freeze", now), _hours(frozen.use_by if frozen else None, now),
        _then(frozen, "thaw", now), _then(frozen, "warm", now), _then(fresh, "feed", now), _then(thawed, "feed", now),
    )  # fmt: skip


def _lines(base: Ground, now: int, fridge: str | None, freezer: str | None, room: str | None) -> list[bytes]:
    at = written(now, zone_named(base.settings.zone))
    fresh: dict[str, Any] = {"kind": "expressed", "at": at}
    stocked: dict[str, Any] = {"kind": "stocked", "at": at, "expressed": at, "ml": 100}
    rows = [
        (fridge, {**fresh, "into": [{"container": _FRESH, "ml": 100}]}),
        (room, {**fresh, "into": [{"container": _ROOM, "ml": 100}]}),
        (freezer, {**stocked, "container": _FROZEN, "form": "frozen"}),
        (fridge, {**stocked, "container": _THAWED, "form": "thawed"}),
    ]
    return [
        line_of({"id": f"asked.{number}", **row, "place": place})
        for number, (place, row) in enumerate(rows)
        if place is not None
    ]


def _verdicts(base: Ground, lines: list[bytes], now: int) -> dict[str, Verdict]:
    if not lines or not base.lines:
        return {}
    # A hospital's care silences home limits for milk of nobody in particular; whoever asks has looked at that.
    base = base._replace(settings=base.settings._replace(hospital=set()))
    parts, _ = fold_kins(base, {0: lines}, now)
    found = judged(base, parts[0], now, options=True)
    return {one.container: one for one in found if one.standing in ("fine", "soon")}


def _hours(at: int | None, now: int) -> float | None:
    return None if at is None else (at - now) / HOUR


def _last(found: Verdict | None, do: str, now: int) -> float | None:
    return next((_hours(one.not_after, now) for one in found.options if one.do == do), None) if found else None


def _then(found: Verdict | None, do: str, now: int) -> float | None:
    return next((_hours(one.then_use_by, now) for one in found.options if one.do == do), None) if found else None
