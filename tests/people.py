"""Others who come to a household: carers, childcare staff, another parent, and the owner of the household next door."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import get_user_model
from django.test import Client
from tests.pages import Family

from thawline.records.accounts.models import Member, Service
from thawline.services import people

NAMES = {"owner": "Nuno", "parent": "Rita", "carer": "Amélia", "childcare": "Iris"}


def service(
    home: Family, name: str = "Kingfisher room", *, rule: str = "us-or", place: str = "", **more: Any
) -> Service:
    """A childcare service of this household, its refrigerator in the ledger too."""
    place = place or f"fridge at {name}"
    made, new = Service.objects.get_or_create(
        household_id=home.store.id, name=name, defaults={"rule": rule, "place": place, **more}
    )
    if new:
        home.note("place", 24.0 * 30, place=place, is_="refrigerator", temp_c=4)
    return made


def member(home: Family, role: str, name: str | None = None, *, service: Service | None = None) -> Client:
    """The phone of a new user who has this role in that household; the user is named as in `user_of`."""
    name = name or NAMES[role]
    user = get_user_model().objects.create_user(user_of(name), password="owl-lantern-river")
    Member.objects.update_or_create(
        household_id=home.store.id, name=name, defaults={"user": user, "role": role, "service": service, "left": False}
    )
    return signed_in(name)


def carer(home: Family, name: str | None = None) -> Client:
    """The phone of a carer, such as a grandparent."""
    return member(home, "carer", name)


def childcare(home: Family, name: str | None = None, *, service: Service) -> Client:
    """The phone of someone who works at that childcare service."""
    return member(home, "childcare", name, service=service)


def user_of(name: str) -> str:
    """Under which name somebody of this name signs in."""
    return name.casefold().replace(" ", "-")


def signed_in(name: str) -> Client:
    """Another phone of someone who signs in already."""
    phone = Client()
    phone.force_login(get_user_model().objects.get(username=user_of(name)), backend=None)
    return phone


def outsider(name: str = "Olga", household: str = "Next door") -> Client:
    """The phone of the owner of another household."""
    people.begin(household=household, name=name, username=user_of(name), password="fern-copper-window")
    return signed_in(name)
