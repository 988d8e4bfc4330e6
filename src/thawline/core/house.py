"""The house rules: figures that every guideline needs and none publishes, read from their data file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from .times import DAY, HOUR, MINUTE, Span


def celsius(text: str) -> float:
    """Read "40 F" or "4 C" as degrees Celsius; `ValueError` otherwise."""
    number, _, unit = text.partition(" ")
    value = float(number)
    if unit == "C":
        return value
    if unit == "F":
        return (value - 32) * 5 / 9
    raise ValueError(f"{text!r} is not a temperature: write 4 C or 40 F")


class House:
    """Thresholds in microseconds, millilitres and degrees Celsius."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        short = data["short_excursion"]
        self.short: int = short["minutes"] * MINUTE
        self.short_small: int = short["small_minutes"] * MINUTE
        self.short_from_ml = float(short["from_ml"])
        self.hot_room_c = celsius(short["hot_room"])
        self.ice: int = short["ice_minutes"] * MINUTE
        self.solid: int = data["frozen_solid"]["hours"] * HOUR
        self.warm_cooler_c = celsius(data["warm_cooler"]["above"])
        self.for_good: int = data["for_good"]["hours"] * HOUR
        self.for_good_above_c = celsius(data["for_good"]["above"])
        self.for_good_source = str(data["for_good"]["source"])
        self.power = data["power"]
        self.power_from_c = {kind: celsius(text) for kind, text in data["power"]["to_start"].items()}
        self.lead = data["soon"]

    def short_excursion(self, ml: float, hot: bool) -> int:
        """How long milk may be out of the cold before it can have reached room temperature."""
        return self.short if ml >= self.short_from_ml and not hot else self.short_small

    def power_hours(self, kind: str, fill: str | None) -> int | None:
        """How long a closed box counts as cold without power; None where power does not matter."""
        hours = self.power.get(kind)
        if isinstance(hours, dict):
            # A fill that nobody noted is taken at its least.
            hours = hours[fill or "little"]
        return None if hours is None else int(hours) * HOUR

    def soon_before(self, span: Span) -> int:
        """How long before a limit of that length the milk is called for."""
        if span.unit == "months":
            return int(self.lead["months_before_days"]) * DAY
        if span.hours() <= self.lead["up_to_hours"]:
            return int(self.lead["hours_before"]) * HOUR
        return int(self.lead["days_before_hours"]) * HOUR
