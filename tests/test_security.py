"""What a stranger, a foreign page or a long text can not do."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as site
from django.core.cache import cache
from django.db import connection
from django.test import Client
from tests.pages import Family
from tests.postgres import on

from thawline.core.replay import moment
from thawline.faces.web import amounts
from thawline.faces.web.amounts import BadAmountError
from thawline.services import backups, people
from thawline.services.people import CannotError
from thawline.services.recording import line_of, record
from thawline.site import settings as real

PASSWORD = "owl-lantern-river"
NOW = moment("2027-03-11T14:20:00+00:00")
ACT = "01890a5d-ac96-7742-8e16-51b0b6a3f001"


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


# The first password


@pytest.mark.parametrize("host", ["localhost", "localhost:8700", "127.0.0.1:8700", "[::1]:8700"])
def test_the_set_up_answers_on_the_computer_itself(db: None, host: str) -> None:
    assert Client(headers={"host": host}).get("/begin/").status_code == 200


@pytest.mark.parametrize("host", ["rebound.example", "192.168.7.20:8700", "milk.local", "127.0.0.1.rebound.example"])
def test_a_foreign_page_can_not_set_the_first_password(db: None, host: str) -> None:
    phone = Client(headers={"host": host})
    for answer in (phone.get("/begin/"), phone.post("/begin/", {"username": "thief", "password": PASSWORD})):
        assert answer.status_code == 403
        assert "on the computer itself" in answer.content.decode()
        assert "password" not in {field.split(b'"')[1].decode() for field in answer.content.split(b"name=")[1:]}
    assert not people.owner_exists()


@pytest.mark.parametrize(
    ("address", "status"),
    [("192.168.7.9", 403), ("127.0.0.1", 200), ("::1", 200), ("::ffff:127.0.0.1", 200), ("", 200), ("nonsense", 403)],
)
def test_writing_localhost_into_a_request_from_afar_opens_nothing(db: None, address: str, status: int) -> None:
    answer = Client(headers={"host": "localhost"}).get("/begin/", REMOTE_ADDR=address)
    assert answer.status_code == status


def test_over_https_a_certificate_vouches_for_the_name(db: None) -> None:
    assert Client(headers={"host": "milk.home.arpa"}).get("/begin/", secure=True).status_code == 200


# Tries of passwords


def test_failures_count_against_a_name_whatever_host_is_written(home: Family) -> None:
    for number in range(5):
        phone = Client(headers={"host": f"h{number}.example"}, REMOTE_ADDR=f"10.0.0.{number}")
        assert b"do not fit" in phone.post("/sign-in/", {"login": "marta", "password": "wrong"}).content
    for name in ("marta", "MARTA", " Marta "):
        answer = Client(headers={"host": "other.example"}, REMOTE_ADDR="10.0.9.9").post(
            "/sign-in/", {"login": name, "password": PASSWORD}
        )
        assert b"wait five minutes" in answer.content


def test_a_failure_is_written_down_without_what_was_typed(home: Family, caplog: pytest.LogCaptureFixture) -> None:
    Client(REMOTE_ADDR="10.0.0.7").post("/sign-in/", {"login": "lantern-typed-here", "password": "also-secret"})
    assert "A sign-in failed, from 10.0.0.7" in caplog.text
    assert "lantern-typed-here" not in caplog.text and "also-secret" not in caplog.text


def test_an_address_in_a_header_is_not_believed(home: Family) -> None:
    answers = [
        Client(headers={"x-forwarded-for": f"10.1.1.{n}"}).post("/sign-in/", {"login": f"n{n}", "password": "x"})
        for n in range(31)
    ]
    assert answers[-1].status_code == 429


def test_the_counts_outlast_tries_under_many_names() -> None:
    options: Any = real.CACHES["default"]["OPTIONS"]
    assert options["MAX_ENTRIES"] >= 10_000


@pytest.mark.parametrize("aim", ["https://thief.example/", "//thief.example", "/\\thief.example", "/\t/thief.example"])
def test_no_address_in_a_form_leads_away(home: Family, aim: str) -> None:
    answers = [
        Client().post(f"/sign-in/?next={aim}", {"login": "marta", "password": PASSWORD, "next": aim}),
        home.phone.post("/who/", {"who": "Rui", "next": aim}),
    ]
    home.expressed("FAH3", 90)
    answers.append(home.phone.post("/milk/FAH3/discard/", {"act": ACT, "when": "now", "back": aim}))
    for answer in answers:
        assert answer.status_code == 302
        where = answer.headers["Location"]
        assert where.startswith("/") and "thief" not in where, where


# What every answer carries


@pytest.mark.parametrize(
    ("address", "host"),
    [("/static/thawline/icon.svg", "localhost"), ("/cautions/", "a_b c"), ("/nowhere/", "localhost"),
     ("/", "localhost"), ("/sign-in/", "localhost")],
)  # fmt: skip
def test_every_answer_forbids_foreign_scripts_and_frames(home: Family, address: str, host: str) -> None:
    answer = Client(headers={"host": host}).get(address)
    answer.close()
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy and "frame-ancestors 'none'" in policy and "unsafe" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "Access-Control-Allow-Origin" not in answer.headers
    assert address.startswith("/static/") or {"no-store", "private"} <= set(answer.headers["Cache-Control"].split(", "))


def test_cookies_are_closed_to_scripts_and_other_sites(home: Family) -> None:
    phone = Client()
    phone.get("/sign-in/")
    phone.post("/sign-in/", {"login": "marta", "password": PASSWORD})
    for name in (site.SESSION_COOKIE_NAME, site.CSRF_COOKIE_NAME):
        assert phone.cookies[name]["httponly"] and phone.cookies[name]["samesite"] == "Lax"


def test_signing_in_gives_a_session_of_its_own(home: Family) -> None:
    phone = Client()
    phone.cookies[site.SESSION_COOKIE_NAME] = "chosen-by-somebody-else-000000000"
    phone.post("/sign-in/", {"login": "marta", "password": PASSWORD})
    assert phone.cookies[site.SESSION_COOKIE_NAME].value != "chosen-by-somebody-else-000000000"
    assert phone.get("/more/").status_code == 200


def test_a_form_without_its_token_is_refused_also_from_htmx(home: Family) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = home.phone.cookies
    for headers in ({}, {"HX-Request": "true"}, {"Origin": "https://thief.example"}):
        assert strict.post("/settings/people/", {"new": "Thief"}, headers=headers).status_code == 403
    assert "Thief" not in {one.name for one in people.people(home.store)}


def test_a_correction_names_nobody_who_is_not_on_the_list(home: Family) -> None:
    name = home.note("stocked", 2, container="FAH3", ml=90, place="freezer", expressed="2027-01-20")
    address = f"/history/{name}/correct/?act={ACT}"
    sent = {"id": "mine", "kind": "discarded", "event": "x", "ml": "80", "sure": "yes"}
    assert home.phone.post(address, {**sent, "by": "Nobody of ours"}).status_code == 422
    assert home.phone.post(address, {**sent, "by": "Rui"}).status_code == 302
    rows = home.store.rows([f"{ACT}.0", f"{ACT}.1", "mine"])
    assert sorted(row.kind for row in rows.values()) == ["stocked", "voided"]
    assert b'"by":"Rui"' in rows[f"{ACT}.1"].line and rows[f"{ACT}.1"].person == "Marta"


def test_paper_names_nobody_who_is_not_on_the_list(home: Family) -> None:
    row = {"act": ACT, "rows": "8", "sure": "yes", "day-1": "2027-02-03", "time-1": "08:00", "what-1": "expressed",
           "amount-1": "90"}  # fmt: skip
    assert home.phone.post("/paper/enter/", {**row, "who-1": "Nobody of ours"}).status_code == 422
    assert home.phone.post("/paper/enter/", {**row, "who-1": "Rui"}).status_code == 302


def test_forms_reach_nothing_of_another_household(home: Family) -> None:
    home.expressed("FAH3", 90)
    theirs = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    setting = {"id": "h", "at": home.at(99), "kind": "household", "zone": "Europe/Lisbon"}
    milk = {"id": f"{ACT[:-1]}9.0", "at": home.at(9), "kind": "expressed", "place": "shelf",
            "into": [{"container": "KUH7", "ml": 70}]}  # fmt: skip
    place = {"id": "p", "at": home.at(99), "kind": "place", "place": "shelf", "is": "refrigerator"}
    record(theirs, [line_of(one) for one in (setting, place, milk)], now=home.now)
    before = list(theirs.lines())
    sent = {"act": ACT, "when": "now", "step": "record", "sure": "yes", "verb": "discard"}
    forms: dict[str, dict[str, Any]] = {
        "/stock/many/": {"code": ["FAH3", "KUH7"]},
        "/stock/many/?x": {"from": "shelf"},
        "/milk/KUH7/discard/": {},
        f"/undo/{ACT[:-1]}9/": {},
        f"/history/{milk['id']}/": {},
        f"/history/{milk['id']}/correct/": {"ml": "1"},
        "/settings/place/": {"name": "shelf", "kind": "freezer"},
        "/settings/place/power/": {"name": "shelf", "what": "power_lost"},
    }
    for address, fields in forms.items():
        assert home.phone.post(address, {**sent, **fields}).status_code == 404, address
    home.phone.post("/milk/FAH3/pour/", {**sent, "step": "look", "container": "KUH7", "into": "KUH7"})
    assert list(theirs.lines()) == before
    assert not home.store.act(ACT)


# Texts that take long


@pytest.mark.parametrize("read", [amounts.amount_ml, amounts.temp_c])
def test_a_number_of_any_length_is_refused_at_once(read: Callable[[str, str], float]) -> None:
    begun = time.perf_counter()
    for text in ("1" + " " * 100_000 + "x", "1" + " " * 100_000 + "°" + " " * 100_000 + "x", "9" * 1_000_000):
        with pytest.raises(BadAmountError):
            read(text, "ml")
    assert time.perf_counter() - begun < 2
    assert read("  4.5  ", "ml") == 4.5


# What is written as a name


EVIL = "\"><script>alert(1)</script>'{{7*7}}"


def test_a_name_is_shown_as_text_everywhere(home: Family) -> None:
    home.note("place", 100, place=EVIL, is_="freezer", temp_c=-18)
    home.note("child", 100, child=f"c{EVIL}", born="2026-12-01", care="home")
    home.note("stocked", 2, container=EVIL, ml=90, place=EVIL, expressed="2027-01-20", mother=EVIL)
    home.note("handed_over", 1, container=EVIL, to=EVIL)
    home.note("stocked", 2, container=f"b{EVIL}", ml=90, place=EVIL, expressed="2027-01-20", by=EVIL)
    people.add_person(home.store, EVIL)
    home.phone.post("/who/", {"who": EVIL})
    people.rename(home.store, EVIL)
    for address in ("/", "/log/", "/stock/", "/stock/enter/", "/history/", "/settings/", "/settings/people/", "/who/",
                    "/paper/", "/paper/enter/", "/settings/erase/", "/history/note-9/", "/history/note-11/correct/",
                    "/guidelines/switch/?to=abm"):  # fmt: skip
        answer = home.phone.get(address, follow=True)
        assert answer.status_code == 200, address
        assert b"<script>alert" not in answer.content, address
        assert b"'49" not in answer.content, address
    shown = home.phone.get("/history/").content.decode()
    assert "&lt;script&gt;alert(1)" in shown


def test_a_name_holds_no_zero_byte(home: Family) -> None:
    for attempt in (people.add_person, people.rename, people.remove_person):
        with pytest.raises(CannotError):
            attempt(home.store, "Ol\0ga")
    assert home.phone.post("/settings/people/", {"new": "Ol\0ga"}).status_code == 422


# What is left of a household


def test_erasing_overwrites_what_was_there(sqlite_file: str) -> None:
    with on(sqlite_file):
        store = people.begin(household="Quillhaven", name="Zephyrine", username="zephyrine", password=PASSWORD)
        event = {"id": "w", "at": "2027-03-11T08:00:00+00:00", "kind": "weighed", "child": "Ottokarina", "kg": 6}
        record(store, [line_of(event)], now=NOW)
        people.erase(store)
        folder = Path(str(connection.settings_dict["NAME"])).parent
        left = b"".join(file.read_bytes() for file in folder.iterdir() if file.is_file())
        assert b"ledger_event" in left
        for word in (b"Quillhaven", b"ephyrine", b"Ottokarina", b"pbkdf2", b"md5$"):
            assert word not in left, word
        connection.close()


def test_a_backup_signs_nobody_in(sqlite_file: str, tmp_path: Path) -> None:
    with on(sqlite_file):
        people.begin(household="Home", name="Marta", username="marta", password=PASSWORD)
        phone = Client()
        phone.post("/sign-in/", {"login": "marta", "password": PASSWORD})
        key = phone.cookies[site.SESSION_COOKIE_NAME].value
        assert phone.get("/more/").status_code == 200
        copy = tmp_path / "copy.sqlite3"
        backups.back_up(copy)
        assert key.encode() not in copy.read_bytes()
        now = str(connection.settings_dict["NAME"])
        with closing(sqlite3.connect(now)) as old, closing(sqlite3.connect(tmp_path / "older")) as older:
            old.backup(older)
        assert key.encode() in (tmp_path / "older").read_bytes()
        connection.close()
        backups.put_back(tmp_path / "older")
        assert phone.get("/more/").status_code == 302
        connection.close()
