"""Log what was expressed: a number, and that is all it takes."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core.times import DAY
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, numbered, perform, words_of
from thawline.faces.web.amounts import BadAmountError, amount_ml, length_mm
from thawline.faces.web.views.session import minutes_of, running_text
from thawline.services import session_timer
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.board import Board, board, warmest
from thawline.services.codes import new_codes
from thawline.services.permissions import may
from thawline.services.session_timer import Summed
from thawline.services.vessels import Shape, last_measures, noted

CONTAINERS = 6
_RNG = random.SystemRandom()
SIDES = ("left", "right", "both")
# A timed session that is older was forgotten: then the form asks for its time.
_LONGEST_TIMED = 7 * DAY


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The form, and what it records."""
    if request.method == "POST":
        return _record(request)
    return numbered(request) or _form(request, ())


def _form(request: Request, errors: Sequence[str]) -> HttpResponse:
    found = board(request.home.store, now=request.now)
    sent = request.POST
    timed = _timed(request)
    context: dict[str, Any] = {
        "board": found,
        "act": act_id(request),
        "problems": [{"says": says} for says in errors],
        "unit": _("fl oz") if found.units[0] == "fl_oz" else _("mL"),
        "by": "0.5" if found.units[0] == "fl_oz" else "10",
        "rows": [_row(request, number) for number in range(1, CONTAINERS + 1)],
        "places": [{"value": place.name, "label": place.name} for place in found.places],
        "place": sent.get("place") or usual_place(found),
        "children": [child.name for child in found.children],
        "sides": [("left", _("left")), ("right", _("right")), ("both", _("both"))],
        "very_clean": _very_clean(found),
        "sent": sent,
        "timed": timed,
        "began": words_of(request).clock(timed.started) if timed else "",
        "minutes": sent.get("minutes", str(timed.minutes) if timed else ""),
        "side": sent.get("side", timed.side or "" if timed else ""),
        "waiting": "" if timed else _waiting(request),
        "kept": _kept_choices(request),
        "opened": any(sent.get(f"ml_{number}") for number in range(2, CONTAINERS + 1)),
    }
    return render(request, "web/log.html", context, status=422 if errors else 200)


def _timed(request: Request) -> Summed | None:
    """The session that was timed and is logged by this form: as the form has it, else as it was stopped."""
    started = request.POST.get("timed", "")
    if started.isascii() and started.isdigit() and 0 <= request.now - int(started[:18]) <= _LONGEST_TIMED:
        return Summed(int(started), 1, None)
    timer = session_timer.running(request.home) if request.method == "GET" and request.GET.get("timed") else None
    return session_timer.summed(timer, now=request.now) if timer is not None and timer.stopped is not None else None


def _began(timed: Summed | None, zone: str) -> str:
    """When a timed session began, as it is written; raises `BadWhenError` where that cannot be."""
    if timed is None:
        raise BadWhenError(_("That session was timed too long ago. Choose when it began."))
    return written_now(timed.started, zone)


def _waiting(request: Request) -> str:
    """How long the session is that was timed and not logged yet; empty where there is none."""
    timer = session_timer.running(request.home) if may(request.home.role, "supply") else None
    return "" if timer is None else running_text(timer.length(request.now))


def _kept_choices(request: Request) -> list[dict[str, str]]:
    """How the milk may be kept, to choose from; the measures noted last are at hand."""
    said = {"flat": _("Bag lying flat"), "upright": _("Bottle or bag standing")}
    again = {"flat": _("As last time: bag, %(mm)s mm thick"), "upright": _("As last time: bottle, %(mm)s mm wide")}
    choices = [{"value": "", "label": _("Not noted")}, *({"value": key, "label": word} for key, word in said.items())]
    for shape, mm in last_measures(request.home.store).items():
        choices.append({"value": f"last_{shape}", "label": again[shape] % {"mm": f"{mm:g}"}})
    return choices


