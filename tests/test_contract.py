"""The ledger format, version 1: what it promises to whoever writes one or reads what `replay` prints."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from tests.cli_tools import Event, event, expressed, installed, judged, ndjson, one, poured, replay, settings, thawline

# ---- refusals: one test for each code ---------------------------------------------------------------------


def refused(folder: Path, *more: Event) -> list[tuple[str, str]]:
    ran = replay(folder, [*settings(), expressed(), *more])
    assert (ran.code, ran.err) == (0, "")
    assert all(refusal["says"] for refusal in ran.json()["refused"])
    return ran.refused()


@pytest.mark.parametrize(
    "bad",
    [
        event("x", "09:00", "moved", container="B", to="fridge"),
        poured("x", "09:00", "C", B=10),
        poured("x", "09:00", "C", A=10, B=10),
        event("x", "09:00", "warmed", container="B", how="warmer"),
        event("x", "09:00", "measured", container="B", temp_c=5),
        event("x", "09:00", "discarded", container="B"),
        event("x", "09:00", "released", container="B"),
    ],
)
def test_unknown_container(bad: Event, tmp_path: Path) -> None:
    assert refused(tmp_path, bad) == [("x", "unknown_container")]


@pytest.mark.parametrize(
    "bad",
    [
        event("x", "09:00", "moved", container="A", to="attic"),
        expressed("x", "09:00", "B", place="attic"),
        event("x", "09:00", "stocked", container="B", ml=9, place="attic", expressed="2026-05-01"),
        event("x", "09:00", "measured", place="attic", temp_c=5),
        event("x", "09:00", "power_lost", place="attic"),
        event("x", "09:00", "handed_over", container="A", to="childcare", place="attic"),
        event("x", "09:00", "received", container="A", place="attic"),
    ],
)
def test_unknown_place(bad: Event, tmp_path: Path) -> None:
    assert refused(tmp_path, bad) == [("x", "unknown_place")]


@pytest.mark.parametrize(
    "bad",
    [
        event("x", "09:00", "feed_began", container="A", child="zoe"),
        expressed("x", "09:00", "B", for_="zoe"),
        event("x", "09:00", "nursed", child="zoe"),
        event("x", "09:00", "weighed", child="zoe", kg=4),
        event("x", "09:00", "fed_other", child="zoe", what="solids"),
        event("x", "09:00", "day_complete", child="zoe", date="2026-05-05"),
    ],
)
def test_unknown_child(bad: Event, tmp_path: Path) -> None:
    assert refused(tmp_path, bad) == [("x", "unknown_child")]


@pytest.mark.parametrize(("ml", "code"), [(120, None), (120.1, "too_much"), (100, None), (5000, "too_much")])
def test_too_much_is_more_than_a_fifth(ml: float, code: str | None, tmp_path: Path) -> None:
    wanted = [] if code is None else [("x", code)]
    assert refused(tmp_path, poured("x", "09:00", "B", A=ml)) == wanted
    assert refused(tmp_path, event("x", "09:00", "discarded", container="A", ml=ml)) == wanted
    feed = event("f", "08:50", "feed_began", container="A", child="mia")
    assert refused(tmp_path, feed, event("x", "09:00", "feed_ended", container="A", left_ml=ml)) == wanted


def test_less_than_a_fifth_too_much_is_booked_as_a_miscount(tmp_path: Path) -> None:
    found = judged(tmp_path, [*settings(), expressed(), poured("p", "09:00", "B", A=110)])
    assert one(found, "B")["ml"] == 110
    assert found["booked"]["miscounted"] == -10
    assert found["booked"]["still_there"] == 110


def test_before_expressed(tmp_path: Path) -> None:
    early = event("x", "07:59", "moved", container="A", to="fridge")
    assert refused(tmp_path, early) == [("x", "before_expressed")]
    stocked = {"container": "B", "ml": 9, "place": "freezer"}
    assert refused(tmp_path, event("x", "09:00", "stocked", expressed="2026-05-07", **stocked)) == [
        ("x", "before_expressed")
    ]
    frozen = event("x", "09:00", "stocked", expressed="2026-05-03", frozen_on="2026-05-01", **stocked)
    assert refused(tmp_path, frozen) == [("x", "before_expressed")]


def test_bad_time(tmp_path: Path) -> None:
    bad = event("x", "2026-02-30", "moved", container="A", to="fridge")
    assert refused(tmp_path, bad) == [("x", "bad_time")]


def test_bad_event(tmp_path: Path) -> None:
    bad = event("x", "09:00", "moved", container="A", to="fridge", ml=5)
    assert refused(tmp_path, bad) == [("x", "bad_event")]


def test_duplicate_differs_and_the_first_to_arrive_stands(tmp_path: Path) -> None:
    first = event("x", "09:00", "moved", container="A", to="fridge")
    second = {**first, "to": "freezer"}
    assert refused(tmp_path, first, second) == [("x", "duplicate_differs")]
    assert one(judged(tmp_path, [*settings(), expressed(), first, second]))["place"] == "fridge"
    assert one(judged(tmp_path, [*settings(), expressed(), second, first]))["place"] == "freezer"


def test_already_gone(tmp_path: Path) -> None:
    gone = event("d", "09:00", "discarded", container="A")
    for bad in (
        event("x", "09:30", "moved", container="A", to="fridge"),
        event("x", "09:30", "discarded", container="A"),
        poured("x", "09:30", "B", A=10),
        event("x", "09:30", "counted", container="A", ml=10),
    ):
        assert refused(tmp_path, gone, bad) == [("x", "already_gone")]
    away = event("d", "09:00", "handed_over", container="A", to="milk bank")
    assert refused(tmp_path, away, event("x", "09:30", "warmed", container="A", how="warmer")) == [
        ("x", "already_gone")
    ]
    assert refused(tmp_path, away, event("x", "09:30", "returned", container="A", place="fridge")) == []


def test_name_taken(tmp_path: Path) -> None:
    again = expressed("x", "09:00", "A")
    assert refused(tmp_path, again) == [("x", "name_taken")]
    stocked = event("x", "09:00", "stocked", container="A", ml=9, place="freezer", expressed="2026-05-01")
    assert refused(tmp_path, stocked) == [("x", "name_taken")]
    # A name that is gone may not be used again, whatever brings the milk.
    gone = event("d", "08:30", "discarded", container="A")
    assert refused(tmp_path, gone, again) == [("x", "name_taken")]
    assert refused(tmp_path, gone, expressed("f", "08:40", "B"), poured("x", "09:00", "A", B=10)) == [
        ("x", "name_taken")
    ]
    twice = event("x", "09:00", "expressed", into=[{"container": "C", "ml": 5}] * 2, place="room")
    assert refused(tmp_path, twice) == [("x", "name_taken")]


def test_a_refusal_disappears_when_the_missing_event_arrives(tmp_path: Path) -> None:
    moved = event("x", "09:00", "moved", container="B", to="fridge")
    assert refused(tmp_path, moved) == [("x", "unknown_container")]
    assert refused(tmp_path, moved, expressed("f", "08:30", "B")) == []


def test_a_refused_event_changes_nothing(tmp_path: Path) -> None:
    story = [*settings(), expressed()]
    bad = poured("x", "09:00", "C", A=50, B=10)
    with_it, without = judged(tmp_path, [*story, bad]), judged(tmp_path, story)
    assert with_it.pop("refused") and not without.pop("refused")
    assert with_it == without


# ---- resending, order, voids ------------------------------------------------------------------------------

STORY = [
    expressed(),
    expressed("f", "08:00", "B", 60),
    event("m", "08:30", "moved", container="A", to="fridge"),
    poured("p", "09:00", "C", A=40, B=60),
    event("w", "09:10", "warmed", container="C", how="warm_water"),
    event("b", "09:20", "feed_began", container="C", child="mia"),
    event("g", "09:40", "feed_ended", container="C", left_ml=25),
]


def test_the_same_event_again_is_ignored(tmp_path: Path) -> None:
    plain = judged(tmp_path, [*settings(), *STORY])
    assert plain["refused"] == []
    assert judged(tmp_path, [*settings(), *STORY, *STORY, *settings()]) == plain
    shuffled = [dict(reversed(one.items())) for one in STORY]
    assert judged(tmp_path, [*settings(), *STORY, *shuffled]) == plain


def test_the_order_of_arrival_changes_nothing(tmp_path: Path) -> None:
    plain = judged(tmp_path, [*settings(), *STORY], "--all")
    assert judged(tmp_path, [*reversed(STORY), *reversed(settings())], "--all") == plain
    for some in itertools.islice(itertools.permutations(STORY), 0, 5040, 500):
        assert judged(tmp_path, [*some, *settings()], "--all") == plain


def test_events_of_one_moment_are_taken_in_the_order_of_the_contract(tmp_path: Path) -> None:
    # The ids run against the order, so it is the kind that decides.
    story = [
        event("x-a", "09:00", "discarded", container="C", ml=5),
        event("x-b", "09:00", "feed_ended", container="C", left_ml=30),
        event("x-c", "09:00", "feed_began", container="C", child="mia"),
        event("x-d", "09:00", "warmed", container="C", how="warmer"),
        event("x-e", "09:00", "counted", container="C", ml=50),
        event("x-f", "09:00", "moved", container="C", to="fridge"),
        poured("x-g", "09:00", "C", A=60),
        expressed("x-i", "09:00"),
        event("x-j", "09:00", "place", place="room", is_="room"),
    ]
    found = judged(tmp_path, [*(one for one in settings() if one["id"] != "p-room"), *story], "--all")
    assert found["refused"] == []
    assert one(found, "C")["place"] == "fridge"
    assert one(found, "C")["ml"] == 25
    booked = found["booked"]
    assert (booked["miscounted"], booked["fed"], booked["discarded"]) == (10, 20, 5)


def test_two_of_a_kind_at_one_moment_go_by_their_ids(tmp_path: Path) -> None:
    moves = [event(name, "09:00", "moved", container="A", to=to) for name, to in (("m2", "fridge"), ("m1", "freezer"))]
    for order in (moves, moves[::-1]):
        assert one(judged(tmp_path, [*settings(), expressed(), *order]))["place"] == "fridge"


def void(name: str, at: str, target: str) -> Event:
    return event(name, at, "voided", event=target, why="a slip")


@pytest.mark.parametrize("at", ["2026-01-01", "08:00", "11:59"])
@pytest.mark.parametrize("target", [one["id"] for one in STORY])
def test_a_voided_event_is_as_if_it_had_never_been(target: str, at: str, tmp_path: Path) -> None:
    without = judged(tmp_path, [*settings(), *(one for one in STORY if one["id"] != target)], "--all")
    assert judged(tmp_path, [*settings(), *STORY, void("v", at, target)], "--all") == without


def test_voiding_a_void_restores_whatever_its_time(tmp_path: Path) -> None:
    plain = judged(tmp_path, [*settings(), *STORY])
    for first, second, third in itertools.permutations(["07:00", "09:00", "11:00"]):
        voids = [void("v", first, "m"), void("vv", second, "v")]
        assert judged(tmp_path, [*settings(), *voids, *STORY]) == plain
        without = judged(tmp_path, [*settings(), *(one for one in STORY if one["id"] != "m")])
        assert judged(tmp_path, [*settings(), *voids, void("vvv", third, "vv"), *STORY]) == without


def test_a_void_of_an_unknown_event_is_refused_until_that_arrives(tmp_path: Path) -> None:
    ghost = void("v", "09:30", "m2")
    assert replay(tmp_path, [*settings(), *STORY, ghost]).refused() == [("v", "bad_event")]
    late = event("m2", "08:40", "moved", container="A", to="freezer")
    assert judged(tmp_path, [*settings(), *STORY, ghost, late]) == judged(tmp_path, [*settings(), *STORY])


def test_voids_in_a_ring_are_refused_and_void_nothing(tmp_path: Path) -> None:
    ran = replay(tmp_path, [*settings(), *STORY, void("v", "09:30", "u"), void("u", "09:30", "v")])
    assert sorted(ran.refused()) == [("u", "bad_event"), ("v", "bad_event")]
    assert ran.json()["containers"] == judged(tmp_path, [*settings(), *STORY])["containers"]


def test_a_setting_can_be_voided_too(tmp_path: Path) -> None:
    assert ("e", "unknown_place") in replay(
        tmp_path, [*settings(), expressed(), void("v", "09:00", "p-room")]
    ).refused()


# ---- now, ahead, all, settings ----------------------------------------------------------------------------


def test_events_after_now_are_not_applied_but_listed(tmp_path: Path) -> None:
    story = [*settings(), expressed(), event("m", "12:00", "moved", container="A", to="fridge")]
    assert judged(tmp_path, story, now="2026-05-06T11:59:59Z")["ahead"] == ["m"]
    assert one(judged(tmp_path, story, now="2026-05-06T11:59:59Z"))["place"] == "room"
    at = judged(tmp_path, story, now="2026-05-06T14:00:00+02:00")
    assert (at["ahead"], one(at)["place"]) == ([], "fridge")


def test_settings_are_known_from_the_beginning(tmp_path: Path) -> None:
    late = [{**one, "at": "2026-05-06T11:00:00Z"} for one in settings()]
    assert judged(tmp_path, [*late, *STORY]) == judged(tmp_path, [*settings(), *STORY])
    future = [{**one, "at": "2026-06-01T00:00:00Z"} for one in settings()]
    found = judged(tmp_path, [*future, *STORY])
    assert found["containers"] == judged(tmp_path, [*settings(), *STORY])["containers"]
    assert found["refused"] == []


def test_a_later_setting_holds_from_then_on(tmp_path: Path) -> None:
    hot = event("p2", "10:00", "place", place="room", is_="room", temp_c=30)
    story = [*settings(hot), expressed()]
    assert one(judged(tmp_path, story, now="2026-05-06T09:59:00Z"))["standing"] == "fine"
    assert one(judged(tmp_path, story, now="2026-05-06T10:01:00Z"))["standing"] == "outside"


def test_all_shows_what_is_gone(tmp_path: Path) -> None:
    story = [*settings(), expressed(), expressed("f", "08:00", "B"), event("d", "09:00", "discarded", container="B")]
    assert [each["container"] for each in judged(tmp_path, story)["containers"]] == ["A"]
    everything = judged(tmp_path, story, "--all")
    assert [each["container"] for each in everything["containers"]] == ["A", "B"]
    assert (one(everything, "B")["standing"], one(everything, "B")["ml"]) == ("gone", 0)


def test_the_most_urgent_come_first(tmp_path: Path) -> None:
    story = [
        *settings(),
        expressed("1", "11:50", "fine", place="fridge"),
        expressed("2", "08:30", "soon"),
        expressed("3", "02:00", "past"),
        expressed("4", "11:55", "later", place="freezer"),
    ]
    found = judged(tmp_path, story)["containers"]
    assert [each["container"] for each in found] == ["past", "soon", "fine", "later"]


def test_standard_input(tmp_path: Path) -> None:
    raw = ndjson([*settings(), *STORY])
    piped = installed("replay", "-", "--now", "2026-05-06T12:00:00Z", "--json", stdin=raw)
    assert (piped.code, piped.err) == (0, "")
    assert piped.json() == judged(tmp_path, [*settings(), *STORY])


# ---- what is printed --------------------------------------------------------------------------------------

RICH = [
    *STORY,
    event("s", "2026-04-01", "stocked", container="S", ml=90, place="freezer", expressed="2026-04-01"),
    event("t", "10:00", "moved", container="S", to="fridge"),
    expressed("k", "02:00", "K"),
    event("mw", "02:30", "warmed", container="K", how="microwave"),
    expressed("fr", "11:00", "R", for_="mia"),
    event("x", "11:10", "moved", container="nobody", to="fridge"),
    event("late", "13:00", "discarded", container="A"),
]
CONTAINER = {
    *("container", "ml", "place", "for", "form", "warmed", "fed_from", "dated", "use_by", "best_by"),
    *("standing", "estimated", "why", "options", "breaches"),
}


def test_the_object_has_exactly_the_fields_of_the_contract(tmp_path: Path) -> None:
    found = judged(tmp_path, [*settings(), *RICH], "--all", "--also", "us-or")
    assert set(found) == {"now", "guideline", "also", "containers", "refused", "ahead", "booked"}
    shapes = {
        "why": {"rule", "from", "until", "says", "source", "mark"},
        "options": {"do", "not_after", "then_use_by", "then_best_by"},
        "breaches": {"rule", "at", "says", "source"},
    }
    for container in found["containers"]:
        assert set(container) == CONTAINER
        assert container["form"] in {"fresh", "frozen", "thawing", "thawed"}
        assert container["standing"] in {"gone", "breached", "past", "outside", "held", "soon", "fine"}
        assert isinstance(container["estimated"], bool)
        for key, shape in shapes.items():
            assert all(set(entry) == shape for entry in container[key])
        for link in container["why"]:
            assert link["says"] and link["mark"] in {"seen", "second-hand", "memory", "ours"}
        for option in container["options"]:
            assert option["do"] in {"refrigerate", "freeze", "thaw", "warm", "feed", "cooler"}
    for key in shapes:
        assert any(container[key] for container in found["containers"]), key
    assert [set(refusal) for refusal in found["refused"]] == [{"event", "code", "says"}]
    assert found["ahead"] == ["late"]
    assert one(found, "R")["for"] == "mia" and one(found, "A")["for"] is None
    assert one(found, "C")["warmed"] == "2026-05-06T09:10:00+00:00"
    assert one(found, "C")["fed_from"] == "2026-05-06T09:20:00+00:00"
    assert one(found, "S")["estimated"] is True


def test_booked_adds_up(tmp_path: Path) -> None:
    booked = judged(tmp_path, [*settings(), *RICH])["booked"]
    came = booked.pop("expressed") + booked.pop("stocked")
    assert set(booked) == {"fed", "discarded", "handed_over", "miscounted", "still_there"}
    assert abs(came - sum(booked.values())) < 0.1


def test_times_are_printed_on_the_households_clock(tmp_path: Path) -> None:
    house = event("h", "2026-01-01T00:00:00Z", "household", zone="Europe/Paris")
    found = judged(tmp_path, [house, *settings()[1:], expressed()])
    assert (found["now"], one(found)["dated"]) == ("2026-05-06T14:00:00+02:00", "2026-05-06T10:00:00+02:00")


def test_up_to_four_hours_includes_the_fourth(tmp_path: Path) -> None:
    story = [*settings(), expressed()]
    assert one(judged(tmp_path, story, now="2026-05-06T12:00:00Z"))["standing"] == "soon"
    assert one(judged(tmp_path, story, now="2026-05-06T12:00:01Z"))["standing"] == "past"


# ---- what goes with the milk ------------------------------------------------------------------------------


def test_a_breach_goes_with_poured_milk_and_only_a_void_takes_it_away(tmp_path: Path) -> None:
    heat = event("mw", "08:10", "warmed", container="A", how="microwave")
    story = [*settings(), expressed(), expressed("f", "08:00", "B"), heat]
    story += [poured("p", "08:20", "C", A=50), poured("q", "08:30", "D", C=20, B=20)]
    now = "2026-05-06T08:40:00Z"
    found = judged(tmp_path, story, now=now)
    for name in "ACD":
        assert one(found, name)["standing"] == "breached"
        assert any("microwave" in breach["rule"] for breach in one(found, name)["breaches"])
    assert one(found, "B")["breaches"] == []
    mended = judged(tmp_path, [*story, void("v", "08:35", "mw")], now=now)
    assert all(container["breaches"] == [] for container in mended["containers"])


def test_a_hold_goes_with_poured_milk_until_it_is_released(tmp_path: Path) -> None:
    held = event("hold", "08:10", "held", container="A", why="medicine", until="2026-05-06T08:20:00Z")
    story = [*settings(), expressed(), held, poured("p", "08:20", "B", A=50)]
    now = "2026-05-06T08:50:00Z"
    found = judged(tmp_path, story, now=now)
    assert {one(found, name)["standing"] for name in "AB"} == {"held"}
    freed = judged(tmp_path, [*story, event("r", "08:30", "released", container="B")], now=now)
    assert (one(freed, "A")["standing"], one(freed, "B")["standing"]) == ("held", "fine")


def test_running_limits_go_with_poured_milk(tmp_path: Path) -> None:
    story = [*settings(), expressed(at="06:00"), expressed("f", "08:00", "B"), poured("p", "08:30", "B", A=20)]
    found = one(judged(tmp_path, story, now="2026-05-06T08:40:00Z"), "B")
    assert (found["dated"], found["use_by"]) == ("2026-05-06T06:00:00+00:00", "2026-05-06T10:00:00+00:00")


# ---- the schema -------------------------------------------------------------------------------------------

SAMPLES: list[Event] = [
    *settings(),
    event("h2", "08:00", "household", zone="UTC", guideline="cdc", also=["us-or"], units="ml"),
    expressed(side="left", minutes=15, handling="very_clean", mother="anna", for_="mia", noted="2026-05-06", by="anna"),
    {**expressed("f"), "vessel": {"kind": "bag", "capacity_ml": 180, "shape": "flat", "thickness_mm": 20, "tag": "7"}},
    event(
        "s", "08:00", "stocked", container="S", ml=5, place="room", expressed="2026-05-01", milk="donor", form="frozen"
    ),
    event("1", "2026-05-06", "moved", container="A", to="fridge", zone="Europe/Paris"),
    poured("2", "08:00", "B", A=5),
    event("3", "08:00", "thaw_seen", container="A", ice=True),
    event("4", "08:00", "warmed", container="A", how="stovetop"),
    event("5", "08:00", "feed_began", container="A", child="mia"),
    event("6", "08:00", "feed_ended", container="A", left_ml=0),
    event("7", "08:00", "discarded", container="A", ml=3, why="spilt"),
    event("8", "08:00", "counted", container="A", ml=3),
    event("9", "08:00", "added", container="A", what="other"),
    event("10", "08:00", "handed_over", container="A", to="childcare"),
    event("11", "08:00", "received", container="A", place="fridge"),
    event("12", "08:00", "returned", container="A", place="fridge"),
    event("13", "08:00", "held", container="A", why="alcohol", until="2026-05-07"),
    event("14", "08:00", "released", container="A", why="other"),
    event("15", "08:00", "measured", place="fridge", temp_c=3.9),
    event("16", "08:00", "power_lost", place="fridge", fill="full"),
    event("17", "08:00", "power_back", place="fridge"),
    event("18", "08:00", "nursed", child="mia", minutes=12),
    event("19", "08:00", "fed_other", child="mia", what="donor", ml=30),
    event("20", "08:00", "day_complete", child="mia", date="2026-05-05"),
    event("21", "08:00", "weighed", child="mia", kg=4.2),
    event("21a", "08:00", "checked", child="mia", found="stop", container="A", why=["held"]),
    event("21b", "08:00", "incident", child="mia", container="A", steps=["told_parents"], says="Told both by phone."),
    event("21c", "08:00", "cleaned", what="kit", how="sanitised"),
    void("22", "08:00", "21"),
]
KINDS = {
    *("household", "place", "child", "expressed", "stocked", "moved", "poured", "thaw_seen", "warmed", "feed_began"),
    *("feed_ended", "discarded", "counted", "added", "handed_over", "received", "returned", "held", "released"),
    *("measured", "power_lost", "power_back", "nursed", "fed_other", "day_complete", "weighed", "voided"),
    *("checked", "incident", "cleaned"),
}


def schema() -> dict[str, Any]:
    ran = thawline("replay", "--schema")
    assert (ran.code, ran.err) == (0, "")
    return ran.json()


def test_the_schema_takes_a_sample_of_every_kind_and_so_does_replay(tmp_path: Path) -> None:
    found = schema()
    jsonschema.Draft202012Validator.check_schema(found)
    check = jsonschema.Draft202012Validator(found)
    assert {one["kind"] for one in SAMPLES} == KINDS
    for sample in SAMPLES:
        check.validate(sample)
        ran = replay(tmp_path, [sample])
        assert not {code for _, code in ran.refused()} & {"bad_time"}, sample
        assert not [each for each in ran.json()["refused"] if "line 1" in each["says"]], sample


@pytest.mark.parametrize(
    "change", [{"kind": "exploded"}, {"colour": "blue"}, {"id": None}, {"at": 5}, {"container": ""}, {"to": None}]
)
def test_the_schema_refuses_what_replay_refuses(change: dict[str, Any], tmp_path: Path) -> None:
    bad = {**event("x", "09:00", "moved", container="A", to="fridge"), **change}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema()).validate(bad)
    assert [code for _, code in replay(tmp_path, [*settings(), bad]).refused()] == ["bad_event"]


def test_the_schema_knows_every_kind_and_no_other() -> None:
    assert {definition["properties"]["kind"]["enum"][0] for definition in kinds(schema())} == KINDS


def kinds(found: dict[str, Any]) -> list[dict[str, Any]]:
    return [each for each in found["$defs"].values() if "kind" in each["properties"] and "at" in each["properties"]]
