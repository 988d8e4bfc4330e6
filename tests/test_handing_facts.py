"""What the data files of handing over say is held to its sources: rules typed in here from them, and a true mark."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from thawline.core.guideline import shipped
from thawline.services.childcare_facts import facts
from thawline.services.label_rules import label_rules

MARKS = {"seen", "second-hand", "memory", "derived", "ours"}
FILES = ("labels", "holding", "kit", "mix_up", "childcare")


def read(name: str, package: str = "thawline.services") -> dict[str, Any]:
    return tomllib.loads(files(package).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def marked(node: Any) -> Iterator[dict[str, Any]]:
    """Every table in a file that carries a mark."""
    if isinstance(node, dict):
        if isinstance(node.get("mark"), str):
            yield node
        for one in node.values():
            yield from marked(one)
    elif isinstance(node, list):
        for one in node:
            yield from marked(one)


def said(node: Any) -> Iterator[dict[str, Any]]:
    """Every table in a file that says something to a person."""
    if isinstance(node, dict):
        if isinstance(node.get("says"), str):
            yield node
        for one in node.values():
            yield from said(one)
    elif isinstance(node, list):
        for one in node:
            yield from said(one)


@pytest.mark.parametrize("name", FILES)
def test_each_line_has_a_source_and_a_mark(name: str) -> None:
    data = read(name)
    known = data.get("sources", {})
    lines = [*said(data)]
    assert lines
    for one in lines:
        assert one["mark"] in MARKS, one
        sources = one.get("sources") or [one["source"]]
        assert all(not known or source in known for source in sources), one
    assert {*known} <= {source for one in marked(data) for source in one.get("sources") or [one["source"]]} | {"ours"}


# What a label bears. CDC, AAP, Mayo Clinic: date expressed, name for childcare; Washington Administrative Code
# 110-300-0281: first and last name, date received; Oregon Administrative Rule 414-305-0610: full name, date expressed;
# Tasmania Department of Health and Human Services: name, date to be used.
LABELS = {
    "cdc": ({"expressed"}, {"name"}), "aap": ({"expressed"}, {"name"}), "mayo": ({"expressed"}, {"name"}),
    "us-wa": ({"full_name", "received"}, set()), "us-or": ({"full_name", "expressed"}, set()),
    "au-tas": ({"name", "use_on"}, set()),
}  # fmt: skip


def test_a_label_rule_asks_what_its_source_asks() -> None:
    found = {name: ({*row["asks"]}, {*row.get("childcare", ())}) for name, row in read("labels")["rule"].items()}
    assert found == LABELS


# Case 88: a bottle without the child's full name is not accepted in Oregon or Washington (the rules above).
# Milk that was not served: Oregon "must be returned", Washington returned that day or marked "do not use";
# the Australian Government's Get Up & Grow: milk from home not used that day is discarded.
@pytest.mark.parametrize(
    ("rule", "full_name", "unused", "publisher"),
    [("us-or", True, "return", "Oregon"), ("us-wa", True, "return_or_mark", "Washington"),
     ("au-tas", False, "discard", "Australian Government"), ("", False, "ask", "Thawline")],
)  # fmt: skip
def test_a_service_rule_does_with_unserved_milk_what_its_source_says(
    rule: str, full_name: bool, unused: str, publisher: str
) -> None:
    found = facts(rule)
    assert (found.full_name, found.unused) == (full_name, unused) and publisher in found.source


def test_every_line_that_a_service_rule_points_to_is_in_the_rules_own_file() -> None:
    for name, row in read("childcare")["rule"].items():
        own = {one.id for one in shipped(name).advice}
        assert {one for ids in row["lines"].values() for one in ids} <= own, name
        assert label_rules([name])


# Cadence. NCT and the Derbyshire family health service: sterilise each time; a handout citing Health Canada and
# Alberta Health: until 4 months; WIC pages with CDC's text of 2017: daily under 3 months; US CDC on Cronobacter: born
# early or a weakened immune system, at any age. CDC's present text ("under 2 months") was not read: it never counts.
CADENCES = {
    "every_use_uk": (["bfn"], 0, "every_use", "seen"),
    "every_use_canada": (["healthlinkbc"], 4, "every_use", "second-hand"),
    "daily_risk": ([], 0, "daily", "seen"), "daily_young": ([], 3, "daily", "seen"),
    "unsaid": (["healthlinkbc"], 0, "optional", "second-hand"), "optional": ([], 0, "optional", "derived"),
}  # fmt: skip


def test_a_cadence_is_its_sources() -> None:
    rows = read("kit")["cadence"]
    assert {row["id"]: (row["guidelines"], row["months"], row["cadence"], row["mark"]) for row in rows} == CADENCES


def test_days_and_hours_that_no_text_numbers_are_called_ours() -> None:
    kit = read("kit")
    assert (kit["daily"]["value"], kit["daily"]["mark"]) == (24, "ours")
    assert (kit["basin"]["value"], kit["basin"]["mark"]) == (3, "ours")


def test_warming_at_a_service_names_the_ceiling_and_what_is_only_remembered() -> None:
    lines = [one for one in read("childcare")["line"] if one["heading"] == "warm"]
    by = {
        mark: " ".join(one["says"] for one in lines if one["mark"] == mark)
        for mark in ("seen", "second-hand", "memory")
    }
    assert "40 °C (104 °F)" in by["seen"], "HSE (Ireland), Heating expressed breast milk"
    assert "microwave" in by["second-hand"], "US CDC as the Alabama Cooperative Extension gives it"
    assert "wrist" in by["memory"], "no text read says so"


def test_nothing_remembered_is_called_read_beside_a_drink() -> None:
    lines = read("holding")["alcohol"]
    assert "Not drinking is the safest" in lines[0]["says"] and lines[0]["mark"] == "memory"
    assert [one["mark"] for one in lines[1:]] == ["seen", "derived"]


def test_label_stock_is_called_common_practice_and_paper_is_the_standards() -> None:
    stock = read("stock", "thawline.faces")
    assert stock["mark"] == "common practice, no source"
    # ISO 216; ANSI/ASME Y14.1: 8.5 x 11 in.
    assert (stock["paper"]["a4"]["width"], stock["paper"]["a4"]["height"]) == (210, 297)
    letter = stock["paper"]["letter"]
    assert (letter["width"], letter["height"]) == pytest.approx((8.5 * 25.4, 11 * 25.4))
    for one in stock["stock"]:
        paper = stock["paper"][one["paper"]]
        for edge, first, count, size, gap in (
            ("width", "left", "columns", "width", "gap_x"), ("height", "top", "rows", "height", "gap_y"),
        ):  # fmt: skip
            used = one[first] + one[count] * one[size] + (one[count] - 1) * one[gap]
            assert abs(used + one[first] - paper[edge]) < 0.7, f"{one['id']}: not in the middle of the sheet"
