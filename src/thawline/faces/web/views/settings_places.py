"""Settings: places with their temperature and power, and children with their care."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, numbered, perform, words_of
from thawline.faces.web.views.settings_kit import Form, settle
from thawline.faces.web.views.setup import care_choices
from thawline.faces.words import KINDS
from thawline.services import board, household
from thawline.services.acts import Act, BadWhenError
from thawline.services.board import Board, ChildNow, PlaceNow
from thawline.services.recording import new_act

FREEZERS = ("freezer_compartment", "freezer", "deep_freezer")
FILLS = ("full", "half", "little")
UNSURE = "unsure"


def _with_act(request: Request, found: Board, form: Form, write: Callable[[Act], None]) -> Act | None:
    """The form's act, written; None where the form has to be mended first."""
    if form.errors:
        return None
    try:
        act = begin_act(request, found.settings.zone)
    except BadWhenError as fault:
        form.wrong("when", _(str(fault)))
        return None
    write(act)
    return act


# Places


@require_http_methods(["GET", "POST"])
def place(request: Request) -> HttpResponse:
    """A place: a new one, or another kind or usual temperature for one that is there."""
    found = board.board(request.home.store, now=request.now)
    known = _place_asked(request, found)
    if request.method == "GET":
        return numbered(request) or _place_page(request, found, known, Form(_place_values(request, known)))
    form = Form(request.POST.dict())
    name = known.name if known else form.text("place", _("Give the place a name."))
    kind = form.choice("kind", KINDS)
    temp_c = form.temp("temp", found.units[1])
    if known is None and found.place(name) is not None and not _sent_before(request):
        form.wrong("place", _("There is a place of this name already."))

    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("place", *says)
        return _place_page(request, found, known, form)

    act = _with_act(request, found, form, lambda act: household.place(act, name, kind=kind, temp_c=temp_c))
    return settle(request, act, back=reverse("web:settings"), again=again) if act else again([])


def _sent_before(request: Request) -> bool:
    return bool(request.home.store.act(act_id(request) or ""))


def _place_asked(request: Request, found: Board) -> PlaceNow | None:
    name = request.POST.get("name") or request.GET.get("name")
    if not name:
        return None
    known = found.place(name)
    if known is None:
        raise Http404
    return known


def _place_values(request: Request, known: PlaceNow | None) -> dict[str, str]:
    if known is None:
        return {"kind": "refrigerator"}
    temp = "" if known.temp_c is None else words_of(request).c(known.temp_c)
    return {"kind": known.kind, "temp": temp}


def _place_page(request: Request, found: Board, known: PlaceNow | None, form: Form) -> HttpResponse:
    context = {
        "act": act_id(request), "place": known, "sent": form.sent, "errors": form.errors, "problems": form.problems,
        "kinds": [{"value": kind, "label": word} for kind, word in KINDS.items()],
        "powered": known is not None and known.kind not in ("room", "cooler"),
        "fills": _fills(known), "measured_act": new_act(), "power_act": new_act(), "unit": f"°{found.units[1]}",
    }  # fmt: skip
    return render(request, "web/settings_place.html", context, status=422 if form.errors else 200)


def _fills(known: PlaceNow | None) -> list[dict[str, str]]:
    if known is None or known.kind not in FREEZERS:
        return []
    words = {"full": _("Full"), "half": _("Half full"), "little": _("Nearly empty")}
    return [*({"value": key, "label": words[key]} for key in FILLS), {"value": UNSURE, "label": _("Not sure")}]


@require_POST
def measured(request: Request) -> HttpResponse:
    """A temperature that somebody read in a place."""
    found = board.board(request.home.store, now=request.now)
    known = _place_asked(request, found)
    if known is None:
        raise Http404
    name = known.name
    form = Form(request.POST.dict())
    temp_c = form.temp("temp_now", found.units[1], _("Write the temperature that you read."))

    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("temp_now", *says)
        form.sent = {**_place_values(request, known), **form.sent}
        return _place_page(request, found, known, form)

    act = _with_act(request, found, form, lambda act: _measure(act, name, temp_c))
    # What was read is a fact, whatever it changes.
    return perform(request, act, back=_url(name), again=again) if act else again([])


def _measure(act: Act, name: str, temp_c: float | None) -> None:
    act.add("measured", place=name, temp_c=temp_c)


@require_POST
def power(request: Request) -> HttpResponse:
    """The power of a place went off, or came back."""
    found = board.board(request.home.store, now=request.now)
    known = _place_asked(request, found)
    form = Form(request.POST.dict())
    what = request.POST.get("what", "")
    if known is None or what not in ("power_lost", "power_back"):
        raise Http404
    name, fill = known.name, form.sent.get("fill") or None
    if known.kind in FREEZERS and what == "power_lost":
        form.choice("fill", (*FILLS, UNSURE))
    fill = fill if fill in FILLS else None

    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("fill", *says)
        form.sent = {**_place_values(request, known), **form.sent}
        return _place_page(request, found, known, form)

    act = _with_act(request, found, form, lambda act: _power(act, what, name, fill))
    return perform(request, act, back=_url(name), again=again) if act else again([])


def _power(act: Act, what: str, name: str, fill: str | None) -> None:
    act.add(what, place=name, fill=fill)


def _url(name: str) -> str:
    return f"{reverse('web:settings_place')}?{urlencode({'name': name, 'act': new_act()})}"


# Children


@require_http_methods(["GET", "POST"])
def child(request: Request) -> HttpResponse:
    """A child: a new one, or another day of birth or another care for one that is there."""
    found = board.board(request.home.store, now=request.now)
    known = _child_asked(request, found)
    if request.method == "GET":
        first = {"born": known.born, "care": known.care} if known else {"care": "home"}
        return numbered(request) or _child_page(request, known, Form(first))
    form = Form(request.POST.dict())
    name = known.name if known else form.text("child", _("Write your child's name."))
    born = form.day("born", _("Choose the day of birth."), latest=board.today(found))
    care = form.choice("care", household.CARES)
    if known is None and any(one.name == name for one in found.children) and not _sent_before(request):
        form.wrong("child", _("There is a child of this name already."))

    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("child", *says)
        return _child_page(request, known, form)

    act = _with_act(request, found, form, lambda act: household.child(act, name, born=born, care=care))
    return settle(request, act, back=reverse("web:settings"), again=again) if act else again([])


def _child_asked(request: Request, found: Board) -> ChildNow | None:
    name = request.POST.get("name") or request.GET.get("name")
    if not name:
        return None
    known = next((one for one in found.children if one.name == name), None)
    if known is None:
        raise Http404
    return known


def _child_page(request: Request, known: ChildNow | None, form: Form) -> HttpResponse:
    context = {
        "act": act_id(request), "child": known, "sent": form.sent, "errors": form.errors, "problems": form.problems,
        "cares": care_choices(),
    }  # fmt: skip
    return render(request, "web/settings_child.html", context, status=422 if form.errors else 200)


routes = [
    path("settings/place/", place, name="settings_place"),
    path("settings/place/measured/", measured, name="settings_measured"),
    path("settings/place/power/", power, name="settings_power"),
    path("settings/child/", child, name="settings_child"),
]
