"""What every way of using the milk has in common: how a feed is given, and how a family's days run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

from bench.simulated.house import AWAY, BAG, COUNTER, FREEZER, FRIDGE, Box, House
from bench.simulated.world import Apart, Course, Feed, Session

TOOK_H = 0.25
STEP_H = 0.03
ENOUGH_ML = 5.0


class Pours(NamedTuple):
    """How a feed is given: mL poured first, then mL at a time; 0 where nobody tops up."""

    first_ml: float
    step_ml: float


class Way(Protocol):
    """A way of using the milk."""

    def morning(self, at_h: float) -> None: ...

    def evening(self, at_h: float) -> None: ...

    def leave(self, at_h: float, apart: Apart) -> None: ...

    def back(self, at_h: float, apart: Apart) -> None: ...

    def session(self, at_h: float, box: Box) -> None: ...

    def feed(self, at_h: float, feed: Feed) -> None: ...


def give(house: House, feed: Feed, sources: Sequence[Box], pours: Pours) -> float:
    """Give a feed from these containers in turn; returns what of the want was not met, mL."""
    wanted, at, amount, took = feed.ml, max(feed.at_h, house.now), pours.first_ml, TOOK_H
    while amount > 0 and wanted > ENOUGH_ML:
        # Who pours looks at the date each time.
        parts = taken([b for b in sources if b.ml > 1.0 and b.name in house.boxes and b.until_h > at + 0.02], amount)
        if not parts:
            break
        wanted -= house.feed(at, house.pour(at, parts), wanted, took)
        at, amount, took = house.now, pours.step_ml, STEP_H
    return max(0.0, round(wanted, 1))


def taken(boxes: Sequence[Box], ml: float) -> list[tuple[Box, float]]:
    """So much from these in turn, as far as they reach."""
    found, missing = [], ml
    for box in boxes:
        if missing > 0.5 and box.ml > 0.5:
            part = min(box.ml, missing)
            part = box.ml if box.ml - part < 1.0 else part
            found.append((box, part))
            missing -= part
    return found


def warmed_now(house: House, at_h: float) -> list[Box]:
    """What was thawed in water and still has its time."""
    return [b for b in house.usable(at_h, COUNTER) if b.clocks[0].warm_h is not None]


def thaw_quickly(house: House, at_h: float, ml: float) -> list[Box]:
    """Thaw bags in warm water, oldest first, until there is so much; they are ready at once for this feed."""
    found: list[Box] = []
    for box in house.here(FREEZER):
        if sum(one.ml for one in found) >= ml - ENOUGH_ML:
            break
        if box.until_h > at_h:
            house.warm(at_h, box)
            box.liquid_h = at_h
            found.append(box)
    return found


def missed(house: House, left_ml: float, *, topped_up: bool, milk_there: bool) -> None:
    """Book what was wanted and not given as formula; apart from the rest where it was only that nobody tops up."""
    if left_ml <= ENOUGH_ML:
        return
    if milk_there and not topped_up:
        house.count.unmet += left_ml
    house.formula(house.now, left_ml)


def travel(house: House, at_h: float, boxes: Sequence[Box], to: str) -> None:
    """Carry containers in a cool bag from one refrigerator to another."""
    for box in boxes:
        house.move(at_h, box, BAG)
    for box in boxes:
        house.move(at_h + 0.5, box, to)


def live(way: Way, house: House, course: Course) -> None:
    """Let a family's days run under a way; at the end what is past is thrown away."""
    for at, _, act in sorted(_acts(way, house, course), key=lambda one: one[:2]):
        act(max(at, house.now))
    house.clear(max(24.0 * course.days, house.now))


def _acts(way: Way, house: House, course: Course) -> list[tuple]:  # type: ignore[type-arg]
    found: list[tuple] = []  # type: ignore[type-arg]

    def session(one: Session) -> None:
        def put(at: float) -> None:
            box = house.express(at, one.ml, logged_h=max(at, one.logged_h), out_h=one.out_h)
            if not one.out_h:
                way.session(at, box)

        found.append((one.at_h, 1, put))
        if one.out_h:
            found.append((one.at_h + one.out_h, 2, lambda at: _put_away(house, at)))

    for one in course.sessions:
        session(one)
    for feed in course.feeds:
        found.append((feed.at_h, 3, lambda at, feed=feed: _fed(way, house, at, feed)))
    for chore in course.chores:
        if chore.done_h is not None:
            act = way.morning if chore.what == "morning" else way.evening
            found.append((chore.done_h, 0, act))
    for apart in course.aparts:
        found.append((apart.leave_h - 0.7, 4, lambda at, apart=apart: way.leave(at, apart)))
        found.append((apart.back_h + 0.05, 5, lambda at, apart=apart: way.back(at, apart)))
    return found


def _put_away(house: House, at_h: float) -> None:
    """Milk forgotten on the counter: into the refrigerator, or away where it stood too long."""
    for box in [b for b in house.boxes.values() if b.place == COUNTER and b.clocks[0].warm_h is None]:
        if at_h - box.born_h > 3.95:
            house.throw(at_h, box, "left out")
        else:
            house.move(at_h, box, FRIDGE)


def _fed(way: Way, house: House, at_h: float, feed: Feed) -> None:
    if not feed.bottle:
        house.nursed(at_h)
        return
    before = house.count.fed + house.count.short
    way.feed(at_h, feed)
    house.drunk.append((feed.at_h, house.count.fed + house.count.short - before, feed.apart))


__all__ = ["AWAY", "FRIDGE", "Pours", "Way", "give", "live", "missed", "taken", "thaw_quickly", "travel", "warmed_now"]
