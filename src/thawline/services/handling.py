"""What people do with a container, written as events, and which of it is at hand."""

from __future__ import annotations

from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.places import FREEZERS
from thawline.core.times import BadTimeError, check_date, written, zone_named
from thawline.core.verdict import Option, Verdict
from thawline.records.store import Store
from thawline.services.acts import Act, BadWhenError, before, moment
from thawline.services.board import Board, One, PlaceNow

# Why milk was thrown away, as it is kept in the ledger.
DISCARD_WHY = (
    "leaked", "spilled", "past its limit", "tasted or smelled off", "left over", "not needed", "other",
)  # fmt: skip
WARM_HOW = ("warm_water", "warmer", "microwave", "stovetop")
HOLD_WHY = ("medicine", "alcohol", "clinician", "other")
ADDED_WHAT = ("fortifier", "formula", "other")
# How long a feed took at the most, in minutes.
TOOK = (10, 20, 30, 45, 60, 90)
_LOOK_BACK = 100  # entries of one container


class Portion(NamedTuple):
    """So many mL of a container."""

    container: str
    ml: float


class Pour(NamedTuple):
    """What goes where: the portions, and the container that takes them; its own portion stays in it."""

    portions: tuple[Portion, ...]
    into: str

    @property
    def moving(self) -> list[Portion]:
        """The portions that leave their container."""
        return [one for one in self.portions if one.container != self.into]


def feed(
    act: Act, found: One, *, child: str, left_ml: float | None, began_only: bool = False, began: str | None = None
) -> None:
    """A feed: its beginning where none is open, and its end with `left_ml` mL in the container."""
    name = found.verdict.container
    if began_only:
        if not found.container.feed:
            act.add("feed_began", container=name, child=child)
    elif left_ml is not None:
        act.fed(name, child, left_ml=left_ml, open_feed=found.container.feed, began=began)


def began_before(act: Act, minutes: str, *, zone: str) -> str | None:
    """When a feed began that ends with this act and took so many minutes; None where the act has no time yet."""
    return before(act.at, int(minutes), zone=zone) if act.at else None


def pour(act: Act, wanted: Pour) -> None:
    """Pour, or combine."""
    moving = [{"container": one.container, "ml": one.ml} for one in wanted.moving]
    if moving:
        act.add("poured", from_=moving, into=wanted.into)


def hand_over(act: Act, name: str, *, to: str, place: str | None) -> None:
    """Give milk to someone; where it stays in a place of this household, that place."""
    act.add("handed_over", container=name, to=to, place=place)


def hold(act: Act, name: str, *, why: str, on: str, at: str, zone: str) -> None:
    """Set milk aside, with the day (and time) at which to look again; raises `BadWhenError`."""
    act.add("held", container=name, why=why, until=until(on, at, zone=zone))


def until(on: str, at: str, *, zone: str) -> str | None:
    """A day, or a day and a time on the household's clock, as it is kept; raises `BadWhenError`."""
    if not on:
        if at:
            raise BadWhenError("Choose the day as well.")
        return None
    try:
        check_date(on)
        if not at:
            return on
        here = zone_named(zone)
        return written(moment(f"{on}T{at}", here), here)
    except BadTimeError as fault:
        raise BadWhenError("Write the day as 2027-02-03, and the time as 07:10.") from fault


def elsewhere(board: Board, found: One) -> list[PlaceNow]:
    """Every place but the one where it is."""
    here = found.verdict.place
    return [place for place in board.places if place.name != here]


def option_for(found: Verdict, place: str) -> Option | None:
    """What a verdict says of taking it to that place."""
    return next((option for option in found.options if option.place == place), None)


def verbs(board: Board, found: One) -> list[str]:
    """What may be noted of this container, the most usual first; nothing that makes no sense now."""
    if found.verdict.standing == "gone":
        return ["back"] if found.container.away else []
    said = found.verdict
    frozen = said.form == "frozen"
    asked: dict[str, bool] = {
        "to": len(board.places) > 1,
        "warm": not found.container.feed,
        "feed": not frozen,
        "leftover": not frozen,
        "pour": True,
        "ice": frozen or said.form in ("thawing", "thawed") or found.place_kind in FREEZERS,
        "count": True,
        "measure": True,
        "hold": True,
        "release": bool(found.held),
        "add": True,
        "hand": True,
        "receive": bool(board.also),
        "discard": True,
    }
    return [verb for verb, sensible in asked.items() if sensible]


def to_combine(board: Board, found: One) -> list[Verdict]:
    """What could be poured together with it: milk within its limits first, then what stands in the same place."""
    here = found.verdict
    others = [one for one in board.verdicts if one.container != here.container]
    return sorted(
        others, key=lambda one: (one.standing not in ("fine", "soon"), one.place != here.place, one.form != here.form)
    )


def held_until(store: Store, container: str) -> str | None:
    """When to look again at what is held back: a time or a day as written; None where nobody said so."""
    rows = [row for row in store.history(before=None, limit=_LOOK_BACK, name=container) if row.kind == "held"]
    voided = store.voided_by([row.event_id for row in rows])
    for row in rows:
        event = ev.decoder.decode(row.line)
        if isinstance(event, ev.Held) and event.until is not None and row.event_id not in voided:
            return event.until
    return None
