"""Households made to tempt a plan, and plans carried out: early, late or in between, and judged by the core."""

from __future__ import annotations

import json
import random
from typing import Any, NamedTuple

from thawline.core.replay import Replay, run
from thawline.core.times import DAY, HOUR, MINUTE, SECOND, local, parse_instant, written, zone_named
from thawline.core.verdict import Verdict
from thawline.engines.planner.figures import margin_h
from thawline.services.habits import Apart, Habits
from thawline.services.plan import plan_from
from thawline.services.plan_kinds import PlanChore, PlanFeed, PlanNow
from thawline.services.plan_needs import Told
from thawline.services.plan_seen import Seen, seen_of

ZONES = (
    "UTC", "Europe/London", "America/New_York", "Australia/Lord_Howe", "America/Santiago", "Asia/Kathmandu",
    "Pacific/Apia",
)  # fmt: skip
# Nights the clocks change, month ends, a leap day, a year's end, and a plain day.
NOWS = (
    "2027-03-13T20:00:00Z", "2027-03-28T00:30:00Z", "2027-04-03T14:50:00Z", "2027-08-31T10:00:00Z",
    "2027-11-07T05:30:00Z", "2028-02-28T23:00:00Z", "2027-12-31T22:10:00Z", "2027-05-12T09:13:00Z",
)  # fmt: skip
HOMES = ("cdc", "cdc", "abm", "aap", "bfn", "nhmrc", "mayo", "healthlinkbc")
OVERLAYS = ("us-or", "us-wa", "au-tas")
PLACES: dict[str, tuple[str, tuple[float | None, ...]]] = {
    "room": ("room", (None, 20, 22.5, 25, 27)), "cooler": ("cooler", (None, 4, 8)), "bag": ("cooler", (None,)),
    "fridge": ("refrigerator", (None, 3.5, 4, 4.4, 7)), "their fridge": ("refrigerator", (None, 3, 4)),
    "icebox": ("freezer_compartment", (None, -18, -10)), "freezer": ("freezer", (None, -18, -18, -12)),
    "deep": ("deep_freezer", (None, -20)),
}  # fmt: skip
LACKING = (
    (), (), (), ("freezer", "deep"), ("freezer", "deep", "icebox"), ("fridge", "their fridge"), ("cooler", "bag"),
    ("room",),
)  # fmt: skip


