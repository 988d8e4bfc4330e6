"""Random households for the records: everything that is told, in any order, some of it still ahead."""

from __future__ import annotations

from typing import Any, NamedTuple

from hypothesis import strategies as st
from tests.strategies import (
    CHILDREN,
    COMMON,
    DAY,
    EPOCH,
    KINDS,
    SELDOM,
    TEMPS,
    ZONES,
    Json,
    Told,
    _fed,
    _measured,
    _moved,
    _of_child,
    _power,
    _stocked,
    _voided,
    gaps,
    settings,
)

from thawline.core.times import MINUTE

MIDNIGHT = int(EPOCH.timestamp()) * 1_000_000


def micros(minute: int) -> int:
    """A minute of the stories as an instant."""
    return MIDNIGHT + minute * MINUTE


def _household(told: Told) -> None:
    also = told.one(None, None, ["us-or"], ["au-tas", "us-wa"])
    guideline = told.one("cdc", "abm", "nhmrc", None)
    units = told.one(None, ["fl_oz", "F"], "ml, C")
    told.tell("household", zone=told.one(*ZONES), guideline=guideline, also=also, units=units)


def _place(told: Told) -> None:
    name = told.one(*KINDS, "shelf")
    told.tell("place", place=name, is_=told.one(*TEMPS), temp_c=told.one(None, 4.0, -18.0, 22.0))


def _child(told: Told) -> None:
    told.tell("child", child=told.one(*CHILDREN, "zoe"), born="2027-01-02", care=told.one("home", "hospital"))


def _strange(told: Told) -> None:
    """What names nobody and nothing that is there, or not yet."""
    kind = told.one("nursed", "measured", "power_lost", "feed_began", "moved")
    if kind == "nursed":
        told.tell(kind, child=told.one("zoe", "lou"))
    elif kind == "measured":
        told.tell(kind, place=told.one("shelf", "cellar"), temp_c=9.0)
    elif kind == "power_lost":
        told.tell(kind, place=told.one("shelf", "cellar"))
    elif kind == "moved":
        told.tell(kind, container=told.container(), to=told.one("shelf", "cellar"))
    else:
        told.tell(kind, container=told.container(), child="zoe")


def _void_of_any(told: Told) -> None:
    """A void of what was told, of a setting, of another void, or of what may never be told."""
    number = len(told.events)
    ids = [event["id"] for event in told.events]
    ahead = [f"e{number + step:02}" for step in (1, 2, 3)]
    target = told.one(*ids, *ahead, "h", "p-fridge", "p-room", "c-mia", "nothing")
    told.tell("voided", event=target)


def _bag(told: Told) -> None:
    """Milk in a container that somebody measured."""
    vessel = told.one(
        {"kind": "bag", "shape": "flat", "thickness_mm": 15}, {"kind": "bag", "thickness_mm": 8.5},
        {"kind": "bottle", "diameter_mm": 50}, {"kind": "bag", "shape": "flat"},
    )  # fmt: skip
    where = {"place": told.one("freezer", "deep", "fridge", "room"), "vessel": vessel}
    name, ml = told.new(), told.one(60.0, 120.0)
    told.used.add(name)
    told.ml[name] = ml
    if told.one(True, False):
        told.tell("stocked", container=name, ml=ml, expressed=told.at(), **where)
    else:
        told.tell("expressed", into=[{"container": name, "ml": ml}], **where)


def _logged_thaw(told: Told) -> None:
    """A container goes from a freezer to a refrigerator that was read, and somebody may look in on it."""
    name = told.container()
    told.tell("moved", container=name, to="freezer")
    told.minute += told.one(30, DAY, 3 * DAY)
    told.tell("measured", place="fridge", temp_c=told.one(1.0, 3.0, 4.0, 5.0))
    told.minute += told.one(0, 20, 600)
    told.tell("moved", container=name, to="fridge")
    for _ in range(told.one(0, 1, 2)):
        told.minute += told.one(120, 400, 900)
        told.tell("thaw_seen", container=name, ice=told.one(True, False))


def _excursion(told: Told) -> None:
    """A container is out of the refrigerator for a while, in a room that was read or not."""
    name = told.container()
    told.tell("moved", container=name, to="fridge")
    told.minute += told.one(5, DAY)
    if told.one(True, False):
        told.tell("measured", place="room", temp_c=told.one(19.0, 24.0))
    told.tell("moved", container=name, to="room")
    told.minute += told.one(4, 15, 25, 50)
    told.tell("moved", container=name, to="fridge")


ACTS = (
    *COMMON, *SELDOM, *(_voided,) * 4, *(_void_of_any,) * 5, *(_strange,) * 2,
    *(_bag,) * 3, *(_logged_thaw,) * 3, *(_excursion,) * 2,
    _household, _place, _child, _power, _measured, _of_child, _fed, _moved, _stocked,
)  # fmt: skip


class Tale(NamedTuple):
    """A household's events in the order in which they arrive, and the minutes at which somebody looks."""

    batches: list[list[Json]]
    looks: list[list[int]]

    @property
    def events(self) -> list[Json]:
        return [event for batch in self.batches for event in batch]


@st.composite
def tales(draw: st.DrawFn, *, most: int = 14) -> Tale:
    """Events in any order and in batches, each followed by one look or more, ever later."""
    zone = draw(st.sampled_from(ZONES))
    start = 100 * DAY + draw(st.integers(0, DAY))
    told = Told(draw, start, zone, sloppy=True)
    first: list[Json] = draw(settings(TEMPS, zone, start - 40 * DAY))
    _stocked(told) if draw(st.integers(0, 3)) == 0 else COMMON[0](told)
    for act in draw(st.lists(st.sampled_from(ACTS), max_size=most)):
        told.minute += draw(gaps())
        act(told)
    events = told.events
    if draw(st.integers(0, 2)):
        batches = [first, *_batches(draw, draw(st.permutations(events)) if draw(st.booleans()) else events)]
    else:
        batches = _batches(draw, draw(st.permutations([*first, *events])))
    return Tale(batches, _looks(draw, start, told.minute, len(batches)))


def _batches(draw: st.DrawFn, events: list[Json]) -> list[list[Json]]:
    found = []
    left = list(events)
    while left:
        size = draw(st.integers(1, max(1, min(8, len(left)))))
        found.append(left[:size])
        left = left[size:]
    return found


def _looks(draw: st.DrawFn, start: int, last: int, count: int) -> list[list[int]]:
    """Minutes for each batch: often so early that much lies ahead."""
    now = draw(st.one_of(st.just(last), st.integers(start, max(start, last))))
    found = []
    for _ in range(count):
        here = [now]
        for _ in range(draw(st.integers(0, 2))):
            now += draw(gaps())
            here.append(now)
        found.append(here)
    return found


def plain(found: Any) -> Any:
    """A verdict without its options."""
    return found._replace(options=())
