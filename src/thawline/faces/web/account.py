"""Signing in, in calm words."""

from __future__ import annotations

import ipaddress
from typing import ClassVar, Literal

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from django.core.exceptions import DisallowedHost
from django.db.models import Model
from django.http import HttpRequest
from django.http.request import split_domain_port
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from thawline.faces.request import asked_here
from thawline.services import passkeys


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

    def get_login_stages(self) -> list[str]:
        """No second step: whoever has a passkey may still sign in with a password alone."""
        return [one for one in super().get_login_stages() if not one.startswith("allauth.mfa.")]


class PasskeyAdapter(DefaultMFAAdapter):  # type: ignore[misc]
    """How a passkey is named, on the phone and here."""

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        """Whose passkey it is: this name of this computer, without its port."""
        return {**super().get_public_key_credential_rp_entity(), "name": "Thawline"}

    def generate_authenticator_name(self, user: Model, type: str) -> str:  # noqa: A002, ARG002  (the caller names it)
        """A name for the next one."""
        count = passkeys.of(user.pk)
        return gettext("Passkey %(n)d") % {"n": count + 1} if count else gettext("Passkey")


def passkey_lack(request: HttpRequest) -> Literal["", "https", "name"]:
    """What a page lacks for passkeys: an encrypted connection, or a name in the place of a number; "" for nothing.

    Browsers make and show them only in a secure context, and for a domain name (W3C Web Authentication Level 3, 5.1.3).
    """
    if not request.is_secure() and not asked_here(request):
        return "https"
    try:
        ipaddress.ip_address(split_domain_port(request.get_host())[0].strip("[]"))
    except ValueError:
        return ""
    except DisallowedHost:
        pass
    return "name"
