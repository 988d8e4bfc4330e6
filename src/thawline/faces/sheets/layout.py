"""Where what a label bears lies on it: smaller, then shorter, then without what matters least, never over the edge.

A label is laid out as if it were wider than high; lengths are points, from the upper left corner down and right.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from django.utils.translation import gettext as _
from reportlab.lib.units import mm

from thawline.faces.sheets import fonts
from thawline.faces.sheets.label_words import Part, Piece, amount, pieces
from thawline.faces.sheets.qr import Square, squares
from thawline.faces.words import Words
from thawline.services.labels import Label

LEAST_PT = 6.5
# A capital of 5 mm is read at arm's length; common practice, no source.
CAP_PT = 5 * mm
# What gives way, the first first. Never: code, expressed, child, warning, QR code, what a rule asks for.
GIVES_WAY = ("form", "best_by", "thawed", "frozen", "left_freezer", "amount", "use_by")
# Room to write by hand, and where there is little.
_WRITE_PT, _WRITE_LITTLE_PT = 5.5 * mm, 4.4 * mm
_WRITE_LEAST_PT = 15 * mm
_GAP_PT = 0.8 * mm
_LEADING = 1.2
_COLUMN_LEAST_PT = 16 * mm


class Text(NamedTuple):
    """A line of text, `y` where it stands; white where it lies on a bar."""

    x: float
    y: float
    text: str
    size: float
    bold: bool
    white: bool = False


class Rule(NamedTuple):
    """A line to write on."""

    x: float
    y: float
    length: float


class Bar(NamedTuple):
    """A black bar behind words of warning."""

    x: float
    y: float
    width: float
    height: float


class Laid(NamedTuple):
    """A label laid out; `gone` names what had no room, `cut` says that a name or code did not fit whole."""

    texts: tuple[Text, ...]
    rules: tuple[Rule, ...]
    bars: tuple[Bar, ...]
    qr: Square | None
    qr_x: float
    qr_y: float
    gone: tuple[str, ...]
    cut: bool


class _Try(NamedTuple):
    """One way to lay a label out: the height of the code's capitals, the size of text, and short dates."""

    cap: float
    size: float
    short: bool
    write: float = _WRITE_PT
    cut: bool = False


def _tries(height: float) -> list[_Try]:
    """Ways to lay out, the most legible first; if the last does not fit, none does."""
    large = max(CAP_PT, min(0.28 * height, 9 * mm))
    found = [_Try(large, size, short=False) for size in (11, 10, 9, 8)]
    found += [_Try(CAP_PT, size, short=False) for size in (10, 9, 8, 7.5, 7, 6.5)]
    return [*found, *(_Try(CAP_PT, size, short=True) for size in (8, 7.5, 7, LEAST_PT))]


# With a code of less than 5 mm: so that the use-by stays, and where nothing else helps.
_SMALLER = (_Try(4.2 * mm, 7, short=True), _Try(4.2 * mm, LEAST_PT, short=True), _Try(3.6 * mm, LEAST_PT, short=True))
# On a label to write on, as much room for the hand as there is.
_BLANK = tuple(_Try(CAP_PT, size, short=False, write=room * mm) for size, room in ((11, 9), (10, 8), (10, 7), (9, 6.2)))
_LAST = (
    *_SMALLER, _Try(3 * mm, LEAST_PT, short=True, write=_WRITE_LITTLE_PT),
    _Try(2.6 * mm, LEAST_PT, short=True, write=_WRITE_LITTLE_PT, cut=True),
)  # fmt: skip


class Told(NamedTuple):
    """What a label says, written once: pieces with long and short dates, amount without and with the form."""

    code: str
    address: str
    long: list[Piece]
    short: list[Piece]
    amount: str
    with_form: str

    def head(self, gone: tuple[str, ...]) -> str:
        """What stands beside the code."""
        return "" if "amount" in gone else self.amount if "form" in gone else self.with_form


def tell(label: Label, words: Words) -> Told:
    """A label in words."""
    dates = pieces(label, words), pieces(label, words, short=True)
    if not label.code:
        return Told("", "", *dates, _("Amount"), _("Amount"))
    return Told(label.code, label.address, *dates, amount(label, words, form=False), amount(label, words, form=True))


