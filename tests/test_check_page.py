"""Check before feeding: every reason of a stop, what a match says, and that each check is kept once."""

from __future__ import annotations

import re
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st
from tests import people as others
from tests.check_families import phone, photo, two
from tests.pages import Family, text

from thawline.core import events as ev
from thawline.faces.tell import STOPPED_BY
from thawline.faces.web.views.check_words import reasons
from thawline.faces.web.views.history_shown import entry_url
from thawline.records.ledger.models import Event
from thawline.services import board, checking_why, tags
from thawline.services.checking import Asked, check
from thawline.services.people import homes_of
from thawline.services.permissions import ROLES
from thawline.services.tags import Read


def checks(home: Family) -> list[ev.Checked]:
    """All checks of the household, in the order in which they were recorded."""
    rows = Event.objects.filter(household=home.store.id, kind="checked").order_by("revision")
    return [ev.decoder.decode(row.line.encode()) for row in rows]  # type: ignore[misc]


def ask(home: Family, code: str = "KA34", child: str = "Mira", **more: Any) -> BeautifulSoup:
    """What the page says of a code and a child."""
    page = home.see("/check/")
    return home.send("/check/", home.fill(page, code=code, child=f"{tags.tag_of(home.store)}/{child}", **more))


def sign(page: BeautifulSoup) -> str:
    found = page.select_one("section.check h1")
    return found.get_text(strip=True) if found is not None else ""


def _stops(home: Family) -> dict[str, str]:
    """A container for each reason that its own state gives."""
    home.expressed("GE43", 60, 3)
    home.note("discarded", 1, container="GE43")
    # CDC: four days in the refrigerator.
    home.expressed("PA73", 60, 24 * 5)
    home.expressed("RE47", 60, 3)
    home.note("warmed", 2, container="RE47", how="microwave")
    home.expressed("HE49", 60, 3)
    home.note("held", 1, container="HE49", why="medicine")
    home.expressed("FE44", 60, 24 * 9, place="freezer")
    home.expressed("TA77", 60, 24 * 9, place="freezer")
    home.note("moved", 2, container="TA77", to="fridge")
    # CDC gives no time above 25 degrees Celsius.
    home.note("place", 24, place="balcony", is_="room", temp_c=30)
    home.note("expressed", 1, into=[{"container": "UT39", "ml": 60}], place="balcony")
    return {"gone": "GE43", "past": "PA73", "breached": "RE47", "held": "HE49", "frozen": "FE44", "thawing": "TA77",
            "outside": "UT39", "unknown": "ZZ99"}  # fmt: skip


@pytest.mark.parametrize("why", ["gone", "past", "breached", "held", "frozen", "thawing", "outside", "unknown"])
def test_each_reason_stops_says_what_to_do_and_offers_no_feed(home: Family, why: str) -> None:
    code = _stops(home)[why]
    page = ask(home, code)
    assert sign(page) == "Stop"
    assert why in checks(home)[-1].why
    said = text(page)
    assert "instead" in said
    assert not page.select('form[action*="/feed/"], a[href*="/feed/"]')
    assert not re.search(r"\bsafe\b", said)
    # A reload tells the same and records nothing.
    assert len(checks(home)) == 1


def test_under_a_hospitals_care_the_care_team_speaks_and_no_home_limit_is_shown(home: Family) -> None:
    # Check case 99: home limits hidden, "follow the unit" (HSE, NHS Lothian, NHS England, HMBANA).
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="hospital")
    home.expressed("KA34", 60, 3)
    page = ask(home, child="Ana")
    assert sign(page) == "Stop"
    assert checks(home)[-1].why == ["hospital"]
    assert "Follow the care team" in text(page)
    assert "Use by" not in text(page)
    assert "use by" not in text(page)
    assert sign(ask(home, child="Mira")) == "Match"


def test_milk_for_a_child_in_hospital_is_no_match_for_its_sibling(home: Family) -> None:
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="hospital")
    home.note("expressed", 3, into=[{"container": "KA34", "ml": 60}], place="fridge", for_="Ana")
    assert sign(ask(home, child="Mira")) == "Stop"
    assert "other_child" in checks(home)[-1].why


