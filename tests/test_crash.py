"""What was said to be kept is there: after a kill at any moment, a full disk, a locked or a read-only database."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from tests.pages import Family, family, text
from tests.postgres import on

WRITER = Path(__file__).parent / "crash_writer.py"
KILLS = 300
pytestmark = pytest.mark.slow


def test_three_hundred_kills_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    env = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    done = subprocess.run(
        [sys.executable, str(WRITER), str(tmp_path), str(KILLS), "1"],
        capture_output=True, check=False, text=True, timeout=280, env=env,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["faults"] == []
    assert found["acknowledged"] >= KILLS // 3
    # Else the kills came at moments at which there was nothing to break.
    assert found["amid"] >= KILLS // 2


# Faults of the disk, seen from a phone


@pytest.fixture
def kitchen(sqlite_file: str) -> Iterator[Family]:
    """A family whose data lies in a file, as at home; what is sent is committed, not rolled back by the test."""
    with on(sqlite_file):
        home = family()
        with mock.patch("thawline.services.present.now", side_effect=lambda: home.now):
            yield home


@contextmanager
def full_disk() -> Iterator[None]:
    """No page more, as on a disk with no room left."""
    with connection.cursor() as cursor:
        # Pages that were given back would be used first.
        cursor.execute("VACUUM")
        cursor.execute("PRAGMA page_count")
        (pages,) = cursor.fetchone()
        cursor.execute(f"PRAGMA max_page_count = {pages}")
        try:
            yield
        finally:
            cursor.execute("PRAGMA max_page_count = 1073741823")


@contextmanager
def read_only() -> Iterator[None]:
    connection.close()
    name = connection.settings_dict["NAME"]
    options = connection.settings_dict["OPTIONS"]
    connection.settings_dict["NAME"] = f"file:{name}?mode=ro"
    connection.settings_dict["OPTIONS"] = {**options, "uri": True, "init_command": "PRAGMA foreign_keys=ON;"}
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = name
        connection.settings_dict["OPTIONS"] = options


@contextmanager
def locked() -> Iterator[None]:
    """Another program holds the file for itself."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(connection.settings_dict["NAME"])
    try:
        other.execute("BEGIN EXCLUSIVE")
        yield
        other.rollback()
    finally:
        other.close()
        connection.close()


FAULTS = {"full": full_disk, "read_only": read_only, "busy": locked}
SAYS = {"full": "is full", "read_only": "may not write", "busy": "else is writing"}


def kept(home: Family) -> list[bytes]:
    return list(home.store.lines())


def form_of(page: BeautifulSoup) -> tuple[str, dict[str, Any]]:
    """Where the page's form goes, and what it would send."""
    form = page.select_one("main form[method=post]")
    assert form is not None, text(page)
    fields = form.select("input[type=hidden]")
    return str(form["action"]), {str(one["name"]): str(one.get("value", "")) for one in fields}


def until_refused(home: Family) -> tuple[list[bytes], Any]:
    """What was kept before the first form that could not be, and its answer."""
    before, answer = kept(home), None
    # On a full disk the first ones still find room in pages that are there.
    for attempt in range(40):
        before = kept(home)
        sent = home.fill(home.see("/log/"), ml_1="80", code_1=f"{attempt:0>150}")
        answer = home.phone.post("/log/", sent)
        if answer.status_code != 302:
            break
    return before, answer


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_told_nothing_is_lost_and_the_same_form_sent_again_counts_once(fault: str, kitchen: Family) -> None:
    with FAULTS[fault]():
        before, answer = until_refused(kitchen)
        page = BeautifulSoup(answer.content, "html.parser")
        assert answer.status_code == 503, text(page)
        assert SAYS[fault] in text(page)
        assert "Nothing was recorded" in text(page)
    assert kept(kitchen) == before
    where, again = form_of(page)
    for _ in range(2):
        answer = kitchen.phone.post(where, again)
        assert answer.status_code == 302, text(BeautifulSoup(answer.content, "html.parser"))
    found = kept(kitchen)
    assert found[: len(before)] == before
    assert [json.loads(line)["kind"] for line in found[len(before) :]] == ["expressed"]


@pytest.mark.parametrize("fault", FAULTS)
def test_what_is_there_can_be_read_while_nothing_can_be_written(fault: str, kitchen: Family) -> None:
    kitchen.expressed("HA37", 80, 1)
    with FAULTS[fault]():
        assert "HA37" in text(kitchen.see("/"))


def test_the_database_takes_no_change_of_an_event_even_from_outside(kitchen: Family) -> None:
    kitchen.expressed("HA37", 80, 1)
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as other:
        for statement in ("UPDATE ledger_event SET line = '{}'", "DELETE FROM ledger_event"):
            with pytest.raises(sqlite3.IntegrityError):
                other.execute(statement)
