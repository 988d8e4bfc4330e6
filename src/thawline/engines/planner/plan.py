"""A plan in three steps: an answer at once, a proven bound beside it, and the mixed-integer refinement."""

from __future__ import annotations

from . import bound, share, written
from . import greedy as first
from .case import Case, Choice, milk_cost, prepare, weighed
from .check import faults
from .kinds import Plan, Problem
from .model import Model
from .moments import sensible
from .windows import Opening

SAME_ML = 1e-3
GAP = 1e-4
NODES = 2000


def greedy(problem: Problem) -> Plan:
    """An answer at once, without a bound; ValueError where the problem can't be meant."""
    case = prepare(problem)
    return written.plan(case, first.solve(case), "greedy")


def make(problem: Problem, *, refine: bool = True, gap: float = GAP, nodes: int = NODES) -> Plan:
    """The plan with its bound: `better_ml` is how much better any plan could be, shortage weighed in.

    `gap` (relative) and `nodes` end the search of the refinement, never the time: the same problem gives the same
    plan. ValueError where the problem can't be meant.
    """
    case = prepare(problem)
    least = bound.best_ml(case)
    known = first.solve(case)
    if not refine:
        return _proven(written.plan(case, known, "greedy"), milk_cost(case, known), least)
    found, least = _refined(case, known, least, gap=gap, nodes=nodes)
    plan = written.plan(case, found, "refined")
    if found is not known and faults(problem, plan):
        found, plan = known, written.plan(case, known, "refined")
    return _proven(plan, milk_cost(case, found), least)


def _proven(plan: Plan, milk_ml: float, least_ml: float) -> Plan:
    better = max(0.0, milk_ml - least_ml)
    return plan._replace(better_ml=0.0 if better < SAME_ML else better, proven=True)


def _refined(case: Case, known: Choice, least: float, *, gap: float, nodes: int) -> tuple[Choice, float]:
    """The best of the answer at once, the same with its milk shared out anew, and the program's; and the bound."""
    shared = share.solve(case, known.opened)
    best = _better(case, known, shared)
    bags = bound.bags(case)
    if _no_better(case, best, least, bags.fewest):
        return best, least
    moments, whole = sensible(case, best)
    model = Model(case, moments)
    model.at_least(bags, least)
    found = model.solve(best, gap=gap, nodes=nodes)
    if found is None:
        return best, least
    if whole and not case.problem.rotation:
        # The bound holds for milk, bags and nights together; what bags and nights can weigh at most comes off.
        least = max(least, found.bound - model.most_beside() + case.sunk_ml)
    return _better(case, best, share.solve(case, _used(model.opened(found)))), least


def _used(opened: dict[int, Opening]) -> dict[int, Opening]:
    return dict(sorted(opened.items()))


def _better(case: Case, one: Choice, other: Choice | None) -> Choice:
    """The other one unless it is worse."""
    return one if other is None or _key(case, one) < _key(case, other) else other


def _key(case: Case, choice: Choice) -> tuple[float, int, int]:
    """Milk, bags, nights: what the plan is judged by, in this order."""
    nights = sum(opening.night for opening in choice.opened.values())
    return round(weighed(case, choice) / SAME_ML), len(choice.opened), nights


def _no_better(case: Case, choice: Choice, least: float, fewest: int) -> bool:
    """Whether no other choice can be better: the milk meets the bound, no bag less would do, and none goes at night."""
    if case.problem.rotation or milk_cost(case, choice) > least + SAME_ML:
        return False
    if any(opening.night for opening in choice.opened.values()):
        return False
    return len(choice.opened) <= fewest
