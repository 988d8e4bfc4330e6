"""Milk goes into the cooler: many containers in one act."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core.times import parse_instant
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, back_to, begin_act, begun, perform
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views.stock_words import count_word
from thawline.faces.web.views.trip_answer import cooler_name
from thawline.faces.web.views.trip_form import OUTFIT_FIELDS, Asked, asked, at_hand, carried, chosen
from thawline.faces.words import Words
from thawline.services import many, people, trip, trip_milk
from thawline.services.acts import BadWhenError
from thawline.services.board import Board
from thawline.services.permissions import may

NEW = "+"
LONGEST_NAME = 80


class Pick(NamedTuple):
    """A container to tick, as `milk_pick.html` shows it."""

    code: str
    ml_text: str
    standing: str
    standing_word: str
    use_by_text: str | None
    estimated: bool
    where: str
    checked: bool
    barred: str = ""


def picks(rows: Sequence[Verdict], words: Words, *, checked: Collection[str]) -> list[Pick]:
    """Containers to tick."""
    return [
        Pick(
            line.code, line.ml_text, line.standing, line.standing_word, line.use_by_text, line.estimated,
            _where(line, one.place), one.container in checked,
        )
        for one in rows
        for line in [milk_line(one, words)]
    ]  # fmt: skip


def _where(line: MilkLine, place: str | None) -> str:
    """How and where it is, and for which child: twins' milk looks alike."""
    where = f"{line.form_word}, {place}"
    return f"{where} · {_('for %(child)s') % {'child': line.meant_for}}" if line.meant_for else where


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """What goes into which cooler, and what is recorded of it."""
    if (first := begun(request, reverse("web:trip"))) is not None:
        return first
    return _form(request, asked(request), ()) if request.method == "GET" else _record(request, asked(request))


def _record(request: Request, one: Asked) -> HttpResponse:
    _milk, gone = chosen(request, one.board)
    problems = [_("%(code)s is gone already. Nothing was recorded.") % {"code": code} for code in gone]
    if not one.chosen:
        problems.append(_("Tick what went into the cooler."))
    into = _into(request, one.board)
    if into is None:
        new = _("Write a name for the cooler that no other place has.")
        problems.append(new if _may_add(request) else _("Choose a cooler. A parent can add one in the settings."))
    if request.POST.get("when") == "on":
        problems.append(_("Write the time as well: in a cooler hours count."))
    if problems or into is None:
        return _form(request, one, problems)
    try:
        act = begin_act(request, one.board.settings.zone)
    except BadWhenError as fault:
        return _form(request, one, [_(str(fault))])
    moving = [milk for milk in one.chosen if milk.place != into]
    if moving:
        trip_milk.pack(act, moving, trip_milk.new_place(act, one.board, into, "cooler"))
    answer = perform(
        request, act, back=back_to(request, reverse("web:trip")), again=lambda says: _form(request, one, says)
    )  # fmt: skip
    if "size" in request.POST and request.home.store.act(act.id):
        people.keep_cooler(request.home.store, trip.as_kept(_kept(one, into, parse_instant(act.at))))
    return answer


def _kept(one: Asked, into: str, since: int) -> trip.Outfit:
    made: dict[str, Any] = {**trip.as_kept(one.outfit), "place": into, "since": since}
    return trip.kept(made) or one.outfit


def _into(request: Request, found: Board) -> str | None:
    """The cooler that was chosen, or the name of a new one; None where the name will not do."""
    coolers = [place.name for place in found.of_kind("cooler")]
    wanted = request.POST.get("into") or (coolers[0] if coolers else NEW)
    if wanted != NEW or not _may_add(request):
        return wanted if wanted in coolers else None
    name = " ".join(request.POST.get("new", "").split())
    return name if name and len(name) <= LONGEST_NAME and "\0" not in name and found.place(name) is None else None


def _may_add(request: Request) -> bool:
    """Whether they may describe a place that is new."""
    return may(request.home.role, "settle")


def _form(request: Request, one: Asked, errors: Sequence[str]) -> HttpResponse:
    coolers = [place.name for place in one.board.of_kind("cooler")]
    into = request.POST.get("into") or (coolers[0] if coolers else NEW)
    fresh = cooler_name(one.board)
    codes = {milk.container for milk in one.chosen}
    rows = at_hand(one.board)
    then = trip_milk.packed_then(request.home.store, one.board, one.chosen, into if into in coolers else fresh)
    total = many.total(one.chosen)
    context: dict[str, Any] = {
        "act": act_id(request),
        "problems": [{"says": says} for says in dict.fromkeys(errors)],
        "picked": picks([milk for milk in rows if milk.container in codes], one.words, checked=codes),
        "others": picks([milk for milk in rows if milk.container not in codes], one.words, checked=()),
        "then": [milk_line(milk, one.words) for milk in then],
        "summary": f"{count_word(total.containers)}, {one.words.ml(total.ml)}" if one.chosen else "",
        "coolers": [{"value": name, "label": name} for name in coolers],
        "into": into,
        "new_name": request.POST.get("new", fresh),
        "carried": carried(one) if OUTFIT_FIELDS[0] in (request.POST if errors else request.GET) else (),
        "sent": request.POST,
        "back": back_to(request, ""),
    }
    if coolers and _may_add(request):
        context["coolers"].append({"value": NEW, "label": _("A cooler that is not on the list")})
    return render(request, "web/trip_pack.html", context, status=422 if errors else 200)
