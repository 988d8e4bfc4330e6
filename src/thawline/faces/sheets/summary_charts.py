"""Pictures of a summary: a bar for each day or hour, drawn with shapes; every figure stands in a table beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect, String

from thawline.faces.sheets import fonts
from thawline.faces.sheets.flow import DRAWN, INK, QUIET, RULE, SECOND

_LEFT, _BELOW, _ABOVE, _SIZE = 34, 16, 12, 7.5


class Bar(NamedTuple):
    """A bar: the word under it ("" for none), its value, and what lies on top of it."""

    word: str
    value: float
    more: float = 0.0


def _step(top: float) -> float:
    """A round step that gives two to five lines."""
    if top <= 0:
        return 1.0
    size: float = 10.0 ** math.floor(math.log10(top))
    return next(size * one for one in (0.2, 0.25, 0.5, 1, 2, 2.5) if top / (size * one) <= 5)


def bars(
    values: Sequence[Bar], *, width: float, height: float = 120, unit: str = "", mean: Sequence[float | None] = ()
) -> Drawing:
    """Bars from left to right; `mean` is a line across them, None where it has no value."""
    drawing = Drawing(width, height)
    high, wide = height - _BELOW - _ABOVE, width - _LEFT
    top = max([one.value + one.more for one in values] + [one for one in mean if one is not None], default=0.0)
    step = _step(top)
    top = step * max(1, math.ceil(top / step - 1e-9))
    _scale(drawing, top, step, width, high, unit)
    each = wide / max(1, len(values))
    for number, bar in enumerate(values):
        left, room = _LEFT + number * each, min(each * 0.72, 26)
        start = left + (each - room) / 2
        low = bar.value / top * high
        if bar.value > 0:
            drawing.add(Rect(start, _BELOW, room, low, fillColor=DRAWN, strokeColor=None, strokeWidth=0))
        if bar.more > 0:
            more = bar.more / top * high
            drawing.add(Rect(start, _BELOW + low, room, more, fillColor=None, strokeColor=DRAWN, strokeWidth=0.7))
        if bar.word:
            _word(drawing, left + each / 2, _BELOW - 10, bar.word, "middle")
    _across(drawing, mean, each, top, high)
    return drawing


def _scale(drawing: Drawing, top: float, step: float, width: float, high: float, unit: str) -> None:
    for number in range(round(top / step) + 1):
        y = _BELOW + number * step / top * high
        drawing.add(
            Line(_LEFT, y, width, y, strokeColor=INK if number == 0 else RULE, strokeWidth=0.6 if number == 0 else 0.4)
        )
        _word(drawing, _LEFT - 4, y - 2.5, f"{number * step:g}", "end")
    _word(drawing, 0, high + _BELOW + 5, unit, "start")


def _across(drawing: Drawing, mean: Sequence[float | None], each: float, top: float, high: float) -> None:
    """The line of means, in pieces where it has gaps."""
    piece: list[float] = []
    for number, value in [*enumerate(mean), (len(mean), None)]:
        if value is not None:
            piece += [_LEFT + (number + 0.5) * each, _BELOW + value / top * high]
            continue
        if len(piece) >= 4:
            drawing.add(PolyLine(piece, strokeColor=SECOND, strokeWidth=1.8))
        piece = []


def _word(drawing: Drawing, x: float, y: float, text: str, anchor: str) -> None:
    drawing.add(
        String(x, y, fonts.plain(text), fontName=fonts.REGULAR, fontSize=_SIZE, fillColor=QUIET, textAnchor=anchor)
    )
