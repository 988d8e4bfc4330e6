"""Reminders beyond the calendar: where one member wants them, of what, and when not; each thing is told once."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Sequence
from typing import NamedTuple

from django.db import DatabaseError, IntegrityError, transaction

from thawline.core.guideline import GuidelineError
from thawline.core.times import DAY, HOUR, MINUTE, zone_named
from thawline.records.accounts.models import Reminded, Reminding
from thawline.services import agenda, board, people
from thawline.services.agenda import Due
from thawline.services.calendar_links import known_kinds
from thawline.services.people import CannotError, Home
from thawline.services.permissions import may
from thawline.services.quiet_hours import CLOCK, Quiet
from thawline.services.reminders_way import checked, masked, offered, send

# In one message at most so many; the rest comes with the next.
MOST = 12
# What would be told so soon after is told along with it.
ALONG = HOUR
# After a message that did not get through nothing is tried for so long.
REST = 10 * MINUTE
_DAYS = 20
_FORGET = 40 * DAY

_log = logging.getLogger(__name__)
_resting: dict[int, int] = {}
# Makes a message (title, text) of what is due in a household.
Writes = Callable[[Home, Sequence[Due], Collection[str], int], tuple[str, str]]


class Kept(NamedTuple):
    """What somebody chose; the address without its secrets."""

    shown: str
    about: tuple[str, ...]
    on: bool
    quiet_from: str
    quiet_until: str


def kept(home: Home) -> Kept | None:
    """What a member chose for themselves; None where nothing is set up."""
    row = Reminding.objects.filter(member=home.member_id).first()
    if row is None:
        return None
    return Kept(masked(row.address), known_kinds(row.about), row.on, row.quiet_from, row.quiet_until)


def keep(
    home: Home, address: str, about: Collection[str], *, on: bool, quiet_from: str = "", quiet_until: str = ""
) -> None:
    """Keep a member's choice; an empty address keeps the one that is there. Raises `CannotError`."""
    row = Reminding.objects.filter(member=home.member_id).first() or Reminding(member_id=home.member_id)
    if address.strip() or not row.address:
        row.address = checked(address)
    if bool(quiet_from) != bool(quiet_until) or not all(CLOCK.fullmatch(one or "00:00") for one in (
            quiet_from, quiet_until)):  # fmt: skip
        raise CannotError("Write both ends of the quiet hours, such as 22:00 and 06:30, or neither.")
    if on and not known_kinds(about):
        raise CannotError("Choose at least one thing to be reminded of.")
    row.about, row.on, row.quiet_from, row.quiet_until = list(known_kinds(about)), on, quiet_from, quiet_until
    row.save()


def remove(home: Home) -> None:
    """Forget a member's address and choice."""
    Reminding.objects.filter(member=home.member_id).delete()


def try_out(home: Home, title: str, body: str) -> None:
    """Send a message to the member's own address; raises `CannotError` where it did not get through."""
    row = Reminding.objects.filter(member=home.member_id).first()
    if row is None:
        raise CannotError("Set up where to send reminders first.")
    if not send(row.address, title, body):
        raise CannotError("It did not get through. Look at the address once more, and whether the service answers.")


# Sending


def tick(writes: Writes, *, now: int) -> int:
    """Send what is due to be told to everybody who wants it; how many messages went out."""
    if offered() != "yes":
        return 0
    if (old := Reminded.objects.filter(at__lt=now - _FORGET)).exists():
        old.delete()
    rows = Reminding.objects.filter(on=True, member__left=False, member__user__isnull=False).select_related("member")
    return sum(_one(row, writes, now) for row in rows)


def _one(row: Reminding, writes: Writes, now: int) -> bool:
    """One member's message, if there is one; what goes wrong with it stops nobody else's."""
    if _resting.get(row.pk, now) > now:
        return False
    try:
        return _tell(row, writes, now)
    except (GuidelineError, DatabaseError) as fault:
        _log.warning("No reminders for a member of a household: %s", type(fault).__name__)
        return False


def _tell(row: Reminding, writes: Writes, now: int) -> bool:
    home = _home(row)
    if home is None or board.clock_wrong(home.store, now):
        return False
    claimed = _claimed(row, _ready(row, home, now), now)
    if not claimed:
        return False
    title, body = writes(home, claimed, row.about, now)
    if send(row.address, title, body):
        return True
    # Not sent: to be tried again, but not every minute.
    _resting[row.pk] = now + REST
    Reminded.objects.filter(reminding=row, key__in=[_key(due) for due in claimed]).delete()
    _log.warning("A reminder did not get through; it is tried again later.")
    return False


def _home(row: Reminding) -> Home | None:
    user = row.member.user_id
    found = [] if user is None else people.homes_of(user)
    return next((one for one in found if one.member_id == row.member_id and may(one.role, "look")), None)


def _ready(row: Reminding, home: Home, now: int) -> list[Due]:
    """What is to be told now, and what would be within the hour, the earliest first; nothing in quiet hours."""
    zone = zone_named(board.manners(home.store, now=now)[0])
    quiet = Quiet(row.quiet_from, row.quiet_until, zone)
    if quiet.around(now) is not None:
        return []
    dues = agenda.agenda(home, now=now, days=_DAYS)
    moments = {
        one: quiet.moment(one.by - agenda.leads(one)[0], one.by)
        for one in dues
        if one.by > now and agenda.told(one, row.about) is not None
    }
    sent = set(Reminded.objects.filter(reminding=row).values_list("key", flat=True))
    new = {one: at for one, at in moments.items() if _key(one) not in sent}
    if all(at > now for at in new.values()):
        return []
    return [one for one, at in new.items() if at <= now + ALONG][:MOST]


def _claimed(row: Reminding, dues: Sequence[Due], now: int) -> list[Due]:
    """Those that are ours to tell: of several processes only one can write a key down."""
    return [due for due in dues if _claim(row, due, now)]


def _claim(row: Reminding, due: Due, now: int) -> bool:
    try:
        with transaction.atomic():
            Reminded.objects.create(reminding=row, key=_key(due), at=now)
    except IntegrityError:
        return False
    return True


def _key(due: Due) -> str:
    """The thing and its deadline: another deadline is told anew."""
    return f"{due.key}@{due.by // MINUTE}"
