"""Cold stock: what is where, oldest first, with its totals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.lines import MilkLine, milk_line, url_of
from thawline.faces.web.views import stock_enter, stock_many, stock_paste
from thawline.faces.web.views.stock_words import age_word, coldest_first, count_word, place_says, total_says
from thawline.faces.words import words_for
from thawline.services import many
from thawline.services.board import Board, board

SHOW = {
    "": gettext_lazy("Everything"),
    "frozen": gettext_lazy("Frozen"),
    "chilled": gettext_lazy("Not frozen"),
    "soon": gettext_lazy("Soon, or not within its limits"),
}
_KEEP = {
    "frozen": lambda one: one.form == "frozen",
    "chilled": lambda one: one.form != "frozen",
    "soon": lambda one: one.standing != "fine",
}


class Line(NamedTuple):
    """A container in the stock: as everywhere, with the day on its label and whether it is ticked."""

    milk: MilkLine
    on: str
    ticked: bool


class Group(NamedTuple):
    """A place, or an age, with what belongs to it."""

    id: str
    name: str
    says: str
    ml_text: str
    count_text: str
    lines: list[Line]
    all_url: str
    move_url: str
    trip_url: str


class Choice(NamedTuple):
    """A way of looking at the stock, as a link."""

    label: str
    url: str
    current: bool


class _Look:
    """How the stock is asked for: `by` place or age, what is shown, and what is ticked from the start."""

    def __init__(self, request: Request, found: Board) -> None:
        asked = request.GET
        self.by = "age" if asked.get("by") == "age" else "place"
        self.show = asked.get("show", "") if asked.get("show", "") in SHOW else ""
        self.all = asked.get("all", "")
        self.board = found
        self.words = words_for(found.settings.zone, found.now, found.units)
        keep = _KEEP.get(self.show)
        self.verdicts = [one for one in found.verdicts if keep is None or keep(one)]

    def url(self, **changed: str) -> str:
        """The same page, asked for otherwise."""
        asked = {"by": self.by if self.by == "age" else "", "show": self.show} | changed
        query = urlencode({key: value for key, value in asked.items() if value})
        return reverse("web:stock") + (f"?{query}" if query else "")

    def group(self, number: int, key: str, verdicts: Sequence[Verdict]) -> Group:
        """A place, or an age, with its lines and totals."""
        place = self.board.place(key) if self.by == "place" else None
        total = many.total(verdicts)
        everything = urlencode({"verb": "move", "from": key})
        return Group(
            f"group-{number}", key if place else age_word(key), place_says(place, self.words) if place else "",
            self.words.ml(total.ml), count_word(total.containers),
            [self.line(one, ticked=self.all == key) for one in verdicts],
            f"{self.url(all=key)}#group-{number}",
            f"{reverse('web:many')}?{everything}" if place else "",
            reverse("web:trip") if place and place.kind == "cooler" else "",
        )  # fmt: skip

    def line(self, one: Verdict, *, ticked: bool) -> Line:
        milk = milk_line(one, self.words, clock_wrong=self.board.clock_wrong)
        return Line(milk, self.words.day(one.dated), ticked)

    def groups(self) -> list[Group]:
        """Places from the coldest on, or ages from this week back."""
        if self.by == "age":
            found = many.by_age(self.verdicts, now=self.board.now, zone=self.board.settings.zone)
        else:
            places = many.by_place(self.verdicts)
            found = {place.name: places.get(place.name, []) for place in coldest_first(self.board.places)}
            found = {name: verdicts for name, verdicts in found.items() if verdicts}
        return [self.group(number, key, verdicts) for number, (key, verdicts) in enumerate(found.items(), 1)]


def _totals(groups: Sequence[Group], look: _Look) -> list[dict[str, object]]:
    whole = many.total(look.verdicts).ml or 1.0
    parts = (
        many.by_age(look.verdicts, now=look.board.now, zone=look.board.settings.zone)
        if look.by == "age"
        else many.by_place(look.verdicts)
    )
    named = {age_word(key) if look.by == "age" else key: many.total(part) for key, part in parts.items()}
    return [
        {"place": one.name, "ml_text": one.ml_text, "share": round(100 * named[one.name].ml / whole),
         "says": total_says(named[one.name], look.words)}
        for one in groups
    ]  # fmt: skip


BAR = (
    ("move", gettext_lazy("Move"), True),
    ("", gettext_lazy("Something else"), False),
)


@require_GET
def page(request: Request) -> HttpResponse:
    """The stock."""
    found = board(request.home.store, now=request.now)
    look = _Look(request, found)
    groups = look.groups()
    rooms = [one.name for one in found.of_kind("room")]
    out = [one for one in groups if look.by == "place" and one.name in rooms]
    away = many.away(request.home.store, now=request.now) if not look.show else []
    words = look.words
    return render(
        request,
        "web/stock.html",
        {
            "groups": [one for one in groups if one not in out],
            "out": out,
            "away": [(one, url_of(one.container), words.ml(one.ml), words.clock(one.at)) for one in away],
            "totals": _totals(groups, look),
            "all_text": words.ml(many.total(look.verdicts).ml),
            "all_says": total_says(many.total(look.verdicts), words),
            "ways": [Choice(_("By place"), look.url(by=""), look.by == "place"),
                     Choice(_("By age"), look.url(by="age"), look.by == "age")],
            "shows": [Choice(str(word), look.url(show=key), look.show == key) for key, word in SHOW.items()],
            "filtered": bool(look.show),
            "acts": [{"value": verb, "label": label, "primary": main} for verb, label, main in BAR],
        },
    )  # fmt: skip


routes = [
    path("stock/", page, name="stock"),
    path("stock/many/", stock_many.page, name="many"),
    path("stock/enter/", stock_enter.page, name="enter"),
    path("stock/paste/", stock_paste.page, name="paste"),
]
