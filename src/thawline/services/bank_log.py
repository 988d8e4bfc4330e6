"""A container's facts for a milk bank, as they were recorded; whether it takes the milk, the bank alone decides."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from thawline.core import events as ev
from thawline.core.containers import Container, Step
from thawline.core.times import day_start, is_date, parse_instant
from thawline.records.store import Store
from thawline.services import board as boards
from thawline.services import take_out
from thawline.services.tables import Cell, frozen_on
from thawline.services.take_out import Whole

Which = Literal["frozen", "there", "handed"]
WHICH: tuple[Which, ...] = ("frozen", "there", "handed")
MOST = 500


class Origin(NamedTuple):
    """Milk of one session in a container: its instant, whether only the day is known, whose, as stocked or not."""

    at: int
    vague: bool
    mother: str | None
    stocked: bool
    donor: bool = False


class Stayed(NamedTuple):
    """A stay in a place: from when (`vague`: the day only), its kind, the coldest and warmest measured there (C).

    `cuts`: when its power failed during the stay, and when it was back (None: not yet, as far as is known).
    """

    at: int
    place: str
    kind: str
    coldest_c: float | None
    warmest_c: float | None
    measured: int
    vague: bool = False
    cuts: tuple[tuple[int, int | None], ...] = ()


class Fact(NamedTuple):
    """Something that happened to a container's milk, with its instant."""

    at: int
    kind: str
    says: str


class Logged(NamedTuple):
    """One container as recorded: what it holds or held (mL), its sessions, its stays, and what else is known.

    `before`: the stays of the containers that its milk was poured from.
    """

    code: str
    ml: float
    there: bool
    origins: tuple[Origin, ...]
    combined: tuple[str, ...]
    frozen_on: str | None
    stays: tuple[Stayed, ...]
    facts: tuple[Fact, ...]
    held: tuple[str, ...]
    outside: tuple[Fact, ...]
    before: tuple[tuple[str, tuple[Stayed, ...]], ...] = ()


class _Known(NamedTuple):
    """The whole ledger, and what happened to each container in it."""

    found: Whole
    facts: dict[str, list[Fact]]
    steps: dict[str, list[Step]]


def bank_log(store: Store, which: Which, *, now: int, codes: Sequence[str] = ()) -> list[Logged]:
    """The containers asked for, oldest first: frozen ones that are there, all that are there, or those handed over."""
    found = take_out.whole(store, now=now)
    known = _Known(found, _facts(found), found.steps())
    wanted = _wanted(store, found, which, now) if not codes else [one for one in codes if one in found.fold.containers]
    logged = [_logged(store, known, name) for name in wanted[:MOST]]
    return sorted(logged, key=lambda one: (min((o.at for o in one.origins), default=0), one.code))


def _wanted(store: Store, found: Whole, which: Which, now: int) -> list[str]:
    if which == "handed":
        return list(dict.fromkeys(one.container for one in take_out.handed_over(found)))
    verdicts = boards.board(store, now=now).verdicts
    return [one.container for one in verdicts if which == "there" or one.form == "frozen"]


def _lineage(found: Whole, name: str) -> list[Container]:
    """A container and every one that its milk came from."""
    waiting, seen = [name], dict[str, Container]()
    while waiting:
        container = found.fold.containers.get(waiting.pop())
        if container is not None and container.name not in seen:
            seen[container.name] = container
            waiting += sorted(container.sources)
    return list(seen.values())


def _origin(container: Container, found: Whole) -> Origin | None:
    event = container.event
    if isinstance(event, ev.Expressed):
        return Origin(container.born, is_date(event.at), event.mother, stocked=False)
    if isinstance(event, ev.Stocked):
        vague = is_date(event.expressed)
        at = day_start(event.expressed, found.zone) if vague else parse_instant(event.expressed)
        return Origin(at, vague, event.mother, stocked=True, donor=event.milk == "donor")
    return None


def _facts(found: Whole) -> dict[str, list[Fact]]:
    """What happened to each container, by name; held and released among it."""
    facts: dict[str, list[Fact]] = defaultdict(list)
    kinds = (ev.Held, ev.Released, ev.Warmed, ev.FeedBegan, ev.Added, ev.ThawSeen, ev.HandedOver, ev.Returned,
             ev.Received, ev.Measured)  # fmt: skip
    for entry in found.of(*kinds):
        event = entry.event
        name = getattr(event, "container", None)
        if name is not None:
            kind = str(type(event).__struct_config__.tag)
            facts[name].append(Fact(entry.at, kind, _says(event)))
    return facts


