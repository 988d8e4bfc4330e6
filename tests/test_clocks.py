"""What a rule of the core does in one plain case: clocks, what starts and ends them, and what is said of it.

Stories are told as in `test_tables.py`, in UTC; `05-06 08:00` is of the year 2026, as is every time expected.
Expected times are counted by hand from the rules and the guidelines' figures.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from tests.test_tables import KINDS, story, temperatures

from thawline.core import guideline as guideline_package
from thawline.core import replay as core
from thawline.core.component import Bounds

FILES = Path(guideline_package.__file__).parent / "guidelines"


class Found(NamedTuple):
    """What is said of one container, its times written as in the stories."""

    use_by: str | None
    best_by: str | None
    standing: str
    estimated: object
    form: str
    rules: list[str]
    links: list[dict[str, Any]]
    breaches: list[dict[str, Any]]
    options: dict[str, tuple[str | None, str | None, str | None]]

    @property
    def rule(self) -> str:
        return self.rules[0]

    @property
    def broken(self) -> list[tuple[str, str | None]]:
        return [(breach["rule"], short(breach["at"])) for breach in self.breaches]


def short(text: str | None) -> str | None:
    if text is None:
        return None
    at = datetime.fromisoformat(text).astimezone(UTC)
    return at.strftime("%Y-%m-%d %H:%M:%S").removesuffix(":00").removeprefix("2026-")


def dated(text: str) -> str:
    return re.sub(r"(?<![-\d])(\d\d-\d\d) ", r"2026-\1 ", text)


def moment(text: str) -> int:
    return core.moment(datetime.fromisoformat(dated(text)).replace(tzinfo=UTC).isoformat())


def lines(told: str, places: str) -> list[bytes]:
    start = "2026-01-01T00:00:00Z"
    events: list[dict[str, Any]] = [{"id": "h", "at": start, "kind": "household", "zone": "UTC"}]
    for name in ("mia", "ben"):
        born = {"child": name, "born": "2026-01-02", "care": "home"}
        events.append({"id": f"c-{name}", "at": start, "kind": "child", **born})
    for name, temp in temperatures(places).items():
        usual = {} if temp is None else {"temp_c": temp}
        events.append({"id": f"p-{name}", "at": start, "kind": "place", "place": name, "is": KINDS[name], **usual})
    return [json.dumps(event).encode() for event in events + story(dated(told).rstrip("; "), "UTC")]


def judged(
    told: str,
    now: str,
    guideline: str = "cdc",
    *,
    also: Iterable[str] = (),
    places: str = "",
    bounds: Bounds | None = None,
    name: str = "A",
) -> Found:
    ran = core.run(lines(told, places), now=moment(now), guideline=guideline, also=also, everything=True, bounds=bounds)
    answer = core.as_object(ran)
    assert answer["refused"] == []
    [one] = [each for each in answer["containers"] if each["container"] == name]
    return Found(
        short(one["use_by"]), short(one["best_by"]), one["standing"], one["estimated"], one["form"],
        [link["rule"] for link in one["why"]], one["why"], one["breaches"],
        {o["do"]: (short(o["not_after"]), short(o["then_use_by"]), short(o["then_best_by"])) for o in one["options"]},
    )  # fmt: skip


def check(found: Found, wanted: Mapping[str, object]) -> None:
    assert {key: getattr(found, key) for key in wanted} == dict(wanted)
    for key in wanted:
        # A truth value is true or false, nothing that only counts as one.
        assert type(getattr(found, key)) is type(wanted[key])


FRIDGE = "05-05 08:00 expressed A:100 fridge; "
ROOM = "05-06 08:00 expressed A:100 room; "
FROZEN = "05-01 08:00 expressed A:100 fridge; 05-01 09:00 moved A freezer; "
OUT = FROZEN + "05-06 08:00 moved A fridge; "
JUST_IN = "05-01 08:00 expressed A:100 fridge; 05-05 07:00 moved A freezer; "

# ---- estimated -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "estimated"),
    [
        (FRIDGE, False),
        (ROOM, False),
        ("2026-05-06 date expressed A:100 fridge", True),
        ("2026-05-06 date expressed A:100 room", True),
        ("05-06 08:00 stocked A 100 fridge expressed=2026-05-05", True),
        ("05-06 08:00 stocked A 100 fridge expressed=2026-05-05T08:00:00Z", False),
        ("05-06 08:00 stocked A 100 freezer expressed=2026-05-01", True),
        ("05-06 08:00 stocked A 100 freezer expressed=2026-05-01T08:00:00Z", True),
        ("05-06 08:00 stocked A 100 freezer expressed=2026-05-01T08:00:00Z frozen_on=2026-05-02", True),
        ("05-06 08:00 stocked A 100 fridge expressed=2026-05-01 form=thawed", True),
        (FROZEN, False),
        ("2026-05-01 date expressed A:100 fridge; 05-02 09:00 moved A freezer", False),
        ("05-01 08:00 expressed A:100 fridge; 2026-05-02 date moved A freezer", True),
        (OUT, True),
        (OUT + "05-06 09:00 ice A", True),
        (OUT + "05-06 09:00 no_ice A", True),
        (OUT + "05-06 09:00 ice A; 05-06 10:00 no_ice A", True),
        (OUT + "05-06 10:00 ice A; 05-06 10:00 no_ice A", False),
        (FROZEN + "05-06 10:00 no_ice A", True),
        (ROOM + "05-06 09:00 feed A", True),
        (ROOM + "05-06 09:00 feed A; 05-06 09:20 fed A 30", False),
        (FRIDGE + "05-06 09:00 warmed A warmer", False),
        (FRIDGE + "05-06 09:00 moved A room", False),
        (FRIDGE + "05-06 09:00 handed A aunt; 05-06 09:30 returned A fridge", True),
        ("05-06 08:00 expressed A:100 cooler; 05-06 09:00 measured cooler 18", True),
    ],
)
def test_estimated_says_whether_the_date_rests_on_something_that_nobody_saw(told: str, estimated: bool) -> None:
    assert judged(told, "05-06 10:30").estimated is estimated


def test_the_time_after_a_promise_that_nobody_checked_is_estimated() -> None:
    told = FROZEN + "05-03 09:00 power_lost freezer full"
    check(judged(told, "05-05 09:00"), {"standing": "fine", "estimated": False})
    after = judged(told, "05-05 10:00")
    check(after, {"standing": "outside", "use_by": "05-05 09:00", "estimated": True, "rule": "cdc.outside"})
    assert "power" in after.links[0]["says"]
    assert "FDA" in after.links[0]["source"]
    assert after.links[0]["mark"] == "second-hand"


def test_childcare_counts_a_leftover_from_a_beginning_that_was_seen() -> None:
    told = FRIDGE + "05-06 09:00 feed A; 05-06 09:20 fed A 30"
    check(judged(told, "05-06 10:00", also=["us-or"]), {"use_by": "05-06 11:00", "estimated": False})
    check(judged(told, "05-06 10:00"), {"use_by": "05-06 11:20", "estimated": False})


def test_an_open_feed_counts_as_ended_when_it_began() -> None:
    told = FRIDGE + "05-06 09:00 feed A"
    check(judged(told, "05-06 10:00"), {"use_by": "05-06 11:00", "rule": "cdc.leftover", "estimated": True})


def test_a_second_feed_does_not_restart_the_leftover_limit() -> None:
    told = FRIDGE + "05-06 09:00 feed A; 05-06 09:20 fed A 60; 05-06 10:00 feed A; 05-06 10:20 fed A 30"
    check(judged(told, "05-06 10:30"), {"use_by": "05-06 11:20", "estimated": False, "broken": []})


# ---- ice, and no ice -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "now", "wanted"),
    [
        # Nobody ever saw it frozen: thawed since it went in.
        (FROZEN + "05-06 12:00 no_ice A", "05-06 12:30", {"use_by": "05-02 09:00", "standing": "past"}),
        (FROZEN + "05-06 08:00 ice A; 05-06 12:00 no_ice A", "05-06 12:30", {"use_by": "05-07 08:00"}),
        # Certainly frozen after 24 h, not a second sooner; else the fresh limit runs beside.
        (
            JUST_IN + "05-06 07:00 power_lost freezer full; 05-06 08:00 no_ice A",
            "05-06 08:30",
            {"use_by": "05-07 07:00", "rule": "cdc.thawed_cold"},
        ),
        (
            JUST_IN + "05-06 06:59:59 power_lost freezer full; 05-06 08:00 no_ice A",
            "05-06 08:30",
            {"use_by": "05-05 08:00", "rule": "cdc.fresh_refrigerator"},
        ),
        (
            JUST_IN + "05-05 09:00 ice A; 05-05 12:00 no_ice A",
            "05-05 12:30",
            {"use_by": "05-06 09:00", "rule": "cdc.thawed_cold", "estimated": True},
        ),
        (JUST_IN + "05-05 12:00 no_ice A", "05-05 12:30", {"use_by": "05-05 08:00", "rule": "cdc.fresh_refrigerator"}),
    ],
)
def test_no_ice_in_a_freezer_means_thawed_since_it_was_last_known_frozen(
    told: str, now: str, wanted: dict[str, object]
) -> None:
    check(judged(told, now), {"form": "thawed", "broken": [], **wanted})


@pytest.mark.parametrize(
    ("power", "use_by"),
    [
        ("05-03 09:00 power_lost freezer full", "05-06 09:00"),
        ("05-03 09:00 power_lost freezer half", "05-05 09:00"),
        ("05-03 09:00 power_lost freezer little", "05-04 09:00"),
        ("05-03 09:00 power_lost freezer", "05-04 09:00"),
        ("05-03 09:00 power_lost freezer full; 05-04 00:00 power_back freezer", "05-05 00:00"),
        # A look before the promised hours are over: when the power went.
        ("05-05 09:00 power_lost freezer full", "05-06 09:00"),
    ],
)
def test_no_ice_after_a_power_cut_means_thawed_when_its_promise_ended(power: str, use_by: str) -> None:
    found = judged(FROZEN + power + "; 05-06 12:00 no_ice A", "05-06 12:30")
    check(found, {"use_by": use_by, "form": "thawed", "estimated": True, "rule": "cdc.thawed_cold", "broken": []})


def test_a_limit_from_leaving_the_freezer_counts_from_the_same_moment() -> None:
    told = FROZEN + "05-03 09:00 power_lost freezer full; 05-06 12:00 no_ice A"
    check(judged(told, "05-06 12:30", "bfn"), {"use_by": "05-05 21:00", "rule": "bfn.thawed_cold"})


def test_milk_found_thawed_after_the_freezers_months_was_not_moved_late() -> None:
    told = "2025-04-01 08:00 expressed A:100 freezer; 05-06 08:00 no_ice A"
    check(judged(told, "05-06 09:00"), {"standing": "past", "broken": []})


def test_ice_seen_in_a_freezer_proves_it_solid() -> None:
    told = JUST_IN + "05-05 07:30 ice A; 05-05 07:40 moved A fridge"
    check(judged(told, "05-05 07:50"), {"use_by": "05-06 07:40", "form": "thawing", "rules": _THAWED})
    unseen = JUST_IN + "05-05 07:40 moved A fridge"
    check(judged(unseen, "05-05 07:50"), {"use_by": "05-05 08:00", "rule": "cdc.fresh_refrigerator"})


_THAWED = ["cdc.thawed_cold", "cdc.freezer", "cdc.fresh_refrigerator"]


@pytest.mark.parametrize(
    ("told", "now", "wanted"),
    [
        (OUT + "05-06 14:00 ice A", "05-06 15:00", {"use_by": "05-07 14:00", "form": "thawing", "estimated": True}),
        (OUT + "05-06 14:00 no_ice A", "05-06 15:00", {"use_by": "05-07 08:00", "form": "thawed"}),
        # Thawed is thawed: ice reported after that restarts nothing.
        (
            OUT + "05-06 14:00 no_ice A; 05-06 15:00 ice A",
            "05-06 15:30",
            {"use_by": "05-07 08:00", "form": "thawed", "estimated": True},
        ),
        (
            OUT + "05-06 14:00 ice A; 05-06 14:00 no_ice A",
            "05-06 15:00",
            {"use_by": "05-07 14:00", "form": "thawed", "estimated": False},
        ),
        # Ice in the refrigerator: what was held against milk that may never have frozen is void.
        (
            JUST_IN + "05-05 07:30 moved A fridge; 05-05 07:40 ice A",
            "05-05 09:00",
            {"use_by": "05-06 07:40", "rule": "cdc.thawed_cold"},
        ),
        # In a room: the room's clock begins with the ice.
        (
            FROZEN + "05-06 08:00 moved A room; 05-06 08:30 ice A",
            "05-06 08:40",
            {"use_by": "05-06 10:30", "best_by": "05-06 09:30", "rule": "cdc.thawed_room"},
        ),
        # Ice after a time in a room: the room's clock never began.
        (
            FROZEN + "05-06 08:00 moved A room; 05-06 09:00 moved A fridge; 05-06 09:30 ice A",
            "05-06 09:40",
            {"use_by": "05-07 09:30", "best_by": None, "rule": "cdc.thawed_cold"},
        ),
        (
            FROZEN + "05-06 08:00 moved A room; 05-06 09:00 moved A fridge",
            "05-06 09:40",
            {"use_by": "05-06 10:00", "best_by": "05-06 09:00", "rule": "cdc.thawed_room"},
        ),
        # Back within 20 min of ice: it has not come to room temperature. A minute more: it may have.
        (
            FROZEN + "05-06 08:00 moved A room; 05-06 08:30 ice A; 05-06 08:50 moved A fridge",
            "05-06 09:00",
            {"use_by": "05-07 08:30", "rule": "cdc.thawed_cold"},
        ),
        (
            FROZEN + "05-06 08:00 moved A room; 05-06 08:30 ice A; 05-06 08:51 moved A fridge",
            "05-06 09:00",
            {"use_by": "05-06 10:30", "rule": "cdc.thawed_room"},
        ),
        # A room that became too hot: the limit of the cooler room goes on, from the ice.
        (
            FROZEN + "05-06 08:00 moved A room; 05-06 08:10 measured room 30; 05-06 08:20 ice A",
            "05-06 10:20:01",
            {"use_by": "05-06 10:20", "rule": "cdc.thawed_room", "standing": "past"},
        ),
    ],
)
def test_ice_moves_the_thawed_clocks_and_ends_what_it_disproves(told: str, now: str, wanted: dict[str, object]) -> None:
    check(judged(told, now), {"broken": [], **wanted})


def test_ice_moves_no_limit_that_counts_from_leaving_the_freezer() -> None:
    told = OUT + "05-06 14:00 ice A"
    check(judged(told, "05-06 15:00", "bfn"), {"use_by": "05-06 20:00", "estimated": True})
    check(judged(told, "05-06 15:00", also=["us-or"]), {"use_by": "05-07 08:00", "rule": "us-or.thawed_cold"})


# ---- back in a freezer -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "broken"),
    [
        ("05-06 08:00 moved A room; 05-06 08:20 moved A freezer", False),
        ("05-06 08:00 moved A room; 05-06 08:20:01 moved A freezer", True),
        ("05-06 07:59 measured room 25; 05-06 08:00 moved A room; 05-06 08:20 moved A freezer", False),
        ("05-06 07:59 measured room 25.1; 05-06 08:00 moved A room; 05-06 08:05 moved A freezer", False),
        ("05-06 07:59 measured room 25.1; 05-06 08:00 moved A room; 05-06 08:05:01 moved A freezer", True),
        ("05-06 08:00 moved A room; 05-06 09:00 ice A; 05-06 09:20 moved A freezer", False),
        ("05-06 08:00 moved A room; 05-06 09:00 ice A; 05-06 09:20:01 moved A freezer", True),
        ("05-06 07:00 counted A 59; 05-06 08:00 moved A room; 05-06 08:05 moved A freezer", False),
        ("05-06 07:00 counted A 59; 05-06 08:00 moved A room; 05-06 08:05:01 moved A freezer", True),
        ("05-06 07:00 counted A 59; 05-06 08:00 moved A room; 05-06 08:00 ice A; 05-06 08:15 moved A freezer", False),
        ("05-06 07:00 counted A 60; 05-06 08:00 moved A room; 05-06 08:20 moved A freezer", False),
        ("05-06 08:00 moved A room; 05-06 08:10 no_ice A; 05-06 08:15 moved A freezer", True),
        ("05-06 08:00 moved A room; 05-06 08:05 warmed A warmer; 05-06 08:10 moved A freezer", True),
    ],
)
def test_frozen_milk_soon_back_in_a_freezer_has_not_thawed(told: str, broken: bool) -> None:
    found = judged(FROZEN + told, "05-06 10:00")
    assert found.form == "frozen"
    assert bool(found.breaches) is broken
    if not broken:
        check(found, {"use_by": "2027-05-01 09:00", "best_by": "11-01 09:00", "rule": "cdc.freezer"})


def test_refreezing_is_a_breach_and_the_thawed_limit_goes_on() -> None:
    found = judged(OUT + "05-06 10:00 no_ice A; 05-06 11:00 moved A freezer", "05-06 12:00")
    check(found, {"use_by": "05-07 08:00", "broken": [("cdc.refreeze", "05-06 11:00")], "rule": "cdc.thawed_cold"})


def test_no_ice_after_a_short_visit_to_a_room_counts_from_the_return() -> None:
    told = FROZEN + "05-06 08:00 moved A room; 05-06 08:10 moved A freezer; 05-06 12:00 no_ice A"
    check(judged(told, "05-06 12:30"), {"use_by": "05-07 08:10", "form": "thawed"})


def test_a_guideline_that_bans_it_keeps_its_thawed_limits_after_partial_thawing() -> None:
    told = OUT + "05-06 09:00 ice A; 05-06 09:10 moved A freezer"
    strict = judged(told, "05-06 09:30", "nhmrc", also=["us-or"])
    check(strict, {"use_by": "05-07 09:00", "broken": [("nhmrc.refreeze_partial", "05-06 09:10")]})
    # The other guideline has no such ban: its thawed limit never ran, its freezer's months go on.
    assert strict.rules[:2] == ["nhmrc.thawed_cold", "us-or.freezer"]
    beside = judged(told, "05-06 09:30", also=["au-tas", "us-or"])
    check(beside, {"use_by": "05-07 09:00", "broken": [("au-tas.refreeze_partial", "05-06 09:10")]})
    assert set(beside.rules[:3]) == {"au-tas.thawed_cold", "cdc.freezer", "us-or.freezer"}


# ---- breaches --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "rule", "at", "says", "source"),
    [
        (
            ROOM + "05-06 12:00:01 moved A fridge",
            "cdc.fresh_room", "05-06 12:00:01", "Freshly expressed, at room temperature: 4 hours.", "countertop row",
        ),
        (
            ROOM + "05-06 12:00:01 moved A freezer; 05-06 13:00 moved A deep",
            "cdc.fresh_room", "05-06 12:00:01", "Freshly expressed, at room temperature: 4 hours.", "countertop row",
        ),
        (
            "05-02 08:00 expressed A:100 fridge; 05-06 08:00:01 moved A freezer",
            "cdc.fresh_refrigerator", "05-06 08:00:01", "In the refrigerator: 4 days from expression.",
            "refrigerator row",
        ),
        (
            "05-05 08:00 expressed A:100 cooler; 05-06 08:30 moved A fridge",
            "cdc.fresh_cooler", "05-06 08:30",
            "In a cooler with frozen ice packs: 24 hours, then use, chill or freeze.",
            "section on coolers",
        ),
        (
            "2025-05-01 08:00 expressed A:100 freezer; 05-06 08:30 moved A fridge",
            "cdc.freezer", "05-06 08:30", "In the freezer: up to 12 months from first freezing.", "freezer row",
        ),
        (
            "2025-05-01 08:00 expressed A:100 freezer; 05-06 08:30 warmed A warmer",
            "cdc.freezer", "05-06 08:30", "In the freezer: up to 12 months from first freezing.", "freezer row",
        ),
        (
            ROOM + "05-06 12:00:01 feed A",
            "cdc.fresh_room", "05-06 12:00:01",
            "Fed past its limit. Freshly expressed, at room temperature: 4 hours.", "countertop row",
        ),
        (
            ROOM + "05-06 09:00 warmed A microwave",
            "cdc.microwave", "05-06 09:00", "Never microwave milk: it destroys nutrients and leaves hot spots.",
            "running text on warming",
        ),
    ],
)  # fmt: skip
def test_a_breach_names_its_rule_moment_words_and_source(told: str, rule: str, at: str, says: str, source: str) -> None:
    found = judged(told, "05-06 13:30")
    [breach] = found.breaches
    assert (breach["rule"], short(breach["at"])) == (rule, at)
    assert breach["says"] in (says, f"Moved on too late. {says}")
    assert "US Centers for Disease Control and Prevention" in breach["source"]
    assert source in breach["source"]
    assert found.standing == "breached"
    assert found.options == {}


@pytest.mark.parametrize(
    "told",
    [
        ROOM + "05-06 12:00 moved A fridge",
        ROOM + "05-06 12:00 moved A freezer",
        ROOM + "05-06 12:00 feed A",
        "05-02 08:00 expressed A:100 fridge; 05-06 08:00 moved A freezer",
        "05-05 08:00 expressed A:100 cooler; 05-06 08:00 moved A fridge",
        "2025-05-06 08:00 expressed A:100 freezer; 05-06 08:00 moved A fridge",
    ],
)
def test_the_last_allowed_moment_is_in_time(told: str) -> None:
    found = judged(told, "05-06 12:00")
    assert found.breaches == []
    assert found.standing in ("fine", "soon")


def test_left_too_late_a_limit_stands_for_ever() -> None:
    found = judged(ROOM + "05-06 12:30 moved A freezer; 05-06 13:00 moved A fridge", "05-06 13:30")
    check(found, {"use_by": "05-06 12:00", "broken": [("cdc.fresh_room", "05-06 12:30")]})


@pytest.mark.parametrize(
    ("guideline", "also", "told", "broken"),
    [
        ("cdc", "us-wa", "05-06 09:00 warmed A microwave", ["cdc.microwave", "us-wa.microwave"]),
        ("cdc", "us-or", "05-06 09:00 warmed A stovetop", ["cdc.stovetop", "us-or.stovetop"]),
        ("abm", "us-wa", "05-06 09:00 warmed A microwave", ["house.microwave", "us-wa.microwave"]),
        ("abm", "", "05-06 09:00 warmed A microwave", ["house.microwave"]),
        ("cdc", "", "05-06 09:00 warmed A warm_water; 05-06 09:10 moved A freezer", ["house.freeze_warmed"]),
        ("cdc", "", "05-06 09:00 feed A; 05-06 09:10 fed A 30; 05-06 09:20 moved A freezer", ["house.freeze_leftover"]),
        ("cdc", "", "05-06 09:00 warmed A warm_water; 05-06 09:10 warmed A warm_water", []),
        ("cdc", "us-or", "05-06 09:00 warmed A warm_water; 05-06 09:10 warmed A warm_water", ["us-or.rewarm"]),
        ("cdc", "us-or", "05-06 09:00 warmed A warm_water; 05-06 09:10 moved A fridge", ["us-or.warmed_to_cold"]),
        ("cdc", "us-or", "05-06 09:00 warmed A warm_water; 05-06 09:10 moved A cooler", ["us-or.warmed_to_cold"]),
        (
            "cdc", "us-or", "05-06 09:00 warmed A warm_water; 05-06 09:10 moved A freezer",
            ["house.freeze_warmed", "us-or.warmed_to_cold"],
        ),
        ("cdc", "", "05-06 09:00 warmed A warm_water; 05-06 09:10 moved A fridge", []),
    ],
)  # fmt: skip
def test_a_ban_of_any_guideline_in_force_is_a_breach(guideline: str, also: str, told: str, broken: list[str]) -> None:
    found = judged(ROOM + told, "05-06 09:30", guideline, also=also.split())
    assert sorted(rule for rule, _ in found.broken) == broken
    assert all(breach["says"] and breach["source"] for breach in found.breaches)


def test_a_second_warming_starts_no_new_clock() -> None:
    told = FRIDGE + "05-06 09:00 warmed A warm_water; 05-06 09:30 warmed A warm_water"
    check(judged(told, "05-06 10:00"), {"use_by": "05-06 11:00", "broken": []})
    check(judged(told, "05-06 10:00", also=["us-or"]), {"broken": [("us-or.rewarm", "05-06 09:30")]})


# ---- warmed, and taken from a freezer --------------------------------------------------------------------


def test_warming_frozen_milk_takes_it_out_of_the_freezer() -> None:
    found = judged(FROZEN + "05-06 09:00 warmed A warm_water", "05-06 09:30")
    check(found, {"use_by": "05-06 11:00", "best_by": "05-06 10:00", "form": "thawing", "broken": []})
    late = judged(FROZEN + "05-06 09:00 warmed A warm_water", "05-06 09:30", "nhmrc")
    check(late, {"use_by": "05-06 10:00", "rule": "nhmrc.thawed_warm_water"})


def test_drinking_frozen_milk_takes_it_to_a_room() -> None:
    told = FROZEN + "05-06 09:00 feed A; 05-06 10:00 fed A 30"
    check(judged(told, "05-06 10:30"), {"use_by": "05-06 11:00", "form": "thawing", "rule": "cdc.thawed_room"})


def test_warming_brings_thawed_milk_to_room_temperature_at_once() -> None:
    told = OUT + "05-06 08:30 no_ice A; 05-06 09:00 warmed A warm_water"
    check(judged(told, "05-06 09:30"), {"use_by": "05-06 11:00", "best_by": "05-06 10:00"})


def test_warmed_milk_gains_nothing_by_the_refrigerator() -> None:
    told = ROOM + "05-06 11:00 warmed A warm_water; 05-06 11:30 moved A fridge"
    check(judged(told, "05-06 11:40"), {"use_by": "05-06 12:00", "rule": "cdc.fresh_room", "broken": []})


# ---- received --------------------------------------------------------------------------------------------


def test_received_again_restarts_nothing() -> None:
    once = FROZEN + "05-06 10:00 received A freezer; "
    check(judged(once, "05-06 11:00", also=["us-wa"]), {"use_by": "06-05 10:00", "rule": "us-wa.freezer"})
    again = once + "05-08 10:00 received A deep; 05-09 10:00 moved A freezer"
    check(judged(again, "05-09 11:00", also=["us-wa"]), {"use_by": "06-05 10:00", "best_by": "06-05 10:00"})


# ---- looks, readings, coolers ----------------------------------------------------------------------------

CUT = FROZEN + "05-03 09:00 power_lost freezer full; 05-06 08:00 power_back freezer; "
FRIDGE_CUT = FRIDGE + "05-05 09:00 power_lost fridge; 05-05 18:00 power_back fridge; "


@pytest.mark.parametrize(
    ("told", "standing", "use_by"),
    [
        (CUT, "outside", "05-05 09:00"),
        (CUT + "05-06 09:00 ice A", "fine", "2027-05-01 09:00"),
        (CUT + "05-06 09:00 measured A -18", "fine", "2027-05-01 09:00"),
        (CUT + "05-06 09:00 measured freezer -18", "fine", "2027-05-01 09:00"),
        # A look at the next place says nothing of what the milk went through.
        (CUT + "05-06 09:00 moved A deep; 05-06 09:30 measured deep -20", "outside", "05-05 09:00"),
        (CUT + "05-06 09:00 moved A deep; 05-06 09:30 measured freezer -18", "outside", "05-05 09:00"),
        (CUT + "05-06 09:00 moved A deep; 05-06 09:30 measured A -20", "fine", "2027-05-01 09:00"),
        pytest.param(
            CUT + "05-06 09:00 moved A deep; 05-06 09:30 ice A",
            "fine",
            "2027-05-01 09:00",
        ),
        # Nobody saw it frozen after the promise ended: thawing since then.
        (CUT + "05-06 09:00 moved A fridge", "past", "05-06 09:00"),
        (CUT + "05-06 09:00 moved A fridge; 05-06 09:30 ice A", "fine", "05-07 09:30"),
        (FRIDGE_CUT, "outside", "05-05 13:00"),
        (FRIDGE_CUT + "05-05 18:30 measured fridge 3.5", "fine", "05-09 08:00"),
        (FRIDGE_CUT + "05-05 18:30 measured A 3.5", "fine", "05-09 08:00"),
        (FRIDGE_CUT + "05-05 18:30 moved A ice_box; 05-05 18:40 measured ice_box -18", "outside", "05-05 13:00"),
    ],
)
def test_after_a_power_cut_it_is_outside_until_somebody_looks_at_it(told: str, standing: str, use_by: str) -> None:
    check(judged(told, "05-06 10:00"), {"standing": standing, "use_by": use_by, "broken": []})


def test_a_closed_refrigerator_counts_as_cold_for_its_promised_hours() -> None:
    check(judged(FRIDGE_CUT, "05-05 12:59:59"), {"standing": "fine", "use_by": "05-09 08:00", "estimated": False})
    back = FRIDGE + "05-05 09:00 power_lost fridge; 05-05 13:00 power_back fridge"
    check(judged(back, "05-06 10:00"), {"standing": "fine", "use_by": "05-09 08:00"})


@pytest.mark.parametrize(
    ("told", "standing", "use_by"),
    [
        (FRIDGE + "05-06 10:00 measured fridge 8", "outside", "05-06 10:00"),
        (FRIDGE + "05-06 10:00 measured fridge 8; 05-06 12:00 measured fridge 3.5", "fine", "05-09 08:00"),
        (FRIDGE + "05-06 10:00 measured fridge 8; 05-06 12:00:01 measured fridge 3.5", "outside", "05-06 10:00"),
        (FRIDGE + "05-06 10:00 measured A 8", "outside", "05-06 10:00"),
        (FRIDGE + "05-06 10:00 measured A 8; 05-06 11:00 measured A 3.5", "fine", "05-09 08:00"),
        (FROZEN + "05-06 10:00 measured freezer -10; 05-06 12:00 measured freezer -18", "fine", "2027-05-01 09:00"),
        (FROZEN + "05-06 10:00 measured freezer -10; 05-06 12:00:01 measured freezer -18", "outside", "05-06 10:00"),
    ],
)
def test_readings_out_of_the_band_for_over_two_hours_are_for_good(told: str, standing: str, use_by: str) -> None:
    found = judged(told, "05-06 12:30")
    check(found, {"standing": standing, "use_by": use_by, "broken": []})
    assert (found.rule == "cdc.outside") is (standing == "outside")


def test_time_outside_counts_as_room_time() -> None:
    told = FRIDGE + "05-06 08:00 measured fridge 8"
    check(judged(told, "05-06 12:00"), {"standing": "outside", "use_by": "05-06 08:00"})
    check(judged(told, "05-06 12:00:01"), {"standing": "past", "use_by": "05-06 12:00", "rule": "cdc.fresh_room"})


def test_feeding_what_is_outside_for_good_is_a_breach() -> None:
    told = FRIDGE + "05-06 10:00 measured fridge 8; "
    check(judged(told + "05-06 12:00 feed A", "05-06 12:00"), {"broken": []})
    found = judged(told + "05-06 12:00:01 feed A", "05-06 12:30")
    check(found, {"broken": [("cdc.outside", "05-06 12:00:01")], "standing": "breached"})
    assert found.breaches[0]["says"] == "Fed where US CDC gives no time."
    assert "US Centers for Disease Control and Prevention" in found.breaches[0]["source"]


def test_a_reading_of_milk_in_a_room_is_no_reading_of_the_room() -> None:
    told = ROOM + "05-06 08:10 measured A 34"
    check(judged(told, "05-06 09:00"), {"standing": "fine", "use_by": "05-06 12:00"})


COOLER = "05-06 08:00 expressed A:100 cooler; 05-06 09:00 measured cooler 10; "


@pytest.mark.parametrize(
    ("told", "wanted"),
    [
        (COOLER, {"use_by": "05-07 08:00", "rule": "cdc.fresh_cooler", "estimated": False}),
        (COOLER + "05-06 10:00 measured cooler 15", {"use_by": "05-07 08:00", "rule": "cdc.fresh_cooler"}),
        # A room since 09:00, when it was last known cold.
        (
            COOLER + "05-06 10:00 measured cooler 15.1",
            {"use_by": "05-06 11:00", "rule": "cdc.brought_to_room", "estimated": True},
        ),
        (
            COOLER + "05-06 10:00 measured cooler 16; 05-06 10:10 measured cooler 5",
            {"use_by": "05-06 11:00", "rule": "cdc.brought_to_room", "estimated": True},
        ),
        # Cold again within a short excursion.
        (COOLER + "05-06 09:10 measured cooler 16; 05-06 09:20 measured cooler 5", {"use_by": "05-07 08:00"}),
        (COOLER + "05-06 09:10 measured cooler 16; 05-06 09:20:01 measured cooler 5", {"use_by": "05-06 11:00"}),
        # Never known cold: a room since the milk went in.
        (
            "05-06 08:00 expressed A:100 cooler; 05-06 10:00 measured cooler 16",
            {"use_by": "05-06 12:00", "rule": "cdc.fresh_room", "estimated": True},
        ),
        (ROOM + "05-06 09:00 moved A cooler; 05-06 10:00 measured cooler 16", {"use_by": "05-06 12:00"}),
        # A reading of the milk is one of the cooler that it lies in.
        (
            "05-06 08:00 expressed A:100 cooler; 05-06 09:00 measured A 10; 05-06 10:00 measured A 16",
            {"use_by": "05-06 11:00", "rule": "cdc.brought_to_room", "estimated": True},
        ),
    ],
)
def test_a_cooler_found_warm_counts_as_a_room_since_it_was_last_known_cold(
    told: str, wanted: dict[str, object]
) -> None:
    check(judged(told, "05-06 10:30"), {"broken": [], **wanted})


# ---- out of the cold -------------------------------------------------------------------------------------


TWICE = "05-06 09:00 moved A room; 05-06 09:10 moved A fridge; 05-06 10:00 moved A room; "


@pytest.mark.parametrize(
    ("told", "use_by"),
    [
        ("05-06 09:00 moved A room; 05-06 09:20 moved A fridge", "05-09 08:00"),
        ("05-06 09:00 moved A room; 05-06 09:20:01 moved A fridge", "05-06 11:00"),
        (
            TWICE + "05-06 10:10 moved A fridge",
            "05-09 08:00",
        ),
        (
            TWICE + "05-06 10:11 moved A fridge",
            "05-06 12:00",
        ),
        ("05-06 08:30 counted A 59; 05-06 09:00 moved A room; 05-06 09:05 moved A fridge", "05-09 08:00"),
        ("05-06 08:30 counted A 59; 05-06 09:00 moved A room; 05-06 09:05:01 moved A fridge", "05-06 11:00"),
        ("05-06 08:30 measured room 25.1; 05-06 09:00 moved A room; 05-06 09:05 moved A fridge", "05-09 08:00"),
    ],
)
def test_short_excursions_add_up_and_a_longer_one_starts_a_limit(told: str, use_by: str) -> None:
    check(judged(FRIDGE + told, "05-06 10:30"), {"use_by": use_by, "broken": []})


# ---- bounds ----------------------------------------------------------------------------------------------


def at(text: str, until: str) -> dict[tuple[str, int], int]:
    return {("A", moment(text)): moment(until)}


@pytest.mark.parametrize(
    ("told", "bounds", "use_by"),
    [
        (OUT, Bounds(), "05-07 08:00"),
        (OUT, Bounds(thawed_early=at("05-06 08:00", "05-06 14:00")), "05-07 14:00"),
        (OUT, Bounds(thawed_early=at("05-06 08:00", "05-06 07:00")), "05-07 08:00"),
        (OUT, Bounds(thawed_early=at("05-06 08:01", "05-06 14:00")), "05-07 08:00"),
        (OUT + "05-06 16:00 ice A", Bounds(thawed_early=at("05-06 08:00", "05-06 14:00")), "05-07 16:00"),
        (
            JUST_IN + "05-05 13:00 moved A fridge",
            Bounds(solid_late=at("05-05 07:00", "05-05 13:00")),
            "05-06 13:00",
        ),
        (
            JUST_IN + "05-05 13:00 moved A fridge",
            Bounds(solid_late=at("05-05 07:00", "05-05 13:00:01")),
            "05-05 08:00",
        ),
        # A thick one takes longer than a day: the bound stands in place of the 24 h.
        (
            JUST_IN + "05-06 08:00 moved A fridge",
            Bounds(solid_late=at("05-05 07:00", "05-06 09:00")),
            "05-05 08:00",
        ),
        (JUST_IN + "05-06 08:00 moved A fridge", Bounds(), "05-07 08:00"),
        (
            FRIDGE + "05-06 09:00 moved A room; 05-06 09:45 moved A fridge",
            Bounds(warm_early=at("05-06 09:00", "05-06 09:45")),
            "05-09 08:00",
        ),
        (
            FRIDGE + "05-06 09:00 moved A room; 05-06 09:45:01 moved A fridge",
            Bounds(warm_early=at("05-06 09:00", "05-06 09:45")),
            "05-06 11:00",
        ),
        (
            FRIDGE + "05-06 09:00 moved A room; 05-06 09:11 moved A fridge",
            Bounds(warm_early=at("05-06 09:00", "05-06 09:10")),
            "05-06 11:00",
        ),
    ],
)
def test_bounds_take_the_place_of_what_is_assumed_without_them(told: str, bounds: Bounds, use_by: str) -> None:
    check(judged(told, "05-06 10:00" if "16:00" not in told else "05-06 16:30", bounds=bounds), {"use_by": use_by})


def test_a_thaw_that_rests_on_a_bound_is_estimated() -> None:
    found = judged(OUT, "05-06 10:00", bounds=Bounds(thawed_early=at("05-06 08:00", "05-06 14:00")))
    check(found, {"estimated": True, "form": "thawing"})


# ---- why -------------------------------------------------------------------------------------------------


def test_the_chain_names_what_counts_and_what_ended_before_it() -> None:
    told = ROOM + "05-06 10:00 moved A fridge; "
    found = judged(told, "05-06 11:00")
    assert [(one["rule"], short(one["from"]), short(one["until"])) for one in found.links] == [
        ("cdc.fresh_refrigerator", "05-06 08:00", "05-10 08:00"),
        ("cdc.fresh_room", "05-06 08:00", "05-06 12:00"),
    ]
    assert [one["mark"] for one in found.links] == ["seen", "seen"]
    assert found.links[0]["says"] == "In the refrigerator: 4 days from expression."
    assert "refrigerator row" in found.links[0]["source"]
    frozen = judged(told + "05-06 11:00 moved A freezer; 05-08 11:00 moved A fridge", "05-08 12:00")
    assert frozen.rules[:2] == ["cdc.thawed_cold", "cdc.freezer"]
    assert set(frozen.rules[2:]) == {"cdc.fresh_refrigerator", "cdc.fresh_room"}
    assert short(frozen.links[0]["from"]) == "05-08 11:00"


def test_the_chain_names_both_guidelines_in_force() -> None:
    found = judged(FRIDGE, "05-06 11:00", also=["au-tas"])
    check(found, {"use_by": "05-08 08:00", "rules": ["au-tas.fresh_refrigerator", "cdc.fresh_refrigerator"]})
    bfn = judged(FRIDGE, "05-06 11:00", "bfn", also=["au-tas"], places="fridge=?")
    assert set(bfn.rules) == {"au-tas.fresh_refrigerator", "bfn.fresh_refrigerator"}


@pytest.mark.parametrize(
    ("guideline", "told", "name", "says", "use_by", "best_by"),
    [
        (
            "abm", FRIDGE + "05-06 09:00 moved A room",
            "ABM Protocol #8", "Brought to room temperature: 2 hours.",
            "05-06 11:00", None,
        ),
        (
            "abm", OUT,
            "ABM Protocol #8", "Thawed and kept cold: 24 hours from complete thaw.",
            "05-07 08:00", None,
        ),
        (
            "bfn", FROZEN + "05-06 09:00 moved A room",
            "The Breastfeeding Network (UK)", "Thawed, at room temperature: 2 hours.",
            "05-06 11:00", "05-06 10:00",
        ),
        # The shortest seen: two weeks.
        (
            "cdc", "05-01 08:00 expressed A:100 fridge; 05-01 09:00 moved A ice_box",
            "US CDC", "In a freezer compartment inside the refrigerator: 2 weeks from first freezing.",
            "05-15 09:00", None,
        ),
    ],
)  # fmt: skip
def test_a_figure_that_stands_in_says_so(
    *, guideline: str, told: str, name: str, says: str, use_by: str, best_by: str | None
) -> None:
    found = judged(told, "05-06 09:30", guideline)
    assert found.links[0]["says"] == f"{name} gives no figure here; this one stands in. {says}"
    assert (found.use_by, found.best_by) == (use_by, best_by)


def test_an_overlay_is_never_filled_up() -> None:
    found = judged(FRIDGE + "05-06 09:00 moved A room", "05-06 09:30", also=["us-wa"])
    check(found, {"use_by": "05-06 11:00", "standing": "fine"})
    assert not any("stands in" in link["says"] for link in found.links)


TEAM = {
    "id": "team", "name": "Our care team", "role": "care_team", "publisher": "The ward", "title": "Sheet",
    "edition": "1", "about": "One child.",
    "limit": [{
        "id": "team.fresh_refrigerator", "situation": ["fresh_refrigerator"], "starts": "expressed", "runs": "on",
        "allows": "48 hours", "grade": "use", "mark": "seen", "says": "In the refrigerator: 48 hours.",
        "place": "line 1",
    }],
}  # fmt: skip


@pytest.mark.parametrize(
    ("places", "told", "rule", "says", "since"),
    [
        ("room=30", ROOM, "cdc.outside", "US CDC gives no time at this temperature: act now.", "05-06 08:00"),
        (
            "", "05-06 08:00 stocked A 100 freezer expressed=2026-05-01 milk=donor", "cdc.outside",
            "US CDC gives no time for this milk: ask your clinician or the milk bank.", None,
        ),
        (
            "", FRIDGE + "05-06 08:00 added A fortifier", "cdc.outside",
            "US CDC gives no time for this milk: ask your clinician or the milk bank.", "05-06 08:00",
        ),
        (
            "", FRIDGE + "05-06 08:00 power_lost fridge", "cdc.outside",
            "In this power cut nothing says any more that it is cold: look for ice, or measure.", "05-06 12:00",
        ),
    ],
)  # fmt: skip
def test_outside_says_why(places: str, told: str, rule: str, says: str, since: str | None) -> None:
    found = judged(told, "05-06 12:00" if "power" not in told else "05-06 13:00", places=places)
    check(found, {"standing": "outside", "rule": rule})
    assert found.links[0]["says"] == says
    assert found.links[0]["from"] == found.links[0]["until"]
    if since is not None:
        assert (found.use_by, short(found.links[0]["from"])) == (since, since)


def test_a_care_teams_silence_is_outside() -> None:
    def seen(told: str) -> dict[str, Any]:
        now = "2026-05-06T10:00:00Z"
        answer = core.replay(lines(told, ""), now=now, guideline="team", files={"team": TEAM})
        [one] = answer["containers"]
        found: dict[str, Any] = one
        return found

    known = seen(FRIDGE)
    assert (known["standing"], short(known["use_by"])) == ("soon", "05-07 08:00")
    silent = seen("05-06 08:00 expressed A:100 room")
    assert (silent["standing"], short(silent["use_by"])) == ("outside", "05-06 08:00")
    assert silent["why"][0]["says"] == "Our care team says nothing of this: ask who gave it to you."
    assert "The ward" in silent["why"][0]["source"]


# ---- best by ---------------------------------------------------------------------------------------------

CLEAN = "05-06 08:00 expressed A:100 {} very_clean; "


@pytest.mark.parametrize(
    ("guideline", "also", "told", "use_by", "best_by"),
    [
        ("cdc", "", FRIDGE, "05-09 08:00", None),
        ("cdc", "", FROZEN, "2027-05-01 09:00", "11-01 09:00"),
        ("abm", "", CLEAN.format("room"), "05-06 14:00", "05-06 12:00"),
        ("abm", "", ROOM, "05-06 12:00", None),
        ("abm", "", CLEAN.format("fridge"), "05-11 08:00", "05-10 08:00"),
        ("abm", "", FRIDGE, "05-09 08:00", None),
        # Never later than the date by which it must be used.
        ("cdc", "us-wa", FROZEN + "05-06 08:00 received A freezer", "06-05 08:00", "06-05 08:00"),
        ("cdc", "", FROZEN + "05-06 09:00 moved A room", "05-06 11:00", "05-06 10:00"),
        ("bfn", "", FROZEN, "11-01 09:00", None),
    ],
)
def test_the_quality_date(guideline: str, also: str, told: str, use_by: str, best_by: str | None) -> None:
    found = judged(told, "05-06 09:30", guideline, also=also.split())
    assert (found.use_by, found.best_by) == (use_by, best_by)


def test_a_quality_date_that_has_passed_is_no_breach() -> None:
    told = "2025-09-01 08:00 expressed A:100 freezer; 05-06 08:00 moved A fridge"
    check(judged("2025-09-01 08:00 expressed A:100 freezer", "05-06 09:00"), {"standing": "fine", "broken": []})
    check(judged(told, "05-06 09:00"), {"standing": "fine", "use_by": "05-07 08:00", "broken": []})


# ---- soon ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("guideline", "also", "told", "soon", "until"),
    [
        ("cdc", "", ROOM, "05-06 11:00:00", "05-06 12:00:00"),
        ("cdc", "", "05-06 08:00 expressed A:100 cooler", "05-07 07:00:00", "05-07 08:00:00"),
        ("cdc", "", FRIDGE, "05-08 08:00:00", "05-09 08:00:00"),
        ("nhmrc", "", FRIDGE, "05-07 08:00:00", "05-08 08:00:00"),
        ("nhmrc", "", "05-01 08:00 expressed A:100 ice_box", "05-14 08:00:00", "05-15 08:00:00"),
        ("cdc", "us-wa", FROZEN + "05-06 08:00 received A freezer", "06-04 08:00:00", "06-05 08:00:00"),
        ("bfn", "", FROZEN, "10-18 09:00:00", "11-01 09:00:00"),
        ("cdc", "", "2025-05-06 08:00 expressed A:100 freezer", "04-22 08:00:00", "05-06 08:00:00"),
    ],
)
def test_soon_begins_and_ends_to_the_second(guideline: str, also: str, told: str, soon: str, until: str) -> None:
    def standing(text: str, seconds: int) -> str:
        now = datetime.fromtimestamp(moment(text) / 1e6 + seconds, UTC).strftime("%Y-%m-%d %H:%M:%S")
        return judged(told, now, guideline, also=also.split()).standing

    assert [standing(soon, -1), standing(soon, 0)] == ["fine", "soon"]
    assert [standing(until, 0), standing(until, 1)] == ["soon", "past"]


# ---- options ---------------------------------------------------------------------------------------------

Options = dict[str, tuple[str, str, str | None]]


@pytest.mark.parametrize(
    ("told", "now", "options"),
    [
        (
            ROOM,
            "05-06 09:00",
            {
                "refrigerate": ("05-06 12:00", "05-10 08:00", None),
                "freeze": ("05-06 12:00", "2027-05-06 09:00", "11-06 09:00"),
                "cooler": ("05-06 12:00", "05-07 09:00", None),
                "warm": ("05-06 12:00", "05-06 11:00", None),
                "feed": ("05-06 12:00", "05-06 11:00", None),
            },
        ),
        (
            FRIDGE,
            "05-06 10:00",
            {
                "freeze": ("05-09 08:00", "2027-05-06 10:00", "11-06 10:00"),
                "cooler": ("05-09 08:00", "05-07 10:00", None),
                "warm": ("05-09 08:00", "05-06 12:00", None),
                "feed": ("05-09 08:00", "05-06 12:00", None),
            },
        ),
        (
            "05-06 08:00 expressed A:100 cooler",
            "05-06 10:00",
            {
                "refrigerate": ("05-07 08:00", "05-10 08:00", None),
                "freeze": ("05-07 08:00", "2027-05-06 10:00", "11-06 10:00"),
                "warm": ("05-07 08:00", "05-06 12:00", None),
                "feed": ("05-07 08:00", "05-06 12:00", None),
            },
        ),
        (
            FROZEN,
            "05-06 10:00",
            {
                "thaw": ("2027-05-01 09:00", "05-07 10:00", None),
                "cooler": ("2027-05-01 09:00", "05-07 10:00", None),
                "warm": ("2027-05-01 09:00", "05-06 12:00", "05-06 11:00"),
            },
        ),
        # Long out of the freezer: not to be frozen again.
        (
            OUT,
            "05-06 10:00",
            {
                "cooler": ("05-07 08:00", "05-07 08:00", None),
                "warm": ("05-07 08:00", "05-06 12:00", "05-06 11:00"),
                "feed": ("05-07 08:00", "05-06 12:00", None),
            },
        ),
        # Ice seen: back into the freezer within 20 min of it.
        (
            OUT + "05-06 10:00 ice A",
            "05-06 10:10",
            {
                "freeze": ("05-06 10:20", "2027-05-01 09:00", "11-01 09:00"),
                "cooler": ("05-07 10:00", "05-07 10:00", None),
                "warm": ("05-07 10:00", "05-06 12:10", "05-06 11:10"),
                "feed": ("05-07 10:00", "05-06 12:10", None),
            },
        ),
        (ROOM + "05-06 09:00 warmed A warmer", "05-06 09:30", {"feed": ("05-06 11:00", "05-06 11:00", None)}),
        (
            FRIDGE + "05-06 09:00 feed A; 05-06 09:20 fed A 30",
            "05-06 09:30",
            {"feed": ("05-06 11:20", "05-06 11:20", None)},
        ),
        (
            ROOM + "05-06 08:30 held A medicine",
            "05-06 09:00",
            {
                "refrigerate": ("05-06 12:00", "05-10 08:00", None),
                "freeze": ("05-06 12:00", "2027-05-06 09:00", "11-06 09:00"),
                "cooler": ("05-06 12:00", "05-07 09:00", None),
            },
        ),
        # Too hot a room: act before two hours of it are over.
        (
            "05-06 07:00 measured room 30; " + ROOM,
            "05-06 08:30",
            {
                "refrigerate": ("05-06 10:00", "05-10 08:00", None),
                "freeze": ("05-06 10:00", "2027-05-06 08:30", "11-06 08:30"),
                "cooler": ("05-06 10:00", "05-07 08:30", None),
            },
        ),
        ("05-06 07:00 measured room 30; " + ROOM, "05-06 10:00:01", {}),
        (ROOM, "05-06 12:00:01", {}),
        (ROOM + "05-06 08:30 warmed A microwave", "05-06 09:00", {}),
        (ROOM + "05-06 08:30 discarded A", "05-06 09:00", {}),
        (ROOM + "05-06 08:30 added A formula", "05-06 09:00", {}),
        (CUT, "05-06 10:00", {}),
    ],
)
def test_what_may_still_be_done_until_when_and_what_it_gives(told: str, now: str, options: Options) -> None:
    found = judged(told, now)
    assert found.options == options
    assert list(found.options) == list(options)


# ---- standing --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "now", "standing"),
    [
        (ROOM + "05-06 08:30 warmed A microwave; 05-06 09:00 discarded A", "05-06 09:30", "gone"),
        (ROOM + "05-06 12:30 moved A fridge", "05-06 13:00", "breached"),
        (ROOM + "05-06 08:30 warmed A microwave; 05-06 08:40 held A medicine", "05-06 13:00", "breached"),
        (ROOM + "05-06 08:40 held A medicine", "05-06 12:00", "held"),
        (ROOM + "05-06 08:40 held A medicine", "05-06 12:00:01", "past"),
        (ROOM + "05-06 08:40 held A medicine; 05-06 09:00 measured room 30", "05-06 10:00", "held"),
        (ROOM + "05-06 08:40 held A medicine; 05-06 08:50 released A", "05-06 09:00", "fine"),
        (ROOM + "05-06 08:40 measured room 30", "05-06 12:00", "outside"),
        (ROOM + "05-06 08:40 measured room 30", "05-06 12:00:01", "past"),
        (ROOM + "05-06 08:40 measured room 30; 05-06 08:50 measured room 22", "05-06 11:30", "soon"),
        (ROOM, "05-06 10:59:59", "fine"),
        # Voiding the act is the only way out of a breach.
        (ROOM + "05-06 08:30 warmed A microwave; 05-06 09:00 moved A fridge", "05-06 09:30", "breached"),
    ],
)
def test_the_standing_is_the_first_that_holds(told: str, now: str, standing: str) -> None:
    assert judged(told, now).standing == standing


def test_breaches_holds_and_limits_go_with_the_milk_that_is_poured() -> None:
    told = ROOM + "05-06 08:30 warmed A microwave; 05-06 08:40 held A medicine; 05-06 09:00 poured A:40 B"
    check(
        judged(told, "05-06 09:30", name="B"), {"broken": [("cdc.microwave", "05-06 08:30")], "use_by": "05-06 10:30"}
    )
    held = ROOM + "05-06 08:40 held A medicine; 05-06 09:00 poured A:40 B"
    check(judged(held, "05-06 09:30", name="B"), {"standing": "held", "use_by": "05-06 12:00"})


def test_handed_over_from_a_box_that_nobody_looked_into_it_stays_outside() -> None:
    told = FRIDGE_CUT + "05-05 19:00 handed A aunt; 05-05 19:10 returned A ice_box"
    moved = FRIDGE_CUT + "05-05 19:00 moved A room; 05-05 19:10 moved A ice_box"
    assert judged(moved, "05-05 19:30").standing == "outside"
    assert judged(told, "05-05 19:30").standing == "outside"


def test_a_bound_of_solid_counts_for_milk_found_thawed_in_its_freezer() -> None:
    told = JUST_IN + "05-05 13:00 power_lost freezer full; 05-05 14:00 no_ice A"
    found = judged(told, "05-05 14:30", bounds=Bounds(solid_late=at("05-05 07:00", "05-05 13:00")))
    check(found, {"use_by": "05-06 13:00"})


def test_a_bound_later_than_a_day_counts_for_milk_found_thawed_in_its_freezer() -> None:
    told = JUST_IN + "05-06 08:00 power_lost freezer full; 05-06 09:00 no_ice A"
    found = judged(told, "05-06 09:30", bounds=Bounds(solid_late=at("05-05 07:00", "05-06 12:00")))
    check(found, {"use_by": "05-05 08:00"})


def test_a_limit_that_goes_on_in_a_cooler_found_warm_is_estimated() -> None:
    told = ROOM + "05-06 09:00 moved A cooler; 05-06 10:00 measured cooler 16"
    check(judged(told, "05-06 10:30"), {"use_by": "05-06 12:00", "estimated": True})


def test_milk_named_for_another_child_is_a_breach_of_each_guideline() -> None:
    told = "05-06 08:00 expressed A:100 fridge for=ben; 05-06 09:00 feed A mia"
    check(judged(told, "05-06 09:30"), {"broken": [("house.other_child", "05-06 09:00")]})
    both = judged(told, "05-06 09:30", also=["us-or"])
    assert set(both.broken) == {("house.other_child", "05-06 09:00"), ("us-or.other_child", "05-06 09:00")}


def test_a_look_that_finds_it_too_warm_changes_the_reason() -> None:
    found = judged(FRIDGE_CUT + "05-05 18:30 measured fridge 8", "05-05 18:40")
    check(found, {"standing": "outside", "use_by": "05-05 13:00"})
    assert found.links[0]["says"] == "US CDC gives no time at this temperature: act now."


def test_a_power_cut_does_not_end_what_was_known_to_be_too_warm() -> None:
    told = FROZEN + "05-06 09:00 measured freezer -10; 05-06 09:30 power_lost freezer little; "
    told += "05-06 11:30 power_back freezer; 05-06 11:40 measured freezer -18"
    check(judged(told, "05-06 12:00"), {"standing": "outside", "use_by": "05-06 09:00"})


def test_donor_milk_finds_no_guideline_to_stand_in() -> None:
    told = "05-06 08:00 stocked A 100 freezer expressed=2026-05-01 milk=donor; 05-06 09:00 moved A fridge"
    found = judged(told, "05-06 09:30", "abm")
    assert found.standing == "outside"
    assert found.links[0]["says"].startswith("ABM Protocol #8 gives no time for this milk")


def test_a_day_on_which_it_left_the_cold_is_an_estimate() -> None:
    found = judged("05-05 08:00 expressed A:100 fridge; 2026-05-06 date moved A room", "05-06 01:00")
    check(found, {"use_by": "05-06 02:00", "estimated": True, "rule": "cdc.brought_to_room"})


def test_time_in_too_warm_a_refrigerator_counts_by_the_shortest_room_figure() -> None:
    told = CLEAN.format("fridge") + "05-06 09:00 measured fridge 8"
    check(judged(told, "05-06 13:00", "abm"), {"standing": "outside"})
    check(judged(told, "05-06 13:00:01", "abm"), {"standing": "past", "rule": "abm.fresh_room"})


def test_time_outside_counts_by_the_guidelines_own_room_figure() -> None:
    told = FRIDGE + "05-06 08:00 measured fridge 12"
    check(judged(told, "05-06 14:00", "bfn"), {"standing": "outside"})
    found = judged(told, "05-06 14:00:01", "bfn")
    check(found, {"standing": "past", "use_by": "05-06 14:00", "rule": "bfn.fresh_room"})
    assert found.links[0]["says"] == "Freshly expressed, at room temperature: 6 hours."


def test_a_later_short_excursion_does_not_undo_a_long_one() -> None:
    told = FRIDGE + "05-06 09:00 moved A room; 05-06 09:30 moved A fridge; "
    told += "05-06 10:00 moved A room; 05-06 10:05 moved A fridge"
    check(judged(told, "05-06 10:30"), {"use_by": "05-06 11:00"})
    bounds = Bounds(warm_early=at("05-06 10:00", "05-06 11:00"))
    check(judged(told, "05-06 10:30", bounds=bounds), {"use_by": "05-06 11:00"})


def test_warming_starts_the_limit_of_milk_brought_to_room_at_once() -> None:
    # Rule 4 of the clock rules; a shortened row makes it the one that speaks.
    data = tomllib.loads((FILES / "cdc.toml").read_text())
    for row in data["limit"]:
        if row["id"] == "cdc.brought_to_room":
            row["allows"] = "1 hours"
    told = lines(FRIDGE + "05-06 09:00 warmed A warm_water", "")
    now = "2026-05-06T09:30:00+00:00"
    [one] = core.replay(told, now=now, guideline="cdc", files={"cdc": data})["containers"]
    [late] = core.replay(told, now=now, guideline="cdc")["containers"]
    assert datetime.fromisoformat(late["use_by"]) - datetime.fromisoformat(one["use_by"]) == timedelta(hours=1)


def test_donor_milk_has_no_time_where_another_guideline_stands_in() -> None:
    told = [
        b'{"id":"p","at":"2026-05-01T00:00:00Z","kind":"place","place":"fridge","is":"refrigerator"}',
        (
            b'{"id":"s","at":"2026-05-06T08:00:00Z","kind":"stocked","container":"A","ml":50,"place":"fridge",'
            b'"expressed":"2026-05-05","frozen_on":"2026-05-06","form":"thawed","milk":"donor"}'
        ),
    ]
    [one] = core.replay(told, now="2026-05-06T09:00:00Z", guideline="abm")["containers"]
    assert one["standing"] == "outside"
    assert one["why"][0]["says"] == "ABM Protocol #8 gives no time for this milk: ask your clinician or the milk bank."


READ_LATER = "; 05-06 08:20 measured freezer -20; 05-06 08:40 measured freezer -17; 05-06 08:50 measured freezer -20"


@pytest.mark.parametrize(
    "told",
    [
        FROZEN + "05-06 08:00 warmed A warm_water",
        FROZEN + "05-06 08:00 feed A mia",
        FROZEN + "05-06 08:00 feed A mia; 05-06 08:10 fed A 60",
        FROZEN + "05-06 08:00 warmed A warm_water; 05-06 08:05 poured A:60 B",
        FROZEN + "05-06 08:00 handed A aunt",
        FROZEN + "05-06 08:00 handed A aunt; 05-06 12:00 returned A fridge",
        FROZEN + "05-06 07:00 moved A fridge; 05-06 08:00 handed A aunt; 05-06 12:00 returned A freezer",
        FRIDGE + "05-06 08:00 handed A aunt; 05-06 12:00 returned A fridge",
    ],
)
def test_a_reading_of_a_place_puts_no_milk_back_into_it(told: str) -> None:
    name = "B" if told.endswith(" B") else "A"
    read = READ_LATER + "; 05-06 08:55 measured fridge 3; 05-06 09:05 measured fridge 9; 05-06 09:10 measured fridge 3"
    quiet, found = (judged(one, "05-06 12:30", name=name) for one in (told, told + read))
    assert found.breaches == quiet.breaches
    assert (found.use_by, found.form, found.rules) == (quiet.use_by, quiet.form, quiet.rules)


def test_put_back_into_the_freezer_the_place_counts_again() -> None:
    told = FROZEN + "05-06 08:00 warmed A warm_water; 05-06 08:10 moved A fridge; 05-06 08:20 moved A freezer"
    found = judged(told + "; 05-06 08:40 measured freezer -5", "05-06 09:00")
    assert found.standing == "breached" and ("cdc.refreeze", "05-06 08:20") in found.broken
