"""Each rule of the planner in one plain case. Amounts are invented; margins and weights are ours."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from tests.planner_problems import THAW, fresh, frozen, need, problem, thawed

from thawline.engines.planner import check, plan, reasons
from thawline.engines.planner.demand import planned_ml
from thawline.engines.planner.figures import margin_h
from thawline.engines.planner.kinds import Chore, Feed, Part, Plan, Problem, Slot
from thawline.engines.planner.sizes import sizes


def made(of: Problem) -> Plan:
    found = plan.make(of)
    assert check.faults(of, found) == [] and check.faults(of, plan.greedy(of)) == []
    return found


def given(found: Plan) -> dict[str, float]:
    parts = [part for serving in found.servings for part in serving.parts]
    return {part.lot: round(sum(one.ml for one in parts if one.lot == part.lot), 3) for part in parts}


def chore(found: Plan, does: str) -> Chore:
    (one,) = [one for one in found.chores if one.does == does]
    return one


def test_what_is_planned_for_is_the_quantile_of_the_cost_of_running_short() -> None:
    # 9 / (9 + 1) = 0.9; z = 1.2816 (table of the normal distribution)
    assert planned_ml(replace(need(ml=800.0), sd_ml=100.0, short_cost=9.0)) == pytest.approx(928.16, abs=0.01)
    assert planned_ml(replace(need(ml=800.0), sd_ml=100.0, short_cost=1.0)) == pytest.approx(800.0)
    assert planned_ml(replace(need(ml=10.0), sd_ml=100.0, short_cost=0.5)) == 0.0
    assert planned_ml(replace(need(ml=10.0), sd_ml=100.0, short_cost=0.0)) == 0.0


def test_limits_in_hours_keep_half_an_hour_and_limits_in_days_six() -> None:
    assert (margin_h(4.0), margin_h(24.0), margin_h(48.0), margin_h(96.0)) == (0.5, 0.5, 6.0, 6.0)


def test_milk_is_not_used_past_its_deadline_less_the_margin() -> None:
    assert given(made(problem(fresh(until_h=16.0, freeze_by_h=None)))) == {"fresh": 100.0}
    late = made(problem(fresh(until_h=15.9, freeze_by_h=None)))
    assert given(late) == {} and late.thrown == (("fresh", 100.0),)


def test_a_place_with_a_stricter_deadline_is_heeded() -> None:
    care = (need(where="care"),)
    assert given(made(problem(fresh(until_at={"care": 15.0}), needs=care))) == {}
    assert given(made(problem(fresh(until_at={"care": 16.0}), needs=care))) == {"fresh": 100.0}


def test_milk_for_a_child_who_leaves_must_be_there_when_it_leaves() -> None:
    away = (need(leave_h=8.0),)
    assert given(made(problem(fresh(from_h=8.5), needs=away))) == {}
    found = made(problem(fresh(from_h=7.5), needs=away))
    assert given(found) == {"fresh": 100.0} and chore(found, "pack").by_h == 8.0


def test_milk_that_left_in_time_must_be_within_its_limit_at_the_feed() -> None:
    assert given(made(problem(fresh(until_h=15.0, freeze_by_h=None), needs=(need(leave_h=8.0),)))) == {}


def test_a_bag_leaves_the_freezer_at_a_slot_early_enough_to_thaw() -> None:
    found = made(problem(frozen(), at=(30.0,)))
    assert chore(found, "thaw").at_h == 12.0 and chore(found, "thaw").by_h == 18.0


def test_a_bag_is_not_used_later_than_its_life_after_leaving_the_freezer() -> None:
    found = made(problem(frozen(thaw=THAW._replace(quick=False)), at=(30.0,), slots=(Slot(6.0),)))
    assert found.opened == 0 and found.short_ml == 100.0


def test_a_bag_is_thawed_in_water_only_where_no_slot_gets_it_ready() -> None:
    found = made(problem(frozen(), at=(5.0,)))
    one = chore(found, "thaw")
    assert (one.at_h, one.need, one.reason.code) == (5.0, "day", "thaw_quick")


def test_milk_thawed_in_water_is_for_that_feed_only() -> None:
    found = made(problem(frozen(ml=200.0), at=(5.0, 8.0), ml=200.0, slots=()))
    assert found.servings[0].short_ml + found.servings[1].short_ml == 100.0 and found.thrown_ml == 100.0


def test_nothing_is_thawed_in_water_for_a_child_who_leaves() -> None:
    assert made(problem(frozen(), needs=(need(leave_h=8.0),))).short_ml == 100.0


def test_a_bag_is_opened_whole_and_its_rest_is_thrown_away() -> None:
    found = made(problem(frozen(ml=150.0), at=(30.0,)))
    assert found.thrown == (("bag", 50.0),) and chore(found, "discard").reason.code == "left_over"


def test_the_bag_that_leaves_least_over_is_opened() -> None:
    bags = [frozen("a", 150.0), frozen("b", 100.0), frozen("c", 120.0)]
    assert given(made(problem(*bags, at=(30.0,)))) == {"b": 100.0}


def test_fewer_bags_are_opened_where_the_milk_is_the_same() -> None:
    bags = [frozen("a", 50.0), frozen("b", 50.0), frozen("c", 100.0)]
    assert made(problem(*bags, at=(30.0,))).opened == 1


def test_no_bag_is_taken_out_at_night_where_by_day_does_as_well() -> None:
    slots = (Slot(10.0), Slot(15.0, night=True))
    assert chore(made(problem(frozen(), at=(30.0,), slots=slots)), "thaw").at_h == 10.0


def test_older_bags_leave_first_beyond_the_slack() -> None:
    bags = [frozen("old", 150.0, dated_h=-900.0), frozen("young", 100.0, dated_h=-100.0)]
    assert given(made(problem(*bags, at=(30.0,)))) == {"old": 100.0}
    assert given(made(problem(*bags, at=(30.0,), oldest_first=False))) == {"young": 100.0}
    assert given(made(problem(*bags, at=(30.0,), order_slack_h=800.0))) == {"young": 100.0}


def test_a_bag_past_its_freezer_deadline_stays_closed_and_is_told_as_thrown_away() -> None:
    found = made(problem(frozen(until_h=17.0), at=(30.0,)))
    assert given(found) == {} and found.thrown == (("bag", 100.0),)


def test_a_bag_whose_freezer_deadline_comes_is_used_before_a_better_fit() -> None:
    bags = [frozen("ends", 120.0, until_h=30.0), frozen("fits", 100.0)]
    assert given(made(problem(*bags, at=(30.0,)))) == {"ends": 100.0}


def test_fresh_milk_over_is_frozen_in_time() -> None:
    found = made(problem(fresh(ml=160.0, until_h=40.0, freeze_by_h=40.0, frozen_until_h=4000.0)))
    one = chore(found, "freeze")
    assert (one.ml, one.at_h, one.by_h, one.reason.code) == (60.0, 12.0, 34.0, "over") and found.thrown_ml == 0


DAYS = tuple(Slot(24.0 * day + hour, hour == 18) for day in range(4) for hour in (0, 6, 13, 18))


def test_fresh_milk_that_no_feed_of_three_days_takes_is_frozen_whole_on_the_first_evening() -> None:
    found = made(problem(fresh("old", dated_h=-30.0), fresh("new"), slots=DAYS))
    one = chore(found, "freeze")
    assert given(found) == {"old": 100.0}
    assert (one.lot, one.ml, one.at_h, one.by_h, one.reason.code) == ("new", 100.0, 13.0, 90.0, "over_young")


def test_milk_over_is_frozen_at_once_where_an_evening_forgotten_would_cost_it() -> None:
    found = made(
        problem(fresh("old", dated_h=-30.0), fresh("new", until_h=40.0, freeze_by_h=40.0), at=(50.0,), slots=DAYS)
    )
    assert (chore(found, "freeze").lot, chore(found, "freeze").at_h) == ("new", 0.0)


def test_milk_over_waits_where_the_plan_is_too_short_to_tell_or_knows_of_no_feed() -> None:
    assert made(problem(fresh("old", dated_h=-30.0), fresh("new"), slots=DAYS, horizon_h=48.0)).chores == ()
    assert made(problem(fresh(), at=(), slots=DAYS)).chores == ()


def test_milk_yet_to_be_expressed_is_not_frozen_while_it_may_be_fed_later() -> None:
    coming = fresh("coming", from_h=5.0, dated_h=5.0, until_h=101.0, freeze_by_h=101.0, coming=True)
    assert made(problem(fresh(), coming, slots=DAYS)).chores == ()


def test_young_milk_is_frozen_where_milk_to_come_does_for_its_late_feed() -> None:
    coming = fresh("coming", from_h=60.0, dated_h=60.0, until_h=156.0, freeze_by_h=156.0, coming=True)
    of = problem(fresh(), coming, at=(80.0,), slots=DAYS, horizon_h=90.0)
    assert given(made(of)) == {"coming": 100.0} and chore(made(of), "freeze").lot == "fresh"
    late = replace(coming, from_h=81.0)
    assert given(made(replace(of, lots=(fresh(), late)))) == {"fresh": 100.0}


def test_what_is_over_of_a_lot_is_frozen_after_its_last_feed() -> None:
    found = made(problem(fresh(ml=160.0, until_h=60.0, freeze_by_h=60.0), at=(10.0, 20.0), slots=DAYS))
    assert (chore(found, "freeze").ml, chore(found, "freeze").at_h) == (60.0, 24.0)


def test_a_shortage_names_milk_that_is_frozen_soon_enough_to_be_thawed_for_it() -> None:
    # Thursday's milk ends before Monday's feeds: frozen on Friday evening, it can be thawed from Sunday on.
    lots = (fresh("old", until_h=60.0, freeze_by_h=60.0), frozen("small", 10.0))
    (short,) = made(problem(*lots, at=(70.0,), slots=DAYS, horizon_h=90.0)).short
    assert short.ml == 90.0 and short.mends[0] == reasons.reason("once_frozen", lot="old", at_h=13.0)
    soon = made(problem(*lots, at=(56.0,), slots=DAYS, horizon_h=90.0, needs=(need(leave_h=30.0),)))
    assert "once_frozen" not in [mend.code for short in soon.short for mend in short.mends]


def test_lots_are_used_up_one_after_the_other_and_what_is_over_is_frozen_whole() -> None:
    # Each ends before its feeds could use it up but for the last; two are enough for all three feeds.
    lots = (fresh("a", 150.0, until_h=20.0, freeze_by_h=20.0), fresh("b", 150.0, until_h=40.0, freeze_by_h=40.0),
            fresh("c", 150.0, until_h=60.0, freeze_by_h=60.0))  # fmt: skip
    found = made(problem(*lots, at=(10.0, 30.0, 50.0), ml=300.0, slots=DAYS))
    assert given(found) == {"b": 150.0, "c": 150.0}
    assert [(one.lot, one.ml) for one in found.chores if one.does == "freeze"] == [("a", 150.0)]


def test_less_than_is_worth_a_bag_is_not_poured_off() -> None:
    late = fresh(ml=120.0, until_h=28.0, freeze_by_h=28.0)
    assert made(problem(late, at=(21.0,))).chores == ()
    assert chore(made(problem(late, at=(10.0,))), "freeze").ml == 20.0
    assert chore(made(problem(replace(late, ml=130.0), at=(21.0,))), "freeze").ml == 30.0


@pytest.mark.parametrize(
    ("bags", "taken"),
    [((60.0, 100.0, 150.0), {100.0}), ((30.0, 50.0, 100.0), {30.0, 50.0}), ((20.0, 40.0), {20.0, 40.0})],
)
def test_what_is_thawed_in_water_holds_the_least_above_what_is_missing(
    bags: tuple[float, ...], taken: set[float]
) -> None:
    of = problem(*(frozen(f"b{ml:.0f}", ml) for ml in bags), at=(5.0,), ml=80.0)
    for found in (plan.greedy(of), plan.make(of)):
        assert {one.ml for one in found.chores if one.does == "thaw"} == taken


def test_milk_over_is_thrown_away_where_the_family_does_not_freeze() -> None:
    found = made(problem(fresh(ml=160.0, until_h=40.0, freeze_by_h=40.0), freeze_over=False))
    assert found.thrown == (("fresh", 60.0),)


def test_milk_that_ends_beyond_the_plan_is_left_alone() -> None:
    found = made(problem(fresh(ml=160.0, until_h=120.0, freeze_by_h=120.0)))
    assert found.chores == () and found.thrown_ml == 0


def test_what_is_frozen_is_the_youngest_and_whole() -> None:
    lots = [fresh(f"f{i}", until_h=40.0 + i, freeze_by_h=40.0 + i, dated_h=-50.0 + i) for i in range(3)]
    found = made(problem(*lots))
    assert given(found) == {"f0": 100.0}
    assert [(one.lot, one.ml) for one in found.chores if one.does == "freeze"] == [("f1", 100.0), ("f2", 100.0)]


def test_oldest_first_never_costs_milk() -> None:
    lots = [fresh("old", dated_h=-50.0), fresh("ends", dated_h=-5.0, until_h=20.0, freeze_by_h=None)]
    assert given(made(problem(*lots))) == {"ends": 100.0}


def test_thawed_milk_goes_before_fresh() -> None:
    found = made(problem(fresh(dated_h=-60.0), thawed()))
    assert given(found) == {"thawed": 100.0}
    assert found.servings[0].parts[0].reason.code == "thawed_already"


def test_thawing_milk_waits_until_it_is_ready() -> None:
    assert given(made(problem(thawed(form="thawing", from_h=11.0)))) == {}
    assert given(made(problem(thawed(form="thawing", from_h=9.0)))) == {"thawed": 100.0}


def test_thawed_milk_is_never_frozen() -> None:
    found = made(problem(thawed(ml=160.0, freeze_by_h=20.0)))
    assert found.thrown == (("thawed", 60.0),)


def test_milk_on_the_counter_is_put_away_in_time() -> None:
    one = chore(made(problem(fresh(chore_by_h=3.0))), "chill")
    assert (one.at_h, one.by_h, one.reason.code) == (0.0, 3.0, "put_away")
    coming = chore(made(problem(fresh(from_h=5.0, chore_by_h=9.0, coming=True))), "chill")
    assert (coming.at_h, coming.by_h) == (5.0, 9.0)


def test_milk_that_was_not_put_away_in_time_is_not_used() -> None:
    assert given(made(problem(fresh(chore_by_h=-1.0)))) == {}


def test_held_milk_is_not_used_and_named_where_it_would_mend() -> None:
    found = made(problem(fresh(held=True)))
    assert given(found) == {} and "clear_hold" in [mend.code for mend in found.short[0].mends]


def test_milk_for_one_child_is_not_given_to_another() -> None:
    assert given(made(problem(fresh(children=frozenset({"Noa"}))))) == {}


def test_on_a_freezer_day_milk_comes_from_the_freezer_and_the_day_s_milk_is_frozen() -> None:
    day = ((24.0, 48.0),)
    lots = (fresh("fridge"), fresh("today", from_h=26.0, dated_h=26.0, until_h=122.0, freeze_by_h=122.0), frozen())
    found = made(problem(*lots, at=(40.0,), rotation=day))
    assert given(found) == {"bag": 100.0} and found.servings[0].parts[0].reason.code == "rotation_day"
    # The day's milk at the first moment; what the bag makes needless in the refrigerator as any milk over.
    frozen_then = {one.lot: (one.at_h, one.reason.code) for one in found.chores if one.does == "freeze"}
    assert frozen_then == {"today": (36.0, "rotation_day"), "fridge": (0.0, "over_young")}


def test_on_a_freezer_day_fresh_milk_still_beats_running_short() -> None:
    assert given(made(problem(fresh("fridge"), at=(40.0,), rotation=((24.0, 48.0),)))) == {"fridge": 100.0}


def test_a_shortage_says_when_how_much_and_what_would_mend_it() -> None:
    (short,) = made(problem(fresh(ml=30.0), at=(10.0, 20.0))).short
    assert (short.need, short.ml) == ("day", 70.0)
    assert [mend.code for mend in short.mends] == ["express_in_time", "other_milk"]


def test_a_bag_that_costs_more_than_the_shortage_stays_closed_and_is_offered() -> None:
    found = made(problem(frozen(ml=150.0), at=(30.0,), needs=(need(ml=10.0, short_cost=2.0),)))
    assert found.opened == 0 and found.short[0].mends[0] == reasons.reason("open_one_more", lot="bag", over_ml=140.0)


def test_every_reason_is_on_the_list_and_the_list_is_used() -> None:
    with pytest.raises(KeyError):
        reasons.reason("because")
    folder = Path(str(reasons.__file__)).parent
    text = "".join(path.read_text() for path in folder.glob("*.py") if path.name != "reasons.py")
    used = set(re.findall(r'"([a-z_]+)"', text))
    assert set(reasons.SAYS) <= used, set(reasons.SAYS) - used


def test_the_solver_prints_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    plan.make(problem(frozen("a", 150.0), frozen("b", 90.0), at=(30.0,)))
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("refine", [True, False])
def test_nothing_gives_an_empty_plan(refine: bool) -> None:
    empty = Problem(horizon_h=72.0, lots=(), needs=(), feeds=(), slots=())
    found = plan.make(empty, refine=refine)
    assert (found.servings, found.chores, found.thrown, found.better_ml, found.proven) == ((), (), (), 0.0, True)


def test_without_refinement_the_bound_is_proven_all_the_same() -> None:
    of = problem(frozen("a", 150.0), frozen("b", 100.0), at=(30.0,))
    assert plan.make(of, refine=False).proven and not plan.greedy(of).proven


@pytest.mark.parametrize(
    "wrong",
    [
        problem(fresh(), fresh()),
        problem(fresh(ml=-1.0)),
        problem(fresh(ml=float("nan"))),
        problem(fresh(from_h=float("nan"))),
        problem(needs=(need(), need())),
        replace(problem(), feeds=(Feed(at_h=1.0, need="nobody", share=1.0),)),
    ],
)
def test_a_problem_that_cant_be_meant_is_refused_in_one_line(wrong: Problem) -> None:
    with pytest.raises(ValueError, match=r"^[^\n]+$"):
        plan.make(wrong)


def test_sizes_are_portions_and_a_small_bag_for_the_rest() -> None:
    assert sizes(200.0, 60.0) == (60.0, 60.0, 60.0, 20.0)
    assert sizes(130.0, 60.0) == (65.0, 65.0)
    assert sizes(40.0, 60.0) == (40.0,) and sizes(0.0, 60.0) == ()
    with pytest.raises(ValueError, match="portion"):
        sizes(10.0, 0.0)


BROKEN = problem(fresh("f", 50.0, until_h=14.0, freeze_by_h=None), frozen(), thawed(held=True), at=(30.0,))


@pytest.mark.parametrize(
    ("lot", "does", "at_h", "says"),
    [
        ("f", "", 0.0, "past its deadline"),
        ("f", "", 0.0, "more is taken than is in it"),
        ("bag", "", 0.0, "used frozen"),
        ("bag", "thaw", 24.0, "used before it is thawed"),
        ("bag", "thaw", 0.0, "past its deadline after thawing"),
        ("bag", "thaw", 17.0, "nobody is there"),
        ("thawed", "", 0.0, "held"),
        ("thawed", "freeze", 0.0, "frozen again"),
        ("gone", "", 0.0, "not among the lots"),
    ],
)
def test_the_check_names_what_is_broken(lot: str, does: str, at_h: float, says: str) -> None:
    good = plan.greedy(BROKEN)
    part = (Part(lot, 100.0, reasons.reason("past")),)
    chores = (Chore(does, lot, 100.0, at_h, at_h, night=False, reason=reasons.reason("past")),) if does else ()  # type: ignore[arg-type]
    broken = good._replace(servings=(good.servings[0]._replace(parts=part),), chores=chores)
    assert any(says in fault for fault in check.faults(BROKEN, broken))
