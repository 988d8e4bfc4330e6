"""A session of expressing, timed: begun and ended with one tap each, then logged with a number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from thawline.core.times import MINUTE, SECOND
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.amounts import BadAmountError, number
from thawline.services import session_timer
from thawline.services.people import Home
from thawline.services.session_timer import SIDES, Side, Timer

SIDE_WORDS: dict[Side, Any] = {
    "left": gettext_lazy("left"),
    "right": gettext_lazy("right"),
    "both": gettext_lazy("both"),
}
MOST_MIN = 1440


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The running session, or how to begin one."""
    if request.method == "GET":
        return _page(request, ())
    act = _ACTS.get(request.POST.get("do", ""))
    if act is None:
        return _page(request, [_("Choose what to do.")])
    try:
        to = act(request)
    except BadAmountError as fault:
        return _page(request, [str(fault)])
    return HttpResponseRedirect(to)


def minutes_of(text: str) -> int:
    """Whole minutes of a session as typed; raises `BadAmountError`."""
    found = number(text)
    if not 1 <= found <= MOST_MIN:
        raise BadAmountError(_("Write the minutes, from 1 to %(most)s.") % {"most": MOST_MIN})
    return round(found)


def _side(request: Request) -> Side | None:
    return next((side for side in SIDES if side == request.POST.get("side")), None)


def _start(request: Request) -> str:
    session_timer.start(request.home, _side(request), now=request.now)
    return reverse("web:session")


def _switch(request: Request) -> str:
    side = _side(request)
    if side is not None:
        session_timer.switch(request.home, side, now=request.now)
    return reverse("web:session")


def _stop(request: Request) -> str:
    session_timer.stop(request.home, now=request.now)
    return _to_log(request.home)


def _ended(request: Request) -> str:
    """It ended earlier, so many minutes after its start."""
    typed = request.POST.get("minutes", "").strip()
    if not typed:
        raise BadAmountError(_("Write the minutes, from 1 to %(most)s.") % {"most": MOST_MIN})
    session_timer.stop(request.home, now=request.now, minutes=minutes_of(typed))
    return _to_log(request.home)


def _on(request: Request) -> str:
    session_timer.go_on(request.home, now=request.now)
    return reverse("web:session")


def _forget(request: Request) -> str:
    session_timer.forget(request.home)
    return reverse("web:session")


_ACTS: dict[str, Callable[[Request], str]] = {
    "start": _start, "switch": _switch, "stop": _stop, "ended": _ended, "on": _on, "forget": _forget,
}  # fmt: skip


def _to_log(home: Home) -> str:
    """To the form; back here where another phone has logged or thrown it away meanwhile."""
    return f"{reverse('web:log')}?timed=1" if session_timer.running(home) else reverse("web:session")


def _page(request: Request, errors: Sequence[str]) -> HttpResponse:
    timer = session_timer.running(request.home)
    words = words_of(request)
    context: dict[str, Any] = {
        "problems": [{"says": says} for says in errors],
        "sides": [(side, str(SIDE_WORDS[side])) for side in SIDES],
        "timer": timer,
        "sent": request.POST,
        "log_url": f"{reverse('web:log')}?timed=1",
    }
    if timer is not None:
        length = timer.length(request.now)
        context |= {
            "since": words.clock(timer.started),
            "running": running_text(length),
            "seconds": length // SECOND,
            "side": timer.side() or "",
            "side_says": SIDE_WORDS[timer.side() or "both"] if timer.side() else "",
            "each": each_text(timer, request.now),
            "asks": timer.asks(request.now),
            "stopped": timer.stopped is not None,
        }
    return render(request, "web/session.html", context, status=422 if errors else 200)


def running_text(length: int) -> str:
    """A length in whole minutes: "7 min", "1 h 32 min"."""
    hours, minutes = divmod(length // MINUTE, 60)
    if hours:
        return _("%(hours)d h %(minutes)d min") % {"hours": hours, "minutes": minutes}
    return _("%(n)d min") % {"n": minutes}


def each_text(timer: Timer, now: int) -> str:
    """How long on each side, where there was more than one."""
    parts = timer.by_side(now)
    if len(parts) < 2:
        return ""
    told = [(SIDE_WORDS[side] if side else _("not said"), round(length / MINUTE)) for side, length in parts.items()]
    return ", ".join(ngettext("%(side)s %(n)d minute", "%(side)s %(n)d minutes", n) % {"side": side, "n": n}
                     for side, n in told)  # fmt: skip


routes = [path("session/", page, name="session")]
