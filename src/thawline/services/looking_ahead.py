"""What would follow if something were recorded: dates, breaches, and what would not fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from thawline.core import events as ev
from thawline.core.component import Broken
from thawline.core.ledger import Refusal
from thawline.core.verdict import Verdict
from thawline.records.store import Store
from thawline.services.known import Ground, fold_kins, ground, judged, names_touched
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


def preview(store: Store, events: Sequence[Mapping[str, Any]], *, now: int) -> Preview:
    """What would follow at `now` if these events were recorded; nothing is written."""
    lines = [line_of(event) for event in events]
    parsed = [parse(line, number, "UTC") for number, line in enumerate(lines, 1)]
    unread = tuple(one for one in parsed if isinstance(one, Refusal))
    if unread:
        return Preview({}, {}, (), unread)
    decoded = [ev.decoder.decode(line) for line in lines]
    names = {name for event in decoded for name in names_touched(event)}
    voided = [event.event for event in decoded if isinstance(event, ev.Voided)]
    names |= store.touched(voided)
    kins = {row.key for row in store.kins_of(sorted(names)).values()}
    lines_of = [line for kin in store.kin_lines(sorted(kins)).values() for line in kin]
    of_settings = [line for line, event in zip(lines, decoded, strict=True) if group_of(event) is not None]
    here = ground(store, now)
    then = ground(store, now, extra=of_settings) if of_settings else here
    then = then._replace(lines=[*then.lines, *of_settings])
    before, earlier = _judged(here, lines_of, now)
    milk = [line for line, event in zip(lines, decoded, strict=True) if group_of(event) is None]
    after, refused = _judged(then, [*lines_of, *milk], now)
    old = {(refusal.event, refusal.code) for refusal in earlier}
    new = tuple(refusal for refusal in refused if (refusal.event, refusal.code) not in old)
    return Preview(before, after, _new_breaches(before, after), new)


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


class Change(NamedTuple):
    """A container whose deadline or standing another guideline would change."""

    before: Verdict
    after: Verdict


def under(store: Store, *, now: int, guideline: str, also: Sequence[str] = ()) -> tuple[list[Change], list[Verdict]]:
    """What would change under another guideline, and all verdicts under it; raises `GuidelineError`."""
    rows = store.kins()
    lines = [line for kin in store.kin_lines([row.key for row in rows]).values() for line in kin]
    found = []
    for base in (ground(store, now), ground(store, now, guideline=guideline, also=also)):
        parts, _ = fold_kins(base, {0: lines}, now)
        found.append({one.container: one for one in judged(base, parts[0], now, options=False)} if parts else {})
    today, then = found
    changed = [
        Change(today[name], verdict)
        for name, verdict in then.items()
        if name in today and _differs(today[name], verdict)
    ]
    return changed, list(then.values())


def _differs(one: Verdict, other: Verdict) -> bool:
    return (one.use_by, one.best_by, one.standing) != (other.use_by, other.best_by, other.standing)
