"""An invitation lets one person in, once, in the role it names; a spent one opens nothing and tells nothing."""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.db import connection
from django.test import Client
from tests.pages import Family, text
from tests.people import carer, member, outsider, service, signed_in
from tests.postgres import on

from thawline.core.times import DAY, HOUR
from thawline.records.accounts.models import Invitation, Member
from thawline.services import invitations, people
from thawline.services.invitations import SpentError
from thawline.services.people import CannotError, Home

FRESH = {"username": "amelia", "password": "bramble-kettle-harbour"}


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


def at_home(home: Family, name: str = "marta") -> Home:
    """The household as that person has it."""
    found = people.home_of(get_user_model().objects.get(username=name).pk)
    assert found is not None
    return found


def invited(home: Family, name: str = "Amélia", role: str = "carer", hours: int = 48, **more: Any) -> str:
    """The secret of an invitation that the owner made."""
    more.setdefault("service", None)
    return invitations.invite(at_home(home), name=name, role=role, hours=hours, now=home.now, **more)


def test_the_page_shows_the_link_once_as_text_and_as_a_picture(home: Family) -> None:
    page = home.send("/settings/people/invite/", {"name": "Amélia", "role": "carer", "hours": "48"})
    shown = page.select_one("textarea#link")
    assert shown is not None and page.select_one(".qr svg") is not None
    address = shown.text.strip()
    assert address.startswith("http://testserver/join/")
    secret = address.split("/")[-2]
    assert secret not in str(home.see("/settings/people/invite/"))
    row = Invitation.objects.get()
    assert secret not in str(vars(row)) and len(row.digest) == 64
    assert "Amélia" in text(home.see("/settings/people/invite/"))


def test_the_picture_says_the_link(home: Family) -> None:
    """An independent reader, zxing-cpp, reads it."""
    zxingcpp = pytest.importorskip("zxingcpp")
    segno_png = pytest.importorskip("PIL.Image")
    page = home.send("/settings/people/invite/", {"name": "Amélia", "role": "carer", "hours": "48"})
    drawn = page.select_one(".qr svg")
    link = page.select_one("textarea#link")
    assert drawn is not None and link is not None
    dark = [one for one in drawn.select("path") if one.get("stroke") == "#000"]
    size = int(str(drawn.get("viewbox") or drawn["viewBox"]).split()[2])
    image = segno_png.new("L", (size * 4, size * 4), 255)
    pixels = image.load()
    for x, y, length in runs(str(dark[0]["d"])):
        for i in range(x * 4, (x + length) * 4):
            for j in range(y * 4, (y + 1) * 4):
                pixels[i, j] = 0
    assert [one.text for one in zxingcpp.read_barcodes(image)] == [link.text.strip()]


def runs(path: str) -> list[tuple[int, int, int]]:
    """The level strokes of a drawing: where each begins, and how long it is (SVG 2, 9.3: M, m, h)."""
    found, x, y = [], 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([^Mmh]*)", path):
        values = [float(one) for one in re.findall(r"-?\d*\.?\d+", numbers)]
        if letter == "h":
            found.append((int(x), int(y), int(values[0])))
            x += values[0]
        else:
            x, y = (values[0], values[1]) if letter == "M" else (x + values[0], y + values[1])
    return found


def test_a_stranger_comes_in_with_a_new_sign_in_in_the_role_named(home: Family) -> None:
    secret, phone = invited(home), Client()
    page = BeautifulSoup(phone.get(f"/join/{secret}/").content, "html.parser")
    assert "Lisbon kitchen" in text(page) and "Amélia" in text(page)
    answer = phone.post(f"/join/{secret}/", FRESH)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")
    found = at_home(home, "amelia")
    assert (found.role, found.member, found.name) == ("carer", "Amélia", "Lisbon kitchen")
    assert phone.get("/").status_code == 200 and phone.get("/settings/").status_code == 403


