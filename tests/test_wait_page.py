"""After a drink: until when to wait, what it says beside it, and what storage changes in milk."""

from __future__ import annotations

import re

import pytest
from tests.pages import Family, text

ASK = "/wait/?counted=ca&many=2&weight=70"


def test_it_answers_with_a_clock_time_counted_from_the_first_drink(home: Family) -> None:
    """C45: two Canadian drinks at 70 kg, 4:25; the page's clock is 14:00."""
    said = text(home.see(f"{ASK}&began=12:00&ended=13:00"))
    assert "Until today 16:25" in said and "4 h 25 min after the first drink began" in said
    assert "4 h New Zealand" in said and "Ho and others, 2001" in said


def test_without_a_beginning_it_counts_from_the_last_and_without_an_end_from_now(home: Family) -> None:
    assert "Until today 18:25" in text(home.see(ASK))
    assert "Until today 17:25" in text(home.see(f"{ASK}&ended=13:00"))


def test_a_time_later_than_now_was_yesterday(home: Family) -> None:
    said = text(home.see(f"{ASK}&began=20:00&ended=21:00"))
    assert "The wait is over" in said and "By this guidance since today 00:25" in said


def test_pounds_and_grams_and_no_weight(home: Family) -> None:
    """C42: 160 lb, six drinks of 10 g, 10:00, but two hours for each are longer."""
    assert "12 h after the first" in text(home.see("/wait/?counted=au&many=6&weight=160+lb&began=13:00&ended=14:00"))
    grams = text(home.see("/wait/?counted=grams&many=28"))
    assert "28 g of alcohol" in grams and "counted as 54 kg" in grams


@pytest.mark.parametrize("url", ["/wait/", ASK, f"{ASK}&began=02:00&ended=02:30"])
def test_the_cautions_are_always_there(home: Family, url: str) -> None:
    said = text(home.see(url))
    for words in (
        "Not drinking is the safest",
        "Expressing does not make it go sooner",
        "ask a clinician",
        "care team",
    ):
        assert words in said
    assert not re.search(r"\bsafe\b", said, re.IGNORECASE)


def test_more_than_half_a_gram_for_each_kg_says_so(home: Family) -> None:
    assert "Ask a clinician before the next feed" in text(home.see("/wait/?counted=us&many=4&weight=55"))
    assert "Ask a clinician before the next feed" not in text(home.see("/wait/?counted=us&many=1&weight=55"))


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("many=2", "Choose how it is counted."),
        ("counted=us&many=", "Write how many."),
        ("counted=us&many=two", "is not a number"),
        ("counted=us&many=0", "Write a number up to 15"),
        ("counted=us&many=99", "For more, ask a clinician."),
        ("counted=us&many=1&weight=9", "Write a weight from 35"),
        ("counted=us&many=1&began=late", "Write the time like 21:30."),
        ("counted=us&many=1&began=29:00", "Write the time like 21:30."),
        ("counted=us&many=1&began=13:00&ended=12:00", "The last drink ended before"),
    ],
)
def test_what_is_to_mend_is_said_at_the_field(home: Family, query: str, says: str) -> None:
    page = home.see(f"/wait/?{query}", 422)
    assert says in text(page) and page.select_one(".field-error")


def test_the_more_page_leads_to_both(home: Family) -> None:
    links = {str(one["href"]) for one in home.see("/more/").select("main a")}
    assert {"/wait/", "/storage-changes/"} <= links


def test_where_milk_is_held_back_for_alcohol_it_leads_here(home: Family) -> None:
    home.expressed("KA34", 90, 1)
    assert "/wait/" in [one["href"] for one in home.see("/milk/KA34/hold/").select("main .caution a")]


def test_what_storage_changes_is_told_without_a_warning(home: Family) -> None:
    """PMID 11519987: a third of vitamin C gone after a month frozen."""
    page = home.see("/storage-changes/")
    said = text(page)
    assert "about 67 % of it left" in said and "PMID 11519987" in said and "Energy: about 97 %" in said
    assert not page.select("main section .caution")
