"""The window of a childcare service: what was handed to it, and what it records."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
