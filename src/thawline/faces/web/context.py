"""What every page may show."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import Any, cast

from django.db import DatabaseError
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from thawline.faces.request import Request, asked_here
from thawline.faces.web.account import passkey_lack
from thawline.faces.web.acting import done_banner
from thawline.services import board, people, present
from thawline.services.people import Home
from thawline.services.permissions import MAY, may


def everywhere(request: HttpRequest) -> dict[str, Any]:
    """The server's present, the household, who acts, and whether a clock is wrong."""
    now = getattr(request, "now", None) or present.now()
    home = getattr(request, "home", None)
    found: dict[str, Any] = {
        "server_now_ms": now // 1000,
        "plain_http": not request.is_secure() and not asked_here(request),
        "passkey_lack": passkey_lack(request),
    }
    if home is not None:
        found |= {
            "household_name": _named_above(request, home),
            "who": getattr(request, "who", ""),
            "other_homes": SimpleLazyObject(partial(_other_homes, request)),
            "may": MAY.get(home.role, frozenset()),
        }
        # A page that tells of a broken disk asks here, too.
        with suppress(DatabaseError):
            found |= {
                "done": done_banner(cast("Request", request)),
                # Asked once, by the template, where the page has not said so itself.
                "clock_wrong": SimpleLazyObject(partial(_clock_wrong, home, now)),
            }
    return found


def _named_above(request: HttpRequest, home: Home) -> str:
    """The household that a page is of; of a service's pages that show several families, none."""
    match = getattr(request, "resolver_match", None)
    several = may(home.role, "serve") and not (match and "tag" in match.kwargs)
    return "" if several else home.name


def _other_homes(request: HttpRequest) -> bool:
    """Whether this person belongs to several households."""
    return len(people.homes_of(int(request.user.pk or 0))) > 1


def _clock_wrong(home: Home, now: int) -> bool:
    try:
        return board.clock_wrong(home.store, now)
    except DatabaseError:
        return False
