"""The `thawline` command: hands each command to its module, loading no more than it needs."""

from __future__ import annotations

import os
import sys


def run() -> None:
    """Entry point of the installed command."""
    try:
        code = main(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader (a pager, head) has seen enough; nothing more can be written there.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 0
    sys.exit(code)


def main(arguments: list[str]) -> int:
    """Run one command; returns the exit status: 0 done, 2 where the input could not be used."""
    if arguments[:1] == ["replay"]:
        # Kept apart so that judging a ledger starts without the parts that only help texts need.
        from thawline.faces.cli.replay import replay_command  # noqa: PLC0415  (start-up time)

        return replay_command(arguments[1:])
    from thawline.faces.cli.commands import other_command  # noqa: PLC0415  (start-up time)

    return other_command(arguments)
