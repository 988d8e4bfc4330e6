"""Guidelines to read, and what a switch changes, shown before it is made."""

from __future__ import annotations

import re
from typing import Any

import msgspec
import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test.utils import CaptureQueriesContext
from tests.pages import ZONE, Family, text

from thawline.core.guideline import Advice, Ban, Row, shipped, shipped_ids
from thawline.core.replay import replay
from thawline.core.times import parse_instant, written, zone_named
from thawline.faces.web.views.guidelines import SITUATIONS
from thawline.faces.words import STANDINGS, words_for
from thawline.records.ledger.models import Event
from thawline.services import board


def stocked(home: Family) -> None:
    """Milk of many ages, so that guidelines differ about it."""
    for number, hours in enumerate((1, 5, 30, 73, 80, 97)):
        home.expressed(f"FA{number}", 60 + number, hours)
    home.expressed("RO1", 50, 5, place="counter")
    home.expressed("OLD", 50, 24 * 200, place="freezer")


def replayed(home: Family, guideline: str, also: tuple[str, ...] = ()) -> dict[str, tuple[Any, ...]]:
    now = written(home.now, zone_named(ZONE))
    found = replay(home.store.lines(), now=now, guideline=guideline, also=also)
    return {one["container"]: (one["use_by"], one["best_by"], one["standing"]) for one in found["containers"]}


def in_words(home: Family, use_by: str | None, standing: str) -> str:
    if use_by is None:
        return "no time given"
    told = "since" if standing in ("past", "outside", "breached") else "use by"
    return f"{told} {words_for(ZONE, home.now).clock(parse_instant(use_by))}"


def lines(page: BeautifulSoup) -> dict[str, str]:
    """What the page says of each container that changes."""
    found = {}
    for line in page.select("main .line"):
        code = line.select_one(".code")
        assert code is not None
        found[code.text] = " ".join(line.get_text(" ").split())
    return found


@pytest.mark.parametrize("to", [name for name in shipped_ids() if shipped(name).role == "home" and name != "cdc"])
def test_a_switch_shows_first_what_two_replays_differ_in(home: Family, to: str) -> None:
    stocked(home)
    old, new = replayed(home, "cdc"), replayed(home, to)
    differ = {name for name in old if old[name] != new[name]}
    page = home.see(f"/guidelines/switch/?to={to}")
    shown = lines(page)
    assert set(shown) == differ
    for name in differ:
        before = f"Now: {in_words(home, old[name][0], old[name][2])}, {STANDINGS[old[name][2]]}"
        after = f"Then: {in_words(home, new[name][0], new[name][2])} , {STANDINGS[new[name][2]]}"
        assert before in shown[name] and after in shown[name], shown[name]
    past = sum(new[name][2] == "past" != old[name][2] for name in differ)
    told = re.search(r"(\d+) containers? would be past", text(page))
    assert (int(told.group(1)) if told else 0) == past


def test_a_switch_to_a_stricter_guideline_is_no_empty_example(home: Family) -> None:
    stocked(home)
    assert "would be past" in text(home.see("/guidelines/switch/?to=healthlinkbc"))


def test_only_the_tap_switches_and_it_counts_once(home: Family) -> None:
    stocked(home)
    before = Event.objects.count()
    page = home.see("/guidelines/switch/?to=bfn")
    assert Event.objects.count() == before
    sent = home.fill(page)
    home.send("/guidelines/switch/", sent)
    home.send("/guidelines/switch/", sent)
    assert Event.objects.count() == before + 1
    event = msgspec.json.decode(Event.objects.order_by("revision").last().line)  # type: ignore[union-attr]
    assert (event["kind"], event["guideline"], event["zone"], event["units"]) == ("household", "bfn", ZONE, ["ml", "C"])
    found = board.board(home.store, now=home.now)
    assert {one.container: one.standing for one in found.verdicts} == {
        name: standing for name, (_use, _best, standing) in replayed(home, "bfn").items()
    }


def test_a_switch_can_be_undone(home: Family) -> None:
    sent = home.fill(home.see("/guidelines/switch/?to=bfn"))
    page = home.send("/guidelines/switch/", sent)
    assert page.select_one('form[action^="/undo/"]') is not None


