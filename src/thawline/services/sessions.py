"""Phones that are signed in: who, where, since when; and how to sign one out."""

from __future__ import annotations

import logging
from datetime import datetime
from typing import NamedTuple

from allauth.account.adapter import get_adapter
from allauth.core.internal import ratelimit
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.auth import SESSION_KEY, authenticate, login, logout
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils import timezone

from thawline.records.accounts.models import Member, User
from thawline.records.ledger.store import DatabaseStore

_MICROS = 1_000_000
# Tries of one address: a secret of 256 bits is not found by trying; this spares the server.
_OFTEN = {"join": "30/5m/ip"}  # ours
_log = logging.getLogger(__name__)


class Phone(NamedTuple):
    """A phone, tablet or computer that is signed in; `since` in microseconds, None where it was not noted."""

    id: int
    device: str
    since: int | None
    ip: str
    current: bool


def device(user_agent: str) -> str:
    """What it is: `phone`, `tablet`, `computer` or `other`."""
    text = user_agent.lower()
    if "ipad" in text or "tablet" in text or ("android" in text and "mobile" not in text):
        return "tablet"
    if "mobi" in text or "iphone" in text:
        return "phone"
    return "computer" if any(word in text for word in ("windows", "macintosh", "x11", "linux")) else "other"


def _micros(at: datetime) -> int:
    return int(at.timestamp() * _MICROS)


def _alive(user_id: int) -> dict[str, Session]:
    """The sessions in which this person is signed in, by key."""
    rows = Session.objects.filter(expire_date__gt=timezone.now())
    return {row.session_key: row for row in rows if row.get_decoded().get(SESSION_KEY) == str(user_id)}


def phones(request: HttpRequest) -> list[Phone]:
    """Where this person is signed in, the phone in hand first, then the latest."""
    user_id, here = _of(request)
    alive = _alive(user_id)
    noted = {row.session_key: row for row in UserSession.objects.filter(user_id=user_id, session_key__in=list(alive))}
    found = [
        Phone(row.pk, device(row.user_agent), _micros(row.created_at), row.ip, row.session_key == here)
        for row in noted.values()
    ]
    if here not in noted:
        agent = request.META.get("HTTP_USER_AGENT", "")
        found.append(Phone(0, device(agent), None, request.META.get("REMOTE_ADDR", ""), current=True))
    return sorted(found, key=lambda one: (not one.current, -(one.since or 0)))


def _of(request: HttpRequest) -> tuple[int, str]:
    return int(request.user.pk or 0), request.session.session_key or ""


def phones_of(user_id: int) -> list[Phone]:
    """Where somebody else is signed in, the latest first; from which address is theirs to know."""
    noted = UserSession.objects.filter(user_id=user_id, session_key__in=list(_alive(user_id))).order_by("-created_at")
    return [Phone(row.pk, device(row.user_agent), _micros(row.created_at), "", current=False) for row in noted]


def sign_out(request: HttpRequest, phone: int) -> bool:
    """Sign out one phone of this person, not the one in hand; False where there is no such phone."""
    user_id, here = _of(request)
    return sign_out_of(user_id, phone, keep=here)


def sign_out_of(user_id: int, phone: int, *, keep: str = "") -> bool:
    """Sign out one phone of somebody; False where there is no such phone, or it is the one to keep."""
    row = UserSession.objects.filter(pk=phone, user_id=user_id).exclude(session_key=keep).first()
    if row is None:
        return False
    row.end()
    return True


def sign_out_others(request: HttpRequest) -> None:
    """Sign out every phone of this person but the one in hand."""
    user_id, here = _of(request)
    sign_out_everywhere(user_id, keep=here)


def sign_out_everywhere(user_id: int, *, keep: str = "") -> None:
    """End every session of somebody but one, also those that are not listed."""
    Session.objects.filter(session_key__in=[key for key in _alive(user_id) if key != keep]).delete()
    UserSession.objects.filter(user_id=user_id).exclude(session_key=keep).delete()


def sign_in(request: HttpRequest, *, username: str, password: str) -> None:
    """Sign in on this phone, under a session of its own."""
    user = authenticate(request, username=username, password=password)
    if user is not None:
        _begin(request, User.objects.get(pk=user.pk))


def sign_in_as(request: HttpRequest, user_id: int) -> None:
    """Sign in somebody who has just shown who they are by other means than a password."""
    _begin(request, User.objects.get(pk=user_id))


def _begin(request: HttpRequest, user: User) -> None:
    login(request, user, backend=settings.AUTHENTICATION_BACKENDS[0])
    UserSession.objects.create_from_request(request)


def too_often(request: HttpRequest, what: str) -> bool:
    """Whether this address has tried that too often of late; counts this try, whether page or form."""
    return not ratelimit.consume(request, app="thawline", action=what, config=_OFTEN, limit_get=True)


def password_fits(request: HttpRequest, password: str) -> bool | None:
    """Whether this is the password of whoever is signed in; None after too many tries."""
    try:
        return bool(get_adapter().reauthenticate(request.user, password))
    except ValidationError:
        return None


def sign_out_household(request: HttpRequest, store: DatabaseStore) -> None:
    """Sign out everyone of a household, the phone in hand too; who has another household stays signed in there."""
    users = User.objects.filter(members__household=store.id, members__left=False).distinct()
    for user_id in users.values_list("pk", flat=True):
        if not elsewhere(user_id, store):
            sign_out_everywhere(user_id)
    if not elsewhere(_of(request)[0], store):
        logout(request)


def elsewhere(user_id: int, store: DatabaseStore) -> bool:
    """Whether somebody belongs to another household than this."""
    return Member.objects.filter(user_id=user_id, left=False).exclude(household=store.id).exists()


def after_password_change(request: HttpRequest, **_signal: object) -> None:
    """A new password signs out every other phone."""
    sign_out_others(request)


def after_failure(request: HttpRequest | None = None, **_signal: object) -> None:
    """Write down from where a wrong password came; not under which name, which may be a password in the wrong field."""
    _log.warning("A sign-in failed, from %s", get_adapter().get_client_ip(request) if request is not None else "here")
