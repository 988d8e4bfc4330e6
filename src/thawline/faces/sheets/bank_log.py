"""A container log for a milk bank, as PDF: facts only."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
