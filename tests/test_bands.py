"""The forecast's 80 % bands over invented families of published cohorts, which share nothing with the forecast.

The whole run is `python -m bench.bench_bands --families 2000`: 77 to 83 % there, 70 % and more of the misspecified.
300 families are within 72 to 88 % (80 % plus or minus 3.5 standard deviations of 300 draws, 0.023, cut to the limits
agreed on). Of each misspecified kind fewer are drawn, so 65 % each is asked, and 70 % of all of them together.
"""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from bench.told_families import asked, family, figures, judge, stash

from thawline.engines.forecast import paths
from thawline.engines.forecast.course import Course, Flow

SEED = 20
OTHER = [kind for kind in family.KINDS if kind != "plain"]
FOLDER = Path(family.__file__).parent


def test_the_milk_of_30_days_is_within_the_band_for_four_families_in_five() -> None:
    found = judge.coverage([asked.month("plain", SEED, number).within for number in range(300)])
    assert 0.72 <= found.share <= 0.88


@pytest.mark.slow
def test_the_day_a_stock_runs_out_is_within_the_band_for_four_families_in_five() -> None:
    found = judge.coverage([asked.run_out("plain", SEED, number).within for number in range(300)])
    assert 0.72 <= found.share <= 0.88


@pytest.mark.slow
def test_families_unlike_any_cohort_are_within_for_seven_in_ten() -> None:
    month, end = {}, {}
    for kind in OTHER:
        month[kind] = judge.coverage([asked.month(kind, SEED, number).within for number in range(300)])
        end[kind] = judge.coverage([asked.run_out(kind, SEED, number).within for number in range(150)])
    for found in (month, end):
        assert min(one.share for one in found.values()) >= 0.65, found
        assert sum(one.within for one in found.values()) >= 0.70 * sum(one.of for one in found.values()), found


# The families themselves


def test_only_the_asking_knows_the_forecast() -> None:
    for path in FOLDER.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        named |= {one.name for node in ast.walk(tree) if isinstance(node, ast.Import) for one in node.names}
        assert path.name == "asked.py" or not any("thawline" in name for name in named), path


def test_every_figure_of_the_families_has_a_mark_and_a_source() -> None:
    for name, table in figures.figures().items():
        for row in table if isinstance(table, list) else [table]:
            assert row["mark"] in ("seen", "second-hand", "memory", "derived", "ours") and row["source"], name


def test_a_cohort_has_its_published_means_at_its_months() -> None:
    for cohort in figures.cohorts(late=False):
        ages_d = np.array(cohort.months) * figures.MONTH_D
        assert figures.mean_ml(cohort, ages_d) == pytest.approx(np.array(cohort.ml))


def test_families_differ_as_published_between_and_within() -> None:
    """Dewey 1991, PMID 2034486: between infants 16.3 %, from day to day 8.9 %; 13 to 19 % in other cohorts."""
    rng = np.random.default_rng(1)
    cohort = next(one for one in figures.cohorts(late=False) if one.cv == 0.163)
    ages = np.arange(60.0, 60.0 + family.PAST_D + 30)
    drawn = np.array(
        [family._days_ml("plain", rng, cohort, ages, weight_z=rng.standard_normal(), boy=True) for _ in range(3000)]
    )
    per_child = drawn.mean(axis=1)
    assert per_child.std() / per_child.mean() == pytest.approx(0.163, abs=0.01)
    steps = np.diff(drawn, axis=1).std() / np.sqrt(2) / drawn.mean()
    assert steps == pytest.approx(0.089, abs=0.005)


@pytest.mark.parametrize("kind", family.KINDS)
def test_the_same_number_is_the_same_family(kind: family.Kind) -> None:
    one, same, other = (stash.stocked(kind, np.random.default_rng([SEED, n])) for n in (1, 1, 2))
    assert one.bags == same.bags and np.array_equal(one.family.drunk_ml, same.family.drunk_ml)
    assert not np.array_equal(one.family.drunk_ml, other.family.drunk_ml)


def test_a_course_that_knows_everything_ends_on_the_day_that_comes_true() -> None:
    """Two implementations of one household's days: the bench's, bag by bag, and the forecast's paths."""
    for number in range(60):
        one = stash.stocked("dips", np.random.default_rng([SEED, number]))
        given = asked.course(one)
        sure = Course(
            need=Flow(mean_ml=one.family.ahead_ml), supply=Flow(mean_ml=one.expressed_ml), held=given.held,
            rules=given.rules,
        )  # fmt: skip
        seen = paths.run(sure, paths=1, rng=np.random.default_rng(0)).run_out_d[0]
        came = stash.runs_out_d(one)
        assert seen == (given.days if came is None else came), number


# The judging


def test_places_of_a_right_forecast_are_even_whole_days_and_unseen_ones_too() -> None:
    """The randomised integral transform: Czado, Gneiting and Held 2009, Biometrics 65:1254."""
    rng = np.random.default_rng(4)

    def ends(count: int) -> np.ndarray:
        return np.minimum(rng.geometric(0.2, count), 8)  # a quarter of them is not seen

    drawn = ends(200_000)
    at = np.array([judge.place(drawn, int(came), rng.random()) for came in ends(4000)])
    assert np.mean([judge.inside(one) for one in at]) == pytest.approx(0.8, abs=0.02)
    assert np.quantile(at, [0.25, 0.5, 0.75]) == pytest.approx([0.25, 0.5, 0.75], abs=0.03)


def test_a_share_comes_with_its_interval() -> None:
    """Wilson's interval of 80 in 100 is 0.711 to 0.867: Agresti and Coull 1998, formula 2 (calculated)."""
    found = judge.coverage([True] * 80 + [False] * 20)
    assert (found.share, round(found.low, 3), round(found.high, 3)) == (0.8, 0.711, 0.867)
