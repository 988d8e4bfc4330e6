"""What a request carries to a page."""

from __future__ import annotations

import ipaddress

from django.core.exceptions import DisallowedHost
from django.http import HttpRequest
from django.http.request import split_domain_port
from django_htmx.middleware import HtmxDetails

from thawline.services.people import Home


class Request(HttpRequest):
    """A request of someone signed in: their household, the present instant, and in whose name they act."""

    home: Home
    now: int
    who: str
    htmx: HtmxDetails


def asked_here(request: HttpRequest) -> bool:
    """Whether the page is asked for under a name that means this computer itself wherever it is read."""
    try:
        name, _port = split_domain_port(request.get_host())
    except DisallowedHost:
        return False
    return name in ("localhost", "127.0.0.1", "[::1]")


def sent_here(request: HttpRequest) -> bool:
    """Whether it also comes from this computer; a server that is told no address takes it from a proxy's socket."""
    try:
        found = ipaddress.ip_address(request.META.get("REMOTE_ADDR") or "127.0.0.1")
    except ValueError:
        return False
    return asked_here(request) and (getattr(found, "ipv4_mapped", None) or found).is_loopback
