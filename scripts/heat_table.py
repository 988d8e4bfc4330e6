"""Compute anew what the fast path reads: `heat_table.toml`, out of the full solver.

Takes about four minutes on two idle cores (seven minutes of processor time). Without an argument it writes the file,
keeping the errors and fits that its last part states; with `--print` it prints.
"""

from __future__ import annotations

import itertools
import math
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from thawline.engines.physics import full, quick
from thawline.engines.physics.case import Case

TO = Path(__file__).parents[1] / "src/thawline/engines/physics/heat_table.toml"
Axes = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]

B = (0.02, 0.06, 0.15, 0.4, 1.0, 2.5)
B_WATER = (*B, 6.0, 16.0)  # a bowl of water takes thick milk further than any air
STRETCH: dict[str, Axes] = {
    "thaw": (B_WATER, (0.25, 0.55, 1.5, 3.0, 4.55, 7.0, 12.0, 22.0, 45.0), (-30.0, -18.0, -10.0, -5.0, -2.0, -1.0)),
    "solid": (B, (0.25, 1.0, 2.5, 5.0, 8.0, 14.0, 35.0), (0.0, 4.0, 12.0, 25.0, 40.0)),
    "hard": (B, (0.25, 1.0, 2.5, 5.0, 8.0, 14.0, 30.0), (0.0, 4.0, 12.0, 25.0, 40.0)),
}
ENDS_B, ENDS_TALL = (0.05, 0.2, 0.6, 1.5), (0.5, 1.5, 3.0, 7.0)
ENDS: dict[str, Axes] = {
    "thaw": (ENDS_B, ENDS_TALL, (1.5, 6.0, 30.0)),
    "hard": (ENDS_B, ENDS_TALL, (1.5, 6.0, 30.0)),
}
ENDS_START = {"thaw": -18.0, "hard": 4.0}
HALF_M = 0.02
HEAD = """\
# What the fast path reads, computed by scripts/heat_table.py out of the full solver. Own computation, usual milk.
#
# [stretch]: what conduction inside adds to the closed form for evenly warm milk: hours = even hours * (1 + b stretch);
# b = overall coefficient * half thickness or radius, W/(m K). Rows: b, then gap (K between the air and the end's
# temperature), then start (C).
#
# [ends]: a bottle's side and ends together: hours = ends / (1 / hours by the side + 1 / hours by the ends). Rows: b,
# then tall (height over radius; half the height where top and base are open), then gap (K). `half`: the top has half
# the side's coefficient; `whole`: all of it.
"""


def stretch(question: str, flat: bool, spot: tuple[float, float, float], steps: int = 300) -> float:
    """One entry: the solver's time over the even one, with the step length taken to nothing (Richardson)."""
    b, gap, start_c = spot
    case = Case(flat=flat, half_m=HALF_M, u=b / HALF_M, fill_m=math.inf, top=0, base=0, milk=quick.USUAL)
    air_c = air(question, gap, case)
    even = quick.even_h(case, air_c, start_c, quick.end_c(question, case))
    return (solved(case, air_c, start_c, question, even * (1 + b / 2), steps) / even - 1) / b


def ends(question: str, top: float, spot: tuple[float, float, float], steps: int = 100) -> float:
    """One entry: the solver's time for side and top, over what the two make as if apart."""
    b, tall, gap = spot
    case = Case(flat=False, half_m=HALF_M, u=b / HALF_M, fill_m=tall * HALF_M, top=top, base=0, milk=quick.USUAL)
    air_c, start_c = air(question, gap, case), ENDS_START[question]
    apart = 0.0
    for one in (case._replace(top=0), quick.ends_of(case)):
        even = quick.even_h(one, air_c, start_c, quick.end_c(question, one))
        apart += 1 / solved(one, air_c, start_c, question, even * (1 + one.u * one.half_m / 2), 150)
    return solved(case, air_c, start_c, question, 1 / apart, steps) * apart


def air(question: str, gap: float, case: Case) -> float:
    """The air so many kelvin beyond the end's temperature, in C."""
    return quick.end_c(question, case) + (gap if question == "thaw" else -gap)


def solved(case: Case, air_c: float, start_c: float, question: str, expected_h: float, steps: int) -> float:
    """The solver's hours with the step length taken to nothing."""
    coarse, fine = (
        full.solve(case, air_c, start_c, full.QUESTIONS[question], expected_h, fine=full.Fine(40, (12, 14), count))
        for count in (steps, 2 * steps)
    )
    return 2 * fine - coarse


def block(name: str, axes: Axes, values: Iterator[float]) -> str:
    """One table of numbers as TOML."""
    _, second, third = axes
    rows = [[f"[{', '.join(f'{next(values):.4f}' for _ in third)}]" for _ in second] for _ in axes[0]]
    return f"{name} = [\n" + "".join(f"  [{', '.join(row)}],\n" for row in rows) + "]"


def tables(pool: ProcessPoolExecutor, *, which: str) -> str:
    """All of [stretch] or of [ends] as TOML."""
    out = []
    for question, axes in (STRETCH if which == "stretch" else ENDS).items():
        names = ("b", "gap", "start") if which == "stretch" else ("b", "tall", "gap")
        out.append(f"\n[{which}.{question}]")
        out += [f"{name} = {list(axis)}" for name, axis in zip(names, axes, strict=True)]
        kinds: dict[str, Callable[[tuple[float, float, float]], float]] = (
            {"flat": partial(stretch, question, True), "upright": partial(stretch, question, False)}
            if which == "stretch"
            else {"half": partial(ends, question, 0.5), "whole": partial(ends, question, 1.0)}
        )
        out += [block(kind, axes, pool.map(run, itertools.product(*axes), chunksize=5)) for kind, run in kinds.items()]
    return "\n".join(out)


def main() -> None:
    """Compute and write, or print."""
    kept = TO.read_text("utf-8").partition("\n[error]") if TO.exists() else ("", "", "")
    with ProcessPoolExecutor(2) as pool:
        made = HEAD + tables(pool, which="stretch") + "\n" + tables(pool, which="ends") + "\n" + kept[1] + kept[2]
    if "--print" in sys.argv:
        print(made)
    else:
        TO.write_text(made, "utf-8")


if __name__ == "__main__":
    main()
