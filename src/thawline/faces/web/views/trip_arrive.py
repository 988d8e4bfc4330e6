"""Milk leaves the cooler: for each container where it goes, in one act."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, back_to, begin_act, begun, perform
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views.trip_form import chosen
from thawline.faces.web.views.trip_pack import LONGEST_NAME, NEW
from thawline.faces.words import KINDS, Words, words_for
from thawline.services import trip_milk
from thawline.services.acts import BadWhenError
from thawline.services.board import Board, board
from thawline.services.many import oldest_first
from thawline.services.trip_milk import Goes, Rest, best

STAYS, BY_ICE = "", "*"
ICE = {"yes": True, "no": False}
ICE_WORDS = {
    "yes": gettext_lazy("Ice still in it"),
    "no": gettext_lazy("No ice left"),
    "": gettext_lazy("Not looked at"),
}


class Row(NamedTuple):
    """A container to unpack: its line, whether it travelled frozen, where it may go, and what is chosen."""

    n_text: str
    code: str
    milk: MilkLine
    frozen: bool
    places: list[dict[str, str]]
    to: str
    ice: str
    to_name: str
    ice_name: str


class _Here(NamedTuple):
    """The cooler that is unpacked, and what would become of its milk in each place."""

    board: Board
    words: Words
    cooler: str
    aboard: list[Verdict]
    rests: dict[str, list[Rest]]


class BadGoalError(ValueError):
    """A container without a place to go to; its text says what to mend."""


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """Where each container of a cooler goes, and what is recorded of it."""
    if (first := begun(request, reverse("web:trip"))) is not None:
        return first
    here = _here(request)
    return _form(request, here, ()) if request.method == "GET" else _record(request, here)


def _here(request: Request) -> _Here:
    found = board(request.home.store, now=request.now)
    coolers = [place.name for place in found.of_kind("cooler")]
    full = [name for name in coolers if any(one.place == name for one in found.verdicts)]
    sent = request.POST if request.method == "POST" else request.GET
    cooler = sent.get("place") or next(iter([*full, *coolers]), "")
    if cooler and cooler not in coolers:
        raise Http404
    aboard = oldest_first(one for one in found.verdicts if one.place == cooler)
    words = words_for(found.settings.zone, found.now, found.units)
    return _Here(found, words, cooler, aboard, trip_milk.arriving(request.home.store, found, aboard))


def _record(request: Request, here: _Here) -> HttpResponse:
    milk, gone = chosen(request, here.board)
    problems = [_("%(code)s is gone already. Nothing was recorded.") % {"code": code} for code in gone]
    if request.POST.get("when") == "on":
        problems.append(_("Write the time as well: in a cooler hours count."))
    try:
        goes = [one for one in (_goes(request, here, each) for each in milk) if one is not None]
        new = _new(request, here.board) if any(one.to == NEW for one in goes) else None
        act = begin_act(request, here.board.settings.zone)
    except (BadGoalError, BadWhenError) as fault:
        return _form(request, here, [*problems, _(str(fault))])
    if not goes and not problems:
        problems.append(_("All of it stays in the cooler: there is nothing to record."))
    if problems:
        return _form(request, here, problems)
    if new is not None:
        trip_milk.new_place(act, here.board, *new)
        goes = [one._replace(to=new[0]) if one.to == NEW else one for one in goes]
    trip_milk.unpack(act, goes, zone=here.board.settings.zone)
    back = back_to(request, reverse("web:trip"))
    return perform(request, act, back=back, again=lambda says: _form(request, here, says))


def _goes(request: Request, here: _Here, one: Verdict) -> Goes | None:
    """Where the form sends a container; None where it stays; raises `BadGoalError`."""
    code = one.container
    ice = ICE.get(request.POST.get(f"ice-{code}", "")) if _frozen(one) else None
    to = request.POST.get(f"to-{code}", STAYS)
    if to == BY_ICE:
        found = best(here.rests.get(code, ()), ice=ice, frozen=True)
        if found is None:
            raise BadGoalError(_("%(code)s: choose where it goes.") % {"code": code})
        to = found.place
    if to in (STAYS, one.place):
        return None
    if to != NEW and here.board.place(to) is None:
        raise BadGoalError(_("%(code)s: choose where it goes.") % {"code": code})
    return Goes(code, to, ice)


def _new(request: Request, found: Board) -> tuple[str, str]:
    """The name and the kind of a place that is not on the list; raises `BadGoalError`."""
    name = " ".join(request.POST.get("new", "").split())
    kind = request.POST.get("new_kind", "")
    if not name or len(name) > LONGEST_NAME or "\0" in name or found.place(name) is not None:
        raise BadGoalError(_("Write a name for the new place that no other place has."))
    if kind not in trip_milk.COLD:
        raise BadGoalError(_("Choose what the new place is."))
    return name, kind


def _frozen(one: Verdict) -> bool:
    return one.form in ("frozen", "thawing")


# What the page shows


def _form(request: Request, here: _Here, errors: Sequence[str]) -> HttpResponse:
    context: dict[str, Any] = {
        "act": act_id(request),
        "problems": [{"says": says} for says in dict.fromkeys(errors)],
        "cooler": here.cooler,
        "rows": [_row(request, here, number, one) for number, one in enumerate(here.aboard, 1)],
        "ices": [{"value": key, "label": label} for key, label in ICE_WORDS.items()],
        "kinds": [{"value": kind, "label": KINDS[kind]} for kind in trip_milk.COLD],
        "sent": request.POST,
        "back": back_to(request, ""),
    }
    return render(request, "web/trip_arrive.html", context, status=422 if errors else 200)


def _row(request: Request, here: _Here, number: int, one: Verdict) -> Row:
    code, frozen = one.container, _frozen(one)
    rests = here.rests.get(code, [])
    places = _places(here, one, rests)
    usual = places[0]["value"] if one.standing in ("fine", "soon", "outside", "held") else STAYS
    return Row(
        str(number), code, milk_line(one, here.words), frozen, places,
        request.POST.get(f"to-{code}", usual), request.POST.get(f"ice-{code}", ""), f"to-{code}", f"ice-{code}",
    )  # fmt: skip


def _places(here: _Here, one: Verdict, rests: Sequence[Rest]) -> list[dict[str, str]]:
    """Where it may go, what the guideline allows first, each with what would follow."""
    frozen = _frozen(one)
    first = best(rests, ice=None, frozen=frozen)
    shown: list[dict[str, str]] = []
    if frozen:
        shown += _by_ice(rests)
    names = [place.name for place in here.board.places if place.name != here.cooler]
    names.sort(
        key=lambda name: (first is None or name != first.place, name not in {rest.place for rest in rests}, name)
    )
    seen = {rest.place: rest for rest in rests if rest.ice is None}
    shown += [{"value": name, "label": _label(name, seen.get(name), here.words, frozen=frozen)} for name in names]
    shown.append({"value": NEW, "label": _("A place that is not on the list")})
    stays = {"value": STAYS, "label": _("It stays in the cooler")}
    return [*shown, stays] if first is not None or frozen else [stays, *shown]


def _by_ice(rests: Sequence[Rest]) -> list[dict[str, str]]:
    icy, none = best(rests, ice=True, frozen=True), best(rests, ice=False, frozen=True)
    if icy is None or none is None:
        return []
    if icy.place == none.place:
        return [{"value": BY_ICE, "label": _("%(place)s, with ice or without") % {"place": icy.place}}]
    says = _("Ice: %(icy)s. None: %(none)s") % {"icy": icy.place, "none": none.place}
    return [{"value": BY_ICE, "label": says}]


def _label(name: str, rest: Rest | None, words: Words, *, frozen: bool) -> str:
    if rest is None or frozen:
        return name
    if rest.breaks:
        return _("%(place)s (the guideline speaks against it)") % {"place": name}
    if rest.verdict.use_by is None or rest.verdict.standing not in ("fine", "soon"):
        return name
    return _("%(place)s: use by %(time)s") % {"place": name, "time": words.until(rest.verdict.use_by)}
