"""Whose milk: for someone who belongs to several households."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
