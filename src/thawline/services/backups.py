"""Copies of the whole database: made while it is in use, looked through before anyone relies on them, put back."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple
from uuid import uuid4

from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

TRIGGERS = {"event_no_update", "event_no_delete", "event_no_replace"}
SIGN_INS = {"django_session", "usersessions_usersession", "thawline_cache", "accounts_invitation"}
PULSE = {"ledger_pulse"}
BESIDE = ("-wal", "-shm", "-journal")
ELSEWHERE = (
    "The data lies in PostgreSQL: pg_dump backs it up and pg_restore brings it back. "
    "thawline export and thawline import work there too."
)


class BackupError(Exception):
    """A copy that cannot be made or used; one line says why and what to do."""


class Summary(NamedTuple):
    """What a database holds."""

    households: int
    events: int


def unknown_migrations(applied: Iterable[tuple[str, str]]) -> list[str]:
    """Changes to the tables that a newer program made and this one does not know."""
    loader = MigrationLoader(None, ignore_no_migrations=True)
    known = set(loader.disk_migrations) | {old for new in loader.disk_migrations.values() for old in new.replaces}
    return [f"{app}.{name}" for app, name in applied if app in loader.migrated_apps and (app, name) not in known]


def database() -> Path:
    """The database's file; raises `BackupError` where it is no file."""
    if connection.vendor != "sqlite":
        raise BackupError(ELSEWHERE)
    return Path(str(connection.settings_dict["NAME"]))


@contextmanager
def _part_of(target: Path) -> Iterator[Path]:
    """A name beside the target for what is not finished yet; nothing of it stays."""
    part = target.with_name(f".{target.name}.{uuid4().hex[:8]}.part")
    os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    try:
        yield part
    finally:
        for end in ("", *BESIDE):
            with suppress(OSError):
                part.with_name(part.name + end).unlink()


def _copy(source: Path, target: Path) -> None:
    """Copy a database as it is at one moment, as a single file; whoever writes meanwhile is not held up."""
    with (
        closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True, timeout=10)) as old,
        closing(sqlite3.connect(target, timeout=10)) as new,
    ):
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE").fetchone()
    with target.open("rb") as file:
        os.fsync(file.fileno())


