"""A household's milk as the planner takes it: what is there, by its own verdict, and what is yet to be expressed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.containers import Container
from thawline.core.places import FREEZERS
from thawline.core.times import DAY, HOUR, MINUTE
from thawline.core.verdict import FOREVER, Option, Verdict
from thawline.engines.forecast import yields
from thawline.engines.planner.figures import margin_h
from thawline.engines.planner.kinds import Lot, Thaw
from thawline.services import feeding_past as past_of
from thawline.services.habits import Habits
from thawline.services.plan_days import days_from, hour_on, stretches
from thawline.services.plan_figures import figure
from thawline.services.plan_needs import Told
from thawline.services.plan_rhythm import Beat, session_beats
from thawline.services.plan_seen import Seen
from thawline.services.plan_thaw import ready_h
from thawline.services.terms import Terms, terms, under

_LEAST_ML = 1.0
_FAR_H = 100_000.0
COMING = "coming"


class Stock(NamedTuple):
    """Lots as the planner takes them, and the options of those containers, by name and what is done."""

    lots: tuple[Lot, ...]
    options: Mapping[str, Mapping[str, Option]]


class _Look(NamedTuple):
    """What all lots share: the household, what is allowed, and the deadlines under stricter rules by place."""

    seen: Seen
    terms: Terms
    strict_thaw_h: float | None
    stricter: Mapping[str, Mapping[str, Verdict]]


def rules_of(habits: Habits) -> dict[str, str]:
    """The overlay of each place in which a child is while apart."""
    return {one.where: one.rule for one in habits.apart if one.rule}


def stock(seen: Seen, habits: Habits, allowed: Terms, *, without: Collection[str] = ()) -> Stock:
    """The milk within its limits, but for some containers; what is held back is there as held."""
    rules = rules_of(habits)
    looks = {where: seen.stricter(rule) for where, rule in rules.items()}
    strict = [terms(under(seen.base, [rule]), now=seen.now).thawed_h for rule in set(rules.values())]
    lowest = min((h for h in (allowed.thawed_h, *strict) if h is not None), default=None)
    look = _Look(seen, allowed, lowest, looks)
    containers = seen.containers
    away = away_places(seen)
    found, options = [], {}
    for verdict in seen.verdicts:
        container = containers.get(verdict.container)
        if container is None or verdict.container in without or not _usable(verdict, container, away):
            continue
        options[verdict.container] = {option.do: option for option in verdict.options}
        lot = _lot(look, verdict, container, options[verdict.container])
        if lot is not None:
            found.append(lot)
    return Stock(tuple(found), options)


def away_places(seen: Seen) -> frozenset[str]:
    """Places that are not the family's own: to which milk was handed over, or where a service took it in."""
    names = list(seen.containers)
    if not names:
        return frozenset()
    found = set()
    for part in seen.parts:
        for entry in part.entries:
            event = entry.event
            if isinstance(event, (ev.HandedOver, ev.Received)) and event.place is not None:
                found.add(event.place)
    return frozenset(found)


def _usable(verdict: Verdict, container: Container, away: Collection[str]) -> bool:
    if verdict.standing not in ("fine", "soon", "held") or verdict.use_by is None or verdict.ml < _LEAST_ML:
        return False
    # Milk for two children is for neither alone; what is being drunk, or lies elsewhere, is not to be planned with.
    return not container.feed and verdict.place not in away and " + " not in (verdict.meant_for or "")


def limit_h(verdict: Verdict) -> float:
    """How long the limit is that a container's deadline comes from, in hours."""
    link = verdict.why[0] if verdict.why else None
    return _FAR_H if link is None else (link.until - link.start) / HOUR


def _lot(look: _Look, verdict: Verdict, container: Container, options: Mapping[str, Option]) -> Lot | None:
    now = look.seen.now
    until = _hours(verdict.use_by or now, now)
    margin = margin_h(limit_h(verdict))
    thaw = _thaw(look, verdict, container, options) if verdict.form == "frozen" else None
    if verdict.form == "frozen" and thaw is None:
        return None
    freeze, chill = options.get("freeze"), options.get("refrigerate")
    chore_by = None
    if chill is not None and chill.then_use_by is not None:
        chore_by = _hours(chill.not_after, now)
        until = _hours(chill.then_use_by, now)
        margin = margin_h(until - _hours(verdict.dated, now))
    start = 0.0
    if verdict.form == "thawing":
        start = max(0.0, _hours(_left_freezer(look, container), now) + ready_h(look.seen, container, look.terms))
    start = start if chore_by is None else min(start, chore_by)
    return Lot(
        name=verdict.container, ml=verdict.ml, form=verdict.form,  # type: ignore[arg-type]
        dated_h=_hours(verdict.dated, now), until_h=until, margin_h=margin, from_h=min(start, max(0.0, until - margin)),
        best_h=None if verdict.best_by is None else _hours(verdict.best_by, now),
        freeze_by_h=None if freeze is None or freeze.then_use_by is None else _hours(freeze.not_after, now),
        frozen_until_h=None if freeze is None or freeze.then_use_by is None else _hours(freeze.then_use_by, now),
        thaw=thaw, until_at=_strict(look, verdict),
        children=None if verdict.meant_for is None else frozenset({verdict.meant_for}),
        group=verdict.meant_for or "", chore_by_h=chore_by, held=verdict.standing == "held",
    )  # fmt: skip


