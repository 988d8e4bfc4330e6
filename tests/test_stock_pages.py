"""The stock, acts on many containers, and milk from before: entered in rows or pasted."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from tests.pages import Family, text

from thawline.core.verdict import Verdict
from thawline.faces.words import words_for
from thawline.services import people
from thawline.services.board import board
from thawline.services.recording import new_act

PASTES = Path(__file__).parent / "pastes"


def there(home: Family) -> dict[str, Verdict]:
    """What is there, by code."""
    return {one.container: one for one in board(home.store, now=home.now).verdicts}


def lines(home: Family) -> list[dict[str, Any]]:
    return [json.loads(line) for line in home.store.lines()]


def of_kind(home: Family, kind: str) -> list[dict[str, Any]]:
    return [line for line in lines(home) if line["kind"] == kind and not line["id"].startswith("note-")]


def stock(home: Family) -> None:
    """Four bottles in the fridge, two bags in the freezer, one on the counter."""
    for number in range(4):
        home.expressed(f"KA3{number}", 100 + number, 30 - number)
    for number in range(2):
        home.note(
            "stocked", 60, container=f"HE4{number}", ml=80, place="freezer", expressed=f"2026-11-0{2 - number}",
        )  # fmt: skip
    home.expressed("MA77", 60, 1, place="counter")


def chosen(home: Family, verb: str, *codes: str) -> BeautifulSoup:
    """The page that comes after ticking containers and choosing what happened."""
    return home.send("/stock/many/", {"verb": verb, "code": list(codes)})


def acted(home: Family, page: BeautifulSoup, status: int = 200, **fields: Any) -> BeautifulSoup:
    """The form of the page sent to record."""
    return home.send("/stock/many/", many_fields(home, page, **fields), status)


def many_fields(home: Family, page: BeautifulSoup, **fields: Any) -> dict[str, Any]:
    sent = home.fill(page, "/stock/many/", step="record", **fields)
    return sent | {"code": [str(one["value"]) for one in page.select("main input[name=code]")]}


def undo(home: Family, page: BeautifulSoup) -> None:
    """The undo that the page offers, sent."""
    form = page.select_one("form[action^='/undo/']")
    assert form is not None, text(page)
    action = str(form["action"])
    home.send(action, home.fill(page, action))


def texts(page: BeautifulSoup, selector: str) -> list[str]:
    return [" ".join(one.get_text(" ").split()) for one in page.select(selector)]


# The stock


def test_totals_are_the_sum_of_what_is_said_of_each_container(home: Family) -> None:
    stock(home)
    page = home.see("/stock/")
    sums: dict[str, float] = {}
    for one in there(home).values():
        sums[str(one.place)] = sums.get(str(one.place), 0) + one.ml
    told = {row.select_one("dt").text: row.select_one("dd").text for row in page.select(".total")}  # type: ignore[union-attr]
    assert told == {name: f"{ml:.0f} mL" for name, ml in sums.items()} | {"In all": f"{sum(sums.values()):.0f} mL"}
    assert "7 containers" in text(page)


def test_each_place_tells_its_kind_temperature_number_and_amount(home: Family) -> None:
    stock(home)
    home.note("measured", 0.5, place="fridge", temp_c=5.5)
    fridge = next(one for one in home.see("/stock/").select("section") if "fridge" in one.get_text()[:40])
    said = " ".join(fridge.get_text(" ").split())
    assert "refrigerator, last known 5.5 °C" in said
    assert "406 mL · 4 containers" in said


def test_within_a_place_the_oldest_comes_first(home: Family) -> None:
    stock(home)
    page = home.see("/stock/")
    assert texts(page, "section .pick .code") == ["HE41", "HE40", "KA30", "KA31", "KA32", "KA33", "MA77"]


def test_milk_in_a_room_stands_in_a_group_of_its_own(home: Family) -> None:
    stock(home)
    said = text(home.see("/stock/"))
    assert said.index("Out of the cold") < said.index("MA77")


def test_what_was_handed_over_stays_in_view_until_it_comes_back(home: Family) -> None:
    stock(home)
    home.note("handed_over", 2, container="KA30", to="Nursery")
    home.note("handed_over", 2, container="KA31", to="Nursery")
    home.note("returned", 1, container="KA31", place="fridge")
    said = text(home.see("/stock/"))
    away = said[said.index("Handed over") :]
    assert "KA30" in away
    assert "KA31" not in away
    assert "Nursery" in away


def test_by_age_groups_weeks_and_months(home: Family) -> None:
    # Wednesday 3 February 2027.
    home.expressed("TH33", 50, 24)
    home.expressed("TH34", 50, 24 * 3)
    home.note("stocked", container="TH35", ml=50, place="freezer", expressed="2027-01-20")
    home.note("stocked", container="TH36", ml=50, place="freezer", expressed="2026-12-30")
    home.note("stocked", container="TH37", ml=50, place="freezer", expressed="2026-12-02")
    page = home.see("/stock/?by=age")
    groups = {
        str(group.select_one("h2").text): texts(BeautifulSoup(str(group), "html.parser"), ".pick .code")  # type: ignore[union-attr]
        for group in page.select("section[data-boxes]")
    }
    assert groups == {
        "This week": ["TH33"], "Last week": ["TH34"], "January 2027": ["TH35"], "December 2026": ["TH37", "TH36"],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("show", "codes"),
    [("frozen", {"HE40", "HE41"}), ("chilled", {"KA30", "KA31", "KA32", "KA33", "MA77"}), ("junk", None)],
)
def test_filters_are_links_and_their_totals_follow(home: Family, show: str, codes: set[str] | None) -> None:
    stock(home)
    page = home.see(f"/stock/?show={show}")
    wanted = there(home).keys() if codes is None else codes
    assert set(texts(page, ".pick .code")) == set(wanted)
    ml = sum(one.ml for one in there(home).values() if one.container in wanted)
    assert page.select_one(".total-all dd").text == f"{ml:.0f} mL"  # type: ignore[union-attr]


def test_without_script_a_link_ticks_all_of_a_place(home: Family) -> None:
    stock(home)
    page = home.see("/stock/")
    link = next(one for one in page.select("noscript a") if "fridge" in one.text)
    ticked = home.see(str(link["href"]))
    assert {str(one["value"]) for one in ticked.select("input[name=code][checked]")} == {"KA30", "KA31", "KA32", "KA33"}


def test_every_verb_is_reached_without_script(home: Family) -> None:
    stock(home)
    buttons = {str(one["value"]) for one in home.see("/stock/").select("button[name=verb][form=stock]")}
    assert "" in buttons
    verbs = {str(one["value"]) for one in chosen(home, "", "KA30").select("button[name=verb]")}
    assert verbs == {"move", "count", "discard", "hand", "hold", "release", "ice", "no_ice"}


def test_an_empty_stock_leads_to_entering(home: Family) -> None:
    assert home.see("/stock/").select_one("main .empty a[href='/stock/enter/']")


# One act on several


def test_moving_four_is_one_act_and_one_undo_takes_it_back(home: Family) -> None:
    stock(home)
    page = chosen(home, "move", "KA30", "KA31", "KA32", "KA33")
    assert "4 containers, 406 mL" in text(page)
    after = acted(home, page, place="cooler bag")
    moved = of_kind(home, "moved")
    assert [line["container"] for line in moved] == ["KA30", "KA31", "KA32", "KA33"]
    assert len({line["id"].rpartition(".")[0] for line in moved}) == 1
    assert {there(home)[code].place for code in ("KA30", "KA31", "KA32", "KA33")} == {"cooler bag"}
    undo(home, after)
    assert {line["event"] for line in of_kind(home, "voided")} == {line["id"] for line in moved}
    assert {there(home)[code].place for code in ("KA30", "KA31", "KA32", "KA33")} == {"fridge"}


def test_each_place_says_what_would_follow_before_it_is_chosen(home: Family) -> None:
    stock(home)
    page = chosen(home, "move", "KA30", "KA31")
    told = {str(one["value"]): one.parent.get_text(" ") for one in page.select("input[name=place]") if one.parent}
    assert "Then the first one: use by" in told["freezer"]
    assert "fridge" not in told
    looked = home.send("/stock/many/", many_fields(home, page, place="freezer") | {"step": "look"})
    said = text(looked)
    assert "What follows" in said
    assert of_kind(home, "moved") == []
    acted(home, looked)
    first = min(one.use_by or 0 for code, one in there(home).items() if code in ("KA30", "KA31"))
    assert words_for("Europe/Lisbon", home.now).clock(first) in said


def test_everything_of_a_place_moves_by_one_link(home: Family) -> None:
    stock(home)
    links = [one for one in home.see("/stock/").select("a.button") if "Move all" in one.text]
    page = home.see(str(next(one for one in links if "freezer" in one.text)["href"]))
    acted(home, page, place="fridge")
    assert there(home)["HE40"].place == there(home)["HE41"].place == "fridge"


def test_a_count_books_only_what_differs_and_nought_empties(home: Family) -> None:
    stock(home)
    page = chosen(home, "count", "KA30", "KA31", "KA32")
    acted(home, page, 200, **{"ml-KA30": "90,5", "lost": "KA32"})
    assert {line["container"]: line["ml"] for line in of_kind(home, "counted")} == {"KA30": 90.5, "KA32": 0.0}
    assert there(home)["KA30"].ml == 90.5
    assert there(home)["KA31"].ml == 101
    assert "KA32" not in there(home)


@pytest.mark.parametrize("amount", ["", "abc", "-5", "9999", "1e3", "∞"])
def test_a_count_that_is_no_amount_names_its_container_and_records_nothing(home: Family, amount: str) -> None:
    stock(home)
    page = acted(home, chosen(home, "count", "KA30", "KA31"), 422, **{"ml-KA31": amount})
    assert "KA31:" in texts(page, "#problems")[0]
    assert of_kind(home, "counted") == []


def test_throwing_away_notes_why_and_empties_all(home: Family) -> None:
    stock(home)
    acted(home, chosen(home, "discard", "KA30", "HE41"), why="past its limit")
    assert [(line["container"], line["why"]) for line in of_kind(home, "discarded")] == [
        ("HE41", "past its limit"), ("KA30", "past its limit"),
    ]  # fmt: skip
    assert not {"KA30", "HE41"} & there(home).keys()


def test_holding_back_several_and_ending_the_hold(home: Family) -> None:
    stock(home)
    acted(home, chosen(home, "hold", "KA30", "KA31"), why="medicine")
    assert there(home)["KA30"].standing == there(home)["KA31"].standing == "held"
    acted(home, chosen(home, "release", "KA30", "KA31"))
    assert there(home)["KA30"].standing == "fine"


def test_handing_over_several(home: Family) -> None:
    stock(home)
    acted(home, chosen(home, "hand", "KA30", "KA31"), to="Nursery", place="")
    assert not {"KA30", "KA31"} & there(home).keys()
    acted(home, chosen(home, "hand", "KA32"), to="Grandmother", place="cooler bag")
    assert there(home)["KA32"].place == "cooler bag"


def test_ice_seen_or_none_left_is_noted_for_several(home: Family) -> None:
    stock(home)
    for code in ("HE40", "HE41"):
        home.note("moved", 0, container=code, to="fridge")
    home.hours(2)
    acted(home, chosen(home, "ice", "HE40", "HE41"))
    acted(home, chosen(home, "no_ice", "HE40", "HE41"))
    assert [line["ice"] for line in of_kind(home, "thaw_seen")] == [True, True, False, False]


def test_sent_twice_counts_once(home: Family) -> None:
    stock(home)
    page = chosen(home, "discard", "KA30", "KA31")
    sent = many_fields(home, page, why="spilled")
    home.send("/stock/many/", sent)
    home.send("/stock/many/", sent)
    assert len(of_kind(home, "discarded")) == 2


def test_a_breach_is_asked_once_with_every_container_it_concerns(home: Family) -> None:
    stock(home)
    for code in ("HE40", "HE41"):
        home.note("moved", 40, container=code, to="fridge")
        home.note("thaw_seen", 20, container=code, ice=False)
    asked = acted(home, chosen(home, "move", "HE40", "HE41"), place="freezer")
    groups = [" ".join(one.get_text(" ").split()) for one in asked.select(".ask > div > .by")]
    assert len(groups) == 1
    assert "HE41" in groups[0]
    assert "HE40" in groups[0]
    assert of_kind(home, "moved") == []
    form = asked.select_one(".ask form")
    assert form is not None
    sent: dict[str, Any] = {}
    for one in form.select("input[name]"):
        sent.setdefault(str(one["name"]), []).append(str(one["value"]))
    home.send(str(form["action"]), sent)
    assert [line["container"] for line in of_kind(home, "moved")] == ["HE41", "HE40"]


def test_what_is_gone_by_now_is_named_and_nothing_is_recorded(home: Family) -> None:
    stock(home)
    page = chosen(home, "move", "KA30", "KA31")
    home.note("discarded", 0, container="KA30")
    after = acted(home, page, 422, place="freezer")
    assert "KA30 is gone already" in text(after)
    assert of_kind(home, "moved") == []


def test_what_would_not_fit_is_told_of_each_container_and_nothing_is_recorded(home: Family) -> None:
    stock(home)
    page = acted(home, chosen(home, "move", "KA30", "KA31"), 422, place="freezer", when="on", when_on="2027-01-01")
    said = texts(page, "#problems")[0]
    assert "KA30" in said
    assert "KA31" in said
    assert of_kind(home, "moved") == []


@pytest.mark.parametrize(("verb", "fields"), [("move", {}), ("hold", {"why": "x"}), ("hand", {"to": " "}),
                                              ("move", {"place": "moon"}), ("count", {}),
                                              ("discard", {"when": "at", "when_at": "junk"})])  # fmt: skip
def test_what_is_missing_is_asked_for(home: Family, verb: str, fields: dict[str, str]) -> None:
    stock(home)
    before = home.store.standing().revision
    page = acted(home, chosen(home, verb, "KA30"), 422, **fields)
    assert page.select_one("#problems")
    assert home.store.standing().revision == before


def test_nothing_ticked_is_told(home: Family) -> None:
    stock(home)
    assert "Tick at least one" in text(home.send("/stock/many/", {"verb": "move"}, 422))


def test_codes_of_another_household_are_not_found(home: Family) -> None:
    other = people.begin(household="Other", name="Ines", username="ines", password="lamp-river-stone-nine")
    stock(home)
    home.phone.force_login(get_user_model().objects.get(username="ines"))
    assert other.taken(["KA30"]) == set()
    home.send("/stock/many/", {"verb": "move", "code": ["KA30"]}, 404)
    home.see("/stock/many/?verb=move&code=KA30", 404)
    home.see("/stock/many/?verb=move&from=fridge", 404)
    assert "KA30" not in text(home.see("/stock/"))


@pytest.mark.parametrize("query", ["verb=warm&code=KA30", "verb=move&code=nobody", "verb=move&from=moon"])
def test_unknown_verbs_places_and_codes_are_not_found(home: Family, query: str) -> None:
    stock(home)
    home.see(f"/stock/many/?{query}", 404)


def test_reading_changes_nothing(home: Family) -> None:
    stock(home)
    before = home.store.standing()
    for url in (
        "/stock/?by=age&show=soon&all=x",
        "/stock/many/?verb=move&from=fridge",
        "/stock/enter/",
        "/stock/paste/",
    ):
        home.see(url)
    chosen(home, "discard", "KA30")
    assert home.store.standing() == before


# Milk from before, in rows


def sheet(home: Family, *rows: dict[str, str], **fields: str) -> dict[str, str]:
    """What the form sends with these rows filled."""
    page = home.see("/stock/enter/")
    sent = home.fill(page, "/stock/enter/") | fields
    for number, row in enumerate(rows, 1):
        sent |= {f"{name}-{number}": value for name, value in row.items()}
    return sent | {"rows": str(max(6, len(rows)))}


def row(ml: str = "120", on: str = "2027-01-10", place: str = "freezer", **more: str) -> dict[str, str]:
    return {"ml": ml, "on": on, "place": place} | more


def step(home: Family, sent: dict[str, Any], name: str, status: int = 200) -> BeautifulSoup:
    return home.send("/stock/enter/", sent | {"step": name}, status)


def recorded(home: Family, page: BeautifulSoup, status: int = 200) -> BeautifulSoup:
    """The page's own form sent to record."""
    return step(home, home.fill(page, "/stock/enter/"), "record", status)


