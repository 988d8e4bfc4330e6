"""Which container a label or a typed code means: forgiving of spaces, case, look-alikes; never guessing between two."""

from __future__ import annotations

from collections.abc import Collection

from thawline.services import board, childcare
from thawline.services.people import Home
from thawline.services.permissions import may

# Signs that look alike in handwriting or on a small screen, each with the one that stands for them all.
_ALIKE = str.maketrans("ILOQBSZGVWN", "11008526UMM")
_BETWEEN = str.maketrans(dict.fromkeys(" -_.:/'\N{EN DASH}\N{EM DASH}\N{RIGHT SINGLE QUOTATION MARK}", None))


def in_sight(home: Home, *, now: int) -> list[str]:
    """The containers with milk that this person may see: all, or those in the window of their service."""
    if may(home.role, "serve"):
        return childcare.in_window(home.store, home.service, now=now)
    return [one.container for one in board.board(home.store, now=now).verdicts]


def meant(home: Home, text: str, *, typed: bool, now: int) -> list[str]:
    """The codes that a text may mean in this household: one, none, or several between which only a person can tell.

    `typed` texts are read with forgiveness; what a QR code says is meant to the letter, but for its case.
    """
    there = in_sight(home, now=now)
    same = [code for code in there if _even(code) == _even(text)]
    exact = next((code for code in (text, text.upper(), _even(text)) if _known(home, code, there, now)), None)
    if exact is not None and (not typed or not same):
        return [exact]
    if same or not typed:
        return list(dict.fromkeys([*([exact] if exact else []), *same]))
    return [code for code in there if _alike(code) == _alike(text)]


def _known(home: Home, code: str, there: Collection[str], now: int) -> bool:
    """Whether there is such a container; to someone at home also one that is gone."""
    if code in there:
        return True
    at_home = bool(code) and "\0" not in code and not may(home.role, "serve")
    return at_home and board.one(home.store, code, now=now) is not None


def _even(text: str) -> str:
    """A code without case, and without what is put between its signs."""
    return text.upper().translate(_BETWEEN)


def _alike(text: str) -> str:
    """A code with one sign for all that look like it."""
    return _even(text).translate(_ALIKE)
