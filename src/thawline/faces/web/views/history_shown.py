"""Entries of the past as a page shows them: when, what, who, and what became of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple
from urllib.parse import urlencode

from django.http import Http404
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from thawline.core import events as ev
from thawline.core.ledger import Refusal
from thawline.core.times import MINUTE, is_date
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.tell import tell, tell_bulk
from thawline.faces.web.acting import told
from thawline.faces.words import FORMS, STANDINGS, Words
from thawline.services.acts import Row
from thawline.services.bulk import Bulk, Bulks
from thawline.services.correcting import Change, event_of, is_correction, not_fitting, voids_of, who_did

NOTED_LATER = 5 * MINUTE
_LONGEST_ID = 200


class Item(NamedTuple):
    """One entry of the history; `marks` are words on what became of it."""

    url: str
    at_text: str
    day_only: bool
    says: str
    about: str
    who: str
    noted: str
    voided: str
    ahead: bool
    mend: str
    all_url: str = ""


class Day(NamedTuple):
    """The entries of one day on the household's clock."""

    heading: str
    items: list[Item]


class Unfit(NamedTuple):
    """An entry that would no longer fit, and why."""

    says: str
    why: str


class Changed(NamedTuple):
    """A container, as it is said before and after."""

    code: str
    before: str
    after: str


def entry_url(event_id: str, do: str = "") -> str:
    """The page of an entry; ids that can't stand in a path go into the query."""
    fits = "/" not in event_id and event_id.strip(". ") != "" and event_id.isprintable()
    if fits:
        return reverse("web:entry_correct" if do else "web:entry", args=[event_id])
    address = reverse("web:entry_any_correct" if do else "web:entry_any")
    return f"{address}?{urlencode({'id': event_id})}"


def row_or_404(request: Request, event_id: str | None) -> Row:
    """An entry of this household; `Http404` for any other."""
    wanted = event_id if event_id is not None else request.GET.get("id", "")
    row = None if "\x00" in wanted or len(wanted) > _LONGEST_ID else request.home.store.rows([wanted]).get(wanted)
    if row is None:
        raise Http404
    return row


def when_text(row: Row, words: Words) -> str:
    """When it was: day and time, or the day alone where only that is known."""
    if is_date(event_of(row).at):
        return _("%(day)s, day only") % {"day": words.day(row.at)}
    return words.clock(row.at)


def _noted(row: Row, words: Words) -> str:
    """When it was recorded, where that was later than five minutes, or on another day."""
    same_day = words.local(row.at).date() == words.local(row.recorded_at).date()
    day_only = is_date(event_of(row).at)
    if same_day if day_only else abs(row.recorded_at - row.at) <= NOTED_LATER:
        return ""
    return words.hour(row.recorded_at) if same_day else words.clock(row.recorded_at)


def void_word(voids: Sequence[Row]) -> str:
    """What became of an entry: taken back, or corrected; empty where it counts."""
    if not voids:
        return ""
    return _("corrected") if any(is_correction(void) for void in voids) else _("taken back")


def sentence(row: Row, words: Words) -> str:
    """An entry as a sentence."""
    return tell(event_of(row), words)


def days(request: Request, rows: Sequence[Row], words: Words, bulks: Bulks | None = None) -> list[Day]:
    """Rows, latest first, by day, with what became of each; one of `bulks` tells of all that it stands for."""
    store, now = request.home.store, request.now
    ids = [row.event_id for row in rows]
    voids = voids_of(store, ids, now=now)
    unfit = not_fitting(store, ids, now=now)
    targets = store.rows([event.event for row in rows if isinstance(event := event_of(row), ev.Voided)])
    found: list[Day] = []
    last = None
    for row in rows:
        day = words.local(row.at).date()
        if day != last:
            found.append(Day(capfirst(words.day(row.at)), []))
            last = day
        item = _item(row, words, void_word(voids.get(row.event_id, [])), unfit, targets)
        many = None if bulks is None else bulks.of(row)
        found[-1].items.append(item if many is None else _many(item, many, words))
    return found


def _many(item: Item, bulk: Bulk, words: Words) -> Item:
    return item._replace(says=tell_bulk(bulk, words), about="", all_url=_readings_url(bulk.place))


def _readings_url(place: str) -> str:
    return f"{reverse('web:readings')}?{urlencode({'place': place})}" if place else ""


def together(request: Request, rows: Sequence[Row], row: Row, words: Words) -> list[tuple[str, str]]:
    """What was recorded in one go with an entry, and where to see it: what was in bulk as one line."""
    bulks = Bulks(request.home.store)
    found = []
    for one in rows:
        many = bulks.of(one)
        if many is None and one != row:
            found.append((sentence(one, words), entry_url(one.event_id)))
        elif many is not None and not bulks.hides(one):
            found.append((tell_bulk(many, words), _readings_url(many.place) or entry_url(one.event_id)))
    return found


def _item(row: Row, words: Words, voided: str, unfit: Mapping[str, Refusal], targets: Mapping[str, Row]) -> Item:
    event = event_of(row)
    day_only = is_date(event.at)
    target = targets.get(event.event) if isinstance(event, ev.Voided) else None
    refusal = None if voided else unfit.get(row.event_id)
    return Item(
        entry_url(row.event_id), _("day only") if day_only else words.hour(row.at), day_only,
        tell(event, words), sentence(target, words) if target is not None else "", who_did(row), _noted(row, words),
        voided, row.at > words.now, told(refusal) if refusal is not None else "",
    )  # fmt: skip


def one_item(request: Request, row: Row, words: Words) -> Item:
    """A single entry as the history shows it."""
    return days(request, [row], words)[0].items[0]


def unfits(request: Request, refused: Sequence[Refusal], words: Words) -> list[Unfit]:
    """Refusals with the entries that they are about."""
    rows = request.home.store.rows([refusal.event for refusal in refused])
    found = []
    for refusal in refused:
        row = rows.get(refusal.event)
        says = f"{when_text(row, words)}: {sentence(row, words)}" if row is not None else _("The entry as corrected")
        found.append(Unfit(says, told(refusal)))
    return found


def _said(one: Verdict | None, words: Words) -> str:
    if one is None:
        return _("not known")
    parts = [str(STANDINGS[one.standing])]
    if one.standing != "gone":
        parts += [words.ml(one.ml), str(FORMS[one.form]), str(one.place)]
        if one.use_by is not None and one.standing != "outside":
            parts.insert(1, _("use by %(time)s") % {"time": words.until(one.use_by)})
    return ", ".join(parts)


def changed_rows(changes: Sequence[Change], words: Words) -> list[Changed]:
    """Containers before and after, in words."""
    found = []
    for change in changes:
        known = change.after or change.before
        if known is not None:
            found.append(Changed(known.container, _said(change.before, words), _said(change.after, words)))
    return found
