"""A service's window holds what was handed to it and is there still, and nothing else: docs/childcare.md."""

from __future__ import annotations

from typing import Any

import pytest
from tests.pages import Family
from tests.people import service as service_of

from thawline.services import childcare, people

OAK, ELM = "Oak room", "Elm room"


def window(home: Family, name: str = OAK) -> list[str]:
    return sorted(childcare.in_window(home.store, name, now=home.now))


@pytest.fixture
def oak(home: Family) -> str:
    """The name of the fridge at a service."""
    service_of(home, OAK)
    service_of(home, ELM)
    return f"fridge at {OAK}"


def test_nothing_is_in_the_window_before_it_was_handed_over(home: Family, oak: str) -> None:
    home.expressed("KA33", 80, 5)
    assert window(home) == []


def test_what_was_handed_over_is_in_that_services_window_only(home: Family, oak: str) -> None:
    home.expressed("KA33", 80, 5)
    home.expressed("KA34", 80, 5)
    home.note("handed_over", 2, container="KA33", to=OAK, place=oak)
    assert window(home) == ["KA33"]
    assert window(home, ELM) == []
    assert childcare.in_window(home.store, None, now=home.now) == []
    assert childcare.in_window(home.store, "no such service", now=home.now) == []


def test_what_was_returned_moved_home_fed_or_taken_back_is_not_there(home: Family, oak: str) -> None:
    last = ""
    for code in ("KA33", "KA34", "KA37", "KA39", "KA43"):
        home.expressed(code, 80, 5)
        last = home.note("handed_over", 3, container=code, to=OAK, place=oak)
    home.note("returned", 2, container="KA33", place="fridge")
    home.note("moved", 2, container="KA34", to="cooler bag")
    home.note("discarded", 2, container="KA37")
    home.note("moved", 2, container="KA39", to=oak)
    home.note("voided", 0, event=last)
    assert window(home) == ["KA39"]


def test_milk_handed_over_without_a_place_is_awaited_until_it_is_received(home: Family, oak: str) -> None:
    home.expressed("KA33", 80, 5)
    home.note("handed_over", 3, container="KA33", to=OAK)
    assert window(home) == []
    assert childcare.awaited(home.store, OAK, now=home.now) == ["KA33"]
    home.note("received", 2, container="KA33", place=oak)
    assert window(home) == ["KA33"]
    assert childcare.awaited(home.store, OAK, now=home.now) == []


def test_what_is_poured_there_into_a_new_container_stays_in_the_window(home: Family, oak: str) -> None:
    for code in ("KA33", "KA34"):
        home.expressed(code, 80, 5)
    home.note("handed_over", 3, container="KA33", to=OAK, place=oak)
    home.note("poured", 2, from_=[{"container": "KA33", "ml": 40}], into="KA37")
    home.note("poured", 1, from_=[{"container": "KA34", "ml": 10}, {"container": "KA33", "ml": 10}], into="KA39")
    assert window(home) == ["KA33", "KA37"]


def test_a_hand_over_that_did_not_fit_opens_no_window(home: Family, oak: str) -> None:
    home.expressed("KA33", 80, 5)
    home.note("handed_over", 6, container="KA33", to=OAK, place=oak)
    assert window(home) == []


def test_a_service_taken_off_has_no_window_and_its_staff_no_membership(home: Family, oak: str) -> None:
    home.expressed("KA33", 80, 5)
    home.note("handed_over", 3, container="KA33", to=OAK, place=oak)
    childcare.take_off(home.store, OAK)
    assert window(home) == []
    with pytest.raises(people.CannotError):
        childcare.take_off(home.store, OAK)


def test_adding_a_service_describes_its_refrigerator_with_a_temperature_only_where_it_is_known(home: Family) -> None:
    childcare.add(home.store, "Fern room", by="Marta", now=home.now, rule="us-wa", temp_c=3.5, closes="17:30")
    childcare.add(home.store, "Reed room", by="Marta", now=home.now)
    fern, reed = childcare.services(home.store)
    assert (fern.rule, fern.closes) == ("us-wa", "17:30")
    assert childcare.temperature(home.store, fern, now=home.now) == 3.5
    assert childcare.temperature(home.store, reed, now=home.now) is None
    assert reed.rule == ""


@pytest.mark.parametrize(
    ("name", "more"),
    [("", {}), ("x" * 81, {}), ("Fern\0", {}), ("Fern", {"rule": "cdc"}), ("Fern", {"rule": "../x"}),
     ("Fern", {"closes": "25:00"}), ("Fern", {"calls": "x" * 201})],
)  # fmt: skip
def test_a_service_that_cannot_be_is_refused_in_plain_words(home: Family, name: str, more: dict[str, Any]) -> None:
    with pytest.raises(people.CannotError):
        childcare.add(home.store, name, by="Marta", now=home.now, **more)
    assert childcare.services(home.store) == []


def test_the_name_of_a_service_stands_once_and_may_come_back(home: Family) -> None:
    childcare.add(home.store, "Fern room", by="Marta", now=home.now)
    with pytest.raises(people.CannotError):
        childcare.add(home.store, " Fern  room ", by="Marta", now=home.now)
    childcare.take_off(home.store, "Fern room")
    childcare.add(home.store, "Fern room", by="Marta", now=home.now, calls="Marta, 0100")
    assert [one.calls for one in childcare.services(home.store)] == ["Marta, 0100"]
