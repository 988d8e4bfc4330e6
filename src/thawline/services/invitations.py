"""Invitations: a secret address that lets one person in, once, until it expires; only its digest is kept."""

from __future__ import annotations

from datetime import timedelta
from typing import Literal, NamedTuple

from django.db import IntegrityError, transaction
from django.utils import timezone

from thawline.core.times import HOUR
from thawline.records.accounts.models import Invitation, Member, Service, User
from thawline.records.ledger.store import DatabaseStore
from thawline.services.household import password_faults, username_faults
from thawline.services.people import CannotError, Home, written_name
from thawline.services.permissions import may
from thawline.services.secret import LENGTH, digest, made

State = Literal["open", "used", "withdrawn", "expired"]
# How long one stays open: hours on offer, the usual one first.
HOURS = (48, 1, 7 * 24)  # ours
ROLES = ("parent", "carer", "childcare")
_MOST_OPEN = 50  # ours
_PENDING = timedelta(hours=1)  # ours
_SPENT = "This invitation does not open anything any more. Ask for a new one."
_HERE_ALREADY = "You belong to this household already."
_TAKEN = "Somebody signs in under that name already. Choose another name."


class Invited(NamedTuple):
    """An invitation as it may be shown; `home` is the household's key; times in microseconds."""

    id: int
    name: str
    role: str
    service: str | None
    by: str
    household: str
    expires_at: int
    state: State
    home: str


class SpentError(CannotError):
    """An invitation that opens nothing: used, withdrawn, expired, or never made."""


def invite(home: Home, *, name: str, role: str, service: int | None, hours: int, now: int) -> str:
    """Invite somebody into this household; returns the secret, which is kept nowhere. Raises `CannotError`."""
    if not may(home.role, "invite") or role not in ROLES or hours not in HOURS:
        raise CannotError("Choose one of these.")
    name = written_name(name)
    if any(one.casefold() == name.casefold() for one in _signing_in(home.store)):
        raise CannotError(f"{name} signs in here already. Choose another name.")
    window = service_of(home.store, service) if role == "childcare" else None
    if sum(one.state == "open" for one in listed(home.store, now=now)) >= _MOST_OPEN:
        raise CannotError("Too many invitations are open. Withdraw one first.")
    secret = made()
    Invitation.objects.create(
        household_id=home.store.id, name=name, role=role, service=window, digest=digest(secret), by=home.member,
        made_at=now, expires_at=now + hours * HOUR,
    )  # fmt: skip
    return secret


def _signing_in(store: DatabaseStore) -> list[str]:
    found = Member.objects.filter(household=store.id, user__isnull=False, left=False)
    return list(found.values_list("name", flat=True))


def service_of(store: DatabaseStore, key: int | None) -> Service:
    """A childcare service of this household, by key; raises `CannotError`."""
    found = Service.objects.filter(household=store.id, pk=key, left=False).first() if key is not None else None
    if found is None:
        raise CannotError("Choose the childcare service where they work.")
    return found


def services(store: DatabaseStore) -> list[tuple[int, str]]:
    """The household's childcare services, to choose from: key and name."""
    return list(Service.objects.filter(household=store.id, left=False).values_list("pk", "name"))


def listed(store: DatabaseStore, *, now: int) -> list[Invited]:
    """A household's invitations, the latest first."""
    rows = Invitation.objects.select_related("household", "service").filter(household=store.id).order_by("-pk")
    return [_shown(row, now) for row in rows]


def _shown(row: Invitation, now: int) -> Invited:
    service = None if row.service is None else row.service.name
    return Invited(
        row.pk, row.name, row.role, service, row.by, row.household.name, row.expires_at, _state(row, now),
        str(row.household_id),
    )  # fmt: skip


def _state(row: Invitation, now: int) -> State:
    if row.used_at is not None:
        return "used"
    if row.withdrawn or (row.service is not None and row.service.left):
        return "withdrawn"
    return "open" if now < row.expires_at else "expired"


def withdraw(store: DatabaseStore, key: int) -> bool:
    """Withdraw an invitation that nobody has used; False where there is none."""
    rows = Invitation.objects.filter(household=store.id, pk=key, used_at=None, withdrawn=False)
    return bool(rows.update(withdrawn=True))


