from __future__ import annotations

from urllib.parse import quote

import pytest
from django.test import Client
from tests.pages import Family, text

from thawline.faces.web.lines import do_url, url_of
from thawline.services import people
from thawline.services.board import one


def buttons(page: object) -> list[str]:
    return [" ".join(button.get_text(" ").split()) for button in page.select(".next .button")]  # type: ignore[attr-defined]


def test_it_says_how_much_where_what_form_and_until_when(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    said = text(home.see("/milk/KA34/"))
    for part in ("KA34", "120 mL", "fridge", "fresh", "Use by", "Sun 7 Feb 11:00", "within its limits"):
        assert part in said


def test_it_names_the_guideline_its_source_and_how_sure_the_figure_is(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    said = text(home.see("/milk/KA34/"))
    assert "follows US CDC" in said
    assert "Breast Milk Storage and Preparation" in said
    assert "read in the publisher" in said


@pytest.mark.parametrize(
    ("events", "wanted"),
    [
        ([], ["Chill: fridge", "Fed, all gone"]),
        ([("moved", {"to": "fridge"})], ["Fed, all gone", "Warm in water"]),
        ([("moved", {"to": "freezer"})], ["Thaw: fridge"]),
        ([("feed_began", {"child": "Mira"})], ["Fed, all gone", "Some is left"]),
        ([("held", {"why": "medicine"})], ["Chill: fridge", "Release it"]),
    ],
)
def test_the_usual_next_steps_are_in_reach(home: Family, events: list, wanted: list[str]) -> None:  # type: ignore[type-arg]
    home.note("expressed", 1, into=[{"container": "KA34", "ml": 120}], place="counter")
    for number, (kind, fields) in enumerate(events):
        home.note(kind, 0.9 - number / 10, container="KA34", **fields)
    if events and events[0][1] == {"to": "freezer"}:
        home.hours(48)
    shown = [one.removesuffix(" KA34") for one in buttons(home.see("/milk/KA34/"))]
    assert shown[: len(wanted)] == wanted
    assert len(shown) <= 2


def test_with_two_children_the_button_to_feed_asks_who_drinks(home: Family) -> None:
    home.note("child", 24, child="Teo", born="2026-12-01", care="home")
    home.expressed("KA34", 120, 3)
    page = home.see("/milk/KA34/")
    assert buttons(page) == ["Feed it KA34", "Warm in water KA34"]
    (link,) = page.select(".next a.button")
    assert "Who drinks?" in text(home.see(str(link["href"])))
    home.note("feed_began", 0.1, container="KA34", child="Teo")
    page = home.see("/milk/KA34/")
    home.send("/milk/KA34/feed/", home.fill(page, "/milk/KA34/feed/"))
    assert one(home.store, "KA34", now=home.now).verdict.standing == "gone"  # type: ignore[union-attr]


def test_milk_past_its_limit_offers_to_be_thrown_away_and_never_to_be_fed(home: Family) -> None:
    home.expressed("KA34", 120, 24 * 6)
    page = home.see("/milk/KA34/")
    assert "past its limit" in text(page)
    assert buttons(page) == ["Throw away KA34"]


def test_what_may_be_done_says_until_when_and_what_it_would_give(home: Family) -> None:
    home.note("expressed", 1, into=[{"container": "KA34", "ml": 120}], place="counter")
    said = text(home.see("/milk/KA34/"))
    assert "Chill: fridge, by today 17:00. Then use by Sun 7 Feb 13:00." in said


def test_whose_milk_it_is_and_for_whom(home: Family) -> None:
    home.note("child", 24, child="Teo", born="2026-12-01", care="home")
    home.note("expressed", 3, into=[{"container": "KA34", "ml": 60}], place="fridge", mother="Ana", for_="Mira")
    home.note("expressed", 2, into=[{"container": "KE44", "ml": 60}], place="fridge", mother="Bia", for_="Mira")
    home.note("poured", 1, from_=[{"container": "KA34", "ml": 60}], into="KE44")
    page = home.see("/milk/KE44/")
    facts = {str(row.select_one("dt").text): str(row.select_one("dd").text) for row in page.select(".facts > div")}  # type: ignore[union-attr]
    assert facts["Expressed by"] == "Ana, Bia"
    assert facts["For"] == "Mira"
    assert facts["Dated by its oldest part"] == "today 11:00"


def test_a_bare_date_is_called_estimated_and_shown_without_a_time(home: Family) -> None:
    home.note("stocked", 1, container="KA34", ml=90, place="freezer", expressed="2026-12-20")
    page = home.see("/milk/KA34/")
    assert "Estimated: nobody saw" in text(page)


def test_its_past_is_told_and_each_entry_says_who(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    lines = [" ".join(one.get_text(" ").split()) for one in home.see("/milk/KA34/").select(".past-line li")]
    assert "KA34 went to fridge." in lines[0]
    assert "Expressed KA34 (120 mL)." in lines[1]
    assert all("Marta" in line for line in lines)


def test_what_was_taken_back_stays_in_its_past_and_is_said_to_be(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    wrong = home.note("moved", 1, container="KA34", to="freezer")
    home.note("voided", 0.5, event=wrong)
    (struck,) = home.see("/milk/KA34/").select(".past-line .voided")
    assert "freezer" in struck.text
    assert "taken back" in struck.parent.text  # type: ignore[union-attr]


def test_a_void_taken_back_strikes_nothing(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    moved = home.note("moved", 1, container="KA34", to="freezer")
    void = home.note("voided", 0.5, event=moved)
    home.note("voided", 0.4, event=void)
    assert not home.see("/milk/KA34/").select(".past-line .voided")


def test_a_gone_container_shows_its_past_and_no_actions(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("discarded", 1, container="KA34")
    page = home.see("/milk/KA34/")
    assert "gone" in text(page)
    assert "thrown away" in text(page)
    assert not page.select("main form, main .button, main .links")


def test_a_container_that_was_handed_over_can_come_back(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("handed_over", 1, container="KA34", to="childcare")
    assert buttons(home.see("/milk/KA34/")) == ["It came back KA34"]


def test_a_breach_is_shown_with_its_source_and_a_breached_feed_names_when_to_call(home: Family) -> None:
    home.expressed("KA34", 120, 24 * 6)
    home.note("feed_began", 1, container="KA34", child="Mira")
    said = text(home.see("/milk/KA34/"))
    assert "Fed past its limit." in said
    assert "Call a clinician now" in said


def test_a_hospital_childs_milk_has_no_home_limits_and_points_to_the_team(home: Family) -> None:
    home.note("child", 24, child="Mira", born="2026-12-01", care="hospital")
    home.expressed("KA34", 120, 3)
    page = home.see("/milk/KA34/")
    assert "follow the care team" in text(page)
    assert "Use by" not in text(page)
    assert buttons(page) == ["Feed it KA34", "Move it KA34"]


def test_milk_is_nowhere_called_safe(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    for url in ("/milk/KA34/", "/milk/KA34/feed/", "/milk/KA34/warm/", "/milk/KA34/pour/"):
        assert "safe" not in text(home.see(url)).lower()


@pytest.mark.parametrize("code", ["NOPE", "a/b", "..", "%00", "é" * 300, "'; drop"])
def test_an_unknown_code_is_not_found(home: Family, code: str) -> None:
    for url in (f"/milk/{quote(code, safe='')}/", f"/milk/?code={quote(code)}", f"/milk/-/feed/?code={quote(code)}"):
        assert home.phone.get(url).status_code == 404
    assert home.phone.get("/milk/").status_code == 404


@pytest.mark.parametrize("code", ["a/b", "..", "-", "bag 7, blue", "50%", "é?x=1#y", "../settings", "a\\b"])
def test_any_code_has_a_page_and_a_form(home: Family, code: str) -> None:
    home.expressed(code, 90, 2)
    assert code in text(home.see(url_of(code)))
    page = home.see(do_url(code, "to"))
    home.send(do_url(code, "to"), home.fill(page, to="freezer"))
    found = one(home.store, code, now=home.now)
    assert found is not None and found.verdict.place == "freezer"


def test_another_households_milk_is_not_found(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    people.begin(household="Next door", name="Eva", username="eva", password="plum-harbour-kite")
    stranger = Client()
    assert stranger.login(username="eva", password="plum-harbour-kite")
    assert stranger.get("/milk/KA34/").status_code == 404
    for verb in ("feed", "pour", "discard"):
        assert stranger.get(f"/milk/KA34/{verb}/").status_code == 404
        assert stranger.post(f"/milk/KA34/{verb}/", {"how": "gone"}).status_code == 404
    assert one(home.store, "KA34", now=home.now).verdict.standing != "gone"  # type: ignore[union-attr]


def test_looking_writes_nothing(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    before = list(home.store.lines())
    for verb in ("to", "warm", "feed", "pour", "ice", "count", "hold", "discard"):
        home.see(f"/milk/KA34/{verb}/")
    home.see("/milk/KA34/")
    assert list(home.store.lines()) == before


def test_a_hold_says_why_and_when_to_look_again(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("held", 1, container="KA34", why="medicine", until="2027-02-05T08:30:00+00:00")
    said = text(home.see("/milk/KA34/"))
    assert "held back" in said
    assert "Held back medicine" in said
    assert "To look at again: Fri 5 Feb 08:30." in said


def test_cautions_stand_where_the_hand_is(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    for verb, says in (
        ("warm", "Not above 40 °C (104 °F)"),
        ("feed", "Do not mix it back"),
        ("pour", "Chill fresh milk before adding it to cold or frozen milk."),
        ("ice", "Once fully thawed, do not refreeze."),
        ("hold", "medicines, alcohol or infection: ask a clinician"),
        ("discard", "a normal smell proves nothing"),
    ):
        assert says in text(home.see(f"/milk/KA34/{verb}/"))


def test_more_is_behind_one_button_and_each_of_it_has_a_page(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    links = home.see("/milk/KA34/").select("details.more a")
    assert len(links) > 10
    for link in links:
        home.see(str(link["href"]))
