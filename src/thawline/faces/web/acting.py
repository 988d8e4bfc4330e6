"""From a form to the ledger: once only, with what a guideline says against it shown first."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.encoding import escape_uri_path
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from thawline.core import events as ev
from thawline.core.ledger import Refusal
from thawline.core.verdict import Verdict
from thawline.faces.handing import tell_there
from thawline.faces.request import Request
from thawline.faces.tell import decoded, tell_act
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.words import Words, words_for
from thawline.services import acts, board
from thawline.services.acts import Act, BadWhenError
from thawline.services.looking_ahead import Preview, preview
from thawline.services.permissions import may, may_record, may_take_back
from thawline.services.recording import line_of, new_act, record
from thawline.services.tags import tag_of

_ACT = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII)
Again = Callable[[Sequence[str]], HttpResponse]


def act_id(request: Request) -> str | None:
    """The id under which this form records: from the form, else from the address; None where it has none."""
    given = request.POST.get("act") or request.GET.get("act") or ""
    return given if _ACT.fullmatch(given) else None


def numbered(request: Request) -> HttpResponse | None:
    """For a form's page: to the same address with an id of its own, so that back and send again counts once."""
    if act_id(request) is not None:
        return None
    query = request.GET.copy()
    query["act"] = new_act()
    return HttpResponseRedirect(f"{escape_uri_path(request.path)}?{query.urlencode()}")


def begun(request: Request, back: str) -> HttpResponse | None:
    """What comes before a form: its number, or the way back where it was recorded already; else None."""
    if request.method == "GET":
        return numbered(request)
    number = act_id(request)
    return done(back_to(request, back), number) if number is not None and request.home.store.act(number) else None


def when_of(request: Request, zone: str) -> str:
    """The `at` that the form's "When?" field gives; now where there is none; raises `BadWhenError`."""
    sent = request.POST
    return acts.when(
        sent.get("when") or "now", sent.get("when_at", ""), sent.get("when_on", ""), now=request.now, zone=zone
    )  # fmt: skip


def begin_act(request: Request, zone: str) -> Act:
    """An act under the form's id, by whoever acts, at the time given; raises `BadWhenError`."""
    found = act_id(request)
    if found is None:
        raise BadWhenError(_("This form is too old. Please fill it in again."))
    return Act(found, by=request.who, at=when_of(request, zone))


def back_to(request: Request, default: str) -> str:
    """Where the form says to go back to, if that is a page of ours."""
    wanted = request.POST.get("back") or request.GET.get("back") or ""
    return wanted if url_has_allowed_host_and_scheme(wanted, allowed_hosts=None) and wanted.startswith("/") else default


def done(back: str, act: str) -> HttpResponse:
    """Back to a page, which tells what was recorded and offers to undo it."""
    path, _mark, query = back.partition("?")
    kept = [part for part in query.split("&") if part and not part.startswith("done=")]
    return HttpResponseRedirect(f"{path}?{'&'.join([*kept, urlencode({'done': act})])}")


def allow(request: Request, events: Sequence[Mapping[str, Any]]) -> None:
    """Raise `PermissionDenied` where whoever is signed in may not record these; every page that records asks here."""
    home = request.home
    if not may_record(home.role, events):
        raise PermissionDenied
    if not may(home.role, "settle"):
        back = [str(event.get("event")) for event in events if event.get("kind") == "voided"]
        if any(event.get("by") not in (None, home.member) for event in events) or not may_undo(request, back):
            raise PermissionDenied


def may_undo(request: Request, ids: Sequence[str]) -> bool:
    """Whether whoever is signed in may take these events back."""
    found = request.home.store.rows(list(ids)).values()
    return may_take_back(request.home.role, request.home.member, found, now=request.now)


def perform(request: Request, act: Act, *, back: str, again: Again, also: Sequence[str] = ()) -> HttpResponse:
    """Record an act: once, however often it is sent; what a guideline says against it is asked first.

    `also`: overlays that count beside the household's guidelines, such as a childcare service's rule.
    """
    store = request.home.store
    if store.act(act.id):
        return done(back, act.id)
    allow(request, act.events)
    if not act.events:
        return again([_("There is nothing to record yet.")])
    seen = preview(store, act.events, now=request.now, also=also)
    if seen.refused:
        return _refused(request, act, back, again, seen.refused)
    if seen.breaches and request.POST.get("sure") != "yes":
        return _ask(request, seen, back)
    found = record(store, [line_of(event) for event in act.events], now=request.now, person=request.home.member)
    if found.refused:
        return _refused(request, act, back, again, found.refused)
    return done(back, act.id)


def _refused(request: Request, act: Act, back: str, again: Again, refused: Sequence[Refusal]) -> HttpResponse:
    # Of a form that arrives twice at one moment, the other may have been recorded meanwhile.
    if request.home.store.act(act.id):
        return done(back, act.id)
    return again([told(refusal) for refusal in refused])


def told(refusal: Refusal) -> str:
    """A refusal as a sentence for a person."""
    says = refusal.says.partition(": ")[2] if refusal.says.startswith("line ") else refusal.says
    return says[:1].upper() + says[1:] + ("" if says.endswith(".") else ".")


def _ask(request: Request, seen: Preview, back: str) -> HttpResponse:
    sent = [(key, value) for key, values in request.POST.lists() for value in values
            if key not in ("csrfmiddlewaretoken", "sure")]  # fmt: skip
    if "act" not in request.POST:
        sent.append(("act", act_id(request) or ""))
    words = words_of(request)
    broken = list(dict.fromkeys(one.container for one in seen.breaches))
    page = {
        "breaches": seen.breaches,
        "sent": sent,
        "action": request.get_full_path(),
        "back_url": back,
        "then": [_then(request, seen.after[name], words) for name in broken if seen.after[name].standing != "gone"],
        "fed": any(seen.after[name].fed_from is not None for name in broken),
    }
    return render(request, "web/ask.html", page, status=200)


def _then(request: Request, found: Verdict, words: Words) -> MilkLine:
    line = milk_line(found, words)
    # A service is shown no page of the family's, and no place of its home.
    return line._replace(url="", place=None) if may(request.home.role, "serve") else line


def words_of(request: Request) -> Words:
    """How this household writes times and amounts."""
    zone, units = board.manners(request.home.store, now=request.now)
    return words_for(zone, request.now, units)


def done_banner(request: Request) -> dict[str, Any] | None:
    """What was just recorded, with its undo: for the page that a form leads back to."""
    act = request.GET.get("done", "")
    if not _ACT.fullmatch(act):
        return None
    rows = request.home.store.act(act)
    if not rows:
        return None
    undo = may_undo(request, [row.event_id for row in rows])
    serves = may(request.home.role, "serve")
    if serves and not undo:
        # A service is told of its own acts only.
        return None
    back = request.get_full_path().partition("?")[0]
    fields = [("act", new_act()), ("back", back)]
    events = [decoded(row) for row in rows]
    words = words_of(request)
    # What was just filled has no name on it yet.
    write = [
        (one.container, words.ml(one.ml)) for event in events if isinstance(event, ev.Expressed) for one in event.into
    ]
    return {
        "says": tell_there(events, request.home, words) if serves else tell_act(rows, words),
        "undo_url": _undo_url(request, act) if undo else "",
        "fields": fields,
        "write": write,
    }


def _undo_url(request: Request, act: str) -> str:
    if may(request.home.role, "serve"):
        return reverse("web:care_undo", args=[tag_of(request.home.store), act])
    return reverse("web:undo", args=[act])
