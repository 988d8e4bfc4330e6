"""What an outlook learns from: a day whose feeds are all noted, and a child's weight."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core.times import local, zone_named
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, begun, perform
from thawline.faces.web.amounts import LONGEST, BadAmountError, number
from thawline.faces.web.views.settings_kit import Form
from thawline.services.acts import BadWhenError
from thawline.services.board import Board, board, today

# The international pound, exact: NIST Handbook 44, Appendix C.
KG_PER_LB = 0.45359237
_POUNDS = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*lbs?\.?(?:\s*(\d{1,2}(?:[.,]\d+)?)\s*oz\.?)?", re.IGNORECASE | re.ASCII)
_KILOS = re.compile(r"\s*kg\.?\s*$", re.IGNORECASE)
# From this hour on a day is taken to be nearly over; ours.
LATE = 21
# What the ledger takes.
LEAST_KG, MOST_KG = 0.3, 40.0


def _whole_day(found: Board, now: int) -> str:
    """The day that is likely meant: late in the evening today, before that yesterday, for today is not over."""
    here = local(now, zone_named(found.settings.zone))
    return (here.date() - timedelta(days=here.hour < LATE)).isoformat()


@require_http_methods(["GET", "POST"])
def day(request: Request) -> HttpResponse:
    """Mark a day as complete: all feeds of it are noted."""
    found = board(request.home.store, now=request.now)
    back = reverse("web:outlook")
    before = begun(request, back)
    if before is not None:
        return before
    first = {"child": _only(found), "day": _whole_day(found, request.now)}
    form = Form(request.POST.dict() if request.method == "POST" else first)
    if request.method == "GET":
        return _page(request, "web/outlook_day.html", found, form)

    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("day", *says)
        return _page(request, "web/outlook_day.html", found, form)

    child = form.choice("child", [one.name for one in found.children])
    date = form.day("day", _("Choose the day."), latest=today(found))
    born = next((one.born for one in found.children if one.name == child), "")
    if date and date < born:
        form.wrong("day", _("That day is before the birth. Look at it once more."))
    if form.errors:
        return _page(request, "web/outlook_day.html", found, form)
    try:
        act = begin_act(request, found.settings.zone)
    except BadWhenError as fault:
        return again([_(str(fault))])
    act.add("day_complete", child=child, date=date)
    return perform(request, act, back=back, again=again)


@require_http_methods(["GET", "POST"])
def weight(request: Request) -> HttpResponse:
    """Note what a child weighs."""
    found = board(request.home.store, now=request.now)
    back = reverse("web:outlook")
    before = begun(request, back)
    if before is not None:
        return before
    form = Form(request.POST.dict() if request.method == "POST" else {"child": _only(found)})
    if request.method == "GET":
        return _page(request, "web/outlook_weight.html", found, form)

    def again(says: Sequence[str]) -> HttpResponse:
        form.wrong("when", *says)
        return _page(request, "web/outlook_weight.html", found, form)

    child = form.choice("child", [one.name for one in found.children])
    kg = _kg(form)
    if form.errors:
        return _page(request, "web/outlook_weight.html", found, form)
    try:
        act = begin_act(request, found.settings.zone)
    except BadWhenError as fault:
        return again([_(str(fault))])
    act.add("weighed", child=child, kg=kg)
    return perform(request, act, back=back, again=again)


def kilograms(text: str) -> float:
    """A weight in kg, or in pounds and ounces with their units ("14 lb 3 oz"), in kg; raises `BadAmountError`."""
    plain = text.strip()
    if len(plain) > LONGEST:
        raise BadAmountError(_("Write the weight like 6.4, or like 14 lb 3 oz."))
    pounds = _POUNDS.fullmatch(plain)
    kg = _of_pounds(pounds[1], pounds[2]) if pounds else number(_KILOS.sub("", plain))
    if not LEAST_KG <= kg <= MOST_KG:
        raise BadAmountError(_("Write a weight from 0.3 to 40 kg. In pounds: 14 lb 3 oz."))
    return round(kg, 3)


def _of_pounds(pounds: str, ounces: str | None) -> float:
    return (number(pounds) + number(ounces or "0") / 16) * KG_PER_LB


def _kg(form: Form) -> float:
    text = form.sent.get("kg", "")
    if not text.strip():
        form.wrong("kg", _("Write the weight."))
        return 0.0
    try:
        return kilograms(text)
    except BadAmountError as fault:
        form.wrong("kg", str(fault))
        return 0.0


def _only(found: Board) -> str:
    return found.children[0].name if len(found.children) == 1 else ""


def _page(request: Request, template: str, found: Board, form: Form) -> HttpResponse:
    context: dict[str, Any] = {
        "act": act_id(request), "sent": form.sent, "errors": form.errors, "problems": form.problems,
        "children": [{"value": one.name, "label": one.name} for one in found.children], "latest": today(found),
    }  # fmt: skip
    return render(request, template, context, status=422 if form.errors else 200)


routes = [
    path("outlook/day/", day, name="outlook_day"),
    path("outlook/weight/", weight, name="outlook_weight"),
]
