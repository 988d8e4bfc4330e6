"""Settings: every change is an event, and what it changes of deadlines is shown first."""

from __future__ import annotations

import re
from typing import Any

import msgspec
import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from tests.pages import ZONE, Family, text

from thawline.core.verdict import Verdict
from thawline.records.accounts.models import Member, User
from thawline.records.ledger.models import Event, Household, Kin, Name, Touch
from thawline.services import board, people, recording

PASSWORD = "owl-lantern-river"


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


def last(home: Family, number: int = 1) -> list[dict[str, Any]]:
    """The latest events, oldest first, without what every event carries."""
    found = [msgspec.json.decode(line) for line in list(home.store.lines())[-number:]]
    return [{key: value for key, value in one.items() if key not in ("id", "at", "by")} for one in found]


def verdict(home: Family, code: str) -> Verdict:
    return next(one for one in board.board(home.store, now=home.now).verdicts if one.container == code)


def count(home: Family) -> int:
    return len(list(home.store.lines()))


def place_form(home: Family, name: str, **fields: Any) -> dict[str, Any]:
    return home.fill(home.see(f"/settings/place/?name={name}"), "/settings/place/", **fields)


def confirm(home: Family, page: BeautifulSoup, url: str) -> BeautifulSoup:
    """Agree to the changes that a page shows."""
    assert "another deadline" in text(page)
    return home.send(url, home.fill(page, url))


# The household


def test_the_settings_tell_what_is_set(home: Family) -> None:
    page = text(home.see("/settings/"))
    for part in ("Lisbon kitchen", ZONE, "US CDC", "Mira", "fridge", "4 °C", "-18 °C", "Marta", "Rui"):
        assert part in page, part


def test_units_change_by_an_event_and_the_name_without_one(home: Family) -> None:
    before = count(home)
    sent = home.fill(home.see("/settings/household/"), name="Blue kitchen", amount="fl_oz", temp="F")
    home.send("/settings/household/", sent)
    assert last(home) == [{"kind": "household", "zone": ZONE, "guideline": "cdc", "units": ["fl_oz", "F"]}]
    assert count(home) == before + 1
    page = text(home.see("/settings/"))
    assert "Blue kitchen" in page and "39.2 °F" in page and "fl oz" in page
    sent = home.fill(home.see("/settings/household/"), name="Red kitchen")
    home.send("/settings/household/", sent)
    assert count(home) == before + 1
    assert "Red kitchen" in text(home.see("/settings/"))


def test_another_zone_counts_from_now_on_and_leaves_deadlines_as_they_are(home: Family) -> None:
    home.expressed("FR1", 80, 24 * 100, place="freezer")
    old = verdict(home, "FR1")
    sent = home.fill(home.see("/settings/household/"), zone="Pacific/Auckland", name="Far kitchen")
    page = text(home.send("/settings/household/", sent))
    assert "Pacific/Auckland" in page and "Far kitchen" in page
    assert last(home)[0]["zone"] == "Pacific/Auckland"
    assert verdict(home, "FR1") == old


def test_a_zone_that_is_not_known_is_named(home: Family) -> None:
    sent = home.fill(home.see("/settings/household/"), zone="Mars/Olympus")
    assert "zone is not known" in text(home.send("/settings/household/", sent, 422))


def test_what_is_fed_first_is_a_preference_and_no_event(home: Family) -> None:
    before = count(home)
    home.send("/settings/feeding/", {"feed_first": "oldest"})
    assert people.home_of(User.objects.get().pk).feed_first == "oldest"  # type: ignore[union-attr]
    assert "oldest of all" in text(home.see("/settings/"))
    home.send("/settings/feeding/", {"feed_first": "newest"}, 422)
    assert people.home_of(User.objects.get().pk).feed_first == "oldest"  # type: ignore[union-attr]
    assert count(home) == before


# Places


def test_a_place_is_added(home: Family) -> None:
    sent = home.fill(home.see("/settings/place/"), place="cellar freezer", kind="deep_freezer", temp="-20,5")
    home.send("/settings/place/", sent)
    home.send("/settings/place/", sent)
    assert last(home) == [{"kind": "place", "place": "cellar freezer", "is": "deep_freezer", "temp_c": -20.5}]
    assert [one["kind"] for one in last(home, 2)] != ["place", "place"]


