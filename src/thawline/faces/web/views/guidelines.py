"""Guidelines: what the one in force says, where that stands, and what another would change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from thawline.core.guideline import Advice, Ban, Guideline, Row
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, numbered, perform, words_of
from thawline.faces.web.views.settings_kit import seen
from thawline.services import board, household
from thawline.services.acts import BadWhenError
from thawline.services.board import Board
from thawline.services.looking_ahead import under

SITUATIONS = {
    "fresh_room": gettext_lazy("Fresh, at room temperature"),
    "fresh_cooler": gettext_lazy("Fresh, in a cooler with ice packs"),
    "fresh_refrigerator": gettext_lazy("Fresh, in the refrigerator"),
    "freezer_compartment": gettext_lazy("In a freezer compartment"),
    "freezer": gettext_lazy("In a freezer"),
    "deep_freezer": gettext_lazy("In a deep freezer"),
    "thawed_cold": gettext_lazy("Thawed, kept cold"),
    "thawed_room": gettext_lazy("Thawed, at room temperature"),
    "thawed_warm_water": gettext_lazy("Thawed in warm water"),
    "brought_to_room": gettext_lazy("Chilled milk, out in the room"),
    "warmed": gettext_lazy("Warmed"),
    "leftover": gettext_lazy("Left over from a feed"),
}
MARKS = {
    "seen": gettext_lazy("read in the source"),
    "second-hand": gettext_lazy("as somebody else restates it"),
    "memory": gettext_lazy("from memory: not counted"),
    "ours": gettext_lazy("our cautious reading"),
}


def _situations(one: Guideline) -> list[tuple[str, list[dict[str, Any]]]]:
    """The limits as a list to read, by situation."""
    found = ((word, one.rows[key]) for key, word in SITUATIONS.items() if key in one.rows)
    return [(str(word), [_limit(row, one) for row in rows]) for word, rows in found]


def _limit(row: Row, one: Guideline) -> dict[str, Any]:
    # Most of them say by themselves that it is the better, shorter time.
    return {**_told(row, one), "best": row.best and "best" not in row.says.lower()}


def _told(found: Row | Ban | Advice, one: Guideline) -> dict[str, Any]:
    """What is said, how sure that is, and where it stands; what the page's head says of the source is left out."""
    place = found.source.removeprefix(one.source).removeprefix(", ")
    return {"says": found.says, "place": place, "mark": MARKS[found.mark]}


def _shown(one: Guideline) -> dict[str, Any]:
    return {
        "id": one.id, "name": one.name, "source": one.source, "about": one.about, "situations": _situations(one),
        "bans": [_told(ban, one) for ban in one.bans.values()], "advice": [_told(row, one) for row in one.advice],
    }  # fmt: skip


def _shipped(name: str) -> Guideline:
    for one in (*household.homes(), *household.overlays()):
        if one.id == name:
            return one
    raise Http404


@require_GET
def page(request: Request) -> HttpResponse:
    """The guideline in force, or another to read."""
    found = board.board(request.home.store, now=request.now)
    wanted = request.GET.get("see", "")
    one = _shipped(wanted) if wanted and wanted != found.guideline.id else found.guideline
    force = {found.guideline.id, *(other.id for other in found.also)}
    hidden = board.hospital_only(found)
    context = {
        "guideline": None if hidden else _shown(one), "in_force": one.id in force, "overlay": one.role == "childcare",
        "current": found.guideline, "also": found.also, "hidden": hidden,
        "others": [other for other in household.homes() if other.id != one.id],
        "overlays": [{"one": other, "on": other.id in force} for other in household.overlays()],
        "hospital": sorted(found.settings.hospital),
    }  # fmt: skip
    return render(request, "web/guidelines.html", context)


def _asked(request: Request, found: Board) -> tuple[Guideline, list[str]]:
    """The guideline and the overlays that the address or the form asks for."""
    sent = request.POST if request.method == "POST" else request.GET
    also = [one.id for one in found.also]
    to, more, less = sent.get("to", ""), sent.get("with", ""), sent.get("without", "")
    home = found.guideline
    if to and to != home.id:
        home = _shipped(to)
        if home.role != "home":
            raise Http404
    if more:
        if _shipped(more).role != "childcare":
            raise Http404
        also = [*(name for name in also if name != more), more]
    if less:
        if _shipped(less).role != "childcare":
            raise Http404
        also = [name for name in also if name != less]
    if not (to or more or less):
        raise Http404
    return home, also


@require_http_methods(["GET", "POST"])
def switch(request: Request) -> HttpResponse:
    """What another guideline would change, then the switch itself."""
    store = request.home.store
    found = board.board(store, now=request.now)
    home, also = _asked(request, found)
    if request.method == "GET":
        return numbered(request) or _switch_page(request, found, home, also, [])

    def again(says: Sequence[str]) -> HttpResponse:
        return _switch_page(request, found, home, also, says)

    try:
        act = begin_act(request, found.settings.zone)
    except BadWhenError as fault:
        return again([_(str(fault))])
    household.redescribe(act, found, guideline=home.id, also=also)
    return perform(request, act, back=reverse("web:guidelines"), again=again)


def _switch_page(
    request: Request, found: Board, home: Guideline, also: list[str], says: Sequence[str]
) -> HttpResponse:  # fmt: skip
    changes, _all = under(request.home.store, now=request.now, guideline=home.id, also=also)
    same = (home.id, also) == (found.guideline.id, [one.id for one in found.also])
    context = {
        "act": act_id(request), "to": home, "also": [_shipped(name) for name in also], "current": found.guideline,
        "same": same, "problems": [{"says": one} for one in says], "others": len(found.verdicts) - len(changes),
        "fields": [(key, request.GET.get(key) or request.POST.get(key)) for key in ("to", "with", "without")
                   if request.GET.get(key) or request.POST.get(key)],
        **seen(changes, words_of(request)),
    }  # fmt: skip
    return render(request, "web/guidelines_switch.html", context, status=422 if says else 200)


routes = [
    path("guidelines/", page, name="guidelines"),
    path("guidelines/switch/", switch, name="switch"),
]
