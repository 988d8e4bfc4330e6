"""The commands that serve a household and look after its data; each loads Django only when it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from thawline.faces.cli.commands import app, demo_board, other_command
from thawline.site import table_commands as tables
from thawline.site.sheet_commands import sheets

PORT = 8300
app.add_typer(sheets, name="sheets")

_Host = Annotated[str, typer.Option(help="address to listen at; 0.0.0.0 is every one of this computer")]
_Port = Annotated[int, typer.Option(help="port to listen at")]
_Household = Annotated[str | None, typer.Option("--household", help="the household's name; needed if there are more")]
_Json = Annotated[bool, typer.Option("--json", help="print what was done as one JSON object")]
_Force = Annotated[bool, typer.Option("--force", help="replace a file that is there already")]


@app.command()
def serve(
    host: _Host = "127.0.0.1",
    port: _Port = PORT,
    https: Annotated[bool, typer.Option("--https", help="serve https with the household's own certificate")] = False,
    name: Annotated[list[str] | None, typer.Option(help="another name of this computer, for its certificate")] = None,
) -> None:
    """Serve the pages to the household's phones, until Ctrl-C."""
    from thawline.site import tasks

    tasks.serve(host, port, https=https, names=name or [])


@app.command()
def demo(
    host: _Host = "127.0.0.1",
    port: _Port = PORT,
    board: Annotated[bool, typer.Option("--board", help="print the family's board instead, and stop")] = False,
    now: Annotated[str | None, typer.Option(help="print the board as of this time; else the clock's")] = None,
    ledger: Annotated[bool, typer.Option("--ledger", help="print the ledger's events instead of the board")] = False,
    guide: Annotated[str | None, typer.Option("--guideline", help="print the board under this guideline (id)")] = None,
) -> None:
    """Serve an invented family's pages from a folder that is thrown away at the end."""
    if board or ledger or now or guide:
        demo_board(now, guide, ledger=ledger)
        return
    from thawline.site import tasks

    tasks.demo(host, port)


@app.command("export")
def export(  # noqa: PLR0917  (its options)
    household: _Household = None,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="a new file; else standard output")] = None,
    force: _Force = False,
    json: _Json = False,
    table: tables.TableOut = None,
    since: tables.Since = "",
    until: tables.Until = "",
    bom: tables.Bom = False,
    fhir: tables.Fhir = False,
    names: tables.Names = False,
) -> None:
    """Write a household's ledger, one event a line (NDJSON), each as it was recorded; or a table, or FHIR."""
    from thawline.site import tasks

    if fhir or table is not None:
        tasks.table_out(tables.Out(table, since, until, bom, names, household, output, force, json), fhir=fhir)
        return
    tasks.export(household, output, force=force, as_json=json)


@app.command("import")
def import_(  # noqa: PLR0917  (its options)
    file: Annotated[str, typer.Argument(help="a ledger (NDJSON); - reads standard input")],
    household: _Household = None,
    new: Annotated[str | None, typer.Option(help="make a household of this name for it")] = None,
    json: _Json = False,
    table: tables.TableIn = None,
    column: tables.Column = None,
    order: tables.Order = "",
    unit: tables.Unit = "",
    place: tables.Place = "",
    here: tables.Here = False,
    leave_out: tables.LeaveOut = False,
    dry_run: tables.DryRun = False,
) -> None:
    """Add the events of a ledger, or with --table the rows of a table, to a household; what is there counts once."""
    from thawline.site import tasks

    if table is not None:
        columns = tuple(column or ())
        asked = tables.In(file, table, columns, order, unit, place, here, leave_out, dry_run, household, json)
        if not tasks.table_in(asked, new):
            raise typer.Exit(1)
        return
    if not tasks.import_(file, household, new, as_json=json):
        raise typer.Exit(1)


@app.command()
def backup(
    file: Annotated[Path, typer.Argument(help="a new file for the copy")], force: _Force = False, json: _Json = False
) -> None:
    """Copy the whole database to a file, also while the server runs, and check the copy."""
    from thawline.site import tasks

    tasks.backup(file, force=force, as_json=json)


@app.command()
def restore(file: Annotated[Path, typer.Argument(help="a copy made by backup")], json: _Json = False) -> None:
    """Put a backup in the place of the database; the replaced one is kept beside."""
    from thawline.site import tasks

    tasks.restore(file, as_json=json)


@app.command()
def password(name: Annotated[str, typer.Argument(help="the name used for signing in")]) -> None:
    """Set a new password for someone who forgot it, and sign that person out everywhere."""
    from thawline.site import tasks

    tasks.password(name, lambda: str(typer.prompt("New password", hide_input=True, confirmation_prompt=True)))


@app.command()
def remind(
    once: Annotated[bool, typer.Option("--once", help="look once and stop, as for a timer of the system")] = False,
    json: _Json = False,
) -> None:
    """Send the reminders that are due, where no `thawline serve` runs that does it; each goes out once."""
    from thawline.site import tasks

    tasks.remind(once=once, as_json=json)


def command(arguments: list[str]) -> int:
    """Run any command but `replay`; returns the exit status."""
    return other_command(arguments)
