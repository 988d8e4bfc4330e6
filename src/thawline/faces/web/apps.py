"""The app of the pages."""

from __future__ import annotations

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Pages, their style and their script."""

    name = "thawline.faces.web"
    label = "web"
