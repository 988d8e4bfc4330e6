"""A whole ledger folded, for what is printed and taken along: everything that stands, and every millilitre's way."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core import events as ev
from thawline.core.containers import Container, Step
from thawline.core.fold import Fold, fold
from thawline.core.ledger import Entry, Ledger, NotALedgerError, read
from thawline.core.places import Places
from thawline.core.replay import settings_of
from thawline.core.rules import Rules
from thawline.core.times import local, zone_named
from thawline.records.store import Store
from thawline.services.board import manners
from thawline.services.known import ground_now

# What a container's milk became that nobody followed: sessions from before the records, as they are brought in.
FROM_BEFORE = "5"


class Gone(NamedTuple):
    """Milk that left a container: when, mL, how (`discarded`, `handed_over`), and why or to whom."""

    at: int
    container: str
    ml: float
    how: str
    why: str = ""


class Bottle(NamedTuple):
    """A feed from one container: when it began, whose, mL drunk and mL left."""

    at: int
    child: str
    container: str
    drunk_ml: float
    left_ml: float


class Whole(NamedTuple):
    """A household's whole ledger at `now`: what stands of it, folded, on its own clock, in its own units."""

    now: int
    ledger: Ledger
    fold: Fold
    zone: ZoneInfo
    units: tuple[str, str]

    def of(self, *kinds: type[ev.Event]) -> Iterator[Entry]:
        """The entries of these kinds that fitted, in their order."""
        refused = {one.event for one in self.fold.refused}
        return (one for one in self.ledger.entries if isinstance(one.event, kinds) and one.id not in refused)

    def day(self, at: int) -> str:
        """The day of an instant on the household's clock, ISO."""
        return local(at, self.zone).date().isoformat()

    def steps(self) -> dict[str, list[Step]]:
        """What matters to each container, in order."""
        found: dict[str, list[Step]] = defaultdict(list)
        for step in self.fold.steps:
            found[step.container].append(step)
        return found

    def feeds(self) -> list[Bottle]:
        """Every feed from a container that has ended, oldest first; topped-up ones apart."""
        held: dict[str, float] = {}
        begun: dict[str, tuple[int, str]] = {}
        found = []
        for step in self.fold.steps:
            name = step.container
            if step.does == "feed_began":
                begun[name] = (step.at, step.detail)
            elif step.does == "feed_ended" and name in begun:
                at, child = begun.pop(name)
                found.append(Bottle(at, child, name, max(0.0, held.get(name, step.ml) - step.ml), step.ml))
            held[name] = step.ml
        return sorted(found)


def whole(store: Store, *, now: int) -> Whole:
    """Everything that a household's ledger says at `now`."""
    rules: Rules = ground_now(store, now).rules
    try:
        ledger = read(store.lines(), now=now)
    except NotALedgerError:
        ledger = Ledger([], [], [], [])
    places = Places(ledger.settings, ledger.entries, rules.house)
    zone = settings_of(ledger.settings, now).zone
    return Whole(now, ledger, fold(ledger, places), zone_named(zone), manners(store, now=now)[1])


def from_before(event: ev.AnyEvent) -> bool:
    """Whether this is a session that was brought in from an older table."""
    stem, dot, number = event.id.rpartition(".")
    return bool(dot) and number == "0" and len(stem) == 36 and stem[14] == FROM_BEFORE


def thrown_away(found: Whole) -> list[Gone]:
    """What was thrown away, in mL as the fold books it, and why."""
    steps = (step for step in found.fold.steps if step.does == "amount" and step.detail[0] == "discarded")
    return [Gone(step.at, step.container, step.detail[1], "discarded", step.detail[2] or "") for step in steps]


def handed_over(found: Whole) -> list[Gone]:
    """What was handed over and left the household, with the amount that it held."""
    held = []
    for entry in found.of(ev.HandedOver):
        event = entry.event
        assert isinstance(event, ev.HandedOver)  # noqa: S101  (for the types)
        if event.place is None:
            container: Container = found.fold.containers[event.container]
            held.append(Gone(entry.at, event.container, container.ml, "handed_over", event.to))
    return held
