"""Pour or combine: choose, see what it would give, then record."""

from __future__ import annotations

import hashlib
import json
import random
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from thawline.faces.web.acting import act_id, begin_act, numbered, perform, told
from thawline.faces.web.lines import MilkLine, milk_line, url_of
from thawline.faces.web.views.milk_sheet import Choice, Field, Sheet
from thawline.services import board, handling, heat_answers
from thawline.services.acts import Act, BadWhenError
from thawline.services.board import coldness
from thawline.services.codes import new_codes
from thawline.services.handling import Portion, Pour
from thawline.services.looking_ahead import Preview, preview

_RNG = random.SystemRandom()
NEW = ""
LONGEST_CODE = 40


def answer(sheet: Sheet) -> HttpResponse:
    """The step that the form is at."""
    request = sheet.request
    if request.method != "POST":
        return numbered(request) or _pick(sheet)
    if sheet.sent.get("step") not in ("look", "confirm"):
        return _pick(sheet)
    wanted = _read(sheet)
    act: Act | None = None
    try:
        act = begin_act(request, sheet.board.settings.zone)
    except BadWhenError as fault:
        sheet.wrong("when", str(fault))
    if act is None or sheet.errors:
        return _look(sheet, wanted, None)
    handling.pour(act, wanted)
    if not act.events:
        sheet.wrong("into", _("Choose another container to pour into, or a new one."))
        return _look(sheet, wanted, None)
    if sheet.sent.get("step") == "confirm" and sheet.sent.get("shown") == _shown(sheet, wanted):
        return perform(request, act, back=url_of(wanted.into), again=lambda says: _again(sheet, wanted, list(says)))
    return _look(sheet, wanted, preview(request.home.store, act.events, now=request.now))


def _again(sheet: Sheet, wanted: Pour, says: list[str]) -> HttpResponse:
    for one in says:
        sheet.wrong("into", one)
    return _look(sheet, wanted, None)


def _pick(sheet: Sheet) -> HttpResponse:
    """The other containers, to tick."""
    ticked = sheet.sent.getlist("container")
    lines = []
    for one in handling.to_combine(sheet.board, sheet.one):
        line = milk_line(one, sheet.words, clock_wrong=sheet.board.clock_wrong)
        where = f"{line.form_word}, {one.place}"
        lines.append({**line._asdict(), "where": where, "checked": one.container in ticked})
    page = {"sheet": sheet, "picks": lines}
    return render(sheet.request, "web/milk_pour_pick.html", page)


# What was chosen


def _there(sheet: Sheet) -> dict[str, Any]:
    return {one.container: one for one in [*sheet.board.verdicts, sheet.one.verdict]}


def _chosen(sheet: Sheet) -> list[str]:
    """This container first, then the others that were ticked and are there."""
    there = _there(sheet)
    names = [sheet.code, *(name for name in sheet.sent.getlist("container") if name in there)]
    return list(dict.fromkeys(names))


def _read(sheet: Sheet) -> Pour:
    there, names = _there(sheet), _chosen(sheet)
    portions = []
    for name in names:
        ml = sheet.amount(f"ml-{name}", whole=there[name].ml)
        portions.append(Portion(name, there[name].ml if ml is None else ml))
    into = sheet.sent.get("into", sheet.code if len(names) > 1 else NEW)
    if into == NEW:
        # A new container stands where the first of its sources stands: it counts as the warmest of their places.
        places = {one.name: coldness(one) for one in sheet.board.places}
        portions.sort(key=lambda one: places.get(there[one.container].place, (0, 0.0)))
        return Pour(tuple(portions), _new_name(sheet))
    if into not in names:
        sheet.wrong("into", _("Choose a container to pour into."))
    return Pour(tuple(portions), into)


