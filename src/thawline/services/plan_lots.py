"""A household's milk as the planner takes it: what is there, by its own verdict, and what is yet to be expressed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from thawline.core.containers import Container
from thawline.core.places import FREEZERS
from thawline.core.times import HOUR
from thawline.core.verdict import FOREVER, Option, Verdict
from thawline.engines.planner.figures import margin_h
from thawline.engines.planner.kinds import Lot, Thaw
from thawline.services.habits import Habits
from thawline.services.habits_faults import HOME
from thawline.services.plan_along import along, away_places, now_apart, plain
from thawline.services.plan_figures import figure
from thawline.services.plan_power import cold_until, without_power
from thawline.services.plan_put_by import put_by
from thawline.services.plan_seen import Seen
from thawline.services.plan_thaw import ready_h
from thawline.services.terms import Terms, terms, under

LEAST_ML = 1.0
NEVER_H = -100_000.0
_FAR_H = 100_000.0


class Stock(NamedTuple):
    """Lots as the planner takes them, and the options of those containers, by name and what is done.

    An option's place is one of the family's own.
    """

    lots: tuple[Lot, ...]
    options: Mapping[str, Mapping[str, Option]]


class _Look(NamedTuple):
    """What all lots share: the household, what is allowed at home and by stricter place, and who is apart now.

    `stricter`: verdicts under a place's own rule; `bags`: of each time apart that has begun the containers along.
    """

    seen: Seen
    terms: Terms
    away: frozenset[str]
    strict: Mapping[str, Terms]
    stricter: Mapping[str, Mapping[str, Verdict]]
    bags: Mapping[str, frozenset[str]]
    packed: frozenset[str]
    dark: frozenset[str]
    apart: frozenset[str]

    @property
    def no_home(self) -> frozenset[str]:
        """Places that no chore takes milk to."""
        return self.away | self.dark


def rules_of(habits: Habits) -> dict[str, str]:
    """The overlay of each place in which a child is while apart."""
    return {one.where: one.rule for one in habits.apart if one.rule}


def terms_at(seen: Seen, habits: Habits, rule: str = "") -> Terms:
    """What is allowed in the family's own places, with an overlay beside if one is named."""
    base = under(seen.base, [rule]) if rule else seen.base
    return terms(base, now=seen.now, away=away_places(seen, habits) | without_power(seen))


def stock(
    seen: Seen, habits: Habits, allowed: Terms, *, without: Collection[str] = (),
    bags: Mapping[str, frozenset[str]] | None = None,
) -> Stock:  # fmt: skip
    """The milk within its limits, but for some containers; what is held back is there as held.

    `bags`: of each time apart that has begun the containers that are along: they serve there only.
    """
    look = _look(seen, habits, allowed, bags or {})
    containers = seen.containers
    found, options = [], {}
    for verdict in seen.verdicts:
        container = containers.get(verdict.container)
        if container is None or verdict.container in without or not _usable(look, verdict, container):
            continue
        options[verdict.container] = dict(_options(look, verdict))
        lot = _lot(look, verdict, container, options[verdict.container])
        if lot is not None:
            found.append(lot)
    return Stock(tuple(found), options)


def _look(seen: Seen, habits: Habits, allowed: Terms, bags: Mapping[str, frozenset[str]]) -> _Look:
    rules = rules_of(habits)
    outside = {one.container for one in seen.verdicts if any(option.do == "refrigerate" for option in one.options)}
    packed = frozenset(name for one in now_apart(seen, habits) for name in along(seen, habits, one))
    strict = {where: terms_at(seen, habits, rule) for where, rule in rules.items()}
    return _Look(
        seen, allowed, away_places(seen, habits), strict,
        {where: seen.stricter(rule, outside) for where, rule in rules.items()}, bags, packed,
        without_power(seen), frozenset(one.where for one in habits.apart),
    )  # fmt: skip


