"""What the pages of handing over share: which service is meant, its sheet's QR codes, the day's record in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

import segno
from django.http import Http404
from django.utils.safestring import mark_safe

from thawline.core import events as ev
from thawline.core.times import day_start
from thawline.faces import handing
from thawline.faces.request import Request
from thawline.faces.words import Words
from thawline.services import childcare, labels
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_day import Happened


class Told(NamedTuple):
    """A line of the day's record in words."""

    at: str
    code: str
    says: str
    who: str


def the_service(request: Request) -> ServiceNow | None:
    """The service that the page asks for, else the only or first one; None where there is none; 404 for another."""
    found = childcare.services(request.home.store)
    sent = request.POST if request.method == "POST" else request.GET
    wanted = sent.get("service", "")
    if wanted and wanted not in [one.name for one in found]:
        raise Http404
    return next((one for one in found if one.name == wanted), found[0] if found else None)


def told(found: Sequence[Happened], service: ServiceNow, words: Words) -> list[Told]:
    """The day's record in words, in order; what was handed over and received in one go is one line."""
    rows: list[Told] = []
    given = {(one.at, one.container) for one in found if isinstance(one.event, ev.HandedOver)}
    taken = {(one.at, one.container) for one in found if isinstance(one.event, ev.Received)}
    for one in found:
        both = (one.at, one.container) in given & taken
        if both and isinstance(one.event, ev.HandedOver):
            continue
        if both and isinstance(one.event, ev.Received):
            says = handing.given_says(one.event, service)
        else:
            says = handing.happened_says(one, service, words)
        if says:
            rows.append(Told(words.hour(one.at), one.container or "", says, one.by))
    return rows


def asked_day(request: Request, *, now: int, words: Words) -> str:
    """The day that the page asks for, ISO; today where it asks for none, or for one that is none."""
    try:
        return date.fromisoformat(request.GET.get("day", "")).isoformat()
    except ValueError:
        return words.local(now).date().isoformat()


def day_text(day: str, words: Words) -> str:
    """A day, ISO, as it is read: today, yesterday, or its date."""
    return words.day(day_start(day, words.zone))


def base_of(request: Request) -> str:
    """The address that the QR codes lead to: the family's own where it is set, else the one asked under."""
    return labels.kept_address(request.home.preferences) or f"{request.scheme}://{request.get_host()}"


def picture(address: str) -> str:
    """The QR code of an address, as a picture within the page; black on white in the dark as well."""
    code = segno.make(address, error="m", micro=False)
    inline = code.svg_inline(scale=2, border=2, light="#fff", dark="#000", svgclass="sheet-qr", lineclass=None)
    return mark_safe(inline)  # noqa: S308  (drawn from the library's numbers; no text of anyone stands in it)
