"""What the physics lets the clocks assume: worked out from a household's containers, places and readings.

Only containers that somebody measured are spoken for. Each entry rests on the cautious end of everything that is not
known; where too little is known there is none, and the strict rule stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from thawline.core import events as ev
from thawline.core.component import Bounds
from thawline.core.containers import Container, Stay
from thawline.core.fold import Fold
from thawline.core.places import FREEZERS, PlaceLine
from thawline.core.times import DAY, SECOND, parse_instant

if TYPE_CHECKING:
    from thawline.engines.physics.spread import Range, Shape

# A reading speaks for a refrigerator for a day: then somebody has to look again.
FRESH_READING = DAY
COLD = "refrigerator"
_NEVER = 1 << 62
_CENTURY_H = 876_600
LATEST = parse_instant("2100-12-30T00:00:00Z")


class Measured(NamedTuple):
    """A container's shape as somebody measured it: thickness or diameter in mm, and the mL that were in it then."""

    shape: Shape
    across_mm: float
    ml: float


class Film(NamedTuple):
    """The film coefficient in air that a family's own sightings support, in W/(m2 K); `seen` of them."""

    low: float
    nominal: float
    high: float
    seen: int


def measured(container: Container) -> Measured | None:
    """The shape that was written down with the milk; None where nobody measured it."""
    event = container.event
    if not isinstance(event, (ev.Expressed, ev.Stocked, ev.Poured)) or event.vessel is None:
        return None
    vessel = event.vessel
    flat = vessel.shape == "flat" or (vessel.shape is None and vessel.diameter_mm is None)
    across = vessel.thickness_mm if flat else vessel.diameter_mm
    ml = _first_ml(container, event)
    if across is None or ml <= 0:
        return None
    return Measured("flat" if flat else "upright", across, ml)


def _first_ml(container: Container, event: ev.Expressed | ev.Stocked | ev.Poured) -> float:
    if isinstance(event, ev.Expressed):
        return sum(portion.ml for portion in event.into if portion.container == container.name)
    return event.ml if isinstance(event, ev.Stocked) else sum(portion.ml for portion in event.from_)


def prepare() -> None:
    """Load the physics ahead of the first page that needs it."""
    _thaw_h("flat", 120, 15, 4, -18, None)


def bounds_of(fold: Fold, film: Film | None = None) -> Bounds:
    """The bounds for all containers of a fold."""
    thawed: dict[tuple[str, int], int] = {}
    solid: dict[tuple[str, int], int] = {}
    warm: dict[tuple[str, int], int] = {}
    amounts: dict[str, list[tuple[int, float]]] | None = None
    for name, container in fold.containers.items():
        shape = measured(container)
        if shape is None:
            continue
        if amounts is None:
            amounts = _amounts(fold)
        view = _View(fold, container, shape, amounts[name], film)
        solid.update(((name, at), end) for at, end in view.solid())
        thawed.update(((name, at), end) for at, end in view.thawed(solid))
        warm.update(((name, at), end) for at, end in view.warm())
    return Bounds(thawed, solid, warm)


def _amounts(fold: Fold) -> dict[str, list[tuple[int, float]]]:
    """Every amount in mL that a container held from an instant on."""
    found: dict[str, list[tuple[int, float]]] = {}
    for step in fold.steps:
        found.setdefault(step.container, []).append((step.at, step.ml))
    for name, container in fold.containers.items():
        end = container.left if container.left is not None else found[name][-1][0]
        found[name].append((end, container.ml))
    return found


