"""What every way of using the milk has in common: how a feed is given, and how a family's days run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple, Protocol

from bench.simulated.house import BAG, COUNTER, FREEZER, FRIDGE, Box, House
from bench.simulated.world import Apart, Course, Feed, Session

TOOK_H = 0.25
STEP_H = 0.03
ENOUGH_ML = 5.0


Act = tuple[float, int, Callable[[float], None]]


class Pours(NamedTuple):
    """How a feed is given: mL poured first, then mL at a time; 0 where nobody tops up."""

    first_ml: float
    step_ml: float


class Way(Protocol):
    """A way of using the milk."""

    def morning(self, at_h: float) -> None: ...

    def evening(self, at_h: float) -> None: ...

    def between(self, at_h: float) -> None: ...

    def leave(self, apart: Apart, at_h: float) -> None: ...

    def back(self, at_h: float) -> None: ...

    def session(self, at_h: float, box: Box) -> None: ...

    def feed(self, at_h: float, feed: Feed) -> None: ...


def give(house: House, feed: Feed, sources: Sequence[Box], pours: Pours) -> float:
    """Give a feed from these containers in turn; returns what of the want was not met, mL."""
    wanted, at, amount, took = feed.ml, max(feed.at_h, house.now), pours.first_ml, TOOK_H
    while amount > 0 and wanted > ENOUGH_ML:
        # Who pours looks at the date each time.
        good = [b for b in sources if b.ml > 1.0 and b.name in house.boxes and b.until_h > at + 0.02]
        if not good:
            break
        # Warm milk and cold milk do not go into one bottle.
        parts = taken([b for b in good if b.place == good[0].place], amount)
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


def thaw_quickly(house: House, at_h: float, ml: float, *, fitting: bool = False) -> list[Box]:
    """Thaw bags in warm water until there is so much: oldest first, or the smallest that is enough by itself.

    They are ready at once for this feed.
    """
    frozen, found = [box for box in house.here(FREEZER) if box.until_h > at_h], list[Box]()
    enough = min((box for box in frozen if box.ml >= ml), key=lambda box: box.ml, default=None)
    for box in [enough] if fitting and enough is not None else frozen:
        if sum(one.ml for one in found) >= ml - ENOUGH_ML:
            break
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
        house.now = max(at, house.now)
        act(house.now)
    house.clear(max(24.0 * course.days, house.now))


def _acts(way: Way, house: House, course: Course) -> list[Act]:
    found: list[Act] = []

    def session(one: Session) -> None:
        def put(at: float) -> None:
            box = house.express(at, one.ml, logged_h=max(at, one.logged_h), out_h=one.out_h)
            if not one.out_h:
                way.session(at, box)

        found.append((one.at_h, 1, put))
        if one.out_h:
            found.append((one.at_h + one.out_h, 2, partial(_put_away, house)))

    for one in course.sessions:
        session(one)
    found += [(feed.at_h, 3, partial(_fed, way, house, feed)) for feed in course.feeds]
    for chore in course.chores:
        if chore.done_h is not None:
            act = {"morning": way.morning, "evening": way.evening}.get(chore.what, way.between)
            at_work = any(one.leave_h - 0.7 < chore.done_h < one.back_h + 0.1 for one in course.aparts)
            found += [] if at_work else [(chore.done_h, 0, act)]
    for apart in course.aparts:
        found.append((apart.leave_h - 0.7, 4, partial(way.leave, apart)))
        found.append((apart.back_h + 0.05, 5, way.back))
    return found


def _put_away(house: House, at_h: float) -> None:
    """Milk forgotten on the counter: into the refrigerator, or away where it stood too long."""
    for box in [b for b in house.boxes.values() if b.place == COUNTER and b.clocks[0].warm_h is None]:
        if at_h - box.born_h > 3.95:
            house.throw(at_h, box, "left out")
        else:
            house.move(at_h, box, FRIDGE)


def _fed(way: Way, house: House, feed: Feed, at_h: float) -> None:
    if not feed.bottle:
        house.nursed(at_h)
        return
    before = house.count.fed + house.count.short
    way.feed(at_h, feed)
    house.drunk.append((feed.at_h, house.count.fed + house.count.short - before, feed.apart))
