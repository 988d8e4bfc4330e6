"""Milk at a childcare service, judged by the stricter of the household's rules and the service's own."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from thawline.core import events as ev
from thawline.core.fold import Fold
from thawline.core.guideline import GuidelineError, shipped
from thawline.core.times import HOUR, local, written, zone_named
from thawline.core.verdict import Link, Verdict
from thawline.records.ledger.store import DatabaseStore
from thawline.records.store import Store
from thawline.services import terms
from thawline.services.acts import Act, BadWhenError, moment
from thawline.services.board import Board
from thawline.services.childcare import ServiceNow, services
from thawline.services.childcare_facts import chosen, facts
from thawline.services.childcare_window import inside
from thawline.services.known import Ground, fold_kins, ground_now, judged
from thawline.services.looking_ahead import preview
from thawline.services.recording import line_of, new_act

WITHIN = ("fine", "soon")


class Deadline(NamedTuple):
    """A container at a service: as both rules together have it, as home has it, and whose rule gives the time.

    `thawed`: until when frozen milk may be fed if it goes into the service's refrigerator now, where that is told;
    `given_to`: the service's place that it was handed over into while nobody noted yet that it arrived, else None.
    """

    found: Verdict
    own: Verdict
    by: str
    why: Link | None
    thawed: int | None = None
    given_to: str | None = None


class Offer(NamedTuple):
    """A container that would be handed over: as it would stand there, and what speaks against it.

    `against` are codes: `no_child`, `no_name`, `held`, `past`, `outside`, `breached`, `unit`, `closing`, `thaws`;
    `breaks` what a rule says against handing it over there. `outside_c`: how warm it is noted to be where it would
    lie, and how cold a rule that gives it no time there asks for, both in degrees Celsius.
    """

    now: Verdict
    then: Verdict
    place: str
    by: str
    against: tuple[str, ...]
    breaks: tuple[str, ...]
    outside_c: tuple[float, float] | None = None

    @property
    def accepted(self) -> bool:
        """Whether nothing speaks against it but that it thaws there, or ends before closing."""
        return not set(self.against) - {"closing", "thaws"} and not self.breaks


def also_of(service: ServiceNow) -> tuple[str, ...]:
    """The overlays that count there beside the household's own rules: the service's, where it is known."""
    return (service.rule,) if chosen(service.rule) is not None else ()


def ground_there(store: Store, service: ServiceNow, *, now: int) -> Ground:
    """The household's ground with the service's rule in force beside."""
    return terms.under(ground_now(store, now), also_of(service))


def deadlines(
    store: Store, service: ServiceNow, names: Collection[str], *, now: int, options: bool = False
) -> list[Deadline]:
    """These containers at `now`, most urgent first, under the rules of home and service together.

    Milk handed over of which nobody noted that it was received counts as received when it was handed over.
    """
    rows = {row.key: row for row in store.kins_of(sorted(names)).values()}
    lines = [line for kin in store.kin_lines(sorted(rows)).values() for line in kin]
    home = ground_now(store, now)
    there = terms.under(home, also_of(service))
    if not lines:
        return []
    parts, _ = fold_kins(there, {0: lines}, now)
    before, open_ = _taken_in(parts[0], service)
    taken_in = [line_of(event) for event in (*before, *open_.values())]
    if taken_in:
        lines += taken_in
        parts, _ = fold_kins(there, {0: lines}, now)
    own = {one.container: one for one in judged(home, parts[0], now, options=False)}
    strict = [one for one in judged(there, parts[0], now, options=options) if one.container in names]
    thawed = _if_thawed(there, lines, [one for one in strict if one.form == "frozen"], service, now)
    found = [
        Deadline(
            one,
            own[one.container],
            rule_name(one, there),
            _link(one),
            thawed.get(one.container),
            open_.get(one.container, {}).get("place"),
        )
        for one in strict
    ]
    return sorted(found, key=lambda one: urgency(one.found))


def at_services(store: DatabaseStore, *, now: int, options: bool = False) -> dict[str, Verdict]:
    """What lies with a childcare service, by container, under the rules of home and service."""
    found = services(store)
    there = inside(store, [one.site for one in found], now=now).there if found else {}
    return {
        row.found.container: row.found
        for one in found
        if one.name in there
        for row in deadlines(store, one, there[one.name], now=now, options=options)
    }


def _if_thawed(
    there: Ground, lines: Sequence[bytes], frozen: Sequence[Verdict], service: ServiceNow, now: int
) -> dict[str, int]:
    """Until when each may be fed if it goes from the freezer into the service's refrigerator now."""
    if not frozen or service.place not in there.places.lines:
        return {}
    at = written(now, zone_named(there.settings.zone))
    moves = [
        line_of({"id": f"~thaw.{n}", "at": at, "kind": "moved", "container": one.container, "to": service.place})
        for n, one in enumerate(frozen)
    ]
    parts, _ = fold_kins(there, {0: [*lines, *moves]}, now)
    names = {one.container for one in frozen if one.place != service.place}
    rows = [one for one in judged(there, parts[0], now, options=False) if one.container in names]
    return {one.container: one.use_by for one in rows if one.standing in WITHIN and one.use_by is not None}


