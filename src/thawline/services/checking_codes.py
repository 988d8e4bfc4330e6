"""Which container a label or a typed code means: forgiving of spaces, case, look-alikes; never guessing between two."""

from __future__ import annotations

from collections.abc import Collection

from thawline.core import events as ev
from thawline.core.times import DAY
from thawline.services import board, childcare, correcting
from thawline.services.checking_why import for_child
from thawline.services.people import Home
from thawline.services.permissions import may

# What was handed over so lately counts, of so many hand-overs at most.
_LATE, _LATEST = DAY, 200  # ours
# Signs that look alike in handwriting or on a small screen, each with the one that stands for them all.
_ALIKE = str.maketrans("ILOQBSZGVWN", "11008526UMM")
_BETWEEN = str.maketrans(dict.fromkeys(" -_.:/'\N{EN DASH}\N{EM DASH}\N{RIGHT SINGLE QUOTATION MARK}", None))


def in_sight(home: Home, *, now: int) -> list[str]:
    """The containers with milk that this person may see: all, or those in the window of their service."""
    if may(home.role, "serve"):
        return childcare.in_window(home.store, home.service, now=now)
    return [one.container for one in board.board(home.store, now=now).verdicts]


def children_in_sight(home: Home, *, now: int) -> list[str]:
    """The children that this person may name: all; at childcare only those whose milk is there, or came of late.

    Milk that is for all may be for any child at home. What came of late counts too, for a bottle that is empty may
    have been given to the wrong child.
    """
    seen = board.board(home.store, now=now)
    if not may(home.role, "serve"):
        return [child.name for child in seen.children]
    names = [child.name for child in seen.children]
    came = [board.one(home.store, code, now=now) for code in _came(home, now)]
    meant_for = {one.verdict.meant_for for one in came if one is not None}
    return [
        child.name
        for child in seen.children
        if any(child.care == "home" if one is None else for_child(one, child.name, names) for one in meant_for)
    ]


def _came(home: Home, now: int) -> set[str]:
    """What stands in the window, is awaited there, or was handed over to the service of late."""
    rows = home.store.history(before=None, limit=_LATEST, kinds=("handed_over",))
    undone = home.store.voided_by([row.event_id for row in rows])
    events = [correcting.event_of(row) for row in rows if now - _LATE <= row.at <= now and row.event_id not in undone]
    handed = {one.container for one in events if isinstance(one, ev.HandedOver) and one.to == home.service}
    if childcare.service(home.store, home.service) is None:
        return set()
    return handed | set(in_sight(home, now=now)) | set(childcare.awaited(home.store, home.service, now=now))


def meant(home: Home, text: str, *, typed: bool, now: int) -> list[str]:
    """The codes that a text may mean in this household: one, none, or several between which only a person can tell.

    `typed` texts are read with forgiveness; what a QR code says is meant to the letter, but for its case.
    """
    there = in_sight(home, now=now)
    if text not in there and may(home.role, "serve") and _elsewhere(home, text, now):
        # It names milk that is not in this window: never one in it that is called nearly the same.
        return []
    same = [code for code in there if (_even(code) == _even(text) if typed else code.upper() == text.upper())]
    tries = (text, text.upper(), _even(text)) if typed else (text, text.upper())
    exact = next((code for code in tries if _known(home, code, there, now)), None)
    if exact is not None and (not typed or not same):
        return [exact]
    if same or not typed:
        return list(dict.fromkeys([*([exact] if exact else []), *same]))
    if may(home.role, "serve") and any(_elsewhere(home, code, now) for code in tries):
        return []
    return [code for code in there if _alike(code) == _alike(text)]


def awaited(home: Home, text: str, *, now: int) -> bool:
    """Whether milk that may be called so was given to this person's service, and nobody noted yet where it lies."""
    if not may(home.role, "serve"):
        return False
    return any(_alike(code) == _alike(text) for code in childcare.awaited(home.store, home.service, now=now))


def _known(home: Home, code: str, there: Collection[str], now: int) -> bool:
    """Whether there is such a container; to someone at home also one that is gone."""
    if code in there:
        return True
    return not may(home.role, "serve") and _elsewhere(home, code, now)


def _elsewhere(home: Home, code: str, now: int) -> bool:
    return bool(code) and "\0" not in code and board.one(home.store, code, now=now) is not None


def _even(text: str) -> str:
    """A code without case, and without what is put between its signs."""
    return text.upper().translate(_BETWEEN)


def _alike(text: str) -> str:
    """A code with one sign for all that look like it."""
    return _even(text).translate(_ALIKE)
