"""Hand milk over to a service, its sheet for the day, and what comes back."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
