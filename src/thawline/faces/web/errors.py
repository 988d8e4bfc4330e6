"""Pages for what went wrong: each says what to do next."""

from __future__ import annotations

import sys

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def _page(request: HttpRequest, what: str, status: int) -> HttpResponse:
    return render(request, "web/error.html", {"what": what}, status=status)


@login_not_required
def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400."""
    return _page(request, "bad_request", 400)


@login_not_required
def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403."""
    return _page(request, "forbidden", 403)


@login_not_required
def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form without its token: the page was too old, or came from elsewhere."""
    return _page(request, "form_too_old", 403)


@login_not_required
def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404."""
    return _page(request, "not_found", 404)


@login_not_required
def server_error(request: HttpRequest) -> HttpResponse:
    """500: with as little as possible that could fail again; 503 where nothing could be stored."""
    fault = sys.exc_info()[1]
    if is_storage_fault(fault):
        return not_stored(request, fault)
    return _page(request, "server_error", 500)


def is_storage_fault(fault: BaseException | None) -> bool:
    """Whether the disk or the database is to blame, not what was sent."""
    return isinstance(fault, DatabaseError) and not isinstance(fault, IntegrityError)


def not_stored(request: HttpRequest, fault: BaseException | None) -> HttpResponse:
    """503: nothing was recorded, what to mend, and the same form to send again."""
    secret = any("password" in name for name in request.POST)
    sent = [
        (name, value) for name, values in request.POST.lists() for value in values if name != "csrfmiddlewaretoken"
    ]  # fmt: skip
    page = {"says": reason(fault), "again": request.get_full_path(), "post": request.method == "POST",
            "sent": None if secret else sent}  # fmt: skip
    return render(request, "web/not_stored.html", page, status=503)


def reason(fault: BaseException | None) -> str:
    """Why the database could not be used: one of a few words that a page explains."""
    text = str(fault).lower()
    for word, sign in (("full", "full"), ("read_only", "readonly"), ("busy", "locked"), ("broken", "malformed")):
        if sign in text:
            return word
    return "broken" if "not a database" in text else "other"
