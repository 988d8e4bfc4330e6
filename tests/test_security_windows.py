"""What childcare staff, a parent, an invitation and a text may not do once milk is handed over; beside `test_security`.

The rules are of the OWASP Application Security Verification Standard 4.0.3: 4.1 and 4.2 (access), 3.2.1 (session), 5.2
and 5.3 (injection), 8.3.2 (erasing); of formulas in tables OWASP, "CSV Injection". Recalled, from memory.
"""

from __future__ import annotations

import base64
import csv
import io
import re
import threading
import zlib
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any
from uuid import uuid4

import pytest
from bs4 import BeautifulSoup
from django.apps import apps
from django.conf import settings as site
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from icalendar import Calendar
from tests.pages import Family, text
from tests.people import carer, childcare, member, service
from tests.postgres import on
from tests.test_sweeps import Both, addresses
from tests.test_sweeps import both as both  # noqa: PLC0414  (a fixture)

from thawline.core import events as ev
from thawline.core.times import MINUTE
from thawline.records.accounts.models import CalendarEntry, Member, Reminding
from thawline.services import calendar_links, invitations, people, present, tables, tags
from thawline.services.bring_in import read_table
from thawline.services.invitations import SpentError
from thawline.services.people import Home
from thawline.services.recording import new_act
from thawline.services.take_out import thrown_away, whole

OAK = "Oak room"
FRESH = {"username": "amelia", "password": "bramble-kettle-harbour"}


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


def at_home_of(user: str = "marta") -> Home:
    """The household as that person has it."""
    return people.homes_of(get_user_model().objects.get(username=user).pk)[0]


def bottle(home: Family, code: str, child: str | None) -> None:
    """Milk for a child at the service."""
    meant = {} if child is None else {"for_": child}
    home.note("expressed", 4, into=[{"container": code, "ml": 80}], place="fridge", **meant)
    home.note("handed_over", 2, container=code, to=OAK, place=f"fridge at {OAK}")


def sign(page: BeautifulSoup) -> str:
    found = page.select_one("section.check h1")
    return found.get_text(strip=True) if found is not None else ""


def checked(phone: Client, home: Family, child: str, code: str) -> tuple[str, str]:
    """What a check says, and the address of its page."""
    sent = {"act": new_act(), "code": code, "child": f"{tags.tag_of(home.store)}/{child}"}
    answer = phone.post("/check/", sent, follow=True)
    assert answer.status_code == 200, answer.content.decode()[:2000]
    return sign(BeautifulSoup(answer.content, "html.parser")), answer.redirect_chain[-1][0]


# Childcare staff: a child that they may not be told of


@pytest.fixture
def iris(home: Family) -> Client:
    """Works at the Oak room; of two children only one has milk there."""
    there = service(home, OAK)
    home.note("child", 90, child="Bea", born="2026-11-01", care="home")
    bottle(home, "MI34", "Mira")
    return childcare(home, "Iris", service=there)


@pytest.mark.parametrize("code", ["MI34", "KA44", "AA99"])
def test_a_label_is_stopped_for_a_child_that_is_not_named_there(home: Family, iris: Client, code: str) -> None:
    bottle(home, "KA44", None)
    said, url = checked(iris, home, "another child", code)
    assert said == "Stop"
    event = ev.decoder.decode(home.store.history(before=None, limit=1, kinds=("checked",))[0].line)
    assert isinstance(event, ev.Checked)
    assert (event.child, event.found) == ("another child", "stop")
    # The family sees it, too.
    assert home.phone.get(url).status_code == 200


def test_staff_whose_window_is_empty_can_stop_a_bottle_and_learn_no_name(home: Family, iris: Client) -> None:
    home.hours(48)
    home.note("discarded", 1, container="MI34")
    page = iris.get("/check/", follow=True).content.decode()
    assert "Bea" not in page and "Mira" not in page and "Another child" in page
    assert checked(iris, home, "another child", "MI34")[0] == "Stop"