def test_a_name_that_is_there_is_not_taken_twice(home: Family) -> None:
    sent = home.fill(home.see("/settings/place/"), place="fridge", kind="room")
    assert "of this name already" in text(home.send("/settings/place/", sent, 422))


def test_another_temperature_of_a_place_shows_first_whose_deadline_it_changes(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.expressed("FR1", 80, 24 * 10, place="freezer")
    before = count(home)
    page = home.send("/settings/place/", place_form(home, "fridge", temp="9"))
    assert "KA34" in text(page) and "FR1" not in text(page)
    assert count(home) == before
    confirm(home, page, "/settings/place/")
    assert last(home) == [{"kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": 9}]


def test_what_is_shown_of_a_change_is_what_follows_from_it(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    old = verdict(home, "KA34")
    page = home.send("/settings/place/", place_form(home, "fridge", temp="9"))
    shown = page.select_one(".line")
    assert shown is not None
    confirm(home, page, "/settings/place/")
    new = verdict(home, "KA34")
    assert (old.use_by, old.standing) != (new.use_by, new.standing)
    assert shown["data-standing"] == new.standing


def test_a_change_without_effect_on_milk_needs_no_second_look(home: Family) -> None:
    home.send("/settings/place/", place_form(home, "freezer", temp="-20"))
    assert last(home) == [{"kind": "place", "place": "freezer", "is": "freezer", "temp_c": -20}]


def test_a_temperature_that_was_read_is_noted_in_the_units_of_the_household(home: Family) -> None:
    home.note("household", 0, zone=ZONE, guideline="cdc", units=["ml", "F"])
    page = home.see("/settings/place/?name=freezer")
    sent = home.fill(page, "/settings/place/measured/", temp_now="0")
    page = home.send("/settings/place/measured/", sent)
    assert last(home) == [{"kind": "measured", "temp_c": -17.8, "place": "freezer"}]
    assert "0 °F measured" in " ".join(page.get_text(" ").split())


def test_a_reading_is_a_fact_noted_at_once_and_can_be_taken_back(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    sent = home.fill(home.see("/settings/place/?name=fridge"), "/settings/place/measured/", temp_now="40")
    page = home.send("/settings/place/measured/", sent)
    assert last(home) == [{"kind": "measured", "temp_c": 40, "place": "fridge"}]
    assert page.select_one('form[action^="/undo/"]') is not None


def test_a_freezer_without_power_asks_how_full_it_is(home: Family) -> None:
    page = home.see("/settings/place/?name=freezer")
    assert page.select_one("input[name=fill][checked]") is None
    sent = home.fill(page, "/settings/place/power/", what="power_lost")
    before = count(home)
    home.send("/settings/place/power/", sent, 422)
    assert count(home) == before
    home.send("/settings/place/power/", sent | {"fill": "unsure"})
    assert last(home) == [{"kind": "power_lost", "place": "freezer"}]


@pytest.mark.parametrize("temp", ["", "cold", "400"])
def test_a_reading_that_is_no_temperature_is_asked_for_again(home: Family, temp: str) -> None:
    sent = home.fill(home.see("/settings/place/?name=fridge"), "/settings/place/measured/", temp_now=temp)
    page = home.send("/settings/place/measured/", sent, 422)
    field = page.select_one("#temp_now")
    assert field is not None and field["aria-invalid"] == "true" and field["value"] == temp


def test_power_goes_off_and_comes_back_at_one_tap_each(home: Family) -> None:
    for what in ("power_lost", "power_back"):
        sent = home.fill(home.see("/settings/place/?name=freezer"), "/settings/place/power/", what=what, fill="half")
        page = home.send("/settings/place/power/", sent)
        home.send("/settings/place/power/", sent)
        assert last(home) == [{"kind": what, "place": "freezer", "fill": "half"}]
        assert page.select_one('form[action^="/undo/"]') is not None
        home.hours(1)
    assert [one["kind"] for one in last(home, 2)] == ["power_lost", "power_back"]


def test_power_that_went_off_earlier_is_noted_at_its_time(home: Family) -> None:
    page = home.see("/settings/place/?name=fridge")
    sent = home.fill(page, "/settings/place/power/", what="power_lost", when="60")
    home.send("/settings/place/power/", sent)
    row = Event.objects.get(kind="power_lost")
    assert row.at == home.now - 3_600_000_000


def test_a_room_has_no_power_to_lose(home: Family) -> None:
    assert home.see("/settings/place/?name=counter").select_one('form[action="/settings/place/power/"]') is None


@pytest.mark.parametrize("url", ["/settings/place/?name=attic", "/settings/child/?name=Olga"])
def test_what_the_household_does_not_have_is_not_found(home: Family, url: str) -> None:
    home.see(url, 404)
    path = url.partition("?")[0]
    assert home.phone.post(path, {"name": "attic"}).status_code == 404


# Children


def test_a_child_is_added_with_its_day_of_birth(home: Family) -> None:
    sent = home.fill(home.see("/settings/child/"), child="Noa", born="2027-01-01", care="home")
    home.send("/settings/child/", sent)
    assert last(home) == [{"kind": "child", "child": "Noa", "born": "2027-01-01", "care": "home"}]


@pytest.mark.parametrize("born", ["2027-02-04", "", "soon"])
def test_a_child_is_born_on_a_day_that_has_been(home: Family, born: str) -> None:
    sent = home.fill(home.see("/settings/child/"), child="Noa", born=born)
    home.send("/settings/child/", sent, 422)


def test_a_hospitals_care_shows_first_that_limits_go_and_then_hides_them(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    sent = home.fill(home.see("/settings/child/?name=Mira"), care="hospital")
    page = home.send("/settings/child/", sent)
    assert "KA34" in text(page) and "no time given" in text(page)
    confirm(home, page, "/settings/child/")
    assert last(home) == [{"kind": "child", "child": "Mira", "born": "2026-12-01", "care": "hospital"}]
    assert verdict(home, "KA34").use_by is None
    assert "home limits are hidden" in text(home.see("/settings/"))


# People


def test_names_are_added_and_taken_off(home: Family) -> None:
    home.send("/settings/people/", {"new": "Ida"})
    assert [one.name for one in people.people(home.store)] == ["Marta", "Rui", "Ida"]
    home.send("/settings/people/", {"remove": "Rui"})
    assert [one.name for one in people.people(home.store)] == ["Marta", "Ida"]
    home.send("/settings/people/", {"new": "Rui"})
    assert "Rui" in [one.name for one in people.people(home.store)]


def test_who_signs_in_can_not_be_taken_off(home: Family) -> None:
    assert "without a sign-in" in text(home.send("/settings/people/", {"remove": "Marta"}, 422))


def test_a_phone_does_not_go_on_noting_as_somebody_taken_off(home: Family) -> None:
    home.phone.post("/who/", {"who": "Rui"})
    home.send("/settings/people/", {"remove": "Rui"})
    assert "who" not in home.phone.session


# Export and erasing


def guest(home: Family) -> Client:
    """A phone of a member who is not the owner."""
    user = get_user_model().objects.create_user("rui", password=PASSWORD)
    Member.objects.filter(name="Rui").update(user=user)
    phone = Client()
    phone.force_login(user)
    return phone


def test_the_file_holds_each_event_to_the_byte(home: Family) -> None:
    lines = [
        '{"id":"x-1","at":"2027-02-03T09:00:00+00:00","kind":"weighed","child":"Zoë","kg":4.50}',
        '{ "kind": "nursed", "id": "x-2", "at": "2027-02-03T10:00:00Z", "child": "Mira" }',
    ]
    recording.record(home.store, [line.encode() for line in lines], now=home.now)
    answer = home.phone.get("/settings/export/?as=ndjson")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="thawline-2027-02-03.ndjson"'
    assert answer.streaming
    found = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    assert found == b"".join(line + b"\n" for line in home.store.lines())
    assert found.endswith("".join(f"{line}\n" for line in lines).encode())


@pytest.mark.parametrize("url", ["/settings/export/", "/settings/export/?as=ndjson", "/settings/erase/"])
def test_only_the_owner_exports_and_erases(home: Family, url: str) -> None:
    phone = guest(home)
    assert phone.get(url).status_code == 403
    assert home.phone.get(url).status_code == 200
    assert "Erase" not in phone.get("/settings/").content.decode()


def test_a_guest_can_not_erase_by_sending_the_form(home: Family) -> None:
    answer = guest(home).post("/settings/erase/", {"name": "Lisbon kitchen", "password": PASSWORD})
    assert answer.status_code == 403
    assert Household.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"name": "Lisbon", "password": PASSWORD}, "name exactly"),
        ({"name": "Lisbon kitchen", "password": "wrong"}, "not the password"),
        ({}, "name exactly"),
    ],
)
def test_erasing_needs_the_name_and_the_password(home: Family, sent: dict[str, str], says: str) -> None:
    page = home.send("/settings/erase/", sent, 422)
    assert says in text(page)
    assert page.select_one('main a[href="/settings/export/"]') is not None
    assert Household.objects.count() == 1


