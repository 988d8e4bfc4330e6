"""Hours for the bounds, asked of the physics once for each set of values; each is the cautious end."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from thawline.services.shapes import figure

if TYPE_CHECKING:
    from thawline.engines.physics.spread import Range, Shape, Vessel


class Film(NamedTuple):
    """The film coefficient in air that a family's own sightings support, in W/(m2 K); `seen` of them."""

    low: float
    nominal: float
    high: float
    seen: int


@lru_cache(maxsize=4096)
def thaw_h(
    shape: Shape, ml: float, mm: float, warmest_c: float, freezer_c: float | None, film: Film | None
) -> float:  # fmt: skip
    """How soon the last ice can be gone in a refrigerator."""
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    milk = assumed.vessel(shape, ml, mm, measured=True)
    start_c = assumed.FREEZER if freezer_c is None else assumed.elsewhere(freezer_c)
    return ask.thaw(
        milk, assumed.air("refrigerator", assumed.elsewhere(warmest_c), film_range(film)), start_c=start_c
    ).early_h


@lru_cache(maxsize=4096)
def solid_h(shape: Shape, ml: float, mm: float, freezer_c: float | None) -> float:
    """How late fresh milk can be solid in a freezer; None: nobody read it."""
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    milk = _sheltered(shape, ml, mm)
    c = None if freezer_c is None else assumed.elsewhere(freezer_c)
    return ask.freeze(milk, assumed.air("freezer", c), start_c=assumed.FRESH).solid.late_h


@lru_cache(maxsize=4096)
def cool_h(shape: Shape, ml: float, mm: float, fridge_c: float | None, film: Film | None) -> float:
    """How late fresh milk can be as cold as its refrigerator."""
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    c = assumed.REFRIGERATOR if fridge_c is None else assumed.elsewhere(fridge_c)
    milk = _sheltered(shape, ml, mm)
    air = assumed.air("refrigerator", c, film_range(film))
    return ask.cool(milk, air, start_c=assumed.FRESH, to_c=c.high + assumed.CHILLED_K).late_h


@lru_cache(maxsize=4096)
def warm_h(shape: Shape, ml: float, mm: float, room_c: float | None, fridge_c: float | None) -> float:
    """How soon cold milk can have warmed up in a room."""
    from thawline.engines.physics import ask, assumed  # noqa: PLC0415  (start-up time)

    cold = assumed.REFRIGERATOR if fridge_c is None else assumed.elsewhere(fridge_c)
    # It is taken out no warmer than what counts as chilled.
    start_c = cold._replace(high=cold.high + assumed.CHILLED_K)
    air = assumed.air("room", None if room_c is None else assumed.elsewhere(room_c))
    return ask.warm_up(assumed.vessel(shape, ml, mm, measured=True), air, start_c=start_c).early_h


def _sheltered(shape: Shape, ml: float, mm: float) -> Vessel:
    """A measured container that perhaps meets the air with one face, or with its side alone."""
    from thawline.engines.physics import assumed  # noqa: PLC0415  (start-up time)

    milk = assumed.vessel(shape, ml, mm, measured=True)
    return milk._replace(faces=milk.faces._replace(low=1.0))


def film_range(film: Film | None) -> Range | None:
    """A film as an interval that still holds what is likely without any sighting; None where there is none."""
    from thawline.engines.physics.spread import Range  # noqa: PLC0415  (start-up time)

    if film is None:
        return None
    # A mistaken or sheltered thaw narrows what is doubtful no further than to what is likely.
    likely = figure("film", "air", "clock", "value")
    return Range(min(film.low, likely), film.nominal, max(film.high, likely))
