"""Several phones record at once: each event counts once, revisions follow one another, nobody finds a lock."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from tests.postgres import on
from tests.stores import bottle, event, new_household

from thawline.core.replay import moment
from thawline.records.ledger.store import DatabaseStore
from thawline.records.memory import MemoryStore
from thawline.records.store import Store
from thawline.services import board
from thawline.services.known import forget
from thawline.services.recording import Recorded, record

PHONES, RECORDS = 6, 5
NOW = moment("2027-02-03T12:00:00Z")
SETTINGS = (
    event("household", "h", "2027-01-01T00:00:00Z", zone="UTC"),
    event("place", "p", "2027-01-01T00:00:00Z", place="fridge", is_="refrigerator"),
)


@pytest.fixture(params=["sqlite_file", "postgresql"])
def alias(request: pytest.FixtureRequest) -> Iterator[str]:
    name = request.getfixturevalue(request.param)
    with request.getfixturevalue("django_db_blocker").unblock():
        yield name


def recorded_by(phone: int) -> list[list[bytes]]:
    """What one phone sends: a bottle of its own and one that every phone sends, together."""
    return [
        [bottle(f"own-{phone}-{number}", f"m{phone}-{number}"), bottle(f"same-{number}", f"s{number}")]
        for number in range(RECORDS)
    ]  # fmt: skip


def at_once(alias: str, store: DatabaseStore) -> list[Recorded]:
    start = Barrier(PHONES)

    def phone(number: int) -> list[Recorded]:
        with on(alias):
            try:
                start.wait()
                found = []
                for lines in recorded_by(number):
                    found.append(record(store, lines, now=NOW))
                    board.board(store, now=NOW)
                return found
            finally:
                connection.close()

    with ThreadPoolExecutor(PHONES) as pool:
        return [one for found in pool.map(phone, range(PHONES)) for one in found]


def test_each_event_counts_once_and_revisions_have_no_gaps(alias: str) -> None:
    with on(alias):
        store = new_household()
        record(store, SETTINGS, now=NOW)
    found = at_once(alias, store)
    with on(alias):
        rows = store.history(before=None, limit=999)
        expected = PHONES * RECORDS + RECORDS
        assert len({row.event_id for row in rows}) == len(rows) == expected + len(SETTINGS)
        assert sorted(row.revision for row in rows) == list(range(1, len(rows) + 1))
        assert store.standing().revision == len(rows)
        assert not [refusal for one in found for refusal in one.refused]
        added = [name for one in found for name in one.added]
        assert len(added) == len(set(added)) == expected
        assert sum(len(one.known) for one in found) == (PHONES - 1) * RECORDS
        as_alone(store, rows_expected=expected)
        connection.close()


def as_alone(store: Store, *, rows_expected: int) -> None:
    """The board, from what it kept while all wrote, is that of a store that was told everything by one."""
    alone = MemoryStore()
    record(alone, store.lines(), now=NOW)
    warm = board.board(store, now=NOW).verdicts
    assert warm == board.board(alone, now=NOW).verdicts
    forget(store)
    assert warm == board.board(store, now=NOW).verdicts
    assert len(warm) == rows_expected


def test_an_import_and_phones_do_not_meet_half_way(alias: str) -> None:
    many = [bottle(f"import-{number}", f"i{number}") for number in range(150)]
    with on(alias):
        store = new_household()
        record(store, SETTINGS, now=NOW)
    start = Barrier(3)

    def sends(lines: list[list[bytes]]) -> None:
        with on(alias):
            try:
                start.wait()
                for some in lines:
                    record(store, some, now=NOW)
            finally:
                connection.close()

    with ThreadPoolExecutor(3) as pool:
        list(pool.map(sends, [[many], recorded_by(1), recorded_by(2)]))
    with on(alias):
        lines = list(store.lines())
        first = lines.index(many[0])
        assert lines[first : first + len(many)] == many
        assert store.standing().revision == len(lines) == len(SETTINGS) + len(many) + 3 * RECORDS
        connection.close()
