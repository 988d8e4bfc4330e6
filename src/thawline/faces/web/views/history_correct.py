"""Mend an entry: its fields as a form, what would change, and then both the void and the new entry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core import events as ev
from thawline.core.times import is_date
from thawline.faces.request import Request
from thawline.faces.tell import tell
from thawline.faces.web.acting import act_id, allow, done, numbered, told, when_of, words_of
from thawline.faces.web.views.history_fields import Field, Names, changed_of, fields_of
from thawline.faces.web.views.history_shown import (
    changed_rows,
    entry_url,
    one_item,
    row_or_404,
    sentence,
    unfits,
    when_text,
)
from thawline.faces.words import Words
from thawline.services import board, correcting
from thawline.services.acts import Act, BadWhenError, Row, correction, written_now
from thawline.services.looking_ahead import Preview
from thawline.services.people import people
from thawline.services.recording import line_of

# A household is described anew in the settings; a void is restored; a check, a mix-up can only be taken back.
_NOT_HERE = ("voided", "household", "checked", "incident")


def correctable(row: Row) -> bool:
    """Whether an entry of that kind is mended by a form."""
    return row.kind not in _NOT_HERE


@require_http_methods(["GET", "POST"])
def correct(request: Request, event_id: str | None = None) -> HttpResponse:
    """The form, what would change, and what records it."""
    row = row_or_404(request, event_id)
    if not correctable(row):
        raise Http404
    store = request.home.store
    act = act_id(request)
    if act is not None and store.act(act):
        return done(entry_url(f"{act}.1"), act)
    if correcting.voids_of(store, [row.event_id], now=request.now):
        messages.info(request, _("This entry no longer counts. Look at what stands in its place."))
        return HttpResponseRedirect(entry_url(row.event_id))
    if request.method == "GET":
        return numbered(request) or _form(request, row, _shown_when(row, words_of(request)), {}, ())
    return _sent(request, row, act)


def _shown_when(row: Row, words: Words) -> dict[str, str]:
    """The "When?" field as it stands for an entry."""
    at = words.local(row.at)
    choice = "on" if is_date(correcting.event_of(row).at) else "at"
    day = at.date().isoformat()
    return {"when": choice, "when_at": at.strftime("%Y-%m-%dT%H:%M") if choice == "at" else "", "when_on": day}


def _fields(request: Request, row: Row, words: Words) -> list[Field]:
    found = board.board(request.home.store, now=request.now)
    names = Names(
        [place.name for place in found.places], [child.name for child in found.children],
        sorted(verdict.container for verdict in found.verdicts),
    )  # fmt: skip
    return fields_of(correcting.event_of(row), words, names)


def _form(
    request: Request, row: Row, when: Mapping[str, str], wrong: Mapping[str, str], errors: Sequence[str]
) -> HttpResponse:
    words = words_of(request)
    sent = request.POST
    by = correcting.event_of(row).by or ""
    shown = [
        (field._replace(value=sent.get(field.name, field.value)), [wrong[field.name]] if field.name in wrong else None)
        for field in _fields(request, row, words) if field.how != "fixed"
    ]  # fmt: skip
    names = dict.fromkeys([*([by] if by else []), *(one.name for one in people(request.home.store))])
    problems = [{"says": says, "id": None} for says in errors]
    problems += [{"says": says, "id": name} for name, says in wrong.items()]
    context = {
        "item": one_item(request, row, words), "when_text": when_text(row, words), "fields": shown,
        "when": when, "wrong_when": [wrong["when"]] if "when" in wrong else None, "by": sent.get("by", by),
        "people": names, "act": act_id(request), "problems": problems, "url": entry_url(row.event_id),
        "action": request.get_full_path(),
    }  # fmt: skip
    return render(request, "web/entry_correct.html", context, status=422 if problems else 200)


def _when_sent(request: Request, row: Row, words: Words, zone: str) -> str | None:
    """The new time, None where it was left as it was."""
    shown = _shown_when(row, words)
    sent = {key: request.POST.get(key, shown[key]) for key in shown}
    field = "when_at" if sent["when"] == "at" else "when_on"
    if sent["when"] == shown["when"] and sent[field] == shown[field]:
        return None
    return when_of(request, zone)


def _sent(request: Request, row: Row, act: str | None) -> HttpResponse:
    store, now, words = request.home.store, request.now, words_of(request)
    zone = board.manners(store, now=now)[0]
    sent = request.POST
    when = {key: sent.get(key, "") for key in ("when", "when_at", "when_on")}
    if act is None:
        return _form(request, row, when, {}, [_("This form is too old. Please fill it in again.")])
    event = correcting.event_of(row)
    changed, wrong = changed_of(event, _fields(request, row, words), sent.dict(), words)
    try:
        new_at = _when_sent(request, row, words, zone)
    except BadWhenError as fault:
        new_at, wrong["when"] = None, str(fault)
    if new_at is not None:
        changed["at"] = new_at
    by = " ".join(sent.get("by", event.by or "").replace("\x00", "").split())[:200]
    if by != (event.by or ""):
        changed["by"] = by or None
        if by and by not in [one.name for one in people(store)]:
            wrong["by"] = _("Choose one of those on the list.")
    if wrong or sent.get("edit") == "yes":
        return _form(request, row, when, wrong, ())
    if not changed:
        return _form(request, row, when, {}, [_("Nothing is different yet.")])
    mended = correction(row, changed, under=act, by=request.who, at=written_now(now, zone))
    return _record(request, row, mended, when)


def _record(request: Request, row: Row, mended: Act, when: Mapping[str, str]) -> HttpResponse:
    store, now = request.home.store, request.now
    allow(request, mended.events)
    seen = correcting.look_ahead(store, mended.events, now=now)
    unread = [told(refusal) for refusal in seen.refused if refusal.event.startswith("line ")]
    if unread:
        return _form(request, row, when, {}, unread)
    if request.POST.get("sure") != "yes":
        return _preview(request, row, mended, seen)

    def make() -> Act | None:
        return None if correcting.voids_of(store, [row.event_id], now=now) else mended

    recorded = correcting.record_once(store, mended.id, make, now=now, person=request.home.member)
    if recorded is not None and recorded.refused:
        return _form(request, row, when, {}, [told(refusal) for refusal in recorded.refused])
    return done(entry_url(f"{mended.id}.1"), mended.id)


def _preview(request: Request, row: Row, mended: Act, seen: Preview) -> HttpResponse:
    words = words_of(request)
    line = line_of(mended.events[1])
    event = ev.decoder.decode(line)
    at = correcting.instant_of(event.at, words.zone)
    after = Row("", 0, row.kind, at, 0, "", line)
    fields = [(key, value) for key, value in request.POST.items()
              if key not in ("csrfmiddlewaretoken", "sure", "edit", "act")]  # fmt: skip
    context = {
        "before": f"{when_text(row, words)}: {sentence(row, words)}",
        "after": f"{when_text(after, words)}: {tell(event, words)}",
        "by_before": correcting.event_of(row).by, "by_after": event.by,
        "changes": changed_rows(correcting.changes(seen), words),
        "breaches": seen.breaches, "unfits": unfits(request, seen.refused, words),
        "fields": [*fields, ("act", mended.id)], "action": request.get_full_path(), "url": entry_url(row.event_id),
    }  # fmt: skip
    return render(request, "web/entry_preview.html", context)