def test_rows_are_looked_through_then_recorded_as_one_act(home: Family) -> None:
    page = step(
        home, sheet(home, row(), row("90", "2027-01-12", "fridge", form="thawed"), row("80", number="3")), "look"
    )
    assert "5 containers, 450 mL; the first one: use by" in text(page)
    assert of_kind(home, "stocked") == []
    after = recorded(home, page)
    events = of_kind(home, "stocked")
    assert [(line["ml"], line["place"], line["expressed"]) for line in events] == [
        (120, "freezer", "2027-01-10"), (90, "fridge", "2027-01-12"), *[(80, "freezer", "2027-01-10")] * 3,
    ]  # fmt: skip
    assert len({line["id"].rpartition(".")[0] for line in events}) == 1
    assert texts(after, "#codes ~ ul .code") == [line["container"] for line in events]
    assert after.select_one("form[action^='/undo/']")


def test_a_place_gives_the_form_and_what_is_chosen_overrides_it(home: Family) -> None:
    rows = [
        row(code="A1"),
        row(on="2027-02-02", place="fridge", code="A2"),
        row(on="2027-02-02", place="fridge", code="A3", form="thawed"),
    ]
    recorded(home, step(home, sheet(home, *rows), "look"))
    assert {code: there(home)[code].form for code in ("A1", "A2", "A3")} == {
        "A1": "frozen", "A2": "fresh", "A3": "thawed",
    }  # fmt: skip


