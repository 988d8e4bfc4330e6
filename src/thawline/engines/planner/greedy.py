"""The answer at once: feed after feed the milk that ends first, and a bag from the freezer where that is not enough."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

from .case import TINY_ML, Case, Choice, Cold, blocked
from .windows import Opening

RANK = {"thawed": 0, "thawing": 1, "frozen": 2, "fresh": 3}
CHOICES = 12  # how many bags of a row are looked at: more costs time and gains little


def solve(case: Case, cold: Mapping[tuple[int, int], float] | None = None) -> Choice:
    """A valid choice, seldom the best; `cold`: what is given beforehand, by lot and feed, where that is known."""
    walk = _Walk(case)
    for (lot, i), ml in (cold or {}).items():
        walk.give(lot, i, ml)
    return walk.run()


def cold_order(case: Case, cold: Cold) -> tuple[int, float, float, str]:
    """Thawed before fresh, what ends first, the oldest, the name."""
    lot = case.problem.lots[cold.lot]
    return RANK[lot.form], lot.until_h - lot.margin_h, lot.dated_h, lot.name


class _Walk:
    """One walk through the feeds in the order in which their milk must be there."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.left = {cold.lot: cold.ml for cold in case.cold} | {bag.lot: bag.ml for bag in case.frozen}
        self.open_ml = [want.ml for want in case.wants]
        self.parts: dict[tuple[int, int], float] = {}
        self.opened: dict[int, Opening] = {}
        self.thawed: list[list[int]] = [[] for _ in case.wants]
        self.cold: list[list[Cold]] = [[] for _ in case.wants]
        for cold in sorted(case.cold, key=lambda cold: cold_order(case, cold)):
            for i in cold.wants:
                self.cold[i].append(cold)

    def run(self) -> Choice:
        """Every feed once; what is short is short."""
        for i in sorted(
            range(len(self.case.wants)), key=lambda i: (self.case.wants[i].by_h, self.case.wants[i].at_h, i)
        ):
            self.give_cold(i, frozen_day=self.case.wants[i].rotation)
            while self.open_ml[i] > TINY_ML and self.open_bag(i):
                pass
            self.give_cold(i, frozen_day=False)
        return Choice(self.opened, self.parts)

    def give_cold(self, i: int, *, frozen_day: bool) -> None:
        """Milk in the cold for a feed: what is thawed, then fresh (on a freezer day not, while bags may do)."""
        for lot in self.thawed[i]:
            self.give(lot, i)
        lots = self.case.problem.lots
        for rotated in (False, True):
            for cold in self.cold[i]:
                if cold.rotated == rotated and not (frozen_day and lots[cold.lot].form == "fresh"):
                    self.give(cold.lot, i)

    def give(self, lot: int, i: int, most_ml: float = float("inf")) -> None:
        """As much of a lot for a feed as it wants and the lot has."""
        ml = min(self.left[lot], self.open_ml[i], most_ml)
        if ml > TINY_ML:
            self.parts[lot, i] = self.parts.get((lot, i), 0.0) + ml
            self.left[lot] -= ml
            self.open_ml[i] -= ml

    def open_bag(self, i: int) -> bool:
        """Open a bag for a feed, if one may be opened and its milk short costs more than what it leaves over."""
        found = list(self.may_open(i))
        if not found:
            return False
        in_water = [one for one in found if one[2].quick]
        if len(in_water) == len(found):
            k, opening = self.nearest(in_water, self.open_ml[i])
        else:
            _, k, opening = min((self.fit(*one), one[0], one[2]) for one in found)
        self.take_out(k, opening)
        self.give(self.case.frozen[k].lot, i)
        return True

    def fit(self, k: int, place: int, opening: Opening) -> tuple[bool, bool, float, int]:
        """How well a bag fits what is missing: the lower the better."""
        over = self.case.frozen[k].ml - sum(self.spare(j) for j in opening.wants)
        return opening.night, over > TINY_ML, over if over > TINY_ML else 0.0, place

    def nearest(self, found: list[tuple[int, int, Opening]], missing_ml: float) -> tuple[int, Opening]:
        """Of bags to thaw in water: of the one or two that hold the least above what is missing, else the largest.

        What such a bag holds beyond it is thrown away, whereas the rest of one thawed in the refrigerator may be fed.
        """
        ml = {k: self.case.frozen[k].ml for k, _, _ in found}
        sets = [(one,) for one in found] + list(combinations(found, 2))
        sums = [(sum(ml[k] for k, _, _ in some) - missing_ml, len(some), n) for n, some in enumerate(sets)]
        enough = [(round(over, 3), count, n) for over, count, n in sums if over >= -TINY_ML]
        some = sets[min(enough)[2]] if enough else found
        k, _, opening = max(some, key=lambda one: (ml[one[0]], -one[1], -one[0]))
        return k, opening

    def spare(self, j: int) -> float:
        """What a feed still wants once the cold milk that is there anyway is given."""
        return max(0.0, self.open_ml[j] - sum(self.left[cold.lot] for cold in self.cold[j]))

    def may_open(self, i: int) -> Iterator[tuple[int, int, Opening]]:
        """Bags that may be opened for a feed and are worth it, the oldest of each row first."""
        want = self.case.wants[i]
        for row in self.case.rows:
            seen = 0
            for place, k in enumerate(row):
                moments = [] if k in self.opened else self.moments(k, i)
                if not moments:
                    continue
                opening = next((one for one in moments if not blocked(self.case, k, one.at_h, self.opened)), None)
                seen += 1
                if opening is None or seen > CHOICES:  # what is younger has to wait as well
                    break
                bag = self.case.frozen[k]
                useful = min(bag.ml, sum(self.open_ml[j] for j in opening.wants))
                if bag.ends or want.cost * useful > bag.ml - useful:
                    yield k, place, opening

    def moments(self, k: int, i: int) -> list[Opening]:
        """When a bag may leave for a feed: by day rather than at night, the latest first."""
        found = [one for one in self.case.frozen[k].openings if i in one.wants]
        return sorted(found, key=lambda one: (one.night, -one.at_h))

    def take_out(self, k: int, opening: Opening) -> None:
        """Let a bag leave the freezer."""
        self.opened[k] = opening
        for j in opening.wants:
            self.thawed[j].append(self.case.frozen[k].lot)
