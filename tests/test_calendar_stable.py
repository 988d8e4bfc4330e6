"""A calendar over a thousand changes: every entry keeps its name, changes when it changes, and goes when it goes."""

from __future__ import annotations

import itertools
import random
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier
from typing import Any, NamedTuple

import icalendar
import pytest
from django.db import connection
from tests.pages import Family
from tests.postgres import on
from tests.stores import new_household
from tests.test_calendar import address, raw

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.services import board, calendar_entries, recording
from thawline.services.agenda import Due
from thawline.services.habits import Apart, Habits, keep

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
PLACES = ("counter", "fridge", "freezer", "cooler bag")
STAMPS = ("DTSTAMP", "LAST-MODIFIED", "SEQUENCE")


class Shown(NamedTuple):
    """An entry as a calendar app reads it: what it says, and its stamps."""

    says: tuple[str, ...]
    stamp: str
    modified: str
    sequence: int


def shown(data: bytes) -> dict[str, Shown]:
    """Entries by UID, read by a plain reader of lines (RFC 5545, 3.1: unfolded, one property a line)."""
    found: dict[str, Shown] = {}
    lines = data.decode().replace("\r\n ", "").split("\r\n")
    for part in "\n".join(lines).split("BEGIN:VEVENT\n")[1:]:
        inside = part.split("\nEND:VEVENT")[0].split("\n")
        head = dict(line.split(":", 1) for line in inside[: _first_alarm(inside)])
        says = tuple(line for line in inside if line.split(":")[0] not in STAMPS)
        assert head["UID"] not in found
        found[head["UID"]] = Shown(says, head["DTSTAMP"], head["LAST-MODIFIED"], int(head["SEQUENCE"]))
    return found


def _first_alarm(lines: list[str]) -> int:
    return lines.index("BEGIN:VALARM") if "BEGIN:VALARM" in lines else len(lines)


def starts(entry: Shown) -> str:
    return next(line for line in entry.says if line.startswith("DTSTART:")).removeprefix("DTSTART:")


def thaws(entry: Shown) -> bool:
    return any(line.startswith("SUMMARY:Move ") for line in entry.says)


def written(at: int) -> str:
    return (EPOCH + timedelta(seconds=at // 1_000_000)).strftime("%Y%m%dT%H%M%SZ")


def expected(home: Family) -> list[str]:
    """The times that the board gives: until when milk is to be used, or frozen where that ends at another time."""
    found = board.board(home.store, now=home.now).verdicts
    within = [one for one in found if one.standing in ("fine", "soon") and one.use_by is not None]
    options = board.with_options(home.store, [one.container for one in within], now=home.now)
    times = [one.use_by or 0 for one in within]
    for one in within:
        ends = [option.not_after for option in options[one.container].options if option.do == "freeze"]
        times += [end for end in ends if end != one.use_by and one.form == "fresh"]
    return sorted(written(at) for at in times)


class Days:
    """An invented family's doings, drawn at random from a seed; most fit, and what does not is refused."""

    def __init__(self, home: Family, seed: int) -> None:
        self.home, self.rng = home, random.Random(seed)
        self.numbers = itertools.count(1)
        self.codes: list[str] = []
        self.ids: list[str] = []

    def change(self) -> None:
        """One change: something noted, corrected or set, or only time that passes."""
        self.home.now += self.rng.choice((1, 5, 30, 120)) * MINUTE
        kind = self.rng.choices(
            ("log", "move", "feed", "count", "gone", "hold", "void", "setting", "wait"), (8, 9, 3, 1, 5, 1, 2, 1, 1)
        )[0]
        for event in getattr(self, f"_{kind}")():
            self._note(event)

    def _note(self, event: dict[str, Any]) -> None:
        name = f"change-{next(self.numbers)}"
        line = recording.line_of({"id": name, "at": self.home.at(0), "by": "Marta", **event})
        if not recording.record(self.home.store, [line], now=self.home.now).refused:
            self.ids.append(name)

    def _some(self) -> str:
        recent = self.codes[-14:]
        return self.rng.choice(recent) if recent else "none"

    def _log(self) -> list[dict[str, Any]]:
        self.codes.append(f"T{len(self.codes):03d}")
        into = [{"container": self.codes[-1], "ml": self.rng.randint(20, 140)}]
        return [{"kind": "expressed", "into": into, "place": "counter"}]

    def _move(self) -> list[dict[str, Any]]:
        return [{"kind": "moved", "container": self._some(), "to": self.rng.choice(PLACES)}]

    def _feed(self) -> list[dict[str, Any]]:
        code = self._some()
        return [
            {"kind": "feed_began", "container": code, "child": "Mira"},
            {"kind": "feed_ended", "container": code, "left_ml": self.rng.choice((0, 10))},
        ]

    def _count(self) -> list[dict[str, Any]]:
        return [{"kind": "counted", "container": self._some(), "ml": self.rng.randint(5, 90)}]

    def _gone(self) -> list[dict[str, Any]]:
        return [{"kind": "discarded", "container": self._some(), "why": "spilled"}]

    def _hold(self) -> list[dict[str, Any]]:
        return [{"kind": self.rng.choice(("held", "released")), "container": self._some(), "why": "medicine"}]

    def _void(self) -> list[dict[str, Any]]:
        return [{"kind": "voided", "event": self.rng.choice(self.ids[-6:] or ["none"]), "why": "mistake"}]

    def _setting(self) -> list[dict[str, Any]]:
        if self.rng.random() < 0.5:
            return [{"kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": self.rng.choice((3, 4, 6))}]
        rule = self.rng.choice(("cdc", "abm", "bfn"))
        return [{"kind": "household", "zone": "Europe/Lisbon", "guideline": rule, "units": ["ml", "C"]}]

    def _wait(self) -> list[dict[str, Any]]:
        self.home.now += self.rng.choice((6, 30)) * 60 * MINUTE
        return []


def check(before: dict[str, Shown], after: dict[str, Shown]) -> int:
    """What changed says so, and nothing else does; how many did."""
    changed = 0
    for uid in set(before) & set(after):
        old, new = before[uid], after[uid]
        if old.says == new.says:
            assert old == new
            continue
        changed += 1
        assert new.sequence > old.sequence
        assert new.modified > old.modified and new.stamp > old.stamp
    return changed


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10))
def test_a_calendar_stays_stable_over_a_thousand_changes(home: Family, seed: int) -> None:
    """A thousand changes in ten families, a hundred each."""
    days = Days(home, seed)
    url = address(home)
    before: dict[str, Shown] = {}
    sequences: dict[str, int] = {}
    changed = gone = 0
    for number in range(100):
        days.change()
        data = raw(url)
        after = shown(data)
        # What the plan wants thawed is no limit of the board's.
        assert sorted(starts(one) for one in after.values() if not thaws(one)) == expected(home), number
        changed += check(before, after)
        gone += len(set(before) - set(after))
        for uid, one in after.items():
            # What comes back is newer than it was when it went.
            assert one.sequence >= sequences.get(uid, 0)
        sequences |= {uid: one.sequence for uid, one in after.items()}
        if number % 20 == 0:
            assert not any(part.errors for part in icalendar.Calendar.from_ical(data).walk())
            lines = list(home.store.lines())
            assert raw(url) == data and list(home.store.lines()) == lines
        before = after
    assert changed > 10 and gone > 5 and len(sequences) > 15


