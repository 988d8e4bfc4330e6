"""Signing in, in calm words."""

from __future__ import annotations

from typing import ClassVar

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext_lazy as _


class Adapter(DefaultAccountAdapter):  # type: ignore[misc]  # ships no types
    """What signing in says, and where it leads to."""

    error_messages: ClassVar = {
        **DefaultAccountAdapter.error_messages,
        "username_password_mismatch": _("The name and the password do not fit together. Look at both once more."),
        "invalid_login": _("The name and the password do not fit together. Look at both once more."),
        "incorrect_password": _("That is not the password. Look at it once more."),
        "enter_current_password": _("That is not your password of today. Look at it once more."),
        "too_many_login_attempts": _("Too many tries for now. Please wait five minutes, then try again."),
    }

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:  # noqa: ARG002  (the caller names it)
        """To the list of phones: the others are signed out now."""
        return reverse("web:phones")

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: object) -> str:  # noqa: ARG002
        """Failures count by the name alone: the host, which the library adds, is whatever the caller writes."""
        return str(credentials.get("username", "")).upper().casefold()

    def is_open_for_signup(self, request: HttpRequest) -> bool:  # noqa: ARG002  (the caller names it)
        """Nobody signs up by themselves."""
        return False
