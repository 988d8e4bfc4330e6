"""Judge containers: run the steps of those still there through the clocks of the guidelines in force."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from . import events as ev
from .book import Anchor
from .clocks import Clock
from .component import Bounds
from .containers import Container, Past, Step
from .fold import Fold
from .guideline import Milk
from .places import FREEZERS, Condition
from .rules import Rules


class Filling:
    """A container under judgement: its clocks, and where it stands in its past."""

    __slots__ = ("changes", "clocks", "container", "mothers", "next_change", "stay", "wanted")

    def __init__(self, container: Container) -> None:
        self.container = container
        self.clocks: list[Clock] = []
        self.stay = -1
        self.changes: list[Condition] = []
        self.next_change = 1
        self.wanted: set[str | None] = set()


class Judge:
    """The clocks of all containers asked for, up to `now`; no option leads to a place that is to be avoided."""

    def __init__(
        self, fold: Fold, rules: Rules, bounds: Bounds, *, now: int, everything: bool, avoid: Collection[str] = ()
    ) -> None:
        self.fold = fold
        self.rules = rules
        self.bounds = bounds
        self.now = now
        self.avoid = avoid
        self.fillings: dict[str, Filling] = {}
        wanted = self._asked(everything)
        for step in fold.steps:
            if step.container in wanted:
                self._take(step)
        for filling in self.fillings.values():
            self._changes(filling, self._end(filling.container))
            for clock in filling.clocks:
                clock.accrue(now)

    def _asked(self, everything: bool) -> set[str]:
        """The containers asked for, and all from which milk was poured into them."""
        containers = self.fold.containers
        if everything:
            return set(containers)
        waiting = [name for name, container in containers.items() if container.left is None]
        found = set(waiting)
        while waiting:
            for source in containers[waiting.pop()].sources:
                if source not in found:
                    found.add(source)
                    waiting.append(source)
        return found

    def _end(self, container: Container) -> int:
        return self.now if container.left is None else min(self.now, container.left)

    def open_stay(self, filling: Filling) -> Condition:
        filling.stay += 1
        container = filling.container
        stays = container.stays
        stay = stays[filling.stay]
        last = filling.stay + 1 >= len(stays)
        # A look at the very moment of leaving belongs to the next place.
        end = self._end(container) if last else stays[filling.stay + 1].at - 1
        filling.changes = self.fold.places.conditions(stay.place, stay.at, end, container.looks, self.rules.band)
        filling.next_change = 1
        return filling.changes[0]

    def _changes(self, filling: Filling, until: int) -> None:
        """What changed around the milk in its place, up to an instant."""
        while filling.next_change < len(filling.changes):
            change = filling.changes[filling.next_change]
            if change.at > until:
                return
            filling.next_change += 1
            for clock in filling.clocks:
                clock.enter(change, moved=False)

    def _take(self, step: Step) -> None:
        filling = self.fillings.get(step.container)
        if filling is None:
            filling = self.fillings[step.container] = Filling(self.fold.containers[step.container])
        self._changes(filling, step.at)
        _STEPS[step.does](self, filling, step)
        for clock in filling.clocks:
            clock.amount(step.ml)

    def clock(self, filling: Filling, step: Step, expressed: Anchor, milk: Milk) -> Clock:
        clock = Clock(self.rules, step.zone, expressed, milk, self.bounds)
        clock.container = step.container
        clock.ml = step.ml
        filling.clocks.append(clock)
        return clock


def _expressed(judge: Judge, filling: Filling, step: Step) -> None:
    event: ev.Expressed = step.detail
    milk = Milk(very_clean=event.handling == "very_clean")
    clock = judge.clock(filling, step, Anchor(step.at, step.vague), milk)
    clock.mother = event.mother
    filling.wanted.add(event.for_)
    clock.enter(judge.open_stay(filling), moved=True, vague=step.vague)


def _stocked(judge: Judge, filling: Filling, step: Step) -> None:
    past: Past = step.detail
    event = past.event
    clock = judge.clock(filling, step, Anchor(past.expressed, past.vague), Milk(source=event.milk))
    clock.mother = event.mother
    filling.wanted.add(event.for_)
    first = judge.open_stay(filling)
    if past.form == "fresh":
        clock.enter(first._replace(at=past.expressed), moved=True, vague=past.vague)
        return
    frozen = past.frozen if past.frozen is not None else past.expressed
    vague = past.vague_frozen or event.frozen_on is None
    if frozen > past.expressed:
        clock.enter(Condition(past.expressed, "refrigerator", None), moved=True, vague=past.vague)
    kind = first.kind if first.kind in FREEZERS else "freezer"
    clock.enter(Condition(frozen, kind, first.temp_c if kind == first.kind else None), moved=True, vague=vague)
    clock.first_frozen = Anchor(frozen, vague)
    for book in clock.books:
        for limit in book.running:
            limit.guessed = limit.guessed or (limit.row.starts == "first_frozen" and vague)
    clock.solid = True
    if past.form == "thawed":
        clock.enter(first._replace(at=frozen), moved=True, vague=True)
        clock.no_ice(step.at, frozen)
    elif first.kind not in FREEZERS:
        clock.ice(step.at)
        clock.enter(first._replace(at=step.at), moved=True, vague=step.vague)
        clock.ice(step.at)


def _enter(judge: Judge, filling: Filling, step: Step) -> None:
    condition = judge.open_stay(filling)
    for clock in filling.clocks:
        clock.enter(condition, moved=True, vague=step.vague)


def _away(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.away(step.at)


def _ice(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.ice(step.at)


def _no_ice(judge: Judge, filling: Filling, step: Step) -> None:
    stay = filling.container.stays[filling.stay]
    failed = judge.fold.places.frozen_until(stay.place, stay.at, step.at)
    for clock in filling.clocks:
        known = max(clock.known_frozen, failed or 0)
        clock.no_ice(step.at, min(known, step.at))


def _warmed(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.warm(step.at, step.detail)


def _feed_began(judge: Judge, filling: Filling, step: Step) -> None:
    meant = meant_for(filling)
    for clock in filling.clocks:
        clock.feed_began(step.at, step.detail, step.detail if step.detail in filling.wanted else meant)


def meant_for(filling: Filling) -> str | None:
    """The child whom the milk is for; None where it is for all. Milk for two is for neither alone."""
    names = sorted(name for name in filling.wanted if name is not None)
    return names[0] if len(names) == 1 else " + ".join(names) or None


def _feed_ended(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.feed_ended(step.at)


def _added(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.add(step.at, step.detail)


def _received(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.receive(step.at)


def _held(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        if step.does == "held":
            clock.held |= {step.detail}
        else:
            # A release with a reason ends the hold for that reason; one without ends all.
            clock.held = clock.held - {step.detail} if step.detail is not None else frozenset()


def _looked(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.look()
        clock.settle(step.at)


def _amount(judge: Judge, filling: Filling, step: Step) -> None:
    for clock in filling.clocks:
        clock.accrue(step.at)


def _poured(judge: Judge, filling: Filling, step: Step) -> None:
    sources, fresh, before = step.detail
    parties = [list(filling.clocks)] if filling.clocks and before > 0 else []
    poured = []
    for name in sources:
        source = judge.fillings[name]
        copies = [clock.copy() for clock in source.clocks]
        parties.append(copies)
        poured += copies
        filling.wanted |= source.wanted
    here = judge.open_stay(filling) if fresh else filling.changes[filling.next_change - 1]
    condition = here._replace(at=step.at)
    for clock in [clock for party in parties for clock in party]:
        clock.accrue(step.at)
    acts = _mixing(parties, None if fresh else filling.container, step.at)
    place = filling.container.stays[filling.stay].place
    for name, party in zip(sources, parties[-len(sources) :], strict=True):
        origin = judge.fillings[name]
        moved = origin.container.stays[origin.stay].place != place
        for clock in party:
            clock.container = step.container
            if moved:
                clock.enter(condition, moved=True, vague=step.vague)
    filling.clocks = filling.clocks + poured
    for act in acts:
        for clock in filling.clocks:
            clock.banned(act, step.at)


def _warm(clock: Clock, at: int) -> bool:
    if clock.warmed is not None:
        return True
    if clock.kind != "room":
        return False
    brief = clock.out_at is not None and at - clock.out_at <= clock.out_short
    return not brief


def _mixing(parties: list[list[Clock]], target: Container | None, at: int) -> list[str]:
    """The acts that bringing these together amounts to."""
    if len(parties) < 2:
        return []
    clocks = [clock for party in parties for clock in party]
    acts = []
    if len({(clock.mother, clock.milk.source) for clock in clocks}) > 1:
        acts.append("two_mothers")
    if any(clock.is_past(at) for clock in clocks):
        acts.append("combine_past")
    if len({clock.fed is not None for clock in clocks}) > 1:
        leftover = target is not None and any(clock.fed is not None for clock in parties[0])
        acts.append("fresh_onto_leftover" if leftover else "leftover_into_unfed")
    # Into a new container, each is poured onto the others.
    onto = parties[0] if target is not None else clocks
    added = [clock for party in parties[1:] for clock in party] if target is not None else clocks
    cold = [clock for clock in onto if not _warm(clock, at)]
    if cold and any(_warm(clock, at) for clock in added):
        acts.append("warm_onto_frozen" if any(clock.form == "frozen" for clock in cold) else "warm_onto_cold")
    if target is not None and any(clock.chilled for clock in parties[0]):
        acts.append("onto_stored")
    return acts


_STEPS: dict[str, Callable[[Judge, Filling, Step], Any]] = {
    "expressed": _expressed, "stocked": _stocked, "enter": _enter, "away": _away, "ice": _ice, "no_ice": _no_ice,
    "warmed": _warmed, "feed_began": _feed_began, "feed_ended": _feed_ended, "added": _added, "received": _received,
    "held": _held, "released": _held, "looked": _looked, "amount": _amount, "pour_out": _amount, "poured": _poured,
}  # fmt: skip
