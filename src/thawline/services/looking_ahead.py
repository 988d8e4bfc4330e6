"""What would follow if something were recorded: dates, breaches, and what would not fit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from thawline.core import events as ev
from thawline.core.component import Broken
from thawline.core.ledger import Refusal
from thawline.core.verdict import Verdict
from thawline.records.store import LOOSE, PLACES, SETTINGS, Store
from thawline.services import terms
from thawline.services.known import Ground, films_seen, fold_kins, ground, ground_now, judged, names_touched
from thawline.services.recording import group_of, line_of, parse


class Breach(NamedTuple):
    """What a guideline says against it, and of which container."""

    container: str
    broken: Broken


class Preview(NamedTuple):
    """What would follow: containers before and after, new breaches, what would be refused or can't be read."""

    before: dict[str, Verdict]
    after: dict[str, Verdict]
    breaches: tuple[Breach, ...]
    refused: tuple[Refusal, ...]

    @property
    def plain(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.breaches and not self.refused


def preview(
    store: Store, events: Sequence[Mapping[str, Any]], *, now: int, everything: bool = False, also: Sequence[str] = ()
) -> Preview:
    """What would follow at `now` if these events were recorded; nothing is written.

    `everything`: also for containers that are only touched through a place or a setting. `also`: overlays that count
    beside the household's guidelines; raises `GuidelineError`.
    """
    lines = [line_of(event) for event in events]
    parsed = [parse(line, number, "UTC") for number, line in enumerate(lines, 1)]
    unread = tuple(one for one in parsed if isinstance(one, Refusal))
    if unread:
        return Preview({}, {}, (), unread)
    decoded = {line: ev.decoder.decode(line) for line in lines}
    loose = {line: ev.decoder.decode(line) for line in store.group(LOOSE)}
    voided = [event.event for event in (*decoded.values(), *loose.values()) if isinstance(event, ev.Voided)]
    near = _near(store, voided)
    ground_lines = _of_ground({**decoded, **loose}, near.values())
    names = {name for event in decoded.values() for name in names_touched(event)} | store.touched(voided)
    kins = {row.key for row in store.kins_of(sorted(names)).values()}
    if everything and ground_lines:
        kins |= {row.key for row in store.kins()}
    # A void finds what it voids, also where that touches no container; what stands twice counts once.
    there = [line for kin in store.kin_lines(sorted(kins)).values() for line in kin] + [*near, *loose]
    here = terms.under(ground_now(store, now), also)
    grown = ground(store, now, extra=ground_lines, films=here.films) if ground_lines else here
    then = terms.under(grown, also)
    before, earlier = _judged(here, there, now)
    more = [line for line in ground_lines if line not in decoded]
    after, refused = _judged(then._replace(lines=[*then.lines, *more]), [*there, *lines], now)
    old = {(refusal.event, refusal.code) for refusal in earlier}
    new = tuple(refusal for refusal in refused if (refusal.event, refusal.code) not in old)
    breaches = _new_breaches(before, after) + _mixed_up(then, decoded.values(), after, now)
    return Preview(before, after, breaches, new)


def _near(store: Store, ids: Sequence[str]) -> dict[bytes, ev.AnyEvent]:
    """These events, what they void, what voids them, and so on."""
    found: dict[bytes, ev.AnyEvent] = {}
    seen: set[str] = set()
    waiting = set(ids)
    while waiting:
        seen |= waiting
        events = {row.line: ev.decoder.decode(row.line) for row in store.rows(sorted(waiting)).values()}
        found |= events
        further = {event.event for event in events.values() if isinstance(event, ev.Voided)}
        further.update(name for names in store.voided_by(sorted(waiting)).values() for name in names)
        waiting = further - seen
    return found


def _of_ground(events: Mapping[bytes, ev.AnyEvent], more: Iterable[ev.AnyEvent]) -> list[bytes]:
    """Those of the lines that change a setting or what is known of a place, be it by voiding."""
    by_id = {event.id: event for event in (*more, *events.values())}
    return [line for line, event in events.items() if group_of(_root(event, by_id)) in (SETTINGS, PLACES)]


def _root(event: ev.AnyEvent, by_id: Mapping[str, ev.AnyEvent]) -> ev.AnyEvent:
    seen: set[str] = set()
    while isinstance(event, ev.Voided) and event.event in by_id and event.id not in seen:
        seen.add(event.id)
        event = by_id[event.event]
    return event


def _judged(base: Ground, lines: list[bytes], now: int) -> tuple[dict[str, Verdict], list[Refusal]]:
    parts, _ = fold_kins(base, {0: lines}, now)
    if not parts:
        return {}, []
    return {one.container: one for one in judged(base, parts[0], now, options=False, gone=True)}, parts[0].refused


def _new_breaches(before: dict[str, Verdict], after: dict[str, Verdict]) -> tuple[Breach, ...]:
    known = {(name, broken) for name, verdict in before.items() for broken in verdict.breaches}
    inherited = {broken for _, broken in known}
    # What a pour carries along was there before.
    return tuple(
        Breach(name, broken)
        for name, verdict in after.items()
        for broken in verdict.breaches
        if (name, broken) not in known and not (name not in before and broken in inherited)
    )


def _mixed_up(base: Ground, events: Iterable[ev.AnyEvent], after: dict[str, Verdict], now: int) -> tuple[Breach, ...]:
    """Feeds of milk that is for another child, where a hospital's care keeps the verdict from saying so."""
    found = []
    for event in (event for event in events if isinstance(event, ev.FeedBegan)):
        one = after.get(event.container)
        if one is None or one.meant_for is None or one.use_by is not None:
            continue
        # What two children's milk was combined into names both; a child may be called like such a pair.
        both = [] if one.meant_for in base.settings.children else one.meant_for.split(" + ")
        if not one.breaches and event.child not in (one.meant_for, *both):
            bans = base.rules.bans("other_child")[:1]
            found += [Breach(one.container, Broken(now, ban.id, ban.says, ban.source)) for ban in bans]
    return tuple(found)


class Change(NamedTuple):
    """A container whose deadline or standing another guideline would change."""

    before: Verdict
    after: Verdict


def under(store: Store, *, now: int, guideline: str, also: Sequence[str] = ()) -> tuple[list[Change], list[Verdict]]:
    """What would change under another guideline, and all verdicts under it; raises `GuidelineError`."""
    rows = store.kins()
    lines = [line for kin in store.kin_lines([row.key for row in rows]).values() for line in kin]
    found = []
    films = films_seen(store, now)
    for base in (ground(store, now, films=films), ground(store, now, guideline=guideline, also=also, films=films)):
        parts, _ = fold_kins(base, {0: lines}, now)
        found.append({one.container: one for one in judged(base, parts[0], now, options=False)} if parts else {})
    today, then = found
    return _changes(today, then), list(then.values())


def resettled(store: Store, events: Sequence[Mapping[str, Any]], *, now: int) -> list[Change]:
    """What would change of milk still there if these events, of the household or a place, were recorded."""
    seen = preview(store, events, now=now, everything=True)
    return _changes(seen.before, {name: one for name, one in seen.after.items() if one.standing != "gone"})


def _changes(today: Mapping[str, Verdict], then: Mapping[str, Verdict]) -> list[Change]:
    return [Change(today[name], one) for name, one in then.items() if name in today and _differs(today[name], one)]


def _differs(one: Verdict, other: Verdict) -> bool:
    return (one.use_by, one.best_by, one.standing) != (other.use_by, other.best_by, other.standing)
