"""The window of a childcare service: what was handed to it, and what its staff record."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.core.verdict import Verdict
from thawline.faces import handing
from thawline.faces.request import Request
from thawline.faces.web.views import care_do
from thawline.faces.web.views.care_kit import Desk, Family, families, the_family
from thawline.faces.web.views.care_verbs import VERBS, verbs
from thawline.faces.web.views.hand_over_kit import asked_day, base_of, day_text, picture, told
from thawline.services import labels
from thawline.services.childcare_day import day_of
from thawline.services.childcare_facts import facts
from thawline.services.childcare_rules import ground_there, urgency

# How many containers of all families are named before them; ours.
FIRST = 6


@require_GET
def page(request: Request) -> HttpResponse:
    """What was handed to the service, of all families, the most urgent first."""
    found = families(request)
    first = sorted(((one, row) for one in found for row in one.pressing()), key=lambda pair: urgency(pair[1].found))
    rows = [(one, one.milk(row)) for one, row in first[:FIRST]] if len(found) > 1 else []
    return render(request, "web/care.html", {"families": found, "first": rows})


@require_GET
def home(request: Request, tag: str) -> HttpResponse:
    """One family's milk there."""
    found = the_family(request)
    unused = str(handing.UNUSED[facts(found.service.rule).unused])
    return render(request, "web/care_home.html", {"families": [found], "family": found, "unused": unused})


@require_GET
def milk(request: Request, tag: str, code: str | None = None) -> HttpResponse:
    """A container: until when, how it is warmed, and what may be noted of it."""
    desk = Desk(request, code if code is not None else request.GET.get("code", ""))
    family, one = desk.family, desk.deadline
    todo = verbs(desk)
    label = next(iter(labels.labels(request.home, [desk.code], now=request.now, base="")), None)
    context: dict[str, Any] = {
        **desk.shown(),
        "one": family.milk(one) if one is not None else None,
        "says": handing.limit_says(one) if one is not None else "",
        "source": one.why.source if one is not None and one.why is not None else "",
        "breaches": [(found.says, found.source) for found in one.found.breaches] if one is not None else [],
        "dates": handing.dates(label, family.words) if label is not None else [],
        "check_url": family.check_url(desk.code) if one is not None else "",
        "verbs": [(VERBS[verb].title, desk.do_url(verb)) for verb in todo],
        **_how(family, one.found if one is not None else None),
        "days": _told(request, family, desk.code),
    }
    return render(request, "web/care_milk.html", context)


def _how(family: Family, found: Verdict | None) -> dict[str, Any]:
    """How it is warmed and thawed, what is never done, and what becomes of what is left."""
    ground = ground_there(family.home.store, family.service, now=family.board.now)
    said = handing.told_lines(family.service.rule, ground, [found] if found is not None else [])
    sections, sources = handing.sections(
        {one: said[one] for one in ("warm", "thaw", "leftover", "never") if one in said}
    )
    return {"sections": sections, "sources": sources}


def _told(request: Request, family: Family, code: str = "") -> list[Any]:
    day = asked_day(request, now=request.now, words=family.words)
    found = day_of(family.home.store, family.service, day, now=request.now)
    return told([one for one in found if not code or one.container == code], family.service, family.words)


@require_GET
def sheet(request: Request, tag: str) -> HttpResponse:
    """The family's sheet for the day."""
    family = the_family(request)
    found = handing.handing(request.home, family.service, now=request.now, base=base_of(request))
    context = {
        "sheet": found, "rows": [(row, picture(row.address)) for row in found.rows],
        "count": handing.counted_word(found.rows), "lines": range(found.write),
        "pdf_url": reverse("sheets:care_sheet", args=[family.tag]), "family": family,
    }  # fmt: skip
    return render(request, "web/care_sheet.html", context)


@require_GET
def day(request: Request, tag: str | None = None) -> HttpResponse:
    """The day's record, of one family or of all."""
    found = [the_family(request)] if tag is not None else families(request)
    rows = [(one, _told(request, one)) for one in found]
    words = found[0].words if found else None
    shown = asked_day(request, now=request.now, words=words) if words is not None else ""
    says = day_text(shown, words) if words is not None else ""
    context = {"rows": rows, "day": shown, "day_text": says, "title": _("The day's record")}
    return render(request, "web/care_day.html", context)


routes = [
    path("care/", page, name="care"),
    path("care/day/", day, name="care_day"),
    path("care/<str:tag>/", home, name="care_home"),
    path("care/<str:tag>/day/", day, name="care_day"),
    path("care/<str:tag>/sheet/", sheet, name="care_sheet"),
    path("care/<str:tag>/milk/", milk, name="care_milk"),
    path("care/<str:tag>/milk/<str:code>/", milk, name="care_milk"),
    *care_do.routes,
]
