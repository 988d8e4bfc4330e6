"""Label sheets, labels for narrow rolls, and blank ones, as PDF."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.faces.label_request import base_of, wanted
from thawline.faces.request import Request
from thawline.faces.sheets.draw import printed
from thawline.faces.stock import StockError
from thawline.faces.words import words_for
from thawline.services.board import clock_wrong
from thawline.services.labels import blank, sheet


@require_GET
def labels(request: Request) -> HttpResponse:
    """The labels of the containers asked for; nothing is recorded."""
    try:
        asked = wanted(request.GET, request.home)
        if clock_wrong(request.home.store, request.now):
            raise StockError(_("The Thawline computer's clock stands before its newest record: set it right first."))
        found = sheet(request.home, asked.codes, now=request.now, base=base_of(request))
        if not found.labels:
            raise StockError(_("None of these is at hand any more."), "code")
        words = words_for(found.zone, request.now, found.units)
        made = printed(
            found.labels, words, asked.stock, start=asked.start, copies=asked.copies, outline=asked.outline,
            title=_("Labels"),
        )  # fmt: skip
    except StockError as fault:
        return _wrong(request, fault)
    return _pdf(made.pdf, "labels.pdf")


@require_GET
def blank_labels(request: Request) -> HttpResponse:
    """Labels to write on: a page full from the start position on, or one for a roll."""
    try:
        asked = wanted(request.GET, request.home, blank=True)
        label, found = blank(request.home, now=request.now)
        words = words_for(found.zone, request.now, found.units)
        count = asked.copies if asked.stock.roll else asked.stock.per_page - asked.start + 1
        made = printed(
            [label], words, asked.stock, start=asked.start, copies=count, outline=asked.outline,
            title=_("Labels to write on"),
        )  # fmt: skip
    except StockError as fault:
        return _wrong(request, fault)
    return _pdf(made.pdf, "blank-labels.pdf")


def _wrong(request: Request, fault: StockError) -> HttpResponse:
    context = {"says": str(fault), "query": request.GET.urlencode()}
    return render(request, "web/labels_wrong.html", context, status=422)


def _pdf(pdf: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


routes = [
    path("labels/", labels, name="labels"),
    path("labels/blank/", blank_labels, name="blank_labels"),
]
