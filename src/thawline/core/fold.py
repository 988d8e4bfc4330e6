"""Fold the ledger into containers: who holds how much of what, where it went, and what did not fit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from . import events as ev
from .containers import Booked, Container, Past, RefusedError, Stay, Step
from .ledger import Entry, Ledger, Refusal
from .places import FREEZERS, Fact, Places
from .times import DAY, HOUR, BadTimeError, day_start, is_date, local, parse_instant

LEAST_ML = 0.05
MISCOUNT = 1.2
LONGEST_DAY = DAY + 2 * HOUR


class Fold:
    """The state of a household's milk after the events so far."""

    def __init__(self, ledger: Ledger, places: Places) -> None:
        self.places = places
        self.children = {e.event.child for e in ledger.settings if isinstance(e.event, ev.Child)}
        self.containers: dict[str, Container] = {}
        self.steps: list[Step] = []
        self.refused = list(ledger.refused)
        self.book = dict.fromkeys(Booked._fields, 0.0)
        self.born_later: dict[str, int] | None = None
        self.entries = ledger.entries

    def booked(self) -> Booked:
        """Where every millilitre went, in mL, to a hundredth."""
        book = dict(self.book)
        book["still_there"] = sum(c.ml for c in self.containers.values() if c.left is None)
        return Booked(**{key: round(value, 2) + 0.0 for key, value in book.items()})

    def step(self, entry: Entry, container: Container, does: str, detail: object = None) -> None:
        self.steps.append(Step(entry.at, container.name, does, detail, container.ml, entry.vague, entry.zone))

    def there(self, name: str) -> Container:
        """The container, still holding milk at that time; else refused."""
        container = self.named(name)
        if container.left is not None:
            raise RefusedError("already_gone", f"{name!r} was already gone: check which container it was")
        return container

    def named(self, name: str) -> Container:
        """The container, there or gone; else refused."""
        container = self.containers.get(name)
        if container is None:
            raise self._missing(name)
        return container

    def _missing(self, name: str) -> RefusedError:
        if self.born_later is None:
            self.born_later = {}
            for entry in self.entries:
                for born in ev.names_born(entry.event):
                    self.born_later.setdefault(born, entry.at)
        if name in self.born_later:
            return RefusedError("before_expressed", f"{name!r} held no milk yet at that time: check the time")
        return RefusedError("unknown_container", f"no container {name!r}: record where its milk came from")

    def place(self, name: str) -> str:
        if not self.places.known(name):
            raise RefusedError("unknown_place", f"no place {name!r}: describe it with a `place` event")
        return name

    def child(self, name: str | None) -> None:
        if name is not None and name not in self.children:
            raise RefusedError("unknown_child", f"no child {name!r}: add it with a `child` event")

    def new(self, name: str) -> None:
        if name in self.containers:
            raise RefusedError("name_taken", f"the name {name!r} is taken: a name means one filling")

    def empty(self, container: Container, at: int) -> None:
        if container.ml < LEAST_ML:
            self.book["miscounted"] += container.ml
            container.ml = 0.0
            container.left = at

    def take(self, container: Container, ml: float, at: int) -> float:
        """Take an amount out; up to a fifth too much is booked as a miscount. Returns what was taken."""
        if ml > container.ml * MISCOUNT + 1e-9:
            raise RefusedError(
                "too_much",
                f"{ml:g} mL from {container.name!r}, which holds {container.ml:g} mL: check the amount",
            )
        if ml > container.ml:
            self.book["miscounted"] -= ml - container.ml
            container.ml = ml
        container.ml = max(0.0, container.ml - ml)
        self.empty(container, at)
        return ml

    def go(self, entry: Entry, container: Container, place: str) -> None:
        """A container goes to a place."""
        container.place = place
        if container.stays[-1].place != place:
            container.stays.append(Stay(entry.at, place))
            self.step(entry, container, "enter", place)


def _expressed(fold: Fold, entry: Entry, event: ev.Expressed) -> None:
    fold.place(event.place)
    fold.child(event.for_)
    names = [portion.container for portion in event.into]
    for index, name in enumerate(names):
        fold.new(name)
        if name in names[:index]:
            raise RefusedError("name_taken", f"{name!r} stands twice in `into`: give each container its own name")
    for portion in event.into:
        container = Container(portion.container, portion.ml, event.place, entry.at, event)
        fold.containers[portion.container] = container
        fold.book["expressed"] += portion.ml
        fold.step(entry, container, "expressed", event)
        fold.empty(container, entry.at)


