"""A child got milk that was not meant for it: what to do, calmly, and what was done."""

from __future__ import annotations

from django.urls import URLPattern

routes: list[URLPattern] = []
