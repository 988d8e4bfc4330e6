"""Outlook: how long the stock lasts, what it is for, and what would change that."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.core.times import BadTimeError, check_date
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.amounts import BadAmountError, number
from thawline.faces.web.views import outlook_note
from thawline.faces.web.views.outlook_shown import lasts_shown, shown
from thawline.faces.web.views.outlook_words import day_text
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import Words
from thawline.services import habits
from thawline.services.outlook import outlook_now
from thawline.services.outlook_kinds import OutlookNow, WhatIf

DAYS = 90
MOST_SESSIONS, MOST_APART_H = 12, 23
_FIELDS = ("sessions", "apart", "start")


@require_GET
def page(request: Request) -> HttpResponse:
    """The outlook as it is, or as it would be."""
    words = words_of(request)
    form = Form(request.GET.dict())
    asked = _asked(form, words)
    # What is only half understood is not answered.
    asked = WhatIf() if form.errors else asked
    found = _look(request, asked)
    context = {
        **shown(found, words), "sent": form.sent, "errors": form.errors, "problems": form.problems,
        "asked": _asked_text(asked, words), "opened": any(form.sent.get(name) for name in _FIELDS),
        "latest": _day(words, DAYS), "today": _day(words, 0),
    }  # fmt: skip
    if found.days and context["asked"]:
        context["as_it_is"] = lasts_shown(_look(request, WhatIf()), words)
    return render(request, "web/outlook.html", context, status=422 if form.errors else 200)


def _look(request: Request, what_if: WhatIf) -> OutlookNow:
    kept = habits.read(request.home.preferences)
    return outlook_now(request.home.store, kept, now=request.now, days=DAYS, what_if=what_if)


def _day(words: Words, ahead: int) -> str:
    return (words.local(words.now).date() + timedelta(days=ahead)).isoformat()


def _asked(form: Form, words: Words) -> WhatIf:
    """The question in the address; what can't be used is named beside its field."""
    sessions = _number(form, "sessions", MOST_SESSIONS, _("Write how many a day, from 0 to %(most)d."))
    apart = _number(form, "apart", MOST_APART_H, _("Write the hours of a day apart, from 0 to %(most)d."))
    return WhatIf(sessions, apart, _start(form, words))


def _number(form: Form, name: str, most: int, says: str) -> float | None:
    text = form.sent.get(name, "").strip()
    if not text:
        return None
    try:
        found = number(text)
    except BadAmountError as fault:
        form.wrong(name, str(fault))
        return None
    if not 0 <= found <= most:
        form.wrong(name, says % {"most": most})
        return None
    return found


def _start(form: Form, words: Words) -> str | None:
    text = form.sent.get("start", "").strip()
    if not text:
        return None
    try:
        check_date(text)
        date.fromisoformat(text)
    except (BadTimeError, ValueError):
        form.wrong("start", _("Write the day like 2027-02-03."))
        return None
    if not _day(words, 0) <= text <= _day(words, DAYS):
        days = {"first": day_text(_day(words, 0), words), "last": day_text(_day(words, DAYS), words)}
        form.wrong("start", _("Choose a day from %(first)s to %(last)s.") % days)
        return None
    return text


def _asked_text(asked: WhatIf, words: Words) -> str:
    """The question in words; empty where none was asked."""
    parts: list[str] = []
    if asked.sessions is not None:
        parts.append(_("%(n)g sessions a day") % {"n": asked.sessions})
    if asked.apart_h is not None:
        parts.append(_("%(n)g hours on a day apart") % {"n": asked.apart_h})
    if not parts and asked.start is None:
        return ""
    if asked.start is not None:
        parts.append(_("from %(day)s on") % {"day": day_text(asked.start, words)})
    return ", ".join(parts)


routes: list[Any] = [path("outlook/", page, name="outlook"), *outlook_note.routes]
