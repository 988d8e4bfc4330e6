"""What a request carries to a page."""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from thawline.services.people import Home


class Request(HttpRequest):
    """A request of someone signed in: their household, the present instant, and in whose name they act."""

    home: Home
    now: int
    who: str
    htmx: HtmxDetails