def _usable(look: _Look, verdict: Verdict, container: Container) -> bool:
    if verdict.standing not in ("fine", "soon", "held") or verdict.use_by is None or verdict.ml < LEAST_ML:
        return False
    # What is warmed or drunk from belongs to the feed at hand; milk for two children is for neither alone.
    if container.feed or verdict.fed_from is not None or verdict.warmed is not None:
        return False
    elsewhere = verdict.place in look.away and not any(verdict.container in bag for bag in look.bags.values())
    return not elsewhere and " + " not in (verdict.meant_for or "")


def _options(look: _Look, verdict: Verdict) -> Iterator[tuple[str, Option]]:
    """What may be done with it at home: no chore takes milk to a place that is not the family's own."""
    for option in verdict.options:
        if option.place is None or option.place not in look.no_home:
            yield option.do, option
        elif (own := _at_home(look, verdict, option)) is not None:
            yield option.do, own


def _at_home(look: _Look, verdict: Verdict, option: Option) -> Option | None:
    """The same in a place of the family's own, never for longer than is allowed there; None where it is not."""
    allowed, now = look.terms, look.seen.now
    hours, place, since = {
        "refrigerate": (allowed.fresh_h, allowed.fridge, verdict.dated),
        "thaw": (allowed.thawed_h, allowed.fridge, now),
        "freeze": (allowed.frozen_h, allowed.freezer, now),
    }.get(option.do, (None, None, now))
    if hours is None or place is None or option.then_use_by is None:
        return None
    return option._replace(place=place, then_use_by=min(option.then_use_by, since + int(hours * HOUR)))


def limit_h(verdict: Verdict) -> float:
    """How long the limit is that a container's deadline comes from, in hours."""
    link = verdict.why[0] if verdict.why else None
    return _FAR_H if link is None else (link.until - link.start) / HOUR


def _lot(look: _Look, verdict: Verdict, container: Container, options: Mapping[str, Option]) -> Lot | None:
    now = look.seen.now
    if any(verdict.container in bag for bag in look.bags.values()):
        return None if verdict.form == "frozen" else _along(look, verdict)
    until, margin = _hours(verdict.use_by or now, now), margin_h(limit_h(verdict))
    if (cold := _hours(cold_until(look.seen, container), now)) < until:
        until, margin = cold, margin_h(cold)
    thaw = _thaw(look, verdict, container, options) if verdict.form == "frozen" else None
    if verdict.form == "frozen" and thaw is None:
        return None
    freeze, chill = options.get("freeze"), options.get("refrigerate")
    chore_by = None
    if chill is not None and chill.then_use_by is not None and verdict.container not in look.packed:
        chore_by = _hours(put_by(look.seen, verdict, chill), now)
        until = _hours(chill.then_use_by, now)
        margin = margin_h(until - _hours(verdict.dated, now))
    start = 0.0
    if verdict.form == "thawing":
        start = max(0.0, _hours(_left_freezer(look, container), now) + ready_h(look.seen, container, look.terms))
    elif verdict.form == "frozen":
        start = max(0.0, _hours(_into_freezer(look, container), now) + figure("thaw", "solid_h"))
    start = start if chore_by is None else min(start, chore_by)
    start = start if thaw is not None else min(start, max(0.0, until - margin))
    return Lot(
        name=verdict.container, ml=verdict.ml, form=verdict.form,  # type: ignore[arg-type]
        dated_h=_hours(verdict.dated, now), until_h=until, margin_h=margin, from_h=start,
        best_h=None if verdict.best_by is None else _hours(verdict.best_by, now),
        freeze_by_h=None if freeze is None or freeze.then_use_by is None else _hours(freeze.not_after, now),
        frozen_until_h=None if freeze is None or freeze.then_use_by is None else _hours(freeze.then_use_by, now),
        thaw=thaw, until_at=_strict(look, verdict, margin, chilled=chore_by is not None),
        children=None if verdict.meant_for is None else frozenset({verdict.meant_for}),
        group=verdict.meant_for or "", chore_by_h=chore_by, held=verdict.standing == "held",
    )  # fmt: skip


