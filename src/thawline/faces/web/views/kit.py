"""The expressing kit: when it was washed and sanitised, and when next."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
