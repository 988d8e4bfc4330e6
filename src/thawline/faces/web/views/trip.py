"""A trip: what is packed now, what a cooler would hold and for how long, the list to pack by, and flying."""

from __future__ import annotations

from itertools import groupby
from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from thawline.core.times import HOUR
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views import trip_arrive, trip_pack
from thawline.faces.web.views.heat_kit import hours_text
from thawline.faces.web.views.trip_answer import PaperWords, answer, rule_of
from thawline.faces.web.views.trip_form import Asked, asked, at_hand, fields, query
from thawline.faces.web.views.trip_pack import Pick, picks
from thawline.faces.words import STEPS, Words
from thawline.services import trip, trip_milk
from thawline.services.household import zones
from thawline.services.trip_milk import PackedCooler

WHERE = {"us": gettext_lazy("United States"), "uk": gettext_lazy("United Kingdom")}
_FEW = 6


class Packed(NamedTuple):
    """A cooler with milk in it, as the page shows it."""

    name: str
    since: str
    spent: str
    until: str
    likely: str
    over: bool
    lines: list[MilkLine]
    arrive_url: str
    measure_url: str


@require_GET
def page(request: Request) -> HttpResponse:
    """What is packed, and the trip that is being thought of."""
    one = asked(request)
    last = trip.kept(request.home.preferences.get("cooler"))
    there = trip_milk.packed(request.home.store, one.board, last)
    begun = one.begun and not one.form.errors
    context: dict[str, Any] = {
        "packed": [_packed(cooler, one.words) for cooler in there],
        "begun": begun,
        "planning": begun or bool(one.form.errors) or "plan" in request.GET or not there,
        "milks": _picks(one),
        "milks_open": bool(one.chosen) or len(at_hand(one.board)) <= _FEW,
        "zones": zones(),
        "query": query(request.GET),
        **fields(one),
    }
    if begun:
        context |= answer(request, one)
    else:
        context["rule"] = rule_of(trip_milk.household_rule(one.board), one.words, None)
    return render(request, "web/trip.html", context, status=422 if one.form.errors else 200)


def _picks(one: Asked) -> list[Pick]:
    return picks(at_hand(one.board), one.words, checked={milk.container for milk in one.chosen})


def _packed(cooler: PackedCooler, words: Words) -> Packed:
    hold = cooler.held.hours if cooler.held is not None else None
    early = None if hold is None else cooler.cold_from + round(hold.early_h * HOUR)
    likely = None if hold is None else cooler.cold_from + round(hold.nominal_h * HOUR)
    name = urlencode({"name": cooler.place.name})
    return Packed(
        cooler.place.name,
        words.clock(cooler.since),
        hours_text((words.now - cooler.since) // (HOUR // 60) / 60),
        words.clock(early) if early is not None else "",
        words.clock(likely) if likely is not None else "",
        early is not None and early <= words.now,
        [milk_line(one.verdict, words, hint=_options(one.verdict, words)) for one in cooler.aboard],
        f"{reverse('web:trip_arrive')}?{urlencode({'place': cooler.place.name})}",
        f"{reverse('web:settings_place')}?{name}",
    )


def _options(found: Verdict, words: Words) -> str:
    """What may still be done with a container that gains it time, each with the place and until when."""
    use_by = found.use_by or 0
    told = [
        _("%(do)s (%(place)s) by %(by)s: then use by %(then)s.") % {
            "do": STEPS[one.do], "place": one.place, "by": words.until(one.not_after),
            "then": words.until(one.then_use_by or 0)}
        for one in found.options
        if one.place is not None and one.do in ("refrigerate", "freeze", "thaw") and (one.then_use_by or 0) > use_by
    ]  # fmt: skip
    return " ".join(told)


@require_GET
def packing_list(request: Request) -> HttpResponse:
    """What to take along, to print."""
    one = asked(request)
    if one.form.errors:
        return render(
            request,
            "web/trip.html",
            {"planning": True, "milks": _picks(one), "zones": zones(), **fields(one)},
            status=422,
        )
    found = answer(request, one._replace(words=PaperWords(*one.words)))
    held = found["held"]
    context = {
        **found,
        "query": query(request.GET),
        "packs": max(one.outfit.packs, held.needed or 0) if held.fits else one.outfit.packs,
        "grams": f"{one.outfit.pack_g:g}",
        "empty_ml": one.words.ml(one.empties.ml),
        "hands": trip.facts()["hands"],
        "blank": range(4),
    }
    return render(request, "web/trip_list.html", context)


@require_GET
def air(request: Request) -> HttpResponse:
    """What is published on flying with milk."""
    rows = groupby(trip.facts()["air"], key=lambda fact: fact["where"])
    context = {"groups": [(WHERE[where], list(found)) for where, found in rows], "words": words_of(request)}
    return render(request, "web/trip_air.html", context)


routes = [
    path("trip/", page, name="trip"),
    path("trip/list/", packing_list, name="trip_list"),
    path("trip/air/", air, name="trip_air"),
    path("trip/pack/", trip_pack.page, name="trip_pack"),
    path("trip/arrive/", trip_arrive.page, name="trip_arrive"),
]
