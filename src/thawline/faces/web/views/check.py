"""Check before feeding: a label and a child, a match or a stop; and where the address on a label leads."""

from __future__ import annotations

from typing import Any, NamedTuple
from uuid import UUID, uuid5

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from thawline.core.times import MINUTE
from thawline.faces.request import Request
from thawline.faces.web.acting import act_id, numbered
from thawline.faces.web.lines import url_of
from thawline.faces.web.views import check_shown
from thawline.faces.web.views.settings_kit import Form
from thawline.services import checking, checking_codes, people, scanning, tags
from thawline.services import labels as label_facts
from thawline.services.checking import Asked
from thawline.services.people import Home
from thawline.services.permissions import may
from thawline.services.recording import new_act
from thawline.services.scanning import UnreadablePhotoError
from thawline.services.tags import Read, tag_of

# What is sent again within this time is the same check, sent twice.
_TWICE = 2 * MINUTE


class Child(NamedTuple):
    """A child that may be chosen: its household, its name, the answer of the form that means it, and what it is called.

    At childcare the last one is whoever is not named there: a label has to be stopped for another family's child too.
    """

    home: Home
    name: str
    value: str
    label: str


def homes_of(request: Request) -> list[Home]:
    """The households in which this person may check; the one in hand first."""
    found = people.homes_of(int(request.user.pk or 0))
    return sorted((one for one in found if may(one.role, "check")),
                  key=lambda one: one.store.key != request.home.store.key)  # fmt: skip


def children_of(homes: list[Home], now: int) -> list[Child]:
    """The children of these households that this person may name."""
    return [
        Child(home, name, f"{tag_of(home.store)}/{name}", label) for home in homes for name, label in _named(home, now)
    ]


def _named(home: Home, now: int) -> list[tuple[str, str]]:
    # Children of several families may be called alike: their full names tell them apart.
    full = label_facts.full_names(home.preferences) if may(home.role, "serve") else {}
    found = [(name, full.get(name, name)) for name in checking_codes.children_in_sight(home, now=now)]
    return [*found, (checking.ANOTHER_CHILD, _("Another child"))] if may(home.role, "serve") else found


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """Take a photo of the label or type its code, and choose the child."""
    homes = homes_of(request)
    if request.method == "POST":
        return _sent(request, homes, Form(request.POST.dict()))
    return numbered(request) or _form(request, homes, Form(request.GET.dict()), [])


def _form(request: Request, homes: list[Home], form: Form, labels: list[str]) -> HttpResponse:
    children = children_of(homes, request.now)
    several = len(homes) > 1
    groups = [
        {"home": home.name if several else "",
         "choices": [{"value": one.value, "label": one.label} for one in children if one.home is home]}
        for home in homes
    ]  # fmt: skip
    only = children[0].value if len(children) == 1 else ""
    context = {
        "act": act_id(request) or new_act(), "groups": [one for one in groups if one["choices"]],
        "child": form.sent.get("child") or only, "code": form.sent.get("code", "")[:200],
        "tag": form.sent.get("tag", "")[:8], "coded": form.sent.get("coded") or form.sent.get("code", "")[:200],
        "labels": check_shown.labels(labels), "label": labels[0] if len(labels) == 1 else form.sent.get("label", ""),
        "errors": form.errors, "problems": form.problems,
    }  # fmt: skip
    return render(request, "web/check.html", context, status=422 if form.errors else 200)


def _sent(request: Request, homes: list[Home], form: Form) -> HttpResponse:
    chosen = form.sent.get("child", "")
    child = next((one for one in children_of(homes, request.now) if one.value == chosen), None)
    if child is None:
        form.wrong("child", _("Choose the child."))
    photo = request.FILES.get("photo")
    labels = _photographed(photo, form) if photo is not None else _chosen_before(form)
    if len(labels) > 1:
        form.wrong("label", _("There are several labels. Choose which one it is."))
    read, typed = _read(form, labels)
    if child is None or form.errors:
        return _form(request, homes, form, labels)
    asked = Asked(child.home, child.name, read, typed)
    return _checked(request, homes, asked)


