"""The simulated households themselves, and what Thawline comes to on some of them."""

from __future__ import annotations

import ast
import math
import os
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from bench import bench_households
from bench.simulated import compare, families, world
from bench.simulated.audit import audit, faults
from bench.simulated.by_hand import ByHand, Sizes, fixed
from bench.simulated.compare import GREEDY, HAND, KNOWING, THAWLINE, Household, Job
from bench.simulated.families import KINDS, Family, Kind
from bench.simulated.figures import figure, figures
from bench.simulated.house import Clock, House
from bench.simulated.ways import live
from bench.simulated.world import Course, Scale

CALM = Scale(surprises=0.0, forgetting=0.0)


def drawn(kind: Kind = "balanced", number: int = 0, days: int = 20) -> Course:
    return world.course(families.draw(5, number, kind, days), seed=5, days=days)


def lived(days: Course, sizes: Sizes, *, whole: bool = False) -> House:
    house = House(days.family, days.thaw)
    live(ByHand(house, days, fixed(sizes), whole=whole), house, days)
    return house


# What it is drawn from


def test_every_figure_has_a_mark_and_where_it_is_published_a_source() -> None:
    for name, table in figures().items():
        for key, row in table.items():
            assert row["mark"] in ("seen", "second-hand", "practice", "invented"), (name, key)
            assert row["source"] or row["mark"] in ("practice", "invented"), (name, key)


@pytest.mark.parametrize(("age_d", "ml"), [(30, 624), (91, 735), (182, 729), (365, 593)])
def test_usual_milk_is_the_published_curve_a_little_raised(age_d: float, ml: float) -> None:
    # Rios-Leyvraz & Yao 2023: 624, 735, 729, 593 mL/day at 1, 3, 6, 12 months; raised by 6 % (ours).
    assert families.usual_ml(age_d) / 1.06 == pytest.approx(ml, rel=0.02)


def test_infants_differ_as_published() -> None:
    # Dewey 1991 (DARLING), 3 months: between-infant CV 16.3 %.
    levels = [families.draw(9, n, "balanced", 10).level for n in range(600)]
    assert np.std(levels) / np.mean(levels) == pytest.approx(0.163, abs=0.015)
    assert np.mean(levels) == pytest.approx(1, abs=0.02)


def test_days_differ_as_published() -> None:
    # Dewey 1991: within-infant day-to-day CV 8.9 %.
    family = families.draw(9, 0, "balanced", 10)
    rng = np.random.default_rng(1)
    totals = world.day_totals(rng, family, 4000, CALM)[:120]
    trend = np.array([family.day_ml(family.age_d + day) for day in range(120)])
    runs = [world.day_totals(np.random.default_rng(n), family, 120, CALM) / trend for n in range(40)]
    assert len(totals) == 120
    assert np.std(np.concatenate(runs)) == pytest.approx(0.089, abs=0.006)


def test_feeds_differ_as_published() -> None:
    # Mitoulas 2002: CV 37 % of a feed; Early Hum Dev 1981: 26 %; 35 % taken, a little less of what shares one day.
    rng, hours = np.random.default_rng(2), np.arange(8.0, 16.0)
    found = [world.split(rng, 780.0, hours, figure("feeds", "cv")) / (780 / 8) for _ in range(800)]
    assert np.std(np.concatenate(found)) == pytest.approx(0.33, abs=0.03)


def test_mothers_sessions_differ_as_published() -> None:
    # Mitoulas 2002: one breast, 5 min, 60.6 +/- 39.0 mL: twice that from both, CV 0.64.
    rng = np.random.default_rng(3)
    sizes = [families.session_size(rng) for _ in range(6000)]
    assert np.mean(sizes) == pytest.approx(121.2, rel=0.04)
    assert np.std(sizes) / np.mean(sizes) == pytest.approx(0.64, abs=0.03)


