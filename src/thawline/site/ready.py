"""Makes ready what a command with data needs: settings, the folder, this program's tables, the style sheets."""

from __future__ import annotations

import errno
import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from importlib.metadata import version
from pathlib import Path

import django
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, connection

from thawline.faces.cli.replay import UsageError
from thawline.site.folder import Folder

try:
    import fcntl
except ImportError:  # a system without such locks
    fcntl = None  # type: ignore[assignment]

_SAYS = {
    "full": "The disk is full: make room, then try again.",
    "readonly": "The database cannot be written to: look at who owns {place}.",
    "unable to open": "The database cannot be opened: look at who owns {place}.",
    "locked": "The database is busy: try again in a moment.",
    "malformed": "The database is damaged: thawline restore FILE puts a backup in its place.",
    "not a database": "The database is damaged: thawline restore FILE puts a backup in its place.",
}


class NotReadyError(UsageError):
    """Nothing can be done with the data; one line says why and what to do."""


def load_settings() -> Folder:
    """Load Django with the household's settings; raises `NotReadyError`."""
    if not settings.configured:
        os.environ["DJANGO_SETTINGS_MODULE"] = "thawline.site.settings"
    try:
        django.setup()
        _ = connection.vendor
    except OSError as fault:
        raise NotReadyError(_of_file(fault)) from fault
    except (ImproperlyConfigured, ValueError) as fault:
        raise NotReadyError(f"DATABASE_URL cannot be used: {fault}") from fault
    folder: Folder = settings.FOLDER
    return folder


def prepare(folder: Folder, *, pages: bool = False) -> None:
    """Make the folder and the tables as this program needs them, with `pages` the style sheets too."""
    folder.make()
    with _lock(folder.path / "preparing"):
        _migrate()
        if pages:
            _collect()


def _migrate() -> None:
    from django.core.management import call_command  # noqa: PLC0415  (needs the settings)
    from django.db.migrations.executor import MigrationExecutor  # noqa: PLC0415

    from thawline.services.backups import unknown_migrations  # noqa: PLC0415

    executor = MigrationExecutor(connection)
    if newer := unknown_migrations(executor.loader.applied_migrations):
        raise NotReadyError(f"The data was made by a newer Thawline ({newer[0]}): update Thawline first.")
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        call_command("migrate", verbosity=0, interactive=False)


def _collect() -> None:
    """Collect style sheets and scripts where they changed since the last time."""
    from django.core.management import call_command  # noqa: PLC0415  (needs the settings)

    root = Path(settings.STATIC_ROOT)
    stamp = root.with_name("static-collected")
    wanted = _fingerprint()
    if stamp.is_file() and stamp.read_text(encoding="ascii") == wanted and root.is_dir():
        return
    stamp.unlink(missing_ok=True)
    call_command("collectstatic", verbosity=0, interactive=False, clear=True)
    stamp.write_text(wanted, encoding="ascii")


def _fingerprint() -> str:
    from django.contrib.staticfiles.finders import get_finders  # noqa: PLC0415  (needs the settings)

    found = hashlib.sha256(f"{version('thawline')} {settings.STORAGES['staticfiles']}".encode())
    for finder in get_finders():
        for path, storage in sorted(finder.list([]), key=lambda pair: pair[0]):
            found.update(f"\0{path}\0".encode())
            with storage.open(path) as file:
                found.update(file.read())
    return found.hexdigest()


@contextmanager
def _lock(path: Path, *, alone: bool = True, wait: bool = True) -> Iterator[None]:
    """Hold a lock file, alone or with others that share it; raises `BlockingIOError` where it may not wait."""
    with path.open("a") as file:
        if fcntl is not None:
            fcntl.flock(file, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | (0 if wait else fcntl.LOCK_NB))
        yield


@contextmanager
def in_use(folder: Folder, *, alone: bool = False) -> Iterator[None]:
    """Mark the data as in use; `alone` where nobody else may use it meanwhile; raises `NotReadyError`."""
    folder.make()
    with ExitStack() as held:
        try:
            held.enter_context(_lock(folder.path / "in-use", alone=alone, wait=False))
        except BlockingIOError as fault:
            says = "Thawline is running on this data: stop it first." if alone else "A backup is being put back: wait."
            raise NotReadyError(says) from fault
        yield


@contextmanager
def told_plainly(folder: Folder) -> Iterator[None]:
    """Turn faults of the disk and the database into one line that says what to do."""
    try:
        yield
    except (DatabaseError, sqlite3.Error) as fault:
        text = " ".join(str(fault).split())
        sign = next((sign for sign in _SAYS if sign in text.lower()), None)
        says = _SAYS[sign] if sign else f"The database cannot be used: {text}"
        raise NotReadyError(says.format(place=folder.path)) from fault
    except OSError as fault:
        # Without a name it is the output that cannot be written, which is told where all commands end.
        if fault.filename is None:
            raise
        raise NotReadyError(_of_file(fault)) from fault


def _of_file(fault: OSError) -> str:
    if fault.errno == errno.ENOSPC:
        return _SAYS["full"]
    return f"{fault.filename}: {fault.strerror or fault}. THAWLINE_HOME chooses another folder for the data."
