"""One container in one corner of its intervals: the plain numbers that a model takes."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from .assumed import FREEZING
from .spread import Air, Range, Vessel

Corner = Literal["fast", "nominal", "slow"]
Change = Literal["warming", "cooling"]
CORNERS: tuple[Corner, Corner, Corner] = ("fast", "nominal", "slow")


class Kind(NamedTuple):
    """Which milk: how rich it is, and its initial freezing point in C."""

    rich: Literal["lean", "usual", "fatty"]
    freezing_c: float


class Case(NamedTuple):
    """A container without doubt: half its thickness (one face: all of it) or its radius in m, and what meets the air.

    `u` is the overall coefficient of the side in W/(m2 K); `top` and `base` are the parts of it that the ends of an
    upright container have (0 insulated, 1 as the side), `fill_m` the height of its milk in m.
    """

    flat: bool
    half_m: float
    u: float
    fill_m: float
    top: float
    base: float
    milk: Kind

    @property
    def volume_over_area_m(self) -> float:
        """Volume over the area that meets the air (ends counted by their part), in m."""
        if self.flat:
            return self.half_m
        return 1 / (2 / self.half_m + (self.top + self.base) / self.fill_m)


def pick(of: Range, corner: Corner, fast: Literal["low", "high"]) -> float:
    """The end of an interval that one corner takes, where `fast` says which end makes it quicker."""
    if corner == "nominal":
        return of.nominal
    return of.low if (corner == "fast") == (fast == "low") else of.high


def kind(corner: Corner, change: Change) -> Kind:
    """The milk of a corner: fat milk holds less heat; a lower freezing point thaws sooner and freezes later."""
    if corner == "nominal":
        return Kind("usual", FREEZING.nominal)
    freezing_c = pick(FREEZING, corner, "low" if change == "warming" else "high")
    return Kind("fatty" if corner == "fast" else "lean", freezing_c)


def case(vessel: Vessel, film: Range, corner: Corner, change: Change) -> Case:
    """A container in one corner.

    An upright one keeps the fill height of its likely diameter; a base that meets the air in part does so wholly where
    that is quicker, and not at all where that is slower.
    """
    across_m = pick(vessel.across_mm, corner, "low") / 1000
    faces = pick(vessel.faces, corner, "high")
    u = 1 / (1 / pick(film, corner, "high") + pick(vessel.wall, corner, "low"))
    milk = kind(corner, change)
    if vessel.shape == "flat":
        return Case(flat=True, half_m=across_m / faces, u=u, fill_m=math.inf, top=0, base=0, milk=milk)
    fill_m = 4e-6 * vessel.ml / (math.pi * (vessel.across_mm.nominal / 1000) ** 2)
    top, base = min(1.0, 2 * (faces - 1)), max(0.0, 2 * (faces - 1.5))
    if corner != "nominal":
        base = math.ceil(base) if corner == "fast" else math.floor(base)
    return Case(flat=False, half_m=across_m / 2, u=u, fill_m=fill_m, top=top, base=base, milk=milk)


def mirrored(one: Case) -> Case:
    """The same with the freezing point from the other end of its interval."""
    return one._replace(milk=one.milk._replace(freezing_c=FREEZING.low + FREEZING.high - one.milk.freezing_c))


def air_c(air: Air, corner: Corner, change: Change) -> float:
    """The air's temperature in one corner, in C."""
    return pick(air.c, corner, "high" if change == "warming" else "low")


def start_c(start: Range, corner: Corner, change: Change) -> float:
    """The milk's temperature at the start in one corner, in C."""
    return pick(start, corner, "high" if change == "warming" else "low")