class _Box(NamedTuple):
    """What a label is laid out in: the column beside its QR code."""

    told: Told
    column: float
    height: float

    def rows(self, gone: tuple[str, ...], ways: Sequence[_Try] = ()) -> _Column | None:
        """The rows, as large as they may be; None where they do not fit."""
        ways = ways or (*(() if self.told.code else _BLANK), *_tries(self.height))
        last = self._row(gone, ways[-1])
        if not last.fits(self.height):
            return None
        found = (self._row(gone, way) for way in ways[:-1])
        return next((rows for rows in found if rows.fits(self.height)), last)

    def _row(self, gone: tuple[str, ...], way: _Try) -> _Column:
        return _Column(self.told, self.column, way, gone)


def lay(told: Told, width: float, height: float, *, whole: bool = False) -> Laid | None:
    """The label within a box of that size; None where not even what has to stand on it fits, or `whole`: not all.

    Its QR code is the most dirt-proof one that leaves room for everything, else the one that leaves most.
    """
    best: Laid | None = None
    for qr in _squares(told.address, width, height) if told.address else [None]:
        if best is not None and qr is not None and qr.level == "m":
            break
        box = _Box(told, width - (qr.side_pt + _GAP_PT if qr is not None else 0), height)
        found = _within(box, qr, width, whole=whole)
        if found is not None and (best is None or _lost(found) < _lost(best)):
            best = found
        if best is not None and not _lost(best):
            break
    return best


def _lost(laid: Laid) -> int:
    """How much matters of what had no room; what comes late in `GIVES_WAY` counts for all before it."""
    return sum(1 << GIVES_WAY.index(one) for one in laid.gone) + (laid.cut << len(GIVES_WAY))


def _within(box: _Box, qr: Square | None, width: float, *, whole: bool) -> Laid | None:
    gone: tuple[str, ...] = ()
    rows = box.rows(gone)
    if rows is None and not whole:
        rows, gone = _fewer(box)
    return None if rows is None else _laid(rows, qr, width, box.height, gone)


def _fewer(box: _Box) -> tuple[_Column | None, tuple[str, ...]]:
    """As much as fits, what matters most first."""
    gone: tuple[str, ...] = GIVES_WAY
    rows = box.rows(gone)
    if rows is None:
        return box.rows(gone, _LAST), gone
    for one in reversed(GIVES_WAY):
        without = tuple(other for other in gone if other != one)
        more = box.rows(without)
        if more is None and one == "use_by":
            more = box.rows(without, _SMALLER)
        # The form stands behind the amount, not alone.
        if more is not None and not (one == "form" and "amount" in gone):
            rows, gone = more, without
    return rows, gone


def _squares(text: str, width: float, height: float) -> list[Square | None]:
    """Its QR codes, two fifths of the width at most, wider only where none fits otherwise; [None] where none does."""
    found = squares(text, min(height, 0.42 * width))
    return [*(found or squares(text, min(height, width - _COLUMN_LEAST_PT)))] or [None]


def _laid(rows: _Column, qr: Square | None, width: float, height: float, gone: tuple[str, ...]) -> Laid:
    side = 0.0 if qr is None else qr.side_pt
    # What had nothing to print did not give way.
    real = tuple(one for one in gone if one in rows.wanted)
    at = width - side, (height - side) / 2
    return Laid(tuple(rows.texts), tuple(rows.rules), tuple(rows.bars), qr, *at, real, rows.cut)


