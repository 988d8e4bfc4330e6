"""Kills writers of a database in a file, one after the other, and says what is left; started as a process of its own.

Each writer is forked from a process in which Django is loaded and no connection is open.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import sys
import time
from contextlib import closing, suppress
from itertools import count, groupby
from pathlib import Path
from typing import Any
from uuid import UUID

import django
from django.core.management import call_command
from django.db import connection

from thawline.core import events as ev
from thawline.core.replay import moment
from thawline.records.memory import MemoryStore
from thawline.records.store import Store
from thawline.services.recording import line_of, record

START, NOW = "2027-02-03T07:00:00+00:00", "2027-02-03T12:00:00+00:00"


def stem(event_id: str) -> str:
    """The act that an event was recorded in; it says how many events that has."""
    return event_id.rpartition(".")[0]


def act(kill: int, number: int) -> list[bytes]:
    """What is recorded in one go: milk into two bottles, its correction, or pouring with earlier milk."""

    def events(*rows: dict[str, Any]) -> list[bytes]:
        name = f"k{kill}-a{number}of{len(rows)}"
        return [line_of({"id": f"{name}.{at}", "at": START, **row}) for at, row in enumerate(rows)]

    this, last = f"K{kill}.{number}", f"K{kill}.{number - 1}"
    portions = [{"container": f"{this}a", "ml": 60}, {"container": f"{this}b", "ml": 40}]
    if number % 3 == 1:
        wrong = f"k{kill}-a{number - 1}of2.0"
        again = [{"container": f"{last}a", "ml": 70}, {"container": f"{last}b", "ml": 40}]
        return events(
            {"kind": "voided", "event": wrong, "why": "corrected"},
            {"kind": "expressed", "into": again, "place": "fridge"},
        )
    if number % 3 == 2:
        before = f"K{kill}.{number - 2}"
        sources = [{"container": f"{before}a", "ml": 10}, {"container": f"{before}b", "ml": 10}]
        return events({"kind": "poured", "from": sources, "into": f"{this}c"})
    return events(
        {"kind": "expressed", "into": portions, "place": "fridge"},
        {"kind": "moved", "container": f"{this}a", "to": "fridge"},
    )


def write(household: str, kill: int, pipe: int) -> None:
    """Record without end; each act is named on the pipe once it is kept, and before it is begun."""
    from thawline.records.ledger.store import DatabaseStore

    store = DatabaseStore(UUID(household))
    for number in count():
        lines = act(kill, number)
        name = stem(json.loads(lines[0])["id"])
        os.write(pipe, f"begun {name}\n".encode())
        found = record(store, lines, now=moment(NOW))
        assert len(found.added) == len(lines), found
        os.write(pipe, f"kept {name}\n".encode())


def killed_writer(household: str, kill: int, acts: int, after: float) -> tuple[list[str], bool]:
    """Kill a writer some time after so many acts: the ones it had been told are kept, and whether it was amid one."""
    source, sink = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(source)
        with suppress(BaseException):
            write(household, kill, sink)
        os._exit(1)
    os.close(sink)
    with os.fdopen(source, "rb") as pipe:
        first = b"".join(pipe.readline() for _ in range(2 * acts + 1))
        time.sleep(after)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        told = (first + pipe.read()).decode().split("\n")[:-1]
    assert os.WIFSIGNALED(status), f"writer {kill} ended by itself"
    kept = [line.removeprefix("kept ") for line in told if line.startswith("kept ")]
    return kept, bool(told) and told[-1].startswith("begun ")


def faults(file: Path, acknowledged: set[str], *, thorough: bool) -> list[str]:
    """What is missing, half there, or not as the counts say."""
    found: list[str] = []
    with closing(sqlite3.connect(file)) as database:
        rows = database.execute("SELECT event_id, revision FROM ledger_event ORDER BY revision").fetchall()
        (revision,) = database.execute("SELECT revision FROM ledger_household").fetchone()
        if thorough and (says := database.execute("PRAGMA integrity_check").fetchone()[0]) != "ok":
            found.append(f"integrity: {says}")
    whole = {name: len(list(group)) for name, group in groupby(stem(name) for name, _ in rows)}
    found += [f"acknowledged and lost: {name}" for name in acknowledged - whole.keys()]
    found += [f"half there: {name}" for name, size in whole.items() if not name.endswith(f"of{size}")]
    if [number for _, number in rows] != list(range(1, revision + 1)):
        found.append(f"revision {revision} with {len(rows)} events")
    return found


def misplaced(household: str) -> list[str]:
    """Where the index of which event touches which milk is not what the events say."""
    from thawline.records.ledger.store import DatabaseStore

    store = DatabaseStore(UUID(household))
    lines = list(store.lines())
    now = moment(NOW)
    ids = [ev.decoder.decode(line).id for line in lines]
    # A writer's milk is its own, so that each can be held against a ledger of its own.
    found = []
    for writer, group in groupby(zip(ids, lines, strict=True), key=lambda pair: pair[0].partition("-")[0]):
        plain = MemoryStore()
        own = list(group)
        for _, part in groupby(own, key=lambda pair: stem(pair[0])):
            record(plain, [line for _, line in part], now=now)
        if picture(store, [name for name, _ in own]) != picture(plain, [name for name, _ in own]):
            found.append(f"misplaced: the milk of writer {writer}")
    connection.close()
    return found


def picture(store: Store, ids: list[str]) -> Any:
    names = sorted(store.touched(ids))
    kins: dict[int, list[str]] = {}
    rows = store.kins_of(names)
    for name in names:
        kins.setdefault(rows[name].key, []).append(name)
    by_key = {row.key: row for row in rows.values()}
    standing = [(own, by_key[key].open, by_key[key].refused, by_key[key].wake_at) for key, own in kins.items()]
    touching = {name: sorted(store.touched([name])) for name in ids}
    return sorted(standing), touching, sorted(tuple(sorted(lines)) for lines in store.kin_lines(list(kins)).values())


def main() -> None:
    folder, kills, seed = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    os.environ["DJANGO_SETTINGS_MODULE"] = "thawline.site.settings"
    os.environ["THAWLINE_HOME"] = str(folder)
    django.setup()
    from thawline.services.people import bare_household

    call_command("migrate", verbosity=0)
    household = bare_household("home").key
    # A writer starts warm, so that it is killed while it writes, not while it reads the guidelines.
    record(MemoryStore(), act(0, 0), now=moment(NOW))
    # No connection may be open when a writer is forked.
    connection.close()
    rng, acknowledged, amid, found = random.Random(seed), set[str](), 0, []
    began = time.monotonic()
    for kill in range(kills):
        kept, cut = killed_writer(household, kill, kill % 3, rng.uniform(0, 0.03))
        acknowledged.update(kept)
        amid += cut
        found += faults(folder / "thawline.sqlite3", acknowledged, thorough=kill % 20 == 19 or kill == kills - 1)
        if found:
            break
    seconds = time.monotonic() - began
    found += misplaced(household)
    told = {"faults": found[:20], "acknowledged": len(acknowledged), "amid": amid, "seconds": round(seconds, 1)}
    print(json.dumps(told))


if __name__ == "__main__":
    main()
