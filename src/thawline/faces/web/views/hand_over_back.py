"""What came back from a service: each container fed, returned, thrown away, or not known; and the day's record."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from thawline.core import events as ev
from thawline.core.places import FREEZERS
from thawline.core.times import BadTimeError, written, zone_named
from thawline.core.verdict import Verdict
from thawline.faces import handing
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.acting import act_id, begin_act, begun, perform
from thawline.faces.web.lines import MilkLine, Step, milk_line
from thawline.faces.web.views.hand_over_kit import Told, asked_day, day_text, the_service, told
from thawline.faces.words import Words, words_for
from thawline.services import childcare, many
from thawline.services.acts import Act, BadWhenError, moment
from thawline.services.board import Board, PlaceNow, board, coldness, today
from thawline.services.board import one as board_one
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_day import day_of
from thawline.services.childcare_facts import facts
from thawline.services.childcare_rules import child_of, deadlines
from thawline.services.recording import new_act

WHAT = {
    "": gettext_lazy("Not known, leave it"),
    "fed": gettext_lazy("Fed"),
    "back": gettext_lazy("Came back"),
    "gone": gettext_lazy("Thrown away"),
}
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)


class Row(NamedTuple):
    """A container that is still there: its line, a button that takes it back, and what was typed of it."""

    milk: MilkLine
    n: int
    steps: tuple[Step, ...]
    what: str
    left: str
    clock: str
    errors: tuple[str, ...]


class Place(NamedTuple):
    """A service, and what the page of its hand-overs looks at."""

    request: Request
    service: ServiceNow
    board: Board
    words: Words
    there: list[Verdict]

    @property
    def url(self) -> str:
        """This page."""
        return f"{reverse('web:hand_over_back')}?{urlencode({'service': self.service.name})}"

    @property
    def home(self) -> list[PlaceNow]:
        """The family's own places, the coldest that does not freeze first."""
        away = {place for one in childcare.services(self.request.home.store) for place in one.site.places}
        rows = [place for place in self.board.places if place.name not in away]
        return sorted(rows, key=lambda place: (place.kind != "refrigerator", place.kind in FREEZERS, coldness(place)))

    def usual(self, found: Verdict) -> str:
        """Where it goes at home: where it lay cold before; else a freezer if it is frozen still, or a refrigerator."""
        one = board_one(self.request.home.store, found.container, now=self.board.now)
        cold = [place.name for place in self.home if place.kind in (*FREEZERS, "refrigerator")]
        lain = [stay.place for stay in one.container.stays if stay.place in cold] if one is not None else []
        if lain and (found.form == "frozen" or self.board.place(lain[-1]) in self.board.of_kind("refrigerator")):
            return lain[-1]
        freezers = [place for place in self.home if place.kind in FREEZERS]
        rows = freezers if found.form == "frozen" and freezers else self.home
        return rows[0].name if rows else ""


def _place(request: Request) -> Place | None:
    service = the_service(request)
    if service is None:
        return None
    found = board(request.home.store, now=request.now)
    codes = set(childcare.in_window(request.home.store, service.name, now=request.now))
    # As long as it is there, the stricter of the rules of home and service counts.
    there = [one.found for one in deadlines(request.home.store, service, codes, now=request.now)]
    return Place(request, service, found, words_for(found.settings.zone, found.now, found.units), there)


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """What is still there, one tap to take it back, and what the paper or the service's own record says."""
    at = _place(request)
    if at is None:
        return render(request, "web/hand_over_none.html", {})
    if (first := begun(request, at.url)) is not None:
        return first
    if request.method == "POST":
        return _record(at)
    return _page(at, {}, ())


def _page(at: Place, errors: dict[str, list[str]], says: Sequence[str]) -> HttpResponse:
    sent = at.request.POST
    rows = [_row(at, n, one, errors) for n, one in enumerate(many.oldest_first(at.there))]
    problems = [{"says": one} for one in says]
    problems += [{"says": one, "id": f"what-{n}"} for n, them in errors.items() for one in them]
    day, shown = _day(at), asked_day(at.request, now=at.request.now, words=at.words)
    context: dict[str, Any] = {
        "act": act_id(at.request), "service": at.service, "rows": rows,
        "places": [{"value": place.name, "label": place.name} for place in at.home],
        "into": sent.get("into") or (at.home[0].name if at.home else ""),
        "whats": [{"value": key, "label": str(label)} for key, label in WHAT.items()],
        "problems": problems, "unit": _("fl oz") if at.words.amount == "fl_oz" else _("mL"),
        "unused": str(handing.UNUSED[facts(at.service.rule).unused]), "days": day, "url": at.url,
        "waiting": [_waiting(at, one) for one in _given_back(at)],
        "sheet_url": f"{reverse('web:hand_over_sheet')}?{urlencode({'service': at.service.name})}",
        "day": shown, "day_text": day_text(shown, at.words),
    }  # fmt: skip
    return render(at.request, "web/hand_over_back.html", context, status=422 if problems else 200)


def _day(at: Place) -> list[Told]:
    found = day_of(
        at.request.home.store, at.service, asked_day(at.request, now=at.request.now, words=at.words), now=at.request.now
    )
    return told(found, at.service, at.words)


