"""The `thawline` command: judging a ledger loads the core only, everything else what it needs."""

from __future__ import annotations

from thawline.faces.cli import main as lean


def run() -> None:
    """Entry point of the installed command."""
    lean.run(main)


def main(arguments: list[str]) -> int:
    """Run one command; returns the exit status."""
    if arguments[:1] == ["replay"]:
        return lean.main(arguments)
    from thawline.site.commands import command  # noqa: PLC0415  (start-up time)

    return command(arguments)
