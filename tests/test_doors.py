"""Who may open what: every role, at every address, of their own household and of another one.

The table itself is `thawline.services.permissions.MAY`, and `thawline.faces.doors` says what each address asks; here
the answers of all addresses that the site has are held against both.
"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
from bs4 import BeautifulSoup
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import Resolver404, resolve
from tests.pages import Family
from tests.people import NAMES, carer, childcare, member, outsider, service, signed_in, user_of
from tests.test_sweeps import ACT, Both, addresses, routes
from tests.test_sweeps import both as both  # noqa: PLC0414  (a fixture)

import thawline.faces.web
from thawline.core.times import DAY
from thawline.faces.doors import DOORS, OPEN
from thawline.records.accounts.models import Member
from thawline.services import recording
from thawline.services.permissions import MAY, ROLES, may, may_record, may_take_back

# Who is not let in is led here.
ENTRANCES = ("/sign-in/", "/begin/")


@pytest.fixture(autouse=True)
def _no_tries_before() -> None:
    cache.clear()


# The table


def test_every_address_has_a_door_and_every_door_an_address() -> None:
    names = {name for name, _pattern in routes()}
    assert names - set(DOORS) == set(), "an address without a door is shut to everybody: say what it asks"
    assert set(DOORS) - names == set(), "a door that leads nowhere"


def test_every_door_asks_for_something_that_some_role_may_do() -> None:
    known = {action for actions in MAY.values() for action in actions}
    assert set(DOORS.values()) <= known | {OPEN}
    assert set(MAY) == set(ROLES) == {str(role) for role in Member.Role}


def test_the_roles_are_what_the_family_was_promised() -> None:
    """Asked for so: a carer logs, feeds, sees the plan; childcare sees only what was handed to it; `ours` else."""
    everyone = {"look", "note", "check", "self"}
    assert {role: set(actions) for role, actions in MAY.items()} == {
        "owner": everyone | {"supply", "settle", "invite", "own"},
        "parent": everyone | {"supply", "settle", "invite"},
        "carer": everyone,
        "childcare": {"serve", "check", "self"},
    }


@pytest.mark.parametrize(
    ("address", "roles"),
    [
        ("/stock/", "owner parent carer"),
        ("/log/", "owner parent carer"),
        ("/plan/", "owner parent carer"),
        ("/history/", "owner parent carer"),
        ("/outlook/", "owner parent"),
        ("/settings/", "owner parent"),
        ("/settings/people/", "owner parent"),
        ("/settings/people/invite/", "owner parent"),
        ("/stock/enter/", "owner parent"),
        ("/who/", "owner parent"),
        ("/settings/export/", "owner"),
        ("/settings/erase/", "owner"),
        ("/care/", "childcare"),
        ("/check/", "owner parent carer childcare"),
        ("/homes/", "owner parent carer childcare"),
        ("/passkeys/", "owner parent carer childcare"),
        ("/settings/phones/", "owner parent carer childcare"),
    ],
)
def test_some_addresses_by_hand(home: Family, address: str, roles: str) -> None:
    for role, phone in phones(home).items():
        assert (phone.get(address, follow=True).status_code == 200) == (role in roles.split()), role


def test_a_role_that_is_none_may_nothing() -> None:
    for action in {action for actions in MAY.values() for action in actions}:
        assert not may("stranger", action) and not may("", action)
    assert not may_record("stranger", [{"kind": "expressed"}])


def phones(home: Family) -> dict[str, Client]:
    """A phone for each role; some of the milk is at the childcare service."""
    ours = service(home)
    home.expressed("HA55", 80, 5)
    home.note("handed_over", 1.5, container="HA55", to=ours.name, place=ours.place)
    home.note("received", 1.2, container="HA55", place=ours.place)
    return {
        "owner": home.phone,
        "parent": member(home, "parent"),
        "carer": carer(home),
        "childcare": childcare(home, service=ours),
    }


def asked(phone: Client, method: str, address: str) -> Any:
    """An address's answer; what it changed is taken back."""
    kept = deepcopy(phone.cookies)
    with transaction.atomic():
        answer = getattr(phone, method)(address, {"act": f"{ACT[:-1]}7"} if method == "post" else None)
        transaction.set_rollback(True)
    phone.cookies = kept
    cache.clear()
    return answer


