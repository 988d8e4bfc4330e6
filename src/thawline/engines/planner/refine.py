"""The refinement: better answers from the relaxation, then the mixed-integer program where that can still gain."""

from __future__ import annotations

from collections.abc import Iterator

from . import greedy, share
from .bound import Bags, Least, bags
from .case import Case, Choice, blocked, judged, milk_cost
from .model import Model
from .moments import everything, few, loses, part, starts
from .windows import Opening

SAME_ML = 1e-3
EXACT = 5000  # looks of the search at a small problem
MENDS, TRIES = 4, 4  # how often a bag is added, and how many are tried each time
NIGHTS = 24  # how many bags are tried to be taken out by day
MOVES = 24  # how often a bag is moved in time or exchanged
FEWER = 6  # how many bags are tried to be left in the freezer


def refined(case: Case, known: Choice, least: Least, *, gap: float, nodes: int) -> tuple[Choice, float]:
    """A choice never worse than the known one, and the bound, raised where the program proved a better one."""
    best = _better(case, known, share.solve(case, known.opened))
    if not any(bag.openings for bag in case.frozen):
        return best, least.ml
    fewest = bags(case, least.short_ml)
    if _settled(case, best, least, fewest.fewest):
        return best, least.ml
    guided = share.solve(case, greedy.solve(case, least.cold).opened)
    best = _better(case, best, guided)
    enough_ml = gap * sum(want.ml for want in case.wants)
    small = few(case)
    if not small:
        best = _mended(case, best, least)
        best = _moved(case, best, least, enough_ml)
        best = _by_day(case, _fewer(case, best, fewest.fewest))
    if _settled(case, best, least, fewest.fewest) or (not small and (not nodes or _near(case, best, least, enough_ml))):
        return best, least.ml
    if small:
        return _exact(case, best, least, fewest, nodes)
    for start_h in starts(case):
        if loses(case, best, start_h) and not _near(case, best, least, enough_ml):
            model = Model(case, part(case, best, start_h))
            model.at_least(fewest, least.ml)
            found = model.solve(best, enough_ml=enough_ml, nodes=nodes)
            best = best if found is None else _better(case, best, share.solve(case, model.opened(found)))
    return best, least.ml


def _exact(case: Case, best: Choice, least: Least, fewest: Bags, nodes: int) -> tuple[Choice, float]:
    """The program with all bags and moments; what it proves may raise the bound."""
    model = Model(case, everything(case))
    model.at_least(fewest, least.ml)
    found = model.solve(best, enough_ml=0.0, nodes=max(nodes, EXACT))
    if found is None:
        return best, least.ml
    least_ml = least.ml
    if not case.problem.rotation:
        # The bound holds for milk, bags and nights together; what bags and nights can weigh at most comes off.
        least_ml = max(least_ml, found.bound - model.most_beside() + case.sunk_ml)
    return _by_day(case, _better(case, best, share.solve(case, model.opened(found)))), least_ml


def _better(case: Case, one: Choice, other: Choice | None) -> Choice:
    """The other one unless it is worse."""
    return one if other is None or judged(case, one) < judged(case, other) else other


def _near(case: Case, choice: Choice, least: Least, enough_ml: float) -> bool:
    return not case.problem.rotation and milk_cost(case, choice) <= least.ml + max(SAME_ML, enough_ml)


def _settled(case: Case, choice: Choice, least: Least, fewest: int) -> bool:
    """Whether no other choice can be better: the milk meets the bound, no bag less would do, and none goes at night."""
    if not _near(case, choice, least, 0.0):
        return False
    return not any(opening.night for opening in choice.opened.values()) and len(choice.opened) <= fewest


def _fewer(case: Case, best: Choice, fewest: int) -> Choice:
    """The choice without the bags that it can do without, the youngest first."""
    dates = {k: case.problem.lots[case.frozen[k].lot].dated_h for k in best.opened}
    for k in sorted(best.opened, key=lambda k: (-dates[k], k))[:FEWER]:
        if len(best.opened) <= fewest:
            break
        opened = {other: opening for other, opening in best.opened.items() if other != k}
        if _in_order(case, opened):
            best = _better(case, best, share.solve(case, opened))
    return best


def _by_day(case: Case, best: Choice) -> Choice:
    """The choice with bags taken out by day instead of at night where that costs no milk."""
    for k in [k for k, opening in best.opened.items() if opening.night and not opening.quick][:NIGHTS]:
        night = set(best.opened[k].wants)
        days = [one for one in case.frozen[k].openings if not one.night and night.intersection(one.wants)]
        for one in sorted(days, key=lambda one: (-len(night.intersection(one.wants)), one.at_h))[:2]:
            opened = best.opened | {k: one}
            if best.opened[k].night and _in_order(case, opened):
                best = _better(case, best, share.solve(case, opened))
    return best


