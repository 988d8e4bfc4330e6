"""Intervals that go in, and the early, nominal and late answers that come out."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

INFINITE = math.inf
Shape = Literal["flat", "upright"]


class Range(NamedTuple):
    """What is known of an input: its lowest, likely and highest value, in the unit that its field names."""

    low: float
    nominal: float
    high: float

    @classmethod
    def exactly(cls, value: float) -> Range:
        """A value without doubt."""
        return cls(value, value, value)

    @classmethod
    def about(cls, value: float, part: float) -> Range:
        """A value and a part of it to either side (0.1 is 10 %)."""
        return cls(value * (1 - part), value, value * (1 + part))


class Triple(NamedTuple):
    """When something happens, in hours from the start: early, nominal, late; infinite where it may never happen."""

    early_h: float
    nominal_h: float
    late_h: float

    def rounded(self, step_min: float) -> Triple:
        """Early down and late up to whole steps (30 min in air, 1 min in a bath), the nominal to the nearest."""
        step_h = step_min / 60

        def to(value_h: float, how: str) -> float:
            if math.isinf(value_h):
                return value_h
            steps = value_h / step_h
            whole = {"down": math.floor(steps + 1e-9), "near": round(steps), "up": math.ceil(steps - 1e-9)}[how]
            return whole * step_h

        return Triple(to(self.early_h, "down"), to(self.nominal_h, "near"), to(self.late_h, "up"))


class Vessel(NamedTuple):
    """What is known of a container: a flat bag by its thickness, an upright one by its inside diameter.

    `across_mm` is that thickness or diameter, `faces` how much of it meets the air (flat: 1 to 2 faces; upright:
    1 for the side alone up to 2 for side and both ends), `wall` the wall's resistance in m2 K/W,
    `measured` whether somebody measured across.
    """

    shape: Shape
    ml: float
    across_mm: Range
    faces: Range
    wall: Range
    measured: bool


class Air(NamedTuple):
    """Air around a container: its temperature in degrees Celsius and the film coefficient in W/(m2 K)."""

    c: Range
    film: Range
