"""Who is at home: households, their members, and who may act in them."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any, NamedTuple

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import connection, transaction

from thawline.records.accounts.models import Member, User
from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore
from thawline.services.known import forget

PREFERENCES: dict[str, tuple[str, ...]] = {
    # What is fed first: the oldest chilled milk, or the oldest of all (a frozen bag may be older).
    "feed_first": ("chilled", "oldest"),
}


class Home(NamedTuple):
    """A signed-in person's household: its ledger, its name, the person's own name and role there.

    `service` is the childcare service whose window on the ledger this is, None for everyone at home.
    """

    store: DatabaseStore
    name: str
    member: str
    role: str
    preferences: dict[str, Any]
    member_id: int = 0
    service: str | None = None

    @property
    def owner(self) -> bool:
        return self.role == Member.Role.OWNER

    @property
    def feed_first(self) -> str:
        """What the family wants fed first: `chilled` or `oldest`."""
        wanted = self.preferences.get("feed_first")
        return wanted if wanted in PREFERENCES["feed_first"] else "chilled"


class Person(NamedTuple):
    """Someone who may be named as the one who did it; `service` is the childcare service where they work."""

    name: str
    role: str
    signs_in: bool
    id: int = 0
    service: str | None = None


class CannotError(ValueError):
    """Something that can't be done; its text says what to mend."""


def owner_exists() -> bool:
    """Whether a password has been set."""
    return Member.objects.filter(role=Member.Role.OWNER, user__isnull=False).exists()


def homes_of(user_id: int) -> list[Home]:
    """The households of someone who signed in, in the order in which they joined."""
    rows = Member.objects.select_related("household", "service").filter(user_id=user_id, left=False)
    return [_home(row) for row in rows]


def home_of(user_id: int, wanted: str | None = None) -> Home | None:
    """The household of someone who signed in: the one with the key `wanted` where they belong to it, else the first."""
    found = homes_of(user_id)
    return next((home for home in found if home.store.key == wanted), found[0] if found else None)


def _home(member: Member) -> Home:
    house, service = member.household, member.service
    return Home(
        DatabaseStore(house.pk), house.name, member.name, member.role, dict(house.preferences), member.pk,
        None if service is None else service.name,
    )  # fmt: skip


def homes() -> list[tuple[str, DatabaseStore]]:
    """Every household by name, for whoever runs the server."""
    return [(house.name, DatabaseStore(house.pk)) for house in Household.objects.order_by("name", "pk")]


def begin(*, household: str, name: str, username: str, password: str) -> DatabaseStore:
    """Make a household with its owner; raises `CannotError` where the name or the password will not do."""
    fresh = User(username=username)
    try:
        validate_password(password, fresh)
        fresh.set_password(password)
        fresh.full_clean()
    except ValidationError as fault:
        raise CannotError(" ".join(fault.messages)) from fault
    with transaction.atomic():
        fresh.save()
        house = Household.objects.create(pk=uuid.uuid4(), name=household)
        Member.objects.create(household=house, name=name, user=fresh, role=Member.Role.OWNER)
    return DatabaseStore(house.pk)


def bare_household(name: str) -> DatabaseStore:
    """A household nobody signs in to yet."""
    return DatabaseStore(Household.objects.create(pk=uuid.uuid4(), name=name).pk)


def people(store: DatabaseStore) -> list[Person]:
    """Those who may be named, in the order in which they came."""
    rows = Member.objects.select_related("service").filter(household=store.id, left=False)
    return [person_of(row) for row in rows]


def is_named(store: DatabaseStore, name: str) -> bool:
    """Whether somebody of that name is on the list."""
    return Member.objects.filter(household=store.id, name=name, left=False).exists()


def person_of(row: Member) -> Person:
    """A member as others may see them."""
    service = None if row.service is None else row.service.name
    return Person(row.name, row.role, row.user_id is not None, row.pk, service)


def written_name(name: str) -> str:
    """A name with single spaces; raises `CannotError`."""
    name = " ".join(name.split())
    # PostgreSQL takes no text with a NUL.
    if not name or len(name) > 80 or "\0" in name:
        raise CannotError("Write a name of at most 80 characters.")
    return name


def add_person(store: DatabaseStore, name: str) -> None:
    """Someone who may be named without a sign-in of their own; raises `CannotError`."""
    name = written_name(name)
    member, made = Member.objects.get_or_create(household_id=store.id, name=name)
    if not made and not member.left:
        raise CannotError(f"{name} is on the list already.")
    if member.left:
        Member.objects.filter(pk=member.pk).update(left=False)


def remove_person(store: DatabaseStore, name: str) -> None:
    """Take a name off the list; what they recorded stays. Whoever signs in can't be taken off."""
    if "\0" in name or not Member.objects.filter(household=store.id, name=name, user__isnull=True).update(left=True):
        raise CannotError("Only a name without a sign-in can be taken off the list.")


def rename(store: DatabaseStore, name: str) -> None:
    """Give the household another name."""
    Household.objects.filter(pk=store.id).update(name=written_name(name))


def prefer(store: DatabaseStore, key: str, value: str) -> None:
    """Set a preference of the household; raises `CannotError`."""
    if value not in PREFERENCES.get(key, ()):
        raise CannotError("Choose one of the ways on the list.")
    with transaction.atomic():
        house = Household.objects.select_for_update().get(pk=store.id)
        house.preferences = {**house.preferences, key: value}
        house.save(update_fields=["preferences"])


def keep_cooler(store: DatabaseStore, cooler: dict[str, Any]) -> None:
    """Keep with the household the cooler that it packed last."""
    with transaction.atomic():
        house = Household.objects.select_for_update().get(pk=store.id)
        house.preferences = {**house.preferences, "cooler": cooler}
        house.save(update_fields=["preferences"])


def keep_habits(store: DatabaseStore, habits: dict[str, Any]) -> None:
    """Keep with the household how it uses its milk."""
    with transaction.atomic():
        house = Household.objects.select_for_update().get(pk=store.id)
        house.preferences = {**house.preferences, "habits": habits}
        house.save(update_fields=["preferences"])


def erase(store: DatabaseStore) -> None:
    """Delete the household, its members and the sign-ins that open no other household: nothing of it stays."""
    with transaction.atomic():
        users = list(Member.objects.filter(household=store.id, user__isnull=False).values_list("user_id", flat=True))
        store.erase()
        forget_users(users)
        # Somebody may have begun to come in and chosen a name.
        User.objects.filter(is_active=False, members=None).delete()
    transaction.on_commit(_overwrite)
    forget(store)


def forget_users(users: Iterable[int | None]) -> None:
    """Delete those of these sign-ins that open no household any more."""
    User.objects.filter(pk__in=[one for one in users if one is not None]).exclude(members__left=False).delete()


def _overwrite() -> None:
    """Leave nothing of what was deleted in the file beside the database; what the file freed is overwritten already."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
