from __future__ import annotations

import json
from typing import Any

import pytest
from bs4 import BeautifulSoup
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.pages import Family, text

from thawline.core.verdict import Verdict
from thawline.faces.web.views.milk import VERBS
from thawline.services import recording
from thawline.services.board import one

CODE = "KA34"


def events(home: Family) -> list[dict[str, Any]]:
    return [json.loads(line) for line in home.store.lines()]


def last(home: Family) -> dict[str, Any]:
    return events(home)[-1]


def verdict(home: Family, code: str = CODE) -> Verdict:
    found = one(home.store, code, now=home.now)
    assert found is not None
    return found.verdict


def form(home: Family, verb: str, code: str = CODE, **fields: Any) -> tuple[str, dict[str, Any]]:
    """A verb's form, filled: where it posts to, and what it sends."""
    page = home.see(f"/milk/{code}/{verb}/")
    return f"/milk/{code}/{verb}/", home.fill(page, **fields)


@pytest.fixture
def milk(home: Family) -> Family:
    home.expressed(CODE, 120, 3)
    return home


SAYS: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("to", {"to": "freezer"}, {"kind": "moved", "to": "freezer"}),
    ("warm", {"how": "warmer"}, {"kind": "warmed", "how": "warmer"}),
    ("feed", {"how": "began"}, {"kind": "feed_began", "child": "Mira"}),
    ("feed", {"how": "gone"}, {"kind": "feed_ended", "left_ml": 0.0}),
    ("feed", {"how": "left", "left": "30", "took": "20"}, {"kind": "feed_ended", "left_ml": 30.0}),
    ("leftover", {"left": "30,5", "took": "20"}, {"kind": "feed_ended", "left_ml": 30.5}),
    ("count", {"ml": "115"}, {"kind": "counted", "ml": 115.0}),
    ("measure", {"temp": "3,5"}, {"kind": "measured", "temp_c": 3.5}),
    ("hold", {"why": "medicine"}, {"kind": "held", "why": "medicine"}),
    ("hold", {"why": "other", "until_on": "2027-02-05"}, {"kind": "held", "until": "2027-02-05"}),
    (
        "hold",
        {"why": "other", "until_on": "2027-02-05", "until_at": "08:30"},
        {"kind": "held", "until": "2027-02-05T08:30:00+00:00"},
    ),
    ("release", {}, {"kind": "released"}),
    ("add", {"what": "fortifier"}, {"kind": "added", "what": "fortifier"}),
    ("hand", {"to": "childcare", "place": ""}, {"kind": "handed_over", "to": "childcare"}),
    ("hand", {"to": "Rui", "place": "cooler bag"}, {"kind": "handed_over", "place": "cooler bag"}),
    ("back", {"place": "fridge"}, {"kind": "returned", "place": "fridge"}),
    ("receive", {"place": "fridge"}, {"kind": "received", "place": "fridge"}),
    ("ice", {"ice": "yes"}, {"kind": "thaw_seen", "ice": True}),
    ("ice", {"ice": "no"}, {"kind": "thaw_seen", "ice": False}),
    ("discard", {"why": "spilled"}, {"kind": "discarded", "why": "spilled"}),
    ("discard", {"ml": "20", "why": "leaked"}, {"kind": "discarded", "ml": 20.0}),
    ("discard", {}, {"kind": "discarded"}),
]


def test_every_verb_has_its_turn_below() -> None:
    assert {verb for verb, _sent, _said in SAYS} | {"pour"} == set(VERBS)


@pytest.mark.parametrize(("verb", "sent", "said"), SAYS)
def test_each_verb_records_what_was_said_and_sent_twice_counts_once(
    milk: Family, verb: str, sent: dict[str, Any], said: dict[str, Any]
) -> None:
    url, data = form(milk, verb, **sent, sure="yes")
    milk.send(url, data)
    event, count = last(milk), len(events(milk))
    assert event.get("container") == CODE
    assert event["by"] == "Marta"
    assert {key: event.get(key) for key in said} == said
    milk.send(url, data)
    assert len(events(milk)) == count


@pytest.mark.parametrize(("verb", "sent", "said"), SAYS)
def test_each_verb_can_be_undone(milk: Family, verb: str, sent: dict[str, Any], said: dict[str, Any]) -> None:
    before = verdict(milk)
    url, data = form(milk, verb, **sent, sure="yes")
    milk.send(url, data)
    assert last(milk)["kind"] == said["kind"]
    milk.send(f"/undo/{data['act']}/", {"act": recording.new_act(), "sure": "yes"})
    assert verdict(milk) == before


