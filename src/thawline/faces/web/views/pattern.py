"""The pattern of the sessions, and their trend."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
