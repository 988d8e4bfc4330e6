"""Settings: the childcare services that milk is handed to."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from thawline.faces.handing import UNUSED
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.views.settings_kit import Form
from thawline.services import childcare
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_facts import chosen, facts
from thawline.services.people import CannotError


@require_GET
def page(request: Request) -> HttpResponse:
    """The services on the list."""
    found = [_line(one) for one in childcare.services(request.home.store)]
    return render(request, "web/services.html", {"services": found})


def _line(one: ServiceNow) -> dict[str, Any]:
    rule = chosen(one.rule)
    return {
        "name": one.name, "url": _url(one.name), "rule": rule.name if rule is not None else "",
        "closes": one.closes, "staff": ", ".join(one.staff),
    }  # fmt: skip


def _url(name: str) -> str:
    return f"{reverse('web:service')}?{urlencode({'name': name})}"


@require_http_methods(["GET", "POST"])
def one(request: Request) -> HttpResponse:
    """A service: a new one, or another description of one that is there."""
    sent = request.POST if request.method == "POST" else request.GET
    name = sent.get("name", "")
    known = childcare.service(request.home.store, name) if name and "\0" not in name else None
    if name and known is None:
        raise Http404
    if request.method != "POST":
        return _form(request, known, Form(_kept(request, known)))
    form = Form(request.POST.dict())
    try:
        if known is not None and "take_off" in request.POST:
            return _taken_off(request, known)
        done = _keep(request, known, form)
    except CannotError as fault:
        form.wrong("service" if known is None else "rule", _(str(fault)))
        done = ""
    return HttpResponseRedirect(_url(done)) if done and not form.errors else _form(request, known, form)


def _taken_off(request: Request, known: ServiceNow) -> HttpResponse:
    if request.POST.get("sure") != "yes":
        return render(request, "web/service_off.html", {"service": known, "url": _url(known.name)})
    childcare.take_off(request.home.store, known.name)
    return HttpResponseRedirect(reverse("web:services"))


def _keep(request: Request, known: ServiceNow | None, form: Form) -> str:
    """The name of the service that was kept; empty where something is to be mended; raises `CannotError`."""
    name = known.name if known is not None else form.text("service", _("Write the name of the service."))
    temp_c = form.temp("temp", words_of(request).temp)
    if form.errors:
        return ""
    more: dict[str, Any] = {
        "rule": form.sent.get("rule", ""), "closes": form.sent.get("closes", "").strip()[:5],
        "calls": form.sent.get("calls", ""), "temp_c": temp_c, "by": request.who, "now": request.now,
    }  # fmt: skip
    store = request.home.store
    if known is None:
        known = childcare.add(store, name, **more)
    else:
        childcare.change(store, name, **more)
    if "freezer" in form.sent:
        childcare.give_freezer(store, known, by=request.who, now=request.now)
    return known.name


def _kept(request: Request, known: ServiceNow | None) -> dict[str, str]:
    if known is None:
        return {}
    store, now = request.home.store, request.now
    temp_c = childcare.temperature(store, known, now=now)
    return {
        "rule": known.rule, "closes": known.closes, "calls": known.calls,
        "temp": "" if temp_c is None else words_of(request).c(temp_c),
        **({"freezer": "yes"} if childcare.has_freezer(store, known, now=now) else {}),
    }  # fmt: skip


def _form(request: Request, known: ServiceNow | None, form: Form) -> HttpResponse:
    rules = [{"value": key, "label": name, "says": str(UNUSED[facts(key).unused])}
             for key, name in childcare.rules_shipped().items()]  # fmt: skip
    rules.append(
        {"value": "", "label": _("None of these, or not known yet"), "says": _("Ask the service for its rule.")}
    )
    has = known is not None and childcare.has_freezer(request.home.store, known, now=request.now)
    context = {
        "service": known, "rules": rules, "sent": form.sent, "errors": form.errors, "problems": form.problems,
        "unit": f"°{words_of(request).temp}", "has_freezer": has,
        "invite_url": _invite_url(known) if known is not None else "",
    }  # fmt: skip
    return render(request, "web/service.html", context, status=422 if form.errors else 200)


def _invite_url(known: ServiceNow) -> str:
    return f"{reverse('web:invite')}?{urlencode({'role': 'childcare', 'service': known.name})}"


routes = [
    path("settings/services/", page, name="services"),
    path("settings/service/", one, name="service"),
]
