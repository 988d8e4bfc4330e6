"""What every request passes: storage faults told in plain words, headers, and whose household it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from thawline.faces.doors import DOORS, OPEN
from thawline.faces.request import Request
from thawline.faces.web.errors import is_storage_fault, not_stored
from thawline.services import people, present
from thawline.services.people import Home
from thawline.services.permissions import Action, may
from thawline.services.tags import household_ids

Answer = Callable[[HttpRequest], HttpResponse]

POLICY = (
    "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; img-src 'self' data:; "
    "object-src 'none'"
)
# What needs no household: one's own sign-in.
_OF_ONESELF = ("account_", "mfa_")
# Open to strangers, and read at home too, with the household's own ways from there.
_READ_BY_ALL = ("web:cautions", "web:https")


def faults(answer: Answer) -> Answer:
    """A full disk or a locked file gets a clear page; nothing was recorded."""

    def handle(request: HttpRequest) -> HttpResponse:
        return answer(request)

    def exception(request: HttpRequest, fault: Exception) -> HttpResponse | None:
        return not_stored(request, fault) if is_storage_fault(fault) else None

    handle.process_exception = exception  # type: ignore[attr-defined]
    return handle


def headers(answer: Answer) -> Answer:
    """Nothing foreign is loaded, and pages are not kept by the browser."""

    def handle(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.headers.setdefault("Cache-Control", "no-store, private")
        return response

    return handle


def household(answer: Answer) -> Answer:
    """Whose household it is; without one yet, the set-up."""

    def handle(request: HttpRequest) -> HttpResponse:
        return answer(request)

    def view(request: HttpRequest, function: object, args: object, kwargs: object) -> HttpResponse | None:
        asked = cast("Request", request)
        asked.now = present.now()
        name = request.resolver_match.view_name if request.resolver_match else ""
        if name == "account_login" and not people.owner_exists():
            return to_begin()
        door = DOORS.get(name)
        if door == OPEN:
            if name in _READ_BY_ALL:
                _at(asked, _home(request))
            return None
        home = _home(request)
        _at(asked, home)
        if door == "self" and name.startswith(_OF_ONESELF):
            return None
        if home is None:
            return render(request, "web/no_household.html", status=403)
        return _through(door, name, home)

    handle.process_view = view  # type: ignore[attr-defined]
    return handle


def _at(request: Request, home: Home | None) -> None:
    """Whose page it is, and in whose name they act: whoever is no parent in their own."""
    if home is not None:
        request.home = home
        chosen = str(request.session.get("who") or "") if may(home.role, "settle") else ""
        # Somebody chosen on another phone may have been taken off the list since.
        request.who = chosen if chosen and people.is_named(home.store, chosen) else home.member


def _home(request: HttpRequest) -> Home | None:
    """The household that the address names, else the one chosen last, else the first; none that is another's."""
    if not request.user.is_authenticated:
        return None
    tag = request.resolver_match.kwargs.get("tag") if request.resolver_match else None
    if tag is None:
        return people.home_of(request.user.pk, request.session.get("home"))
    ids = {str(one) for one in household_ids(str(tag))}
    for home in people.homes_of(request.user.pk):
        if home.store.key in ids:
            return home
    raise Http404


def _through(door: str | None, name: str, home: Home) -> HttpResponse | None:
    if door is not None and may(home.role, cast("Action", door)):
        return None
    # Whoever serves has one place to be; the first page leads there.
    if name == "web:now" and may(home.role, "serve"):
        return redirect("web:care")
    raise PermissionDenied


def to_begin() -> HttpResponse:
    """To the set-up."""
    return redirect("web:begin")
