"""Pages of running text, tables and pictures as PDF: what the summary and the log are set with.

Sizes are in points. Text is printed as `fonts.plain` gives it; a table repeats its heading on every page.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from types import MappingProxyType
from typing import Any
from xml.sax.saxutils import escape

from django.http import HttpResponse
from django.utils.translation import gettext as _
from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import HexColor, white
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from thawline.faces.sheets import fonts

PAPERS = MappingProxyType({"a4": A4, "letter": LETTER})
_ROOM_PT, _MOST_TOGETHER = 90, 12
MARGIN, _FOOT = 16 * mm, 12 * mm
INK, QUIET, RULE, TINT, DRAWN = (HexColor(code) for code in ("#1b1a17", "#57534b", "#b9b2a4", "#f1ede4", "#4a6a8a"))
SECOND = HexColor("#c9a24b")


def _style(name: str, size: float, *, bold: bool = False, lead: float = 1.35, **more: Any) -> ParagraphStyle:  # noqa: ANN401
    font = fonts.BOLD if bold else fonts.REGULAR
    fields: dict[str, Any] = {"fontName": font, "fontSize": size, "leading": size * lead, "textColor": INK,
                              "splitLongWords": 1}  # fmt: skip
    return ParagraphStyle(name, **(fields | more))


_STYLES = {
    "title": _style("title", 19, bold=True, lead=1.2, spaceAfter=2),
    "by": _style("by", 10.5, textColor=QUIET, spaceAfter=8),
    "head": _style("head", 12.5, bold=True, spaceBefore=11, spaceAfter=4),
    "text": _style("text", 9.5, spaceAfter=3),
    "small": _style("small", 8, textColor=QUIET, spaceAfter=3),
    "item": _style("item", 9.5, leftIndent=10, bulletIndent=1, spaceAfter=2, bulletFontName=fonts.REGULAR),
    "cell": _style("cell", 8.5, lead=1.25),
    "number": _style("number", 8.5, lead=1.25, alignment=TA_RIGHT),
    "total": _style("total", 8.5, bold=True, lead=1.25),
    "total_number": _style("total_number", 8.5, bold=True, lead=1.25, alignment=TA_RIGHT),
    "column": _style("column", 8, bold=True, lead=1.2),
    "column_number": _style("column_number", 8, bold=True, lead=1.2, alignment=TA_RIGHT),
}

# By whether it is a number, and whether it is of the total.
_CELL = {(False, False): "cell", (True, False): "number", (False, True): "total", (True, True): "total_number"}


def paragraph(text: str, style: str = "text") -> Paragraph:
    """A paragraph of plain text; nothing in it is taken for markup."""
    return Paragraph(escape(fonts.plain(text)), _STYLES[style])


class Pages:
    """Pages while they are being set: text, tables and pictures one after the other."""

    def __init__(self, paper: str, *, title: str, foot: str) -> None:
        self.size = PAPERS.get(paper, A4)
        self.width = self.size[0] - 2 * MARGIN
        self.title, self.foot = title, foot
        self.story: list[Any] = []
        self._head: list[Any] = []

    def _add(self, *found: Any, together: bool = False) -> None:  # noqa: ANN401  (the library ships no types)
        """Put something below what is there; a heading never stands alone at the foot of a page."""
        head, self._head = self._head, []
        if together:
            self.story.append(KeepTogether([*head, *found]))
        else:
            self.story += [*([CondPageBreak(_ROOM_PT)] if head else []), *head, *found]

    def text(self, *texts: str, style: str = "text") -> None:
        """Paragraphs; empty ones are left out."""
        for one in filter(None, texts):
            self._add(paragraph(one, style))

    def head(self, text: str) -> None:
        """A heading, kept with what follows."""
        self._head = [paragraph(text, "head")]

    def items(self, texts: Sequence[str]) -> None:
        """A list of sentences."""
        found = [Paragraph(escape(fonts.plain(one)), _STYLES["item"], bulletText="•") for one in texts if one]
        self._add(*found, together=len(found) <= _MOST_TOGETHER)

    def picture(self, drawing: Drawing, caption: str = "") -> None:
        """A picture with its caption, on one page."""
        below = [paragraph(caption, "small")] if caption else []
        self._add(drawing, *below, Spacer(1, 3), together=True)

    def gap(self, points: float = 6) -> None:
        """Some room."""
        self.story.append(Spacer(1, points))

    def table(
        self, heads: Sequence[str], rows: Sequence[Sequence[str]], *, shares: Sequence[float],
        numbers: Sequence[int] = (), together: bool = False, total: bool = False,
    ) -> None:  # fmt: skip
        """A table; `shares` of the width by column, `numbers` the columns set to the right, `total` in the last row."""
        whole = sum(shares)
        top = [paragraph(one, "column_number" if n in numbers else "column") for n, one in enumerate(heads)]
        last = len(rows) - 1 if total else len(rows)
        body = [
            [paragraph(cell, _CELL[n in numbers, number == last]) for n, cell in enumerate(row)]
            for number, row in enumerate(rows)
        ]  # fmt: skip
        headed = [top] if any(heads) else []
        made = Table(
            [*headed, *body], colWidths=[self.width * share / whole for share in shares], repeatRows=len(headed),
            hAlign="LEFT",
        )  # fmt: skip
        made.setStyle(_LINES if headed else _PLAIN_LINES)
        self._add(made, Spacer(1, 4), together=together)

    def pdf(self) -> bytes:
        """The pages as a file; the same pages give the same bytes."""
        target = io.BytesIO()
        with fonts.printing():
            made = BaseDocTemplate(
                target, pagesize=self.size, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN,
                bottomMargin=MARGIN + _FOOT, title=self.title, producer="Thawline", invariant=1, lang="en",
                initialFontName=fonts.REGULAR,
            )  # fmt: skip
            high = self.size[1] - 2 * MARGIN - _FOOT
            frame = Frame(MARGIN, MARGIN + _FOOT, self.width, high, 0, 0, 0, 0, id="page")
            made.addPageTemplates(PageTemplate("page", [frame], onPage=self._page))
            made.build(self.story)
        return target.getvalue()

    def _page(self, canvas: Any, made: Any) -> None:  # noqa: ANN401  (the library ships no types)
        canvas.saveState()
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.5)
        canvas.line(MARGIN, MARGIN + _FOOT - 6, MARGIN + self.width, MARGIN + _FOOT - 6)
        canvas.setFillColor(QUIET)
        number = _("Page %(n)d") % {"n": made.page}
        room = self.width - fonts.width(number, 7.5) - 12
        canvas.setFont(fonts.REGULAR, 7.5)
        for line, text in enumerate(fonts.wrapped(self.foot, width_pt=room, size=7.5, most=2)):
            canvas.drawString(MARGIN, MARGIN + _FOOT - 17 - 10 * line, text)
        canvas.drawRightString(MARGIN + self.width, MARGIN + _FOOT - 17, fonts.plain(number))
        canvas.restoreState()


_PLAIN_LINES = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 5),
    ("RIGHTPADDING", (0, 0), (-1, -1), 5),
    ("TOPPADDING", (0, 0), (-1, -1), 2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
]
_LINES = [
    *_PLAIN_LINES,
    ("BACKGROUND", (0, 0), (-1, 0), TINT),
    ("LINEBELOW", (0, 0), (-1, 0), 0.9, INK),
    ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
]


def answer(pdf: bytes, name: str) -> HttpResponse:
    """A PDF for the browser to show."""
    found = HttpResponse(pdf, content_type="application/pdf")
    found.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return found


__all__ = ["DRAWN", "INK", "PAPERS", "QUIET", "RULE", "SECOND", "TINT", "Pages", "answer", "paragraph", "white"]
