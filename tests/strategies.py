"""Random ledgers: the one home of the generators.

A ledger is a list of events as plain objects. Times are whole minutes since 2027-01-01 in UTC.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from thawline.core.replay import replay

Json = dict[str, Any]

EPOCH = datetime(2027, 1, 1, tzinfo=UTC)
HOUR, DAY = 60, 24 * 60
ZONES = (
    "UTC",
    "Europe/London",
    "America/New_York",
    "Australia/Lord_Howe",
    "Asia/Beirut",
    "America/Santiago",
    "Asia/Kathmandu",
    "Pacific/Apia",
)
HOMES = ("cdc", "abm", "aap", "bfn", "nhmrc", "mayo", "healthlinkbc")
OVERLAYS = ("us-or", "us-wa", "au-tas")
NAMES = ("A", "B", "C", "D", "E", "F")
CHILDREN = ("mia", "ben")
KINDS = {
    "room": "room",
    "nursery": "room",
    "cooler": "cooler",
    "bag": "cooler",
    "fridge": "refrigerator",
    "ice_box": "freezer_compartment",
    "freezer": "freezer",
    "deep": "deep_freezer",
}
FREEZERS = ("ice_box", "freezer", "deep")
COLD_AND_ROOM = ("room", "nursery", "cooler", "bag", "fridge")
TEMPS: dict[str, tuple[float | None, ...]] = {
    "room": (None, 20.0, 22.5, 25.0, 27.0),
    "cooler": (None, None, 4.0, 16.0),
    "refrigerator": (None, 3.5, 4.0, 4.4, 7.0),
    "freezer_compartment": (None, -18.0, -10.0),
    "freezer": (None, -18.0, -12.0),
    "deep_freezer": (None, -20.0),
}
IN_BAND: dict[str, tuple[float | None, ...]] = {
    "room": (None, 20.0, 22.5),
    "cooler": (None,),
    "refrigerator": (None, 3.5),
    "freezer_compartment": (-18.0,),
    "freezer": (None, -18.0),
    "deep_freezer": (None, -20.0),
}
# Days on which something happens to the calendar: clocks change, a leap day, a month's or year's end.
STARTS = [
    (datetime(*day, tzinfo=UTC) - EPOCH) // timedelta(minutes=1)
    for day in ((2027, 3, 13), (2027, 3, 27), (2027, 4, 2), (2027, 8, 30), (2027, 11, 6), (2028, 2, 28), (2027, 12, 31))
]


def text(minute: int, zone: str = "UTC") -> str:
    """A minute as RFC 3339."""
    return (EPOCH + timedelta(minutes=minute)).astimezone(ZoneInfo(zone)).isoformat()


def day_of(minute: int, zone: str) -> str:
    """The day that it is there at that minute."""
    return text(minute, zone)[:10]


def minute_of(written: str) -> int:
    """An RFC 3339 time as the minute it lies in."""
    return (datetime.fromisoformat(written) - EPOCH) // timedelta(minutes=1)


def lines(events: Iterable[Json]) -> list[bytes]:
    """The lines of a ledger."""
    return [json.dumps(event).encode() for event in events]


class Story(NamedTuple):
    """A ledger, with the minute of its last event."""

    events: list[Json]
    last: int
    zone: str
    guideline: str
    also: tuple[str, ...]

    def told(self, *more: Json) -> list[Json]:
        """The events, and some more."""
        return [*self.events, *more]

    def judged(self, now: int, events: list[Json] | None = None, files: dict[str, Json] | None = None) -> Json:
        """The contract's object at a minute; `events` in place of its own."""
        chosen = self.events if events is None else events
        return replay(
            lines(chosen),
            now=text(now),
            guideline=self.guideline,
            also=self.also,
            everything=True,
            files=files,
        )


def held(answer: Json) -> dict[str, Json]:
    """The containers of an answer by name."""
    return {entry["container"]: entry for entry in answer["containers"]}


def gaps(longest: int = 400 * DAY) -> st.SearchStrategy[int]:
    """Minutes from one event to the next: often near a limit."""
    near = [0, 1, 4, 5, 6, 10, 19, 20, 21, 30, 60, 61, 119, 120, 121, 180, 239, 240, 241, 359, 360, 361]
    far = [8 * HOUR, DAY - 1, DAY, DAY + 1, 2 * DAY, 4 * DAY - 30, 4 * DAY, 4 * DAY + 1, 30 * DAY, 170 * DAY, 366 * DAY]
    chosen = [gap for gap in near + near + far if gap <= longest]
    return st.one_of(st.sampled_from(chosen), st.integers(0, min(longest, 5 * HOUR)))


