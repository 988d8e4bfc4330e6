"""Labels for tests: invented ones of every kind, printed, and read back by other programs than those that drew them."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any, NamedTuple

import pdfplumber
import pypdfium2
import zxingcpp
from PIL import Image

from thawline.core.replay import moment
from thawline.core.times import HOUR
from thawline.faces.sheets.draw import Printed, printed
from thawline.faces.stock import Stock
from thawline.faces.words import Words, words_for
from thawline.services.labels import Dated, Label

NOW = moment("2027-02-03T14:00:00+00:00")
BASE = "https://192.168.178.20:8300"
PT = 72 / 25.4
DPI = 203
_QR = zxingcpp.barcode_formats_from_str("QRCode")


def words(zone: str = "Europe/Lisbon") -> Words:
    return words_for(zone, NOW)


def label(code: str = "FA37", form: str = "fresh", standing: str = "fine", **more: Any) -> Label:
    """A label as the service makes them; `extra` are further dates."""
    extra = more.pop("extra", ())
    timed = [Dated("use_by", NOW + 89 * HOUR)] if standing in ("fine", "soon") and not more.get("hospital") else []
    frozen = [Dated("frozen", NOW - 5 * HOUR), Dated("thawed", None)] if form == "frozen" else []
    given: dict[str, Any] = {
        "code": code, "address": f"{BASE}/l/abcdefgh/{code}".upper(), "ml": 120.0, "form": form, "child": "Mira",
        "name_line": False, "standing": standing, "hospital": False, "warmed": False,
        "stays": "frozen" if form == "frozen" else "refrigerator",
        "dates": (*timed, Dated("expressed", NOW - 7 * HOUR), *frozen, *extra),
    }  # fmt: skip
    return Label(**(given | more))


def every_kind() -> list[Label]:
    """One label of each kind that there is."""
    return [
        label("FA37"), label("KU94", "frozen"), label("HE43", standing="held"), label("TE44", standing="past"),
        label("KA33", "frozen", "breached"), label("MA94", standing="outside", hospital=True),
        label("YU77", "thawed", extra=(Dated("left_freezer", NOW - 9 * HOUR),)),
        label("RA77", child="Mira Costa Pereira", extra=(Dated("received", None),)),
        label("PU39", "frozen", name_line=True, extra=(Dated("received", None),)),
        label("YE99", child="", name_line=True), label("PA34", child="ليلى"),
    ]  # fmt: skip


def pdf_of(labels: list[Label], stock: Stock, **more: Any) -> Printed:
    return printed(labels, words(), stock, **more)


def pictures(pdf: bytes, dpi: float = DPI) -> list[Image.Image]:
    """The pages as a printer's dots, in grey."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=dpi / 72, grayscale=True).to_pil().convert("L") for page in document]
    finally:
        document.close()


def read_codes(picture: Image.Image) -> set[str]:
    """What an independent reader makes of the QR codes on a picture."""
    return {one.text for one in zxingcpp.read_barcodes(picture, formats=_QR)}


def code_boxes(picture: Image.Image) -> list[tuple[int, int, int, int]]:
    """Where that reader finds QR codes: left, top, right, bottom in dots, without their free edge."""
    found = []
    for one in zxingcpp.read_barcodes(picture, formats=_QR):
        at = (one.position.top_left, one.position.top_right, one.position.bottom_right, one.position.bottom_left)
        xs, ys = [corner.x for corner in at], [corner.y for corner in at]
        found.append((min(xs), min(ys), max(xs) + 1, max(ys) + 1))
    return found


class Page(NamedTuple):
    """A page of a PDF: its size, characters and rectangles; lengths in points from the upper left corner."""

    width: float
    height: float
    chars: list[dict[str, Any]]
    rects: list[dict[str, Any]]
    text: str


def pages(pdf: bytes) -> Iterator[Page]:
    """The pages as another library reads them."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            yield Page(float(page.width), float(page.height), page.chars, page.rects, page.extract_text())
