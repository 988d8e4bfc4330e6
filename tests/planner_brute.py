"""The best plan of a small problem by trying all choices: written apart from the planner, in whole units of mL.

For each bag: not opened, or opened at a slot, or in water at a feed that no slot reaches. Then the milk is shared out
by augmenting paths. What is served and what is saved from being thrown away are weights on the two sides of a matching,
so the best of each side can be had together (Mendelsohn and Dulmage 1958, from memory).
"""

from __future__ import annotations

import itertools
from typing import NamedTuple

from thawline.engines.planner.kinds import Feed, Lot, Need, Problem

Window = list[int]


class Best(NamedTuple):
    milk: float
    opened: int
    short: float
    thrown: float


def best(problem: Problem, unit: float) -> Best:
    """The least milk (shortage weighed in), then bags; amounts must be whole units."""
    needs = {need.name: need for need in problem.needs}
    feeds = sorted(problem.feeds, key=lambda feed: (feed.at_h, feed.need))
    units = [round(needs[feed.need].mean_ml * feed.share / unit) for feed in feeds]
    costs = [needs[feed.need].short_cost for feed in feeds]
    lots = [lot for lot in problem.lots if not lot.held and lot.ml > 0]
    cold = [lot for lot in lots if lot.form != "frozen"]
    bags = [lot for lot in lots if lot.form == "frozen"]
    choices = [[None, *_moments(problem, lot, feeds, needs)] for lot in bags]
    found = None
    for chosen in itertools.product(*choices):
        if not _ordered(problem, bags, [one and one[0] for one in chosen]):
            continue
        supplies = [(round(lot.ml / unit), _cold(lot, feeds, needs), _wasted(problem, lot)) for lot in cold]
        sunk = 0.0
        for lot, one in zip(bags, chosen, strict=True):
            if one is not None:
                supplies.append((round(lot.ml / unit), one[1], True))
            elif lot.until_h - lot.margin_h < problem.horizon_h:
                sunk += lot.ml
        short, thrown, cost = _share(supplies, units, costs, unit)
        one_more = Best(round(cost + sunk, 6), sum(one is not None for one in chosen), short, thrown + sunk)
        if found is None or one_more[:2] < found[:2]:
            found = one_more
    assert found is not None
    return found


def _there(feed: Feed, need: Need) -> float:
    return feed.at_h if need.leave_h is None else min(feed.at_h, need.leave_h)


def _drinks(lot: Lot, feed: Feed, need: Need) -> bool:
    right = lot.children is None or need.child in lot.children
    return right and feed.at_h <= lot.until_at.get(need.where, 1e9) - lot.margin_h


def _cold(lot: Lot, feeds: list[Feed], needs: dict[str, Need]) -> Window:
    return [
        i
        for i, feed in enumerate(feeds)
        if max(0.0, lot.from_h) <= _there(feed, needs[feed.need])
        and feed.at_h <= lot.until_h - lot.margin_h
        and _drinks(lot, feed, needs[feed.need])
    ]


def _wasted(problem: Problem, lot: Lot) -> bool:
    if lot.until_h - lot.margin_h >= problem.horizon_h:
        return False
    if lot.form != "fresh" or lot.freeze_by_h is None or not problem.freeze_over:
        return True
    return not any(max(0.0, lot.from_h) <= slot.at_h <= lot.freeze_by_h - lot.margin_h for slot in problem.slots)


def _moments(problem: Problem, lot: Lot, feeds: list[Feed], needs: dict[str, Need]) -> list[tuple[float, Window]]:
    thaw, found = lot.thaw, {}
    assert thaw is not None
    reached = set()
    for slot in problem.slots:
        window = [
            i
            for i, feed in enumerate(feeds)
            if slot.at_h + thaw.ready_h <= _there(feed, needs[feed.need])
            and feed.at_h <= slot.at_h + thaw.life_h - thaw.margin_h
            and _drinks(lot, feed, needs[feed.need])
        ]
        reached.update(window)
        if window and lot.from_h <= slot.at_h <= lot.until_h - lot.margin_h:
            found[slot.at_h] = window
    moments = list(found.items())
    for i, feed in enumerate(feeds):
        home = needs[feed.need].leave_h is None and _drinks(lot, feed, needs[feed.need])
        if thaw.quick and i not in reached and home and lot.from_h <= feed.at_h <= lot.until_h - lot.margin_h:
            moments.append((feed.at_h, [i]))
    return moments


def _ordered(problem: Problem, bags: list[Lot], left: list[float | None]) -> bool:
    if not problem.oldest_first:
        return True
    for young, at_h in zip(bags, left, strict=True):
        for old, old_h in zip(bags, left, strict=True):
            row = (old.group, old.children) == (young.group, young.children)
            older = row and old.dated_h < young.dated_h - problem.order_slack_h
            could = at_h is not None and old.from_h <= at_h <= old.until_h - old.margin_h
            if older and could and (old_h is None or (at_h is not None and old_h > at_h)):
                return False
    return True


def _share(
    supplies: list[tuple[int, Window, bool]], units: list[int], costs: list[float], unit: float
) -> tuple[float, float, float]:
    """Short, thrown and their weighed sum, each in mL."""
    reach = [[s for s, one in enumerate(supplies) if i in one[1]] for i in range(len(units))]
    fed = _cover(list(zip(units, costs, reach, strict=True)), [one[0] for one in supplies])
    used = _cover([(ml, 1.0 if wasted else 0.0, window) for ml, window, wasted in supplies], units)
    short = [units[i] - fed[i] for i in range(len(units))]
    thrown = sum(ml - used[s] for s, (ml, _, wasted) in enumerate(supplies) if wasted)
    weighed = sum(ml * cost for ml, cost in zip(short, costs, strict=True))
    return unit * sum(short), unit * thrown, unit * (weighed + thrown)


def _cover(takers: list[tuple[int, float, list[int]]], givers: list[int]) -> list[int]:
    """How many units of each taker are met, those of the greatest weight first, by augmenting paths."""
    flow = [dict.fromkeys(window, 0) for _, _, window in takers]
    spare = list(givers)

    def augment(taker: int, seen: set[int]) -> bool:
        for giver in takers[taker][2]:
            if giver in seen:
                continue
            seen.add(giver)
            if spare[giver] > 0:
                spare[giver] -= 1
                flow[taker][giver] += 1
                return True
            for other in range(len(takers)):
                if other != taker and flow[other].get(giver, 0) > 0 and augment(other, seen):
                    flow[other][giver] -= 1
                    flow[taker][giver] += 1
                    return True
        return False

    met = [0] * len(takers)
    for taker in sorted(range(len(takers)), key=lambda taker: -takers[taker][1]):
        for _ in range(takers[taker][0]):
            if not augment(taker, set()):
                break
            met[taker] += 1
    return met
