"""After a power cut, container by container: ice, cold, or above the line, each with what would follow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core.times import HOUR
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, begun, perform
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views.power_kit import Asked, asked
from thawline.faces.web.views.power_words import outcome
from thawline.faces.web.views.settings_kit import Form
from thawline.services import power
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.looking_ahead import preview
from thawline.services.power import Seen
from thawline.services.recording import new_act

# How long a place has been as warm as it reads, in hours.
ABOVE = ("0", "1", "2", "3")
_ANSWERS = ("ice", "liquid", "moved", "thrown")


class Row(NamedTuple):
    """A container with its answers: `says` under each is what would follow."""

    n: int
    milk: MilkLine
    answers: list[dict[str, str]]
    value: str
    temp: str
    then: str


class Group(NamedTuple):
    """A place with the containers that were in it."""

    n: int
    name: str
    temp: str
    above: str
    rows: list[Row]
    seen: list[MilkLine]


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The list with its answers, what would follow of them, and recording it in one go."""
    if (first := begun(request, reverse("web:power"))) is not None:
        return first
    looking = _Looking(request)
    if request.method == "GET":
        return looking.page(())
    if not looking.places:
        return HttpResponseRedirect(reverse("web:power"))
    act = looking.written()
    if act is None:
        return looking.page(())
    if request.POST.get("step") == "look":
        return looking.page((), follows=act)
    return perform(request, act, back=reverse("web:power"), again=looking.page)


class _Looking:
    """The form as it was sent, over the containers that are still to be looked at."""

    def __init__(self, request: Request) -> None:
        self.request = request
        self.here: Asked = asked(request)
        self.places = power.to_look_at(request.home.store, self.here.board, self.here.cuts)
        self.form = Form(request.POST.dict())
        self.zone = self.here.board.settings.zone
        self.unit = self.here.board.units[1]
        fridges = [one for one in self.here.board.of_kind("refrigerator") if not self._out(one.name)]
        coolers = self.here.board.of_kind("cooler")
        to = [*fridges, *coolers]
        self.to = to[0].name if to else None
        # The list may have become shorter while the form was open: an answer belongs to its code.
        sent = self.form.sent.items()
        self.numbers = {value: key.removeprefix("code-") for key, value in sent if key.startswith("code-")}

    def _out(self, name: str) -> bool:
        return any(cut.place == name and cut.back is None for cut in self.here.cuts)

    def written(self) -> Act | None:
        """The act that the form asks for; None where something has to be mended first."""
        try:
            act = begin_act(self.request, self.zone)
        except BadWhenError as fault:
            self.form.wrong("when", _(str(fault)))
            return None
        for n, place in enumerate(self.places, 1):
            temp_c = self.form.temp(f"read-{n}", self.unit)
            if temp_c is not None:
                sent = self.form.sent.get(f"above-{n}", "0")
                above = int(sent) * HOUR if sent in ABOVE and temp_c > self._line() else 0
                power.note_place(act, place.cut.place, temp_c, above_for=above, cut=place.cut, board=self.here.board)
        found = [seen for n, one in self._numbered() if (seen := self._seen(n, one)) is not None]
        power.note(act, found, zone=self.zone)
        if not act.events and not self.form.errors:
            self.form.wrong("look", _("Nothing is answered yet."))
        return None if self.form.errors else act

    def _line(self) -> float:
        return power.rules(self.request.home.store, now=self.here.board.now).line_c

    def _numbered(self) -> list[tuple[int, Verdict]]:
        return list(enumerate((one for place in self.places for one in place.milks), 1))

    def _seen(self, n: int, one: Verdict) -> Seen | None:
        sent = self.numbers.get(one.container, str(n))
        what = self.form.sent.get(f"saw-{sent}", "")
        temp_c = self.form.temp(f"temp-{sent}", self.unit)
        if what not in _ANSWERS and temp_c is None:
            return None
        return Seen(one.container, what if what in _ANSWERS else "", temp_c, self.to)

    # Showing it

    def page(self, problems: Sequence[str], *, follows: Act | None = None) -> HttpResponse:
        """The list, with what would follow of an act where one is given."""
        for says in problems:
            self.form.wrong("look", says)
        then = self._after(follows.events) if follows is not None else {}
        would = self._would()
        groups, n = [], 0
        for number, place in enumerate(self.places, 1):
            rows = []
            for one in place.milks:
                n += 1
                rows.append(self._row(n, one, would, then))
            sent = self.form.sent
            seen = [milk_line(one, self.here.words) for one in place.seen]
            temp = sent.get(f"read-{number}", "")
            groups.append(Group(number, place.cut.place, temp, sent.get(f"above-{number}", "0"), rows, seen))
        context: dict[str, Any] = {
            "act": act_id(self.request) or new_act(),
            "groups": groups,
            "left": n,
            "lasts": self.here.lasts,
            "unit": f"°{self.unit}",
            "line": self.here.words.c(self._line()),
            "above": _above(),
            "follows": follows is not None,
            "errors": self.form.errors,
            "problems": self.form.problems,
        }
        return render(self.request, "web/power_look.html", context, status=422 if self.form.errors else 200)

    def _row(self, n: int, one: Verdict, would: dict[str, dict[str, Verdict]], then: dict[str, Verdict]) -> Row:
        offered = ("ice", "liquid", "moved", "thrown") if one.form in ("frozen", "thawing") else ("thrown",)
        labels = {
            "ice": _("Ice still in it"),
            "liquid": _("No ice left"),
            "moved": _("No ice left, moved to: %(place)s") % {"place": self.to or ""},
            "thrown": _("Thrown away"),
        }
        answers = [
            {
                "value": what,
                "label": labels[what],
                "says": outcome(would.get(what, {}).get(one.container), self.here.words),
            }
            for what in offered
            if what != "moved" or (self.to is not None and self.to != one.place)
        ]
        was = self.numbers.get(one.container, str(n))
        value, temp = self.form.sent.get(f"saw-{was}", ""), self.form.sent.get(f"temp-{was}", "")
        return Row(
            n, milk_line(one, self.here.words, clock_wrong=self.here.board.clock_wrong), answers, value, temp,
            outcome(then.get(one.container), self.here.words),
        )  # fmt: skip

    def _would(self) -> dict[str, dict[str, Verdict]]:
        """Each answer's outcome, as if it were given of every container that can have it."""
        found = {}
        milks = [one for place in self.places for one in place.milks if one.form in ("frozen", "thawing")]
        for what in ("ice", "liquid", "moved") if milks else ():
            if what == "moved" and self.to is None:
                continue
            act = Act(new_act(), by="", at=written_now(self.here.board.now, self.zone))
            power.note(act, [Seen(one.container, what, None, self.to) for one in milks], zone=self.zone)
            found[what] = self._after(act.events)
        return found

    def _after(self, events: Sequence[dict[str, Any]]) -> dict[str, Verdict]:
        seen = preview(self.request.home.store, events, now=self.here.board.now, everything=True)
        return seen.after


def _above() -> list[dict[str, str]]:
    return [
        {"value": "0", "label": _("Not, or not known")},
        {"value": "1", "label": _("About an hour")},
        {"value": "2", "label": _("About two hours")},
        {"value": "3", "label": _("Longer")},
    ]
