"""How fast a plan is made, and how near to its bound: a family's three days, a fortnight with 300 containers.

Processor time of this process on one core, over random households (invented). `at once`: the answer with its bound;
`refined`: the plan as shown; `quick`: refined without the program (nodes=0), as a simulator asks for it. Prints JSON:
median and worst milliseconds, and what is lost (shortage weighed in, mL): at once, quick, refined, and proven.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.planner_problems import household

from thawline.engines.planner import check, plan
from thawline.engines.planner.kinds import Plan, Problem

FRESH = (0.5, 0.8, 1.0, 0.3, 0.9)
GOAL_MS = {"family quick": 80.0, "fortnight at once": 1000.0, "fortnight refined": 10_000.0}


def timed(run: Callable[[], Plan]) -> tuple[float, Plan]:
    """Milliseconds of processor time, and the plan."""
    began = time.process_time()
    found = run()
    return 1000 * (time.process_time() - began), found


def lost_ml(of: Problem, found: Plan) -> float:
    """Shortage, weighed, and milk thrown away."""
    costs = {need.name: need.short_cost for need in of.needs}
    return sum(short.ml * costs[short.need] for short in found.short) + found.thrown_ml


def measure(problems: list[Problem]) -> dict[str, object]:
    """Times and losses over some problems."""
    ways: dict[str, Callable[[Problem], Plan]] = {
        "greedy alone": plan.greedy,
        "at once": lambda of: plan.make(of, refine=False),
        "quick": lambda of: plan.make(of, nodes=0),
        "refined": plan.make,
    }
    answer: dict[str, object] = {"containers": len(problems[0].lots), "feeds": len(problems[0].feeds)}
    for way, run in ways.items():
        took, plans = zip(*(timed(lambda of=of, run=run: run(of)) for of in problems), strict=True)  # type: ignore[misc]
        faults = sum(len(check.faults(of, found)) for of, found in zip(problems, plans, strict=True))
        lost = sum(lost_ml(of, found) for of, found in zip(problems, plans, strict=True))
        gap = sum(found.better_ml for found in plans if found.proven)
        answer[way] = {
            "median_ms": round(statistics.median(took), 1),
            "worst_ms": round(max(took), 1),
            "lost_ml": round(lost, 1),
            "at_most_better_ml": round(gap, 1),
            "faults": faults,
        }
    return answer


def main() -> int:
    """Print the figures; 1 where a goal is missed or a rule is broken."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    plan.make(household(0))
    answer = {
        "family": measure([household(seed, share_fresh=FRESH[seed % 5]) for seed in range(4 * count)]),
        "fortnight": measure([household(s, days=14, bags=212, share_fresh=FRESH[s % 5]) for s in range(count)]),
    }
    print(json.dumps(answer, indent=1))
    missed = [goal for goal, ms in GOAL_MS.items() if figure(answer, goal) > ms]
    faults = sum(way["faults"] for kind in answer.values() for way in kind.values() if isinstance(way, dict))
    print(f"missed: {', '.join(missed) or 'nothing'}; faults: {faults}", file=sys.stderr)
    return 1 if missed or faults else 0


def figure(answer: dict[str, dict[str, object]], goal: str) -> float:
    """The milliseconds that a goal is about: the median of a family's, the worst of a fortnight's."""
    kind, way = goal.split(" ", 1)
    found = answer[kind][way]
    assert isinstance(found, dict)  # noqa: S101 - by the shape above
    return float(found["median_ms" if kind == "family" else "worst_ms"])


if __name__ == "__main__":
    sys.exit(main())