def _stocked(fold: Fold, entry: Entry, event: ev.Stocked) -> None:
    fold.place(event.place)
    fold.child(event.for_)
    fold.new(event.container)
    zone = entry.zone
    vague = is_date(event.expressed)
    expressed = day_start(event.expressed, zone) if vague else parse_instant(event.expressed)
    kind = fold.places.lines[event.place].kind_at(entry.at)
    form = event.form or ("frozen" if kind in FREEZERS or event.frozen_on else "fresh")
    frozen = None
    if event.frozen_on is not None:
        frozen = day_start(event.frozen_on, zone)
        if local(expressed, zone).date().isoformat() > event.frozen_on:
            raise RefusedError("before_expressed", "`frozen_on` is before `expressed`: check both dates")
        frozen = max(frozen, expressed)
    elif form != "fresh":
        frozen = expressed
    if max(expressed, frozen or 0) > entry.at and not (
        entry.vague and max(expressed, frozen or 0) < entry.at + LONGEST_DAY
    ):
        raise RefusedError("before_expressed", "it was stocked before it was expressed or frozen: check the times")
    container = Container(event.container, event.ml, event.place, entry.at, event)
    # What was before the ledger is taken to have lain in the place where it was found.
    since = expressed if frozen is None else frozen
    if form == "frozen" and kind not in FREEZERS:
        since = entry.at
    container.stays = [Stay(min(entry.at, since), event.place)]
    fold.containers[event.container] = container
    fold.book["stocked"] += event.ml
    past = Past(event, expressed, frozen, form, vague or entry.vague, event.frozen_on is not None or vague)
    fold.step(entry, container, "stocked", past)
    fold.empty(container, entry.at)


def _moved(fold: Fold, entry: Entry, event: ev.Moved) -> None:
    container = fold.there(event.container)
    fold.go(entry, container, fold.place(event.to))


def _poured(fold: Fold, entry: Entry, event: ev.Poured) -> None:
    wanted: dict[str, float] = {}
    for portion in event.from_:
        wanted[portion.container] = wanted.get(portion.container, 0.0) + portion.ml
    sources = [fold.there(name) for name in wanted]
    if event.into in wanted:
        raise RefusedError("bad_event", f"field into: {event.into!r} cannot be poured into itself")
    target = fold.containers.get(event.into)
    if target is not None and target.left is not None:
        raise RefusedError("name_taken", f"{event.into!r} is gone, and a name means one filling: use a new name")
    for source in sources:
        if wanted[source.name] > source.ml * MISCOUNT + 1e-9:
            raise RefusedError(
                "too_much",
                f"{wanted[source.name]:g} mL from {source.name!r}, which holds {source.ml:g} mL: check the amount",
            )
    fresh = target is None
    if target is None:
        target = Container(event.into, 0.0, sources[0].place, entry.at, event)
        fold.containers[event.into] = target
    before = target.ml
    for source in sources:
        # The smaller filling governs how soon milk warms up, so clocks hear of the source first.
        fold.step(entry, source, "pour_out", None)
        target.ml += fold.take(source, wanted[source.name], entry.at)
        target.sources.add(source.name)
    fold.step(entry, target, "poured", (tuple(wanted), fresh, before))
    fold.empty(target, entry.at)


def _look(fold: Fold, entry: Entry, event: ev.ThawSeen) -> None:
    container = fold.there(event.container)
    container.looks.append(Fact(entry.at, "look", event.ice))
    fold.step(entry, container, "ice" if event.ice else "no_ice")


def _measured(fold: Fold, entry: Entry, event: ev.Measured) -> None:
    if event.place is not None:
        fold.place(event.place)
    elif event.container is not None:
        container = fold.there(event.container)
        container.looks.append(Fact(entry.at, "look" if container.hot else "milk", event.temp_c))
        fold.step(entry, container, "looked")


def _warmed(fold: Fold, entry: Entry, event: ev.Warmed) -> None:
    container = fold.there(event.container)
    container.hot = True
    fold.step(entry, container, "warmed", event.how)


def _feed_began(fold: Fold, entry: Entry, event: ev.FeedBegan) -> None:
    fold.child(event.child)
    container = fold.there(event.container)
    container.feed = container.hot = True
    fold.step(entry, container, "feed_began", event.child)


