"""Milk handed over: what would not be accepted is shown first; the sheet for the day; what came back."""

from __future__ import annotations

import io
from typing import Any
from urllib.parse import urlencode

import pdfplumber
import pypdfium2
import pytest
import zxingcpp
from bs4 import BeautifulSoup
from tests.pages import Family, text
from tests.people import childcare, service

from thawline.core import events as ev
from thawline.core.times import HOUR
from thawline.services import childcare as services
from thawline.services import labels, recording, tags
from thawline.services.board import board
from thawline.services.childcare_rules import deadlines
from thawline.services.recording import new_act

OAK = "Oak room"


def over(home: Family, *codes: str, **more: Any) -> BeautifulSoup:
    """Hand over, past the page that looks ahead."""
    sent = {"act": new_act(), "service": OAK, "code": list(codes), "when": "now", **more}
    return home.send("/hand-over/", sent)


def look(home: Family, *codes: str) -> str:
    query = urlencode([("service", OAK), ("look", "1"), *(("code", code) for code in codes)])
    return text(home.see(f"/hand-over/?{query}"))


def standing(home: Family) -> list[str]:
    return sorted(services.in_window(home.store, OAK, now=home.now))


def named(home: Family) -> None:
    labels.keep(home.store, names={"Mira": "Mira Duarte Sol"}, address="", stock="")


def pdf_of(home: Family, **query: str) -> str:
    answer = home.phone.get("/print/hand-over/", {"service": OAK, **query})
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(answer.content)) as found:
        for page in found.pages:
            for char in page.chars:
                assert char["x0"] >= 0
                assert char["x1"] <= page.width
                assert char["top"] >= 0
                assert char["bottom"] <= page.height
        return " ".join(" ".join((page.extract_text() or "").split()) for page in found.pages)


def test_without_a_service_the_page_says_how_to_add_one(home: Family) -> None:
    assert "Add a service" in text(home.see("/hand-over/"))
    assert "Add a service" in text(home.see("/hand-over/back/"))


def test_what_is_packed_in_the_cooler_is_ticked_already(home: Family) -> None:
    service(home, OAK)
    home.expressed("KA33", 80, 5)
    home.expressed("KA34", 80, 4)
    home.note("moved", 0.5, container="KA33", to="cooler bag")
    ticked = home.see("/hand-over/").select("input[name=code][checked]")
    assert [one["value"] for one in ticked] == ["KA33"]


@pytest.mark.parametrize("rule", ["us-or", "us-wa"])
def test_check_case_88_a_bottle_without_the_childs_full_name_is_not_accepted(home: Family, rule: str) -> None:
    # Oregon Administrative Rule 414-305-0610; Washington Administrative Code 110-300-0281: full name on the label.
    service(home, OAK, rule=rule)
    home.expressed("KA33", 80, 5)
    said = look(home, "KA33")
    assert "Would not be accepted" in said
    assert "full name" in said
    assert standing(home) == []
    named(home)
    said = look(home, "KA33")
    assert "Would not be accepted" not in said
    assert "Within both rules" in said


def test_a_first_name_will_do_where_the_rule_wants_no_more(home: Family) -> None:
    # Tasmania, breast milk handling practices: the child's name and the date to be used.
    service(home, OAK, rule="au-tas")
    home.expressed("KA33", 80, 5)
    assert "Would not be accepted" not in look(home, "KA33")


def test_the_stricter_rule_gives_the_time_that_is_shown_before_handing_over(home: Family) -> None:
    # CDC: 4 days in the refrigerator; Tasmania: 72 hours from expression.
    service(home, OAK, rule="au-tas")
    home.expressed("KA33", 80, 60)
    home.expressed("KA34", 80, 73)
    said = look(home, "KA33", "KA34")
    assert "Thu 4 Feb" not in said
    assert "tomorrow 02:00" in said
    assert "by Tasmania childcare guide" in said
    assert "Would not be accepted" in said


