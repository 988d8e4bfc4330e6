"""The window of a childcare service, as its staff see it: what was handed over, what they note, and nothing else."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import Any

import pdfplumber
import pytest
from bs4 import BeautifulSoup
from django.contrib.auth import get_user_model
from django.test import Client
from tests.pages import Family, text
from tests.people import childcare, service

from thawline.core import events as ev
from thawline.faces.web.views.care_verbs import VERBS
from thawline.records.accounts.models import Member, Service
from thawline.services import childcare as services
from thawline.services import labels, people, recording, tags
from thawline.services.board import board
from thawline.services.known import forget
from thawline.services.recording import new_act

OAK = "Oak room"


@dataclass
class Staff:
    """Someone who works at a service, with their phone."""

    home: Family
    phone: Client
    tag: str

    def url(self, *parts: str) -> str:
        return "/".join(["/care", self.tag, *parts, ""])

    def see(self, url: str, status: int = 200) -> BeautifulSoup:
        answer = self.phone.get(url, follow=True)
        assert answer.status_code == status, (url, answer.status_code, answer.content[-800:])
        return BeautifulSoup(answer.content, "html.parser")

    def do(self, verb: str, code: str = "", status: int = 200, **fields: Any) -> BeautifulSoup:
        """A form filled in and sent; `sure` where a question is to be answered."""
        sent = {"act": new_act(), "code": code, "when": "now", **fields}
        answer = self.phone.post(self.url("do", verb), sent, follow=True)
        assert answer.status_code == status, (verb, answer.status_code, answer.content[-800:])
        return BeautifulSoup(answer.content, "html.parser")

    def latest(self) -> Any:
        """The event that was recorded last."""
        rows = self.home.store.rows([row.event_id for row in self.home.store.history(before=None, limit=400)])
        return ev.decoder.decode(max(rows.values(), key=lambda row: row.revision).line)


def pdf_text(content: bytes) -> str:
    """What a PDF says."""
    with pdfplumber.open(io.BytesIO(content)) as found:
        return " ".join(page.extract_text() or "" for page in found.pages)


@pytest.fixture
def staff(home: Family) -> Staff:
    """Iris works at the Oak room, in Oregon; two bottles were handed to it, one stayed at home."""
    there = service(home, OAK, rule="us-or", closes="17:30", calls="Marta 0100 200")
    phone = childcare(home, "Iris", service=there)
    for code, ml, hours in (("KA33", 90, 20), ("KA34", 70, 10), ("RA77", 110, 5)):
        home.expressed(code, ml, hours)
    for code in ("KA33", "KA34"):
        home.note("handed_over", 5, container=code, to=OAK, place=there.place)
    return Staff(home, phone, tags.tag_of(home.store))


def test_staff_see_what_was_handed_to_them_the_most_urgent_first(staff: Staff) -> None:
    said = text(staff.see("/care/"))
    assert "RA77" not in said
    assert said.index("KA33") < said.index("KA34")
    assert "Marta 0100 200" in said
    assert "Use by" in said


def test_every_page_of_the_window_opens(staff: Staff) -> None:
    for url in ("/care/", staff.url(), staff.url("day"), "/care/day/", staff.url("sheet"), staff.url("milk", "KA33"),
                staff.url("do", "measured"), staff.url("milk") + "?code=KA34"):  # fmt: skip
        page = staff.see(url)
        assert not re.search(r"\bsafe\b", text(page), re.IGNORECASE)
    for verb in ("arrived", "warm", "began", "ended", "discard", "back", "count", "ice"):
        staff.see(f"{staff.url('do', verb)}?code=KA33")


def test_the_first_page_leads_staff_to_their_window(staff: Staff) -> None:
    assert staff.phone.get("/")["Location"] == "/care/"


@pytest.mark.parametrize("code", ["RA77", "none such", "-", "..", "\0"])
def test_outside_the_window_nothing_is_found_though_the_code_exists(staff: Staff, code: str) -> None:
    for url in (f"{staff.url('milk')}?code=", f"{staff.url('do', 'warm')}?code="):
        assert staff.phone.get(url + code.replace("\0", "%00"), follow=True).status_code == 404
    staff.do("warm", code, status=404, how="warm_water")


def test_what_staff_note_stands_in_the_ledger_under_their_name(staff: Staff) -> None:
    place = f"fridge at {OAK}"
    staff.do("arrived", "KA33", to=place)
    assert (staff.latest().place, staff.latest().by) == (place, "Iris")
    staff.do("warm", "KA33", how="warm_water")
    assert staff.latest().how == "warm_water"
    staff.do("began", "KA33", child="Mira")
    assert (staff.latest().child, staff.latest().by) == ("Mira", "Iris")
    staff.home.hours(0.3)
    staff.do("ended", "KA33", left="20")
    assert staff.latest().left_ml == 20
    staff.do("discard", "KA33", why="left over")
    assert staff.latest().why == "left over"
    staff.do("measured", place=place, temp="3.5")
    assert staff.latest().temp_c == 3.5
    said = text(staff.see("/care/day/"))
    for words in ("received, into the refrigerator", "warmed", "began to drink", "fed 70 mL, left 20 mL", "3.5 °C",
                  "thrown away 20 mL (left over)", "Iris"):  # fmt: skip
        assert words in said, (words, said)


def test_a_feed_asks_which_child_also_where_there_is_one_only(staff: Staff) -> None:
    said = text(staff.do("began", "KA34", status=422))
    assert "Choose which child drinks" in said
    said = text(staff.do("began", "KA34", status=422, child="-"))
    assert "Stop" in said
    assert board(staff.home.store, now=staff.home.now).feeding == frozenset()


def test_another_childs_milk_is_stopped_in_the_plain_form_too(staff: Staff) -> None:
    # Oregon Administrative Rule 414-305-0610: only for the child named on it.
    home = staff.home
    home.note("child", 9000, child="Noa", born="2026-12-01", care="home")
    for code, child in (("TA44", "Noa"), ("TA47", "Mira")):
        home.note("expressed", 8, into=[{"container": code, "ml": 60}], place="fridge", for_=child)
        home.note("handed_over", 5, container=code, to=OAK, place=f"fridge at {OAK}")
    before = staff.home.store.standing().revision
    page = staff.do("began", "TA44", child="Mira")
    assert "only for the child named on it" in text(page)
    assert staff.home.store.standing().revision == before


def test_milk_warmed_once_is_not_warmed_again_under_the_services_rule(staff: Staff) -> None:
    # Oregon: milk is warmed once only; the family's own guideline (CDC) has no such line.
    staff.do("warm", "KA34", how="warm_water")
    page = staff.do("warm", "KA34", how="warm_water")
    assert "Milk is warmed once only." in text(page)


def test_staff_take_back_their_own_acts_and_no_others(staff: Staff) -> None:
    parents = staff.home.store.history(before=None, limit=1, kinds=("handed_over",))[0].event_id
    sent = new_act()
    staff.phone.post(staff.url("do", "discard"), {"act": sent, "code": "KA34", "why": "spilled", "when": "now"})
    assert "KA34" not in text(staff.see(staff.url()))
    page = staff.see(f"{staff.url()}?done={sent}")
    form = page.select_one("section.undo form")
    assert form is not None
    assert staff.phone.post(str(form["action"]), {"act": new_act()}, follow=True).status_code == 200
    assert "KA34" in text(staff.see(staff.url()))
    for act in (parents, parents.partition(".")[0], "x"):
        assert staff.phone.post(staff.url("undo", act), {"act": new_act()}).status_code == 404


def test_a_form_sent_twice_counts_once_though_the_milk_has_left_the_window(staff: Staff) -> None:
    sent = {"act": new_act(), "code": "KA34", "why": "spilled", "when": "now"}
    for _ in range(2):
        assert staff.phone.post(staff.url("do", "discard"), sent, follow=True).status_code == 200
    assert len(staff.home.store.act(sent["act"])) == 1


def test_milk_given_back_counts_as_lying_warm_unless_it_goes_in_a_cooler(staff: Staff) -> None:
    staff.do("back", "KA33", how="cold")
    assert (staff.latest().place, type(staff.latest())) == ("cooler bag", ev.Returned)
    staff.do("back", "KA34", how="open")
    assert staff.latest().place == "counter"
    assert "KA33" not in text(staff.see(staff.url()))


def test_nobody_without_a_window_opens_it(staff: Staff, client: Client) -> None:
    for url in ("/care/", staff.url(), staff.url("sheet"), staff.url("day")):
        assert staff.home.phone.get(url).status_code == 403
        assert client.get(url).status_code in (302, 403)
    other = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    assert staff.phone.get(f"/care/{tags.tag_of(other)}/").status_code == 404
    assert staff.phone.get("/care/AAAAAAAA/").status_code == 404


def test_a_service_that_was_taken_off_sees_nothing(staff: Staff) -> None:
    services.take_off(staff.home.store, OAK)
    for url in (staff.url(), "/care/"):
        assert "/sign-in/" in staff.phone.get(url)["Location"]


def test_milk_on_its_way_may_only_be_noted_as_arrived(staff: Staff) -> None:
    staff.home.note("handed_over", 1, container="RA77", to=OAK)
    assert "has it arrived?" in text(staff.see(staff.url()))
    staff.see(staff.url("milk", "RA77"))
    staff.do("warm", "RA77", status=404, how="warm_water")
    staff.do("arrived", "RA77", to=f"fridge at {OAK}")
    assert "RA77" in text(staff.see(staff.url()))


def _markers(staff: Staff) -> None:
    """Things of the household that are none of a service's business, each with a word to look for."""
    home = staff.home
    home.note("place", 90, place="zzplace", is_="refrigerator", temp_c=4)
    home.note("place", 90, place="zzbag", is_="cooler", temp_c=4)
    home.note("child", 90, child="Zzchild", born="2026-12-01", care="hospital")
    people.add_person(home.store, "Zzperson")
    home.note("expressed", 9, into=[{"container": "ZZSTOCK", "ml": 77}], place="zzplace", for_="Zzchild")
    for code in ("ZZELM", "KE33", "KE34"):
        home.note("expressed", 9, into=[{"container": code, "ml": 66}], place="counter", for_="Mira", by="Zzperson")
        home.note("moved", 8.9, container=code, to="zzplace", by="Zzperson")
    home.note("held", 8.8, container="KE33", why="medicine", by="Zzperson")
    home.note("nursed", 3, child="Mira", by="Zzperson")
    home.note("discarded", 4, container="ZZSTOCK", ml=1, why="zzwhy")
    elm = service(home, "Zzelm room", rule="us-wa", calls="zzcalls")
    home.note("handed_over", 5, container="ZZELM", to="Zzelm room", place=elm.place)
    for code in ("KE33", "KE34"):
        home.note("handed_over", 5, container=code, to=OAK, place=f"fridge at {OAK}")
    labels.keep(home.store, names={"Mira": "Mira Duarte", "Zzchild": "Zzfull"}, address="", stock="zzlabels")