def test_guessing_the_password_of_the_erasing_has_to_wait(home: Family) -> None:
    for _ in range(5):
        home.send("/settings/erase/", {"name": "Lisbon kitchen", "password": "wrong"}, 422)
    page = home.send("/settings/erase/", {"name": "Lisbon kitchen", "password": PASSWORD}, 422)
    assert "wait five minutes" in text(page)
    assert Household.objects.count() == 1


def test_erasing_leaves_nothing_of_this_household_and_all_of_another(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    phones = [guest(home), Client()]
    phones[1].force_login(User.objects.get(username="marta"))
    other = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    line = b'{"id":"n-1","at":"2027-02-03T09:00:00Z","kind":"place","place":"fridge","is":"refrigerator"}'
    recording.record(other, [line], now=home.now)
    theirs = Client()
    theirs.force_login(User.objects.get(username="olga"))
    page = home.send("/settings/erase/", {"name": "Lisbon kitchen", "password": PASSWORD})
    assert "All is deleted" in text(page)
    assert [one.name for one in Household.objects.all()] == ["Next door"]
    assert [one.username for one in User.objects.all()] == ["olga"]
    assert [one.name for one in Member.objects.all()] == ["Olga"]
    assert list(other.lines()) == [line]
    for model in (Event, Touch, Kin, Name):
        assert not model.objects.exclude(household=other.id).exists()
    assert [one.get_decoded()["_auth_user_id"] for one in Session.objects.all()] == [
        str(User.objects.get(username="olga").pk)
    ]
    assert theirs.get("/more/").status_code == 200
    assert [phone.get("/more/").status_code for phone in (home.phone, *phones)] == [302, 302, 302]


# All of them

PAGES = (
    "/settings/", "/settings/household/", "/settings/feeding/", "/settings/place/", "/settings/place/?name=freezer",
    "/settings/child/", "/settings/child/?name=Mira", "/settings/people/", "/settings/phones/", "/settings/export/",
    "/settings/erase/", "/more/", "/who/",
)  # fmt: skip


@pytest.mark.parametrize("url", PAGES)
def test_reading_writes_nothing(home: Family, url: str) -> None:
    with CaptureQueriesContext(connection) as queries:
        home.see(url)
    assert not [one["sql"] for one in queries if one["sql"].split()[0] in ("INSERT", "UPDATE", "DELETE")]


@pytest.mark.parametrize(
    "url", [*PAGES, "/cautions/", "/https/", "/guidelines/", "/password/", "/sign-out/", "/again/"]
)
def test_every_field_has_a_name_and_no_page_calls_milk_safe(home: Family, url: str) -> None:
    well_formed(home.see(url))


def test_the_pages_before_signing_in_are_well_formed_too(home: Family) -> None:
    well_formed(Family(home.store, Client(), home.now).see("/sign-in/"))
    people.erase(home.store)
    well_formed(Family(home.store, Client(headers={"host": "localhost"}), home.now).see("/begin/"))


def well_formed(page: BeautifulSoup) -> None:
    ids = [str(one["id"]) for one in page.select("[id]")]
    assert len(ids) == len(set(ids)), ids
    for field in page.select("main input:not([type=hidden]), main select, main textarea"):
        named = field.find_parent("label") or page.select_one(f'label[for="{field.get("id")}"]')
        assert named is not None and named.get_text(strip=True), field
    assert len(page.select("main h1")) == 1
    assert not page.select("[style], script:not([src])")
    assert not re.search(r"\bsafe\b", text(page), re.IGNORECASE)


@pytest.mark.parametrize("url", ["/settings/household/", "/settings/place/", "/settings/child/"])
def test_an_old_form_without_its_number_records_nothing(home: Family, url: str) -> None:
    before = count(home)
    sent = home.fill(home.see(url), zone="Europe/Paris", place="attic", child="Noa", born="2027-01-01", temp="30")
    sent["act"] = ""
    home.send(url, sent, 422)
    assert count(home) == before
