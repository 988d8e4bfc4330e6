"""Settings: who else may come in, with what role, and who is shown out."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
