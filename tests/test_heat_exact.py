"""The full solver never reverses: what helps milk to thaw or to freeze never makes it take longer.

Few cells, but the same cells and the same steps on both sides: then a warmer start, warmer air or a better film leave
every cell at least as warm after each step, so the order of the answers holds to rounding.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thawline.engines.physics import full, quick, solver
from thawline.engines.physics import round as upright
from thawline.engines.physics.case import Case, Kind
from thawline.engines.physics.milk import Recipe, milk
from thawline.engines.physics.spread import INFINITE

CELLS, BOTH, STEPS = 16, (6, 6), 60
SAME = 1 + 1e-6
RICH: tuple[Literal["lean", "usual", "fatty"], ...] = ("lean", "usual", "fatty")


class Setting(NamedTuple):
    """One container in its air: what it is asked, what it is like (mm, W/(m2 K)), and degrees Celsius."""

    question: str
    shape: Literal["slab", "cylinder"]
    across: float
    faces: float
    film: float
    air_c: float
    start_c: float
    rich: int
    top: float = 0.0
    base: float = 0.0

    def hours(self, step_s: float) -> float:
        """By the solver, in steps of so many seconds."""
        material, end = milk(Recipe.named(RICH[self.rich])), full.QUESTIONS[self.question]
        if self.top == 0:
            half = self.across / self.faces if self.shape == "slab" else self.across / 2
            return solver.run(
                material, shape=self.shape, half_mm=half, u=self.film, air_c=self.air_c, start_c=self.start_c,
                end=end, cells=CELLS, step_s=step_s,
            ).time_h  # fmt: skip
        return upright.run(
            material, radius_mm=self.across / 2, height_mm=60, u_side=self.film, u_top=self.film * self.top,
            u_base=self.film * self.base, air_c=self.air_c, start_c=self.start_c, end=end, cells=BOTH, step_s=step_s,
        ).time_h  # fmt: skip

    def step_s(self) -> float:
        """A step that suits it, in seconds."""
        half_m = self.across / 1000 / (self.faces if self.shape == "slab" else 2)
        case = Case(self.shape == "slab", half_m, self.film, INFINITE, 0, 0, Kind(RICH[self.rich], -0.55))
        return quick.question_h(case, self.air_c, self.start_c, self.question) * 3600 / STEPS


def part(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def asked(question: str, shape: Literal["slab", "cylinder"], *, ends: bool = False) -> st.SearchStrategy[Setting]:
    across = part(6, 40) if shape == "slab" else part(25, 70)
    around, start = (part(0.3, 35), part(-25, -3)) if question == "thaw" else (part(-35, -11), part(2, 37))
    shut = st.just(0.0)
    open_ = (part(0.1, 0.8), shut | part(0.05, 0.8)) if ends else (shut, shut)
    return st.builds(
        Setting, st.just(question), st.just(shape), across, part(1, 1.8), part(3, 25), around, start,
        st.integers(0, 1), *open_,
    )  # fmt: skip


def easier(one: Setting, change: str, by: float) -> Setting:
    """The same with one thing that makes it quicker."""
    up = 1 if one.question == "thaw" else -1
    return {
        "film": one._replace(film=one.film * (1 + by)),
        "air": one._replace(air_c=one.air_c + up * 6 * by),
        "thinner": one._replace(across=one.across / (1 + by)),
        "faces": one._replace(faces=min(2.0, one.faces + by)),
        "start": one._replace(start_c=min(-1.5, one.start_c + 8 * by) if up > 0 else max(0.5, one.start_c - 8 * by)),
        "fat": one._replace(rich=one.rich + 1),
        "top": one._replace(top=min(1.0, one.top + by)),
        "base": one._replace(base=min(1.0, one.base + by)),
    }[change]


def never_slower(one: Setting, change: str, by: float) -> None:
    step_s = one.step_s()
    assert easier(one, change, by).hours(step_s) <= one.hours(step_s) * SAME


@pytest.mark.parametrize("change", ["film", "air", "thinner", "faces", "start", "fat"])
@given(one=asked("thaw", "slab") | asked("thaw", "cylinder"), by=part(0.001, 1))
@settings(max_examples=12, deadline=None)
def test_a_thaw_never_gets_slower_by_what_helps(change: str, one: Setting, by: float) -> None:
    never_slower(one, change, by)


@pytest.mark.parametrize("question", ["solid", "hard"])
@pytest.mark.parametrize("change", ["film", "air", "thinner", "faces", "start", "fat"])
@given(data=st.data(), by=part(0.001, 1))
@settings(max_examples=10, deadline=None)
def test_freezing_never_gets_slower_by_what_helps(question: str, change: str, data: st.DataObject, by: float) -> None:
    never_slower(data.draw(asked(question, "slab") | asked(question, "cylinder")), change, by)


@pytest.mark.slow
@pytest.mark.parametrize("question", ["thaw", "hard"])
@pytest.mark.parametrize("change", ["film", "air", "thinner", "start", "top", "base"])
@given(data=st.data(), by=part(0.01, 1))
@settings(max_examples=8, deadline=None)
def test_a_bottle_with_open_ends_never_gets_slower(question: str, change: str, data: st.DataObject, by: float) -> None:
    never_slower(data.draw(asked(question, "cylinder", ends=True)), change, by)
