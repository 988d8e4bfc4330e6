"""An invitation: the way in for one person, once."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
