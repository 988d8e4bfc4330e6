"""What plan and outlook look at: the household's ground, its milk with options, and its last weeks."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from thawline.core import events as ev
from thawline.core.containers import Container
from thawline.core.fold import Fold
from thawline.core.ledger import NotALedgerError, parse_line
from thawline.core.times import DAY, HOUR, day_start, zone_named
from thawline.core.verdict import Verdict
from thawline.records.store import LOOSE, OTHER, PLACES, SETTINGS, Store
from thawline.services import known as cache_of
from thawline.services.feeding_past import Past, away_in, joined, told
from thawline.services.feeding_past_store import past_in
from thawline.services.known import Ground, fold_kins, ground, judged
from thawline.services.plan_figures import figure
from thawline.services.recording import group_of
from thawline.services.terms import under

_HOUSEHOLDS = 64


class Kid(NamedTuple):
    """A child: name, day of birth (ISO), `home` or `hospital`, and sex where noted."""

    name: str
    born: str
    care: str
    sex: str | None


class Seen(NamedTuple):
    """A household at `now`: what every plan rests on; `parts` are its folded containers still there.

    `lines_of` gives the events of the kins of some containers, `key` tells the household from others.
    """

    now: int
    key: str
    base: Ground
    parts: tuple[Fold, ...]
    verdicts: tuple[Verdict, ...]
    past: Past
    lines_of: Callable[[Sequence[str]], list[bytes]]

    @property
    def zone(self) -> ZoneInfo:
        """The household's zone."""
        return zone_named(self.base.settings.zone)

    @property
    def kids(self) -> tuple[Kid, ...]:
        """The children, in the order in which they were first described; the last description counts."""
        found: dict[str, Kid] = {}
        for entry in self.base.entries:
            event = entry.event
            if isinstance(event, ev.Child):
                found[event.child] = Kid(event.child, event.born, event.care, event.sex)
        return tuple(found.values())

    @property
    def containers(self) -> dict[str, Container]:
        """The containers still there, by name."""
        return {
            name: one for part in self.parts for name, one in part.containers.items() if one.left is None
        }  # fmt: skip

    def stricter(self, rule: str, options_of: Collection[str] = ()) -> dict[str, Verdict]:
        """The verdicts with an overlay in force beside; empty where it changes nothing; raises `GuidelineError`.

        `options_of`: the containers whose options are asked for as well.
        """
        base = under(self.base, [rule])
        if base is self.base:
            return {}
        rows = (
            one
            for part in self.parts
            for one in judged(base, part, self.now, options=not part.containers.keys().isdisjoint(options_of))
        )
        return {one.container: one for one in rows}


# Out of a store


class _Options:
    """Verdicts with options of kins that did not change since they were last asked."""

    def __init__(self) -> None:
        self.kins: dict[int, tuple[object, object, tuple[Verdict, ...], int]] = {}


_kept: OrderedDict[str, _Options] = OrderedDict()
_lock = threading.Lock()


def seen_in(store: Store, *, now: int) -> Seen:
    """A stored household at `now`; raises `GuidelineError`."""
    with _lock:
        kept = _kept.setdefault(store.key, _Options())
        _kept.move_to_end(store.key)
        while len(_kept) > _HOUSEHOLDS:
            _kept.popitem(last=False)
    cache = cache_of.known(store)
    with cache.lock:
        rows = store.kins()
        base = cache.refresh(store, rows, now)
        verdicts: list[Verdict] = []
        for row in rows:
            state = cache.kins[row.key]
            cache.verdicts(base, row.key, now)
            old = kept.kins.get(row.key)
            same = old is not None and old[0] is state.said and old[1] is state.fold
            if old is None or not same or (now != old[3] and not _steady(base, old[2], old[3])):
                found = tuple(judged(base, state.fold, now, options=True))
                old = kept.kins[row.key] = (state.said, state.fold, found, now)
            verdicts += [_later(one, now - old[3]) for one in old[2]]
        keep = {row.key for row in rows}
        kept.kins = {key: one for key, one in kept.kins.items() if key in keep}
        parts = tuple(cache.kins[row.key].fold for row in rows)

    def lines_of(names: Sequence[str]) -> list[bytes]:
        keys = sorted({row.key for row in store.kins_of(names).values()})
        return [line for kin in store.kin_lines(keys).values() for line in kin]

    return Seen(now, store.key, base, parts, tuple(verdicts), past_in(store, base, now), lines_of)


def _steady(base: Ground, found: Sequence[Verdict], at: int) -> bool:
    """Whether options that are told hours from then on go on so: solid in a freezer, with nothing else running."""
    if any(line.outages for line in base.places.lines.values()):
        return False
    solid = at - int(figure("thaw", "solid_h") * HOUR)
    return all(one.form == "frozen" and one.why and one.why[0].start <= solid for one in found)


