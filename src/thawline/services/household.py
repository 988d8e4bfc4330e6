"""A household described: its zone, units, children, places and guideline, and what a change of them would alter."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple
from zoneinfo import available_timezones

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from thawline.core.guideline import Guideline, default_id, shipped, shipped_ids
from thawline.core.times import BadTimeError, zone_named
from thawline.records.accounts.models import User
from thawline.records.ledger.store import DatabaseStore
from thawline.services.acts import Act
from thawline.services.board import Board
from thawline.services.people import CannotError, begin, owner_exists
from thawline.services.recording import line_of, record

AMOUNTS = ("ml", "fl_oz")
TEMPS = ("C", "F")
CARES = ("home", "hospital")


class Usual(NamedTuple):
    """A place that most homes have; how warm it is only the family can say."""

    key: str
    kind: str


PRESET = (
    Usual("counter", "room"),
    Usual("fridge", "refrigerator"),
    Usual("freezer", "freezer"),
    Usual("cooler bag", "cooler"),
)


@cache
def zones() -> tuple[str, ...]:
    """Every zone that may be chosen, by name."""
    return tuple(sorted(name for name in available_timezones() if "/" in name or name == "UTC"))


def zone_here() -> str:
    """The zone that this computer is set to; `UTC` where that can't be told."""
    found = "/".join(Path("/etc/localtime").resolve().parts).rpartition("zoneinfo/")[2]
    return found if known_zone(found) else "UTC"


def known_zone(name: str) -> bool:
    """Whether there is a zone of that name."""
    try:
        zone_named(name)
    except BadTimeError:
        return False
    return bool(name)


def homes() -> list[Guideline]:
    """The guidelines for a home, the usual one first."""
    return [one for one in map(shipped, shipped_ids()) if one.role == "home"]


def overlays() -> list[Guideline]:
    """The childcare rules that may be in force beside a guideline."""
    return [one for one in map(shipped, shipped_ids()) if one.role == "childcare"]


def usual_guideline() -> str:
    """The id of the guideline in force where none is chosen."""
    return default_id()


def password_faults(password: str, username: str) -> list[str]:
    """What is to be mended in a password; empty where it will do."""
    try:
        validate_password(password, User(username=username))
    except ValidationError as fault:
        return list(fault.messages)
    return []


def username_faults(username: str) -> list[str]:
    """What is to be mended in a sign-in name; empty where it will do."""
    try:
        User(username=username).clean_fields(exclude=["password"])
    except ValidationError as fault:
        return list(fault.messages)
    return []


def found(act: Act, *, household: str, name: str, username: str, password: str, now: int) -> DatabaseStore:
    """Make the household, its owner and the events that describe it: all or nothing; raises `CannotError`."""
    with transaction.atomic():
        if owner_exists():
            raise CannotError("This computer has a household already.")
        store = begin(household=household, name=name, username=username, password=password)
        done = record(store, [line_of(event) for event in act.events], now=now, person=name)
        if done.refused:
            raise CannotError(" ".join(refusal.says for refusal in done.refused))
    return store


def describe(act: Act, *, zone: str, guideline: str, also: Sequence[str], units: tuple[str, str]) -> None:
    """Write down the household as a whole: the last such event counts."""
    act.add("household", zone=zone, guideline=guideline, also=list(also) or None, units=list(units))


def redescribe(
    act: Act, board: Board, *, zone: str | None = None, guideline: str | None = None,
    also: Sequence[str] | None = None, units: tuple[str, str] | None = None,
) -> None:  # fmt: skip
    """Write down the household with some of it changed; nothing where nothing is."""
    old = board.settings
    now = (old.zone, old.guideline or default_id(), tuple(old.also), board.units)
    new = (zone or now[0], guideline or now[1], now[2] if also is None else tuple(also), units or now[3])
    if new != now:
        describe(act, zone=new[0], guideline=new[1], also=new[2], units=new[3])


def place(act: Act, name: str, *, kind: str, temp_c: float | None) -> None:
    """Write down a place with its usual temperature in degrees Celsius."""
    act.add("place", place=name, is_=kind, temp_c=temp_c)


def child(act: Act, name: str, *, born: str, care: str) -> None:
    """Write down a child: the day of birth, and whether a hospital's care team gives the rules."""
    act.add("child", child=name, born=born, care=care)
