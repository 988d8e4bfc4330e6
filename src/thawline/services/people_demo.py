"""Sign-ins of the invented household beside its owner's: the grandmother, and someone at the childcare service."""

from __future__ import annotations

from typing import NamedTuple

from thawline.core.times import DAY
from thawline.records.accounts.models import Member
from thawline.records.ledger.store import DatabaseStore
from thawline.services import invitations, people
from thawline.services.demo import GRANDMOTHER


class SignIn(NamedTuple):
    """Under which name somebody signs in, what they are called, and their role."""

    username: str
    name: str
    role: str


SIGN_INS = (SignIn("celeste", GRANDMOTHER, "carer"), SignIn("nadia", "Nádia", "childcare"))


def let_in(store: DatabaseStore, *, password: str, now: int) -> None:
    """Invite them and let them come in, all with one password."""
    owner = Member.objects.get(household=store.id, role="owner")
    home = people.home_of(owner.user_id or 0)
    service = next((key for key, _name in invitations.services(store)), None)
    for one in SIGN_INS:
        if home is None or (one.role == "childcare" and service is None):
            continue
        at = now - DAY
        secret = invitations.invite(home, name=one.name, role=one.role, service=service, hours=48, now=at)
        invitations.join_anew(secret, username=one.username, password=password, now=at)