def test_a_time_a_freezing_day_and_donor_milk_are_kept(home: Family) -> None:
    page = step(home, sheet(home, row(time="07:10", frozen="2027-01-11", code="D1"), donor="yes", mother="Ana"), "look")
    assert "Donor milk" in text(page)
    recorded(home, page)
    (event,) = of_kind(home, "stocked")
    assert event["expressed"] == "2027-01-10T07:10:00+00:00"
    assert event["frozen_on"] == "2027-01-11"
    assert event["milk"] == "donor"
    assert event["mother"] == "Ana"
    assert there(home)["D1"].standing == "outside"


def test_more_rows_come_without_script_and_keep_what_is_typed(home: Family) -> None:
    page = step(home, sheet(home, row("77", place="fridge")), "more")
    assert len(page.select("fieldset.row-edit")) == 12
    assert page.select_one("#ml-1")["value"] == "77"  # type: ignore[index]
    assert page.select_one("#place-12 option[selected]")["value"] == "fridge"  # type: ignore[index]


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"ml": ""}, "how much"), ({"ml": "lots"}, "not a number"), ({"ml": "0"}, "too small"),
        ({"ml": "6000"}, "more than"),
        ({"on": ""}, "which day"), ({"on": "2027-02-31"}, "day"), ({"on": "2027-02-04"}, "still ahead"),
        ({"on": "2027-02-03", "time": "23:59"}, "still ahead"), ({"place": "attic"}, "where"), ({"place": ""}, "where"),
        ({"number": "0"}, "1 to 100"), ({"number": "101"}, "1 to 100"), ({"number": "²"}, "1 to 100"),
        ({"frozen": "2027-01-09"}, "before"), ({"frozen": "junk"}, "day"), ({"code": "K" * 201}, "too long"),
        ({"code": "USED"}, "another container"),
    ],
)  # fmt: skip
def test_a_row_tells_what_to_mend_beside_it(home: Family, fields: dict[str, str], says: str) -> None:
    home.expressed("USED", 50, 3)
    page = step(home, sheet(home, row() | fields, row("55")), "look", 422)
    assert says in texts(page, "#row-1-error")[0]
    assert page.select_one("#row-2-error") is None
    assert page.select_one("input[type=hidden][name=ml-2][value='55']")


