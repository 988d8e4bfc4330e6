"""What any store of a household's ledger does; one suite of tests holds every store to it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager
from typing import NamedTuple, Protocol

SETTINGS = "settings"
PLACES = "places"
OTHER = "other"
LOOSE = "loose"
GROUPS = (SETTINGS, PLACES, OTHER, LOOSE)


class Parsed(NamedTuple):
    """An event ready to be kept: `line` to the byte as written, `at` in microseconds, the names that it touches."""

    event_id: str
    kind: str
    at: int
    line: bytes
    names: tuple[str, ...]
    group: str | None
    voids: str = ""


class Row(NamedTuple):
    """An event as it is kept."""

    event_id: str
    revision: int
    kind: str
    at: int
    recorded_at: int
    person: str
    line: bytes


class KinRow(NamedTuple):
    """Containers that can only be understood together, and the revision at which they last changed."""

    key: int
    revision: int
    open: bool
    refused: int
    wake_at: int | None


class Standing(NamedTuple):
    """How far the ledger is: its revision, that of its settings, and when the newest event was recorded."""

    revision: int
    settings_revision: int
    recorded_at: int


class Store(Protocol):
    """One household's ledger; amounts, rules and clocks are no concern of a store."""

    @property
    def key(self) -> str:
        """What tells this household from others."""
        ...

    def transaction(self) -> AbstractContextManager[None]:
        """All that is written within is kept, or nothing; writers take turns."""
        ...

    def standing(self) -> Standing: ...

    def known(self, ids: Sequence[str]) -> dict[str, bytes]:
        """The lines of those ids that are there already."""
        ...

    def add(self, events: Sequence[Parsed], *, recorded_at: int, person: str) -> None:
        """Keep new events, all of them or none; call within a transaction, ids checked with `known`."""
        ...

    def lines(self) -> Iterator[bytes]:
        """Every event as written, in the order of arrival."""
        ...

    def group(self, group: str, *, after: int = 0) -> list[bytes]:
        """The events of a group that touch no container, in the order of arrival; those after a revision."""
        ...

    def kins(self) -> list[KinRow]:
        """Those with milk left, or with an event ahead."""
        ...

    def kins_of(self, names: Sequence[str]) -> dict[str, KinRow]:
        """The kin of each name that is known."""
        ...

    def kin_lines(self, keys: Sequence[int]) -> dict[int, list[bytes]]:
        """Every event of those kins, in the order of arrival."""
        ...

    def all_kins(self) -> list[KinRow]: ...

    def touched(self, ids: Sequence[str]) -> set[str]:
        """The containers that these events say something of, also by voiding."""
        ...

    def settle(self, kins: Iterable[KinRow]) -> None:
        """Write down what the fold found of these kins."""
        ...

    def refused(self) -> int:
        """How many events of kins did not fit when last settled."""
        ...

    def taken(self, names: Sequence[str]) -> set[str]:
        """Those of the names that a container has or had."""
        ...

    def history(
        self, *, before: tuple[int, str] | None, limit: int, name: str | None = None, kinds: Sequence[str] = ()
    ) -> list[Row]:
        """Events, latest first, that come before a row's `(at, event_id)`; of these kinds only, where any is named."""
        ...

    def kinds_after(self, revision: int) -> set[str]:
        """The kinds of the events that came after a revision."""
        ...

    def rows(self, ids: Sequence[str]) -> dict[str, Row]: ...

    def voided_by(self, ids: Sequence[str]) -> dict[str, list[str]]:
        """The ids of the voids of each of these events."""
        ...

    def act(self, prefix: str) -> list[Row]:
        """The events recorded in one go: `prefix.0` and those after it whose ids begin so."""
        ...

    def away(self) -> frozenset[str]:
        """The refrigerators of the childcare services that milk is handed to, by their names in the ledger."""
        ...

    def erase(self) -> None:
        """Delete the household with everything of it: the only way in which an event goes."""
        ...
