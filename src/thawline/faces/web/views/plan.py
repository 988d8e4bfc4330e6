"""The plan: what to do tonight, tomorrow and the days after, with what is fed and packed."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from thawline.core.guideline import shipped, shipped_ids
from thawline.faces.request import Request
from thawline.faces.web.plan_words import Teller
from thawline.faces.web.views import plan_done
from thawline.faces.web.views.plan_shown import Shown
from thawline.faces.words import Words, words_for
from thawline.services import childcare, habits, plan
from thawline.services.board import board
from thawline.services.plan_kinds import NoPlan

USUAL_DAYS, MOST_DAYS = 3, 14
# A plan of so few days and containers is improved at once, for it takes no time; any other where it is asked for.
AT_ONCE_DAYS, AT_ONCE = 3, 30
WAYS = {
    "fresh_first": gettext_lazy("Fresh first; what is over is frozen"),
    "rotation": gettext_lazy("One day a week from the freezer"),
}


class Missing(NamedTuple):
    """Why there is no plan for a child."""

    says: str
    more: str
    settings: bool
    first: bool = False
    kind: str = "note"


@require_GET
def page(request: Request) -> HttpResponse:
    """The plan from now on."""
    days = _days(request.GET.get("days", ""))
    known = habits.read(request.home.preferences)
    there = board(request.home.store, now=request.now)
    few = days <= AT_ONCE_DAYS and sum(one.standing in ("fine", "soon") for one in there.verdicts) <= AT_ONCE
    closer = few or "closer" in request.GET
    found = plan.plan_now(request.home.store, known, now=request.now, days=days, refine=closer)
    words = words_for(there.settings.zone, request.now, there.units)
    here = reverse("web:plan") if days == USUAL_DAYS else f"{reverse('web:plan')}?days={days}"
    names = [one.name for one in childcare.services(request.home.store)]
    shown = Shown(found, there, words, night_until=known.night_until, back=here, services=names)
    feeds, later = shown.feeds()
    first, after = shown.days()
    missing = [_missing(one, words) for one in found.none]
    bare = not (found.chores or found.feeds)
    context: dict[str, Any] = {
        "plan": found,
        "days": [] if bare and missing else first,
        "after": after,
        "bare": bare,
        "feeds": feeds,
        "later": later,
        "try_one": shown.milk(found.try_one) if found.try_one is not None else None,
        "missing": [one for one in missing if bare or one.first],
        "missing_too": [one for one in missing if not (bare or one.first)],
        "way": WAYS.get(found.way, ""),
        "ahead": days,
        "choices": range(1, MOST_DAYS + 1),
        "until": words.until(found.until),
        "lacks_when": shown.lacks_when(),
        "may_improve": shown.tell.may_improve,
        "closer": f"{here}{'&' if '?' in here else '?'}closer=1",
        "guideline": ", ".join(dict.fromkeys(map(_named, (found.guideline, *found.also)))),
        **_sums(shown.tell),
    }
    return render(request, "web/plan.html", context)


def _days(text: str) -> int:
    """How many days to look ahead; the usual number where none or a senseless one is given."""
    if not (text.isascii() and text.isdigit() and len(text) <= 2):
        return USUAL_DAYS
    return min(MOST_DAYS, max(1, int(text)))


def _named(name: str) -> str:
    return shipped(name).name if name in shipped_ids() else name


def _missing(one: NoPlan, words: Words) -> Missing:
    """Why there is no plan, in kind words."""
    names = {"child": one.child or _("Your baby")}
    if one.code == "hospital":
        return Missing(
            _("%(child)s is under a hospital's care. Follow the care team.") % names,
            _("No plan is made here for this milk."), settings=False, first=True, kind="warn",
        )  # fmt: skip
    if one.code == "too_young":
        until = _(" A plan is made from %(day)s on.") % {"day": words.day(one.until)} if one.until is not None else ""
        return Missing(
            _("%(child)s is less than two weeks old.") % names,
            _("In these days amounts change too fast to say anything ahead.") + until, settings=False,
        )  # fmt: skip
    if one.code == "too_old":
        return Missing(
            _("%(child)s is older than two years.") % names,
            _("How much a child drinks at that age is not known here. All time limits go on as they are."),
            settings=False,
        )  # fmt: skip
    if one.code == "nothing_by_bottle":
        return Missing(
            _("%(child)s drinks nothing from bottles, as far as is noted.") % names,
            _("If that changes, or is different already, note how you use your milk."), settings=True,
        )  # fmt: skip
    return Missing(_("There is no plan for %(child)s.") % names, "", settings=True)


def _sums(tell: Teller) -> dict[str, Any]:
    """What is short, what is thrown away, how good that is, what is expected, and in which sizes."""
    return {
        "lacks": tell.lacks(),
        "thrown": tell.thrown(),
        "good": tell.good(),
        "need": tell.needs(),
        "sizes": tell.sizes(),
    }


routes = [path("plan/", page, name="plan"), path("plan/done/", plan_done.page, name="plan_done")]