@pytest.mark.slow
def test_nothing_else_of_the_household_stands_in_any_page_of_the_window(staff: Staff) -> None:
    _markers(staff)
    mine = new_act()
    answers = []
    sent = [
        ("arrived", {"code": "KE34", "to": f"fridge at {OAK}"}), ("warm", {"code": "KE34", "how": "microwave"}),
        ("began", {"code": "KE34", "child": "Mira"}), ("ended", {"code": "KE34", "left": "999"}),
        ("back", {"code": "KA34", "how": "cold"}), ("to", {"code": "KE34", "to": "zzplace"}),
        ("measured", {"place": "zzplace", "temp": "4"}), ("discard", {"code": "KE34", "why": "spilled"}),
        ("warm", {"code": "ZZELM", "how": "warm_water"}),
    ]  # fmt: skip
    for number, (verb, fields) in enumerate(sent):
        act = mine if number == 4 else new_act()
        answers.append(staff.phone.post(staff.url("do", verb), {"act": act, "when": "now", **fields}, follow=True))
    theirs = staff.home.store.history(before=None, limit=1, kinds=("nursed",))[0].event_id
    urls = [
        "/care/", "/care/day/", staff.url(), staff.url("day"), staff.url("sheet"), f"/print/care/{staff.tag}/",
        f"{staff.url()}?done={mine}", f"{staff.url()}?done={theirs}", staff.url("do", "measured"),
        f"{staff.url('day')}?day=2027-02-02",
    ]  # fmt: skip
    for code in ("KA33", "KE33", "ZZELM", "ZZSTOCK"):
        urls += [staff.url("milk", code)]
        urls += [f"{staff.url('do', verb)}?code={code}" for verb in VERBS]
    answers += [staff.phone.get(url, follow=True) for url in urls]
    assert {answer.status_code for answer in answers} <= {200, 404, 422}
    for answer in answers:
        body = pdf_text(answer.content) if answer["Content-Type"] == "application/pdf" else answer.content.decode()
        body = re.sub(r'(csrfmiddlewaretoken" value|CSRFToken": )"?=?"\w{64}', "", body)
        # What somebody types into an address is given back as typed.
        body = re.sub(r"ZZ(ELM|STOCK)", "", body) if answer.status_code == 404 else body
        found = re.findall(r".{30}zz.{20}|medicine", body, re.IGNORECASE)
        assert not found, (answer.request["PATH_INFO"], found)


