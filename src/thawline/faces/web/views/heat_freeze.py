"""How to lay bags so that they freeze fast and flat, and until when one is frozen."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.core.places import FREEZERS
from thawline.faces.request import Request
from thawline.faces.web.views import heat_pictures
from thawline.faces.web.views.heat_kit import Asked, about_short, mm_text, range_short, shown, stand_choices
from thawline.services import heat, heat_answers
from thawline.services.heat import Around, Subject
from thawline.services.heat_answers import Layer

STARTS = ("cold", "room", "body")


class LayerRow(NamedTuple):
    """A way to lay bags, and how long it takes on a shelf and on a rack: likely, and the range."""

    what: str
    shelf: str
    shelf_range: str
    rack: str
    rack_range: str


@require_GET
def page(request: Request) -> HttpResponse:
    """The comparison of thicknesses, and the answer for a container."""
    asked = Asked(request, forms=("fresh", "frozen"))
    to = asked.place("deep_freezer", "freezer", "freezer_compartment")
    around = asked.around("freezer", to)
    start = asked.start(STARTS, _usual_start(asked))
    rows = heat_answers.layers(around, heat.start_c(start))
    context = asked.context(
        stands=stand_choices(), places=asked.places(*FREEZERS), to=to.name if to is not None else "", around=around,
        start=start, starts=asked.starts(STARTS), layers=[_layer_row(row) for row in rows],
        picture=heat_pictures.layers(heat_answers.layer_course(rows, around, start), asked.words),
    )  # fmt: skip
    subject = asked.answered
    if subject is not None:
        context |= _answer(asked, subject, around, start)
    context.setdefault("rests", [*asked.air(around), asked.start_rest(start)])
    return render(request, "web/heat_freeze.html", context, status=422 if asked.errors else 200)


def _usual_start(asked: Asked) -> str:
    place = asked.board.place(asked.subject.place) if asked.subject is not None else None
    return "cold" if place is None or place.kind == "refrigerator" else "body"


def _layer_row(row: Layer) -> LayerRow:
    what = mm_text(row.mm)
    if row.bags > 1:
        what = _("%(n)d of %(mm)s, stacked") % {"n": row.bags, "mm": mm_text(row.mm / row.bags)}
    cells = [text(one) for one in (row.shelf, row.rack) for text in (about_short, range_short)]
    return LayerRow(what, *cells)


def _next(asked: Asked, subject: Subject, around: Around, *, there: bool) -> dict[str, str] | None:
    if there or not around.place or subject.form == "frozen":
        return None
    return asked.then("to", _("Freeze: %(place)s") % {"place": around.place}, to=around.place)


def _answer(asked: Asked, subject: Subject, around: Around, start: str) -> dict[str, Any]:
    began, there = heat.began(subject, around, asked.request.now)
    found = heat_answers.freeze(subject, around, heat.start_c(start), began=began, zone=asked.board.settings.zone)
    return {
        "found": found,
        "there": there,
        "next": _next(asked, subject, around, there=there or found.never),
        "solid": shown(found.solid_at, found.solid, asked.words),
        "hard": shown(found.hard_at, found.hard, asked.words),
        "never": found.never,
        "hard_now": there and found.hard_at.late is not None and found.hard_at.late <= asked.request.now,
        "rests": [*asked.size(), *asked.air(around), asked.start_rest(start)],
    }
