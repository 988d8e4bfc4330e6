"""What the pages of settings share: a form's fields with what is to be mended, and a change shown before it is made."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from thawline.core.times import BadTimeError, check_date
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.acting import Again, act_id, perform, words_of
from thawline.faces.web.lines import url_of
from thawline.faces.words import STANDINGS, Words
from thawline.services.acts import Act
from thawline.services.looking_ahead import Change, resettled

_OWN_UNIT = re.compile(r"[CF]\s*$", re.IGNORECASE)


class Form:
    """What a form sent, and what is to be mended in it, field by field."""

    def __init__(self, sent: Mapping[str, str]) -> None:
        self.sent = sent
        self.errors: dict[str, list[str]] = {}

    def wrong(self, name: str, *says: str) -> None:
        """Something to mend in a field."""
        self.errors.setdefault(name, []).extend(says)

    @property
    def problems(self) -> list[dict[str, str]]:
        """All that is to be mended, for the summary at the top."""
        return [{"says": says, "id": name} for name, found in self.errors.items() for says in found]

    def text(self, name: str, missing: str, *, most: int = 80) -> str:
        """A line of text that has to be there, with single spaces."""
        found = " ".join(self.sent.get(name, "").split())
        if not found:
            self.wrong(name, missing)
        elif len(found) > most:
            self.wrong(name, _("That is too long: at most %(most)d characters.") % {"most": most})
        return found

    def choice(self, name: str, among: Collection[str]) -> str:
        """One of the values on offer."""
        found = self.sent.get(name, "")
        if found not in among:
            self.wrong(name, _("Choose one of these."))
        return found

    def day(self, name: str, missing: str, *, latest: str) -> str:
        """A day, ISO, not after `latest`."""
        found = self.sent.get(name, "").strip()
        if not found:
            self.wrong(name, missing)
            return ""
        try:
            check_date(found)
        except BadTimeError:
            self.wrong(name, _("Write the day like 2027-02-03."))
            return ""
        if found > latest:
            self.wrong(name, _("That day is still ahead. Look at it once more."))
        return found

    def temp(self, name: str, unit: str, missing: str = "") -> float | None:
        """A temperature in degrees Celsius; in `unit` (`C`, `F`) where none stands with it; None where it is empty."""
        found = self.sent.get(name, "").strip()
        if not found:
            if missing:
                self.wrong(name, missing)
            return None
        own = _OWN_UNIT.search(found)
        try:
            return amounts.temp_c(found, own.group().strip().upper() if own else unit)
        except amounts.BadAmountError as fault:
            self.wrong(name, str(fault))
            return None


class ChangeLine(NamedTuple):
    """A container whose deadline changes: before and after, in words."""

    code: str
    url: str
    before: str
    after: str
    before_word: str
    after_word: str
    standing: str


def change_lines(changes: Sequence[Change], words: Words) -> list[ChangeLine]:
    """Changes in words, the most urgent afterwards first."""
    ordered = sorted(changes, key=lambda one: (one.after.use_by is None, one.after.use_by or 0, one.after.container))
    return [
        ChangeLine(
            one.after.container,
            url_of(one.after.container),
            _by(one.before, words),
            _by(one.after, words),
            str(STANDINGS[one.before.standing]),
            str(STANDINGS[one.after.standing]),
            one.after.standing,
        )
        for one in ordered
    ]


def _by(found: Verdict, words: Words) -> str:
    if found.use_by is None:
        return _("no time given")
    told = _("since %(time)s") if found.standing in ("past", "outside", "breached") else _("use by %(time)s")
    return told % {"time": words.until(found.use_by)}


def seen(changes: Sequence[Change], words: Words) -> dict[str, Any]:
    """What a page shows of changes: a line for each, how many there are, and how many would be past."""
    past = sum(one.after.standing == "past" and one.before.standing != "past" for one in changes)
    return {"changes": change_lines(changes, words), "changed": len(changes), "past": past}


def settle(request: Request, act: Act, *, back: str, again: Again) -> HttpResponse:
    """Record what describes the household; milk whose deadline it changes is shown first."""
    store = request.home.store
    if act.events and not store.act(act.id) and request.POST.get("agreed") != "yes":
        changes = resettled(store, act.events, now=request.now)
        if changes:
            sent = [(key, value) for key, values in request.POST.lists() for value in values
                    if key not in ("csrfmiddlewaretoken", "agreed", "act")]  # fmt: skip
            fields = [*sent, ("act", act_id(request) or ""), ("agreed", "yes")]
            page = {"fields": fields, "action": request.path, "back": back, **seen(changes, words_of(request))}
            return render(request, "web/settings_change.html", page)
    return perform(request, act, back=back, again=again)
