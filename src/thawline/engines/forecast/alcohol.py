"""How long to wait after a drink: alcohol leaves milk as it leaves blood, at a rate that nothing hastens."""

from __future__ import annotations

import math
from typing import NamedTuple

from . import numbers

# The most that is looked at; above it the question is no longer one for a table.
MOST_DRINKS, MOST_GRAMS = 15.0, 200.0


class Wait(NamedTuple):
    """How long to wait, in hours; `rule_h` by hours for a drink, `leaves_h` until none is left, by the model.

    Both count from the start of drinking. `drinks` and `grams` say what was counted, `weight_kg` for whom; `much`: more
    for a kg than a published body names as the most; `source` of the drink's size.
    """

    rule_h: float
    leaves_h: float
    drinks: float
    grams: float
    weight_kg: float
    weight_known: bool
    much: bool
    source: str

    @property
    def hours(self) -> float:
        """The longer of the two."""
        return max(self.rule_h, self.leaves_h)


def countries() -> tuple[str, ...]:
    """The countries whose standard drink is known, by their short names."""
    return tuple(numbers.table("alcohol", "country"))


def weights_kg() -> tuple[float, float]:
    """The least and the greatest weight that can be counted, in kg."""
    row = numbers.table("alcohol", "weight")
    return float(row["low"]), float(row["high"])


def drink_g(country: str) -> float:
    """Grams of alcohol in a country's standard drink; raises ValueError for a country that is not known."""
    return float(_country(country)["drink_g"])


def body_water_l(weight_kg: float) -> float:
    """A woman's body water in litres at the height of the method (162.56 cm)."""
    base, per_cm, per_kg = (numbers.value("alcohol", "water", name) for name in ("base", "per_cm", "per_kg"))
    return base + per_cm * numbers.value("alcohol", "height") + per_kg * weight_kg


def leaves_h(drinks: float, weight_kg: float, *, country: str) -> float:
    """Hours from the start of drinking until none is left, by the model alone: n K over body water."""
    row = _country(country)
    per_drink = (
        float(row["per_drink"]) if "per_drink" in row else drink_g(country) * numbers.value("alcohol", "grams", "per_g")
    )
    return drinks * per_drink / body_water_l(weight_kg)


def after_drinks(drinks: float, *, country: str, weight_kg: float | None = None) -> Wait:
    """The wait after standard drinks of a country; raises ValueError for a number that cannot be."""
    _within(drinks, MOST_DRINKS, "drinks")
    counted = _counted(weight_kg)
    grams = drinks * drink_g(country)
    leaves = leaves_h(drinks, counted, country=country)
    return _wait(drinks, grams, leaves, weight_kg, str(_country(country)["source"]))


def after_grams(grams: float, *, weight_kg: float | None = None) -> Wait:
    """The wait after so many grams of alcohol; raises ValueError for a number that cannot be."""
    _within(grams, MOST_GRAMS, "grams")
    leaves = grams * numbers.value("alcohol", "grams", "per_g") / body_water_l(_counted(weight_kg))
    row = numbers.table("alcohol", "grams", "drink")
    return _wait(grams / float(row["value"]), grams, leaves, weight_kg, str(row["source"]))


def until_h(wait: Wait, *, began_h: float | None, ended_h: float) -> float:
    """When the wait is over, on the scale of hours in which drinking began and ended.

    Where the beginning is not known it counts from the end. It is never over before 2 h after the last drink. Raises
    ValueError where the end is before the beginning.
    """
    if began_h is not None and ended_h < began_h:
        raise ValueError("drinking cannot end before it begins")
    from_h = ended_h if began_h is None else began_h
    return max(from_h + wait.hours, ended_h + numbers.value("alcohol", "after_last"))


def rounded_up(hours: float, *, to_min: float = 5.0) -> float:
    """Hours rounded up to the next five minutes."""
    return math.ceil(hours * 60 / to_min - 1e-6) * to_min / 60


def _wait(drinks: float, grams: float, leaves: float, weight_kg: float | None, source: str) -> Wait:
    if weight_kg is None:
        leaves = max(leaves, grams * numbers.value("alcohol", "no_weight"))
    return Wait(
        rule_h=drinks * numbers.value("alcohol", "rule"),
        leaves_h=leaves,
        drinks=drinks,
        grams=grams,
        weight_kg=_counted(weight_kg),
        weight_known=weight_kg is not None,
        much=weight_kg is not None and grams > numbers.value("alcohol", "most_g_kg") * weight_kg,
        source=source,
    )


def _counted(weight_kg: float | None) -> float:
    if weight_kg is None:
        return numbers.value("alcohol", "usual_weight")
    low, high = weights_kg()
    if not low <= weight_kg <= high:
        raise ValueError(f"a weight must be from {low:g} to {high:g} kg")
    return min(weight_kg, float(numbers.table("alcohol", "weight")["counted_to"]))


def _within(number: float, most: float, what: str) -> None:
    if not 0 < number <= most:
        raise ValueError(f"{what} must be more than 0 and at most {most:g}")


def _country(name: str) -> dict[str, float | str]:
    found: dict[str, dict[str, float | str]] = numbers.table("alcohol", "country")
    if name not in found:
        raise ValueError(f"no standard drink is known for {name!r}")
    return found[name]