def _row(at: Place, n: int, found: Verdict, errors: dict[str, list[str]]) -> Row:
    sent = at.request.POST
    line = milk_line(found, at.words)._replace(place=None)
    return Row(
        line, n, (_back(at, found, _("Back: %(place)s")),), sent.get(f"what-{n}", ""), sent.get(f"left-{n}", ""),
        sent.get(f"clock-{n}", ""), tuple(errors.get(str(n), ())),
    )  # fmt: skip


def _back(at: Place, found: Verdict, label: str, verb: str = "one") -> Step:
    place = at.usual(found)
    fields = [("act", new_act()), ("service", at.service.name), (verb, found.container), ("to", place)]
    return Step(label % {"place": place}, reverse("web:hand_over_back"), fields, verb="back")


def _given_back(at: Place) -> list[Verdict]:
    """What the staff gave back today and nobody has put away since: where it lies now only the family knows."""
    codes = {
        one.container
        for one in day_of(at.request.home.store, at.service, today(at.board), now=at.request.now)
        if isinstance(one.event, ev.Returned) and one.by in at.service.staff
    }
    warm = {place.name for place in at.board.of_kind("room", "cooler")}
    return [one for one in at.board.verdicts if one.container in codes and one.place in warm]


def _waiting(at: Place, found: Verdict) -> dict[str, Any]:
    return {"milk": milk_line(found, at.words), "steps": (_back(at, found, _("It is in: %(place)s"), "put"),)}


# What is recorded


def _record(at: Place) -> HttpResponse:
    try:
        act = begin_act(at.request, at.board.settings.zone)
    except BadWhenError as fault:
        return _page(at, {}, [_(str(fault))])
    errors: dict[str, list[str]] = {}
    sent = at.request.POST
    if "one" in sent or "put" in sent:
        _write_one(at, act)
    else:
        for n, found in enumerate(many.oldest_first(at.there)):
            # The list may have changed since the page was made: what was typed goes by its code.
            key = _key(at, found.container)
            if key is not None:
                _write(at, act, found, key, errors.setdefault(str(n), []))
    errors = {key: them for key, them in errors.items() if them}
    if errors:
        return _page(at, errors, ())
    return perform(at.request, act, back=at.url, again=lambda says: _page(at, {}, says))


def _key(at: Place, code: str) -> str | None:
    for name, value in at.request.POST.items():
        if name.startswith("code-") and value == code:
            return name.removeprefix("code-")
    return None


def _write_one(at: Place, act: Act) -> None:
    sent = at.request.POST
    code, kind = (sent["one"], "returned") if "one" in sent else (sent["put"], "moved")
    rows = at.there if kind == "returned" else _given_back(at)
    to = sent.get("to", "")
    if to not in [place.name for place in at.home]:
        raise Http404
    if code not in [one.container for one in rows]:
        return
    act.add(kind, container=code, **({"place": to} if kind == "returned" else {"to": to}))


def _write(at: Place, act: Act, found: Verdict, key: str, wrong: list[str]) -> None:
    sent = at.request.POST
    what = sent.get(f"what-{key}", "")
    when = _when(at, sent.get(f"clock-{key}", ""), wrong)
    if what == "back":
        into = sent.get("into", "")
        if into not in [place.name for place in at.home]:
            wrong.append(_("Choose where it goes at home."))
        act.add("returned", container=found.container, place=into)
    elif what == "gone":
        act.add("discarded", at=when, container=found.container)
    elif what == "fed":
        _fed(at, act, found, key, when, wrong)
    elif sent.get(f"left-{key}", "").strip():
        wrong.append(_("%(code)s: choose what became of it.") % {"code": found.container})


def _fed(at: Place, act: Act, found: Verdict, key: str, when: str | None, wrong: list[str]) -> None:
    child = at.request.POST.get(f"child-{key}") or child_of(at.board, found)
    if child not in [one.name for one in at.board.children]:
        wrong.append(_("%(code)s: note which child drank it on its own page.") % {"code": found.container})
        return
    left = at.request.POST.get(f"left-{key}", "").strip()
    try:
        left_ml = amounts.amount_ml(left, at.words.amount) if left else 0.0
    except amounts.BadAmountError as fault:
        wrong.append(f"{found.container}: {fault}")
        return
    if left_ml and when is None and not wrong:
        # What is left counts from the feed on: written down hours later, it would gain those hours.
        wrong.append(_("%(code)s: write when it was fed, for the time of what is left runs from then.") % {
            "code": found.container})  # fmt: skip
        return
    if found.container not in at.board.feeding:
        act.add("feed_began", at=when, container=found.container, child=child)
    act.add("feed_ended", at=when, container=found.container, left_ml=left_ml)


def _when(at: Place, clock: str, wrong: list[str]) -> str | None:
    """The time of today that was typed, as it is kept; None for the act's own time."""
    if not clock:
        return None
    zone = zone_named(at.board.settings.zone)
    try:
        found = moment(f"{today(at.board)}T{clock}", zone) if _CLOCK.fullmatch(clock) else None
    except (BadTimeError, BadWhenError):
        found = None
    if found is None or found > at.request.now:
        wrong.append(_("Write a time of today that has passed, such as 10:30."))
        return None
    return written(found, zone)


routes = [path("hand-over/back/", page, name="hand_over_back")]
