"""A household's milk as it physically is, each act of it written down as an event of the ledger, and a plain count."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from bench.simulated.families import Family
from bench.simulated.figures import figure

START = datetime(2027, 3, 1, tzinfo=UTC)  # a Monday
CHILD, FRIDGE, FREEZER, COUNTER, BAG, AWAY = "Mira", "fridge", "freezer", "counter", "cool bag", "childcare fridge"
PLACES = (
    (COUNTER, "room", 21), (FRIDGE, "refrigerator", 3.8), (FREEZER, "deep_freezer", -18), (BAG, "cooler", 5),
    (AWAY, "refrigerator", 4.2),
)  # fmt: skip
LEAST_ML = 0.06
SECOND_H = 1 / 3600


class Clock(NamedTuple):
    """What a deadline of some milk rests on, hours since the first midnight."""

    expressed_h: float
    frozen_h: float | None = None
    left_h: float | None = None
    warm_h: float | None = None

    def until(self) -> float:
        """Until when it may be fed, or leave the freezer; plain figures of one guideline."""
        if self.warm_h is not None:
            return self.warm_h + figure("limits", "thawed_room")
        if self.frozen_h is None:
            return self.expressed_h + figure("limits", "refrigerator")
        if self.left_h is None:
            return self.frozen_h + figure("limits", "freezer")
        thawed = self.left_h + figure("limits", "thawed")
        if self.left_h - self.frozen_h < 24:  # nobody knows that it was solid
            return min(thawed, self.expressed_h + figure("limits", "refrigerator"))
        return thawed


@dataclass(slots=True)
class Box:
    """A container: mL, its place, the clocks of its milk, and when it is liquid."""

    name: str
    ml: float
    place: str
    clocks: tuple[Clock, ...]
    liquid_h: float = 0.0
    logged_h: float = 0.0
    born_h: float = 0.0

    @property
    def until_h(self) -> float:
        """Its earliest deadline."""
        return min(clock.until() for clock in self.clocks)

    @property
    def dated_h(self) -> float:
        """The earliest expression."""
        return min(clock.expressed_h for clock in self.clocks)

    @property
    def frozen(self) -> bool:
        """Whether it lies in the freezer."""
        return self.place == FREEZER

    @property
    def thawed(self) -> bool:
        """Whether it was frozen and is no more."""
        return any(clock.left_h is not None for clock in self.clocks)


@dataclass(slots=True)
class Count:
    """The simulator's own plain sums, mL."""

    expressed: float = 0.0
    stocked: float = 0.0
    fed: float = 0.0
    thrown: float = 0.0
    left_over: float = 0.0
    past: float = 0.0
    short: float = 0.0
    unmet: float = 0.0
    fed_past: float = 0.0
    refrozen: float = 0.0
    opened: int = 0
    thrown_by: dict[str, float] = field(default_factory=dict)