def _hours(at: int, now: int) -> float:
    return min(_FAR_H, (min(at, FOREVER) - now) / HOUR)


def _strict(look: _Look, verdict: Verdict) -> dict[str, float]:
    found = {}
    for where, verdicts in look.stricter.items():
        other = verdicts.get(verdict.container)
        if other is None:
            continue
        if other.standing not in ("fine", "soon", "held") or other.use_by is None:
            found[where] = -_FAR_H
        elif verdict.use_by is not None and other.use_by < verdict.use_by:
            found[where] = _hours(other.use_by, look.seen.now)
    return found


def _thaw(look: _Look, verdict: Verdict, container: Container, options: Mapping[str, Option]) -> Thaw | None:
    option, water = options.get("thaw"), options.get("warm")
    quick = water is not None and water.then_use_by is not None
    if option is None or option.then_use_by is None:
        # No refrigerator to thaw in: in water only, right before the feed.
        return Thaw(ready_h=1.0, life_h=0.0, margin_h=0.0, quick=True) if quick else None
    life = (option.then_use_by - look.seen.now) / HOUR
    if look.strict_thaw_h is not None:
        life = min(life, look.strict_thaw_h)
    margin = margin_h(life)
    return Thaw(min(ready_h(look.seen, container, look.terms), life - margin), life, margin, quick)


def _left_freezer(look: _Look, container: Container) -> int:
    places = look.seen.base.places
    left = container.born
    for before, after in zip(container.stays, container.stays[1:], strict=False):
        kinds = [places.lines[stay.place].kind_at(stay.at) in FREEZERS for stay in (before, after)]
        if kinds == [True, False]:
            left = after.at
    return left


# Yet to be expressed


def coming(
    seen: Seen,
    habits: Habits,
    allowed: Terms,
    *,
    days: int,
    until: int,
    told: Told | None = None,
    counted: float = 1.0,
) -> list[Lot]:
    """The sessions expected until an instant, as lots: their usual hours, their likely mL, chilled at once.

    `counted`: the share of each that is counted on.
    """
    if allowed.fridge is None or allowed.fresh_h is None:
        return []
    found = []
    expected = _told_sessions(told) if told is not None and told.sessions is not None else _sessions(seen)
    strict = {
        where: terms(under(seen.base, [rule]), now=seen.now).fresh_h for where, rule in rules_of(habits).items()
    }  # fmt: skip
    last = max((one.at for one in seen.past.sessions), default=0)
    for day in days_from(seen.now, days + 1, seen.zone):
        # What is expressed while apart comes home at the end of it.
        apart = [one for kid in seen.kids for one in stretches(habits, kid.name, day, seen.zone)]
        for number, (hour, ml) in enumerate(expected):
            at = hour_on(day.date, hour, seen.zone)
            # One that is late may still come; one that was early has been.
            if not seen.now < at < until or at - last < figure("past", "top_up_min") * MINUTE or ml < _LEAST_ML:
                continue
            ready = max([at, *(one.end for one in apart if one.start <= at < one.end)])
            found.append(
                _coming(seen, allowed, f"{COMING}.{day.iso}.{number}", ml * counted, at=at, ready=ready, strict=strict)
            )
    return found


def _told_sessions(told: Told) -> list[tuple[float, float]]:
    return list(told.sessions or ())


def expected_gaps(beats: Sequence[Beat]) -> list[tuple[float, float]]:
    """Each usual hour with the hours since the one before, around the clock."""
    return [
        (beat.hour, (beat.hour - beats[index - 1].hour) % 24 or 24.0) for index, beat in enumerate(beats)
    ]  # fmt: skip


def _sessions(seen: Seen) -> list[tuple[float, float]]:
    return [(beat.hour, beat.share) for beat in session_beats(seen.past, seen.zone, seen.now)]


def yields_of(seen: Seen, day_ml: float) -> yields.Yields:
    """What sessions bring, learned from the last two weeks' sessions."""
    since = seen.now - int(figure("past", "learn_days") * DAY)
    return yields.learn(past_of.sessions_of(seen.past, seen.zone, since), day_ml=day_ml)


def _coming(
    seen: Seen, allowed: Terms, name: str, ml: float, *, at: int, ready: int, strict: Mapping[str, float | None]
) -> Lot:
    made = _hours(at, seen.now)
    fresh = allowed.fresh_h or 0.0
    freeze = allowed.freeze_by_h if allowed.freezer is not None else None
    return Lot(
        name=name, ml=ml, form="fresh", dated_h=made, until_h=made + fresh, margin_h=margin_h(fresh),
        from_h=_hours(ready, seen.now) + figure("slack", "leave_h"), coming=True,
        freeze_by_h=None if freeze is None else made + freeze,
        frozen_until_h=None if freeze is None or allowed.frozen_h is None else made + freeze + allowed.frozen_h,
        until_at={where: made + h for where, h in strict.items() if h is not None and h < fresh},
    )  # fmt: skip


__all__ = ["COMING", "Stock", "away_places", "coming", "expected_gaps", "limit_h", "rules_of", "stock", "yields_of"]
