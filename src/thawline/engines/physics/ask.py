"""The questions a household asks of milk in air: thawing, freezing, chilling, warming up, and when to begin.

Every answer is early, nominal and late: each input at its quickest, likely and slowest, then the model's own error.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from . import full, quick
from .assumed import FREEZER, WARM_C, widened
from .bowl import Bathed, bath
from .case import Case, Change, Corner, air_c, case, mirrored, start_c
from .record import Logged, thaw_logged, warm_up_logged
from .spread import Air, Range, Triple, Vessel

__all__ = [
    "Bathed",
    "Frozen",
    "Logged",
    "MoveBy",
    "bath",
    "cool",
    "freeze",
    "thaw",
    "thaw_by",
    "thaw_logged",
    "warm_up",
    "warm_up_logged",
]

How = Callable[[Case, float, float], float]


class Frozen(NamedTuple):
    """When milk is solid (-5 C at the centre) and when hard (-10 C), in hours."""

    solid: Triple
    hard: Triple


class MoveBy(NamedTuple):
    """The latest moment to take milk out, in hours from now, and what the thaw takes.

    Below 0 it is too late already; minus infinity: it may not thaw there.
    """

    at_h: float
    takes: Triple


def thaw(vessel: Vessel, air: Air, *, start_c: Range = FREEZER, exact: bool = False) -> Triple:
    """Hours until the last ice is gone; late is infinite where the air may be too cold to melt it."""
    run = full.thaw_h if exact else quick.thaw_h
    return _triple(vessel, air, start_c, "warming", (run, run, run), 0.0 if exact else quick.error("thaw", vessel))


def thaw_by(wanted_h: float, vessel: Vessel, air: Air, *, start_c: Range = FREEZER, exact: bool = False) -> MoveBy:
    """The latest moment to move milk so that it is thawed `wanted_h` hours from now, whatever the doubt."""
    takes = thaw(vessel, air, start_c=start_c, exact=exact)
    return MoveBy(wanted_h - takes.late_h, takes)


def freeze(vessel: Vessel, air: Air, *, start_c: Range, exact: bool = False) -> Frozen:
    """Hours until milk is solid and until it is hard; infinite where the air may not be cold enough."""

    def until(question: str) -> Triple:
        how = full.freeze_h if exact else quick.freeze_h

        def run(one: Case, air_c: float, start_c: float) -> float:
            # A lower freezing point is slower to -10 C by its gap to the air, but quicker to -5 C by the ice left out.
            return how(mirrored(one) if question == "solid" else one, air_c, start_c, question)

        return _triple(
            vessel, air, start_c, "cooling", (run, run, run), 0.0 if exact else quick.error("freeze", vessel)
        )

    return Frozen(until("solid"), until("hard"))


def cool(vessel: Vessel, air: Air, *, start_c: Range, to_c: float, exact: bool = False) -> Triple:
    """Hours until liquid milk is down to a temperature: early and nominal swirled, late the centre of still milk."""
    return _liquid(vessel, air, start_c, to_c, "cooling", exact)


def warm_up(vessel: Vessel, air: Air, *, start_c: Range, to_c: float = WARM_C, exact: bool = False) -> Triple:
    """Hours until milk has warmed to a temperature: early and nominal swirled, late the centre of still milk."""
    return _liquid(vessel, air, start_c, to_c, "warming", exact)


def _liquid(vessel: Vessel, air: Air, start_c: Range, to_c: float, change: Change, exact: bool) -> Triple:
    still = full.still_h if exact else quick.still_h

    def there(start_c: float) -> bool:
        return start_c >= to_c if change == "warming" else start_c <= to_c

    def even(one: Case, air_c: float, start_c: float) -> float:
        return 0.0 if there(start_c) else quick.even_h(one, air_c, start_c, to_c)

    def slowly(one: Case, air_c: float, start_c: float) -> float:
        return 0.0 if there(start_c) else still(one, air_c, start_c, to_c)

    return _triple(vessel, air, start_c, change, (even, even, slowly), 0.0 if exact else quick.error("still", vessel))


def _triple(vessel: Vessel, air: Air, start: Range, change: Change, runs: tuple[How, How, How], error: float) -> Triple:
    def at(corner: Corner, run: How) -> float:
        one = case(vessel, air.film, corner, change)
        return run(one, air_c(air, corner, change), start_c(start, corner, change))

    fast, nominal, slow = at("fast", runs[0]), at("nominal", runs[1]), at("slow", runs[2])
    return widened(fast, nominal, slow, error)
