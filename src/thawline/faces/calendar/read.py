"""A calendar as it is read under its secret address."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