def test_one_code_on_two_rows_is_told_on_both(home: Family) -> None:
    page = step(home, sheet(home, row(code="Q1"), row(code="Q1")), "look", 422)
    assert len(page.select("[id$=-error]")) == 2


def test_good_rows_are_recorded_and_the_others_kept_to_mend(home: Family) -> None:
    page = step(home, sheet(home, row(code="G1"), row(""), row(code="G2"), row(place="attic", ml="66")), "look", 422)
    after = recorded(home, page)
    assert {line["container"] for line in of_kind(home, "stocked")} == {"G1", "G2"}
    assert after.select_one("form[action^='/undo/']")
    assert len(after.select("fieldset.row-edit")) == 2
    mended = home.fill(after, "/stock/enter/") | {"ml-1": "44", "place-2": "fridge", "on-2": "2027-02-02"}
    recorded(home, step(home, mended, "look"))
    assert sorted(line["ml"] for line in of_kind(home, "stocked")) == [44, 66, 120, 120]


def test_sending_good_rows_twice_counts_once_and_keeps_the_others(home: Family) -> None:
    page = step(home, sheet(home, row(code="G1"), row(code=""), row("", code="")), "look", 422)
    sent = home.fill(page, "/stock/enter/")
    step(home, sent, "record")
    again = step(home, sent, "record")
    assert len(of_kind(home, "stocked")) == 2
    assert len(again.select("fieldset.row-edit")) == 1