def _says(event: ev.AnyEvent) -> str:
    """The word that tells a fact apart: a reason, a way, a degree; names of children and people never."""
    if isinstance(event, ev.ThawSeen):
        return "ice" if event.ice else "no_ice"
    if isinstance(event, ev.Measured):
        return f"{event.temp_c:g}"
    for field in ("why", "how", "what", "to"):
        if (said := getattr(event, field, None)) is not None:
            return str(said)
    return ""


def _logged(store: Store, known: _Known, name: str) -> Logged:
    found = known.found
    container = found.fold.containers[name]
    line = _lineage(found, name)
    origins = [origin for one in line if (origin := _origin(one, found)) is not None]
    own = sorted(fact for one in line for fact in known.facts.get(one.name, ()))
    looked = boards.one(store, name, now=found.now)
    broken = () if looked is None else looked.verdict.breaches
    return Logged(
        name, container.ml, container.left is None, tuple(sorted(origins)),
        tuple(sorted(other.name for other in line if other.name != name)), frozen_on(found, name),
        tuple(_stays(known, container)), tuple(own), _held(own),
        tuple(Fact(one.at, one.rule, one.says) for one in broken),
        tuple(sorted((other.name, tuple(_stays(known, other))) for other in line if other.name != name)),
    )  # fmt: skip


def _held(facts: Sequence[Fact]) -> tuple[str, ...]:
    """Why it was ever held back, each reason once; a reason that was recorded is told, also once it was released."""
    return tuple(dict.fromkeys(fact.says for fact in facts if fact.kind == "held"))


def _stays(known: _Known, container: Container) -> Iterator[Stayed]:
    found = known.found
    days = _days_only(known.steps.get(container.name, []), container)
    for number, stay in enumerate(container.stays):
        later = container.stays[number + 1].at if number + 1 < len(container.stays) else None
        end = later if later is not None else container.left if container.left is not None else found.now
        line = found.fold.places.lines[stay.place]
        temps = [temp_c for at, temp_c in line.measured if stay.at <= at <= end]
        cuts = tuple((lost, back) for lost, back, _ in line.outages if lost < end and (back is None or back > stay.at))
        yield Stayed(
            stay.at, stay.place, line.kind_at(stay.at), min(temps, default=None), max(temps, default=None), len(temps),
            stay.at in days, cuts,
        )  # fmt: skip


def _days_only(steps: Sequence[Step], container: Container) -> set[int]:
    """The instants of a container of which only the day was written down."""
    days = {step.at for step in steps if step.vague}
    event = container.event
    if isinstance(event, ev.Stocked) and (event.frozen_on or is_date(event.expressed)):
        days.add(container.stays[0].at)
    return days


def rows(logged: Sequence[Logged], found: Whole) -> Iterator[list[Cell]]:
    """The log as a table."""
    yield ["label", "ml", "there", "expressed_first", "expressed_last", "sessions", "frozen_on", "combined_from",
           "places", "coldest_c", "warmest_c", "power_cuts", "held_for", "outside_a_limit", "other"]  # fmt: skip
    for one in logged:
        days = [found.day(origin.at) for origin in one.origins]
        whole = [("", one.stays), *((f"{code}: ", stays) for code, stays in one.before)]
        places = "; ".join(f"{code}{found.day(stay.at)} {stay.place}" for code, stays in whole for stay in stays)
        colds = [stay.coldest_c for stay in one.stays if stay.coldest_c is not None]
        warms = [stay.warmest_c for stay in one.stays if stay.warmest_c is not None]
        yield [
            one.code, one.ml, "yes" if one.there else "no", min(days, default=""), max(days, default=""), len(days),
            one.frozen_on, "; ".join(one.combined), places, min(colds, default=None), max(warms, default=None),
            "; ".join(f"{code}{found.day(lost)} {stay.place}" for code, stays in whole for stay in stays
                      for lost, _ in stay.cuts),
            "; ".join(one.held), "; ".join(f"{found.day(fact.at)} {fact.says}" for fact in one.outside),
            "; ".join(f"{found.day(fact.at)} {fact.kind} {fact.says}".strip() for fact in one.facts
                      if fact.kind not in ("held", "released")),
        ]  # fmt: skip
