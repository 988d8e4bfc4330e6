"""After a drink: until when to wait, by published guidance; and what storage changes in milk. Nothing is noted."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any, NamedTuple, TypeVar

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.formats import localize
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from thawline.core.times import HOUR, BadTimeError, local
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.acting import words_of
from thawline.faces.web.amounts import BadAmountError
from thawline.faces.words import Words
from thawline.services import waiting
from thawline.services.acts import BadWhenError, moment
from thawline.services.waiting import GRAMS, Kept

T = TypeVar("T")
COUNTED = {
    "au": gettext_lazy("Australia"),
    "ca": gettext_lazy("Canada"),
    "nz": gettext_lazy("New Zealand"),
    "uk": gettext_lazy("United Kingdom"),
    "us": gettext_lazy("United States"),
}
KG_PER_LB = 0.45359237
# The next time a household asks, it is the same day; what was longer ago is over.
_LATEST_DAYS = 2
_WEIGHT = re.compile(r"\s*(kg|lbs?|pounds?)\.?\s*$", re.IGNORECASE)
_CLOCK = re.compile(r"[0-2]?\d:[0-5]\d", re.ASCII)


class Answer(NamedTuple):
    """Until when to wait as the page tells it."""

    until: str
    over: bool
    after: str
    from_began: bool
    rule: str
    leaves: str
    drink: str
    grams: str
    weight: str
    much: bool
    source: str
    hold_url: str


class _Form:
    """What was typed, and what is to mend, field by field."""

    def __init__(self, request: Request, words: Words) -> None:
        self.sent = request.GET
        self.words = words
        self.errors: dict[str, list[str]] = {}
        self.counted = self.sent.get("counted", "")
        self.many = self._read("many", amounts.number)
        self.weight_kg = self._read("weight", weight_kg)
        self.began = self._read("began", self._instant)
        self.ended = self._read("ended", self._instant)
        if self.begun:
            self._whole()

    @property
    def begun(self) -> bool:
        """Whether something was asked."""
        return "many" in self.sent

    def _read(self, name: str, read: Callable[[str], T]) -> T | None:
        given = self.sent.get(name, "").strip()
        try:
            return read(given) if given else None
        except (BadAmountError, BadWhenError) as fault:
            self.wrong(name, str(fault))
            return None

    def _instant(self, text: str) -> int:
        """The latest moment so far at which the household's clock showed this."""
        if not _CLOCK.fullmatch(text):
            raise BadWhenError(_("Write the time like 21:30."))
        for days in range(_LATEST_DAYS + 1):
            day = local(self.words.now, self.words.zone).date() - timedelta(days=days)
            try:
                at = moment(f"{day.isoformat()}T{text:0>5}", self.words.zone)
            except BadTimeError as fault:
                raise BadWhenError(_("Write the time like 21:30.")) from fault
            except BadWhenError:
                continue
            if at <= self.words.now:
                return self._later_twin(at)
        raise BadWhenError(_("Write the time like 21:30."))

    def _later_twin(self, at: int) -> int:
        """The later one where the clocks went back and showed it twice."""
        twin = at + HOUR
        same = local(twin, self.words.zone).replace(tzinfo=None) == local(at, self.words.zone).replace(tzinfo=None)
        return twin if same and twin <= self.words.now else at

    def _whole(self) -> None:
        if self.counted not in (*COUNTED, GRAMS):
            self.wrong("counted", _("Choose how it is counted."))
        if self.many is None and "many" not in self.errors:
            self.wrong("many", _("Write how many."))
        most = waiting.MOST_GRAMS if self.counted == GRAMS else waiting.MOST_DRINKS
        if self.many is not None and not 0 < self.many <= most:
            self.wrong("many", _("Write a number up to %(most)g. For more, ask a clinician.") % {"most": most})
        if self.began is not None and self.ended is not None and self.ended < self.began:
            self.wrong("ended", _("The last drink ended before the first began. Look at both times once more."))

    def wrong(self, name: str, says: str) -> None:
        """Something to mend in a field."""
        self.errors.setdefault(name, []).append(says)


def weight_kg(text: str) -> float:
    """A weight in kg, or with its unit (`140 lb`), in kg; raises `BadAmountError`."""
    unit = _WEIGHT.search(text[-amounts.LONGEST :])
    found = amounts.number(_WEIGHT.sub("", text[-amounts.LONGEST - 1 :]))
    kg = found if unit is None or unit[1].lower() == "kg" else found * KG_PER_LB
    low, high = waiting.weights_kg()
    if not low <= kg <= high:
        raise BadAmountError(
            _("Write a weight from %(low)g to %(high)g kg, or like 140 lb.") % {"low": low, "high": high}
        )
    return kg


