"""Pages for what went wrong: each says what to do next."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
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
    """500: with as little as possible that could fail again."""
    return render(request, "web/error.html", {"what": "server_error"}, status=500)
