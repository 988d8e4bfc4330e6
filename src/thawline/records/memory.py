"""A ledger kept in memory, worked out anew at each question: plain enough to hold the other stores against."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import NamedTuple
from uuid import uuid4

from thawline.records.store import LOOSE, PLACES, SETTINGS, KinRow, Parsed, Row, Standing


class TwiceError(ValueError):
    """An id, or a revision, is there already."""


class _Kept(NamedTuple):
    event: Parsed
    revision: int
    # The revision that the ledger had once all that came with it was added.
    until: int
    recorded_at: int
    person: str


class _Settled(NamedTuple):
    open: bool = True
    refused: int = 0
    wake_at: int | None = None


class MemoryStore:
    """One household's ledger in memory."""

    def __init__(self, key: str | None = None) -> None:
        self.key = key or str(uuid4())
        self._turn = threading.RLock()
        self._kept: list[_Kept] = []
        self._settled: dict[int, _Settled] = {}

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All that is written within is kept, or nothing."""
        with self._turn:
            before = list(self._kept), dict(self._settled)
            try:
                yield
            except BaseException:
                self._kept, self._settled = before
                raise

    def standing(self) -> Standing:
        ground = [kept.until for kept in self._kept if self._keys(kept.event) & {SETTINGS, PLACES}]
        newest = max((kept.recorded_at for kept in self._kept), default=0)
        return Standing(len(self._kept), max(ground, default=0), newest)

    def known(self, ids: Sequence[str]) -> dict[str, bytes]:
        return {one.event_id: one.line for one in self.rows(ids).values()}

    def add(self, events: Sequence[Parsed], *, recorded_at: int, person: str) -> None:
        with self.transaction():
            until = len(self._kept) + len(events)
            for event in events:
                if event.event_id in self._by_id():
                    raise TwiceError(event.event_id)
                self._kept.append(_Kept(event, len(self._kept) + 1, until, recorded_at, person))

    # What an event touches

    def _by_id(self) -> dict[str, Parsed]:
        return {kept.event.event_id: kept.event for kept in self._kept}

    def _keys(self, event: Parsed) -> frozenset[str]:
        """`=name` of each container and the event's group; a void touches what its target does."""
        by_id = self._by_id() if event.voids else {}
        seen = set()
        while event.voids:
            target = by_id.get(event.voids)
            if target is None or event.event_id in seen:
                return frozenset({LOOSE})
            seen.add(event.event_id)
            event = target
        return frozenset(f"={name}" for name in event.names) | ({event.group} if event.group else frozenset())

    def _touching(self, keys: Iterable[str]) -> list[_Kept]:
        wanted = frozenset(keys)
        return [kept for kept in self._kept if self._keys(kept.event) & wanted]

    def _families(self) -> dict[int, set[str]]:
        """Names that belong together, by the revision of the first event that names one of them."""
        found: dict[int, set[str]] = {}
        for kept in self._kept:
            names = set(kept.event.names)
            if names:
                met = [key for key, others in found.items() if others & names]
                joined = names.union(*(found.pop(key) for key in met))
                found[min([kept.revision, *met])] = joined
        return dict(sorted(found.items()))

    def _kin(self, key: int, names: Iterable[str]) -> KinRow:
        last = max(kept.until for kept in self._touching(f"={name}" for name in names))
        return KinRow(key, last, *self._settled.get(key, _Settled()))

    # Reading

    def lines(self) -> Iterator[bytes]:
        return iter([kept.event.line for kept in self._kept])

    def group(self, group: str, *, after: int = 0) -> list[bytes]:
        return [kept.event.line for kept in self._touching([group]) if kept.revision > after]

    def kins(self) -> list[KinRow]:
        return [row for row in self.all_kins() if row.open or row.wake_at is not None]

    def kins_of(self, names: Sequence[str]) -> dict[str, KinRow]:
        families = self._families()
        return {
            name: self._kin(key, family) for key, family in families.items() for name in names if name in family
        }  # fmt: skip

    def kin_lines(self, keys: Sequence[int]) -> dict[int, list[bytes]]:
        families = self._families()
        return {
            key: [kept.event.line for kept in self._touching(f"={name}" for name in families.get(key, ()))]
            for key in keys
        }

    def all_kins(self) -> list[KinRow]:
        return [self._kin(key, names) for key, names in self._families().items()]

    def touched(self, ids: Sequence[str]) -> set[str]:
        events = self._by_id()
        keys = {key for name in ids if name in events for key in self._keys(events[name])}
        return {key[1:] for key in keys if key.startswith("=")}

    def settle(self, kins: Iterable[KinRow]) -> None:
        self._settled.update({kin.key: _Settled(kin.open, kin.refused, kin.wake_at) for kin in kins})

    def refused(self) -> int:
        return sum(row.refused for row in self.all_kins())

    def taken(self, names: Sequence[str]) -> set[str]:
        return set(self.kins_of(names))

    def history(
        self, *, before: tuple[int, str] | None, limit: int, name: str | None = None, kinds: Sequence[str] = ()
    ) -> list[Row]:
        rows = self._touching([f"={name}"]) if name is not None else self._kept
        found = [_row(kept) for kept in rows if not kinds or kept.event.kind in kinds]
        found.sort(key=lambda row: (row.at, row.event_id), reverse=True)
        return [row for row in found if before is None or (row.at, row.event_id) < before][:limit]

    def kinds_after(self, revision: int) -> set[str]:
        return {kept.event.kind for kept in self._kept if kept.revision > revision}

    def rows(self, ids: Sequence[str]) -> dict[str, Row]:
        wanted = set(ids)
        return {kept.event.event_id: _row(kept) for kept in self._kept if kept.event.event_id in wanted}

    def voided_by(self, ids: Sequence[str]) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for kept in self._kept:
            if kept.event.voids in ids:
                found.setdefault(kept.event.voids, []).append(kept.event.event_id)
        return found

    def act(self, prefix: str) -> list[Row]:
        found: list[Row] = []
        for kept in self._kept:
            if kept.event.event_id == f"{prefix}.0" or found:
                if not kept.event.event_id.startswith(f"{prefix}."):
                    break
                found.append(_row(kept))
        return found

    def away(self) -> frozenset[str]:
        return frozenset()

    def erase(self) -> None:
        self._kept, self._settled = [], {}


def _row(kept: _Kept) -> Row:
    event = kept.event
    return Row(event.event_id, kept.revision, event.kind, event.at, kept.recorded_at, kept.person, event.line)
