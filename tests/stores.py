"""Every store there is, made new for a test, and plain events to put into it."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connections, transaction
from tests.postgres import on

from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore
from thawline.records.memory import MemoryStore
from thawline.records.store import Parsed, Store
from thawline.services.recording import parse

Make = Callable[[], Store]
# The mark stands on the parameter: pytest-django makes a database only for tests known to need one.
SQLITE = pytest.param("sqlite", marks=pytest.mark.django_db)
KINDS = ("memory", SQLITE, "postgresql")


def new_household() -> DatabaseStore:
    return DatabaseStore(Household.objects.create(pk=uuid.uuid4(), name="Made up").pk)


@pytest.fixture(params=KINDS)
def make(request: pytest.FixtureRequest) -> Iterator[Make]:
    """What makes an empty store: in memory, in SQLite, in PostgreSQL."""
    yield from making(request, request.param)


def making(request: pytest.FixtureRequest, kind: str) -> Iterator[Make]:
    """Stores of a kind; what a database was given is taken back at the end."""
    if kind == "memory":
        yield MemoryStore
        return
    if kind == "sqlite":
        yield new_household
        return
    with request.getfixturevalue("django_db_blocker").unblock(), on(request.getfixturevalue("postgresql")):
        with transaction.atomic():
            yield new_household
            transaction.set_rollback(True)
        connections["default"].close()


def event(kind: str, name: str, at: str = "2027-02-03T08:00:00Z", **fields: Any) -> bytes:
    """A line of a ledger."""
    given = {key.rstrip("_"): value for key, value in fields.items()}
    return json.dumps({"id": name, "at": at, "kind": kind, **given}).encode()


def bottle(name: str, code: str, at: str = "2027-02-03T08:00:00Z") -> bytes:
    return event("expressed", name, at, into=[{"container": code, "ml": 100}], place="fridge")


def pour(name: str, source: str, into: str) -> bytes:
    return event("poured", name, "2027-02-03T09:00:00Z", from_=[{"container": source, "ml": 10}], into=into)


def void(name: str, target: str) -> bytes:
    return event("voided", name, "2027-02-03T10:00:00Z", event=target)


def parsed(line: bytes) -> Parsed:
    found = parse(line, 1, "UTC")
    assert isinstance(found, Parsed), found
    return found


def put(store: Store, *lines: bytes, recorded_at: int = 1, person: str = "Marta") -> None:
    """Add events in one go."""
    with store.transaction():
        store.add([parsed(line) for line in lines], recorded_at=recorded_at, person=person)