def test_what_was_recorded_can_be_undone_from_the_page_that_follows(milk: Family) -> None:
    page = milk.send(*form(milk, "to", to="freezer"))
    assert "KA34 went to freezer." in page.select_one(".undo").text  # type: ignore[union-attr]


def test_one_tap_on_the_page_records_now(home: Family) -> None:
    home.note("expressed", 1, into=[{"container": CODE, "ml": 120}], place="counter")
    page = home.see(f"/milk/{CODE}/")
    home.send(f"/milk/{CODE}/to/", home.fill(page, f"/milk/{CODE}/to/"))
    assert last(home) | {"id": ""} == {
        "id": "", "at": home.at(), "kind": "moved", "by": "Marta", "container": CODE, "to": "fridge"}  # fmt: skip


def test_a_button_without_its_answer_asks_for_it_and_blames_nobody(milk: Family) -> None:
    count = len(events(milk))
    page = milk.send(f"/milk/{CODE}/leftover/", {"act": recording.new_act(), "back": "/stock/"})
    assert "How much is left?" in text(page)
    assert not page.select("#problems")
    assert page.select_one('input[name="back"]')["value"] == "/stock/"  # type: ignore[index]
    assert len(events(milk)) == count


def test_a_feed_that_is_open_gets_only_its_end(milk: Family) -> None:
    milk.send(*form(milk, "feed", how="began"))
    milk.send(*form(milk, "feed", how="gone"))
    assert [event["kind"] for event in events(milk)[-2:]] == ["feed_began", "feed_ended"]


def test_a_feed_at_one_go_is_one_act(milk: Family) -> None:
    url, data = form(milk, "feed", how="gone")
    milk.send(url, data)
    assert [row.kind for row in milk.store.act(data["act"])] == ["feed_began", "feed_ended"]
    assert verdict(milk).standing == "gone"


def test_with_two_children_the_one_who_drinks_is_asked(milk: Family) -> None:
    milk.note("child", 24, child="Teo", born="2026-12-01", care="home")
    url, data = form(milk, "feed", how="gone")
    assert "Choose who drinks." in text(milk.send(url, data, status=422))
    milk.send(url, data | {"child": "Teo"})
    assert events(milk)[-2]["child"] == "Teo"


def test_amounts_are_in_the_units_of_the_household(milk: Family) -> None:
    milk.note("household", 0.5, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "F"])
    page = milk.see(f"/milk/{CODE}/leftover/")
    assert "fl oz" in text(page)
    milk.send(*form(milk, "leftover", left="1", took="20"))
    assert last(milk)["left_ml"] == pytest.approx(29.6, abs=0.05)
    milk.send(*form(milk, "measure", temp="40"))
    assert last(milk)["temp_c"] == pytest.approx(4.4, abs=0.05)


@pytest.mark.parametrize(
    ("verb", "sent", "says"),
    [
        ("leftover", {"left": "lots"}, "is not a number"),
        ("leftover", {"left": ""}, "Write how much is left."),
        ("leftover", {"left": "999", "took": "10"}, "check the amount"),
        ("count", {"ml": "-4"}, "too small"),
        ("measure", {"temp": "hot"}, "is not a number"),
        ("measure", {"temp": "400"}, "out of range"),
        ("to", {"to": "fridge"}, "It is there already."),
        ("to", {"to": "the moon"}, "Choose where it goes."),
        ("warm", {"how": "campfire"}, "Choose how."),
        ("hold", {"why": "medicine", "until_at": "08:00"}, "Choose the day as well."),
        ("hold", {"why": "medicine", "until_on": "soon"}, "Write the day"),
        ("hand", {"to": " "}, "Write to whom."),
        ("feed", {"how": "gone", "when": "at", "when_at": "2031-01-01T10:00"}, "still ahead"),
        ("feed", {"how": "gone", "when": "120", "when_at": ""}, ""),
        ("discard", {"when": "at", "when_at": "2027-01-01T10:00"}, "check the time"),
    ],
)
def test_what_will_not_do_is_said_and_what_was_typed_is_kept(
    milk: Family, verb: str, sent: dict[str, Any], says: str
) -> None:
    count = len(events(milk))
    url, data = form(milk, verb, **sent)
    page = milk.send(url, data, status=422 if says else 200)
    if not says:
        return
    assert says in text(page)
    assert len(events(milk)) == count
    typed = {key: value for key, value in sent.items() if key in ("left", "ml", "temp", "until_at") and value}
    for key, value in typed.items():
        assert page.select_one(f'input[name="{key}"]')["value"] == value  # type: ignore[index]
    milk.send(url, data | {"when": "now"}, status=422 if verb not in ("feed", "discard") else 200)


