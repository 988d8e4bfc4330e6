"""Signing in and out, passwords, and the list of phones."""

from __future__ import annotations

import time
from unittest import mock

import pytest
from allauth.usersessions.models import UserSession
from bs4 import BeautifulSoup
from django.conf import settings as site
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client
from pytest_django import Settings
from tests.pages import Family, text

from thawline.services import people, sessions

PASSWORD = "owl-lantern-river"
OLD_PHONE = "Mozilla/5.0 (X; Android 15) Mobile"
DESK = "Mozilla/5.0 (X11; Linux x86_64)"


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


def signed_in(agent: str = OLD_PHONE, password: str = PASSWORD) -> Client:
    """A phone on which the owner signed in by the page."""
    phone = Client(headers={"user-agent": agent})
    answer = phone.post("/sign-in/", {"login": "marta", "password": password})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/"), answer.content
    return phone


def is_in(phone: Client) -> bool:
    return phone.get("/more/").status_code == 200


def page_of(phone: Client, url: str) -> BeautifulSoup:
    return BeautifulSoup(phone.get(url).content, "html.parser")


def test_signing_in_leads_to_the_page_that_was_wanted(home: Family) -> None:
    phone = Client()
    wanted = phone.get("/more/").headers["Location"]
    page = page_of(phone, wanted)
    sent = home.fill(page, login="marta", password=PASSWORD)
    assert phone.post("/sign-in/", sent).headers["Location"] == "/more/"


def test_a_wrong_password_is_answered_calmly_and_never_shown_again(home: Family) -> None:
    answer = Client().post("/sign-in/", {"login": "marta", "password": "not-the-password"})
    assert b"do not fit together" in answer.content
    assert b"not-the-password" not in answer.content


@pytest.mark.parametrize("backend", ["memory", "database"])
def test_after_five_failures_even_the_right_password_has_to_wait(
    home: Family, backend: str, settings: Settings
) -> None:  # fmt: skip
    if backend == "database":
        stored = {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "thawline_cache"}
        settings.CACHES = {"default": stored}
        call_command("createcachetable", verbosity=0)
        cache.clear()
    phone = Client()
    right = {"login": "marta", "password": PASSWORD}
    for _ in range(5):
        assert "do not fit" in phone.post("/sign-in/", {**right, "password": "wrong"}).content.decode()
    for another in (phone, Client()):
        answer = another.post("/sign-in/", right)
        assert "wait five minutes" in answer.content.decode()
        assert not is_in(another)
    with mock.patch("allauth.core.internal.ratelimit.time.time", return_value=time.time() + 301):
        assert phone.post("/sign-in/", right).status_code == 302
    assert is_in(phone)


def test_many_tries_from_one_place_get_a_page_that_says_to_wait(home: Family) -> None:
    phone = Client()
    answers = [phone.post("/sign-in/", {"login": f"name{n}", "password": "x"}) for n in range(31)]
    assert answers[-1].status_code == 429
    assert b"Please wait five minutes" in answers[-1].content


def test_over_plain_http_from_another_machine_the_password_page_warns(home: Family) -> None:
    phone = Client(headers={"host": "192.168.7.20:8700"})
    page = page_of(phone, "/sign-in/")
    assert "password can be read" in text(page)
    assert page.select_one('main a[href="/https/"]') is not None
    assert "password can be read" not in text(BeautifulSoup(phone.get("/sign-in/", secure=True).content, "html.parser"))
    assert "password can be read" not in text(page_of(Client(headers={"host": "localhost"}), "/sign-in/"))


def test_after_signing_out_a_copied_cookie_is_dead(home: Family) -> None:
    phone = signed_in()
    thief = Client()
    thief.cookies[site.SESSION_COOKIE_NAME] = phone.cookies[site.SESSION_COOKIE_NAME].value
    assert is_in(thief)
    assert phone.get("/sign-out/").status_code == 200
    assert is_in(phone)
    phone.post("/sign-out/")
    assert not is_in(phone) and not is_in(thief)


def test_a_new_password_ends_every_other_phone_and_keeps_this_one(home: Family) -> None:
    mine, other = signed_in(), signed_in(DESK)
    form = {"oldpassword": PASSWORD, "password1": "lamp-harbour-violet", "password2": "lamp-harbour-violet"}
    answer = mine.post("/password/", form, follow=True)
    assert "other phones are signed out" in answer.content.decode()
    assert is_in(mine) and not is_in(other)
    assert Session.objects.count() == 1
    assert UserSession.objects.count() == 1
    assert not is_in(home.phone)
    signed_in(password="lamp-harbour-violet")


def test_a_new_password_needs_the_old_one_and_twelve_characters(home: Family) -> None:
    phone = signed_in()
    form = {"oldpassword": "wrong", "password1": "lamp-harbour-violet", "password2": "lamp-harbour-violet"}
    assert "not your password of today" in phone.post("/password/", form).content.decode()
    short = {"oldpassword": PASSWORD, "password1": "lamp", "password2": "lamp"}
    assert "at least 12 characters" in phone.post("/password/", short).content.decode()
    signed_in()


def test_the_phones_are_listed_with_the_one_in_hand_marked(home: Family) -> None:
    home.phone.logout()
    mine = signed_in()
    signed_in(DESK)
    page = text(page_of(mine, "/settings/phones/"))
    assert page.count("this one") == 1
    assert "A phone , this one" in page and "A computer" in page and "127.0.0.1" in page


def test_one_phone_is_signed_out_from_another(home: Family) -> None:
    mine, lost, third = signed_in(), signed_in(DESK), signed_in("tablet")
    key = lost.cookies[site.SESSION_COOKIE_NAME].value
    mine.post("/settings/phones/", {"phone": str(UserSession.objects.get(session_key=key).pk)})
    assert not is_in(lost)
    assert is_in(mine) and is_in(third)


def test_all_others_are_signed_out_at_once_also_those_that_are_not_listed(home: Family) -> None:
    mine, other = signed_in(), signed_in(DESK)
    assert is_in(home.phone)
    mine.post("/settings/phones/", {"phone": "others"})
    assert is_in(mine)
    assert not is_in(other) and not is_in(home.phone)


def test_nobody_signs_out_a_phone_of_someone_else(home: Family) -> None:
    people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    theirs = Client()
    theirs.post("/sign-in/", {"login": "olga", "password": "fern-copper-window"})
    row = UserSession.objects.get(user__username="olga")
    mine = signed_in()
    for phone in (str(row.pk), "0", "x", "²", ""):
        assert mine.post("/settings/phones/", {"phone": phone}).status_code == 404
    mine.post("/settings/phones/", {"phone": "others"})
    assert is_in(theirs)


@pytest.mark.parametrize(
    ("agent", "word"),
    [(OLD_PHONE, "phone"), ("X (Android 15)", "tablet"), ("X (iPad)", "tablet"), (DESK, "computer"), ("", "other")],
)
def test_a_device_is_named_by_what_it_is(agent: str, word: str) -> None:
    assert sessions.device(agent) == word


def test_nobody_signs_up_by_themselves(home: Family) -> None:
    for url in ("/sign-up/", "/signup/", "/accounts/signup/"):
        assert Client().get(url).status_code in (302, 404)
    page = page_of(Client(), "/sign-in/")
    assert all("sign" not in str(one["href"]) for one in page.select("main a"))
