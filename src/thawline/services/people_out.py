"""Changing what somebody may do in a household, and showing them out."""

from __future__ import annotations

from django.db import transaction

from thawline.records.accounts.models import CalendarLink, Member, Reminding
from thawline.records.ledger.store import DatabaseStore
from thawline.services import invitations, sessions
from thawline.services.people import CannotError, Home, Person, forget_users, person_of
from thawline.services.permissions import may

_CARING = ("carer", "childcare")


def find(store: DatabaseStore, key: int) -> Person | None:
    """Somebody who signs in to this household, by key."""
    row = _row(store, key)
    return None if row is None else person_of(row)


def _row(store: DatabaseStore, key: int) -> Member | None:
    if key >= 2**63:
        return None
    return Member.objects.filter(household=store.id, pk=key, left=False, user__isnull=False).first()


def may_change(home: Home, person: Person) -> bool:
    """Whether they may be changed or shown out: nobody the owner, a parent only carers and childcare staff."""
    if person.role == "owner" or not may(home.role, "invite"):
        return False
    return home.owner or person.role in _CARING


def may_sign_out(home: Home, person: Person) -> bool:
    """Whether their phones may be seen and signed out: those of an owner by that owner alone."""
    return person.id == home.member_id or may_change(home, person)


def roles_for(home: Home) -> tuple[str, ...]:
    """The roles that may be given: never the owner's."""
    return invitations.ROLES if may(home.role, "invite") else ()


def change_role(home: Home, key: int, role: str, service: int | None = None) -> None:
    """Give somebody another role, at once; raises `CannotError`."""
    with transaction.atomic():
        row = _changeable(home, key)
        if role not in roles_for(home):
            raise CannotError("Choose one of these.")
        window = invitations.service_of(home.store, service) if role == "childcare" else None
        row.role, row.service = role, window
        row.save(update_fields=["role", "service"])
        if not may(role, "look"):
            _stop(row)
        if not may(role, "invite"):
            invitations.withdraw_by(home.store, row.name)


def _changeable(home: Home, key: int) -> Member:
    row = _row(home.store, key)
    if row is None or not may_change(home, person_of(row)):
        raise CannotError("That can't be changed by you.")
    return row


def _stop(row: Member) -> None:
    """Nothing is sent to them any more, and their calendar's addresses are dead."""
    CalendarLink.objects.filter(member=row).delete()
    Reminding.objects.filter(member=row).delete()


def show_out(home: Home, key: int) -> None:
    """Close the household to somebody at once; what they noted keeps their name. Raises `CannotError`."""
    with transaction.atomic():
        row = _changeable(home, key)
        user_id = row.user_id
        _stop(row)
        invitations.withdraw_by(home.store, row.name)
        Member.objects.filter(pk=row.pk).update(user=None, left=True, service=None)
        if user_id is not None and not sessions.elsewhere(user_id, home.store):
            sessions.sign_out_everywhere(user_id)
            forget_users([user_id])


def phones(home: Home, key: int) -> list[sessions.Phone]:
    """Where somebody of this household is signed in; none where that is not to be seen."""
    row = _row(home.store, key)
    if row is None or row.user_id is None or not may_sign_out(home, person_of(row)):
        return []
    return sessions.phones_of(row.user_id)


def sign_out(home: Home, key: int, phone: int | None, *, keep: str = "") -> bool:
    """Sign out one phone of theirs, or all (None) but one to keep; False where there is none."""
    row = _row(home.store, key)
    if row is None or row.user_id is None or not may_sign_out(home, person_of(row)):
        return False
    if phone is not None:
        return phone < 2**63 and sessions.sign_out_of(row.user_id, phone, keep=keep)
    sessions.sign_out_everywhere(row.user_id, keep=keep)
    return True