def test_a_form_without_its_id_records_nothing_and_gets_one(milk: Family) -> None:
    count = len(events(milk))
    page = milk.send(f"/milk/{CODE}/discard/", {"why": "spilled"}, status=422)
    assert "too old" in text(page)
    assert len(events(milk)) == count
    milk.send(f"/milk/{CODE}/discard/", milk.fill(page))
    assert last(milk)["kind"] == "discarded"


# Breaches are asked first, never refused


def test_a_breach_is_said_kindly_then_recorded(home: Family) -> None:
    home.expressed(CODE, 120, 24 * 6)
    url, data = form(home, "feed", how="gone")
    count = len(events(home))
    page = home.send(url, data)
    assert "Fed past its limit." in text(page)
    assert "US Centers for Disease Control" in text(page)
    assert "Call a clinician now" in text(page)
    assert len(events(home)) == count
    home.send(url, home.fill(page))
    assert [event["kind"] for event in events(home)[count:]] == ["feed_began", "feed_ended"]
    assert verdict(home).breaches


def test_going_back_from_a_breach_leads_to_the_container(milk: Family) -> None:
    page = milk.send(*form(milk, "warm", how="microwave"))
    (back,) = page.select(".ask a.button")
    assert back["href"] == f"/milk/{CODE}/"
    assert "a rule was broken" in text(page)


# Pouring


def pick(home: Family, *others: str, code: str = CODE) -> BeautifulSoup:
    url, data = form(home, "pour", code)
    return home.send(url, data | {"container": list(others)})


def pour_form(home: Family, page: BeautifulSoup, **fields: Any) -> dict[str, Any]:
    """The form of the second step, with every container that it names."""
    sent = home.fill(page, **fields)
    sent["container"] = [str(box["value"]) for box in page.select('input[name="container"]')]
    return sent


def test_milk_within_its_limits_is_offered_first(milk: Family) -> None:
    milk.expressed("OLD1", 60, 24 * 6)
    milk.expressed("ICY1", 60, 30, place="freezer")
    milk.expressed("KE44", 60, 30)
    page = milk.see(f"/milk/{CODE}/pour/")
    assert [box["value"] for box in page.select('input[name="container"]')] == ["KE44", "ICY1", "OLD1"]


def test_combining_shows_the_result_before_anything_is_recorded(milk: Family) -> None:
    milk.expressed("KE44", 60, 30)
    count = len(events(milk))
    page = pick(milk, "KE44")
    said = text(page)
    assert "180 mL" in said and "Dated yesterday 08:00, by the oldest part." in said
    assert "Chill fresh milk before adding it" in said
    assert len(events(milk)) == count


@pytest.mark.parametrize("into", [CODE, "KE44", ""])
def test_the_preview_of_a_pour_is_what_the_verdict_says_afterwards(milk: Family, into: str) -> None:
    milk.expressed("KE44", 60, 30)
    page = milk.send(f"/milk/{CODE}/pour/", pour_form(milk, pick(milk, "KE44"), step="look", into=into))
    shown = " ".join(page.select_one(".line .by").get_text(" ").split())  # type: ignore[union-attr]
    code = page.select_one(".line .code").get_text()  # type: ignore[union-attr]
    milk.send(f"/milk/{CODE}/pour/", pour_form(milk, page, step="confirm"))
    assert last(milk)["kind"] == "poured"
    after = milk.see(f"/milk/{code}/")
    assert shown == " ".join(after.select_one(".next .by").get_text(" ").split())  # type: ignore[union-attr]
    assert "180 mL" in text(after)
    if into:
        assert code == into


def test_part_of_it_goes_into_a_new_container_and_the_rest_stays(milk: Family) -> None:
    page = pick(milk)
    data = pour_form(milk, page, step="confirm")
    page = milk.send(f"/milk/{CODE}/pour/", data | {f"ml-{CODE}": "50", "into_new": "LAB7"})
    assert last(milk)["kind"] != "poured", "what was changed is shown before it is recorded"
    assert "70 mL" in text(page)
    milk.send(f"/milk/{CODE}/pour/", pour_form(milk, page, step="confirm"))
    assert (verdict(milk).ml, verdict(milk, "LAB7").ml) == (70, 50)


