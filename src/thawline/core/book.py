"""One guideline's running limits for one component of milk."""

from __future__ import annotations

from typing import NamedTuple

from .guideline import Guideline, Row

ROOM_STAY = "fresh_room"
ON_COLD = ("brought_to_room", "thawed_room")


class Anchor(NamedTuple):
    """When a clock began; `guessed` where nobody saw it."""

    at: int
    guessed: bool


class Running:
    """A limit that has started: its row, from, until, and whether its start was seen."""

    __slots__ = ("assumed", "ended", "guessed", "open", "row", "situation", "stands_in", "start", "stuck", "until")

    def __init__(self, row: Row, situation: str, start: Anchor, until: int, stands_in: str) -> None:
        self.row = row
        self.situation = situation
        self.start = start.at
        self.guessed = start.guessed
        self.until = until
        self.stands_in = stands_in
        self.open = False
        # Runs only because nobody knows that the milk ever froze.
        self.assumed = False
        self.stuck = False
        self.ended: int | None = None

    def copy(self) -> Running:
        twin = Running(self.row, self.situation, Anchor(self.start, self.guessed), self.until, self.stands_in)
        twin.open, twin.stuck, twin.ended = self.open, self.stuck, self.ended
        twin.assumed = self.assumed
        return twin


class Bands:
    """Which bands of temperature milk has been settled in since the last that happened to it, and the present one.

    `reasons` says for each why each guideline gives no time.
    """

    __slots__ = ("now", "reasons")

    def __init__(self, now: int = -1) -> None:
        self.now = now
        self.reasons: dict[int, tuple[str, ...]] = {}


class Book:
    """What one guideline counts for one component."""

    __slots__ = ("ended", "for_good", "guideline", "out_since", "out_why", "running", "shadow", "used")

    def __init__(self, guideline: Guideline) -> None:
        self.guideline = guideline
        self.running: list[Running] = []
        self.shadow: list[Running] = []
        self.ended: list[Running] = []
        self.out_since: int | None = None
        self.out_why = ""
        self.for_good = False
        self.used = 0

    def copy(self) -> Book:
        twin = Book(self.guideline)
        twin.running = [limit.copy() for limit in self.running]
        twin.shadow = [limit.copy() for limit in self.shadow]
        twin.ended = list(self.ended)
        twin.out_since, twin.out_why = self.out_since, self.out_why
        twin.for_good, twin.used = self.for_good, self.used
        return twin

    def first(self, *, best: bool = False) -> Running | None:
        """The running limit that ends earliest; of equals the one begun last."""
        limits = [limit for limit in self.running if limit.row.best == best]
        return min(limits, key=lambda limit: (limit.until, -limit.start), default=None)

    def end(self, limits: list[Running], at: int) -> None:
        """Limits that no longer run: they stay in the trace."""
        for limit in limits:
            limit.ended = at
            self.running.remove(limit)
            if not limit.row.best:
                self.ended.append(limit)

    def drop(self, limits: list[Running]) -> None:
        """Limits that turn out never to have run."""
        self.running = [limit for limit in self.running if limit not in limits]

    def thin(self, latest: Running) -> None:
        """Of limits that one row began again and again and that ran out, none between first and latest can count."""
        alike = [
            limit
            for limit in self.running
            if limit.stuck and limit.row is latest.row and limit.situation == latest.situation
            and limit.assumed == latest.assumed
        ]  # fmt: skip
        first = min(alike, key=lambda limit: (limit.until, -limit.start))
        self.drop([limit for limit in alike if limit is not first and limit is not latest])

    def assume(self) -> None:
        """Nobody knows that it froze: what ran before runs on."""
        for limit in self.shadow:
            limit.assumed = True
        self.running += self.shadow
        self.shadow = []

    def outside(self, at: int, why: str) -> None:
        if self.out_since is None:
            self.out_since, self.out_why = at, why
        elif self.out_why == "unseen":
            self.out_why = why

    def inside(self) -> None:
        if not self.for_good:
            self.out_since, self.out_why = None, ""
