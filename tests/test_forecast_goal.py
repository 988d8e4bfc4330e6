"""Goals and running out in closed form: worked examples, a general reference library, and simulated courses."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import invgauss

from thawline.engines.forecast import goal, paths, run_out
from thawline.engines.forecast.course import Course, Flow, Held, Rules
from thawline.engines.forecast.enough import enough

RULES = Rules(fresh_d=4, freezer_d=180, thawed_d=1, bag_ml=100, freeze_after_d=0)


def course(
    need: float, supply: float, *, bags: int, bag_ml: float = 100.0, days: int = 30, spread: float = 0.0
) -> Course:
    return Course(
        need=Flow(mean_ml=[need] * days, between=spread),
        supply=Flow(mean_ml=[supply] * days),
        held=(Held(bag_ml, "frozen", 170),) * bags,
        rules=RULES,
    )


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


# --- worked examples (arithmetic on the formulas; C31 and C37 to C39 of the project's list of check values)


def test_c31_nine_hours_apart_take_nine_twenty_fourths_of_a_day() -> None:
    assert goal.apart_ml(780, 9) == pytest.approx(292.5, abs=0.1)  # 780 x 9 / 24, arithmetic


def test_c37_a_stock_of_1500_ml_lasts_25_days_at_60_ml_a_day() -> None:
    assert run_out.days_of_cover(1500, 60) == 25.0  # S / m, arithmetic
    assert math.isinf(run_out.days_of_cover(1500, 0))


def test_c38_the_chance_that_it_is_empty_within_20_days() -> None:
    # First passage of a Brownian motion with drift (inverse Gaussian), both terms by erfc; s = 0.089 x 780 = 69.42 mL,
    # the day-to-day CV of Butte 1991 (seen, abstract).
    direct, drift = run_out.first_passage(1500, 60, 69.42, 20)
    assert direct == pytest.approx(0.1669, abs=0.001)
    assert drift == pytest.approx(0.0284, abs=0.001)
    assert run_out.empty_chance(1500, 60, 69.42, 20) == pytest.approx(0.195, abs=0.001)


def test_c39_what_a_goal_takes_and_what_a_day_more_reaches_it() -> None:
    # 3 days of 9 h at 780 mL a day with 600 mL there and 20 days to go: (877.5 - 600) / 20, arithmetic.
    takes = goal.target_ml([780, 780, 780], 9)
    assert takes == pytest.approx(877.5, abs=0.1)
    assert goal.extra_ml_d(takes, 600, 20) == pytest.approx(13.9, abs=0.1)
    assert goal.extra_ml_d(takes, 900, 20) == 0


def test_c39_holds_for_a_whole_course_without_spread() -> None:
    asked = goal.Goal(on_d=20, day_ml=[780.0] * 3, hours=9)
    made = course(400, 400, bags=6)
    found = goal.stand(asked, made, paths.run(made, paths=3, rng=rng()), rng=rng())
    assert found.takes == pytest.approx((877.5, 877.5, 877.5))
    assert found.there == pytest.approx((600, 600, 600))
    assert found.extra_ml_d == pytest.approx((13.875, 13.875, 13.875))
    assert found.chance == 0


# --- the closed form


@given(st.floats(50, 5000), st.floats(5, 300), st.floats(5, 300), st.floats(1, 365))
def test_the_closed_form_is_the_inverse_gaussian_distribution(stock: float, m: float, s: float, days: float) -> None:
    # SciPy's invgauss (a general reference library): mean S / m, shape (S / s)^2.
    shape = (stock / s) ** 2
    reference = invgauss.cdf(days, (stock / m) / shape, scale=shape)
    assume(math.isfinite(reference))
    assert run_out.empty_chance(stock, m, s, days) == pytest.approx(float(reference), abs=1e-6)


@given(st.floats(1, 1e5), st.floats(-500, 500), st.floats(1, 500), st.floats(0.1, 3650))
def test_the_chance_is_a_chance_and_grows_with_the_days(stock: float, m: float, s: float, days: float) -> None:
    chance = run_out.empty_chance(stock, m, s, days)
    assert 0 <= chance <= 1
    assert chance <= run_out.empty_chance(stock, m, s, 1.5 * days) + 1e-12
    assert chance >= run_out.empty_chance(1.5 * stock, m, s, days) - 1e-12


def test_without_spread_it_is_empty_or_it_is_not() -> None:
    assert [run_out.empty_chance(1500, 60, 0, days) for days in (24, 25)] == [0, 1]
    assert run_out.empty_chance(0, 60, 10, 1) == 1


@pytest.mark.parametrize("figures", [(-1, 60, 10, 1), (1500, 60, -1, 1), (1500, 60, 10, -1)])
def test_nothing_below_zero_is_taken(figures: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="may not be below 0"):
        run_out.empty_chance(*figures)


def test_simulated_courses_run_out_as_often_as_the_closed_form_says() -> None:
    # Need 600 and supply 540 mL a day, each with a day-to-day SD of 49.09: 60 mL missing a day, SD 69.42 (C38).
    # Days are looked at at their ends only: the barrier moves out by 0.5826 SD (Broadie, Glasserman and Kou 1997, from
    # memory). What remains: lognormal days, containers of 10 mL.
    days, sd = 30, 69.42
    made = Course(
        need=Flow(mean_ml=[600.0] * days, within=sd / 2**0.5 / 600),
        supply=Flow(mean_ml=[540.0] * days, within=sd / 2**0.5 / 540),
        held=(Held(10, "frozen", 170),) * 150,
        rules=Rules(fresh_d=4, freezer_d=180, thawed_d=1, bag_ml=10, freeze_after_d=0),
    )
    found = paths.run(made, paths=4000, rng=rng())
    for day in (18, 20, 22, 25):
        expected = run_out.empty_chance(1500 + 0.5826 * sd, 60, sd, day)
        assert found.short_before[day] == pytest.approx(expected, abs=0.03), day


# --- points of a day that some paths never reach


def test_points_among_paths_that_never_run_out_are_not_named() -> None:
    first = np.array([3, 5, 7, 9, 30, 30, 30, 30, 30, 30])
    assert run_out.lasts(first, days=30, points=(0.1, 0.5, 0.9)) == (3, None, None, 0.6)
    assert run_out.lasts(np.full(4, 30), days=30, points=(0.1, 0.5, 0.9)) == (None, None, None, 1.0)


@given(st.lists(st.integers(0, 20), min_size=1, max_size=40))
def test_a_chance_before_a_day_counts_the_paths_by_hand(first: list[int]) -> None:
    found = run_out.short_before(np.array(first), days=20)
    assert found == pytest.approx([sum(one < day for one in first) / len(first) for day in range(21)])


# --- how a goal stands


def test_enough_for_a_goal_is_a_chance_of_one_and_nothing_more_a_day() -> None:
    made = course(400, 400, bags=9)
    found = goal.stand(
        goal.Goal(on_d=20, day_ml=[780.0] * 3, hours=9), made, paths.run(made, paths=3, rng=rng()), rng=rng()
    )
    assert found.chance == 1 and found.extra_ml_d == (0, 0, 0)


def test_a_goal_that_begins_today_counts_what_is_there_now() -> None:
    made = course(400, 0, bags=3)
    found = goal.stand(
        goal.Goal(on_d=0, day_ml=[400.0], hours=24), made, paths.run(made, paths=2, rng=rng()), rng=rng()
    )
    assert found.there.likely == 300 and found.extra_ml_d.likely == 100 and found.chance == 0


def test_a_range_not_a_target_where_need_is_uncertain() -> None:
    made = course(400, 400, bags=9, spread=0.1)
    asked = goal.Goal(on_d=20, day_ml=[780.0] * 3, hours=9, between=0.163, within=0.089)
    found = goal.stand(asked, made, paths.run(made, paths=500, rng=rng()), rng=rng())
    assert 0 < found.chance < 1
    assert found.takes.low < found.takes.likely < found.takes.high
    assert found.extra_ml_d.low < found.extra_ml_d.high


def test_a_child_that_drinks_more_finds_less_and_takes_more() -> None:
    made = course(400, 400, bags=30, spread=0.2)
    found = paths.run(made, paths=500, rng=rng(5))
    asked = goal.Goal(on_d=20, day_ml=[780.0] * 3, hours=9, between=0.2)
    takes = goal.by_day_ml(asked, made, found, rng=rng(6)).sum(axis=0)
    assert np.corrcoef(takes, found.stock_ml[19])[0, 1] < -0.5


def test_what_is_there_is_what_the_evening_before_leaves() -> None:
    made = course(100, 0, bags=9)  # 100 mL less a day: 900 - 3 x 100 on the evening before day 3
    found = goal.stand(goal.Goal(on_d=3, day_ml=[780.0], hours=9), made, paths.run(made, paths=1, rng=rng()), rng=rng())
    assert found.there.likely == 600


def test_milk_past_its_day_is_not_there() -> None:
    made = replace(course(100, 0, bags=2), held=(Held(100, "frozen", 9), Held(70, "frozen", -1)))
    found = goal.stand(goal.Goal(on_d=0, day_ml=[780.0], hours=9), made, paths.run(made, paths=1, rng=rng()), rng=rng())
    assert found.there.likely == 100


def test_a_goal_takes_what_is_poured_away_as_well() -> None:
    made = replace(course(100, 0, bags=2), thrown_share=0.25)
    found = goal.stand(
        goal.Goal(on_d=1, day_ml=[480.0], hours=12), made, paths.run(made, paths=1, rng=rng()), rng=rng()
    )
    assert found.takes.likely == pytest.approx(240 / 0.75)


@given(st.integers(0, 20), st.integers(1, 20))
def test_more_in_the_freezer_never_lowers_the_chance(bags: int, more: int) -> None:
    asked = goal.Goal(on_d=10, day_ml=[700.0] * 2, hours=9, between=0.163)
    few, many = (course(300, 290, bags=number, days=12, spread=0.1) for number in (bags, bags + more))
    low, high = (goal.stand(asked, one, paths.run(one, paths=40, rng=rng()), rng=rng()) for one in (few, many))
    assert high.chance >= low.chance and high.extra_ml_d.high <= low.extra_ml_d.high + 1e-9


def test_the_days_of_a_goal_go_into_what_is_enough() -> None:
    made = course(400, 400, bags=9)
    found = paths.run(made, paths=3, rng=rng())
    saved = goal.by_day_ml(goal.Goal(on_d=20, day_ml=[780.0] * 3, hours=9), made, found, rng=rng())
    assert saved.shape == (23, 3)
    assert enough(made, found, saved_ml=saved).ml == pytest.approx(877.5)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (goal.Goal(on_d=31, day_ml=[780.0], hours=9), "the goal begins on day 31, the course has 30 days"),
        (goal.Goal(on_d=3, day_ml=[], hours=9), "a goal needs a day"),
        (goal.Goal(on_d=3, day_ml=[780.0], hours=25), "at most 24"),
    ],
)
def test_a_goal_out_of_reach_of_the_course_is_refused(asked: goal.Goal, says: str) -> None:
    made = course(400, 400, bags=1)
    with pytest.raises(ValueError, match=says):
        goal.stand(asked, made, paths.run(made, paths=1, rng=rng()), rng=rng())