def test_an_overlay_is_added_and_taken_off_with_its_changes_shown(home: Family) -> None:
    home.expressed("FR1", 80, 24 * 190, place="freezer")
    page = home.see("/guidelines/switch/?with=us-or")
    assert set(lines(page)) == {"FR1"}
    home.send("/guidelines/switch/", home.fill(page))
    assert [one.id for one in board.board(home.store, now=home.now).also] == ["us-or"]
    assert board.board(home.store, now=home.now).verdicts[0].standing == replayed(home, "cdc", ("us-or",))["FR1"][2]
    page = home.see("/guidelines/switch/?with=us-wa")
    home.send("/guidelines/switch/", home.fill(page))
    page = home.see("/guidelines/switch/?without=us-or")
    home.send("/guidelines/switch/", home.fill(page))
    assert [one.id for one in board.board(home.store, now=home.now).also] == ["us-wa"]


def test_a_switch_keeps_the_overlays(home: Family) -> None:
    home.send("/guidelines/switch/", home.fill(home.see("/guidelines/switch/?with=au-tas")))
    home.send("/guidelines/switch/", home.fill(home.see("/guidelines/switch/?to=nhmrc")))
    found = board.board(home.store, now=home.now)
    assert (found.guideline.id, [one.id for one in found.also]) == ("nhmrc", ["au-tas"])


@pytest.mark.parametrize("query", ["to=none", "to=house", "to=us-or", "with=cdc", "without=x", "with=../cdc", ""])
def test_what_is_no_such_guideline_is_not_found(home: Family, query: str) -> None:
    home.see(f"/guidelines/switch/?{query}", 404)
    assert home.phone.post("/guidelines/switch/", dict([query.split("=")] if query else [])).status_code == 404


def test_an_unknown_guideline_can_not_be_read_either(home: Family) -> None:
    home.see("/guidelines/?see=none", 404)


@pytest.mark.parametrize("name", shipped_ids())
def test_every_rule_is_listed_with_where_it_stands(home: Family, name: str) -> None:
    page = text(home.see(f"/guidelines/?see={name}"))
    one = shipped(name)
    assert one.name in page and " ".join(one.source.split()) in page and one.about in page
    told: list[Row | Ban | Advice] = [row for rows in one.rows.values() for row in rows]
    for found in [*told, *one.bans.values(), *one.advice]:
        assert " ".join(found.says.split()) in page
        # The head of the page names publisher, title and edition for all that stand under it.
        assert found.source.removeprefix(one.source).removeprefix(", ") in page
    assert set(one.rows) <= set(SITUATIONS)


def test_the_one_in_force_is_named_and_the_others_can_be_chosen(home: Family) -> None:
    page = home.see("/guidelines/")
    assert "In force in your household" in text(page)
    hrefs = {str(one["href"]) for one in page.select("main a")}
    assert {f"/guidelines/?see={one}" for one in ("abm", "aap", "bfn", "nhmrc", "mayo", "healthlinkbc")} <= hrefs
    assert {f"/guidelines/switch/?with={one}" for one in ("us-or", "us-wa", "au-tas")} <= hrefs
    other = home.see("/guidelines/?see=abm")
    assert "Not in force" in text(other)
    assert other.select_one('main a[href="/guidelines/switch/?to=abm"]') is not None


def test_under_a_hospitals_care_no_home_limit_is_shown(home: Family) -> None:
    stocked(home)
    home.note("child", 0, child="Mira", born="2026-12-01", care="hospital")
    for url in ("/guidelines/", "/guidelines/?see=abm"):
        page = text(home.see(url))
        assert "Follow what your care team says" in page
        for name in shipped_ids():
            one = shipped(name)
            if one.role == "home":
                assert not any(row.says in page for rows in one.rows.values() for row in rows)
    assert lines(home.see("/guidelines/switch/?to=bfn")) == {}


def test_with_one_child_at_home_the_limits_are_shown_with_whom_they_leave_out(home: Family) -> None:
    home.note("child", 0, child="Noa", born="2027-01-01", care="hospital")
    page = text(home.see("/guidelines/"))
    assert "do not count for Noa" in page and "4 days" in page


@pytest.mark.parametrize("url", ["/guidelines/", "/guidelines/?see=abm", "/guidelines/switch/?to=abm"])
def test_reading_writes_nothing(home: Family, url: str) -> None:
    stocked(home)
    with CaptureQueriesContext(
        connection,
    ) as queries:
        home.see(url)
    assert not [one["sql"] for one in queries if one["sql"].split()[0] in ("INSERT", "UPDATE", "DELETE")]


def test_no_page_calls_milk_safe(home: Family) -> None:
    for url in ("/guidelines/", "/guidelines/switch/?to=abm"):
        assert not re.search(r"\bsafe\b", text(home.see(url)), re.IGNORECASE)
