"""The first run, who is noting, the pages to read, and the pages for what went wrong."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest import mock

import msgspec
import pytest
from bs4 import BeautifulSoup
from django.db import OperationalError, connection
from django.test import Client
from tests.pages import NOW, Family, text

from thawline.core.ledger import Refusal
from thawline.core.replay import moment
from thawline.records.accounts.models import Member, User
from thawline.records.ledger.models import Event, Household
from thawline.services import household, people
from thawline.services.recording import Recorded

OWNER = {"name": "Ana", "username": "ana", "password": "otter-basket-cloud", "household": "Ana's kitchen"}
CHILD = {"child": "Pip", "born": "2027-01-20"}


@pytest.fixture
def fresh(db: None) -> Iterator[Client]:
    """A phone before anybody has set anything up."""
    with mock.patch("thawline.services.present.now", return_value=moment(NOW)):
        yield Client(headers={"host": "localhost"})


def begin_form(phone: Client, **fields: Any) -> dict[str, Any]:
    """What the set-up page would send with these fields filled in."""
    page = BeautifulSoup(phone.get("/begin/").content, "html.parser")
    sent = Family(None, phone, 0).fill(page, **{**OWNER, **CHILD, "zone": "Europe/Lisbon", **fields})
    return {key: value for key, value in sent.items() if value is not None}


def events() -> list[dict[str, Any]]:
    return [msgspec.json.decode(row.line) for row in Event.objects.order_by("revision")]


@contextmanager
def no_database() -> Iterator[None]:
    """Every query fails, as if the disk were gone."""

    def broken(*_args: object) -> None:
        raise OperationalError("disk I/O error")

    with connection.execute_wrapper(broken):
        yield


def test_before_an_owner_exists_every_way_leads_to_the_set_up(fresh: Client) -> None:
    assert fresh.get("/", follow=True).redirect_chain[-1][0] == "/begin/"
    assert fresh.get("/sign-in/", follow=True).redirect_chain[-1][0] == "/begin/"


def test_one_form_sets_up_everything_and_signs_the_owner_in(fresh: Client) -> None:
    answer = fresh.post("/begin/", begin_form(fresh))
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")
    assert fresh.session["_auth_user_id"] == str(User.objects.get(username="ana").pk)
    kinds = [(event["kind"], event.get("place") or event.get("child")) for event in events()]
    assert kinds == [
        ("household", None), ("child", "Pip"), ("place", "counter"), ("place", "fridge"), ("place", "freezer"),
        ("place", "cooler bag"),
    ]  # fmt: skip
    assert len({event["id"].rpartition(".")[0] for event in events()}) == 1
    assert [event.get("temp_c") for event in events()[2:]] == [None] * 4
    assert events()[0] | {"id": ""} == {
        "id": "", "at": "2027-02-03T14:00:00+00:00", "kind": "household", "by": "Ana", "zone": "Europe/Lisbon",
        "guideline": "cdc", "units": ["ml", "C"],
    }  # fmt: skip


def test_the_set_up_is_there_only_once(fresh: Client) -> None:
    form = begin_form(fresh)
    fresh.post("/begin/", form)
    assert fresh.get("/begin/").status_code == 404
    assert Client().get("/begin/").status_code == 404
    assert Client().post("/begin/", {**form, "username": "other"}).status_code == 404
    assert User.objects.count() == Household.objects.count() == 1


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"password": "short"}, "at least 12 characters"),
        ({"password": "qwertyuiop123"}, "too common"),
        ({"zone": "Europe/Atlantis"}, "zone is not known"),
        ({"born": "2027-02-04"}, "still ahead"),
        ({"born": "soon"}, "2027-02-03"),
        ({"name": " "}, "Write your name"),
        ({"username": "a b"}, "valid username"),
        ({"guideline": "us-or"}, "Choose one"),
        ({"temp_1": "warm"}, "not a number"),
        ({"place_1": "counter"}, "this name"),
    ],
)
def test_what_can_not_be_used_is_named_and_nothing_is_kept(fresh: Client, fields: dict[str, str], says: str) -> None:
    answer = fresh.post("/begin/", begin_form(fresh, **fields))
    page = BeautifulSoup(answer.content, "html.parser")
    assert answer.status_code == 422
    summary = page.select_one("#problems")
    assert summary is not None
    assert says in summary.get_text(" ")
    for link in summary.select("a"):
        assert page.select_one(str(link["href"])) is not None, link
    assert User.objects.count() == Household.objects.count() == Event.objects.count() == 0
    name = page.select_one("#child")
    assert name is not None and name["value"] == "Pip"


def test_the_password_is_never_sent_back(fresh: Client) -> None:
    answer = fresh.post("/begin/", begin_form(fresh, zone="nowhere"))
    assert OWNER["password"].encode() not in answer.content


def test_a_password_may_be_pasted_and_kept_by_a_manager(fresh: Client) -> None:
    page = BeautifulSoup(fresh.get("/begin/").content, "html.parser")
    field = page.select_one("#password")
    assert field is not None
    assert field["autocomplete"] == "new-password"
    assert not field.has_attr("onpaste") and not field.has_attr("maxlength")


def test_a_place_taken_off_is_not_recorded_and_a_temperature_keeps_its_own_unit(fresh: Client) -> None:
    form = begin_form(fresh, temp="F", temp_0="70", temp_1="5 °C")
    del form["keep_3"]
    fresh.post("/begin/", form)
    places = {event["place"]: event.get("temp_c") for event in events() if event["kind"] == "place"}
    assert places == {"counter": 21.1, "fridge": 5, "freezer": None}
    assert events()[0]["units"] == ["ml", "F"]


def test_every_zone_of_the_world_is_accepted_by_name(fresh: Client) -> None:
    page = BeautifulSoup(fresh.get("/begin/").content, "html.parser")
    offered = {str(one["value"]) for one in page.select("#zones option")}
    assert {"Europe/Lisbon", "America/Argentina/Ushuaia", "Asia/Kathmandu", "UTC"} <= offered
    assert all(household.known_zone(name) for name in offered)


def test_where_the_events_are_refused_there_is_no_owner_either(fresh: Client) -> None:
    refused = Recorded((), (), (Refusal("line 1", "bad", "no"),))
    with mock.patch("thawline.services.household.record", return_value=refused):
        answer = fresh.post("/begin/", begin_form(fresh))
    assert answer.status_code == 422
    assert User.objects.count() == Household.objects.count() == 0


def test_under_a_hospitals_care_the_set_up_says_so_and_no_page_shows_a_home_limit(fresh: Client) -> None:
    page = BeautifulSoup(fresh.get("/begin/").content, "html.parser")
    assert "Home limits are hidden: follow your care team" in text(page)
    fresh.post("/begin/", begin_form(fresh, care="hospital"))
    page = BeautifulSoup(fresh.get("/guidelines/").content, "html.parser")
    assert "Follow what your care team says" in text(page)
    for limit in ("4 hours", "4 days", "12 months", "6 months"):
        assert limit not in text(page)


# Who is noting


def test_one_tap_says_who_is_noting(home: Family) -> None:
    page = home.see("/who/")
    assert [one["value"] for one in page.select("main button[name=who]")] == ["Marta", "Rui"]
    answer = home.phone.post("/who/", {"who": "Rui", "next": "/stock/"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/stock/")
    assert home.phone.session["who"] == "Rui"


def test_only_members_of_the_household_may_be_named(home: Family) -> None:
    people.add_person(people.bare_household("Next door"), "Olga")
    for name in ("Olga", "Nobody", ""):
        assert home.phone.post("/who/", {"who": name}).status_code == 404
    assert "who" not in home.phone.session


def test_a_new_name_is_added_and_is_the_one_who_notes(home: Family) -> None:
    home.phone.post("/who/", {"new": " Grandma  Lu "})
    assert home.phone.session["who"] == "Grandma Lu"
    assert "Grandma Lu" in {one.name for one in people.people(home.store)}
    answer = home.phone.post("/who/", {"new": "Rui"})
    assert answer.status_code == 422
    assert b"on the list already" in answer.content


@pytest.mark.parametrize("where", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_after_the_tap_no_foreign_page_is_opened(home: Family, where: str) -> None:
    assert home.phone.post("/who/", {"who": "Rui", "next": where}).headers["Location"] == "/"


# Pages to read


@pytest.mark.parametrize("url", ["/cautions/", "/https/"])
def test_cautions_and_encryption_can_be_read_before_signing_in(fresh: Client, url: str) -> None:
    assert fresh.get(url).status_code == 200


def test_the_cautions_are_complete(fresh: Client) -> None:
    page = text(BeautifulSoup(fresh.get("/cautions/").content, "html.parser"))
    for part in (
        "preterm", "Guidelines differ", "ceiling", "Tasting", "oldest first", "microwave", "40 °C (104 °F)",
        "not frozen again", "Do not pour it back", "Chill fresh milk", "Sanitise", "doors shut", "checked twice",
        "fever", "emergency services", "Medicines, alcohol", "never give milk past its limit",
    ):  # fmt: skip
        assert part in page, part
    assert "safe" not in page.lower()


def test_more_leads_to_everything_that_is_needed_seldom(home: Family) -> None:
    page = home.see("/more/")
    hrefs = {str(one["href"]) for one in page.select("main a")}
    wanted = {"/who/", "/guidelines/", "/cautions/", "/settings/", "/settings/phones/", "/settings/export/", "/https/"}
    assert wanted | {"/sign-out/"} <= hrefs


# What went wrong


def test_an_unknown_address_says_what_to_do(home: Family) -> None:
    assert "Now or Stock" in text(home.see("/nowhere/", 404))


def test_a_form_without_its_token_says_to_load_the_page_anew(home: Family) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = home.phone.cookies
    answer = strict.post("/who/", {"who": "Rui"})
    assert answer.status_code == 403
    assert b"Nothing was recorded. Go back, load the page anew" in answer.content


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ("database or disk is full", "disk of the Thawline computer is full"),
        ("attempt to write a readonly database", "may not write"),
        ("database is locked", "Something else is writing"),
        ("database disk image is malformed", "put back the last backup"),
        ("file is not a database", "put back the last backup"),
        ("connection refused", "can't reach its data"),
    ],
)
def test_what_could_not_be_stored_is_told_with_the_same_form_to_send_again(
    home: Family, fault: str, says: str
) -> None:  # fmt: skip
    with mock.patch("thawline.services.people.add_person", side_effect=OperationalError(fault)):
        page = home.send("/who/?next=/x/", {"new": "Ida", "next": "/stock/"}, 503)
    assert says in text(page) and "Nothing was recorded" in text(page)
    form = page.select_one("main form")
    assert form is not None
    assert form["action"] == "/who/?next=/x/"
    fields = {str(one["name"]): one["value"] for one in form.select("input") if one["name"] != "csrfmiddlewaretoken"}
    assert fields == {"new": "Ida", "next": "/stock/"}


def test_a_password_is_not_written_into_the_page_that_tells_of_a_fault(home: Family) -> None:
    with mock.patch("thawline.services.sessions.password_fits", side_effect=OperationalError("locked")):
        page = home.send("/settings/erase/", {"name": "Lisbon kitchen", "password": "owl-lantern-river"}, 503)
    assert "owl-lantern-river" not in str(page)


def test_the_page_that_tells_of_a_fault_needs_no_database(home: Family) -> None:
    home.phone.raise_request_exception = False
    with no_database():
        answer = home.phone.get("/")
    assert answer.status_code == 503
    assert b"on paper" in answer.content


def test_a_fault_in_the_middle_of_a_page_is_told_without_a_database(home: Family) -> None:
    home.phone.raise_request_exception = False
    seen: list[int] = []

    def broken(execute: Any, sql: str, *rest: Any) -> Any:
        seen.append(1)
        if len(seen) > 3:
            raise OperationalError("disk I/O error")
        return execute(sql, *rest)

    with connection.execute_wrapper(broken):
        answer = home.phone.get("/who/")
    assert answer.status_code == 503


def test_a_mistake_of_the_program_says_to_look_before_entering_again(home: Family) -> None:
    home.phone.raise_request_exception = False
    with mock.patch("thawline.services.people.people", side_effect=RuntimeError):
        page = home.see("/who/", 500)
    assert "look whether your last entry is there" in text(page)


def test_a_host_that_is_no_name_gets_a_page_too(home: Family) -> None:
    answer = Client(headers={"host": "a_b c"}).get("/cautions/")
    assert answer.status_code == 400
    assert b"This can't be read" in answer.content


def test_somebody_without_a_household_is_told_so(home: Family) -> None:
    Member.objects.filter(name="Marta").update(left=True)
    assert "You belong to no household here" in text(home.see("/more/", 403))
