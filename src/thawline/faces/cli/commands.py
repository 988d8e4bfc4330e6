"""`thawline guidelines`, the demo household's board, and the help of all commands."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from typing import Annotated

import typer

from thawline.core import guideline
from thawline.core.guideline import Guideline, GuidelineError
from thawline.core.replay import moment, run
from thawline.core.times import BadTimeError
from thawline.faces.cli import (  # noqa: F401  (each adds its commands)
    heat_bounds,
    heat_power,
    heat_questions,
    heat_readings,
    heat_trip,
)
from thawline.faces.cli.heat import heat
from thawline.faces.cli.outlook import outlook_command
from thawline.faces.cli.plan import plan_command
from thawline.faces.cli.replay import UNREADABLE, UsageError, read_guideline, replay_command
from thawline.faces.cli.table import board, plain, wrap
from thawline.services.demo import demo_ledger

app = typer.Typer(
    name="thawline",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="What milk is there, until when it may be used, and why. It advises; it does not replace a clinician.",
)
shelf = typer.Typer(no_args_is_help=False, rich_markup_mode=None, help="List the guidelines, show one, check a file.")
app.add_typer(shelf, name="guidelines")
app.add_typer(heat, name="heat")
app.command("plan")(plan_command)
app.command("outlook")(outlook_command)

# Typer exports no base of its errors by name; every one of them descends from this.
_ClickError: type[Exception] = next(kind for kind in typer.BadParameter.__mro__ if kind.__name__ == "ClickException")


@app.command(
    "replay",
    context_settings={"allow_extra_args": True, "ignore_unknown_options": True, "help_option_names": []},
)
def replay(context: typer.Context) -> None:
    """Judge a ledger: `thawline replay --help`."""
    raise typer.Exit(replay_command(context.args))


def demo_board(now: str | None, guide: str | None, *, ledger: bool) -> None:
    """Print an invented household's board, or its ledger, as of a time (RFC 3339); else of the clock's."""
    at = moment(now or datetime.now(UTC).isoformat())
    lines = demo_ledger(now=at)
    if ledger:
        print(b"\n".join(lines).decode())
        return
    print(board(run(lines, now=at, guideline=guide)))


@shelf.callback(invoke_without_command=True)
def shelf_list(context: typer.Context) -> None:
    """List the guidelines that come with the program."""
    if context.invoked_subcommand is None:
        for name in guideline.shipped_ids():
            found = guideline.shipped(name)
            print(f"{name:14} {found.role:10} {found.name}")


@shelf.command("show")
def shelf_show(name: Annotated[str, typer.Argument(help="guideline id, or a file")]) -> None:
    """Show a guideline's limits, bans and advice, each with its source."""
    found = guideline.shipped(name) if name in guideline.shipped_ids() else read_guideline(name)
    print("\n".join(_described(found)))


@shelf.command("check")
def shelf_check(file: Annotated[str, typer.Argument(help="a guideline file (TOML)")]) -> None:
    """Check a guideline file: one line that says what to mend, or that it can be used."""
    found = read_guideline(file)
    count = len({row.id for rows in found.rows.values() for row in rows})
    print(f"{found.id}: {count} limits, {len(found.bans)} bans: can be used")


def _described(found: Guideline) -> list[str]:
    lines = [*wrap(found.name), *wrap(found.source), *wrap(found.about), ""]
    rows = {row.id: row for rows in found.rows.values() for row in rows}
    for row in rows.values():
        text = f"{row.id}: {row.allows.count} {row.allows.unit} ({'best' if row.best else 'use'}, {row.mark})"
        lines += [*wrap(text, rest="  "), *wrap(row.says, "  ", "  "), *wrap(row.source, "  ", "  ")]
    for ban in found.bans.values():
        lines += wrap(f"not allowed: {ban.says} ({ban.mark})", rest="  ")
    for advice in found.advice:
        lines += wrap(f"advice: {advice.says} ({advice.mark})", rest="  ")
    return lines


def other_command(arguments: list[str]) -> int:
    """Run any command but `replay`; one line on standard error where something cannot be used."""
    try:
        code = app(arguments, standalone_mode=False)
    except (UsageError, GuidelineError, BadTimeError) as fault:
        return _say(str(fault))
    except _ClickError as fault:
        return _say(str(getattr(fault, "message", "") or fault))
    except typer.Abort:
        # Ctrl-C.
        return 130
    return code if isinstance(code, int) else 0


def _say(text: str) -> int:
    print("thawline: " + plain(" ".join(text.split())), file=sys.stderr)
    return UNREADABLE
