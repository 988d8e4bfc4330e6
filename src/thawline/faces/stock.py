"""Label stock by its dimensions: sheets of A4 and US Letter, narrow rolls, and a person's own; all in millimetres."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from django.utils.translation import gettext as _

from thawline.core.figures import entry, load

OWN = "own"
FIELDS = ("columns", "rows", "width", "height", "left", "top", "gap_x", "gap_y")
ROLL = "roll"
# What a sheet may be longer than the labels on it, by rounding in how stock is described.
_PLAY_MM = 0.05


class StockError(ValueError):
    """Label stock that cannot be printed on; its text says what to mend, `field` where."""

    def __init__(self, says: str, field: str = "stock") -> None:
        super().__init__(says)
        self.field = field


class Stock(NamedTuple):
    """Where labels lie on a page; a roll has one a page, and its length may grow up to `longest`."""

    id: str
    paper: str
    page_width: float
    page_height: float
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    gap_x: float
    gap_y: float
    longest: float = 0.0

    @property
    def roll(self) -> bool:
        """Whether each label is a page of its own."""
        return self.paper == ROLL

    @property
    def per_page(self) -> int:
        """How many labels a page holds."""
        return self.columns * self.rows

    @property
    def inset(self) -> float:
        """What is kept free inside a label's edge."""
        return _limit("inset_roll" if self.roll else "inset")

    @property
    def name(self) -> str:
        """Its dimensions in words."""
        if self.roll:
            return _("Roll, %(width)s mm wide") % {"width": _mm(self.width)}
        return _("%(paper)s, %(columns)s x %(rows)s, %(width)s x %(height)s mm") % {
            "paper": entry(__package__, "stock", "paper", self.paper, "name"), "columns": self.columns,
            "rows": self.rows, "width": _mm(self.width), "height": _mm(self.height)}  # fmt: skip

    def corner(self, number: int) -> tuple[float, float]:
        """The upper left corner of the label of that number on a page (from 0, row by row), from the page's own."""
        row, column = divmod(number, self.columns)
        return self.left + column * (self.width + self.gap_x), self.top + row * (self.height + self.gap_y)

    def of_length(self, height: float) -> Stock:
        """A roll cut to another length."""
        return self._replace(height=height, page_height=height)

    def lengths(self) -> list[float]:
        """The lengths that a roll's label may have, the shortest first."""
        step, count = _limit("step"), 0
        found = []
        while self.height + count * step <= max(self.longest, self.height):
            found.append(self.height + count * step)
            count += 1
        return found


def _mm(mm: float) -> str:
    return f"{round(mm, 1):g}"


def _limit(name: str) -> float:
    return float(entry(__package__, "stock", "limits", name))


def papers() -> list[tuple[str, str]]:
    """The kinds of sheets, by id and name."""
    return [(one, row["name"]) for one, row in load(__package__, "stock")["paper"].items()]


@lru_cache
def presets() -> dict[str, Stock]:
    """The stock that comes with the program, by id."""
    table = load(__package__, "stock")
    found = [_grid(row["id"], row["paper"], row) for row in table["stock"]]
    found += [_roll(row["id"], row["width"], row["height"], row["longest"]) for row in table["roll"]]
    return {one.id: one for one in found}


def _grid(name: str, paper: str, row: Mapping[str, float]) -> Stock:
    size = entry(__package__, "stock", "paper", paper)
    counts = int(row["columns"]), int(row["rows"])
    return Stock(name, paper, size["width"], size["height"], *counts, *(float(row[one]) for one in FIELDS[2:]))


def _roll(name: str, width: float, height: float, longest: float = 0.0) -> Stock:
    return Stock(name, ROLL, width, height, 1, 1, width, height, 0, 0, 0, 0, longest)


def stock(sent: Mapping[str, str]) -> Stock:
    """The stock that a form or command names: `stock` is the id of a preset, or `own` with `paper` and `FIELDS`.

    Raises `StockError`.
    """
    name = sent.get("stock") or next(iter(presets()))
    if name in presets():
        return presets()[name]
    if name != OWN:
        raise StockError(_("There is no label stock of that name. Choose one of the list, or type in your own."))
    return _own(sent)


def _own(sent: Mapping[str, str]) -> Stock:
    paper = sent.get("paper") or ""
    if paper not in (ROLL, *(one for one, _name in papers())):
        raise StockError(_("Choose a paper: A4, US Letter or a roll."), "paper")
    wanted = ("width", "height") if paper == ROLL else FIELDS
    row = {one: _number(sent.get(one) or "", one) for one in wanted}
    found = _roll(OWN, row["width"], row["height"]) if paper == ROLL else _grid(OWN, paper, row)
    return _checked(found)


def _number(text: str, field: str) -> float:
    text = text.strip().replace(",", ".") or ("0" if field in ("left", "top", "gap_x", "gap_y") else "")
    try:
        found = float(text) if text.isascii() and not text.lower().strip("0123456789.") else math.nan
    except ValueError:
        found = math.nan
    if not 0 <= found <= _limit("most"):
        raise StockError(_("Write this as a number, in millimetres."), field)
    if field in ("columns", "rows") and (found != int(found) or not 1 <= found <= 50):
        raise StockError(_("Write how many there are, as a whole number from 1 to 50."), field)
    return found


def _checked(found: Stock) -> Stock:
    least = _limit("least_width"), _limit("least_height")
    # A tall label is printed on its side.
    long, short = max(found.width, found.height), min(found.width, found.height)
    if long < least[0] or short < least[1]:
        says = _("That is too small to read: a label needs %(width)s x %(height)s mm at least.")
        raise StockError(says % {"width": _mm(least[0]), "height": _mm(least[1])}, "width")
    right = found.left + found.columns * (found.width + found.gap_x) - found.gap_x
    bottom = found.top + found.rows * (found.height + found.gap_y) - found.gap_y
    says = _("These labels need %(needs)s mm, and the paper has %(has)s mm. Measure once more.")
    if right > found.page_width + _PLAY_MM:
        raise StockError(says % {"needs": _mm(right), "has": _mm(found.page_width)}, "columns")
    if bottom > found.page_height + _PLAY_MM:
        raise StockError(says % {"needs": _mm(bottom), "has": _mm(found.page_height)}, "rows")
    return found