def amounts(least: int = 1) -> st.SearchStrategy[float]:
    """Millilitres, some of them with a fraction."""
    return st.one_of(
        st.sampled_from([30.0, 59.9, 60.0, 61.0, 120.0]),
        st.integers(least * 10, 2400).map(lambda tenths: tenths / 10),
    )


@st.composite
def settings(draw: st.DrawFn, temps: dict[str, tuple[float | None, ...]], zone: str, at: int) -> list[Json]:
    """A household, its places and children."""
    found: list[Json] = [{"id": "h", "at": text(at), "kind": "household", "zone": zone}]
    for name, kind in KINDS.items():
        event = {"id": f"p-{name}", "at": text(at), "kind": "place", "place": name, "is": kind}
        temp = draw(st.sampled_from(temps[kind]))
        found.append(event if temp is None else {**event, "temp_c": temp})
    for name in CHILDREN:
        child = {"id": f"c-{name}", "at": text(at), "kind": "child", "child": name, "born": "2027-01-02"}
        found.append({**child, "care": "home"})
    return found


class Told:
    """A story while it is being told: who holds milk, by a rough count."""

    def __init__(self, draw: st.DrawFn, minute: int, zone: str, *, sloppy: bool) -> None:
        self.draw = draw
        self.minute = minute
        self.zone = zone
        self.sloppy = sloppy
        self.ml: dict[str, float] = {}
        self.used: set[str] = set()
        self.events: list[Json] = []

    def one(self, *choices: Any) -> Any:  # one of anything
        return self.draw(st.sampled_from(choices))

    def place(self) -> str:
        return str(self.one(*KINDS))

    def container(self) -> str:
        """One that holds milk; any name in a sloppy story."""
        there = sorted(name for name, ml in self.ml.items() if ml > 0)
        if not there or (self.sloppy and self.draw(st.integers(0, 5)) == 0):
            return str(self.one(*NAMES))
        return str(self.one(*there))

    def new(self) -> str:
        free = [name for name in NAMES if name not in self.used]
        if not free or (self.sloppy and self.draw(st.integers(0, 5)) == 0):
            return str(self.one(*NAMES))
        return free[0]

    def part(self, name: str) -> float:
        """An amount taken from a container."""
        there = self.ml.get(name, 50.0)
        shares = (1.0, 0.5, 0.25, 1.0, 1.1, 1.3) if self.sloppy else (1.0, 0.5, 0.25)
        return round(there * float(self.one(*shares)), 1)

    def at(self) -> str:
        """When it happened: an instant, or seldom only the day."""
        if self.sloppy and self.draw(st.integers(0, 9)) == 0:
            return day_of(self.minute, self.zone)
        return text(self.minute, self.one("UTC", self.zone))

    def tell(self, kind: str, **fields: object) -> None:
        given = {name.rstrip("_"): value for name, value in fields.items() if value is not None}
        self.events.append({"id": f"e{len(self.events):02}", "at": self.at(), "kind": kind, **given})


def _expressed(told: Told) -> None:
    into = []
    for _ in range(told.one(1, 1, 2)):
        name = told.new()
        told.used.add(name)
        ml = told.draw(amounts())
        told.ml[name] = ml
        into.append({"container": name, "ml": ml})
    handling, mother = told.one(None, None, "very_clean"), told.one(None, None, None, "Ann")
    told.tell("expressed", into=into, place=told.place(), handling=handling, mother=mother, for_=told.one(None, "mia"))


def _stocked(told: Told) -> None:
    name, ml = told.new(), told.draw(amounts())
    told.used.add(name)
    told.ml[name] = ml
    past = told.minute - told.draw(gaps(30 * DAY))
    expressed = told.one(text(past), day_of(past, told.zone))
    form = told.one(None, "fresh", "frozen", "thawed")
    frozen_on = told.one(None, None, day_of(told.minute, told.zone)) if form in (None, "frozen") else None
    milk = told.one(None, None, None, "donor")
    place = told.place()
    told.tell(
        "stocked", container=name, ml=ml, place=place, expressed=expressed, form=form, frozen_on=frozen_on, milk=milk
    )


def _moved(told: Told) -> None:
    told.tell("moved", container=told.container(), to=told.place())


def _poured(told: Told) -> None:
    sources = {told.container() for _ in range(told.one(1, 1, 2, 3))}
    there = sorted(name for name, ml in told.ml.items() if ml > 0 and name not in sources)
    combine = told.draw(st.booleans())
    into: str = told.one(*there) if there and combine else told.new()
    portions = []
    for name in sorted(sources):
        ml = told.part(name)
        portions.append({"container": name, "ml": ml})
        told.ml[name] = max(0.0, told.ml.get(name, 0.0) - ml)
        told.ml[into] = told.ml.get(into, 0.0) + ml
    told.used.add(into)
    told.tell("poured", from_=portions, into=into)


