"""Who belongs: changing a role, showing somebody out, several households, and whose phones are signed out."""

from __future__ import annotations

from typing import Any

import pytest
from allauth.usersessions.models import UserSession
from bs4 import BeautifulSoup
from django.conf import settings as site
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.test import Client
from tests.pages import Family, text
from tests.people import carer, member, outsider, service, user_of

from thawline.records.accounts.models import CalendarLink, Member, Reminding
from thawline.services import passwords, people, people_out, sessions
from thawline.services.people import CannotError

PASSWORD = "owl-lantern-river"


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


def signs_in(name: str, password: str = PASSWORD) -> Client:
    """A phone on which somebody signed in by the page, so that it is listed."""
    phone = Client(headers={"user-agent": "X (Android 15) Mobile"})
    answer = phone.post("/sign-in/", {"login": user_of(name), "password": password})
    assert answer.status_code == 302, answer.content
    cache.clear()
    return phone


def copied(phone: Client) -> Client:
    """Another browser with the same cookie."""
    thief = Client()
    thief.cookies[site.SESSION_COOKIE_NAME] = phone.cookies[site.SESSION_COOKIE_NAME].value
    return thief


def is_in(phone: Client) -> bool:
    return phone.get("/more/").status_code == 200


def key_of(name: str) -> int:
    return Member.objects.get(name=name).pk


def address(name: str) -> str:
    return f"/settings/people/{key_of(name)}/"


# Cookies


@pytest.mark.parametrize("how", ["signed out", "signed out by the owner", "shown out", "new password", "reset",
                                 "signed out elsewhere"])  # fmt: skip
def test_a_cookie_copied_before_is_dead_after(home: Family, how: str) -> None:
    carer(home, "Rosa")
    phone = signs_in("Rosa")
    thief = copied(phone)
    assert is_in(thief)
    row = UserSession.objects.get(user__username="rosa")
    if how == "signed out":
        phone.post("/sign-out/")
    elif how == "signed out by the owner":
        home.send(address("Rosa"), {"do": "phone", "phone": str(row.pk)})
    elif how == "shown out":
        home.send(address("Rosa"), {"do": "out"})
    elif how == "new password":
        sent = {"oldpassword": PASSWORD, "password1": "bramble-kettle-harbour", "password2": "bramble-kettle-harbour"}
        signs_in("Rosa").post("/password/", sent)
    elif how == "reset":
        passwords.reset("rosa", "bramble-kettle-harbour")
    else:
        signs_in("Rosa").post("/settings/phones/", {"phone": str(row.pk)})
    for one in (thief, phone):
        assert not is_in(one)
        assert one.post("/log/", {"ml_1": "90"}).status_code in (302, 403)
    assert home.store.standing().revision == home.store.standing().settings_revision


# Showing out


def test_who_is_shown_out_is_out_at_once_and_their_name_stays(home: Family) -> None:
    carer(home, "Rosa")
    phone = signs_in("Rosa")
    row = Member.objects.get(name="Rosa")
    CalendarLink.objects.create(member=row, digest="d" * 64, made_at=home.now)
    Reminding.objects.create(member=row, address="json://localhost", on=True)
    home.note("stocked", 2, container="FAH3", ml=90, place="freezer", expressed="2027-01-20", by="Rosa")
    page = home.send(address("Rosa"), {"do": "out"})
    assert "Rosa was shown out." in text(page)
    assert all("Rosa" not in one.text for one in page.select("main section"))
    assert not is_in(phone)
    assert not CalendarLink.objects.exists() and not Reminding.objects.exists()
    assert not get_user_model().objects.filter(username="rosa").exists(), "a sign-in that opens nothing is gone"
    assert "Rosa" in text(home.see("/history/"))
    assert home.phone.get(f"/settings/people/{row.pk}/").status_code == 404


def test_who_belongs_elsewhere_too_loses_this_household_alone(home: Family) -> None:
    outsider()
    user = get_user_model().objects.get(username="olga")
    Member.objects.create(household_id=home.store.id, name="Olga", user=user, role="carer")
    phone = signs_in("Olga", "fern-copper-window")
    phone.post("/homes/", {"home": home.store.key})
    assert b"Lisbon kitchen" in phone.get("/more/").content
    key = Member.objects.get(household=home.store.id, name="Olga").pk
    home.send(f"/settings/people/{key}/", {"do": "out"})
    page = phone.get("/more/")
    assert page.status_code == 200 and b"Next door" in page.content and b"Lisbon" not in page.content
    assert phone.post("/homes/", {"home": home.store.key}).status_code == 404


