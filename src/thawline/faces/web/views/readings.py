"""Temperatures of a place: a logger's file looked through, recorded in one go, and what was recorded as a picture."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from thawline.faces.request import Request
from thawline.faces.web.acting import begin_act, perform, words_of
from thawline.faces.web.views.readings_shown import shown, within
from thawline.faces.web.views.settings_kit import Form, seen
from thawline.faces.words import KINDS
from thawline.services import readings
from thawline.services.acts import BadWhenError
from thawline.services.board import Board, PlaceNow, board
from thawline.services.readings import Answers, Parsed, Reading, UnreadableError
from thawline.services.recording import new_act

_SPANS = (1, 3, 7, 30, 365)
_ANSWERS = ("time", "temp", "day_first", "unit", "clock")
_CLOCK = re.compile(r"local|UTC|[+-]\d{2}:\d{2}", re.ASCII)


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """Choose a file or paste its text, and what is recorded; sent: its questions, then what it shows."""
    found = board(request.home.store, now=request.now)
    if request.method == "POST":
        return _sent(request, found, Form(request.POST.dict()))
    if request.GET.get("place"):
        return _recorded(request, found)
    cold = [*found.of_kind("refrigerator"), *found.places][:1]
    return _form(request, found, Form({"place": cold[0].name} if cold else {}))


# ---- a file ------------------------------------------------------------------------------------------------


def _form(request: Request, found: Board, form: Form) -> HttpResponse:
    there = readings.recorded(request.home.store, now=request.now)
    words = words_of(request)
    known = [
        {"name": one.name, "url": _url(one.name), "last": words.c(there[one.name][-1].c),
         "at": words.clock(there[one.name][-1].at)}
        for one in found.places if one.name in there
    ]  # fmt: skip
    context = {
        "places": [{"value": one.name, "label": f"{one.name} ({KINDS[one.kind]})"} for one in found.places],
        "known": known, "sent": form.sent, "errors": form.errors, "problems": form.problems, "unit": f"°{words.temp}",
        "clocks": [
            {"value": "", "label": _("As the file says, else ours")},
            {"value": "UTC", "label": _("World time, UTC")},
        ],
    }  # fmt: skip
    return render(request, "web/readings.html", context, status=422 if form.errors else 200)


def _sent(request: Request, found: Board, form: Form) -> HttpResponse:
    place = found.place(form.choice("place", [one.name for one in found.places]))
    own_c = form.temp("limit", found.units[1])
    if not request.FILES.get("file") and not form.sent.get("text", "").strip():
        form.wrong("text", _("Choose a file, or paste its lines."))
        return _form(request, found, form)
    try:
        text = _text(request)
        parsed = _parsed(request, found, text)
    except UnreadableError as fault:
        form.wrong("text", _(str(fault)))
        return _form(request, found, form)
    if form.errors or place is None:
        return _form(request, found, form)
    if parsed.questions:
        return _ask(request, parsed, form, text)
    if not parsed.readings:
        form.wrong("text", _("No reading could be taken from it: %(why)s.") % {"why": _why(parsed)})
        return _form(request, found, form)
    return _look(request, found, place, parsed, own_c)


def _text(request: Request) -> str:
    """What was chosen or pasted; raises `UnreadableError`."""
    sent = request.FILES.get("file")
    if sent is not None and sent.size:
        if sent.size > readings.MOST_BYTES:
            return readings.decoded(b" " * (readings.MOST_BYTES + 1))
        return readings.decoded(sent.read())
    return readings.decoded(request.POST.get("text", "").encode())


def _parsed(request: Request, found: Board, text: str) -> Parsed:
    sent = request.POST
    order = {"day": True, "month": False}.get(sent.get("day_first", ""))
    clock = sent.get("clock", "")
    answers = Answers(
        _number(sent.get("time", "")), _number(sent.get("temp", "")), order, _unit(sent.get("unit", "")),
        clock if _CLOCK.fullmatch(clock) else None,
    )  # fmt: skip
    usual = _unit(found.units[1]) or "C"
    return readings.parse(text, zone=found.settings.zone, usual=usual, now=request.now, answers=answers)


def _number(text: str) -> int | None:
    return int(text) if re.fullmatch(r"[0-9]{1,3}", text) else None


def _unit(text: str) -> readings.Unit | None:
    return "F" if text == "F" else "C" if text == "C" else None


def _why(parsed: Parsed) -> str:
    return _(parsed.skipped[0].why) if parsed.skipped else _("it has none")


def _ask(request: Request, parsed: Parsed, form: Form, text: str) -> HttpResponse:
    asked = [one.kind for one in parsed.questions]
    kept = [(key, form.sent[key]) for key in (*_ANSWERS, "place", "limit") if form.sent.get(key) and key not in asked]
    questions = [
        {"name": one.kind, "says": _(one.says), "choices": [{"value": v, "label": label} for v, label in one.choices]}
        for one in parsed.questions
    ]
    return render(request, "web/readings_ask.html", {"questions": questions, "kept": kept, "text": text})


def _look(request: Request, found: Board, place: PlaceNow, parsed: Parsed, own_c: float | None) -> HttpResponse:
    store, words = request.home.store, words_of(request)
    guidelines = (found.guideline, *found.also)
    held = readings.limits(place, found, own_c)
    looked = readings.look(parsed.readings, held, guidelines=guidelines, moments=readings.moments(store))
    there = set(readings.recorded(store, now=request.now).get(place.name, ()))
    new = [one for one in looked.kept if one not in there]
    changed = readings.changes(store, place.name, new, zone=found.settings.zone, now=request.now)
    context = {
        **shown(looked, place.name, words), **seen(changed, words), "place": place.name, "act": new_act(),
        "packed": readings.packed(new), "kept": len(new), "there": len(looked.kept) - len(new),
        "notes": [_(note) for note in parsed.notes], "skipped": _skipped(parsed), "left_out": len(parsed.skipped),
        "usual": place.kind,
    }  # fmt: skip
    return render(request, "web/readings_look.html", context)


def _skipped(parsed: Parsed) -> list[str]:
    return [
        _("Line %(line)d, “%(text)s”: %(why)s.") % {"line": one.line, "text": one.text, "why": _(one.why)}
        for one in parsed.skipped[:20]
    ]


@require_POST
def record(request: Request) -> HttpResponse:
    """Write the readings to keep down, all in one go."""
    found = board(request.home.store, now=request.now)
    place = found.place(request.POST.get("place"))
    if place is None:
        raise Http404

    def again(says: Sequence[str]) -> HttpResponse:
        form = Form(request.POST.dict())
        form.wrong("text", *says)
        return _form(request, found, form)

    try:
        act = begin_act(request, found.settings.zone)
        kept = readings.unpacked(request.POST.get("packed", ""), now=request.now)
    except (BadWhenError, UnreadableError) as fault:
        return again([_(str(fault))])
    there = set(readings.recorded(request.home.store, now=request.now).get(place.name, ()))
    readings.write(act, place.name, [one for one in kept if one not in there], zone=found.settings.zone)
    return perform(request, act, back=_url(place.name), again=again)


# ---- what is recorded --------------------------------------------------------------------------------------


def _url(place: str, days: int | None = None) -> str:
    asked = {"place": place} if days is None else {"place": place, "days": str(days)}
    return f"{reverse('web:readings')}?{urlencode(asked)}"


def _recorded(request: Request, found: Board) -> HttpResponse:
    place = found.place(request.GET.get("place"))
    if place is None:
        raise Http404
    words = words_of(request)
    there: list[Reading] = readings.recorded(request.home.store, now=request.now).get(place.name, [])
    days = _number(request.GET.get("days", "")) or 3
    days = days if days in _SPANS else 3
    looked = readings.look(within(there, days), readings.limits(place, found))
    context: dict[str, Any] = {
        **shown(looked, place.name, words), "place": place.name, "days": days,
        "spans": [
            {"url": _url(place.name, days=n), "label": ngettext("%(n)d day", "%(n)d days", n) % {"n": n},
             "current": n == days}
            for n in _SPANS
        ],
    }  # fmt: skip
    return render(request, "web/readings_place.html", context)


routes = [
    path("readings/", page, name="readings"),
    path("readings/record/", record, name="readings_record"),
]
