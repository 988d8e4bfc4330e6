"""Label sheets, labels for narrow rolls, and blank ones, as PDF."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
