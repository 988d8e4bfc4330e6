"""History: everything that was recorded, latest first, and taking it back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from thawline.core import events as ev
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, allow, back_to, done, may_undo, words_of
from thawline.faces.web.lines import url_of
from thawline.faces.web.views import history_correct
from thawline.faces.web.views.history_fields import Names, fields_of
from thawline.faces.web.views.history_shown import (
    days,
    entry_url,
    one_item,
    row_or_404,
    sentence,
    together,
    unfits,
    void_word,
    when_text,
)
from thawline.services import correcting
from thawline.services.acts import Act, Row, written_now
from thawline.services.board import manners
from thawline.services.looking_ahead import Preview
from thawline.services.people import people
from thawline.services.permissions import may
from thawline.services.recording import new_act

A_PAGE = 40
GROUPS: dict[str, tuple[Any, tuple[str, ...]]] = {
    "in": (gettext_lazy("Milk in"), ("expressed", "stocked", "received", "returned")),
    "moved": (gettext_lazy("Moved, warmed"), ("moved", "poured", "warmed", "added", "thaw_seen", "held", "released")),
    "fed": (gettext_lazy("Feeds"), ("feed_began", "feed_ended", "nursed", "fed_other", "day_complete", "weighed")),
    "out": (gettext_lazy("Given away, thrown away"), ("discarded", "handed_over", "counted")),
    "cold": (gettext_lazy("Cold and power"), ("measured", "power_lost", "power_back")),
    "kit": (gettext_lazy("The kit"), ("cleaned",)),
    "checks": (gettext_lazy("Checks, mix-ups"), ("checked", "incident")),
    "home": (gettext_lazy("Household"), ("household", "place", "child")),
    "mended": (gettext_lazy("Corrections"), ("voided",)),
}


class Link(NamedTuple):
    """A way to see other entries."""

    label: str
    url: str
    current: bool


def _before(text: str) -> tuple[int, str] | None:
    """Where a page begins: `<microseconds>-<event id>`; None where it is no such thing."""
    at, dash, event_id = text.partition("-")
    if not dash or not at.isascii() or not at.isdigit() or len(at) > 16 or "\x00" in event_id:
        return None
    return int(at), event_id[:200]


def _asked(request: Request) -> dict[str, str]:
    """The filters of the address, without what is empty or can't be a name."""
    found = {key: request.GET.get(key, "").strip() for key in ("code", "who", "kind")}
    found["kind"] = found["kind"] if found["kind"] in GROUPS else ""
    return {key: value for key, value in found.items() if value and "\x00" not in value and len(value) <= 200}


def _link(label: str, asked: dict[str, str], **other: str) -> Link:
    query = {key: value for key, value in {**asked, **other}.items() if value}
    current = all(asked.get(key, "") == value for key, value in other.items())
    address = reverse("web:history")
    return Link(label, f"{address}?{urlencode(query)}" if query else address, current)


@require_GET
def page(request: Request) -> HttpResponse:
    """A page of the history."""
    store, asked = request.home.store, _asked(request)
    before = _before(request.GET.get("before", ""))
    kinds = GROUPS[asked["kind"]][1] if "kind" in asked else ()
    found = correcting.past(
        store, before=before, limit=A_PAGE, name=asked.get("code"), kinds=kinds, person=asked.get("who", "")
    )
    words = words_of(request)
    names = dict.fromkeys([one.name for one in people(store)] + sorted({correcting.who_did(row) for row in found.rows}))
    context = {
        "days": days(request, found.rows, words, found.bulks),
        "asked": asked,
        "only": ", ".join(str(GROUPS[value][0]) if key == "kind" else value for key, value in asked.items()),
        "earlier": _link("", asked, before=f"{found.more[0]}-{found.more[1]}").url if found.more else "",
        "latest": _link("", asked).url if before else "",
        "groups": [_link(_("Everything"), asked, kind=""),
                   *(_link(str(label), asked, kind=key) for key, (label, _kinds) in GROUPS.items())],
        "people": [_link(_("Everyone"), asked, who=""), *(_link(name, asked, who=name) for name in names if name)],
        "all_url": reverse("web:history"),
    }  # fmt: skip
    return render(request, "web/history.html", context)


@require_http_methods(["GET", "POST"])
def entry(request: Request, event_id: str | None = None) -> HttpResponse:
    """One entry; posted to, it is taken back or restored."""
    row = row_or_404(request, event_id)
    if request.method == "POST":
        return _mend(request, row)
    return render(request, "web/entry.html", _entry(request, row))