def test_looking_at_an_invitation_does_not_use_it(home: Family) -> None:
    secret = invited(home)
    for _ in range(5):
        assert Client().get(f"/join/{secret}/").status_code == 200
        assert Client().head(f"/join/{secret}/").status_code in (200, 405)
    assert Client().post(f"/join/{secret}/", FRESH).status_code == 302


def test_a_wrong_password_or_a_taken_name_leaves_the_invitation_open(home: Family) -> None:
    secret = invited(home)
    for wrong in ({"password": "short"}, {"username": ""}, {"username": "MARTA"}, {"username": "a b c"},
                  {"password": "password1234"}, {"username": "ma\0rta"}):  # fmt: skip
        answer = Client().post(f"/join/{secret}/", FRESH | wrong)
        assert answer.status_code == 422, wrong
        assert "bramble-kettle" not in answer.content.decode()
    assert Client().post(f"/join/{secret}/", FRESH).status_code == 302


def spent(home: Family, how: str) -> str:
    """The secret of an invitation that opens nothing any more."""
    secret = invited(home, hours=1)
    if how == "used":
        Client().post(f"/join/{secret}/", FRESH | {"username": "someone"})
    elif how == "withdrawn":
        assert invitations.withdraw(home.store, Invitation.objects.get().pk)
    elif how == "expired":
        home.now += HOUR
    return secret if how != "unknown" else secret[:-1] + ("A" if secret[-1] != "A" else "B")


@pytest.mark.parametrize("how", ["used", "withdrawn", "expired", "unknown"])
def test_a_spent_invitation_opens_nothing_and_every_kind_gets_the_same_page(home: Family, how: str) -> None:
    secret = spent(home, how)
    before = get_user_model().objects.count(), Member.objects.filter(user__isnull=False).count()
    known = outsider()
    pages = set()
    for phone in (Client(), known):
        for answer in (phone.get(f"/join/{secret}/"), phone.post(f"/join/{secret}/", FRESH | {"way": "here"})):
            assert answer.status_code == 404
            page = BeautifulSoup(answer.content, "html.parser")
            pages.add(text(page))
            assert "Lisbon" not in page.get_text() and "Amélia" not in page.get_text()
    assert len(pages) == 1 and "opens nothing" in pages.pop()
    after = get_user_model().objects.count(), Member.objects.filter(user__isnull=False).count()
    assert after == (before[0] + 1, before[1] + 1), "the neighbour alone is new"


@pytest.mark.parametrize("secret", ["x", "A" * 43, "A" * 5000, "%00", "ü" * 43, "..", "A" * 42 + "%0a"])
def test_nonsense_in_the_place_of_a_secret_opens_nothing(home: Family, secret: str) -> None:
    assert Client().get(f"/join/{secret}/").status_code == 404


def test_the_secret_is_not_written_to_the_log(home: Family, caplog: pytest.LogCaptureFixture) -> None:
    secret = invited(home)
    with caplog.at_level(logging.DEBUG):
        Client().get(f"/join/{secret}/")
        Client().post(f"/join/{secret}/", {"username": ""})
        Client().post(f"/join/{secret}/", FRESH)
        Client().get(f"/join/{secret}/")
    assert secret not in caplog.text


def test_the_invitations_page_tells_nobody_from_where_one_came(home: Family) -> None:
    answer = Client().get(f"/join/{invited(home)}/")
    assert answer.headers["Referrer-Policy"] == "no-referrer" and "no-store" in answer.headers["Cache-Control"]


def test_trying_addresses_has_to_wait(home: Family) -> None:
    answers = [Client().get(f"/join/{'A' * 43}/").status_code for _ in range(31)]
    assert answers[-2:] == [404, 429]
    assert Client(REMOTE_ADDR="10.0.0.9").get(f"/join/{'A' * 43}/").status_code == 404


