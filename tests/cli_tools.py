"""What the tests of the command line share: small ledgers, and ways to run the command."""

from __future__ import annotations

import contextlib
import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

from thawline.site.main import main

DAY = "2026-05-06"
NOW = f"{DAY}T12:00:00+00:00"
COMMAND = Path(sys.executable).with_name("thawline")
DOCS = Path(__file__).parent.parent / "docs"
FILES = Path(__file__).parent.parent / "src" / "thawline" / "core" / "guidelines"

Event = dict[str, Any]


class Ran(NamedTuple):
    """What a run of the command left behind."""

    code: int
    out: str
    err: str

    def json(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.out)
        return found

    def refused(self) -> list[tuple[str, str]]:
        return [(one["event"], one["code"]) for one in self.json()["refused"]]


def event(name: str, at: str, kind: str, **fields: object) -> Event:
    """An event; `at` may be a clock time of the day, and `from_`, `is_`, `for_` stand for the plain words."""
    at = f"{DAY}T{at}:00Z" if len(at) == 5 else at
    return {"id": name, "at": at, "kind": kind, **{key.rstrip("_"): value for key, value in fields.items()}}


def settings(*more: Event) -> list[Event]:
    start = "2026-01-01T00:00:00Z"
    places = {
        "room": ("room", 21),
        "fridge": ("refrigerator", 3.5),
        "freezer": ("freezer", -18),
        "cooler": ("cooler", None),
    }
    return [
        event("h", start, "household", zone="UTC"),
        event("c", start, "child", child="mia", born="2026-01-02", care="home"),
        *(
            event(f"p-{name}", start, "place", place=name, is_=kind, **({} if temp is None else {"temp_c": temp}))
            for name, (kind, temp) in places.items()
        ),
        *more,
    ]


def expressed(name: str = "e", at: str = "08:00", into: str = "A", ml: float = 100, **more: object) -> Event:
    return event(name, at, "expressed", into=[{"container": into, "ml": ml}], **{"place": "room", **more})


def poured(name: str, at: str, into: str, **sources: float) -> Event:
    portions = [{"container": key, "ml": ml} for key, ml in sources.items()]
    return event(name, at, "poured", from_=portions, into=into)


def ndjson(events: list[Event]) -> bytes:
    return "".join(json.dumps(one) + "\n" for one in events).encode()


def thawline(*arguments: str) -> Ran:
    """The command, in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(list(arguments))
    return Ran(code, out.getvalue(), err.getvalue())


def installed(*arguments: str, stdin: bytes = b"", env: dict[str, str] | None = None) -> Ran:
    """The command as installed, in a process of its own."""
    done = subprocess.run(
        [str(COMMAND), *arguments], input=stdin, capture_output=True, env=env, check=False, timeout=60
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


def replay(folder: Path, ledger: bytes | list[Event], *arguments: str, now: str = NOW) -> Ran:
    """`thawline replay` on a ledger, as JSON, in this process."""
    file = folder / "ledger.ndjson"
    file.write_bytes(ledger if isinstance(ledger, bytes) else ndjson(ledger))
    return thawline("replay", str(file), "--now", now, "--json", *arguments)


def judged(folder: Path, ledger: list[Event], *arguments: str, now: str = NOW) -> dict[str, Any]:
    """The contract's object for a ledger that can be judged."""
    ran = replay(folder, ledger, *arguments, now=now)
    assert ran.code == 0, ran.err
    assert ran.err == ""
    return ran.json()


def unreadable(ran: Ran) -> str:
    """The one line on standard error that goes with exit status 2."""
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.endswith("\n")
    assert len(ran.err.splitlines()) == 1
    assert "Traceback" not in ran.err
    return ran.err


def one(found: dict[str, Any], name: str = "A") -> dict[str, Any]:
    """A container of the contract's object."""
    [container] = [each for each in found["containers"] if each["container"] == name]
    answer: dict[str, Any] = container
    return answer
