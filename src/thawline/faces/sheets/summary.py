"""A summary for a clinician or a lactation consultant, as PDF."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