def test_warm_milk_onto_cold_is_asked_with_its_source_then_recorded(home: Family) -> None:
    home.expressed(CODE, 120, 3)
    home.note("expressed", 0.5, into=[{"container": "KE44", "ml": 60}], place="counter")
    page = pick(home, "KE44")
    assert page.select(".ask")
    assert "It happened: record it" in page.text
    home.send(f"/milk/{CODE}/pour/", pour_form(home, page, step="confirm"))
    assert last(home)["kind"] == "poured"
    assert verdict(home).breaches


def test_a_pour_sent_twice_counts_once(milk: Family) -> None:
    milk.expressed("KE44", 60, 30)
    data = pour_form(milk, pick(milk, "KE44"), step="confirm")
    for _ in range(2):
        milk.send(f"/milk/{CODE}/pour/", data)
    assert [event["kind"] for event in events(milk)].count("poured") == 1


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"into_new": "KE44", "into": ""}, "has or had this code"),
        ({"into": "NOPE"}, "Choose a container to pour into."),
        ({"ml-KE44": "much"}, "is not a number"),
        ({"ml-KE44": "500"}, "check the amount"),
        ({"when": "at", "when_at": "2027-01-01T10:00"}, "check the time"),
    ],
)
def test_a_pour_that_will_not_do_is_said(milk: Family, fields: dict[str, str], says: str) -> None:
    milk.expressed("KE44", 60, 30)
    data = pour_form(milk, pick(milk, "KE44"), step="confirm") | fields
    count = len(events(milk))
    assert says in text(milk.send(f"/milk/{CODE}/pour/", data, status=422))
    assert len(events(milk)) == count


def test_a_gone_container_has_no_forms(milk: Family) -> None:
    milk.note("discarded", 1, container=CODE)
    assert "What happened to it" in text(milk.see(f"/milk/{CODE}/feed/"))
    page = milk.send(f"/milk/{CODE}/discard/", {"act": recording.new_act(), "why": "other"}, status=422)
    assert "already gone" in text(page)


def test_all_of_it_as_shown_in_fluid_ounces_leaves_nothing_behind(milk: Family) -> None:
    milk.note("household", 0.5, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "F"])
    milk.send(f"/milk/{CODE}/pour/", pour_form(milk, pick(milk), step="confirm"))
    event = last(milk)
    assert event["from"] == [{"container": CODE, "ml": 120.0}]
    assert verdict(milk).standing == "gone"
    assert verdict(milk, event["into"]).ml == 120


# Junk

NAMES = [
    "act", "how", "to", "ice", "left", "ml", "temp", "why", "what", "place", "child", "container", "into", "into_new",
    "step", "shown", "sure", "when", "when_at", "when_on", "until_on", "until_at", "back", f"ml-{CODE}",
]  # fmt: skip
VALUES = st.one_of(
    st.text(max_size=30),
    st.sampled_from(["", "0", "-1", "1e9", "NaN", "٣", "120", "gone", "left", "fridge", CODE, "look", "confirm", "at"]),
    st.sampled_from(["on", "2027-02-30", "2027-02-03", "2027-02-03T07:10", "9999-12-31T23:59", "\0", "x" * 3000]),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    verb=st.sampled_from(VERBS),
    sent=st.dictionaries(st.sampled_from(NAMES), st.lists(VALUES, max_size=3), max_size=8),
    numbered=st.booleans(),
)
def test_no_junk_breaks_a_form(milk: Family, verb: str, sent: dict[str, list[str]], numbered: bool) -> None:
    if numbered:
        sent = sent | {"act": [recording.new_act()]}
    sent = {key: [value.encode("utf-8", "replace").decode() for value in them] for key, them in sent.items()}
    code = CODE if verdict(milk).standing != "gone" else "KE44"
    if code == "KE44" and one(milk.store, code, now=milk.now) is None:
        milk.expressed(code, 100, 2)
    for answer in (milk.phone.post(f"/milk/{code}/{verb}/", sent), milk.phone.get(f"/milk/{code}/{verb}/", sent)):
        assert answer.status_code in (200, 302, 422)
