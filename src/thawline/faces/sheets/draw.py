"""Labels onto pages: label stock filled from a position on, each label where its stock has it."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from thawline.faces.sheets import fonts
from thawline.faces.sheets.layout import Laid, Told, lay, tell
from thawline.faces.sheets.qr import DOT_PT, Square
from thawline.faces.stock import Stock, StockError
from thawline.faces.words import Words
from thawline.services.labels import Label

_HAIR_PT = 0.25
_RULE_PT = 0.5
_OUTLINE_GREY = 0.55


class Printed(NamedTuple):
    """A PDF; `gone` names by code what had no room, `cut` and `no_qr` the codes that are shortened or lack a QR code.

    `stock` is the stock as printed: a roll's labels may have come out longer.
    """

    pdf: bytes
    stock: Stock
    gone: dict[str, tuple[str, ...]]
    cut: tuple[str, ...]
    no_qr: tuple[str, ...]
    pages: int


def printed(
    labels: Sequence[Label], words: Words, stock: Stock, *, start: int = 1, copies: int = 1, outline: bool = False,
    title: str = "Labels",
) -> Printed:  # fmt: skip
    """The labels as a PDF, from the position `start` of the first page on; raises `StockError`.

    `outline` draws each label's edge, for cutting plain paper.
    """
    with fonts.printing():
        laid, stock = _fitting([tell(one, words) for one in labels], stock)
        places = [one for one in laid for _number in range(copies)]
        first = 0 if stock.roll else start - 1
        if not 0 <= first < stock.per_page:
            raise StockError(_("There is no such position on the sheet."), "start")
        pdf, pages = _pages(places, stock, first, outline=outline, title=title)
    pairs = list(zip(labels, laid, strict=True))
    return Printed(
        pdf, stock, {label.code: one.gone for label, one in pairs if one.gone},
        tuple(label.code for label, one in pairs if one.cut),
        tuple(label.code for label, one in pairs if label.address and one.qr is None), pages,
    )  # fmt: skip


def _fitting(labels: Sequence[Told], stock: Stock) -> tuple[list[Laid], Stock]:
    """The labels laid out; those of a roll as long as the longest needs, so that all come out alike."""
    for longer in (stock.of_length(one) for one in (stock.lengths() if stock.roll else ())):
        stock = longer
        if all(one is not None for one in _all(labels, longer, whole=True)):
            break
    found = _all(labels, stock)
    laid = [one for one in found if one is not None]
    if len(laid) < len(found):
        code = next(label.code for label, one in zip(labels, found, strict=True) if one is None)
        raise StockError(_("These labels are too small for %(code)s. Choose larger ones.") % {"code": code[:40]})
    return laid, stock


def _turned(stock: Stock) -> bool:
    """Whether a label is printed on its side: where it is higher than wide."""
    return stock.height > stock.width


def _all(labels: Sequence[Told], stock: Stock, *, whole: bool = False) -> list[Laid | None]:
    wide, high = (stock.height, stock.width) if _turned(stock) else (stock.width, stock.height)
    inner = ((wide - 2 * stock.inset) * mm, (high - 2 * stock.inset) * mm)
    return [lay(one, *inner, whole=whole) for one in labels]


def _pages(places: Iterable[Laid], stock: Stock, first: int, *, outline: bool, title: str) -> tuple[bytes, int]:
    target = io.BytesIO()
    number, pages = first, 1
    with fonts.opened(target, (stock.page_width * mm, stock.page_height * mm), title=title) as canvas:
        # Scaled to the page, nothing would meet its label.
        canvas.setViewerPreference("PrintScaling", "None")
        for laid in places:
            if number == stock.per_page:
                canvas.showPage()
                number, pages = 0, pages + 1
            _label(canvas, laid, stock, number, outline=outline)
            number += 1
    return target.getvalue(), pages


def _label(canvas: Canvas, laid: Laid, stock: Stock, number: int, *, outline: bool) -> None:
    left, top = (mm * one for one in stock.corner(number))
    page = stock.page_height * mm
    if outline:
        canvas.saveState()
        canvas.setLineWidth(_HAIR_PT)
        canvas.setStrokeGray(_OUTLINE_GREY)
        canvas.rect(left, page - top - stock.height * mm, stock.width * mm, stock.height * mm, stroke=1, fill=0)
        canvas.restoreState()
    inset = stock.inset * mm
    canvas.saveState()
    if _turned(stock):
        canvas.translate(left + stock.width * mm - inset, page - top - inset)
        canvas.rotate(-90)
    else:
        canvas.translate(left + inset, page - top - inset)
    _text(canvas, laid)
    canvas.restoreState()
    if laid.qr is not None:
        _square(canvas, laid.qr, _where(laid, laid.qr, stock, left, top), page)


def _text(canvas: Canvas, laid: Laid) -> None:
    for bar in laid.bars:
        canvas.rect(bar.x, -bar.y - bar.height, bar.width, bar.height, stroke=0, fill=1)
    canvas.setLineWidth(_RULE_PT)
    for rule in laid.rules:
        canvas.line(rule.x, -rule.y, rule.x + rule.length, -rule.y)
    for one in laid.texts:
        canvas.setFont(fonts.BOLD if one.bold else fonts.REGULAR, one.size)
        canvas.setFillGray(1 if one.white else 0)
        canvas.drawString(one.x, -one.y, one.text)


def _where(laid: Laid, qr: Square, stock: Stock, left: float, top: float) -> tuple[float, float]:
    """The QR code's upper left corner from that of the page, on the dots of a printer."""
    inset = stock.inset * mm
    x, y = laid.qr_x, laid.qr_y
    if _turned(stock):
        x, y = stock.width * mm - 2 * inset - laid.qr_y - qr.side_pt, laid.qr_x
    return _snapped(left + inset + x), _snapped(top + inset + y)


def _snapped(at: float) -> float:
    return math.floor(at / DOT_PT + 1e-6) * DOT_PT


def _square(canvas: Canvas, qr: Square, at: tuple[float, float], page: float) -> None:
    path = canvas.beginPath()
    for x, y, length in qr.runs():
        path.rect(at[0] + x, page - at[1] - y - qr.module_pt, length, qr.module_pt)
    canvas.drawPath(path, stroke=0, fill=1)
