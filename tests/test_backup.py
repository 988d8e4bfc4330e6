"""Backups: whole although others write, looked through before they count, put back without losing what was there."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from itertools import count
from pathlib import Path
from uuid import UUID

import pytest
from django.core.management import call_command
from django.db import connection, connections
from tests.postgres import on

from thawline.core.replay import moment
from thawline.core.times import DAY
from thawline.records.ledger.store import DatabaseStore
from thawline.services import backups, people, pulse
from thawline.services.backups import BackupError, Summary, back_up, look_through, put_back
from thawline.services.demo import demo_ledger
from thawline.services.known import forget
from thawline.services.recording import line_of, record

pytestmark = pytest.mark.slow
NOW = moment("2027-03-11T14:20:00+00:00")


@pytest.fixture
def home(sqlite_file: str) -> Iterator[DatabaseStore]:
    with on(sqlite_file):
        store = people.bare_household("Lisbon kitchen")
        record(store, demo_ledger(now=NOW)[:60], now=NOW)
        yield store
        connection.close()


def weigh(store: DatabaseStore, name: str) -> None:
    event = {"id": name, "at": "2027-03-11T08:00:00+00:00", "kind": "weighed", "child": "Mira", "kg": 6}
    record(store, [line_of(event)], now=NOW)


def lines(store: DatabaseStore) -> list[bytes]:
    return list(store.lines())


def held(file: Path) -> list[tuple[int, str]]:
    with closing(sqlite3.connect(file)) as found:
        return found.execute("SELECT revision, line FROM ledger_event ORDER BY revision").fetchall()


def spoiled(file: Path, *statements: str) -> Path:
    with closing(sqlite3.connect(file)) as found, found:
        for statement in statements:
            found.execute(statement)
    return file


def triggers(file: Path) -> set[str]:
    with closing(sqlite3.connect(file)) as found:
        return {name for (name,) in found.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}


def test_a_backup_made_while_four_write_is_the_ledger_up_to_one_revision(home: DatabaseStore, tmp_path: Path) -> None:
    stop = threading.Event()

    def writer(number: int) -> None:
        with on("file"), closing(connections["file"]):
            for at in count():
                if stop.is_set():
                    break
                weigh(DatabaseStore(UUID(home.key)), f"w{number}-{at}")

    copies = [tmp_path / f"copy-{number}.sqlite3" for number in range(5)]
    with ThreadPoolExecutor(4) as threads:
        writing = [threads.submit(writer, number) for number in range(4)]
        try:
            for copy in copies:
                time.sleep(0.1)
                back_up(copy)
        finally:
            stop.set()
        assert [done.result() for done in writing] == [None] * 4
    whole = [line.decode() for line in lines(home)]
    sizes = []
    for copy in copies:
        found = held(copy)
        assert found == list(enumerate(whole[: len(found)], 1))
        assert look_through(copy) == Summary(1, len(found))
        sizes.append(len(found))
    assert sizes == sorted(sizes)
    assert 60 < sizes[-1] < len(whole)


def test_a_backup_is_one_file_for_its_owner_only_and_replaces_none_unasked(home: DatabaseStore, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    folder.mkdir()
    file = folder / "copy.sqlite3"
    assert back_up(file) == Summary(1, 60)
    assert file.stat().st_mode & 0o777 == 0o600
    weigh(home, "one more")
    with pytest.raises(BackupError, match="--force"):
        back_up(file)
    assert len(held(file)) == 60
    assert back_up(file, force=True) == Summary(1, 61)
    assert [path.name for path in folder.iterdir()] == ["copy.sqlite3"]
    for wrong in (folder, backups.database()):
        with pytest.raises(BackupError, match="name of a new file"):
            back_up(wrong, force=True)


def test_a_backup_that_does_not_fit_leaves_nothing(home: DatabaseStore, tmp_path: Path) -> None:
    with pytest.raises(OSError, match=r"[Nn]o such"):
        back_up(tmp_path / "nowhere" / "copy.sqlite3")
    spoiled(backups.database(), "DROP TRIGGER event_no_delete", "DELETE FROM ledger_touch", "DELETE FROM ledger_event")
    with pytest.raises(BackupError, match="events of Lisbon kitchen are missing"):
        back_up(tmp_path / "copy.sqlite3")
    assert not list(tmp_path.glob("*copy*"))


def test_what_is_put_back_is_what_was_there_and_what_it_replaced_is_kept(home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    back_up(copy)
    before = lines(home)
    weigh(home, "later")
    later = lines(home)
    found = put_back(copy)
    forget(home)
    assert lines(home) == before
    assert found.summary == Summary(1, 60)
    assert found.kept is not None
    assert found.kept.name.startswith("before-restore-")
    assert [line.encode() for _, line in held(found.kept)] == later
    connection.close()
    again = put_back(found.kept)
    assert lines(home) == later
    assert again.kept != found.kept
    weigh(home, "goes on")
    assert len(lines(home)) == 62
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode")
        assert cursor.fetchone() == ("wal",)


def test_the_time_since_a_backup_is_no_silence_of_the_server(home: DatabaseStore, tmp_path: Path) -> None:
    pulse.beat(NOW, fresh=True)
    back_up(tmp_path / "copy.sqlite3")
    put_back(tmp_path / "copy.sqlite3")
    pulse.beat(NOW + 30 * DAY, fresh=True)
    assert pulse.quiet(home, now=NOW + 30 * DAY) == []


def test_a_backup_of_a_newer_program_is_not_put_back(home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    back_up(copy)
    insert = "INSERT INTO django_migrations (app, name, applied) VALUES ('{}', '{}', '2030-01-01')"
    spoiled(copy, insert.format("gone", "0001_initial"))
    put_back(copy)
    spoiled(copy, insert.format("ledger", "9999_future"))
    weigh(home, "later")
    with pytest.raises(BackupError, match=r"newer Thawline \(ledger\.9999_future\): update"):
        put_back(copy)
    assert len(lines(home)) == 61


def test_a_backup_of_an_older_program_is_brought_up_to_date(home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    call_command("migrate", "accounts", "0002_cache", verbosity=0)
    back_up(copy)
    call_command("migrate", verbosity=0)
    weigh(home, "later")
    put_back(copy)
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM django_migrations WHERE app = 'accounts' AND name = '0003_handing_over'")
        assert cursor.fetchone() == (1,)
        cursor.execute("SELECT count(*) FROM accounts_invitation")
    assert len(lines(home)) == 60


def test_what_keeps_events_from_being_changed_is_installed_anew(home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    back_up(copy)
    assert triggers(copy) >= backups.TRIGGERS
    spoiled(copy, "DROP TRIGGER event_no_update")
    with pytest.raises(BackupError, match="nothing keeps its events"):
        look_through(copy)
    put_back(copy)
    connection.close()
    assert triggers(backups.database()) >= backups.TRIGGERS


@pytest.mark.parametrize("how", ["text", "cut", "other", "event gone", "event twice counted", "absent"])
def test_what_is_no_whole_backup_is_not_put_back(how: str, home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    back_up(copy)
    if how == "text":
        copy.write_bytes(b"once upon a time " * 1000)
    elif how == "cut":
        os.truncate(copy, copy.stat().st_size // 2)
    elif how == "other":
        copy.unlink()
        spoiled(copy, "CREATE TABLE ledger (x)")
    elif how == "event gone":
        spoiled(
            copy,
            "DROP TRIGGER event_no_delete",
            "DELETE FROM ledger_touch WHERE event_id = (SELECT max(id) FROM ledger_event)",
            "DELETE FROM ledger_event WHERE id = (SELECT max(id) FROM ledger_event)",
        )
    elif how == "event twice counted":
        spoiled(copy, "UPDATE ledger_household SET revision = revision + 1")
    else:
        copy.unlink()
    weigh(home, "later")
    there = lines(home)
    with pytest.raises(BackupError, match=r"copy\.sqlite3"):
        put_back(copy)
    assert lines(home) == there
    assert not list(backups.database().parent.glob("before-restore-*"))


def test_nothing_is_put_back_while_another_program_has_the_database_open(home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    back_up(copy)
    weigh(home, "later")
    with closing(sqlite3.connect(backups.database())) as other:
        other.execute("SELECT count(*) FROM ledger_event").fetchone()
        with pytest.raises(BackupError, match="running"):
            put_back(copy)
    assert len(lines(home)) == 61


def test_a_damaged_database_is_replaced_and_kept(home: DatabaseStore, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    back_up(copy)
    connection.close()
    backups.database().write_bytes(b"spilled milk " * 1000)
    found = put_back(copy)
    assert found.kept is not None
    assert found.kept.read_bytes().startswith(b"spilled milk")
    assert len(lines(home)) == 60


def test_the_database_in_use_is_no_backup_of_itself(home: DatabaseStore) -> None:
    with pytest.raises(BackupError, match="in use"):
        put_back(backups.database())


def test_postgresql_is_backed_up_by_its_own_tools(postgresql: str, tmp_path: Path, django_db_blocker: object) -> None:
    with on(postgresql):
        for call in (lambda: back_up(tmp_path / "copy"), lambda: put_back(tmp_path / "copy")):
            with pytest.raises(BackupError, match="pg_dump"):
                call()
