"""A problem made ready for the solvers: feeds, cold lots and bags with their windows, which bag goes before which."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from .demand import Want, wants, within
from .figures import cost
from .kinds import Lot, Problem, Slot
from .windows import EPS_H, Opening, Pool, alike, cold_wants, end_h, evenings, freeze_slots, openings, pool

TINY_ML = 1e-6


class Cold(NamedTuple):
    """A lot in the cold (by its number): the feeds it may be given at; `wasted`: what is not fed is thrown away.

    `slots`: when what is over can be frozen.
    """

    lot: int
    ml: float
    wants: tuple[int, ...]
    wasted: bool
    slots: tuple[Slot, ...]
    rotated: bool


class Frozen(NamedTuple):
    """A bag (its lot's number): when it may be opened; `ends`: its freezer deadline falls into the plan.

    It may leave the freezer from `first_h` to `last_h`.
    """

    lot: int
    ml: float
    pool: Pool
    openings: tuple[Opening, ...]
    first_h: float
    last_h: float
    ends: bool


@dataclass(frozen=True, slots=True)
class Case:
    """All that the solvers look at. `rows`: the bags of one group, oldest first, by their place in `frozen`.

    `before[k]`: how many of the row's first bags are older than `frozen[k]` by more than the slack.
    """

    problem: Problem
    wants: list[Want]
    cold: list[Cold]
    frozen: list[Frozen]
    rows: list[list[int]]
    before: list[int]
    row_of: list[int]
    sunk_ml: float
    evenings: frozenset[float]


def check(problem: Problem) -> None:
    """ValueError in one line where a problem can't be meant."""
    names = [lot.name for lot in problem.lots]
    if len(set(names)) != len(names):
        raise ValueError("two lots have the same name")
    amounts = [lot.ml for lot in problem.lots] + [x for need in problem.needs for x in (need.mean_ml, need.sd_ml)]
    amounts += [feed.share for feed in problem.feeds] + [need.short_cost for need in problem.needs]
    if any(not math.isfinite(ml) or ml < 0 for ml in amounts):
        raise ValueError("an amount is below 0 or is no number")
    times = [feed.at_h for feed in problem.feeds] + [slot.at_h for slot in problem.slots] + [problem.horizon_h]
    times += [hour for lot in problem.lots for hour in (lot.dated_h, lot.from_h, lot.margin_h)]
    if any(not math.isfinite(hour) for hour in times) or any(math.isnan(lot.until_h) for lot in problem.lots):
        raise ValueError("a time is no number")
    if len({need.name for need in problem.needs}) != len(problem.needs):
        raise ValueError("two needs have the same name")


def prepare(problem: Problem) -> Case:
    """The case of a problem; ValueError where it can't be meant."""
    check(problem)
    wanted = wants(problem)
    cold = [_cold(problem, i, wanted) for i, lot in enumerate(problem.lots) if lot.form != "frozen" and _counts(lot)]
    frozen, rest = _bags(problem, wanted)
    rows, before = _rows(problem, frozen)
    row_of = [0] * len(frozen)
    for number, row in enumerate(rows):
        for k in row:
            row_of[k] = number
    sunk = sum(lot.ml for lot in rest if end_h(lot) < problem.horizon_h)
    return Case(problem, wanted, cold, frozen, rows, before, row_of, sunk, evenings(problem))


def rotation_cost(case: Case, cold: Cold, want: Want) -> float:
    """What giving 1 mL of a cold lot at a feed costs on account of a freezer day."""
    fresh = case.problem.lots[cold.lot].form == "fresh"
    return cost("rotation") if fresh and (want.rotation or cold.rotated) else 0.0


def _counts(lot: Lot) -> bool:
    return not lot.held and lot.ml > TINY_ML


def _cold(problem: Problem, number: int, wanted: list[Want]) -> Cold:
    lot = problem.lots[number]
    slots = freeze_slots(problem, lot)
    wasted = end_h(lot) < problem.horizon_h and not slots
    rotated = bool(slots) and within(lot.dated_h, problem.rotation)
    return Cold(number, lot.ml, tuple(cold_wants(lot, wanted)), wasted, slots, rotated)


def _bags(problem: Problem, wanted: list[Want]) -> tuple[list[Frozen], list[Lot]]:
    """The bags that can be of use, and those that can't."""
    pools: dict[Pool, list[Opening]] = {}
    first: list[tuple[int, Pool, float, float]] = []
    rest = []
    for number, lot in enumerate(problem.lots):
        if lot.form != "frozen" or not _counts(lot):
            continue
        if lot.thaw is None:
            rest.append(lot)
            continue
        of = pool(lot, lot.thaw)
        if of not in pools:
            pools[of] = openings(of, problem, wanted)
        first.append((number, of, max(0.0, lot.from_h), min(lot.until_h - lot.margin_h, 1e9)))
    return [_bag(problem, one, made) for one, made in zip(first, _moments(problem, first, pools), strict=True)], rest


def _moments(
    problem: Problem, first: list[tuple[int, Pool, float, float]], pools: dict[Pool, list[Opening]]
) -> list[tuple[Opening, ...]]:
    """The openings of each bag: of moments that reach the same feeds one is enough, but the same for a whole row.

    (A bag that leaves at a moment asks for older ones of its row to have left by then.)
    """
    kept: dict[tuple[str, tuple[str, ...] | None], set[float]] = {}
    seen = set()
    for number, of, first_h, last_h in first:
        group = problem.lots[number].group
        if (group, of, first_h, last_h) not in seen:
            seen.add((group, of, first_h, last_h))
            times = kept.setdefault((group, of.children), set())
            times.update(alike(pools[of], first_h, last_h))
    found: dict[tuple[str, Pool, float, float], tuple[Opening, ...]] = {}
    for number, of, first_h, last_h in first:
        key = problem.lots[number].group, of, first_h, last_h
        if key not in found:
            times = kept[key[0], of.children]
            fits = (one for one in pools[of] if first_h - EPS_H <= one.at_h <= last_h + EPS_H and one.at_h in times)
            found[key] = tuple(fits)
    return [found[problem.lots[number].group, of, first_h, last_h] for number, of, first_h, last_h in first]


def _bag(problem: Problem, one: tuple[int, Pool, float, float], moments: tuple[Opening, ...]) -> Frozen:
    number, of, first_h, last_h = one
    return Frozen(number, problem.lots[number].ml, of, moments, first_h, last_h, last_h < problem.horizon_h)


def _rows(problem: Problem, frozen: list[Frozen]) -> tuple[list[list[int]], list[int]]:
    """Rows of bags that are compared by age, and how many of its row each must wait for."""
    lots = problem.lots
    rows: dict[tuple[str, tuple[str, ...] | None], list[int]] = {}
    for k, bag in enumerate(frozen):
        rows.setdefault((lots[bag.lot].group, bag.pool.children), []).append(k)
    before = [0] * len(frozen)
    for row in rows.values():
        row.sort(key=lambda k: (lots[frozen[k].lot].dated_h, lots[frozen[k].lot].until_h, lots[frozen[k].lot].name))
        dates = [lots[frozen[k].lot].dated_h for k in row]
        for k, dated_h in zip(row, dates, strict=True):
            older = (i for i, date in enumerate(dates) if not date < dated_h - problem.order_slack_h - EPS_H)
            before[k] = next(older, len(row)) if problem.oldest_first else 0
    return list(rows.values()), before


class Choice(NamedTuple):
    """What a solver decided: when each opened bag leaves the freezer (by its place in `frozen`), and who gets what.

    `parts`: (lot's number, feed's number) and mL.
    """

    opened: dict[int, Opening]
    parts: dict[tuple[int, int], float]


def milk_cost(case: Case, choice: Choice) -> float:
    """Shortage, weighted, and milk thrown away, in mL thrown away."""
    given: dict[int, float] = {}
    fed = [0.0] * len(case.wants)
    for (lot, want), ml in choice.parts.items():
        given[lot] = given.get(lot, 0.0) + ml
        fed[want] += ml
    short = sum(max(0.0, want.ml - ml) * want.cost for want, ml in zip(case.wants, fed, strict=True))
    cold = sum(max(0.0, one.ml - given.get(one.lot, 0.0)) for one in case.cold if one.wasted)
    bags = sum(
        max(0.0, bag.ml - given.get(bag.lot, 0.0))
        for k, bag in enumerate(case.frozen)
        if bag.ends or k in choice.opened
    )
    return short + cold + bags + case.sunk_ml


def weighed(case: Case, choice: Choice) -> float:
    """The milk's cost, and what fresh milk on a freezer day weighs."""
    cold = {one.lot: one for one in case.cold} if case.problem.rotation else {}
    turned = sum(
        rotation_cost(case, cold[lot], case.wants[i]) * ml for (lot, i), ml in choice.parts.items() if lot in cold
    )
    return milk_cost(case, choice) + turned


def judged(case: Case, choice: Choice) -> tuple[int, int, int]:
    """What a choice is judged by, in this order: milk (in thousandths of a mL), bags, bags taken out at night."""
    nights = sum(opening.night for opening in choice.opened.values())
    return round(1000 * weighed(case, choice)), len(choice.opened), nights


def blocked(case: Case, k: int, at_h: float, opened: dict[int, Opening]) -> bool:
    """Whether a bag may not leave at `at_h` since one that is older by more than the slack could and has not."""
    row = case.rows[case.row_of[k]]
    for other in row[: case.before[k]]:
        bag = case.frozen[other]
        could = bag.first_h <= at_h + EPS_H and at_h <= bag.last_h + EPS_H
        if could and (other not in opened or opened[other].at_h > at_h + EPS_H):
            return True
    return False
