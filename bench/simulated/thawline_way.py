"""Thawline's way: a family that looks at the plan morning, evening and before it parts, and does what it says."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from bench.simulated.by_hand import Sizes
from bench.simulated.house import AWAY, CHILD, FREEZER, FRIDGE, START, Box, House
from bench.simulated.ways import ENOUGH_ML, Pours, give, missed, taken, thaw_quickly, travel, warmed_now
from bench.simulated.world import Apart, Course, Feed

from thawline.core.times import HOUR
from thawline.services.habits import Apart as ApartHabit
from thawline.services.habits import Habits
from thawline.services.plan import plan_from
from thawline.services.plan_kinds import PlanChore, PlanFeed, PlanNow, Portions
from thawline.services.plan_needs import Told
from thawline.services.plan_seen import Seen, seen_of

KEEP_DAYS = 8
NEAR_H = 1.6
SOON_H = 0.8
LEAST_BAG_ML = 15.0
EPOCH_H = START.timestamp() / 3600


def habits_of(course: Course) -> Habits:
    """What such a family would have set."""
    work = course.family.work
    if work is None:
        return Habits(fed="bottle")
    one = ApartHabit(child=CHILD, days=work.days, start=_clock(work.start_h), end=_clock(work.end_h))
    return Habits(fed="apart", apart=(one,))


def _clock(hour: float) -> str:
    return f"{int(hour):02d}:{round(60 * (hour % 1)):02d}"


def true_means(course: Course, at_h: float) -> Told:
    """The family's true means, nothing of its future."""
    family = course.family
    sessions = tuple(zip(family.session_h, family.session_ml, strict=True))
    return Told({CHILD: family.day_ml(family.age_d + at_h / 24)}, 0.12, sessions if family.work is None else None)