def withdraw_by(store: DatabaseStore, name: str) -> None:
    """Withdraw every invitation that somebody made and nobody has used."""
    Invitation.objects.filter(household=store.id, by=name, used_at=None).update(withdrawn=True)


def find(secret: str, *, now: int) -> Invited | None:
    """The invitation with that secret, where it still opens; looking does not use it."""
    row = _row(secret)
    found = _shown(row, now) if row is not None else None
    return found if found is not None and found.state == "open" else None


def _row(secret: str) -> Invitation | None:
    if len(secret) != LENGTH or not secret.isascii():
        return None
    return Invitation.objects.select_related("household", "service").filter(digest=digest(secret)).first()


def fresh_faults(username: str, password: str) -> dict[str, list[str]]:
    """What is to be mended in a new sign-in, by field; empty where it will do."""
    faults = {"username": name_faults(username), "password": password_faults(password, username)}
    return {field: says for field, says in faults.items() if says}


def name_faults(username: str) -> list[str]:
    """What is to be mended in a new name to sign in with; empty where it will do."""
    found = username_faults(username)
    return found or ([_TAKEN] if User.objects.filter(username__iexact=username).exists() else [])


def join_anew(secret: str, *, username: str, password: str, now: int) -> int:
    """Come in with a new sign-in; returns its key. Raises `SpentError`, or `CannotError` where the name is taken."""
    fresh = User(username=username)
    fresh.set_password(password)
    try:
        with transaction.atomic():
            fresh.save()
            _enter(secret, fresh.pk, now)
    except IntegrityError as fault:
        raise CannotError(_TAKEN) from fault
    return fresh.pk


def begin_anew(secret: str, username: str, *, pending: int | None, now: int) -> int:
    """A sign-in that is not in force until its passkey is there; returns its key. Raises `CannotError`.

    `pending` is one that was begun here before: it takes the name instead. One that came to nothing goes after an hour.
    """
    if find(secret, now=now) is None:
        raise SpentError(_SPENT)
    _tidy()
    mine = User.objects.filter(pk=pending, is_active=False).first() if pending is not None else None
    fresh = mine or User(is_active=False)
    if fresh.username != username:
        if faults := name_faults(username):
            raise CannotError(" ".join(faults))
        fresh.username = username
        fresh.set_unusable_password()
        fresh.save()
    return fresh.pk


def _tidy() -> None:
    old = timezone.now() - _PENDING
    User.objects.filter(is_active=False, members=None, date_joined__lt=old).delete()


def finish_anew(secret: str, user_id: int, *, now: int) -> None:
    """Come in with the sign-in that was begun, now that its passkey is there; raises `CannotError`."""
    with transaction.atomic():
        if not User.objects.filter(pk=user_id, is_active=False, members=None).update(is_active=True):
            raise CannotError("That took too long. Begin once more.")
        _enter(secret, user_id, now)


def join(secret: str, user_id: int, *, now: int) -> None:
    """Come in with a sign-in that somebody has; raises `SpentError`, or `CannotError` where they belong here."""
    try:
        with transaction.atomic():
            _enter(secret, user_id, now)
    except IntegrityError as fault:
        # With two invitations at one moment.
        raise CannotError(_HERE_ALREADY) from fault


def _enter(secret: str, user_id: int, now: int) -> None:
    row = _row(secret)
    # Of two that come at one moment, one finds a row to change.
    unused = Invitation.objects.filter(pk=row.pk, used_at=None, withdrawn=False, expires_at__gt=now) if row else None
    if row is None or unused is None or _state(row, now) != "open" or not unused.update(used_at=now):
        raise SpentError(_SPENT)
    if Member.objects.filter(household=row.household_id, user_id=user_id, left=False).exists():
        raise CannotError(_HERE_ALREADY)
    member, _made = Member.objects.get_or_create(household_id=row.household_id, name=row.name)
    # Two invitations may bear one name: whoever is second does not take the first one's place.
    nobodys = Member.objects.filter(pk=member.pk, user__isnull=True)
    if not nobodys.update(user_id=user_id, role=row.role, service=row.service, left=False):
        raise SpentError(_SPENT)
