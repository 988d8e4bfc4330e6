"""How places without power warm behind a shut door: a picture of an estimate, and what it rests on."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.faces.request import Request
from thawline.faces.web.charts import Band, Chart, Limit, Mark, Series, chart
from thawline.faces.web.views.power_kit import asked
from thawline.faces.words import Words
from thawline.services import power
from thawline.services.power import Cut, Rules, Warming


@require_GET
def page(request: Request) -> HttpResponse:
    """A picture for each place that is or was without power."""
    here = asked(request)
    rules = power.rules(request.home.store, now=request.now)
    context: dict[str, Any] = {"charts": [], "lasts": here.lasts}
    # A compartment behind the refrigerator's door has no model of its own.
    for number, cut in enumerate([cut for cut in here.cuts if cut.kind != "freezer_compartment"], 1):
        found = power.warming(cut, start_c=power.began_at_c(request.home.store, cut, now=request.now))
        context["charts"].append((_drawn(cut, found, rules, here.words, number), _rests_on(found, here.words)))
    return render(request, "web/power_warming.html", context)


def _drawn(cut: Cut, found: Warming, rules: Rules, words: Words, number: int) -> Chart | None:
    def points(temps: tuple[float, ...]) -> list[tuple[float, float]]:
        return [(float(at), words.degrees(c)) for at, c in zip(found.at, temps, strict=True)]

    limit = Limit(words.c(rules.line_c), words.degrees(rules.line_c))
    if power.is_freezer(cut.kind):
        limit = Limit(_("no ice left"), words.degrees(found.ice_gone_c))
    return chart(
        f"warming-{number}",
        _("%(place)s, door shut: estimate") % {"place": cut.place},
        unit=f"°{words.temp}",
        series=[Series(_("likely"), points(found.likely_c))],
        bands=[Band(_("early to late"), points(found.late_c), points(found.early_c))],
        limits=[limit],
        marks=[Mark(_("now"), float(words.now)), Mark(_("hours end"), float(cut.cold_until))],
        words=words,
    )


def _rests_on(found: Warming, words: Words) -> str:
    told = _("Rests on %(kg)s kg of food in it, guessed from how full it is, a room of %(temp)s, and an average box.")
    return told % {"kg": f"{found.kg:g}", "temp": words.c(found.room_c)}
