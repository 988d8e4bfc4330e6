"""What the commands with data do, once Django is loaded."""

from __future__ import annotations

import gc
import json
import os
import secrets
import signal
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from thawline.faces.cli.replay import UsageError
from thawline.faces.cli.table import plain
from thawline.site import ready
from thawline.site.folder import Folder
from thawline.site.sheet_commands import Asked
from thawline.site.table_commands import In, Out, Paper

_LETTERS = "abcdefghjkmnpqrstuvwxyz"  # none that looks like another
_NO_REMINDERS = {
    "off": "Reminders are switched off here: THAWLINE_REMINDERS is 0.",
    "missing": 'Reminders need one more part: pip install "thawline[reminders]"',
}
_SHOWN = 20  # lines not taken in that are listed one by one


@contextmanager
def _data(*, pages: bool = False, alone: bool = False, tables: bool = True) -> Iterator[Folder]:
    """The household's data, ready for use; what goes wrong with it becomes one line."""
    # What is written there is for the owner's eyes only.
    os.umask(0o077)
    folder = ready.load_settings()
    from thawline.services.backups import BackupError
    from thawline.services.people import CannotError

    try:
        with ready.told_plainly(folder), ready.in_use(folder, alone=alone):
            if tables:
                ready.prepare(folder, pages=pages)
            yield folder
    except (CannotError, BackupError) as fault:
        raise UsageError(str(fault)) from fault


def serve(host: str, port: int, *, https: bool, names: Sequence[str]) -> None:
    """Serve until Ctrl-C."""
    if https:
        os.environ["THAWLINE_HTTPS"] = "1"
    with _data(pages=True) as folder:
        from thawline.services.people import owner_exists

        greeting = "" if owner_exists() else "Nobody has set this up yet: open the page on this computer and begin."
        _serve(folder, host, port, greeting, https=https, names=names)


def _serve(
    folder: Folder, host: str, port: int, greeting: str, *, https: bool = False, names: Sequence[str] = ()
) -> None:
    from thawline.services import bounds
    from thawline.services.people import owner_exists
    from thawline.site import serving
    from thawline.site.wsgi import application

    said = iter([greeting])

    def say(text: str) -> None:
        # The greeting comes first, and only once the server answers.
        if first := next(said, ""):
            print(first)
        print(text, flush=True)

    # Off for the short commands.
    gc.enable()
    # The physics loads while the server starts, so that no page waits for it.
    threading.Thread(target=bounds.prepare, name="physics", daemon=True).start()
    try:
        serving.serve(
            application,
            host=host,
            port=port,
            folder=folder,
            https=https,
            names=names,
            owner_exists=owner_exists,
            say=say,
            while_serving=_beside(),
        )
    except serving.ServingError as fault:
        raise UsageError(str(fault)) from fault


@contextmanager
def _beside() -> Iterator[None]:
    """What runs beside the server: its heartbeat, and the reminders."""
    from thawline.site.heartbeat import Heartbeat
    from thawline.site.reminding import Reminders

    with Heartbeat(), Reminders():
        yield


def demo(host: str, port: int) -> None:
    """Serve the demo household from a folder of its own, and remove it afterwards."""
    # Whatever ends this, the folder goes.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        with tempfile.TemporaryDirectory(prefix="thawline-demo-") as home:
            os.environ["THAWLINE_HOME"] = home
            os.environ.pop("DATABASE_URL", None)
            with _data(pages=True) as folder:
                chosen = "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3))
                _furnish(chosen)
                greeting = (
                    "An invented family, gone when this stops. Sign in as marta, the owner, as celeste, a carer, or as "
                    f"nadia, who works in childcare: all with the password {chosen}"
                )
                _serve(folder, host, port, greeting)
    except OSError as fault:
        if fault.filename is None:
            raise
        raise UsageError(f"{fault.filename}: {fault.strerror}") from fault


def _furnish(password: str) -> None:
    from thawline.services import childcare_demo, habits, people, people_demo, present, recording
    from thawline.services.demo import CARER, FATHER, GRANDMOTHER, MOTHER, demo_habits, demo_ledger

    now = present.now()
    store = people.begin(household="Lisbon kitchen", name=MOTHER, username="marta", password=password)
    recording.record(store, demo_ledger(now=now), now=now, person=MOTHER)
    habits.keep(store, demo_habits(now=now))
    childcare_demo.furnish(store, now=now)
    for name in (FATHER, GRANDMOTHER, CARER):
        people.add_person(store, name)
    people_demo.let_in(store, password=password, now=now)


def export(household: str | None, output: Path | None, *, force: bool, as_json: bool) -> None:
    """Write a household's events to a file or to standard output."""
    with _data():
        from thawline.services import transfer
        from thawline.services.backups import new_file

        name, store = transfer.choose(household)
        count = 0
        if output is None:
            for line in transfer.take_out(store):
                sys.stdout.write(line.decode() + "\n")
                count += 1
        else:
            with new_file(output, force=force) as part, part.open("wb") as file:
                for line in transfer.take_out(store):
                    file.write(line + b"\n")
                    count += 1
    says = f"{name}: {count} events{f' written to {output}' if output else ''}"
    found = {"household": name, "events": count, "file": None if output is None else str(output)}
    print(_told(says, found, as_json=as_json), file=sys.stderr if output is None else sys.stdout)


