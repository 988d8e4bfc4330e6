"""The page of the kit: what is due and why, one tap to note it, and who may."""

from __future__ import annotations

import re

import pytest
from tests.pages import Family, text
from tests.people import carer, childcare, service

from thawline.core.times import HOUR
from thawline.services import kit


def test_it_says_when_last_when_next_and_by_which_line(home: Family) -> None:
    home.expressed("KA34", 90, 3)
    home.note("cleaned", 20, what="kit", how="sanitised")
    said = text(home.see("/kit/"))
    assert "wash it" in said and "Used since today 11:00" in said
    # Born on 1 December 2026: nine weeks old.
    assert "Under 3 months" in said and "WIC" in said and "Next by: today 18:00" in said
    assert "Current CDC text" in said and "not found in a text" in said


def test_one_tap_notes_it_and_undo_takes_it_back(home: Family) -> None:
    home.expressed("KA34", 90, 3)
    page = home.see("/kit/")
    after = home.send("/kit/done/", home.fill(page, "/kit/done/", does="washed"))
    assert "The kit was washed." in after.get_text() and "Not used since it was washed" in text(after)
    undo = next(form for form in after.select("form") if "/undo/" in str(form.get("action", "")))
    home.send(str(undo["action"]), {str(one["name"]): one.get("value", "") for one in undo.select("input[name]")})
    assert "Used since" in text(home.see("/kit/"))


def test_the_same_form_sent_twice_counts_once(home: Family) -> None:
    sent = home.fill(home.see("/kit/"), "/kit/done/", does="sanitised")
    home.send("/kit/done/", sent)
    home.send("/kit/done/", sent)
    assert len(home.store.history(before=None, limit=9, kinds=("cleaned",))) == 1


def test_earlier_times_are_kept_and_a_time_ahead_has_to_be_mended(home: Family) -> None:
    sent = home.fill(home.see("/kit/"), "/kit/done/", does="basin")
    home.send("/kit/done/", sent | {"when": "120"})
    assert kit.basin(home.store, now=home.now).last_at == home.now - 2 * HOUR
    again = home.fill(home.see("/kit/"), "/kit/done/", does="basin", when="at", when_at="2027-02-05T10:00")
    assert "still ahead" in text(home.send("/kit/done/", again, status=422))


def test_what_can_not_be_done_and_an_old_form_are_told(home: Family) -> None:
    assert "Tap what was done." in text(home.send("/kit/done/", {"does": "boiled"}, status=422))
    assert "too old" in text(home.send("/kit/done/", {"does": "washed"}, status=422))


def test_said_to_be_born_early_it_counts_daily_at_any_age(home: Family) -> None:
    home.note("child", 1, child="Mira", born="2026-02-01", care="home")
    assert "Nothing is due" in text(home.see("/kit/"))
    home.send("/kit/children/", {"child": ["Mira", "nobody"]})
    page = home.see("/kit/")
    assert "Born early, or with a weakened immune system: sanitise" in text(page) and "Cronobacter" in text(page)
    assert page.select_one("input[name=child][checked]") is not None
    home.send("/kit/children/", {})
    assert "Nothing is due" in text(home.see("/kit/"))


def test_in_a_hospitals_care_the_units_word_comes_first(home: Family) -> None:
    home.note("child", 1, child="Mira", born="2026-12-01", care="hospital")
    assert "the unit's word comes first" in text(home.see("/kit/"))


def test_each_step_has_its_source_and_nothing_is_called_by_the_forbidden_word(home: Family) -> None:
    page = home.see("/kit/")
    rows = page.select(".kit-steps > li")
    assert len(rows) >= 15
    sections = [row.find_parent("section") for row in rows]
    for row, section in zip(rows, sections, strict=True):
        assert section is not None and (row.select_one(".source") or section.select_one(".part-source")), row.text
    told = [one.text for one in page.select(".part-source")]
    assert len(told) == 3 and all("US CDC" in one for one in told), "what most steps of a part share is told once"
    assert any("CDC would rather" in row.text and row.select_one(".source") for row in rows), "another mark is beside"
    assert not re.search(r"\bsafe\b", text(page), re.IGNORECASE)


def test_a_carer_sees_and_notes_and_does_not_say_who_was_born_early(home: Family) -> None:
    phone = carer(home)
    page = phone.get("/kit/")
    assert page.status_code == 200 and b"weakened immune system?" not in page.content
    act = re.search(rb'name="act" value="([^"]+)"', page.content)
    assert act is not None
    assert phone.post("/kit/done/", {"does": "washed", "act": act[1].decode()}).status_code == 302
    assert phone.post("/kit/children/", {"child": "Mira"}).status_code == 403
    assert "Amélia" in text(home.see("/history/"))


@pytest.mark.parametrize("path", ["/kit/", "/holding/", "/session/", "/pattern/"])
def test_childcare_has_no_door_here(home: Family, path: str) -> None:
    assert childcare(home, service=service(home)).get(path).status_code == 403


@pytest.mark.parametrize(
    ("path", "status"), [("/kit/", 200), ("/holding/", 200), ("/session/", 403), ("/pattern/", 403)]
)
def test_a_carer_has_the_kit_and_what_is_held_back_alone(home: Family, path: str, status: int) -> None:
    assert carer(home).get(path).status_code == status


def test_history_tells_of_it_and_a_correction_keeps_what_was_done(home: Family) -> None:
    name = home.note("cleaned", 2, what="kit", how="washed")
    assert "The kit was washed." in text(home.see("/history/?kind=kit"))
    assert "The kit was washed." not in text(home.see("/history/?kind=fed"))
    path = f"/history/{name}/correct/"
    page = home.see(path)
    assert "basin and brush" in text(page) and "sanitised" in text(page)
    seen = home.send(str(page.select_one("main form[method=post]")["action"]), home.fill(page, how="sanitised"))  # type: ignore[index]
    home.send(str(seen.select_one("main form[method=post]")["action"]), home.fill(seen) | {"sure": "yes"})  # type: ignore[index]
    assert kit.sanitising(home.store, now=home.now).last_at == home.now - 2 * HOUR
