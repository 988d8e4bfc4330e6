"""What every request passes: storage faults told in plain words, headers, and whose household it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from thawline.faces.web.errors import is_storage_fault, not_stored
from thawline.faces.web.request import Request
from thawline.services import people, present

Answer = Callable[[HttpRequest], HttpResponse]

POLICY = (
    "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; img-src 'self' data:; "
    "object-src 'none'"
)
# Pages that have to work before anybody is signed in, or has a household.
OPEN = ("account_", "web:begin", "web:cautions", "web:https")


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
        if name.startswith(OPEN):
            return None
        home = people.home_of(request.user.pk) if request.user.is_authenticated else None
        if home is None:
            return render(request, "web/no_household.html", status=403)
        asked.home = home
        asked.who = str(request.session.get("who") or home.member)
        return None

    handle.process_view = view  # type: ignore[attr-defined]
    return handle


def to_begin() -> HttpResponse:
    """To the set-up."""
    return redirect("web:begin")
