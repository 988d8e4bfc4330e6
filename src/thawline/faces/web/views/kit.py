"""The expressing kit: when it was washed and sanitised, and when next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, NamedTuple

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, back_to, begin_act, perform, words_of
from thawline.faces.words import SURE, Words
from thawline.services import kit, kit_risk
from thawline.services.acts import BadWhenError
from thawline.services.board import manners
from thawline.services.kit import Basin, Line, Sanitising, Washing
from thawline.services.recording import new_act

# What a tap records: the part, and what was done with it.
DOES = {"washed": ("kit", "washed"), "sanitised": ("kit", "sanitised"), "basin": ("basin", "washed")}
PARTS = (
    ("before", gettext_lazy("Before each use")),
    ("after", gettext_lazy("After each use")),
    ("sanitise", gettext_lazy("How to sanitise")),
)


class Shown(NamedTuple):
    """How one part of the kit stands: what to do, whether it is overdue, when last, and when next."""

    says: str
    overdue: bool
    last: str
    due: str


class Told(NamedTuple):
    """A line of a text with its source and how sure it is."""

    says: str
    source: str
    mark: str
    shared: bool = False


class Part(NamedTuple):
    """Steps under a heading, and the source of those that share one."""

    key: str
    title: str
    lines: list[Told]
    source: str
    mark: str


@require_GET
def page(request: Request) -> HttpResponse:
    """How the kit stands, what to do, and why."""
    return _page(request, ())


def _page(request: Request, errors: Sequence[str]) -> HttpResponse:
    store, now, words = request.home.store, request.now, words_of(request)
    clean, basin = kit.sanitising(store, now=now), kit.basin(store, now=now)
    children = kit.children(store, now=now)
    context: dict[str, Any] = {
        "problems": [{"says": says} for says in errors],
        "act": new_act(),
        "sent": request.POST,
        "washing": _washing(kit.washing(store, now=now), words),
        "sanitising": _sanitising(clean, words),
        "basin": _basin(basin, words),
        "why": _told(clean),
        "unit": clean.unit,
        "child": clean.child if len(children) > 1 else "",
        "beside": [_told(line) for line in kit.beside(store, now=now)],
        "parts": [_part(key, str(title), kit.steps(key, store, now=now)) for key, title in PARTS],
        "children": [{"value": one, "label": one} for one in children],
        "risk": kit_risk.at_risk(store),
        "sources": kit.sources(),
        "basin_line": _told(basin.line),
        "kit_back": back_to(request, ""),
    }
    return render(request, "web/kit.html", context, status=422 if errors else 200)


def _told(line: Line | Sanitising) -> Told:
    return Told(line.says, line.short, str(SURE[line.mark]))


def _part(key: str, title: str, lines: Sequence[Line]) -> Part:
    """The steps of a part: the source that most of them share is told once, below them."""
    told = [_told(line) for line in lines]
    (source, mark), _number = Counter((one.source, one.mark) for one in told).most_common(1)[0]
    return Part(
        key, title, [one._replace(shared=(one.source, one.mark) == (source, mark)) for one in told], source, mark
    )


def _washing(found: Washing, words: Words) -> Shown:
    if found.used_at is None:
        says = _("No session is noted yet.")
    elif found.overdue:
        says = _("Used since %(when)s: wash it.") % {"when": words.clock(found.used_at)}
    else:
        says = _("Not used since it was washed.")
    return Shown(says, found.overdue, _last(found.last_at, words), "")


def _sanitising(found: Sanitising, words: Words) -> Shown:
    overdue = found.overdue(words.now)
    due = words.clock(found.due_at) if found.due_at is not None and found.last_at is not None else ""
    if found.cadence == "optional":
        says = _("Nothing is due.")
    elif found.last_at is None:
        says = _("Not noted yet: sanitise it, then it can be counted.")
        overdue = found.used
    elif found.cadence == "every_use":
        says = _("Used since: sanitise it before the next use.") if found.used else _("Not used since.")
    elif not found.used and found.due_at is not None and found.due_at < words.now:
        says, due = _("Not used since: sanitise it before the next use."), ""
    else:
        says = _("It was due.") if overdue else _("Sanitise it again by then.")
    return Shown(says, overdue, _last(found.last_at, words), due)


def _basin(found: Basin, words: Words) -> Shown:
    overdue = found.due_at is not None and found.due_at < words.now
    due = "" if found.due_at is None else words.clock(found.due_at)
    says = _("Wash them again.") if overdue else _("Wash them every few days.")
    return Shown(says, overdue, _last(found.last_at, words), due)


def _last(at: int | None, words: Words) -> str:
    return _("not noted yet") if at is None else words.clock(at)


@require_POST
def done(request: Request) -> HttpResponse:
    """Note that something was washed or sanitised."""
    what, how = DOES.get(request.POST.get("does", ""), ("", ""))
    if not what:
        return _page(request, [_("Tap what was done.")])
    if act_id(request) is None:
        return _page(request, [_("This form is too old. Please tap once more.")])
    try:
        act = begin_act(request, manners(request.home.store, now=request.now)[0])
    except BadWhenError as fault:
        return _page(request, [str(fault)])
    act.add("cleaned", what=what, how=how)
    return perform(
        request, act, back=back_to(request, reverse("web:kit")), again=lambda errors: _page(request, errors)
    )  # fmt: skip


@require_POST
def risk(request: Request) -> HttpResponse:
    """Note of which children the kit is sanitised daily at any age."""
    known = kit.children(request.home.store, now=request.now)
    kit_risk.keep_at_risk(request.home.store, [name for name in request.POST.getlist("child") if name in known])
    return HttpResponseRedirect(reverse("web:kit") + "#why")


routes = [
    path("kit/", page, name="kit"),
    path("kit/done/", done, name="kit_done"),
    path("kit/children/", risk, name="kit_children"),
]