class _View:
    """One measured container in its places."""

    def __init__(
        self, fold: Fold, container: Container, shape: Measured, amounts: list[tuple[int, float]], film: Film | None
    ) -> None:
        self.fold = fold
        self.container = container
        self.shape = shape
        self.amounts = amounts
        self.film = film
        own = [step for step in fold.steps if step.container == container.name]
        self.vague = {step.at for step in own if step.vague}
        self.steps = [(step.at, step.does) for step in own]

    def _line(self, stay: Stay) -> PlaceLine:
        return self.fold.places.lines[stay.place]

    def _stays(self) -> Iterator[tuple[Stay | None, Stay, int | None]]:
        """Each stay with the one before it, and the moment at which it ended."""
        stays = self.container.stays
        for index, stay in enumerate(stays):
            before = stays[index - 1] if index else None
            after = stays[index + 1].at if index + 1 < len(stays) else self.container.left
            yield before, stay, after

    def _kind(self, stay: Stay | None) -> str:
        return "" if stay is None else self._line(stay).kind_at(stay.at)

    def _mm(self, start: int, end: int | None, *, thick: bool = False) -> tuple[float, float]:
        """The mL within a span, least or most, and how thick that lies, in mm."""
        held = [ml for at, ml in self.amounts if at <= start][-1:]
        held += [ml for at, ml in self.amounts if at > start and (end is None or at <= end)]
        some = [ml for ml in held if ml > 0] or [self.shape.ml]
        ml = max(some) if thick else min(some)
        part = ml / self.shape.ml if self.shape.shape == "flat" else 1.0
        return ml, self.shape.across_mm * part

    # Certainly frozen

    def solid(self) -> Iterator[tuple[int, int]]:
        """For each going into a freezer, when it is certainly frozen through."""
        for before, stay, after in self._stays():
            if self._kind(stay) not in FREEZERS or self._kind(before) in FREEZERS or stay.at in self.vague:
                continue
            ml, mm = self._mm(stay.at, after, thick=True)
            late_h = _solid_h(self.shape.shape, ml, mm * self._stacked(stay), self._freezer_c(stay, after), self.film)
            yield stay.at, _after(stay.at, late_h)

    def _stacked(self, stay: Stay) -> int:
        """How many bags of the same session may lie on each other: touching ones freeze as one."""
        if self.shape.shape != "flat":
            return 1
        same = [
            other
            for other in self.fold.containers.values()
            if other.event is self.container.event
            and any(there.place == stay.place and abs(there.at - stay.at) < DAY for there in other.stays)
        ]
        return max(1, len(same))

    def _freezer_c(self, stay: Stay, after: int | None) -> float | None:
        """The warmest that its freezer is known to have been in that stay; None where nobody knows."""
        line = self._line(stay)
        read = [c for at, c in line.measured if at > stay.at and (after is None or at <= after)]
        first = line.temp_at(stay.at)
        return max([*read, first]) if first is not None else None

    # Completely thawed

    def thawed(self, solid: Mapping[tuple[str, int], int]) -> Iterator[tuple[int, int]]:
        """For each move from a freezer to a refrigerator whose temperature is logged, the earliest complete thaw."""
        sure = 0 if isinstance(self.container.event, ev.Stocked) else _NEVER
        for before, stay, after in self._stays():
            kind, was = self._kind(stay), self._kind(before)
            if kind in FREEZERS and was not in FREEZERS and before is not None:
                sure = _NEVER
            if kind in FREEZERS and was not in FREEZERS and sure:
                sure = solid.get((self.container.name, stay.at), _NEVER)
            elif was in FREEZERS and kind == COLD and before is not None and stay.at not in self.vague:
                early = self._thaw(before, stay, after) if sure <= stay.at else None
                if early is not None:
                    yield stay.at, early

    def _thaw(self, before: Stay, stay: Stay, after: int | None) -> int | None:
        line = self._line(stay)
        lost = [at for at, back, _ in line.outages if back is None or back >= stay.at]
        warm = [at for at, does in self.steps if does in ("warmed", "poured") and at >= stay.at]
        until = min([*lost, *warm, *([after] if after is not None else []), stay.at + FRESH_READING])
        ml, mm = self._mm(stay.at, until)
        freezer_c = self._freezer_c(before, stay.at)

        def early(c: float) -> int:
            return _after(stay.at, _thaw_h(self.shape.shape, ml, mm, c, freezer_c, self.film))

        rows = logged(line, stay.at)
        if not rows:
            return None
        # A reading that comes after it can have thawed already says nothing.
        counted = [c for at, c in rows if at <= early(rows[0][1])]
        return max(stay.at, min(early(max(counted)), rows[-1][0] + FRESH_READING, until))

    # Brought to room temperature

    def warm(self) -> Iterator[tuple[int, int]]:
        """For each going from a refrigerator into a room, how soon it can have warmed up."""
        for before, stay, after in self._stays():
            if before is None or self._kind(stay) != "room" or self._kind(before) != COLD or stay.at in self.vague:
                continue
            # Milk that was warm when it went in, or was poured in warm, may not be cold yet.
            since = max([before.at, *(at for at, does in self.steps if does == "poured" and at <= stay.at)])
            ml, mm = self._mm(before.at, stay.at, thick=True)
            fridge_c = _warmest(self._line(before), before.at, stay.at)
            cold = _cool_h(self.shape.shape, ml, mm, fridge_c, self.film)
            if stay.at >= _after(since, cold):
                ml, mm = self._mm(stay.at, after)
                room_c = _warmest(self._line(stay), stay.at, after)
                yield stay.at, _after(stay.at, _warm_h(self.shape.shape, ml, mm, room_c, fridge_c, self.film))


