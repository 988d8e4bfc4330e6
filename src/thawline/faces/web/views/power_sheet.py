"""A sheet to print before the power goes: what is in each place, the published hours, the steps, lines to write on."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from thawline.faces.request import Request
from thawline.faces.web.views.paper import places_of, stamp
from thawline.faces.web.views.power_kit import asked
from thawline.faces.web.views.power_words import FILLS, afterwards, hours_said, steps
from thawline.services import power
from thawline.services.board import hospital_only

LINES = 14


@require_GET
def page(request: Request) -> HttpResponse:
    """The sheet for the freezer's door."""
    here = asked(request)
    rules = power.rules(request.home.store, now=request.now)
    powered = power.to_lose(here.board)
    kinds = [place.kind for place in powered]
    filled = {place.name: place.milks for place in places_of(request, here.board, here.words)}
    context = {
        "printed": stamp(request.now, here.words),
        "guideline": here.board.guideline,
        "places": [
            {"name": place.name, "milks": filled.get(place.name, []), "asks_fill": power.is_freezer(place.kind)}
            for place in powered
        ],
        "fills": list(FILLS.values()),
        "hours": hours_said(rules, kinds),
        "steps_said": steps(rules, kinds=kinds, hours=False),
        "afterwards": afterwards(rules, here.words),
        "source": rules.source,
        "hospital": sorted(here.board.settings.hospital),
        "hospital_only": hospital_only(here.board),
        "lines": range(LINES),
        "unit": f"°{here.board.units[1]}",
    }
    return render(request, "web/power_sheet.html", context)
