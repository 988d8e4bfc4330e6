"""Holding milk back: medicine, alcohol, a clinician."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