@pytest.mark.slow
def test_each_role_opens_what_its_row_says_and_nothing_else(both: Both) -> None:
    """Role by address by method; 403 exactly where the role may not."""
    home, mine, _theirs = both
    seen = dict.fromkeys(("let in", "refused"), 0)
    for role, phone in phones(home).items():
        for name, address in addresses(mine):
            for method in ("get", "post"):
                status = asked(phone, method, address).status_code
                where = (role, name, method, address, status)
                if (role, method) == ("carer", "post") and name in ("web:entry", "web:undo"):
                    assert status == 403, "what others noted is theirs to take back"
                elif DOORS[name] == OPEN or may(role, DOORS[name]):  # type: ignore[arg-type]
                    seen["let in"] += 1
                    assert status in (200, 302, 404, 405, 409, 422), where
                elif (role, name) == ("childcare", "web:now"):
                    assert status == 302, where
                else:
                    seen["refused"] += 1
                    assert status == 403, where
    assert min(seen.values()) > 100, seen


@pytest.mark.slow
def test_nothing_of_another_household_is_found_by_any_role(both: Both) -> None:
    home, mine, theirs = both
    own = set(addresses(mine))
    for role, phone in phones(home).items():
        for name, address in addresses(theirs):
            if (name, address) in own or DOORS[name] == OPEN:
                continue
            for method in ("get", "post"):
                status = asked(phone, method, address).status_code
                refused = () if may(role, DOORS[name]) else (403,)  # type: ignore[arg-type]
                assert status in (404, 405, *refused), (role, name, method, address, status)


@pytest.mark.slow
def test_a_tag_of_ones_own_opens_no_milk_of_another_household(both: Both) -> None:
    home, mine, theirs = both
    mixed = {**theirs, "tag": mine["tag"]}
    everyone = phones(home)
    for name, address in addresses(mixed):
        if mine["tag"][0] not in address or not re.search(rf"HE99|{ACT[:-1]}9", address):
            continue
        for role, phone in everyone.items():
            answer = asked(phone, "get", address)
            assert answer.status_code != 200 or "HE99" not in _says(answer), (role, name, address)
            assert asked(phone, "post", address).status_code != 302 or not may(role, DOORS[name])  # type: ignore[arg-type]


def _says(answer: Any) -> str:
    page = BeautifulSoup(answer.content, "html.parser")
    for one in page.select("input, [href], [action]"):
        one.attrs.clear()
    return page.get_text(" ")


def test_who_belongs_to_another_household_opens_nothing_here(both: Both) -> None:
    _home, mine, _theirs = both
    neighbour = outsider("Olga")
    for name, address in addresses(mine):
        if DOORS[name] == OPEN or not re.search(rf"/(KA34|{mine['tag'][0]}|{ACT})", address):
            continue
        for method in ("get", "post"):
            status = asked(neighbour, method, address).status_code
            assert status in (403, 404, 405), (name, method, address, status)


def test_a_stranger_is_led_to_the_entrance_and_a_wrong_secret_opens_nothing(both: Both) -> None:
    _home, mine, _theirs = both
    stranger = Client()
    for name, address in addresses({**mine, "web:join.secret": ["B" * 43]}):
        for method in ("get", "post"):
            answer = asked(stranger, method, address)
            if name in ("web:join", "calendar:read"):
                assert answer.status_code in (404, 405), (name, method, answer.status_code)
            elif DOORS[name] != OPEN:
                assert answer.status_code == 302 and answer.headers["Location"].startswith(ENTRANCES), (name, method)


def test_a_sign_in_without_a_household_opens_nothing(both: Both) -> None:
    home, mine, _theirs = both
    phone = carer(home, "Amélia")
    Member.objects.filter(name="Amélia").update(left=True)
    for name, address in addresses(mine):
        if DOORS[name] == OPEN or name.startswith(("account_", "mfa_")):
            continue
        assert asked(phone, "get", address).status_code in (403, 404), (name, address)


# What may be recorded

KINDS = {
    "home": ("household", "place", "child"),
    "theirs": ("received", "moved", "thaw_seen", "warmed", "feed_began", "feed_ended", "discarded", "counted",
               "returned", "measured", "checked", "incident", "voided"),
    "family": ("expressed", "stocked", "poured", "added", "held", "released", "nursed", "fed_other", "day_complete",
               "weighed", "handed_over", "power_lost", "power_back", "cleaned"),
}  # fmt: skip


