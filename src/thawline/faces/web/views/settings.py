"""Settings: the household as it is described, and how the family likes things."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, done, numbered, words_of
from thawline.faces.web.views import settings_people, settings_places
from thawline.faces.web.views.settings_kit import Form, settle
from thawline.faces.web.views.setup import amount_choices, temp_choices
from thawline.faces.words import KINDS
from thawline.services import board, household, people
from thawline.services.acts import BadWhenError
from thawline.services.board import Board
from thawline.services.people import CannotError


@require_GET
def page(request: Request) -> HttpResponse:
    """Everything that may be changed."""
    store = request.home.store
    found = board.board(store, now=request.now)
    words = words_of(request)
    places = [
        {"name": one.name, "kind": KINDS[one.kind], "temp": None if one.temp_c is None else words.c(one.temp_c)}
        for one in found.places
    ]
    context = {
        "name": request.home.name, "board": found, "units": _units_text(found), "places": places,
        "children": found.children, "people": people.people(store), "owner": request.home.owner,
        "feed_first": dict(_feed_choices())[request.home.feed_first],
    }  # fmt: skip
    return render(request, "web/settings.html", context)


def _units_text(found: Board) -> str:
    labels = {one["value"]: one["label"] for one in (*amount_choices(), *temp_choices())}
    return ", ".join(labels[unit] for unit in found.units)


@require_http_methods(["GET", "POST"])
def of_household(request: Request) -> HttpResponse:
    """The household's name, zone and units."""
    found = board.board(request.home.store, now=request.now)
    if request.method == "GET":
        first = {"name": request.home.name, "zone": found.settings.zone, "amount": found.units[0],
                 "temp": found.units[1]}  # fmt: skip
        return numbered(request) or _household_page(request, Form(first))
    form = Form(request.POST.dict())
    name = form.text("name", _("Give your household a name."))
    zone = form.text("zone", _("Choose your zone."))
    if zone and not household.known_zone(zone):
        form.wrong("zone", _("This zone is not known. Write it like Europe/Lisbon."))
    units = form.choice("amount", household.AMOUNTS), form.choice("temp", household.TEMPS)
    if form.errors:
        return _household_page(request, form)
    return _change_household(request, form, found, name=name, zone=zone, units=units)


def _change_household(
    request: Request, form: Form, found: Board, *, name: str, zone: str, units: tuple[str, str]
) -> HttpResponse:  # fmt: skip
    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("name", *says)
        return _household_page(request, form)

    back = reverse("web:settings")
    try:
        act = begin_act(request, found.settings.zone)
        household.redescribe(act, found, zone=zone, units=units)
        answer = settle(request, act, back=back, again=again) if act.events else _nothing_to_note(request, back)
        # A change that is only shown yet must not rename either.
        if answer.status_code == 302 and name != request.home.name:
            people.rename(request.home.store, name)
    except (BadWhenError, CannotError) as fault:
        return again([_(str(fault))])
    return answer


def _nothing_to_note(request: Request, back: str) -> HttpResponse:
    """Back without an event; sent again after one was noted, its banner is shown again."""
    act = act_id(request) or ""
    return done(back, act) if request.home.store.act(act) else HttpResponseRedirect(back)


def _household_page(request: Request, form: Form) -> HttpResponse:
    context = {
        "act": act_id(request), "sent": form.sent, "errors": form.errors, "problems": form.problems,
        "zones": household.zones(), "amounts": amount_choices(), "temps": temp_choices(),
    }  # fmt: skip
    return render(request, "web/settings_household.html", context, status=422 if form.errors else 200)


def _feed_choices() -> list[tuple[str, str]]:
    return [
        ("chilled", _("The oldest in the refrigerator first")),
        ("oldest", _("The oldest of all first, frozen too")),
    ]


@require_http_methods(["GET", "POST"])
def feeding(request: Request) -> HttpResponse:
    """What is to be fed first."""
    form = Form(request.POST.dict())
    if request.method == "POST":
        try:
            people.prefer(request.home.store, "feed_first", request.POST.get("feed_first", ""))
            return HttpResponseRedirect(reverse("web:settings"))
        except CannotError as fault:
            form.wrong("feed_first", _(str(fault)))
    choices = [{"value": value, "label": label} for value, label in _feed_choices()]
    context = {"choices": choices, "value": request.home.feed_first, "errors": form.errors, "problems": form.problems}
    return render(request, "web/settings_feeding.html", context, status=422 if form.errors else 200)


routes = [
    path("settings/", page, name="settings"),
    path("settings/household/", of_household, name="settings_household"),
    path("settings/feeding/", feeding, name="settings_feeding"),
    *settings_places.routes,
    *settings_people.routes,
]