@pytest.mark.slow
def test_no_page_of_the_window_links_to_a_page_that_staff_may_not_open(staff: Staff) -> None:
    seen: set[str] = set()
    waiting = ["/care/"]
    while waiting:
        url = waiting.pop()
        seen.add(url)
        answer = staff.phone.get(url, follow=True)
        assert answer.status_code == 200, url
        if not answer["Content-Type"].startswith("text/html") or not url.startswith("/care/"):
            continue
        page = BeautifulSoup(answer.content, "html.parser")
        links = {str(one["href"]) for one in page.select("a[href]")}
        waiting += [link for link in links if link.startswith("/") and link not in seen and link not in waiting]
    assert len(seen) > 15


def test_another_familys_milk_stands_beside_and_never_within(staff: Staff) -> None:
    # Someone who serves two families sees both, and of neither what the other keeps.
    other = people.begin(household="Next door", name="Olga", username="olga", password="fern-copper-window")
    forget(other)
    lines: list[dict[str, Any]] = [
        {"kind": "household", "zone": "Europe/Lisbon"}, {"kind": "place", "place": "fridge", "is": "refrigerator"},
        {"kind": "child", "child": "Ulla", "born": "2026-12-01", "care": "home"},
        {"kind": "expressed", "into": [{"container": "WE99", "ml": 60}], "place": "fridge"},
    ]  # fmt: skip
    there = services.add(other, OAK, by="Olga", now=staff.home.now - 40 * 3_600_000_000, rule="us-or")
    lines.append({"kind": "handed_over", "container": "WE99", "to": OAK, "place": there.place})
    events = [{"id": f"o{n}", "at": staff.home.at(9 - n), **line} for n, line in enumerate(lines)]
    assert not recording.record(other, [recording.line_of(one) for one in events], now=staff.home.now).refused
    row = Service.objects.get(household=other.id, name=OAK)
    user = get_user_model().objects.get(username="iris")
    Member.objects.create(household_id=other.id, name="Iris", user=user, role="childcare", service=row)
    said = text(staff.see("/care/"))
    assert "WE99" in said
    assert "KA33" in said
    assert "WE99" not in text(staff.see(staff.url()))
    tag = tags.tag_of(other)
    assert "KA33" not in text(staff.see(f"/care/{tag}/"))
    assert staff.phone.get(f"/care/{tag}/milk/KA33/").status_code == 404
    sent = {"act": new_act(), "code": "WE99", "when": "now", "how": "warm_water"}
    assert staff.phone.post(f"/care/{tag}/do/warm/", sent, follow=True).status_code == 200
    assert "warmed" in text(staff.see("/care/day/"))
