"""How long a closed refrigerator or freezer counts as cold without power: the published hours, never more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple, cast

from thawline.core.house import House
from thawline.core.places import FREEZERS, PlaceLine
from thawline.core.times import HOUR, MINUTE
from thawline.engines.physics.numbers import value

if TYPE_CHECKING:
    from thawline.engines.physics.box import Fill

POWERED = ("refrigerator", *FREEZERS)
# An estimate in air is told in whole half hours, cut.
STEP = 30 * MINUTE
# The figures are whole degrees Fahrenheit, written in tenths of a degree Celsius.
ROUNDING_C = 0.05
# What a picture shows at the least.
SHOWN = 8 * HOUR


class Hours(NamedTuple):
    """What the rules publish for a box, and what counts of it here, in microseconds."""

    published: int
    held: int

    @property
    def shortened(self) -> bool:
        """Whether the estimate says less than the rule."""
        return self.held < self.published


def shortened(
    kind: str,
    fill: str | None,
    *,
    house: House,
    room_c: float | None = None,
    start_c: float | None = None,
    contents_kg: float | None = None,
) -> int | None:
    """How long it counts as cold from the moment the power goes, in microseconds; None where power does not matter.

    The published hours, less where the room or the box (degrees Celsius) was warmer, or less was in it, than they
    take for granted.
    """
    published = house.power_hours(kind, fill)
    if published is None or published == 0:
        return published
    part = _part(house, kind, fill, room_c, start_c, contents_kg)
    return published if part >= 1 else int(published * part) // STEP * STEP


def _part(
    house: House, kind: str, fill: str | None, room_c: float | None, start_c: float | None, contents_kg: float | None
) -> float:
    model, known = _model(kind, fill)
    inside = kind == "freezer_compartment"
    # Up to a temperature the rules take a box to begin with; a colder one gains nothing.
    warm = start_c is not None and kind in house.power_from_c and start_c > house.power_from_c[kind] + ROUNDING_C
    cool = room_c is None or room_c <= value("box", "room_c")
    if cool and not warm and contents_kg is None and (model == "freezer" or known != "little"):
        return 1.0  # as the rules take it; spares loading the physics
    from thawline.engines.physics.box import held_part  # noqa: PLC0415  (loaded only where needed)

    return held_part(
        model,
        known,
        contents_kg=None if inside else contents_kg,
        room_c=room_c,
        start_c=start_c if warm else None,
    )


def _model(kind: str, fill: str | None) -> tuple[Literal["refrigerator", "freezer"], Fill | None]:
    """The box that the model takes for a kind of place, and how full it is as far as anybody said."""
    # A compartment behind the refrigerator's door holds as long as the refrigerator, however full it is.
    if kind == "freezer_compartment":
        return "refrigerator", None
    known = cast("Fill", fill) if fill in ("full", "half", "little") else None
    return ("refrigerator" if kind == "refrigerator" else "freezer"), known


class Warming(NamedTuple):
    """How a closed box may warm: instants and temperatures in C, early, likely and late, and what that rests on."""

    at: tuple[int, ...]
    early_c: tuple[float, ...]
    likely_c: tuple[float, ...]
    late_c: tuple[float, ...]
    room_c: float
    kg: float
    ice_gone_c: float


def warming(one: Outage, *, start_c: float | None = None) -> Warming:
    """How a place without power may warm behind a shut door: an estimate for a picture, of which no clock is made."""
    from thawline.engines.physics.box import box, path, thawed_c  # noqa: PLC0415  (as above)

    model, known = _model(one.kind, one.fill)
    here = box(model, known, start_c=start_c)
    room_c = value("box", "room_c") if one.room_c is None else one.room_c
    found = path(here, room_c, hours=max(one.hours.published, SHOWN) * 1.5 / HOUR)
    at = tuple(one.lost + int(hour * HOUR) for hour in found.hours)
    return Warming(at, found.early_c, found.nominal_c, found.late_c, room_c, here.kg, thawed_c())


def hours(
    kind: str, fill: str | None, *, house: House, room_c: float | None = None, start_c: float | None = None
) -> Hours | None:
    """The published hours beside what counts of them; None where power does not matter."""
    published = house.power_hours(kind, fill)
    held = shortened(kind, fill, house=house, room_c=room_c, start_c=start_c)
    return None if published is None or held is None else Hours(published, held)


class Outage(NamedTuple):
    """A place without power from `lost` to `back` (None while it lasts), and the hours that count."""

    place: str
    kind: str
    lost: int
    back: int | None
    fill: str | None
    hours: Hours
    room_c: float | None

    @property
    def cold_until(self) -> int:
        """Until when it counts as cold while the doors stay shut."""
        return self.lost + self.hours.held

    @property
    def within(self) -> bool:
        """Whether the power was back before the hours that count were over."""
        return self.back is not None and self.back <= self.cold_until


def outages(lines: Mapping[str, PlaceLine], *, house: House, now: int) -> Iterator[Outage]:
    """Every outage of places that power matters to."""
    for place, line in lines.items():
        for lost, back, fill in line.outages:
            kind = line.kind_at(lost)
            room_c = warmest_room(lines, lost, now if back is None else back)
            told = hours(kind, fill, house=house, room_c=room_c, start_c=line.temp_at(lost))
            if told is not None:
                yield Outage(place, kind, lost, back, fill, told, room_c)


def warmest_room(lines: Mapping[str, PlaceLine], start: int, end: int) -> float | None:
    """The warmest that any room of the household is known to have been from `start` to `end`, in degrees Celsius."""
    found = []
    for line in lines.values():
        if line.kind_at(start) != "room":
            continue
        first = line.temp_at(start)
        found += [] if first is None else [first]
        found += [
            float(fact.value)
            for fact in line.facts
            if start < fact.at <= end and fact.what == "temp" and isinstance(fact.value, float)
        ]
    return max(found, default=None)


def cold_early(lines: Mapping[str, PlaceLine], *, house: House, now: int) -> dict[tuple[str, int], int]:
    """Where a box counts as cold for less than the published hours: by its place and the moment the power went."""
    return {
        (one.place, one.lost): one.lost + one.hours.held
        for one in outages(lines, house=house, now=now)
        if one.hours.shortened
    }