class House:
    """A household of one seed: `lines` of its ledger at `now`, its habits, and what the planner is told."""

    def __init__(self, seed: int) -> None:
        self.rng = rng = random.Random(seed)
        self.now = parse_instant(rng.choice(NOWS)) + rng.randint(0, 24 * 60) * MINUTE
        zone = rng.choice(ZONES)
        self.zone, self.events, self.names = zone_named(zone), [], []  # type: tuple[Any, list[dict[str, Any]], list[str]]
        also = [rng.choice(OVERLAYS)] if rng.random() < 0.15 else None
        self.add("household", 9600, zone=zone, guideline=rng.choice(HOMES), also=also)
        self.kids = ["mia", "ben"][: rng.choice([1, 1, 1, 2])]
        self._places()
        born = local(self.now - rng.choice([15, 40, 120, 250, 600]) * DAY, self.zone).date().isoformat()
        for kid in self.kids:
            self.add("child", 9600, child=kid, born=born, care="hospital" if rng.random() < 0.06 else "home")
        if self.places:
            self._milk()
            for name in list(self.names):
                self._happens(name)
            self._around()
        self.lines = [json.dumps(event).encode() for event in self.events]
        self._habits()

    def add(self, kind: str, hours_ago: float, **fields: Any) -> None:
        at = self.now - round(hours_ago * HOUR)
        event = {"id": f"e{len(self.events):04d}", "at": written(at - at % MINUTE, self.zone), "kind": kind}
        self.events.append(event | {key.rstrip("_"): value for key, value in fields.items() if value is not None})

    def _places(self) -> None:
        lacking = self.rng.choice(LACKING)
        self.places = [name for name in PLACES if name not in lacking and self.rng.random() > 0.15]
        for name in self.places:
            kind, temps = PLACES[name]
            self.add("place", 9600, place=name, is_=kind, temp_c=self.rng.choice(temps))
        self.cold = [name for name in self.places if PLACES[name][0] in ("refrigerator", "cooler")]
        self.freezers = [name for name in self.places if "freezer" in PLACES[name][0]]

    def _new(self) -> dict[str, Any]:
        self.names.append(f"c{len(self.names):03d}")
        return {"container": self.names[-1], "ml": self.rng.choice([20, 40, 60, 90, 120, 150])}

    def _milk(self) -> None:
        rng = self.rng
        for _ in range(rng.randint(0, 10)):
            hours = rng.choice([0.2, 1, 2, 3.5, 3.9, 5, 10, 20, 30, 47, 60, 70, 80, 89, 90.5, 95]) * rng.uniform(
                0.9, 1.1
            )
            whom = rng.choice([None, None, None, *self.kids])
            handling = rng.choice([None, None, "very_clean"])
            self.add(
                "expressed", hours, into=[self._new()], place=rng.choice(self.places), handling=handling, for_=whom
            )
            if self.cold and rng.random() < 0.85:
                later = max(0.05, hours - rng.choice([0.1, 0.5, 2, 3.9]))
                self.add("moved", later, container=self.names[-1], to=rng.choice(self.cold))
        for _ in range(rng.randint(0, 12) if self.freezers else 0):
            days = rng.choice([0.5, 2, 10, 30, 80, 89, 120, 150, 178, 179.7, 200, 364]) * rng.uniform(0.97, 1.01)
            place = rng.choice(self.freezers)
            if rng.random() < 0.4:
                on = local(self.now - round(days * DAY), self.zone).date().isoformat()
                milk = "donor" if rng.random() < 0.05 else None
                self.add("stocked", days * 20, place=place, expressed=on, form="frozen", milk=milk, **self._new())
            else:
                self.add("expressed", days * 24, into=[self._new()], place=rng.choice(self.places))
                self.add("moved", days * 24 - rng.choice([0.05, 0.4, 3, 0.5]), container=self.names[-1], to=place)

    def _happens(self, name: str) -> None:
        """What may have happened to a container; most often nothing."""
        rng = self.rng
        if rng.random() > 0.6:
            return
        ago = rng.choice([0.05, 0.2, 0.35, 0.6, 1, 2, 3, 6, 10, 20, 23, 40])
        theirs = "their fridge" if "their fridge" in self.places else None
        others = [other for other in self.names if other != name]
        rows: list[tuple[str, dict[str, Any]]] = [
            ("moved", {"to": rng.choice(self.places)}),
            ("moved", {"to": rng.choice(self.places)}),
            ("moved", {"to": rng.choice(self.cold or self.places)}),
            ("thaw_seen", {"ice": rng.random() < 0.6}),
            ("warmed", {"how": rng.choice(["warm_water", "microwave", "warmer"])}),
            ("feed_began", {"child": rng.choice(self.kids)}),
            ("held", {"why": "medicine"}),
            ("added", {"what": rng.choice(["fortifier", "formula"])}),
            ("handed_over", {"to": "childcare", "place": theirs}),
            ("counted", {"ml": rng.choice([0, 10, 50])}),
            ("measured", {"temp_c": rng.choice([2, 9, 16, -5])}),
            ("poured", {"from_": [{"container": name, "ml": 20}], "into": rng.choice([*others, f"cup {name}"])}),
        ]
        kind, fields = rng.choice(rows)
        named = {} if kind == "poured" else {"container": name}
        self.add(kind, -ago if rng.random() < 0.03 else ago, **named, **fields)
        if kind == "feed_began" and rng.random() < 0.8:
            self.add("feed_ended", ago * 0.7, container=name, left_ml=rng.choice([0, 20, 30]))
        if rng.random() < 0.05:
            self.add("voided", ago, event=rng.choice(self.events)["id"], why="a slip")

    def _around(self) -> None:
        rng = self.rng
        if rng.random() < 0.25:
            ago, place = rng.choice([0.5, 3, 4.5, 20, 30, 50]), rng.choice(self.places)
            self.add("power_lost", ago, place=place, fill=rng.choice([None, "full", "half", "little"]))
            if rng.random() < 0.5:
                self.add("power_back", ago * rng.random(), place=place)
        if rng.random() < 0.2:
            temp = rng.choice([3, 4, 9, 16, -18, -5])
            self.add("measured", rng.choice([0.1, 1, 5]), place=rng.choice(self.places), temp_c=temp)

    def _habits(self) -> None:
        rng = self.rng
        self.rule = rng.choice(["", "", *OVERLAYS])
        start, end = rng.choice([("08:00", "17:00"), ("00:30", "04:00"), ("13:00", "23:30")])
        days = (0, 1, 2, 3, 4, 5, 6)
        apart = tuple(Apart(kid, days, start, end, "there", self.rule) for kid in self.kids[: rng.randint(0, 2)])
        self.habits = Habits(
            way=rng.choice(["fresh_first", "fresh_first", "rotation"]), rotation_day=rng.randint(0, 6),
            fed=rng.choice(["bottle", "bottle", "apart"]), apart=apart,
        )  # fmt: skip
        self.told = Told({kid: rng.choice([300.0, 800.0]) for kid in self.kids}, 0.1, ((8.0, 100.0), (20.0, 90.0)))