def test_the_kinds_below_are_all_there_are() -> None:
    from thawline.core import events as ev  # noqa: PLC0415

    known = {str(one.__struct_config__.tag) for one in ev.AnyEvent.__args__}
    assert {kind for kinds in KINDS.values() for kind in kinds} == known


@pytest.mark.parametrize(
    ("role", "groups"),
    [("owner", {"home", "theirs", "family"}), ("parent", {"home", "theirs", "family"}), ("carer", {"theirs", "family"}),
     ("childcare", {"theirs"}), ("stranger", set())],
)  # fmt: skip
def test_each_role_records_its_kinds_alone(role: str, groups: set[str]) -> None:
    for group, kinds in KINDS.items():
        for kind in kinds:
            assert may_record(role, [{"kind": kind}]) == (group in groups), (role, kind)
            mixed = [{"kind": "moved"}, {"kind": kind}]
            assert may_record(role, mixed) == (group in groups), (role, "moved and", kind)


def test_a_carer_takes_back_their_own_of_the_last_day() -> None:
    from collections import namedtuple  # noqa: PLC0415

    noted = namedtuple("noted", "person recorded_at")  # noqa: PYI024
    own, others, old = noted("Amélia", 10 * DAY), noted("Marta", 10 * DAY), noted("Amélia", 9 * DAY)
    for role in ("carer", "childcare"):
        assert may_take_back(role, "Amélia", [own], now=11 * DAY - 1)
        assert not may_take_back(role, "Amélia", [own], now=11 * DAY)
        assert not may_take_back(role, "Amélia", [own, others], now=10 * DAY)
        assert not may_take_back(role, "Amélia", [old], now=10 * DAY)
    assert may_take_back("parent", "Rita", [own, others, old], now=99 * DAY)
    assert not may_take_back("stranger", "Amélia", [own], now=10 * DAY)


def test_only_the_pages_that_ask_first_write_to_the_ledger() -> None:
    """Whatever records from a page goes through `acting.perform`, or calls `acting.allow` in the same module."""
    writers = {"record", "record_once", "take_in"}
    for file in Path(thawline.faces.web.__file__).parent.rglob("*.py"):
        tree = ast.parse(file.read_text())
        called = {_name(one.func) for one in ast.walk(tree) if isinstance(one, ast.Call)}
        if called & writers:
            assert "allow" in called, f"{file.name} records, and does not ask whether that is allowed"


def _name(one: ast.expr) -> str:
    return one.attr if isinstance(one, ast.Attribute) else one.id if isinstance(one, ast.Name) else ""


def test_a_carer_can_not_take_back_what_others_noted(home: Family) -> None:
    phone = carer(home)
    line = {"id": f"{ACT}.0", "at": home.at(3), "kind": "expressed", "into": [{"container": "KA34", "ml": 90}],
            "place": "fridge"}  # fmt: skip
    recording.record(home.store, [recording.line_of(line)], now=home.now, person="Marta")
    for address in (f"/undo/{ACT}/", f"/history/{ACT}.0/"):
        assert phone.post(address, {"do": "void", "sure": "yes"}).status_code == 403
    assert "Take it back" not in phone.get(f"/history/{ACT}.0/").content.decode()
    assert home.phone.post(f"/undo/{ACT}/", {"sure": "yes"}).status_code == 302


def test_a_carer_takes_back_their_own_and_not_after_a_day(home: Family) -> None:
    phone = carer(home)
    home.expressed("FAH3", 90, 3)
    for number, hours, status in ((1, 1.0, 302), (2, 25.0, 403)):
        act = f"{ACT[:-1]}{number}"
        page = BeautifulSoup(phone.get(f"/milk/FAH3/warm/?act={act}").content, "html.parser")
        phone.post("/milk/FAH3/warm/", home.fill(page, act=act))
        rows = home.store.act(act)
        assert rows and {row.person for row in rows} == {"Amélia"}, number
        home.now += int(hours * 3_600_000_000)
        assert phone.post(f"/undo/{act}/", {"sure": "yes"}).status_code == status


# Who it was


