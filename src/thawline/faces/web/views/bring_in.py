"""Past sessions and stock from a table, looked at before they are kept."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
