"""The day's hand-over sheet for a childcare service, as PDF."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