class _Column:
    """The rows of a label's text, from the top."""

    def __init__(self, told: Told, width: float, way: _Try, gone: tuple[str, ...]) -> None:
        self.width, self.way = width, way
        self.y, self.cut = 0.0, False
        self.texts: list[Text] = []
        self.rules: list[Rule] = []
        self.bars: list[Bar] = []
        found = told.short if way.short else told.long
        self.wanted = {one.key for one in found} | {"form", "amount"}
        self._head(told.code, told.head(gone))
        for piece in found:
            if piece.key not in gone:
                self._piece(piece)

    def fits(self, height: float) -> bool:
        """Whether all of it lies within that height, whole unless this is the last way left."""
        return self.y <= height and (self.way.cut or not self.cut)

    def _head(self, code: str, told: str) -> None:
        if not code:
            for blank in (_("Code"), *([told] if told else [])):
                self._piece(Piece("code", (Part(blank, bold=True),), line=True))
            return
        size = self.way.cap / fonts.cap_height(1, bold=True)
        least = min(size, 9 if not self.way.cut else 7)
        size = fonts.fitted(code, width_pt=self.width, largest_pt=size, least_pt=least, bold=True)[1]
        lines = self._wrapped(code, size, bold=True, most=2)
        # Codes of capitals and figures need no room for tails and marks.
        flat = code.isascii() and code.isalnum() and code == code.upper()
        above, below = (0.74, 0.12) if flat else (0.95, 0.27)
        for line in lines:
            self.texts.append(Text(0, self.y + above * size, line, size, bold=True))
            self.y += (above + below) * size
        if told:
            self._amount(told, lines, size, self.y - below * size)

    def _amount(self, told: str, lines: list[str], size: float, y: float) -> None:
        """At the right of the code where it fits there, else below."""
        left = fonts.width(lines[-1], size, bold=True) + 2 * mm
        large = min(size, max(self.way.size * 1.2, 9))
        text, own = fonts.fitted(told, width_pt=self.width - left, largest_pt=large, least_pt=self.way.size, bold=True)
        if text == fonts.plain(told) and len(lines) == 1:
            x = self.width - fonts.width(text, own, bold=True)
            self.texts.append(Text(x, y, text, own, bold=True))
        else:
            self._part(Part(told, bold=True))

    def _piece(self, piece: Piece) -> None:
        if piece.bar:
            self._bar(piece.parts[0])
        elif piece.line:
            self._line(piece.parts[0])
        else:
            for part in piece.parts:
                self._part(part, most=2 if piece.key == "child" else None)

    def _part(self, part: Part, *, x: float = 0.0, white: bool = False, most: int | None = None) -> float:
        size = max(LEAST_PT, part.scale * self.way.size)
        for line in self._wrapped(part.text, size, bold=part.bold, most=most, width=self.width - 2 * x):
            self.texts.append(Text(x, self.y + 0.94 * size, line, size, part.bold, white))
            self.y += _LEADING * size
        return size

    def _wrapped(
        self, text: str, size: float, *, bold: bool, most: int | None = None, width: float | None = None
    ) -> list[str]:
        room = self.width if width is None else width
        lines = fonts.wrapped(text, width_pt=room, size=size, bold=bold, most=None)
        if most is not None and len(lines) > most:
            self.cut = True
            lines = fonts.wrapped(text, width_pt=room, size=size, bold=bold, most=most)
        return lines

    def _bar(self, part: Part) -> None:
        top, inside = self.y, 1.2 * mm
        self.y += 0.4 * mm
        self._part(part, x=inside, white=True)
        self.y += 0.4 * mm
        self.bars.append(Bar(0, top, self.width, self.y - top))
        self.y += 0.5 * mm

    def _line(self, part: Part) -> None:
        """Text with a line behind it, or below it where too little of the row is left."""
        size = max(LEAST_PT, self.way.size)
        lines = self._wrapped(part.text, size, bold=part.bold, most=2)
        for line in lines[:-1]:
            self.texts.append(Text(0, self.y + 0.94 * size, line, size, part.bold))
            self.y += _LEADING * size
        start = fonts.width(lines[-1], size, bold=part.bold) + 0.8 * mm
        beside = self.width - start >= _WRITE_LEAST_PT
        if not beside:
            self.texts.append(Text(0, self.y + 0.94 * size, lines[-1], size, part.bold))
            self.y += _LEADING * size
            start = 0.0
        self.y += max(self.way.write, _LEADING * size)
        base = self.y - 0.27 * size
        if beside:
            self.texts.append(Text(0, base, lines[-1], size, part.bold))
        self.rules.append(Rule(start, base, self.width - start))
