"""`thawline heat trip`: how long a cooler's packs keep milk cold, and how many packs a trip takes."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thawline.core.replay import moment
from thawline.faces.cli.heat import heat
from thawline.faces.cli.replay import UsageError
from thawline.faces.cli.table import wrap

if TYPE_CHECKING:
    from thawline.core.verdict import Verdict
    from thawline.services.trip import Held, Outfit

# Hours, temperatures, numbers: as much as the page takes.
_Size = Annotated[str, typer.Option(help="bag, bag_large, box, foam, foam_large; or LxWxH in cm, as 30x20x20")]
_Wall = Annotated[str, typer.Option(help="with a size in cm: what the wall is made of: bag, box or foam")]


@heat.command("trip")
def trip_command(
    *,
    cooler: _Size = "bag",
    wall: _Wall = "box",
    wall_mm: Annotated[float, typer.Option(min=1, max=200, help="with a size in cm: the wall, in mm")] = 25,
    packs: Annotated[int, typer.Option(min=0, max=60, help="ice packs")] = 2,
    grams: Annotated[float, typer.Option(min=1, max=5000, help="of each pack")] = 400,
    pack_c: Annotated[float | None, typer.Option(min=-60, max=40, help="how cold they are; unknown without")] = None,
    outside: Annotated[float, typer.Option(min=-40, max=60, help="temperature outside, C")] = 25,
    hours: Annotated[float, typer.Option(min=0.25, max=96, help="how long the trip takes")] = 4,
    openings: Annotated[int, typer.Option(min=0, max=200, help="how often the lid is opened")] = 4,
    milk_ml: Annotated[float, typer.Option(min=0, max=50000, help="milk in all, mL")] = 300,
    milk_c: Annotated[float, typer.Option(min=-40, max=40, help="how warm it goes in, C")] = 4,
    touching: Annotated[bool, typer.Option("--touching/--loose", help="packs lie on both sides of the milk")] = False,
    salt: Annotated[bool, typer.Option("--salt", help="packs of salt solution: no hours are promised")] = False,
    guideline: Annotated[str, typer.Option(help="whose hours in a cooler count; without: the usual")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="print JSON")] = False,
) -> None:  # fmt: skip
    """How long a cooler's packs last, and how many a trip takes: an estimate, never above the published hours."""
    from thawline.services import trip

    inside, mm, kind = _walls(cooler, wall, wall_mm)
    outfit = trip.Outfit(cooler, inside, mm, kind, packs, grams, pack_c, not salt, touching, outside, openings)
    now = moment(datetime.now(UTC).isoformat())
    rule = trip.rule_under(guideline or None, now=now)
    held = trip.held(
        outfit, [trip.Milk(milk_ml, milk_c)], hours=hours, published_h=trip.published_h(rule, now)
    )  # fmt: skip
    print(
        json.dumps(_object(held, rule, hours), ensure_ascii=False, indent=2)
        if as_json
        else _said(held, outfit, rule, hours)
    )


def _walls(cooler: str, wall: str, wall_mm: float) -> tuple[tuple[float, float, float], float, str]:
    """The inside in cm, the wall in mm and its kind: of a size by name, or of numbers."""
    from thawline.services import trip

    size = next((one for one in trip.sizes() if one.key == cooler), None)
    if size is not None:
        return size.inside_cm, size.wall_mm, size.wall
    try:
        a, b, c = (float(part) for part in cooler.lower().split("x"))
    except ValueError as fault:
        names = ", ".join(one.key for one in trip.sizes())
        raise UsageError(f"cooler {cooler[:40]!r}: give one of {names}, or its inside in cm as 30x20x20") from fault
    if not all(3 <= side <= 200 for side in (a, b, c)):
        raise UsageError("the inside of a cooler is 3 to 200 cm long, wide and high")
    if wall not in trip.walls():
        raise UsageError(f"wall {wall[:40]!r}: give one of {', '.join(trip.walls())}")
    return (a, b, c), wall_mm, wall


def _object(held: Held, rule: Verdict, hours: float) -> dict[str, Any]:
    link = rule.why[0]
    return {
        "estimate": True,
        "hours": None if held.hours is None else held.hours._asdict(),
        "trip_h": hours,
        "enough": held.enough,
        "packs_needed": held.needed,
        "fits": held.fits,
        "published": {"hours": held.published_h, "rule": link.rule, "says": link.says, "source": link.source,
                      "mark": link.mark},
        "milk_near_c": round(held.near_c, 1),
        "stays_cold": held.stays_cold,
        "may_freeze": held.freezes,
    }  # fmt: skip


def _said(held: Held, outfit: Outfit, rule: Verdict, hours: float) -> str:
    lines: list[str] = []
    if held.hours is None:
        lines += wrap("No hours are promised: there are no figures for these packs, or the guideline gives no time.")
    else:
        early, likely, late = held.hours
        lines += wrap(f"Count on {early:g} h (likely {likely:g} h, at most {late:g} h). An estimate.")
        lines += wrap(f"That covers {hours:g} h." if held.enough else _too_short(held, outfit, hours))
    lines += wrap(f"{rule.why[0].says} {rule.why[0].source} ({rule.why[0].mark})")
    if not (outfit.touching and held.stays_cold):
        lines += wrap(
            f"Milk may come to {held.near_c:.1f} C although there is ice: lay it between packs, on both sides."
        )
    if held.freezes:
        lines += wrap("Packs this cold can freeze milk that they touch.")
    return "\n".join(lines)


def _too_short(held: Held, outfit: Outfit, hours: float) -> str:
    if held.published_h is not None and hours > held.published_h:
        return f"{hours:g} h is longer than the guideline gives milk in a cooler."
    if held.needed is None:
        return "Packs that are not frozen hold no cold: freeze them first."
    room = "" if held.fits else " They do not find room: take a larger or thicker cooler."
    return f"{hours:g} h takes {held.needed} packs of {outfit.pack_g:g} g.{room}"
