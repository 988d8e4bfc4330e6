"""Milk a day by age, by weight and by a family's own days; bands that hold what they promise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from thawline.core.units import ML_PER_FL_OZ
from thawline.engines.forecast import bands, curve, energy, growth, intake, learning, split
from thawline.engines.forecast.kinds import Child, DayLog, Sex

M = growth.MONTH_D
SEXES: tuple[Sex, ...] = ("boy", "girl")


def logs(ml: float, n: int, *, until_d: float = 100, formula_ml: float = 0) -> list[DayLog]:
    """The last `n` days before an age, all alike."""
    return [DayLog(until_d - day - 0.5, ml, formula_ml) for day in range(n)]


def ahead(days: int, *, from_d: float = 100) -> list[float]:
    return [from_d + day + 0.5 for day in range(days)]


# By age


@pytest.mark.parametrize(("sex", "ml", "fl_oz"), [(None, 765, 25.9), ("boy", 790, 26.7)])
def test_by_age_at_3_months(sex: Sex | None, ml: float, fl_oz: float) -> None:
    # C22: our synthesis.
    found = curve.by_age(sex, 3 * M)
    assert found == pytest.approx(ml, abs=1)
    assert found / ML_PER_FL_OZ == pytest.approx(fl_oz, abs=0.05)


@pytest.mark.parametrize("sex", [*SEXES, None])
def test_every_mean_at_3_months_is_near_the_measured(sex: Sex | None) -> None:
    # C23: 794 mL +/- 19 % (Dewey 1991, seen).
    median = growth.weight(sex, 3 * M, 0)
    for found in (curve.by_age(sex, 3 * M), energy.milk(sex, 3 * M, median), curve.rios_leyvraz(3 * M)):
        assert 640 <= found <= 950


@pytest.mark.parametrize("sex", [*SEXES, None])
@pytest.mark.parametrize(("month", "low", "high"), [(9, 540, 700), (12, 400, 600)])
def test_every_mean_with_solids_is_near_the_measured(sex: Sex | None, month: int, low: float, high: float) -> None:
    # C24: DARLING in IOM 1991 and Rios-Leyvraz & Yao 2023 (seen).
    median = growth.weight(sex, month * M, 0)
    assert low <= curve.by_age(sex, month * M) <= high
    assert low <= energy.milk(sex, month * M, median) <= high


@pytest.mark.parametrize(
    ("age_d", "ml"),
    [(14, 600), (1 * M, 660), (2 * M, 730), (4 * M, 785), (6 * M, 780), (7 * M, 720), (9 * M, 620), (18 * M, 420)],
)
def test_the_curve_passes_its_nodes(age_d: float, ml: float) -> None:
    # Our synthesis, table of route A.
    assert curve.by_age(None, age_d) == pytest.approx(ml)


@pytest.mark.parametrize(("age_d", "side"), [(14, 0), (1 * M, 25), (5 * M, 25)])
def test_boys_drink_a_little_more_than_girls(age_d: float, side: float) -> None:
    # Half of 0.05 kg a day to each side: da Costa 2010 (seen).
    found = [float(curve.by_age(sex, age_d)) for sex in ("girl", None, "boy")]
    assert np.diff(found) == pytest.approx([side, side])


def test_without_solids_the_milk_of_six_months_stays() -> None:
    assert curve.by_age(None, [6 * M, 7 * M, 8 * M], 8 * M) == pytest.approx([780, 780, 780])
    assert curve.by_age(None, 8 * M + 28, 8 * M) == pytest.approx(curve.by_age(None, 8 * M + 28))


def test_early_solids_take_a_little_milk() -> None:
    early, usual = curve.by_age(None, [130, 158, 9 * M], 130), curve.by_age(None, [130, 158, 9 * M])
    assert usual - early == pytest.approx([0, 60 / 0.65, 0], abs=0.1)


@given(st.floats(14, 24 * M - 1), st.one_of(st.none(), st.floats(100, 400)))
def test_the_curve_never_jumps(age_d: float, began: float | None) -> None:
    assert abs(curve.by_age("boy", age_d + 1, began) - curve.by_age("boy", age_d, began)) < 15


# Learning


@pytest.mark.parametrize(("n", "k"), [(1, 0.770), (3, 0.910), (7, 0.959), (14, 0.979), (0, 0)])
def test_how_far_logs_count(n: int, k: float) -> None:
    # C25: own arithmetic on Dewey 1991 (between 0.163, within 0.089; seen).
    assert learning.trust(n) == pytest.approx(k, abs=0.001)


@pytest.mark.parametrize(("n", "cv"), [(0, 0.186), (1, 0.118), (7, 0.095)])
def test_how_well_one_day_is_known(n: int, cv: float) -> None:
    # C26: own arithmetic, as C25.
    assert learning.one_day_cv(n) == pytest.approx(cv, abs=0.001)


@pytest.mark.parametrize(("days", "ml"), [([900] * 3, 889.2), ([650] * 7, 655.3), ([], 780)])
def test_what_is_usual_and_the_own_days_together(days: list[float], ml: float) -> None:
    # C27: own arithmetic, as C25.
    assert learning.blend(780, days) == pytest.approx(ml, abs=0.2)


def test_days_of_their_own_make_up_for_each_other() -> None:
    # C28: 14 days at 780 mL: 10 920 +/- 260 mL (0.089 from day to day: Dewey 1991, seen).
    assert 14 * 780 == 10920
    assert 780 * learning.WITHIN * math.sqrt(14) == pytest.approx(260, abs=1)
    fixed = simple(14, 780, between=0, within=learning.WITHIN)
    mean, sd = fixed.spread(0, 14)
    assert mean == 10920
    assert sd == pytest.approx(260 * math.sqrt(learning.together(14, intake.SPELLS)), abs=1)


def simple(days: int, ml: float, *, between: float, within: float) -> intake.Intake:
    """A forecast of the same day over and over."""
    flat = np.full(days, float(ml))
    cvs = [np.full(days, one) for one in (between, within)]
    return intake.Intake(
        ages_d=flat, likely_ml=flat, between=cvs[0], within=cvs[1], k=0, n=0, by_age_ml=flat, by_weight_ml=None,
        differ=False, formula_ml=0, usual_between=cvs[0], usual_within=cvs[1],
    )  # fmt: skip


@given(st.integers(0, 200), st.floats(0.01, 2), st.floats(0.01, 1), st.floats(1, 3))
def test_more_logs_never_count_less(n: int, between: float, within: float, spells: float) -> None:
    assert 0 <= learning.trust(n, between, within, spells) <= learning.trust(n + 1, between, within, spells) <= 1


@given(st.lists(st.floats(1, 2000), max_size=14), st.floats(1, 2000), st.floats(0.1, 10))
def test_learning_does_not_depend_on_the_unit(days: list[float], prior: float, scale: float) -> None:
    scaled = learning.blend(scale * prior, [scale * one for one in days])
    assert scaled == pytest.approx(scale * learning.blend(prior, days))


def test_a_steady_family_is_found_steadier_and_an_unsteady_one_less_so() -> None:
    steady, unsteady = [[1.0, 1.01, 0.99, 1.0]], [[0.6, 1.4, 0.7, 1.3]]
    assert learning.own_within(steady, 0.12, 4) < 0.12 < learning.own_within(unsteady, 0.12, 4)
    assert learning.own_within([[1.0]], 0.12, 4) == learning.own_within([], 0.12, 4) == 0.12


def test_groups_of_unlike_levels_are_no_unsteadiness() -> None:
    assert learning.own_within([[1, 1, 1], [3, 3, 3]], 0.25, 8) < 0.25


# Bands


@given(st.floats(0, 1e5), st.floats(0, 1.5))
def test_bands_are_in_order_and_never_below_nothing(mean: float, cv: float) -> None:
    low, likely, high = bands.band(mean, cv)
    assert 0 <= low <= likely <= high


@given(st.floats(1, 1e4), st.floats(0.002, 1.5), st.floats(0.01, 0.99))
def test_bands_are_those_of_a_gamma_distribution(mean: float, cv: float, share: float) -> None:
    # scipy.stats.gamma as the second reader.
    assert bands.quantile(mean, cv, share) == pytest.approx(
        stats.gamma.ppf(share, cv**-2, scale=mean * cv**2), rel=1e-6
    )


def test_the_narrowest_bands_are_normal() -> None:
    near = [bands.quantile(780, cv, 0.9) for cv in (0.00099, 0.00101)]
    assert near == pytest.approx([781, 781], abs=0.1)
    assert bands.band(780, 0) == (780, 780, 780)


def test_the_spread_at_a_year_fits_the_published_range() -> None:
    # DARLING at 12 months in IOM 1991 (seen): mean 445 g, 27 to 1154 g, n = 40; the extremes of 40 stand near 1/80 and
    # 79/80. A normal band of that CV would begin below nothing.
    low, high = (bands.quantile(445, 0.58, share) for share in (1 / 80, 79 / 80))
    assert 27 <= low <= 100
    assert high == pytest.approx(1154, rel=0.1)
    assert stats.norm.ppf(1 / 80, 445, 0.58 * 445) < 0


# The forecast


@pytest.mark.parametrize(("age_d", "early"), [(0, True), (13.9, True), (14, False), (400, False)])
def test_no_forecast_before_day_14(age_d: float, early: bool) -> None:
    assert intake.too_early(age_d) is early
    if early:
        with pytest.raises(ValueError, match="before day 14"):
            intake.forecast(Child(age_d), [], ages_d=[age_d + 20])


@pytest.mark.parametrize(
    ("child", "days", "ages_d", "says"),
    [
        (Child(24 * M + 1), [], [800.0], "24 months"),
        (Child(100), [], [], "at least one age"),
        (Child(100), [], [math.nan], "at least one age"),
        (Child(100), [DayLog(99, -1)], [101.0], "number of mL"),
        (Child(100), [DayLog(99, math.nan)], [101.0], "number of mL"),
        (Child(100), [DayLog(99, 700, math.inf)], [101.0], "number of mL"),
    ],
)
def test_bad_input_gets_one_clear_line(child: Child, days: list[DayLog], ages_d: list[float], says: str) -> None:
    with pytest.raises(ValueError, match=says) as caught:
        intake.forecast(child, days, ages_d=ages_d)
    assert "\n" not in str(caught.value)


def test_without_logs_it_is_the_usual_amount() -> None:
    found = intake.forecast(Child(100, "boy"), [], ages_d=ahead(3))
    assert found.likely_ml == pytest.approx(curve.by_age("boy", ahead(3)))
    assert (found.k, found.n, found.differ, found.by_weight_ml, found.weight_band(0)) == (0, 0, False, None, None)
    assert found.day(0) == found.age_band(0)


def test_logs_draw_it_to_the_own_days_and_narrow_the_band() -> None:
    before, few, many = (intake.forecast(Child(100), logs(950, n), ages_d=ahead(30)) for n in (0, 3, 14))
    assert before.likely_ml[0] < few.likely_ml[0] < many.likely_ml[0] < 950 * 1.01
    widths = [one.total(0, 30).high / one.total(0, 30).low for one in (before, few, many)]
    assert widths == sorted(widths, reverse=True)
    assert 0 == before.k < few.k < many.k < 1


def test_a_level_is_held_along_the_curve_as_the_child_grows() -> None:
    found = intake.forecast(Child(60), logs(803, 14, until_d=60), ages_d=[60.5, 120.5])
    ratios = found.likely_ml / curve.by_age(None, [60.5, 120.5])
    assert ratios[0] == pytest.approx(ratios[1])
    assert found.between[1] > found.between[0]


def test_only_complete_days_of_the_last_fortnight_and_not_before_day_14_count() -> None:
    old, future, young = DayLog(85, 300), DayLog(101, 300), DayLog(13, 300)
    assert intake.forecast(Child(100), [old, future], ages_d=[101]).n == 0
    assert intake.forecast(Child(20), [young], ages_d=[21]).n == 0
    assert intake.forecast(Child(100), [old, future, *logs(800, 20)], ages_d=[101]).n == 14


def test_formula_counts_as_drunk_and_the_habit_is_left_out_of_the_milk_needed() -> None:
    milk_only = intake.forecast(Child(100), logs(800, 14), ages_d=ahead(1))
    mixed = intake.forecast(Child(100), logs(500, 14, formula_ml=300), ages_d=ahead(1))
    assert mixed.formula_ml == 300
    assert mixed.likely_ml + 300 == pytest.approx(milk_only.likely_ml)
    assert mixed.likely_ml * mixed.between == pytest.approx(milk_only.likely_ml * milk_only.between)


def test_a_child_fed_on_formula_alone_needs_hardly_any_milk() -> None:
    found = intake.forecast(Child(100), logs(0, 14, formula_ml=900), ages_d=ahead(5))
    assert np.all(found.likely_ml < 40)
    assert found.total(0, 5).low >= 0
    assert intake.forecast(Child(100), logs(0, 1, formula_ml=3000), ages_d=ahead(2)).total(0, 2).low >= 0


@pytest.mark.parametrize(("z", "differs"), [(-0.9, False), (0, False), (0.9, False)])
def test_a_weight_near_the_median_leaves_the_estimate_by_age(z: float, differs: bool) -> None:
    kg = float(growth.weight("girl", 100, z))
    found = intake.forecast(Child(100, "girl", ((100, kg),)), [], ages_d=[100.5])
    assert found.likely_ml == pytest.approx(found.by_age_ml)
    assert found.by_weight_ml is not None
    assert found.differ is differs


@pytest.mark.parametrize("z", [-2.0, 2.0])
def test_a_weight_far_from_the_median_changes_it_by_the_root_of_the_energy(z: float) -> None:
    kg = float(growth.weight("boy", 3 * M, z))
    found = intake.forecast(Child(3 * M, "boy", ((3 * M, kg),)), [], ages_d=[3 * M])
    factor = math.sqrt(energy.need("boy", 3 * M, kg) / energy.need("boy", 3 * M, 6.3762))
    assert found.likely_ml[0] == pytest.approx(790 * factor)
    assert (factor > 1) is (z > 0)


def test_routes_far_apart_are_said_and_widen_the_band() -> None:
    heavy = Child(100, "boy", ((100, float(growth.weight("boy", 100, 2.5))),))
    found, plain = (intake.forecast(child, [], ages_d=[100.5]) for child in (heavy, Child(100, "boy")))
    assert found.differ
    assert found.between[0] > plain.between[0]
    weight = found.weight_band(0)
    assert weight is not None
    assert weight.likely > 1.2 * found.age_band(0).likely


def test_routes_apart_widen_the_band_by_the_spread_of_what_lies_anywhere_between_them() -> None:
    # The SD of a uniform distribution: its range over the root of 12 (scipy.stats).
    heavy = Child(100, "boy", ((100, float(growth.weight("boy", 100, 2.5))),))
    found, plain = (intake.forecast(child, [], ages_d=[100.5]) for child in (heavy, Child(100, "boy")))
    assert found.by_weight_ml is not None
    apart = float(found.by_weight_ml[0] / found.by_age_ml[0] - 1)
    assert found.between[0] == pytest.approx(math.hypot(plain.between[0], stats.uniform(0, apart).std()))


def test_past_six_months_children_of_one_age_grow_apart_but_less_than_if_none_kept_its_place() -> None:
    # Ours: half-way between own ways and kept places.
    found = intake.forecast(Child(200), logs(700, 14, until_d=200), ages_d=[200.5, 245.5])
    then, now = intake.between_usual([200.5, 245.5])
    more = float(found.between[1] ** 2 - found.between[0] ** 2)
    assert (now - then) ** 2 < more < now**2 - then**2


def test_a_weight_past_24_months_is_not_known() -> None:
    found = intake.forecast(Child(700, "boy", ((690, 12.0),)), [], ages_d=[701, 760])
    assert found.weight_band(0) is not None
    assert found.weight_band(1) is None
    assert np.all(np.isfinite(found.likely_ml) & np.isfinite(found.between))


@given(st.floats(-4, 3), st.floats(0.01, 1))
def test_a_heavier_child_is_never_expected_to_drink_less(z: float, more: float) -> None:
    likely = [
        intake.forecast(Child(90, "girl", ((88, float(growth.weight("girl", 88, one))),)), [], ages_d=[95]).likely_ml[0]
        for one in (z, z + more)
    ]
    assert likely[0] <= likely[1] + 1e-9


@given(
    st.floats(14, 700), st.sampled_from([*SEXES, None]), st.lists(st.tuples(st.floats(0, 14), st.floats(1, 2000))),
    st.integers(1, 200),
)  # fmt: skip
def test_bands_of_any_child_are_in_order(
    age_d: float, sex: Sex | None, days: list[tuple[float, float]], ahead_d: int
) -> None:
    own = [DayLog(age_d - ago, ml) for ago, ml in days]
    found = intake.forecast(Child(age_d, sex), own, ages_d=np.arange(ahead_d) + age_d)
    for band in (found.day(ahead_d - 1), found.total(0, ahead_d), found.age_band(0)):
        assert 0 <= band.low <= band.likely <= band.high < math.inf
    usual = intake.forecast(Child(age_d, sex), [], ages_d=np.arange(ahead_d) + age_d)
    assert np.all(found.between <= usual.between + 1e-12)


@given(st.integers(1, 100))
def test_a_longer_stretch_is_known_better_in_parts_but_never_better_than_its_level(days: int) -> None:
    found = simple(200, 780, between=0.05, within=0.12)
    cvs = [sd / mean for mean, sd in (found.spread(0, days), found.spread(0, days + 100))]
    assert cvs[0] > cvs[1] > 0.05


def test_many_days_drawn_one_by_one_add_up_to_the_same_spread() -> None:
    found = simple(365, 780, between=0, within=0.12)
    one_by_one = float(np.linalg.norm(found.likely_ml * found.within_many))
    assert found.spread(0, 365)[1] == pytest.approx(one_by_one, rel=0.01)


# Parts of a day


@pytest.mark.parametrize(("feeds", "alpha"), [(8, 7.02), (7, 6.85)])
def test_shares_of_feeds(feeds: int, alpha: float) -> None:
    # C29: own arithmetic; CV 0.35 of a feed is ours.
    assert split.alpha(feeds) == pytest.approx(alpha, abs=0.01)
    drawn = split.shares(np.random.default_rng(1), 20_000, feeds)
    assert drawn.sum(axis=1) == pytest.approx(1)
    assert drawn.std() * feeds == pytest.approx(0.35, abs=0.005)


def test_one_feed_is_the_whole_day_and_few_feeds_cannot_differ_without_end() -> None:
    assert split.shares(np.random.default_rng(1), 3, 1).tolist() == [[1]] * 3
    with pytest.raises(ValueError, match="coefficient"):
        split.alpha(2, 1.5)


@pytest.mark.parametrize(("sessions", "each_ml", "ml", "month"), [(7.6, 106, 806, 1), (6.6, 126, 832, 3)])
def test_sessions_a_day_add_up_to_the_measured_day(sessions: float, each_ml: float, ml: float, month: int) -> None:
    # C30: Kent 2013 (second-hand); the curve lies within the 22 % by which sources differ from it.
    assert sessions * each_ml == pytest.approx(ml, abs=1)
    assert ml / curve.by_age(None, month * M) == pytest.approx(1, abs=0.23)


def test_what_is_drunk_in_hours_apart() -> None:
    # C31: own arithmetic; 1.25 oz an hour is common practice, no source.
    assert split.apart_ml(780, 9) == pytest.approx(292.5, abs=0.1)
    assert split.apart_ml(780, 9) / ML_PER_FL_OZ == pytest.approx(9.9, abs=0.05)
    thumb = 9 * 1.25 * ML_PER_FL_OZ
    assert thumb == pytest.approx(332.7, abs=0.1)


def test_the_rule_of_thumb_by_pounds_is_within_the_band() -> None:
    # C32: 2.5 oz per lb a day (second-hand): 9 lb x 2.5 = 22.5 oz = 665 mL; 9 lb is a girl's median near 5 weeks.
    ml = 9 * 2.5 * ML_PER_FL_OZ
    assert ml == pytest.approx(665, abs=1)
    found = intake.forecast(Child(33, "girl", ((33, 9 * 0.45359237),)), [], ages_d=[33])
    assert found.day(0).low <= ml <= found.day(0).high


# What bands promise: simulated families, drawn by other means than the forecast's


@dataclass(frozen=True)
class Ways:
    """How families are drawn: a curve through published means, and spreads."""

    curve: tuple[float, ...]
    between: float = 0.163
    study: float = 0.07
    within: float = 0.089
    memory: float = 0.2
    spell_every_d: float = 30
    slope: float = 0.03
    noise: float = 0.05


# Means at 0.5, 1, ... 6 months: near the middle of WHO 2002, DARLING and Kent 2013.
USUAL = Ways(curve=(600, 660, 735, 780, 800, 800, 790))
# Each wrong in one respect. All three at once: 0.65 to 0.66 of 2,000 families at two seeds, measured, not promised:
# bands as wide as that needs would hold far more than four in five of the families they are meant for.
OTHERWISE = {
    "a steeper curve, as Nielsen 2011 at 15 and 25 weeks": Ways(curve=(560, 640, 760, 850, 905, 940, 970)),
    "children further apart, and going their own ways": Ways(curve=USUAL.curve, between=0.19, slope=0.05),
    "days less steady": Ways(curve=USUAL.curve, within=0.11, memory=0.4, spell_every_d=22, noise=0.08),
}
MONTHS = (0.5, 1, 2, 3, 4, 5, 6)


def _spells(rng: np.random.Generator, ways: Ways, days: int) -> np.ndarray:
    factor = np.ones(days)
    for start in np.flatnonzero(rng.random(days) < 1 / ways.spell_every_d):
        factor[start : start + rng.integers(2, 6)] *= rng.choice([0.75, 1.2])
    return factor


def _noise(rng: np.random.Generator, ways: Ways, days: int) -> np.ndarray:
    found = [rng.normal()]
    for _ in range(days - 1):
        found.append(ways.memory * found[-1] + math.sqrt(1 - ways.memory**2) * rng.normal())
    return np.exp(ways.within * np.array(found))


def _covered(rng: np.random.Generator, ways: Ways) -> bool:
    """Whether a family's true 30 days lie in the band that its logs of the fortnight before led to."""
    age, days = rng.uniform(28, 140), np.arange(-14, 30)
    level = math.exp(rng.normal(0, math.hypot(ways.between, ways.study))) * (1 + ways.slope * rng.normal() * days / 30)
    usual = np.interp((age + days) / 30.4375, MONTHS, ways.curve)
    true = usual * level * _noise(rng, ways, 44) * _spells(rng, ways, 44)
    n = rng.choice([0, 1, 3, 7, 14])
    own = [DayLog(age + days[i], true[i] * rng.lognormal(0, ways.noise)) for i in rng.choice(14, n, replace=False)]
    band = intake.forecast(Child(age), own, ages_d=age + days[14:] + 1).total(0, 30)
    return band.low <= float(true[14:].sum()) <= band.high


@pytest.mark.slow
def test_bands_of_a_month_hold_four_families_of_five() -> None:
    rng = np.random.default_rng(20)
    assert 0.77 <= np.mean([_covered(rng, USUAL) for _ in range(2000)]) <= 0.83


@pytest.mark.slow
@pytest.mark.parametrize("how", OTHERWISE)
def test_bands_of_a_month_hold_seven_of_ten_where_families_are_unlike_the_model(how: str) -> None:
    rng = np.random.default_rng(21)
    assert np.mean([_covered(rng, OTHERWISE[how]) for _ in range(2000)]) >= 0.70