def urgency(found: Verdict) -> tuple[int, int, int, str]:
    """What a worker has to see first: what is begun, then by its time, then what was expressed first."""
    begun = found.fed_from is not None or found.warmed is not None
    return (0 if found.standing not in WITHIN or begun else 1, found.use_by or 0, found.dated, found.container)


def _link(found: Verdict) -> Link | None:
    return found.why[0] if found.why else None


def rule_name(found: Verdict, base: Ground) -> str:
    """The name of the guideline whose rule gives the deadline; empty where none speaks."""
    link = _link(found)
    if link is None:
        return ""
    head = link.rule.partition(".")[0]
    names = {one.id: one.name for one in base.rules.all}
    try:
        return names.get(head) or shipped(head).name
    except GuidelineError:
        return base.rules.guideline.name


def _taken_in(part: Fold, service: ServiceNow) -> tuple[list[dict[str, Any]], dict[str, dict[str, Any]]]:
    """Events that receive what was handed over and never noted as received: once before, and by container now."""
    refused = {one.event for one in part.refused}
    open_: dict[str, dict[str, Any]] = {}
    # Handed over a second time without either receipt, it was received the first time: that counts for ever.
    before: list[dict[str, Any]] = []
    for entry in part.entries:
        event = entry.event
        if entry.id in refused:
            continue
        if isinstance(event, ev.HandedOver) and event.to == service.name and event.place is not None:
            at = written(entry.at, entry.zone)
            before += [open_[event.container]] if event.container in open_ else []
            open_[event.container] = {
                "id": f"{entry.id}~received", "at": at, "kind": "received", "container": event.container,
                "place": event.place,
            }  # fmt: skip
        elif isinstance(event, ev.Received):
            open_.pop(event.container, None)
    return before, open_


# Before it is handed over


def places_for(board: Board, service: ServiceNow, found: Verdict) -> str:
    """Where a container goes there: what is frozen into its freezer if it has one, the rest into its refrigerator."""
    frozen = found.form in ("frozen", "thawing")
    return service.freezer if frozen and board.place(service.freezer) is not None else service.place


def hand_over(act: Act, service: ServiceNow, places: Mapping[str, str]) -> None:
    """Give these to the service, each into its place; where nobody signs in for it, they count as received as well."""
    for code, place in places.items():
        act.add("handed_over", container=code, to=service.name, place=place)
        if not service.staff:
            act.add("received", container=code, place=place)


def offers(
    store: Store, board: Board, service: ServiceNow, wanted: Sequence[Verdict], *,
    full_names: Mapping[str, str], places: Mapping[str, str] | None = None, closing: int | None = None,
) -> list[Offer]:  # fmt: skip
    """How these would stand at the service if they were handed over now, and what it would not accept."""
    places = places or {one.container: places_for(board, service, one) for one in wanted}
    act = Act(new_act(), by="", at=written(board.now, zone_named(board.settings.zone)))
    for code, place in places.items():
        act.add("handed_over", container=code, to=service.name, place=place)
        act.add("received", container=code, place=place)
    seen = preview(store, act.events, now=board.now, also=also_of(service))
    there = ground_there(store, service, now=board.now)
    found = []
    for one in wanted:
        then = seen.after.get(one.container, one)
        breaks = tuple(row.broken.says for row in seen.breaches if row.container == one.container)
        against = tuple(_against(board, service, one, then, full_names, closing))
        warm = _too_warm(board, there, then) if then.standing == "outside" else None
        found.append(Offer(one, then, places[one.container], rule_name(then, there), against, breaks, warm))
    return sorted(found, key=lambda offer: urgency(offer.then))


def _too_warm(board: Board, there: Ground, then: Verdict) -> tuple[float, float] | None:
    """How warm the place is noted to be, and the temperature that the rule without a time there asks for."""
    place, link = board.place(then.place), _link(then)
    if place is None or place.temp_c is None or link is None:
        return None
    rule = next((one for one in there.rules.all if one.id == link.rule.partition(".")[0]), None)
    rows = [row for them in rule.rows.values() for row in them] if rule is not None else []
    asked = [row.band[place.kind] for row in rows if place.kind in row.band and row.band[place.kind] < place.temp_c]
    return (place.temp_c, max(asked)) if asked else None


def child_of(board: Board, found: Verdict) -> str | None:
    """The child that a container is for: the one noted, else the only one of the household."""
    if found.meant_for is not None:
        return found.meant_for
    return board.children[0].name if len(board.children) == 1 else None


def _against(
    board: Board, service: ServiceNow, now: Verdict, then: Verdict, full_names: Mapping[str, str], closing: int | None
) -> Iterator[str]:
    child = child_of(board, now)
    if child is None or child not in {one.name for one in board.children}:
        yield "no_child"
    elif facts(service.rule).full_name and not full_names.get(child, "").strip():
        yield "no_name"
    if then.use_by is None:
        yield "unit"
    elif then.standing not in WITHIN:
        yield then.standing
    elif closing is not None and then.use_by < closing:
        yield "closing"
    if now.form == "frozen" and then.form != "frozen":
        yield "thaws"


def closing_at(service: ServiceNow, *, now: int, zone: str) -> int | None:
    """The instant at which the service closes today; None where that is not known, or over."""
    if not service.closes:
        return None
    here = zone_named(zone)
    try:
        at = moment(f"{local(now, here).date().isoformat()}T{service.closes}", here)
    except BadWhenError:
        return None
    return at if at > now - HOUR else None
