"""Write down how thick a bag is, or how wide a bottle: a correction of how it came in, which can be undone."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.engines.physics.spread import Shape
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.acting import act_id, allow, done, numbered, told
from thawline.faces.web.amounts import BadAmountError
from thawline.faces.web.lines import url_of
from thawline.faces.web.views.heat_kit import LONGEST_CODE, container_option, shape_choices
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import words_for
from thawline.services import board, correcting, heat
from thawline.services.acts import Act, written_now
from thawline.services.board import Board, One


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The form, and what it records; without a container, which one to measure."""
    code = request.POST.get("code") or request.GET.get("code", "")
    found = board.board(request.home.store, now=request.now)
    if not code:
        return _pick(request, found)
    one = None if "\0" in code or len(code) > LONGEST_CODE else board.one(request.home.store, code, now=request.now)
    if one is None:
        raise Http404
    if request.method == "POST":
        return _record(request, one, found)
    known = heat.kept(one, found)
    across = "" if known.across_mm is None else f"{known.across_mm:g}"
    return numbered(request) or _form(request, one, found, Form({"shape": known.shape or "", "across": across}))


def _pick(request: Request, found: Board) -> HttpResponse:
    address = reverse("web:heat_measure")
    words = words_for(found.settings.zone, request.now, found.units)
    rows = [
        (option["label"], f"{address}?{urlencode({'code': option['value']})}")
        for option in (container_option(one, words) for one in found.verdicts)
    ]
    return render(request, "web/heat_measure.html", {"picks": rows})


def _form(request: Request, one: One, found: Board, form: Form) -> HttpResponse:
    known = heat.kept(one, found)
    page = {
        "code": one.verdict.container, "back": url_of(one.verdict.container), "act": act_id(request),
        "sent": form.sent, "errors": form.errors, "problems": form.problems, "shapes": shape_choices(),
        "together": [name for name in known.together if name != one.verdict.container],
    }  # fmt: skip
    return render(request, "web/heat_measure.html", page, status=422 if form.errors else 200)


def _record(request: Request, one: One, found: Board) -> HttpResponse:
    store, now, under = request.home.store, request.now, act_id(request)
    form = Form(request.POST.dict())
    back = f"{reverse('web:heat_thaw')}?{urlencode({'code': one.verdict.container})}"
    if one.verdict.form not in ("frozen", "thawing"):
        back = url_of(one.verdict.container)
    if under is not None and store.act(under):
        return done(back, under)
    shape: Shape = "flat" if form.choice("shape", ("flat", "upright")) == "flat" else "upright"
    across = _across(form)
    if under is None:
        form.wrong("across", _("This form is too old. Please fill it in again."))
    if form.errors or under is None or across is None:
        return _form(request, one, found, form)

    def make() -> Act | None:
        at = written_now(now, found.settings.zone)
        # Another phone may have mended the same event since the page was made: look again at what counts.
        again = board.one(store, one.verdict.container, now=now) or one
        return heat.measure(store, again, shape=shape, across_mm=across, under=under, by=request.who, at=at)

    return _kept(request, one, found, form, make(), back)


def _across(form: Form) -> float | None:
    given = form.sent.get("across", "").strip()
    if not given:
        form.wrong("across", _("Write how thick or how wide it is."))
        return None
    try:
        return amounts.length_mm(given)
    except BadAmountError as fault:
        form.wrong("across", str(fault))
        return None


def _kept(request: Request, one: One, found: Board, form: Form, act: Act | None, back: str) -> HttpResponse:
    store, now = request.home.store, request.now
    if act is None:
        return _again(request, one, found, form, [_("How it came in is not known, so its measure can't be kept.")])
    allow(request, act.events)
    seen = correcting.look_ahead(store, act.events, now=now)
    if seen.refused:
        return _again(request, one, found, form, [told(refusal) for refusal in seen.refused])
    correcting.record_once(store, act.id, lambda: act, now=now, person=request.home.member)
    return done(back, act.id)


def _again(request: Request, one: One, found: Board, form: Form, says: Sequence[str]) -> HttpResponse:
    form.wrong("across", *says)
    return _form(request, one, found, form)
