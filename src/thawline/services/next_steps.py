"""What comes next: the milk to feed first, what needs a hand, and the usual next step of a container."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from thawline.core.times import HOUR
from thawline.core.verdict import Option, Verdict
from thawline.services.board import Board

# How many containers have their steps on the first page, and how many are named there at all; the rest is counted.
CLOSELY, SHOWN = 12, 60
# Only the order of a page hangs on it: a limit this near stands before milk that no guideline gives a time.
PRESSING = 2 * HOUR


class Usual(NamedTuple):
    """A usual next step: the verb, what it is done with, and the option that speaks for it."""

    verb: str
    fields: tuple[tuple[str, str], ...]
    option: Option | None = None


def _within(found: Verdict) -> bool:
    return found.standing in ("fine", "soon")


def feed_order(board: Board, preference: str, *, away: Collection[str] = ()) -> list[Verdict]:
    """Milk within its limits in the order in which it is to be fed: what is open or warmed, then by preference.

    `chilled` puts what needs no thawing first, `oldest` the oldest of all. What is packed comes last; what lies in
    one of the places that are `away`, with a childcare service, is not at hand.
    """
    packed = {place.name for place in board.of_kind("cooler")}

    def rank(found: Verdict) -> tuple[int, int, int, int, str]:
        begun = found.fed_from is not None or found.warmed is not None
        frozen = found.form == "frozen"
        by = found.use_by or 0
        later = 2 if found.place in packed else 1 if frozen and preference == "chilled" else 0
        return (0, 0, by, 0, found.container) if begun else (1, later, found.dated, by, found.container)

    return sorted((one for one in board.verdicts if _within(one) and one.place not in away), key=rank)


def feed_next(
    board: Board, preference: str, child: str | None = None, *, but: Collection[str] = (), away: Collection[str] = ()
) -> Verdict | None:
    """What to feed this child next, `but` for what another one gets; None where nothing is within its limits."""
    for found in feed_order(board, preference, away=away):
        if (found.meant_for is None or child is None or child == found.meant_for) and found.container not in but:
            return found
    return None


def in_hand(board: Board) -> list[Verdict]:
    """Everything that needs a hand, most urgent first: what can still be saved before what is to be thrown away."""
    return sorted((one for one in board.verdicts if _needs(board, one)), key=lambda one: _urgency(board, one))


def _urgency(board: Board, found: Verdict) -> tuple[int, int]:
    by = found.use_by or 0
    if found.standing == "soon":
        return (0 if by - board.now <= PRESSING else 2, by)
    return {"outside": 1, "past": 3, "breached": 3, "held": 5}.get(found.standing, 4), by


def _needs(board: Board, found: Verdict) -> bool:
    if found.standing != "fine":
        return True
    if found.warmed is not None or found.fed_from is not None or found.form == "thawing":
        return True
    place = board.place(found.place)
    return place is not None and place.kind in ("room", "cooler")


def usual(board: Board, found: Verdict, *, who: str | None) -> list[Usual]:
    """The two usual next steps of a container; `found` carries its options, `who` is the child it would be fed to."""
    if found.container in board.feeding:
        return [Usual("feed", (("how", "gone"), ("child", who or ""))), Usual("leftover", ())]
    if found.standing in ("past", "breached"):
        return [Usual("discard", (("why", "past its limit" if found.standing == "past" else "a rule was broken"),))]
    if found.standing == "outside" and found.form == "frozen" and found.use_by is not None:
        return [Usual("ice", (("ice", "yes"),)), Usual("ice", (("ice", "no"),))]
    options = {option.do: option for option in found.options}
    steps = [
        step for do in ("refrigerate", "freeze", "thaw", "cooler") if (step := _moved(options.get(do))) is not None
    ]
    feed = _fed(options, who)
    if found.form == "frozen":
        return steps[:1]
    if found.fed_from is not None:
        return [*feed, Usual("discard", (("why", "left over"),))]
    if found.warmed is not None:
        return [*feed, Usual("feed", (("how", "left"), ("child", who or "")))]
    if found.form == "thawing":
        return [Usual("ice", (("ice", "no"),)), *feed]
    place = board.place(found.place)
    chill_first = place is not None and place.kind in ("room", "cooler")
    return ([*steps[:1], *feed] if chill_first else [*feed, *steps[:1]])[:2]


def _moved(option: Option | None) -> Usual | None:
    if option is None or option.place is None:
        return None
    return Usual("to", (("to", option.place),), option)


def _fed(options: dict[str, Option], who: str | None) -> list[Usual]:
    option = options.get("feed")
    return [Usual("feed", (("how", "gone"), ("child", who)), option)] if option is not None and who else []


class Sum(NamedTuple):
    """How much lies in a place; amounts in mL."""

    place: str
    kind: str
    ml: float
    containers: int


def sums(board: Board, verdicts: Sequence[Verdict] | None = None) -> list[Sum]:
    """Amounts within their limits and not held back by place, in the order of the places."""
    found: dict[str, list[float]] = {}
    for one in board.verdicts if verdicts is None else verdicts:
        if one.place is not None and _within(one):
            found.setdefault(one.place, []).append(one.ml)
    return [
        Sum(place.name, place.kind, sum(found[place.name]), len(found[place.name]))
        for place in board.places
        if place.name in found
    ]
