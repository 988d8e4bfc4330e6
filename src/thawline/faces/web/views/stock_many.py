"""One act on several containers: what was chosen, what would follow, and the form that records it."""

from __future__ import annotations

from collections import defaultdict
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
from thawline.faces.tell import HELD_WHY
from thawline.faces.web.acting import act_id, back_to, begin_act, begun, perform
from thawline.faces.web.amounts import BadAmountError, amount_ml
from thawline.faces.web.views.milk_verbs import WHY as WHY_DISCARDED
from thawline.faces.web.views.stock_words import coldest_first, count_word, named, place_says, typed, unit_word
from thawline.faces.words import STANDINGS, Words, words_for
from thawline.services import many
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.board import Board, board
from thawline.services.recording import new_act

VERBS = {
    "move": gettext_lazy("Move or pack"),
    "count": gettext_lazy("Count"),
    "discard": gettext_lazy("Throw away"),
    "hand": gettext_lazy("Hand over"),
    "hold": gettext_lazy("Hold back"),
    "release": gettext_lazy("No longer hold back"),
    "ice": gettext_lazy("Ice still there"),
    "no_ice": gettext_lazy("No ice left"),
}
RECORD = {
    "move": gettext_lazy("They went there"),
    "count": gettext_lazy("Note the count"),
    "discard": gettext_lazy("Thrown away"),
    "hand": gettext_lazy("Handed over"),
    "hold": gettext_lazy("Hold them back"),
    "release": gettext_lazy("Hold ends"),
    "ice": gettext_lazy("I saw ice in each"),
    "no_ice": gettext_lazy("I saw none in any"),
}
# So many containers times places are worked out before somebody asks for it.
_AT_ONCE = 300


class BadChoiceError(ValueError):
    """Something on the form that is missing; its text says what to mend."""