@require_GET
def page(request: Request) -> HttpResponse:
    """The question, and its answer once it is asked."""
    words = words_of(request)
    form = _Form(request, words)
    context: dict[str, Any] = {
        "answer": _answer(form, form.many) if form.many is not None and not form.errors else None,
        "countings": _countings(),
        "sent": form.sent,
        "wrong": form.errors,
        "problems": [{"says": says, "id": name} for name, found in form.errors.items() for says in found],
        "asked_again": "again" in form.sent,
        "again_url": f"?{urlencode(form.sent.dict() | {'again': '1'})}#began",
    }
    return render(request, "web/wait.html", context, status=422 if form.errors else 200)


def _countings() -> list[dict[str, str]]:
    drinks = [
        {"value": name, "label": str(label), "says": _("drinks of %(g)s g") % {"g": _short(waiting.drink_g(name))}}
        for name, label in COUNTED.items()
    ]
    return [*drinks, {"value": GRAMS, "label": _("Grams"), "says": _("of alcohol")}]


def _answer(form: _Form, many: float) -> Answer:
    ended = form.words.now if form.ended is None else form.ended
    found = waiting.waited(many, counted=form.counted, weight_kg=form.weight_kg, began=form.began, ended=ended)
    wait = found.wait
    return Answer(
        until=form.words.clock(found.until),
        over=found.until <= form.words.now,
        after=_h_min(found.minutes),
        from_began=found.from_began,
        rule=_h_min(waiting.up_min(wait.rule_h)),
        leaves=_h_min(waiting.up_min(wait.leaves_h)),
        drink=_short(wait.drinks),
        grams=_short(wait.grams),
        weight=localize(round(wait.weight_kg)) if wait.weight_known else "",
        much=wait.much,
        source=wait.source,
        hold_url=_hold_url(form, found.until),
    )


def _hold_url(form: _Form, until: int) -> str:
    """Where milk expressed meanwhile is held back, with what is known of it filled in."""
    began = form.began or form.ended or form.words.now
    here, since = form.words.local(until), form.words.local(began)
    query = {"why": "alcohol", "until_on": f"{here:%Y-%m-%d}", "until_at": f"{here:%H:%M}",
             "since": f"{since:%Y-%m-%dT%H:%M}"}  # fmt: skip
    return f"{reverse('web:holding')}?{urlencode(query)}"


def _short(number: float) -> str:
    return str(localize(round(number) if number == round(number) else round(number, 2)))


def _h_min(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    return (
        _("%(hours)d h %(minutes)02d min") % {"hours": hours, "minutes": rest} if rest else _("%(n)d h") % {"n": hours}
    )


# What storage changes


class Change(NamedTuple):
    """What storage does: when, what is found of it, and where that is from."""

    when: str
    says: str
    source: str


@require_GET
def changes(request: Request) -> HttpResponse:
    """What storage changes in milk: to know, not to act on."""
    return render(request, "web/wait_storage.html", {"changes": _changes()})


def _changes() -> list[Change]:
    after: dict[Kept, str] = {
        "fridge_1_d": _("A day in the refrigerator"),
        "frozen_1_mo": _("A month frozen"),
        "frozen_2_mo": _("Two months frozen"),
    }
    vitamin = _("Vitamin C: about %(likely)s of it left; between %(low)s and %(high)s in single samples.")
    found = []
    for kept, label in after.items():
        share = waiting.vitamin_c(kept)
        says = vitamin % {key: _percent(getattr(share, key)) for key in ("likely", "low", "high")}
        found.append(Change(label, says, share.source))
    energy, fat, source = waiting.energy_and_fat_24_wk()
    says = _("Energy: about %(energy)s, and fat about %(fat)s, of what it has after 4 weeks.")
    months = Change(_("24 weeks frozen"), says % {"energy": _percent(energy), "fat": _percent(fat)}, source)
    return [*found, months]


def _percent(share: float) -> str:
    return _("%(n)d %%") % {"n": round(100 * share)}


routes = [path("wait/", page, name="wait"), path("storage-changes/", changes, name="storage_changes")]
