"""An invented household's last four weeks, as ledger events."""

from __future__ import annotations


def demo_ledger(*, now: int, seed: int = 7) -> list[bytes]:
    """The demo household's ledger up to `now` (an instant), one JSON line an event."""
    return []
