"""The font of everything printed: which texts it can print, how wide they are, and how they are made to fit.

FiraGO, regular and bold. It is claimed for Latin (Vietnamese too), Greek, Cyrillic and Georgian: scripts that need no
shaping. What it lacks is told by `missing`, never printed as a guess. Widths and sizes are in points (1/72 inch).
"""

from __future__ import annotations

import io
import math
import threading
from bisect import bisect_right
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from itertools import accumulate
from typing import IO, Any

import pymupdf_fonts
from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from thawline.faces.letters import HARD, claimed, composed

REGULAR, BOLD = "Sheet", "Sheet-Bold"
_SOURCES = {REGULAR: "figo", BOLD: "figbo"}
_DOTS = "…"
# Stands where a character cannot be printed, so that nobody takes a shortened text for the whole one.
_GAP = "□"
_lock = threading.RLock()
# Streams as they are: encoded for paths that lose a bit they take a quarter more room, and time.
rl_config.useA85 = 0


@lru_cache
def _faces() -> dict[str, Any]:
    with _lock:
        faces = {name: TTFont(name, io.BytesIO(pymupdf_fonts.myfont(code))) for name, code in _SOURCES.items()}
        for face in faces.values():
            pdfmetrics.registerFont(face)
        pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
        return faces


def register() -> None:
    """Make both fonts known to the library, once; needed before anything else draws with `REGULAR` or `BOLD`."""
    _faces()


def _face(*, bold: bool) -> Any:  # noqa: ANN401  (the library ships no types)
    return _faces()[BOLD if bold else REGULAR].face


def missing(text: str) -> str:
    """The characters of a text that cannot be printed, each once, in the order in which they come."""
    return "".join(dict.fromkeys(one for one in composed(text) if not _has(one)))


def printable(text: str) -> bool:
    """Whether all of a text can be printed."""
    return not missing(text)


@lru_cache(maxsize=4096)
def _has(one: str) -> bool:
    return claimed(one) and all(ord(one) in _face(bold=bold).charToGlyph for bold in (False, True))


@lru_cache(maxsize=8192)
def plain(text: str) -> str:
    """A text as it is printed: composed, on one line, with a hollow square for each character the font lacks."""
    return "".join(one if _has(one) else _GAP for one in composed(text))


def width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide `plain(text)` is at a size, both in points."""
    return _units(plain(text), bold=bold)[-1] * size / 1000


@lru_cache(maxsize=8192)
def _units(text: str, *, bold: bool) -> tuple[float, ...]:
    """How far each beginning of a printable text reaches, from none of it to all, in thousandths of the size."""
    face = _face(bold=bold)
    widths, default = face.charWidths, face.defaultWidth
    return tuple(accumulate((float(widths.get(ord(one), default)) for one in text), initial=0.0))


def cap_height(size: float, *, bold: bool = False) -> float:
    """The height of a capital at a size, both in points."""
    return float(_face(bold=bold).capHeight) * size / 1000


def rise(size: float) -> float:
    """How far a letter with its marks may reach above the line it stands on, in points."""
    return float(_face(bold=True).ascent) * size / 1000


def drop(size: float) -> float:
    """How far a letter may reach below the line it stands on, in points."""
    return -float(_face(bold=True).descent) * size / 1000


def fitted(text: str, *, width_pt: float, largest_pt: float, least_pt: float, bold: bool = False) -> tuple[str, float]:
    """The text and the largest size at which it fits: first smaller, then shortened with dots; "" where none fits."""
    text = plain(text)
    unit = width(text, 1, bold=bold)
    # Rounded down to a tenth of a point, so that it never comes out wider than it may.
    size = largest_pt if unit * largest_pt <= width_pt else math.floor(width_pt / unit * 10) / 10
    if size >= least_pt:
        return text, size
    return shortened(text, width_pt=width_pt, size=least_pt, bold=bold), least_pt


def shortened(text: str, *, width_pt: float, size: float, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits with dots behind it; "" where not even they fit."""
    text = plain(text)
    if width(text, size, bold=bold) <= width_pt:
        return text
    end = _reach(text, width_pt - width(_DOTS, size, bold=bold), size, bold=bold)
    return text[:end].rstrip() + _DOTS if end is not None else ""


def _reach(text: str, width_pt: float, size: float, *, bold: bool) -> int | None:
    """How many characters of a printable text fit; None where there is less than no room."""
    if width_pt < 0:
        return None
    return bisect_right(_units(text, bold=bold), width_pt * 1000 / size) - 1


def wrapped(text: str, *, width_pt: float, size: float, bold: bool = False, most: int | None = None) -> list[str]:
    """The text in lines that fit; a word too long for a line is cut; with `most` lines the last may end in dots."""
    lines: list[str] = []
    left = plain(text)
    while left:
        if most is not None and len(lines) == most - 1:
            return [*lines, shortened(left, width_pt=width_pt, size=size, bold=bold)]
        line, left = _first_line(left, width_pt, size, bold=bold)
        lines.append(line)
    return lines


def _first_line(text: str, width_pt: float, size: float, *, bold: bool) -> tuple[str, str]:
    end = max(1, _reach(text, width_pt, size, bold=bold) or 0)
    if end >= len(text):
        return text, ""
    breaks = (text.rfind(" ", 1, end + 1), text.rfind(HARD, 1, end + 1))
    end = next((at for at in breaks if at > 0), end)
    return text[:end].rstrip(), text[end:].lstrip()


@contextmanager
def printing() -> Iterator[None]:
    """Held while a PDF is drawn and saved: the library's fonts are shared and keep a place of reading."""
    with _lock:
        register()
        yield


@contextmanager
def opened(target: IO[bytes], size_pt: tuple[float, float], *, title: str, lang: str = "en") -> Iterator[Canvas]:
    """A canvas of that page size to draw on, saved into `target` at its end; the same drawing gives the same bytes."""
    with printing():
        canvas = Canvas(target, pagesize=size_pt, invariant=1, pageCompression=1, lang=lang, initialFontName=REGULAR)
        canvas.setTitle(title)
        canvas.setProducer("Thawline")
        yield canvas
        canvas.save()