def test_number_of_feeds_is_as_published() -> None:
    # Kent 2013: 7.6 sessions a day at 1 month, 6.6 at 3 to 6 months.
    days = drawn(days=60)
    family = days.family
    expected = np.mean([family.feeds(family.age_d + day) for day in range(60)])
    assert len(days.feeds) / 60 == pytest.approx(expected, abs=0.25)
    assert family.feeds(30) == pytest.approx(7.6)
    assert family.feeds(120) == pytest.approx(6.6)


def test_the_world_knows_nothing_of_the_product_and_no_part_of_it_the_engines() -> None:
    folder = Path(families.__file__).parent
    judging = {"audit", "spreadsheet", "thawline_way", "compare"}
    for path in sorted(folder.glob("*.py")):
        nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        names = [node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)]
        names += [alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names]
        assert not [name for name in names if name.startswith("thawline.engines")], path.name
        if path.stem not in judging:
            assert not [name for name in names if name.startswith("thawline")], path.name


# The world


@pytest.mark.parametrize("kind", KINDS)
def test_a_class_expresses_its_part_of_what_is_wanted(kind: Kind) -> None:
    low, high = figures()["classes"][kind]["value"]
    for number in range(6):
        days = drawn(kind, number)
        wanted = sum(feed.ml for feed in days.feeds if feed.bottle)
        assert low - 0.01 <= sum(one.ml for one in days.sessions) / wanted <= high + 0.01


def test_the_same_seed_gives_the_same_days_and_another_seed_others() -> None:
    assert drawn() == drawn()
    family = families.draw(5, 0, "balanced", 20)
    assert world.course(family, seed=6, days=20) != world.course(family, seed=5, days=20)


def test_a_way_changes_nothing_of_the_days() -> None:
    days = drawn()
    before = days.feeds
    lived(days, Sizes(60, 20, 60))
    assert days.feeds == before == drawn().feeds


@pytest.mark.parametrize("kind", get_args(Kind))
@pytest.mark.parametrize("sizes", [Sizes(), Sizes(120, 30, 120), Sizes(60, 20, 90)])
def test_no_millilitre_is_lost_and_the_core_agrees(kind: Kind, sizes: Sizes) -> None:
    for number in (0, 1, 2):
        days = drawn(kind, number)
        house = lived(days, sizes, whole=number == 2)
        count, there = house.count, sum(box.ml for box in house.boxes.values())
        assert count.fed + count.thrown + there == pytest.approx(count.expressed + count.stocked, abs=0.5)
        found = audit(house, 24.0 * days.days)
        assert faults(house, found) == []
        assert found.late_ml == found.refrozen_ml == 0
        assert abs(found.miscounted) < 0.5


def test_what_is_wanted_is_fed_or_given_as_formula() -> None:
    days = drawn("surplus", 1)
    house = lived(days, Sizes(60, 20, 90))
    wanted = sum(feed.ml for feed in days.feeds if feed.bottle)
    # At most 5 mL a feed are left out: nobody tops up for less.
    assert house.count.fed + house.count.short == pytest.approx(wanted, abs=5 * len(days.feeds))
    assert house.count.fed + house.count.short <= wanted + 1


def test_plain_deadlines_are_the_published_ones() -> None:
    # US CDC, Breast Milk Storage and Preparation: 4 days; thawed 24 hours; warmed 2 hours; freezer 12 months.
    assert Clock(10.0).until() == 10 + 96
    assert Clock(0.0, frozen_h=20.0).until() == 20 + 365 * 24
    assert Clock(0.0, frozen_h=20.0, left_h=500.0).until() == 524
    assert Clock(0.0, frozen_h=20.0, left_h=30.0).until() == 54
    assert Clock(0.0, frozen_h=20.0, left_h=500.0, warm_h=500.0).until() == 502


