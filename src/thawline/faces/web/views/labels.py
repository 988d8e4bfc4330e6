"""Labels: which to print, and on what stock; and what the family has printed on them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from thawline.core.verdict import Verdict
from thawline.faces.label_request import base_of, usual_stock, wanted
from thawline.faces.letters import unclaimed
from thawline.faces.request import Request
from thawline.faces.stock import OWN, ROLL, StockError, papers, presets
from thawline.faces.web.acting import words_of
from thawline.faces.web.lines import milk_line
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import Words
from thawline.services import labels as service
from thawline.services.board import Board, board
from thawline.services.people import CannotError


def _newest_first(found: Board) -> list[Verdict]:
    return sorted(found.verdicts, key=lambda one: (-one.dated, one.container))


def _last_session(verdicts: Sequence[Verdict]) -> list[str]:
    return [one.container for one in verdicts if one.dated == verdicts[0].dated]


def _chosen(request: Request, verdicts: Sequence[Verdict]) -> list[str]:
    """What is ticked at first: what the address names, all, or the last session."""
    if (codes := request.GET.getlist("code")) or request.GET.get("pick") == "none":
        return codes
    if request.GET.get("pick") == "all":
        return [one.container for one in verdicts]
    return _last_session(verdicts) if verdicts else []


@require_GET
def page(request: Request) -> HttpResponse:
    """Which containers, what stock, from which position on; the form leads to the PDF."""
    found = board(request.home.store, now=request.now)
    verdicts = _newest_first(found)
    chosen = set(_chosen(request, verdicts))
    words = words_of(request)
    sent = request.GET.dict()
    sent.setdefault("stock", usual_stock(request.home))
    errors = _errors(request) if "start" in request.GET else {}
    context = {
        "chosen": [_pick(one, words, ticked=True) for one in verdicts if one.container in chosen],
        "others": [_pick(one, words, ticked=False) for one in verdicts if one.container not in chosen],
        "session_size": len(_last_session(verdicts)) if verdicts else 0, "sent": sent,
        "stocks": _stocks(), "papers": _papers(), "own": sent["stock"] == OWN, "own_fields": _own_fields(sent, errors),
        "errors": errors, "problems": [{"says": says[0], "id": name} for name, says in errors.items()],
        **_told(request, found, verdicts),
    }  # fmt: skip
    return render(request, "web/labels.html", context)


def _errors(request: Request) -> dict[str, list[str]]:
    try:
        wanted(request.GET, request.home, blank="code" not in request.GET)
    except StockError as fault:
        return {fault.field: [str(fault)]}
    return {}


def _pick(one: Verdict, words: Words, *, ticked: bool) -> dict[str, Any]:
    line = milk_line(one, words)
    where = f"{line.form_word}, {line.place}" if line.place else line.form_word
    return {**line._asdict(), "checked": ticked, "where": where}


def _stocks() -> list[dict[str, str]]:
    return [{"value": one.id, "label": one.name} for one in presets().values()] + [
        {"value": OWN, "label": _("My own, by its dimensions")}
    ]


def _papers() -> list[dict[str, str]]:
    return [{"value": one, "label": name} for one, name in papers()] + [{"value": ROLL, "label": _("Roll")}]


def _own_fields(sent: dict[str, str], errors: dict[str, list[str]]) -> list[dict[str, Any]]:
    named = {
        "width": _("Width of a label, mm"), "height": _("Height of a label, mm"), "columns": _("Labels side by side"),
        "rows": _("Labels one below the other"), "left": _("From the paper's left edge, mm"),
        "top": _("From the paper's upper edge, mm"), "gap_x": _("Gap between columns, mm"),
        "gap_y": _("Gap between rows, mm"),
    }  # fmt: skip
    return [{"name": one, "label": says, "value": sent.get(one, ""), "errors": errors.get(one)}
            for one, says in named.items()]  # fmt: skip


def _told(request: Request, found: Board, verdicts: Sequence[Verdict]) -> dict[str, Any]:
    """What is to be known before printing: what the rules ask, names that are missing, an address only for here."""
    rules = service.rules_in_force(request.home.store, now=request.now)
    names = service.full_names(request.home.preferences)
    full = any("full_name" in rule.asks for rule in rules)
    children = [one.name for one in found.children]
    shown = [*(names.get(one, one) if full else one for one in children), *(one.container for one in verdicts)]
    base = base_of(request)
    return {
        "rules": rules, "nameless": [one for one in children if one not in names] if full else [],
        "unprinted": [one for one in shown if unclaimed(one)][:5], "base": base, "only_here": service.only_here(base),
        "hospital": any(one.care == "hospital" for one in found.children),
    }  # fmt: skip


@require_http_methods(["GET", "POST"])
def settings(request: Request) -> HttpResponse:
    """The children's full names, the address that labels lead to, and the usual stock."""
    found = board(request.home.store, now=request.now)
    children = [one.name for one in found.children]
    form = Form(request.POST.dict() if request.method == "POST" else _kept(request, children))
    if request.method == "POST" and _keep(request, form, children):
        messages.success(request, _("Kept. New labels bear it; those already printed stay as they are."))
        return HttpResponseRedirect(reverse("web:labels"))
    here = f"{request.scheme}://{request.get_host()}"
    base = form.sent.get("address") or here
    fields = [_name_field(number, one, form) for number, one in enumerate(children)]
    context = {
        "fields": fields, "sent": form.sent, "errors": form.errors, "problems": form.problems, "here": here,
        "only_here": service.only_here(base), "stocks": _stocks()[:-1],
        "rules": service.rules_in_force(request.home.store, now=request.now),
    }  # fmt: skip
    return render(request, "web/settings_labels.html", context, status=422 if form.errors else 200)


def _name_field(number: int, child: str, form: Form) -> dict[str, Any]:
    name = f"name-{number}"
    value = form.sent.get(name, "")
    strange = unclaimed(value)
    hint = _("These letters cannot be printed: %(letters)s. The label leaves a line to write the name.")
    return {"name": name, "child": child, "value": value, "errors": form.errors.get(name),
            "hint": hint % {"letters": strange} if strange else ""}  # fmt: skip


def _kept(request: Request, children: Sequence[str]) -> dict[str, str]:
    names = service.full_names(request.home.preferences)
    kept = {f"name-{number}": names.get(one, "") for number, one in enumerate(children)}
    kept |= {"address": service.kept_address(request.home.preferences), "stock": usual_stock(request.home)}
    return kept


def _keep(request: Request, form: Form, children: Sequence[str]) -> bool:
    """Keep what was sent; whether it could be kept."""
    names = {one: form.sent.get(f"name-{number}", "") for number, one in enumerate(children)}
    stock = form.choice("stock", presets().keys())
    for number, name in enumerate(names.values()):
        try:
            service.checked_name(name)
        except CannotError as fault:
            form.wrong(f"name-{number}", _(str(fault)))
    try:
        address = service.checked_address(form.sent.get("address", ""))
    except CannotError as fault:
        form.wrong("address", _(str(fault)))
        address = ""
    if form.errors:
        return False
    service.keep(request.home.store, names=names, address=address, stock=stock)
    return True


routes = [
    path("labels/", page, name="labels"),
    path("settings/labels/", settings, name="settings_labels"),
]