def test_a_good_row_can_be_changed_from_the_preview(home: Family) -> None:
    page = step(home, sheet(home, row(code="G1"), row(code="G2")), "look")
    opened = step(home, home.fill(page, "/stock/enter/"), "mend-2")
    assert [one["id"] for one in opened.select("fieldset.row-edit")] == ["row-2"]


def test_alike_containers_with_a_code_are_numbered(home: Family) -> None:
    recorded(home, step(home, sheet(home, row(code="box", number="3")), "look"))
    assert [line["container"] for line in of_kind(home, "stocked")] == ["box-1", "box-2", "box-3"]


def test_an_undo_takes_back_every_container_of_the_act(home: Family) -> None:
    after = recorded(home, step(home, sheet(home, row(number="3"), row()), "look"))
    undo(home, after)
    assert there(home) == {}
    act = of_kind(home, "stocked")[0]["id"].rpartition(".")[0]
    assert not home.see(f"/stock/enter/?done={act}").select("#codes")


def test_a_code_with_a_slash_can_be_entered_seen_and_moved(home: Family) -> None:
    recorded(home, step(home, sheet(home, row(code="3/4 <b>")), "look"))
    assert texts(home.see("/stock/"), ".pick .code") == ["3/4 <b>"]
    acted(home, chosen(home, "move", "3/4 <b>"), place="fridge")
    assert there(home)["3/4 <b>"].place == "fridge"


