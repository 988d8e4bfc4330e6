"""`thawline heat`: how long until milk is cold, frozen, thawed or warm; each module beside adds its questions."""

from __future__ import annotations

import typer

heat = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="How long until milk is cold, frozen, thawed or warm. Estimates: they shorten a published limit, never more.",
)
