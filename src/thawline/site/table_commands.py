"""What the command line says of tables and papers that go out or come in; the commands of papers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from thawline.site.sheet_commands import sheets


class Out(NamedTuple):
    """What goes out: a table by name (or None for the health record), from day to day, where to, and how."""

    table: str | None
    since: str
    until: str
    bom: bool
    names: bool
    household: str | None
    output: Path | None
    force: bool
    json: bool


class In(NamedTuple):
    """What comes in: the file, what is in it, and what is said of its columns and of all its rows."""

    file: str
    table: str
    columns: tuple[str, ...]
    order: str
    unit: str
    place: str
    here: bool
    leave_out: bool
    dry_run: bool
    household: str | None
    json: bool


class Paper(NamedTuple):
    """A paper: `summary` or `bank-log`, of which days or milk, on which size, into which file."""

    kind: str
    days: int
    names: bool
    which: str
    paper: str
    household: str | None
    out: Path
    force: bool


TableOut = Annotated[
    str | None, typer.Option("--table", help="a table (CSV) instead: sessions, feeds, stock or events")
]
Fhir = Annotated[bool, typer.Option("--fhir", help="feeds, weights and sessions as HL7 FHIR R5 (JSON) instead")]
Since = Annotated[str, typer.Option("--from", help="the table from this day on (2027-02-03)")]
Until = Annotated[str, typer.Option("--to", help="the table up to this day")]
Bom = Annotated[bool, typer.Option("--bom", help="begin the table with a byte order mark")]
Names = Annotated[bool, typer.Option("--names", help="with the names of children (FHIR, summary)")]
TableIn = Annotated[
    str | None, typer.Option("--table", help="the file is a table (CSV) of sessions or of stock, not a ledger")
]
Column = Annotated[
    list[str] | None,
    typer.Option(
        help="which column is which, such as date=Datum or amount=3 (numbers from 1); else as its heading says"
    ),
]
Order = Annotated[str, typer.Option(help="what stands first in a day such as 3/4: day or month")]
Unit = Annotated[str, typer.Option(help="unit of figures without one: ml, fl_oz or cl")]
Place = Annotated[str, typer.Option(help="where milk is whose row names no place")]
Here = Annotated[bool, typer.Option("--here", help="the milk of these sessions is still there; else it is gone")]
LeaveOut = Annotated[bool, typer.Option("--leave-out", help="record the good rows although others can't be read")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="say what would be recorded, and record nothing")]
_Household = Annotated[str | None, typer.Option("--household", help="the household's name; needed if there are more")]
_Out = Annotated[Path, typer.Option("--out", "-o", help="a new file for the PDF")]
_Paper = Annotated[str, typer.Option(help="a4 or letter")]
_Force = Annotated[bool, typer.Option("--force", help="replace a file that is there already")]


@sheets.command("summary")
def summary(
    out: _Out,
    days: Annotated[int, typer.Option(min=7, max=180, help="how many days back")] = 30,
    names: Names = False,
    paper: _Paper = "a4",
    household: _Household = None,
    force: _Force = False,
) -> None:
    """Print a summary for a clinician or a lactation consultant."""
    from thawline.site import tasks  # noqa: PLC0415  (a command loads Django only when it runs)

    tasks.paper(Paper("summary", days, names, "", paper, household, out, force))


@sheets.command("bank-log")
def bank_log(
    out: _Out,
    which: Annotated[
        str, typer.Option(help="frozen (milk that is there), there (all of it) or handed (over)")
    ] = "frozen",
    paper: _Paper = "a4",
    household: _Household = None,
    force: _Force = False,
) -> None:
    """Print a container log for a milk bank: facts only."""
    from thawline.site import tasks  # noqa: PLC0415  (as above)

    tasks.paper(Paper("bank-log", 0, False, which, paper, household, out, force))
