"""Holding milk back: what is held, why, until when; and holding or releasing several at once."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any, NamedTuple

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core.times import BadTimeError, day_start, is_date, parse_instant
from thawline.faces.request import Request
from thawline.faces.tell import HELD_WHY
from thawline.faces.web.acting import begin_act, begun, perform
from thawline.faces.web.lines import url_of
from thawline.faces.web.views.trip_pack import Pick, picks
from thawline.faces.words import SURE, Words, words_for
from thawline.services import holding
from thawline.services.acts import Act, BadWhenError, moment
from thawline.services.board import Board, board, today
from thawline.services.holding import Held
from thawline.services.permissions import may
from thawline.services.recording import new_act

# So many to choose from at first; the rest is one tap away.
AT_FIRST = 8


class HeldLine(NamedTuple):
    """A container that is held back, as it is ticked; `why` and `until` in words."""

    pick: Pick
    why: str
    until: str
    due: bool
    url: str


class _Here(NamedTuple):
    """What the page is made of."""

    board: Board
    words: Words
    held: list[Held]


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """What is held back, and what may be; what is sent holds or releases."""
    if request.method == "POST" and (first := begun(request, reverse("web:holding"))) is not None:
        return first
    found = board(request.home.store, now=request.now)
    words = words_for(found.settings.zone, found.now, found.units)
    here = _Here(found, words, holding.held(request.home.store, found))
    return _page(request, here, {}) if request.method == "GET" else _record(request, here)


def _record(request: Request, here: _Here) -> HttpResponse:
    if not may(request.home.role, "note"):
        raise PermissionDenied
    problems: dict[str, str] = {}
    act = _act(request, here, problems)
    if act is None or problems:
        return _page(request, here, problems)
    return perform(
        request, act, back=reverse("web:holding"),
        again=lambda errors: _page(request, here, {f"again-{number}": says for number, says in enumerate(errors)}),
    )  # fmt: skip


def _act(request: Request, here: _Here, problems: dict[str, str]) -> Act | None:
    """The act that the form asks for; what is to mend goes into `problems`, by field."""
    sent, zone = request.POST, here.board.settings.zone
    releasing = sent.get("do") == "release"
    allowed = {row.verdict.container for row in here.held} if releasing else _open(here)
    codes = [code for code in dict.fromkeys(sent.getlist("container")) if code in allowed]
    if not codes:
        problems["release" if releasing else "milk"] = _("Tick at least one container.")
    try:
        act = begin_act(request, zone)
        if releasing:
            holding.release(act, codes)
            return act
        if sent.get("why") not in holding.HOLD_WHY:
            problems["why"] = _("Choose why.")
            return None
        on, at = sent.get("until_on", "").strip()[:10], sent.get("until_at", "").strip()[:8]
        holding.hold(act, codes, why=sent["why"], on=on, at=at, zone=zone)
    except BadWhenError as fault:
        problems["until_on"] = str(fault)
        return None
    return act


def _open(here: _Here) -> set[str]:
    return {one.container for one in here.board.verdicts}


def _page(request: Request, here: _Here, problems: dict[str, str]) -> HttpResponse:
    sent = request.POST if request.method == "POST" else request.GET
    offered = holding.to_hold(here.board, here.held)
    ticked = _ticked(request, here)
    # What is ticked stands first, so that nothing is held unseen.
    rows = picks(sorted(offered, key=lambda one: one.container not in ticked), here.words, checked=ticked)
    first = max(AT_FIRST, sum(row.checked for row in rows))
    context: dict[str, Any] = {
        "problems": [{"says": says, "id": name if not name.startswith("again") else ""}
                     for name, says in problems.items()],
        "wrong": {name: [says] for name, says in problems.items()},
        # One for each form: what was held back and then released is two acts.
        "acts": {"hold": new_act(), "release": new_act()} | {sent.get("do", ""): sent.get("act", "")},
        "sent": sent,
        "held": _held_lines(here, sent.getlist("container") if sent.get("do") == "release" else ()),
        "rows": rows[:first],
        "more_rows": rows[first:],
        "last_url": _last_url(request, here, sent),
        "reasons": [{"value": why, "label": str(HELD_WHY[why])} for why in holding.HOLD_WHY],
        "about": [(title, key, [(one.says, one.source, str(SURE[one.mark])) for one in holding.lines(key)])
                  for key, title in (("medicine", _("A medicine")), ("alcohol", _("A drink")),
                                     ("clinician", _("An illness, or a clinician's word")))],
    }  # fmt: skip
    return render(request, "web/holding.html", context, status=422 if problems else 200)


def _last_url(request: Request, here: _Here, sent: QueryDict) -> str:
    """The same page with the last session ticked; empty where none of it is left."""
    if _open(here).isdisjoint(holding.last_session(request.home.store, now=request.now)):
        return ""
    kept = {key: str(sent[key]) for key in ("why", "until_on", "until_at") if sent.get(key)}
    return f"?{urlencode({'last': '1'} | kept)}"


def _ticked(request: Request, here: _Here) -> set[str]:
    """What is chosen: as sent, else the last session's, else what was expressed since a moment."""
    if request.method == "POST":
        return set(request.POST.getlist("container")) if request.POST.get("do") != "release" else set()
    if request.GET.get("last"):
        return set(holding.last_session(request.home.store, now=request.now))
    since = _since(request.GET.get("since", ""), here)
    if since is not None:
        return {one.container for one in here.board.verdicts if one.dated >= since}
    return set(request.GET.getlist("code"))


def _since(text: str, here: _Here) -> int | None:
    try:
        return moment(text, here.words.zone) if text else None
    except (BadTimeError, BadWhenError):
        return None


def _held_lines(here: _Here, ticked: Collection[str]) -> list[HeldLine]:
    now, day = here.board.now, today(here.board)
    return [
        HeldLine(
            picks([row.verdict], here.words, checked=ticked)[0], ", ".join(str(HELD_WHY[why]) for why in row.why),
            until_text(row.until, here.words), row.due(now, day), url_of(row.verdict.container),
        )
        for row in here.held
    ]  # fmt: skip


def until_text(until: str | None, words: Words) -> str:
    """When to look again, in words: a day, or a day and a time."""
    if until is None:
        return ""
    return words.day(day_start(until, words.zone)) if is_date(until) else words.clock(parse_instant(until))


routes = [path("holding/", page, name="holding")]
