"""Check before feeding: a label and a child, a match or a stop; and where the address on a label leads."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
