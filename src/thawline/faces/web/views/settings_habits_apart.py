"""Weekly stretches in which child and parent are apart: added, changed, taken off; and how habits are kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.faces.request import Request
from thawline.faces.web.views.outlook_words import WEEKDAYS, day_text
from thawline.faces.web.views.settings_habits_form import HabitsForm
from thawline.faces.words import Words
from thawline.services import board, habits, household
from thawline.services.board import Board
from thawline.services.habits import Apart, Habits
from thawline.services.habits_faults import HOME, HabitsError

MOST_STRETCHES = 20


def kept(request: Request, form: HabitsForm, now: Habits, changes: Mapping[str, Any], *, name: str) -> bool:
    """Keep the habits with these changes; what only the whole shows to be wrong is named beside the field `name`."""
    if form.errors:
        return False
    try:
        habits.keep(request.home.store, msgspec.structs.replace(now, **changes))
    except HabitsError as fault:
        form.wrong(name, _(str(fault)))
        return False
    return True


def stretch_text(one: Apart, words: Words) -> str:
    """A stretch in a line: "Monday, Tuesday 08:00 to 17:00, childcare"."""
    told = _("%(days)s %(start)s to %(end)s, %(where)s") % {
        "days": ", ".join(str(WEEKDAYS[day]) for day in one.days), "start": one.start, "end": one.end,
        "where": one.where,
    }  # fmt: skip
    if one.from_day:
        told += " " + _("from %(day)s") % {"day": day_text(one.from_day, words)}
    if one.until_day:
        told += " " + _("until %(day)s") % {"day": day_text(one.until_day, words)}
    return told


@require_http_methods(["GET", "POST"])
def apart(request: Request) -> HttpResponse:
    """One stretch, new or there already."""
    now = habits.read(request.home.preferences)
    found = board.board(request.home.store, now=request.now)
    if request.method == "GET":
        old = _asked(request, now)
        first = (
            {"was": _written(old)} if old else {"was": "", "where": Apart("", (), "", "").where, "child": _one(found)}
        )
        return _page(request, found, HabitsForm({**first, **(_fields(old) if old else {})}), old.days if old else ())
    form = HabitsForm(request.POST.dict())
    chosen = request.POST.getlist("days")
    rest = [one for one in now.apart if _written(one) != form.sent.get("was")]
    if form.sent.get("was") and len(rest) == len(now.apart):
        form.wrong("child", _("This stretch was changed meanwhile. Look at the list once more."))
    stretches = rest if "remove" in request.POST else [*rest, _stretch(form, found, chosen)]
    if len(stretches) > MOST_STRETCHES:
        form.wrong("child", _("More than %(most)d stretches can't be kept.") % {"most": MOST_STRETCHES})
    if kept(request, form, now, {"apart": tuple(sorted(stretches, key=_order))}, name="child"):
        return HttpResponseRedirect(reverse("web:habits"))
    days = tuple(int(one) for one in chosen if one in tuple("0123456"))
    return _page(request, found, form, days)


def _order(one: Apart) -> tuple[object, ...]:
    return one.child, one.days, one.start, one.end, one.from_day


def _written(one: Apart) -> str:
    return msgspec.json.encode(one).decode()


def _one(found: Board) -> str:
    return found.children[0].name if len(found.children) == 1 else ""


def _asked(request: Request, now: Habits) -> Apart | None:
    """The stretch whose number is in the address; None for a new one."""
    number = request.GET.get("n", "")
    if not number:
        return None
    if not (number.isascii() and number.isdigit() and len(number) < 4 and int(number) < len(now.apart)):
        raise Http404
    return now.apart[int(number)]


def _fields(one: Apart) -> dict[str, str]:
    return {
        "child": one.child, "start": one.start, "end": one.end, "where": one.where, "rule": one.rule,
        "from_day": one.from_day, "until_day": one.until_day,
    }  # fmt: skip


def _stretch(form: HabitsForm, found: Board, chosen: list[str]) -> Apart:
    child = form.choice("child", [one.name for one in found.children])
    days = form.weekdays("days", chosen)
    start = form.clock("start", _("Write when it begins."))
    end = form.clock("end", _("Write when it ends."))
    if start and end and end <= start:
        form.wrong("end", _("It has to end later on the same day than it begins. A night apart is two of these."))
    where = form.text("where", _("Write where the child is then."))
    if where == HOME:
        form.wrong("where", _("Write where the child is then, not home."))
    rule = form.choice("rule", ["", *(one.id for one in household.overlays())])
    from_day, until_day = form.any_day("from_day"), form.any_day("until_day")
    form.in_order(from_day, until_day, "until_day")
    return Apart(child, days, start, end, where, rule, from_day, until_day)


def _page(request: Request, found: Board, form: HabitsForm, days: tuple[int, ...]) -> HttpResponse:
    context = {
        "sent": form.sent, "errors": form.errors, "problems": form.problems, "days": [str(one) for one in days],
        "children": [{"value": one.name, "label": one.name} for one in found.children],
        "weekdays": [{"value": str(number), "label": label} for number, label in enumerate(WEEKDAYS)],
        "rules": [
            {"value": "", "label": _("Only our own guideline")},
            *({"value": one.id, "label": one.name} for one in household.overlays()),
        ],
    }  # fmt: skip
    return render(request, "web/settings_habits_apart.html", context, status=422 if form.errors else 200)


routes = [path("settings/habits/apart/", apart, name="habits_apart")]
