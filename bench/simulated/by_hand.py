"""Ways by hand: fixed sizes, oldest first, one day's need made ready each evening, what is over frozen.

A family by hand keeps to the guideline: it throws away what is past. In the evening it sets milk ready for one day:
what stands in the refrigerator counts, the rest is thawed, oldest first (`whole`: a whole day's need is thawed each
evening, whatever stands there, as long as the freezer holds any). What is over is frozen in bags of the fixed size.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from bench.simulated.house import AWAY, FREEZER, FRIDGE, Box, House
from bench.simulated.ways import Pours, give, missed, taken, thaw_quickly, travel, warmed_now
from bench.simulated.world import Apart, Course, Feed

FIRST_GUESS_ML = 740.0  # 25 fl oz a day: common practice, no source
SHARE_OF_BAG = 0.5
SOON_H = 44.0  # a family freezes what it will not use before the evening after the next


class Sizes(NamedTuple):
    """Poured first, then at a time (0: nobody tops up), bags to freeze in; bottles to pack where they differ."""

    first_ml: float = 120.0
    step_ml: float = 0.0
    bag_ml: float = 120.0
    bottles: tuple[float, ...] = ()


class ByHand:
    """A family that works by rule of thumb; `sizes_now` is asked each evening."""

    def __init__(
        self, house: House, course: Course, sizes_now: Callable[[House, float], Sizes], *, whole: bool = False
    ) -> None:
        self.house, self.course, self.whole = house, course, whole
        self.sizes_now = sizes_now
        self.sizes = sizes_now(house, 0.0)

    # What it reckons with

    def need(self, at_h: float) -> float:
        """One day's need by bottle for the coming day, as a family would guess it, mL."""
        family = self.course.family
        if family.work is None:
            days = self._days(at_h, 7)
            return sum(days) / len(days) if days else FIRST_GUESS_ML
        if not family.works(int((at_h + 12) // 24)):
            return 0.0
        stretches = self._days(at_h, 10)[-5:]
        guess = FIRST_GUESS_ML * (family.work.end_h - family.work.start_h) / 24
        return sum(stretches) / len(stretches) if stretches else guess

    def _days(self, at_h: float, count: int) -> list[float]:
        """What was drunk in each of the last days on which anything was."""
        today, sums = int(at_h // 24), dict[int, float]()
        for when, ml, _ in reversed(self.house.drunk):
            day = int(when // 24)
            if day < today - count:
                break
            if day < today:
                sums[day] = sums.get(day, 0.0) + ml
        return [sums[day] for day in sorted(sums) if sums[day] > 0]

    # What it does

    def session(self, at_h: float, box: Box) -> None:
        """Milk goes into the refrigerator as it is."""

    def morning(self, at_h: float) -> None:
        """Throw away what is past; note that yesterday is complete."""
        self.house.clear(at_h)
        if self.course.family.work is None and at_h > 24:
            self.house.complete(int(at_h // 24) - 1)

    def between(self, at_h: float) -> None:
        """By hand nothing is done between morning and evening."""

    def evening(self, at_h: float) -> None:
        """Make one day's need ready, freeze what is over."""
        house = self.house
        house.clear(at_h)
        self.sizes = self.sizes_now(house, at_h)
        need = self.need(at_h)
        cold = [box for box in house.here(FRIDGE) if box.until_h > at_h + 12]
        ready = sum(box.ml for box in cold)
        missing = need if self.whole else need - ready
        frozen = [box for box in house.here(FREEZER) if box.until_h > at_h + 1]
        for box in frozen:
            if missing <= SHARE_OF_BAG * box.ml:
                break
            house.move(at_h, box, FRIDGE)
            ready, missing = ready + box.ml, missing - box.ml
        self._freeze(at_h, ready - need)

    def _freeze(self, at_h: float, over_ml: float) -> None:
        """Freeze whole bags of what is over, the newest milk (the oldest is drunk first)."""
        house, bag = self.house, self.sizes.bag_ml
        fresh = [box for box in reversed(house.here(FRIDGE)) if not box.thawed and box.logged_h <= at_h]
        for box in fresh:
            if over_ml >= box.ml and at_h < box.until_h < at_h + SOON_H:
                over_ml -= box.ml
                house.move(at_h, box, FREEZER)
        fresh = [box for box in fresh if not box.frozen]
        bags = int(min(over_ml, sum(box.ml for box in fresh)) / bag + 0.02)
        for _ in range(bags):
            fresh = [box for box in fresh if box.ml > 1 and box.until_h > at_h]
            parts = taken(fresh, bag)
            if sum(ml for _, ml in parts) > bag / 2:
                house.move(at_h, house.pour(at_h, parts), FREEZER)

    def leave(self, apart: Apart, at_h: float) -> None:
        """Pack a bottle for each feed that is to be expected, of milk that lasts until the way back."""
        house, sizes = self.house, self.sizes
        house.clear(at_h)
        bottles = list(sizes.bottles) or [sizes.first_ml] * self._bottles(at_h, apart)
        cold = house.usable(at_h, FRIDGE, apart.back_h)
        short = sum(bottles) - sum(box.ml for box in cold)
        late = [box for box in house.here(FRIDGE) if box.liquid_h > at_h and box.until_h > apart.back_h]
        packed = late if short > 0 else []
        for size in bottles:
            cold = [box for box in cold if box.name in house.boxes and box.ml > 1]
            parts = taken(cold, size)
            if parts:
                packed.append(house.pour(at_h, parts))
        packed += self._still_frozen(at_h, self._expected(at_h, apart) - sum(box.ml for box in packed))
        travel(house, at_h, packed, AWAY)

    def _still_frozen(self, at_h: float, missing_ml: float) -> list[Box]:
        """Bags that go along frozen where too little is ready (an evening was forgotten); they thaw by noon."""
        found: list[Box] = []
        for box in self.house.here(FREEZER):
            if missing_ml > SHARE_OF_BAG * box.ml and box.until_h > at_h + 1:
                found.append(box)
                missing_ml -= box.ml
        return found

    def _bottles(self, at_h: float, apart: Apart) -> int:
        feeds = (apart.back_h - apart.leave_h) / 3
        return max(math.ceil(self._expected(at_h, apart) / self.sizes.first_ml - 0.1), round(feeds))

    def _expected(self, at_h: float, apart: Apart) -> float:
        return self.need(at_h - 12) or FIRST_GUESS_ML * (apart.back_h - apart.leave_h) / 24

    def back(self, at_h: float) -> None:
        """What was not opened comes home."""
        travel(self.house, at_h, self.house.here(AWAY), FRIDGE)

    def feed(self, at_h: float, feed: Feed) -> None:
        """The oldest milk first; where no liquid milk is there, a bag is thawed in warm water."""
        house, pours = self.house, Pours(self.sizes.first_ml, self.sizes.step_ml)
        place = AWAY if feed.apart else FRIDGE
        sources = house.usable(at_h, place)
        if not feed.apart:
            sources = warmed_now(house, at_h) + sources
        left = give(house, feed, sources, pours) if sources else feed.ml
        dry = not house.usable(house.now, place)
        if left > 5 and dry and not feed.apart and (pours.step_ml or left > feed.ml - 1):
            bags = thaw_quickly(house, house.now, left)
            if bags:
                again = pours._replace(first_ml=pours.step_ml or pours.first_ml)
                left = give(house, feed._replace(ml=left), bags, again)
        missed(house, left, topped_up=bool(pours.step_ml), milk_there=not dry)


def fixed(sizes: Sizes) -> Callable[[House, float], Sizes]:
    """Always the same sizes."""
    return lambda house, at_h: sizes