@pytest.mark.parametrize("what", ["out", "role", "phones"])
def test_the_owner_can_not_be_touched(home: Family, what: str) -> None:
    parent = member(home, "parent", "Rita")
    sent = {"do": what, "role": "carer"}
    for phone in (parent, home.phone):
        answer = phone.post(address("Marta"), sent)
        if what == "phones" and phone is home.phone:
            continue
        assert answer.status_code in (404, 422), (what, answer.status_code)
    row = Member.objects.get(name="Marta")
    assert (row.role, row.left) == ("owner", False) and row.user is not None
    assert is_in(home.phone)


def test_a_parent_changes_carers_and_not_another_parent(home: Family) -> None:
    rita, carer_ = member(home, "parent", "Rita"), carer(home, "Rosa")
    member(home, "parent", "Nuno")
    assert rita.post(address("Nuno"), {"do": "out"}).status_code == 422
    assert rita.post(address("Nuno"), {"do": "role", "role": "carer"}).status_code == 422
    assert rita.post(address("Rosa"), {"do": "role", "role": "parent"}).status_code == 302
    assert carer_.get("/settings/").status_code == 200
    assert Member.objects.get(name="Nuno").role == "parent"


def test_nobody_is_made_an_owner(home: Family) -> None:
    member(home, "parent", "Rita")
    for role in ("owner", "Owner", "", "x"):
        assert home.phone.post(address("Rita"), {"do": "role", "role": role}).status_code == 422
    found = people.home_of(get_user_model().objects.get(username="marta").pk)
    assert found is not None
    with pytest.raises(CannotError):
        people_out.change_role(found, key_of("Rita"), "owner")
    assert Member.objects.get(name="Rita").role == "parent"


def test_childcare_is_given_with_a_service_and_ends_the_calendar(home: Family) -> None:
    phone = carer(home, "Rosa")
    row = Member.objects.get(name="Rosa")
    CalendarLink.objects.create(member=row, digest="d" * 64, made_at=home.now)
    assert home.phone.post(address("Rosa"), {"do": "role", "role": "childcare"}).status_code == 422
    ours = service(home)
    assert home.phone.post(
        address("Rosa"), {"do": "role", "role": "childcare", "service": str(ours.pk)}
    ).status_code == 302  # fmt: skip
    assert phone.get("/stock/").status_code == 403
    assert not CalendarLink.objects.exists()


def test_a_carer_sees_nothing_of_the_others_phones(home: Family) -> None:
    phone = carer(home, "Rosa")
    for one in (phone.get(address("Marta")), phone.post(address("Marta"), {"do": "phones"})):
        assert one.status_code == 403


def test_a_page_of_somebody_tells_no_address_of_theirs(home: Family) -> None:
    carer(home, "Rosa")
    Client(REMOTE_ADDR="10.9.8.7").post("/sign-in/", {"login": "rosa", "password": PASSWORD})
    page = home.see(address("Rosa"))
    assert len(page.select("button[name=phone]")) == 1 and "10.9.8.7" not in page.get_text()


@pytest.mark.parametrize("sent", [{}, {"do": "x"}, {"do": "phone"}, {"do": "phone", "phone": "²"},
                                  {"do": "phone", "phone": "9" * 40}, {"do": "phone", "phone": "0"}])  # fmt: skip
def test_nonsense_about_somebody_changes_nothing(home: Family, sent: dict[str, Any]) -> None:
    carer(home, "Rosa")
    phone = signs_in("Rosa")
    assert home.phone.post(address("Rosa"), sent).status_code == 404
    assert is_in(phone)
    assert home.phone.get("/settings/people/99999999999999999999999/").status_code == 404


# Several households


def both_homes(home: Family) -> tuple[Client, Any]:
    """The phone of someone who cares here, and owns the household next door."""
    phone = outsider()
    user = get_user_model().objects.get(username="olga")
    Member.objects.create(household_id=home.store.id, name="Olga", user=user, role="carer")
    return phone, user


