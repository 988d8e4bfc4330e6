"""What is said of a container: until when, how it stands, why, and what may still be done."""

from __future__ import annotations

from typing import NamedTuple

from .book import Running
from .clocks import Clock
from .component import Broken
from .judge import Filling, Judge, meant_for
from .places import FREEZERS, Condition


class Link(NamedTuple):
    """One link of the chain of reasons."""

    rule: str
    start: int
    until: int
    says: str
    source: str
    mark: str


class Option(NamedTuple):
    """Something that may still be done: until when, and what it would give."""

    do: str
    not_after: int
    then_use_by: int | None
    then_best_by: int | None
    place: str | None


class Verdict(NamedTuple):
    """A container at `now`; instants in microseconds, amounts in mL."""

    container: str
    ml: float
    place: str | None
    meant_for: str | None
    form: str
    warmed: int | None
    fed_from: int | None
    dated: int
    use_by: int | None
    best_by: int | None
    standing: str
    estimated: bool
    why: tuple[Link, ...]
    options: tuple[Option, ...]
    breaches: tuple[Broken, ...]


FOREVER = 1 << 62
_FORMS = ("fresh", "frozen", "thawing", "thawed")
_NO_FILE = "A hospital's care: follow the care team. Home limits are not shown."


def _on_bounds(clock: Clock, limit: Running) -> bool:
    early = clock.bounds.thawed_early.get((clock.container, clock.left_freezer or 0))
    return early is not None and limit.row.starts == "thawed" and limit.start == early


def _link(limit: Running, *, bounded: bool = False) -> Link:
    says = limit.row.says
    if bounded:
        says += " Its start is an early bound from measurements, not seen."
    if limit.stands_in:
        says = f"{limit.stands_in} gives no figure here; this one stands in. {says}"
    return Link(limit.row.id, limit.start, limit.until, says, limit.row.source, limit.row.mark)


_REASONS = {
    "temperature": "{} gives no time at this temperature: act now.",
    "milk": "{} gives no time for this milk: ask your clinician or the milk bank.",
    "silent": "{} says nothing of this: ask who gave it to you.",
    "unseen": "In this power cut nothing says any more that it is cold: look for ice, or measure.",
}


def _chain(clock: Clock, now: int) -> tuple[tuple[Link, ...], bool]:
    """The links that give the deadline, last first, and whether its start was guessed."""
    links = []
    limit, out = clock.limit(), clock.outside()
    guessed = False
    if out is not None and not clock.is_past(now):
        since = out.out_since or 0
        source = clock.rules.house.for_good_source if out.out_why == "unseen" else out.guideline.source
        mark = "second-hand" if out.out_why == "unseen" else "ours"
        says = _REASONS[out.out_why].format(out.guideline.name)
        links.append(Link(f"{out.guideline.id}.outside", since, since, says, source, mark))
        guessed = out.out_why == "unseen"
    elif limit is not None:
        guessed = limit.guessed
    book = next((book for book in clock.books if limit in book.running), None)
    if limit is not None and book is not None:
        links.append(_link(limit, bounded=_on_bounds(clock, limit)))
        # Two guidelines in force: what the other one says stands beside it.
        links += [_link(first) for other in clock.books if other is not book and (first := other.first())]
        earlier = [old for old in book.ended if old.row is not limit.row]
        links += [_link(old) for old in sorted(earlier, key=lambda old: -(old.ended or 0))]
    unobserved = clock.form in ("thawing", "thawed") and clock.thawed is not None and clock.thawed.guessed
    return tuple(links), guessed or unobserved or clock.vague or clock.guessed


class _Sum(NamedTuple):
    """The earliest of several components."""

    use_by: int | None
    best_by: int | None
    past: bool
    outside: bool
    clock: Clock
    broken: tuple[Broken, ...]


