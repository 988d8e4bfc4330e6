"""What once told a time too late, or a match too many, of milk that is handed over; each as its rule says it."""

from __future__ import annotations

import io
import re
import tomllib
from pathlib import Path

import pdfplumber
import pytest
from bs4 import BeautifulSoup
from django.test import Client
from tests.check_families import phone, two
from tests.pages import Family, text
from tests.people import childcare, service
from tests.test_calendar import a_home, address
from tests.test_check_matrix import ask, kept

import thawline
from thawline.core.times import DAY, HOUR
from thawline.services import agenda, labels, looking_ahead, tags
from thawline.services import childcare as services
from thawline.services.board import board
from thawline.services.childcare_rules import deadlines
from thawline.services.recording import new_act

OAK, FRIDGE, FREEZER = "Oak room", "Oak room refrigerator", "Oak room freezer"


def at_oak(home: Family, rule: str) -> services.ServiceNow:
    service(home, OAK, rule=rule, place=FRIDGE)
    home.note("place", 24 * 40, place=FREEZER, is_="freezer", temp_c=-18)
    found = services.service(home.store, OAK)
    assert found is not None
    return found


def sheet_text(home: Family) -> str:
    answer = home.phone.get("/print/hand-over/", {"service": OAK})
    with pdfplumber.open(io.BytesIO(answer.content)) as found:
        return " ".join(" ".join((page.extract_text() or "").split()) for page in found.pages)


# The stricter of both rules while it lies there (clocks, rule 11)


def test_label_and_calendar_of_frozen_milk_at_a_service_end_with_its_rule_and_at_home_with_ours(home: Family) -> None:
    # Washington Administrative Code 110-300-0281: 30 days in the freezer from the day received. CDC: months.
    at_oak(home, "us-wa")
    home.note("stocked", 24 * 12, container="TA33", ml=90, place="freezer", expressed="2027-01-02",
              frozen_on="2027-01-02")  # fmt: skip
    home.note("handed_over", 24 * 10, container="TA33", to=OAK, place=FREEZER)
    home.note("received", 24 * 10, container="TA33", place=FREEZER)
    ends = home.now + 20 * DAY
    (label,) = labels.labels(a_home(home), ["TA33"], now=home.now, base="https://x")
    printed = label.dated("use_by")
    assert printed is not None and printed.at == ends
    (due,) = (one for one in agenda.agenda(a_home(home), now=home.now, days=800) if one.container == "TA33")
    assert due.by == ends and not due.may_freeze
    home.note("returned", 0, container="TA33", place="freezer")
    (label,) = labels.labels(a_home(home), ["TA33"], now=home.now, base="https://x")
    own = next(one for one in board(home.store, now=home.now).verdicts if one.container == "TA33")
    printed = label.dated("use_by")
    assert printed is not None and printed.at == own.use_by


def test_milk_at_a_service_has_no_date_to_be_frozen_by(home: Family) -> None:
    at_oak(home, "us-or")
    home.expressed("KA34", 90, 20)
    assert [one.may_freeze for one in agenda.agenda(a_home(home), now=home.now) if one.container == "KA34"] == [True]
    home.note("handed_over", 1, container="KA34", to=OAK, place=FRIDGE)
    assert [one.may_freeze for one in agenda.agenda(a_home(home), now=home.now) if one.container == "KA34"] == [False]


@pytest.mark.parametrize("noted", [True, False])
def test_milk_handed_over_twice_counts_from_the_first_time_whether_or_not_a_receipt_was_noted(
    home: Family, noted: bool
) -> None:
    # Nothing lengthens a deadline (clocks, rule 3); thirty days from receipt: WAC 110-300-0281.
    there = at_oak(home, "us-wa")
    home.note("stocked", 24 * 30, container="TA33", ml=90, place="freezer", expressed="2027-01-01",
              frozen_on="2027-01-01")  # fmt: skip
    home.note("handed_over", 24 * 20, container="TA33", to=OAK, place=FREEZER)
    if noted:
        home.note("received", 24 * 20, container="TA33", place=FREEZER)
    home.note("returned", 24 * 15, container="TA33", place="freezer")
    home.note("handed_over", 24 * 2, container="TA33", to=OAK, place=FREEZER)
    if noted:
        home.note("received", 24 * 2, container="TA33", place=FREEZER)
    (row,) = deadlines(home.store, there, ["TA33"], now=home.now)
    assert row.found.use_by == home.now + 10 * DAY


def test_what_is_left_of_a_feed_on_paper_is_not_timed_from_when_it_was_typed(home: Family) -> None:
    # CDC: what is left of a feed within 2 hours of its end.
    at_oak(home, "us-or")
    home.expressed("KA34", 90, 8)
    home.note("handed_over", 6, container="KA34", to=OAK, place=FRIDGE)
    sent = {"act": new_act(), "service": OAK, "into": "fridge", "code-0": "KA34", "what-0": "fed", "left-0": "30"}
    before = home.store.standing().revision
    assert "write when it was fed" in text(home.send("/hand-over/back/", sent, status=422))
    assert home.store.standing().revision == before
    home.send("/hand-over/back/", {**sent, "clock-0": "10:00"})
    (left,) = board(home.store, now=home.now).verdicts
    assert left.standing == "past" and left.use_by is not None and left.use_by <= home.now - 2 * HOUR


# A match too many