class House:
    """The milk of one family under one policy. Times are hours since the first midnight."""

    def __init__(self, family: Family, thaw: Sequence[float]) -> None:
        self.family, self.thaw = family, thaw
        self.boxes: dict[str, Box] = {}
        self.log: list[tuple[float, bytes]] = []
        self.count = Count()
        self.now = 0.0
        self.drunk: list[tuple[float, float, bool]] = []
        self._named = self._written = 0
        self._begin()

    def _begin(self) -> None:
        born = (START - timedelta(days=self.family.age_d)).date().isoformat()
        self._write(0.0, "household", zone="UTC", guideline="cdc")
        self._write(0.0, "child", child=CHILD, born=born, care="home", sex="boy" if self.family.boy else "girl")
        for place, is_, temp_c in PLACES:
            self._write(0.0, "place", place=place, is_=is_, temp_c=temp_c)
        for bag in self.family.stock:
            name, day = self._name(), -24.0 * bag.age_d
            clock, place = Clock(day, day if bag.frozen else None), FREEZER if bag.frozen else FRIDGE
            self.boxes[name] = Box(name, bag.ml, place, (clock,), born_h=day)
            self.count.stocked += bag.ml
            at, form = _instant(day), "frozen" if bag.frozen else "fresh"
            frozen: dict[str, object] = {"frozen_on": at[:10]} if bag.frozen else {}
            self._write(
                0.0, "stocked", container=name, ml=bag.ml, place=place, expressed=at, form=form, more=frozen
            )  # fmt: skip

    def _name(self) -> str:
        self._named += 1
        return f"M{self._named}"

    def _write(
        self,
        at_h: float,
        kind: str,
        *,
        logged_h: float | None = None,
        more: Mapping[str, object] | None = None,
        **fields: object,
    ) -> None:
        self._written += 1
        event: dict[str, object] = {"id": f"e{self._written:06d}", "at": _instant(at_h), "kind": kind}
        event.update((key.rstrip("_"), value) for key, value in {**fields, **(more or {})}.items())
        self.log.append((at_h if logged_h is None else logged_h, json.dumps(event).encode()))

    def tick(self, at_h: float) -> float:
        """The next moment to write down: never before, nor at the same second as, what was written last."""
        self.now = max(at_h, self.now + SECOND_H)
        return self.now

    def lines(self, now_h: float | None = None) -> list[bytes]:
        """The ledger as far as it is written down at a moment."""
        return [line for logged, line in self.log if now_h is None or logged <= now_h + 1e-9]

    # What is there

    def here(self, place: str = FRIDGE) -> list[Box]:
        """The containers in a place, oldest milk first."""
        return sorted((b for b in self.boxes.values() if b.place == place), key=lambda b: (b.dated_h, b.until_h))

    def usable(self, at_h: float, place: str = FRIDGE, until_h: float | None = None) -> list[Box]:
        """Liquid milk in a place within its deadline, to the moment `until_h`; oldest first."""
        last = at_h if until_h is None else until_h
        found = self.here(place)
        return [b for b in found if b.liquid_h <= at_h and b.until_h >= last + 0.05 and b.logged_h <= at_h]

    # What is done

    def express(self, at_h: float, ml: float, *, logged_h: float, out_h: float) -> Box:
        """A session's milk goes into one container, and at once or later into the refrigerator."""
        at = self.tick(at_h)
        logged = at if out_h else max(at, logged_h)
        box = Box(self._name(), ml, COUNTER if out_h else FRIDGE, (Clock(at),), logged_h=logged, born_h=at)
        self.boxes[box.name] = box
        self.count.expressed += ml
        into = [{"container": box.name, "ml": ml}]
        self._write(at, "expressed", into=into, place=box.place, side="both", logged_h=box.logged_h)
        return box

    def move(self, at_h: float, box: Box, to: str) -> None:
        """Put a container into another place: freezing, thawing, packing."""
        at = self.tick(at_h)
        if to == FREEZER:
            if box.thawed:
                self.count.refrozen += box.ml
            box.clocks = tuple(c if c.frozen_h is not None else c._replace(frozen_h=at) for c in box.clocks)
        elif box.place == FREEZER:
            box.clocks = tuple(c._replace(left_h=at) for c in box.clocks)
            day = min(int(at // 24), len(self.thaw) - 1)
            box.liquid_h = at + (figure("thawing", "base_h") + figure("thawing", "per_ml_h") * box.ml) * self.thaw[day]
        kind, fields = "moved", dict[str, object](container=box.name, to=to)
        if to == AWAY:
            kind, fields = "handed_over", {"container": box.name, "to": "childcare", "place": AWAY}
        elif box.place == AWAY:
            kind, fields = "returned", {"container": box.name, "place": to}
        box.place = to
        self._write(at, kind, more=fields)

    def pour(self, at_h: float, parts: Sequence[tuple[Box, float]], place: str | None = None) -> Box:
        """Pour from containers of one place into a new one there."""
        at, name = self.tick(at_h), self._name()
        clocks: tuple[Clock, ...] = ()
        for box, ml in parts:
            box.ml = round(box.ml - ml, 4)
            clocks += box.clocks
            if box.ml < LEAST_ML:
                self.boxes.pop(box.name, None)
        found = Box(name, round(sum(ml for _, ml in parts), 4), place or parts[0][0].place, clocks, born_h=at)
        found.liquid_h = max(box.liquid_h for box, _ in parts)
        self.boxes[name] = found
        self._write(
            at, "poured", from_=[{"container": box.name, "ml": round(ml, 4)} for box, ml in parts], into=name
        )  # fmt: skip
        return found

    def feed(self, at_h: float, box: Box, drunk_ml: float, took_h: float) -> float:
        """The child drinks of a container; what is left is thrown away. Returns what was drunk, mL."""
        at, drunk = self.tick(at_h), round(min(drunk_ml, box.ml), 2)
        if box.until_h < at:
            self.count.fed_past += drunk
        left = round(box.ml - drunk, 4)
        self._write(at, "feed_began", container=box.name, child=CHILD)
        self._write(self.tick(at + took_h), "feed_ended", container=box.name, left_ml=left)
        self.count.fed += drunk
        self.count.opened += 1
        box.ml = left
        self.boxes.pop(box.name, None)
        if left >= LEAST_ML:
            self.count.left_over += left
            self._throw(box, "leftover")
        return drunk

    def throw(self, at_h: float, box: Box, why: str) -> None:
        """Throw a container away."""
        self.tick(at_h)
        self.boxes.pop(box.name, None)
        self._throw(box, why)

    def _throw(self, box: Box, why: str) -> None:
        self.count.thrown += box.ml
        self.count.thrown_by[why] = self.count.thrown_by.get(why, 0.0) + box.ml
        self._write(self.tick(self.now), "discarded", container=box.name, why=why)

    def warm(self, at_h: float, box: Box) -> None:
        """Thaw a bag in warm water: twenty minutes later it is liquid, and has two hours."""
        self.move(at_h, box, COUNTER)
        at = self.tick(at_h)
        box.clocks = tuple(c._replace(warm_h=at) for c in box.clocks)
        box.liquid_h = at + 1 / 3
        self._write(at, "warmed", container=box.name, how="warm_water")

    def snapshot(self) -> tuple[int, list[bytes]]:
        """How much has been written, and what is there now as if it had just been stocked: a shorter ledger's start."""
        kept, self.log, written = self.log, [], self._written
        for box in self.boxes.values():
            clock = min(box.clocks, key=lambda one: one.expressed_h)
            frozen = min((c.frozen_h for c in box.clocks if c.frozen_h is not None), default=None)
            day: dict[str, object] = {} if frozen is None else {"frozen_on": _instant(frozen)[:10]}
            form = "frozen" if box.frozen else "thawed" if box.thawed else "fresh"
            self._write(
                self.now, "stocked", container=box.name, ml=round(box.ml, 2), place=box.place,
                expressed=_instant(clock.expressed_h), form=form, more=day,
            )  # fmt: skip
        lines, self.log = [line for _, line in self.log], kept
        self._written = written + len(lines)
        return len(self.log), lines

    def settings(self) -> list[bytes]:
        """What was written first: household, child and places."""
        return [line for _, line in self.log[: 2 + len(PLACES)]]

    def clear(self, at_h: float, boxes: Iterable[Box] | None = None) -> None:
        """Throw away what is past its deadline."""
        for box in list(self.boxes.values() if boxes is None else boxes):
            if box.until_h < at_h + 0.02 and box.logged_h <= at_h:
                self.count.past += box.ml
                self.throw(at_h, box, _why(box))

    def nursed(self, at_h: float) -> None:
        """A feed at the breast."""
        self._write(self.tick(at_h), "nursed", child=CHILD)

    def formula(self, at_h: float, ml: float) -> None:
        """What could not be given of the family's own milk."""
        self.count.short += ml
        self._write(self.tick(at_h), "fed_other", child=CHILD, what="formula", ml=round(ml, 1))

    def complete(self, day: int) -> None:
        """All feeds of a day are in the ledger."""
        date = (START + timedelta(days=day)).date().isoformat()
        self._write(self.tick(self.now), "day_complete", child=CHILD, date=date)


def _why(box: Box) -> str:
    if box.place == COUNTER:
        return "warmed" if box.clocks[0].warm_h is not None else "left out"
    if box.thawed:
        return "thawed"
    return "frozen too long" if box.frozen else "too old"


def _instant(at_h: float) -> str:
    return (START + timedelta(seconds=round(3600 * at_h))).isoformat()
