"""The mixed-integer program: which bags leave the freezer when, and which milk goes to which feed.

One model, with weights far enough apart: a mL short weighs its short_cost, a mL thrown away 1, a bag 0.02, a chore at
night 0.001. Amounts of milk that differ by a mL therefore outweigh 50 bags, more than a plan opens in days, and a bag
outweighs 20 nights. Solves one after the other would hold each level exactly, but cost three times the time for
differences below the mark on a bottle.

Bags that are alike in all but size and age, taken out at the same moment, are one supply: whole bags go in (binary
columns), mL come out to the feeds. This keeps the program small: columns are bags times moments, not bags times moments
times feeds.
"""

from __future__ import annotations

from collections.abc import Sequence

from .bound import Bags
from .case import TINY_ML, Case, Choice, rotation_cost
from .figures import cost
from .highs import Found, Program
from .moments import Look
from .windows import EPS_H, Opening, Pool


class Model:
    """The program of a case, with bags (by their place in `frozen`) opened at the given moments only."""

    def __init__(self, case: Case, look: Look) -> None:
        self.case, self.moments, self.fixed, self.program = case, look.moments, look.fixed, Program()
        self.opens = {(k, one): self._open(k, one) for k, found in self.moments.items() for one in found}
        self.short = [self.program.column(want.cost, want.ml) for want in case.wants]
        self.gives: list[list[int]] = [[] for _ in case.wants]
        self.cold: dict[tuple[int, int], int] = {}
        self.drawn: dict[tuple[Pool, Opening, int], int] = {}
        self._once()
        self._cold_rows()
        self._bag_rows()
        for i, want in enumerate(case.wants):
            self.program.row(want.ml, ((column, 1.0) for column in [self.short[i], *self.gives[i]]), want.ml)
        for row in case.rows:
            self._order_rows(row)

    def _open(self, k: int, opening: Opening) -> int:
        bag = self.case.frozen[k]
        weight = (0.0 if bag.ends else bag.ml) + cost("bag") + (cost("night") if opening.night else 0.0)
        return self.program.column(weight, 1.0, lower=float(k in self.fixed), whole=k not in self.fixed)

    def _once(self) -> None:
        """A bag leaves the freezer once; one whose freezer deadline comes is thrown away unless it is fed."""
        for k, bag in enumerate(self.case.frozen):
            self.program.constant += bag.ml if bag.ends else 0.0
            found = [(self.opens[k, one], 1.0) for one in self.moments.get(k, ())]
            if len(found) > 1:
                self.program.row(0.0, found, 1.0)

    def _cold_rows(self) -> None:
        """What is in a lot in the cold."""
        for cold in self.case.cold:
            self.program.constant += cold.ml if cold.wasted else 0.0
            columns = []
            for i in cold.wants:
                weight = rotation_cost(self.case, cold, self.case.wants[i]) - (1.0 if cold.wasted else 0.0)
                columns.append(self.program.column(weight))
                self.cold[cold.lot, i] = columns[-1]
                self.gives[i].append(columns[-1])
            if columns:
                self.program.row(0.0, ((column, 1.0) for column in columns), cold.ml)

    def _bag_rows(self) -> None:
        """What comes out of the bags that leave together is at most what is in them."""
        supplies: dict[tuple[Pool, Opening], list[tuple[int, float]]] = {}
        for (k, opening), column in self.opens.items():
            bag = self.case.frozen[k]
            supplies.setdefault((bag.pool, opening), []).append((column, -bag.ml))
        for (of, opening), bags in supplies.items():
            drawn = []
            for i in opening.wants:
                column = self.program.column(-1.0)
                drawn.append((column, 1.0))
                self.drawn[of, opening, i] = column
                self.gives[i].append(column)
            self.program.row(-float("inf"), [*bags, *drawn], 0.0)

    def _order_rows(self, row: list[int]) -> None:
        """A bag leaves only once those have left that are older by more than the slack and could.

        `all_left[place, t]` is at most 1 and at most what has left by `t` of each of the row's first `place` bags.
        """
        waiting: dict[float, dict[int, list[int]]] = {}
        for k in row:
            for one in self.moments.get(k, ()) if self.case.before[k] else ():
                waiting.setdefault(one.at_h, {}).setdefault(self.case.before[k], []).append(self.opens[k, one])
        for at_h, by_place in sorted(waiting.items()):
            before: tuple[int, int] | None = None
            for place, now in sorted(by_place.items()):
                all_left = self.program.column(0.0, 1.0)
                if before is not None:
                    self.program.row(0.0, [(before[1], 1.0), (all_left, -1.0)])
                self._wait(row[before[0] if before else 0 : place], at_h, all_left)
                for column in now:
                    self.program.row(0.0, [(all_left, 1.0), (column, -1.0)])
                before = place, all_left

    def _wait(self, bags: Sequence[int], at_h: float, all_left: int) -> None:
        """`all_left` is at most what has left of each of the bags that could have."""
        for k in bags:
            bag = self.case.frozen[k]
            sure = k in self.fixed and self.moments[k][0].at_h <= at_h + EPS_H
            if not sure and bag.first_h <= at_h + EPS_H and at_h <= bag.last_h + EPS_H:
                self.program.row(0.0, [*self._by(k, at_h), (all_left, -1.0)])

    def _by(self, k: int, at_h: float) -> list[tuple[int, float]]:
        """The columns by which a bag has left at a time."""
        return [(self.opens[k, one], 1.0) for one in self.moments.get(k, ()) if one.at_h <= at_h + EPS_H]

    def at_least(self, bags: Bags, milk_ml: float) -> None:
        """Tell the program what is proven already: how few bags will do, and how little milk is lost.

        One bag less than `all_fed` leaves at least `rest_ml` short, two bags less at least twice that, and so on.
        """
        if bags.all_fed and bags.rest_ml > TINY_ML:
            opens = [(column, 1.0) for column in self.opens.values()]
            self.program.row(bags.all_fed, [*opens, *((column, 1 / bags.rest_ml) for column in self.short)])
        self.program.target = milk_ml - self.case.sunk_ml + cost("bag") * bags.fewest

    def solve(self, known: Choice, *, enough_ml: float, nodes: int) -> Found | None:
        """The best answer found, starting from a known one; good enough within `enough_ml`, at least to the bag."""
        return self.program.solve(enough=max(enough_ml, cost("bag") / 2), nodes=nodes, start=self.values(known))

    def values(self, known: Choice) -> list[float]:
        """The columns of a known choice."""
        values = [0.0] * len(self.program.costs)
        for k, opening in known.opened.items():
            values[self.opens[k, opening]] = 1.0
        place = {bag.lot: k for k, bag in enumerate(self.case.frozen)}
        fed = [0.0] * len(self.case.wants)
        for (lot, i), ml in known.parts.items():
            fed[i] += ml
            if lot in place:
                k = place[lot]
                values[self.drawn[self.case.frozen[k].pool, known.opened[k], i]] += ml
            else:
                values[self.cold[lot, i]] += ml
        for i, want in enumerate(self.case.wants):
            values[self.short[i]] = max(0.0, want.ml - fed[i])
        self._all_left(values)
        return values

    def _all_left(self, values: list[float]) -> None:
        """The largest value that the rows allow each `all_left` column; they stand last, in the rows' order."""
        first = len(self.short) + len(self.opens) + len(self.cold) + len(self.drawn)
        limits = [1.0] * len(values)
        program = self.program
        ends = [*program.starts, len(program.columns)][1:]
        for start, end in zip(program.starts, ends, strict=True):
            if end > start and program.factors[end - 1] == -1.0 and program.columns[end - 1] >= first:
                limit = sum(_value(c, values, limits, first) for c in program.columns[start : end - 1])
                limits[program.columns[end - 1]] = min(limits[program.columns[end - 1]], limit)
        values[first:] = limits[first:]

    def most_beside(self) -> float:
        """The most that bags and nights can weigh in any plan, in mL thrown away."""
        nights = {k for k, found in self.moments.items() if any(one.night for one in found)}
        return cost("bag") * len(self.moments) + cost("night") * len(nights)

    def opened(self, found: Found) -> dict[int, Opening]:
        """Which bags leave when."""
        return {k: opening for (k, opening), column in self.opens.items() if found.values[column] > 0.5}


def _value(column: int, values: list[float], limits: list[float], first: int) -> float:
    return limits[column] if column >= first else values[column]
