"""What the page of a container shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from thawline.core.times import is_date
from thawline.core.verdict import Option, Verdict
from thawline.faces.tell import decoded, held_back, tell
from thawline.faces.web.lines import Step, WhyLine, do_url, milk_line, why_lines
from thawline.faces.web.views.check_shown import check_url
from thawline.faces.web.views.history_shown import entry_url
from thawline.faces.web.views.milk_sheet import Sheet
from thawline.faces.web.views.milk_verbs import title
from thawline.faces.web.views.now import asks, label
from thawline.faces.words import FORMS, KINDS, SURE
from thawline.services import handling, heat, next_steps
from thawline.services.correcting import voids_of, who_did
from thawline.services.next_steps import Usual
from thawline.services.recording import new_act

PAST = 200
DO = {
    "refrigerate": gettext_lazy("Chill: %(place)s"),
    "freeze": gettext_lazy("Freeze: %(place)s"),
    "thaw": gettext_lazy("Thaw: %(place)s"),
    "cooler": gettext_lazy("Pack: %(place)s"),
    "warm": gettext_lazy("Warm"),
    "feed": gettext_lazy("Feed"),
}


class Fact(NamedTuple):
    """Something about the container: what, and its value."""

    what: str
    value: str


class Past(NamedTuple):
    """An event of the container's past."""

    at_text: str
    says: str
    who: str
    estimated: bool
    voided: bool
    url: str


def page(sheet: Sheet) -> dict[str, Any]:
    """The whole page as its template reads it."""
    found = sheet.one.verdict
    gone = found.standing == "gone"
    line = milk_line(found, sheet.words, clock_wrong=sheet.board.clock_wrong)
    steps = _steps(sheet)
    return {
        "milk": line._replace(url="", why="" if gone else line.why),
        "gone": gone,
        "hospital": found.use_by is None,
        "steps": steps,
        "facts": _facts(sheet),
        "options": [option_text(sheet, option) for option in found.options],
        "links": _why(sheet),
        "breaches": [(sheet.words.clock(one.at), one.says, one.source) for one in found.breaches],
        "fed": found.fed_from is not None,
        "verbs": [(title(verb), sheet.do_url(verb)) for verb in handling.verbs(sheet.board, sheet.one)],
        "past": _past(sheet),
        "entry_url": entry_url(sheet.one.container.event.id),
        "long_url": _long_url(found),
        "guidelines": [(one.name, one.source) for one in sheet.guidelines],
        "cautions": _cautions(found, steps),
        "refused": [refusal.says for refusal in sheet.one.refused],
        "check_url": check_url(sheet.request.home, sheet.code),
        "mixed_up": any(one.rule.endswith(".other_child") for one in found.breaches),
    }


def _cautions(found: Verdict, steps: Sequence[Step]) -> list[str]:
    """What is to be said beside the buttons, since one tap passes by the form that says it."""
    taps = {step.verb for step in steps}
    asked = {
        "warm": "warm" in taps or (found.warmed is not None and found.standing != "gone"),
        "feed": "leftover" in taps or (found.fed_from is not None and found.standing != "gone"),
        "ice": found.form in ("thawing", "thawed") and found.standing != "gone",
    }
    return [about for about, wanted in asked.items() if wanted]


def _long_url(found: Verdict) -> str:
    """The question of heat that is usual for it: thawed when, or cold enough when."""
    question = (
        "web:heat_cool" if found.form == "fresh" else "web:heat_warm" if found.form == "thawed" else "web:heat_thaw"
    )
    return f"{reverse(question)}?{urlencode({'code': found.container})}"


def option_text(sheet: Sheet, option: Option) -> str:
    """One line of what may be done: until when, and what it would give."""
    words = sheet.words
    what = str(DO[option.do]) % {"place": option.place or ""}
    told = _("%(what)s, by %(by)s.") % {"what": what, "by": words.until(option.not_after)}
    if option.then_use_by is not None:
        what = _("Then use by %(then)s.") if option.do != "feed" else _("What is left then: use by %(then)s.")
        told += " " + what % {"then": words.until(option.then_use_by)}
    if option.then_best_by is not None and option.then_best_by != option.then_use_by:
        told += " " + _("Best by %(best)s.") % {"best": words.until(option.then_best_by)}
    return told


