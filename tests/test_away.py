"""A childcare service's refrigerator is a place of the ledger, and none of the home's."""

from __future__ import annotations

from tests.pages import Family, text

from thawline.services import board, childcare


def _served(home: Family) -> childcare.ServiceNow:
    # By its name it would come before the family's own.
    return childcare.add(home.store, "Acorn room", by="Marta", now=home.now, rule="us-or", temp_c=2)


def test_nothing_at_home_is_chilled_or_thawed_in_a_services_refrigerator(home: Family) -> None:
    there = _served(home)
    home.expressed("KA34", 90, 1, place="counter")
    home.expressed("FE44", 100, 24 * 9, place="freezer")
    found = board.board(home.store, now=home.now)
    assert [one.name for one in found.of_kind("refrigerator")] == ["fridge"]
    assert there.place in {one.name for one in found.places[-2:]}
    full = board.with_options(home.store, ["KA34", "FE44"], now=home.now)
    one = board.one(home.store, "FE44", now=home.now)
    assert one is not None
    places = {option.place for verdict in (*full.values(), one.verdict) for option in verdict.options}
    assert "fridge" in places and there.place not in places
    assert "Chill: fridge" in text(home.see("/")) and there.place not in text(home.see("/"))


def test_without_a_refrigerator_of_its_own_a_home_is_offered_none(home: Family) -> None:
    there = _served(home)
    home.note("measured", 0, place="fridge", temp_c=12)
    home.expressed("KA34", 90, 1, place="counter")
    options = board.with_options(home.store, ["KA34"], now=home.now)["KA34"].options
    assert there.place not in {option.place for option in options}