def test_amounts_are_read_in_the_units_of_the_household(home: Family) -> None:
    home.note("household", 1, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "C"])
    page = step(home, sheet(home, row("4", code="Z1")), "look")
    assert "4 fl oz" in text(page)
    recorded(home, page)
    assert there(home)["Z1"].ml == 118.3
    assert chosen(home, "count", "Z1").select_one("#ml-1")["value"] == "4"  # type: ignore[index]


def test_no_row_at_all_is_told(home: Family) -> None:
    assert "at least one row" in text(step(home, sheet(home), "look", 422))


def test_too_many_containers_at_once_are_not_recorded(home: Family) -> None:
    sent = sheet(home, *[row(number="100") for _ in range(11)])
    assert "more than 1000" in text(step(home, sent, "record", 422))
    assert of_kind(home, "stocked") == []


JUNK = [
    {"rows": "-1"}, {"rows": "99999999999"}, {"rows": "x"}, {}, {"rows": "2", "ml-1": "\x00", "on-1": "0000-00-00"},
    {"rows": "1", "ml-1": "5", "on-1": "2027-01-01", "time-1": "99:99", "place-1": "fridge", "step": "record"},
    {"rows": "1", "ml-1": "5", "on-1": "2027-01-01", "time-1": "T", "act": "junk", "step": "record"},
    {"rows": "1", "ml-1": "5", "on-1": "9999-12-31", "place-1": "fridge", "code-1": "\u202e\n", "step": "mend-x"},
    {"rows": "1", "ml-1": "5", "on-1": "2027-01-01", "frozen-1": "١٢", "place-1": "fridge", "step": "record"},
    {"rows": "1", "ml-1": "5", "on-1": "2027-01-01", "place-1": "fridge", "step": "record", "for": "Nobody"},
    {"text": "\x00\x00", "day_first": "x", "unit": "y"}, {"text": "💧" * 3000}, {"verb": "move", "code": "\x00"},
    {"verb": "count", "code": "KA30", "step": "record", "ml-KA30": "NaN"}, {"verb": "move", "from": ""},
    {"verb": "discard", "code": "KA30", "step": "record", "when": "on", "when_on": "20270101"},
]  # fmt: skip


