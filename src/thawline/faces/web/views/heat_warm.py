"""Whether a bowl of warm water warms this bottle, and how long it takes."""

from __future__ import annotations

import math
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.formats import localize
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.engines.physics.spread import Triple
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.views import heat_pictures
from thawline.faces.web.views.heat_kit import Asked, Rest, about_text, range_text
from thawline.services import heat, heat_answers
from thawline.services.heat import Subject
from thawline.services.heat_answers import Bowl

STARTS = ("cold", "frozen", "room")
USUAL_WATER = "1"
# From this many litres on nobody measures tenths.
_MUCH_L = 5


@require_GET
def page(request: Request) -> HttpResponse:
    """The question, and its answer once a container is known."""
    asked = Asked(request, likely="upright")
    most = heat_answers.most_c()
    water = asked.number("water", amounts.water_l) or amounts.water_l(USUAL_WATER)
    water_c, to_c = asked.temp("water_c"), asked.temp("to_c")
    start = asked.start(STARTS, heat.starts_from(asked.subject, asked.board) if asked.subject and asked.one else "cold")
    context = asked.context(
        water=asked.sent.get("water") or USUAL_WATER, water_c=asked.sent.get("water_c") or asked.words.c(most),
        to_c=asked.sent.get("to_c") or asked.words.c(heat_answers.warm_to()), most=_both_units(most),
        start=start, starts=asked.starts(STARTS) if asked.one is None else [],
        walls=[{"value": "plastic", "label": _("Plastic")}, {"value": "glass", "label": _("Glass")}],
    )  # fmt: skip
    if water_c is not None and water_c < 0:
        asked.wrong("water_c", _("Water that cold is ice. Look at it once more."))
    wanted = heat_answers.warm_to() if to_c is None else to_c
    if wanted > most:
        asked.wrong("to_c", _("Milk is not warmed above %(most)s.") % {"most": _both_units(most)})
    context["problems"] = asked.problems
    subject = asked.answered
    if subject is not None:
        found = heat_answers.warm(
            subject,
            asked.start_c(start),
            water_l=water,
            water_c=most if water_c is None else water_c,
            to_c=wanted,
        )
        context |= _answer(asked, subject, found, water, start)
    return render(request, "web/heat_warm.html", context, status=422 if asked.errors else 200)


def _both_units(c: float) -> str:
    return f"{c:g} °C ({c * 9 / 5 + 32:.0f} °F)"


def litres_text(litres: float) -> str:
    """At least so much: rounded up, and to whole litres where it is much."""
    fine = math.ceil(litres * 10) / 10
    return _("%(n)s L") % {"n": localize(math.ceil(fine) if fine >= _MUCH_L or fine == int(fine) else fine)}


def _answer(asked: Asked, subject: Subject, found: Bowl, water_l: float, start: str) -> dict[str, Any]:
    words, began = asked.words, asked.request.now
    enough = "" if math.isinf(found.enough_l) else litres_text(found.enough_l)
    hotter = "" if math.isinf(found.enough_hotter_l) else litres_text(found.enough_hotter_l)
    path = heat_answers.bowl_course(subject, asked.start_c(start), found, water_l=water_l)
    water = Rest(_("Water"), _("%(l)s of %(c)s") % {"l": _litres_as_typed(water_l), "c": words.c(found.water_c)}, "")
    return {
        "found": found,
        # A bowl that neither warms nor thaws it is no next step.
        "next": asked.then("warm", _("It goes in now")) if found.reaches != "no" or found.thawed_swirled else None,
        "reaches": found.reaches,
        "settles": asked.span_c(found.settles),
        "wanted_c": words.c(found.to_c),
        "water_used": words.c(found.water_c),
        "enough": enough,
        "changed_once": found.changed_once,
        "hotter": hotter if found.water_c < heat_answers.most_c() else "",
        "thawed": _pair(found.thawed_swirled, found.thawed_still),
        "warm": _pair(found.swirled, found.still) if found.reaches != "no" else None,
        "rests": [*asked.size(lies=False), water, asked.start_rest(start)],
        "picture": heat_pictures.bowl(path, found, began, words),
    }


def _litres_as_typed(litres: float) -> str:
    return _("%(n)s L") % {"n": localize(int(litres) if litres == int(litres) else litres)}


def _pair(swirled: Triple | None, still: Triple | None) -> tuple[str, ...] | None:
    return (
        None
        if swirled is None or still is None
        else tuple(text for one in (swirled, still) for text in (range_text(one), about_text(one)))
    )