def test_what_ends_before_closing_is_said(home: Family) -> None:
    service(home, OAK, rule="au-tas", closes="17:30")
    home.expressed("KA33", 80, 70)  # ends at 16:00
    assert "before the service closes" in look(home, "KA33")


def test_frozen_milk_without_a_freezer_there_thaws(home: Family) -> None:
    service(home, OAK)
    home.note("stocked", 100, container="TA33", ml=90, place="freezer", expressed="2027-01-05", frozen_on="2027-01-05")
    assert "thaws in a refrigerator" in look(home, "TA33")


def test_milk_held_back_or_for_a_child_nobody_named_is_not_accepted(home: Family) -> None:
    service(home, OAK, rule="au-tas")
    home.note("child", 9000, child="Noa", born="2026-12-01", care="home")
    home.expressed("KA33", 80, 5)
    home.note("expressed", 5, into=[{"container": "KA34", "ml": 60}], place="fridge", for_="Noa")
    home.note("held", 1, container="KA34", why="medicine")
    said = look(home, "KA33", "KA34")
    assert "not noted which child" in said
    assert "held back" in said
    assert "Within both rules" not in said


def test_handing_over_is_one_act_that_can_be_undone(home: Family) -> None:
    there = service(home, OAK)
    named(home)
    home.expressed("KA33", 80, 5)
    home.expressed("KA34", 80, 4)
    page = over(home, "KA33", "KA34")
    assert standing(home) == ["KA33", "KA34"]
    assert "Milk for Oak room" in text(page)
    rows = home.store.history(before=None, limit=10, kinds=("handed_over", "received"))
    assert {row.kind for row in rows} == {"handed_over", "received"}
    event: Any = next(ev.decoder.decode(row.line) for row in rows if row.kind == "handed_over")
    assert (event.to, event.place, event.by) == (OAK, there.place, "Marta")
    form = page.select_one("section.undo form")
    assert form is not None
    home.send(str(form["action"]), {"act": new_act()})
    assert standing(home) == []


def test_where_staff_sign_in_they_note_themselves_that_it_was_received(home: Family) -> None:
    childcare(home, "Iris", service=service(home, OAK))
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    assert standing(home) == ["KA33"]
    assert home.store.history(before=None, limit=10, kinds=("received",)) == []


def test_nothing_ticked_or_gone_is_said_and_nothing_recorded(home: Family) -> None:
    service(home, OAK)
    home.expressed("KA33", 80, 5)
    home.note("discarded", 1, container="KA33")
    before = home.store.standing().revision
    assert home.phone.post("/hand-over/", {"act": new_act(), "service": OAK}).status_code == 422
    assert home.phone.post("/hand-over/", {"act": new_act(), "service": OAK, "code": "KA33"}).status_code == 422
    assert home.phone.post("/hand-over/", {"act": new_act(), "service": OAK, "code": "none"}).status_code == 404
    assert home.phone.post("/hand-over/", {"act": new_act(), "service": "none"}).status_code == 404
    assert home.store.standing().revision == before


@pytest.mark.parametrize(
    ("rule", "says"),
    [
        # Check cases 90 and 93: Washington Administrative Code 110-300-0281.
        ("us-wa", "goes home today, or is marked “do not use”"),
        ("us-wa", "Thawed milk not served within 24 hours is marked \"do not use\" and goes home."),
        # Oregon Administrative Rule 414-305-0610.
        ("us-or", "goes home today, in its container"),
        # Check case 91: Australian Government, Get Up & Grow.
        ("au-tas", "Milk that was not fed today is thrown away"),
        ("", "ask the service for its rule"),
    ],
)  # fmt: skip
def test_the_sheet_says_what_becomes_of_milk_that_was_not_fed(home: Family, rule: str, says: str) -> None:
    service(home, OAK, rule=rule, calls="Marta 0100 200")
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    page = text(home.see(f"/hand-over/sheet/?service={OAK}"))
    assert says in page
    assert " ".join(says.split()) in pdf_of(home)