class _Asked(NamedTuple):
    """What the page is about: the verb, the containers chosen, and those of them that are gone."""

    verb: str
    chosen: list[Verdict]
    gone: list[str]
    board: Board
    words: Words


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The form for what was chosen, and what it records."""
    if (first := begun(request, reverse("web:stock"))) is not None:
        return first
    asked = _asked(request)
    if request.method == "POST" and request.POST.get("step") == "record":
        return _record(request, asked)
    look = request.POST.get("step") == "look"
    return _form(request, asked, (), look=look)


def _asked(request: Request) -> _Asked:
    sent = request.POST if request.method == "POST" else request.GET
    verb = sent.get("verb", "")
    if verb and verb not in VERBS:
        raise Http404
    found = board(request.home.store, now=request.now)
    codes = list(dict.fromkeys(sent.getlist("code")))
    place = sent.get("from")
    if place is not None:
        if found.place(place) is None:
            raise Http404
        codes += [one.container for one in found.verdicts if one.place == place and one.container not in codes]
    # PostgreSQL takes no text with a NUL.
    known = request.home.store.taken([code for code in codes if "\0" not in code])
    if any(code not in known for code in codes):
        raise Http404
    there = {one.container: one for one in found.verdicts}
    chosen = many.oldest_first(there[code] for code in codes if code in there)
    gone = [code for code in codes if code not in there]
    return _Asked(verb, chosen, gone, found, words_for(found.settings.zone, found.now, found.units))


def _record(request: Request, asked: _Asked) -> HttpResponse:
    if asked.gone:
        says = [_("%(code)s is gone already. Nothing was recorded.") % {"code": code} for code in asked.gone]
        return _form(request, asked, says)
    try:
        act = begin_act(request, asked.board.settings.zone)
        write(request, act, asked)
    except (BadWhenError, BadChoiceError, BadAmountError) as fault:
        return _form(request, asked, [str(fault)])
    back = back_to(request, reverse("web:stock"))
    return perform(request, act, back=back, again=lambda says: _form(request, asked, list(dict.fromkeys(says))))


def write(request: Request, act: Act, asked: _Asked) -> None:
    """The events of the act that the form asks for; raises where something is missing."""
    sent = request.POST
    chosen = asked.chosen
    if asked.verb == "move":
        many.move(act, chosen, _place(asked, sent.get("place", "")))
    elif asked.verb == "discard":
        why = sent.get("why", "") if sent.get("why") in WHY_DISCARDED else ""
        many.each(act, "discarded", chosen, why=why or None)
    elif asked.verb == "hold":
        if sent.get("why") not in HELD_WHY:
            raise BadChoiceError(_("Choose why it is held back."))
        many.each(act, "held", chosen, why=sent["why"])
    elif asked.verb == "release":
        many.each(act, "released", chosen)
    elif asked.verb == "hand":
        _hand(request, act, asked)
    elif asked.verb == "count":
        many.count(act, _counted(request, asked))
    elif asked.verb in ("ice", "no_ice"):
        many.each(act, "thaw_seen", chosen, ice=asked.verb == "ice")


def _place(asked: _Asked, name: str) -> str:
    if asked.board.place(name) is None:
        raise BadChoiceError(_("Choose where they go."))
    return name


def _hand(request: Request, act: Act, asked: _Asked) -> None:
    to = " ".join(request.POST.get("to", "").split())[:200]
    if not to:
        raise BadChoiceError(_("Write to whom they were handed over."))
    place = request.POST.get("place") or None
    many.each(act, "handed_over", asked.chosen, to=to, place=_place(asked, place) if place else None)


def _counted(request: Request, asked: _Asked) -> dict[str, float]:
    """What differs from what is noted, in mL; 0 where it was not there any more."""
    found: dict[str, float] = {}
    unit = asked.board.units[0]
    lost = request.POST.getlist("lost")
    for one in asked.chosen:
        was = typed(one.ml, unit)
        text = request.POST.get(f"ml-{one.container}", was).strip()
        if one.container in lost:
            found[one.container] = 0.0
        elif text != was:
            found[one.container] = _amount(one.container, text, unit)
    if not found:
        raise BadChoiceError(_("Every amount is as it was: there is nothing to record."))
    return found


def _amount(code: str, text: str, unit: str) -> float:
    try:
        return amount_ml(text, unit)
    except BadAmountError as fault:
        raise BadAmountError(f"{code}: {fault}") from fault


# What would follow


def follows_says(found: many.Follows, words: Words) -> str:
    """The containers afterwards in a sentence: how many, how much, by when."""
    if not found.after.containers:
        return _("None of them would be left.")
    says = f"{count_word(found.after.containers)}, {words.ml(found.after.ml)}"
    if found.use_by is not None:
        says += "; " + _("the first one: use by %(time)s") % {"time": words.until(found.use_by)}
    return f"{says}. {_barred(found)}".strip()


def _then(found: many.Follows, words: Words) -> str:
    """By when the first of them would have to be used."""
    by = (
        _("Then the first one: use by %(time)s.") % {"time": words.until(found.use_by)}
        if found.use_by is not None
        else ""
    )
    return f"{by} {_barred(found)}".strip()


def _barred(found: many.Follows) -> str:
    standings: dict[str, list[str]] = defaultdict(list)
    for one in found.verdicts:
        if one.standing not in many.WITHIN:
            standings[one.standing].append(one.container)
    return " ".join(f"{named(codes)}: {STANDINGS[standing]}." for standing, codes in standings.items())


def _follow(request: Request, asked: _Asked) -> tuple[str, list[str]]:
    """What would follow of the form as it stands, and what is missing on it."""
    try:
        act = begin_act(request, asked.board.settings.zone)
        write(request, act, asked)
    except (BadWhenError, BadChoiceError, BadAmountError) as fault:
        return "", [str(fault)]
    if not act.events:
        return _("All of them are there already."), []
    return follows_says(many.follows(request.home.store, act, now=request.now), asked.words), []


def _plainly(request: Request, asked: _Asked) -> str:
    """What would follow of a verb that asks nothing more."""
    if asked.verb in ("discard", "hand", "count", "hold") or not asked.chosen:
        return ""
    act = Act(new_act(), by="", at=written_now(request.now, asked.board.settings.zone))
    write(request, act, asked)
    return follows_says(many.follows(request.home.store, act, now=request.now), asked.words)


def _places(request: Request, asked: _Asked) -> tuple[list[dict[str, str]], bool]:
    """Where they may go, each with what would follow; False where that is too much to work out at once."""
    places = [one for one in coldest_first(asked.board.places) if any(m.place != one.name for m in asked.chosen)]
    small = len(places) * len(asked.chosen) <= _AT_ONCE
    found = []
    for place in places:
        says = place_says(place, asked.words)
        if small:
            act = Act(new_act(), by="", at=written_now(request.now, asked.board.settings.zone))
            many.move(act, asked.chosen, place.name)
            then = many.follows(request.home.store, act, now=request.now)
            says = f"{says}. {_then(then, asked.words)}"
            if then.breached:
                says += " " + _("The guideline speaks against it.")
        found.append({"value": place.name, "label": place.name, "says": says})
    return found, small


def _form(request: Request, asked: _Asked, errors: Sequence[str], *, look: bool = False) -> HttpResponse:
    if not asked.chosen:
        return render(request, "web/many_none.html", {"gone": asked.gone, "errors": errors}, status=422)
    follows, missing = _follow(request, asked) if look else ("", [])
    problems = [*errors, *missing]
    total = many.total(asked.chosen)
    places, told = _places(request, asked) if asked.verb == "move" else ([], True)
    page: dict[str, Any] = {
        "verb": asked.verb,
        "title": VERBS[asked.verb] if asked.verb else _("What happened?"),
        "verbs": [{"value": key, "label": label} for key, label in VERBS.items()],
        "record": RECORD.get(asked.verb, ""),
        "act": act_id(request) or new_act(),
        "codes": [one.container for one in asked.chosen] + asked.gone,
        "named": named([one.container for one in asked.chosen]),
        "summary": f"{count_word(total.containers)}, {asked.words.ml(total.ml)}",
        "follows": follows or (_plainly(request, asked) if asked.verb and asked.verb != "move" else ""),
        "told": told or bool(follows),
        "places": places,
        "every_place": [{"value": one.name, "label": one.name} for one in asked.board.places],
        "why_held": [{"value": key, "label": label} for key, label in HELD_WHY.items()],
        "why_discarded": [{"value": key, "label": label} for key, label in WHY_DISCARDED.items()],
        "amounts": _amounts(request, asked) if asked.verb == "count" else [],
        "unit": unit_word(asked.board),
        "problems": [{"says": says} for says in problems],
        "sent": request.POST,
        "back": back_to(request, ""),
    }
    return render(request, "web/many.html", page, status=422 if problems else 200)


def _amounts(request: Request, asked: _Asked) -> list[dict[str, Any]]:
    unit = asked.board.units[0]
    lost = request.POST.getlist("lost")
    rows = []
    for number, one in enumerate(asked.chosen, 1):
        value = request.POST.get(f"ml-{one.container}", typed(one.ml, unit))
        rows.append({"n": number, "code": one.container, "value": value, "lost": one.container in lost,
                     "place": one.place})  # fmt: skip
    return rows