@pytest.mark.parametrize("sent", JUNK)
@pytest.mark.parametrize("url", ["/stock/enter/", "/stock/paste/", "/stock/many/"])
def test_junk_is_answered_calmly(home: Family, url: str, sent: dict[str, str]) -> None:
    stock(home)
    assert home.phone.post(url, sent).status_code in (200, 302, 400, 404, 422)
    assert home.phone.get(url, sent).status_code in (200, 302, 400, 404, 422)


# Pasted lists


def paste(home: Family, name: str, status: int = 200, **answers: str) -> BeautifulSoup:
    pasted = (PASTES / f"{name}.txt").read_text()
    return home.send("/stock/paste/", {"text": pasted, **answers}, status)


@pytest.fixture
def later(home: Family) -> Family:
    """The family in May, with the places that the pastes name."""
    home.hours(24 * 96)
    home.note("place", place="garage chest", is_="deep_freezer", temp_c=-20)
    return home


def test_days_that_can_be_two_are_asked_then_recorded_right(later: Family) -> None:
    page = paste(later, "which_first")
    assert {str(one["value"]) for one in page.select("input[name=day_first]")} == {"day", "month"}
    assert "3 April 2027" in text(page)
    assert of_kind(later, "stocked") == []
    form = later.fill(page, "/stock/paste/")
    recorded(later, later.send("/stock/paste/", form | {"day_first": "day"}))
    assert [line["expressed"] for line in of_kind(later, "stocked")] == [
        "2027-04-03", "2027-04-04", "2027-04-05", "2026-09-07",
    ]  # fmt: skip


