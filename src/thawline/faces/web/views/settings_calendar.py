"""Settings: secret addresses under which a calendar app reads what is to be done by when."""

from __future__ import annotations

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from thawline.faces.due_words import KINDS, kind_choices
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.qr import qr_picture
from thawline.faces.web.views.invite import base_address
from thawline.services import agenda, calendar_links
from thawline.services.calendar_links import Link
from thawline.services.people import CannotError

# How far ahead the page counts what there is.
_DAYS = 14


@require_http_methods(["GET", "POST"])
def calendar(request: Request) -> HttpResponse:
    """Make an address, shown once, or take one of one's own back."""
    if request.method == "GET":
        return _page(request, list(agenda.KINDS), [])
    if "revoke" in request.POST:
        return _revoked(request, request.POST["revoke"])
    about = request.POST.getlist("about")
    try:
        secret = calendar_links.make(request.home, about, now=request.now)
    except CannotError as fault:
        return _page(request, about, [_(str(fault))])
    return _made(request, secret)


def _revoked(request: Request, number: str) -> HttpResponse:
    known = number.isascii() and number.isdigit() and len(number) < 19
    if not known or not calendar_links.revoke(request.home, int(number)):
        raise Http404
    return HttpResponseRedirect(reverse("web:calendar"))


def _page(request: Request, about: list[str], errors: list[str]) -> HttpResponse:
    context = {
        "kinds": kind_choices(), "about": about, "errors": {"about": errors},
        "problems": [{"says": says, "id": "about"} for says in errors],
        "links": [_line(request, one) for one in calendar_links.links(request.home)],
        "ahead": _ahead(len(agenda.agenda(request.home, now=request.now, days=_DAYS))),
    }  # fmt: skip
    return render(request, "web/settings_calendar.html", context, status=422 if errors else 200)


def _ahead(count: int) -> str:
    return ngettext("%(n)d entry in the next two weeks.", "%(n)d entries in the next two weeks.", count) % {"n": count}


def _line(request: Request, link: Link) -> dict[str, object]:
    words = words_of(request)
    return {
        "id": link.id,
        "made": words.day(link.made_at),
        "about": ", ".join(str(KINDS[kind]) for kind in link.about),
        "read": _("last read %(at)s") % {"at": words.clock(link.read_at)} if link.read_at else _("never read yet"),
    }


def _made(request: Request, secret: str) -> HttpResponse:
    """The address, once: nobody can show it again."""
    base, reaches = base_address(request)
    link = f"{base}{reverse('calendar:read', args=[secret])}"
    # The scheme that calendar apps of phones take for "subscribe": common practice, no source.
    subscribe = "webcal" + link[link.index("://") :]
    context = {
        "link": link, "subscribe": subscribe, "reaches": reaches, "open_to_all": link.startswith("http://"),
        "qr": qr_picture(subscribe, _("QR code of the calendar's address")),
    }  # fmt: skip
    return render(request, "web/settings_calendar_made.html", context)


routes = [path("settings/calendar/", calendar, name="calendar")]
