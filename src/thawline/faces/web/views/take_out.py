"""What may be taken along: tables, a summary, a log, a health record."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from thawline.core.times import BadTimeError, check_date, local, zone_named
from thawline.faces.request import Request
from thawline.services import health_record, tables
from thawline.services.board import manners
from thawline.services.permissions import may
from thawline.services.summary import LEAST_DAYS, MOST_DAYS, USUAL_DAYS
from thawline.services.tables import Span

_BACK = (LEAST_DAYS, USUAL_DAYS, 90, MOST_DAYS)
TABLES = {
    "sessions": gettext_lazy("Sessions"),
    "feeds": gettext_lazy("Feeds"),
    "stock": gettext_lazy("Stock as it is now"),
    "events": gettext_lazy("Every entry"),
}
# The whole ledger, as a table: who may not take it as a file may not so either.
_ALL = "events"


def _day(text: str) -> str:
    """A day as it was sent; empty where it is none."""
    try:
        check_date(text)
    except BadTimeError:
        return ""
    return text


@require_GET
def page(request: Request) -> HttpResponse:
    """Everything that can be taken along."""
    zone, _units = manners(request.home.store, now=request.now)
    context = {
        "tables": [
            {"value": key, "label": label}
            for key, label in TABLES.items()
            if key != _ALL or may(request.home.role, "own")
        ],
        "today": local(request.now, zone_named(zone)).date().isoformat(),
        "days": [{"value": str(n), "label": _("%(n)d days") % {"n": n}} for n in _BACK],
        "usual": str(USUAL_DAYS),
        "papers": [{"value": "a4", "label": "A4"}, {"value": "letter", "label": _("US Letter")}],
        "logs": [
            {"value": "frozen", "label": _("Frozen milk that is here")},
            {"value": "there", "label": _("All milk that is here")},
            {"value": "handed", "label": _("Milk that was handed over")},
        ],
        "summary_url": reverse("sheets:summary"), "log_url": reverse("sheets:bank_log"),
    }  # fmt: skip
    return render(request, "web/take_out.html", context)


@require_GET
def table(request: Request) -> StreamingHttpResponse:
    """One table, as CSV."""
    what = request.GET.get("what", "sessions")
    if what not in tables.WHATS:
        raise Http404
    if what == _ALL and not may(request.home.role, "own"):
        raise PermissionDenied
    span = Span(_day(request.GET.get("from", "")), _day(request.GET.get("to", "")))
    rows = tables.table(request.home.store, what, now=request.now, span=span)
    bom = request.GET.get("bom") == "yes"
    answer = StreamingHttpResponse(
        tables.written_out(rows, bom=bom), content_type="text/csv; charset=utf-8; header=present"
    )
    answer.headers["Content-Disposition"] = f'attachment; filename="thawline-{what}-{_stamp(request)}.csv"'
    return answer


@require_GET
def record(request: Request) -> HttpResponse:
    """What a child drank and weighed, and what was expressed, for another program (HL7 FHIR R5)."""
    told = health_record.bundle(request.home.store, now=request.now, names=request.GET.get("names") == "yes")
    answer = HttpResponse(health_record.text_of(told), content_type=f"{health_record.MEDIA_TYPE}; fhirVersion=5.0")
    answer.headers["Content-Disposition"] = f'attachment; filename="thawline-fhir-{_stamp(request)}.json"'
    return answer


def _stamp(request: Request) -> str:
    zone, _units = manners(request.home.store, now=request.now)
    return local(request.now, zone_named(zone)).date().isoformat()


routes = [
    path("out/", page, name="take_out"),
    path("out/table/", table, name="table"),
    path("out/health-record/", record, name="health_record"),
]
