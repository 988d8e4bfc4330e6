"""What the fold keeps of a container: its amount, its stays, and the steps of its milk."""

from __future__ import annotations

from typing import Any, NamedTuple

from . import events as ev
from .places import Fact


class Step(NamedTuple):
    """One thing that matters to the clocks of a container's milk."""

    at: int
    container: str
    does: str
    detail: Any
    ml: float
    vague: bool
    zone: Any


class Stay(NamedTuple):
    """A stay of a container in a place, from an instant on."""

    at: int
    place: str


class Container:
    """One filling: its amount in mL, its place, and its past."""

    __slots__ = (
        "away",
        "born",
        "event",
        "feed",
        "hot",
        "left",
        "looks",
        "ml",
        "name",
        "place",
        "sources",
        "stays",
    )

    def __init__(self, name: str, ml: float, place: str, born: int, event: ev.AnyEvent) -> None:
        self.name = name
        self.ml = ml
        self.place = place
        self.born = born
        self.event = event
        self.left: int | None = None
        self.away = False
        self.feed = False
        # Warmed or drunk from: its own temperature says nothing of the place any more.
        self.hot = False
        self.stays = [Stay(born, place)]
        self.looks: list[Fact] = []
        self.sources: set[str] = set()


class Booked(NamedTuple):
    """Where the millilitres went; expressed and stocked are the sum of the rest."""

    expressed: float
    stocked: float
    fed: float
    discarded: float
    handed_over: float
    miscounted: float
    still_there: float


class RefusedError(Exception):
    """An event that does not fit, with its code and what would mend it."""

    def __init__(self, code: str, says: str) -> None:
        super().__init__(says)
        self.code = code
        self.says = says


class Past(NamedTuple):
    """When milk from before the ledger was expressed and frozen."""

    event: ev.Stocked
    expressed: int
    frozen: int | None
    form: str
    vague: bool
    vague_frozen: bool