def _after(at: int, hours: float) -> int:
    """An instant so many hours on; what never happens lies at the end of the calendar that a ledger knows."""
    return LATEST if hours > _CENTURY_H else min(LATEST, at + round(hours * 3600) * SECOND)


def logged(line: PlaceLine, start: int) -> list[tuple[int, float]]:
    """The readings that speak for a place from an instant on: none older than a day, no gap longer than one."""
    rows = [row for row in line.measured if row[0] <= start][-1:]
    if not rows or rows[0][0] < start - FRESH_READING:
        return []
    for row in line.measured:
        if row[0] > start:
            if row[0] > rows[-1][0] + FRESH_READING:
                break
            rows.append(row)
    return rows


def _warmest(line: PlaceLine, start: int, end: int | None) -> float | None:
    """The warmest reading of a span, and of the day before it; None where the place was not read."""
    return max(
        (c for at, c in line.measured if start - FRESH_READING <= at and (end is None or at <= end)), default=None
    )


# Asked of the physics, once for each set of values: each is rounded to the cautious side.


@lru_cache(maxsize=4096)
def _thaw_h(
    shape: Shape, ml: float, mm: float, warmest_c: float, freezer_c: float | None, film: Film | None
) -> float:  # fmt: skip
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    milk = assumed.vessel(shape, ml, mm, measured=True)
    start_c = assumed.FREEZER if freezer_c is None else assumed.elsewhere(freezer_c)
    return ask.thaw(
        milk, assumed.air("refrigerator", assumed.elsewhere(warmest_c), _film(film)), start_c=start_c
    ).early_h


@lru_cache(maxsize=4096)
def _solid_h(shape: Shape, ml: float, mm: float, freezer_c: float | None, film: Film | None) -> float:
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    milk = assumed.vessel(shape, ml, mm, measured=True)
    c = None if freezer_c is None else assumed.elsewhere(freezer_c)
    return ask.freeze(milk, assumed.air("freezer", c, _film(film)), start_c=assumed.FRESH).solid.late_h


@lru_cache(maxsize=4096)
def _cool_h(shape: Shape, ml: float, mm: float, fridge_c: float | None, film: Film | None) -> float:
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    c = assumed.REFRIGERATOR if fridge_c is None else assumed.elsewhere(fridge_c)
    milk = assumed.vessel(shape, ml, mm, measured=True)
    air = assumed.air("refrigerator", c, _film(film))
    return ask.cool(milk, air, start_c=assumed.FRESH, to_c=c.high + assumed.CHILLED_K).late_h


@lru_cache(maxsize=4096)
def _warm_h(
    shape: Shape, ml: float, mm: float, room_c: float | None, fridge_c: float | None, film: Film | None
) -> float:  # fmt: skip
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    cold = assumed.REFRIGERATOR if fridge_c is None else assumed.elsewhere(fridge_c)
    # It is taken out no warmer than what counts as chilled.
    start_c = cold._replace(high=cold.high + assumed.CHILLED_K)
    air = assumed.air("room", None if room_c is None else assumed.elsewhere(room_c), _film(film))
    return ask.warm_up(assumed.vessel(shape, ml, mm, measured=True), air, start_c=start_c).early_h


def _film(film: Film | None) -> Range | None:
    from thawline.engines.physics.spread import Range  # noqa: PLC0415  (start-up time)

    return None if film is None else Range(film.low, film.nominal, film.high)
