"""What the questions of heat share: the container asked about, the words of their answers, what they rest on."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from django.http import Http404
from django.urls import reverse
from django.utils.formats import localize
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.verdict import Verdict
from thawline.engines.physics.spread import Range, Shape, Triple
from thawline.faces.request import Request
from thawline.faces.web import amounts
from thawline.faces.web.amounts import BadAmountError
from thawline.faces.web.lines import do_url
from thawline.faces.words import FORMS, KINDS, Words, words_for
from thawline.services import board, heat
from thawline.services.board import One, PlaceNow
from thawline.services.heat import Around, Subject, When

LONGEST_CODE = 200
LYING = {
    "shelf": gettext_lazy("On a solid shelf"),
    "open": gettext_lazy("On a rack, air on both sides"),
}
START_WORDS = {
    "body": gettext_lazy("just expressed"),
    "room": gettext_lazy("as warm as the room"),
    "cold": gettext_lazy("cold from the refrigerator"),
    "frozen": gettext_lazy("frozen"),
}


class Rest(NamedTuple):
    """Something that an answer rests on: what, its value, and how sure it is."""

    what: str
    value: str
    sure: str


class Asked:
    """A question as the address asks it: the container or a described one, and what is to mend, field by field."""

    def __init__(self, request: Request, *, forms: Sequence[str] = (), likely: Shape = "flat") -> None:
        self.request = request
        self.board = board.board(request.home.store, now=request.now)
        self.words: Words = words_for(self.board.settings.zone, request.now, self.board.units)
        self.sent = request.GET
        self.errors: dict[str, list[str]] = {}
        self.likely: Shape = likely
        self.choices = [one for one in self.board.verdicts if not forms or one.form in forms]
        self.forms = forms
        self.one = self._one()
        self.subject = self._subject()
        if self.subject is None and not self.errors and "code" in self.sent:
            self.wrong("ml", _("Choose a container, or write how much is in it."))

    def _one(self) -> One | None:
        code = self.sent.get("code", "")
        if not code:
            return None
        found = None if "\0" in code or len(code) > LONGEST_CODE else board.one(
            self.request.home.store, code, now=self.request.now)  # fmt: skip
        if found is None or found.verdict.standing == "gone":
            raise Http404
        return found

    def _subject(self) -> Subject | None:
        """The container with what was typed of it; None where none is chosen and none described."""
        ml = self.number("ml", lambda text: amounts.amount_ml(text, self.words.amount, least_ml=1))
        across = self.number("across", amounts.length_mm)
        shape: Shape | None = "flat" if self.sent.get("shape") == "flat" else None
        shape = "upright" if self.sent.get("shape") == "upright" else shape
        typed = self.sent.get("stands", ""), self.sent.get("wall", "")
        if self.one is not None:
            known = heat.kept(self.one, self.board)._replace(stands=typed[0], wall=typed[1])
        elif ml is not None:
            known = Subject(ml, stands=typed[0], wall=typed[1])
        else:
            return None
        if shape is not None and shape != known.shape:
            known = known._replace(shape=shape, across_mm=None, measured=False)
        if across is None:
            return known
        if known.shape is None:
            self.wrong("shape", _("Choose whether it lies flat or stands, so that its size can count."))
        return known._replace(across_mm=across, measured=self.sent.get("how") == "measured", changed=False)

    @property
    def unfit(self) -> str:
        """Why the question is not about the chosen container; "" where it is."""
        if self.one is None or not self.forms or self.one.verdict.form in self.forms:
            return ""
        return _("%(code)s is %(form)s, so this is not the question for it.") % {
            "code": self.one.verdict.container, "form": FORMS[self.one.verdict.form]}  # fmt: skip

    @property
    def answered(self) -> Subject | None:
        """The container to answer for; None where there is none, or something has to be mended first."""
        return None if self.errors or self.unfit else self.subject

    # What was sent

    def wrong(self, name: str, says: str) -> None:
        """Something to mend in a field."""
        self.errors.setdefault(name, []).append(says)

    def number(self, name: str, read: Callable[[str], float]) -> float | None:
        """A number as `read` takes it; None where the field is empty or has to be mended."""
        given = self.sent.get(name, "").strip()
        if not given:
            return None
        try:
            return read(given)
        except BadAmountError as fault:
            self.wrong(name, str(fault))
            return None

    def temp(self, name: str) -> float | None:
        """A temperature in degrees Celsius; None where the field is empty or has to be mended."""
        return self.number(name, lambda text: amounts.temp_c(text, self.words.temp))

    def place(self, *kinds: str) -> PlaceNow | None:
        """The place that is asked about, of these kinds; else the first of them."""
        places = self.board.of_kind(*kinds)
        wanted = self.sent.get("to") or (self.subject.place if self.subject is not None else None)
        return next((one for one in places if one.name == wanted), next(iter(places), None))

    def around(self, kind: str, place: PlaceNow | None) -> Around:
        """The air of that place, with the temperature that was typed."""
        read_c = self.temp("temp")
        if read_c is not None and not heat.COLDEST_AIR_C <= read_c <= heat.WARMEST_AIR_C:
            self.wrong("temp", _("That temperature is out of range. Look at it once more."))
        store, now = self.request.home.store, self.request.now
        lately = heat.lately(store, place, now=now)
        return heat.around(kind, place, read_c, lately, heat.film(store, place, now=now))

    @property
    def problems(self) -> list[dict[str, str]]:
        """All that is to mend, for the summary at the top."""
        return [{"says": says, "id": name} for name, found in self.errors.items() for says in found]

    def url(self, **changed: str) -> str:
        """The same question, asked with something changed."""
        query = {key: value for key, value in (self.sent.dict() | changed).items() if value}
        return f"{self.request.path}?{urlencode(query)}"

    def start(self, among: Sequence[str], usual: str) -> str:
        """How cold the milk is to begin with: as chosen, else as usual."""
        chosen = self.sent.get("start", "")
        return chosen if chosen in among else usual

    # What a page shows

    def places(self, *kinds: str) -> list[dict[str, str]]:
        """The places of these kinds, to choose from."""
        return [{"value": one.name, "label": one.name} for one in self.board.of_kind(*kinds)]

    def starts(self, among: Sequence[str]) -> list[dict[str, str]]:
        """How cold milk may be to begin with, to choose from."""
        return [{"value": one, "label": str(START_WORDS[one])} for one in among]

    def start_c(self, start: str) -> Range:
        """How cold the milk is to begin with; frozen milk is as cold as its freezer."""
        place = self.board.place(self.subject.place) if self.subject is not None else None
        return heat.frozen_c(place) if start == "frozen" else heat.start_c(start)

    def start_rest(self, start: str) -> Rest:
        """What an answer rests on of the milk's temperature to begin with."""
        return Rest(_("Milk to begin with"), self.span_c(self.start_c(start)), str(START_WORDS[start]))

    def context(self, **more: object) -> dict[str, Any]:
        """What every question's page shows of the container and its form."""
        fl_oz = self.words.amount == "fl_oz"
        page: dict[str, Any] = {
            "asked": self, "sent": self.sent, "wrong": self.errors, "problems": self.problems,
            "subject": self.subject, "code": self.one.verdict.container if self.one is not None else "",
            "about": self.about(), "unfit": self.unfit,
            "containers": [container_option(one, self.words) for one in self.choices],
            "amount_unit": _("fl oz") if fl_oz else _("mL"), "amount_by": "0.5" if fl_oz else "10",
            "degrees": f"°{self.words.temp}", "shapes": shape_choices(), "hows": how_choices(),
            "opened": self._described() or bool({"ml", "across", "shape"} & set(self.errors)),
            "measure_url": self.measure_url(), "again": "again" in self.sent, "again_url": self.url(again="1"),
        }  # fmt: skip
        return page | more

    def _described(self) -> bool:
        """Whether the container is described, or can only be."""
        return not self.choices or any(self.sent.get(name) for name in ("ml", "across", "shape", "stands"))

    def then(self, verb: str, label: str, **preset: str) -> dict[str, str] | None:
        """What is done next with the chosen container, as a link to its form; None where none is chosen."""
        if self.one is None:
            return None
        return {"label": label, "url": do_url(self.one.verdict.container, verb, **preset)}

    def about(self) -> str:
        """The container in a few words."""
        if self.subject is None:
            return ""
        ml = self.words.ml(self.subject.ml)
        return f"{self.subject.code} · {ml}" if self.subject.code else ml

    def measure_url(self) -> str:
        """Where the chosen container's measure is written down; "" where none is chosen, or it is known."""
        if self.one is None or (self.subject is not None and self.subject.measured):
            return ""
        return f"{reverse('web:heat_measure')}?{urlencode({'code': self.one.verdict.container})}"

    def size(self, *, lies: bool = True) -> list[Rest]:
        """What an answer rests on of the container: its shape and size, and in air how it lies."""
        subject = self.subject
        if subject is None:
            return []
        vessel = subject.vessels(self.likely)[0]
        across = _("about %(length)s") % {"length": mm_text(vessel.across_mm.nominal)}
        if subject.shape is None:
            return [Rest(_("Shape and size"), _("not noted"), _("a flat bag and a bottle are both reckoned with"))]
        what = _("Thickness") if subject.shape == "flat" else _("Width")
        if subject.measured:
            sure = _("measured")
        elif subject.across_mm is not None:
            sure = _("a guess")
        else:
            sure = (
                _("guessed from the amount: it holds a different amount now")
                if subject.changed
                else _("guessed from the amount")
            )
        return [Rest(what, across, sure), *(self._lies() if lies else [])]

    def _lies(self) -> list[Rest]:
        if self.subject is None or self.subject.shape != "flat":
            return []
        known = {"shelf": _("on a shelf, one side to the air"), "open": _("on a rack, both sides to the air")}
        stands = known.get(self.subject.stands)
        return [
            Rest(_("How it lies"), stands or _("on a shelf or on a rack"), _("as you said") if stands else _("assumed"))
        ]

    def air(self, around: Around) -> list[Rest]:
        """What an answer rests on of the air, and of the thaws that the family watched in it."""
        sure = {
            "read": _("read just now"),
            "measured": _("measured within the last day"),
            "noted": _("as noted of this place"),
            "assumed": _("assumed: nobody noted it"),
        }
        what = around.place or str(KINDS.get(around.kind, around.kind))
        found = [Rest(what, self.span_c(around.c), sure[around.how])]
        if around.seen:
            count = ngettext("%(count)d thaw", "%(count)d thaws", around.seen) % {"count": around.seen}
            found.append(Rest(_("What you saw yourselves"), count, _("the range follows them as far as they go")))
        return found

    def span_c(self, c: Range) -> str:
        """An interval of temperatures."""
        low, high = self.words.c(c.low), self.words.c(c.high)
        return low if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


