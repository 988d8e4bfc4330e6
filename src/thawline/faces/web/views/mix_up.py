"""A child got milk that was not meant for it: what to do, calmly, and what was done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from thawline.faces.request import Request
from thawline.faces.tell import ADDED, HOW
from thawline.faces.web.acting import act_id, begin_act, numbered, words_of
from thawline.faces.web.views.check import Child, children_of, homes_of
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import KINDS, Words
from thawline.services import board, checking_codes, mix_up
from thawline.services.acts import BadWhenError
from thawline.services.checking import ANOTHER_CHILD
from thawline.services.mix_up import Drunk, Handled, Mixed
from thawline.services.people import Home
from thawline.services.recording import new_act
from thawline.services.scanning import plain
from thawline.services.tags import tag_of

_MOST_SIGNS = 1500
GROUPS = {
    "now": gettext_lazy("First"),
    "whose": gettext_lazy("With the family whose milk it was"),
    "drank": gettext_lazy("With the family of the child who drank"),
}
_HANDLED = {
    "expressed": gettext_lazy("expressed"), "stocked": gettext_lazy("noted as stock from before"),
    "moved": gettext_lazy("moved"), "poured": gettext_lazy("poured, or combined"),
    "warmed": gettext_lazy("warmed"), "feed_began": gettext_lazy("a feed from it began"),
    "handed_over": gettext_lazy("handed over"), "received": gettext_lazy("received"),
    "returned": gettext_lazy("came back"), "added": gettext_lazy("something was added"),
}  # fmt: skip
_ICE = {"ice": gettext_lazy("ice was still in it"), "no_ice": gettext_lazy("no ice was left in it")}


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The steps, a form to note it, and what was noted; with `?of=` one incident with all that is known of it."""
    form = Form(request.POST.dict())
    if "of" in request.GET:
        return _one(request, _mixed(request, request.GET["of"]), form)
    if request.method == "POST":
        return _note(request, form)
    return numbered(request) or _page(request, Form(request.GET.dict()))


def _page(request: Request, form: Form) -> HttpResponse:
    children = children_of(homes_of(request), request.now)
    several = len({one.home.store.key for one in children}) > 1
    choices = [{"value": one.value, "label": one.label, "says": one.home.name if several else ""} for one in children]
    found = [(home, one) for home in homes_of(request) for one in mix_up.incidents(home, now=request.now)]
    context = {
        "groups": _groups(request.POST.getlist("step")),
        "sources": mix_up.sources(), "choices": choices, "sent": form.sent, "errors": form.errors,
        "problems": form.problems, "act": act_id(request) or new_act(),
        "incidents": [_line(home, one, words_of(request)) for home, one in found],
    }  # fmt: skip
    return render(request, "web/mix_up.html", context, status=422 if form.errors else 200)


def _groups(ticked: Sequence[str]) -> list[tuple[str, list[dict[str, Any]]]]:
    """The steps under their headings, those ticked that were ticked before."""
    every = mix_up.steps()
    return [
        (str(label), [{**one._asdict(), "ticked": one.id in ticked} for one in every if one.group == group])
        for group, label in GROUPS.items()
    ]


def _line(home: Home, one: Mixed, words: Words) -> dict[str, Any]:
    url = f"{reverse('web:mix_up')}?{urlencode({'of': f'{tag_of(home.store)}/{one.event_id}'})}"
    return {"url": url, "at": words.clock(one.at), "child": _child(one), "open": len(one.open)}


def _child(one: Mixed) -> str:
    return _("Another child") if one.child == ANOTHER_CHILD else one.child


# To note it


def _note(request: Request, form: Form) -> HttpResponse:
    homes = homes_of(request)
    chosen = form.sent.get("child", "")
    child = next((one for one in children_of(homes, request.now) if one.value == chosen), None)
    if child is None:
        form.wrong("child", _("Choose the child who drank."))
    milk, code = _milk(request, homes, child, form)
    ticked, says = _ticked(request), _says(form)
    home = child.home if child is not None else request.home
    try:
        zone, _units = board.manners(home.store, now=request.now)
        act = begin_act(request, zone)
    except BadWhenError as fault:
        form.wrong("when", str(fault))
        return _page(request, form)
    if child is None or form.errors:
        return _page(request, form)
    act.by = request.who if home.store.key == request.home.store.key else home.member
    drunk = Drunk(child.home, child.name, milk, code)
    facts = _facts_text(request, drunk)
    mix_up.note(drunk, act, ticked, "\n".join(filter(None, (says, facts))), now=request.now)
    return HttpResponseRedirect(_of(home, f"{act.id}.0"))