def _vessel(request: Request) -> dict[str, object] | None:
    """What was said of how it is kept; raises `BadAmountError`."""
    kept, across = request.POST.get("kept", ""), request.POST.get("across", "").strip()
    last = last_measures(request.home.store)
    shape: Shape = "flat" if kept in ("flat", "last_flat") else "upright"
    if kept in ("last_flat", "last_upright"):
        return noted(shape, last.get(shape))
    mm = length_mm(across) if across else None
    if kept in ("flat", "upright"):
        return noted(shape, mm)
    if mm is not None:
        raise BadAmountError(_("Choose whether the milk lies flat or stands, so that its size can count."))
    return None


def _row(request: Request, number: int) -> tuple[int, str, str]:
    return number, request.POST.get(f"ml_{number}", ""), request.POST.get(f"code_{number}", "")


def usual_place(found: Board) -> str | None:
    """Where the newest fresh milk went, else a refrigerator, else the warmest place."""
    passed = {None, *found.away, *(place.name for place in found.of_kind("cooler"))}
    fresh: list[Verdict] = [one for one in found.verdicts if one.form == "fresh" and one.place not in passed]
    if fresh:
        return max(fresh, key=lambda one: one.dated).place
    usual = next(iter(found.of_kind("refrigerator")), None) or warmest(found)
    return usual.name if usual is not None else None


def _very_clean(found: Board) -> bool:
    """Whether a guideline in force has figures for very clean handling."""
    return any(row.very_clean for one in (found.guideline, *found.also) for rows in one.rows.values() for row in rows)


def _record(request: Request) -> HttpResponse:
    store = request.home.store
    found = board(store, now=request.now)
    try:
        act = begin_act(request, found.settings.zone)
        timed = _timed(request)
        if request.POST.get("timed") and not request.POST.get("when"):
            act.at = _began(timed, found.settings.zone)
        portions = _portions(request, found)
        more: dict[str, Any] = {"vessel": _vessel(request), "minutes": _minutes(request)}
    except (BadAmountError, BadWhenError) as fault:
        return _form(request, [str(fault)])
    sent = request.POST
    place = sent.get("place") or usual_place(found)
    if found.place(place) is None:
        return _form(request, [_("Choose where you put it.")])
    if not store.act(act.id):
        _expressed(request, act, found, portions, str(place), more)
    back = reverse("web:now") if timed is None else f"{reverse('web:kit')}?after=session"
    answer = perform(request, act, back=back, again=lambda errors: _form(request, errors))
    if timed is not None and store.act(act.id):
        session_timer.forget(request.home, started=timed.started)
    return answer


def _minutes(request: Request) -> int | None:
    """How long it took, where that was said; raises `BadAmountError`."""
    typed = request.POST.get("minutes", "").strip()
    return minutes_of(typed) if typed else None


def _portions(request: Request, found: Board) -> list[tuple[str, float]]:
    portions = []
    for number, amount, code in (_row(request, number) for number in range(1, CONTAINERS + 1)):
        if amount.strip():
            portions.append((" ".join(code.split()), amount_ml(amount, found.units[0], least_ml=1)))
        elif number == 1:
            raise BadAmountError(_("Write how much it was."))
    return portions


def _expressed(
    request: Request, act: Act, found: Board, portions: list[tuple[str, float]], place: str,
    more: dict[str, Any],
) -> None:  # fmt: skip
    sent = request.POST
    fresh = iter(new_codes(sum(not code for code, _ml in portions), taken=request.home.store.taken, rng=_RNG))
    into = [{"container": code or next(fresh), "ml": ml} for code, ml in portions]
    children = [child.name for child in found.children]
    act.add(
        "expressed",
        into=into,
        place=place,
        side=sent.get("side") if sent.get("side") in SIDES else None,
        handling="very_clean" if sent.get("very_clean") == "yes" and _very_clean(found) else None,
        for_=sent.get("for") if sent.get("for") in children else None,
        mother=" ".join(sent.get("mother", "").split()) or None,
        **more,
    )


routes = [path("log/", page, name="log")]
