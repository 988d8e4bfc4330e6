"""Labels: which to print, on what stock, and what they bear."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
