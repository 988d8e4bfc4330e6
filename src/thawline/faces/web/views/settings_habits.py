"""How a family uses its milk: which way, when child and parent are apart, what it is for, and sizes."""

from __future__ import annotations

from typing import Any

import msgspec
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.views import settings_habits_apart
from thawline.faces.web.views.outlook_charts import in_unit
from thawline.faces.web.views.outlook_words import GOALS, WEEKDAYS, day_text
from thawline.faces.web.views.settings_habits_apart import kept, stretch_text
from thawline.faces.web.views.settings_habits_form import HabitsForm
from thawline.faces.words import Words
from thawline.services import board, habits
from thawline.services.habits import Goal, Habits

WAYS = {
    "fresh_first": (gettext_lazy("Fresh first"), gettext_lazy("What is over is frozen.")),
    "rotation": (
        gettext_lazy("One day a week from the freezer"),
        gettext_lazy("That day's fresh milk is frozen, so the freezer never grows old."),
    ),
}
FED = {
    "apart": gettext_lazy("Bottles only while apart"),
    "bottle": gettext_lazy("All feeds by bottle"),
}
WHYS = {
    "": gettext_lazy("Nothing in particular"),
    "apart": gettext_lazy("Time apart, such as work"),
    "trip": gettext_lazy("A trip"),
    "weaning": gettext_lazy("Milk for after weaning"),
}


@require_GET
def page(request: Request) -> HttpResponse:
    """All habits, each with the way to change it."""
    now = habits.read(request.home.preferences)
    words = words_of(request)
    context = {
        "way": _way_text(now), "fed": FED[now.fed], "goal": _goal_text(now.goal, words), "rest": _rest(now, words),
        "stretches": [(number, one, stretch_text(one, words)) for number, one in enumerate(now.apart)],
    }  # fmt: skip
    return render(request, "web/settings_habits.html", context)


def _way_text(now: Habits) -> str:
    if now.way == "rotation":
        return _("One day a week from the freezer: %(day)s") % {"day": WEEKDAYS[now.rotation_day]}
    return str(WAYS[now.way][0])


def _goal_text(goal: Goal | None, words: Words) -> str:
    if goal is None:
        return str(WHYS[""])
    days = _("%(on)s to %(until)s") % {"on": day_text(goal.on, words), "until": day_text(goal.until, words)}
    return f"{GOALS[goal.why]}, {days}"


def _rest(now: Habits, words: Words) -> list[str]:
    told = [_("Night from %(start)s to %(end)s") % {"start": now.night_from, "end": now.night_until}]
    told += [_("%(child)s: solids from %(day)s on") % {"child": child, "day": day_text(day, words)}
             for child, day in now.solids]  # fmt: skip
    if now.pour_ml is not None:
        told.append(_("Poured: %(ml)s") % {"ml": words.ml(now.pour_ml)})
    if now.freeze_ml is not None:
        told.append(_("Frozen: %(ml)s") % {"ml": words.ml(now.freeze_ml)})
    return told


