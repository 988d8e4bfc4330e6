"""What is known of a household's milk, kept between two looks as long as nothing it depends on has changed."""

from __future__ import annotations

import copy
import threading
from collections import OrderedDict
from collections.abc import Collection, Iterable, Mapping, Sequence
from importlib.metadata import version
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.component import Bounds
from thawline.core.fold import Fold, fold
from thawline.core.guideline import default_id
from thawline.core.judge import Judge
from thawline.core.ledger import Entry, Ledger, NotALedgerError, read
from thawline.core.places import Places
from thawline.core.replay import Library, Settings, rules_of, settings_of
from thawline.core.rules import Rules
from thawline.core.verdict import FOREVER, Verdict, holds_until, verdict
from thawline.records.store import LOOSE, OTHER, PLACES, SETTINGS, KinRow, Standing, Store
from thawline.services.bound_hours import Film
from thawline.services.bounds import NOTHING_SEEN, bounds_of
from thawline.services.power_hours import cold_early
from thawline.services.sightings import Watched

_HOUSEHOLDS = 64
# Shipped guidelines change with the version only; the cache lives no longer than the process.
_VERSION = version("thawline")


class Said(NamedTuple):
    """Verdicts without options, and until when they hold."""

    verdicts: tuple[Verdict, ...]
    until: int


class KinState:
    """The containers of one kin, folded; `wakes` is when the next of their events comes true."""

    __slots__ = ("fold", "open", "refused", "revision", "said", "wakes")

    def __init__(self, revision: int, part: Fold, wakes: int | None) -> None:
        self.revision = revision
        self.fold = part
        self.wakes = wakes
        self.open = any(one.left is None for one in part.containers.values())
        self.refused = part.refused
        self.said: Said | None = None


class Ground(NamedTuple):
    """What every verdict of a household stands on.

    `restless` where a setting's void lies ahead: what fits then changes without anything being recorded.
    `refused` counts what was noted of places that are not there.
    """

    settings: Settings
    rules: Rules
    places: Places
    entries: list[Entry]
    lines: list[bytes]
    wakes: int | None
    restless: bool
    refused: int
    films: Mapping[str, Film] = NOTHING_SEEN

    def bounds(self, part: Fold) -> Bounds:
        """What the physics lets the clocks assume of a folded kin."""
        return bounds_of(part, self.films)


def _read(lines: Iterable[bytes], now: int) -> Ledger:
    try:
        return read(lines, now=now)
    except NotALedgerError:
        return Ledger([], [], [], [])


def ground(
    store: Store, now: int, *, guideline: str | None = None, also: Sequence[str] | None = None,
    extra: Sequence[bytes] = (), films: Mapping[str, Film] = NOTHING_SEEN,
) -> Ground:  # fmt: skip
    """The settings, rules and places at `now`; `extra` lines as if they were recorded; raises `GuidelineError`."""
    lines = store.group(SETTINGS)
    ledger = _read([*lines, *store.group(PLACES), *extra], now)
    described = ledger.settings
    settings = settings_of(described, now)
    rules = rules_of(settings, guideline, also, Library())
    places = Places(described, ledger.entries, rules.house)
    places.cold_early = cold_early(places.lines, house=rules.house, now=now)
    ahead = set(ledger.ahead)
    restless = bool(ahead) and any(
        isinstance(event, ev.Voided) and event.id in ahead for event in map(ev.decoder.decode, lines)
    )
    return Ground(
        settings, rules, places, described, lines, ledger.wakes, restless, len(fold(ledger, places).refused),
        films,
    )  # fmt: skip


def ground_for_writing(store: Store, now: int) -> Ground:
    """The ground for finding out what fits, whatever guideline is in force.

    What a transaction has written so far is read but not kept: it may still be taken back.
    """
    cache = known(store)
    with cache.lock:
        if cache.base is not None and cache.holds(store, now):
            return cache.base
    return ground(store, now, guideline=default_id(), also=())