def test_someone_of_another_household_comes_in_with_the_sign_in_they_have(home: Family) -> None:
    phone = outsider()
    secret = invited(home, name="Olga of next door")
    assert b"signed in here as" in phone.get(f"/join/{secret}/").content
    # A form filled in for a stranger on a phone where somebody is signed in makes no second sign-in.
    assert phone.post(f"/join/{secret}/", FRESH).status_code == 200
    assert not get_user_model().objects.filter(username="amelia").exists()
    assert phone.post(f"/join/{secret}/", {"way": "here"}).status_code == 302
    user = get_user_model().objects.get(username="olga")
    assert [(one.name, one.role) for one in people.homes_of(user.pk)] == [
        ("Next door", "owner"), ("Lisbon kitchen", "carer")
    ]  # fmt: skip
    assert "Lisbon kitchen" in text(BeautifulSoup(phone.get("/homes/").content, "html.parser"))
    assert b"Lisbon kitchen" in phone.get("/").content


def test_of_two_households_of_one_name_the_one_that_invited_opens(home: Family) -> None:
    phone = outsider(household="Lisbon kitchen")
    home.expressed("FAH3", 90, 3)
    phone.post(f"/join/{invited(home, name='Olga')}/", {"way": "here"})
    assert b"FAH3" in phone.get("/stock/").content


def test_who_belongs_here_already_does_not_use_up_an_invitation(home: Family) -> None:
    secret = invited(home)
    answer = home.phone.post(f"/join/{secret}/", {"way": "here"})
    assert answer.status_code == 422 and b"belong to this household already" in answer.content
    assert Client().post(f"/join/{secret}/", FRESH).status_code == 302


def test_a_name_on_the_list_becomes_theirs_with_what_was_noted_under_it(home: Family) -> None:
    home.note("stocked", 2, container="FAH3", ml=90, place="freezer", expressed="2027-01-20", by="Rui")
    before = Member.objects.get(name="Rui").pk
    Client().post(f"/join/{invited(home, name='Rui', role='parent')}/", FRESH)
    row = Member.objects.get(name="Rui")
    assert (row.pk, row.role, row.user.username if row.user else "") == (before, "parent", "amelia")
    assert "Rui" in text(home.see("/history/?who=Rui"))


def test_nobody_is_invited_under_the_name_of_someone_who_signs_in(home: Family) -> None:
    for name in ("Marta", "marta", " MARTA "):
        page = home.send("/settings/people/invite/", {"name": name, "role": "parent", "hours": "1"}, 422)
        assert "signs in here already" in text(page)


@pytest.mark.parametrize("role", ["owner", "admin", "", "childcare"])
def test_no_role_is_given_that_may_not_be(home: Family, role: str) -> None:
    sent = {"name": "Amélia", "role": role, "hours": "48", "service": "1"}
    assert home.phone.post("/settings/people/invite/", sent).status_code == 422
    parent = member(home, "parent")
    assert parent.post("/settings/people/invite/", sent).status_code == 422
    assert not Invitation.objects.exists()


def test_a_carer_invites_nobody_also_below_the_page(home: Family) -> None:
    assert carer(home).post("/settings/people/invite/", {"name": "X", "role": "carer", "hours": "1"}).status_code == 403
    with pytest.raises(CannotError):
        invitations.invite(at_home(home, "amélia"), name="X", role="carer", service=None, hours=1, now=home.now)


def test_childcare_is_invited_to_a_service_of_this_household_only(home: Family) -> None:
    ours = service(home)
    there = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    theirs = ours.__class__.objects.create(household_id=there.id, name="Elsewhere", place="fridge")
    for key in (theirs.pk, 10**15, None):
        with pytest.raises(CannotError):
            invited(home, name="Iris", role="childcare", service=key)
    phone = Client()
    phone.post(f"/join/{invited(home, name='Iris', role='childcare', service=ours.pk)}/", FRESH)
    assert at_home(home, "amelia").service == ours.name


