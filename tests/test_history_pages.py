"""History, taking back, restoring and correcting, as a phone sees them."""

from __future__ import annotations

import json
import uuid
from typing import Any
from urllib.parse import quote

import pytest
from django.urls import reverse
from tests.pages import Family, text

from thawline.services import people, recording
from thawline.services.board import board


def act_of(home: Family, *events: dict[str, Any], hours_ago: float = 0) -> str:
    """Several events recorded in one go."""
    act = str(uuid.uuid4())
    lines = [
        recording.line_of({"id": f"{act}.{number}", "at": home.at(hours_ago), "by": "Marta", **event})
        for number, event in enumerate(events)
    ]
    assert not recording.record(home.store, lines, now=home.now, person="Marta").refused
    return act


def seen(home: Family) -> list[Any]:
    return list(board(home.store, now=home.now).verdicts)


def count(home: Family) -> int:
    return len(list(home.store.lines()))


def undo(home: Family, act: str, under: str | None = None, **more: str) -> Any:
    return home.send(f"/undo/{act}/", {"act": under or str(uuid.uuid4()), "back": "/history/", **more})


def entry(event_id: str) -> str:
    return f"/history/{quote(event_id, safe='')}/"


def correct(home: Family, event_id: str, **fields: str) -> Any:
    """The correction's form filled in and sent; answers with the preview."""
    page = home.see(f"/history/{event_id}/correct/")
    address = page.select_one("main form[method=post]")["action"]  # type: ignore[index]
    return home.send(str(address), home.fill(page, **fields))


def confirmed(home: Family, page: Any) -> dict[str, Any]:
    return {**home.fill(page), "sure": "yes"}


def sent_to(page: Any) -> str:
    return str(page.select_one("main form[method=post]")["action"])


# The list


