"""Write the demo household's board into the README, so that what it shows is what the program prints."""

from __future__ import annotations

from pathlib import Path

from thawline.core.replay import moment, run
from thawline.faces.cli.table import board
from thawline.services.demo import demo_ledger

README = Path(__file__).resolve().parent.parent / "README.md"
BEGIN, END = "<!-- board: begin -->\n", "<!-- board: end -->\n"
NOW = "2027-03-11T14:20:00+00:00"


def with_board(text: str) -> str:
    """The README's text with the board as it prints now."""
    now = moment(NOW)
    shown = board(run(demo_ledger(now=now), now=now))
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    return f"{before}{BEGIN}```text\n{shown}\n```\n{END}{after}"


if __name__ == "__main__":
    README.write_text(with_board(README.read_text()))
