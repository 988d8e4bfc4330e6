"""The `thawline` command: hands each command to its module, loading no more than it needs."""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Callable


def run(main: Callable[[list[str]], int]) -> None:
    """Run a command of the command line as a process: its exit status, and what happens where output ends early."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    # One short run: what it allocates lives until it ends.
    gc.disable()
    try:
        code = main(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader (a pager, head) has seen enough; nothing more can be written there.
        _mute()
        code = 0
    except OSError as fault:
        print(f"thawline: {fault.strerror or fault}: nothing more can be written", file=sys.stderr)
        _mute()
        code = 2
    except KeyboardInterrupt:
        code = 130
    sys.exit(code)


def _mute() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def main(arguments: list[str]) -> int:
    """Run one command; returns the exit status: 0 done, 2 where the input could not be used."""
    if arguments[:1] == ["replay"]:
        # Kept apart so that judging a ledger starts without the parts that only help texts need.
        _lean_import()
        from thawline.faces.cli.replay import replay_command  # noqa: PLC0415  (start-up time)

        return replay_command(arguments[1:])
    from thawline.faces.cli.commands import other_command  # noqa: PLC0415  (start-up time)

    return other_command(arguments)


def _lean_import() -> None:
    """Load msgspec without typing_extensions, which it takes where it finds it and does not need: 20 ms."""
    if "msgspec" in sys.modules or "typing_extensions" in sys.modules:
        return
    sys.modules["typing_extensions"] = None  # type: ignore[assignment]
    try:
        import msgspec  # noqa: F401, PLC0415
    finally:
        del sys.modules["typing_extensions"]
