"""The childcare services of a household: how each is described, and whose staff may look through its window."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from django.db import transaction

from thawline.core.guideline import GuidelineError, shipped
from thawline.records.accounts.models import Invitation, Member, Service, User
from thawline.records.ledger.store import DatabaseStore
from thawline.records.store import Store
from thawline.services import sessions
from thawline.services.acts import Act, written_now
from thawline.services.board import away_of, board, freezer_of
from thawline.services.childcare_window import Site, inside
from thawline.services.household import overlays
from thawline.services.people import CannotError, forget_users
from thawline.services.recording import line_of, new_act, record

_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)
LONGEST_NAME, LONGEST_CALLS = 80, 200


class ServiceNow(NamedTuple):
    """A childcare service: `rule` the id of the rule that counts there, `""` where it was not asked yet.

    `place` is its refrigerator's name in the ledger, `freezer` its freezer's; `closes` a clock time or `""`.
    `staff` are those who sign in for it.
    """

    name: str
    rule: str
    place: str
    closes: str
    calls: str
    staff: tuple[str, ...] = ()

    @property
    def freezer(self) -> str:
        """The name of its freezer in the ledger, whether it has one or not."""
        return freezer_of(self.place)

    @property
    def site(self) -> Site:
        """What tells its window from the household."""
        return Site(self.name, frozenset({self.place, self.freezer}))


def services(store: DatabaseStore) -> list[ServiceNow]:
    """The services of a household, in the order in which they came."""
    found = Service.objects.filter(household=store.id, left=False).prefetch_related("members")
    return [_now(one) for one in found]


def _now(one: Service) -> ServiceNow:
    staff = tuple(member.name for member in one.members.all() if not member.left and member.user_id is not None)
    return ServiceNow(one.name, one.rule, one.place, one.closes, one.calls, staff)


def service(store: DatabaseStore, name: str | None) -> ServiceNow | None:
    """The service of that name; None where the household has none such."""
    return next((one for one in services(store) if one.name == name), None)


def places(store: DatabaseStore) -> frozenset[str]:
    """The places of the household's ledger that are not at home: a service's refrigerator and freezer."""
    return away_of(store)


def in_window(store: DatabaseStore, service_name: str | None, *, now: int) -> list[str]:
    """The containers with milk that a service's staff may see and feed: what was handed to it and is still there."""
    found = service(store, service_name)
    return [] if found is None else list(inside(store, [found.site], now=now).there.get(found.name, ()))


def awaited(store: DatabaseStore, service_name: str | None, *, now: int) -> list[str]:
    """The containers that were given to the service without saying where they lie: it may note that they arrived."""
    found = service(store, service_name)
    return [] if found is None else list(inside(store, [found.site], now=now).awaited.get(found.name, ()))


def rules_shipped() -> dict[str, str]:
    """The childcare rules that may be chosen: their ids with their names."""
    return {one.id: one.name for one in overlays()}


def add(store: DatabaseStore, name: str, *, by: str, now: int, rule: str = "", temp_c: float | None = None,
        closes: str = "", calls: str = "") -> ServiceNow:  # fmt: skip
    """A new service, or one that was taken off and comes back; its refrigerator is described in the ledger.

    Raises `CannotError`.
    """
    name = _line(name, LONGEST_NAME)
    if not name:
        raise CannotError("Write the name of the service.")
    fields = _fields(rule, closes, calls)
    with transaction.atomic():
        there = Service.objects.select_for_update().filter(household=store.id, name=name).first()
        if there is not None and not there.left:
            raise CannotError(f"{name} is on the list already.")
        place = there.place if there is not None else _free(store, f"{name} refrigerator", now)
        _describe(store, place, temp_c, by=by, now=now)
        Service.objects.update_or_create(
            household_id=store.id, name=name, defaults={**fields, "place": place, "left": False}
        )
    return ServiceNow(name, fields["rule"], place, fields["closes"], fields["calls"])


