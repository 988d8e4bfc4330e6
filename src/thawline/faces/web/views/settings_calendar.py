"""Settings: a secret address under which a calendar is read."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
