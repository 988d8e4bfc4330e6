"""A calendar as it is read under its secret address (RFC 5545, RFC 7986)."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import cast
from uuid import UUID, uuid5

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe
from icalendar import Alarm, Calendar, Event, Timezone

from thawline.core.times import SECOND
from thawline.faces.due_words import body, title
from thawline.faces.request import Request, asked_here
from thawline.faces.words import Words, words_for
from thawline.services import agenda, board, calendar_entries, calendar_links, tags
from thawline.services.agenda import Says
from thawline.services.calendar_entries import Entry
from thawline.services.calendar_links import Opened

PRODID = "-//Thawline//What to do by when//EN"
REFRESH = timedelta(hours=1)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@login_not_required
@require_safe
def read(request: HttpRequest, secret: str) -> HttpResponse:
    """The calendar; whoever has the address reads it. What is unknown or taken back is not found."""
    now = cast("Request", request).now
    found = calendar_links.opened(secret, now=now)
    if found is None:
        raise Http404
    if board.clock_wrong(found.home.store, now):
        # What was noted last would not count: a phone keeps what it has, and asks again.
        return HttpResponse(status=503, headers={"Retry-After": "3600"})
    data = written(found, now=now, base=_base(request))
    answer = HttpResponse(data, content_type="text/calendar; charset=utf-8")
    answer.headers["Content-Disposition"] = 'inline; filename="thawline.ics"'
    answer.headers["X-Robots-Tag"] = "noindex"
    etag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
    answer.headers["ETag"] = etag
    return get_conditional_response(request, etag=etag, response=answer) or answer


def _base(request: HttpRequest) -> str | None:
    """Where the pages are, as whoever reads it came; None where that name means another computer elsewhere."""
    return None if asked_here(request) else request.build_absolute_uri("/").rstrip("/")


def written(found: Opened, *, now: int, base: str | None) -> bytes:
    """The calendar as it is sent: the same to the byte, as long as nothing in it has changed."""
    store = found.home.store
    # All that is due is counted, whatever this address shows of it, so that every address tells the same changes.
    dues = agenda.agenda(found.home, now=now, days=agenda.FAR_DAYS)
    zone, units = board.manners(store, now=now)
    words = words_for(zone, now, units)
    shown = [
        (entry, says)
        for entry in calendar_entries.entries(store, dues, now=now, manner=(zone, units))
        if (says := agenda.told(entry.due, found.about)) is not None
    ]
    data: bytes = _calendar(found, shown, words, base).to_ical()
    return data


def _calendar(found: Opened, shown: Sequence[tuple[Entry, Says]], words: Words, base: str | None) -> Calendar:
    calendar = Calendar()
    name = _("Milk: %(household)s") % {"household": found.home.name}
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", PRODID)
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("NAME", name)  # RFC 7986, 5.1
    calendar.add("X-WR-CALNAME", name)
    calendar.add("X-WR-TIMEZONE", str(words.zone))
    calendar.add("REFRESH-INTERVAL", REFRESH, parameters={"VALUE": "DURATION"})  # RFC 7986, 5.7
    calendar.add("X-PUBLISHED-TTL", "PT1H")
    for entry, says in shown:
        calendar.add_component(_event(found, entry, says, words, base))
    if not shown:
        # A calendar without any component is none (RFC 5545, 3.6).
        calendar.add_component(Timezone.from_tzid(str(words.zone)))
    return calendar


def uid(household: str, key: str) -> str:
    """The same for the same household and key, and nobody else's (RFC 7986, 5.3)."""
    return str(uuid5(UUID(household), key))


def _event(found: Opened, entry: Entry, says: Says, words: Words, base: str | None) -> Event:
    due, store = entry.due, found.home.store
    event = Event()
    event.add("UID", uid(store.key, due.key))
    # Without a METHOD the stamp says when it was last revised (RFC 5545, 3.8.7.2).
    event.add("DTSTAMP", _utc(entry.at))
    event.add("LAST-MODIFIED", _utc(entry.at))
    event.add("SEQUENCE", entry.sequence)
    event.add("DTSTART", _utc(due.by if due.since is None else due.since))
    if due.since is not None:
        event.add("DTEND", _utc(due.by))
    event.add("SUMMARY", title(due, says, words))
    event.add("DESCRIPTION", body(due, words))
    event.add("TRANSP", "TRANSPARENT")
    event.add("CLASS", "PRIVATE")
    if base is not None and due.container:
        event.add("URL", tags.address(base, store, due.container))
    for lead in due.leads:
        event.add_component(_alarm(lead, entry, title(due, says, words, with_day=True)))
    return event


def _alarm(lead: int, entry: Entry, says: str) -> Alarm:
    due, alarm = entry.due, Alarm()
    start = due.by if due.since is None else due.since
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", says)
    alarm.add("TRIGGER", timedelta(seconds=-((lead - (due.by - start)) // SECOND)))
    return alarm


def _utc(at: int) -> datetime:
    """An instant in whole seconds, never later than it is."""
    return _EPOCH + timedelta(seconds=at // SECOND)


routes = [path("<str:secret>.ics", read, name="read")]
