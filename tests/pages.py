"""A household for tests of the pages: set up, signed in, with the clock held still."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from unittest import mock

import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.test import Client

from thawline.core.replay import moment
from thawline.core.times import HOUR, written, zone_named
from thawline.services import people, recording
from thawline.services.known import forget

ZONE = "Europe/Lisbon"
NOW = "2027-02-03T14:00:00+00:00"


@dataclass
class Family:
    """An invented household and the phone of its owner; `hours` moves the clock."""

    store: Any
    phone: Client
    now: int
    number: int = 0
    settings: list[dict[str, Any]] = field(default_factory=list)

    def at(self, hours_ago: float = 0) -> str:
        """An instant so many hours before now, as written."""
        return written(self.now - int(hours_ago * HOUR), zone_named(ZONE))

    def note(self, kind: str, hours_ago: float = 0, **fields: Any) -> str:
        """Record one event, some hours ago; returns its id."""
        self.number += 1
        name = f"note-{self.number}"
        event = {"id": name, "at": self.at(hours_ago), "kind": kind, "by": "Marta"}
        event |= {key.rstrip("_"): value for key, value in fields.items()}
        found = recording.record(self.store, [recording.line_of(event)], now=self.now)
        assert not found.refused, found.refused
        return name

    def expressed(self, code: str, ml: float, hours_ago: float = 0, *, place: str = "fridge") -> str:
        """Milk expressed on the counter, put into a place a minute later."""
        name = self.note("expressed", hours_ago, into=[{"container": code, "ml": ml}], place="counter")
        if place != "counter":
            self.note("moved", hours_ago - 0.01, container=code, to=place)
        return name

    def hours(self, hours: float) -> None:
        """Let time pass."""
        self.now += int(hours * HOUR)

    def see(self, url: str, status: int = 200, **extra: Any) -> BeautifulSoup:
        """A page as it is read, after following redirects."""
        answer = self.phone.get(url, follow=True, **extra)
        assert answer.status_code == status, (url, answer.status_code)
        return BeautifulSoup(answer.content, "html.parser")

    def send(self, url: str, data: dict[str, Any] | None = None, status: int = 200) -> BeautifulSoup:
        """A form sent, and the page that answers after redirects."""
        answer = self.phone.post(url, data or {}, follow=True)
        assert answer.status_code == status, (url, answer.status_code, answer.content[:400])
        return BeautifulSoup(answer.content, "html.parser")

    def fill(self, page: BeautifulSoup, action: str | None = None, **fields: Any) -> dict[str, Any]:
        """What a form on the page would send: its own values, with these put in."""
        form = page.select_one(f'form[action="{action}"]') if action else page.select_one("main form[method=post]")
        assert form is not None, action
        sent: dict[str, Any] = {}
        for one in form.select("input[name], select[name], textarea[name]"):
            kind, name = one.get("type", ""), str(one["name"])
            if kind in ("radio", "checkbox") and not one.has_attr("checked"):
                continue
            if one.name == "select":
                chosen = one.select_one("option[selected]") or one.select_one("option")
                sent[name] = chosen.get("value", chosen.text) if chosen else ""
            elif one.name == "textarea":
                sent[name] = one.text
            else:
                sent[name] = one.get("value", "on" if kind == "checkbox" else "")
        return sent | fields


def text(page: BeautifulSoup) -> str:
    """What a page says, with single spaces."""
    main = page.find("main") or page
    return " ".join(main.get_text(" ").split())


def family(now: str = NOW, *, guideline: str = "cdc") -> Family:
    """A household with a counter, a fridge, a freezer, a cooler bag and one child."""
    at = moment(now)
    store = people.begin(household="Lisbon kitchen", name="Marta", username="marta", password="owl-lantern-river")
    forget(store)
    found = Family(store, Client(), at)
    long_ago = 24.0 * 400
    found.note("household", long_ago, zone=ZONE, guideline=guideline, units=["ml", "C"])
    for place, is_, temp_c in (
        ("counter", "room", 21),
        ("fridge", "refrigerator", 4),
        ("freezer", "freezer", -18),
        ("cooler bag", "cooler", 4),
    ):
        found.note("place", long_ago, place=place, is_=is_, temp_c=temp_c)
    found.note("child", long_ago, child="Mira", born="2026-12-01", care="home")
    people.add_person(store, "Rui")
    found.phone.force_login(get_user_model().objects.get(username="marta"), backend=None)
    return found


@pytest.fixture
def home(db: None) -> Iterator[Family]:
    """A family whose clock stands still until the test moves it."""
    found = family()
    with mock.patch("thawline.services.present.now", side_effect=lambda: found.now):
        yield found
