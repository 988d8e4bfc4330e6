"""How thick or wide a container is, as somebody measured it, and whether that can be."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from thawline.core import events as ev
from thawline.core.containers import Container
from thawline.engines.physics.numbers import table

if TYPE_CHECKING:
    from thawline.engines.physics.spread import Shape


class Measured(NamedTuple):
    """A container's shape as somebody measured it: thickness or diameter in mm, and the mL that were in it then."""

    shape: Shape
    across_mm: float
    ml: float


def measured(container: Container) -> Measured | None:
    """The shape that was written down with the milk; None where nobody measured it, or it cannot be so."""
    event = container.event
    if not isinstance(event, (ev.Expressed, ev.Stocked, ev.Poured)) or event.vessel is None:
        return None
    vessel = event.vessel
    flat = vessel.shape == "flat" or (vessel.shape is None and vessel.diameter_mm is None)
    across = vessel.thickness_mm if flat else vessel.diameter_mm
    amounts = _first_ml(container, event)
    if across is None or not amounts or amounts[0] <= 0:
        return None
    found = Measured("flat" if flat else "upright", across, amounts[0])
    # One thickness speaks for bags of one session only where about as much is in each.
    uneven = flat and min(amounts) < figure("alike_part", "value") * max(amounts)
    return None if uneven or not _possible(found) else found


def figure(*path: str) -> float:
    """A figure of what is assumed, by the names that lead to it."""
    *above, last = path
    return float(table("intervals", *above)[last])


def _first_ml(container: Container, event: ev.Expressed | ev.Stocked | ev.Poured) -> list[float]:
    """The mL that were in it at first, then those of what came in with it."""
    if isinstance(event, ev.Expressed):
        own = [portion.ml for portion in event.into if portion.container == container.name]
        return [*own, *(portion.ml for portion in event.into if portion.container != container.name)]
    return [event.ml if isinstance(event, ev.Stocked) else sum(portion.ml for portion in event.from_)]


def _possible(shape: Measured) -> bool:
    """Whether so much milk can lie so thick, or stand so wide: a slip of the pen is no measure."""
    if shape.shape == "flat":
        face_mm2 = 1e3 * shape.ml / shape.across_mm
        least, most = (figure("flat_possible", name) for name in ("side_over_thickness", "face_cm2"))
        return math.sqrt(face_mm2) >= least * shape.across_mm and face_mm2 <= 100 * most
    tall = 4e3 * shape.ml / (math.pi * shape.across_mm**3)
    least, most = (figure("upright_possible", name) for name in ("least", "most"))
    return least <= tall <= most
