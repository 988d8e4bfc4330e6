"""A power cut: one tap when it goes, what each place may still be counted on for, one tap when it is back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from thawline.core.times import zone_named
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, begin_act, numbered, perform
from thawline.faces.web.lines import milk_line
from thawline.faces.web.views import power_look, power_sheet, power_silence, power_warming
from thawline.faces.web.views.power_kit import Asked, asked, typed
from thawline.faces.web.views.power_words import FILLS, afterwards, shown, steps
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import Words
from thawline.services import power
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.correcting import instant_of
from thawline.services.power import Cut
from thawline.services.recording import new_act


@require_GET
def page(request: Request) -> HttpResponse:
    """Where one begins, what holds while it lasts, and what is to be done afterwards."""
    return _page(request, asked(request), ())


def _page(request: Request, here: Asked, problems: Sequence[str]) -> HttpResponse:
    kinds = [place.kind for place in here.board.of_kind(*power.POWERED)]
    rules = power.rules(request.home.store, now=request.now)
    look = power.to_look_at(request.home.store, here.board, here.cuts)
    context: dict[str, Any] = {
        "places": power.to_lose(here.board),
        "lasts": here.lasts,
        "cuts": [shown(cut, number, here.words) for number, cut in enumerate(_in_order(here.cuts), 1)],
        "since": here.words.clock(min(cut.lost for cut in here.cuts)) if here.cuts else "",
        "ended": here.words.clock(max(cut.back or 0 for cut in here.cuts)) if here.cuts and not here.lasts else "",
        "fills": list(FILLS.items()),
        "steps_said": steps(rules, kinds=kinds, hours=not here.cuts),
        "afterwards": afterwards(rules, here.words),
        "source": rules.source,
        "to_move": _to_move(here) if here.lasts else None,
        "left": sum(len(place.milks) for place in look if not place.cut.within),
        "others": sum(len(place.milks) for place in look if place.cut.within),
        "rooms": [{"value": one.name, "label": one.name} for one in here.board.of_kind("room")],
        "room_act": new_act(),
        "unit": f"°{here.board.units[1]}",
        "act": new_act(),
        "problems": [{"says": says} for says in problems],
        "sent": request.POST,
        "quiet": power_silence.told(request, here.words),
    }
    return render(request, "web/power.html", context, status=422 if problems else 200)


def _in_order(cuts: Sequence[Cut]) -> list[Cut]:
    """What has to be asked first, then what gets warm first."""
    return sorted(cuts, key=lambda cut: (cut.fill is not None or not power.is_freezer(cut.kind), cut.cold_until))


class ToMove(NamedTuple):
    """Chilled milk that has to go to a cooler: from where, until when, and its lines, oldest first."""

    place: str
    by: str
    late: bool
    url: str
    lines: list[Any]


def _to_move(here: Asked) -> list[ToMove]:
    found = []
    for cut in here.cuts:
        milks = [one for one in here.board.verdicts if one.place == cut.place and _worth(one)]
        if cut.kind != "refrigerator" or cut.back is not None or not milks:
            continue
        milks.sort(key=lambda one: (one.dated, one.container))
        query = urlencode({"verb": "move", "from": cut.place, "back": reverse("web:power")})
        found.append(
            ToMove(
                cut.place,
                here.words.clock(cut.cold_until),
                cut.cold_until <= here.board.now,
                f"{reverse('web:many')}?{query}",
                [milk_line(one, here.words, clock_wrong=here.board.clock_wrong) for one in milks],
            )
        )
    return found


def _worth(one: Verdict) -> bool:
    return one.standing in ("fine", "soon", "held", "outside")


# What happened


def _done(request: Request, here: Asked, write: Callable[[Act], None]) -> HttpResponse:
    try:
        act = begin_act(request, here.board.settings.zone)
        write(act)
    except BadWhenError as fault:
        return _page(request, here, [_(str(fault))])
    return perform(request, act, back=reverse("web:power"), again=lambda says: _page(request, here, says))


@require_POST
def began(request: Request) -> HttpResponse:
    """The power went, for every refrigerator and freezer at once."""
    here = asked(request)
    return _done(request, here, lambda act: power.begin(act, here.board, here.every))


@require_POST
def ended(request: Request) -> HttpResponse:
    """The power is back, for every place that was without it."""
    here = asked(request)
    return _done(request, here, lambda act: power.end(act, here.every))


@require_POST
def fill(request: Request) -> HttpResponse:
    """How full a place was when the power went."""
    here = asked(request)
    name, how = request.POST.get("place", ""), request.POST.get("fill", "")
    cut = next((one for one in here.cuts if one.place == name), None)
    if cut is None or how not in power.FILLS:
        raise Http404
    if cut.fill == how and not request.home.store.act(act_id(request) or ""):
        return _page(request, here, [_("That is noted already.")])
    return _done(request, here, lambda act: power.fill(act, request.home.store, cut, how, now=request.now))


@require_POST
def room(request: Request) -> HttpResponse:
    """How warm it is around the boxes."""
    here = asked(request)
    name = request.POST.get("place", "")
    if all(name != one.name for one in here.board.of_kind("room")):
        raise Http404
    form = Form(request.POST.dict())
    temp_c = form.temp("temp", here.board.units[1], _("Write the temperature that you read."))
    if temp_c is None:
        return _page(request, here, [problem["says"] for problem in form.problems])
    return _done(request, here, lambda act: _measured(act, name, temp_c))


def _measured(act: Act, place: str, temp_c: float) -> None:
    act.add("measured", place=place, temp_c=temp_c)


@require_http_methods(["GET", "POST"])
def times(request: Request) -> HttpResponse:
    """Other times of the cut: when it went, and when it came back."""
    here = asked(request)
    if not here.cuts:
        raise Http404
    if request.method == "GET":
        return numbered(request) or _times_page(request, here, ())
    zone = here.board.settings.zone
    try:
        act = begin_act(request, zone)
        if here.lasts:
            lost, back = instant_of(act.at, zone_named(zone)), None
            act.at = written_now(request.now, zone)
        else:
            lost, back = typed(request, "lost", zone), typed(request, "back", zone)
        power.retimed(act, request.home.store, here.cuts, lost=lost, back=back, now=request.now, zone=zone)
    except BadWhenError as fault:
        return _times_page(request, here, [_(str(fault))])
    again = lambda says: _times_page(request, here, says)  # noqa: E731
    return perform(request, act, back=reverse("web:power"), again=again)


def _times_page(request: Request, here: Asked, problems: Sequence[str]) -> HttpResponse:
    field = "%Y-%m-%dT%H:%M"
    back = max((cut.back for cut in here.cuts if cut.back is not None), default=None)
    context = {
        "act": act_id(request) or new_act(),
        "lost": request.POST.get("lost") or here.words.local(min(cut.lost for cut in here.cuts)).strftime(field),
        "back": request.POST.get("back") or (here.words.local(back).strftime(field) if back is not None else ""),
        "lasts": here.lasts,
        "sent": request.POST,
        "latest": here.words.local(request.now).strftime(field),
        "problems": [{"says": says} for says in problems],
    }
    return render(request, "web/power_times.html", context, status=422 if problems else 200)


def warning(request: Request, words: Words) -> dict[str, Any] | None:
    """For the first page: that the power is out, and since when."""
    out = power.out_now(request.home.store, now=request.now)
    if not out:
        return None
    since = words.clock(min(lost for _place, lost in out))
    return {
        "says": _("The power is out since %(time)s: %(places)s.")
        % {"time": since, "places": ", ".join(place for place, _lost in out)},
        "url": reverse("web:power"),
    }


routes: list[URLPattern] = [
    path("power/", page, name="power"),
    path("power/off/", began, name="power_off"),
    path("power/on/", ended, name="power_on"),
    path("power/fill/", fill, name="power_fill"),
    path("power/room/", room, name="power_room"),
    path("power/times/", times, name="power_times"),
    path("power/look/", power_look.page, name="power_look"),
    path("power/warming/", power_warming.page, name="power_warming"),
    path("power/sheet/", power_sheet.page, name="power_sheet"),
    path("power/silence/", power_silence.page, name="power_silence"),
]