def test_a_match_says_what_until_when_and_never_more(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    page = ask(home)
    said = text(page)
    assert sign(page) == "Match"
    # CDC: four days in the refrigerator, from expression on 3 Feb 12:00.
    assert "This is KA34, for Mira, within its limits until Sun 7 Feb 12:00." in said
    assert "90 mL" in said
    assert "Swirl it" in said
    assert not re.search(r"\bsafe(ly)?\b", said, re.IGNORECASE)
    [event] = checks(home)
    assert (event.found, event.child, event.container, event.why, event.by) == ("match", "Mira", "KA34", [], "Marta")


def test_what_another_child_left_is_not_passed_on(home: Family) -> None:
    # Common practice, no source: a bottle that one child drank from is not given to another.
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="home")
    home.expressed("KA34", 90, 2)
    home.note("feed_began", 0.5, container="KA34", child="Mira")
    home.note("feed_ended", 0.3, container="KA34", left_ml=40)
    assert sign(ask(home, child="Mira")) == "Match"
    assert sign(ask(home, child="Ana")) == "Stop"
    assert checks(home)[-1].why == ["drunk"]


def test_milk_for_no_child_in_particular_matches_and_says_so(home: Family) -> None:
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="home")
    home.expressed("KA34", 90, 2)
    page = ask(home, child="Ana")
    assert sign(page) == "Match"
    assert "for no child in particular" in text(page)


def test_with_several_children_none_is_chosen_beforehand(home: Family) -> None:
    assert home.see("/check/").select_one('input[name="child"][checked]') is not None
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="home")
    home.note("expressed", 1, into=[{"container": "KA34", "ml": 60}], place="fridge", for_="Ana")
    page = home.see("/check/?code=KA34")
    assert page.select_one('input[name="child"][checked]') is None
    answer = home.send("/check/", home.fill(page, code="KA34"), status=422)
    assert "Choose the child" in text(answer)
    assert checks(home) == []


