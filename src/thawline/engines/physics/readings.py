"""A thermometer's record: made clean, its time beyond a limit, its mean kinetic temperature, and what of it to keep."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import groupby, pairwise
from typing import NamedTuple

from . import numbers

HOUR = 3_600_000_000  # microseconds


class Reading(NamedTuple):
    """A temperature in degrees Celsius at an instant (microseconds since 1970)."""

    at: int
    c: float


class Line(NamedTuple):
    """A temperature that matters in places of some kinds: time above it (or below it) counts."""

    c: float
    above: bool
    kinds: tuple[str, ...]
    says: str


class Twice(NamedTuple):
    """One moment with readings that differ, from the coldest to the warmest, in degrees Celsius."""

    at: int
    coldest_c: float
    warmest_c: float


class Gap(NamedTuple):
    """A span without a reading, longer than the limit."""

    start: int
    end: int


class Clean(NamedTuple):
    """A record in order, one reading for each moment, and everything that was done to get there."""

    readings: tuple[Reading, ...]
    faults: tuple[Reading, ...]
    alike: int
    differing: tuple[Twice, ...]
    gaps: tuple[Gap, ...]


class Excursion(NamedTuple):
    """A time beyond a limit: the readings beyond it, and the moments between which it lay.

    `earliest` is the last good reading before, `latest` the first good one after; None where the record (or a gap)
    gives none. `known` is how long it lasted at least (microseconds), `gap` whether there is a gap in it.
    """

    limit_c: float
    above: bool
    first: int
    last: int
    earliest: int | None
    latest: int | None
    known: int
    gap: bool
    extreme_c: float

    @property
    def most(self) -> int | None:
        """How long it lasted at most (microseconds); None where nobody can tell."""
        return None if self.earliest is None or self.latest is None else self.latest - self.earliest


class Mean(NamedTuple):
    """The mean kinetic and the plain mean temperature, weighted by time; without them where there is a gap."""

    kinetic_c: float | None
    plain_c: float | None
    gaps: tuple[Gap, ...]


@cache
def lines() -> tuple[Line, ...]:
    """The temperatures time beyond which counts."""
    rows = numbers.load("readings")["line"]
    return tuple(Line(float(row["value"]), row["above"], tuple(row["kinds"]), row["says"]) for row in rows)


def gap_limit() -> int:
    """How long may lie between two readings before it counts as a gap, in microseconds."""
    return int(numbers.value("readings", "gap") * HOUR)


def clean(readings: Iterable[Reading], *, gap: int | None = None) -> Clean:
    """The record in order: faults out, the warmer where one moment has two readings, and its gaps."""
    coldest, warmest = (numbers.value("readings", name) for name in ("fault_below", "fault_above"))
    good: list[Reading] = []
    faults: list[Reading] = []
    for one in readings:
        # What is no number at all is no temperature either.
        (good if coldest <= one.c <= warmest else faults).append(one)
    good.sort()
    kept: list[Reading] = []
    differing: list[Twice] = []
    for at, some in groupby(good, key=lambda one: one.at):
        temps = [one.c for one in some]
        kept.append(Reading(at, temps[-1]))
        if temps[0] != temps[-1]:
            differing.append(Twice(at, temps[0], temps[-1]))
    longest = gap_limit() if gap is None else gap
    gaps = tuple(Gap(one.at, other.at) for one, other in pairwise(kept) if other.at - one.at > longest)
    return Clean(tuple(kept), tuple(faults), len(good) - len(kept) - _more(good, differing), tuple(differing), gaps)


def _more(good: Sequence[Reading], differing: Sequence[Twice]) -> int:
    moments = {one.at for one in differing}
    return sum(one.at in moments for one in good) - len(moments)


def excursions(record: Clean, limit_c: float, *, above: bool = True) -> list[Excursion]:
    """Each time beyond a limit, in order."""
    broken = {one.start for one in record.gaps}
    found: list[Excursion] = []
    before: int | None = None
    for beyond, some in groupby(record.readings, key=lambda one: one.c > limit_c if above else one.c < limit_c):
        run = list(some)
        if found and not beyond and found[-1].latest is None:
            found[-1] = found[-1]._replace(latest=run[0].at)
        if beyond:
            known = sum(other.at - one.at for one, other in pairwise(run) if one.at not in broken)
            inside = any(one.at in broken for one in run[:-1])
            temps = [one.c for one in run]
            extreme = max(temps) if above else min(temps)
            found.append(Excursion(limit_c, above, run[0].at, run[-1].at, before, None, known, inside, extreme))
        before = run[-1].at
    return found


def mean_kinetic_c(spans: Iterable[tuple[float, float]]) -> float:
    """The mean kinetic temperature in degrees Celsius of spans (weight, degrees Celsius); `ValueError` without any."""
    energy, gas, kelvin = (numbers.value("readings", one) for one in ("activation_energy", "gas_constant", "kelvin"))
    ratio = energy / gas
    weighed = [(weight, -ratio / (c + kelvin)) for weight, c in spans if weight > 0]
    if not weighed:
        raise ValueError("no reading, no mean")
    # With the largest exponent taken out, nothing vanishes beneath what a number can hold.
    largest = max(exponent for _weight, exponent in weighed)
    total = math.fsum(weight for weight, _exponent in weighed)
    rates = math.fsum(weight * math.exp(exponent - largest) for weight, exponent in weighed)
    return ratio / -(math.log(rates / total) + largest) - kelvin


def mean(record: Clean) -> Mean:
    """The means of a record, each reading weighed by its time (the trapezoid rule); none across a gap."""
    if record.gaps or not record.readings:
        return Mean(None, None, record.gaps)
    weighed = _weights(record.readings)
    total = math.fsum(weight for weight, _c in weighed)
    plain = math.fsum(weight * c for weight, c in weighed) / total
    return Mean(mean_kinetic_c(weighed), plain, ())


def _weights(readings: Sequence[Reading]) -> list[tuple[float, float]]:
    if len(readings) == 1:
        return [(1.0, readings[0].c)]
    halves = [0.0] * len(readings)
    for index, (one, other) in enumerate(pairwise(readings)):
        half = (other.at - one.at) / 2
        halves[index] += half
        halves[index + 1] += half
    return [(weight, one.c) for weight, one in zip(halves, readings, strict=True)]


def thinned(
    record: Clean,
    limits: Sequence[float],
    *,
    moments: Iterable[int] = (),
    hour_of: Callable[[int], int] = lambda at: at // HOUR,
) -> tuple[Reading, ...]:
    """The readings to keep: none that is left out would change what is said of milk.

    Kept are the first and the last, both sides of every gap and of every crossing of a limit (`limits`, in degrees
    Celsius, ascending), the warmest of every hour, and the first after each of `moments`.
    """
    readings = record.readings
    if not readings:
        return ()
    bands = [bisect_left(limits, one.c) for one in readings]
    kept = {0, len(readings) - 1}
    starts = {one.start for one in record.gaps}
    for index, (one, other) in enumerate(pairwise(readings)):
        if bands[index] != bands[index + 1] or one.at in starts or hour_of(other.at) - hour_of(one.at) > 1:
            kept |= {index, index + 1}
    for _hour, some in groupby(range(len(readings)), key=lambda index: hour_of(readings[index].at)):
        kept.add(max(some, key=lambda index: readings[index].c))
    after = (bisect_right(readings, at, key=lambda one: one.at) for at in moments)
    kept |= {index for index in after if index < len(readings)}
    return tuple(readings[index] for index in sorted(kept))