def _along(look: _Look, verdict: Verdict) -> Lot:
    """Milk that is along: for the child that has it along, there; what is over then is nobody's chore at home."""
    margin = margin_h(limit_h(verdict))
    until = _hours(verdict.use_by or look.seen.now, look.seen.now)
    limits = dict.fromkeys((HOME, *look.apart, *look.bags), NEVER_H)
    strict = _strict(look, verdict, margin, chilled=False)
    for where, bag in look.bags.items():
        if verdict.container in bag:
            limits[where] = min(until, strict.get(plain(where), until)) - margin
    return Lot(
        name=verdict.container, ml=verdict.ml, form=verdict.form,  # type: ignore[arg-type]
        dated_h=_hours(verdict.dated, look.seen.now), until_h=_FAR_H, margin_h=0.0, until_at=limits,
        children=None if verdict.meant_for is None else frozenset({verdict.meant_for}),
        group=verdict.meant_for or "", held=verdict.standing == "held",
    )  # fmt: skip


def _hours(at: int, now: int) -> float:
    return min(_FAR_H, (min(at, FOREVER) - now) / HOUR)


def _strict(look: _Look, verdict: Verdict, margin: float, *, chilled: bool) -> dict[str, float]:
    """Its deadline by stricter place, so that the lot's own margin before it is that place's margin."""
    found = dict.fromkeys(look.bags, NEVER_H)
    for where, verdicts in look.stricter.items():
        other = verdicts.get(verdict.container)
        if other is None:
            continue
        chill = next((one.then_use_by for one in other.options if one.do == "refrigerate"), None)
        until = chill if chilled else other.use_by
        silent = verdict.form == "frozen" and look.strict[where].thawed_h is None
        if other.standing not in ("fine", "soon", "held") or until is None or silent:
            found[where] = NEVER_H
        else:
            found[where] = _hours(until, look.seen.now) - max(0.0, margin_h(limit_h(other)) - margin)
    return found


def _thaw(look: _Look, verdict: Verdict, container: Container, options: Mapping[str, Option]) -> Thaw | None:
    option, water = options.get("thaw"), options.get("warm")
    quick = water is not None and water.then_use_by is not None
    life = None
    if option is not None and option.then_use_by is not None:
        strict = (one.thawed_h for one in look.strict.values() if one.thawed_h is not None)
        life = min(((option.then_use_by - look.seen.now) / HOUR, *strict))
    if life is None:
        # No refrigerator to thaw in: in water only, right before the feed.
        return Thaw(ready_h=1.0, life_h=0.0, margin_h=0.0, quick=True) if quick else None
    margin = margin_h(life)
    return Thaw(min(ready_h(look.seen, container, look.terms), life - margin), life, margin, quick)


def _into_freezer(look: _Look, container: Container) -> int:
    """Since when it has been in a freezer; long ago for what was stocked as frozen."""
    since = 0 if getattr(container.event, "form", None) == "frozen" else container.born
    return _crossed(look, container, [False, True], since)


def _left_freezer(look: _Look, container: Container) -> int:
    """When it last left a freezer; the moment it came in where it never did."""
    return _crossed(look, container, [True, False], container.born)


def _crossed(look: _Look, container: Container, way: list[bool], since: int) -> int:
    """The last move from a place to another of which just one is a freezer, the way asked for; else `since`."""
    places = look.seen.base.places
    for before, after in pairwise(container.stays):
        if [places.lines[stay.place].kind_at(stay.at) in FREEZERS for stay in (before, after)] == way:
            since = after.at
    return since


__all__ = ["LEAST_ML", "NEVER_H", "Stock", "Terms", "limit_h", "rules_of", "stock", "terms_at"]
