"""What a person asks to be printed on labels: which containers, on what stock, from which position on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from django.http import QueryDict
from django.utils.translation import gettext as _

from thawline.faces.request import Request
from thawline.faces.stock import Stock, StockError, presets, stock
from thawline.services.labels import kept_address, kept_stock
from thawline.services.people import Home

MOST_COPIES, MOST_LABELS = 20, 1000


class Wanted(NamedTuple):
    """Labels asked for; `start` is the first free position on the sheet, `copies` how many of each."""

    codes: tuple[str, ...]
    stock: Stock
    start: int
    copies: int
    outline: bool


def usual_stock(home: Home) -> str:
    """The stock the family chose, where it is one that comes with the program; else the first."""
    kept = kept_stock(home.preferences)
    return kept if kept in presets() else next(iter(presets()))


def wanted(sent: QueryDict, home: Home, *, blank: bool = False) -> Wanted:
    """What was asked for; raises `StockError`, which names the field to mend."""
    found = stock({"stock": usual_stock(home), **{key: str(value) for key, value in sent.items() if value}})
    start = 1 if found.roll else _whole(sent, "start", found.per_page)
    codes = tuple(dict.fromkeys(sent.getlist("code")))
    if blank:
        codes = ()
    elif not codes:
        raise StockError(_("Choose what to print labels for."), "code")
    copies = _whole(sent, "copies", MOST_COPIES)
    if len(codes) * copies > MOST_LABELS:
        says = _("That is too many at once: at most %(most)d labels.") % {"most": MOST_LABELS}
        raise StockError(says, "copies")
    return Wanted(codes, found, start, copies, bool(sent.get("outline")))


def _whole(sent: Mapping[str, str], field: str, most: int) -> int:
    text = (sent.get(field) or "1").strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 4 and 1 <= int(text) <= most):
        raise StockError(_("Write a whole number from 1 to %(most)d.") % {"most": most}, field)
    return int(text)


def base_of(request: Request) -> str:
    """The address that labels lead to: the family's own, else the one this page is read under."""
    return kept_address(request.home.preferences) or f"{request.scheme}://{request.get_host()}"