def _facts(sheet: Sheet) -> list[Fact]:
    found, words = sheet.one.verdict, sheet.words
    facts = [Fact(_("Expressed"), words.clock(found.dated))]
    if sheet.one.container.sources:
        facts[0] = Fact(_("Dated by its oldest part"), words.clock(found.dated))
    facts.append(Fact(_("For"), found.meant_for or _("any child of the household")))
    if sheet.one.mothers:
        facts.append(Fact(_("Expressed by"), ", ".join(sheet.one.mothers)))
    if found.place is not None:
        facts.append(Fact(_("Where"), f"{found.place} ({KINDS[sheet.one.place_kind]})"))
    facts.append(Fact(_("Form"), str(FORMS[found.form])))
    facts += _size(sheet)
    if found.warmed is not None:
        facts.append(Fact(_("Warmed"), words.clock(found.warmed)))
    if found.fed_from is not None:
        facts.append(Fact(_("First drunk from"), words.clock(found.fed_from)))
    if found.best_by is not None and found.best_by != found.use_by:
        facts.append(Fact(_("Best by"), words.until(found.best_by)))
    if sheet.one.held:
        until = handling.held_until(sheet.request.home.store, sheet.code)
        facts.append(Fact(_("Held back"), held_back(sheet.one.held, until, sheet.words)))
    left = sheet.one.container.left
    if left is not None:
        facts.append(Fact(_("Gone"), words.clock(left)))
    return facts


def _size(sheet: Sheet) -> list[Fact]:
    """Its measure, where it is noted and still holds."""
    known = heat.kept(sheet.one, sheet.board)
    if known.across_mm is None:
        return []
    what = _("Bag lying flat, thick") if known.shape == "flat" else _("Bottle, wide inside")
    return [Fact(what, _("%(mm)s mm") % {"mm": f"{known.across_mm:g}"})]


def _why(sheet: Sheet) -> list[WhyLine]:
    found = sheet.one.verdict
    lines = []
    for link, line in zip(found.why, why_lines(found.why, sheet.words), strict=True):
        sure = line._replace(mark=str(SURE.get(line.mark, line.mark)))
        # Where no time is given, a span from a moment to the same moment says nothing.
        lines.append(sure._replace(from_text="", until_text="") if link.start == link.until else sure)
    return lines


def _past(sheet: Sheet) -> list[Past]:
    store = sheet.request.home.store
    rows = [row for row in store.history(before=None, limit=PAST, name=sheet.code) if row.kind != "voided"]
    undone = voids_of(store, [row.event_id for row in rows], now=sheet.request.now)
    told = []
    for row in rows:
        event = decoded(row)
        vague = is_date(event.at)
        at = sheet.words.day(row.at) if vague else sheet.words.clock(row.at)
        voided = bool(undone.get(row.event_id))
        told.append(Past(at, tell(event, sheet.words), who_did(row), vague, voided, entry_url(row.event_id)))
    return told


# Stands for a child that has to be asked for.
ASK = "?"


def _usual(sheet: Sheet) -> list[Usual]:
    found = sheet.one.verdict
    if found.standing == "gone":
        return []
    options = {option.do: option for option in found.options}
    steps = next_steps.usual(sheet.board, found, who=sheet.child or (ASK if sheet.children else None))
    if sheet.one.place_kind == "refrigerator" and found.form != "frozen" and found.warmed is None and "warm" in options:
        steps = [*steps[:1], Usual("warm", (("how", "warm_water"),), options["warm"])]
    return steps


def _step(sheet: Sheet, step: Usual) -> Step:
    """One tap, or a link to the form where something has to be asked."""
    url = sheet.do_url(step.verb)
    if ("child", ASK) in step.fields and not sheet.one.container.feed:
        return Step(title(step.verb), url, link=True, verb=step.verb)
    if asks(step):
        return Step(label(step), do_url(sheet.code, step.verb, **dict(step.fields)), link=True, verb=step.verb)
    fields = [*step.fields, ("act", new_act()), ("back", sheet.url)]
    return Step(_("Warm in water") if step.verb == "warm" else label(step), url, fields, verb=step.verb)


def _spare(sheet: Sheet) -> list[str]:
    """What stands in reach where nothing else is usual."""
    found = sheet.one.verdict
    if found.standing == "gone":
        return ["back"] if sheet.one.container.away else []
    spare = ["release"] if sheet.one.held else []
    if found.use_by is None:
        spare += ["to"] if found.form == "frozen" else ["feed", "to"]
    return [*spare, "discard"] if found.standing == "outside" else spare


def _steps(sheet: Sheet) -> list[Step]:
    """The two usual next steps."""
    steps = [_step(sheet, step) for step in _usual(sheet)]
    steps += [Step(title(verb), sheet.do_url(verb), link=True) for verb in _spare(sheet)]
    return [step._replace(primary=number == 0) for number, step in enumerate(steps[:2])]
