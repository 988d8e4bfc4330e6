"""The stock's way over the days ahead on many paths at once: whole containers, oldest first, under the real rules.

Each day: what is past its day goes; bottles are filled from thawed milk, then fresh milk (what ends first), then
containers out of the freezer, oldest first, each opened whole; what is over is kept, frozen or thrown away. On a
rotation's day the freezer comes before fresh milk, and that day's fresh milk is frozen. Nothing thawed is frozen again.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import numbers, run_out
from .course import Array, Course, Held, Paths, Totals, check
from .draws import draw
from .points import band, bands, points

__all__ = ["run"]

HAIR = 1e-9
Index = NDArray[np.int64]


class _Freezer:
    """What lies in the freezer, by batch (row) and path: first the containers there now, then what is frozen later.

    A path's later batches have no gaps between them, so that the oldest is found at once: `head` is the next batch to
    open, `front` the oldest later batch within its time, `tail` the row of the next one. Batches end by their own day
    even where older ones that keep longer are still there.
    """

    def __init__(self, course: Course, paths: int) -> None:
        frozen = sorted((held for held in course.held if held.form == "frozen"), key=lambda held: held.last_d)
        self.here, self.life_d = len(frozen), course.rules.freezer_d
        self.last_d = np.array([held.last_d for held in frozen], dtype=np.int64)
        self.bag_ml = np.array([held.ml for held in frozen] + [course.rules.bag_ml] * course.days, dtype=float)
        self.left = np.zeros((self.here + course.days, paths))
        self.left[: self.here] = self.bag_ml[: self.here, None]
        self.until_d = np.zeros(self.left.shape, dtype=np.int32)
        self.head = np.zeros(paths, dtype=np.int64)
        self.front, self.tail = np.full(paths, self.here), np.full(paths, self.here)
        self.ml = self.left.sum(axis=0)
        self.expired = np.zeros(paths)

    def drop(self, t: int) -> None:
        """Take out what could have left the freezer until yesterday at the latest."""
        ended, fine = np.searchsorted(self.last_d, [t - 1, t]) if t else (0, np.searchsorted(self.last_d, 0))
        for row in range(ended, fine):
            self._end(row, slice(None))
        np.maximum(self.head, fine, out=self.head)
        if t > self.life_d:
            self._drop_later(t)

    def _drop_later(self, t: int) -> None:
        """As `drop`, of what was frozen on the way: a batch a day and path at most."""
        at = np.flatnonzero(self.front < self.tail)
        at = at[self.until_d[self.front[at], at] < t]
        self._end(self.front[at], at)
        self.front[at] += 1
        np.maximum(self.head, self.front, out=self.head, where=self.head >= self.here)

    def _end(self, row: Index | int, at: Index | slice) -> None:
        """Throw away what is left of these batches."""
        left = self.left[row, at]
        self.ml[at] -= left
        self.expired[at] += left
        self.left[row, at] = 0.0

    def put(self, t: int, ml: Array) -> None:
        """Freeze what is over on day t."""
        at = np.flatnonzero(ml > 0)
        row = self.tail[at]
        self.left[row, at] = ml[at]
        self.until_d[row, at] = t + self.life_d
        self.tail[at] += 1
        self.ml += ml

    def open(self, want: Array) -> Array:
        """Open whole containers, oldest first, until `want` is there or none is left; what they hold together."""
        opened = np.zeros_like(want)
        at = np.flatnonzero((want > HAIR) & (self.head < self.tail))
        while at.size:
            row, ask = self.head[at], want[at] - opened[at]
            there, bag = self.left[row, at], self.bag_ml[row]
            take = np.minimum(np.ceil(ask / bag - HAIR) * bag, there)
            self.left[row, at] = there - take
            opened[at] += take
            self.head[at] += there - take <= HAIR
            at = at[(ask - take > HAIR) & (self.head[at] < self.tail[at])]
        self.ml -= opened
        return opened


class _Shelf:
    """Milk that is not frozen, by the days it has left (row) and path."""

    def __init__(self, course: Course, form: str, life_d: int, paths: int) -> None:
        held = [one._replace(last_d=self.clip(one, life_d)) for one in course.held if one.form == form]
        self.life_d = life_d
        self.left = np.zeros((1 + max([life_d, *(one.last_d for one in held)]), paths))
        self.past = np.full(paths, sum(one.ml for one in held if one.last_d < 0), dtype=float)
        for one in held:
            if one.last_d >= 0:
                self.left[one.last_d] += one.ml

    @staticmethod
    def clip(one: Held, life_d: int) -> int:
        """The days that milk has left; fresh milk never more than milk of today would have."""
        return min(one.last_d, life_d) if one.form == "fresh" else one.last_d

    def pour(self, want: Array) -> None:
        """Take as much of `want` as there is, what ends first before the rest; `want` becomes what is missing."""
        for row in self.left:
            take = np.minimum(row, want)
            np.subtract(row, take, out=row)
            np.subtract(want, take, out=want)

    def put(self, ml: Array) -> None:
        """Add milk with its whole life before it."""
        self.left[self.life_d] += ml

    def take(self, rows: slice) -> Array:
        """Take away all that has so many days left."""
        found: Array = self.left[rows].sum(axis=0)
        self.left[rows] = 0.0
        return found

    def end_day(self) -> Array:
        """A day less for all; what had none left is taken away."""
        over: Array = self.left[0].copy()
        self.left[:-1] = self.left[1:]
        self.left[-1] = 0.0
        return over


class _Block:
    """Some of the paths, day by day."""

    def __init__(self, course: Course, need: Array, supply: Array) -> None:
        self.course, self.need, self.supply = course, need, supply
        paths = need.shape[1]
        self.freezer = _Freezer(course, paths)
        self.fresh = _Shelf(course, "fresh", course.rules.fresh_d, paths)
        self.thawed = _Shelf(course, "thawed", course.rules.thawed_d, paths)
        self.start = np.full(paths, sum(one.ml for one in course.held), dtype=float)
        self.thrown = self.fresh.past + self.thawed.past
        self.fed, self.short = np.zeros(paths), np.zeros(paths)
        self.poured_part = 1 - course.thrown_share

    def day(self, t: int) -> tuple[Array, Array]:
        """One day: what the freezer was asked for, and what was missing, in mL."""
        rotates, late = self.rotates(t), self.course.rules.fresh_from_d > 0
        self.freezer.drop(t)
        if not late:
            self.fresh.put(self.supply[t])
        asked, missing = self.pour(self.need[t] / self.poured_part, rotates=rotates)
        if late:
            self.fresh.put(self.supply[t])
        self.end_day(t, rotates=rotates)
        return asked, missing

    def rotates(self, t: int) -> bool:
        """Whether day t's need comes from the freezer."""
        return bool(len(self.course.rotation)) and bool(self.course.rotation[t])

    def pour(self, want: Array, *, rotates: bool) -> tuple[Array, Array]:
        """Fill the day's bottles: what the freezer was asked for, and what the child missed."""
        poured = want.copy()
        self.thawed.pour(want)
        if not rotates:
            self.fresh.pour(want)
        asked = want.copy()
        want -= self.freezer.open(want)
        self.thawed.put(np.maximum(-want, 0.0))
        np.maximum(want, 0.0, out=want)
        if rotates:
            self.fresh.pour(want)
        poured -= want
        missing = want * self.poured_part
        self.fed += poured * self.poured_part
        self.thrown += poured * self.course.thrown_share
        self.short += missing
        return asked, missing

    def end_day(self, t: int, *, rotates: bool) -> None:
        """Freeze what is over, throw away what has no day left."""
        rules, frozen = self.course.rules, None
        if rules.freeze_after_d is not None:
            frozen = self.fresh.take(slice(0, rules.fresh_d - rules.freeze_after_d + 1))
        if rotates:
            today = self.fresh.take(slice(rules.fresh_d, rules.fresh_d + 1))
            frozen = today if frozen is None else frozen + today
        if frozen is not None:
            self.freezer.put(t, frozen)
        self.thrown += self.fresh.end_day() + self.thawed.end_day()

    @property
    def shelves_ml(self) -> Array:
        """All that is there and not frozen."""
        found: Array = self.fresh.left.sum(axis=0) + self.thawed.left.sum(axis=0)
        return found

    def totals(self) -> Totals:
        """Where every millilitre went."""
        left = self.freezer.ml + self.shelves_ml
        expressed = self.supply.sum(axis=0)
        return Totals(self.start, expressed, self.fed, self.thrown, self.freezer.expired, left, self.short)