def test_a_form_sent_twice_counts_once_and_another_label_counts_anew(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    home.expressed("FE44", 60, 24 * 9, place="freezer")
    sent = home.fill(home.see("/check/"), code="KA34")
    first = home.send("/check/", sent)
    again = home.send("/check/", sent)
    assert (sign(first), sign(again), len(checks(home))) == ("Match", "Match", 1)
    # Back, and another bottle in the same form: it is another check, with its own finding.
    assert sign(home.send("/check/", {**sent, "code": "FE44"})) == "Stop"
    # Sent again much later, it is judged anew.
    home.hours(24 * 5)
    assert sign(home.send("/check/", sent)) == "Stop"
    assert [event.found for event in checks(home)] == ["match", "stop", "stop"]


def test_a_match_that_no_longer_holds_is_none_any_more(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    answer = home.phone.post("/check/", home.fill(home.see("/check/"), code="KA34"))
    address = answer.headers["Location"]
    assert sign(home.see(address)) == "Match"
    home.hours(1)
    old = home.see(address)
    assert sign(old) == "Check again"
    assert not old.select('form[action*="/feed/"], a[href*="/feed/"]')
    home.note("discarded", container="KA34")
    assert sign(home.see(address)) == "Stop"
    assert len(checks(home)) == 1


def test_from_a_match_the_feed_is_one_tap(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    page = ask(home)
    form = page.select_one('form[action="/milk/KA34/feed/"]')
    assert form is not None
    sent = {str(one["name"]): one.get("value", "") for one in form.select("input[name]")}
    done = home.send("/milk/KA34/feed/", sent)
    assert "Mira began to drink from KA34" in done.get_text()


def test_an_alternative_is_one_that_would_be_a_match(home: Family) -> None:
    _stops(home)
    assert "Nothing that is ready to feed" in text(ask(home, "PA73"))
    home.expressed("KA34", 70, 1)
    page = ask(home, "PA73")
    following = page.select_one(".check-next")
    assert following is not None
    assert "KA34" in text(BeautifulSoup(str(following), "html.parser"))


@pytest.mark.parametrize("typed", ["ka34", "KA 34", "ka-34", " KA34 ", "k a 3 4"])
def test_a_typed_code_forgives_spaces_and_case(home: Family, typed: str) -> None:
    home.expressed("KA34", 90, 2)
    assert sign(ask(home, typed)) == "Match"


def test_signs_that_look_alike_are_read_only_where_one_container_can_be_meant(home: Family) -> None:
    home.expressed("B1OO", 90, 2)
    assert sign(ask(home, "8IO0")) == "Match"
    home.expressed("BI0O", 90, 2)
    page = ask(home, "8100")
    assert sign(page) == "Stop"
    assert checks(home)[-1].why == ["unsure"]
    # As it stands on the label, it is no longer in doubt.
    assert sign(ask(home, "BI0O")) == "Match"


def test_a_code_is_never_shown_as_a_link_or_as_markup(home: Family) -> None:
    for evil in ("<script>alert(1)</script>", "javascript:alert(1)", "x" * 5000, "\u202eKA34", "KA34\x00", "a\nb"):
        page = home.phone.post("/check/", home.fill(home.see("/check/"), code=evil), follow=True)
        shown = BeautifulSoup(page.content, "html.parser")
        assert "<script>alert" not in page.content.decode()
        assert not shown.select('main a[href^="javascript"]')
    assert all(len(event.label or "") <= 60 for event in checks(home))


def test_a_page_of_a_check_belongs_to_its_household(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    address = home.phone.post("/check/", home.fill(home.see("/check/"), code="KA34")).headers["Location"]
    assert others.outsider().get(address).status_code == 404
    assert home.phone.get(address.replace("/check/", "/check/").rstrip("/") + "x/").status_code == 404


def test_history_shows_a_check_in_words_and_lets_it_be_taken_back(home: Family) -> None:
    _stops(home)
    ask(home, "PA73")
    page = home.see("/history/?kind=checks")
    assert "Checked before feeding, Mira and PA73: stopped, past its limit." in text(page)
    entry = entry_url(checks(home)[0].id)
    assert "past its limit" in text(home.see(entry))
    assert home.phone.get(entry_url(checks(home)[0].id, "correct")).status_code == 404


# Where the phone's own camera leads


def test_the_address_on_a_label_leads_to_the_container(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    tag = tags.tag_of(home.store)
    for address in (f"/L/{tag}/KA34", f"/l/{tag.lower()}/ka34", f"/l/{tag}/KA34/", f"/L/{tag}/KA34/"):
        page = home.see(address)
        assert "Check before feeding" in text(page)
        assert page.select_one('a[href^="/check/?code=KA34"]') is not None


def test_a_code_with_odd_signs_has_an_address_too(home: Family) -> None:
    for code in ("Frozen 3", "a/b", "50%", "é?#"):
        home.expressed(code, 50, 2)
        address = tags.address("", home.store, code)
        assert code in text(home.see(address))
        assert sign(home.send("/check/", home.fill(home.see("/check/"), code="", photo=photo(address)))) == "Match", (
            code
        )


def test_a_label_with_an_unknown_code_gives_a_kind_page(home: Family) -> None:
    page = home.see(f"/L/{tags.tag_of(home.store)}/ZZ99", status=404)
    assert "No milk is noted under “ZZ99”" in text(page)
    assert page.select_one('main a[href="/check/"]') is not None


def test_a_label_leads_a_stranger_to_the_sign_in_and_on_and_others_nowhere(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    address = f"/L/{tags.tag_of(home.store)}/KA34"
    answer = Client().get(address)
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"/sign-in/?next={address}"
    assert others.outsider().get(address).status_code == 404


def test_a_label_takes_whoever_belongs_to_both_into_its_household(home: Family) -> None:
    both = two(home)
    client = phone(both, "carer")
    assert client.get(f"/L/{tags.tag_of(both.theirs.store)}/RE47", follow=True).status_code == 200
    assert client.session["home"] == both.theirs.store.key
    assert client.get(f"/L/{tags.tag_of(home.store)}/MI37", follow=True).status_code == 200
    assert client.session["home"] == home.store.key


@pytest.mark.parametrize("role", ROLES)
def test_whoever_may_check_finds_the_page(home: Family, role: str) -> None:
    both = two(home)
    said = phone(both, role).get("/check/", follow=True).content.decode()
    assert all(child in said for child in ("Mira", "Ana", "Bela", "Olin"))


# For any milk


@given(st.data())
def test_no_code_is_left_without_words(data: st.DataObject) -> None:
    why = data.draw(st.lists(st.sampled_from(checking_why.WHY), min_size=1, unique=True))
    said = reasons(why, child="Mira", label="KA34")
    assert len(said) == len(why)
    assert all(one.says and one.do for one in said)
    assert set(checking_why.WHY) <= set(STOPPED_BY)


def test_a_match_stands_only_where_the_board_says_within_its_limits(home: Family) -> None:
    """Milk of many pasts, at many moments: never a match where the board does not say `fine` or `soon`."""
    _stops(home)
    for number, (hours, do) in enumerate([(h, d) for h in (1, 30, 90) for d in ("", "warmed", "fed", "held", "room")]):
        code = f"XX{number}"
        home.expressed(code, 60, hours)
        if do == "warmed":
            home.note("warmed", hours / 2, container=code, how="warm_water")
        elif do == "fed":
            home.note("feed_began", 0.8, container=code, child="Mira")
            home.note("feed_ended", 0.6, container=code, left_ml=20)
        elif do == "held":
            home.note("held", 0.5, container=code, why="other")
        elif do == "room":
            home.note("moved", hours / 3, container=code, to="counter")
    homes = homes_of(get_user_model().objects.get(username="marta").pk)
    seen = set()
    for later in (0, 0.5, 1, 2, 4, 8, 24, 72, 100, 200):
        now = home.now + int(later * 3_600_000_000)
        for code in [f"XX{n}" for n in range(15)] + ["GE43", "PA73", "RE47", "HE49", "FE44", "TA77", "UT39"]:
            found = check(homes, Asked(homes[0], "Mira", Read(None, code), typed=True), now=now)
            one = board.one(home.store, code, now=now)
            assert one is not None
            seen.add((found.found, one.verdict.standing))
            if found.found == "match":
                assert one.verdict.standing in ("fine", "soon")
                assert one.verdict.form != "frozen"
                assert not one.held
    assert ("match", "soon") in seen and ("match", "fine") in seen and ("stop", "past") in seen


def test_at_childcare_a_match_leads_to_the_feed_there_and_a_label_to_its_page(home: Family) -> None:
    both = two(home)
    client = phone(both, "childcare")
    page = client.get(f"/L/{tags.tag_of(home.store)}/MI37", follow=True)
    assert page.status_code == 200
    assert page.redirect_chain[-1][0].startswith(f"/care/{tags.tag_of(home.store)}/milk/")
    check_at = BeautifulSoup(page.content, "html.parser").select_one('a[href^="/check/"]')
    assert check_at is not None
    form = BeautifulSoup(client.get(str(check_at["href"]), follow=True).content, "html.parser")
    sent = home.fill(form, child=both.child("Mira"))
    found = BeautifulSoup(client.post("/check/", sent, follow=True).content, "html.parser")
    assert sign(found) == "Match"
    feed = found.select_one('a[href^="/care/"].button')
    assert feed is not None
    begin = client.get(str(feed["href"]), follow=True)
    assert begin.status_code == 200
    chosen = BeautifulSoup(begin.content, "html.parser").select_one('input[name="child"][checked]')
    assert chosen is not None and chosen["value"] == "Mira"
    assert client.get(f"/L/{tags.tag_of(home.store)}/NO99").status_code == 404
