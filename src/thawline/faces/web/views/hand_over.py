"""Hand milk over to a service: what it would not take is shown before anything is recorded; its sheet for the day."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from thawline.core.verdict import Verdict
from thawline.faces import handing
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, begun, perform
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views import hand_over_back
from thawline.faces.web.views.hand_over_kit import base_of, picture, the_service
from thawline.faces.web.views.trip_form import chosen as ticked
from thawline.faces.web.views.trip_pack import Pick, picks
from thawline.faces.words import Words, words_for
from thawline.services import childcare, habits, labels, plan
from thawline.services.acts import BadWhenError
from thawline.services.board import Board, board
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_rules import Offer, also_of, closing_at, hand_over, offers, places_for
from thawline.services.many import oldest_first

AGAINST: dict[str, str | Promise] = {
    "no_child": gettext_lazy("It is not noted which child it is for: correct how it came in."),
    "no_name": gettext_lazy("The rule wants the child's full name on it. Without it, it is not accepted for feeding."),
    "held": gettext_lazy("It is held back: it would not be fed."),
    "past": gettext_lazy("Its time is over: it would not be fed."),
    "outside": gettext_lazy("There the rules give no time for it: ask the service first."),
    "breached": gettext_lazy("A rule was broken with it: it would not be fed."),
    "unit": gettext_lazy("A hospital's care: ask the care team."),
    "closing": gettext_lazy("Its time ends before the service closes: let it be fed first."),
    "thaws": gettext_lazy("Frozen milk thaws in a refrigerator: its time runs from now on."),
}


class Judged(NamedTuple):
    """A container as it would stand there, in words."""

    milk: MilkLine
    accepted: bool
    by: str
    where: str
    says: tuple[str, ...]
    against: tuple[str, ...] = ()


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """Which milk goes to which service; looked at first, then recorded."""
    service = the_service(request)
    if service is None:
        return render(request, "web/hand_over_none.html", {})
    sheet_url = f"{reverse('web:hand_over_sheet')}?{urlencode({'service': service.name})}"
    if (first := begun(request, sheet_url)) is not None:
        return first
    if request.method == "POST":
        return _record(request, service, sheet_url)
    return _look(request, service, ()) if "look" in request.GET else _pick(request, service)


def _words(found: Board) -> Words:
    return words_for(found.settings.zone, found.now, found.units)


def _pick(request: Request, service: ServiceNow) -> HttpResponse:
    found = board(request.home.store, now=request.now)
    rows = _at_home(request, found)
    marked = {one.container for one in ticked(request, found)[0]} or _usual(request, found, rows)
    words = _words(found)
    context: dict[str, Any] = {
        "act": act_id(request),
        "service": service,
        "services": [{"value": one.name, "label": one.name} for one in childcare.services(request.home.store)],
        "picked": _picks([one for one in rows if one.container in marked], words, marked),
        "others": _picks([one for one in rows if one.container not in marked], words, set()),
        "there": len(childcare.in_window(request.home.store, service.name, now=request.now)),
    }
    return render(request, "web/hand_over.html", context)


def _picks(rows: Sequence[Verdict], words: Words, checked: set[str]) -> list[Pick]:
    return picks(rows, words, checked=checked)


def _at_home(request: Request, found: Board) -> list[Verdict]:
    """What is not at a service already, what is within its limits first, oldest first."""
    away = {place for one in childcare.services(request.home.store) for place in one.site.places}
    rows = [one for one in oldest_first(found.verdicts) if one.place not in away]
    return sorted(rows, key=lambda one: one.standing not in ("fine", "soon"))


def _usual(request: Request, found: Board, rows: Sequence[Verdict]) -> set[str]:
    """What is packed in a cooler, else what the plan says to pack."""
    coolers = {place.name for place in found.of_kind("cooler")}
    packed = {one.container for one in rows if one.place in coolers and one.standing in ("fine", "soon")}
    if packed:
        return packed
    known = habits.read(request.home.preferences)
    if not known.apart:
        return set()
    made = plan.plan_now(request.home.store, known, now=request.now, days=2, refine=False)
    return {code for chore in made.chores if chore.does == "pack" for code in chore.containers}


def _look(request: Request, service: ServiceNow, says: Sequence[str]) -> HttpResponse:
    found = board(request.home.store, now=request.now)
    milk, gone = ticked(request, found)
    problems = [*says, *(_("%(code)s is gone already.") % {"code": code} for code in gone)]
    if not milk:
        problems.append(_("Tick what you hand over."))
    judged = [_judged(one, _words(found)) for one in _offers(request, service, found, milk)]
    back = urlencode([("service", service.name), *(("code", one.container) for one in milk)])
    context: dict[str, Any] = {
        "act": act_id(request),
        "service": service,
        "codes": [one.container for one in milk],
        "refused": [one for one in judged if not one.accepted],
        "taken": [one for one in judged if one.accepted],
        "problems": [{"says": one} for one in problems],
        "unnamed": any("no_name" in one.against for one in judged),
        "rule": service.rule,
        "back_url": f"{reverse('web:hand_over')}?{back}",
        "sent": request.POST,
    }
    return render(request, "web/hand_over_look.html", context, status=422 if problems else 200)


def _offers(request: Request, service: ServiceNow, found: Board, milk: Sequence[Verdict]) -> list[Offer]:
    names = labels.full_names(request.home.preferences)
    closing = closing_at(service, now=request.now, zone=found.settings.zone)
    return offers(request.home.store, found, service, milk, full_names=names, closing=closing) if milk else []


def _judged(one: Offer, words: Words) -> Judged:
    line = milk_line(one.then, words)._replace(place=None)
    where = _("into its freezer") if one.place.endswith(" freezer") else _("into its refrigerator")
    says = (*(str(AGAINST[code]) for code in one.against), *_too_warm(one, words), *dict.fromkeys(one.breaks))
    return Judged(line, one.accepted, one.by, where, says, one.against)


def _too_warm(one: Offer, words: Words) -> Sequence[str]:
    if one.outside_c is None:
        return ()
    there, asked = (words.c(temp_c) for temp_c in one.outside_c)
    says = _("Its refrigerator is noted at %(there)s; %(rule)s asks for %(asked)s or colder.")
    return [says % {"there": there, "asked": asked, "rule": one.by}]


def _record(request: Request, service: ServiceNow, sheet_url: str) -> HttpResponse:
    found = board(request.home.store, now=request.now)
    milk, gone = ticked(request, found)
    if milk and "only" in request.POST:
        kept = {one.now.container for one in _offers(request, service, found, milk) if one.accepted}
        milk = [one for one in milk if one.container in kept]
    if gone or not milk:
        return _look(request, service, ())
    try:
        act = begin_act(request, found.settings.zone)
    except BadWhenError as fault:
        return _look(request, service, [_(str(fault))])
    hand_over(act, service, {one.container: places_for(found, service, one) for one in milk})
    return perform(
        request, act, back=sheet_url, also=also_of(service), again=lambda says: _look(request, service, says)
    )  # fmt: skip


@require_GET
def sheet(request: Request) -> HttpResponse:
    """The day's sheet, as a page that prints well."""
    service = the_service(request)
    if service is None:
        return render(request, "web/hand_over_none.html", {})
    return render(request, "web/hand_over_sheet.html", sheet_of(request, service))


def sheet_of(request: Request, service: ServiceNow) -> dict[str, Any]:
    """What the day's sheet shows, to a parent and to the service alike."""
    found = handing.handing(request.home, service, now=request.now, base=base_of(request))
    query = urlencode({"service": service.name})
    return {
        "sheet": found,
        "rows": [(row, picture(row.address)) for row in found.rows],
        "count": handing.counted_word(found.rows),
        "lines": range(found.write),
        "pdf_url": f"{reverse('sheets:hand_over')}?{query}",
        "back_url": f"{reverse('web:hand_over_back')}?{query}",
        "over_url": f"{reverse('web:hand_over')}?{query}",
    }


routes = [
    path("hand-over/", page, name="hand_over"),
    path("hand-over/sheet/", sheet, name="hand_over_sheet"),
    *hand_over_back.routes,
]
