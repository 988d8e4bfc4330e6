"""Sessions: their pattern over the day, what days came to, and how that went, in pictures and plain words."""

from __future__ import annotations

from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.charts import Chart
from thawline.faces.web.views.outlook_charts import Reach, reach
from thawline.faces.web.views.pattern_charts import day_chart, gap_chart, hour_chart, minutes_chart
from thawline.faces.web.views.session import SIDE_WORDS
from thawline.faces.words import Words
from thawline.services import pattern as of
from thawline.services.pattern import Middle, Pattern


class SideLine(NamedTuple):
    """One side: its name, what is usual, how many sessions, and that as a line."""

    name: str
    says: str
    line: Reach | None


class Span(NamedTuple):
    """How far back to look."""

    label: str
    url: str
    current: bool


@require_GET
def page(request: Request) -> HttpResponse:
    """The sessions of the last days."""
    asked = request.GET.get("days", "")
    days = next((span for span in of.SPANS if str(span) == asked), of.SPANS[0])
    mother = request.GET.get("mother", "").replace("\x00", "")[:200]
    found = of.pattern(request.home.store, now=request.now, days=days, mother=mother)
    return render(request, "web/pattern.html", _shown(found, words_of(request), days, mother))


def _shown(found: Pattern, words: Words, days: int, mother: str) -> dict[str, Any]:
    charts: list[Chart | None] = [
        day_chart(found, words), hour_chart(found, words), gap_chart(found, words), minutes_chart(found, words)
    ]  # fmt: skip
    return {
        "spans": [Span(_("%(n)d days") % {"n": one}, _url(one, mother), one == days) for one in of.SPANS],
        "mothers": [Span(one, _url(days, one), one == mother) for one in found.mothers] if _several(found) else [],
        "everyone": Span(_("Everyone"), _url(days, ""), not mother),
        "mother": mother,
        "any": bool(found.sessions),
        "says": _says(found, words),
        "today": _today(found, words),
        "missing": _missing(found, days),
        "charts": [one for one in charts if one is not None],
        "sides": _sides(found, words),
    }


def _several(found: Pattern) -> bool:
    return len(found.mothers) > 1


def _url(days: int, mother: str) -> str:
    return f"?{urlencode({'days': days} | ({'mother': mother} if mother else {}))}"


def _says(found: Pattern, words: Words) -> list[str]:
    """The last seven days and the seven before, as what a day came to: ranges, no judgement."""
    last, before = of.weeks(found.days)
    told = [(_("The last 7 days: %(says)s"), last), (_("The 7 days before: %(says)s"), before)]
    return [says % {"says": _week(one, words)} for says, one in told if one is not None]


def _week(one: Middle, words: Words) -> str:
    known = ngettext("%(n)d day is known", "%(n)d days are known", one.number) % {"n": one.number}
    usual = _("a day came to about %(ml)s") % {"ml": words.ml(one.median_ml)}
    return f"{usual}{_between(one, words, _(', half of the days between %(low)s and %(high)s'))} ({known})."


def _between(one: Middle, words: Words, says: str) -> str:
    if one.low_ml is None or one.high_ml is None:
        return ""
    return says % {"low": words.ml(one.low_ml), "high": words.ml(one.high_ml)}


def _today(found: Pattern, words: Words) -> str:
    if found.today.ml is None:
        return ""
    number = found.today.sessions
    says = ngettext("Today so far: %(ml)s in %(n)d session.", "Today so far: %(ml)s in %(n)d sessions.", number)
    return says % {"ml": words.ml(found.today.ml), "n": number}


def _missing(found: Pattern, days: int) -> str:
    if not found.missing:
        return ""
    says = ngettext(
        "On %(n)d of %(all)d days nothing was noted: it is left out, not counted as nothing.",
        "On %(n)d of %(all)d days nothing was noted: they are left out, not counted as nothing.",
        found.missing,
    )
    return says % {"n": found.missing, "all": days}


def _sides(found: Pattern, words: Words) -> list[SideLine]:
    sides = of.by_side(found.sessions)
    most = max((one.high_ml or one.median_ml for one in sides.values()), default=0.0)
    names: dict[str, str] = {str(side): str(word) for side, word in SIDE_WORDS.items()} | {"": _("side not noted")}
    return [SideLine(names[side], _side(one, words), _line(one, most)) for side, one in sides.items()]


def _side(one: Middle, words: Words) -> str:
    number = ngettext("%(n)d session", "%(n)d sessions", one.number) % {"n": one.number}
    usual = _("about %(ml)s") % {"ml": words.ml(one.median_ml)}
    minutes = _(", about %(n)d min") % {"n": round(one.minutes)} if one.minutes is not None else ""
    return f"{number}: {usual}{minutes}{_between(one, words, _(', half of them between %(low)s and %(high)s'))}"


def _line(one: Middle, most: float) -> Reach | None:
    if one.low_ml is None or one.high_ml is None or most <= 0:
        return None
    return reach(one.low_ml, one.median_ml, one.high_ml, most)


routes = [path("pattern/", page, name="pattern")]