@pytest.mark.parametrize("rule", ["us-or", "us-wa", "au-tas", ""])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_sheet_and_pdf_say_the_same_and_their_times_are_the_cores(home: Family, rule: str, paper: str) -> None:
    there = service(home, OAK, rule=rule, calls="Marta 0100 200", closes="17:30")
    named(home)
    services.give_freezer(home.store, services.services(home.store)[0], by="Marta", now=home.now)
    home.expressed("KA33", 85, 30)
    home.expressed("KA34", 70, 10)
    home.note("stocked", 100, container="TA33", ml=90, place="freezer", expressed="2026-12-20", frozen_on="2026-12-20")
    over(home, "KA33", "KA34", "TA33", sure="yes")
    page, sheet = text(home.see(f"/hand-over/sheet/?service={OAK}")), pdf_of(home, paper=paper)
    found = services.services(home.store)[0]
    rows = deadlines(home.store, found, standing(home), now=home.now)
    assert [row.found.container for row in rows] == sorted(standing(home), key=page.index)
    for row in rows:
        assert row.found.use_by is not None
        assert row.own.use_by is not None
        assert row.found.use_by <= row.own.use_by
        clock = home.at((home.now - row.found.use_by) / HOUR)[11:16]
        day = int(home.at((home.now - row.found.use_by) / HOUR)[8:10])
        for said in (page, sheet):
            if clock == "00:00":
                assert "end of" in said
            else:
                assert any(f"{day} {month} {clock}" in said for month in ("Feb", "Mar", "Jun", "Aug")), (said, row)
    for said in (page, sheet):
        for words in ("KA33", "85 mL", "Marta 0100 200", "closes 17:30", "Use by", "Oak room", "CDC",
                      "Never in a microwave", "Stay calm"):  # fmt: skip
            assert words in said, words
        assert ("Mira Duarte Sol" if rule.startswith("us") else "Mira") in said
        assert "safe" not in said.lower().replace("safe handling", "")
    assert there.name in sheet


@pytest.mark.slow
def test_a_sheet_with_the_longest_names_and_many_containers_stays_on_its_pages(home: Family) -> None:
    long = ("Wilhelmina-Anastasia " * 4)[:78].strip()
    service(home, OAK, rule="us-or", calls="Anna Maria Wilhelmina Konstantina " * 5)
    labels.keep(home.store, names={"Mira": f"{long} Größenwahn-Ångström"[:120]}, address="", stock="")
    codes = ["W" * 200, "KA33/ä", *(f"MM{n:02d}" for n in range(30))]
    for code in codes:
        home.note("expressed", 5, into=[{"container": code, "ml": 4999.5}], place="fridge")
    over(home, *codes)
    said = pdf_of(home)
    assert "MM29" in said
    assert "Größenwahn-Ångström" in said


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_qr_code_on_the_sheet_decodes_at_203_dpi_and_leads_to_its_container(home: Family, paper: str) -> None:
    # 203 dpi: a usual thermal printer (common practice, no source). Read by another library than the one that drew it.
    service(home, OAK)
    codes = ["KA33", "KA34", "ä/1", "MM44"]
    for code in codes:
        home.note("expressed", 5, into=[{"container": code, "ml": 80}], place="fridge")
    over(home, *codes)
    content = home.phone.get("/print/hand-over/", {"service": OAK, "paper": paper}).content
    found = []
    for page in pypdfium2.PdfDocument(content):
        found += [one.text for one in zxingcpp.read_barcodes(page.render(scale=203 / 72).to_pil())]
    reads = [tags.read(text) for text in found]
    assert sorted(read.code for read in reads if read is not None) == sorted(codes)
    assert {read.tag for read in reads if read is not None} == {tags.tag_of(home.store)}


