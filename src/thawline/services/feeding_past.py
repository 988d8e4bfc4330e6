"""What the last weeks of a ledger say of feeds, complete days, weights and sessions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core import events as ev
from thawline.core.containers import Container, Step
from thawline.core.fold import Fold
from thawline.core.places import FREEZERS, Places
from thawline.core.times import DAY, HOUR, MINUTE, day_start, local
from thawline.engines.forecast.kinds import DayLog, Feed, Session
from thawline.services.plan_figures import figure


class Fed(NamedTuple):
    """A feed from a bottle, topped-up ones as one: when, who, mL drunk and left, and whether it had been frozen."""

    at: int
    child: str
    drunk_ml: float
    left_ml: float
    thawed: bool = False


class Other(NamedTuple):
    """What a child got beside: `nursed`, or the kind of food; mL where noted."""

    at: int
    child: str
    what: str
    ml: float = 0.0


class Expressing(NamedTuple):
    """A session: its start, mL, the side as noted, and the event that tells of it."""

    at: int
    ml: float
    side: str | None
    event: str = ""


class Weight(NamedTuple):
    """A child's weight in kg."""

    at: int
    child: str
    kg: float


class Past(NamedTuple):
    """The last weeks, oldest first; `complete`: (child, ISO date) marked as whole; `away`: places not the family's."""

    feeds: tuple[Fed, ...] = ()
    others: tuple[Other, ...] = ()
    weights: tuple[Weight, ...] = ()
    complete: frozenset[tuple[str, str]] = frozenset()
    sessions: tuple[Expressing, ...] = ()
    away: frozenset[str] = frozenset()

    @property
    def fed_thawed(self) -> bool:
        """Whether milk that had been frozen was fed."""
        return any(feed.thawed for feed in self.feeds)


class Tale(NamedTuple):
    """What the containers of a kin tell: feeds, and sessions."""

    feeds: tuple[Fed, ...]
    sessions: tuple[Expressing, ...]


def told(part: Fold) -> Tale:
    """Feeds and sessions of folded containers, in the order of their steps; amounts as the fold has them."""
    held: dict[str, float] = {}
    begun: dict[str, tuple[int, str]] = {}
    feeds: list[Fed] = []
    sessions: dict[str, Expressing] = {}
    for step in part.steps:
        if step.does == "expressed":
            _session(sessions, step)
        elif step.does == "feed_began":
            begun[step.container] = (step.at, step.detail)
        elif step.does == "feed_ended" and step.container in begun:
            at, child = begun.pop(step.container)
            drunk = max(0.0, held.get(step.container, step.ml) - step.ml)
            feeds.append(Fed(at, child, drunk, step.ml, _was_frozen(part, step.container, at)))
        held[step.container] = step.ml
    return Tale(tuple(feeds), tuple(sessions.values()))


def _session(sessions: dict[str, Expressing], step: Step) -> None:
    event: ev.Expressed = step.detail
    before = sessions.get(event.id)
    ml = step.ml + (before.ml if before is not None else 0.0)
    sessions[event.id] = Expressing(step.at, ml, event.side, event.id)


def _was_frozen(part: Fold, name: str, at: int) -> bool:
    waiting, seen = [name], set[str]()
    while waiting:
        container = part.containers.get(waiting.pop())
        if container is None or container.name in seen:
            continue
        seen.add(container.name)
        if _frozen_stay(part.places, container, at):
            return True
        waiting += container.sources
    return False


def _frozen_stay(places: Places, container: Container, at: int) -> bool:
    form = getattr(container.event, "form", None)
    kinds = (places.lines[stay.place].kind_at(stay.at) for stay in container.stays if stay.at <= at)
    return form in ("frozen", "thawed") or any(kind in FREEZERS for kind in kinds)


def joined(
    tales: Iterable[Tale], beside: Iterable[tuple[int, ev.AnyEvent]], *, since: int, now: int,
    away: frozenset[str] = frozenset(),
) -> Past:  # fmt: skip
    """All of it in order, from `since` to `now`; `beside` are the events of children that touch no container."""
    feeds: list[Fed] = []
    sessions: list[Expressing] = []
    for tale in tales:
        feeds += [feed for feed in tale.feeds if since <= feed.at <= now]
        sessions += [one for one in tale.sessions if since <= one.at <= now and one.ml > 0]
    others, weights, complete = _beside(beside, since, now)
    return Past(
        _topped_up(sorted(feeds)), tuple(sorted(others)), tuple(sorted(weights)), frozenset(complete),
        tuple(sorted(sessions)), away,
    )  # fmt: skip


def away_in(events: Iterable[ev.AnyEvent]) -> frozenset[str]:
    """Places that are not the family's own: milk was handed over to them, none was expressed there or came back there.

    A place that takes milk in is the family's own where milk is put away plainly.
    """
    given: set[str | None] = set()
    taken: set[str | None] = set()
    own: set[str | None] = {None}
    put: set[str | None] = set()
    for event in events:
        if isinstance(event, ev.HandedOver):
            given.add(event.place)
        elif isinstance(event, ev.Received):
            taken.add(event.place)
        elif isinstance(event, (ev.Returned, ev.Expressed)):
            own.add(event.place)
        elif isinstance(event, ev.Moved):
            put.add(event.to)
    return frozenset(place for place in (given | (taken - put)) - own if place is not None)


