"""Settings: people, phones that are signed in, the ledger as a file, and erasing everything."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import Http404, HttpResponse, HttpResponseRedirect, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods

from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.people_words import role_text
from thawline.faces.web.views.settings_kit import Form
from thawline.services import board, people, sessions
from thawline.services.people import CannotError

DEVICES = {
    "phone": gettext_lazy("A phone"),
    "tablet": gettext_lazy("A tablet"),
    "computer": gettext_lazy("A computer"),
    "other": gettext_lazy("Something else"),
}


@require_http_methods(["GET", "POST"])
def of_people(request: Request) -> HttpResponse:
    """Who signs in, and names that may stand beside what is noted."""
    store = request.home.store
    form = Form(request.POST.dict())
    if request.method == "POST":
        try:
            if "remove" in request.POST:
                people.remove_person(store, request.POST["remove"])
                if request.session.get("who") == request.POST["remove"]:
                    del request.session["who"]
            else:
                people.add_person(store, request.POST.get("new", ""))
            return HttpResponseRedirect(reverse("web:settings_people"))
        except CannotError as fault:
            form.wrong("new", _(str(fault)))
    found = people.people(store)
    context = {
        "signing_in": [one._replace(role=role_text(one.role, one.service)) for one in found if one.signs_in],
        "named": [one for one in found if not one.signs_in],
        "sent": form.sent, "errors": form.errors, "problems": form.problems,
    }  # fmt: skip
    return render(request, "web/settings_people.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def phones(request: Request) -> HttpResponse:
    """Where this person is signed in; one of the others, or all, may be signed out."""
    if request.method == "POST":
        chosen = request.POST.get("phone", "")
        if chosen == "others":
            sessions.sign_out_others(request)
        elif not (chosen.isascii() and chosen.isdigit() and sessions.sign_out(request, int(chosen))):
            raise Http404
        return HttpResponseRedirect(reverse("web:phones"))
    words = words_of(request)
    found = [
        {
            "id": one.id, "device": DEVICES[one.device], "ip": one.ip, "current": one.current,
            "since": words.clock(one.since) if one.since is not None else None,
        }
        for one in sessions.phones(request)
    ]  # fmt: skip
    return render(request, "web/phones.html", {"phones": found})


@require_GET
def export(request: Request) -> HttpResponseBase:
    """Everything that was noted, as a file: each event to the byte as it was written."""
    if request.GET.get("as") != "ndjson":
        return render(request, "web/export.html")
    store = request.home.store
    day = board.today(board.board(store, now=request.now))
    return StreamingHttpResponse(
        _lines(request),
        content_type="application/x-ndjson",
        headers={"Content-Disposition": f'attachment; filename="thawline-{day}.ndjson"'},
    )


def _lines(request: Request) -> Iterator[bytes]:
    for line in request.home.store.lines():
        yield line + b"\n"


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def erase(request: Request) -> HttpResponse:
    """Delete the household with everything of it, after its password and its name."""
    form = Form(request.POST.dict())
    if request.method == "POST":
        if " ".join(form.sent.get("name", "").split()) != request.home.name:
            form.wrong("name", _("Write the name exactly as it stands above."))
        fits = not form.errors and sessions.password_fits(request, form.sent.get("password", ""))
        if fits is None:
            form.wrong("password", _("Too many tries for now. Please wait five minutes, then try again."))
        elif not fits and not form.errors:
            form.wrong("password", _("That is not the password. Look at it once more."))
        if not form.errors:
            return _erased(request)
    context = {"name": request.home.name, "errors": form.errors, "problems": form.problems}
    return render(request, "web/erase.html", context, status=422 if form.errors else 200)


def _erased(request: Request) -> HttpResponse:
    store = request.home.store
    sessions.sign_out_household(request, store)
    people.erase(store)
    del request.home
    return render(request, "web/erase.html", {"erased": True})


routes = [
    path("settings/people/", of_people, name="settings_people"),
    path("settings/phones/", phones, name="phones"),
    path("settings/export/", export, name="export"),
    path("settings/erase/", erase, name="erase"),
]