def test_what_another_child_drank_is_noted_with_the_familys_milk(home: Family, iris: Client) -> None:
    sent = {"act": new_act(), "when": "now", "code": "MI34", "child": f"{tags.tag_of(home.store)}/another child"}
    answer = iris.post("/mix-up/", sent, follow=True)
    assert answer.status_code == 200 and "Another child" in answer.content.decode()
    event = ev.decoder.decode(home.store.history(before=None, limit=1, kinds=("incident",))[0].line)
    assert isinstance(event, ev.Incident) and event.container == "MI34"
    assert "MI34" in text(home.see("/history/"))


def test_at_home_every_child_is_named_so_nobody_is_another(home: Family, iris: Client) -> None:
    assert "another child" not in str(home.see("/check/")).casefold()


def test_a_check_made_at_home_is_not_there_for_staff_though_they_know_its_id(home: Family, iris: Client) -> None:
    there = service(home, OAK)
    _, of_marta = checked(home.phone, home, "Mira", "MI34")
    _, of_iris = checked(iris, home, "Mira", "MI34")
    colleague = childcare(home, "Joana", service=there)
    elsewhere = childcare(home, "Kai", service=service(home, "Elm room"))
    assert iris.get(of_marta).status_code == 404
    assert iris.get(of_iris).status_code == colleague.get(of_iris).status_code == 200
    assert elsewhere.get(of_iris).status_code == 404
    assert home.phone.get(of_iris).status_code == 200


@pytest.mark.parametrize("code", ["KA55", "ka55", "ZZ99"])
def test_milk_at_home_and_milk_that_is_nowhere_look_alike_to_staff(home: Family, iris: Client, code: str) -> None:
    home.expressed("KA55", 120, 3)
    said, url = checked(iris, home, "Mira", code)
    page = iris.get(url).content.decode()
    assert said == "Stop" and "120" not in page and "fridge" not in page.replace(f"fridge at {OAK}", "")
    answers = [iris.get(f"/l/{tags.tag_of(home.store)}/{one}/") for one in ("KA55", "ZZ99")]
    assert {answer.status_code for answer in answers} == {404}
    steps = [text(BeautifulSoup(answer.content, "html.parser")) for answer in answers]
    assert steps[0].replace("KA55", "ZZ99") == steps[1]


# The whole ledger is the owner's to take along


def test_every_entry_as_a_table_is_the_owners_alone(home: Family) -> None:
    parent = member(home, "parent")
    assert home.phone.get("/out/table/?what=events").status_code == 200
    assert parent.get("/out/table/?what=events").status_code == 403
    for what in ("sessions", "feeds", "stock"):
        assert parent.get(f"/out/table/?what={what}").status_code == 200
    assert "Every entry" in text(home.see("/out/"))
    assert "Every entry" not in parent.get("/out/").content.decode()
    for phone in (carer(home), childcare(home, service=service(home))):
        for url in ("/out/", "/out/table/?what=stock", "/out/health-record/", "/print/summary/", "/print/bank-log/"):
            assert phone.get(url).status_code == 403, url


@pytest.mark.parametrize("begin", [*"=+-@\t\r\n", "\uff1d", "\uff0b", "\uff0d", "\uff20"])
def test_no_cell_begins_like_a_formula(begin: str) -> None:
    out = b"".join(tables.written_out([["label", "by"], [f"{begin}1+1", "Marta"]])).decode()
    assert list(csv.reader(io.StringIO(out, newline="")))[1][0] == f"'{begin}1+1"


@pytest.mark.parametrize("begin", ["=", "\uff1d"])
def test_the_guard_before_a_formula_is_taken_off_again(begin: str) -> None:
    out = b"".join(tables.written_out([["label", "ml"], [f"{begin}1+1", 90]]))
    table, _text = read_table(out)
    assert table.rows[0].cells[0] == f"{begin}1+1"


