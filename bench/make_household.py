"""Make a household with an owner in an empty data folder and record a ledger's lines in it (for `bench_pages.py`)."""

from __future__ import annotations

import sys
from pathlib import Path

import django
from django.core.management import call_command


def main() -> None:
    """The ledger's path is the one argument."""
    django.setup()
    call_command("migrate", verbosity=0)
    from thawline.services import people, present, recording  # noqa: PLC0415  (needs Django set up)

    store = people.begin(household="Bench", name="Marta", username="marta", password="owl-lantern-river")  # noqa: S106
    lines = Path(sys.argv[1]).read_bytes().splitlines()
    recording.record(store, lines, now=present.now(), whole=False)


if __name__ == "__main__":
    main()
