"""What a service's staff record: of milk in their window, of their own refrigerator; and taking back their own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID, uuid5

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, allow, begin_act, done, numbered, perform
from thawline.faces.web.views.care_kit import Desk, Family, families, the_family
from thawline.faces.web.views.care_verbs import VERBS
from thawline.faces.web.views.settings_kit import Form
from thawline.services import childcare, correcting
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.childcare_rules import also_of
from thawline.services.permissions import may_record
from thawline.services.recording import line_of, new_act, record

READ, ALL = "measured", "all"


@require_http_methods(["GET", "POST"])
def do(request: Request, tag: str, verb: str) -> HttpResponse:
    """The form of something done there, and what it records."""
    sent = request.POST if request.method == "POST" else request.GET
    family = the_family(request)
    if (again := _sent_before(request, family)) is not None:
        return again
    if verb == READ:
        return _read(request, family)
    if verb == ALL and request.method == "POST":
        return _all(request, family)
    if verb not in VERBS:
        raise Http404
    desk = Desk(request, sent.get("code", ""))
    if desk.deadline is None and verb != "arrived":
        raise Http404
    return _noted(desk, verb)


def _sent_before(request: Request, family: Family) -> HttpResponse | None:
    """For a form that arrives a second time: what it recorded may have left the window since."""
    number = act_id(request) if request.method == "POST" else None
    return done(family.url, number) if number is not None and request.home.store.act(number) else None


def _all(request: Request, family: Family) -> HttpResponse:
    """All that was handed over and listed on the page has arrived, each where it was said to go."""

    def again(says: Sequence[str]) -> HttpResponse:
        for one in says:
            messages.info(request, one)
        return HttpResponseRedirect(family.url)

    try:
        act = begin_act(request, family.board.settings.zone)
    except BadWhenError as fault:
        return again([_(str(fault))])
    listed = request.POST.getlist("code")
    for one in family.found:
        if one.given_to is not None and one.found.container in listed:
            act.add("received", container=one.found.container, place=one.given_to)
    return perform(request, act, back=family.url, again=again, also=also_of(family.service))


def _noted(desk: Desk, name: str) -> HttpResponse:
    request, verb = desk.request, VERBS[name]
    if request.method != "POST":
        return numbered(request) or _form(desk, name, ())
    act: Act | None = None
    try:
        act = begin_act(request, desk.board.settings.zone)
    except BadWhenError as fault:
        desk.wrong("when", _(str(fault)))
    verb.write(desk, act or Act("", by="", at=""))
    if act is None or desk.errors:
        return _form(desk, name, ())
    also = also_of(desk.family.service)
    return perform(request, act, back=desk.back, also=also, again=lambda says: _form(desk, name, says))


def _form(desk: Desk, name: str, says: Sequence[str]) -> HttpResponse:
    verb = VERBS[name]
    problems = [*({"says": one} for one in says), *desk.problems]
    context: dict[str, Any] = {
        **desk.shown(), "verb": name, "title": verb.title, "button": verb.button, "fields": verb.fields(desk),
        "when": desk.when(), "problems": problems, "action": desk.do_url(name), "act": desk.act,
        "check_url": desk.family.check_url(desk.code) if name in ("began", "ended") else "", "back_url": desk.url,
    }  # fmt: skip
    return render(desk.request, "web/care_do.html", context, status=422 if problems else 200)


def _read(request: Request, family: Family) -> HttpResponse:
    """A temperature that was read in the service's own refrigerator or freezer."""
    if request.method != "POST":
        return numbered(request) or _read_form(request, family, Form({}), ())
    form = Form(request.POST.dict())
    place = form.choice("place", [name for name, _label in _own(family)])
    temp_c = form.temp("temp", family.words.temp, _("Write the temperature that you read."))
    act: Act | None = None
    try:
        act = begin_act(request, family.board.settings.zone)
    except BadWhenError as fault:
        form.wrong("when", _(str(fault)))
    if act is None or form.errors:
        return _read_form(request, family, form, ())
    act.add("measured", place=place, temp_c=temp_c)
    answer = perform(
        request, act, back=family.url, also=also_of(family.service),
        again=lambda says: _read_form(request, family, form, says),
    )  # fmt: skip
    if request.home.store.act(act.id):
        _read_too(request, family, act)
    return answer


def _beside(request: Request, family: Family) -> list[Family]:
    """The other families whose milk lies in the same service."""
    return [one for one in families(request) if one.tag != family.tag and one.service.name == family.service.name]


def _read_too(request: Request, family: Family, act: Act) -> None:
    """The same reading for the other families that were ticked: it is one refrigerator. Once for each."""
    told, (event,) = [], act.events
    for one in _beside(request, family):
        cold = event["place"] == family.service.place
        if one.tag not in request.POST.getlist("too") or not (cold or _freezer(one)):
            continue
        too = Act(str(uuid5(UUID(act.id), one.tag)), by=one.home.member, at=act.at)
        too.add("measured", place=one.service.place if cold else one.service.freezer, temp_c=event["temp_c"])
        if one.home.store.act(too.id) or not may_record(one.home.role, too.events):
            continue
        found = record(one.home.store, [line_of(row) for row in too.events], now=request.now, person=one.home.member)
        told += [] if found.refused else [one.home.name]
    if told:
        messages.info(request, _("Noted for %(names)s as well.") % {"names": ", ".join(told)})


def _freezer(family: Family) -> bool:
    return childcare.has_freezer(family.home.store, family.service, now=family.board.now)


def _own(family: Family) -> list[tuple[str, str]]:
    rows = [(family.service.place, _("The refrigerator"))]
    if _freezer(family):
        rows.append((family.service.freezer, _("The freezer")))
    return rows


def _read_form(request: Request, family: Family, form: Form, says: Sequence[str]) -> HttpResponse:
    problems = [*({"says": one} for one in says), *form.problems]
    context = {
        "family": family, "act": act_id(request) or new_act(), "sent": form.sent, "errors": form.errors,
        "problems": problems, "unit": f"°{family.words.temp}", "action": family.do_url(READ),
        "places": [{"value": name, "label": label} for name, label in _own(family)],
        "others": _beside(request, family), "too": request.POST.getlist("too") if request.method == "POST" else None,
    }  # fmt: skip
    return render(request, "web/care_read.html", context, status=422 if problems else 200)


@require_POST
def undo(request: Request, tag: str, act: str) -> HttpResponse:
    """Take back what this worker recorded in one go; never anything else."""
    family = the_family(request)
    store, now = request.home.store, request.now
    rows = [] if "\x00" in act or len(act) > 200 else store.act(act)
    if not rows or any(row.person != request.home.member for row in rows):
        raise Http404
    under = act_id(request) or new_act()
    if store.act(under):
        return done(family.url, under)
    at = written_now(now, family.board.settings.zone)
    ids = [row.event_id for row in rows]
    taking = correcting.taking_back(store, ids, under=under, by=request.who, at=at, now=now)
    if not taking.events:
        messages.info(request, _("Nothing was left to change: it was done already."))
        return HttpResponseRedirect(family.url)
    allow(request, taking.events)
    seen = correcting.look_ahead(store, taking.events, now=now)
    if not seen.plain:
        messages.info(request, _("It can't be taken back any more: something was noted after it. Ask a parent."))
        return HttpResponseRedirect(family.url)
    correcting.record_once(store, under, lambda: taking, now=now, person=request.home.member)
    return done(family.url, under)


routes = [
    path("care/<str:tag>/undo/<str:act>/", undo, name="care_undo"),
    path("care/<str:tag>/do/<slug:verb>/", do, name="care_do"),
]
