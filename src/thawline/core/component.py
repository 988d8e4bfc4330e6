"""One component of milk: its own past, and which rows of each guideline count for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import NamedTuple, Self
from zoneinfo import ZoneInfo

from .book import ON_COLD, ROOM_STAY, Anchor, Bands, Book, Running
from .guideline import Milk, Row
from .places import FREEZERS, Condition
from .rules import Choice, Rules


class Broken(NamedTuple):
    """A breach: the rule, when, in words, and its source."""

    at: int
    rule: str
    says: str
    source: str


_NONE: Mapping[tuple[str, int], int] = MappingProxyType({})


class Bounds(NamedTuple):
    """Early and late times from outside the core: per container, by the moment the stay or excursion began.

    `thawed_early` and `warm_early` map a moment to the earliest thaw or 15 C; `solid_late` to certainly frozen.
    `cold_early` maps a place and the moment its power failed to when it may be cold no more: never past the rule.
    """

    thawed_early: Mapping[tuple[str, int], int] = _NONE
    solid_late: Mapping[tuple[str, int], int] = _NONE
    warm_early: Mapping[tuple[str, int], int] = _NONE
    cold_early: Mapping[tuple[str, int], int] = _NONE


class Component:
    """One component: its own past, and each guideline's limits for it."""

    def __init__(self, rules: Rules, zone: ZoneInfo, expressed: Anchor, milk: Milk, bounds: Bounds) -> None:
        self.rules = rules
        self.zone = zone
        self.expressed = expressed
        self.milk = milk
        self.bounds = bounds
        self.container = ""
        self.mother: str | None = None
        self.form, self.kind = "fresh", ""
        self.temp: float | None = None
        self.guessed = self.vague = False
        self.at = expressed.at
        self.place_at = expressed.at
        self.cooler_at: int | None = None
        self.chilled = False
        self.ml = 0.0
        self.out_at: int | None = None
        self.out_short = 0
        self.out_sum = 0
        # The shortest of the bounds given for its excursions: their sum may not pass it.
        self.out_bound: int | None = None
        self.frozen_in = 0
        self.first_frozen: Anchor | None = None
        self.solid = False
        self.dual = False
        self.left_freezer: int | None = None
        self.last_ice: int | None = None
        self.known_frozen = 0
        self.thawed: Anchor | None = None
        self.unseen_at: int | None = None
        self.unseen_here = False
        # Out of the place where its stay goes on, though no move was noted: what is read there says nothing of it.
        self.elsewhere = False
        self.bands = Bands()
        self.warm_thaw: int | None = None
        self.warmed: int | None = None
        self.fed: int | None = None
        self.feed_open = False
        self.feed_end: Anchor | None = None
        self.received: int | None = None
        self.held: frozenset[str] = frozenset()
        self.books = [Book(guideline) for guideline in rules.all]
        self.broken: list[Broken] = []

    def copy(self) -> Self:
        twin = object.__new__(type(self))
        twin.__dict__.update(self.__dict__)
        twin.books = [book.copy() for book in self.books]
        twin.broken = list(self.broken)
        twin.bands = Bands(self.bands.now)
        return twin

    # What is asked of it

    def limit(self) -> Running | None:
        """The `use` limit that ends earliest, of all guidelines in force."""
        limits = [limit for book in self.books if (limit := book.first()) is not None]
        return min(limits, key=lambda limit: (limit.until, -limit.start), default=None)

    def best(self) -> int | None:
        """The quality date, an instant, where a guideline tells one apart."""
        ends = [limit.until for book in self.books if (limit := book.first(best=True)) is not None]
        return min(ends, default=None)

    def outside(self) -> Book | None:
        """The guideline that gives no time here, the longest since; None where all give one."""
        out = [book for book in self.books if book.out_since is not None]
        return min(out, key=lambda book: book.out_since or 0, default=None)

    def use_by(self, now: int) -> int | None:
        """The moment by which it must have been fed or moved on; raises nothing."""
        limit = self.limit()
        out = self.outside()
        if limit is not None and (limit.until < now or out is None):
            return limit.until
        return out.out_since if out is not None else None

    def is_past(self, now: int) -> bool:
        limit = self.limit()
        return limit is not None and limit.until < now

    def breach(self, at: int, rule: str, says: str, source: str) -> None:
        row = Broken(at, rule, says, source)
        if row not in self.broken:
            self.broken.append(row)

    def banned(self, act: str, at: int) -> None:
        for ban in self.rules.bans(act):
            self.breach(at, ban.id, ban.says, ban.source)

    def late(self, limit: Running, at: int) -> None:
        self.breach(at, limit.row.id, f"Moved on too late. {limit.row.says}", limit.row.source)

    def accrue(self, to: int) -> None:
        """Let time pass up to an instant: time out of the cold adds up, an excursion out of the band may settle."""
        passed = to - self.at
        if passed <= 0:
            return
        self.at = to
        for book in self.books:
            if (self.form == "fresh" or self.dual) and (self.kind == "room" or book.out_why == "temperature"):
                book.used += passed
            if (
                book.out_since is not None
                and book.out_why == "temperature"
                and to - book.out_since > self.rules.house.for_good
            ):
                book.for_good = True

    # Which rows count

    def situations(self) -> list[str]:
        """The situations that its place and form put it in."""
        found = []
        if self.form == "frozen":
            return [self.kind] if self.kind in FREEZERS else []
        if self.form == "fresh" or self.dual:
            fresh = {"room": "fresh_room", "cooler": "fresh_cooler"}.get(self.kind, "fresh_refrigerator")
            found.append(fresh)
            if self.kind == "room" and self.chilled:
                found.append("brought_to_room")
        if self.form != "fresh":
            found.append("thawed_room" if self.kind == "room" else "thawed_cold")
        if self.warm_thaw is not None:
            found.append("thawed_warm_water")
        return found

    def _kind_for(self, situation: str) -> str:
        # Thawed milk in a freezer lies in the cold, no better than in a refrigerator.
        return "refrigerator" if situation == "thawed_cold" and self.kind in FREEZERS else self.kind

    def settle(self, at: int) -> tuple[str, ...]:
        """Start what counts from now on; for each guideline why it gives no time, empty where it does."""
        found = []
        for book in self.books:
            reasons = [self._start(book, s, self._kind_for(s), self.temp, at) for s in self.situations()]
            why = next((reason for reason in reasons if reason), "")
            if self.unseen_at is not None:
                why = "unseen"
            self.stand(book, why, at)
            found.append(why)
        return tuple(found)

    def stand(self, book: Book, why: str, at: int) -> None:
        """It is inside a guideline from now on, or for a reason outside."""
        if why:
            book.outside(at if why != "unseen" else self.unseen_at or at, why)
            if why == "temperature":
                self._ceiling(book, at)
        else:
            book.inside()
            if book.for_good:
                self._ceiling(book, at)
            elif self.kind != "room":
                self._lift_ceiling(book, at)

    def steady(self, condition: Condition) -> bool:
        """Whether only the temperature can differ from what it was."""
        same = condition.kind == self.kind and condition.guessed == self.guessed and condition.at >= self.at
        return same and not (condition.unseen or self.unseen_here)

    def settled(self, reasons: tuple[str, ...], steady: bool) -> None:
        """Remember why there is no time in this band; of other bands, too, while nothing else changes."""
        if not steady or self.unseen_at is not None:
            self.bands = Bands()
        elif self._starts_once():
            self.bands.reasons[self.rules.band(self.temp)] = reasons
        self.bands.now = self.rules.band(self.temp)

    def _starts_once(self) -> bool:
        """Whether what counts here starts once, however often it is settled: room time that stands still does not."""
        if self.kind == "room" and (self.form == "fresh" or self.dual):
            return True
        choices = [
            self.rules.choose(book.guideline, situation, self._kind_for(situation), self.temp, self.milk)
            for book in self.books
            for situation in self.situations()
        ]
        return not any(ROOM_STAY in row.situations for choice in choices for row in (*choice.use, *choice.best))

    def _ceiling(self, book: Book, at: int) -> None:
        """Time outside counts as room time: a hotter room or a warm refrigerator gains nothing."""
        if self.form == "fresh" or self.dual:
            self.run_shortest(book, ROOM_STAY, at)

    def run_shortest(self, book: Book, situation: str, at: int) -> None:
        """Start a situation's shortest figure where no row of it holds."""
        for row in self.rules.shortest(book.guideline, situation):
            anchor = self._anchor(row, book, at)
            if anchor is not None:
                self.run(book, row, situation, anchor, "")

    def _lift_ceiling(self, book: Book, at: int) -> None:
        for limit in [x for x in book.running if x.situation == ROOM_STAY and not x.stuck]:
            if limit.until < at:
                limit.stuck = True
                book.thin(limit)
            elif self.warmed is None and self.warm_thaw is None and self.fed is None:
                book.drop([limit])

    def _start(self, book: Book, situation: str, kind: str, temp: float | None, at: int) -> str:
        """Start the rows of a situation; the reason where there are none although one is needed."""
        choice = self.rules.choose(book.guideline, situation, kind, temp, self.milk)
        if choice.outside:
            return choice.outside
        use = self._dated(book, choice, at)
        if choice.earliest and use:
            use = [min(use, key=lambda pair: pair[0].allows.after(pair[1].at, self.zone))]
        for row, anchor in use:
            self.run(book, row, situation, anchor, choice.stands_in)
        for row in choice.best:
            found = self._anchor(row, book, at)
            if found is not None:
                self.run(book, row, situation, found, choice.stands_in)
        return ""

    def _dated(self, book: Book, choice: Choice, at: int) -> list[tuple[Row, Anchor]]:
        pairs = [(row, self._anchor(row, book, at)) for row in choice.use]
        return [(row, anchor) for row, anchor in pairs if anchor is not None]

    def run(self, book: Book, row: Row, situation: str, start: Anchor, stands_in: str) -> None:
        """Start a limit, unless it runs already."""
        for limit in book.running:
            if limit.row is row and (limit.start == start.at or (row.stay and not limit.stuck)):
                return
        limit = Running(row, situation, start, row.allows.after(start.at, self.zone), stands_in)
        limit.open = situation in ON_COLD and self.kind == "room" and self.warmed is None
        limit.assumed = self.dual and situation.startswith(("fresh", "brought"))
        book.running.append(limit)

    def _anchor(self, row: Row, book: Book, at: int) -> Anchor | None:
        """When a row's clock began for this milk; None where that has not happened."""
        if row.starts == "expressed" and ROOM_STAY in row.situations:
            # All time out of the cold since expression counts.
            return Anchor(at - book.used, self.expressed.guessed or self.guessed)
        return _ANCHORS[row.starts](self, at)


def _seen(at: int | None) -> Anchor | None:
    return None if at is None else Anchor(at, False)


def _left_cold(component: Component, at: int) -> Anchor:
    start = component.out_at if component.out_at is not None else component.place_at
    return Anchor(start, component.guessed or component.vague)


_ANCHORS: dict[str, Callable[[Component, int], Anchor | None]] = {
    "expressed": lambda component, at: component.expressed,
    "entered_place": lambda component, at: Anchor(
        component.cooler_at if component.kind == "cooler" and component.cooler_at is not None else component.place_at,
        component.vague or component.guessed,
    ),
    "first_frozen": lambda component, at: component.first_frozen,
    "left_freezer": lambda component, at: _seen(component.left_freezer),
    "thawed": lambda component, at: component.thawed,
    "left_cold": _left_cold,
    "warmed": lambda component, at: _seen(component.warm_thaw if component.warm_thaw is not None else component.warmed),
    "feed_began": lambda component, at: _seen(component.fed),
    "feed_ended": lambda component, at: component.feed_end,
    "received": lambda component, at: _seen(component.received),
}
