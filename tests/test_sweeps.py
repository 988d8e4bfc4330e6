"""Every route, whatever it does, keeps these promises."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from unittest import mock

import pytest
from bs4 import BeautifulSoup
from django.apps import apps
from django.contrib.auth import get_user_model
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from tests.pages import Family, family
from tests.people import childcare, service

from thawline.faces.doors import DOORS
from thawline.faces.web.views import milk
from thawline.records.accounts.models import Member
from thawline.services import invitations, people, recording
from thawline.services.tags import tag_of

# What a stranger may see: how to sign in, cautions, how to have a connection that nobody can listen to, an invitation.
OPEN = {"account_login", "web:cautions", "web:https", "web:join"}
ACT = "01990000-0000-7000-8000-000000000001"


def routes(resolver: URLResolver | None = None, prefix: str = "", space: str = "") -> Iterator[tuple[str, str]]:
    """Every route: its name and its pattern."""
    for one in (resolver or get_resolver()).url_patterns:
        pattern = prefix + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from routes(one, pattern, f"{one.namespace}:" if one.namespace else space)
        elif isinstance(one, URLPattern):
            yield f"{space}{one.name}", pattern


def addresses(values: dict[str, list[str]]) -> Iterator[tuple[str, str]]:
    """Every address that the routes make of these values."""
    for name, pattern in routes():
        found = [pattern.lstrip("^").rstrip("$")]
        for part in re.findall(r"<(?:\w+:)?\w+>", pattern):
            key = part.strip("<>").partition(":")[2] or part.strip("<>")
            filled = values.get(f"{name}.{key}") or values[key]
            found = [one.replace(part, value) for one in found for value in filled]
        yield from ((name, f"/{one}") for one in found)


@pytest.fixture
def both(home: Family) -> tuple[Family, dict[str, list[str]], dict[str, list[str]]]:
    """A household with milk of many kinds, what its addresses are made of, and the same of another household."""
    mine = _filled(home, "KA34", ACT)
    other = people.begin(household="Elsewhere", name="Ana", username="ana", password="heron-basket-north")
    theirs = "HE99"
    events: list[dict[str, Any]] = [
        {"kind": "household", "zone": "Europe/Lisbon", "guideline": "cdc"},
        {"kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": 4},
        {"kind": "expressed", "into": [{"container": theirs, "ml": 70}], "place": "fridge"},
    ]
    lines = [{"id": f"{ACT[:-1]}9.{n}", "at": home.at(2), **event} for n, event in enumerate(events)]
    recording.record(other, [recording.line_of(line) for line in lines], now=home.now)
    key = str(Member.objects.get(household=other.id).pk)
    foreign = {
        "code": [theirs], "event_id": [f"{ACT[:-1]}9.2"], "act": [f"{ACT[:-1]}9"], "tag": [tag_of(other)], "key": [key],
    }  # fmt: skip
    return home, mine, {**mine, **foreign}


def _filled(home: Family, code: str, act: str) -> dict[str, list[str]]:
    line = {"id": f"{act}.0", "at": home.at(3), "kind": "expressed", "into": [{"container": code, "ml": 90}],
            "place": "fridge"}  # fmt: skip
    recording.record(home.store, [recording.line_of(line)], now=home.now)
    home.expressed("FE44", 100, 24 * 9, place="freezer")
    home.expressed("RA77", 80, 1, place="counter")
    home.expressed("PA73", 60, 24 * 6)
    home.expressed("TU33", 60, 3)
    home.note("held", 1, container="TU33", why="medicine")
    home.note("moved", 1, container="NOSUCH", to="fridge")
    return {
        "code": [code, "FE44", "RA77", "PA73", "TU33"],
        "verb": list(milk.VERBS),
        "event_id": [f"{act}.0"],
        "act": [act],
        "key": [str(Member.objects.get(household=home.store.id, role="owner").pk)],
        "tag": [tag_of(home.store)],
        "pk": ["1"],
        "secret": ["A" * 43],
        "web:join.secret": [_invitation(home)],
        "web:care_do.verb": ["received", "feed", "nothing"],
    }


def _invitation(home: Family) -> str:
    marta = people.home_of(get_user_model().objects.get(username="marta").pk)
    assert marta is not None
    return invitations.invite(marta, name="Amélia", role="carer", service=None, hours=48, now=home.now)


Both = tuple[Family, dict[str, list[str]], dict[str, list[str]]]


def _everything() -> dict[str, list[Any]]:
    """All that is stored, but sessions, which signing in makes."""
    return {
        model.__name__: list(model._default_manager.order_by("pk").values())
        for model in apps.get_models()
        if model.__name__ != "Session"
    }


def test_a_stranger_is_led_to_the_sign_in_from_every_route(both: Both) -> None:
    _, mine, _ = both
    stranger = Client()
    for name, address in addresses(mine):
        for answer in (stranger.get(address), stranger.post(address)):
            if name in OPEN:
                assert answer.status_code in (200, 405, 422), (name, address)
            elif name == "calendar:read":
                assert answer.status_code in (404, 405), (name, address)
            elif name == "web:begin":
                assert answer.status_code in (302, 404), (name, address, answer.status_code)
            else:
                assert answer.status_code == 302, (name, address, answer.status_code)
                assert answer.headers["Location"].startswith(("/sign-in/", "/begin/")), (name, address)


def test_what_belongs_to_another_household_is_not_found(both: Both) -> None:
    home, mine, theirs = both
    own = dict(addresses(mine))
    seen = 0
    for name, address in addresses(theirs):
        if address == own.get(name) or not re.search(rf"/(HE99|{theirs['tag'][0]}|{ACT[:-1]}[.9])", address):
            continue
        if DOORS[name] == "open":
            continue
        seen += 1
        methods = {"get": home.phone.get(address), "post": home.phone.post(address, {"act": ACT[:-1] + "5"})}
        for method, answer in methods.items():
            assert answer.status_code in (404, 405), (name, method, address, answer.status_code)
        assert any(answer.status_code == 404 for answer in methods.values()), (name, address)
    assert seen > 10
    assert "HE99" not in home.see("/stock/").get_text()


def test_reading_changes_nothing(both: Both) -> None:
    home, mine, _ = both
    before = _everything()
    for name, address in addresses(mine):
        answer = home.phone.get(address)
        hops = 0
        while answer.status_code == 302 and hops < 4:
            answer = home.phone.get(answer.headers["Location"])
            hops += 1
        refused = 403 if DOORS[name] == "serve" else 422
        assert answer.status_code in (200, 404, 405, refused), (name, address, answer.status_code)
        assert _everything() == before, (name, address)


def test_a_form_without_its_token_is_refused(both: Both) -> None:
    home, mine, _ = both
    phone = Client(enforce_csrf_checks=True)
    phone.force_login(get_user_model().objects.get(username="marta"), backend=None)
    before = _everything()
    for name, address in addresses(mine):
        answer = phone.post(address, {"act": ACT[:-1] + "6", "ml_1": "50", "to": "freezer"})
        assert answer.status_code in (403, 405), (name, address, answer.status_code)
    assert _everything() == before
    assert home.now


def pages(home: Family, mine: dict[str, list[str]]) -> Iterator[tuple[str, BeautifulSoup]]:
    """Every page that can be read, after redirects, by the owner or by childcare staff."""
    staff = childcare(home, service=service(home))
    for name, address in addresses(mine):
        answer = (staff if DOORS[name] == "serve" else home.phone).get(address, follow=True)
        if answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html"):
            yield address, BeautifulSoup(answer.content, "html.parser")


def test_no_page_loads_anything_from_elsewhere_nor_runs_what_stands_in_it(both: Both) -> None:
    home, mine, _ = both
    for address, page in pages(home, mine):
        for one in page.select("[src], link[href], use[href]"):
            where = str(one.get("src") or one.get("href"))
            assert where.startswith(("/static/", "#")), (address, where)
        for form in page.select("form[action]"):
            assert str(form["action"]).startswith(("/", "?")), (address, form["action"])
        assert not page.select("[style], style, [onclick], [onchange]"), address
        assert not [one for one in page.select("script") if one.string], address


def test_no_page_calls_milk_safe(both: Both) -> None:
    home, mine, _ = both
    for address, page in pages(home, mine):
        for one in page.select(".source, cite"):  # a publication may bear the word in its title
            one.decompose()
        found = re.search(r"\b(un)?safe(ly|ty|r)?\b", page.get_text(" "), re.IGNORECASE)
        assert found is None, (address, page.get_text(" ")[max(0, found.start() - 60) : found.end() + 40])


def test_every_page_has_one_heading_a_title_a_language_and_its_cautions(both: Both) -> None:
    home, mine, _ = both
    for address, page in pages(home, mine):
        assert len(page.select("h1")) == 1, (address, [one.text for one in page.select("h1")])
        assert page.title is not None and page.title.text.split("·")[0].strip(), address
        assert page.select_one("html[lang]") is not None, address
        assert "in hospital" in page.get_text(" ") or "hospitalised" in page.get_text(" "), address
        ids = [str(one["id"]) for one in page.select("[id]")]
        assert len(ids) == len(set(ids)), (address, sorted({one for one in ids if ids.count(one) > 1}))


def test_every_form_that_posts_carries_its_token_and_an_act(both: Both) -> None:
    home, mine, _ = both
    for address, page in pages(home, mine):
        for form in page.select("form"):
            if str(form.get("method", "get")).lower() == "post":
                assert form.select_one("input[name=csrfmiddlewaretoken]"), address


def test_headers_forbid_what_is_not_needed(both: Both) -> None:
    home, mine, _ = both
    for name, address in addresses(mine):
        answer = home.phone.get(address)
        assert "default-src 'self'" in answer.headers["Content-Security-Policy"], name
        assert answer.headers["X-Content-Type-Options"] == "nosniff", name
        assert answer.headers["X-Frame-Options"] == "DENY", name
        assert "no-store" in answer.headers["Cache-Control"], name


def test_two_households_with_one_name_for_their_milk_do_not_meet(db: None) -> None:
    one = family()
    with mock.patch("thawline.services.present.now", side_effect=lambda: one.now):
        one.expressed("KA34", 120, 3)
        other = people.begin(household="Elsewhere", name="Ana", username="ana", password="heron-basket-north")
        assert not other.group("settings")
        assert list(other.lines()) == []