def test_milk_fed_or_frozen_too_late_is_found_by_the_core() -> None:
    days = drawn()
    house = House(days.family, days.thaw)
    late, twice = (house.express(at, 100.0, logged_h=at, out_h=0.0) for at in (1.0, 2.0))
    house.feed(98.5, late, 80.0, 0.2)
    house.move(97.9, twice, "freezer")  # a clock that runs on: after 98.5
    found = audit(house, 100)
    assert found.late_ml == pytest.approx(80)
    assert sum(found.acts.values()) >= 2
    again = House(days.family, days.thaw)
    box = again.express(1.0, 100.0, logged_h=1.0, out_h=0.0)
    for at, place in ((2.0, "freezer"), (50.0, "fridge"), (60.0, "freezer")):
        again.move(at, box, place)
    assert audit(again, 70).refrozen_ml == pytest.approx(100)
    assert again.count.refrozen == pytest.approx(100)


def test_a_bootstrap_holds_the_mean_and_is_the_same_each_time() -> None:
    rows = [[float(n % 7), 2.0] for n in range(40)]
    one = compare.resampled(rows, lambda sums: np.asarray(sums[:, 0] / sums[:, 1]))
    assert one == compare.resampled(rows, lambda sums: np.asarray(sums[:, 0] / sums[:, 1]))
    assert one.low < one.mean < one.high
    assert one.mean == pytest.approx(sum(row[0] for row in rows) / 80)


def test_spread_is_a_factor_of_mean_one() -> None:
    rng = np.random.default_rng(4)
    found = [families.spread(rng, 0.25) for _ in range(20_000)]
    assert np.mean(found) == pytest.approx(1, abs=0.01)
    assert np.std(found) == pytest.approx(0.25, abs=0.01)


def test_families_of_both_kinds_are_drawn() -> None:
    drawn_now: list[Family] = [families.draw(1, n, "surplus", 30) for n in range(60)]
    apart = sum(one.work is not None for one in drawn_now)
    assert 12 <= apart <= 36
    assert all(3 * 7 <= one.age_d <= 26 * 7 for one in drawn_now)
    assert all(math.isfinite(ml) and ml > 0 for one in drawn_now for ml in one.session_ml)


# Thawline on them


@pytest.fixture(scope="module")
def households() -> dict[Kind, list[Household]]:
    """Twenty households of 24 days: seven, seven and six of the classes."""
    policies = (HAND, compare.TOPPED, GREEDY, THAWLINE, KNOWING)
    todo = [Job(1, number // 3, KINDS[number % 3], 24, policies=policies) for number in range(20)]
    found = bench_households.ran(todo, min(4, os.cpu_count() or 1))
    return {kind: [one for one in found if one.job.kind == kind] for kind in KINDS}


@pytest.mark.slow
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("kind", KINDS)
def test_thawline_feeds_nothing_past_a_deadline_and_refreezes_nothing(
    households: dict[Kind, list[Household]], kind: Kind
) -> None:
    for one in households[kind]:
        assert one.ran[THAWLINE].late == one.ran[THAWLINE].refrozen == 0
        assert one.ran[THAWLINE].acts == {}
        assert [fault for ran in one.ran.values() for fault in ran.faults] == []


@pytest.mark.slow
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("kind", KINDS)
def test_thawline_throws_away_half_of_by_hand_and_lacks_no_more(
    households: dict[Kind, list[Household]], kind: Kind
) -> None:
    found = compare.judge(households[kind])
    assert found.of_hand.mean <= 0.5
    assert found.short_over_hand_ml_d.mean <= 0
    assert found.over_knowing.mean <= 0.02


@pytest.mark.slow
@pytest.mark.timeout(1200)
def test_thawline_throws_less_away_than_greedy_with_the_same_sizes(households: dict[Kind, list[Household]]) -> None:
    # Twenty households are few for an interval a class: of all of them together here, of each class in the benchmark.
    assert compare.judge([one for kind in KINDS for one in households[kind]]).less_than_greedy_ml_d.low > 0