def _warmed(told: Told) -> None:
    told.tell("warmed", container=told.container(), how=told.one("warm_water", "warmer", "microwave", "stovetop"))


def _fed(told: Told) -> None:
    name = told.container()
    told.tell("feed_began", container=name, child=told.one(*CHILDREN))
    if told.one(True, True, False):
        told.minute += told.one(0, 15, 30, 130)
        left = round(told.ml.get(name, 50.0) - told.part(name), 1)
        told.ml[name] = max(0.0, left)
        told.tell("feed_ended", container=name, left_ml=max(0.0, left))


def _discarded(told: Told) -> None:
    name = told.container()
    ml: float | None = told.one(None, told.part(name))
    told.ml[name] = 0.0 if ml is None else max(0.0, told.ml.get(name, 0.0) - ml)
    told.tell("discarded", container=name, ml=ml, why="old")


def _counted(told: Told) -> None:
    name = told.container()
    told.ml[name] = told.draw(amounts(0))
    told.tell("counted", container=name, ml=told.ml[name])


def _handed_over(told: Told) -> None:
    name = told.container()
    place = told.one(None, None, "nursery", "fridge")
    told.tell("handed_over", container=name, to="childcare", place=place)
    if told.draw(st.booleans()):
        told.minute += told.draw(gaps(8 * HOUR))
        told.tell(told.one("returned", "received"), container=name, place=told.place())


def _held(told: Told) -> None:
    told.tell(told.one("held", "held", "released"), container=told.container(), why="medicine")


def _measured(told: Told) -> None:
    name = told.place()
    temp = told.one(*(one for one in TEMPS[KINDS[name]] if one is not None), 9.0, -18.0)
    if told.draw(st.booleans()):
        told.tell("measured", place=name, temp_c=temp)
    else:
        told.tell("measured", container=told.container(), temp_c=temp)


def _power(told: Told) -> None:
    place = told.one("fridge", "ice_box", "freezer", "deep")
    told.tell("power_lost", place=place, fill=told.one(None, "full", "half", "little"))
    told.minute += told.draw(gaps(3 * DAY))
    told.tell("power_back", place=place)


def _thaw_seen(told: Told) -> None:
    told.tell("thaw_seen", container=told.container(), ice=told.one(True, False))


def _added(told: Told) -> None:
    told.tell("added", container=told.container(), what=told.one("fortifier", "formula"))


def _of_child(told: Told) -> None:
    child = told.one(*CHILDREN)
    told.tell("nursed", child=child, minutes=12)
    told.tell("fed_other", child=child, what="formula", ml=40)
    told.tell("weighed", child=child, kg=4.2)
    told.tell("day_complete", child=child, date=day_of(told.minute, told.zone))


def _voided(told: Told) -> None:
    if told.events:
        told.tell("voided", event=told.one(*(event["id"] for event in told.events)), why="a slip")


COMMON: tuple[Callable[[Told], None], ...] = (
    *(_expressed, _expressed, _moved, _moved, _moved, _moved, _poured, _poured, _thaw_seen, _thaw_seen, _stocked),
)
SELDOM: tuple[Callable[[Told], None], ...] = (
    *(_warmed, _fed, _discarded, _counted, _handed_over, _held, _measured, _power, _added, _of_child),
)


@st.composite
def stories(
    draw: st.DrawFn,
    *,
    sloppy: bool = False,
    voids: bool = False,
    most: int = 12,
    acts: tuple[Callable[[Told], None], ...] = COMMON + SELDOM,
    temps: dict[str, tuple[float | None, ...]] | None = None,
    overlays: bool = True,
) -> Story:
    """A ledger over all kinds; `sloppy` ones contain what does not fit."""
    zone = draw(st.sampled_from(ZONES))
    start = draw(st.sampled_from(STARTS)) + draw(st.integers(0, DAY))
    first = draw(settings(TEMPS if temps is None else temps, zone, start - 40 * DAY))
    told = Told(draw, start, zone, sloppy=sloppy)
    _stocked(told) if _stocked in acts and draw(st.integers(0, 3)) == 0 else _expressed(told)
    for act in draw(st.lists(st.sampled_from(acts + ((_voided,) if voids else ())), max_size=most)):
        told.minute += draw(gaps())
        act(told)
    also = draw(st.sampled_from([(), (), (), *((name,) for name in OVERLAYS)])) if overlays else ()
    return Story(first + told.events, told.minute, zone, draw(st.sampled_from(HOMES)), also)
