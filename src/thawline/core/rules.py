"""The guidelines in force together, and the rows of them that count in a situation."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping
from typing import NamedTuple

from .guideline import ROUNDING_C, Ban, Guideline, Milk, Row
from .house import House


class Choice(NamedTuple):
    """The rows that count; `outside` where there are none although the situation needs one.

    `earliest` asks for the one that ends first; `stands_in` names the guideline that is silent here.
    """

    use: tuple[Row, ...] = ()
    best: tuple[Row, ...] = ()
    outside: str = ""
    earliest: bool = False
    stands_in: str = ""


def _heaviest(rows: list[Row]) -> tuple[Row, ...]:
    most = max((row.weight for row in rows), default=0)
    return tuple(row for row in rows if row.weight == most)


def _seen(guideline: Guideline, situation: str, best: bool) -> list[Row]:
    rows = guideline.rows.get(situation, ())
    return [row for row in rows if row.best == best and row.mark != "memory"]


class Rules:
    """One home or care-team guideline, with the overlays of a childcare service."""

    def __init__(
        self,
        guideline: Guideline,
        also: tuple[Guideline, ...],
        house: House,
        house_bans: Mapping[str, Ban],
        stand_ins: Callable[[], tuple[Guideline, ...]],
    ) -> None:
        self.guideline = guideline
        self.all = (guideline, *also)
        self.house = house
        self._house_bans = house_bans
        self._stand_ins = stand_ins
        self._choices: dict[tuple[str, str, str, float | None, Milk], Choice] = {}
        self._shortest: dict[tuple[str, str], tuple[Row, ...]] = {}
        self._edges: list[float] = []

    def bans(self, act: str) -> list[Ban]:
        """The bans on an act, of each guideline in force; the house's where the first has none of its own."""
        found = [guideline.bans[act] for guideline in self.all if act in guideline.bans]
        if act not in self.guideline.bans and act in self._house_bans:
            found.insert(0, self._house_bans[act])
        return found

    def band(self, temp: float | None) -> int:
        """Which of the stretches between the temperatures that any row or house rule turns on; -1 where unknown."""
        if temp is None:
            return -1
        if not self._edges:
            lines = {self.house.hot_room_c, self.house.warm_cooler_c}
            for row in (row for one in (*self.all, *self._stand_ins()) for rows in one.rows.values() for row in rows):
                for c in (*row.band.values(), *row.above.values()):
                    lines |= {c, c + ROUNDING_C}
            self._edges = sorted(lines)
        return bisect_left(self._edges, temp)

    def choose(self, guideline: Guideline, situation: str, kind: str, temp: float | None, milk: Milk) -> Choice:
        """The rows of a guideline that count in a situation."""
        key = (guideline.id, situation, kind, temp, milk)
        found = self._choices.get(key)
        if found is None:
            found = self._choices[key] = self._choose(guideline, situation, kind, temp, milk)
        return found

    def _choose(self, guideline: Guideline, situation: str, kind: str, temp: float | None, milk: Milk) -> Choice:
        rows = _seen(guideline, situation, best=False)
        use = [row for row in rows if row.fits(kind, temp, milk)]
        if use:
            best = self._best(guideline, situation, kind, temp, milk)
            return Choice(_heaviest(use), best)
        wants_known = temp is None and any(row._replace(known=False).fits(kind, None, milk) for row in rows)
        if rows and not wants_known:
            return Choice(outside="milk" if not _milk_fits(rows, milk) else "temperature")
        if guideline.role == "childcare":
            return Choice()
        if guideline.role == "care_team":
            return Choice(outside="silent")
        return self._stand_in(guideline, situation, kind, temp, milk)

    def _best(self, guideline: Guideline, situation: str, kind: str, temp: float | None, milk: Milk) -> tuple[Row, ...]:
        best = [row for row in _seen(guideline, situation, best=True) if row.fits(kind, temp, milk)]
        remembered = any(row.best and row.mark == "memory" for row in guideline.rows.get(situation, ()))
        if not best and remembered and guideline.role == "home":
            first = self._stand_ins()[0]
            best = [row for row in _seen(first, situation, best=True) if row.fits(kind, temp, milk)]
        return _heaviest(best)

    def _stand_in(self, guideline: Guideline, situation: str, kind: str, temp: float | None, milk: Milk) -> Choice:
        first, *others = self._stand_ins()
        rows = _seen(first, situation, best=False)
        use = [row for row in rows if row.fits(kind, temp, milk) and row.allows.count]
        if use:
            best = [row for row in _seen(first, situation, best=True) if row.fits(kind, temp, milk)]
            return Choice(_heaviest(use), _heaviest(best), stands_in=guideline.name)
        if rows and not _milk_fits(rows, milk):
            return Choice(outside="milk")
        if rows and temp is not None:
            return Choice(outside="temperature")
        pool: list[Row] = []
        for other in others:
            pool += _heaviest(
                [row for row in _seen(other, situation, best=False) if row.fits(kind, temp, milk) and row.allows.count]
            )
        if not pool:
            return Choice(outside="silent")
        return Choice(tuple(pool), earliest=True, stands_in=guideline.name)

    def shortest(self, guideline: Guideline, situation: str) -> tuple[Row, ...]:
        """The shortest figure of a situation, whatever the temperature: what no worse place may exceed."""
        key = (guideline.id, situation)
        if key not in self._shortest:
            rows = _seen(guideline, situation, best=False)
            if not rows and guideline.role == "home":
                rows = _seen(self._stand_ins()[0], situation, best=False)
            self._shortest[key] = tuple(sorted(rows, key=lambda row: row.allows.hours())[:1])
        return self._shortest[key]


def _milk_fits(rows: list[Row], milk: Milk) -> bool:
    return any(milk.source in row.milk and set(milk.added) <= set(row.added) for row in rows)