def _new_name(sheet: Sheet) -> str:
    taken = sheet.request.home.store.taken
    typed = sheet.text("into_new", most=LONGEST_CODE)
    if not typed:
        return new_codes(1, taken=taken, rng=_RNG)[0]
    if taken([typed]) and not sheet.request.home.store.act(act_id(sheet.request) or ""):
        sheet.wrong("into_new", _("A container has or had this code. Choose another."))
    return typed


def _shown(sheet: Sheet, wanted: Pour) -> str:
    """A mark of what a person has seen: portions, target and time as chosen."""
    times = [sheet.sent.get(name) or "" for name in ("when", "when_at", "when_on")]
    times[0] = times[0] or "now"
    seen = json.dumps([wanted.portions, wanted.into, times])
    return hashlib.sha256(seen.encode()).hexdigest()[:32]


# What it would give


def _look(sheet: Sheet, wanted: Pour, seen: Preview | None) -> HttpResponse:
    for refusal in seen.refused if seen is not None else ():
        sheet.wrong("into", told(refusal))
    fine = seen is not None and not seen.refused
    page: dict[str, Any] = {
        "sheet": sheet,
        "problems": sheet.problems,
        "containers": _chosen(sheet),
        "amounts": _amounts(sheet, wanted),
        "into": _targets(sheet, wanted),
        "into_new": _new_field(sheet, wanted),
        "when": sheet.when(),
        "shown": _shown(sheet, wanted),
    }
    page["not_cold"] = _not_cold(sheet)
    if seen is not None and fine:
        page |= _result(sheet, wanted, seen)
    return render(sheet.request, "web/milk_pour_look.html", page, status=422 if sheet.errors else 200)


def _not_cold(sheet: Sheet) -> list[tuple[str, str]]:
    """Fresh milk that is not surely cold yet, and when it is, where the rest of what goes together is colder."""
    names = _chosen(sheet)
    there = [one for name in names if (one := board.one(sheet.request.home.store, name, now=sheet.request.now))]
    late = {one.verdict.container: heat_answers.not_cold_before(one, sheet.board) for one in there}
    warm = [(name, sheet.words.clock(at)) for name, at in late.items() if at is not None]
    return warm if len(warm) < len(names) else []


def _result(sheet: Sheet, wanted: Pour, seen: Preview) -> dict[str, Any]:
    words = sheet.words
    after = seen.after[wanted.into]
    dated = words.clock(after.dated)
    hint = _("Dated %(dated)s, by the oldest part.") % {"dated": dated}
    left = [_left(sheet, seen, one.container) for one in wanted.moving]
    breaches = list({(one.container, one.broken.says, one.broken.source): None for one in seen.breaches})
    return {"result": milk_line(after, words)._replace(url=""), "dated": hint, "left": left, "breaches": breaches}


def _left(sheet: Sheet, seen: Preview, name: str) -> MilkLine:
    return milk_line(seen.after[name], sheet.words)._replace(url="")


def _amounts(sheet: Sheet, wanted: Pour) -> list[Field]:
    fields = []
    for one in wanted.portions:
        name = f"ml-{one.container}"
        told = _("Stays in it") if one.container == wanted.into else _("Out of %(code)s") % {"code": one.container}
        if one.container != wanted.into:
            fields.append(sheet.amount_field(name, told, value=sheet.plain(one.ml)))
    return fields


def _targets(sheet: Sheet, wanted: Pour) -> Field:
    names = _chosen(sheet)
    held = [Choice(name, name) for name in names]
    if len(names) == 1:
        held = []
    choices = (*held, Choice(NEW, _("A new container")))
    field = sheet.field("choice", "into", _("Into which?"), choices=choices)
    return field._replace(value=wanted.into if wanted.into in names else NEW)


def _new_field(sheet: Sheet, wanted: Pour) -> Field:
    names = _chosen(sheet)
    value = "" if wanted.into in names else wanted.into
    hint = _("Write this code on it, or type your own.")
    return sheet.field("text", "into_new", _("Code of a new container"), value=value, hint=hint)
