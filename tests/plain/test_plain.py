"""The plain judge itself, on small stories with figures that the sources print."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from .judge import judge

PLACES = {
    "room": ("room", 23),
    "fridge": ("refrigerator", 3.5),
    "cooler": ("cooler", None),
    "freezer": ("freezer", -18),
    "deep": ("deep_freezer", -20),
    "compartment": ("freezer_compartment", None),
}


class Story:
    """A ledger written in local time."""

    def __init__(self, zone: str = "UTC", **temps: float | None) -> None:
        """Places as usual, but for the temperatures given."""
        self.zone = zone
        self.lines: list[dict] = [{"id": "h", "at": "2026-01-01", "kind": "household", "zone": zone}]
        for name, (kind, temp) in PLACES.items():
            self.add("2026-01-01", "place", place=name, temp_c=temps.get(name, temp), **{"is": kind})
        self.add("2026-01-01", "child", child="kid", born="2026-01-01", care="home")

    def time(self, text: str) -> datetime:
        """A local time."""
        return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(self.zone))

    def add(self, at: str, kind: str, **fields: object) -> Story:
        """One more event."""
        fields = {k: v for k, v in fields.items() if v is not None}
        at = at if len(at) == 10 else self.time(at).isoformat()
        self.lines.append({"id": f"e{len(self.lines):03}", "at": at, "kind": kind, **fields})
        return self

    def expressed(self, at: str, place: str, container: str = "A", ml: float = 120, **more: object) -> Story:
        """Milk comes in."""
        return self.add(at, "expressed", into=[{"container": container, "ml": ml}], place=place, **more)

    def moved(self, at: str, to: str, container: str = "A") -> Story:
        """Milk goes elsewhere."""
        return self.add(at, "moved", container=container, to=to)

    def at(self, now: str, guideline: str = "cdc", *also: str, container: str = "A") -> dict:
        """The verdict, with its times local again."""
        found = judge(self.lines, guideline, self.time(now), list(also))[container]
        for key in ("use_by", "best_by"):
            if found[key] is not None:
                found[key] = found[key].astimezone(ZoneInfo(self.zone)).strftime("%Y-%m-%d %H:%M")
        found["acts"] = {what for what, _ in found["breaches"]}
        return found


# US CDC, "Breast Milk Storage and Preparation"; ABM, "Clinical Protocol #8" (2017); Breastfeeding Network (UK),
# "Expressing and storing breast milk"; NHMRC, "Infant Feeding Guidelines"; AAP, HealthyChildren.
@pytest.mark.parametrize(
    ("guideline", "use_by"),
    [("cdc", "13:20"), ("abm", "13:20"), ("bfn", "15:20"), ("nhmrc", "15:20"), ("aap", "13:20")],
)
def test_fresh_at_room_temperature(guideline: str, use_by: str) -> None:
    story = Story().expressed("2026-05-06 09:20", "room")
    assert story.at("2026-05-06 10:00", guideline)["use_by"] == f"2026-05-06 {use_by}"


# ABM, "Clinical Protocol #8" (2017): longer only where very cleanly expressed.
def test_very_clean_handling_unlocks_the_longer_figure() -> None:
    story = Story().expressed("2026-05-06 09:20", "room", handling="very_clean")
    found = story.at("2026-05-06 10:00", "abm")
    assert (found["use_by"], found["best_by"]) == ("2026-05-06 15:20", "2026-05-06 13:20")


# US CDC, "Breast Milk Storage and Preparation": the table ends at 77 F.
def test_a_room_too_hot_for_the_table() -> None:
    found = Story(room=26.5).expressed("2026-05-06 09:20", "room").at("2026-05-06 10:00")
    assert (found["standing"], found["use_by"]) == ("outside", "2026-05-06 09:20")


def test_the_last_hour_is_included() -> None:
    story = Story().expressed("2026-05-06 09:20", "room")
    assert story.at("2026-05-06 13:20")["standing"] == "ok"
    assert story.at("2026-05-06 13:20:01")["standing"] == "past"


# As above, with milk brought to room temperature as Alabama Cooperative Extension restates it: 2 h.
def test_out_of_the_refrigerator_again() -> None:
    story = Story().expressed("2026-05-06 07:10", "room").moved("2026-05-06 08:40", "fridge")
    story.moved("2026-05-07 11:00", "room")
    assert story.at("2026-05-07 11:30")["use_by"] == "2026-05-07 13:00"


# US CDC, "Travel Recommendations for Nursing Families": 24 h in a cooler.
def test_cooler_in_time_and_too_late() -> None:
    def trip(arrival: str) -> Story:
        story = Story().expressed("2026-05-06 08:30", "room").moved("2026-05-06 08:45", "cooler")
        return story.moved(arrival, "fridge")

    found = trip("2026-05-07 07:55").at("2026-05-07 10:00")
    assert (found["use_by"], found["standing"]) == ("2026-05-10 08:30", "ok")
    found = trip("2026-05-07 09:30").at("2026-05-07 10:00")
    assert (found["use_by"], found["acts"]) == ("2026-05-07 08:45", {"cdc.fresh_cooler"})


# A cooler found warm counts as a room since the milk went in (ours).
def test_a_cooler_found_warm() -> None:
    story = Story().expressed("2026-05-06 08:30", "room").moved("2026-05-06 08:45", "cooler")
    story.add("2026-05-06 11:45", "measured", place="cooler", temp_c=18)
    assert story.at("2026-05-06 12:00")["use_by"] == "2026-05-06 12:30"


@pytest.mark.parametrize(
    ("guideline", "temp", "use_by", "standing"),
    [
        ("cdc", 3.5, "2026-06-23 06:50", "ok"),
        ("abm", 3.5, "2026-06-23 06:50", "ok"),
        ("nhmrc", 3.5, "2026-06-22 06:50", "ok"),
        ("bfn", 3.5, "2026-06-27 06:50", "ok"),
        ("aap", 3.5, "2026-06-27 06:50", "ok"),
        ("bfn", 6, "2026-06-22 06:50", "ok"),
        ("cdc", 6, "2026-06-19 06:58", "outside"),
        ("bfn", None, "2026-06-22 06:50", "ok"),
        ("cdc", 4.44, "2026-06-23 06:50", "ok"),
        ("nhmrc", 4.44, "2026-06-19 06:58", "outside"),
    ],
)
def test_in_the_refrigerator(guideline: str, temp: float | None, use_by: str, standing: str) -> None:
    story = Story(fridge=temp).expressed("2026-06-19 06:50", "room").moved("2026-06-19 06:58", "fridge")
    found = story.at("2026-06-19 08:00", guideline)
    assert (found["use_by"], found["standing"]) == (use_by, standing)


def test_refrigerator_days_count_from_expression() -> None:
    story = Story(room=21).expressed("2026-09-02 11:25", "room").moved("2026-09-02 14:25", "fridge")
    assert story.at("2026-09-02 15:00")["use_by"] == "2026-09-06 11:25"


def test_two_sessions_pooled_in_a_new_bottle() -> None:
    story = Story(room=24).expressed("2026-05-06 10:05", "room").expressed("2026-05-06 12:35", "room", "B")
    both = [{"container": "A", "ml": 120}, {"container": "B", "ml": 120}]
    story.add("2026-05-06 12:40", "poured", into="C", **{"from": both})
    found = story.at("2026-05-06 13:00", container="C")
    assert (found["use_by"], found["breaches"]) == ("2026-05-06 14:05", set())


# US CDC, "Breast Milk Storage and Preparation": 6 months best, 12 acceptable, from first freezing.
def test_frozen_in_time() -> None:
    story = Story().expressed("2026-08-11 17:45", "fridge").moved("2026-08-15 17:30", "freezer")
    found = story.at("2026-08-15 18:00")
    assert (found["best_by"], found["use_by"]) == ("2027-02-15 17:30", "2027-08-15 17:30")
    assert story.at("2026-08-15 18:00", "cdc", "us-or")["use_by"] == "2027-02-11 17:45"
    assert story.at("2026-08-15 18:00", "nhmrc")["acts"] == {"nhmrc.fresh_refrigerator"}


def test_frozen_too_late() -> None:
    story = Story().expressed("2026-08-11 17:45", "fridge").moved("2026-08-15 17:50", "freezer")
    found = story.at("2026-08-15 18:00")
    assert (found["acts"], found["use_by"]) == ({"cdc.fresh_refrigerator"}, "2026-08-15 17:45")


def test_months_end_is_clamped() -> None:
    story = Story().expressed("2026-08-31 08:00", "room").moved("2026-08-31 09:00", "freezer")
    assert story.at("2026-08-31 10:00")["best_by"] == "2027-02-28 09:00"


def test_another_freezer_does_not_restart_the_months() -> None:
    story = Story().expressed("2027-01-09 08:00", "room").moved("2027-01-09 09:00", "freezer")
    found = story.moved("2027-03-20 09:00", "deep").at("2027-03-20 10:00")
    assert (found["best_by"], found["use_by"]) == ("2027-07-09 09:00", "2028-01-09 09:00")


def frozen() -> Story:
    story = Story().expressed("2026-06-10 08:00", "room").moved("2026-06-10 09:00", "freezer")
    return story.moved("2026-06-22 21:30", "fridge")


# US CDC, "Travel Recommendations for Nursing Families": 24 h from complete thaw. Breastfeeding Network: 12 h from
# leaving the freezer. Oregon's childcare rules count the defrosting.
def test_thawed_in_the_refrigerator() -> None:
    story = frozen().add("2026-06-23 05:30", "thaw_seen", container="A", ice=True)
    story.add("2026-06-23 05:31", "thaw_seen", container="A", ice=False)
    found = story.at("2026-06-23 06:00")
    assert (found["use_by"], found["form"]) == ("2026-06-24 05:30", "thawed")
    assert story.at("2026-06-23 06:00", "bfn")["use_by"] == "2026-06-23 09:30"
    assert story.at("2026-06-23 06:00", "cdc", "us-or")["use_by"] == "2026-06-23 21:30"


def test_nobody_watched_it_thaw() -> None:
    story = frozen().add("2026-06-23 07:40", "thaw_seen", container="A", ice=False)
    assert story.at("2026-06-23 08:00")["use_by"] == "2026-06-23 21:30"
    story.add("2026-06-23 04:20", "thaw_seen", container="A", ice=True)
    assert story.at("2026-06-23 08:00")["use_by"] == "2026-06-24 04:20"


def test_warming_gives_nothing_beyond_the_thawed_limit() -> None:
    story = frozen().add("2026-06-23 05:30", "thaw_seen", container="A", ice=True)
    story.add("2026-06-23 06:30", "thaw_seen", container="A", ice=False)
    story.add("2026-06-24 04:50", "warmed", container="A", how="warm_water")
    assert story.at("2026-06-24 05:00")["use_by"] == "2026-06-24 05:30"


def test_thawed_is_not_refrozen() -> None:
    story = frozen().add("2026-06-23 07:40", "thaw_seen", container="A", ice=False)
    assert story.moved("2026-06-23 08:00", "freezer").at("2026-06-23 09:00")["acts"] == {"refreeze"}


# US CDC lets milk with ice in it be refrozen; NHMRC does not.
def test_with_ice_still_in_it() -> None:
    story = frozen().add("2026-06-23 00:30", "thaw_seen", container="A", ice=True)
    story.moved("2026-06-23 00:40", "freezer")
    found = story.at("2026-06-23 09:00")
    assert (found["acts"], found["form"], found["use_by"]) == (set(), "frozen", "2027-06-10 09:00")
    assert story.at("2026-06-23 09:00", "nhmrc")["acts"] == {"refreeze_partial"}


def test_an_hour_in_the_freezer_gains_nothing() -> None:
    story = Story().expressed("2026-06-10 08:00", "fridge").moved("2026-06-14 07:30", "freezer")
    found = story.moved("2026-06-14 07:50", "fridge").at("2026-06-14 07:55")
    assert (found["form"], found["use_by"]) == ("thawing", "2026-06-14 08:00")


# The 2 h for warmed milk as Alabama Cooperative Extension restates the US CDC.
def test_warmed_never_frozen() -> None:
    story = Story().expressed("2026-06-10 20:00", "fridge").moved("2026-06-11 08:10", "room")
    story.add("2026-06-11 08:10", "warmed", container="A", how="warm_water")
    assert story.at("2026-06-11 08:30")["use_by"] == "2026-06-11 10:10"
    story.moved("2026-06-11 08:25", "fridge")
    found = story.at("2026-06-11 08:30", "cdc", "us-or")
    assert (found["use_by"], found["acts"]) == ("2026-06-11 10:10", {"warmed_to_cold"})


# Leftover: US CDC 2 h after the baby has finished; ABM 1 h; Breastfeeding Network 1 h from the first drink; Oregon 2 h
# from serving; NHMRC none.
@pytest.mark.parametrize(
    ("guideline", "also", "use_by"),
    [
        ("cdc", [], "08:40"),
        ("abm", [], "08:15"),
        ("bfn", [], "07:50"),
        ("cdc", ["us-or"], "08:40"),
        ("nhmrc", [], "07:15"),
    ],
)
def test_left_over(guideline: str, also: list[str], use_by: str) -> None:
    story = Story().expressed("2026-06-10 20:00", "fridge").moved("2026-06-11 06:40", "room")
    story.add("2026-06-11 06:40", "warmed", container="A", how="warm_water")
    story.add("2026-06-11 06:50", "feed_began", container="A", child="kid")
    story.add("2026-06-11 07:15", "feed_ended", container="A", left_ml=30)
    found = story.at("2026-06-11 07:15", guideline, *also)
    assert (found["use_by"], found["breaches"]) == (f"2026-06-11 {use_by}", set())


def test_feeding_past_the_limit_is_a_breach() -> None:
    story = Story().expressed("2026-05-06 09:20", "room")
    story.add("2026-05-06 13:21", "feed_began", container="A", child="kid")
    found = story.at("2026-05-06 13:30")
    assert (found["standing"], found["acts"]) == ("breached", {"cdc.fresh_room"})


# Hours are elapsed time, whatever the clock on the wall does (ours).
@pytest.mark.parametrize(
    ("zone", "at", "place", "use_by"),
    [
        ("America/New_York", "2026-03-08 01:15", "room", "2026-03-08 06:15"),
        ("America/New_York", "2026-11-01 00:40", "room", "2026-11-01 03:40"),
        ("America/New_York", "2026-10-29 09:30", "fridge", "2026-11-02 08:30"),
        ("America/New_York", "2026-03-05 09:30", "fridge", "2026-03-09 10:30"),
    ],
)
def test_clock_changes(zone: str, at: str, place: str, use_by: str) -> None:
    assert Story(zone).expressed(at, place).at(at)["use_by"] == use_by


def test_thawed_over_the_spring_change() -> None:
    story = Story("Europe/London").expressed("2026-03-20 08:00", "freezer").moved("2026-03-28 06:00", "fridge")
    story.add("2026-03-28 11:45", "thaw_seen", container="A", ice=True)
    assert story.at("2026-03-28 12:00")["use_by"] == "2026-03-29 12:45"


def test_a_bare_date_counts_from_its_first_minute() -> None:
    story = Story("Europe/London")
    story.add("2026-07-04 08:00", "stocked", container="A", ml=100, place="fridge", expressed="2026-07-03")
    assert story.at("2026-07-04 09:00")["use_by"] == "2026-07-07 00:00"


def test_a_short_excursion_is_forgotten_and_a_long_one_is_not() -> None:
    story = Story().expressed("2026-06-10 08:00", "fridge").moved("2026-06-10 12:00", "room")
    story.moved("2026-06-10 12:15", "fridge")
    assert story.at("2026-06-10 12:30")["use_by"] == "2026-06-14 08:00"
    story.moved("2026-06-10 13:00", "room").moved("2026-06-10 13:06", "fridge")
    assert story.at("2026-06-10 13:10")["use_by"] == "2026-06-10 15:00"


def test_a_hold_ends_only_when_released() -> None:
    story = Story().expressed("2026-06-10 08:00", "fridge")
    story.add("2026-06-10 09:00", "held", container="A", why="medicine")
    assert story.at("2026-06-10 10:00")["standing"] == "held"
    story.add("2026-06-10 09:30", "released", container="A")
    assert story.at("2026-06-10 10:00")["standing"] == "ok"


# US FDA and USDA, advice on food in a power cut: 4 h for a closed refrigerator.
def test_power_cut() -> None:
    story = Story(fridge=None).expressed("2026-06-10 08:00", "fridge")
    story.add("2026-06-10 20:10", "power_lost", place="fridge")
    assert story.at("2026-06-10 23:55")["use_by"] == "2026-06-14 08:00"
    story.add("2026-06-11 00:40", "power_back", place="fridge")
    assert story.at("2026-06-11 01:00")["standing"] == "outside"
    story.add("2026-06-11 00:41", "measured", place="fridge", temp_c=3.9)
    assert story.at("2026-06-11 01:00")["use_by"] == "2026-06-14 08:00"
