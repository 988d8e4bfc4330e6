"""The app of the pages."""

from __future__ import annotations

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Pages, their style and their script."""

    name = "thawline.faces.web"
    label = "web"

    def ready(self) -> None:
        """Listen for changed and for wrong passwords."""
        from allauth.account.signals import password_changed, password_set  # noqa: PLC0415  (models are ready only now)
        from django.contrib.auth.signals import user_login_failed  # noqa: PLC0415

        from thawline.services.sessions import after_failure, after_password_change  # noqa: PLC0415

        password_changed.connect(after_password_change)
        password_set.connect(after_password_change)
        user_login_failed.connect(after_failure)
