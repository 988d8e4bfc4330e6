from __future__ import annotations

import pytest
from tests.pages import Family, text

from thawline.core.times import MINUTE
from thawline.services import childcare, people, present, recording
from thawline.services.board import board


def steps(page: object) -> list[str]:
    return [" ".join(one.get_text(" ").split()) for one in page.select(".steps button, .steps a")]  # type: ignore[attr-defined]


def test_the_oldest_within_its_limits_is_fed_first(home: Family) -> None:
    home.expressed("KA34", 120, 30)
    home.expressed("HE43", 100, 50)
    page = home.see("/")
    assert page.select_one(".next .code").text == "HE43"  # type: ignore[union-attr]


def test_chilled_milk_comes_before_an_older_frozen_bag(home: Family) -> None:
    home.expressed("FA33", 100, 24 * 20, place="freezer")
    home.expressed("KA34", 120, 30)
    assert home.see("/").select_one(".next .code").text == "KA34"  # type: ignore[union-attr]


def test_a_family_may_want_the_oldest_first_even_when_frozen(home: Family) -> None:
    people.prefer(home.store, "feed_first", "oldest")
    home.expressed("FA33", 100, 24 * 20, place="freezer")
    home.expressed("KA34", 120, 30)
    assert home.see("/").select_one(".next .code").text == "FA33"  # type: ignore[union-attr]


def test_milk_past_its_limit_is_never_fed_next(home: Family) -> None:
    home.expressed("KA34", 120, 24 * 6)
    page = home.see("/")
    assert page.select_one(".next") is None
    assert "past its limit" in text(page)
    assert "No water" in text(page)


def test_fresh_milk_on_the_counter_needs_a_hand_and_is_chilled_with_one_tap(home: Family) -> None:
    home.expressed("HE43", 100, 20)
    home.expressed("KA34", 120, 1, place="counter")
    page = home.see("/")
    assert "Chill now: then use by Sun 7 Feb 13:00." in text(page)  # CDC: 4 days in the refrigerator
    form = page.select_one('form[action="/milk/KA34/to/"]')
    assert form is not None
    sent = {str(one["name"]): one.get("value", "") for one in form.select("input[name]")}
    home.send("/milk/KA34/to/", sent)
    (found,) = [one for one in board(home.store, now=home.now).verdicts if one.container == "KA34"]
    assert found.place == "fridge"


