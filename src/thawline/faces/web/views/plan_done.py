"""A chore of the plan is done: what was moved, thrown away or looked at, recorded in one act."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from thawline.core.places import FREEZERS
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, back_to, begin_act, begun, perform
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views.milk_verbs import WHY
from thawline.faces.web.views.stock_words import coldest_first, count_word, named, place_says
from thawline.faces.web.views.trip_pack import Pick, picks
from thawline.faces.words import Words, words_for
from thawline.services import many
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.board import Board, board
from thawline.services.looking_ahead import preview
from thawline.services.recording import new_act

# Where each kind of chore takes milk.
INTO: dict[str, tuple[str, ...]] = {
    "chill": ("refrigerator",),
    "freeze": FREEZERS,
    "thaw": ("refrigerator",),
    "pack": ("cooler",),
}
TITLES = {
    "chill": gettext_lazy("Chilled"),
    "freeze": gettext_lazy("Frozen"),
    "thaw": gettext_lazy("Put to thaw"),
    "pack": gettext_lazy("Packed"),
    "discard": gettext_lazy("Thrown away"),
    "look_for_ice": gettext_lazy("Looked for ice"),
}
_SEEN = {"yes": True, "no": False}


class _Asked(NamedTuple):
    """The chore: what was done, all containers it names, those of them that are gone, and those left ticked."""

    does: str
    offered: list[Verdict]
    gone: list[str]
    ticked: frozenset[str]
    board: Board
    words: Words

    @property
    def chosen(self) -> list[Verdict]:
        return [one for one in self.offered if one.container in self.ticked]

    @property
    def missing(self) -> list[str]:
        """Those that were ticked and are gone."""
        return [code for code in self.gone if code in self.ticked]


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The form of a chore that was done, and what it records."""
    if (first := begun(request, reverse("web:plan"))) is not None:
        return first
    asked = _asked(request)
    if request.method == "GET":
        return _form(request, asked, ())
    return _record(request, asked)


def _asked(request: Request) -> _Asked:
    sent = request.POST if request.method == "POST" else request.GET
    does = sent.get("does", "")
    if does not in TITLES:
        raise Http404
    found = board(request.home.store, now=request.now)
    ticked = list(dict.fromkeys(sent.getlist("code")))
    codes = list(dict.fromkeys([*sent.getlist("of"), *ticked]))
    # PostgreSQL takes no text with a NUL.
    known = request.home.store.taken([code for code in codes if "\0" not in code])
    if any(code not in known for code in codes):
        raise Http404
    there = {one.container: one for one in found.verdicts}
    offered = many.oldest_first(there[code] for code in codes if code in there)
    gone = [code for code in codes if code not in there]
    return _Asked(does, offered, gone, frozenset(ticked), found, words_for(found.settings.zone, found.now, found.units))


def _record(request: Request, asked: _Asked) -> HttpResponse:
    problems = [_("%(code)s is gone already. Nothing was recorded.") % {"code": code} for code in asked.missing]
    if not asked.chosen and not problems:
        problems.append(_("Tick at least one container."))
    if request.POST.get("when") == "on":
        problems.append(_("Write the time as well: here hours count."))
    if problems:
        return _form(request, asked, problems)
    try:
        act = begin_act(request, asked.board.settings.zone)
    except BadWhenError as fault:
        return _form(request, asked, [_(str(fault))])
    if (missing := _write(request, act, asked)) is not None:
        return _form(request, asked, [missing])
    back = back_to(request, reverse("web:plan"))
    return perform(request, act, back=back, again=lambda says: _form(request, asked, list(dict.fromkeys(says))))


def _write(request: Request, act: Act, asked: _Asked) -> str | None:
    """Write the events that the form asks for; what is missing on it, or None."""
    sent = request.POST if request.method == "POST" else request.GET
    if asked.does == "discard":
        many.each(act, "discarded", asked.chosen, why=sent["why"] if sent.get("why") in WHY else None)
        return None
    if asked.does == "look_for_ice":
        if sent.get("ice") not in _SEEN:
            return _("Choose what you saw.")
        many.each(act, "thaw_seen", asked.chosen, ice=_SEEN[sent["ice"]])
        return None
    place = _place(request, asked)
    if not place:
        return _("Choose where they went.")
    many.move(act, asked.chosen, place)
    return None if act.events else _("They are there already: there is nothing to record.")


def _choices(asked: _Asked) -> list[str]:
    return [place.name for place in coldest_first(asked.board.of_kind(*INTO.get(asked.does, ())))]


def _place(request: Request, asked: _Asked) -> str:
    """Where they went: as the form says, else the only place of that kind; empty where that is not clear."""
    sent = request.POST if request.method == "POST" else request.GET
    names = _choices(asked)
    wanted = sent.get("to", "")
    if wanted in names:
        return wanted
    return names[0] if len(names) == 1 and not wanted else ""


def _then(request: Request, asked: _Asked) -> list[MilkLine]:
    """How they would stand if it were recorded now as the form stands; empty where something has to be said first."""
    if asked.does not in INTO or not asked.chosen:
        return []
    act = Act(new_act(), by="", at=written_now(request.now, asked.board.settings.zone))
    if _write(request, act, asked) is not None:
        return []
    after = preview(request.home.store, act.events, now=request.now).after
    return [milk_line(after[one.container], asked.words) for one in asked.chosen if one.container in after]


def _form(request: Request, asked: _Asked, errors: Sequence[str]) -> HttpResponse:
    total = many.total(asked.chosen)
    rows: list[Pick] = picks(asked.offered, asked.words, checked=asked.ticked)
    sent = request.POST if request.method == "POST" else request.GET
    places = [asked.board.place(name) for name in _choices(asked)]
    errors = list(errors)
    if not rows and not errors:
        errors.append(_none_left(asked.gone))
    context: dict[str, Any] = {
        "act": act_id(request) or new_act(),
        "does": asked.does,
        "heading": TITLES[asked.does],
        "summary": f"{count_word(total.containers)}, {asked.words.ml(total.ml)}" if asked.chosen else "",
        "rows": rows,
        "moves": asked.does in INTO,
        "places": [{"value": one.name, "label": one.name, "says": place_says(one, asked.words)}
                   for one in places if one is not None],
        "place": _place(request, asked),
        "why": [{"value": key, "label": label} for key, label in WHY.items()],
        "then": _then(request, asked),
        "problems": [{"says": says} for says in errors],
        "sent": sent,
        "back": back_to(request, ""),
    }  # fmt: skip
    return render(request, "web/plan_done.html", context, status=422 if errors else 200)


def _none_left(gone: Sequence[str]) -> str:
    if not gone:
        return _("No container was named.")
    return _("There is nothing left to do: %(codes)s is gone.") % {"codes": named(gone)}