def change(store: DatabaseStore, name: str, *, by: str, now: int, rule: str = "", temp_c: float | None = None,
           closes: str = "", calls: str = "") -> None:  # fmt: skip
    """Describe a service anew; its name stays, for what was handed over says it. Raises `CannotError`."""
    found = service(store, name)
    if found is None:
        raise CannotError("That service is not on the list.")
    fields = _fields(rule, closes, calls)
    with transaction.atomic():
        if temp_c is not None and temp_c != temperature(store, found, now=now):
            _describe(store, found.place, temp_c, by=by, now=now)
        Service.objects.filter(household=store.id, name=name).update(**fields)


def take_off(store: DatabaseStore, name: str) -> None:
    """End a service: its staff see nothing any more, its invitations open nothing; what was noted stays."""
    with transaction.atomic():
        found = Service.objects.select_for_update().filter(household=store.id, name=name, left=False).first()
        if found is None:
            raise CannotError("That service is not on the list.")
        Service.objects.filter(pk=found.pk).update(left=True)
        staff = Member.objects.filter(service=found)
        users = list(User.objects.filter(members__in=staff).values_list("pk", flat=True))
        staff.update(user=None, left=True, service=None)
        for user_id in users:
            if not sessions.elsewhere(user_id, store):
                sessions.sign_out_everywhere(user_id)
        forget_users(users)
        Invitation.objects.filter(service=found, used_at=None).update(withdrawn=True)


def temperature(store: Store, found: ServiceNow, *, now: int) -> float | None:
    """The last known temperature of its refrigerator, in degrees Celsius."""
    place = board(store, now=now).place(found.place)
    return None if place is None else place.temp_c


def has_freezer(store: Store, found: ServiceNow, *, now: int) -> bool:
    """Whether its freezer is described in the ledger."""
    return board(store, now=now).place(found.freezer) is not None


def give_freezer(store: DatabaseStore, found: ServiceNow, *, by: str, now: int) -> None:
    """Describe its freezer, of whose temperature nothing is known; once."""
    if not has_freezer(store, found, now=now):
        _describe(store, found.freezer, None, by=by, now=now, kind="freezer")


def _fields(rule: str, closes: str, calls: str) -> dict[str, str]:
    if rule and not _childcare(rule):
        raise CannotError("Choose one of the rules on the list, or none.")
    if closes and not _CLOCK.fullmatch(closes):
        raise CannotError("Write the time like 17:30.")
    return {"rule": rule, "closes": closes, "calls": _line(calls, LONGEST_CALLS)}


def _childcare(rule: str) -> bool:
    try:
        return shipped(rule).role == "childcare"
    except GuidelineError:
        return False


def _line(text: str, most: int) -> str:
    text = " ".join(text.split())
    if len(text) > most or "\0" in text:
        raise CannotError(f"That is too long: at most {most} characters.")
    return text


def _free(store: Store, wanted: str, now: int) -> str:
    """A name for a place that no place has yet, nor its freezer."""
    taken = {place.name for place in board(store, now=now).places}
    for name in _numbered(wanted):
        if not {name, freezer_of(name)} & taken:
            return name
    return wanted


def _numbered(wanted: str) -> Iterable[str]:
    yield wanted
    stem = wanted.removesuffix(" refrigerator")
    for number in range(2, 1000):
        yield f"{stem} {number} refrigerator"


def _describe(store: DatabaseStore, place: str, temp_c: float | None, *, by: str, now: int,
              kind: str = "refrigerator") -> None:  # fmt: skip
    seen = board(store, now=now)
    there = seen.place(place)
    if there is not None and there.kind == kind and temp_c in (None, there.temp_c):
        return
    act = Act(new_act(), by=by, at=written_now(now, seen.settings.zone))
    act.add("place", place=place, is_=kind, temp_c=temp_c)
    found = record(store, [line_of(event) for event in act.events], now=now, person=by)
    if found.refused:
        raise CannotError(found.refused[0].says)
