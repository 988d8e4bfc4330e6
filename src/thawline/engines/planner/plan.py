"""A plan in three steps: an answer at once, a proven bound beside it, and the refinement."""

from __future__ import annotations

from . import bound, early, whole, written
from . import greedy as first
from .case import Case, Choice, milk_cost, prepare
from .check import faults
from .kinds import Plan, Problem
from .refine import refined

SAME_ML = 1e-3
GAP = 0.002
NODES = 100


def greedy(problem: Problem) -> Plan:
    """An answer at once, without a bound; ValueError where the problem can't be meant."""
    case = prepare(problem)
    return written.plan(case, _settled(case, first.solve(case)), "greedy")


def make(problem: Problem, *, refine: bool = True, gap: float = GAP, nodes: int = NODES) -> Plan:
    """The plan with its bound: `better_ml` is how much better any plan could be, shortage weighed in.

    `gap` (of the mL planned) and `nodes` end the search of the refinement, never the time: the same problem gives the
    same plan. Small problems are solved to the end whatever `gap` says. ValueError where the problem can't be meant.
    """
    case = prepare(problem)
    least = bound.least(case)
    known = _settled(case, first.solve(case))
    if not refine:
        return _proven(written.plan(case, known, "greedy"), milk_cost(case, known), least.ml)
    found, least_ml = refined(case, known, least, gap=gap, nodes=nodes)
    found = found if found is known else _settled(case, found)
    plan = written.plan(case, found, "refined")
    if found is not known and faults(problem, plan):
        found, plan = known, written.plan(case, known, "refined")
    return _proven(plan, milk_cost(case, found), least_ml)


def _settled(case: Case, choice: Choice) -> Choice:
    """The same choice in all that it is judged by, out of whole lots, the young ones left whole."""
    return early.released(case, whole.finished(case, choice))


def _proven(plan: Plan, milk_ml: float, least_ml: float) -> Plan:
    better = max(0.0, milk_ml - least_ml)
    return plan._replace(better_ml=0.0 if better < SAME_ML else better, proven=True)