def _feed_ended(fold: Fold, entry: Entry, event: ev.FeedEnded) -> None:
    container = fold.there(event.container)
    if not container.feed:
        raise RefusedError("bad_event", f"no feed from {event.container!r} is open: record `feed_began` first")
    if event.left_ml > container.ml * MISCOUNT + 1e-9:
        raise RefusedError(
            "too_much",
            f"{event.left_ml:g} mL left of {container.ml:g} mL in {event.container!r}: check the amount",
        )
    container.feed = False
    fed = container.ml - event.left_ml
    if fed < 0:
        fold.book["miscounted"] += fed
    else:
        fold.book["fed"] += fed
    container.ml = event.left_ml
    fold.step(entry, container, "feed_ended")
    fold.empty(container, entry.at)


def _discarded(fold: Fold, entry: Entry, event: ev.Discarded) -> None:
    container = fold.there(event.container)
    ml = container.ml if event.ml is None else event.ml
    taken = fold.take(container, ml, entry.at)
    fold.book["discarded"] += taken
    if event.ml is None and container.left is None:
        container.left = entry.at
    fold.step(entry, container, "amount", ("discarded", taken, event.why))


def _counted(fold: Fold, entry: Entry, event: ev.Counted) -> None:
    container = fold.there(event.container)
    missed = container.ml - event.ml
    fold.book["miscounted"] += missed
    container.ml = event.ml
    fold.step(entry, container, "amount", ("counted", missed, None))
    fold.empty(container, entry.at)


def _added(fold: Fold, entry: Entry, event: ev.Added) -> None:
    fold.step(entry, fold.there(event.container), "added", event.what)


def _handed_over(fold: Fold, entry: Entry, event: ev.HandedOver) -> None:
    container = fold.there(event.container)
    if event.place is not None:
        fold.go(entry, container, fold.place(event.place))
        return
    container.away = True
    container.left = entry.at
    fold.book["handed_over"] += container.ml
    fold.step(entry, container, "away")


def _came(fold: Fold, entry: Entry, event: ev.Received | ev.Returned) -> None:
    place = fold.place(event.place)
    container = fold.containers.get(event.container)
    if container is not None and container.away:
        container.away = False
        container.left = None
        fold.book["handed_over"] -= container.ml
        container.place = place
        container.stays.append(Stay(entry.at, place))
        fold.step(entry, container, "enter", place)
    else:
        container = fold.there(event.container)
        fold.go(entry, container, place)
    if isinstance(event, ev.Received):
        fold.step(entry, container, "received")


def _held(fold: Fold, entry: Entry, event: ev.Held | ev.Released) -> None:
    container = fold.there(event.container)
    fold.step(entry, container, "held" if isinstance(event, ev.Held) else "released", event.why)


def _of_child(fold: Fold, entry: Entry, event: ev.Nursed | ev.FedOther | ev.DayComplete | ev.Weighed) -> None:
    fold.child(event.child)


def _looked_at(fold: Fold, entry: Entry, event: ev.Checked | ev.Incident) -> None:
    # A check of milk that is gone, or of a child that is not on the list, is a finding, not a mistake.
    if event.container is not None:
        fold.named(event.container)


def _cleaned(fold: Fold, entry: Entry, event: ev.Cleaned) -> None:
    """Nothing of the milk changes."""


def _power(fold: Fold, entry: Entry, event: ev.PowerLost | ev.PowerBack) -> None:
    fold.place(event.place)


_HANDLERS: dict[type, Callable[[Fold, Entry, Any], None]] = {
    ev.Expressed: _expressed, ev.Stocked: _stocked, ev.Moved: _moved, ev.Poured: _poured, ev.ThawSeen: _look,
    ev.Measured: _measured, ev.Warmed: _warmed, ev.FeedBegan: _feed_began, ev.FeedEnded: _feed_ended,
    ev.Discarded: _discarded, ev.Counted: _counted, ev.Added: _added, ev.HandedOver: _handed_over,
    ev.Received: _came, ev.Returned: _came, ev.Held: _held, ev.Released: _held, ev.Nursed: _of_child,
    ev.FedOther: _of_child, ev.DayComplete: _of_child, ev.Weighed: _of_child, ev.PowerLost: _power,
    ev.PowerBack: _power, ev.Checked: _looked_at, ev.Incident: _looked_at, ev.Cleaned: _cleaned,
}  # fmt: skip


def fold(ledger: Ledger, places: Places) -> Fold:
    """Fold a ledger's entries into containers, steps and bookings; what does not fit is refused."""
    state = Fold(ledger, places)
    for entry in ledger.entries:
        handler = _HANDLERS.get(type(entry.event))
        if handler is None:
            continue
        try:
            handler(state, entry, entry.event)
        except RefusedError as fault:
            state.refused.append(Refusal(entry.id, fault.code, fault.says))
        except BadTimeError as fault:
            state.refused.append(Refusal(entry.id, "bad_time", str(fault)))
    return state
