"""A new password for someone who forgot theirs, set on the computer itself."""

from __future__ import annotations

from allauth.usersessions.models import UserSession
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from thawline.records.accounts.models import User
from thawline.services.people import CannotError


def known(username: str) -> None:
    """Raise `CannotError` where nobody signs in under that name."""
    if not User.objects.filter(username=username).exists():
        listed = ", ".join(User.objects.order_by("username").values_list("username", flat=True))
        raise CannotError(f"Nobody signs in as {username}." + (f" Who does: {listed}" if listed else ""))


def reset(username: str, password: str) -> None:
    """Set a password and sign that person out everywhere; raises `CannotError`."""
    known(username)
    user = User.objects.get(username=username)
    try:
        validate_password(password, user)
    except ValidationError as fault:
        raise CannotError(" ".join(fault.messages)) from fault
    with transaction.atomic():
        user.set_password(password)
        user.save(update_fields=["password"])
        # Phones that are not on the list lose their session with the old password's hash.
        for row in UserSession.objects.filter(user=user):
            row.end()
