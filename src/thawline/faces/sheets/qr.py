"""A QR code as a square for paper: the most dirt-proof level first, modules of whole dots of a label printer."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import segno
from reportlab.lib.units import mm

# 203 dots an inch is the coarsest common label printer; three dots a module is the least its readers like.
# Both common practice, no source. Four free modules around it: ISO/IEC 18004.
DOT_PT = 72 / 203
_LEAST_DOTS, _MOST_DOTS = 3, 5
QUIET = 4
# What is restored of lost codewords: 30, 25 and 15 in 100 (ISO/IEC 18004).
_LEVELS = ("h", "q", "m")
_LARGEST_PT = 30 * mm


class Square(NamedTuple):
    """A QR code: its rows of dark and light, how wide a module and the whole with its free edge are, in points."""

    rows: tuple[bytes, ...]
    level: str
    module_pt: float
    side_pt: float

    def runs(self) -> Iterator[tuple[float, float, float]]:
        """Dark stretches: from the left, from the top and how long, in points."""
        for number, row in enumerate(self.rows):
            start: int | None = None
            for column, dark in enumerate([*row, 0]):
                if dark and start is None:
                    start = column
                elif not dark and start is not None:
                    yield ((start + QUIET) * self.module_pt, (number + QUIET) * self.module_pt,
                           (column - start) * self.module_pt)  # fmt: skip
                    start = None


@lru_cache(maxsize=1024)
def _drawn(text: str, level: str) -> tuple[bytes, ...] | None:
    try:
        return tuple(bytes(row) for row in segno.make(text, error=level, boost_error=False, micro=False).matrix)
    except ValueError:  # more than the largest code holds
        return None


def squares(text: str, side_pt: float) -> list[Square]:
    """The QR codes of a text that fit within a side: the most dirt-proof level large and small, then lesser ones."""
    found: list[Square] = []
    for level in _LEVELS:
        rows = _drawn(text, level)
        across = 0 if rows is None else len(rows) + 2 * QUIET
        most = 0 if rows is None else min(int(min(side_pt, _LARGEST_PT) / DOT_PT / across + 1e-9), _MOST_DOTS)
        for dots in dict.fromkeys((most, _LEAST_DOTS)):
            if rows is not None and _LEAST_DOTS <= dots <= most and (not found or dots == _LEAST_DOTS):
                found.append(Square(rows, level, dots * DOT_PT, across * dots * DOT_PT))
    return found