def test_what_the_plan_wants_thawed_stands_there_under_one_name(home: Family) -> None:
    keep(home.store, Habits(apart=(Apart("Mira", (0, 1, 2, 3, 4), "08:30", "17:30"),)))
    for number in range(6):
        home.expressed(f"TE3{number}", 110, 24.0 * 12 - number)
        home.note("moved", 24.0 * 11 - number, container=f"TE3{number}", to="freezer")
    home.note("cleaned", 1, what="kit", how="sanitised")
    url = address(home, "thaw")
    seen: dict[str, set[str]] = {}
    told: dict[str, Shown] = {}
    for _ in range(24):
        after = shown(raw(url))
        check(told, after)
        for uid, one in after.items():
            title = next(line for line in one.says if line.startswith("SUMMARY:"))
            seen.setdefault(uid, set()).add(title.split(" ")[1])
        told = after
        home.now += DAY // 12
    assert seen and all(len(codes) == 1 for codes in seen.values())
    assert len({code for codes in seen.values() for code in codes}) == len(seen)


@pytest.mark.parametrize("kind", ["sqlite_file", "postgresql"])
def test_phones_that_read_at_one_moment_agree(request: pytest.FixtureRequest, kind: str) -> None:
    alias = request.getfixturevalue(kind)
    with request.getfixturevalue("django_db_blocker").unblock(), on(alias):
        store = new_household()
        start = Barrier(4)

        def phone(_: int) -> list[list[tuple[str, int, int]]]:
            with on(alias):
                try:
                    found = []
                    for by in range(6):
                        start.wait(30)
                        dues = [Due(f"use-{number}", "use", f"KA3{number}", by * HOUR) for number in range(5)]
                        read = calendar_entries.entries(store, dues, now=DAY + by * MINUTE)
                        found.append([(one.due.key, one.sequence, one.at) for one in read])
                    return found
                finally:
                    connection.close()

        with ThreadPoolExecutor(4) as pool:
            first, *others = pool.map(phone, range(4))
        assert all(one == first for one in others)
        assert [{sequence for _, sequence, _ in read} for read in first] == [{number} for number in range(6)]
        connection.close()
