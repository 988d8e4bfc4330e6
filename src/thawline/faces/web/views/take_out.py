"""What may be taken along: tables, a summary, a log, a health record."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
