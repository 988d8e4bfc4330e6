"""When frozen milk is thawed in the refrigerator, and by when to move it there."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from thawline.core.times import zone_named
from thawline.faces.request import Request
from thawline.faces.web.views import heat_pictures
from thawline.faces.web.views.heat_kit import (
    LYING,
    Asked,
    about_short,
    range_short,
    shown,
    stand_choices,
)
from thawline.faces.words import Words
from thawline.services import acts, heat_answers
from thawline.services.acts import BadWhenError
from thawline.services.heat import Around, Subject
from thawline.services.heat_answers import Wanted

MORNING = "07:00"
# What a family calls a night, in hours: only the choice of words hangs on it.
NIGHT_H = 8
_CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)", re.ASCII)


class Row(NamedTuple):
    """By when to move it: for which moment, for certain, and likely; `unsure` where no moment is certain."""

    at: str
    by: str
    likely_by: str
    unsure: bool


@require_GET
def page(request: Request) -> HttpResponse:
    """The question, and its answer once a container is known."""
    asked = Asked(request, forms=("frozen", "thawing"))
    to = asked.place("refrigerator")
    around = asked.around("refrigerator", to)
    first = _wanted(asked)
    context = asked.context(
        stands=stand_choices(), wanted=asked.sent.get("wanted") or MORNING, around=around,
        places=asked.places("refrigerator"), to=to.name if to is not None else "", warm_url=_warm_url(asked),
    )  # fmt: skip
    subject = asked.answered
    if subject is not None:
        context |= _answer(asked, subject, around, first)
    return render(request, "web/heat_thaw.html", context, status=422 if asked.errors else 200)


def _warm_url(asked: Asked) -> str:
    """The same frozen container, thawed in warm water instead."""
    kept = {name: asked.sent.get(name, "") for name in ("code", "ml", "shape", "across", "how")}
    query = {name: value for name, value in kept.items() if value} | {"start": "frozen"}
    return f"{reverse('web:heat_warm')}?{urlencode(query)}"


def _wanted(asked: Asked) -> int:
    """The next moment at which the clock shows the time that is wanted."""
    zone, now = zone_named(asked.board.settings.zone), asked.request.now
    try:
        return acts.next_time(asked.sent.get("wanted", "").strip() or MORNING, zone, now)
    except BadWhenError as fault:
        asked.wrong("wanted", _(str(fault)))
        return now


def _answer(asked: Asked, subject: Subject, around: Around, first: int) -> dict[str, Any]:
    now, zone, words = asked.request.now, asked.board.settings.zone, asked.words
    start = asked.start_c("frozen")
    found = heat_answers.thaw(subject, around, start, now=now, zone=zone)
    # A bag that lies in the refrigerator already is looked at, not moved.
    step = asked.then("ice", _("Look for ice")) if subject.form == "thawing" else None
    if subject.form == "frozen" and around.place and not found.never:
        step = asked.then("to", _("Thaw: %(place)s") % {"place": around.place}, to=around.place)
    answer: dict[str, Any] = {
        "found": found,
        "next": step,
        "rests": [*asked.size(), *asked.air(around), asked.start_rest("frozen")],
    }
    if found.never:
        return answer
    rows = [] if subject.form == "thawing" else heat_answers.wanted(found, first, now=now)
    return answer | {
        "shown": shown(found.when, found.takes, words),
        "lying": [(str(LYING[stands]), about_short(takes), range_short(takes), asked.url(stands=stands))
                  for stands, takes in heat_answers.by_lying(subject, around, start)],
        "rows": [_row(row, now, words) for row in rows],
        "night": found.takes.late_h > NIGHT_H and subject.form != "thawing",
        "may_be_thawed": found.when.early is not None and found.when.early <= now,
        "picture": heat_pictures.thawing(heat_answers.thaw_course(subject, around, start, found), found, words),
    }  # fmt: skip


def _row(row: Wanted, now: int, words: Words) -> Row:
    by, likely = (words.clock(at) if at is not None and at >= now else "" for at in (row.by, row.likely_by))
    return Row(words.clock(row.at), by, likely, row.by is None)
