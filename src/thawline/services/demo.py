"""An invented household's last four weeks, as ledger events."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import product
from uuid import UUID

from thawline.core.times import DAY, HOUR, MINUTE, local, written, zone_named
from thawline.services.habits import Apart, Goal, Habits

ZONE = "Europe/Lisbon"
DAYS = 28
CHILD = "Mira"
MOTHER, FATHER, GRANDMOTHER, CARER = "Marta", "Rui", "Avó Celeste", "nursery"
COUNTER, FRIDGE, FREEZER, BAG = "counter", "fridge", "freezer", "cooler bag"
# Their bags, laid flat, were measured with a ruler once.
BAG_FLAT = {"kind": "bag", "shape": "flat", "thickness_mm": 14}
NURSERY, NURSERY_ROOM = "nursery fridge", "nursery room"

# No letter or digit that looks like another.
CODES = [f"{head}{vowel}{tens}{ones}" for head, vowel, tens, ones in product("HKMPRTW", "AE", "3479", "3479")]

SESSIONS = ("06:40", "09:50", "13:10", "17:20", "21:40")
BOTTLES = ("11:10", "15:10", "19:00", "23:10")
NURSED = ("02:30", "05:50", "08:45", "16:30")
NURSERY_WEEKDAYS = (1, 3)

# How long before `now` the sessions of the bottles that the board is to show began.
FORGOTTEN, OLDEST, LEFT_OVER, HELD, OUTING, STANDING = (
    4 * DAY + 3 * HOUR, 3 * DAY + 8 * HOUR, 31 * HOUR, 20 * HOUR, 14 * HOUR, 3 * HOUR + 25 * MINUTE,
)  # fmt: skip


@dataclass(slots=True)
class Bottle:
    """A filling as the household remembers it: its amount in mL, and from when it may be taken."""

    code: str
    ml: int
    made: int
    ready: int


class Diary:
    """The events written so far, and everything needed to write the next."""

    def __init__(self, now: int, seed: int) -> None:
        self.now = now - now % MINUTE
        self.zone = zone_named(ZONE)
        self.rng = random.Random(seed)  # noqa: S311  (an invented family, no secret)
        self.rows: list[tuple[int, dict[str, object]]] = []
        shuffled = list(CODES)
        self.rng.shuffle(shuffled)
        self.codes = iter(shuffled)

    def add(self, at: int, kind: str, by: str = MOTHER, **fields: object) -> str:
        """Write an event down; returns its id (a UUIDv7)."""
        bits = self.rng.getrandbits(74)
        number = (at // 1000) << 80 | 7 << 76 | (bits >> 62) << 64 | 2 << 62 | bits & (1 << 62) - 1
        name = str(UUID(int=number))
        event: dict[str, object] = {"id": name, "at": written(at, self.zone), "kind": kind, "by": by}
        self.rows.append((at, event | {key.rstrip("_"): value for key, value in fields.items()}))
        return name

    def when(self, day: date, clock: str, spread: int = 0) -> int:
        """A time of day in the household's zone, up to `spread` minutes off."""
        hour, minute = (int(part) for part in clock.split(":"))
        at = datetime(day.year, day.month, day.day, hour, minute, tzinfo=self.zone)
        return int(at.timestamp()) * 1_000_000 + self.rng.randint(-spread, spread) * MINUTE

    def express(self, at: int, ml: int, *, chill: bool = True) -> Bottle:
        """A session on the counter; into the fridge after it."""
        bottle = Bottle(next(self.codes), ml, at, at + 90 * MINUTE)
        self.expressed(at, bottle)
        if chill:
            self.move(at + self.rng.randint(20, 35) * MINUTE, bottle, FRIDGE)
        return bottle

    def expressed(self, at: int, bottle: Bottle, wrong_ml: int | None = None) -> str:
        into = [{"container": bottle.code, "ml": bottle.ml if wrong_ml is None else wrong_ml}]
        minutes = self.rng.randint(12, 22)
        side = ("both", "left", "both", "right")[at // MINUTE % 4]
        return self.add(at, "expressed", into=into, place=COUNTER, side=side, minutes=minutes)

    def move(self, at: int, bottle: Bottle, to: str, by: str = MOTHER) -> None:
        self.add(at, "moved", by, container=bottle.code, to=to)

    def feed(self, at: int, bottle: Bottle, by: str, place: str, left: int) -> None:
        """Out of the cold, warmed, and drunk but for `left` mL."""
        self.move(at, bottle, place, by)
        self.add(at + 2 * MINUTE, "warmed", by, container=bottle.code, how="warm_water")
        self.add(at + 8 * MINUTE, "feed_began", by, container=bottle.code, child=CHILD)
        self.add(at + 23 * MINUTE, "feed_ended", by, container=bottle.code, left_ml=left)

    def lines(self) -> list[bytes]:
        """What was written up to now, in order."""
        kept = sorted((row for row in self.rows if row[0] <= self.now), key=lambda row: row[0])
        return [json.dumps(event, ensure_ascii=False).encode() for _, event in kept]


class Home:
    """The household's weeks: what is in the fridge and the freezer decides what happens next."""

    def __init__(self, diary: Diary) -> None:
        self.diary = diary
        self.rng = diary.rng
        self.today = local(diary.now, diary.zone).date()
        self.fridge: list[Bottle] = []
        self.freezer: list[Bottle] = []
        self.ago = DAYS
        ages = (FORGOTTEN, OLDEST, LEFT_OVER, HELD, OUTING, STANDING)
        self.taken = [diary.now - age for age in ages]

    def begin(self) -> None:
        """Who lives here, where milk may lie, and what was frozen before the ledger began."""
        add, day = self.diary.add, self.today - timedelta(days=DAYS)
        at = self.diary.when(day, "05:00")
        add(at, "household", zone=ZONE, guideline="cdc", units=["ml", "C"])
        add(at, "child", child=CHILD, born=(self.today - timedelta(days=124)).isoformat(), care="home", sex="girl")
        for place, is_, temp_c in (
            (COUNTER, "room", 21), (FRIDGE, "refrigerator", 4), (FREEZER, "freezer", -18),
            (BAG, "cooler", 6), (NURSERY, "refrigerator", 4), (NURSERY_ROOM, "room", 21),
        ):  # fmt: skip
            add(at, "place", place=place, is_=is_, temp_c=temp_c)
        for back in (19, 12, 9):
            made = day - timedelta(days=back)
            bag = Bottle(next(self.diary.codes), self.rng.randrange(80, 121, 5), self.diary.when(made, "12:00"), at)
            frozen = (made + timedelta(days=1)).isoformat()
            where = {"place": FREEZER, "expressed": made.isoformat(), "frozen_on": frozen, "form": "frozen"}
            add(at + MINUTE, "stocked", container=bag.code, ml=bag.ml, vessel=BAG_FLAT, **where)
            self.freezer.append(bag)

    def live(self) -> None:
        """Every day up to today."""
        for self.ago in range(DAYS, -1, -1):
            day = self.today - timedelta(days=self.ago)
            for at, act in sorted(self._plan(day), key=lambda row: row[0]):
                act(at)

    def _plan(self, day: date) -> list[tuple[int, Callable[[int], None]]]:
        when = self.diary.when
        clocks = [c for c in SESSIONS if c != "13:10" or self.rng.random() > 0.2]
        clocks += ["15:20"] if self.rng.random() < 0.2 else []
        plan: list[tuple[int, Callable[[int], None]]] = [(when(day, c, 12), self._session) for c in clocks]
        away = day.weekday() in NURSERY_WEEKDAYS and self.ago <= 14
        plan += [(when(day, c, 10), self._bottle) for c in BOTTLES if not (away and c in BOTTLES[:2])]
        plan += [(when(day, c, 20), self._nurse) for c in NURSED if not (away and c in NURSED[2:])]
        plan.append((when(day, "20:25"), self._combine))
        if away:
            plan.append((when(day, "07:50"), self._nursery))
        if self.ago % 7 == 2:
            plan.append((when(day, "21:30"), self._thaw))
        if self.ago % 7 == 5:
            plan.append((when(day, "10:30"), self._weigh))
        if self.ago == 9:
            plan.append((when(day, "14:05"), self._power_cut))
        if self.ago not in (8, 19):
            plan.append((when(day, "23:50"), self._complete))
        return plan

    def _session(self, at: int) -> None:
        if any(abs(at - other) < 80 * MINUTE for other in self.taken):
            return
        ml = self.rng.randrange(40, 81, 5)
        evening = local(at, self.diary.zone).hour >= 21
        if self.ago == 17 and evening:
            # Fell asleep before putting it away.
            bottle = self.diary.express(at, ml, chill=False)
            why = "stood out overnight"
            self.diary.add(at + 9 * HOUR, "discarded", FATHER, container=bottle.code, why=why)
        elif self.ago == 6 and evening:
            self._mistyped(at, ml)
        else:
            self.fridge.append(self.diary.express(at, ml))

    def _mistyped(self, at: int, ml: int) -> None:
        """A wrong amount, taken back and written anew."""
        bottle = Bottle(next(self.diary.codes), ml, at, at + 90 * MINUTE)
        wrong = self.diary.expressed(at, bottle, wrong_ml=ml * 10)
        self.diary.add(at + 4 * MINUTE, "voided", event=wrong, why="one nought too many")
        self.diary.expressed(at, bottle)
        self.diary.move(at + 25 * MINUTE, bottle, FRIDGE)
        self.fridge.append(bottle)

    def _oldest(self, at: int) -> Bottle | None:
        ready = [bottle for bottle in self.fridge if bottle.ready <= at]
        found = min(ready, key=lambda bottle: bottle.made, default=None)
        if found is not None:
            self.fridge.remove(found)
        return found

    def _bottle(self, at: int) -> None:
        bottle = self._oldest(at) if len(self.fridge) > 2 else None
        if bottle is None:
            self._nurse(at)
            return
        by = self.rng.choice((FATHER, FATHER, GRANDMOTHER, MOTHER))
        left = max(0, bottle.ml - self.rng.randrange(75, 131, 5))
        if self.rng.random() < 0.15:
            left = max(left, 15)
        self.diary.feed(at, bottle, by, COUNTER, left)
        if left:
            self.diary.add(at + 85 * MINUTE, "discarded", by, container=bottle.code, why="left over")
        if len(self.fridge) > 5:
            self._bottle(at + 100 * MINUTE)

    def _nurse(self, at: int) -> None:
        self.diary.add(at, "nursed", child=CHILD, minutes=self.rng.randint(8, 25))

    def _combine(self, at: int) -> None:
        """Two chilled bottles into one; every fourth evening it goes to the freezer."""
        cold = sorted((b for b in self.fridge if b.ready <= at and at - b.made < DAY), key=lambda b: b.ml)[:2]
        if len(cold) < 2:
            return
        ml = sum(bottle.ml for bottle in cold)
        new = Bottle(next(self.diary.codes), ml, min(b.made for b in cold), at + 10 * MINUTE)
        sources = [{"container": bottle.code, "ml": bottle.ml} for bottle in cold]
        self.diary.add(at, "poured", from_=sources, into=new.code, vessel=BAG_FLAT)
        self.fridge = [bottle for bottle in self.fridge if bottle not in cold]
        if self.ago == 12:
            new.ml -= 10
            self.diary.add(at + 3 * MINUTE, "counted", container=new.code, ml=new.ml)
        if self.ago % 4 == 1:
            self.diary.move(at + 6 * MINUTE, new, FREEZER)
            self.freezer.append(new)
        else:
            self.fridge.append(new)

    def _thaw(self, at: int) -> None:
        """The oldest bag thaws in the fridge overnight and is fed the next day."""
        bag = self.freezer.pop(0)
        self.diary.add(at - 2 * MINUTE, "measured", FATHER, place=FRIDGE, temp_c=4 if self.ago % 2 else 3.5)
        self.diary.move(at, bag, FRIDGE, FATHER)
        self.diary.add(at + 9 * HOUR, "thaw_seen", container=bag.code, ice=True)
        self.diary.add(at + 13 * HOUR, "thaw_seen", GRANDMOTHER, container=bag.code, ice=False)
        self.diary.feed(at + 15 * HOUR, bag, GRANDMOTHER, COUNTER, 15)
        self.diary.add(at + 16 * HOUR, "discarded", GRANDMOTHER, container=bag.code, why="left over")

    def _nursery(self, at: int) -> None:
        """Two bottles go to the nursery; one is fed there, the other every second time comes back."""
        for number, bottle in enumerate([b for b in (self._oldest(at), self._oldest(at)) if b is not None]):
            self.diary.move(at, bottle, BAG, FATHER)
            over = at + 35 * MINUTE
            self.diary.add(over, "handed_over", FATHER, container=bottle.code, to="childcare", place=NURSERY)
            if number == 1 and self.ago % 2:
                back = at + 525 * MINUTE
                self.diary.add(back, "returned", FATHER, container=bottle.code, place=BAG)
                self.diary.move(back + 30 * MINUTE, bottle, FRIDGE, FATHER)
                bottle.ready = back + HOUR
                self.fridge.append(bottle)
                continue
            left = max(0, bottle.ml - self.rng.randrange(75, 131, 5))
            fed = at + (210 + 210 * number) * MINUTE
            self.diary.feed(fed, bottle, CARER, NURSERY_ROOM, left)
            if left:
                self.diary.add(fed + HOUR, "discarded", CARER, container=bottle.code, why="left over")

    def _weigh(self, at: int) -> None:
        self.diary.add(at, "weighed", child=CHILD, kg=round(6.52 - 0.021 * self.ago, 2))

    def _power_cut(self, at: int) -> None:
        for place, fill in ((FRIDGE, "half"), (FREEZER, "full")):
            self.diary.add(at, "power_lost", GRANDMOTHER, place=place, fill=fill)
            self.diary.add(at + 160 * MINUTE, "power_back", GRANDMOTHER, place=place)

    def _complete(self, at: int) -> None:
        day = local(at, self.diary.zone).date().isoformat()
        self.diary.add(at, "day_complete", FATHER, child=CHILD, date=day)


def _today(diary: Diary, bag: Bottle) -> None:
    """What the last hours left behind, counted back from now."""
    now = diary.now
    diary.express(now - FORGOTTEN, 40)
    diary.express(now - OLDEST, 65)
    left_over = diary.express(now - LEFT_OVER, 90)
    diary.feed(now - 80 * MINUTE, left_over, GRANDMOTHER, COUNTER, 25)
    held = diary.express(now - HELD, 55)
    until = written(now + 4 * HOUR, diary.zone)
    diary.add(now - HELD + HOUR, "held", container=held.code, why="medicine", until=until)
    diary.move(now - 50 * MINUTE, diary.express(now - OUTING, 85), BAG, FATHER)
    diary.express(now - STANDING, 70, chill=False)
    diary.move(now - 9 * HOUR, bag, FRIDGE, FATHER)
    diary.add(now - 95 * MINUTE, "thaw_seen", container=bag.code, ice=True)


def _around(diary: Diary) -> None:
    """What goes on beside the milk: the kit is washed after a session and sanitised at night, labels are checked."""
    for at, event in list(diary.rows):
        if event["kind"] == "expressed" and at < diary.now - OUTING:
            evening = local(at, diary.zone).hour >= 21
            diary.add(at + 40 * MINUTE, "cleaned", FATHER if evening else MOTHER, what="kit", how="washed")
            if evening:
                diary.add(at + 55 * MINUTE, "cleaned", FATHER, what="kit", how="sanitised")
        if event["kind"] == "feed_began" and event["by"] in (CARER, GRANDMOTHER):
            who, code = str(event["by"]), event["container"]
            diary.add(at - MINUTE, "checked", who, child=CHILD, found="match", container=code)


def demo_habits(*, now: int) -> Habits:
    """How the demo household uses its milk at `now`: two days a week at a nursery, and two weeks to save for."""
    today = local(now, zone_named(ZONE)).date()
    on = today + timedelta(days=35 - today.weekday())
    goal = Goal("apart", on.isoformat(), (on + timedelta(days=11)).isoformat(), hours=8)
    return Habits(apart=(Apart(CHILD, NURSERY_WEEKDAYS, "08:20", "16:30", where="nursery"),), goal=goal)


def demo_ledger(*, now: int, seed: int = 7) -> list[bytes]:
    """The demo household's ledger up to `now` (an instant), one JSON line an event."""
    diary = Diary(now, seed)
    home = Home(diary)
    home.begin()
    kept = home.freezer.pop()
    home.live()
    _today(diary, kept)
    _around(diary)
    return diary.lines()
