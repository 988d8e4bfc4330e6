"""What was read and noted of a place, as far as it speaks for a span of time."""

from __future__ import annotations

from collections.abc import Sequence

from thawline.core.places import PlaceLine
from thawline.core.times import DAY

# A reading speaks for a refrigerator for a day: then somebody has to look again.
FRESH_READING = DAY


def changed(line: PlaceLine, start: int, end: int | None) -> bool:
    """Whether a place became one of another kind from `start` to `end`."""
    return any(start < at and (end is None or at < end) and kind != line.kind_at(start) for at, kind in line.kinds)


def cuts_within(line: PlaceLine, start: int, end: int | None) -> list[tuple[int, int | None]]:
    """The outages of a place that touch a span: when the power went, and when it was back."""
    return [
        (lost, back)
        for lost, back, _ in line.outages
        if (back is None or back >= start) and (end is None or lost < end)
    ]


def logged(line: PlaceLine, start: int) -> list[tuple[int, float]]:
    """The readings that speak for a place from an instant on: none older than a day, no gap longer than one.

    A reading from before the power failed says nothing of afterwards.
    """
    rows = [row for row in line.measured if row[0] <= start][-1:]
    if not rows or rows[0][0] < start - FRESH_READING or cuts_within(line, rows[0][0], start):
        return []
    for row in line.measured:
        if row[0] > start:
            if row[0] > rows[-1][0] + FRESH_READING:
                break
            rows.append(row)
    return rows


def warmest(rows: Sequence[tuple[int, float]], usual: float, fresh: int) -> float | None:
    """The warmest of some readings; where none is from `fresh` on, only what is warmer than usual counts."""
    new = any(at >= fresh for at, _ in rows)
    return max((c for _, c in rows if new or c > usual), default=None)
