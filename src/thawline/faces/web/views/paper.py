"""Paper: the board as one page to print, with lines to write on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import formats
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.core.guideline import Guideline
from thawline.core.places import FREEZERS
from thawline.core.verdict import Option, Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.views import paper_enter
from thawline.faces.words import FORMS, STANDINGS, STEPS, Words
from thawline.services.board import Board, board, hospital_only, with_options

LINES, TURNED_LINES, BLANK_MILK = 12, 22, 18
# More containers than these, and the lines to write on get the back of the sheet.
FEW = 5
# What of a guideline a helper needs at hand.
_SITUATIONS = ("fresh_room", "fresh_refrigerator", "freezer", "thawed_cold", "thawed_room", "warmed", "leftover")


class PaperMilk(NamedTuple):
    """A container's line on paper."""

    code: str
    ml_text: str
    form_word: str
    use_by: str
    best_by: str
    word: str
    estimated: bool
    doings: list[str]


class PaperPlace(NamedTuple):
    """A place and its milk, oldest first."""

    name: str
    milks: list[PaperMilk]


def stamp(at: int, words: Words, *, end: bool = False) -> str:
    """Day and time that stay true on paper: "Wed 3 Feb 14:10"; the `end` of a day is not the next one's 00:00."""
    when = words.local(at)
    if end and (when.hour, when.minute, when.second) == (0, 0, 0):
        return _("end of %(day)s") % {"day": day(at - 1, words)}
    return f"{day(at, words)} {words.hour(at)}"


def day(at: int, words: Words) -> str:
    """A day that stays true on paper: "Wed 3 Feb", with the year where it is another."""
    when, here = words.local(at), words.local(words.now)
    return str(formats.date_format(when, "D j M" if when.year == here.year else "j M Y"))


def _doings(options: Sequence[Option], use_by: int | None, words: Words) -> list[str]:
    """What may be done, the acts that share a moment together."""
    by_moment: dict[int, list[str]] = {}
    for option in options:
        by_moment.setdefault(option.not_after, []).append(str(STEPS[option.do]))
    found = []
    for moment, acts in sorted(by_moment.items()):
        told = ", ".join(acts)
        same = moment == use_by
        found.append(
            f"{told}" if same else _("%(acts)s by %(time)s") % {"acts": told, "time": stamp(moment, words, end=True)}
        )
    return found


def _milk(one: Verdict, words: Words) -> PaperMilk:
    timed = one.use_by is not None and one.standing not in ("outside", "breached")
    use_by = stamp(one.use_by, words, end=True) if timed and one.use_by is not None else ""
    ended = timed and one.use_by is not None and one.use_by <= words.now
    held = _("ended %(time)s") if ended else _("if released, %(time)s")
    before = {"past": _("ended %(time)s"), "held": held}.get(one.standing, "%(time)s")
    use_by = before % {"time": use_by} if use_by else ""
    best_by = day(one.best_by, words) if one.best_by is not None and one.best_by != one.use_by else ""
    doings = _doings(one.options, one.use_by, words)
    word = "" if one.standing in ("fine", "soon") else str(STANDINGS[one.standing])
    form = str(_("warmed") if one.warmed is not None and one.form != "frozen" else FORMS[one.form])
    return PaperMilk(
        one.container, words.ml(one.ml), form, use_by, best_by, word, one.estimated, doings
    )  # fmt: skip


def places_of(request: Request, found: Board, words: Words) -> list[PaperPlace]:
    """The places that hold milk, the warmest first, as they stand on paper."""
    full = with_options(request.home.store, [one.container for one in found.verdicts], now=request.now)
    verdicts = sorted(
        (full.get(one.container, one) for one in found.verdicts), key=lambda one: (one.dated, one.container)
    )
    order = {"room": 0, "cooler": 1, "refrigerator": 2} | dict.fromkeys(FREEZERS, 3)
    places = sorted(found.places, key=lambda place: (order[place.kind], place.name))
    return [
        PaperPlace(place.name, milks)
        for place in places
        if (milks := [_milk(one, words) for one in verdicts if one.place == place.name])
    ]


def _says(guideline: Guideline) -> list[str]:
    """The guideline's figures for everyday milk, each once."""
    rows = [row for key in _SITUATIONS for row in guideline.rows.get(key, ()) if not (row.very_clean or row.added)]
    return list(dict.fromkeys(row.says for row in rows if "own" in row.milk))


@require_GET
def page(request: Request) -> HttpResponse:
    """The sheet; `?blank=1` without milk, to fill in by hand."""
    found = board(request.home.store, now=request.now)
    words = words_of(request)
    blank = request.GET.get("blank") == "1"
    turned = blank or len(found.verdicts) > FEW
    context = {
        "blank": blank,
        "turned": turned,
        "places": [] if blank else places_of(request, found, words),
        "printed": stamp(request.now, words),
        "guideline": found.guideline,
        "also": found.also,
        "says": [] if hospital_only(found) else _says(found.guideline),
        "hospital": sorted(found.settings.hospital),
        "ticks": paper_enter.ticks(found),
        "lines": range(TURNED_LINES if turned else LINES),
        "empty_milk": range(BLANK_MILK),
    }
    return render(request, "web/paper.html", context)


routes = [path("paper/", page, name="paper"), path("paper/enter/", paper_enter.page, name="paper_enter")]