@pytest.mark.parametrize("hours", [1, 48, 168])
def test_an_invitation_is_open_for_the_hours_chosen_and_not_a_moment_longer(home: Family, hours: int) -> None:
    secret = invited(home, hours=hours)
    assert invitations.find(secret, now=home.now + hours * HOUR - 1) is not None
    assert invitations.find(secret, now=home.now + hours * HOUR) is None
    with pytest.raises(SpentError):
        invitations.join_anew(secret, username="late", password="x", now=home.now + hours * HOUR)
    assert not get_user_model().objects.filter(username="late").exists()


def test_an_hour_that_is_not_on_offer_is_refused(home: Family) -> None:
    sent = {"name": "Amélia", "role": "carer", "hours": "9999"}
    assert home.phone.post("/settings/people/invite/", sent).status_code == 422


def test_one_that_is_open_is_withdrawn_and_no_other_households(home: Family) -> None:
    secret = invited(home)
    key = str(Invitation.objects.get().pk)
    assert outsider().post("/settings/people/invite/", {"withdraw": key}).status_code == 404
    assert invitations.find(secret, now=home.now) is not None
    page = home.send("/settings/people/invite/", {"withdraw": key})
    assert "withdrawn" in text(page)
    assert home.phone.post("/settings/people/invite/", {"withdraw": key}).status_code == 404
    assert home.phone.post("/settings/people/invite/", {"withdraw": "9" * 30}).status_code == 404


def test_an_invitation_dies_with_who_made_it(home: Family) -> None:
    member(home, "parent")
    secret = invitations.invite(at_home(home, "rita"), name="X", role="carer", service=None, hours=48, now=home.now)
    key = Member.objects.get(name="Rita").pk
    home.send(f"/settings/people/{key}/", {"do": "out"})
    assert Client().get(f"/join/{secret}/").status_code == 404


@pytest.fixture(params=["sqlite_file", "postgresql"])
def alias(request: pytest.FixtureRequest) -> Iterator[str]:
    """A database that threads share."""
    name = request.getfixturevalue(request.param)
    with request.getfixturevalue("django_db_blocker").unblock():
        yield name


def test_of_several_at_one_moment_one_comes_in(alias: str) -> None:
    with on(alias):
        now = 1_800_000_000_000_000
        people.begin(household="Home", name="Marta", username="marta", password="owl-lantern-river")
        found = people.home_of(get_user_model().objects.get().pk)
        assert found is not None
        for number in range(5):
            secret = invitations.invite(found, name=f"P{number}", role="carer", service=None, hours=1, now=now)
            came: list[str] = []
            ready = threading.Barrier(4)

            def go(name: str, secret: str = secret, came: list[str] = came, ready: Any = ready) -> None:
                try:
                    with on(alias):
                        ready.wait()
                        enter(name, secret, came)
                finally:
                    with on(alias):
                        connection.close()

            def enter(name: str, secret: str, came: list[str]) -> None:
                try:
                    invitations.join_anew(secret, username=name, password="x", now=now)
                    came.append(name)
                except SpentError:
                    pass

            threads = [threading.Thread(target=go, args=(f"u{number}{n}",)) for n in range(4)]
            for one in threads:
                one.start()
            for one in threads:
                one.join()
            assert len(came) == 1
        assert get_user_model().objects.count() == 1 + 5
        connection.close()


def test_a_service_that_is_gone_takes_its_invitations_along(home: Family) -> None:
    ours = service(home)
    secret = invited(home, name="Iris", role="childcare", service=ours.pk)
    ours.left = True
    ours.save()
    assert Client().get(f"/join/{secret}/").status_code == 404


def test_old_ones_stay_listed_with_how_they_ended(home: Family) -> None:
    Client().post(f"/join/{invited(home)}/", FRESH)
    invited(home, name="Late", hours=1)
    home.now += DAY
    said = text(home.see("/settings/people/invite/"))
    assert "used" in said and "expired" in said
    assert signed_in("amelia").get("/settings/people/invite/").status_code == 403
