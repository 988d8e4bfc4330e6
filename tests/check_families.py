"""Two invented families that share a childcare service's name and a carer, with milk for one, for two, for all."""

from __future__ import annotations

import io
from dataclasses import dataclass

import segno
from django.contrib.auth import get_user_model
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from tests import people as others
from tests.pages import ZONE, Family

from thawline.records.accounts.models import Member
from thawline.services import people, tags
from thawline.services.known import forget

BASE = "http://thawline.lan:8600"
ROOM = "Kingfisher room"
# Whose milk it is, told here once more and apart from the code: for which children each container is.
MEANT = {
    "KA34": {"Mira", "Ana", "Bela"}, "MI37": {"Mira"}, "AN39": {"Ana"}, "TW43": {"Mira", "Ana"},
    "KA35": {"Mira"}, "MA44": {"Mira", "Ana", "Bela"},
}  # fmt: skip
THEIRS = {"KA34": {"Olin"}, "RE47": {"Olin"}}
CHILDREN = ("Mira", "Ana", "Bela")


@dataclass
class Two:
    """Both families, and the phones of those who belong to both, by role."""

    mine: Family
    theirs: Family

    def address(self, code: str, *, of: Family | None = None) -> str:
        """What the QR code of a label says."""
        return tags.address(BASE, (of or self.mine).store, code)

    def child(self, name: str) -> str:
        """The answer of the form that means this child."""
        family = self.theirs if name == "Olin" else self.mine
        return f"{tags.tag_of(family.store)}/{name}"


def two(home: Family) -> Two:
    """The household of `pages.py` with two more children, and the one next door; all milk lies at both services."""
    for name in ("Ana", "Bela"):
        home.note("child", 24 * 300, child=name, born="2026-12-01", care="home")
    _milk(home, {"KA34": None, "MI37": "Mira", "AN39": "Ana", "KA35": "Mira", "FO44": "Mira", "FO47": "Ana",
                 "MA44": None})  # fmt: skip
    home.note("poured", 1, from_=[{"container": "FO44", "ml": 60}, {"container": "FO47", "ml": 60}], into="TW43")
    store = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    forget(store)
    theirs = Family(store, Client(), home.now)
    theirs.note("household", 24.0 * 400, zone=ZONE, guideline="cdc", units=["ml", "C"])
    theirs.note("place", 24.0 * 400, place="fridge", is_="refrigerator", temp_c=4)
    theirs.note("place", 24.0 * 400, place="counter", is_="room", temp_c=21)
    theirs.note("child", 24.0 * 300, child="Olin", born="2026-12-01", care="home")
    _milk(theirs, {"KA34": None, "RE47": "Olin"})
    for family, codes in ((home, MEANT), (theirs, THEIRS)):
        service = others.service(family, ROOM)
        for code in codes:
            family.note("handed_over", 0.5, container=code, to=service.name, place=service.place)
            family.note("received", 0.4, container=code, place=service.place)
    return Two(home, theirs)


def _milk(family: Family, meant: dict[str, str | None]) -> None:
    for code, child in meant.items():
        more = {"for_": child} if child else {}
        family.note("expressed", 3, into=[{"container": code, "ml": 60}], place="counter", **more)
        family.note("moved", 2.9, container=code, to="fridge")


def phone(both: Two, role: str, *, in_both: bool = True) -> Client:
    """The phone of someone of that role in the first family, and of the same role (an owner: a parent) next door."""
    name = {"owner": "Marta"}.get(role, others.NAMES[role])
    service = others.service(both.mine, ROOM) if role == "childcare" else None
    found = both.mine.phone if role == "owner" else others.member(both.mine, role, service=service)
    if in_both:
        there = others.service(both.theirs, ROOM) if role == "childcare" else None
        Member.objects.create(
            household_id=both.theirs.store.id, name=name, user=get_user_model().objects.get(username=name.casefold()),
            role="parent" if role == "owner" else role, service=there,
        )  # fmt: skip
    return found


def photo(text: str, name: str = "label.png") -> SimpleUploadedFile:
    """A photo of one QR code."""
    buffer = io.BytesIO()
    segno.make(text, error="m", micro=False).save(buffer, kind="png", scale=4)
    return SimpleUploadedFile(name, buffer.getvalue(), "image/png")
