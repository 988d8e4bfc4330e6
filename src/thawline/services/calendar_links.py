"""Secret addresses of calendars: made, listed, opened, revoked; only the digest of a secret is kept."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from thawline.core.times import MINUTE
from thawline.records.accounts.models import CalendarLink
from thawline.services import people
from thawline.services.agenda import KINDS
from thawline.services.people import CannotError, Home
from thawline.services.permissions import may
from thawline.services.secret import digest, made

MOST = 10
# How exactly it is noted when an address was last read, so that not every look is a write.
_READ_EVERY = 10 * MINUTE
_LONGEST = 100


class Link(NamedTuple):
    """One member's address, without its secret. Times in microseconds."""

    id: int
    about: tuple[str, ...]
    made_at: int
    read_at: int | None


class Opened(NamedTuple):
    """Whose calendar a secret opens, and what is wanted in it."""

    home: Home
    about: tuple[str, ...]


def make(home: Home, about: Collection[str], *, now: int) -> str:
    """A new address; its secret is given once, here. Raises `CannotError`."""
    wanted = known_kinds(about)
    if not wanted:
        raise CannotError("Choose at least one thing for the calendar.")
    if CalendarLink.objects.filter(member=home.member_id).count() >= MOST:
        raise CannotError("There are ten addresses already. Take one back first.")
    secret = made()
    CalendarLink.objects.create(member_id=home.member_id, digest=digest(secret), about=list(wanted), made_at=now)
    return secret


def known_kinds(about: Collection[str]) -> tuple[str, ...]:
    """Those of the kinds that there are, in their order."""
    return tuple(kind for kind in KINDS if kind in about)


def links(home: Home) -> list[Link]:
    """A member's own addresses."""
    rows = CalendarLink.objects.filter(member=home.member_id)
    return [Link(row.pk, known_kinds(row.about), row.made_at, row.read_at) for row in rows]


def revoke(home: Home, number: int) -> bool:
    """Take one of the member's own addresses back; whether there was one."""
    return bool(CalendarLink.objects.filter(member=home.member_id, pk=number).delete()[0])


def opened(secret: str, *, now: int) -> Opened | None:
    """Whose calendar it is; None where no address has that secret, or its member may no longer look."""
    if len(secret) > _LONGEST:
        return None
    link = CalendarLink.objects.select_related("member").filter(digest=digest(secret)).first()
    home = None if link is None else _home(link)
    if link is None or home is None:
        return None
    if link.read_at is None or abs(now - link.read_at) >= _READ_EVERY:
        CalendarLink.objects.filter(pk=link.pk).update(read_at=now)
    return Opened(home, known_kinds(link.about))


def _home(link: CalendarLink) -> Home | None:
    user = link.member.user_id
    if user is None:
        return None
    found = next((home for home in people.homes_of(user) if home.member_id == link.member_id), None)
    return found if found is not None and may(found.role, "look") else None
