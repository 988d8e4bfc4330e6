"""What every page may show."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import Any, cast

from django.core.exceptions import DisallowedHost
from django.db import DatabaseError
from django.http import HttpRequest
from django.http.request import split_domain_port

from thawline.faces.web.acting import done_banner
from thawline.faces.web.request import Request
from thawline.services import board, present
from thawline.services.people import Home


def everywhere(request: HttpRequest) -> dict[str, Any]:
    """The server's present, the household, who acts, and whether a clock is wrong."""
    now = getattr(request, "now", None) or present.now()
    home = getattr(request, "home", None)
    found: dict[str, Any] = {
        "server_now_ms": now // 1000,
        "plain_http": not request.is_secure() and not _here(request),
    }
    if home is not None:
        found |= {"household_name": home.name, "who": getattr(request, "who", "")}
        # A page that tells of a broken disk asks here, too.
        with suppress(DatabaseError):
            found |= {
                "done": done_banner(cast("Request", request)),
                # Asked by the template, where the page has not said so itself.
                "clock_wrong": partial(_clock_wrong, home, now),
            }
    return found


def _clock_wrong(home: Home, now: int) -> bool:
    try:
        return board.clock_wrong(home.store, now)
    except DatabaseError:
        return False


def _here(request: HttpRequest) -> bool:
    """Whether the page is read on the Thawline computer itself."""
    try:
        name, _port = split_domain_port(request.get_host())
    except DisallowedHost:
        return False
    return name in ("localhost", "127.0.0.1", "[::1]")