def _beside(
    events: Iterable[tuple[int, ev.AnyEvent]], since: int, now: int
) -> tuple[list[Other], list[Weight], set[tuple[str, str]]]:
    others: list[Other] = []
    weights: list[Weight] = []
    complete: set[tuple[str, str]] = set()
    for at, event in events:
        if at > now:
            continue
        if isinstance(event, ev.Weighed):
            weights.append(Weight(at, event.child, event.kg))
        elif isinstance(event, ev.DayComplete):
            complete.add((event.child, event.date))
        elif isinstance(event, ev.Nursed) and at >= since:
            others.append(Other(at, event.child, "nursed"))
        elif isinstance(event, ev.FedOther) and at >= since:
            others.append(Other(at, event.child, event.what, event.ml or 0.0))
    return others, weights, complete


def _topped_up(feeds: Sequence[Fed]) -> tuple[Fed, ...]:
    """Feeds of one child soon after one another are one feed; what the last bottle held is what was left."""
    near = figure("past", "same_feed_min") * MINUTE
    found: list[Fed] = []
    last: dict[str, int] = {}
    for feed in feeds:
        index = last.get(feed.child)
        if index is not None and feed.at - found[index].at <= near:
            old = found[index]
            found[index] = old._replace(
                drunk_ml=old.drunk_ml + feed.drunk_ml, left_ml=feed.left_ml, thawed=old.thawed or feed.thawed
            )
        else:
            last[feed.child] = len(found)
            found.append(feed)
    return tuple(found)


# As the engines take it


def hour_of(at: int, zone: ZoneInfo) -> float:
    """The hour of the day on the household's clock."""
    here = local(at, zone)
    return here.hour + here.minute / 60 + here.second / 3600


def age_d(born: str, at: int, zone: ZoneInfo) -> float:
    """Days since the beginning of the day of birth."""
    return (at - day_start(born, zone)) / DAY


def feeds_of(past: Past, child: str, zone: ZoneInfo, since: int) -> tuple[Feed, ...]:
    """A child's feeds by bottle since an instant."""
    return tuple(
        Feed(hour_of(feed.at, zone), feed.drunk_ml, feed.left_ml)
        for feed in past.feeds
        if feed.child == child and feed.at >= since
    )


def whole_days(
    past: Past, child: str, born: str, zone: ZoneInfo, *, by_bottle: bool, since: int, now: int
) -> tuple[DayLog, ...]:
    """A child's complete days before today: marked so, or with enough bottles where all milk comes by bottle.

    A day with a feed at the breast tells nothing of the amount.
    """
    today = local(now, zone).date()
    days: dict[date, list[Fed]] = {}
    for feed in past.feeds:
        if feed.child == child and feed.at >= since:
            days.setdefault(local(feed.at, zone).date(), []).append(feed)
    nursed = {local(one.at, zone).date() for one in past.others if one.child == child and one.what == "nursed"}
    found = []
    for day, feeds in sorted(days.items()):
        marked = (child, day.isoformat()) in past.complete
        whole = marked or (by_bottle and len(feeds) >= figure("past", "least_feeds"))
        if whole and day < today and day not in nursed:
            noon = day_start(day.isoformat(), zone) + DAY // 2
            found.append(
                DayLog(
                    age_d(born, noon, zone), sum(feed.drunk_ml for feed in feeds), _beside_ml(past, child, day, zone)
                )
            )
    return tuple(found)


def _beside_ml(past: Past, child: str, day: date, zone: ZoneInfo) -> float:
    return sum(
        one.ml for one in past.others
        if one.child == child and one.what in ("formula", "donor") and local(one.at, zone).date() == day
    )  # fmt: skip


def weights_of(past: Past, child: str, born: str, zone: ZoneInfo) -> tuple[tuple[float, float], ...]:
    """A child's weights by age in days, oldest first."""
    return tuple((age_d(born, one.at, zone), one.kg) for one in past.weights if one.child == child)


_SIDES: Mapping[str | None, str] = {"left": "one", "right": "one"}


def sessions_of(past: Past, zone: ZoneInfo, since: int) -> tuple[Session, ...]:
    """Sessions since an instant, with the hours since the last emptying and whether a feed came just before."""
    nursed = [one.at for one in past.others if one.what == "nursed"]
    emptied = sorted([*nursed, *(one.at for one in past.sessions)])
    near = figure("past", "top_up_min") * MINUTE
    found = []
    for one in past.sessions:
        if one.at < since:
            continue
        before = max((at for at in emptied if at < one.at), default=None)
        gap = None if before is None else (one.at - before) / HOUR
        beside = any(0 <= one.at - at <= near for at in nursed)
        sides = "one" if one.side in _SIDES else "both"
        day = local(one.at, zone).date().toordinal()
        found.append(Session(hour_of(one.at, zone), one.ml, gap, sides, not beside, day))  # type: ignore[arg-type]
    return tuple(found)