def test_who_belongs_to_two_chooses_and_acts_in_the_name_they_have_there(home: Family) -> None:
    phone, _user = both_homes(home)
    home.expressed("FAH3", 90, 3)
    assert b"Next door" in phone.get("/more/").content and b"FAH3" not in phone.get("/stock/", follow=True).content
    phone.post("/homes/", {"home": home.store.key})
    assert b"FAH3" in phone.get("/stock/").content
    assert phone.get("/settings/").status_code == 403
    assert "Another household" in text(BeautifulSoup(phone.get("/more/").content, "html.parser"))
    assert "Another household" not in text(home.see("/more/"))


@pytest.mark.parametrize("wanted", ["", "x", "00000000-0000-0000-0000-000000000000"])
def test_a_household_that_is_not_theirs_can_not_be_chosen(home: Family, wanted: str) -> None:
    phone, _user = both_homes(home)
    assert phone.post("/homes/", {"home": wanted}).status_code == 404
    there = people.begin(household="Far", name="Zoe", username="zoe", password="fern-copper-window")
    assert phone.post("/homes/", {"home": there.key}).status_code == 404


def test_erasing_one_household_leaves_who_has_another(home: Family) -> None:
    phone, user = both_homes(home)
    carer(home, "Rosa")
    listed = signs_in("Olga", "fern-copper-window")
    home.send("/settings/erase/", {"name": "Lisbon kitchen", "password": PASSWORD})
    left = set(get_user_model().objects.values_list("username", flat=True))
    assert left == {user.username}
    assert is_in(phone) and is_in(listed)
    assert b"Next door" in phone.get("/more/").content


def test_signing_out_a_household_spares_who_has_another(home: Family) -> None:
    _phone, user = both_homes(home)
    assert sessions.elsewhere(user.pk, home.store)
    assert not sessions.elsewhere(get_user_model().objects.get(username="marta").pk, home.store)


# Acting in one's own name


def test_a_carer_acts_in_their_own_name_whatever_their_session_says(home: Family) -> None:
    phone = carer(home, "Rosa")
    assert phone.get("/who/").status_code == 403 and phone.post("/who/", {"who": "Marta"}).status_code == 403
    session = phone.session
    session["who"] = "Marta"
    session.save()
    page = BeautifulSoup(phone.get("/").content, "html.parser")
    top = page.select_one(".top .who")
    assert top is not None and "Rosa" in top.text and top.name != "a"
    act = "01890a5d-ac96-7742-8e16-51b0b6a3f001"
    phone.post("/log/", {"act": act, "ml_1": "90", "code_1": "FAH3", "when": "now", "place": "fridge"})
    rows = home.store.act(act)
    assert rows and all(row.person == "Rosa" and b'"by":"Rosa"' in row.line for row in rows)


def test_a_phone_notes_as_nobody_who_was_taken_off_the_list_since(home: Family) -> None:
    home.send("/who/", {"who": "Rui"})
    other = signs_in("Marta")
    other.post("/settings/people/", {"remove": "Rui"})
    top = home.see("/").select_one(".top .who")
    assert top is not None and "Marta" in top.text


def test_a_carer_names_nobody_else_on_the_paper_sheet(home: Family) -> None:
    phone = carer(home, "Rosa")
    row = {"act": "01890a5d-ac96-7742-8e16-51b0b6a3f001", "rows": "8", "sure": "yes", "day-1": "2027-02-03",
           "time-1": "08:00", "what-1": "expressed", "amount-1": "90"}  # fmt: skip
    assert phone.post("/paper/enter/", {**row, "who-1": "Marta"}).status_code == 422
    assert phone.post("/paper/enter/", {**row, "who-1": "Rosa"}).status_code == 302


@pytest.mark.parametrize("role", ["owner", "parent", "carer"])
def test_no_heading_of_more_stands_over_nothing_and_no_section_is_endless(home: Family, role: str) -> None:
    # Common practice, no source: a list of eight is still seen at a glance.
    phone = home.phone if role == "owner" else member(home, role)
    page = BeautifulSoup(phone.get("/more/").content, "html.parser")
    for section in page.select("main section"):
        assert 1 <= len(section.select("li")) <= 8, section.h2


def test_history_offers_a_carer_to_look_and_a_parent_to_correct(home: Family) -> None:
    home.expressed("KA34", 80, 1)

    def offered(phone: Client) -> set[str]:
        page = BeautifulSoup(phone.get("/history/").content, "html.parser")
        return {one.text.split()[0] for one in page.select("main li > .small a")}

    assert offered(home.phone) == {"Correct"} and offered(carer(home)) == {"See"}