def _photographed(photo: Any, form: Form) -> list[str]:  # noqa: ANN401  (an uploaded file)
    """The labels on a photo: ours, where one is ours; else all other codes."""
    try:
        found = scanning.texts(photo)
    except UnreadablePhotoError as fault:
        form.wrong("photo", _(str(fault)))
        return []
    finally:
        photo.close()
    ours = [text for text in found if (read := tags.read(text)) is not None and read.tag is not None]
    if not found:
        form.wrong("photo", _("No label could be read. Go nearer, with more light, or type the code."))
    return ours or found


def _chosen_before(form: Form) -> list[str]:
    """The label chosen among those of a photo that was sent before."""
    label = scanning.plain(form.sent.get("label", ""))
    return [label] if label and not form.sent.get("code", "").strip() else []


def _read(form: Form, labels: list[str]) -> tuple[Read | None, bool]:
    """What the label says, and whether a person typed it; a photo counts before what stands in the field."""
    if labels:
        return tags.read(labels[0]), False
    code, tag = scanning.plain(form.sent.get("code", "")), form.sent.get("tag", "").upper()
    if not code and not form.errors.get("photo"):
        form.wrong("code", _("Take a photo of the label, or type its code."))
    if tag and code == scanning.plain(form.sent.get("coded", "")):
        return Read(tag, code), False
    read = tags.read(code)
    if code and read is None:
        form.wrong("code", _("Type the code as it stands on the label, such as KA34."))
    return read, True


def _checked(request: Request, homes: list[Home], asked: Asked) -> HttpResponse:
    """Record it, once, and show it."""
    home = asked.home
    found = checking.check(homes, asked, now=request.now)
    act = _number(request, asked)
    here = home.store.key == request.home.store.key
    checking.keep(found, act, by=request.who if here else home.member, now=request.now)
    _go_to(request, home)
    return redirect("web:check_done", tag=tag_of(home.store), act=act)


def _number(request: Request, asked: Asked) -> str:
    """The id under which it is recorded: the same for what is sent twice, another one for any other label or child."""
    form, read = act_id(request), asked.read or Read(None, "")
    if form is None:
        return new_act()
    act = str(uuid5(UUID(form), "\n".join((tag_of(asked.home.store), asked.child, read.tag or "", read.code))))
    rows = asked.home.store.act(act)
    return new_act() if rows and request.now - rows[0].recorded_at > _TWICE else act


def _go_to(request: Request, home: Home) -> None:
    """Be in that household from now on."""
    if home.store.key != request.home.store.key:
        request.session["home"] = home.store.key
        request.session.pop("who", None)


@require_GET
def done(request: Request, tag: str, act: str) -> HttpResponse:
    """What a check found, from what was recorded; looked at again, so that an old match is none any more."""
    kept = checking.kept(request.home, act, now=request.now)
    if kept is None:
        raise Http404
    return render(request, "web/check_done.html", check_shown.page(request, kept))


@require_GET
def label(request: Request, tag: str, code: str) -> HttpResponse:
    """Where the phone's own camera leads: to the container, in the household that its label names."""
    home, code = request.home, scanning.plain(code.removesuffix("/"))[:200]
    _go_to_label(request, home)
    found = checking_codes.meant(home, code, typed=False, now=request.now)
    if len(found) != 1:
        context = {"code": code, "check_url": reverse("web:check")}
        return render(request, "web/label_unknown.html", context, status=404)
    if may(home.role, "serve"):
        return redirect(check_shown.care_url(home, found[0]))
    return redirect(url_of(found[0]))


def _go_to_label(request: Request, home: Home) -> None:
    if request.session.get("home") != home.store.key and len(people.homes_of(int(request.user.pk or 0))) > 1:
        request.session["home"] = home.store.key
        request.session.pop("who", None)


routes = [
    path("check/", page, name="check"),
    path("check/<slug:tag>/<slug:act>/", done, name="check_done"),
    path("L/<slug:tag>/<path:code>", label, name="label"),
    path("l/<slug:tag>/<path:code>", label, name="label"),
]
