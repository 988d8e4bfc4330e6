"""The commands that print: labels, and blank ones to write on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, NamedTuple

import typer

sheets = typer.Typer(no_args_is_help=True, rich_markup_mode=None, help="Print labels, a summary or a log as PDF.")


class Asked(NamedTuple):
    """What the command line says of how to print."""

    stock: str
    start: int
    copies: int
    outline: bool
    household: str | None
    out: Path
    force: bool
    json: bool


_Out = Annotated[Path, typer.Option("--out", "-o", help="a new file for the PDF")]
_Stock = Annotated[
    str,
    typer.Option(
        help="label stock: an id such as a4-70x37 (`thawline sheets stock` lists them), or your own by its dimensions "
        "in mm: paper=a4,columns=3,rows=8,width=70,height=37,left=0,top=0.5,gap_x=0,gap_y=0 (roll: width and height)"
    ),
]
_Start = Annotated[
    int, typer.Option(min=1, max=2500, help="first free label on the sheet, row by row from the upper left")
]
_Copies = Annotated[int, typer.Option(min=1, max=20, help="how many of each")]
_Outline = Annotated[bool, typer.Option("--outline", help="draw each label's edge, to cut plain paper")]
_Household = Annotated[str | None, typer.Option("--household", help="the household's name; needed if there are more")]
_Force = Annotated[bool, typer.Option("--force", help="replace a file that is there already")]
_Json = Annotated[bool, typer.Option("--json", help="print what was done as one JSON object")]


@sheets.command("labels")
def labels(
    codes: Annotated[list[str], typer.Argument(metavar="CODE...", help="the containers, by their codes")],
    *,
    out: _Out,
    stock: _Stock = "",
    start: _Start = 1,
    copies: _Copies = 1,
    outline: _Outline = False,
    address: Annotated[str, typer.Option(help="what the labels lead to; else as set on the page")] = "",
    household: _Household = None,
    force: _Force = False,
    json: _Json = False,
) -> None:
    """Print these containers' labels; 1 where one of them is not at hand, the others are printed."""
    from thawline.site import tasks  # noqa: PLC0415  (a command loads Django only when it runs)

    asked = Asked(stock, start, copies, outline, household, out, force, json)
    if not tasks.labels(asked, codes, address):
        raise typer.Exit(1)


@sheets.command("blank")
def blank(
    *,
    out: _Out,
    stock: _Stock = "",
    start: _Start = 1,
    copies: _Copies = 1,
    outline: _Outline = False,
    household: _Household = None,
    force: _Force = False,
    json: _Json = False,
) -> None:
    """Print labels to write on, with lines for named dates: the rest of a sheet, or `--copies` of a roll."""
    from thawline.site import tasks  # noqa: PLC0415  (as above)

    tasks.blank_labels(Asked(stock, start, copies, outline, household, out, force, json))


@sheets.command("stock")
def stock_list() -> None:
    """List the label stock that comes with the program."""
    from thawline.site import tasks  # noqa: PLC0415  (as above)

    tasks.label_stock()