class Cup(NamedTuple):
    """A part of a feed in a cup of its own: out of which container, and for which feed."""

    source: str
    feed: PlanFeed


class Played:
    """A plan carried out: each chore at the planned moment (`late` 0), at the latest one (1), or in between."""

    def __init__(self, seen: Seen, plan: PlanNow, late: float, *, feed: bool) -> None:
        self.seen, self.plan, self.late, self.feed = seen, plan, late, feed
        self.rows: list[tuple[int, int, dict[str, Any]]] = []
        self.cups: dict[str, Cup] = {}
        self.given: dict[str, float] = {}
        self.first: dict[str, int] = {}
        for one in plan.feeds:
            for part in one.parts:
                self.given[part.container] = self.given.get(part.container, 0.0) + part.ml
                self.first[part.container] = min(self.first.get(part.container, one.at), one.at)
        for chore in plan.chores:
            for name in () if chore.coming else chore.containers:
                self._chore(chore, name)
        for one in plan.feeds:
            self._feed(one)
        self.rows.sort(key=lambda row: row[:2])

    def add(self, at: int, kind: str, *, after: int = 0, **fields: Any) -> None:
        at += after * SECOND
        at += -at % SECOND
        event = {"id": f"play{len(self.rows):05d}", "kind": kind, "at": written(at, self.seen.zone)}
        self.rows.append((at, len(self.rows), event | {key.rstrip("_"): value for key, value in fields.items()}))

    def _chore(self, chore: PlanChore, name: str) -> None:
        at = chore.at + int((chore.by - chore.at) * self.late)
        if chore.does == "thaw" and chore.to is None:
            self.add(chore.at, "warmed", container=name, how="warm_water")
        elif chore.does in ("chill", "thaw") and chore.to is not None:
            # What is drunk before is put away before.
            at = min(at, max(chore.at, self.first.get(name, at) - MINUTE))
            self.add(at, "moved", container=name, to=chore.to)
        elif chore.does == "freeze" and chore.to is not None and name not in self.given:
            self.add(at, "moved", container=name, to=chore.to)

    def _feed(self, one: PlanFeed) -> None:
        for part in one.parts:
            if part.coming:
                continue
            cup = f"cup of play {len(self.cups)}"
            self.cups[cup] = Cup(part.container, one)
            self.add(one.at, "poured", after=1, from_=[{"container": part.container, "ml": part.ml}], into=cup)
            if self.feed:
                self.add(one.at, "feed_began", after=2, container=cup, child=one.child)
                self.add(one.at, "feed_ended", after=3, container=cup, left_ml=0)

    @property
    def lines(self) -> list[bytes]:
        return [json.dumps(event).encode() for _, _, event in self.rows]


