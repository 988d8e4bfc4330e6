"""A ledger out of the program and back in: one event a line, each to the byte as it was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import NamedTuple

from thawline.core.ledger import Refusal
from thawline.records.ledger.store import DatabaseStore
from thawline.records.store import Store
from thawline.services import people, recording
from thawline.services.people import CannotError

# Kept together or not at all. Whoever writes from a phone meanwhile waits no longer than for one part.
PART = 1000


class Imported(NamedTuple):
    """How many events are new, how many were there already, and what was not taken in, by line or by id."""

    added: int
    known: int
    refused: tuple[Refusal, ...]


def take_in(store: Store, lines: Iterable[bytes], *, now: int) -> Imported:
    """Keep every event that can be read, 1,000 lines at a time; the same file again, or its rest, adds what is new."""
    added = known = read = 0
    refused: list[Refusal] = []
    rest = iter(lines)
    while part := list(islice(rest, PART)):
        found = recording.record(store, part, now=now, whole=False)
        added += len(found.added)
        known += len(found.known)
        refused += [_placed(one, read) for one in found.refused]
        read += len(part)
    return Imported(added, known, tuple(refused))


def _placed(refusal: Refusal, before: int) -> Refusal:
    """A refusal of a line of one part, with the line's number in the whole file."""
    if refusal.code == "duplicate_differs":
        return refusal
    word, number = refusal.event.split()
    return refusal._replace(event=f"{word} {int(number) + before}")


def take_out(store: Store) -> Iterator[bytes]:
    """Every event as it was written, in the order of arrival."""
    return store.lines()


def choose(name: str | None) -> tuple[str, DatabaseStore]:
    """The household of that name or key; without a name the only one there is; raises `CannotError`."""
    homes = people.homes()
    found = [(own, store) for own, store in homes if name in (None, own, store.key)]
    if len(found) == 1:
        return found[0]
    if not homes:
        raise CannotError("There is no household yet: set one up on the page, or name a new one with --new.")
    if found and name is not None:
        listed = ", ".join(store.key for _, store in found)
        raise CannotError(f"More than one household is called {name}: give one of {listed}")
    listed = ", ".join(own for own, _ in homes)
    raise CannotError(f"Say which household with --household: {listed}")


def bare(name: str) -> tuple[str, DatabaseStore]:
    """A new household that nobody signs in to yet; raises `CannotError` where there is one of that name."""
    name = " ".join(name.split())
    if not name or len(name) > 80:
        raise CannotError("Write a name of at most 80 characters.")
    if any(own == name for own, _ in people.homes()):
        raise CannotError(f"There is a household called {name} already: --household takes events into it.")
    return name, people.bare_household(name)
