"""`thawline replay`: judge a ledger under a guideline, as JSON or as a table for a terminal."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import UTC, datetime
from typing import BinaryIO, NoReturn

import msgspec

from thawline.core import events, guideline
from thawline.core.component import Bounds
from thawline.core.guideline import Guideline, GuidelineError
from thawline.core.ledger import NotALedgerError
from thawline.core.replay import Library, as_object, moment, run
from thawline.core.times import BadTimeError, parse_instant
from thawline.faces.cli.table import board, plain

UNREADABLE = 2


class UsageError(Exception):
    """Something on the command line that cannot be used; one line that says what to mend."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise UsageError(message)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="thawline replay",
        description="Judge a ledger: what is there, until when, and why. It advises; it does not replace a clinician.",
        # A fixed width spares a look at the terminal at every start.
        formatter_class=lambda prog: argparse.HelpFormatter(prog, width=78),
        epilog="Exit status: 0 the file was judged, 2 it could not be read.",
    )
    parser.add_argument("file", nargs="?", help="a ledger, one event a line (NDJSON); - reads standard input")
    parser.add_argument("--guideline", metavar="ID", help="guideline id, or the path of a guideline file")
    parser.add_argument(
        "--also", metavar="ID", action="append", help="a childcare overlay, id or file; may be given again"
    )
    parser.add_argument("--now", metavar="TIME", help="judge as of this time (RFC 3339); else the clock's")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--all", action="store_true", help="those that are gone too")
    parser.add_argument("--bounds", metavar="FILE", help="early and late times worked out elsewhere (JSON)")
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of an event, and stop")
    return parser


def _bytes(path: str) -> bytes:
    if "\0" in path:
        raise UsageError("a file's name cannot hold a NUL: mend the name")
    with open(path, "rb") as file:  # noqa: PTH123  (pathlib costs start-up)
        return file.read()


def read_guideline(path: str) -> Guideline:
    """A guideline from a file; raises `UsageError` naming the file."""
    try:
        return guideline.parse(_bytes(path).decode("utf-8-sig"))
    except OSError as fault:
        raise UsageError(f"{path}: {fault.strerror or fault}") from fault
    except UnicodeDecodeError as fault:
        raise UsageError(f"{path}: not UTF-8 text: save it as UTF-8") from fault
    except GuidelineError as fault:
        raise UsageError(f"{path}: {fault}") from fault


def _named(name: str, given: dict[str, Guideline]) -> str:
    """The id of a guideline given by id or by path; files are read into `given`."""
    if name in guideline.shipped_ids():
        return name
    if "/" in name or name.endswith(".toml") or os.path.isfile(name):  # noqa: PTH113  (pathlib costs start-up)
        found = read_guideline(name)
        given[found.id] = found
        return found.id
    known = ", ".join(guideline.shipped_ids())
    raise UsageError(f"no guideline {name[:60]!r}: choose one of {known}, or give a file")


def lines_of(file: str) -> list[bytes]:
    """The lines of a ledger file, or of standard input (`-`); raises `UsageError`."""
    pipe: BinaryIO | None = getattr(sys.stdin, "buffer", None)
    try:
        if file != "-":
            data = _bytes(file)
        elif pipe is None:
            raise UsageError("standard input is closed: name a ledger file")
        else:
            data = pipe.read()
    except OSError as fault:
        raise UsageError(f"{file}: {fault.strerror or fault}") from fault
    return data.split(b"\n")


class _Bound(msgspec.Struct, forbid_unknown_fields=True, rename={"from_": "from"}):
    container: str
    from_: str
    at: str


class _ColdBound(msgspec.Struct, forbid_unknown_fields=True, rename={"from_": "from"}):
    place: str
    from_: str
    at: str


class _BoundsFile(msgspec.Struct, forbid_unknown_fields=True):
    thawed_early: list[_Bound] = []
    solid_late: list[_Bound] = []
    warm_early: list[_Bound] = []
    cold_early: list[_ColdBound] = []


def _bounds(path: str | None) -> Bounds:
    if path is None:
        return Bounds()
    try:
        found = msgspec.json.decode(_bytes(path), type=_BoundsFile)

        def table(rows: list[_Bound]) -> dict[tuple[str, int], int]:
            return {(row.container, parse_instant(row.from_)): parse_instant(row.at) for row in rows}

        cold = {(row.place, parse_instant(row.from_)): parse_instant(row.at) for row in found.cold_early}
        return Bounds(table(found.thawed_early), table(found.solid_late), table(found.warm_early), cold)
    except OSError as fault:
        raise UsageError(f"{path}: {fault.strerror or fault}") from fault
    except (msgspec.DecodeError, BadTimeError, RecursionError, ValueError) as fault:
        raise UsageError(f"{path}: {fault}") from fault


def _now(text: str | None) -> int:
    if text is None:
        return parse_instant(datetime.now(UTC).isoformat())
    return moment(text)


def _judge(options: argparse.Namespace) -> str:
    if options.schema:
        return msgspec.json.format(msgspec.json.encode(events.event_schema()), indent=2).decode()
    if options.file is None:
        raise UsageError("name a ledger file, or - for standard input")
    given: dict[str, Guideline] = {}
    chosen = None if options.guideline is None else _named(options.guideline, given)
    also = None if options.also is None else [_named(name, given) for name in options.also]
    found = run(
        lines_of(options.file),
        now=_now(options.now),
        guideline=chosen,
        also=also,
        everything=options.all,
        library=Library(given),
        bounds=_bounds(options.bounds),
    )
    if options.json:
        return msgspec.json.format(msgspec.json.encode(as_object(found)), indent=2).decode()
    return board(found)


def replay_command(arguments: list[str]) -> int:
    """Run `thawline replay`; one line on standard error where something cannot be used."""
    try:
        print(_judge(_parser().parse_args(arguments)))
    except (UsageError, NotALedgerError, GuidelineError, BadTimeError) as fault:
        print("thawline replay: " + plain(" ".join(str(fault).split())), file=sys.stderr)
        return UNREADABLE
    except SystemExit as stop:
        # How the parser ends after --help.
        return UNREADABLE if stop.code else 0
    return 0
