"""What a question of heat is about: which container, of what size, from how cold, and in what air it stands."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.places import FREEZERS
from thawline.core.times import MINUTE, local, zone_named
from thawline.engines.physics import assumed
from thawline.engines.physics.numbers import table, value
from thawline.engines.physics.spread import Air, Range, Shape, Triple, Vessel
from thawline.records.memory import MemoryStore
from thawline.records.store import Store
from thawline.services import acts
from thawline.services.acts import Act
from thawline.services.board import Board, One, PlaceNow
from thawline.services.bound_hours import Film, film_range
from thawline.services.bounds import COLD, FRESH_READING
from thawline.services.known import films_seen, known
from thawline.services.recording import record
from thawline.services.vessels import noted

# Hours are rounded to half hours in air, and to minutes in water.
IN_AIR, IN_WATER = 30, 1
# A bag that holds so much more or less than when it was measured is no longer that thick.
SAME_AMOUNT = 0.1
# Air of a household's places: what is colder or warmer is a slip, or a freezer as good as the coldest.
COLDEST_AIR_C, WARMEST_AIR_C = -38.0, 60.0
STARTS = ("body", "room", "cold", "frozen")
_UPRIGHT = ("bottle", "jar", "syringe")
_FACES = {"shelf": 1.0, "open": 2.0}
_HOUR = 60 * MINUTE


class Subject(NamedTuple):
    """The container that is asked about: mL, shape and size across (mm) as far as known, and where it is.

    `stands` is `shelf` (one face of a bag meets the air) or `open` (both), `wall` `plastic` or `glass`. `since` is when
    it came to its place, `left_freezer` when it last left a freezer, `ice_seen` when ice was last seen after that;
    `together` names what came in with it and shares its measure, `changed` says that its measure no longer holds.
    """

    ml: float
    shape: Shape | None = None
    across_mm: float | None = None
    measured: bool = False
    stands: str = ""
    wall: str = ""
    code: str = ""
    form: str = ""
    place: str | None = None
    since: int | None = None
    left_freezer: int | None = None
    ice_seen: int | None = None
    together: tuple[str, ...] = ()
    changed: bool = False

    def vessels(self, likely: Shape = "flat", *, planning: bool = False) -> tuple[Vessel, ...]:
        """What it may be, the likely one first: both shapes where nobody noted the shape."""
        shapes: tuple[Shape, ...] = ("flat", "upright") if likely == "flat" else ("upright", "flat")
        if self.shape is not None:
            shapes = (self.shape,)
        return tuple(self._vessel(shape, planning=planning) for shape in shapes)

    def _vessel(self, shape: Shape, *, planning: bool) -> Vessel:
        wall: assumed.Wall | None = "plastic" if self.wall == "plastic" else "glass" if self.wall == "glass" else None
        faces = _FACES.get(self.stands) if shape == "flat" else None
        across = self.across_mm if self.shape is not None else None
        if across is not None and shape == "upright":
            across = min(across, (4e3 * self.ml / (math.pi * value("questions", "shallow"))) ** (1 / 3))
        return assumed.vessel(
            shape, self.ml, across, measured=self.measured, faces=faces,
            wall=None if shape == "flat" else wall, planning=planning,
        )  # fmt: skip


class Around(NamedTuple):
    """The air that is asked about: a place, or none, and how its temperature is known.

    `how` is `read` (just now), `measured` (within the last day), `noted` (as usual there) or `assumed`; `seen` is how
    many thaws the family watched in it that narrow its film coefficient.
    """

    place: str
    kind: str
    how: str
    clock: Air
    plan: Air
    seen: int = 0

    @property
    def c(self) -> Range:
        """Its temperature as safety takes it, degrees Celsius."""
        return self.clock.c


class When(NamedTuple):
    """When something happens on the clock: early, likely and late; None where it may never happen."""

    early: int | None
    nominal: int | None
    late: int | None


# The container


def read(lines: Iterable[bytes], *, now: int) -> Store:
    """A ledger to ask about, from its lines; nothing is kept."""
    store = MemoryStore()
    record(store, lines, now=now, whole=False)
    return store


def kept(found: One, board: Board) -> Subject:
    """A container of the household as the ledger describes it."""
    container, verdict = found.container, found.verdict
    vessel = getattr(container.event, "vessel", None) or ev.Vessel()
    shape: Shape | None = vessel.shape
    if shape is None and vessel.kind is not None:
        shape = "upright" if vessel.kind in _UPRIGHT else "flat"
    across = {"flat": vessel.thickness_mm, "upright": vessel.diameter_mm, None: None}[shape]
    into = _into(container.event)
    first = into.get(container.name, container.ml)
    changed = shape == "flat" and across is not None and abs(container.ml - first) > SAME_AMOUNT * first
    uneven = shape == "flat" and bool(into) and min(into.values()) < (1 - SAME_AMOUNT) * max(into.values())
    left = _left_freezer(found, board)
    ice = [look.at for look in container.looks if look.what == "look" and look.value is True]
    return Subject(
        verdict.ml, shape, None if changed else across, measured=across is not None and not changed and not uneven,
        code=container.name, form=verdict.form, place=verdict.place, since=container.stays[-1].at, left_freezer=left,
        ice_seen=max((at for at in ice if left is not None and at >= left), default=None),
        together=tuple(into) if len(into) > 1 else (), changed=changed,
    )  # fmt: skip


def _into(event: ev.AnyEvent) -> dict[str, float]:
    """The containers that an event brought in, with their mL."""
    if isinstance(event, ev.Expressed):
        return {one.container: one.ml for one in event.into}
    if isinstance(event, ev.Stocked):
        return {event.container: event.ml}
    return {event.into: sum(one.ml for one in event.from_)} if isinstance(event, ev.Poured) else {}


def _left_freezer(found: One, board: Board) -> int | None:
    """When milk that was frozen came to the first place after its last freezer."""
    if found.verdict.form not in ("thawing", "thawed"):
        return None
    freezers = {place.name for place in board.places if place.kind in FREEZERS}
    stays = found.container.stays
    last = max((number for number, stay in enumerate(stays) if stay.place in freezers), default=-1)
    return stays[last + 1].at if last + 1 < len(stays) else None


def measure(
    store: Store, found: One, *, shape: Shape, across_mm: float, under: str, by: str, at: str
) -> Act | None:  # fmt: skip
    """The act that writes a container's measure (mm) into the event that brought it in; None where none did."""
    event = found.container.event
    row = store.rows([event.id]).get(event.id)
    if row is None or not _into(event):
        return None
    before = getattr(event, "vessel", None) or ev.Vessel()
    kept_too = {key: part for key in ("kind", "capacity_ml", "tag") if (part := getattr(before, key)) is not None}
    if (kept_too.get("kind") in _UPRIGHT) != (shape == "upright"):
        kept_too.pop("kind", None)
    vessel = noted(shape, across_mm) | kept_too
    return acts.correction(row, {"vessel": vessel}, under=under, by=by, at=at)


