"""Settings: the childcare services that milk is handed to."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