def _of(home: Home, event_id: str) -> str:
    return f"{reverse('web:mix_up')}?{urlencode({'of': f'{tag_of(home.store)}/{event_id}'})}"


def _milk(request: Request, homes: list[Home], child: Child | None, form: Form) -> tuple[Home | None, str | None]:
    """Whose milk it was, as far as its code tells; the child's own household first."""
    code = plain(form.sent.get("code", ""))[:200]
    if not code or child is None:
        return None, None
    for home in sorted(homes, key=lambda one: one.store.key != child.home.store.key):
        found = checking_codes.meant(home, code, typed=True, now=request.now)
        if len(found) == 1:
            return home, found[0]
    form.wrong("code", _("No milk is noted under this code. Look once more, or leave it empty."))
    return None, None


def _ticked(request: Request) -> list[str]:
    return [one.id for one in mix_up.steps() if one.tick and one.id in request.POST.getlist("step")]


def _says(form: Form) -> str:
    """The free text, line by line."""
    lines = [plain(line) for line in form.sent.get("says", "").splitlines()]
    text = "\n".join(filter(None, lines))
    if len(text) > _MOST_SIGNS or not all(len(line) <= _MOST_SIGNS for line in form.sent.get("says", "").splitlines()):
        form.wrong("says", _("Write at most %(most)s characters.") % {"most": _MOST_SIGNS})
    return text[:_MOST_SIGNS]


def _facts_text(request: Request, drunk: Drunk) -> str:
    """How another family's milk was handled, for the family of the child who drank it: no names."""
    if drunk.milk is None or drunk.container is None or drunk.milk.store.key == drunk.home.store.key:
        return ""
    told = handled_lines(mix_up.handled(drunk.milk, drunk.container, now=request.now), words_of(request))
    text = "; ".join(f"{at} {says}" for at, says in told)
    return (_("The milk: %(facts)s.") % {"facts": text})[: 2000 - _MOST_SIGNS - 1] if told else ""


def handled_lines(found: Sequence[Handled], words: Words) -> list[tuple[str, str]]:
    """How milk was handled, in words that name nobody."""
    return [(words.clock(one.at), _handled(one)) for one in found]


def _handled(one: Handled) -> str:
    if one.kind == "thaw_seen":
        return str(_ICE[one.detail])
    detail = HOW.get(one.detail) or ADDED.get(one.detail) or KINDS.get(one.detail)
    return f"{_HANDLED[one.kind]}: {detail}" if detail else str(_HANDLED[one.kind])


# One incident


def _mixed(request: Request, of: str) -> tuple[Home, Mixed]:
    tag, _slash, event_id = of.partition("/")
    for home in homes_of(request):
        if tag_of(home.store) == tag:
            for one in mix_up.incidents(home, now=request.now):
                if one.event_id == event_id:
                    return home, one
    raise Http404


def _one(request: Request, of: tuple[Home, Mixed], form: Form) -> HttpResponse:
    home, mixed = of
    if request.method == "POST":
        says = _says(form)
        ticked, act = _ticked(request), act_id(request)
        if not ticked and not says:
            form.wrong("says", _("Tick what was done, or write a line."))
        if act is not None and not form.errors:
            by = request.who if home.store.key == request.home.store.key else home.member
            mix_up.add(homes_of(request), home, mixed, act, ticked, says, by=by, now=request.now)
            return HttpResponseRedirect(_of(home, mixed.event_id))
    return render(
        request, "web/mix_up_one.html", _shown(request, home, mixed, form), status=422 if form.errors else 200
    )


def _shown(request: Request, home: Home, mixed: Mixed, form: Form) -> dict[str, Any]:
    words = words_of(request)
    said = {one.id: one for one in mix_up.steps()}
    known = mix_up.handled(home, mixed.container, now=request.now) if mixed.container else []
    return {
        "mixed": mixed, "child": _child(mixed), "at": words.clock(mixed.at), "url": _of(home, mixed.event_id),
        "facts": handled_lines(known, words),
        "done": [(said[one.id].says, one.by, words.clock(one.noted)) for one in mixed.done if one.id in said],
        "open": mixed.open, "know": [one for one in mix_up.steps() if not one.tick],
        "notes": [(one.says, one.by, words.clock(one.noted)) for one in mixed.notes],
        "sources": mix_up.sources(), "act": new_act(), "sent": form.sent, "errors": form.errors,
        "problems": form.problems,
    }  # fmt: skip


routes = [path("mix-up/", page, name="mix_up")]
