"""A worker whom several families hand milk to: nothing of one is taken for another's, and little is typed twice."""

from __future__ import annotations

from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client
from tests.check_families import ROOM, Two, phone, two
from tests.pages import Family, home, text

from thawline.core import events as ev
from thawline.services import labels, tags
from thawline.services.board import board
from thawline.services.recording import new_act

__all__ = ["home"]
PLACE = f"fridge at {ROOM}"


@pytest.fixture
def both(home: Family) -> Two:
    """Two families with milk at the Kingfisher room; in both a child is called Mira, and a bottle KA34."""
    found = two(home)
    found.theirs.note("child", 24 * 200, child="Mira", born="2026-12-01", care="home")
    labels.keep(home.store, names={"Mira": "Mira Sol"}, address="", stock="")
    labels.keep(found.theirs.store, names={"Mira": "Mira Varga"}, address="", stock="")
    return found


@pytest.fixture
def iris(both: Two) -> Client:
    """The phone of somebody who works there for both."""
    return phone(both, "childcare")


def _see(iris: Client, url: str) -> BeautifulSoup:
    answer = iris.get(url, follow=True)
    assert answer.status_code == 200, (url, answer.status_code)
    return BeautifulSoup(answer.content, "html.parser")


def _url(family: Family, *parts: str) -> str:
    return "/".join(["/care", tags.tag_of(family.store), *parts, ""])


def _latest(family: Family) -> Any:
    rows = family.store.rows([row.event_id for row in family.store.history(before=None, limit=400)])
    return ev.decoder.decode(max(rows.values(), key=lambda row: row.revision).line)


def _handed_over(family: Family, *codes: str) -> None:
    for code in codes:
        family.note("handed_over", 0.1, container=code, to=ROOM, place=PLACE)


def test_all_that_was_handed_over_is_noted_as_arrived_with_one_tap_and_undone_with_another(
    both: Two, iris: Client
) -> None:
    home = both.mine
    for code in ("LA33", "LA34"):
        home.expressed(code, 70, 3)
    _handed_over(home, "LA33", "LA34")
    form = _see(iris, "/care/").select_one('form[action$="/do/all/"]')
    assert form is not None and "All 2 have arrived" in form.text
    sent = {one["name"]: one.get("value", "") for one in form.select("input[name]")}
    codes = [one["value"] for one in form.select("input[name=code]")]
    assert sorted(codes) == ["LA33", "LA34"]
    iris.post(str(form["action"]), sent | {"code": codes})
    answer = iris.post(str(form["action"]), sent | {"code": codes}, follow=True)
    page = BeautifulSoup(answer.content, "html.parser")
    assert page.select_one('form[action$="/do/all/"]') is None
    received = home.store.history(before=None, limit=20, name="LA33", kinds=("received",))
    assert len(received) == 1
    undo = page.select_one("section.undo form")
    assert undo is not None
    fields = {one["name"]: one["value"] for one in undo.select("input[name]") if one.get("value")}
    iris.post(str(undo["action"]), fields, follow=True)
    assert _see(iris, "/care/").select_one('form[action$="/do/all/"]') is not None


def test_what_was_not_on_the_page_does_not_arrive_with_it(both: Two, iris: Client) -> None:
    home = both.mine
    for code in ("LA33", "LA34"):
        home.expressed(code, 70, 3)
    _handed_over(home, "LA33", "LA34")
    iris.post(_url(home, "do", "all"), {"act": new_act(), "code": ["LA33", "KA34", "none such"]})
    assert _latest(home).container == "LA33"
    assert "It has arrived" in text(_see(iris, _url(home, "milk") + "?code=LA34"))


def test_children_of_the_same_name_are_told_apart_by_family_and_full_name(both: Two, iris: Client) -> None:
    said = text(_see(iris, "/care/"))
    assert "Mira Sol · Lisbon kitchen" in said
    assert "Next door" in said
    for url in (_url(both.mine, "milk") + "?code=MI37", _url(both.mine, "do", "began") + "?code=MI37"):
        said = text(_see(iris, url))
        assert "Mira Sol" in said and "Lisbon kitchen" in said
        assert "Another child called Mira gets milk here (Next door)" in said, said
    said = text(_see(iris, "/check/"))
    assert "Mira Sol" in said and "Mira Varga" in said


def test_no_family_is_named_above_a_page_of_all_families(both: Two, iris: Client) -> None:
    for url in ("/care/", "/care/day/"):
        head = _see(iris, url).select_one("header.top")
        assert head is not None and "Lisbon" not in head.text and "Next door" not in head.text
    head = _see(iris, _url(both.theirs)).select_one("header.top")
    assert head is not None and "Next door" in head.text


def test_what_presses_stands_before_the_families_whoever_it_is_of(both: Two, iris: Client) -> None:
    both.theirs.note("warmed", 0.2, container="RE47", how="warm_water")
    page = _see(iris, "/care/")
    first = page.select_one("main section")
    assert first is not None and "RE47" in first.text and "Next door" in first.text
    assert "MI37" not in first.text


def test_one_reading_of_the_refrigerator_is_noted_for_every_family_ticked(both: Two, iris: Client) -> None:
    url = _url(both.mine, "do", "measured")
    ticked = [one["value"] for one in _see(iris, url).select("input[name=too][checked]")]
    assert ticked == [tags.tag_of(both.theirs.store)]
    sent = {"act": new_act(), "place": PLACE, "temp": "3.5", "too": ticked}
    for _twice in range(2):
        assert iris.post(url, sent, follow=True).status_code == 200
    for family in (both.mine, both.theirs):
        place = board(family.store, now=family.now).place(PLACE)
        assert place is not None and place.temp_c == 3.5
        assert len(family.store.history(before=None, limit=20, kinds=("measured",))) == 1
    assert _latest(both.theirs).by == "Iris"


def test_a_reading_is_noted_for_no_family_that_the_worker_has_no_window_on(both: Two) -> None:
    alone = phone(both, "childcare", in_both=False)
    sent = {"act": new_act(), "place": PLACE, "temp": "3.5", "too": [tags.tag_of(both.theirs.store)]}
    alone.post(_url(both.mine, "do", "measured"), sent)
    assert not both.theirs.store.history(before=None, limit=20, kinds=("measured",))