class Recent:
    """The last weeks of a household's ledger, to keep each look quick: older milk as if it had been stocked then."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.starts: dict[int, tuple[int, list[bytes]]] = {}

    def lines(self, at_h: float) -> list[bytes]:
        """The ledger as far as it is written down; call it at least once a day."""
        house, day = self.house, int(at_h // 24)
        if day not in self.starts and day:
            self.starts[day] = house.snapshot()
        start = max((one for one in self.starts if one <= day - KEEP_DAYS), default=None)
        for old in [one for one in self.starts if start is not None and one < start]:
            del self.starts[old]
        if start is None:
            return house.lines(at_h)
        since, stocked = self.starts[start]
        later = [line for logged, line in house.log[since:] if logged <= at_h + 1e-9]
        return [*house.settings(), *stocked, *later]

    def seen(self, at_h: float) -> Seen:
        """The household as the product sees it at a moment."""
        return seen_of(self.lines(at_h), now=micro(at_h), key=str(id(self)))


def micro(at_h: float) -> int:
    """A moment of the simulation as an instant of the ledger: the second after it, so that nothing written is ahead."""
    return (int((EPOCH_H + at_h) * 3600) + 1) * 1_000_000


def hours(at: int) -> float:
    """An instant as hours since the first midnight."""
    return at / HOUR - EPOCH_H


@dataclass(slots=True)
class Following:
    """What is being followed: the plan, and which of its feeds were given."""

    plan: PlanNow | None = None
    given: set[int] = field(default_factory=set)


class Thawline:
    """Does the plan's chores, gives its feeds; `knowing`: the planner is told the true means."""

    def __init__(
        self, house: House, course: Course, *, knowing: bool = False, refine: bool = False, days: int = 3
    ) -> None:
        self.house, self.course, self.knowing = house, course, knowing
        self.refine, self.days = refine, days
        self.habits, self.recent = habits_of(course), Recent(house)
        self.now = Following()
        self.calls = 0

    # Looking

    def look(self, at_h: float) -> PlanNow:
        """Ask for the plan."""
        told = true_means(self.course, at_h) if self.knowing else None
        seen = self.recent.seen(at_h)
        plan = plan_from(seen, self.habits, days=self.days, refine=self.refine, told=told)
        self.now, self.calls = Following(plan), self.calls + 1
        return plan

    def sizes(self, where: str) -> Portions | None:
        """The advice on sizes for a place."""
        plan = self.now.plan
        return next((one for one in plan.portions if one.where == where), None) if plan is not None else None

    # Chores

    def morning(self, at_h: float) -> None:
        """Look, do what is due."""
        if self.course.family.work is None:
            if at_h > 24:
                self.house.complete(int(at_h // 24) - 1)
            self.evening(at_h)
        else:
            # Before they part they look anyhow; on other days the evening is enough.
            self.house.clear(at_h)
            self.between(at_h)

    def evening(self, at_h: float) -> None:
        """Look, do what is due."""
        self.house.clear(at_h)
        self.look(max(self.house.now, at_h))
        for chore in self._due(at_h):
            self._do(chore)

    def between(self, at_h: float) -> None:
        """Where the last plan has something for this moment, look anew, and do what is due."""
        if self._due(at_h):
            self.evening(at_h)

    def _due(self, at_h: float) -> list[PlanChore]:
        """What the plan has for this moment, or what is not to be left to the next morning's last chance."""
        plan = self.now.plan
        return [
            chore
            for chore in (plan.chores if plan is not None else ())
            if chore.does in ("freeze", "thaw", "chill") and not chore.coming and chore.reason.code != "thaw_quick"
            if hours(chore.at) <= at_h + SOON_H
            or (chore.does == "freeze" and at_h % 24 > 20 and hours(chore.by) < at_h + 24)
        ]

    def _do(self, chore: PlanChore) -> None:
        house = self.house
        boxes = [house.boxes[name] for name in chore.containers if name in house.boxes]
        if chore.does == "freeze":
            self._freeze(boxes)
        elif chore.does == "thaw":
            for box in boxes:
                if box.frozen:
                    house.move(house.now, box, FRIDGE)
        elif chore.does == "chill":
            for box in boxes:
                house.move(house.now, box, FRIDGE)

    def _freeze(self, boxes: Sequence[Box]) -> None:
        """Into bags of the size that was advised; what is nearly that size as it is."""
        house, sizes = self.house, self.sizes("home")
        bag = sizes.freeze_ml if sizes is not None else 90.0
        for box in boxes:
            if box.thawed or box.frozen or box.place != FRIDGE or box.until_h <= house.now:
                continue
            over = box.ml - self._planned_ml(box.name)
            if over < LEAST_BAG_ML:
                continue
            while over > 1.4 * bag:
                house.move(house.now, house.pour(house.now, [(box, bag)]), FREEZER)
                over -= bag
            house.move(
                house.now, box if over > box.ml - LEAST_BAG_ML else house.pour(house.now, [(box, over)]), FREEZER
            )

    def _planned_ml(self, name: str) -> float:
        """How much of a container is meant for feeds."""
        feeds = self.now.plan.feeds if self.now.plan is not None else ()
        return sum(part.ml for feed in feeds for part in feed.parts if part.container == name)

    def session(self, at_h: float, box: Box) -> None:
        """Milk goes into the refrigerator as it is."""

    def leave(self, apart: Apart, at_h: float) -> None:
        """Look once more, and pack what the plan says."""
        house = self.house
        house.clear(at_h)
        plan = self.look(max(house.now, at_h))
        packed: list[Box] = []
        bottles = list(self._bottles())
        for chore in plan.chores:
            if chore.does == "pack" and hours(chore.at) < apart.back_h:
                for name in chore.containers:
                    if name in house.boxes:
                        packed += self._pack(house.boxes[name], self._amount(plan, name, chore, apart), bottles)
        travel(house, house.now, packed, AWAY)

    def _bottles(self) -> tuple[float, ...]:
        sizes = self.sizes(self.habits.apart[0].where)
        return sizes.bottles if sizes is not None else ()

    def _amount(self, plan: PlanNow, name: str, chore: PlanChore, apart: Apart) -> float:
        """How much of a container goes along: what the plan gives of it in that stretch."""
        parts = [
            part.ml
            for feed in plan.feeds
            if apart.leave_h - 0.6 <= hours(feed.at) < apart.back_h
            for part in feed.parts
            if part.container == name
        ]
        return sum(parts) or chore.ml

    def _pack(self, box: Box, ml: float, bottles: list[float]) -> list[Box]:
        """Fill bottles from it; what has ice in it still goes along as it is."""
        house, found = self.house, list[Box]()
        if box.frozen or box.liquid_h > house.now or ml > box.ml - 15:
            ml = box.ml
            if box.frozen or box.liquid_h > house.now:
                return [box]
        while ml > 1.0 and box.name in house.boxes:
            size = min(ml, bottles[0] if bottles else 90.0)
            rest = ml - size
            part = size if rest > 15 else ml
            if bottles:
                bottles.pop(0)
            found.append(house.pour(house.now, taken([box], part)))
            ml -= part
        return found

    def back(self, at_h: float) -> None:
        """What was not opened comes home."""
        travel(self.house, at_h, self.house.here(AWAY), FRIDGE)

    # Feeds

    def feed(self, at_h: float, feed: Feed) -> None:
        """Give what the plan says for this feed, then whatever ends first."""
        house = self.house
        planned = self._planned(at_h, feed)
        place = AWAY if feed.apart else FRIDGE
        ready = house.usable(at_h, place)
        if not feed.apart:
            ready = warmed_now(house, at_h) + ready
        names = [part.container for part in planned.parts] if planned is not None else []
        place_of = {name: index for index, name in reversed(list(enumerate(names)))}
        ready.sort(key=lambda box: (place_of.get(box.name, len(names)), *_ends_first(box)))
        pours = self._pours(planned, feed)
        left = give(house, feed, ready, pours) if ready else feed.ml
        if left > ENOUGH_ML and not feed.apart:
            bags = self._quick([name for name in names if name in house.boxes], left)
            if bags:
                left = give(house, feed._replace(ml=left), bags, pours._replace(first_ml=pours.step_ml))
        missed(house, left, topped_up=True, milk_there=bool(house.usable(house.now, place)))

    def _planned(self, at_h: float, feed: Feed) -> PlanFeed | None:
        """The plan's feed that is nearest, if it is near and was not given."""
        plan = self.now.plan
        if plan is None or feed.apart:
            return None
        near = [
            (abs(hours(one.at) - at_h), index)
            for index, one in enumerate(plan.feeds)
            if index not in self.now.given and abs(hours(one.at) - at_h) < NEAR_H
        ]
        if not near:
            return None
        index = min(near)[1]
        self.now.given.add(index)
        return plan.feeds[index]

    def _pours(self, planned: PlanFeed | None, feed: Feed) -> Pours:
        if planned is not None and planned.pour_ml:
            return Pours(planned.pour_ml, planned.step_ml)
        sizes = self.sizes(self.habits.apart[0].where if feed.apart else "home")
        return Pours(sizes.pour_ml, sizes.step_ml) if sizes is not None else Pours(60.0, 30.0)

    def _quick(self, names: Sequence[str], ml: float) -> list[Box]:
        """Bags in warm water: the planned ones first, else the oldest."""
        house, found = self.house, list[Box]()
        for name in names:
            box = house.boxes[name]
            if box.frozen and sum(one.ml for one in found) < ml:
                house.warm(house.now, box)
                box.liquid_h = house.now
                found.append(box)
        missing = ml - sum(one.ml for one in found)
        return found + (thaw_quickly(house, house.now, missing, fitting=True) if missing > ENOUGH_ML else [])


def _ends_first(box: Box) -> tuple[bool, float]:
    return (not box.thawed, box.until_h)


def our_sizes(course: Course) -> Callable[[House, float], Sizes]:
    """Sizes as Thawline advises them, asked once a week, for the family that works by hand otherwise."""
    kept: dict[int, Sizes] = {}
    recents: dict[int, Recent] = {}

    def sizes(house: House, at_h: float) -> Sizes:
        recent = recents.setdefault(id(house), Recent(house))
        lines = recent.lines(at_h)
        week = int(at_h // 168)
        if week not in kept:
            seen = seen_of(lines, now=micro(max(at_h, house.now)))
            plan = plan_from(seen, habits_of(course), days=1, refine=False)
            kept[week] = _sizes(plan.portions, apart=course.family.work is not None)
        return kept[week]

    return sizes


def _sizes(portions: Sequence[Portions], *, apart: bool) -> Sizes:
    home = next((one for one in portions if one.where == "home"), None)
    away = next((one for one in portions if one.where != "home"), None)
    one = away if apart and away is not None else home
    if one is None:
        return Sizes(60.0, 30.0, 90.0)
    bottles = (*one.bottles, one.spare_ml) if apart and one.bottles else ()
    return Sizes(one.pour_ml, one.step_ml, home.freeze_ml if home is not None else one.freeze_ml, bottles)
