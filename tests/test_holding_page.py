"""Holding milk back: several at once, what is held and why, release, and what is said beside it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from tests.pages import Family, text
from tests.people import carer

from thawline.core import events as ev
from thawline.services.board import board


def standing(home: Family) -> dict[str, str]:
    """How each container stands."""
    return {one.container: one.standing for one in board(home.store, now=home.now).verdicts}


def form(home: Family, do: str, query: str = "", **fields: Any) -> dict[str, Any]:
    """What one of the two forms of the page would send."""
    page = home.see(f"/holding/{query}")
    found = next(one for one in page.select("main form") if one.select_one(f'input[name=do][value="{do}"]'))
    ticked = [str(one["value"]) for one in found.select("input[name=container][checked]")]
    sent = {str(one["name"]): str(one.get("value", "")) for one in found.select("input[name]")
            if one.get("type") not in ("checkbox", "radio") or one.has_attr("checked")}  # fmt: skip
    return {**sent, "container": ticked} | fields


@pytest.fixture
def milk(home: Family) -> Family:
    home.expressed("OLD", 90, 24 * 9, place="freezer")
    home.expressed("KA34", 90, 20)
    home.note("expressed", 2, into=[{"container": "A1", "ml": 50}, {"container": "A2", "ml": 60}], place="fridge")
    return home


def test_all_of_the_last_session_is_held_in_one_act_and_undone_in_one(milk: Family) -> None:
    sent = form(milk, "hold", "?last=1", why="medicine")
    assert sorted(sent["container"]) == ["A1", "A2"]
    after = milk.send("/holding/", sent)
    assert {code for code, how in standing(milk).items() if how == "held"} == {"A1", "A2"}
    rows = milk.store.history(before=None, limit=9, kinds=("held",))
    assert len({row.event_id.rpartition(".")[0] for row in rows}) == 1
    undo = next(one for one in after.select("form") if "/undo/" in str(one.get("action", "")))
    milk.send(str(undo["action"]), {str(one["name"]): str(one.get("value", "")) for one in undo.select("input[name]")})
    assert "held" not in standing(milk).values()


def test_the_last_session_is_chosen_before_the_reason_so_that_no_choice_is_lost(milk: Family) -> None:
    order = [str(one) for one in milk.see("/holding/").select("main a, main input[name=why]")]
    assert next(n for n, one in enumerate(order) if "last=1" in one) < next(
        n for n, one in enumerate(order) if 'name="why"' in one
    )


def test_what_is_held_says_why_and_until_when_and_is_released_only_by_somebody(milk: Family) -> None:
    milk.send(
        "/holding/", form(milk, "hold", container=["KA34"], why="alcohol", until_on="2027-02-03", until_at="18:00")
    )
    said = text(milk.see("/holding/"))
    assert "alcohol" in said and "Look again today 18:00" in said
    milk.hours(5)
    assert "Look again: it was for today 18:00" in text(milk.see("/holding/"))
    assert standing(milk)["KA34"] == "held"
    milk.send("/holding/", form(milk, "release", container=["KA34"]))
    assert standing(milk)["KA34"] != "held" and "Nothing is held back." in text(milk.see("/holding/"))


def test_held_milk_that_is_past_its_limit_is_still_among_what_is_held(milk: Family) -> None:
    milk.send("/holding/", form(milk, "hold", container=["KA34"], why="clinician"))
    milk.hours(24 * 6)
    assert "KA34" in text(milk.see("/holding/")).partition("Hold milk back")[0]


def test_milk_poured_from_what_is_held_is_among_it(milk: Family) -> None:
    milk.send("/holding/", form(milk, "hold", container=["A1"], why="other"))
    milk.hours(0.1)
    milk.note("poured", from_=[{"container": "A1", "ml": 50}], into="B1")
    assert "B1" in text(milk.see("/holding/")).partition("Hold milk back")[0]


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"container": [], "why": "other"}, "Tick at least one container."),
        ({"container": ["A1"], "why": ""}, "Choose why."),
        ({"container": ["A1"], "why": "thirst"}, "Choose why."),
        ({"container": ["NOSUCH", "A1\x00"], "why": "other"}, "Tick at least one container."),
        ({"container": ["A1"], "why": "other", "until_at": "18:00"}, "Choose the day as well."),
        ({"container": ["A1"], "why": "other", "until_on": "soon"}, "Write the day as"),
    ],
)
def test_what_is_to_mend_is_said_and_nothing_is_recorded(milk: Family, fields: dict[str, Any], says: str) -> None:
    assert says in text(milk.send("/holding/", form(milk, "hold") | fields, status=422))
    assert "held" not in standing(milk).values()


def test_the_same_form_sent_twice_counts_once_and_the_two_forms_are_two_acts(milk: Family) -> None:
    sent = form(milk, "hold", container=["A1"], why="other")
    milk.send("/holding/", sent)
    milk.send("/holding/", sent)
    assert len(milk.store.history(before=None, limit=9, kinds=("held",))) == 1
    page = milk.see("/holding/")
    acts = [str(one["value"]) for one in page.select("main form input[name=act]")]
    assert len(acts) == len(set(acts)) == 2


def test_from_a_drink_it_comes_filled_in_with_what_was_expressed_since(milk: Family) -> None:
    """Two Canadian drinks at 70 kg are over 4 h 25 min after the first one (C45); the page's clock is 14:00."""
    page = milk.see("/wait/?counted=ca&many=2&weight=70&began=11:30&ended=12:30")
    link = next(str(one["href"]) for one in page.select("main a") if "Hold milk back" in one.text)
    sent = form(milk, "hold", link.removeprefix("/holding/"))
    assert (sent["why"], sent["until_on"], sent["until_at"]) == ("alcohol", "2027-02-03", "15:55")
    assert sorted(sent["container"]) == ["A1", "A2"]


def test_no_medicine_is_advised_on_and_a_clinician_decides(milk: Family) -> None:
    said = text(milk.see("/holding/"))
    for words in ("Ask your clinician", "medicines and breastfeeding", "Not drinking is the safest", "seldom a reason",
                  "not found in a text", "How long to wait after a drink"):  # fmt: skip
        assert words in said, words
    assert not re.search(r"\bsafe\b", said, re.IGNORECASE)


def test_a_carer_holds_and_releases_in_their_own_name(milk: Family) -> None:
    phone = carer(milk)
    act = re.findall(rb'name="act" value="([^"]+)"', phone.get("/holding/").content)[0].decode()
    sent = {"act": act, "do": "hold", "container": ["A1"], "why": "other"}
    assert phone.post("/holding/", sent).status_code == 302
    (row,) = milk.store.history(before=None, limit=9, kinds=("held",))
    assert ev.decoder.decode(row.line).by == "Amélia"