def fold_kins(base: Ground, lines: dict[int, list[bytes]], now: int) -> tuple[dict[int, Fold], dict[int, int | None]]:
    """Kins folded in one go, each with its own containers, steps and refusals."""
    flat = [line for kin in lines.values() for line in kin]
    ledger = read([*base.lines, *flat], now=now) if base.lines or flat else None
    if ledger is None:
        return {}, {}
    whole = fold(ledger, base.places)
    if len(lines) == 1:
        (only,) = lines
        return {only: whole}, {only: ledger.wakes}
    return _split(whole, lines), _wakes(lines, ledger.ahead, ledger.wakes)


def _wakes(lines: dict[int, list[bytes]], ahead: Sequence[str], first: int | None) -> dict[int, int | None]:
    """The first moment ahead for kins that have one: the earliest of all is never too late."""
    if not ahead:
        return dict.fromkeys(lines)
    ids = set(ahead)
    return {key: first if any(_id(line) in ids for line in kin) else None for key, kin in lines.items()}


def _id(line: bytes) -> str:
    return ev.decoder.decode(line).id


def _split(whole: Fold, lines: dict[int, list[bytes]]) -> dict[int, Fold]:
    kin_of: dict[str, int] = {}
    for key, kin in lines.items():
        for line in kin:
            event = ev.decoder.decode(line)
            for name in names_touched(event):
                kin_of[name] = key
            kin_of[f"id {event.id}"] = key
    parts: dict[int, Fold] = {}
    for key in lines:
        part = parts[key] = copy.copy(whole)
        part.containers, part.steps, part.refused = {}, [], []
    for name, container in whole.containers.items():
        parts[kin_of[name]].containers[name] = container
    for step in whole.steps:
        parts[kin_of[step.container]].steps.append(step)
    for refusal in whole.refused:
        owner = kin_of.get(f"id {refusal.event}")
        if owner is not None:
            parts[owner].refused.append(refusal)
    return parts


def names_touched(event: ev.AnyEvent) -> list[str]:
    """Every container that an event says something of."""
    if isinstance(event, ev.Expressed):
        return [portion.container for portion in event.into]
    if isinstance(event, ev.Poured):
        return [*(portion.container for portion in event.from_), event.into]
    name = getattr(event, "container", None)
    return [name] if isinstance(name, str) else []


def judged(
    base: Ground, part: Fold, now: int, *, options: bool, gone: bool = False, avoid: Collection[str] = ()
) -> list[Verdict]:
    """Verdicts on the containers of a folded kin; no option leads to the places to `avoid`."""
    judge = Judge(part, base.rules, base.bounds(part), now=now, everything=gone, avoid=avoid)
    found = [filling for filling in judge.fillings.values() if gone or filling.container.left is None]
    settings = base.settings
    return [verdict(judge, one, settings.hospital, settings.children, options=options) for one in found]


def _said(base: Ground, state: KinState, now: int) -> Said:
    judge = Judge(state.fold, base.rules, base.bounds(state.fold), now=now, everything=False)
    found = [filling for filling in judge.fillings.values() if filling.container.left is None]
    settings = base.settings
    verdicts = tuple(verdict(judge, one, settings.hospital, settings.children, options=False) for one in found)
    if any(one.use_by is None for one in verdicts):
        # Under a care team nothing runs, and what is said names the present.
        return Said(verdicts, now)
    return Said(verdicts, min((holds_until(judge, one) for one in found), default=FOREVER))


class _Loose:
    """How many events that touch no container do not fit: voids of nothing, and what is said of unknown children."""

    def __init__(self) -> None:
        self.revision = 0
        self.until = 0
        self.count = 0
        self.strange = False

    def refused(self, store: Store, base: Ground, now: int, revision: int) -> int:
        """The count at `now`; children's feeds are read once, and again only if some name an unknown child."""
        if self.until and revision == self.revision and now < self.until:
            return self.count
        children = {entry.event.child for entry in base.entries if isinstance(entry.event, ev.Child)}
        new = map(ev.decoder.decode, store.group(OTHER, after=self.revision))
        self.strange = self.strange or any(getattr(event, "child", None) not in {*children, None} for event in new)
        lines = store.group(LOOSE) + (store.group(OTHER) if self.strange else [])
        self.revision, self.until, self.count = revision, FOREVER, 0
        if lines:
            ledger = read([*base.lines, *lines], now=now)
            self.until = FOREVER if ledger.wakes is None else ledger.wakes
            self.count = len(fold(ledger, base.places).refused)
        return self.count