def _later(found: Verdict, passed: int) -> Verdict:
    """The same verdict of steady milk some time later: what begins with a thaw ends later."""
    if not passed or not found.options:
        return found
    moved = tuple(
        one._replace(then_use_by=None if one.then_use_by is None else one.then_use_by + passed)
        if one.do in ("thaw", "warm") else one
        for one in found.options
    )  # fmt: skip
    return found._replace(options=moved)


# Out of lines


class _Split(NamedTuple):
    """Lines by what they touch, as a store would group them; `named` gives the containers of each event."""

    groups: dict[str, list[bytes]]
    containers: list[bytes]
    named: dict[str, tuple[str, ...]]


class _Lines:
    """As much of a store as the ground asks for."""

    def __init__(self, groups: Mapping[str, list[bytes]]) -> None:
        self.groups = groups

    def group(self, group: str) -> list[bytes]:
        """The lines of a group."""
        return list(self.groups.get(group, ()))


def seen_of(lines: Iterable[bytes], *, now: int, key: str = "file") -> Seen:
    """A household from its ledger's lines at `now`; raises `NotALedgerError` and `GuidelineError`.

    Thaws that the family watched are not learned from here: such milk is judged by the wider range.
    """
    split = _sorted_out(lines)
    if not split.groups and not split.containers:
        raise NotALedgerError("nothing in it can be read as an event: give a ledger, one JSON object a line")
    shim: Any = _Lines(split.groups)
    base = ground(shim, now)
    parts, _ = fold_kins(base, {0: split.containers}, now)
    whole = parts.get(0)
    since = now - int(figure("past", "days") * DAY)
    events = [(_at(event, base), event) for event in _unvoided(split.groups.get(OTHER, []), now)]
    tales = [told(whole)] if whole is not None else []
    verdicts = tuple(judged(base, whole, now, options=True)) if whole is not None else ()
    moved = (entry.event for entry in whole.entries if since <= entry.at <= now) if whole is not None else ()
    past = joined(tales, events, since=since, now=now, away=away_in(moved))
    folds = (whole,) if whole is not None else ()
    return Seen(now, key, base, folds, verdicts, past, _finder(split))


def _at(event: ev.AnyEvent, base: Ground) -> int:
    _, _, _, at = parse_line(_encode(event))
    return day_start(event.at, zone_named(event.zone or base.settings.zone)) if at is None else at


def _encode(event: ev.AnyEvent) -> bytes:
    import msgspec  # noqa: PLC0415

    return msgspec.json.encode(event)


def _sorted_out(lines: Iterable[bytes]) -> _Split:
    read: dict[bytes, ev.AnyEvent] = {}
    for number, raw in enumerate(lines):
        line = raw.removeprefix(b"\xef\xbb\xbf").strip() if number == 0 else raw.strip()
        event = parse_line(line)[0] if line else None
        if event is not None:
            read[line] = event
    by_id = {event.id: event for event in read.values()}
    split = _Split({}, [], {})
    for line, event in read.items():
        root = _root(event, by_id)
        if isinstance(root, ev.Voided):
            split.groups.setdefault(LOOSE, []).append(line)
            continue
        group = group_of(root)
        if group is None:
            split.containers.append(line)
            split.named[event.id] = tuple(cache_of.names_touched(root))
        else:
            split.groups.setdefault(group, []).append(line)
    return split


def _root(event: ev.AnyEvent, by_id: Mapping[str, ev.AnyEvent]) -> ev.AnyEvent:
    seen: set[str] = set()
    while isinstance(event, ev.Voided) and event.event in by_id and event.id not in seen:
        seen.add(event.id)
        event = by_id[event.event]
    return event


def _unvoided(lines: Sequence[bytes], now: int) -> list[ev.AnyEvent]:
    events = {event.id: event for event in map(ev.decoder.decode, lines)}
    voids: dict[str, list[str]] = {}
    for event in events.values():
        if isinstance(event, ev.Voided):
            voids.setdefault(event.event, []).append(event.id)

    def gone(name: str, depth: int = 8) -> bool:
        return depth > 0 and any(not gone(one, depth - 1) for one in voids.get(name, ()))

    return [event for event in events.values() if not isinstance(event, ev.Voided) and not gone(event.id)]


def _finder(split: _Split) -> Callable[[Sequence[str]], list[bytes]]:
    def lines_of(names: Sequence[str]) -> list[bytes]:
        wanted = set(names)
        while True:
            met = {name for row in split.named.values() if wanted & set(row) for name in row}
            if met <= wanted:
                break
            wanted |= met
        return [line for line in split.containers if wanted & set(split.named[ev.decoder.decode(line).id])]

    return lines_of


__all__ = ["PLACES", "SETTINGS", "Kid", "Seen", "seen_in", "seen_of"]
