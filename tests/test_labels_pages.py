"""The pages of labels, the PDF they lead to, and the same at the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.urls import reverse
from tests.label_sheets import pages, pictures, read_codes
from tests.pages import Family, text
from tests.people import carer, childcare
from tests.people import service as a_service

from thawline.faces.cli.replay import UsageError
from thawline.services import labels as service
from thawline.services.tags import address
from thawline.site import sheet_tasks
from thawline.site.sheet_commands import Asked

BASE = "https://thawline.lan:8600"


def pdf(home: Family, url: str) -> bytes:
    answer = home.phone.get(url)
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf", answer.content[:300]
    return bytes(answer.content)


def told(content: bytes) -> str:
    return " ".join(page.text for page in pages(content)).replace("\u00a0", " ")


def test_the_last_session_is_ticked_at_first(home: Family) -> None:
    home.expressed("FA37", 120, 30)
    home.note("expressed", 2, into=[{"container": "KU94", "ml": 80}, {"container": "HE43", "ml": 90}], place="fridge")
    page = home.see("/labels/")
    ticked = {str(one["value"]) for one in page.select('input[name="code"][checked]')}
    assert ticked == {"KU94", "HE43"}
    everything = home.see("/labels/?pick=all")
    assert len(everything.select('input[name="code"][checked]')) == 3


def test_the_form_leads_to_the_pdf_and_records_nothing(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    before = home.store.standing()
    service.keep(home.store, names={}, address=BASE, stock="")
    page = home.see("/labels/")
    form = page.select_one("form#labels")
    assert form is not None and form["method"] == "get" and form["action"] == reverse("sheets:labels")
    made = pdf(home, f"{form['action']}?code=FA37&stock=a4-70x37&start=1&copies=2")
    assert "FA37" in told(made) and "Sun 7 Feb 2027 11:00" in told(made)
    assert read_codes(pictures(made)[0]) == {address(BASE, home.store, "FA37")}
    assert home.store.standing() == before


def test_labels_lead_to_the_address_the_page_is_read_under(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    made = pdf(home, "/print/labels/?code=FA37&stock=roll-62")
    assert read_codes(pictures(made)[0]) == {address("http://testserver", home.store, "FA37")}


def test_the_same_labels_are_the_same_file(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    assert pdf(home, "/print/labels/?code=FA37") == pdf(home, "/print/labels/?code=FA37")


@pytest.mark.parametrize("query", ["", "code=GONE", "code=FA37&stock=x", "code=FA37&start=0", "code=FA37&start=25",
                                   "code=FA37&copies=99", "code=FA37&copies=-1", "code=FA37&stock=own", "code=%00",
                                   "code=FA37&stock=own&paper=a4&columns=9&rows=9&width=70&height=37"])  # fmt: skip
def test_what_cannot_be_printed_is_told_with_a_way_back(home: Family, query: str) -> None:
    home.expressed("FA37", 120, 3)
    page = home.see(f"/print/labels/?{query}", 422)
    assert "No labels were made" in text(page)
    back = page.select_one("main a.button-main")
    assert back is not None
    home.see(str(back["href"]))


def test_going_back_shows_what_to_mend_at_its_field(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    page = home.see("/labels/?code=FA37&stock=a4-70x37&start=25")
    assert page.select_one("#start[aria-invalid=true]") is not None


def test_blank_labels_fill_the_sheet_from_the_position_on(home: Family) -> None:
    made = pdf(home, "/print/labels/blank/?stock=a4-70x37&start=23")
    assert told(made).count("Expressed") == 2 and "Use by" in told(made)
    assert not read_codes(pictures(made)[0])


def test_the_container_and_the_banner_lead_to_labels(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    page = home.see("/milk/FA37/")
    assert page.select_one('a[href="/labels/?code=FA37"]') is not None
    only = home.see("/labels/?code=FA37")
    assert [one["value"] for one in only.select('input[name="code"][checked]')] == ["FA37"]


def test_full_names_address_and_stock_are_kept(home: Family) -> None:
    page = home.see("/settings/labels/")
    sent = home.fill(page, "/settings/labels/") | {"name-0": "Mira Costa", "address": BASE, "stock": "roll-29"}
    home.send("/settings/labels/", sent)
    kept = service.home_named("x", home.store).preferences
    assert service.full_names(kept) == {"Mira": "Mira Costa"} and service.kept_address(kept) == BASE
    shown = home.see("/labels/")
    assert shown.select_one('#stock option[selected][value="roll-29"]') is not None


@pytest.mark.parametrize(("field", "value"), [("address", "nowhere"), ("name-0", "x" * 200), ("stock", "none"),
                                              ("name-0", "a\0b")])  # fmt: skip
def test_settings_that_will_not_do_are_told_and_not_kept(home: Family, field: str, value: str) -> None:
    page = home.see("/settings/labels/")
    home.send("/settings/labels/", home.fill(page, "/settings/labels/") | {field: value}, 422)
    assert "labels" not in service.home_named("x", home.store).preferences


def test_names_still_wanted_and_an_address_of_this_computer_are_told_calmly(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    a_service(home, rule="us-wa")
    said = text(home.see("/labels/", HTTP_HOST="localhost"))
    assert "wants the child's full name" in said and "opens on this computer alone" in said
    assert "First and last name of the child, and the date received." in said


def test_letters_that_cannot_be_printed_are_told(home: Family) -> None:
    a_service(home, rule="us-or")
    service.keep(home.store, names={"Mira": "ميرا"}, address="", stock="")
    assert "Some letters cannot be printed" in text(home.see("/labels/"))
    assert "cannot be printed" in text(home.see("/settings/labels/"))


def test_a_carer_prints_labels_but_sets_nothing_and_childcare_does_neither(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    helper, staff = carer(home), childcare(home, service=a_service(home))
    assert helper.get("/print/labels/?code=FA37").status_code == 200
    assert helper.get("/settings/labels/").status_code == 403
    for url in ("/labels/", "/print/labels/?code=FA37", "/print/labels/blank/", "/settings/labels/"):
        assert staff.get(url).status_code == 403


# At the command line


def asked(out: Path, **more: object) -> Asked:
    given: dict[str, object] = {"stock": "", "start": 1, "copies": 1, "outline": False, "household": None, "out": out,
                                "force": False, "json": True}  # fmt: skip
    return Asked(**(given | more))  # type: ignore[arg-type]


def test_the_command_prints_what_is_at_hand_and_tells_the_rest(
    home: Family, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home.expressed("FA37", 120, 3)
    out = tmp_path / "labels.pdf"
    assert not sheet_tasks.labels(asked(out, stock="roll-62"), ["FA37", "GONE"], BASE)
    found = json.loads(capsys.readouterr().out)
    assert (found["labels"], found["missing"]) == (1, ["GONE"])
    assert read_codes(pictures(out.read_bytes())[0]) == {address(BASE, home.store, "FA37")}


def test_the_command_takes_own_dimensions_and_refuses_what_cannot_be(home: Family, tmp_path: Path) -> None:
    home.expressed("FA37", 120, 3)
    own = "paper=letter,columns=2,rows=4,width=90,height=60,left=15,top=20"
    assert sheet_tasks.labels(asked(tmp_path / "a.pdf", stock=own), ["FA37"], BASE)
    sheet_tasks.blank(asked(tmp_path / "b.pdf", start=20))
    for number, (stock, address_, codes) in enumerate(
        [("nothing", BASE, ["FA37"]), (own + ",height=600", BASE, ["FA37"]), ("", "", ["FA37"]), ("", BASE, ["GONE"])]
    ):
        with pytest.raises(UsageError):
            sheet_tasks.labels(asked(tmp_path / f"{number}.pdf", stock=stock), codes, address_)
