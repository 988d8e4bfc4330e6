"""A session of expressing, timed."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
