"""What every page may show."""

from __future__ import annotations

from typing import Any, cast

from django.http import HttpRequest

from thawline.faces.web.acting import done_banner
from thawline.faces.web.request import Request
from thawline.services import board, present


def everywhere(request: HttpRequest) -> dict[str, Any]:
    """The server's present, the household, who acts, and whether a clock is wrong."""
    now = getattr(request, "now", None) or present.now()
    home = getattr(request, "home", None)
    local = request.get_host().rpartition(":")[0].strip("[]") in ("localhost", "127.0.0.1", "::1")
    found: dict[str, Any] = {
        "server_now_ms": now // 1000,
        "plain_http": not request.is_secure() and not local,
    }
    if home is not None:
        found |= {
            "household_name": home.name,
            "who": getattr(request, "who", ""),
            "done": done_banner(cast("Request", request)),
            "clock_wrong": board.clock_wrong(home.store, now),
        }
    return found