@pytest.mark.slow
def test_everything_that_is_recorded_from_a_page_says_who(both: Both) -> None:
    """Each form that a role is shown is sent as it stands; whatever it records bears the name of who was signed in."""
    home, mine, _theirs = both
    everyone = phones(home)
    written: list[tuple[str, str, Any]] = []
    plain = recording.record

    def watched(store: Any, lines: Any, **more: Any) -> Any:
        lines = list(lines)
        written.extend((acting[0], more.get("person", ""), json.loads(line)) for line in lines)
        return plain(store, lines, **more)

    acting = [""]
    with mock.patch("thawline.faces.web.acting.record", watched), \
         mock.patch("thawline.services.correcting.record", watched):  # fmt: skip
        for role, phone in everyone.items():
            acting[0] = "Marta" if role == "owner" else NAMES[role]
            for _address, form in forms(phone, mine):
                kept = deepcopy(phone.cookies)
                with transaction.atomic():
                    phone.post(form["action"], {**form["fields"], "sure": "yes"})
                    transaction.set_rollback(True)
                phone.cookies = kept
                cache.clear()
    assert len(written) > 20
    assert {acting for acting, _person, _event in written} >= {"Marta", "Rita", "Amélia"}
    for name, person, event in written:
        assert person == name, event
        assert event.get("by") == name, event


def forms(phone: Client, mine: dict[str, list[str]]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every form that sends something on every page that a phone can read: where to, and what."""
    for _name, address in addresses(mine):
        answer = phone.get(address, follow=True)
        cache.clear()
        if answer.status_code != 200 or not answer.headers["Content-Type"].startswith("text/html"):
            continue
        page = BeautifulSoup(answer.content, "html.parser")
        for form in page.select("form[method=post]"):
            yield address, {"action": str(form.get("action") or answer.request["PATH_INFO"]), "fields": _fields(form)}


def _fields(form: Any) -> dict[str, Any]:
    sent: dict[str, Any] = {}
    for one in form.select("input[name], select[name], textarea[name], button[name]"):
        kind, name = str(one.get("type", "")), str(one["name"])
        if kind in ("radio", "checkbox") and not one.has_attr("checked"):
            continue
        chosen = one.select_one("option[selected]") or one.select_one("option") if one.name == "select" else one
        sent.setdefault(name, chosen.get("value", chosen.text) if chosen else "")
    return sent


# No way that leads to a shut door


@pytest.mark.slow
@pytest.mark.parametrize("role", ["parent", "carer", "childcare"])
def test_no_page_offers_what_its_reader_may_not_do(both: Both, role: str) -> None:
    home, mine, _theirs = both
    phone = phones(home)[role]
    mine = {**mine, "code": [*mine["code"], "HA55"]}
    offered: dict[str, set[str]] = {}
    for _name, address in [*addresses(mine), ("", "/nowhere/"), ("", "/stock/?past=yes"), ("", "/history/?kind=home")]:
        answer = phone.get(address, follow=True)
        cache.clear()
        if not answer.headers.get("Content-Type", "").startswith("text/html") or answer.status_code == 403:
            continue
        page = BeautifulSoup(answer.content, "html.parser")
        ways = [str(one["href"]) for one in page.select("a[href]")]
        ways += [str(one["action"]) for one in page.select("form[action]")]
        ways += [str(one["formaction"]) for one in page.select("[formaction]")]
        for way in ways:
            offered.setdefault(way.partition("#")[0].partition("?")[0], set()).add(address)
    assert len(offered) > 5
    shut = {
        f"{way} ({name})": sorted(pages)[:3]
        for way, pages in offered.items()
        if way.startswith("/") and (name := _route(way)) and not _opens(role, name)
    }
    assert not shut, "\n".join(f"{way}: {pages}" for way, pages in shut.items())


def _route(way: str) -> str:
    try:
        return resolve(way).view_name
    except Resolver404:
        return ""


def _opens(role: str, name: str) -> bool:
    if (role, name) == ("childcare", "web:now"):
        return True
    return DOORS[name] == OPEN or may(role, DOORS[name])  # type: ignore[arg-type]


def test_the_first_page_of_each_role_is_there(home: Family) -> None:
    home.expressed("FAH3", 90, 3)
    for role, phone in phones(home).items():
        assert phone.get("/", follow=True).status_code == 200, role
        said = phone.get("/stock/" if role != "childcare" else "/care/").content.decode()
        assert ("FAH3" in said, "HA55" in said) == (role != "childcare", True), role


def test_a_role_that_is_changed_counts_at_once(home: Family) -> None:
    phone = member(home, "parent", "Rita")
    assert phone.get("/settings/").status_code == 200
    Member.objects.filter(name="Rita").update(role="carer")
    assert phone.get("/settings/").status_code == 403
    assert signed_in("Rita").get("/settings/").status_code == 403
    assert user_of("Rita") == "rita"
