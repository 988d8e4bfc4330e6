"""One container as its pages see it, and what their forms send."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from django.http import Http404
from django.utils.translation import gettext as _

from thawline.core.guideline import Guideline
from thawline.core.times import local, zone_named
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.acting import act_id, back_to
from thawline.faces.web.amounts import BadAmountError
from thawline.faces.web.lines import do_url, url_of
from thawline.faces.words import Words, words_for
from thawline.services import board
from thawline.services.board import Board, One
from thawline.services.recording import new_act

_DIGITS = re.compile(r"\d+(?:[.,]\d+)?")


def ident(name: str) -> str:
    """The id of a field on its page: a code may hold signs that an id must not."""
    return re.sub(r"[^A-Za-z0-9-]", lambda sign: f"_{ord(sign[0]):x}_" if sign[0] != "_" else "_", name)


class Choice(NamedTuple):
    """One of several answers; `says` is a line below it."""

    value: str
    label: str
    says: str = ""


class Field(NamedTuple):
    """A field of a form, as an element of the pages shows it."""

    element: str
    name: str
    id: str
    label: str
    value: str
    choices: tuple[Choice, ...]
    hint: str
    kind: str
    pills: bool
    errors: tuple[str, ...]
    unit: str = ""
    by: str = ""


class Sheet:
    """A container, its household, and a form that may have been sent; `errors` by the name of the field."""

    def __init__(self, request: Request, code: str) -> None:
        found = board.one(request.home.store, code, now=request.now) if "\0" not in code else None
        if found is None:
            raise Http404
        self.request = request
        self.code = code
        self.one: One = found
        self.board: Board = board.board(request.home.store, now=request.now)
        self.words: Words = words_for(self.board.settings.zone, request.now, self.board.units)
        self.sent = request.POST if request.method == "POST" else request.GET
        self.errors: dict[str, list[str]] = {}

    @property
    def url(self) -> str:
        """The container's page."""
        return url_of(self.code)

    def do_url(self, verb: str) -> str:
        """Where this is done with the container."""
        return do_url(self.code, verb)

    @property
    def act(self) -> str:
        """The id under which a form on this page records."""
        return act_id(self.request) or new_act()

    @property
    def back(self) -> str:
        """Where a form leads back to: the container's page if it says nothing else."""
        return back_to(self.request, self.url)

    @property
    def children(self) -> list[str]:
        """The names of the children."""
        return [child.name for child in self.board.children]

    @property
    def child(self) -> str | None:
        """The child it is for, else the only one."""
        meant = self.one.verdict.meant_for
        if meant in self.children:
            return meant
        return self.children[0] if len(self.children) == 1 else None

    @property
    def guidelines(self) -> tuple[Guideline, ...]:
        """Those that its times follow; none where only a care team may speak."""
        found = self.one.verdict
        return () if found.use_by is None and found.standing != "gone" else (self.board.guideline, *self.board.also)

    # What was sent

    def wrong(self, name: str, says: str) -> None:
        """Something to mend in a field."""
        self.errors.setdefault(name, []).append(says)

    def text(self, name: str, *, most: int = 200) -> str:
        """A line of text with single spaces."""
        found = " ".join(self.sent.get(name, "").replace("\0", " ").split())
        if len(found) > most:
            self.wrong(name, _("Write at most %(most)s characters.") % {"most": most})
        return found[:most]

    def choose(self, name: str, allowed: Iterable[str], says: str, *, default: str | None = None) -> str:
        """One of the answers; `says` what to mend where it is none of them."""
        given = self.sent.get(name, "") or default or ""
        if given not in set(allowed):
            self.wrong(name, says)
        return given

    def amount(self, name: str, *, whole: float | None = None, empty: str = "") -> float | None:
        """An amount in mL; as shown, `whole` is meant to the last drop. `empty` says what to mend without one."""
        given = self.sent.get(name, "")
        if not given.strip():
            if empty:
                self.wrong(name, empty)
            return whole
        if whole is not None and given.strip() == self.plain(whole):
            return whole
        return self._number(name, given, lambda text: amounts.amount_ml(text, self.words.amount))

    def temperature(self, name: str) -> float | None:
        """A temperature in degrees Celsius."""
        return self._number(name, self.sent.get(name, ""), lambda text: amounts.temp_c(text, self.words.temp))

    def _number(self, name: str, given: str, read: Callable[[str], float]) -> float | None:
        if not given.strip():
            self.wrong(name, _("Write a number."))
            return None
        try:
            return read(given)
        except BadAmountError as fault:
            self.wrong(name, str(fault))
            return None

    def plain(self, ml: float) -> str:
        """An amount as it stands in a field: the household's number without its unit."""
        found = _DIGITS.search(self.words.ml(ml))
        return found[0] if found else ""

    # What a form shows

    def field(
        self, element: str, name: str, label: str, *, value: str = "", choices: tuple[Choice, ...] = (),
        hint: str = "", kind: str = "", pills: bool = False,
    ) -> Field:  # fmt: skip
        """A field with what was sent before, and what is to mend."""
        errors = tuple(self.errors.get(name, ()))
        value = self.sent.get(name) or value
        return Field(f"elements/{element}.html", name, ident(name), label, value, choices, hint, kind, pills, errors)

    def amount_field(self, name: str, label: str, *, value: str = "", hint: str = "") -> Field:
        """A field for an amount in the household's unit."""
        unit, by = (_("fl oz"), "0.5") if self.words.amount == "fl_oz" else (_("mL"), "10")
        return self.field("amount", name, label, value=value, hint=hint)._replace(unit=unit, by=by)

    @property
    def problems(self) -> list[dict[str, str]]:
        """All that is to mend, each with its field."""
        return [{"says": says, "id": ident(name)} for name, them in self.errors.items() for says in them]

    def when(self) -> dict[str, Any]:
        """What the "When?" element shows."""
        here = local(self.request.now, zone_named(self.board.settings.zone))
        choice = self.sent.get("when", "now")
        return {
            "value": choice,
            "at": self.sent.get("when_at", ""),
            "on": self.sent.get("when_on", ""),
            "latest": here.strftime("%Y-%m-%dT%H:%M"),
            "latest_day": here.date().isoformat(),
            "errors": self.errors.get("when", []),
        }
