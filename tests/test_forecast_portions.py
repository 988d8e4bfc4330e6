"""Sizes of portions: expected leftovers against arithmetic on the stated feed, and what the advice promises.

Feeds of N(105, 37) mL are derived from Kent 2006 (Pediatrics 117:e387), Kent 2013 (PMID 23560450), Mitoulas 2002 and
a study of bottles on day 6 (Early Hum Dev 1981); the expected leftovers are calculations on them, done beforehand.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thawline.engines.forecast import numbers, portions
from thawline.engines.forecast.kinds import Feed

USUAL = portions.learn([])
HALF_YEAR_D = 182.625


def feeds_of(mean_ml: float, count: int, *, every_h: float = 3.0, cv: float = 0.35, seed: int = 7) -> list[Feed]:
    drawn = np.random.default_rng(seed).normal(mean_ml, cv * mean_ml, count).clip(5)
    return [Feed((n * every_h) % 24, float(ml), 0.0) for n, ml in enumerate(drawn)]


# Check values


def test_a_bottle_of_120_poured_at_once_leaves_23_5_ml_and_is_short_for_a_third() -> None:
    """C40."""
    assert portions.poured_whole_ml(USUAL, 120) == pytest.approx(23.5, abs=0.1)
    assert portions.short_of(USUAL, 120) == pytest.approx(0.343, abs=0.002)


@pytest.mark.parametrize(
    ("unit_ml", "left_ml"), [(30, 15.0), (60, 30.0), (90, 46.0), (120, 56.0), (150, 61.6), (180, 78.6)]
)
def test_leftover_of_topping_up_by_one_unit(unit_ml: float, left_ml: float) -> None:
    """C41 (30, 60, 120 to 0.3 mL) and the whole portion table; drawn by simulation there, hence 0.3."""
    assert portions.left_ml(USUAL, unit_ml, unit_ml) == pytest.approx(left_ml, abs=0.3)


@pytest.mark.parametrize(
    ("ml", "left_ml", "short"),
    [(60, 2.0, 0.89), (90, 8.5, 0.66), (100, 12.4, 0.55), (120, 23.5, 0.34), (150, 47.0, 0.11)],
)
def test_leftover_of_one_bottle(ml: float, left_ml: float, short: float) -> None:
    """The portion table's right half."""
    assert portions.poured_whole_ml(USUAL, ml) == pytest.approx(left_ml, abs=0.1)
    assert portions.short_of(USUAL, ml) == pytest.approx(short, abs=0.005)


@pytest.mark.parametrize(("first", "step"), [(60, 20), (55, 20), (90, 30), (40, 60)])
def test_leftovers_and_pours_equal_a_count_over_drawn_feeds(first: float, step: float) -> None:
    drawn = np.random.default_rng(3).normal(105, 37, 400_000)
    tops = np.ceil(np.maximum(0, drawn - first) / step)
    assert portions.left_ml(USUAL, first, step) == pytest.approx(np.mean(first + tops * step - drawn), abs=0.25)
    assert portions.pours(USUAL, first, step) == pytest.approx(np.mean(1 + tops), abs=0.01)


# The advice


@pytest.mark.parametrize("leftover_h", [0.0, 1.0, 2.0])
def test_our_sizes_leave_less_than_half_of_a_120_bottle_with_few_pours(leftover_h: float) -> None:
    one = portions.advise([], age_d=100, leftover_h=leftover_h, where="home")
    assert one.left_ml <= 11.0 < 23.5 / 2
    assert one.pours <= 4.1
    assert 55 <= one.pour_ml <= 65 and 20 <= one.step_ml <= 30


def test_half_of_a_120_bottle_holds_over_drawn_feeds_of_other_families() -> None:
    for mean_ml in (70, 90, 105, 126, 150):
        one = portions.advise(feeds_of(mean_ml, 40), age_d=100, leftover_h=0, where="home")
        drawn = np.random.default_rng(11).normal(mean_ml, 0.35 * mean_ml, 100_000).clip(5)
        left = one.pour_ml + np.ceil(np.maximum(0, drawn - one.pour_ml) / one.step_ml) * one.step_ml - drawn
        fixed = np.ceil(drawn / 120) * 120 - drawn
        assert left.mean() < 11.7 < fixed.mean() / 2


def test_a_place_that_pours_away_sooner_gets_smaller_first_pours() -> None:
    sizes = [portions.advise([], age_d=100, leftover_h=h, where="home").pour_ml for h in (0, 1, 2, 4)]
    assert all(early <= late for early, late in pairwise(sizes)) and sizes[1] < sizes[2] < sizes[3]