def test_a_clean_paste_is_looked_through_and_recorded(later: Family) -> None:
    page = paste(later, "german")
    assert "Left out, since blank, heading or total: lines 1, 6, 7" in text(page)
    recorded(later, page)
    assert [(line["container"], line["ml"]) for line in of_kind(later, "stocked")] == [
        ("K1", 120.5), ("K2-1", 90), ("K2-2", 90), ("K3", 150), ("K4", 70),
    ]  # fmt: skip


def test_rows_of_a_paste_that_nobody_looked_at_are_never_recorded(later: Family) -> None:
    page = paste(later, "wrong_things", 422)
    assert len(page.select("fieldset.row-edit")) == 10
    assert "attic" in texts(page, "#row-3-error")[0]
    step(later, later.fill(page, "/stock/enter/"), "record", 422)
    assert of_kind(later, "stocked") == []
    mended = later.fill(page, "/stock/enter/") | {"place-3": "fridge", "ml-6": "100", "right-8": "yes"}
    after = recorded(later, step(later, mended, "look", 422))
    assert [(line["ml"], line["place"]) for line in of_kind(later, "stocked")] == [(120, "fridge")]
    assert len(after.select("fieldset.row-edit")) == 9


def test_a_doubt_about_a_day_stays_until_somebody_has_looked(home: Family) -> None:
    page = home.send("/stock/paste/", {"text": "13/4/26\t100 ml\tfreezer\n4/14/26\t90 ml\tfreezer\n"}, 422)
    assert len(page.select("fieldset.row-edit")) == 2
    sent = home.fill(page, "/stock/enter/")
    step(home, sent, "record", 422)
    assert len(step(home, sent, "look", 422).select("fieldset.row-edit")) == 2
    assert of_kind(home, "stocked") == []
    seen = step(home, sent | {"right-1": "yes", "on-2": "2026-04-15"}, "look")
    recorded(home, seen)
    assert [line["expressed"] for line in of_kind(home, "stocked")] == ["2026-04-13", "2026-04-15"]


def test_amounts_without_a_unit_are_asked_about(home: Family) -> None:
    page = home.send("/stock/paste/", {"text": "2027-01-10\t4\tfreezer\n2027-01-11\t3\tfreezer\n"})
    assert {str(one["value"]) for one in page.select("input[name=unit]")} == {"ml", "fl_oz"}
    recorded(home, home.send("/stock/paste/", home.fill(page, "/stock/paste/") | {"unit": "fl_oz"}))
    assert [line["ml"] for line in of_kind(home, "stocked")] == [118.3, 88.7]


def test_too_long_or_empty_pastes_are_told(home: Family) -> None:
    home.send("/stock/paste/", {"text": ""}, 422)
    assert "500" in text(home.send("/stock/paste/", {"text": "2027-01-01 120 ml fridge\n" * 501}, 422))


@pytest.mark.slow
def test_five_hundred_rows_are_entered_and_shown(home: Family) -> None:
    pasted = "\n".join(f"2026-12-{n % 28 + 1:02}\t{60 + n % 90} ml\tfreezer" for n in range(500))
    page = home.send("/stock/paste/", {"text": pasted})
    assert "500 containers" in text(page)
    recorded(home, page)
    assert len(of_kind(home, "stocked")) == 500
    assert len(home.see("/stock/").select(".pick")) == 500
    many = home.see("/stock/many/?verb=move&from=freezer")
    looked = home.send("/stock/many/", many_fields(home, many, place="fridge") | {"step": "look"})
    assert "500 containers" in text(looked)
    acted(home, looked)
    assert len(of_kind(home, "moved")) == 500


def test_an_act_of_another_household_is_not_shown(home: Family) -> None:
    recorded(home, step(home, sheet(home, row(code="SECRET1")), "look"))
    act = of_kind(home, "stocked")[0]["id"].rpartition(".")[0]
    people.begin(household="Other", name="Ines", username="ines", password="lamp-river-stone-nine")
    home.phone.force_login(get_user_model().objects.get(username="ines"))
    assert "SECRET1" not in str(home.see(f"/stock/enter/?act={new_act()}&done={act}"))
