"""What stands on a label, in words: each date by its name, and with the month in letters."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from thawline.faces.handing import stays
from thawline.faces.letters import HARD
from thawline.faces.sheets.fonts import printable
from thawline.faces.words import FORMS, Words
from thawline.services.labels import Dated, Label

DATES = {
    "use_by": gettext_lazy("Use by"),
    "expressed": gettext_lazy("Expressed"),
    "frozen": gettext_lazy("Frozen"),
    "best_by": gettext_lazy("Best by"),
    "left_freezer": gettext_lazy("Out of the freezer"),
    "received": gettext_lazy("Received"),
    "use_on": gettext_lazy("To be used on"),
    "thawed": gettext_lazy("Once thawed, at"),
}
_WARN = {
    "held": gettext_lazy("Held back: do not feed"),
    "past": gettext_lazy("Past its limit: do not feed"),
    "breached": gettext_lazy("A rule was broken: look it up first"),
    "outside": gettext_lazy("No time given: look it up first"),
}
_HOSPITAL = gettext_lazy("Follow the care team")


class Part(NamedTuple):
    """A stretch of text of one size; `scale` is its size beside the label's other text."""

    text: str
    bold: bool = False
    scale: float = 1.0


class Piece(NamedTuple):
    """What stands or falls together on a label; `line` is to be written on behind the text."""

    key: str
    parts: tuple[Part, ...]
    line: bool = False
    bar: bool = False


def stamp(dated: Dated, words: Words, *, short: bool = False) -> str:
    """A date that stays true on a label, with its year: "Wed 3 Feb 2027 07:10"; the hour that comes twice is told."""
    return _stamp(dated, words, short=short).replace(" ", HARD)


def _stamp(dated: Dated, words: Words, *, short: bool) -> str:
    at = dated.at or 0
    if dated.day_only:
        return _day(at, words, short=short)
    when = words.local(at)
    if dated.what in ("use_by", "best_by") and (when.hour, when.minute, when.second) == (0, 0, 0):
        return _("end of %(day)s") % {"day": _day(at - 1, words, short=short)}
    return f"{_day(at, words, short=short)} {words.hour(at)}"


def _day(at: int, words: Words, *, short: bool) -> str:
    return formats.date_format(words.local(at).date(), "j M Y" if short else "D j M Y")


def pieces(label: Label, words: Words, *, short: bool = False) -> list[Piece]:
    """Everything but the code and the amount, from top to bottom."""
    return list(_pieces(label, words, short=short))


def _pieces(label: Label, words: Words, *, short: bool) -> Iterator[Piece]:
    if not label.timed:
        warn = _HOSPITAL if label.hospital and label.standing == "outside" else _WARN[label.standing]
        yield Piece("warn", (Part(str(warn), bold=True),), bar=True)
    # A name the font cannot write is left to be written by hand.
    child = label.child if printable(label.child) else ""
    if label.child or label.name_line:
        yield Piece("child", (Part(child or _("Child"), bold=bool(child)),), line=label.name_line or not child)
    for dated in label.dates:
        yield _dated(dated, label, words, short=short)


def _dated(dated: Dated, label: Label, words: Words, *, short: bool) -> Piece:
    name = str(DATES[dated.what])
    if dated.at is None:
        return Piece(dated.what, (Part(name),), line=True)
    told = f"{name} {stamp(dated, words, short=short)}"
    if dated.estimated:
        told = _("%(date)s, estimated") % {"date": told}
    if dated.what != "use_by":
        return Piece(dated.what, (Part(told),))
    where = stays(label)
    return Piece("use_by", (Part(told, bold=True, scale=1.15), *((Part(where),) if where else ())))


def amount(label: Label, words: Words, *, form: bool) -> str:
    """The amount, and its form where there is room for it."""
    word = _("warmed") if label.warmed else str(FORMS[label.form]) if label.form else ""
    return f"{words.ml(label.ml)}, {word}" if form and word else words.ml(label.ml)