class Known:
    """One household's cache: valid for one state of its settings and places under one version of the core."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self.under: tuple[object, ...] = ()
        self.base: Ground | None = None
        self.kins: dict[int, KinState] = {}
        self.since = 0
        self.standing = Standing(0, 0, 0)
        self.watched = Watched()
        self.loose = _Loose()

    def holds(self, store: Store, now: int) -> bool:
        """Whether the ground is as it was: no setting changed or came true, and the clock did not go back."""
        return self._holds(store.standing(), now)

    def _holds(self, standing: Standing, now: int) -> bool:
        base = self.base
        under = (standing.settings_revision, _VERSION)
        return (
            base is not None and self.under == under and now >= self.since and (base.wakes is None or now < base.wakes)
        )

    def ground(self, store: Store, now: int) -> Ground:
        """The ground, read anew where it does not hold any more."""
        base = self.base
        standing = self.standing = store.standing()
        if base is None or not self._holds(standing, now):
            self.under = (standing.settings_revision, _VERSION)
            base = self.base = ground(store, now)
            self.kins, self.loose = {}, _Loose()
            self.watched = Watched()
        films = self._films(store, base, now)
        if films != base.films:
            base = self.base = base._replace(films=films)
            for state in self.kins.values():
                state.said = None
        self.since = now
        return base

    def _films(self, store: Store, base: Ground, now: int) -> dict[str, Film]:
        def folded(lines: list[bytes]) -> tuple[Fold | None, int | None]:
            parts, wakes = fold_kins(base, {0: lines}, now)
            return parts.get(0), wakes.get(0)

        return self.watched.films(store, self.standing.revision, now, folded)

    def refresh(self, store: Store, rows: Sequence[KinRow], now: int) -> Ground:
        """Fold anew the kins that changed; those not asked for are forgotten."""
        base = self.ground(store, now)
        stale = [row for row in rows if not self._fresh(row, now)]
        if stale:
            parts, wakes = fold_kins(base, store.kin_lines([row.key for row in stale]), now)
            for row in stale:
                self.kins[row.key] = KinState(row.revision, parts[row.key], wakes[row.key])
        return base

    def _fresh(self, row: KinRow, now: int) -> bool:
        state = self.kins.get(row.key)
        return state is not None and state.revision == row.revision and (state.wakes is None or now < state.wakes)

    def refused(self, store: Store, base: Ground, rows: Sequence[KinRow], now: int) -> int:
        """How many events do not fit at `now`; `rows` are the kins just refreshed."""
        # Of milk that is gone what was found when it was recorded; of the rest what is known by now.
        gone = store.refused() - sum(row.refused for row in rows)
        here = sum(len(self.kins[row.key].refused) for row in rows)
        return gone + here + base.refused + self.loose.refused(store, base, now, self.standing.revision)

    def verdicts(self, base: Ground, key: int, now: int) -> tuple[Verdict, ...]:
        """What is said of a kin's containers still there, without options."""
        state = self.kins[key]
        if state.said is None or now >= state.said.until:
            state.said = _said(base, state, now)
        return state.said.verdicts


_known: OrderedDict[str, Known] = OrderedDict()
_lock = threading.Lock()


def known(store: Store) -> Known:
    """The cache of a household; the ones least asked for make room."""
    with _lock:
        found = _known.setdefault(store.key, Known())
        _known.move_to_end(store.key)
        while len(_known) > _HOUSEHOLDS:
            _known.popitem(last=False)
        return found


def ground_now(store: Store, now: int) -> Ground:
    """The ground at `now`, from what is kept where that still holds."""
    cache = known(store)
    with cache.lock:
        return cache.ground(store, now)


def films_seen(store: Store, now: int) -> Mapping[str, Film]:
    """The film coefficients that the family's own sightings support, by refrigerator."""
    cache = known(store)
    with cache.lock:
        return cache.ground(store, now).films


def forget(store: Store) -> None:
    """Drop what is cached of a household."""
    with _lock:
        _known.pop(store.key, None)
