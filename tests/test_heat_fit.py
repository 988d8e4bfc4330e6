"""A refrigerator's film from a family's own thaws: it finds what made them, and is never surer than they are."""

from __future__ import annotations

import random

import pytest

from thawline.engines.physics import assumed, fit, quick
from thawline.engines.physics.case import case
from thawline.engines.physics.record import Logged
from thawline.engines.physics.spread import INFINITE, Air, Range, Vessel

BAG = assumed.vessel("flat", 120, 15, measured=True, faces=2)
AIR = Air(assumed.measured_c(4), fit.PRIOR)


def hours(film: float, vessel: Vessel = BAG) -> float:
    """How long a thaw takes with that film, all else as likely."""
    return quick.thaw_h(case(vessel, Range.exactly(film), "nominal", "warming"), 4, -18)


def seen(film: float, part: float = 0.05, vessel: Vessel = BAG) -> fit.Seen:
    """A thaw whose end was seen to within a part of it."""
    return fit.Seen(vessel, AIR, hours(film, vessel) * (1 - part), hours(film, vessel) * (1 + part))


def test_nothing_seen_says_nothing() -> None:
    assert fit.film([]) == fit.PRIOR


@pytest.mark.parametrize("film", [5, 6, 8, 12, 15])
def test_one_good_thaw_narrows_it_to_a_fifth(film: float) -> None:
    found = fit.film([seen(film)])
    assert found.nominal == pytest.approx(film, rel=0.1)
    assert found.low < film < found.high
    assert 0.15 <= found.high / found.nominal - 1 <= 0.3
    assert 0.15 <= 1 - found.low / found.nominal <= 0.3


def test_many_thaws_narrow_it_to_a_tenth_and_no_further() -> None:
    widths = [fit.film([seen(8)] * count) for count in (1, 3, 10, 30)]
    parts = [one.high / one.nominal - 1 for one in widths]
    assert parts == sorted(parts, reverse=True)
    assert 0.1 <= parts[-1] <= 0.12


def test_thaws_all_over_the_place_leave_it_wide() -> None:
    assert fit.film([seen(5, 0.02), seen(15, 0.02)]).high / fit.film([seen(8, 0.02)] * 2).high > 1.05


@pytest.mark.parametrize("film", [3, 25])
def test_it_leaves_what_was_believed_where_thaws_say_so(film: float) -> None:
    found = fit.film([seen(film)] * 2)
    assert found.nominal == pytest.approx(film, rel=0.12)


def test_it_does_not_leave_what_was_believed_by_doubt_alone() -> None:
    found = fit.film([seen(14.5, 0.3)])
    assert found.low >= fit.PRIOR.low
    assert found.high <= fit.PRIOR.high * 1.1


def test_ice_still_seen_rules_out_strong_films_only() -> None:
    found = fit.film([fit.Seen(BAG, AIR, hours(9), INFINITE)])
    assert found.high < fit.PRIOR.high
    assert found.low >= 0.8 * fit.PRIOR.low
    assert found.high / found.low > 1.7


def test_all_liquid_rules_out_weak_films_only() -> None:
    found = fit.film([fit.Seen(BAG, AIR, 0, hours(12))])
    assert found.low > fit.PRIOR.low
    assert found.high >= 12


def test_an_unmeasured_bag_teaches_less() -> None:
    loose = assumed.vessel("flat", 120, 15)
    sure, unsure = fit.film([seen(8)]), fit.film([seen(8, vessel=loose)])
    assert unsure.high - unsure.low >= sure.high - sure.low


def test_thaws_that_cannot_be_change_nothing() -> None:
    impossible = fit.Seen(BAG, AIR, 0.01, 0.02)
    assert fit.film([impossible] * 5) == fit.PRIOR


def test_a_logged_thaw_counts_as_well() -> None:
    log = Logged([0, 10, 20, 40], [4, 4, 4, 4], 0.3)
    found = fit.film([fit.Seen(BAG, log, hours(8) * 0.95, hours(8) * 1.05)])
    assert found.nominal == pytest.approx(8, rel=0.1)


def test_it_covers_the_truth_as_often_as_it_says() -> None:
    # Thaws drawn with the doubt that is assumed of them: the film, and thickness and model off by a normal.
    rng = random.Random(3)
    covered = 0
    for _ in range(60):
        film = rng.uniform(6, 12)
        off = rng.gauss(1, 0.05) * rng.gauss(1, 0.05)
        took = hours(film) * off
        found = fit.film([fit.Seen(BAG, AIR, took * 0.95, took * 1.05)])
        covered += found.low <= film <= found.high
    assert covered >= 54
