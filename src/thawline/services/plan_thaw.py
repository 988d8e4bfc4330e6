"""From when milk that thaws in the refrigerator counts as ready: late, as planning takes it."""

from __future__ import annotations

from functools import lru_cache

from thawline.core.containers import Container
from thawline.engines.physics import ask, assumed
from thawline.services.plan_figures import figure
from thawline.services.plan_seen import Seen
from thawline.services.shapes import measured
from thawline.services.terms import Terms


def ready_h(seen: Seen, container: Container, allowed: Terms) -> float:
    """Hours after leaving the freezer from which it counts as thawed: the usual night in the refrigerator.

    Sooner where the container was measured and the physics' late end says so. What ice is left after that night melts
    in warm water at the feed; the clock runs from leaving the freezer either way.
    """
    usual = figure("thaw", "ready_h")
    shape = measured(container)
    if shape is None:
        return usual
    fridge = seen.base.places.lines.get(allowed.fridge or "")
    late = _late_h(
        shape.shape, round(container.ml), shape.across_mm, None if fridge is None else fridge.temp_at(seen.now)
    )
    return min(late, usual)


@lru_cache(maxsize=512)
def _late_h(shape: str, ml: int, mm: float, fridge_c: float | None) -> float:
    vessel = assumed.vessel(shape, ml, mm, measured=True, planning=True)  # type: ignore[arg-type]
    air = assumed.air("refrigerator", fridge_c, planning=True)
    return ask.thaw(vessel, air).late_h