def _mended(case: Case, best: Choice, least: Least) -> Choice:
    """The choice with more bags where feeds are short, one at a time, each time with all milk shared out anew."""
    for _ in range(MENDS):
        found = best
        for k, opening in _would_help(case, best) if not _near(case, best, least, 0.0) else []:
            opened = _ordered(case, best.opened | {k: opening})
            found = found if opened is None else _better(case, found, share.solve(case, opened))
        if found is best:
            break
        best = found
    return best


def _moved(case: Case, best: Choice, least: Least, enough_ml: float) -> Choice:
    """The choice with bags taken out one moment earlier or later, or others of the row in their place, if it gains."""
    tries, again = MOVES, True
    while again:
        again = False
        for opened in _neighbours(case, best):
            if tries <= 0 or _near(case, best, least, enough_ml):
                return best
            tries -= 1
            found = _better(case, best, share.solve(case, opened))
            if judged(case, found) < judged(case, best):
                best, again = found, True
                break
    return best


def _neighbours(case: Case, best: Choice) -> Iterator[dict[int, Opening]]:
    """Sets of opened bags that differ in one of them, and keep the order by age."""
    for k, opening in sorted(best.opened.items(), key=lambda one: (one[1].at_h, one[0])):
        moments = [one for one in case.frozen[k].openings if not one.night or one == opening]
        at = moments.index(opening)
        for one in (*moments[at + 1 : at + 2], *moments[max(0, at - 1) : at]):
            opened = _ordered(case, best.opened | {k: one})
            if opened is not None:
                yield opened
        row = case.rows[case.row_of[k]]
        place = row.index(k)
        for other in row[max(0, place - 1) : place + 3]:
            if other not in best.opened and opening in case.frozen[other].openings:
                opened = _ordered(case, {one: when for one, when in best.opened.items() if one != k} | {other: opening})
                if opened is not None:
                    yield opened


def _would_help(case: Case, best: Choice) -> list[tuple[int, Opening]]:
    """For the feed that is short of most: the bags that may be opened for it and fit best, few enough to try all."""
    missing = [want.ml for want in case.wants]
    for (_, i), ml in best.parts.items():
        missing[i] -= ml
    most = max(range(len(missing)), key=lambda i: (missing[i] * case.wants[i].cost, -i), default=None)
    if most is None or missing[most] <= SAME_ML:
        return []
    total = sum(ml for ml in missing if ml > 0)
    beside = _beside(case, best, most)
    found = []
    for k, bag in enumerate(case.frozen):
        if k not in best.opened:
            found += [(key, (k, one)) for key, one in _moments_for(case, best, k, most, beside, total - bag.ml)]
    return [one for _, one in sorted(found)[:TRIES]]


def _beside(case: Case, best: Choice, most: int) -> set[int]:
    """Feeds that are given cold milk which the short feed could have instead."""
    lots = {cold.lot for cold in case.cold if most in cold.wants}
    return {i for lot, i in best.parts if lot in lots}


def _moments_for(
    case: Case, best: Choice, k: int, most: int, beside: set[int], off_ml: float
) -> list[tuple[tuple[bool, float, int, float], Opening]]:
    """The two best moments to open a bag for a feed, or for those beside it; the lower the key the better."""
    moments = [one for one in case.frozen[k].openings if most in one.wants]
    direct = bool(moments)
    moments = moments or [one for one in case.frozen[k].openings if beside.intersection(one.wants)]
    moments.sort(key=lambda one: (one.night, -len(beside.intersection(one.wants)), one.at_h))
    free = [one for one in moments if _ordered(case, best.opened | {k: one}) is not None]
    return [((not direct, abs(off_ml), k, one.at_h), one) for one in free[:2]]


def _ordered(case: Case, opened: dict[int, Opening]) -> dict[int, Opening] | None:
    """The same bags at the same moments, the oldest at the earliest where the order asks for it; else None."""
    if _in_order(case, opened):
        return opened
    found: dict[int, Opening] = {}
    for row in case.rows:
        bags = [k for k in row if k in opened]
        found.update(zip(bags, sorted(opened[k] for k in bags), strict=True))
    fits = all(opening in case.frozen[k].openings for k, opening in found.items())
    return found if fits and _in_order(case, found) else None


def _in_order(case: Case, opened: dict[int, Opening]) -> bool:
    return not any(blocked(case, k, opening.at_h, opened) for k, opening in opened.items())
