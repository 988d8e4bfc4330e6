"""Milk on a trip: what follows of packing it and of each place at the end, and what lies in a cooler now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from thawline.core.containers import Container
from thawline.core.ledger import Refusal
from thawline.core.places import FREEZERS
from thawline.core.times import HOUR, MINUTE, parse_instant, written, zone_named
from thawline.core.verdict import Verdict
from thawline.records.store import Store
from thawline.services import trip
from thawline.services.acts import MILLISECOND, Act
from thawline.services.board import Board, PlaceNow, hospital_only, with_options
from thawline.services.known import known
from thawline.services.looking_ahead import preview
from thawline.services.many import WITHIN
from thawline.services.recording import new_act

COLD = ("refrigerator", *FREEZERS)


class Rest(NamedTuple):
    """How a container would stand in a place at the end; `ice` what was seen in it; `breaks` what speaks against it."""

    place: str
    kind: str
    ice: bool | None
    verdict: Verdict
    breaks: tuple[str, ...]

    @property
    def good(self) -> bool:
        """Whether nothing speaks against it and time is left."""
        return not self.breaks and self.verdict.standing in WITHIN


class Onward(NamedTuple):
    """A container on a trip: as it stands, as it would stand in the cooler, and where it could go at the end."""

    now: Verdict
    packed: Verdict
    breaks: tuple[str, ...]
    rests: tuple[Rest, ...]

    @property
    def frozen(self) -> bool:
        """Whether it travels frozen."""
        return self.packed.form in ("frozen", "thawing")

    def best(self, *, ice: bool | None = None) -> Rest | None:
        """Where the guideline allows it to go: what travels frozen to a freezer first, the rest to a refrigerator."""
        return best(self.rests, ice=ice, frozen=self.frozen, home=self.now.place)


def best(rests: Sequence[Rest], *, ice: bool | None, frozen: bool, home: str | None = None) -> Rest | None:
    """The first place that the guideline allows; for what travelled frozen a freezer first, as long as that may be."""
    first = FREEZERS if frozen else ("refrigerator",)
    fit = [one for one in rests if one.good and one.ice == (ice if frozen else None)]
    return min(fit, key=lambda one: (one.kind not in first, one.place != home, one.place), default=None)


# What is written


def new_place(act: Act, found: Board, name: str, kind: str) -> str:
    """A place by that name, made by this act where there is none yet."""
    if found.place(name) is None:
        act.add("place", place=name, is_=kind)
    return name


def pack(act: Act, chosen: Sequence[Verdict], into: str) -> None:
    """They go into the cooler."""
    for one in chosen:
        if one.place != into:
            act.add("moved", container=one.container, to=into)


class Goes(NamedTuple):
    """Where a container goes at the end, and what was seen in it: ice, none, or nobody looked."""

    container: str
    to: str
    ice: bool | None = None


def unpack(act: Act, goes: Sequence[Goes], *, zone: str) -> None:
    """They leave the cooler; what was seen in them was seen just before."""
    # Two events of one instant are taken in the order of their kinds, and a move goes first.
    seen_at = written(parse_instant(act.at) - MILLISECOND, zone_named(zone))
    for one in goes:
        if one.ice is not None:
            act.add("thaw_seen", at=seen_at, container=one.container, ice=one.ice)
        act.add("moved", container=one.container, to=one.to)


# Looking ahead


class Ahead(NamedTuple):
    """What a trip would come to: each container, most urgent first, and what would not fit."""

    containers: tuple[Onward, ...]
    refused: tuple[Refusal, ...]


def ahead(
    store: Store, found: Board, chosen: Sequence[Verdict], *, leave: int, arrive: int, cooler: str
) -> Ahead:  # fmt: skip
    """What would follow of these going into a cooler at `leave` and out of it at `arrive`; nothing is written."""
    zone = found.settings.zone
    packing = Act(new_act(), by="", at=written(leave, zone_named(zone)))
    pack(packing, chosen, new_place(packing, found, cooler, "cooler"))
    there = preview(store, packing.events, now=leave)
    broken = _breaks(there.breaches)
    rests = _rests(store, found, chosen, packing.events, arrive=max(arrive, leave + MINUTE))
    rows = [
        Onward(one, packed, broken.get(one.container, ()), tuple(rests.get(one.container, ())))
        for one in chosen
        if (packed := there.after.get(one.container)) is not None
    ]
    rows.sort(key=lambda row: (row.packed.use_by or 0, row.packed.container))
    return Ahead(tuple(rows), there.refused)


def packed_then(store: Store, found: Board, chosen: Sequence[Verdict], cooler: str) -> list[Verdict]:
    """How these would stand in the cooler, were they packed now."""
    act = Act(new_act(), by="", at=written(found.now, zone_named(found.settings.zone)))
    pack(act, chosen, new_place(act, found, cooler, "cooler"))
    if not act.events:
        return list(chosen)
    seen = preview(store, act.events, now=found.now)
    return [seen.after.get(one.container, one) for one in chosen]


def _breaks(breaches: Sequence[Any]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for one in breaches:
        found[one.container] = (*found.get(one.container, ()), one.broken.says)
    return found


def _rests(
    store: Store, found: Board, chosen: Sequence[Verdict], before: Sequence[Mapping[str, Any]], *, arrive: int
) -> dict[str, list[Rest]]:  # fmt: skip
    """How each would stand in each cold place at the end: with ice seen in what travels frozen, none, or unseen."""
    zone = found.settings.zone
    rows: dict[str, list[Rest]] = {}
    icy = [one for one in chosen if one.form in ("frozen", "thawing")]
    plain = [one for one in chosen if one.form not in ("frozen", "thawing")]
    for place in found.of_kind(*COLD):
        for some, ice in ((plain, None), (icy, True), (icy, False), (icy, None)):
            if not some:
                continue
            act = Act(new_act(), by="", at=written(arrive, zone_named(zone)))
            unpack(act, [Goes(one.container, place.name, ice) for one in some], zone=zone)
            seen = preview(store, [*before, *act.events], now=arrive)
            broken = _breaks(seen.breaches)
            for one in some:
                if one.container in seen.after:
                    rest = Rest(
                        place.name, place.kind, ice, seen.after[one.container], broken.get(one.container, ())
                    )  # fmt: skip
                    rows.setdefault(one.container, []).append(rest)
    return rows


def arriving(store: Store, found: Board, chosen: Sequence[Verdict]) -> dict[str, list[Rest]]:
    """How each container of a cooler would stand in each refrigerator and freezer, were it unpacked now."""
    return _rests(store, found, chosen, (), arrive=found.now)


# What is packed


class Aboard(NamedTuple):
    """A container in a cooler: what is said of it with its options, since when it is there, and from where it came."""

    verdict: Verdict
    since: int
    load: trip.Milk


class PackedCooler(NamedTuple):
    """A cooler with milk in it: since when, its containers, and how long its packs hold from `cold_from` on."""

    place: PlaceNow
    since: int
    aboard: tuple[Aboard, ...]
    held: trip.Held | None
    cold_from: int


def packed(store: Store, found: Board, last: trip.Outfit | None) -> list[PackedCooler]:
    """The coolers with milk in them; `last` is the cooler packed last, whose figures are known."""
    there: dict[str, list[Verdict]] = {}
    coolers = {place.name: place for place in found.of_kind("cooler")}
    for one in found.verdicts:
        if one.place in coolers:
            there.setdefault(str(one.place), []).append(one)
    return [_one(store, found, coolers[name], rows, last) for name, rows in sorted(there.items())]


def _one(
    store: Store, found: Board, place: PlaceNow, verdicts: Sequence[Verdict], last: trip.Outfit | None
) -> PackedCooler:  # fmt: skip
    names = [one.container for one in verdicts]
    full = with_options(store, names, now=found.now)
    containers = _containers(store, names, found.now)
    aboard = [
        _aboard(found, full.get(one.container, one), containers[one.container])
        for one in verdicts
        if one.container in containers
    ]
    since = min((one.since for one in aboard), default=found.now)
    hold, cold_from, most_h = None, since, household_hours(found)
    if last is not None and last.place == place.name:
        # The packs have melted since they went in, though the milk of then may be gone.
        cold_from = min(since, last.since or since)
        # Packs of a trip that is long over say nothing of those that are in it now.
        if most_h is None or since - cold_from <= most_h * HOUR:
            gone = (found.now - cold_from) / HOUR
            hold = trip.held(last, [one.load for one in aboard], hours=gone, published_h=most_h)
    return PackedCooler(place, since, tuple(aboard), hold, cold_from)


def _containers(store: Store, names: Sequence[str], now: int) -> dict[str, Container]:
    cache = known(store)
    with cache.lock:
        rows = {row.key: row for row in store.kins_of(names).values()}
        cache.refresh(store, list(rows.values()), now)
        return {
            name: container
            for key in rows
            for name, container in cache.kins[key].fold.containers.items()
            if name in names
        }


def _aboard(found: Board, verdict: Verdict, container: Container) -> Aboard:
    stays = container.stays
    before = found.place(stays[-2].place) if len(stays) > 1 else None
    kind, temp = (before.kind, before.temp_c) if before else ("room", None)
    form = "frozen" if kind in FREEZERS else verdict.form
    return Aboard(verdict, stays[-1].at, trip.Milk(verdict.ml, trip.warmth_c(kind, temp, form)))


def load_of(found: Board, one: Verdict) -> trip.Milk:
    """A container as it goes into the cooler from where it is now."""
    place = found.place(one.place)
    kind, temp = (place.kind, place.temp_c) if place else ("room", None)
    return trip.Milk(one.ml, trip.warmth_c(kind, temp, one.form))


def household_rule(found: Board) -> Verdict | None:
    """What the household's guideline says of milk in a cooler; None under a hospital's care."""
    if hospital_only(found):
        return None
    return trip.rule_under(found.settings.guideline, also=found.settings.also, now=found.now)


def household_hours(found: Board) -> float | None:
    """The hours that the household's guideline gives milk in a cooler."""
    rule = household_rule(found)
    return None if rule is None else trip.published_h(rule, found.now)
