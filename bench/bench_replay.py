"""Time replay on made-up ledgers of 30 to 60,000 events, beside a plain `json.loads` of the same lines.

The limits printed are goals, not a gate: the exit status is 0 whatever the figures.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import deque
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from thawline.core import guideline
from thawline.core.fold import fold
from thawline.core.ledger import read
from thawline.core.places import Places
from thawline.core.replay import moment, replay

START = datetime(2027, 1, 1, 5, tzinfo=UTC)
SIZES = (30, 1_000, 10_000, 60_000)
RUNS = {30: 51, 1_000: 15, 10_000: 7, 60_000: 5}
FREEZER_HOLDS = 145
THAWLINE = Path(sys.executable).with_name("thawline")


class Family:
    """A household of three sessions a day: two are fed the day after, one is frozen, the oldest bag thawed."""

    def __init__(self) -> None:
        self.lines: list[bytes] = []
        self.frozen: deque[str] = deque()
        self.last = START
        self.count = 0

    def put(self, at: datetime, kind: str, **fields: object) -> str:
        """Add an event and return its id."""
        name = f"0198c0de-0000-7000-8000-{len(self.lines):012x}"
        event: dict[str, object] = {"id": name, "at": at.isoformat(), "kind": kind, "by": "Marta"}
        event.update((key.rstrip("_"), value) for key, value in fields.items())
        self.lines.append(json.dumps(event).encode())
        self.last = max(self.last, at)
        return name

    def begin(self) -> None:
        self.put(START, "household", zone="Europe/Lisbon", guideline="cdc")
        self.put(START, "child", child="Mira", born="2026-12-01", care="home")
        for place, is_, temp_c in (
            ("counter", "room", 21), ("fridge", "refrigerator", 4), ("freezer", "freezer", -18),
        ):  # fmt: skip
            self.put(START, "place", place=place, is_=is_, temp_c=temp_c)

    def new(self) -> str:
        self.count += 1
        return f"M{self.count}"

    def feed(self, at: datetime, name: str, left: int) -> None:
        self.put(at, "moved", container=name, to="counter")
        self.put(at + timedelta(minutes=2), "warmed", container=name, how="warm_water")
        self.put(at + timedelta(minutes=8), "feed_began", container=name, child="Mira")
        self.put(at + timedelta(minutes=20), "feed_ended", container=name, left_ml=left)
        if left:
            self.put(at + timedelta(minutes=70), "discarded", container=name, why="left over")

    def day(self, number: int) -> None:
        """One day of events, every amount and place in order."""
        midnight = START + timedelta(days=number)
        names = [self.new() for _ in range(3)]
        for hour, name in zip((1, 6, 13), names, strict=True):
            at = midnight + timedelta(hours=hour)
            into = [{"container": name, "ml": 60 + number % 5 * 10}]
            event = self.put(at, "expressed", into=into, place="counter")
            if number % 30 == 7 and hour == 6:
                self.put(at + timedelta(minutes=3), "voided", event=event, why="wrong amount")
                self.put(at, "expressed", into=into, place="counter")
            self.put(at + timedelta(minutes=25), "moved", container=name, to="fridge")
        if number % 10 == 3:
            ml = 60 + number % 5 * 10
            sources = [{"container": name, "ml": ml} for name in names[:2]]
            names = [self.new(), names[2]]
            self.put(midnight + timedelta(hours=15), "poured", from_=sources, into=names[0])
        self.put(midnight + timedelta(hours=16), "moved", container=names[-1], to="freezer")
        self.frozen.append(names[-1])
        if len(self.frozen) > FREEZER_HOLDS:
            bag = self.frozen.popleft()
            self.put(midnight + timedelta(hours=17), "moved", container=bag, to="fridge")
            self.put(midnight + timedelta(hours=25), "thaw_seen", container=bag, ice=True)
            self.feed(midnight + timedelta(hours=30), bag, 10)
        for index, name in enumerate(names[:-1]):
            self.feed(midnight + timedelta(hours=26 + 9 * index), name, number % 3 * 5)
        self.put(midnight + timedelta(hours=4), "nursed", child="Mira", minutes=15)
        today = (date(START.year, START.month, START.day) + timedelta(days=number)).isoformat()
        self.put(midnight + timedelta(hours=18), "day_complete", child="Mira", date=today)


def ledger(size: int) -> tuple[list[bytes], str]:
    """A valid ledger of that many events, and the moment at which to judge it."""
    family = Family()
    family.begin()
    number = 0
    while len(family.lines) < size:
        family.day(number)
        number += 1
    return family.lines[:size], family.last.isoformat()


def seconds(work: Callable[[], object], runs: int) -> float:
    """The median time of several runs."""
    taken = []
    for _ in range(runs):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def _folded(lines: list[bytes], now: int) -> object:
    found = read(lines, now=now)
    return fold(found, Places(found.settings, found.entries, guideline.house()[0]))


def inside(size: int) -> tuple[float, float]:
    """Time one size in this process and print its line; microseconds an event, whole and without the board."""
    lines, now = ledger(size)
    at = moment(now)
    found = replay(lines, now=now)
    if found["refused"] or found["ahead"]:
        raise SystemExit(f"the ledger of {size} events is no good: {found['refused'][:3]}")
    runs = RUNS[size]
    plain = seconds(lambda: [json.loads(line) for line in lines], runs)
    whole = seconds(lambda: replay(lines, now=now), runs)
    folded = seconds(lambda: _folded(lines, at), runs)
    each, each_folded = whole / size * 1e6, folded / size * 1e6
    print(
        f"{size:>7,} {len(found['containers']):>6} {plain * 1e3:>10.2f} {whole * 1e3:>10.2f}"
        f" {whole / plain:>7.1f} {each:>9.1f} {each_folded:>13.1f}"
    )
    return each, each_folded


def process(size: int, runs: int) -> float:
    """Wall time of `thawline replay --json` in a process of its own; a first run, not counted, compiles."""
    lines, now = ledger(size)
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.ndjson"
        path.write_bytes(b"\n".join(lines) + b"\n")
        command = [str(THAWLINE), "replay", str(path), "--now", now, "--json"]

        def once() -> object:
            return subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=env)

        once()
        return seconds(once, runs)


def main() -> None:
    """Print the figures, each limit beside its own."""
    print(f"Python {sys.version.split()[0]}; medians\n")
    print(" events  there  json [ms] replay[ms]   ratio  us/event  read+fold [us]")
    each = {size: inside(size) for size in SIZES}
    whole, folded = (each[60_000][part] / each[1_000][part] for part in (0, 1))
    print(f"\ncost of an event, 60,000 to 1,000: {whole:.2f} (limit 1.3); without the board: {folded:.2f}")
    for size, runs, limit in ((30, 15, 0.150), (60_000, 5, 2.0)):
        print(f"whole process, {size:>6,} events: {process(size, runs) * 1e3:>6.0f} ms (limit {limit * 1e3:,.0f} ms)")


if __name__ == "__main__":
    main()
