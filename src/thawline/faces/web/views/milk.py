"""One container: what is in it, what may be done with it, why, and its past."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods

from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, done, numbered, perform
from thawline.faces.web.views import milk_pour, milk_shown, milk_verbs
from thawline.faces.web.views.milk_sheet import Sheet
from thawline.faces.web.views.milk_verbs import Verb, title
from thawline.services.acts import Act, BadWhenError

VERBS = (*milk_verbs.VERBS, "pour")


def _sheet(request: Request, code: str | None) -> Sheet:
    return Sheet(request, request.GET.get("code", "") if code is None else code)


@require_GET
def page(request: Request, code: str | None = None) -> HttpResponse:
    """The container; names that a path cannot carry come as `?code=`."""
    sheet = _sheet(request, code)
    return render(request, "web/milk.html", {"sheet": sheet, **milk_shown.page(sheet)})


@require_http_methods(["GET", "POST"])
def do(request: Request, verb: str, code: str | None = None) -> HttpResponse:
    """The form of something done with a container, and what it records."""
    sheet = _sheet(request, code)
    if verb not in VERBS:
        raise Http404
    if request.method == "POST":
        found = act_id(request)
        if found is not None and request.home.store.act(found):
            return done(sheet.back, found)
    elif sheet.one.verdict.standing == "gone" and not sheet.one.container.away:
        return redirect(sheet.url)
    return milk_pour.answer(sheet) if verb == "pour" else _noted(sheet, verb, milk_verbs.VERBS[verb])


def _noted(sheet: Sheet, name: str, verb: Verb) -> HttpResponse:
    request = sheet.request
    if request.method != "POST":
        return numbered(request) or _form(sheet, name, ())
    if verb.needs and not any(field in sheet.sent for field in verb.needs):
        return _form(sheet, name, ())
    act: Act | None = None
    try:
        act = begin_act(request, sheet.board.settings.zone)
    except BadWhenError as fault:
        sheet.wrong("when", str(fault))
    verb.write(sheet, act or Act("", by="", at=""))
    if act is None or sheet.errors:
        return _form(sheet, name, ())
    return perform(request, act, back=sheet.back, again=lambda says: _form(sheet, name, says))


def _form(sheet: Sheet, name: str, says: Sequence[str]) -> HttpResponse:
    verb = milk_verbs.VERBS[name]
    problems = [*({"says": one} for one in says), *sheet.problems]
    page: dict[str, Any] = {
        "sheet": sheet,
        "verb": name,
        "title": title(name),
        "button": verb.button,
        "thawed": sheet.one.verdict.form in ("thawing", "thawed"),
        "fields": verb.fields(sheet),
        "when": sheet.when(),
        "problems": problems,
        "action": sheet.do_url(name),
        "guideline": ", ".join(one.name for one in sheet.guidelines),
    }
    return render(sheet.request, "web/milk_do.html", page, status=422 if problems else 200)


routes = [
    path("milk/", page, name="milk"),
    path("milk/-/<slug:verb>/", do, name="milk_do"),
    path("milk/<str:code>/", page, name="milk"),
    path("milk/<str:code>/<slug:verb>/", do, name="milk_do"),
]
