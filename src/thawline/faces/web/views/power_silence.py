"""The server was off without being told to stop: was the power out? Yes, no, or at other times."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core.times import written, zone_named
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, done, numbered, perform
from thawline.faces.web.views.power_kit import Asked, asked, typed
from thawline.faces.words import Words
from thawline.services import power, pulse
from thawline.services.acts import BadWhenError
from thawline.services.pulse import Quiet
from thawline.services.recording import new_act

_FIELD = "%Y-%m-%dT%H:%M"


def question(request: Request, words: Words) -> dict[str, Any] | None:
    """For the first page: the silence that nobody has answered for this household yet."""
    found = pulse.to_ask(request.home.store, now=request.now)
    if found is None or not power.any_to_lose(request.home.store, now=request.now):
        return None
    return {**_told(found, words), "act": new_act()}


def _told(found: Quiet, words: Words) -> dict[str, Any]:
    return {
        "key": found.key,
        "start": words.clock(found.start),
        "end": words.clock(found.end),
        "out": found.out,
        "url": f"{reverse('web:power_silence')}?key={found.key}",
    }


def told(request: Request, words: Words) -> list[dict[str, Any]]:
    """Every silence of late, with what was said of it."""
    return [_told(one, words) for one in pulse.quiet(request.home.store, now=request.now)]


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The question with its times, and its answer."""
    key = request.POST.get("key") or request.GET.get("key") or ""
    every = pulse.quiet(request.home.store, now=request.now)
    found = next((one for one in every if str(one.key) == key), None)
    if found is None:
        if key or request.method == "POST":
            raise Http404
        return HttpResponseRedirect(reverse("web:power"))
    if found.out:
        # It is recorded; its times are mended where those of any cut are.
        return _recorded(request)
    if request.method == "GET":
        return numbered(request) or _page(request, asked(request), found, ())
    if request.POST.get("answer") == "no":
        pulse.answer(request.home.store, found.key, out=False)
        messages.info(request, _("Noted: the power was not out. It can be changed on the page of the power cut."))
        return HttpResponseRedirect(reverse("web:now"))
    return _yes(request, found)


def _recorded(request: Request) -> HttpResponse:
    number = act_id(request)
    back = reverse("web:power")
    return done(back, number) if number and request.home.store.act(number) else HttpResponseRedirect(back)


def _yes(request: Request, found: Quiet) -> HttpResponse:
    here = asked(request)
    store, zone = request.home.store, here.board.settings.zone

    def again(says: Sequence[str]) -> HttpResponse:
        return _page(request, here, found, says)

    try:
        act = begin_act(request, zone)
        lost = _typed(request, "lost", found.start, zone)
        back = _typed(request, "back", found.end, zone)
        power.spanned(act, here.board, here.every, lost=lost, back=back)
    except BadWhenError as fault:
        return again([_(str(fault))])
    if not act.events and not store.act(act.id):
        pulse.answer(store, found.key, out=True)
        messages.info(request, _("This cut is noted already."))
        return HttpResponseRedirect(reverse("web:power"))
    # Both are kept, or neither: what was recorded is not asked about again.
    with store.transaction():
        answer = perform(request, act, back=reverse("web:power"), again=again)
        if store.act(act.id):
            pulse.answer(store, found.key, out=True)
    return answer


def _typed(request: Request, name: str, usual: int, zone: str) -> str:
    """A time of the form as it is kept; the silence's own where the field stands as it was, or is not there."""
    here = zone_named(zone)
    text = request.POST.get(name, "").strip()
    if not text or text == _field(usual, zone):
        return written(usual - usual % 1000, here)
    return written(typed(request, name, zone), here)


def _field(at: int, zone: str) -> str:
    return Words(zone_named(zone), at).local(at).strftime(_FIELD)


def _page(request: Request, here: Asked, found: Quiet, problems: Sequence[str]) -> HttpResponse:
    zone = here.board.settings.zone
    context = {
        "act": act_id(request) or new_act(),
        "silence": _told(found, here.words),
        "lost": request.POST.get("lost") or _field(found.start, zone),
        "back": request.POST.get("back") or _field(found.end, zone),
        "latest": _field(request.now, zone),
        "problems": [{"says": says} for says in problems],
    }
    return render(request, "web/power_silence.html", context, status=422 if problems else 200)
