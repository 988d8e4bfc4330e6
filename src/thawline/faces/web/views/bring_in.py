"""Past sessions and stock from a table, looked at before they are kept."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from typing import NamedTuple

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from thawline.core.times import DAY
from thawline.faces.request import Request
from thawline.faces.web.views.bring_in_shown import WHAT_WORDS, columns_page, look_page
from thawline.services import bring_in
from thawline.services.board import Board, board
from thawline.services.bring_in import CannotReadError, Looked, Mapped, Measure, Question, Role, Table, What
from thawline.services.permissions import may_record

_UNITS: dict[str, Measure] = {"ml": "ml", "fl_oz": "fl_oz", "cl": "cl"}
_ORDERS = {"day": True, "month": False}
_AT_ONCE = 2000
_KINDS = ("expressed", "stocked", "counted", "moved", "voided")


class Sent(NamedTuple):
    """A table on its way: what it holds, its text, and what was said of its columns."""

    what: What
    text: str
    table: Table
    mapped: Mapped


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """A file or a paste; then its columns, then what would be recorded; at last the recording."""
    if not may_record(request.home.role, [{"kind": kind} for kind in _KINDS]):
        raise PermissionDenied
    if request.method == "GET":
        return _begin(request)
    found = board(request.home.store, now=request.now)
    step = request.POST.get("step", "")
    try:
        sent = _arrived(request, found) if step in ("columns", "look", "record", "back") else _first(request, found)
    except CannotReadError as fault:
        return _begin(request, _(str(fault)))
    if step not in ("look", "record", "back"):
        return columns_page(request, found, *sent, questions=_unclear(request, sent))
    return _looked(request, found, sent, step)


def _unclear(request: Request, sent: Sent) -> Sequence[Question]:
    """What has to be asked, where that is known at once."""
    if len(sent.table.rows) > _AT_ONCE or any(role not in sent.mapped.columns for role in bring_in.NEEDED):
        return ()
    return bring_in.look(request.home.store, sent.table, sent.mapped, sent.what, now=request.now).questions


def _begin(request: Request, problem: str = "") -> HttpResponse:
    context = {
        "whats": [{"value": key, "label": label, "says": says} for key, (label, says) in WHAT_WORDS.items()],
        "chosen": _what(request), "sent": request.POST, "rows": f"{bring_in.MOST_ROWS:,}",
        "megabytes": bring_in.MOST_BYTES // 1_000_000,
        "problems": [{"says": problem, "id": "file"}] if problem else [], "wrong": [problem] if problem else [],
    }  # fmt: skip
    return render(request, "web/bring_in.html", context, status=422 if problem else 200)


def _what(request: Request) -> What:
    return "stock" if request.POST.get("what", request.GET.get("what")) == "stock" else "sessions"


def _first(request: Request, found: Board) -> Sent:
    """What was chosen or pasted; raises `CannotReadError`."""
    file = request.FILES.get("file")
    if file is not None and file.size:
        if file.size > bring_in.MOST_BYTES:
            bring_in.decoded(b" " * (bring_in.MOST_BYTES + 1))
        data = file.read()
    else:
        data = request.POST.get("text", "").encode("utf-8", "replace")
    if not data.strip():
        raise CannotReadError("Choose a file, or paste its rows.")
    table, text = bring_in.read_table(data)
    return Sent(_what(request), text, table, bring_in.propose(table, _what(request), found))


def _arrived(request: Request, found: Board) -> Sent:
    """A table that a page carried along, with what was chosen on it; raises `CannotReadError`."""
    text = bring_in.unpacked(request.POST.get("packed", ""))
    table, text = bring_in.read_table(text.encode())
    what = _what(request)
    columns: dict[Role, int] = {}
    for role in bring_in.ROLES[what]:
        number = request.POST.get(f"column-{role}", "")
        if re.fullmatch(r"[0-9]{1,2}", number) and int(number) < len(table.heads):
            columns[role] = int(number)
    places = [place.name for place in found.places]
    place = request.POST.get("place", "")
    mapped = Mapped(
        columns, _UNITS.get(request.POST.get("unit", "")), _ORDERS.get(request.POST.get("day_first", "")),
        request.POST.get("gone", "yes") != "no", place if place in places else None,
    )  # fmt: skip
    return Sent(what, text, table, mapped)


def _looked(request: Request, found: Board, sent: Sent, step: str) -> HttpResponse:
    missing = [role for role in bring_in.NEEDED if role not in sent.mapped.columns]
    if missing:
        return columns_page(request, found, *sent, missing=missing)
    looked = bring_in.look(request.home.store, sent.table, sent.mapped, sent.what, now=request.now)
    if looked.questions:
        return columns_page(request, found, *sent, questions=looked.questions, sure=step == "look")
    if step == "back":
        return _taken_back(request, looked)
    if step == "record" and (not looked.bad or request.POST.get("without") == "yes"):
        return _recorded(request, sent, looked)
    return look_page(request, found, *sent, looked=looked, pressed=step == "record")


def _seen(request: Request) -> int:
    """When the table was looked at, as the form says; now where that can't be."""
    said = request.POST.get("seen", "")
    at = int(said) if re.fullmatch(r"[0-9]{1,16}", said) else request.now
    return at if request.now - 2 * DAY < at <= request.now else request.now


def _recorded(request: Request, sent: Sent, looked: Looked) -> HttpResponse:
    done = bring_in.keep(
        request.home.store, looked, sent.mapped, sent.what, now=request.now, person=request.home.member,
        rng=random.SystemRandom(), seen=_seen(request),
    )  # fmt: skip
    told = ngettext("%(n)d row is recorded.", "%(n)d rows are recorded.", done.rows) % {"n": done.rows}
    if done.known:
        there = ngettext("%(n)d was there already.", "%(n)d were there already.", done.known) % {"n": done.known}
        told = f"{told} {there}"
    messages.success(request, told)
    return HttpResponseRedirect(
        reverse("web:stock" if sent.what == "stock" or not sent.mapped.gone else "web:bring_in")
    )


def _taken_back(request: Request, looked: Looked) -> HttpResponse:
    act = bring_in.take_back(request.home.store, looked, now=request.now, person=request.who)
    told = _("What this table had brought in is taken back.") if act else _("There was nothing to take back.")
    messages.success(request, told)
    return HttpResponseRedirect(reverse("web:bring_in"))


routes = [path("in/", page, name="bring_in")]