def test_unused_milk_comes_back_with_one_tap_and_keeps_its_past(home: Family) -> None:
    service(home, OAK)
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    home.hours(3)
    page = home.see(f"/hand-over/back/?service={OAK}")
    sent = {str(one["name"]): one.get("value", "") for one in page.select(".line .steps form input[name]")}
    assert sent.pop("one") == "KA33"
    home.send("/hand-over/back/", {**sent, "one": "KA33", "to": "fridge"})
    assert standing(home) == []
    back = next(one for one in board(home.store, now=home.now).verdicts if one.container == "KA33")
    assert back.place == "fridge"
    # CDC: 4 days in the refrigerator, from expression.
    assert back.use_by == home.now + (96 - 8) * HOUR


def test_what_the_paper_says_is_typed_for_each_container(home: Family) -> None:
    service(home, OAK)
    for code in ("KA33", "KA34", "KA37", "KA39"):
        home.expressed(code, 80, 5)
    over(home, "KA33", "KA34", "KA37", "KA39")
    home.hours(3)
    sent = {"act": new_act(), "service": OAK, "into": "fridge"}
    for n, (code, what) in enumerate((("KA33", "fed"), ("KA34", "back"), ("KA37", "gone"), ("KA39", ""))):
        sent |= {f"code-{n}": code, f"what-{n}": what}
    page = home.send("/hand-over/back/", {**sent, "left-0": "15", "clock-0": "15:40"})
    assert standing(home) == ["KA33", "KA39"]
    said = text(page)
    assert "15:40 KA33 fed 65 mL, left 15 mL" in said
    assert "thrown away 80 mL" in said
    left = next(one for one in board(home.store, now=home.now).verdicts if one.container == "KA33")
    assert left.ml == 15


@pytest.mark.parametrize(
    ("more", "says"),
    [({"what-0": "fed", "left-0": "many"}, "not a number"), ({"what-0": "fed", "clock-0": "23:59"}, "has passed"),
     ({"what-0": "", "left-0": "5"}, "choose what became of it"), ({"what-0": "back", "into": "x"}, "Choose where"),
     ({"what-0": "fed", "left-0": "900", "clock-0": "14:00"}, "900"),
     ({"what-0": "fed", "left-0": "20"}, "write when it was fed")],
)  # fmt: skip
def test_what_cannot_be_is_said_and_nothing_is_recorded(home: Family, more: dict[str, str], says: str) -> None:
    service(home, OAK)
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    before = home.store.standing().revision
    sent = {"act": new_act(), "service": OAK, "into": "fridge", "code-0": "KA33", **more}
    assert says in text(home.send("/hand-over/back/", sent, status=422))
    assert home.store.standing().revision == before


def test_milk_that_staff_gave_back_is_asked_about(home: Family) -> None:
    childcare(home, "Iris", service=service(home, OAK))
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    event = {"id": "x.0", "at": home.at(), "kind": "returned", "container": "KA33", "place": "cooler bag", "by": "Iris"}
    recording.record(home.store, [recording.line_of(event)], now=home.now)
    home.hours(0.1)
    page = home.see(f"/hand-over/back/?service={OAK}")
    assert "where is it now?" in text(page)
    home.send("/hand-over/back/", {"act": new_act(), "service": OAK, "put": "KA33", "to": "fridge"})
    found = next(one for one in board(home.store, now=home.now).verdicts if one.container == "KA33")
    assert found.place == "fridge"


