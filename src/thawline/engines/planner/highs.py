"""Linear and mixed-integer programs, built row by row and given to HiGHS: one thread, a fixed seed, no time limit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import highspy
import numpy as np

INF = float("inf")
# Up to so many whole columns HiGHS's presolve costs more than it gains. With it HiGHS may also return a known start in
# place of an answer that it found while presolving; that costs quality, never validity.
SMALL = 250


class Found(NamedTuple):
    """What HiGHS found: the values of the columns, the cost, and the proven bound below it."""

    values: list[float]
    cost: float
    bound: float
    optimal: bool


class _Quiet(highspy.Highs):
    """HiGHS without its banner, which it prints on standard output when its callbacks are enabled."""

    def enableCallbacks(self) -> None:  # noqa: N802 - HiGHS's own name
        self.setOptionValue("output_flag", False)
        super().enableCallbacks()  # type: ignore[no-untyped-call]


class Program:
    """Minimize the columns' costs within rows of bounds; columns are named by their number."""

    def __init__(self) -> None:
        self.costs: list[float] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.whole: list[int] = []
        self.starts: list[int] = []
        self.columns: list[int] = []
        self.factors: list[float] = []
        self.row_low: list[float] = []
        self.row_high: list[float] = []
        self.constant = 0.0
        self.target = -INF

    def column(self, cost: float, upper: float = INF, *, lower: float = 0.0, whole: bool = False) -> int:
        """A new column from `lower` to `upper`; its number."""
        number = len(self.costs)
        self.costs.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        if whole:
            self.whole.append(number)
        return number

    def row(self, low: float, terms: Iterable[tuple[int, float]], high: float = INF) -> None:
        """A new row: the terms (column, factor) add up to something from `low` to `high`."""
        self.starts.append(len(self.columns))
        for column, factor in terms:
            self.columns.append(column)
            self.factors.append(factor)
        self.row_low.append(low)
        self.row_high.append(high)

    def solve(self, *, enough: float = 0.0, nodes: int = 0, start: Sequence[float] | None = None) -> Found | None:
        """The best values found; None where HiGHS gives none.

        `enough`: how far from the bound it may end; `nodes`: how often it asks whether to stop; `start`: a known one.
        """
        if not self.costs:
            return Found([], self.constant, self.constant, optimal=True)
        solver = _Quiet()  # type: ignore[no-untyped-call]
        for option, value in _options(enough, nodes, whole=bool(self.whole)):
            solver.setOptionValue(option, value)
        if 0 < len(self.whole) <= SMALL:
            solver.setOptionValue("presolve", "off")
        solver.passModel(self._lp())
        if start is not None and self.whole:
            known = highspy.HighsSolution()
            known.col_value = list(start)
            solver.setSolution(known)
        if self.whole:
            _stop_after(solver, nodes, self.target + enough / 4)
        solver.run()
        return self._read(solver)

    def _lp(self) -> highspy.HighsLp:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.costs), len(self.row_low)
        lp.col_cost_, lp.col_lower_ = np.array(self.costs), np.array(self.lower)
        lp.col_upper_, lp.row_lower_, lp.row_upper_ = map(np.array, (self.upper, self.row_low, self.row_high))
        lp.offset_ = self.constant
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array([*self.starts, len(self.columns)], dtype=np.int32)
        lp.a_matrix_.index_ = np.array(self.columns, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(self.factors)
        if self.whole:
            kinds = [highspy.HighsVarType.kContinuous] * len(self.costs)
            for column in self.whole:
                kinds[column] = highspy.HighsVarType.kInteger
            lp.integrality_ = kinds
        return lp

    def _read(self, solver: highspy.Highs) -> Found | None:
        info = solver.getInfo()
        if info.primal_solution_status != int(highspy.SolutionStatus.kSolutionStatusFeasible):
            return None
        optimal = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        cost = info.objective_function_value
        bound = info.mip_dual_bound if self.whole else (cost if optimal else -INF)
        return Found(list(solver.getSolution().col_value), cost, bound, optimal)


def _stop_after(solver: highspy.Highs, looks: int, target: float) -> None:
    """Stop the search the so-manieth time that HiGHS asks whether to stop, or once an answer costs `target` or less.

    It asks at each node and each round at the root; with one thread at the same points every time, so that the same
    problem ends with the same answer. (HiGHS's own `objective_target` may return the start in place of the answer.)
    """
    left = looks

    def look(event: highspy.highs.HighsCallbackEvent) -> None:
        nonlocal left
        left -= 1
        begun = event.data_out.mip_dual_bound > -highspy.kHighsInf
        if left < 0 or (begun and event.data_out.mip_primal_bound <= target):
            event.interrupt()

    solver.cbMipInterrupt += look


def _options(enough: float, nodes: int, *, whole: bool) -> list[tuple[str, bool | float]]:
    options: list[tuple[str, bool | float]] = [("output_flag", False), ("threads", 1), ("random_seed", 0)]
    if whole:
        options += [("mip_rel_gap", 1e-6), ("mip_abs_gap", enough), ("mip_max_nodes", nodes)]
        options += [("mip_allow_restart", False)]
    return options
