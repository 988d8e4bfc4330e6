"""`thawline heat thaw|freeze|warm|cool`: the questions of the pages, for a ledger's container or a described one."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thawline.core.times import written, zone_named
from thawline.faces.cli.heat import heat
from thawline.faces.cli.heat_asked import (
    Across,
    AirC,
    AsJson,
    Code,
    File,
    Lies,
    Measured,
    Ml,
    Now,
    Place,
    Question,
    ShapeOf,
    Zone,
    around,
    at,
    between,
    clock,
    hours,
    length,
    one_of,
    question,
    refuse,
    rests,
    span,
    span_h,
    start_c,
    tell,
    within,
)

if TYPE_CHECKING:
    from thawline.services.heat import Subject
    from thawline.services.heat_answers import Thaw, Wanted

_FREEZERS = ("deep_freezer", "freezer", "freezer_compartment")
Start = Annotated[str | None, typer.Option("--start", help="how warm it is to begin with: body, room, cold, frozen")]


def _subject(asked: Question, *forms: str) -> Subject:
    subject = asked.subject
    if subject is None:
        refuse("name the --container in that ledger, or describe one with --ml")
    if forms and subject.form and subject.form not in forms:
        refuse(f"{subject.code!r} is {subject.form}: this question is about {' or '.join(forms)} milk")
    return subject


@heat.command("thaw")
def thaw(  # noqa: PLR0917  (an option each)
    file: File = None, container: Code = None, ml: Ml = None, shape: ShapeOf = None, across: Across = None,
    measured: Measured = False, lies: Lies = None, place: Place = None, air: AirC = None,
    by: Annotated[str, typer.Option("--by", help="the time by which it is wanted thawed")] = "07:00",
    now: Now = None, zone: Zone = None, as_json: AsJson = False,
) -> None:  # fmt: skip
    """When frozen milk is thawed if it goes to the refrigerator now, and by when to move it."""
    from thawline.services import heat_answers

    asked = question(file, container, ml, now, zone, shape=shape, across=across, measured=measured, lies=lies)
    subject = _subject(asked, "frozen", "thawing")
    here = around(asked, "refrigerator", ("refrigerator",), place, air)
    begins = start_c(asked, "frozen")
    found = heat_answers.thaw(subject, here, begins, now=asked.now, zone=asked.zone)
    first = _next(by, asked)
    rows = [] if found.never or subject.form == "thawing" else heat_answers.wanted(found, first, now=asked.now)
    told: dict[str, Any] = {
        "question": "thaw", "thaws": "no" if found.never else "perhaps" if found.perhaps else "yes",
        "thawed_at": at(found.when, asked.zone), "hours": hours(found.takes),
        "wanted": [_wanted(row, asked) for row in rows],
        "rests_on": rests(asked, here, "frozen", begins),
    }  # fmt: skip
    lines = ["It will not thaw there: the air is at or below the freezing point of milk."] if found.never else [
        f"Completely thawed: {between(told['thawed_at'], told['hours'])}.",
        f"A limit that runs from complete thaw counts from {clock(told['thawed_at']['early'])} at the latest.",
        _plan(found),
        *(_wanted_line(row) for row in told["wanted"]),
    ]  # fmt: skip
    tell(told, lines, as_json=as_json)


def _plan(found: Thaw) -> str:
    if found.unlikely:
        return "It will most likely not thaw there: the air is close to the freezing point of milk."
    if found.perhaps:
        return "Where the refrigerator is coldest it may never thaw."
    return "Plan with the late time; one night may not be enough."


def _next(text: str, asked: Question) -> int:
    from thawline.services import acts

    try:
        return acts.next_time(text, zone_named(asked.zone), asked.now)
    except acts.BadWhenError:
        refuse(f"--by {text[:20]!r}: write a time like 07:00")


def _wanted(row: Wanted, asked: Question) -> dict[str, Any]:
    here = zone_named(asked.zone)
    by, likely = (written(one, here) if one is not None else None for one in (row.by, row.likely_by))
    return {"by": written(row.at, here), "move_by": by, "likely_enough_by": likely,
            "too_late": row.by is not None and row.by < asked.now}  # fmt: skip


def _wanted_line(row: dict[str, Any]) -> str:
    if row["move_by"] is None:
        return f"Thawed by {clock(row['by'])}: no moment is certain."
    if row["too_late"]:
        return f"Thawed by {clock(row['by'])}: too late to be sure."
    return f"Thawed by {clock(row['by'])}: move it by {clock(row['move_by'])}."


@heat.command("freeze")
def freeze(  # noqa: PLR0917  (an option each)
    file: File = None, container: Code = None, ml: Ml = None, shape: ShapeOf = None, across: Across = None,
    measured: Measured = False, lies: Lies = None, place: Place = None, air: AirC = None, start: Start = None,
    now: Now = None, zone: Zone = None, as_json: AsJson = False,
) -> None:  # fmt: skip
    """When a container is frozen, and how thick to lay bags so that they freeze fast."""
    from thawline.services import heat as about
    from thawline.services import heat_answers

    asked = question(
        file, container, ml, now, zone, shape=shape, across=across, measured=measured, lies=lies, needed=False
    )
    from_ = one_of("--start", start, about.STARTS[:3]) or "cold"
    here = around(asked, "freezer", _FREEZERS, place, air)
    layers = heat_answers.layers(here, start_c(asked, from_))
    told: dict[str, Any] = {"question": "freeze"}
    lines: list[str] = []
    if asked.subject is not None:
        subject = _subject(asked, "fresh", "frozen")
        began, _there = about.began(subject, here, asked.now)
        found = heat_answers.freeze(subject, here, start_c(asked, from_), began=began, zone=asked.zone)
        told |= {
            "freezes": "no" if found.never else "yes",
            "solid_at": at(found.solid_at, asked.zone), "solid_hours": hours(found.solid),
            "hard_at": at(found.hard_at, asked.zone), "hard_hours": hours(found.hard),
        }  # fmt: skip
        lines = ["It will not freeze hard there."] if found.never else [
            f"Solid: {between(told['solid_at'], told['solid_hours'])}.",
            f"Hard: {between(told['hard_at'], told['hard_hours'])}. Count it as frozen from the late time on.",
        ]  # fmt: skip
    told["layers"] = [
        {"mm": one.mm, "bags": one.bags, "shelf": hours(one.shelf), "rack": hours(one.rack)} for one in layers
    ]
    told["rests_on"] = rests(asked, here, from_, start_c(asked, from_))
    lines += ["Until a bag is hard, by thickness, on a solid shelf and on a rack:", *map(_layer, told["layers"]),
              "Bags that touch freeze like one thick bag."]  # fmt: skip
    tell(told, lines, as_json=as_json)


def _layer(one: dict[str, Any]) -> str:
    what = f"{one['mm']:g} mm" + (f" ({one['bags']} bags)" if one["bags"] > 1 else "")
    told = [f"{where} {span_h(one[where])}, about {length(one[where]['likely'])}" for where in ("shelf", "rack")]
    return f"  {what}: {'; '.join(told)}"


@heat.command("warm")
def warm(  # noqa: PLR0917  (an option each)
    file: File = None, container: Code = None, ml: Ml = None, shape: ShapeOf = None, across: Across = None,
    measured: Measured = False, start: Start = None,
    water: Annotated[float, typer.Option("--water", help="water in the bowl, in litres")] = 1.0,
    water_c: Annotated[float | None, typer.Option("--water-c", help="its temperature, °C; else 40")] = None,
    to_c: Annotated[float | None, typer.Option("--to", help="how warm the milk is wanted, degrees Celsius")] = None,
    now: Now = None, zone: Zone = None, as_json: AsJson = False,
) -> None:  # fmt: skip
    """Whether a bowl of warm water warms this milk, how far, and how long it takes still and swirled."""
    from thawline.services import heat as about
    from thawline.services import heat_answers

    asked = question(file, container, ml, now, zone, shape=shape, across=across, measured=measured)
    subject = _subject(asked)
    most = heat_answers.most_c()
    within("--water", water, 0.1, 40)
    wanted = within("--to", to_c, 1, most) or heat_answers.warm_to()
    usual = about.starts_from(subject, asked.board) if asked.board is not None else "cold"
    from_ = one_of("--start", start, about.STARTS) or usual
    given = within("--water-c", water_c, 0, 110)
    found = heat_answers.warm(
        subject, start_c(asked, from_), water_l=water, water_c=most if given is None else given, to_c=wanted
    )
    told: dict[str, Any] = {
        "question": "warm", "reaches": found.reaches, "to_c": wanted, "settles_c": span(found.settles),
        "water": {"litres": water, "c": found.water_c, "too_hot": found.too_hot},
        "enough_litres": None if math.isinf(found.enough_l) else round(found.enough_l, 2),
        "thawed_hours": {"swirled": hours(found.thawed_swirled), "still": hours(found.thawed_still)},
        "warm_hours": {"swirled": hours(found.swirled), "still": hours(found.still)},
        "counts_as_room_from_immersion": found.thawed_swirled is not None,
        "rests_on": rests(asked, None, from_, start_c(asked, from_)),
    }  # fmt: skip
    tell(told, _warm_lines(told, most), as_json=as_json)


def _warm_lines(told: dict[str, Any], most: float) -> list[str]:
    settles, to_c = told["settles_c"], told["to_c"]
    verdict = {
        "yes": "Yes, this bowl brings it to",
        "likely": "Most likely it brings it to",
        "perhaps": "Perhaps: it is close to",
        "no": "No, this bowl cannot bring it to",
    }
    ends = f"bowl and milk settle at {settles['low']:.0f} to {settles['high']:.0f} °C."
    lines = [f"{verdict[told['reaches']]} {to_c:g} °C: {ends}"]
    if told["reaches"] in ("perhaps", "no") and told["enough_litres"] is not None:
        lines.append(f"At least {math.ceil(told['enough_litres'] * 10) / 10:g} L of such water would do.")
    if told["water"]["too_hot"]:
        lines.append(f"Let the water cool to {most:g} °C first: hotter water overheats the milk at the wall.")
    for name, what in (("thawed_hours", "No ice left"), ("warm_hours", f"At {to_c:g} °C")):
        pair = told[name]
        if pair["swirled"] is not None and (name == "thawed_hours" or told["reaches"] != "no"):
            lines.append(f"{what}: swirled {span_h(pair['swirled'])}, left standing {span_h(pair['still'])}.")
    if told["counts_as_room_from_immersion"]:
        lines.append("Thawed in warm water, it counts as at room temperature from the moment it goes in.")
    return [*lines, "Never microwave. Swirl, and try it on the wrist."]


@heat.command("cool")
def cool(  # noqa: PLR0917  (an option each)
    file: File = None, container: Code = None, ml: Ml = None, shape: ShapeOf = None, across: Across = None,
    measured: Measured = False, lies: Lies = None, place: Place = None, air: AirC = None, start: Start = None,
    now: Now = None, zone: Zone = None, as_json: AsJson = False,
) -> None:  # fmt: skip
    """When fresh milk is cold enough to go together with cold milk: in the refrigerator, and in ice water."""
    from thawline.services import heat as about
    from thawline.services import heat_answers

    asked = question(file, container, ml, now, zone, shape=shape, across=across, measured=measured, lies=lies)
    subject = _subject(asked, "fresh")
    from_ = one_of("--start", start, about.STARTS[:2]) or "body"
    here = around(asked, "refrigerator", ("refrigerator",), place, air)
    began, _there = about.began(subject, here, asked.now)
    found = heat_answers.cool(subject, here, start_c(asked, from_), began=began, zone=asked.zone)
    told: dict[str, Any] = {
        "question": "cool", "cold_c": {"from": found.to_c, "to": found.soon_c},
        "cold_at": at(found.when, asked.zone), "hours": hours(found.air), "ice_water_hours": hours(found.ice),
        "rests_on": rests(asked, here, from_, start_c(asked, from_)),
    }  # fmt: skip
    ice = told["ice_water_hours"]
    lines = [
        f"Cold: {between(told['cold_at'], told['hours'])}. The late time counts.",
        f"In ice water: about {length(ice['likely'])} swirled, up to {length(ice['late'])} left still.",
    ]
    tell(told, lines, as_json=as_json)