# Its surroundings


def air_kind(kind: str) -> assumed.Place:
    """Which air a kind of place has."""
    if kind in FREEZERS:
        return "freezer"
    return "room" if kind == "room" else "refrigerator"


def lately(store: Store, place: PlaceNow | None, *, now: int) -> list[float]:
    """What was measured in a place within the last day, in degrees Celsius."""
    if place is None:
        return []
    cache = known(store)
    with cache.lock:
        line = cache.ground(store, now).places.lines.get(place.name)
    return [] if line is None else [c for at, c in line.measured if now - FRESH_READING <= at <= now]


def film(store: Store, place: PlaceNow | None, *, now: int) -> Film | None:
    """What the thaws that the family watched say of a refrigerator's air; None elsewhere, and without any."""
    return films_seen(store, now).get(place.name) if place is not None and place.kind == COLD else None


def around(
    kind: str,
    place: PlaceNow | None = None,
    read_c: float | None = None,
    measured: Sequence[float] = (),
    film: Film | None = None,
) -> Around:
    """The air of a place: as read just now, else as measured lately, else as noted, else as assumed."""
    name = air_kind(place.kind if place is not None else kind)
    how, c = "assumed", None
    if read_c is not None:
        how, c = "read", assumed.measured_c(read_c)
    elif measured:
        how = "measured"
        low, high = assumed.elsewhere(min(measured)).low, assumed.elsewhere(max(measured)).high
        c = Range(low, sum(measured) / len(measured), high)
    elif place is not None and place.temp_c is not None:
        how, c = "noted", assumed.elsewhere(place.temp_c)
    if c is not None:
        c = Range(*(min(max(one, COLDEST_AIR_C), WARMEST_AIR_C) for one in c))
    seen = film_range(film)
    clock, plan = assumed.air(name, c, seen), assumed.air(name, c, seen, planning=True)
    called, is_ = (place.name, place.kind) if place is not None else ("", kind)
    return Around(called, is_, how, clock, plan, film.seen if film is not None else 0)


def start_c(start: str) -> Range:
    """How cold milk is to begin with, degrees Celsius: `body`, `room`, `cold` or `frozen`."""
    row = table("questions", "start", start)
    return Range(row["low"], row["value"], row["high"])


def frozen_c(place: PlaceNow | None) -> Range:
    """How cold frozen milk out of that place is, degrees Celsius."""
    freezer = place is not None and place.kind in FREEZERS and place.temp_c is not None
    return around("freezer", place).c if freezer else start_c("frozen")


def starts_from(subject: Subject, board: Board) -> str:
    """How cold a container of the household is to begin with, on the warm side: by its place and form."""
    place = board.place(subject.place)
    if subject.form == "frozen":
        return "frozen"
    if place is None or place.kind in ("room", "cooler"):
        return "room" if subject.form in ("thawing", "thawed") else "body"
    return "cold"


def began(subject: Subject, around: Around, now: int) -> tuple[int, bool]:
    """When it came to that place, and whether it is there; else now."""
    there = bool(around.place) and subject.place == around.place and subject.since is not None
    return (subject.since if there and subject.since is not None else now), there


# The clock


def on_clock(triple: Triple, start: int, *, zone: str, step_min: int = IN_AIR) -> When:
    """Instants from a start: the early one down and the late one up to whole steps of the household's clock."""
    step = step_min * MINUTE
    offset = local(start, zone_named(zone)).utcoffset()
    shift = round(offset.total_seconds() * 1e6) if offset is not None else 0

    def at(hours: float, up: int) -> int | None:
        if math.isinf(hours):
            return None
        exact = start + round(hours * _HOUR) + shift
        return (exact + up * step // 2) // step * step - shift

    late = at(triple.late_h, 0)
    exactly = late is not None and late == start + round(triple.late_h * _HOUR)
    return When(at(triple.early_h, 0), at(triple.nominal_h, 1), late if exactly or late is None else late + step)


def widest(triples: list[Triple]) -> Triple:
    """What holds for all that it may be: the first is the likely one."""
    return Triple(min(one.early_h for one in triples), triples[0].nominal_h, max(one.late_h for one in triples))