def _forget_the_moment(path: Path) -> None:
    """Take out of a copy what holds for the running server alone.

    Sign-ins would let its reader in, and sign in again whoever was signed out since; with the server's pulse the time
    since the copy would look like a power cut.
    """
    with closing(sqlite3.connect(path)) as found:
        found.execute("PRAGMA secure_delete=ON").fetchone()
        there = {name for (name,) in found.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        with found:
            for table in (SIGN_INS | PULSE) & there:
                found.execute(f"DELETE FROM {table}")  # noqa: S608  (a name of ours)


def look_through(path: Path, *, name: Path | None = None, triggers: bool = True) -> Summary:
    """Check that a copy is whole: pages, references, every household's count; raises `BackupError`.

    `name` is what the error calls it, where that is not its path.
    """
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as found:
            says = _wrong(found, triggers=triggers)
            if says is None:
                return Summary(*found.execute(_COUNTS).fetchone())
    except sqlite3.DatabaseError as fault:
        raise BackupError(f"{name or path}: not a whole Thawline database ({fault})") from fault
    raise BackupError(f"{name or path}: not a whole Thawline database ({says})")


_COUNTS = "SELECT (SELECT count(*) FROM ledger_household), (SELECT count(*) FROM ledger_event)"
_UNEVEN = """SELECT h.name FROM ledger_household h LEFT JOIN (
    SELECT household_id, count(*) AS n, max(revision) AS top, min(revision) AS low FROM ledger_event GROUP BY 1
) e ON e.household_id = h.id WHERE h.revision != coalesce(e.n, 0) OR h.revision != coalesce(e.top, 0) OR e.low < 1"""


def _wrong(found: sqlite3.Connection, *, triggers: bool) -> str | None:
    (says,) = found.execute("PRAGMA integrity_check(1)").fetchone()
    if says != "ok":
        return str(says)
    found.execute("SELECT app, name FROM django_migrations").fetchone()
    if found.execute("PRAGMA foreign_key_check").fetchone():
        return "a row refers to one that is missing"
    if uneven := found.execute(_UNEVEN).fetchone():
        return f"events of {uneven[0]} are missing"
    there = {name for (name,) in found.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    if triggers and not there >= TRIGGERS:
        return "nothing keeps its events from being changed"
    return None


@contextmanager
def new_file(target: Path, *, force: bool = False) -> Iterator[Path]:
    """A path to write to, that takes its name only once it is complete; raises `BackupError` where one is there."""
    says = f"{target} is there already: choose another name, or --force replaces it."
    if target.is_dir():
        raise BackupError(f"{target} is a folder: choose the name of a new file.")
    if target.exists() and not force:
        raise BackupError(says)
    with _part_of(target) as part:
        yield part
        if target.exists() and not force:
            raise BackupError(says)
        part.replace(target)


def back_up(target: Path, *, force: bool = False) -> Summary:
    """Write a whole copy to `target`, readable by its owner only; raises `BackupError` or `OSError`."""
    source = database()
    if target.exists() and target.samefile(source):
        raise BackupError(f"{target} is the database in use: choose the name of a new file.")
    with new_file(target, force=force) as part:
        _copy(source, part)
        _forget_the_moment(part)
        return look_through(part, name=target)


class Restored(NamedTuple):
    """What is in force now, and where the replaced database lies, if there was one."""

    summary: Summary
    kept: Path | None


def put_back(source: Path) -> Restored:
    """Put a copy in the place of the database, which is kept beside; raises `BackupError` or `OSError`.

    Nobody else may use the database meanwhile. Until the copy is whole and of this program's form, nothing changes.
    """
    target = database()
    if not source.is_file():
        raise BackupError(f"{source}: there is no such file.")
    if target.exists() and source.samefile(target):
        raise BackupError(f"{source} is the database in use: name a backup.")
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _part_of(target) as part:
        try:
            _copy(source, part)
        except sqlite3.DatabaseError as fault:
            raise BackupError(f"{source}: not a whole Thawline database ({fault})") from fault
        look_through(part, name=source, triggers=False)
        _renew(part, source)
        _forget_the_moment(part)
        found = look_through(part, name=source)
        connection.close()
        kept = _set_aside(target) if target.exists() else None
        part.replace(target)
    return Restored(found, kept)


def _renew(part: Path, source: Path) -> None:
    """Bring a copy to this program's form, and install anew what keeps its events from being changed."""
    with closing(sqlite3.connect(part)) as found:
        applied = found.execute("SELECT app, name FROM django_migrations").fetchall()
    if newer := unknown_migrations(applied):
        raise BackupError(f"{source} was made by a newer Thawline ({newer[0]}): update Thawline first.")
    connection.close()
    name = connection.settings_dict["NAME"]
    connection.settings_dict["NAME"] = str(part)
    try:
        call_command("migrate", verbosity=0, interactive=False)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA journal_mode=DELETE")
    finally:
        connection.close()
        connection.settings_dict["NAME"] = name


def _set_aside(target: Path) -> Path:
    """Keep a database under another name, with what was not yet written back to it."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    kept = target.with_name(f"before-restore-{stamp}.sqlite3")
    if kept.exists():
        kept = target.with_name(f"before-restore-{stamp}-{uuid4().hex[:8]}.sqlite3")
    try:
        with closing(sqlite3.connect(target, timeout=2)) as old:
            # Succeeds only where nobody else has the file open.
            old.execute("PRAGMA journal_mode=DELETE").fetchone()
    except sqlite3.OperationalError as fault:
        if "locked" in str(fault):
            raise BackupError("Thawline is running on this data: stop it first.") from fault
    except sqlite3.DatabaseError:
        # Damaged: kept as it is.
        pass
    for end in BESIDE:
        with suppress(FileNotFoundError):
            target.with_name(target.name + end).replace(kept.with_name(kept.name + end))
    try:
        kept.hardlink_to(target)
    except OSError:
        target.replace(kept)
    return kept