def _sum(clocks: list[Clock], now: int) -> _Sum:
    past = any(clock.is_past(now) for clock in clocks)
    outside = any(clock.outside() is not None for clock in clocks)
    # Once a limit has passed, the limits speak; the moment of `outside` does not.
    dates = [_limit_end(clock) if past else clock.use_by(now) for clock in clocks]
    known = [(date, index) for index, date in enumerate(dates) if date is not None]
    use_by, index = min(known, default=(None, 0))
    bests = [best for clock in clocks if (best := clock.best()) is not None]
    best_by = min(bests, default=None)
    if best_by is not None and use_by is not None:
        best_by = min(best_by, use_by)
    broken: list[Broken] = []
    for row in sorted(row for clock in clocks for row in clock.broken):
        if row not in broken:
            broken.append(row)
    return _Sum(use_by, best_by, past, outside, clocks[index], tuple(broken))


def _limit_end(clock: Clock) -> int | None:
    limit = clock.limit()
    return None if limit is None else limit.until


def _standing(total: _Sum, clocks: list[Clock], now: int) -> str:
    if total.broken:
        return "breached"
    if total.past:
        return "past"
    if any(clock.held for clock in clocks):
        return "held"
    if total.outside:
        return "outside"
    limit = total.clock.limit()
    if limit is not None and now >= limit.until - total.clock.rules.house.soon_before(limit.row.allows):
        return "soon"
    return "fine"


def verdict(judge: Judge, filling: Filling, hospital: set[str], children: set[str], *, options: bool = True) -> Verdict:
    """What is said of one container at the judge's `now`; without `options` in half the time."""
    container, clocks, now = filling.container, filling.clocks, judge.now
    total = _sum(clocks, now)
    form = max((clock.form for clock in clocks), key=_FORMS.index)
    gone = container.left is not None
    why, guessed = _chain(total.clock, now)
    meant = meant_for(filling)
    silent = _hospital_only(filling, hospital, children) and judge.rules.guideline.role != "care_team"
    standing = "gone" if gone else _standing(total, clocks, now)
    found: tuple[Option, ...] = ()
    use_by, best_by, broken = total.use_by, total.best_by, total.broken
    if silent:
        use_by = best_by = None
        standing = "gone" if gone else "held" if any(clock.held for clock in clocks) else "outside"
        why, guessed, broken = (
            (Link("house.hospital", now, now, _NO_FILE, "Thawline, House rules, 1", "ours"),),
            False,
            (),
        )
    elif options and standing in ("soon", "fine", "held", "outside"):
        found = _options(judge, filling, total, standing)
    return Verdict(
        container.name, round(container.ml, 2), None if gone else container.place, meant, form,
        min((c.warmed for c in clocks if c.warmed is not None), default=None),
        min((c.fed for c in clocks if c.fed is not None), default=None),
        min(clock.expressed.at for clock in clocks), use_by, best_by, standing, guessed, why, found, broken,
    )  # fmt: skip


def holds_until(judge: Judge, filling: Filling) -> int:
    """Until when (exclusive) what is said stays as it is if nothing is recorded; `now` where that is not known.

    Milk at rest in a refrigerator or freezer only waits for its limits. Anything else is judged anew each time.
    """
    now = judge.now
    container = filling.container
    if container.left is not None:
        return FOREVER
    if any(back is None for _, back, _ in judge.fold.places.lines[container.place].outages):
        return now
    moments = [FOREVER]
    for clock in filling.clocks:
        restless = clock.warmed is not None or clock.fed is not None or clock.form == "thawing" or clock.unseen_here
        if restless or clock.kind not in ("refrigerator", *FREEZERS) or clock.outside() is not None:
            return now
        for book in clock.books:
            for limit in book.running:
                soon = limit.until - clock.rules.house.soon_before(limit.row.allows)
                moments += [at for at in (soon, limit.until, limit.until + 1) if at > now]
    return min(moments)


def _hospital_only(filling: Filling, hospital: set[str], children: set[str]) -> bool:
    if not hospital:
        return False
    named = {name for name in filling.wanted if name is not None}
    return bool(named & hospital) or (not named and hospital == children)


# What may still be done