def test_what_may_be_offered_again_counts_only_where_the_next_feed_comes_within_it() -> None:
    often = portions.offered_again(feeds_of(80, 80, every_h=1.5), age_d=100, leftover_h=2)
    seldom = portions.offered_again(feeds_of(80, 80, every_h=4), age_d=100, leftover_h=2)
    assert seldom < portions.offered_again([], age_d=100, leftover_h=2) < often
    assert portions.offered_again(feeds_of(80, 80, every_h=1.5), age_d=100, leftover_h=0) == 0


def test_own_feeds_draw_the_size_toward_them_as_they_grow_in_number() -> None:
    means = [portions.learn(feeds_of(60, count, cv=0.0)).mean_ml for count in (0, 1, 5, 20, 100)]
    assert means[0] == 105 and all(late < early for early, late in pairwise(means)) and means[-1] < 62
    spreads = [portions.learn(feeds_of(100, count, cv=0.0)).sd_ml for count in (1, 10, 100)]
    assert spreads[0] > spreads[1] > spreads[2]


def test_the_sizes_to_freeze_in_are_the_published_ones() -> None:
    """CDC leaflet, second-hand: 2 to 4 oz; by the portion table mostly 60 mL with some 30 mL."""
    assert portions.advise([], age_d=100, leftover_h=2, where="home").freeze_ml == 60
    for mean_ml in (40, 105, 200):
        one = portions.advise(feeds_of(mean_ml, 60), age_d=100, leftover_h=2, where="home")
        assert one.freeze_ml in (60, 90, 120)
        assert ("some_ml", 30.0) in dict(one.reasons)["freeze_mostly"]


def test_every_reason_is_a_code_with_what_it_names() -> None:
    own = portions.advise(feeds_of(90, 30), age_d=100, leftover_h=1, where="childcare")
    assert [code for code, _args in own.reasons] == [
        "own_feeds", "poured_away_soon", "few_small_and_spare", "freeze_mostly", "none_larger",
    ]  # fmt: skip
    assert dict(dict(own.reasons)["poured_away_soon"]) == {"hours": 1, "where": "childcare"}
    usual = portions.advise([], age_d=300, leftover_h=2, where="home")
    assert [code for code, _args in usual.reasons][:2] == ["usual_feeds", "offered_again"]
    assert "none_larger" not in dict(usual.reasons)


def test_the_packed_bottles_cover_eight_days_of_ten_with_a_spare() -> None:
    one = portions.advise([], age_d=100, leftover_h=1, where="childcare")
    packed = portions.pack(292.5, 54, one)
    need = 292.5 + 0.8416 * 54
    assert need <= sum(packed.bottles) < need + one.step_ml
    assert packed.spare_ml == 30 and max(packed.bottles) <= one.pour_ml
    assert sum(portions.pack(292.5, 54, one, quantile=0.9).bottles) > sum(packed.bottles)
    assert portions.pack(0, 0, one) == ((), 0)


def test_quarter_ounces_where_they_are_asked_for() -> None:
    one = portions.advise([], age_d=100, leftover_h=2, where="home", in_oz=True)
    for ml in (one.pour_ml, one.step_ml, one.spare_ml, *one.bottles):
        assert ml / (29.5735 / 4) == pytest.approx(round(ml / (29.5735 / 4)))


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_number_that_is_none_is_refused_in_one_line(bad: float) -> None:
    with pytest.raises(ValueError, match="from 0 on"):
        portions.advise([], age_d=100, leftover_h=bad, where="home")
    with pytest.raises(ValueError, match="from 0 on"):
        portions.pack(bad, 10, portions.advise([], age_d=100, leftover_h=2, where="home"))


@given(
    mean_ml=st.floats(5, 400), count=st.integers(0, 30), age_d=st.floats(0, 800),
    leftover_h=st.floats(0, 24), total=st.floats(0, 3000), spread=st.floats(0, 0.4),
)  # fmt: skip
def test_whatever_the_feeds_sizes_are_whole_fives_and_no_bottle_is_too_large(
    mean_ml: float, count: int, age_d: float, leftover_h: float, total: float, spread: float
) -> None:
    one = portions.advise(feeds_of(mean_ml, count), age_d=age_d, leftover_h=leftover_h, where="home")
    packed = portions.pack(total, total * spread, one)
    most = 150 if age_d < HALF_YEAR_D else 240
    for ml in (one.pour_ml, one.step_ml, *one.bottles, *packed.bottles):
        assert 20 <= ml <= most and ml % 5 == 0
    assert 0 <= one.left_ml <= one.pour_ml + one.step_ml
    assert sum(packed.bottles) >= total - 1e-6


def test_every_figure_of_the_portions_has_a_mark_and_a_source() -> None:
    def entries(table: dict[str, object]) -> list[dict[str, object]]:
        inner = [one for one in table.values() if isinstance(one, dict)]
        return [found for one in inner for found in entries(one)] if inner else [table]

    for name in ("portions",):
        for entry in entries(numbers.load(name)):
            assert entry["mark"] in numbers.MARKS and entry["source"], entry