def container_option(one: Verdict, words: Words) -> dict[str, str]:
    """A container to choose: its code, amount, form and place."""
    where = ", ".join(part for part in (str(FORMS[one.form]), one.place) if part)
    return {"value": one.container, "label": f"{one.container} · {words.ml(one.ml)} · {where}"}


def shape_choices() -> list[dict[str, str]]:
    """How milk may be kept, to choose from."""
    return [{"value": "flat", "label": _("Bag lying flat")}, {"value": "upright", "label": _("Bottle or bag standing")}]


def how_choices() -> list[dict[str, str]]:
    """How a size is known, to choose from."""
    return [{"value": "measured", "label": _("Measured")}, {"value": "guess", "label": _("A guess")}]


def stand_choices() -> list[dict[str, str]]:
    """How a flat bag lies, to choose from."""
    return [
        {"value": "", "label": _("Not sure")},
        *({"value": stands, "label": str(word)} for stands, word in LYING.items()),
    ]


def mm_text(mm: float) -> str:
    """A length in mm."""
    return _("%(mm)s mm") % {"mm": f"{mm:.0f}"}


def hours_text(hours: float) -> str:
    """A length of time: "25 min", "3 h 30 min", "29 hours"; infinite ones have no words."""
    if math.isinf(hours):
        return _("never")
    minutes = round(hours * 60)
    if minutes < 60:
        return ngettext("%(n)d minute", "%(n)d minutes", minutes) % {"n": minutes}
    whole, rest = divmod(minutes, 60)
    if rest:
        return _("%(hours)d h %(minutes)d min") % {"hours": whole, "minutes": rest}
    return ngettext("%(n)d hour", "%(n)d hours", whole) % {"n": whole}