_TARGETS = {
    "refrigerate": ("refrigerator",),
    "freeze": ("deep_freezer", "freezer", "freezer_compartment"),
    "thaw": ("refrigerator",),
    "cooler": ("cooler",),
}


def _offered(clocks: list[Clock], kind: str, standing: str) -> list[str]:
    frozen = all(clock.form == "frozen" for clock in clocks)
    touched = any(clock.warmed is not None or clock.fed is not None for clock in clocks)
    if frozen:
        acts = ["thaw", "cooler", "warm"]
    else:
        acts = [] if touched else ["refrigerate", "freeze", "cooler", "warm"]
        acts.append("feed")
    if kind == "refrigerator":
        acts = [act for act in acts if act != "refrigerate"]
    if kind == "cooler":
        acts = [act for act in acts if act != "cooler"]
    if kind in FREEZERS:
        acts = [act for act in acts if act != "freeze"]
    if standing in ("held", "outside"):
        acts = [act for act in acts if act not in ("feed", "warm")]
    return acts


def _options(judge: Judge, filling: Filling, total: _Sum, standing: str) -> tuple[Option, ...]:
    if any(book.for_good for clock in filling.clocks for book in clock.books):
        return ()
    found = []
    for act in _offered(filling.clocks, filling.clocks[0].kind, standing):
        option = _try(judge, filling, act, total)
        if option is not None:
            found.append(option)
    return tuple(found)


def _conditions(judge: Judge, act: str) -> list[tuple[str | None, Condition | None]]:
    kinds = _TARGETS.get(act)
    if kinds is None:
        return [(None, None)]
    places = judge.fold.places
    found: list[tuple[str | None, Condition | None]] = []
    for kind in kinds:
        for name, line in places.lines.items():
            if line.kind_at(judge.now) == kind and name not in judge.avoid:
                condition = places.conditions(name, judge.now, judge.now, [])[-1]
                if condition.kind == kind and not condition.unseen:
                    found.append((name, condition))
    return found


def _done(judge: Judge, filling: Filling, act: str, condition: Condition | None, at: int) -> list[Clock]:
    """The clocks as they would be, were it done at that instant."""
    clocks = [clock.copy() for clock in filling.clocks]
    for clock in clocks:
        clock.accrue(at)
        if condition is not None:
            clock.enter(condition._replace(at=at), moved=True)
        elif act == "warm":
            clock.warm(at, "warm_water")
        else:
            clock.feed_began(at, "", None)
    return clocks


def _try(judge: Judge, filling: Filling, act: str, total: _Sum) -> Option | None:
    """The option, where doing it now breaks nothing and leaves time; by the first place that serves."""
    for name, condition in _conditions(judge, act):
        after = _sum(_done(judge, filling, act, condition, judge.now), judge.now)
        if len(after.broken) > len(total.broken) or after.past or after.outside:
            continue
        last = _last_moment(filling.clocks, act)
        if last is not None and last >= judge.now:
            return Option(act, last, after.use_by, after.best_by, name)
    return None


def _last_moment(clocks: list[Clock], act: str) -> int | None:
    """Until when it is no breach: every running limit still holds, and ice is still there to freeze again."""
    moments = [end for clock in clocks if (end := _limit_end(clock)) is not None]
    for clock in clocks:
        out = clock.outside()
        if out is not None and out.out_why == "temperature":
            moments.append((out.out_since or 0) + clock.rules.house.for_good)
        if act == "freeze" and clock.form in ("thawing", "thawed"):
            moments.append(_icy_until(clock))
    return min(moments, default=None)


def _icy_until(clock: Clock) -> int:
    house = clock.rules.house
    left = clock.left_freezer or 0
    brief = left + house.short_excursion(clock.ml, clock.temp is not None and clock.temp > house.hot_room_c)
    icy = clock.last_ice + house.ice if clock.last_ice is not None and clock.last_ice >= left else 0
    partial = clock.rules.bans("refreeze_partial")
    return brief if partial else max(brief, icy)