def test_services_are_added_described_and_taken_off(home: Family) -> None:
    home.send("/settings/service/", {"service": "Fern room", "rule": "us-wa", "temp": "3.5", "closes": "18:00",
                                     "calls": "Rui 0100", "freezer": "yes"})  # fmt: skip
    (fern,) = services.services(home.store)
    assert (fern.name, fern.rule, fern.closes, fern.calls) == ("Fern room", "us-wa", "18:00", "Rui 0100")
    assert services.has_freezer(home.store, fern, now=home.now)
    page = home.see("/settings/service/?name=Fern+room")
    assert "3.5" in str(page.select_one("#temp"))
    home.send("/settings/service/", {"name": "Fern room", "rule": "", "temp": "5", "closes": "", "calls": ""})
    (fern,) = services.services(home.store)
    assert (fern.rule, services.temperature(home.store, fern, now=home.now)) == ("", 5)
    home.send("/settings/service/", {"service": "Fern room"}, status=422)
    home.send("/settings/service/", {"service": "Reed", "temp": "hot"}, status=422)
    home.send("/settings/service/", {"name": "Fern room", "take_off": "yes"})
    assert services.services(home.store)
    home.send("/settings/service/", {"name": "Fern room", "take_off": "yes", "sure": "yes"})
    assert services.services(home.store) == []
    assert home.phone.get("/settings/service/?name=Fern+room").status_code == 404


def test_warmed_milk_is_called_warmed_where_it_is_ticked_to_be_handed_over(home: Family) -> None:
    service(home, OAK)
    home.expressed("KA34", 90, 2)
    home.note("warmed", 0.1, container="KA34", how="warm_water")
    line = home.see(f"/hand-over/?{urlencode({'service': OAK})}").select_one("label.pick:has(input[value=KA34])")
    assert line is not None
    assert "warmed, " in " ".join(line.get_text(" ").split())


def test_what_would_not_be_accepted_can_be_left_out_with_one_tap(home: Family) -> None:
    service(home, OAK, rule="us-or")
    named(home)
    home.expressed("KA33", 80, 5)
    home.expressed("KA34", 80, 24 * 6)
    url = f"/hand-over/?{urlencode([('service', OAK), ('look', '1'), ('code', 'KA33'), ('code', 'KA34')])}"
    button = home.see(url).select_one("button[name=only]")
    assert button is not None and "Hand over the other one" in button.text
    over(home, "KA33", "KA34", only=button["value"])
    assert standing(home) == ["KA33"]


def test_where_a_rule_wants_it_colder_than_is_noted_both_temperatures_are_told(home: Family) -> None:
    # Washington Administrative Code 110-300-0281: 39 °F (3.9 °C); the service's refrigerator is noted at 4 °C.
    service(home, OAK, rule="us-wa")
    named(home)
    home.note("expressed", 24 * 20, into=[{"container": "KA33", "ml": 80}], place="counter")
    home.note("moved", 24 * 20 - 0.2, container="KA33", to="freezer")
    said = look(home, "KA33")
    assert "4 °C" in said and "Washington childcare rule asks for 3.9 °C or colder" in said, said
    assert "full name" not in said


def test_the_full_name_is_asked_for_only_where_it_is_missing(home: Family) -> None:
    service(home, OAK, rule="us-or")
    named(home)
    home.expressed("KA34", 80, 24 * 6)
    assert "Write the child's full name" not in look(home, "KA34")


def test_twins_milk_says_for_whom_it_is_where_it_is_ticked(home: Family) -> None:
    service(home, OAK)
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="home")
    home.note("expressed", 3, into=[{"container": "AN39", "ml": 60}], place="counter", for_="Ana")
    assert "for Ana" in text(home.see("/hand-over/"))


def test_now_counts_milk_at_a_service_apart_and_says_so_where_nothing_is_at_home(home: Family) -> None:
    there = service(home, OAK)
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    said = text(home.see("/"))
    assert "At home nothing that is within its limits is ready to feed" in said
    assert f"At {OAK}" in said and there.place not in said


def test_what_is_still_there_stands_under_the_stricter_rule(home: Family) -> None:
    # Tasmania: 72 hours from expression; US CDC: 4 days. Expressed Wed 3 Feb 09:00, so until Sat 6 Feb 09:00.
    service(home, OAK, rule="au-tas")
    home.expressed("KA33", 80, 5)
    over(home, "KA33")
    said = text(home.see(f"/hand-over/back/?service={OAK.replace(' ', '+')}"))
    assert "Use by Sat 6 Feb 09:00" in said, said