def _entry(request: Request, row: Row) -> dict[str, Any]:
    store, now = request.home.store, request.now
    words = words_of(request)
    event = correcting.event_of(row)
    voids = correcting.voids_of(store, [row.event_id], now=now).get(row.event_id, [])
    act, others = correcting.act_of(store, row.event_id)
    standing = correcting.standing(store, row.event_id, now=now) if voids else None
    target = store.rows([event.event]).get(event.event) if isinstance(event, ev.Voided) else None
    codes = sorted(store.touched([row.event_id]))
    mine = may_undo(request, [one.event_id for one in (row, *others, *voids, *([standing] if standing else []))])
    correctable = may(request.home.role, "settle") and history_correct.correctable(row)
    fields = [] if isinstance(event, ev.Voided) else fields_of(event, words, Names((), (), ()))
    return {
        "item": one_item(request, row, words),
        "when": when_text(row, words),
        "fields": [field for field in fields if field.value],
        "zone": event.zone if not isinstance(event, ev.Household) else None,
        "noted_as": event.noted,
        "recorded": words.clock(row.recorded_at),
        "person": row.person,
        "line": row.line.decode(),
        "voids": [(void_word([void]), when_text(void, words), correcting.who_did(void), entry_url(void.event_id))
                  for void in voids],
        "instead": (sentence(standing, words), entry_url(standing.event_id)) if standing else None,
        "target": (sentence(target, words), entry_url(target.event_id)) if target else None,
        "together": together(request, others, row, words),
        "milks": [(code, url_of(code)) for code in codes],
        "undo_url": reverse("web:undo", args=[act]) if len(others) > 1 and mine else "",
        "mine": mine,
        "is_void": isinstance(event, ev.Voided),
        "correct_url": entry_url(row.event_id, "correct") if correctable and not voids else "",
        "url": entry_url(row.event_id),
        "new_act": new_act(),
    }  # fmt: skip


def _mend(request: Request, row: Row) -> HttpResponse:
    store, now = request.home.store, request.now
    under = act_id(request) or new_act()
    at = written_now(now, manners(store, now=now)[0])
    by = request.who

    def make() -> Act:
        if request.POST.get("do") == "restore":
            return correcting.restoring(store, row.event_id, under=under, by=by, at=at, now=now)
        if correcting.voids_of(store, [row.event_id], now=now):
            return Act(under, by=by, at=at)
        return correcting.taking_back(store, [row.event_id], under=under, by=by, at=at, now=now)

    return _take(request, under, make, back_to(request, entry_url(row.event_id)))


@require_POST
def undo(request: Request, act: str) -> HttpResponse:
    """Take back everything that was recorded in one go."""
    store, now = request.home.store, request.now
    rows = [] if "\x00" in act or len(act) > 200 else store.act(act)
    if not rows:
        raise Http404
    under = act_id(request) or new_act()
    at = written_now(now, manners(store, now=now)[0])
    ids = [row.event_id for row in rows]
    return _take(
        request, under,
        lambda: correcting.taking_back(store, ids, under=under, by=request.who, at=at, now=now),
        back_to(request, reverse("web:history")),
    )  # fmt: skip


def _take(request: Request, under: str, make: Callable[[], Act], back: str) -> HttpResponse:
    """Record a taking back once; what would no longer fit, or be a breach, is said and asked first."""
    store, now = request.home.store, request.now
    if store.act(under):
        return done(back, under)
    act = make()
    if not act.events:
        messages.info(request, _("Nothing was left to change: it was done already."))
        return HttpResponseRedirect(back)
    allow(request, act.events)
    if request.POST.get("sure") != "yes":
        seen = correcting.look_ahead(store, act.events, now=now)
        if not seen.plain:
            return _ask(request, under, back, seen)
    correcting.record_once(store, under, make, now=now, person=request.home.member)
    return done(back, under)


def _ask(request: Request, under: str, back: str, seen: Preview) -> HttpResponse:
    kept = [("act", under), ("back", back), ("do", request.POST.get("do", "")), ("sure", "yes")]
    context = {
        "unfits": unfits(request, seen.refused, words_of(request)),
        "breaches": seen.breaches,
        "fields": [(key, value) for key, value in kept if value],
        "action": request.get_full_path(),
        "back": back,
    }
    return render(request, "web/history_ask.html", context)


routes = [
    path("history/", page, name="history"),
    path("history/<str:event_id>/", entry, name="entry"),
    path("history/<str:event_id>/correct/", history_correct.correct, name="entry_correct"),
    path("entry/", entry, name="entry_any"),
    path("entry/correct/", history_correct.correct, name="entry_any_correct"),
    path("undo/<str:act>/", undo, name="undo"),
]
