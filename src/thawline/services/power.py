"""A power cut: what it means for each refrigerator and freezer, how it is told, and what was found afterwards."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.house import House
from thawline.core.places import FREEZERS
from thawline.core.times import DAY, SECOND, parse_instant, written, zone_named
from thawline.core.verdict import Verdict
from thawline.records.store import Row, Store
from thawline.services import acts, correcting
from thawline.services.acts import Act, BadWhenError
from thawline.services.board import Board, PlaceNow
from thawline.services.known import Ground, known, names_touched
from thawline.services.power_hours import POWERED, Hours, Outage, Warming, hours, outages, shortened, warming

FILLS = ("full", "half", "little")
# How long after its end a cut is still asked about.
ASKED_FOR = 3 * DAY
_CUT_KINDS = ("power_lost", "power_back")
_LOOK_KINDS = ("thaw_seen", "measured")
_ARRIVALS = ("expressed", "stocked", "moved", "poured", "received", "returned")
_ROWS = 400


Cut = Outage


class Rules(NamedTuple):
    """The published figures that a page names: hours by kind and fill, the line in degrees Celsius, and who says so."""

    house: House
    source: str
    line_c: float
    above_for: int

    def published(self, kind: str, fill: str | None) -> int | None:
        """The published hours of a closed box, in microseconds."""
        return self.house.power_hours(kind, fill)


def _ground(store: Store, now: int) -> Ground:
    cache = known(store)
    with cache.lock:
        return cache.ground(store, now)


def rules(store: Store, *, now: int) -> Rules:
    """What is published on power cuts."""
    house = _ground(store, now).rules.house
    return Rules(house, str(house.power["source"]), house.for_good_above_c, house.for_good)


def out_now(store: Store, *, now: int) -> list[tuple[str, int]]:
    """The places that are without power at the moment, each with the moment it went: for a first page."""
    lines = _ground(store, now).places.lines
    return [
        (name, lost)
        for name, line in sorted(lines.items())
        for lost, back, _ in line.outages
        if back is None and lost <= now
    ]


def cuts(store: Store, *, now: int) -> list[Cut]:
    """Every cut that the household noted, the earliest first."""
    base = _ground(store, now)
    found = outages(base.places.lines, house=base.rules.house, now=now)
    return sorted(found, key=lambda cut: (cut.lost, _warmer_first(cut.kind), cut.place))


def began_at_c(store: Store, cut: Cut, *, now: int) -> float | None:
    """How warm it was in a place when the power went, in degrees Celsius, as far as anybody knew."""
    return _ground(store, now).places.lines[cut.place].temp_at(cut.lost)


def _warmer_first(kind: str) -> int:
    return POWERED.index(kind) if kind in POWERED else len(POWERED)


def current(found: Sequence[Cut], now: int) -> list[Cut]:
    """The places without power now; where there are none, those of the latest cut, while it is still asked about."""
    lasting = [cut for cut in found if cut.back is None]
    if lasting:
        return lasting
    ended = [cut for cut in found if cut.back is not None and now - cut.back <= ASKED_FOR]
    last = max((cut.back for cut in ended if cut.back is not None), default=None)
    return [cut for cut in ended if cut.back == last]


def to_lose(board: Board) -> list[PlaceNow]:
    """The places that a power cut touches."""
    return sorted(board.of_kind(*POWERED), key=lambda place: (_warmer_first(place.kind), place.name))


def any_to_lose(store: Store, *, now: int) -> bool:
    """Whether the household has a place that a power cut touches."""
    return any(line.kind_at(now) in POWERED for line in _ground(store, now).places.lines.values())


# Telling it


def begin(act: Act, board: Board, lasting: Iterable[Cut]) -> None:
    """The power went: for every refrigerator and freezer that is not without it already."""
    out = {cut.place for cut in lasting if cut.back is None}
    for place in to_lose(board):
        if place.name not in out:
            act.add("power_lost", place=place.name)


def end(act: Act, lasting: Iterable[Cut]) -> None:
    """The power is back: for every place that was without it; raises `BadWhenError`."""
    for cut in lasting:
        if cut.back is None:
            _after(act.at, cut.lost)
            act.add("power_back", place=cut.place)


def _after(at: str, lost: int) -> None:
    if len(at) > len("2027-02-03") and parse_instant(at) < lost:
        raise BadWhenError("That is before the power went off. Look at the time once more.")


def spanned(act: Act, board: Board, found: Sequence[Cut], *, lost: str, back: str) -> None:
    """A cut that is over: the power went at `lost` and came back at `back` (RFC 3339) everywhere.

    What is noted of that time already stands; where an end is missing, it is added. Raises `BadWhenError`.
    """
    start, end_ = parse_instant(lost), parse_instant(back)
    _after(back, start + 1)
    for place in to_lose(board):
        there = [cut for cut in found if cut.place == place.name and cut.lost < end_ and _until(cut) > start]
        if not there:
            act.add("power_lost", at=lost, place=place.name)
        if all(cut.back is None for cut in there):
            act.add("power_back", at=back, place=place.name)


def _until(cut: Cut) -> float:
    return math.inf if cut.back is None else cut.back


def _rows(store: Store, now: int) -> dict[tuple[str, str, int], Row]:
    """The events of power cuts that count, by kind, place and moment."""
    rows = store.history(before=None, limit=_ROWS, kinds=_CUT_KINDS)
    voided = correcting.voids_of(store, [row.event_id for row in rows], now=now)
    found = {}
    for row in rows:
        event = ev.decoder.decode(row.line)
        if row.event_id not in voided and isinstance(event, (ev.PowerLost, ev.PowerBack)):
            found[row.kind, event.place, row.at] = row
    return found


def fill(act: Act, store: Store, cut: Cut, how: str, *, now: int) -> None:
    """How full the place was, as a correction of what was noted when the power went; nothing where it is so noted."""
    row = _rows(store, now).get(("power_lost", cut.place, cut.lost))
    if row is not None and how in FILLS and how != cut.fill:
        acts.correct(act, row, {"fill": how})


def retimed(
    act: Act, store: Store, found: Iterable[Cut], *, lost: int | None, back: int | None, now: int, zone: str
) -> None:
    """Other times of a cut, as corrections of its events; raises `BadWhenError`."""
    rows = _rows(store, now)
    here = zone_named(zone)
    for cut in found:
        begins = cut.lost if lost is None else lost
        ends = cut.back if back is None else back
        if ends is not None and ends < begins:
            raise BadWhenError("The power can't be back before it went. Look at the times once more.")
        moved = [("power_lost", cut.lost, begins)]
        moved += [("power_back", cut.back, ends)] if cut.back is not None and ends is not None else []
        for kind, before, after in moved:
            row = rows.get((kind, cut.place, before))
            if row is not None and before != after:
                acts.correct(act, row, {"at": written(after, here)})


# Afterwards


class Place(NamedTuple):
    """A place after a cut, and the milk that was in it, oldest first; `seen` are those looked at since."""

    cut: Cut
    milks: list[Verdict]
    seen: list[Verdict]


def to_look_at(store: Store, board: Board, found: Sequence[Cut]) -> list[Place]:
    """What was in each place during the cut and is still there."""
    if not found:
        return []
    since = min(cut.lost for cut in found)
    arrived, looked, read = _since(store, since, board.now)
    places = []
    for cut in found:
        there = [one for one in board.verdicts if one.place == cut.place and not _came_later(arrived, one, cut)]
        there.sort(key=lambda one: (one.dated, one.container))
        measured = read.get(cut.place, -1) >= (cut.lost if cut.back is None else cut.back)
        seen = [one for one in there if looked.get(one.container, -1) >= cut.lost or (measured and _told_by_air(one))]
        places.append(Place(cut, [one for one in there if one not in seen], seen))
    return places


def _came_later(arrived: Mapping[str, int], one: Verdict, cut: Cut) -> bool:
    return cut.back is not None and arrived.get(one.container, -1) > cut.back


def _told_by_air(one: Verdict) -> bool:
    """Whether a temperature read in its place settles it; of frozen milk only ice does, and the rest is thrown away."""
    return one.form not in ("frozen", "thawing") and one.standing in ("fine", "soon", "held")


def _since(store: Store, since: int, now: int) -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
    """Since a moment, when last: each container came to where it is, was looked at, and each place was read."""
    arrived: dict[str, int] = {}
    looked: dict[str, int] = {}
    read: dict[str, int] = {}
    before: tuple[int, str] | None = None
    while True:
        rows = store.history(before=before, limit=_ROWS, kinds=(*_ARRIVALS, *_LOOK_KINDS))
        recent = [row for row in rows if since <= row.at <= now]
        voided = correcting.voids_of(store, [row.event_id for row in recent], now=now)
        for row in recent:
            if row.event_id in voided:
                continue
            event = ev.decoder.decode(row.line)
            into = looked if row.kind in _LOOK_KINDS else arrived
            for name in names_touched(event):
                into[name] = max(row.at, into.get(name, 0))
            if isinstance(event, ev.Measured) and event.place is not None:
                read[event.place] = max(row.at, read.get(event.place, 0))
        if len(rows) < _ROWS or rows[-1].at < since:
            return arrived, looked, read
        before = rows[-1].at, rows[-1].event_id


class Seen(NamedTuple):
    """What somebody found of a container: `ice`, `liquid`, `moved` (liquid, to a place), `thrown`; what it measured."""

    container: str
    what: str
    temp_c: float | None = None
    to: str | None = None


def note_place(act: Act, place: str, temp_c: float, *, above_for: int, cut: Cut, board: Board) -> None:
    """A temperature read in a place now, and where it has been so for a while (microseconds), also then."""
    here = zone_named(board.settings.zone)
    if above_for:
        act.add("measured", at=written(max(cut.lost, board.now - above_for), here), place=place, temp_c=temp_c)
    act.add("measured", place=place, temp_c=temp_c)


_THROWN_WHY = "power cut"


def note(act: Act, found: Iterable[Seen], *, zone: str) -> None:
    """What was found of each container; who moves one has looked at it before."""
    for one in found:
        looked = written(parse_instant(act.at) - SECOND, zone_named(zone)) if one.what == "moved" else None
        if one.what in ("ice", "liquid", "moved"):
            act.add("thaw_seen", at=looked, container=one.container, ice=one.what == "ice")
        if one.temp_c is not None:
            act.add("measured", at=looked, container=one.container, temp_c=one.temp_c)
        if one.what == "moved":
            act.add("moved", container=one.container, to=one.to)
        elif one.what == "thrown":
            act.add("discarded", container=one.container, why=_THROWN_WHY)


def is_freezer(kind: str) -> bool:
    """Whether milk is frozen there."""
    return kind in FREEZERS


__all__ = [
    "FILLS", "POWERED", "Cut", "Hours", "Place", "Rules", "Seen", "Warming", "any_to_lose", "began_at_c", "begin",
    "current", "cuts", "end", "fill", "hours", "is_freezer", "note", "note_place", "out_now", "retimed", "rules",
    "shortened", "spanned", "to_look_at", "to_lose", "warming",
]  # fmt: skip
