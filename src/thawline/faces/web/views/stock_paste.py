"""Paste a list of existing stock: what is unclear is asked once, then its rows are looked through."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from thawline.core.times import is_date, local, parse_instant, zone_named
from thawline.faces.request import Request
from thawline.faces.web.views import stock_enter
from thawline.faces.web.views.stock_rows import Draft
from thawline.faces.web.views.stock_words import typed
from thawline.services.board import Board, board, today
from thawline.services.paste import Pasted, PasteTooLongError, Question, Row, Unit, read_paste

_LONGEST_DOUBT = 400
_UNITS: dict[str, Unit] = {"ml": "ml", "fl_oz": "fl_oz"}


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The field to paste into, the questions, then the rows."""
    if request.method == "GET":
        return _form(request, "")
    text = request.POST.get("text", "")
    found = board(request.home.store, now=request.now)
    try:
        pasted = _read(request, found, text)
    except PasteTooLongError as fault:
        return _form(request, text, problem=str(fault))
    if not pasted.rows:
        return _form(request, text, problem=_("There is no line with milk in it. Paste at least one."))
    if pasted.questions:
        return _form(request, text, pasted=pasted)
    drafts = [_draft(n, row, found) for n, row in enumerate(pasted.rows, 1)]
    return stock_enter.look(request, found, drafts, notes=_notes(pasted))


def _read(request: Request, found: Board, text: str) -> Pasted:
    order = request.POST.get("day_first")
    unit = _UNITS.get(found.units[0], "ml")
    return read_paste(
        text,
        today=date.fromisoformat(today(found)),
        places={place.name: place.kind for place in found.places},
        unit=unit,
        day_first=order == "day" if order in ("day", "month") else None,
        amount_unit=_UNITS.get(request.POST.get("unit", "")),
    )


def _form(request: Request, text: str, *, pasted: Pasted | None = None, problem: str = "") -> HttpResponse:
    asked: dict[str, Any] = {"text": text, "problems": [{"says": problem, "id": "text"}] if problem else []}
    if pasted is not None:
        asked["questions"] = [_question(one) for one in pasted.questions]
        asked["lines"] = len(pasted.rows)
        # What was answered before is not asked again.
        asked["answers"] = [(key, request.POST[key]) for key in ("day_first", "unit") if request.POST.get(key)
                            and key not in [one.kind for one in pasted.questions]]  # fmt: skip
    return render(request, "web/stock_paste.html", asked, status=422 if problem else 200)


def _question(asked: Question) -> dict[str, Any]:
    choices = [{"value": key, "label": label} for key, label in asked.choices]
    return {"name": asked.kind, "says": asked.says, "choices": choices}


def _draft(n: int, row: Row, found: Board) -> Draft:
    """A pasted line as a row of the form; what was unclear in it stays with it until somebody has looked."""
    on, time = _day_and_time(row.expressed, found)
    draft = Draft(
        n, "" if row.ml is None else typed(row.ml, found.units[0]), on, time, row.place or "", row.form or "",
        row.frozen_on or "", str(row.count), row.code or "",
    )  # fmt: skip
    if not row.problems:
        return draft
    says = " ".join(problem.says for problem in row.problems)
    line = _("Line %(n)d, “%(raw)s”:") % {"n": row.number, "raw": row.raw[:120]}
    return draft._replace(doubt=f"{line} {says}"[:_LONGEST_DOUBT], was=draft.reads)


def _day_and_time(expressed: str | None, found: Board) -> tuple[str, str]:
    if expressed is None or is_date(expressed):
        return expressed or "", ""
    here = local(parse_instant(expressed), zone_named(found.settings.zone))
    return here.date().isoformat(), here.strftime("%H:%M:%S" if here.second else "%H:%M")


def _notes(pasted: Pasted) -> list[str]:
    """What of the paste is not taken over."""
    found = []
    if pasted.skipped:
        found.append(_lines(_("Left out, since blank, heading or total: %(lines)s."), pasted.skipped))
    noted = [row.number for row in pasted.rows if row.note]
    if noted:
        found.append(_lines(_("Words that have no place here are not kept: %(lines)s."), noted))
    return found


def _lines(says: str, numbers: Sequence[int]) -> str:
    some = ", ".join(str(number) for number in numbers[:20]) + (" …" if len(numbers) > 20 else "")
    return says % {"lines": ngettext("line %(some)s", "lines %(some)s", len(numbers)) % {"some": some}}
