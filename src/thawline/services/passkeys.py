"""Passkeys: what a phone is asked for, and keeping what it answers; the ceremonies are django-allauth's.

A passkey stands in for a password. It is made discoverable and asks for the finger, face or code that opens the phone
(user verification; W3C Web Authentication Level 3, 5.4.4 and 5.4.6).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.forms import SignupWebAuthnForm
from allauth.mfa.webauthn.internal import auth
from django.db import transaction
from django.http import HttpRequest

from thawline.records.accounts.models import User
from thawline.services import invitations

_LONGEST = 50_000  # ours; an answer has some hundred characters, with an attestation some thousand


def to_make(user_id: int) -> str:
    """What a phone has to know to make a passkey for somebody, as JSON; the challenge stays in the session."""
    return json.dumps(auth.begin_registration(User.objects.get(pk=user_id), True))


def to_show(user: User) -> str:
    """What a phone has to know to show a passkey of somebody once more, as JSON."""
    return json.dumps(auth.begin_authentication(user))


def plausible(text: str) -> bool:
    """Whether this may be what a phone answered: a credential, in its JSON form (Web Authentication Level 3, 5.1.9)."""
    if len(text) > _LONGEST:
        return False
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return False
    inner = found.get("response") if isinstance(found, dict) else None
    if not isinstance(inner, dict):
        return False
    texts = [found.get(key) for key in ("id", "rawId", "type")]
    texts += [value for key, value in inner.items() if key != "transports" and value is not None]
    return all(isinstance(one, str) for one in texts)


def kept(user_id: int, sent: Mapping[str, Any]) -> bool:
    """Keep the passkey that a phone made, where it answers the challenge; False where it does not."""
    user = User.objects.filter(pk=user_id).first()
    if user is None or not plausible(str(sent.get("credential", ""))):
        return False
    form = SignupWebAuthnForm(sent, user=user)
    if not form.is_valid():
        return False
    auth.WebAuthn.add(user, form.cleaned_data["name"][:80], form.cleaned_data["credential"])
    return True


def come_in(secret: str, user_id: int, sent: Mapping[str, Any], *, now: int) -> bool:
    """Come in by an invitation with the passkey that a phone made; False where it was not made.

    Raises `CannotError` where the invitation is spent, and then keeps nothing.
    """
    with transaction.atomic():
        if not kept(user_id, sent):
            return False
        invitations.finish_anew(secret, user_id, now=now)
    return True


def of(user_id: int) -> int:
    """How many passkeys somebody has."""
    return int(Authenticator.objects.filter(user_id=user_id, type=Authenticator.Type.WEBAUTHN).count())


def is_last_way(request: HttpRequest) -> bool:
    """Whether a passkey of theirs is the only way in: there is no other, and no password."""
    user = request.user
    return isinstance(user, User) and not user.has_usable_password() and of(user.pk) <= 1
