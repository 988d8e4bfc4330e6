"""When fresh milk is cold enough to go together with cold milk."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.faces.request import Request
from thawline.faces.web.views import heat_pictures
from thawline.faces.web.views.heat_kit import Asked, about_text, hours_text, shown
from thawline.services import heat, heat_answers
from thawline.services.heat import Around, Subject

STARTS = ("body", "room")


@require_GET
def page(request: Request) -> HttpResponse:
    """The question, and its answer once a container is known."""
    asked = Asked(request, forms=("fresh",), likely="upright")
    to = asked.place("refrigerator")
    around = asked.around("refrigerator", to)
    start = asked.start(STARTS, "body")
    context = asked.context(
        places=asked.places("refrigerator"), to=to.name if to is not None else "", around=around,
        start=start, starts=asked.starts(STARTS),
    )  # fmt: skip
    subject = asked.answered
    if subject is not None:
        context |= _answer(asked, subject, around, start)
    return render(request, "web/heat_cool.html", context, status=422 if asked.errors else 200)


def _answer(asked: Asked, subject: Subject, around: Around, start: str) -> dict[str, Any]:
    words, zone = asked.words, asked.board.settings.zone
    began, there = heat.began(subject, around, asked.request.now)
    found = heat_answers.cool(subject, around, heat.start_c(start), began=began, zone=zone)
    late = found.when.late
    return {
        "found": found,
        "there": there,
        "next": None
        if there or not around.place
        else asked.then("to", _("Chill: %(place)s") % {"place": around.place}, to=around.place),
        "cold_now": there and late is not None and late <= asked.request.now,
        "since": words.clock(began),
        "shown": shown(found.when, found.air, words),
        "ice": about_text(found.ice),
        "ice_late": hours_text(found.ice.late_h),
        "to_c": words.c(found.to_c),
        "soon_c": words.c(found.soon_c),
        "rests": [*asked.size(), *asked.air(around), asked.start_rest(start)],
        "picture": heat_pictures.chilling(heat_answers.cool_course(subject, found, start), found, began, words),
    }