def test_the_history_says_who_did_what_and_when_it_was_noted(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("nursed", 1, child="Mira", by="Rui")
    page = text(home.see("/history/"))
    assert "Expressed KA34 (120 mL)." in page
    assert "13:00 Mira drank at the breast. Rui" in page
    assert "noted today 14:00" in page


def test_what_was_noted_within_five_minutes_does_not_say_when_it_was_noted(home: Family) -> None:
    home.note("nursed", 0.05, child="Mira")
    assert "noted" not in text(home.see("/history/?kind=fed"))


def test_days_stand_on_the_household_clock_latest_first(home: Family) -> None:
    home.note("nursed", 15, child="Mira")
    home.note("weighed", 1, child="Mira", kg=5)
    headings = [one.text for one in home.see("/history/").select("main h2")]
    assert headings[:2] == ["Today", "Yesterday"]


def test_a_day_alone_is_told_as_a_day_alone(home: Family) -> None:
    name = home.note("stocked", container="HA33", ml=90, place="freezer", expressed="2027-01-02", at="2027-02-01")
    assert "day only" in text(home.see("/history/?code=HA33"))
    assert "day only" in text(home.see(entry(name)))


def test_what_was_taken_back_or_corrected_says_so_in_words(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    home.send(entry(home.note("nursed", 1, child="Mira")), {"act": str(uuid.uuid4()), "do": "void"})
    page = correct(home, name, **{"into-0-ml": "110"})
    home.send(sent_to(page), confirmed(home, page))
    told = text(home.see("/history/"))
    assert "taken back" in told
    assert "corrected ·" in told
    assert "Expressed KA34 (110 mL)." in told


def test_an_entry_that_does_not_fit_says_what_mends_it(home: Family) -> None:
    home.note("moved", 1, container="QQ99", to="fridge")
    assert "Does not fit." in text(home.see("/history/"))
    home.note("expressed", 2, into=[{"container": "QQ99", "ml": 50}], place="counter")
    assert "Does not fit." not in text(home.see("/history/"))


def test_an_entry_that_lies_ahead_is_marked(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("moved", -2, container="KA34", to="counter")
    assert "Still ahead" in text(home.see("/history/"))


def test_pages_follow_one_another_without_gap_or_repeat(home: Family) -> None:
    for number in range(90):
        home.note("nursed", number // 30, child="Mira", id=f"odd/{number}-é &?#")
    shown: list[str] = []
    url: str | None = "/history/?kind=fed"
    while url:
        page = home.see(url)
        shown += [one["href"] for one in page.select("main ol a")]  # type: ignore[misc]
        following = [one for one in page.select("main a") if one.text == "Earlier"]
        url = str(following[0]["href"]) if following else None
    assert len(shown) == len(set(shown)) == 90
    assert "Mira drank" in text(home.see(shown[45]))


@pytest.mark.parametrize(
    "query",
    ["before=", "before=x", "before=-", "before=99999999999999999999-x", "before=12", "before=1-%00", "before=²-a",
     "code=%00", "code=" + "x" * 900, "kind=zzz", "who=%27%22%3Cb%3E", "who=%ff%fe"],
)  # fmt: skip
def test_an_odd_address_of_the_history_still_answers(home: Family, query: str) -> None:
    home.see(f"/history/?{query}")


def test_the_history_can_be_narrowed_to_a_container_a_person_or_a_kind(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.expressed("HA33", 80, 2)
    home.note("nursed", 1, child="Mira", by="Rui")
    of_one = text(home.see("/history/?code=KA34"))
    assert "KA34 (120 mL)" in of_one and "HA33" not in of_one
    by_rui = text(home.see("/history/?who=Rui"))
    assert "drank at the breast" in by_rui and "KA34" not in by_rui
    feeds = text(home.see("/history/?kind=fed"))
    assert "drank at the breast" in feeds and "KA34" not in feeds


# One entry


def test_an_entry_shows_its_fields_who_recorded_it_and_its_line_as_written(home: Family) -> None:
    act = act_of(home, {"kind": "expressed", "into": [{"container": "KA34", "ml": 120}], "place": "counter",
                        "side": "left"}, hours_ago=1)  # fmt: skip
    page = home.see(entry(f"{act}.0"))
    told = text(page)
    for words in ("Where? counter", "Side left", "Amount, KA34 120 mL", "Recorded today 14:00, Marta", "Who Marta"):
        assert words in told
    line = page.select_one("details code")
    assert line is not None
    assert json.loads(line.text)["id"] == f"{act}.0"


def test_every_kind_of_entry_has_a_page_and_most_a_form(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.expressed("HA33", 120, 3)
    more: list[tuple[str, dict[str, Any]]] = [
        ("poured", {"from_": [{"container": "HA33", "ml": 20}], "into": "RA33"}), ("thaw_seen", {"ice": True}),
        ("warmed", {"how": "warm_water"}), ("feed_began", {"child": "Mira"}), ("feed_ended", {"left_ml": 10}),
        ("discarded", {"why": "left over"}), ("counted", {"ml": 9}), ("added", {"what": "formula"}),
        ("handed_over", {"to": "childcare"}), ("received", {"place": "fridge"}), ("returned", {"place": "fridge"}),
        ("held", {"why": "other", "until": home.at(-3)}), ("released", {}),
        ("measured", {"temp_c": 4, "place": "fridge"}),
        ("power_lost", {"place": "fridge", "fill": "half"}), ("power_back", {"place": "fridge"}),
        ("nursed", {"child": "Mira"}), ("fed_other", {"child": "Mira", "what": "formula"}),
        ("day_complete", {"child": "Mira", "date": "2027-02-02"}), ("weighed", {"child": "Mira", "kg": 5.2}),
        ("stocked", {"ml": 90, "place": "freezer", "expressed": "2027-01-02", "vessel": {"kind": "bag"}}),
    ]  # fmt: skip
    for kind, fields in more:
        milk = kind not in ("poured", "measured", "power_lost", "power_back", "nursed", "fed_other", "day_complete",
                            "weighed")  # fmt: skip
        home.note(kind, 1, **({"container": "KA34"} if milk else {}), **fields)
    for row in home.store.history(before=None, limit=100):
        home.see(entry(row.event_id))
        home.see(f"/history/{row.event_id}/correct/", 404 if row.kind == "household" else 200)


def test_an_unknown_entry_and_one_of_another_household_are_not_there(home: Family) -> None:
    other = people.bare_household("Porto kitchen")
    line = recording.line_of({"id": "theirs.0", "at": home.at(1), "kind": "nursed", "child": "Ana"})
    recording.record(other, [line], now=home.now)
    for name in ("theirs.0", "nothing", "%00", "x" * 300):
        home.see(f"/history/{name}/", 404)
        home.see(f"/history/{name}/correct/", 404)
    home.send("/history/theirs.0/", {"do": "void"}, 404)
    home.send("/undo/theirs/", {"act": str(uuid.uuid4())}, 404)
    home.send("/undo/%00/", {}, 404)
    home.see("/entry/?id=theirs.0", 404)
    assert len(list(other.lines())) == 1


# Taking back and restoring


def test_undo_and_undo_of_the_undo_give_the_identical_board(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    before = seen(home)
    act = act_of(
        home,
        {"kind": "feed_began", "container": "KA34", "child": "Mira"},
        {"kind": "feed_ended", "container": "KA34", "left_ml": 20},
        hours_ago=0.1,
    )
    after = seen(home)
    assert after != before
    first, second, third = (str(uuid.uuid4()) for _ in range(3))
    undo(home, act, first)
    assert seen(home) == before
    undo(home, first, second)
    assert seen(home) == after
    undo(home, act, third)
    assert seen(home) == before


def test_an_undo_sent_twice_counts_once(home: Family) -> None:
    act = act_of(home, {"kind": "nursed", "child": "Mira"})
    under = str(uuid.uuid4())
    undo(home, act, under)
    once = count(home)
    undo(home, act, under)
    undo(home, act)
    assert count(home) == once


def test_the_banner_after_an_undo_restores(home: Family) -> None:
    act = act_of(home, {"kind": "expressed", "into": [{"container": "KA34", "ml": 60}], "place": "fridge"})
    before = seen(home)
    page = undo(home, act)
    assert not seen(home)
    form = page.select_one(".undo form")
    assert form is not None
    sent = {str(one["name"]): one.get("value", "") for one in form.select("input[name]")}
    home.send(str(form["action"]), sent)
    assert seen(home) == before


def test_an_undo_that_leaves_later_entries_without_ground_asks_and_is_not_blocked(home: Family) -> None:
    act = act_of(home, {"kind": "expressed", "into": [{"container": "KA34", "ml": 60}], "place": "counter"},
                 hours_ago=2)  # fmt: skip
    home.note("moved", 1, container="KA34", to="fridge")
    before = count(home)
    page = undo(home, act)
    assert "no longer fit" in text(page)
    assert "KA34 went to fridge" in text(page)
    assert count(home) == before
    home.send(f"/undo/{act}/", home.fill(page))
    assert not seen(home)
    assert "Does not fit." in text(home.see("/history/"))


def test_an_undo_goes_back_only_to_pages_of_its_own(home: Family) -> None:
    act = act_of(home, {"kind": "nursed", "child": "Mira"})
    sent = {"act": str(uuid.uuid4()), "back": "https://example.org/"}
    answer = home.phone.post(f"/undo/{act}/", sent)
    assert answer.headers["Location"] == f"{reverse('web:history')}?done={sent['act']}"


def test_one_entry_is_taken_back_and_restored_from_its_page(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    moved = home.note("moved", 1, container="KA34", to="counter")
    before = seen(home)
    home.send(entry(moved), {"act": str(uuid.uuid4()), "do": "void"})
    assert seen(home)[0].place == "fridge"
    page = home.see(entry(moved))
    assert "Restore" in text(page) and "Correct it" not in text(page)
    home.send(entry(moved), {"act": str(uuid.uuid4()), "do": "restore"})
    assert seen(home) == before
    home.see(entry(name))


def test_undoing_a_setting_is_possible_too(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    before = seen(home)
    act = act_of(home, {"kind": "place", "place": "fridge", "is": "room", "temp_c": 21}, hours_ago=2)
    assert seen(home) != before
    undo(home, act, sure="yes")
    assert seen(home) == before
    for row in home.store.history(before=None, limit=100, kinds=("household", "place", "child")):
        home.send(entry(row.event_id), {"act": str(uuid.uuid4()), "do": "void", "sure": "yes"})
    home.see("/history/")


# Correcting


def test_a_correction_shows_what_changes_then_records_both_or_neither(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    before = count(home)
    page = correct(home, name, **{"into-0-ml": "90"})
    told = text(page)
    assert "Expressed KA34 (120 mL)." in told and "Expressed KA34 (90 mL)." in told
    assert "90 mL, fresh, fridge" in told
    assert count(home) == before
    sent = confirmed(home, page)
    home.send(sent_to(page), sent)
    home.send(sent_to(page), sent)
    assert count(home) == before + 2
    assert seen(home)[0].ml == 90


def test_a_correction_that_cannot_be_read_records_nothing(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    before = count(home)
    for wrong in ("9o", "", "-4", "99999"):
        page = home.see(f"/history/{name}/correct/")
        answer = home.send(sent_to(page), home.fill(page, **{"into-0-ml": wrong, "sure": "yes"}), 422)
        assert "nothing was recorded" in text(answer)
    assert count(home) == before


def test_a_correction_of_time_place_and_person_keeps_what_was_not_touched(home: Family) -> None:
    name = home.note("expressed", 3, into=[{"container": "KA34", "ml": 61.5}], place="counter", side="left")
    page = correct(home, name, when="at", when_at="2027-02-03T12:30", place="fridge", by="Rui")
    home.send(sent_to(page), confirmed(home, page))
    new = json.loads(list(home.store.lines())[-1])
    assert new["at"] == "2027-02-03T12:30:00+00:00"
    assert (new["place"], new["by"], new["side"]) == ("fridge", "Rui", "left")
    assert new["into"] == [{"container": "KA34", "ml": 61.5}]


def test_a_correction_that_breaks_a_rule_is_told_and_recorded(home: Family) -> None:
    home.expressed("KA34", 120, 30)
    name = home.note("warmed", 1, container="KA34", how="warm_water")
    page = correct(home, name, how="microwave")
    assert "What the guideline says" in text(page)
    home.send(sent_to(page), confirmed(home, page))
    assert seen(home)[0].standing == "breached"


def test_a_correction_names_what_would_no_longer_fit(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    page = correct(home, name, **{"into-0-container": "KA43"})
    assert "What would no longer fit" in text(page) and "KA34 went to fridge" in text(page)


def test_correcting_twice_works_on_what_stands_and_restoring_goes_back_to_the_first(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    first = seen(home)
    page = correct(home, name, **{"into-0-ml": "90"})
    act = confirmed(home, page)["act"]
    home.send(sent_to(page), confirmed(home, page))
    assert "no longer counts" in text(home.see(f"/history/{name}/correct/"))
    page = correct(home, f"{act}.1", **{"into-0-ml": "100"})
    home.send(sent_to(page), confirmed(home, page))
    assert [one.ml for one in seen(home)] == [100]
    assert "Expressed KA34 (100 mL)." in text(home.see(entry(name)))
    home.send(entry(name), {"act": str(uuid.uuid4()), "do": "restore"})
    assert seen(home) == first


def test_two_corrections_at_once_leave_one(home: Family) -> None:
    name = home.expressed("KA34", 120, 3)
    one, other = (correct(home, name, **{"into-0-ml": ml}) for ml in ("90", "80"))
    home.send(sent_to(one), confirmed(home, one))
    before = count(home)
    home.send(sent_to(other), confirmed(home, other))
    assert count(home) == before
    assert seen(home)[0].ml == 90


def test_undoing_an_act_takes_its_correction_along(home: Family) -> None:
    act = act_of(home, {"kind": "expressed", "into": [{"container": "KA34", "ml": 60}], "place": "fridge"})
    page = correct(home, f"{act}.0", **{"into-0-ml": "70"})
    home.send(sent_to(page), confirmed(home, page))
    undo(home, act)
    assert not seen(home)


def test_a_correction_with_ounces_left_alone_changes_no_amount(home: Family) -> None:
    name = home.expressed("KA34", 100, 3)
    home.note("household", 0.5, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "F"])
    page = correct(home, name, side="left")
    home.send(sent_to(page), confirmed(home, page))
    assert json.loads(list(home.store.lines())[-1])["into"] == [{"container": "KA34", "ml": 100}]


@pytest.mark.parametrize("value", ["", "\x00", "x" * 3000, "🍼", "-1", "9" * 30, "../../", "2027-13-45T99:99"])
def test_junk_in_a_correction_never_fails(home: Family, value: str) -> None:
    name = home.expressed("KA34", 120, 3)
    page = home.see(f"/history/{name}/correct/")
    for field in [*home.fill(page), "do", "sure", "edit"]:
        answer = home.phone.post(sent_to(page), home.fill(page) | {"sure": "yes", field: value}, follow=True)
        assert answer.status_code in (200, 404, 422)
    home.phone.post(f"/undo/{quote(value or 'x', safe='')}/", {"act": value, "back": value})


# What was recorded in bulk


def logged(home: Family, count: int, *, hours_ago: float = 0) -> str:
    """A logger's readings of the fridge, recorded in one go: from 3 °C on, one degree more each time, up to 9."""
    return act_of(
        home,
        *({"kind": "measured", "place": "fridge", "temp_c": 3 + number % 7, "at": home.at(hours_ago + number / 6)}
          for number in range(count)),
    )  # fmt: skip


def told(page: Any) -> list[str]:
    """What the history says, a line for each entry."""
    return [" ".join(one.get_text().split()) for one in page.select("ol.past-line li p")]


def test_a_loggers_readings_are_one_line(home: Family) -> None:
    home.expressed("KA34", 90, 30)
    logged(home, 214, hours_ago=1)
    page = home.see("/history/")
    assert sum("214 temperatures of fridge, 3 °C to 9 °C." in one for one in told(page)) == 1
    assert not any("measured" in one for one in told(page)) and any("Expressed KA34" in one for one in told(page))
    link = page.select_one('main a[href^="/readings/"]')
    assert link is not None and link["href"] == "/readings/?place=fridge"
    home.see(str(link["href"]))


def test_three_readings_have_a_line_each(home: Family) -> None:
    logged(home, 3)
    page = told(home.see("/history/"))
    assert sum("measured." in one for one in page) == 3 and not any("temperatures of" in one for one in page)


def test_readings_noted_one_by_one_have_a_line_each(home: Family) -> None:
    for hours in range(5):
        home.note("measured", hours, place="fridge", temp_c=4)
    assert len(told(home.see("/history/?kind=cold"))) == 5


def test_pages_go_on_behind_a_loggers_readings(home: Family) -> None:
    for number in range(50):
        home.note("measured", 100 + number, place="counter", temp_c=20)
    logged(home, 450, hours_ago=30)
    first = home.see("/history/?kind=cold")
    earlier = first.find("a", string="Earlier")
    assert earlier is not None
    both = told(first) + told(home.see(str(earlier["href"])))  # type: ignore[index]
    assert sum("450 temperatures of fridge" in one for one in both) == 1
    assert sum("counter: 20 °C measured." in one for one in both) == 50


def test_a_loggers_readings_are_taken_back_as_one(home: Family) -> None:
    act = logged(home, 60)
    page = home.see(entry(f"{act}.0"))
    assert "60 temperatures of fridge" in text(page) and len(page.select("main ul.links li")) < 5
    undo(home, act)
    after = told(home.see("/history/"))
    assert sum("60 entries were taken back." in one for one in after) == 1 and len(after) < 12
