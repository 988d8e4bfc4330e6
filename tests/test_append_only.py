"""Events are never changed, replaced or deleted: the database itself sees to that, not only the code."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, models, transaction
from tests.postgres import on
from tests.stores import bottle, event, new_household, put

from thawline.records.ledger.models import Erasure, Event
from thawline.records.ledger.store import DatabaseStore

TOLD = (event("household", "h", zone="UTC"), bottle("a", "A"), bottle("b", "B"))


@pytest.fixture(params=["sqlite_file", "postgresql"])
def vendor(request: pytest.FixtureRequest) -> Iterator[str]:
    """Each database as it is used, with tables that stay between transactions."""
    alias = request.getfixturevalue(request.param)
    with request.getfixturevalue("django_db_blocker").unblock(), on(alias):
        yield connection.vendor
        connection.close()


@pytest.fixture
def store(vendor: str) -> DatabaseStore:
    found = new_household()
    put(found, *TOLD)
    return found


def refused(statement: str, *values: Any) -> None:
    with pytest.raises(DatabaseError, match="events are never"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)


def nothing_can_be_changed(store: DatabaseStore) -> None:
    refused("UPDATE ledger_event SET line = 'x' WHERE event_id = %s", "a")
    refused("UPDATE ledger_event SET revision = revision + 100")
    refused("DELETE FROM ledger_event WHERE event_id = %s", "a")
    refused("DELETE FROM ledger_event")
    assert list(store.lines()) == list(TOLD)


def test_no_event_is_updated_or_deleted(store: DatabaseStore) -> None:
    nothing_can_be_changed(store)


def test_not_through_the_models_either(store: DatabaseStore) -> None:
    rows = Event.objects.filter(household=store.id)
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        rows.update(line="x")
    with pytest.raises(DatabaseError, match="never deleted"), transaction.atomic():
        rows.get(event_id="b").delete()
    assert list(store.lines()) == list(TOLD)


COLUMNS = "household_id, event_id, revision, kind, at, recorded_at, person, voids, line"


@pytest.mark.parametrize(("event_id", "revision"), [("a", 99), ("new", 2)])
def test_no_event_is_replaced_by_its_id_or_by_its_revision(
    store: DatabaseStore, vendor: str, event_id: str, revision: int
) -> None:
    word = "INSERT OR REPLACE" if vendor == "sqlite" else "INSERT"
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"{word} INTO ledger_event ({COLUMNS}) "  # noqa: S608 - no value comes from outside
            f"SELECT household_id, '{event_id}', {revision}, kind, at, recorded_at, person, voids, 'x' "
            "FROM ledger_event WHERE event_id = 'b' AND household_id = %s",
            [store.id.hex if vendor == "sqlite" else store.id],
        )
    assert list(store.lines()) == list(TOLD)


def test_no_row_is_replaced_by_its_number(store: DatabaseStore, vendor: str) -> None:
    number = Event.objects.get(household=store.id, event_id="a").pk
    word = "INSERT OR REPLACE" if vendor == "sqlite" else "INSERT"
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"{word} INTO ledger_event (id, {COLUMNS}) "  # noqa: S608 - no value comes from outside
            f"SELECT {number}, household_id, 'new', 99, kind, at, recorded_at, person, voids, 'x' "
            "FROM ledger_event WHERE id = %s",
            [number],
        )
    assert list(store.lines()) == list(TOLD)


def test_an_upsert_changes_nothing(store: DatabaseStore, vendor: str) -> None:
    with pytest.raises(DatabaseError, match="events are never"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO ledger_event ({COLUMNS}) "  # noqa: S608 - no value comes from outside
            "SELECT household_id, event_id, revision, kind, at, recorded_at, person, voids, 'x' FROM ledger_event "
            "WHERE true ON CONFLICT (household_id, event_id) DO UPDATE SET line = 'x'"
        )
    assert list(store.lines()) == list(TOLD)


def test_the_table_is_not_emptied(store: DatabaseStore, vendor: str) -> None:
    if vendor == "postgresql":
        refused("TRUNCATE ledger_event CASCADE")
        refused("TRUNCATE ledger_household CASCADE")
    else:
        refused("DELETE FROM ledger_event WHERE 1")
    assert list(store.lines()) == list(TOLD)


def test_a_household_does_not_go_without_an_erasure(store: DatabaseStore) -> None:
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM ledger_household")
    assert list(store.lines()) == list(TOLD)


def test_erasing_one_household_leaves_the_others_as_closed_as_before(store: DatabaseStore) -> None:
    other = new_household()
    put(other, *TOLD)
    other.erase()
    assert not Event.objects.filter(household=other.id).exists()
    nothing_can_be_changed(store)


def test_while_one_household_is_erased_the_others_stay_closed(store: DatabaseStore) -> None:
    other = new_household()
    put(other, *TOLD)
    with transaction.atomic():
        Erasure.objects.create(household_id=other.id)
        refused("DELETE FROM ledger_event WHERE household_id <> %s", other.id.hex)
        refused("UPDATE ledger_event SET line = 'x'")
        transaction.set_rollback(True)
    nothing_can_be_changed(store)


def test_an_erasure_that_breaks_off_leaves_everything(store: DatabaseStore) -> None:
    with pytest.raises(ZeroDivisionError):
        _erase_and_break_off(store)
    nothing_can_be_changed(store)


def _erase_and_break_off(store: DatabaseStore) -> None:
    with transaction.atomic():
        store.erase()
        raise ZeroDivisionError


def test_still_so_after_another_migrate(store: DatabaseStore) -> None:
    call_command("migrate", database=connection.alias, verbosity=0)
    nothing_can_be_changed(store)


def test_still_so_after_a_migration_that_makes_the_table_anew(store: DatabaseStore, vendor: str) -> None:
    if vendor == "sqlite":
        connection.disable_constraint_checking()
    with connection.schema_editor() as editor:
        old = Event._meta.get_field("person")
        new = models.CharField(max_length=81, blank=True, default="")
        new.set_attributes_from_name("person")
        new.model = Event
        editor.alter_field(Event, old, new)
    call_command("migrate", database=connection.alias, verbosity=0)
    nothing_can_be_changed(store)
    put(store, bottle("c", "C"))
    assert store.standing().revision == 4
