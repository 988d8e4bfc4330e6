"""The stock's way over the days: against a plain queue of single containers, sums, limits, and hand arithmetic."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from thawline.engines.forecast import draws, numbers, paths, recursion
from thawline.engines.forecast.course import Course, Flow, Held, Paths, Rules
from thawline.engines.forecast.enough import enough


def run(course: Course, many: int = 1, seed: int = 1) -> Paths:
    return paths.run(course, paths=many, rng=np.random.default_rng(seed))


def plain(
    need: Sequence[float],
    supply: Sequence[float],
    *held: Held,
    rotation: Sequence[bool] = (),
    thrown_share: float = 0.0,
    **rules: Any,
) -> Course:
    """A course that is the same on every path."""
    kept = {"fresh_d": 4, "freezer_d": 180, "thawed_d": 1, "bag_ml": 100.0, **rules}
    return Course(
        need=Flow(mean_ml=need),
        supply=Flow(mean_ml=supply),
        held=held,
        rules=Rules(**kept),
        rotation=rotation,
        thrown_share=thrown_share,
    )


# --- a second implementation: one path, one container at a time, nothing shared but the input


@dataclass
class Bag:
    ml: float
    last: int
    was_frozen: bool = False


class Queue:
    """What a careful person would do with real containers, written down as plainly as can be."""

    def __init__(self, course: Course) -> None:
        self.course, self.rules = course, course.rules
        held = course.held
        self.frozen = sorted((Bag(h.ml, h.last_d) for h in held if h.form == "frozen"), key=lambda bag: bag.last)
        self.thawed = [Bag(h.ml, h.last_d, was_frozen=True) for h in held if h.form == "thawed"]
        self.fresh = [Bag(h.ml, min(h.last_d, self.rules.fresh_d)) for h in held if h.form == "fresh"]
        self.fed = self.thrown = self.expired = self.short = 0.0
        self.rows: list[tuple[float, float, float, float]] = []

    def drink(self, shelf: list[Bag], want: float, today: int) -> float:
        for bag in sorted(shelf, key=lambda bag: bag.last):
            take = min(bag.ml, want)
            assert take == 0 or bag.last >= today, "fed after its day"
            bag.ml -= take
            want -= take
        return want

    def thaw(self, want: float, today: int) -> float:
        while want > 0 and self.frozen:
            bag = self.frozen.pop(0)
            assert bag.last >= today, "left the freezer too late"
            take = min(bag.ml, want)
            want -= take
            self.thawed.append(Bag(bag.ml - take, today + self.rules.thawed_d, was_frozen=True))
        return want

    def freeze(self, bags: list[Bag], today: int) -> None:
        assert not any(bag.was_frozen for bag in bags), "frozen again"
        ml = sum(bag.ml for bag in bags)
        while ml > 0:
            size = min(ml, self.rules.bag_ml)
            self.frozen.append(Bag(size, today + self.rules.freezer_d))
            ml -= size

    def gone(self, shelf: list[Bag], last: int) -> float:
        ended = [bag for bag in shelf if bag.last <= last]
        shelf[:] = [bag for bag in shelf if bag.last > last]
        return sum(bag.ml for bag in ended)

    def day(self, today: int, need: float, supply: float, rotates: bool) -> None:
        self.thrown += self.gone(self.fresh, today - 1) + self.gone(self.thawed, today - 1)
        self.expired += self.gone(self.frozen, today - 1)
        new = Bag(supply, today + self.rules.fresh_d)
        if self.rules.fresh_from_d == 0:
            self.fresh.append(new)
        poured = need / (1 - self.course.thrown_share)
        want = self.drink(self.thawed, poured, today)
        if not rotates:
            want = self.drink(self.fresh, want, today)
        asked = want
        want = self.thaw(want, today)
        if rotates:
            want = self.drink(self.fresh, want, today)
        if self.rules.fresh_from_d == 1:
            self.fresh.append(new)
        self.fed += (poured - want) * (1 - self.course.thrown_share)
        self.thrown += (poured - want) * self.course.thrown_share
        missed = want * (1 - self.course.thrown_share)
        self.short += missed
        self.put_away(today, rotates)
        frozen = sum(bag.ml for bag in self.frozen)
        self.rows.append((frozen, frozen + sum(bag.ml for bag in self.fresh + self.thawed), asked, missed))

    def put_away(self, today: int, rotates: bool) -> None:
        after = self.rules.freeze_after_d
        over = [
            bag
            for bag in self.fresh
            if (rotates and bag.last == today + self.rules.fresh_d)
            or (after is not None and bag.last - today <= self.rules.fresh_d - after)
        ]
        self.fresh = [bag for bag in self.fresh if not any(bag is one for one in over)]
        self.freeze(over, today)
        self.thrown += self.gone(self.fresh, today) + self.gone(self.thawed, today)

    def follow(self) -> Queue:
        for today in range(self.course.days):
            rotates = bool(self.course.rotation) and self.course.rotation[today]
            self.day(today, self.course.need.mean_ml[today], self.course.supply.mean_ml[today], rotates)
        return self


amount = st.integers(0, 40).map(lambda tens: 10.0 * tens)
held = st.builds(
    Held,
    st.integers(1, 30).map(lambda tens: 10.0 * tens),
    st.sampled_from(["fresh", "thawed", "frozen"]),
    st.integers(-1, 12),
)


@st.composite
def courses(draw: st.DrawFn, most: int = 16) -> Course:
    days = draw(st.integers(1, most))
    fresh = draw(st.integers(0, 4))
    row = st.lists(amount, min_size=days, max_size=days)
    return plain(
        draw(row),
        draw(row),
        *draw(st.lists(held, max_size=8)),
        rotation=draw(st.one_of(st.just(()), st.lists(st.booleans(), min_size=days, max_size=days))),
        thrown_share=draw(st.sampled_from([0.0, 0.5, 0.75])),  # no rounding: a hair more would open another bag
        fresh_d=fresh,
        freezer_d=draw(st.integers(0, 9)),
        thawed_d=draw(st.integers(0, 2)),
        bag_ml=draw(st.sampled_from([40.0, 70.0, 100.0, 1000.0])),
        freeze_after_d=draw(st.one_of(st.none(), st.integers(0, fresh))),
        fresh_from_d=draw(st.integers(0, 1)),
    )


@given(courses())
@example(plain([0, 0, 0, 90], [80, 0, 0, 0], Held(50, "frozen", 9), freeze_after_d=0, freezer_d=1))
def test_a_path_is_what_a_plain_queue_of_containers_does(course: Course) -> None:
    found, queue = run(course, many=2), Queue(course).follow()
    frozen, stock, asked, missed = (np.array(column) for column in zip(*queue.rows, strict=True))
    for path in range(2):
        assert found.freezer_ml[:, path] == pytest.approx(frozen, abs=1e-3)
        assert found.stock_ml[:, path] == pytest.approx(stock, abs=1e-3)
        assert found.asked_ml[:, path] == pytest.approx(asked, abs=1e-3)
    for name in ("fed", "thrown", "expired", "short"):
        assert getattr(found.totals, name) == pytest.approx(getattr(queue, name), abs=1e-6), name
    short = [day for day, ml in enumerate(missed) if ml > numbers.value("course", "short_ml")]
    assert found.run_out_d[0] == (short[0] if short else course.days)
    empty = [day for day, ml in enumerate(frozen) if ml == 0]
    assert found.empty_d[0] == (empty[0] if empty else course.days)


def spread(course: Course) -> Course:
    return replace(
        course,
        need=replace(course.need, between=0.2, within=0.3, drift=0.05),
        supply=replace(course.supply, between=0.3, within=0.4),
    )


@given(courses(most=30), st.integers(0, 2**32 - 1))
def test_every_millilitre_is_accounted_for_on_every_path(course: Course, seed: int) -> None:
    found = run(spread(course), many=7, seed=seed).totals
    came = found.start + found.expressed
    assert came == pytest.approx(found.fed + found.thrown + found.expired + found.left, abs=1e-6)
    for column in found:
        assert (column >= -1e-9).all()


@given(courses(), st.integers(0, 2**32 - 1))
def test_need_is_met_or_named_as_short_on_every_path(course: Course, seed: int) -> None:
    found, rng = run(spread(course), many=5, seed=seed), np.random.default_rng(seed)
    level = rng.standard_normal(5)
    wanted = draws.draw(spread(course).need, paths=5, rng=rng, level=level[None, :]).sum(axis=0)
    assert np.array_equal(level, found.need_level)
    assert found.totals.fed + found.totals.short == pytest.approx(wanted, abs=1e-6)
    assert (np.diff(found.short_before) >= 0).all() and found.short_before[0] == 0
    assert found.short_before[-1] == pytest.approx(1 - found.lasts.never)


@given(courses(), st.integers(0, 2**32 - 1))
def test_without_new_milk_the_freezer_never_fills_up_again(course: Course, seed: int) -> None:
    held = tuple(one for one in course.held if one.form != "fresh")
    found = run(spread(replace(course, supply=Flow(mean_ml=np.zeros(course.days)), held=held)), many=5, seed=seed)
    assert (np.diff(found.freezer_ml, axis=0) <= 1e-3).all(), "nothing thawed is frozen again"


@given(st.integers(0, 10), st.sampled_from(["fresh", "thawed", "frozen"]))
def test_nothing_is_used_after_its_day(last_d: int, form: Any) -> None:
    course = plain(
        [0.0] * (last_d + 1) + [50.0] * 3, [0.0] * (last_d + 4), Held(80, form, last_d), freeze_after_d=None, fresh_d=20
    )
    found = run(spread(course), many=3).totals
    assert found.fed == pytest.approx(0)
    assert found.expired + found.thrown == pytest.approx(80)


@given(st.integers(0, 10))
def test_everything_may_be_used_on_its_last_day(last_d: int) -> None:
    course = plain([0.0] * last_d + [80.0], [0.0] * (last_d + 1), Held(80, "frozen", last_d))
    assert run(course).totals.fed == pytest.approx(80)


def test_the_same_state_of_chance_gives_the_same_answer_and_another_one_another() -> None:
    course = spread(plain([300.0] * 40, [280.0] * 40, *[Held(100, "frozen", 60 + day) for day in range(20)]))
    one, same, other = run(course, 50, 7), run(course, 50, 7), run(course, 50, 8)
    assert np.array_equal(one.stock_ml, same.stock_ml) and one.lasts == same.lasts
    assert not np.array_equal(one.stock_ml, other.stock_ml)


def test_more_paths_go_on_where_fewer_ended() -> None:
    course = spread(plain([300.0] * 20, [280.0] * 20, *[Held(100, "frozen", 15)] * 9))
    block = int(numbers.value("course", "block"))
    few, many = run(course, block), run(course, block + 3)
    assert np.array_equal(many.stock_ml[:, :block], few.stock_ml)
    assert many.totals.fed.shape == many.run_out_d.shape == (block + 3,)
    came = many.totals.start + many.totals.expressed
    assert came == pytest.approx(sum(many.totals[2:6]), abs=1e-6)


# --- hand arithmetic


def test_a_stock_that_only_shrinks_lasts_stock_over_need_days() -> None:
    bags = [Held(60, "frozen", 100)] * 25  # 1500 mL, 60 mL a day: 25.0 days, arithmetic (check value C37)
    found = run(plain([60.0] * 40, [0.0] * 40, *bags))
    assert found.lasts == (25, 25, 25, 0.0)
    assert found.freezer_lasts == (24, 24, 24, 0.0)
    assert found.stock.likely[:3] == pytest.approx([1440, 1380, 1320])
    assert list(found.short_before[24:28]) == [0, 0, 1, 1]


def test_a_bag_opened_for_less_is_fed_the_next_day_and_then_thrown_away() -> None:
    found = run(plain([30.0, 30.0, 0.0], [0.0] * 3, Held(100, "frozen", 50)))  # 100 - 30 - 30 = 40 mL over
    assert found.totals.fed == pytest.approx(60) and found.totals.thrown == pytest.approx(40)
    assert list(found.stock_ml[:, 0]) == pytest.approx([70, 0, 0])


def test_what_is_over_is_frozen_in_full_bags_and_a_smaller_one() -> None:
    found = run(plain([0, 0, 50], [250, 0, 0], freeze_after_d=0, fresh_d=0))  # 100 + 100 + 50; one of 100 is opened
    assert list(found.freezer_ml[:, 0]) == [250, 250, 150]
    assert found.stock_ml[2, 0] == 200


def test_on_a_rotation_day_the_freezer_feeds_and_fresh_milk_is_frozen() -> None:
    course = plain([100.0] * 2, [100.0] * 2, *[Held(100, "frozen", 50)] * 3)
    assert list(run(course).freezer_ml[:, 0]) == [300, 300]
    turned = run(replace(course, rotation=[False, True]))
    assert list(turned.freezer_ml[:, 0]) == [300, 300] and turned.totals.fed == pytest.approx(200)
    assert list(turned.asked_ml[:, 0]) == [0, 100]


def test_a_rotation_keeps_the_freezer_from_growing_old() -> None:
    course = plain([300.0] * 120, [300.0] * 120, *[Held(100, "frozen", 90)] * 20)
    assert run(course).totals.expired == pytest.approx(2000)
    turned = run(replace(course, rotation=[day % 7 == 6 for day in range(120)]))  # 12 turns of 300 mL before day 90
    assert turned.totals.expired == pytest.approx(0)


def test_what_is_left_in_bottles_is_poured_and_thrown_away() -> None:
    found = run(plain([90.0], [200.0], thrown_share=0.1)).totals  # 90 / 0.9 = 100 mL poured, 10 mL left over
    assert found.fed == pytest.approx(90) and found.thrown == pytest.approx(10) and found.left == pytest.approx(100)


def test_milk_expressed_while_apart_is_for_the_next_day() -> None:
    found = run(plain([100.0, 100.0], [100.0, 100.0], fresh_from_d=1))
    assert found.totals.short == pytest.approx(100) and found.run_out_d[0] == 0


def test_a_day_counts_as_short_only_past_what_a_bottle_can_be_read_to() -> None:
    assert run(plain([101.0], [100.0])).run_out_d[0] == 1, "1 mL missing: not named (ours, in course.toml)"
    assert run(plain([101.1], [100.0])).run_out_d[0] == 0


# --- what the draws promise


def test_need_has_the_means_and_spreads_it_was_given() -> None:
    flow = Flow(mean_ml=[700.0] * 30, between=0.163, within=0.089)  # CVs of Butte 1991 (seen, abstract), 1-6 months
    drawn = draws.draw(flow, paths=40_000, rng=np.random.default_rng(3))
    assert drawn.mean() == pytest.approx(700, rel=0.01)
    assert drawn.mean(axis=0).std() / 700 == pytest.approx((0.163**2 + 0.089**2 / 30) ** 0.5, rel=0.03)
    assert drawn.std(axis=0).mean() / 700 == pytest.approx(0.089, rel=0.03)


def test_the_level_does_not_shrink_with_days_and_a_trend_grows() -> None:
    days = 305
    level = draws.draw(Flow(mean_ml=[100.0] * days, between=0.2), paths=20_000, rng=np.random.default_rng(4))
    assert level.sum(axis=0).std() / (100 * days) == pytest.approx(0.2, rel=0.05)
    trend = draws.draw(Flow(mean_ml=[100.0] * days, drift=0.03), paths=20_000, rng=np.random.default_rng(4))
    assert trend[0].std() == 0 and np.log(trend[-1]).std() == pytest.approx(0.03 * 304 / 30.4375, rel=0.05)


def test_the_band_of_a_day_is_the_quantile_of_its_paths() -> None:
    course = spread(plain([300.0] * 9, [320.0] * 9, *[Held(100, "frozen", 60)] * 9))
    found = run(course, many=333)
    for points, part in zip(found.stock, (0.1, 0.5, 0.9), strict=True):
        assert points == pytest.approx(np.quantile(found.stock_ml, part, axis=1), rel=1e-5)


# --- divisible milk


@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(0, 40)), min_size=1, max_size=20),
    st.integers(0, 6),
    st.integers(0, 60),
)
def test_the_recursion_on_sums_is_a_plain_queue(days: list[tuple[int, int]], life: int, first: int) -> None:
    queue: list[list[int]] = [[life, first]]
    fed, ended = [], []
    for today, (asked, came) in enumerate(days):
        drunk = 0
        for part in queue:
            take = min(part[1], asked - drunk)
            part[1], drunk = part[1] - take, drunk + take
        fed.append(drunk)
        ended.append(sum(ml for last, ml in queue if last <= today))
        queue = [[last, ml] for last, ml in queue if last > today]
        queue.append([today + 1 + life, came])
    there = first + np.concatenate([[0], np.cumsum([came for _, came in days])])[:-1]
    past = np.array([0 if t < life else there[t - life] for t in range(len(days))])
    demand = np.array([float(asked) for asked, _ in days])
    found = recursion.follow(demand[:, None], there[:, None], past[:, None])
    assert found.fed[:, 0] == pytest.approx(fed) and found.expired[:, 0] == pytest.approx(ended)


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 40)), min_size=1, max_size=20), st.integers(1, 6))
def test_with_bags_of_a_millilitre_the_paths_are_the_recursion(days: list[tuple[int, int]], life: int) -> None:
    need, supply = ([float(one) for one in column] for column in zip(*days, strict=True))
    course = plain(need, supply, bag_ml=1.0, fresh_d=0, fresh_from_d=1, freeze_after_d=0, freezer_d=life)
    there = np.concatenate([[0], np.cumsum(supply)])  # frozen on day t, fed from t + 1 until t + life
    past = np.concatenate([np.zeros(life), np.cumsum(supply)])[: len(need)]
    found = recursion.follow(np.array(need)[:, None], there[:-1, None], past[:, None])
    assert run(course).totals.fed[0] == pytest.approx(found.fed.sum())


# --- enough


def test_enough_is_what_is_fed_before_todays_milk_ends() -> None:
    # 100 mL a day out of the freezer, today's milk may leave it until day 10: ten days after today, 1000 mL.
    for bags, reached in ((9, False), (10, True), (14, True)):
        course = plain([100.0] * 30, [0.0] * 30, *[Held(100, "frozen", 10)] * bags, freezer_d=10)
        found = enough(course, run(course))
        assert found.ml == pytest.approx(1000) and found.likely_ml == pytest.approx(1000)
        assert found.reached is reached
        assert found.unused_ml.likely == pytest.approx(max(0, bags - 11) * 100)


def test_enough_reaches_past_the_days_looked_at() -> None:
    course = plain([100.0] * 5, [0.0] * 5, *[Held(100, "frozen", 90)] * 60, freezer_d=30)
    assert enough(course, run(course)).ml == pytest.approx(3000)


def test_enough_looks_at_the_high_need() -> None:
    course = plain([100.0] * 60, [0.0] * 60, *[Held(100, "frozen", 90)] * 60, freezer_d=30)
    course = replace(course, need=replace(course.need, between=0.2))
    found = enough(course, run(course, 400))
    assert found.ml > 1.15 * found.likely_ml


def test_stock_that_a_goal_will_use_is_not_of_no_use() -> None:
    course = plain([100.0] * 30, [100.0] * 30, *[Held(100, "frozen", 20)] * 5, freezer_d=20)
    found = run(course)
    without = enough(course, found)
    assert without.ml == 0 and without.reached and without.unused_ml.likely == pytest.approx(500)
    saved = np.zeros((16, 1))
    saved[15] = 800
    with_goal = enough(course, found, saved_ml=saved)
    assert with_goal.ml == pytest.approx(800) and not with_goal.reached
    assert with_goal.unused_ml.likely == pytest.approx(0)


def test_what_ends_unused_if_all_goes_on_is_what_has_ended_and_what_is_left_for_nobody() -> None:
    # 50 mL a day is frozen and keeps 5 days, none of it is fed: at the end of day 9 that of days 0 to 3 has ended, of
    # days 4 to 9 lies there; two containers ended before, one with the first day.
    course = plain(
        [0.0] * 10,
        [50.0] * 10,
        Held(70, "frozen", 0),
        Held(30, "frozen", -1),
        Held(20, "frozen", -2),
        freezer_d=5,
        freeze_after_d=0,
    )
    found = enough(course, run(course))
    assert found.going_on_ml.likely == pytest.approx(10 * 50 + 70 + 30 + 20)
    assert found.unused_ml.likely == pytest.approx(120)


def test_what_will_be_fed_later_is_not_unused() -> None:
    course = plain([100.0] * 4, [0.0] * 4, *[Held(100, "frozen", 60)] * 10, freezer_d=5)
    found = enough(course, run(course))  # 600 mL left after four days, 5 x 100 mL fed of them before what is new ends
    assert found.going_on_ml.likely == pytest.approx(100)


def test_an_empty_freezer_is_never_enough() -> None:
    course = plain([100.0] * 5, [100.0] * 5)
    found = enough(course, run(course))
    assert not found.reached and found.day is None


def test_the_day_from_which_it_is_enough_is_found() -> None:
    # Need from the freezer 50 on one day in two, 100 mL frozen on the others: it grows by 50 mL in two days.
    days = 60
    course = plain(
        [50.0 * (d % 2) for d in range(days)],
        [100.0 * (1 - d % 2) for d in range(days)],
        freezer_d=6,
        fresh_d=0,
        bag_ml=50,
        freeze_after_d=0,
    )
    found = enough(course, run(course))
    assert found.ml == pytest.approx(150)  # days 1, 3, 5: 50 mL each
    assert (
        found.day is not None and run(course).freezer_ml[found.day, 0] >= 150 > run(course).freezer_ml[found.day - 1, 0]
    )


# --- what it refuses


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"supply": Flow(mean_ml=[1.0])}, "supply must have one mean a day"),
        ({"need": Flow(mean_ml=[])}, "need must have one mean a day"),
        ({"need": Flow(mean_ml=[1.0, float("nan")])}, "need.mean_ml must be finite"),
        ({"need": Flow(mean_ml=[1.0, 1.0], within=-0.1)}, "need.within must be finite and not below 0"),
        ({"need": Flow(mean_ml=[1.0, 1.0], between=[0.1])}, "need.between must be one figure"),
        ({"rotation": [True]}, "rotation has 1 days, need has 2"),
        ({"thrown_share": 1.0}, "thrown_share"),
        ({"held": (Held(0, "fresh", 1),)}, "more than 0 mL"),
        ({"held": (Held(9, "frozen", 10**6),)}, "last_d must be at most"),
        ({"rules": Rules(fresh_d=1, freezer_d=10**6, thawed_d=1, bag_ml=9)}, "freezer_d and thawed_d must be at most"),
        ({"rules": Rules(fresh_d=1, freezer_d=9, thawed_d=1, bag_ml=0)}, "bag_ml"),
        ({"rules": Rules(fresh_d=1, freezer_d=9, thawed_d=-1, bag_ml=9)}, "thawed_d"),
        ({"rules": Rules(fresh_d=1, freezer_d=9, thawed_d=1, bag_ml=9, freeze_after_d=2)}, "freeze_after_d"),
        ({"rules": Rules(fresh_d=1, freezer_d=9, thawed_d=1, bag_ml=9, fresh_from_d=2)}, "fresh_from_d"),
    ],
)
def test_a_course_that_contradicts_itself_is_refused_in_one_line(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says) as caught:
        run(replace(plain([1.0, 1.0], [1.0, 1.0]), **change))
    assert "\n" not in str(caught.value)


def test_no_paths_are_refused() -> None:
    with pytest.raises(ValueError, match="paths must be at least 1"):
        run(plain([1.0], [1.0]), many=0)


def test_every_figure_stands_beside_its_source_and_mark() -> None:
    for name, entry in numbers.load("course").items():
        assert entry["source"] and entry["mark"] in numbers.MARKS, name