def test_fed_all_gone_is_one_tap(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    page = home.see("/")
    form = page.select_one('.next form[action="/milk/KA34/feed/"]')
    assert form is not None
    sent = {str(one["name"]): one.get("value", "") for one in form.select("input[name]")}
    after = home.send("/milk/KA34/feed/", sent)
    assert "all gone" in after.get_text()
    assert board(home.store, now=home.now).verdicts == []
    # Sent again after a lost answer: it counts once.
    lines = list(home.store.lines())
    home.send("/milk/KA34/feed/", sent)
    assert list(home.store.lines()) == lines


def test_time_left_is_told_in_words_beside_the_clock(home: Family) -> None:
    home.expressed("KA34", 120, 93)  # CDC: 4 days in the refrigerator
    page = text(home.see("/"))
    assert "today 17:00" in page
    assert "in 3 hours" in page or "in 2 h 5" in page


def test_no_time_left_where_the_computers_clock_is_before_its_newest_record(home: Family) -> None:
    home.expressed("KA34", 120, 93)
    home.now -= 10 * MINUTE
    page = home.see("/")
    assert page.html is not None
    assert page.html.get("data-clock") == "wrong"
    assert page.select_one(".time-left") is None
    assert "clock is wrong" in page.get_text()


def test_the_page_says_what_does_not_fit(home: Family) -> None:
    home.note("moved", 1, container="NOSUCH", to="fridge")
    assert "1 entry does not fit" in text(home.see("/"))


def test_hospital_care_hides_home_limits(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("child", 24 * 300, child="Mira", born="2026-12-01", care="hospital")
    page = text(home.see("/"))
    assert "Follow the care team" in page
    assert "Use by" not in page


def test_nothing_noted_yet_leads_to_the_log(home: Family) -> None:
    assert home.see("/").select_one('a[href="/log/"]') is not None


# Logging


def log(home: Family, **fields: str) -> str:
    page = home.see("/log/")
    sent = home.fill(page, **fields)
    return text(home.send(f"/log/?act={sent['act']}", sent))


def test_a_session_takes_two_taps_and_a_number(home: Family) -> None:
    first = home.see("/")
    assert first.select_one('nav a[href="/log/"]') is not None  # tap one
    log(home, ml_1="120")  # the number, and tap two
    (found,) = board(home.store, now=home.now).verdicts
    assert (found.ml, found.place, found.form) == (120, "fridge", "fresh")
    assert found.dated == home.now


def test_the_answer_names_the_code_to_write_on_it_and_offers_undo(home: Family) -> None:
    page = log(home, ml_1="90")
    (found,) = board(home.store, now=home.now).verdicts
    assert found.container in page
    assert not set(found.container) & set("IOQLBSZGVW01258")


def test_about_two_hours_ago_starts_the_clock_then(home: Family) -> None:
    log(home, ml_1="90", when="120", place="counter")
    (found,) = board(home.store, now=home.now).verdicts
    assert found.dated == home.now - 120 * MINUTE


def test_only_the_day_known_counts_from_its_start(home: Family) -> None:
    log(home, ml_1="90", when="on", when_on="2027-02-03")
    (found,) = board(home.store, now=home.now).verdicts
    assert found.dated == home.now - 14 * 60 * MINUTE


def test_several_containers_are_one_session(home: Family) -> None:
    log(home, ml_1="90", ml_2="60,5", ml_3="30")
    assert sorted(one.ml for one in board(home.store, now=home.now).verdicts) == [30, 60.5, 90]
    assert sum(b'"expressed"' in line for line in home.store.lines()) == 1


def test_fluid_ounces_where_the_household_counts_in_them(home: Family) -> None:
    home.note("household", 10, zone="Europe/Lisbon", guideline="cdc", units=["fl_oz", "F"])
    log(home, ml_1="4")
    (found,) = board(home.store, now=home.now).verdicts
    assert found.ml == pytest.approx(118.3)  # 4 US fl oz: NIST Handbook 44, Appendix C


@pytest.mark.parametrize("amount", ["", "much", "0", "-5", "9000", "12 34 x", "\uff11\uff12\uff10"])
def test_an_amount_that_cannot_be_is_asked_again_and_nothing_is_recorded(home: Family, amount: str) -> None:
    before = list(home.store.lines())
    page = home.see("/log/")
    sent = home.fill(page, ml_1=amount)
    answer = home.phone.post(f"/log/?act={sent['act']}", sent)
    assert answer.status_code == 422
    assert list(home.store.lines()) == before


def test_a_double_tap_counts_once(home: Family) -> None:
    page = home.see("/log/")
    sent = home.fill(page, ml_1="120")
    home.send(f"/log/?act={sent['act']}", sent)
    home.hours(0.01)
    home.send(f"/log/?act={sent['act']}", sent | {"ml_1": "130"})
    assert [one.ml for one in board(home.store, now=home.now).verdicts] == [120]


def test_a_form_opened_anew_after_going_back_keeps_its_id(home: Family) -> None:
    answer = home.phone.get("/log/")
    assert answer.status_code == 302
    address = answer.headers["Location"]
    assert home.fill(home.see(address))["act"] in address


def test_present_is_held_still_in_these_tests(home: Family) -> None:
    assert present.now() == home.now
    assert recording.new_act() != recording.new_act()


def test_a_code_with_a_slash_does_not_break_the_first_page(home: Family) -> None:
    home.expressed("Tue/2", 120, 3)
    page = home.see("/")
    form = page.select_one(".next form")
    assert form is not None
    sent = {str(one["name"]): one.get("value", "") for one in form.select("input[name]")}
    home.send(str(form["action"]), sent)
    assert board(home.store, now=home.now).verdicts == []


def test_a_warmed_bottle_with_some_left_asks_how_much(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("moved", 0.2, container="KA34", to="counter")
    home.note("warmed", 0.1, container="KA34", how="warm_water")
    page = home.see("/")
    assert steps(page) == ["Fed, all gone KA34", "Some is left KA34"]
    (link,) = page.select(".next .steps a")
    asked = home.see(str(link["href"]))
    assert asked.select_one("input[name=how][value=left][checked]") is not None


def test_what_was_just_logged_is_shown_large_to_be_written_on_it(home: Family) -> None:
    page = home.see("/log/")
    sent = home.fill(page, ml_1="90", ml_2="60")
    answer = home.send(f"/log/?act={sent['act']}", sent)
    written = [one.text for one in answer.select(".write .code")]
    assert sorted(written) == sorted(one.container for one in board(home.store, now=home.now).verdicts)
    assert home.see("/").select_one(".write") is None


def test_two_children_are_not_led_to_one_bottle(home: Family) -> None:
    home.note("child", 24 * 300, child="Ilva", born="2026-12-01", care="home")
    home.expressed("HE43", 100, 50)
    home.expressed("KA34", 120, 30)
    assert [one.text for one in home.see("/").select(".next .code")] == ["HE43", "KA34"]


def test_what_is_packed_is_not_fed_next_at_home(home: Family) -> None:
    home.expressed("HE43", 100, 12)
    home.note("moved", 1, container="HE43", to="cooler bag")
    home.expressed("KA34", 120, 3)
    assert home.see("/").select_one(".next .code").text == "KA34"  # type: ignore[union-attr]


def test_what_can_still_be_saved_stands_before_what_is_to_be_thrown_away(home: Family) -> None:
    home.expressed("FE44", 60, 1)  # fed next
    home.expressed("PA73", 60, 24 * 6)
    home.expressed("RA77", 80, 3.5, place="counter")
    home.note("moved", 0.1, container="FE44", to="counter")
    home.note("warmed", 0.05, container="FE44", how="warm_water")
    page = home.see("/")
    assert page.select_one(".next .code").text == "FE44"  # type: ignore[union-attr]
    assert [one.text for one in page.select(".line .code")] == ["RA77", "PA73"]


def test_milk_of_a_broken_rule_shows_no_time_to_use_it_by(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("warmed", 1, container="KA34", how="microwave")
    page = text(home.see("/"))
    assert "rule was broken" in page
    assert "Use by" not in page and "Its limit" not in page


def test_a_limit_at_midnight_is_the_end_of_a_day(home: Family) -> None:
    home.note("expressed", 14, into=[{"container": "KA34", "ml": 60}], place="fridge")
    page = text(home.see("/"))
    assert "end of Sat 6 Feb" in page  # 4 days from Wed 3 Feb 00:00
    assert "00:00" not in page


def test_after_a_power_cut_ice_is_noted_with_one_tap(home: Family) -> None:
    home.expressed("FE44", 100, 24 * 9, place="freezer")
    home.note("power_lost", 30, place="freezer", fill="half")
    home.note("power_back", 1, place="freezer")
    page = home.see("/")
    assert "look for ice" in text(home.see("/milk/FE44/")).lower()
    assert steps(page) == ["Ice still there FE44", "No ice left FE44"]


def test_held_milk_says_why_and_when_to_look_again(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    home.note("held", 1, container="KA34", why="medicine", until="2027-02-05")
    assert "medicine. Look again: 2027-02-05." in text(home.see("/"))


def test_a_typed_rest_is_never_dropped(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    sent = home.fill(home.see("/milk/KA34/feed/"), how="gone", left="40", child="Mira")
    before = list(home.store.lines())
    answer = home.phone.post(f"/milk/KA34/feed/?act={sent['act']}", sent)
    assert answer.status_code == 422
    assert "some is left" in answer.content.decode()
    assert list(home.store.lines()) == before


def test_an_open_feed_past_its_limit_can_still_be_ended(home: Family) -> None:
    home.expressed("KA34", 120, 5)
    home.note("feed_began", 3, container="KA34", child="Mira")
    assert steps(home.see("/"))[:1] == ["Fed, all gone KA34"]


def test_two_taps_within_one_second_keep_their_order(home: Family) -> None:
    home.expressed("KA34", 60, 30, place="freezer")
    home.note("moved", 1, container="KA34", to="fridge")
    for milliseconds, url, fields in (
        (100, "/milk/KA34/ice/", {"ice": "no"}),
        (900, "/milk/KA34/to/", {"to": "freezer", "sure": "yes"}),
    ):
        home.now += milliseconds * 1000
        home.send(url, {**fields, "act": recording.new_act()})
    (found,) = board(home.store, now=home.now).verdicts
    assert found.standing == "breached"  # frozen again after no ice was left


def test_all_that_needs_a_hand_is_named_even_where_it_is_much(home: Family) -> None:
    for number in range(20):
        home.expressed(f"Q{number}", 60, 3 - number / 100, place="counter")
    page = home.see("/")
    named = {one.text for one in page.select(".next .code, .line .code")}
    assert named == {f"Q{number}" for number in range(20)}
    assert page.select_one('form[action="/milk/Q1/to/"]') is not None  # the most urgent have their steps


def test_milk_is_not_put_to_freeze_where_the_power_is_out(home: Family) -> None:
    home.expressed("KA34", 90, 90)
    assert "Freeze: freezer" in text(home.see("/"))
    home.note("power_lost", 0.1, place="freezer")
    page = text(home.see("/"))
    assert "The power is out since" in page
    assert "Freeze: freezer" not in page
    assert "Freeze now" not in page


def test_the_first_page_leads_to_what_is_packed_and_to_a_power_cut(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    page = home.see("/")
    assert page.select_one("main a[href='/power/']") is not None
    assert page.select_one("main a[href='/trip/']") is None
    home.note("moved", 1, container="KA34", to="cooler bag")
    assert home.see("/").select_one("main a[href='/trip/']") is not None
    assert home.see("/stock/").select_one("main a[href='/trip/']") is not None


def test_the_time_of_milk_held_back_that_is_over_is_told_as_over(home: Family) -> None:
    home.expressed("KA34", 90, 90)
    home.note("held", 89, container="KA34", why="medicine")
    assert "If released, use by" in text(home.see("/"))
    home.hours(20)
    for page in ("/", "/stock/", "/milk/KA34/", "/paper/"):
        said = text(home.see(page)).lower()
        assert "ended" in said, page
        assert "if released" not in said, page


def test_milk_that_no_time_covers_in_a_power_cut_can_be_measured_or_thrown_away_from_here(home: Family) -> None:
    home.expressed("KA34", 80, hours_ago=8)
    home.note("moved", 7.5, container="KA34", to="fridge")
    home.note("power_lost", 5, place="fridge")
    page = home.see("/")
    assert "no time given: act now" in text(page).lower()
    line = next(one for one in page.select(".lines > li") if "KA34" in one.get_text())
    steps = [" ".join(one.get_text().split()) for one in line.select("a.button, button")]
    assert steps == ["Measure it KA34", "Throw away KA34"]
    measured = line.select_one("a.button")
    assert measured is not None
    assert "Measure the milk" in text(home.see(str(measured["href"])))


def test_milk_at_a_childcare_service_is_not_the_next_feed_at_home(home: Family) -> None:
    there = childcare.add(home.store, "Kingfisher room", by="Marta", now=home.now, rule="us-or", temp_c=4)
    home.expressed("KA34", 90, 20)
    home.note("handed_over", 2, container="KA34", to=there.name, place=there.place)
    home.hours(72)
    page = text(home.see("/"))
    assert "Feed next" not in page and "KA34" not in page
    assert "At Kingfisher room 1 container, 90 mL" in page
    assert home.see("/").select_one('a[href="/hand-over/?service=Kingfisher%20room"]') is not None
    home.expressed("FE44", 80, 3)
    page = text(home.see("/"))
    assert "Feed next" in page and "FE44" in page