def planned(house: House, *, refine: bool = False) -> tuple[Seen, PlanNow]:
    """The household as it is seen, and its plan for two days."""
    seen = seen_of(house.lines, now=house.now)
    told = house.told if house.rng.random() < 0.6 else None
    return seen, plan_from(seen, house.habits, days=2, refine=refine, told=told)


def wrong_now(seen: Seen, plan: PlanNow) -> list[str]:
    """What is wrong with a plan as it stands."""
    found = []
    there = {one.container: one for one in seen.verdicts}
    for feed in plan.feeds:
        for one in (there[part.container] for part in feed.parts if not part.coming):
            if one.standing not in ("fine", "soon") or one.breaches or one.fed_from or one.warmed:
                found.append(f"{one.container} is {one.standing}, drunk from, warm or breached")
            if one.meant_for not in (None, feed.child):
                found.append(f"{one.container} is for {one.meant_for}")
    for chore in plan.chores:
        if not seen.now <= chore.at <= chore.by:
            found.append(f"{chore.does} is not between now and its latest moment")
        if chore.does == "freeze" and any(there[name].form != "fresh" for name in chore.containers):
            found.append(f"{chore.containers} would be frozen again")
    return found


def wrong_then(house: House, seen: Seen, plan: PlanNow, late: float) -> list[str]:
    """What the core says of a plan that was carried out."""
    ahead = set(run(house.lines, now=house.now).ledger.ahead)
    lines = [line for line in house.lines if json.loads(line)["id"] not in ahead]
    fed = Played(seen, plan, late, feed=True)
    end = max([plan.until, *(at for at, _, _ in fed.rows)]) + MINUTE
    after, without = (run([*lines, *more], now=end, everything=True) for more in (fed.lines, []))
    found = [f"refused: {one.code} {one.says}" for one in after.fold.refused if one.event.startswith("play")]
    known = {one.container: set(one.breaches) for one in without.verdicts}
    found += [
        f"{one.container} {fed.cups.get(one.container)}: {[(b.rule, b.at) for b in one.breaches]}"
        for one in after.verdicts
        if set(one.breaches) - known.get(one.container, set())
    ]
    return found + list(_cups(house, lines, Played(seen, plan, late, feed=False)))


def _cups(house: House, lines: list[bytes], played: Played) -> list[str]:
    """Each cup as it stands when it is drunk, by the rules of the place where that is, the margin kept at home."""
    moments: dict[tuple[int, str], list[tuple[str, Cup]]] = {}
    for name, cup in played.cups.items():
        rule = house.rule if cup.feed.where == "there" else ""
        moments.setdefault((cup.feed.at, rule), []).append((name, cup))
    water = {name for one in played.plan.chores if one.does == "thaw" and one.to is None for name in one.containers}
    found = []
    for (at, rule), rows in moments.items():
        also = [*played.seen.base.settings.also, *([rule] if rule else [])]
        then: Replay = run([*lines, *played.lines], now=at + 10 * SECOND, everything=True, also=also)
        stands: dict[str, Verdict] = {one.container: one for one in then.verdicts}
        for name, cup in rows:
            one = stands[name]
            limit = (one.why[0].until - one.why[0].start) / HOUR if one.why else 0.0
            margin = 0.0 if rule or cup.source in water else margin_h(limit)
            if one.standing not in ("fine", "soon") or at + margin * HOUR > (one.use_by or 0) + MINUTE:
                found.append(
                    f"{cup.source} at {written(at, played.seen.zone)}: {one.standing}, {[w.rule for w in one.why]}"
                )
    return found
