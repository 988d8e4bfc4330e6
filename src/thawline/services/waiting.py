"""After a drink: until when to wait by published guidance, and what storage changes in milk. Nothing is noted."""

from __future__ import annotations

from typing import NamedTuple

from thawline.core.times import HOUR, MINUTE
from thawline.engines.forecast import alcohol, storage_changes
from thawline.engines.forecast.alcohol import Wait, countries
from thawline.engines.forecast.storage_changes import Kept, Share

GRAMS = "grams"
MOST_DRINKS, MOST_GRAMS = alcohol.MOST_DRINKS, alcohol.MOST_GRAMS
# Waits are rounded up to so many minutes.
STEP_MIN = 5


class Waited(NamedTuple):
    """Until when to wait (microseconds), minutes from where it counts, and the table's own figures."""

    until: int
    minutes: int
    from_began: bool
    wait: Wait


def drink_g(country: str) -> float:
    """Grams of alcohol in a country's standard drink."""
    return alcohol.drink_g(country)


def weights_kg() -> tuple[float, float]:
    """The least and the greatest weight that can be counted, in kg."""
    return alcohol.weights_kg()


def waited(many: float, *, counted: str, weight_kg: float | None, began: int | None, ended: int) -> Waited:
    """Until when to wait after so many drinks of a country, or `grams` of alcohol; instants in microseconds.

    Raises ValueError for what cannot be.
    """
    if counted == GRAMS:
        wait = alcohol.after_grams(many, weight_kg=weight_kg)
    else:
        wait = alcohol.after_drinks(many, country=counted, weight_kg=weight_kg)
    start = ended if began is None else began
    began_h = None if began is None else 0.0
    minutes = up_min(alcohol.until_h(wait, began_h=began_h, ended_h=(ended - start) / HOUR))
    step = STEP_MIN * MINUTE
    return Waited(-(-(start + minutes * MINUTE) // step) * step, minutes, began is not None, wait)


def up_min(hours: float) -> int:
    """Hours as minutes, rounded up to the next five."""
    return round(alcohol.rounded_up(hours, to_min=STEP_MIN) * 60)


def vitamin_c(kept: Kept) -> Share:
    """Vitamin C after a day in the refrigerator, or one or two months frozen."""
    return storage_changes.vitamin_c(kept)


def energy_and_fat_24_wk() -> tuple[float, float, str]:
    """Energy, and fat, after 24 weeks frozen as shares of those after 4 weeks; and the source."""
    return storage_changes.energy_24_wk(), storage_changes.fat_24_wk(), storage_changes.energy_source()


__all__ = [
    "GRAMS", "MOST_DRINKS", "MOST_GRAMS", "STEP_MIN", "Kept", "Wait", "Waited", "countries", "drink_g",
    "energy_and_fat_24_wk", "up_min", "vitamin_c", "waited", "weights_kg",
]  # fmt: skip