@pytest.mark.parametrize("file", [b"a," * 300_000, b"1" * 3_000_000, b'"' * 200_001, b'date,ml\n"' + b"x" * 200_000])
def test_a_file_that_is_one_endless_row_is_refused_in_a_line(home: Family, file: bytes) -> None:
    answer = home.phone.post("/in/", {"what": "sessions", "file": SimpleUploadedFile("table.csv", file)})
    assert answer.status_code == 422
    assert BeautifulSoup(answer.content, "html.parser").select_one(".error-summary, [role=alert]") is not None


def test_what_was_unpacked_is_bounded(home: Family) -> None:
    # Some kilobytes that would become gigabytes (a "zip bomb").
    bomb = base64.urlsafe_b64encode(zlib.compress(b"0" * 40_000_000, 9)).decode()
    answer = home.phone.post("/in/", {"step": "look", "what": "sessions", "packed": bomb})
    assert answer.status_code == 422 and len(bomb) < 100_000


# Coming in


def test_coming_in_gives_a_session_of_its_own(home: Family) -> None:
    secret = invitations.invite(at_home_of(), name="Am", role="carer", service=None, hours=1, now=home.now)
    phone = Client()
    phone.post("/sign-in/", {"login": "nobody", "password": "x"})
    session = phone.session
    session["planted"] = "yes"
    session.save()
    before = str(session.session_key)
    phone.cookies[site.SESSION_COOKIE_NAME] = before
    assert phone.post(f"/join/{secret}/", FRESH).status_code == 302
    assert phone.cookies[site.SESSION_COOKIE_NAME].value != before
    copied = Client()
    copied.cookies[site.SESSION_COOKIE_NAME] = before
    assert copied.get("/").status_code == 302


@pytest.mark.parametrize("hostile", ["https://thief.example/", "//thief.example", "/\\thief.example"])
def test_an_invitation_and_a_label_lead_nowhere_else(home: Family, hostile: str) -> None:
    secret = invitations.invite(at_home_of(), name="Am", role="carer", service=None, hours=1, now=home.now)
    answer = Client().post(f"/join/{secret}/?next={hostile}", {**FRESH, "next": hostile})
    assert answer.status_code == 302 and answer["Location"] == "/"
    tag = tags.tag_of(home.store)
    for url in (f"/l/{tag}/{hostile}", f"/L/{tag}//{hostile}?next={hostile}", f"/l/{tag}/%2F%2Fthief.example"):
        answer = home.phone.get(url)
        assert answer.status_code in (301, 404) and not re.match(r"(https?:|//|/\\)", answer.get("Location", "")), url


@pytest.fixture(params=["sqlite_file", "postgresql"])
def alias(request: pytest.FixtureRequest) -> Iterator[str]:
    """A database that threads share."""
    name = request.getfixturevalue(request.param)
    with request.getfixturevalue("django_db_blocker").unblock():
        with on(name):
            before = {store.key for _name, store in people.homes()}
            users = list(get_user_model().objects.values_list("pk", flat=True))
        yield name
        with on(name):
            for _name, store in people.homes():
                if store.key not in before:
                    people.erase(store)
            get_user_model().objects.exclude(pk__in=users).delete()
            connection.close()


def someone() -> tuple[Home, str]:
    """The owner of a household, and a name that no other test has used in this database."""
    own = f"o{uuid4().hex[:8]}"
    people.begin(household="Home", name="Marta", username=own, password="owl-lantern-river")
    return at_home_of(own), own


def status(phone: Client, url: str, form: dict[str, str]) -> int:
    return phone.post(url, form).status_code


