"""What it was like where the milk lay: places, temperatures, power, and what somebody saw there."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from typing import NamedTuple

from . import events as ev
from .house import House
from .ledger import Entry

FREEZERS = ("freezer_compartment", "freezer", "deep_freezer")


class Condition(NamedTuple):
    """How a stay is to be judged from an instant on; `unseen` where power failed and nobody has looked."""

    at: int
    kind: str
    temp_c: float | None
    unseen: bool = False
    guessed: bool = False


class Fact(NamedTuple):
    """One thing known of a place or a container in it."""

    at: int
    what: str
    value: object


class Course(NamedTuple):
    """How a place went for all milk in it alike: the facts that change the band, and the conditions from each on."""

    band: Callable[[float | None], int]
    facts: list[Fact]
    rows: list[Condition]


class PlaceLine:
    """One place over time, as first described from the beginning."""

    def __init__(self) -> None:
        self._course: Course | None = None
        self.kinds: list[tuple[int, str]] = []
        self.facts: list[Fact] = []
        # Read off a thermometer, at an instant, in degrees Celsius; apart from what was said to be usual.
        self.measured: list[tuple[int, float]] = []
        self.outages: list[tuple[int, int | None, str | None]] = []

    def described(self, at: int, event: ev.Place) -> None:
        if event.temp_c is not None:
            # The usual temperature as first described holds from the beginning.
            first = not self.kinds
            self.facts.append(Fact(0 if first else at, "temp", event.temp_c))
        self.kinds.append((at, event.is_))

    def kind_at(self, at: int) -> str:
        index = bisect_right(self.kinds, at, key=lambda row: row[0])
        return self.kinds[max(0, index - 1)][1]

    def temp_at(self, at: int) -> float | None:
        index = bisect_right(self.facts, at, key=_at)
        value = self.facts[index - 1].value if index else None
        return value if isinstance(value, float) else None

    def course(self, house: House, band: Callable[[float | None], int]) -> Course | None:
        """Its course by bands of temperature; None where each stay goes its own way: coolers, cuts, another kind."""
        kinds = {kind for _, kind in self.kinds}
        if self.outages or len(kinds) != 1 or "cooler" in kinds:
            return None
        if self._course is None or self._course.band != band:
            facts, rows = [], []
            (kind,) = kinds
            temp: float | None = None
            for fact in sorted([*self.facts, *(Fact(at, "kind", kind) for at, _ in self.kinds)], key=_at):
                now = fact.value if isinstance(fact.value, float) else temp
                if temp is None or now is None or band(now) != band(temp):
                    facts.append(fact)
                    rows.append(_condition(house, fact.at, kind, now))
                temp = now
            self._course = Course(band, facts, rows)
        return self._course

    def next_after(self, at: int) -> list[Fact]:
        """What is known of the place next after an instant."""
        index = bisect_right(self.facts, at, key=_at)
        return self.facts[index : index + 1]


def _at(fact: Fact) -> int:
    return fact.at


def _within(facts: list[Fact], start: int, end: int) -> slice:
    """Where in facts those after an instant up to another stand."""
    return slice(bisect_right(facts, start, key=_at), bisect_right(facts, end, key=_at))


class Places:
    """All places of a household, up to now."""

    def __init__(
        self, settings: list[Entry], entries: list[Entry], house: House,
        cold_early: Mapping[tuple[str, int], int] | None = None,
    ) -> None:  # fmt: skip
        self.house = house
        self.cold_early = cold_early or {}
        self.lines: dict[str, PlaceLine] = {}
        for entry in settings:
            if isinstance(entry.event, ev.Place):
                self.lines.setdefault(entry.event.place, PlaceLine()).described(entry.at, entry.event)
        for entry in entries:
            event = entry.event
            if isinstance(event, ev.Measured) and event.place in self.lines:
                self.lines[event.place].facts.append(Fact(entry.at, "temp", float(event.temp_c)))
                self.lines[event.place].measured.append((entry.at, float(event.temp_c)))
            elif isinstance(event, (ev.PowerLost, ev.PowerBack)) and event.place in self.lines:
                _power(self.lines[event.place], entry.at, event)
        for line in self.lines.values():
            line.facts.sort(key=_at)
            line.measured.sort()

    def known(self, place: str) -> bool:
        return place in self.lines

    def conditions(
        self, place: str, start: int, end: int, seen: list[Fact], band: Callable[[float | None], int] | None = None
    ) -> list[Condition]:
        """The conditions of a stay from `start` to `end`; `seen` are looks at the container itself.

        With `band`, those that stay within a band of temperature may be left out.
        """
        line = self.lines[place]
        kind = line.kind_at(start)
        temp = line.temp_at(start)
        looks = [fact for fact in seen if start <= fact.at <= end]
        course = line.course(self.house, band) if band is not None else None
        if course is not None:
            facts = course.facts[(here := _within(course.facts, start, end))]
            if not looks:
                return [_condition(self.house, start, kind, temp), *course.rows[here]]
            # The milk's own temperature counts until the place is read again.
            after = [fact for look in looks for fact in line.next_after(look.at) if fact.at <= end]
            return _walk(self.house, start, end, kind, temp, sorted([*facts, *looks, *after], key=_at))
        # A cooler found warm while it is unpacked was warm before: the milk that just left it had been in it.
        late = self.house.short if kind == "cooler" else 0
        facts = line.facts[_within(line.facts, start, end + late)]
        facts += [Fact(at, "kind", name) for at, name in line.kinds if start < at <= end]
        facts += looks
        # Milk in a room is not the room: a reading of the milk says nothing of the air.
        facts += self._unseen(place, start, end)
        if not facts:
            return [_condition(self.house, start, kind, temp)]
        facts.sort(key=_at)
        return _walk(self.house, start, end, kind, temp, facts)

    def cold_until(self, place: str, kind: str, lost: int, fill: str | None) -> int | None:
        """Until when a closed box counts as cold without power; None where power does not matter.

        The published hours, or the early bound given where that is sooner.
        """
        hours = self.house.power_hours(kind, fill)
        if hours is None:
            return None
        return min(lost + hours, max(lost, self.cold_early.get((place, lost), lost + hours)))

    def _unseen(self, place: str, start: int, end: int) -> list[Fact]:
        found = []
        line = self.lines[place]
        for lost, back, fill in line.outages:
            # A place may have become another kind since the milk came there.
            over = self.cold_until(place, line.kind_at(max(lost, start)), lost, fill)
            if over is None:
                continue
            until = back if back is not None else end
            if until > over and start < until and over <= end:
                found.append(Fact(max(over, start), "unseen", until))
        return found

    def frozen_until(self, place: str, start: int, end: int) -> int | None:
        """The last instant in a stay at which a failing freezer still counted as cold; None without a failure."""
        line = self.lines[place]
        best: int | None = None
        for lost, back, fill in line.outages:
            if start < lost <= end:
                over = self.cold_until(place, line.kind_at(lost), lost, fill) or lost
                over = over if back is None else min(over, back)
                best = over if over <= end else lost
        return best


def _power(line: PlaceLine, at: int, event: ev.PowerLost | ev.PowerBack) -> None:
    if isinstance(event, ev.PowerLost):
        if not line.outages or line.outages[-1][1] is not None:
            line.outages.append((at, None, event.fill))
    elif line.outages and line.outages[-1][1] is None:
        lost, _, fill = line.outages[-1]
        line.outages[-1] = (lost, at, fill or event.fill)


def _condition(
    house: House, at: int, kind: str, temp: float | None, unseen: bool = False, guessed: bool = False
) -> Condition:
    if kind == "cooler" and temp is not None and temp > house.warm_cooler_c:
        kind = "room"
    return Condition(at, kind, temp, unseen, guessed)


class _Walk:
    """The facts of one stay, taken in order."""

    def __init__(self, house: House, start: int, kind: str, temp: float | None) -> None:
        self.house = house
        self.kind = kind
        self.temp = temp
        self.vouched = 0
        self.guessed = False
        self.unseen_until = 0
        self.cold_known = start
        self.rows = [_condition(house, start, kind, temp)]

    def put(self, at: int, *, unseen: bool = False) -> None:
        self.rows.append(_condition(self.house, at, self.kind, self.temp, unseen, self.guessed))

    def temperature(self, at: int, temp: float) -> None:
        self.temp = temp
        if self.kind == "cooler":
            if temp > self.house.warm_cooler_c:
                self.found_warm()
            else:
                self.cold_known = at
                self.guessed = False
        self.look(at)

    def found_warm(self) -> None:
        """A cooler found warm counts as a room since it was last known cold, else since the milk went in."""
        if self.rows[-1].kind == "room":
            return
        self.guessed = True
        self.rows = [row for row in self.rows if row.at < self.cold_known]
        self.rows.append(Condition(self.cold_known, "room", None, False, True))

    def look(self, at: int) -> None:
        """Somebody looked: what it is now is known, for as long as a closed box would hold it."""
        self.put(at)
        if self.unseen_until > at:
            again = at + (self.house.power_hours("refrigerator", None) or 0)
            if again < self.unseen_until:
                self.vouched = again

    def lapse(self, at: int) -> None:
        if self.vouched and self.vouched < at:
            self.put(self.vouched, unseen=True)
            self.vouched = 0


def _walk(house: House, start: int, end: int, kind: str, temp: float | None, facts: list[Fact]) -> list[Condition]:
    walk = _Walk(house, start, kind, temp)
    for fact in facts:
        if fact.at > end:
            if walk.kind == "cooler" and fact.what == "temp" and float(str(fact.value)) > house.warm_cooler_c:
                walk.found_warm()
            break
        walk.lapse(fact.at)
        if fact.what == "kind":
            walk.kind = str(fact.value)
            walk.put(fact.at)
        elif fact.what == "unseen":
            walk.unseen_until = int(str(fact.value))
            walk.put(fact.at, unseen=True)
        elif fact.what == "milk" and walk.kind == "room":
            continue
        elif fact.what in ("temp", "milk"):
            walk.temperature(fact.at, float(str(fact.value)))
        else:
            walk.look(fact.at)
    return walk.rows