def range_text(triple: Triple) -> str:
    """A range of lengths of time."""
    early, late = hours_text(triple.early_h), hours_text(triple.late_h)
    if triple.early_h == 0 and not math.isinf(triple.late_h):
        return _("up to %(late)s") % {"late": late}
    if math.isinf(triple.late_h):
        return _("perhaps never") if triple.early_h == 0 else _("%(early)s or more, perhaps never") % {"early": early}
    return early if early == late else _("%(early)s to %(late)s") % {"early": early, "late": late}


def about_text(triple: Triple) -> str:
    """What is likely, of a length of time."""
    if math.isinf(triple.nominal_h):
        return _("most likely never")
    return _("about %(time)s") % {"time": hours_text(triple.nominal_h)}


def _short(hours: float) -> str:
    return str(localize(int(hours) if hours == int(hours) else round(hours, 1)))


def about_short(triple: Triple) -> str:
    """What is likely, in hours, for a table."""
    return _("never") if math.isinf(triple.nominal_h) else _("about %(n)s h") % {"n": _short(triple.nominal_h)}


def range_short(triple: Triple) -> str:
    """A range in hours, for a table."""
    if math.isinf(triple.early_h):
        return _("never")
    if math.isinf(triple.late_h):
        return _("%(early)s h, or never") % {"early": _short(triple.early_h)}
    if triple.early_h == 0:
        return _("up to %(late)s h") % {"late": _short(triple.late_h)}
    return _("%(early)s to %(late)s h") % {"early": _short(triple.early_h), "late": _short(triple.late_h)}


class Shown(NamedTuple):
    """When something happens, in words: the range and what is likely; `late` is empty where it may never happen."""

    early: str
    likely: str
    late: str
    takes: str


def shown(when: When, triple: Triple, words: Words) -> Shown:
    """A moment with its doubt, on the household's clock."""
    early, likely, late = (words.clock(at) if at is not None else "" for at in when)
    return Shown(early, likely, late, range_text(triple))
