"""`thawline heat power`: what the published hours and the model say of a power cut, for a ledger or a described box."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thawline.core.replay import moment
from thawline.core.times import HOUR, written, zone_named
from thawline.faces.cli.heat import heat
from thawline.faces.cli.heat_asked import one_of, refuse, within

if TYPE_CHECKING:
    from thawline.core.house import House
    from thawline.services.power_hours import Hours, Outage

_KINDS = ("refrigerator", "freezer_compartment", "freezer", "deep_freezer")
_FILLS = ("full", "half", "little")
_COLDEST, _WARMEST, _MOST_KG = -60.0, 60.0, 1000.0


@heat.command("power")
def power(  # noqa: PLR0917  (an option each)
    file: Annotated[str | None, typer.Argument(help="a ledger (NDJSON) with its power cuts; - reads it")] = None,
    now: Annotated[str | None, typer.Option(help="as of this time (RFC 3339); else the clock's")] = None,
    kind: Annotated[str | None, typer.Option(help="instead of a ledger: refrigerator, freezer …")] = None,
    fill: Annotated[str | None, typer.Option(help="how full: full, half, little; else not known")] = None,
    room: Annotated[float | None, typer.Option(help="the room around it, in degrees Celsius")] = None,
    start: Annotated[float | None, typer.Option(help="inside when the power went, in degrees Celsius")] = None,
    kg: Annotated[float | None, typer.Option(help="what is in it, in kilograms")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON object")] = False,
) -> None:
    """Say how long a closed refrigerator or freezer counts as cold: the published hours, or an estimate of less."""
    from thawline.core.guideline import house

    rules, _bans = house()
    source = {"source": str(rules.power["source"]), "mark": str(rules.power["mark"])}
    if (file is None) == (kind is None):
        refuse("name a ledger file, or describe a box with --kind: one of the two")
    if file is not None:
        found = _of_ledger(file, now, rules)
        lines = [_line(one) for one in found["places"]] or ["No power cut is noted in this ledger."]
    else:
        told = _of_box(str(kind), fill, room, start, kg, rules)
        found = {"kind": kind, "fill": fill, **told}
        lines = [_line({"place": kind, **found})]
    lines += [f"Published hours: {source['source']} ({source['mark']}).", *_CAUTIONS]
    print(json.dumps(found | {"published": source}, ensure_ascii=False, indent=2) if as_json else "\n".join(lines))


_CAUTIONS = (
    "Doors shut. An estimate only shortens the published hours; ice or a thermometer decides.",
    "Do not taste milk to find out. When unsure, discard.",
)


def _of_box(
    kind: str, fill: str | None, room: float | None, start: float | None, kg: float | None, rules: House
) -> dict[str, Any]:
    from thawline.services.power_hours import Hours, shortened

    one_of("--kind", kind, _KINDS)
    one_of("--fill", fill, _FILLS)
    for name, value in (("--room", room), ("--start", start)):
        within(name, value, _COLDEST, _WARMEST)
    within("--kg", kg, 0.0, _MOST_KG)
    held = shortened(kind, fill, house=rules, room_c=room, start_c=start, contents_kg=kg)
    return _told(Hours(rules.power_hours(kind, fill) or 0, held or 0))


def _told(hours: Hours) -> dict[str, Any]:
    return {
        "published_hours": hours.published / HOUR,
        "counts_hours": hours.held / HOUR,
        "estimated": hours.shortened,
    }


def _of_ledger(file: str, now: str | None, rules: House) -> dict[str, Any]:
    from thawline.core.ledger import NotALedgerError, read
    from thawline.core.places import Places
    from thawline.core.replay import settings_of
    from thawline.faces.cli.replay import lines_of
    from thawline.services.power_hours import outages

    at = moment(now or datetime.now(UTC).isoformat())
    try:
        ledger = read(lines_of(file), now=at)
    except NotALedgerError as fault:
        refuse(f"{file}: {fault}")
    zone = settings_of(ledger.settings, at).zone
    places = Places(ledger.settings, ledger.entries, rules)
    found = sorted(outages(places.lines, house=rules, now=at), key=lambda one: (one.lost, one.place))
    return {"now": written(at, zone_named(zone)), "places": [_of_outage(one, zone) for one in found]}


def _of_outage(one: Outage, zone: str) -> dict[str, Any]:
    here = zone_named(zone)
    return {
        "place": one.place,
        "kind": one.kind,
        "fill": one.fill,
        "room_c": one.room_c,
        "lost": written(one.lost, here),
        "back": None if one.back is None else written(one.back, here),
        "cold_until": written(one.cold_until, here),
        **_told(one.hours),
    }


def _line(one: dict[str, Any]) -> str:
    from thawline.faces.cli.table import plain

    if not one["counts_hours"]:
        says = "no hours are promised: look for ice, or measure"
    else:
        says = f"counts as cold for {one['counts_hours']:g} h"
        if one["estimated"]:
            says += f" (estimate; published {one['published_hours']:g} h)"
        if "cold_until" in one:
            says += f", until {one['cold_until']}"
    return plain(f"{one['place']}: {says}")
