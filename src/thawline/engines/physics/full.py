"""The whole computation for one container in one corner: conduction and melting in the solver, hours out."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from . import quick, solver
from . import round as upright
from .around import Recorded
from .case import Case
from .march import End
from .milk import Milk, Recipe, milk

QUESTIONS: dict[str, End] = {"thaw": "thawed", "solid": "solid", "hard": "hard"}


class Fine(NamedTuple):
    """How finely: cells along one way, cells of a bottle along radius and height, steps to the expected end."""

    along: int
    cells: tuple[int, int]
    steps: int


ALONG = Fine(50, (20, 24), 1200)
ROUND = Fine(50, (20, 24), 500)


def thaw_h(case: Case, air_c: float, start_c: float) -> float:
    """Hours until the last ice is gone; infinite where the air does not melt it."""
    return question_h(case, air_c, start_c, "thaw")


def freeze_h(case: Case, air_c: float, start_c: float, question: str) -> float:
    """Hours until milk is "solid" or "hard"; infinite where the air is not cold enough."""
    return question_h(case, air_c, start_c, question)


def question_h(case: Case, air_c: float, start_c: float, question: str, fine: Fine | None = None) -> float:
    """Hours until "thaw" (no ice left), "solid" or "hard" is complete; infinite where the air never brings it there."""
    expected = quick.question_h(case, air_c, start_c, question)
    if not 0 < expected < math.inf:
        return expected
    return solve(case, air_c, start_c, QUESTIONS[question], expected, fine=fine)


def still_h(case: Case, air_c: float, start_c: float, to_c: float) -> float:
    """Hours until the centre of still liquid milk is at `to_c`, by conduction alone (the slowest it can be)."""
    expected = quick.still_h(case, air_c, start_c, to_c)
    if not 0 < expected < math.inf:
        return expected
    return solve(case, air_c, start_c, ("centre", to_c), expected)


def solve(
    case: Case,
    air_c: float | Recorded,
    start_c: float,
    end: End,
    expected_h: float,
    *,
    fine: Fine | None = None,
    most_h: float = math.inf,
) -> float:
    """Hours to an end by the solver: along one way, or for a bottle with open ends along two."""
    if case.top == 0:
        along = fine or ALONG
        return solver.run(
            material(case), shape=shape(case), half_mm=case.half_m * 1000, u=case.u,
            air_c=air_c, start_c=start_c, end=end, cells=along.along, step_s=expected_h * 3600 / along.steps,
            most_h=most_h,
        ).time_h  # fmt: skip
    both = fine or ROUND
    return upright.run(
        material(case), radius_mm=case.half_m * 1000, height_mm=case.fill_m * 1000, u_side=case.u,
        u_top=case.u * case.top, u_base=case.u * case.base, air_c=air_c, start_c=start_c, end=end, cells=both.cells,
        step_s=expected_h * 3600 / both.steps, most_h=most_h,
    ).time_h  # fmt: skip


def shape(case: Case) -> Literal["slab", "cylinder"]:
    """What the solver calls the case's shape."""
    return "slab" if case.flat else "cylinder"


def along_only(case: Case) -> float:
    """Volume over area in m, where heat goes one way only."""
    return case.half_m if case.flat else case.half_m / 2


def material(case: Case) -> Milk:
    """The case's milk, for the solver."""
    return milk(Recipe.named(case.milk.rich), case.milk.freezing_c)