def test_at_childcare_a_label_that_differs_by_case_or_signs_never_means_milk_in_the_window(home: Family) -> None:
    both = two(home)
    there = services.service(home.store, "Kingfisher room")
    assert there is not None
    for at_home, handed in (("fu99", "FU99"), ("A-1", "A1"), ("pe 34", "PE34")):
        for code in (at_home, handed):
            home.expressed(code, 60, 2)
        home.note("handed_over", 0.3, container=handed, to=there.name, place=there.place)
    client = phone(both, "childcare")
    for code in ("fu99", "A-1", "pe 34"):
        for sent in ({"code": code, "coded": code, "tag": tags.tag_of(home.store)}, {"code": both.address(code)}):
            says, where = ask(client, both.child("Mira"), sent)
            assert (says, kept(where)[0][1].container) == ("Stop", None), (code, sent)
    for code in ("FU99", "A1", "PE34"):
        assert ask(client, both.child("Mira"), {"code": both.address(code)})[0] == "Match"


def test_a_child_called_like_two_others_is_neither_of_them(home: Family) -> None:
    # Under a hospital's care the preview itself looks at whose milk it is.
    for name in ("Ana", "Ben", "Ana + Ben"):
        home.note("child", 24 * 300, child=name, born="2026-12-01", care="hospital")
    home.note("expressed", 2, into=[{"container": "KA34", "ml": 60}], place="fridge", for_="Ana + Ben")

    def breached(child: str) -> bool:
        feed = {"id": "f", "at": home.at(), "kind": "feed_began", "container": "KA34", "child": child}
        return bool(looking_ahead.preview(home.store, [feed], now=home.now).breaches)

    assert breached("Ana") and breached("Ben") and not breached("Ana + Ben")


def test_with_the_computers_clock_before_its_newest_record_nothing_matches_or_is_printed(home: Family) -> None:
    both = two(home)
    at_oak(home, "us-or")
    home.expressed("KE77", 60, 40)
    home.expressed("KE79", 60, 40)
    home.note("handed_over", 30, container="KE79", to=OAK, place=FRIDGE)
    url, query = address(home), {"code": "KE77", "stock": "a4-3x8"}
    assert ask(home.phone, both.child("Mira"), {"code": "KE77"})[0] == "Match"
    home.now -= DAY
    says, where = ask(home.phone, both.child("Mira"), {"code": "KE77"})
    assert says == "Stop"
    assert kept(where)[0][1].why == ["clock"]
    assert home.phone.get("/print/labels/", query).status_code == 422
    # A phone keeps the calendar that it has.
    answer = Client().get(url)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "3600")
    assert "do not go by its times" in sheet_text(home)


# What stands beside a time


def test_the_sheet_says_where_milk_has_to_stay_for_its_time_to_hold_and_what_is_estimated(home: Family) -> None:
    at_oak(home, "us-or")
    home.expressed("KA34", 90, 8)
    home.expressed("TA33", 90, 24 * 9, place="freezer")
    home.expressed("TA77", 90, 24 * 9, place="freezer")
    for code, place in (("KA34", FRIDGE), ("TA33", FREEZER), ("TA77", FRIDGE)):
        home.note("handed_over", 2, container=code, to=OAK, place=place)
    page = text(home.see(f"/hand-over/sheet/?service={OAK}"))
    for said in (page, sheet_text(home)):
        assert said.count("if it stays in the refrigerator") == 2
        assert said.count("if it stays frozen") == 1
        assert said.count(", estimated") == 1


# A hospital's care (clocks, rule 10)


def test_under_a_hospitals_care_no_page_or_sheet_of_a_service_tells_a_limit_for_home(home: Family) -> None:
    home.note("child", 24 * 40, child="Mira", born="2026-12-01", care="hospital")
    at_oak(home, "us-or")
    iris = childcare(home, service=service(home, OAK))
    home.expressed("KA34", 90, 8)
    home.expressed("TA33", 90, 24 * 9, place="freezer")
    home.note("handed_over", 2, container="KA34", to=OAK, place=FRIDGE)
    home.note("handed_over", 2, container="TA33", to=OAK, place=FREEZER)
    tag = tags.tag_of(home.store)
    told = [text(BeautifulSoup(iris.get(url).content, "html.parser")) for url in (
        f"/care/{tag}/", f"/care/{tag}/milk/KA34/", f"/care/{tag}/milk/TA33/", f"/care/{tag}/sheet/")]  # fmt: skip
    told += [text(home.see(f"/hand-over/sheet/?service={OAK}")), sheet_text(home)]
    for said in told:
        assert "ollow the care team" in said
        assert not re.search(r"\b\d+ (hours|days|months)\b|[Uu]se by", said), said


# The word


def test_no_text_of_pages_sheets_and_data_calls_milk_safe() -> None:
    """`safest` stands once, of not drinking alcohol; it is no word about milk."""
    root = Path(thawline.__file__).parent
    word = re.compile(r"\bsafe(ly|r|ty)?\b", re.IGNORECASE)
    for path in root.rglob("*.html"):
        says = re.sub(r"\|\s*safe\b", "", path.read_text(encoding="utf-8"))
        assert not word.search(says), path.name
    for path in (root / "faces").rglob("*.py"):
        for line in path.read_text(encoding="utf-8").splitlines():
            if re.search(r"\b_\(|gettext", line):
                assert not word.search(line), (path.name, line)
    for path in root.rglob("*.toml"):
        for says in _says(tomllib.loads(path.read_text(encoding="utf-8"))):
            assert not word.search(says), (path.name, says)


def _says(found: object) -> list[str]:
    if isinstance(found, dict):
        own = [str(found["says"])] if "says" in found else []
        return own + [one for value in found.values() for one in _says(value)]
    return [one for value in found for one in _says(value)] if isinstance(found, list) else []
