"""Enter milk from before: many rows at once, looked through before anything is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from thawline.core import events as ev
from thawline.faces.request import Request
from thawline.faces.tell import decoded, tell_act
from thawline.faces.web.acting import act_id, begin_act, numbered, perform
from thawline.faces.web.lines import milk_line, url_of
from thawline.faces.web.views.stock_rows import (
    MOST_CONTAINERS,
    MOST_ROWS,
    Checked,
    Draft,
    check,
    rows_sent,
    whole_sent,
    write,
)
from thawline.faces.web.views.stock_words import coldest_first, count_word, unit_word, usual_freezer
from thawline.faces.words import FORMS, Words, words_for
from thawline.services import many
from thawline.services.acts import BadWhenError
from thawline.services.board import Board, board, today
from thawline.services.recording import new_act

ROWS = 6
_FORM_CHOICES = {"": gettext_lazy("as its place suggests")} | {key: FORMS[key] for key in ("fresh", "frozen", "thawed")}


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The rows, their preview, and what they record."""
    found = board(request.home.store, now=request.now)
    if request.method == "GET":
        place = request.GET.get("place", "")
        start = place if found.place(place) else usual_freezer(found)
        drafts = [Draft(n, place=start) for n in range(1, ROWS + 1)]
        return numbered(request) or show(request, found, drafts)
    step = request.POST.get("step", "look")
    drafts = rows_sent(request.POST)
    if step == "more":
        return show(request, found, _more(drafts, found))
    if step == "record":
        return _record(request, found, drafts)
    return look(request, found, drafts, opened=step.removeprefix("mend-"))


def _more(drafts: list[Draft], found: Board) -> list[Draft]:
    """Six rows more, where the last row was."""
    last = drafts[-1].place if drafts else usual_freezer(found)
    filled = [draft.place for draft in drafts if not draft.blank]
    place = filled[-1] if filled else last
    end = min(len(drafts) + ROWS, MOST_ROWS)
    return drafts + [Draft(n, place=place) for n in range(len(drafts) + 1, end + 1)]


def look(
    request: Request, found: Board, drafts: Sequence[Draft], *, opened: str = "", notes: Sequence[str] = ()
) -> HttpResponse:
    """The preview: good rows told, the others open to be mended."""
    rows = check(request, found, drafts, whole_sent(request.POST, found))
    if not rows:
        return show(request, found, drafts, problems=[_("Fill in at least one row.")])
    return _preview(request, found, rows, opened=opened, notes=notes)


def _record(request: Request, found: Board, drafts: Sequence[Draft]) -> HttpResponse:
    number = act_id(request)
    before = request.home.store.act(number) if number else []
    mine = frozenset(event.container for row in before if isinstance(event := decoded(row), ev.Stocked))
    rows = check(request, found, drafts, whole_sent(request.POST, found), mine=mine)
    good = [row for row in rows if not row.errors]
    rest = [row for row in rows if row.errors]
    if not good and not before:
        return look(request, found, drafts)
    if sum(row.alike for row in good) > MOST_CONTAINERS:
        says = _("That is more than %(most)d containers. Record some of them first.") % {"most": MOST_CONTAINERS}
        return _preview(request, found, rows, problems=[says])
    try:
        act = begin_act(request, found.settings.zone)
    except BadWhenError as fault:
        return _preview(request, found, rows, problems=[str(fault)])
    if not before:
        write(request, act, good)
    answer = perform(
        request, act, back=reverse("web:enter"), again=lambda says: _preview(request, found, rows, problems=says)
    )
    if rest and answer.status_code == 302:
        return _rest(request, rest, act.id)
    return answer


def _rest(request: Request, rest: Sequence[Checked], act: str) -> HttpResponse:
    """What is still to mend, beneath what was just recorded."""
    found = board(request.home.store, now=request.now)
    rows = [row._replace(draft=row.draft._replace(n=n)) for n, row in enumerate(rest, 1)]
    return _preview(request, found, rows, done=act)