class _Record:
    """What is kept of every day and path."""

    def __init__(self, days: int, paths: int) -> None:
        shape = (days, paths)
        self.stock, self.freezer, self.asked, self.need, self.supply = (np.empty(shape, np.float32) for _ in range(5))
        self.need_level = np.empty(paths)
        self.short = np.empty(shape, np.bool_)
        self.empty = np.empty(shape, np.bool_)

    def follow(self, block: _Block, at: slice) -> Totals:
        """Let some paths run and keep what is seen."""
        self.need[:, at], self.supply[:, at] = block.need, block.supply
        short_ml = numbers.value("course", "short_ml")
        for t in range(block.course.days):
            self.asked[t, at], missing = block.day(t)
            frozen = block.freezer.ml
            self.freezer[t, at], self.stock[t, at] = frozen, frozen + block.shelves_ml
            self.short[t, at], self.empty[t, at] = missing > short_ml, frozen <= 1e-6
        return block.totals()


def run(course: Course, *, paths: int, rng: np.random.Generator) -> Paths:
    """Let the stock go so many ways; the same course, number and state of `rng` give the same answer.

    Raises ValueError, in one line, where the course contradicts itself or `paths` is below 1.
    """
    check(course)
    if paths < 1:
        raise ValueError("paths must be at least 1")
    record, totals, wide = _Record(course.days, paths), [], int(numbers.value("course", "block"))
    for first in range(0, paths, wide):
        at = slice(first, min(first + wide, paths))
        level = record.need_level[at] = rng.standard_normal(at.stop - at.start)
        need = draw(course.need, paths=len(level), rng=rng, level=level[None, :])
        supply = draw(course.supply, paths=len(level), rng=rng)
        totals.append(record.follow(_Block(course, need, supply), at))
    return _gather(course.days, paths, record, Totals(*map(np.concatenate, zip(*totals, strict=True))))


def _gather(days: int, paths: int, record: _Record, totals: Totals) -> Paths:
    """What the paths have in common."""
    run_out_d, empty_d = run_out.first_true(record.short), run_out.first_true(record.empty)
    return Paths(
        days=days,
        paths=paths,
        stock=bands(record.stock),
        freezer=bands(record.freezer),
        need=bands(record.need),
        supply=bands(record.supply),
        lasts=run_out.lasts(run_out_d, days=days, points=points()),
        freezer_lasts=run_out.lasts(empty_d, days=days, points=points()),
        short_before=run_out.short_before(run_out_d, days=days),
        expired_ml=band(totals.expired),
        thrown_ml=band(totals.thrown),
        short_ml=band(totals.short),
        totals=totals,
        run_out_d=run_out_d,
        empty_d=empty_d,
        stock_ml=record.stock,
        freezer_ml=record.freezer,
        asked_ml=record.asked,
        need_level=record.need_level,
    )
