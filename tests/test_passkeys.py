"""Passkeys: made, shown and removed in a real browser with an authenticator of its own; a password stays enough.

The authenticator is Chromium's, over its DevTools protocol (WebAuthn domain). Where passkeys work: W3C Web
Authentication Level 3, 5.1.3 (a secure context, a domain name).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.test import Client
from playwright.sync_api import Browser, expect
from tests.browser import Phone, Server, screen
from tests.browser import browser as browser  # noqa: PLC0414  (a fixture)
from tests.browser import family as served_family
from tests.pages import Family, text
from tests.people import carer, outsider

PASSWORD = "owl-lantern-river"
family = served_family


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


@contextmanager
def phone_with_authenticator(browser: Browser, server: Server, kept: Any = None) -> Iterator[Phone]:
    """A phone whose authenticator says yes at once, under the name localhost."""
    there = Server(server.address.replace("127.0.0.1", "localhost"), server.folder, server.said)
    context = screen(browser)
    page = context.new_page()
    devtools = context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
               "isUserVerified": True, "automaticPresenceSimulation": True}  # fmt: skip
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    try:
        yield Phone(page, there)
    finally:
        context.close()


def sign_in(phone: Phone, word: str) -> None:
    phone.open("/sign-in/")
    phone.fill("Name to sign in with", "marta")
    phone.fill("Password", word)
    phone.tap("button", "Sign in")
    phone.sees("Stock")


def word_of(server: Server) -> str:
    return next(found[1] for line in server.said if (found := re.search(r"password (\S+)", line)))


@pytest.mark.slow
def test_a_passkey_is_made_and_then_opens_by_itself(browser: Browser, family: tuple[Server, Any]) -> None:
    server, word = family[0], word_of(family[0])
    with phone_with_authenticator(browser, server) as phone:
        sign_in(phone, word)
        phone.open("/passkeys/")
        phone.tap("link", "Make a passkey")
        phone.fill("Password", word)
        phone.tap("button", "Go on")
        phone.fill("A name for it, such as your phone's", "Kitchen phone")
        phone.tap("button", "Make it")
        phone.sees("Kitchen phone")
        phone.open("/sign-out/")
        phone.tap("button", "Sign out")
        phone.tap("button", "Sign in with a passkey")
        expect(phone.page.get_by_role("link", name="Cold stock")).to_be_visible()
        phone.open("/sign-out/")
        phone.tap("button", "Sign out")
        # The password alone still opens: a passkey stands in for it, and is no second step.
        sign_in(phone, word)
        phone.open("/passkeys/")
        phone.tap("link", "Remove")
        phone.fill("Password", word)
        phone.tap("button", "Go on")
        phone.tap("button", "Remove")
        phone.sees("You have none yet.")
        assert not phone.wrong, phone.wrong


@pytest.mark.slow
def test_a_stranger_comes_in_with_a_passkey_and_no_password(browser: Browser, family: tuple[Server, Any]) -> None:
    server = family[0]
    with phone_with_authenticator(browser, server) as mine:
        sign_in(mine, word_of(server))
        mine.open("/settings/people/invite/")
        mine.fill("Their name", "Otília")
        mine.tap("button", "Make the invitation")
        link = mine.page.locator("#link").input_value()
    path = "/join/" + link.split("/join/")[1]
    with phone_with_authenticator(browser, server) as theirs:
        theirs.open(path)
        theirs.fill("Name to sign in with", "otilia")
        theirs.tap("button", "With a passkey instead")
        theirs.sees("passkey for otilia")
        theirs.tap("button", "Make it, and come in")
        theirs.sees("Otília", "Stock")
        theirs.open("/sign-out/")
        theirs.tap("button", "Sign out")
        theirs.tap("button", "Sign in with a passkey")
        theirs.sees("Otília", "Stock")
        theirs.open("/passkeys/")
        theirs.sees("your only way in")
        theirs.open("/password/")
        theirs.tap("button", "Use the passkey")
        theirs.fill("New password", "harbour-thimble-quartz")
        theirs.fill("New password once more", "harbour-thimble-quartz")
        theirs.tap("button", "Set it")
        theirs.open("/passkeys/")
        theirs.sees_not("your only way in")
        theirs.open(path)
        theirs.sees("opens nothing")
        assert not theirs.wrong, theirs.wrong


@pytest.mark.parametrize(
    ("host", "secure", "offered", "says"),
    [
        ("localhost:8600", False, True, ""),
        ("milk.home.arpa", True, True, ""),
        ("192.168.7.20:8600", False, False, "encrypted connection"),
        ("milk.home.arpa", False, False, "encrypted connection"),
        ("192.168.7.20", True, False, "need a name"),
        ("127.0.0.1:8600", False, False, "need a name"),
        ("[::1]:8600", False, False, "need a name"),
    ],
)
def test_the_sign_in_offers_a_passkey_where_one_works_and_says_else_what_is_missing(
    home: Family, host: str, secure: bool, offered: bool, says: str
) -> None:
    page = BeautifulSoup(Client(headers={"host": host}).get("/sign-in/", secure=secure).content, "html.parser")
    assert bool(page.select("form[data-passkey]")) is offered
    assert says in text(page)


def authenticator_of(name: str) -> Authenticator:
    """A passkey that is only stored: no phone has it."""
    user = get_user_model().objects.get(username=name)
    made: Authenticator = Authenticator.objects.create(
        user=user, type="webauthn", data={"name": "Old phone", "credential": {}}
    )
    return made


def test_whoever_has_a_passkey_may_still_sign_in_with_the_password_alone(home: Family) -> None:
    authenticator_of("marta")
    answer = Client().post("/sign-in/", {"login": "marta", "password": PASSWORD})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")


def test_a_passkey_is_touched_only_after_the_password_once_more_and_by_its_owner(home: Family) -> None:
    key = authenticator_of("marta").pk
    others = [carer(home), outsider()]
    for address in ("/passkeys/add/", f"/passkeys/{key}/remove/", f"/passkeys/{key}/name/"):
        for answer in (home.phone.get(address), home.phone.post(address)):
            assert answer.headers["Location"].startswith("/again/"), address
    for phone in others:
        answer = phone.post("/again/", {"password": PASSWORD, "next": "/passkeys/"})
        if answer.status_code != 302:
            phone.post("/again/", {"password": "fern-copper-window", "next": "/passkeys/"})
        for address in (f"/passkeys/{key}/remove/", f"/passkeys/{key}/name/"):
            assert phone.get(address).status_code == 404 and phone.post(address).status_code == 404
    assert Authenticator.objects.filter(pk=key).exists()


def test_the_only_way_in_is_not_removed(home: Family) -> None:
    carer(home)
    user = get_user_model().objects.get(username="amélia")
    user.set_unusable_password()
    user.save()
    phone = Client()
    phone.force_login(user, backend=None)
    key = authenticator_of("amélia").pk
    session = phone.session
    session["account_authentication_methods_user"] = str(user.pk)
    session["account_authentication_methods"] = [
        {"method": "mfa", "type": "webauthn", "id": key, "at": 9e12, "reauthenticated": True}
    ]
    session.save()
    assert phone.get(f"/passkeys/{key}/remove/").status_code == 200
    assert phone.post(f"/passkeys/{key}/remove/").status_code == 302
    assert Authenticator.objects.filter(pk=key).exists()


@pytest.mark.parametrize(
    "credential",
    [
        "", "x", "{}", "[]", "null", '{"response": {}}', '{"response": {"userHandle": "MQ"}}', "9" * 9999, "[" * 99_999,
        '{"id": "MQ", "rawId": "MQ", "type": "public-key", "response": {"userHandle": "MQ", "signature": "x"}}',
        '{"id": "MQ", "rawId": "MQ", "type": "public-key", "response": 7}',
        '{"id": 1, "rawId": [], "type": "x", "response": {"userHandle": "////"}}',
    ],
)  # fmt: skip
def test_an_answer_that_is_none_signs_nobody_in_and_breaks_nothing(home: Family, credential: str) -> None:
    authenticator_of("marta")
    phone = Client(headers={"host": "localhost"})
    phone.get("/sign-in/passkey/", headers={"accept": "application/json"})
    answer = phone.post("/sign-in/passkey/", {"credential": credential})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/sign-in/")
    assert phone.get("/more/").status_code == 302


def test_trying_passkeys_has_to_wait(home: Family) -> None:
    phone = Client(headers={"host": "localhost"})
    answers = [phone.post("/sign-in/passkey/", {"credential": "{}"}).status_code for _ in range(11)]
    assert answers[-1] == 429