def _preview(
    request: Request, found: Board, rows: Sequence[Checked], *, opened: str = "", problems: Sequence[str] = (),
    notes: Sequence[str] = (), done: str = "",
) -> HttpResponse:  # fmt: skip
    words = words_for(found.settings.zone, found.now, found.units)
    good = [row for row in rows if not row.errors]
    bad = len(rows) - len(good)
    containers = sum(row.alike for row in good)
    page = _common(request, found) | {
        "looked": True,
        "rows": [_shown(row, words, opened) for row in rows],
        "count": len(rows),
        "act": new_act() if done else act_id(request) or new_act(),
        "good": containers,
        "bad": bad,
        "summary": _summary(good, containers, words),
        "record": ngettext("Record %(n)d container", "Record %(n)d containers", containers) % {"n": containers},
        "rest": ngettext("%(n)d row is kept here to mend.", "%(n)d rows are kept here to mend.", bad) % {"n": bad},
        "problems": [{"says": says} for says in problems],
        "notes": notes,
    }
    if done:
        page |= _recorded(request, done, words)
    return render(request, "web/stock_enter.html", page, status=422 if problems or (bad and not done) else 200)


def _summary(good: Sequence[Checked], containers: int, words: Words) -> str:
    """How much the good rows are, and the earliest moment by which one has to be used."""
    ml = sum(row.fields["ml"] * row.alike for row in good)
    says = f"{count_word(containers)}, {words.ml(ml)}"
    verdicts = [row.verdict for row in good if row.verdict is not None and row.verdict.standing in many.WITHIN]
    ends = [one.use_by for one in verdicts if one.use_by is not None]
    return says + ("; " + _("the first one: use by %(time)s") % {"time": words.until(min(ends))} if ends else "")


def _shown(row: Checked, words: Words, opened: str) -> dict[str, Any]:
    """A row for the page: as typed, and as a line where it is good and not to be changed."""
    draft = row.draft
    shown: dict[str, Any] = {"draft": draft, "errors": row.errors, "open": bool(row.errors) or opened == str(draft.n)}
    if not row.errors:
        shown["alike"] = row.alike if row.alike > 1 else 0
        shown["ml_text"] = words.ml(row.fields["ml"])
        shown["day"] = words.day(row.verdict.dated) if row.verdict is not None else draft.on
        shown["milk"] = milk_line(row.verdict, words) if row.verdict is not None else None
    return shown


def show(
    request: Request, found: Board, drafts: Sequence[Draft], *, problems: Sequence[str] = ()
) -> HttpResponse:  # fmt: skip
    """The rows as typed, all of them open."""
    words = words_for(found.settings.zone, found.now, found.units)
    page = _common(request, found) | {
        "rows": [{"draft": draft, "errors": [], "open": True} for draft in drafts],
        "count": len(drafts),
        "act": act_id(request) or new_act(),
        "may_grow": len(drafts) < MOST_ROWS,
        "problems": [{"says": says} for says in problems],
    }
    if request.method == "GET" and (act := request.GET.get("done", "")):
        page |= _recorded(request, act, words)
    return render(request, "web/stock_enter.html", page, status=422 if problems else 200)


def _common(request: Request, found: Board) -> dict[str, Any]:
    return {
        "places": [{"value": place.name, "label": place.name} for place in coldest_first(found.places)],
        "forms": _FORM_CHOICES.items(),
        "unit": unit_word(found),
        "latest": today(found),
        "whole": whole_sent(request.POST, found),
        "children": [child.name for child in found.children] if len(found.children) > 1 else [],
    }


def _recorded(request: Request, act: str, words: Words) -> dict[str, Any]:
    """The codes to write on the containers that an act brought in, with its undo."""
    rows = request.home.store.act(act)
    events = [event for row in rows if isinstance(event := decoded(row), ev.Stocked)]
    if not events or request.home.store.voided_by([row.event_id for row in rows]):
        return {}
    codes = [(one.container, url_of(one.container), words.ml(one.ml), one.expressed[:10], one.place) for one in events]
    fields = [("act", new_act()), ("back", reverse("web:enter"))]
    undo = {"says": tell_act(rows, words), "undo_url": reverse("web:undo", args=[act]), "fields": fields}
    return {"codes": codes, "done": undo}
