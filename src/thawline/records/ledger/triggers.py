"""The triggers that make events append-only, in the database itself."""

from __future__ import annotations

from django.db import connections

_SQLITE = (
    "DROP TRIGGER IF EXISTS event_no_update",
    "DROP TRIGGER IF EXISTS event_no_delete",
    "DROP TRIGGER IF EXISTS event_no_replace",
    """CREATE TRIGGER event_no_update BEFORE UPDATE ON ledger_event
    BEGIN SELECT RAISE(ABORT, 'events are never changed'); END""",
    """CREATE TRIGGER event_no_delete BEFORE DELETE ON ledger_event
    WHEN NOT EXISTS (SELECT 1 FROM ledger_erasure WHERE household_id = OLD.household_id)
    BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END""",
    # REPLACE deletes without asking the trigger above.
    """CREATE TRIGGER event_no_replace BEFORE INSERT ON ledger_event
    WHEN EXISTS (SELECT 1 FROM ledger_event WHERE id = NEW.id
                 OR (household_id = NEW.household_id AND (event_id = NEW.event_id OR revision = NEW.revision)))
    BEGIN SELECT RAISE(ABORT, 'events are never replaced'); END""",
)

_POSTGRESQL = """
CREATE OR REPLACE FUNCTION thawline_event_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' THEN
        IF EXISTS (SELECT 1 FROM ledger_erasure WHERE household_id = OLD.household_id) THEN
            RETURN OLD;
        END IF;
        RAISE EXCEPTION 'events are never deleted' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RAISE EXCEPTION 'events are never changed' USING ERRCODE = 'integrity_constraint_violation';
END $$;
DROP TRIGGER IF EXISTS event_kept ON ledger_event;
CREATE TRIGGER event_kept BEFORE UPDATE OR DELETE ON ledger_event
    FOR EACH ROW EXECUTE FUNCTION thawline_event_kept();
DROP TRIGGER IF EXISTS event_no_truncate ON ledger_event;
CREATE TRIGGER event_no_truncate BEFORE TRUNCATE ON ledger_event
    FOR EACH STATEMENT EXECUTE FUNCTION thawline_event_kept();
"""


def after_migrate(*, using: str, **_: object) -> None:
    """Install the triggers; a migration that alters the table drops them on SQLite."""
    connection = connections[using]
    if "ledger_event" not in connection.introspection.table_names():
        return
    if "ledger_erasure" not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRESQL)
        else:
            for statement in _SQLITE:
                cursor.execute(statement)