def table_out(asked: Out, *, fhir: bool) -> None:
    """Write a table or the health record."""
    if fhir and asked.table is not None:
        raise UsageError("Give --table or --fhir, not both.")
    with _data():
        from thawline.site import table_tasks

        table_tasks.out(asked)


def table_in(asked: In, new: str | None) -> bool:
    """Take in a table; whether every row was taken in or known."""
    if new is not None:
        raise UsageError("A table needs a household with its places: set one up first, and leave --new out.")
    with _opened(asked.file) as file, _data():
        from thawline.site import table_tasks

        return table_tasks.bring(asked, file)


def paper(asked: Paper) -> None:
    """Print a summary or a log."""
    with _data():
        from thawline.site import table_tasks

        table_tasks.paper(asked)


def _told(says: str, found: dict[str, object], *, as_json: bool) -> str:
    return json.dumps(found, ensure_ascii=False) if as_json else plain(says)


def import_(file: str, household: str | None, new: str | None, *, as_json: bool) -> bool:
    """Add a ledger's events to a household; whether every line was taken in."""
    if household is not None and new is not None:
        raise UsageError("Give --household or --new, not both.")
    with _opened(file) as lines, _data():
        from thawline.services import present, transfer

        name, store = transfer.choose(household) if new is None else transfer.bare(new)
        found = transfer.take_in(store, lines, now=present.now())
    refused = [{"event": one.event, "code": one.code, "says": one.says} for one in found.refused]
    if not as_json:
        for one in found.refused[:_SHOWN]:
            print(plain(f"{one.event}: {one.says}"), file=sys.stderr)
        if found.refused[_SHOWN:]:
            print(f"and {len(found.refused) - _SHOWN} more; --json lists them all", file=sys.stderr)
    says = f"{name}: {found.added} events added, {found.known} there already, {len(refused)} not taken in"
    counts = {"household": name, "added": found.added, "known": found.known, "refused": refused}
    print(_told(says, counts, as_json=as_json))
    return not refused


@contextmanager
def _opened(file: str) -> Iterator[BinaryIO]:
    if file == "-":
        if sys.stdin is None:
            raise UsageError("standard input is closed: name a ledger file")
        yield sys.stdin.buffer
        return
    try:
        opened = Path(file).open("rb")  # noqa: SIM115  (closed below; only opening it is caught here)
    except (OSError, ValueError) as fault:
        raise UsageError(f"{file}: {getattr(fault, 'strerror', None) or fault}") from fault
    with opened:
        yield opened


def backup(file: Path, *, force: bool, as_json: bool) -> None:
    """Copy the database to a file."""
    with _data():
        from thawline.services import backups

        found = backups.back_up(file, force=force)
    counts = {"file": str(file), "households": found.households, "events": found.events}
    says = f"{file}: {found.events} events of {found.households} households, checked"
    print(_told(says, counts, as_json=as_json))


def restore(file: Path, *, as_json: bool) -> None:
    """Put a backup in the place of the database."""
    with _data(alone=True, tables=False):
        from thawline.services import backups

        found, kept = backups.put_back(file)
    counts: dict[str, object] = {"households": found.households, "events": found.events}
    counts["kept"] = None if kept is None else str(kept)
    says = f"{found.events} events of {found.households} households are back"
    print(_told(says if kept is None else f"{says}; what was there before: {kept}", counts, as_json=as_json))


def password(name: str, ask: Callable[[], str]) -> None:
    """Set a new password, asked for twice where somebody sits there, else read from standard input."""
    with _data():
        from thawline.services import passwords

        passwords.known(name)
        given = ask() if sys.stdin.isatty() else sys.stdin.readline().rstrip("\r\n")
        passwords.reset(name, given)
    print(plain(f"{name} has a new password and is signed out everywhere."))


def remind(*, once: bool, as_json: bool) -> None:
    """Send the reminders that are due: once, or each minute until Ctrl-C."""
    with _data():
        from thawline.services import reminders_way
        from thawline.site import reminding

        offered = reminders_way.offered()
        if offered != "yes":
            raise UsageError(_NO_REMINDERS[offered])
        sent = reminding.once()
        print(_told(f"{sent} reminders sent", {"sent": sent}, as_json=as_json), flush=True)
        if not once:
            _until_stopped(reminding.EVERY, reminding.once)


def _until_stopped(every_s: float, look: Callable[[], object]) -> None:
    stopped = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stopped.set())
    while not stopped.wait(every_s):
        look()


def labels(asked: Asked, codes: Sequence[str], address: str) -> bool:
    """Print labels to a file; whether every container was at hand."""
    with _data():
        from thawline.site import sheet_tasks

        return sheet_tasks.labels(asked, codes, address)


def blank_labels(asked: Asked) -> None:
    """Print labels to write on."""
    with _data():
        from thawline.site import sheet_tasks

        sheet_tasks.blank(asked)


def label_stock() -> None:
    """List the label stock that comes with the program."""
    with _data():
        from thawline.site import sheet_tasks

        sheet_tasks.stock_list()