def _answer(request: Request, template: str, form: HabitsForm, **more: list[dict[str, Any]] | str) -> HttpResponse:
    context = {"sent": form.sent, "errors": form.errors, "problems": form.problems, **more}
    return render(request, template, context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def way(request: Request) -> HttpResponse:
    """Which milk goes first, and how the child is fed."""
    now = habits.read(request.home.preferences)
    first = {"way": now.way, "rotation_day": str(now.rotation_day), "fed": now.fed}
    form = HabitsForm(request.POST.dict() if request.method == "POST" else first)
    if request.method == "POST":
        changes = {
            "way": form.choice("way", WAYS), "fed": form.choice("fed", FED),
            "rotation_day": now.rotation_day if form.sent.get("way") != "rotation" else _weekday(form),
        }  # fmt: skip
        if kept(request, form, now, changes, name="way"):
            return HttpResponseRedirect(reverse("web:habits"))
    return _answer(
        request, "web/settings_habits_way.html", form,
        ways=[{"value": key, "label": label, "says": says} for key, (label, says) in WAYS.items()],
        fed=[{"value": key, "label": label} for key, label in FED.items()],
        weekdays=[{"value": str(number), "label": label} for number, label in enumerate(WEEKDAYS)],
    )  # fmt: skip


def _weekday(form: HabitsForm) -> int:
    found = form.choice("rotation_day", tuple("0123456"))
    return int(found) if found in tuple("0123456") else 0


@require_http_methods(["GET", "POST"])
def goal(request: Request) -> HttpResponse:
    """What milk is saved for."""
    now = habits.read(request.home.preferences)
    form = HabitsForm(request.POST.dict() if request.method == "POST" else _goal_fields(now.goal))
    if request.method == "POST":
        wanted = _goal(form)
        if kept(request, form, now, {"goal": wanted}, name="why"):
            return HttpResponseRedirect(reverse("web:habits"))
    whys = [{"value": key, "label": label} for key, label in WHYS.items()]
    return _answer(request, "web/settings_habits_goal.html", form, whys=whys)


def _goal_fields(goal: Goal | None) -> dict[str, str]:
    if goal is None:
        return {"why": ""}
    return {"why": goal.why, "on": goal.on, "until": goal.until, "hours": f"{goal.hours:g}"}


def _goal(form: HabitsForm) -> Goal | None:
    why = form.choice("why", WHYS)
    if not why:
        return None
    on = form.any_day("on", _("Write the first day."))
    until = form.any_day("until", _("Write the last day."))
    form.in_order(on, until, "until")
    # A trip and the time after weaning take whole days.
    hours = form.hours("hours") if why == "apart" else 24.0
    return None if form.errors else msgspec.convert({"why": why, "on": on, "until": until, "hours": hours}, Goal)


@require_http_methods(["GET", "POST"])
def rest(request: Request) -> HttpResponse:
    """Night, solids, and the sizes in which milk is poured and frozen."""
    now = habits.read(request.home.preferences)
    found = board.board(request.home.store, now=request.now)
    children = [one.name for one in found.children]
    words = words_of(request)
    form = HabitsForm(request.POST.dict() if request.method == "POST" else _rest_fields(now, children, words))
    if request.method == "POST":
        changes = {
            "night_from": form.clock("night_from", _("Write when your night begins.")),
            "night_until": form.clock("night_until", _("Write when your night ends.")),
            "solids": _solids(form, found.children),
            "pour_ml": form.size("pour", found.units[0]), "freeze_ml": form.size("freeze", found.units[0]),
        }  # fmt: skip
        if kept(request, form, now, changes, name="night_until"):
            return HttpResponseRedirect(reverse("web:habits"))
    solids = [
        {"field": f"solids_{number}", "child": child, "sent": form.sent.get(f"solids_{number}", ""),
         "errors": form.errors.get(f"solids_{number}")}
        for number, child in enumerate(children)
    ]  # fmt: skip
    unit = _("fl oz") if found.units[0] == "fl_oz" else _("mL")
    by = "0.5" if found.units[0] == "fl_oz" else "10"
    return _answer(request, "web/settings_habits_rest.html", form, solids=solids, unit=unit, by=by)


def _rest_fields(now: Habits, children: list[str], words: Words) -> dict[str, str]:
    fields = {"night_from": now.night_from, "night_until": now.night_until}
    known = dict(now.solids)
    fields |= {f"solids_{number}": known.get(child, "") for number, child in enumerate(children)}
    sizes = {"pour": now.pour_ml, "freeze": now.freeze_ml}
    return fields | {name: f"{round(in_unit(ml, words), 1):g}" for name, ml in sizes.items() if ml is not None}


def _solids(form: HabitsForm, children: tuple[board.ChildNow, ...]) -> tuple[tuple[str, str], ...]:
    """Of each child the day on which solids began or will begin, where it is known."""
    found: list[tuple[str, str]] = []
    for number, child in enumerate(children):
        day = form.any_day(f"solids_{number}")
        if day and day < child.born:
            form.wrong(f"solids_{number}", _("That day is before the birth. Look at it once more."))
        elif day:
            found.append((child.name, day))
    return tuple(found)


routes = [
    path("settings/habits/", page, name="habits"),
    path("settings/habits/way/", way, name="habits_way"),
    path("settings/habits/goal/", goal, name="habits_goal"),
    path("settings/habits/rest/", rest, name="habits_rest"),
    *settings_habits_apart.routes,
]