def at_once(alias: str, *calls: Callable[[], Any]) -> list[Any]:
    """What each returns or raises, all begun at one moment."""
    ready, found = threading.Barrier(len(calls)), dict[int, Any]()

    def go(number: int, call: Callable[[], Any]) -> None:
        with on(alias):
            try:
                ready.wait(10)
                found[number] = call()
            except Exception as fault:  # noqa: BLE001  (told to the test)
                found[number] = fault
            finally:
                connection.close()

    threads = [threading.Thread(target=go, args=one) for one in enumerate(calls)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    return [found[number] for number in range(len(calls))]


def test_two_with_invitations_for_one_name_do_not_take_each_others_place(alias: str) -> None:
    now = 1_800_000_000_000_000
    with on(alias):
        marta, own = someone()
        for number in range(6):
            name = f"Sitter {number}"
            made = [invitations.invite(marta, name=name, role="carer", service=None, hours=1, now=now)
                    for _ in range(2)]  # fmt: skip
            told = at_once(alias, *(
                partial(invitations.join_anew, secret, username=f"{own}{number}{n}", password="x", now=now)
                for n, secret in enumerate(made)
            ))  # fmt: skip
            came = [one for one in told if isinstance(one, int)]
            assert len(came) == 1 and all(isinstance(one, (int, SpentError)) for one in told), told
            assert Member.objects.get(name=name).user_id == came[0]
        connection.close()


def test_one_with_two_invitations_comes_in_once_and_is_told_so(alias: str) -> None:
    now = 1_800_000_000_000_000
    with on(alias):
        marta, own = someone()
        for number in range(6):
            user = get_user_model().objects.create_user(f"{own}{number}", password="x")
            made = [invitations.invite(marta, name=f"{n} of {number}", role="carer", service=None, hours=1, now=now)
                    for n in range(2)]  # fmt: skip
            told = at_once(alias, *(partial(invitations.join, secret, user.pk, now=now) for secret in made))
            assert sorted(type(one).__name__ for one in told) == ["CannotError", "NoneType"], told
        connection.close()


def test_what_two_workers_note_at_one_moment_counts_once(alias: str) -> None:
    """Both say that the bottle was spilled."""
    with on(alias):
        marta, own = someone()
        store = marta.store
        home = Family(store, Client(), present.now())
        home.note("household", 24.0 * 40, zone="Europe/Lisbon", guideline="cdc")
        home.note("child", 24.0 * 40, child="Mira", born="2025-12-01", care="home")
        home.note("place", 24.0 * 40, place="fridge", is_="refrigerator", temp_c=4)
        there = service(home, OAK)
        names = (f"Iris {own}", f"Joana {own}")
        phones = {name: childcare(home, name, service=there) for name in names}
        for number in range(4):
            bottle(home, f"MI3{number}", "Mira")
            url = f"/care/{tags.tag_of(store)}/do/discard/"
            sent = [{"act": new_act(), "when": "now", "code": f"MI3{number}", "why": "spilled"} for _ in names]
            told = at_once(
                alias, *(partial(status, phones[name], url, form) for name, form in zip(names, sent, strict=True))
            )
            assert 302 in told and set(told) <= {302, 404, 422}, told
            rows = store.history(before=None, limit=9, name=f"MI3{number}", kinds=("discarded",))
            assert {row.person for row in rows} <= set(names) and rows
            # Whoever came second may have noted it as well: that does not fit, is told so, and counts for nothing.
            found = whole(store, now=home.now + MINUTE)
            assert [one.ml for one in thrown_away(found) if one.container == f"MI3{number}"] == [80], told
            assert (
                len([one for one in found.fold.refused if one.event in {row.event_id for row in rows}]) == len(rows) - 1
            )
        connection.close()


# Erasing


def test_nothing_of_a_household_is_left_in_any_table(home: Family, iris: Client) -> None:
    marta = at_home_of()
    invitations.invite(marta, name="Am", role="carer", service=None, hours=1, now=home.now)
    calendar_links.make(marta, ["use"], now=home.now)
    row = Reminding.objects.create(member_id=marta.member_id, address="json://localhost/", about=["use"])
    row.sent.create(key="k", at=home.now)
    secret = invitations.invite(marta, name="Ze", role="carer", service=None, hours=1, now=home.now)
    invitations.begin_anew(secret, "zephyrine", pending=None, now=home.now)
    calendar = Client().get(f"/calendar/{calendar_links.make(marta, ['use'], now=home.now)}.ics")
    assert calendar.status_code == 200
    checked(iris, home, "Mira", "MI34")
    people.erase(home.store)
    left = {
        model.__name__: count
        for label in ("accounts", "ledger", "mfa", "usersessions")
        for model in apps.get_app_config(label).get_models()
        if (count := model._default_manager.count())
    }
    # The server's own, about no household.
    assert set(left) <= {"Pulse", "Silence"}, left


def test_erasing_one_household_spares_the_one_next_door(home: Family) -> None:
    other = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    kept = at_home_of("olga")
    calendar_links.make(kept, ["use"], now=home.now)
    invitations.invite(kept, name="Am", role="carer", service=None, hours=1, now=home.now)
    people.erase(home.store)
    assert [one.store.key for one in people.homes_of(get_user_model().objects.get().pk)] == [other.key]
    assert len(calendar_links.links(kept)) == len(invitations.listed(other, now=home.now)) == 1


# Texts of a family, on every page and in the calendar

EVIL = "\"><script>alert(1)</script>'{{7*7}}"


@pytest.mark.slow
def test_no_page_has_a_script_of_its_own_or_runs_a_name(both: Both) -> None:
    """The policy forbids scripts and styles within a page; none is there, whatever names are written."""
    home, mine, _theirs = both
    home.note("child", 100, child=f"c{EVIL}", born="2026-12-01", care="home")
    home.note("place", 100, place=EVIL, is_="refrigerator", temp_c=4)
    home.note("stocked", 30, container=f"b{EVIL}", ml=90, place=EVIL, expressed="2027-02-01", mother=EVIL, by=EVIL)
    there = service(home, EVIL[:70], place=EVIL + "s", calls=EVIL)
    home.note("handed_over", 2, container=f"b{EVIL}", to=there.name, place=there.place)
    home.note("incident", 1, child=f"c{EVIL}", container=f"b{EVIL}", steps=[], says=EVIL)
    home.note("checked", 1, child=f"c{EVIL}", found="stop", label=EVIL, why=["unknown"])
    people.rename(home.store, EVIL[:80])
    people.add_person(home.store, EVIL[:80])
    phones = [home.phone, childcare(home, f"I{EVIL}"[:80], service=there)]
    seen = 0
    for phone in phones:
        for name, address in addresses(mine):
            if name == "account_logout":
                continue
            answer = phone.get(address, follow=True)
            if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
                continue
            seen += 1
            body = answer.content.decode()
            assert "<script>alert" not in body and "'49" not in body, address
            page = BeautifulSoup(body, "html.parser")
            for one in page.find_all(True):
                assert "style" not in one.attrs, (address, one)
                assert not [attr for attr in one.attrs if attr.startswith("on")], (address, one)
            scripts = [one for one in page.select("script") if one.get("type") != "application/json"]
            assert all(str(one.get("src", "")).startswith("/static/") for one in scripts), (address, scripts)
            assert all(str(one["href"]).startswith("/static/") for one in page.select("link[href]")), address
    assert seen > 80, seen


def test_a_name_with_line_breaks_is_one_line_of_a_calendar(home: Family) -> None:
    # RFC 5545, 3.3.11: in a text a line break is written as \n.
    evil = "x\r\nEND:VEVENT\r\nATTACH:http://thief.example/"
    home.note("place", 100, place=evil, is_="refrigerator", temp_c=4)
    home.note("expressed", 3, into=[{"container": f"KA34{evil}", "ml": 80}], place="counter")
    home.note("moved", 2, container=f"KA34{evil}", to=evil)
    secret = calendar_links.make(at_home_of(), ["use", "freeze"], now=home.now)
    answer = Client().get(f"/calendar/{secret}.ics")
    found = Calendar.from_ical(answer.content)
    assert all("ATTACH" not in one for one in found.walk())
    assert not re.search(rb"^ATTACH", answer.content, re.MULTILINE)
    assert len(found.walk("VEVENT")) == len(CalendarEntry.objects.exclude(digest=""))
