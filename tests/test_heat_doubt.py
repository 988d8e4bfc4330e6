"""Where a bound has to give way: what a household noted leaves room for an earlier start than the model's.

Each is a way in which milk can start its clock sooner than a container in order would: the strict rule stands there.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from thawline.core.component import Bounds
from thawline.core.replay import run
from thawline.core.times import HOUR, MINUTE, parse_instant
from thawline.core.verdict import Verdict
from thawline.engines.physics import assumed, fit
from thawline.engines.physics.spread import INFINITE, Air, Range
from thawline.services.ledger_bounds import of_ledger

BEGINS = datetime(2027, 3, 1, 6, tzinfo=UTC)
START = parse_instant("2027-03-01T06:00:00Z")
PLACES = {
    "room": "room", "fridge": "refrigerator", "freezer": "freezer", "garage": "freezer",
    "compartment": "freezer_compartment",
}  # fmt: skip
BAG = {"shape": "flat", "thickness_mm": 15}
BOTTLE = {"shape": "upright", "diameter_mm": 50}
OUT = 72.25


class Ledger:
    """A ledger written down by hours from its start; the container is A unless another is named."""

    def __init__(self, vessel: dict[str, Any] | None = None) -> None:
        self.vessel = BAG if vessel is None else vessel
        self.events: list[dict[str, Any]] = []
        self.add(0, kind="household", zone="UTC", guideline="cdc")
        for name, kind in PLACES.items():
            self.add(0, kind="place", place=name, **{"is": kind})

    def add(self, hours: float, **fields: Any) -> Ledger:
        at = (BEGINS + timedelta(hours=hours)).isoformat()
        self.events.append({"id": f"e{len(self.events):03}", "at": at, **fields})
        return self

    def expressed(self, hours: float, place: str, *names: str) -> Ledger:
        into = [{"container": name, "ml": 120} for name in names or ("A",)]
        return self.add(hours, kind="expressed", into=into, place=place, vessel=self.vessel)

    def stocked(self, hours: float, place: str, expressed_h: float, form: str) -> Ledger:
        expressed = (BEGINS + timedelta(hours=expressed_h)).isoformat()
        return self.add(
            hours, kind="stocked", container="A", ml=120, place=place, expressed=expressed, form=form,
            vessel=self.vessel,
        )  # fmt: skip

    def moved(self, hours: float, to: str, name: str = "A") -> Ledger:
        return self.add(hours, kind="moved", container=name, to=to)

    def read(self, hours: float, place: str, c: float) -> Ledger:
        return self.add(hours, kind="measured", place=place, temp_c=c)

    def seen(self, hours: float, *, ice: bool, name: str = "A") -> Ledger:
        return self.add(hours, kind="thaw_seen", container=name, ice=ice)

    def power(self, place: str, lost: float, back: float | None = None, fill: str = "full") -> Ledger:
        self.add(lost, kind="power_lost", place=place, fill=fill)
        return self if back is None else self.add(back, kind="power_back", place=place)

    @property
    def lines(self) -> list[bytes]:
        return [json.dumps(one).encode() for one in self.events]

    def bounds(self, hours: float) -> Bounds:
        return of_ledger(self.lines, now=instant(hours))

    def verdict(self, hours: float, bounds: Bounds | None) -> Verdict:
        found = run(self.lines, now=instant(hours), bounds=bounds, everything=True).verdicts
        return next(one for one in found if one.container == "A")


def instant(hours: float) -> int:
    return START + round(hours * 60) * MINUTE


def frozen(vessel: dict[str, Any] | None = None) -> Ledger:
    """A measured bag, three days in the freezer."""
    return Ledger(vessel).read(0, "freezer", -18).read(70, "fridge", 3).expressed(0, "room").moved(0.25, "freezer")


def thawing(vessel: dict[str, Any] | None = None) -> Ledger:
    return frozen(vessel).moved(OUT, "fridge")


def test_in_order_there_is_a_bound() -> None:
    assert ("A", instant(OUT)) in thawing().bounds(80).thawed_early


CASES: dict[str, Callable[[], Ledger]] = {
    "put_by_as_fresh_in_a_freezer_half_an_hour_ago": lambda: (
        frozen().stocked(71.7, "freezer", 71, "fresh").moved(OUT, "fridge")
    ),
    "put_by_as_frozen_an_hour_after_it_was_expressed": lambda: (
        frozen().stocked(71.7, "freezer", 71, "frozen").moved(OUT, "fridge")
    ),
    "moved_on_at_once_to_a_freezer_that_is_hardly_cold": lambda: (
        Ledger().read(0, "freezer", -26).read(0, "garage", -7).read(20, "fridge", 3).expressed(0, "room")
        .moved(0.25, "freezer").moved(0.5, "garage").moved(20, "fridge")
    ),
    "a_cold_freezer_that_was_only_said_to_be_so": lambda: (
        Ledger().add(0, kind="place", place="new", **{"is": "freezer", "temp_c": -30}).read(15, "fridge", 3)
        .expressed(0, "room").moved(0.25, "new").moved(15, "fridge")
    ),
    "a_freezer_compartment_that_nobody_read": lambda: (
        Ledger().read(70, "fridge", 3).expressed(0, "room").moved(0.25, "compartment").moved(OUT, "fridge")
    ),
    "an_hour_after_a_cut_of_forty_hours_in_the_freezer": lambda: (
        frozen().power("freezer", 30, 71).moved(OUT, "fridge")
    ),
    "the_power_failed_while_it_froze": lambda: (
        Ledger().read(0, "freezer", -24).read(20, "fridge", 3).expressed(0, "room").moved(0.25, "freezer")
        .power("freezer", 0.5).moved(23, "fridge")
    ),
    "the_freezer_was_read_warm_the_day_before": lambda: (
        frozen().read(60, "freezer", -2).read(61, "freezer", -18).moved(OUT, "fridge")
    ),
    "the_refrigerator_was_read_before_its_power_failed": lambda: (
        frozen().power("fridge", 70.5, 72).moved(OUT, "fridge")
    ),
    "fresh_milk_was_poured_onto_it_an_hour_before": lambda: (
        frozen().expressed(71, "room", "B")
        .add(71.2, kind="poured", **{"from": [{"container": "B", "ml": 100}], "into": "A"}).moved(OUT, "fridge")
    ),
    "a_bag_of_120_ml_noted_as_900_mm_thick": lambda: thawing({"shape": "flat", "thickness_mm": 900}),
    "a_bag_of_120_ml_noted_as_1_mm_thick": lambda: thawing({"shape": "flat", "thickness_mm": 1}),
    "a_bottle_of_120_ml_noted_as_10_mm_wide": lambda: thawing({"shape": "upright", "diameter_mm": 10}),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_no_bound_of_a_thaw_where_it_may_have_been_less_than_frozen(case: str) -> None:
    ledger = CASES[case]()
    if case.startswith("put_by"):
        # The other container of that name is left out.
        ledger.events = [
            one for one in ledger.events
            if one["kind"] != "expressed" and not (one["kind"] == "moved" and one["to"] == "freezer")
        ]  # fmt: skip
    assert not ledger.bounds(80).thawed_early


def test_a_refrigerator_that_becomes_a_room_ends_the_bound_then() -> None:
    ledger = thawing().add(73, kind="place", place="fridge", **{"is": "room"})
    assert ledger.bounds(80).thawed_early["A", instant(OUT)] == instant(73)


def test_a_warm_thermometer_in_the_milk_brings_the_bound_forward() -> None:
    ledger = thawing().add(73, kind="measured", container="A", temp_c=14)
    assert ledger.bounds(80).thawed_early["A", instant(OUT)] < thawing().bounds(80).thawed_early["A", instant(OUT)]


def test_a_refrigerator_read_far_below_freezing_counts_as_at_freezing() -> None:
    at = [Ledger().read(0, "freezer", -18).read(70, "fridge", c).expressed(0, "room").moved(0.25, "freezer")
          .moved(OUT, "fridge").bounds(80).thawed_early["A", instant(OUT)] for c in (0, -50)]  # fmt: skip
    assert at[0] == at[1]


def test_a_bag_poured_fuller_after_it_was_measured_counts_as_no_thicker() -> None:
    fuller = (
        frozen().read(100, "freezer", -18).expressed(20, "fridge", "B")
        .add(30, kind="poured", **{"from": [{"container": "B", "ml": 100}], "into": "A"})
        .read(120, "fridge", 3).moved(120, "fridge")
    )  # fmt: skip
    plain = frozen().read(100, "freezer", -18).read(120, "fridge", 3).moved(120, "fridge")
    assert (
        fuller.bounds(130).thawed_early["A", instant(120)] <= plain.bounds(130).thawed_early["A", instant(120)] + MINUTE
    )


def test_a_warm_freezer_long_after_milk_was_solid_does_not_undo_that() -> None:
    ledger = Ledger().read(0, "freezer", -18).expressed(0, "fridge").moved(5, "freezer")
    ledger.read(500, "freezer", -4).read(500.5, "freezer", -18).read(700, "fridge", 3).moved(700, "fridge")
    found = ledger.verdict(701, ledger.bounds(701))
    assert found.use_by is not None and found.use_by >= instant(724)


def test_milk_seen_liquid_before_the_bound_counts_from_when_it_was_last_known_frozen() -> None:
    ledger = thawing().seen(OUT + 2, ice=False)
    assert not ledger.bounds(80).thawed_early
    given = Bounds(thawed_early={("A", instant(OUT)): instant(OUT + 10)})
    assert ledger.verdict(80, given).use_by == instant(OUT + 24)
    looked = thawing().seen(OUT + 1, ice=True).seen(OUT + 2, ice=False)
    assert looked.verdict(80, given).use_by == instant(OUT + 25)


def test_ice_seen_before_the_bound_does_not_bring_its_start_forward() -> None:
    ledger = thawing().seen(OUT + 2, ice=True)
    assert ledger.verdict(80, ledger.bounds(80)).use_by == thawing().verdict(80, thawing().bounds(80)).use_by
    late = thawing().seen(OUT + 8, ice=True)
    assert late.verdict(81, late.bounds(81)).use_by == instant(OUT + 32)


# Out of the refrigerator for a while


def out(room_c: float = 18, *, at: float = 30, read: float | None = None) -> Ledger:
    """A bottle from a refrigerator, 36 min in a room."""
    ledger = Ledger(BOTTLE).read(0, "fridge", 4).read(24, "fridge", 4).expressed(0, "fridge")
    return ledger.read(at if read is None else read, "room", room_c).moved(at, "room").moved(at + 0.6, "fridge")


def warm_h(ledger: Ledger, at: float = 30) -> float | None:
    found = ledger.bounds(at + 1).warm_early.get(("A", instant(at)))
    return None if found is None else (found - instant(at)) / HOUR


def test_a_room_read_long_before_or_far_too_cold_counts_as_no_colder_than_rooms_are() -> None:
    usual = warm_h(out(18))
    assert usual is not None
    assert warm_h(out(-50)) == usual
    stale, hot, unread = (warm_h(out(c, read=20)) for c in (18, 35, 28))
    assert stale is not None and hot is not None and unread is not None
    assert hot < stale < usual


@pytest.mark.parametrize(
    "ledger",
    [
        Ledger(BOTTLE).read(24, "fridge", 4).stocked(29.9, "fridge", 5, "fresh").read(30, "room", 18).moved(30, "room"),
        out().power("fridge", 25, 28.9),
        Ledger().read(24, "fridge", 4).expressed(22, "fridge", *"ABCDEF").read(30, "room", 18).moved(30, "room"),
        out().add(30, kind="moved", container="A", to="fridge").add(30, kind="moved", container="A", to="room"),
    ],
    ids=["noted_just_now", "its_refrigerator_had_no_power", "six_bags_on_each_other", "two_moves_in_one_minute"],
)
def test_no_bound_of_warming_where_it_may_not_have_been_cold(ledger: Ledger) -> None:
    assert warm_h(ledger) is None


def test_milk_that_a_thermometer_found_warm_is_warm() -> None:
    assert warm_h(out().add(30.2, kind="measured", container="A", temp_c=17)) == 0


# What was seen of thaws


@pytest.mark.parametrize(
    "ledger",
    [
        thawing().seen(OUT, ice=False),
        Ledger().read(70, "fridge", -3).expressed(0, "room").moved(0.25, "freezer").moved(OUT, "fridge")
        .seen(OUT + 5, ice=True),
        frozen().read(60, "freezer", 3).moved(OUT, "fridge").seen(OUT + 1, ice=False),
        thawing().seen(OUT + 10, ice=True).seen(OUT + 8, ice=False),
    ],
    ids=["liquid_as_it_arrived", "a_refrigerator_below_freezing", "a_freezer_above_it", "ice_after_there_was_none"],
)  # fmt: skip
def test_sightings_that_cannot_be_leave_the_bounds_as_they_were(ledger: Ledger) -> None:
    unseen = Ledger()
    unseen.events = [one for one in ledger.events if one["kind"] != "thaw_seen"]
    assert ledger.bounds(90).solid_late == unseen.bounds(90).solid_late


def test_one_absurd_sighting_moves_no_bound_and_many_move_it_no_further_than_what_is_likely() -> None:
    def with_sightings(count: int) -> float:
        ledger = thawing()
        names = [f"N{number}" for number in range(count)]
        for name in names:
            ledger.expressed(0, "room", name).moved(0.25, "freezer", name).moved(OUT, "fridge", name)
            ledger.seen(OUT + 60, ice=True, name=name)
        for hours in (93, 116, 133):
            ledger.read(hours, "fridge", 3)
        ledger.expressed(0, "room", "Z").moved(0.25, "freezer", "Z").moved(140, "fridge", "Z")
        return (ledger.bounds(150).thawed_early["Z", instant(140)] - instant(140)) / HOUR

    plain = with_sightings(0)
    assert with_sightings(1) == pytest.approx(plain, rel=0.05)
    # A likely thaw of such a bag at 3 C takes 18 h.
    assert with_sightings(20) < 12


def test_two_contradictions_do_not_make_one_sense() -> None:
    bag, air = assumed.vessel("flat", 120, 15, measured=True), Air(assumed.measured_c(4), fit.PRIOR)
    nothing = fit.film([fit.Seen(bag, air, 0, INFINITE)])
    assert fit.film([fit.Seen(bag, air, 20, 10)] * 2) == pytest.approx(nothing)
    assert fit.film([fit.Seen(bag, Air(Range.exactly(-3), fit.PRIOR), 5, INFINITE)]) == pytest.approx(nothing)


# Power


def test_a_freezer_that_became_a_refrigerator_holds_as_a_refrigerator_does() -> None:
    ledger = frozen().add(100, kind="place", place="freezer", **{"is": "refrigerator"}).power("freezer", 100.5)
    assert ledger.verdict(104.4, None).standing == "fine"
    assert ledger.verdict(106, None).standing == "outside"
