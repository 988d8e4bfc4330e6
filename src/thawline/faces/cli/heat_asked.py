"""What the questions of `thawline heat` share: a container of a ledger or a described one, and how answers are told."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, NoReturn

import typer

from thawline.core.replay import moment
from thawline.core.times import written, zone_named
from thawline.faces.cli.replay import UsageError, lines_of
from thawline.faces.cli.table import wrap

if TYPE_CHECKING:
    from thawline.engines.physics.spread import Range, Triple
    from thawline.services.board import Board
    from thawline.services.heat import Around, Subject, When

File = Annotated[str | None, typer.Argument(help="a ledger (NDJSON) that holds the container; - reads it")]
Code = Annotated[str | None, typer.Option("--container", help="the container in that ledger")]
Ml = Annotated[float | None, typer.Option("--ml", help="instead of a ledger: how many mL are in it")]
ShapeOf = Annotated[
    str | None, typer.Option("--shape", help="flat (a bag lying) or upright (a bottle); else both count")
]
Across = Annotated[float | None, typer.Option("--across", help="mm: a bag's thickness, or a bottle's inside width")]
Measured = Annotated[bool, typer.Option("--measured", help="--across was measured; else it is a guess")]
Lies = Annotated[str | None, typer.Option("--lies", help="a flat bag: shelf (one side to the air) or rack (both)")]
Place = Annotated[str | None, typer.Option("--place", help="the place in that ledger; else the first that serves")]
AirC = Annotated[float | None, typer.Option("--air", help="the air's temperature as read just now, degrees Celsius")]
Now = Annotated[str | None, typer.Option("--now", help="as of this time (RFC 3339); else the clock's")]
Zone = Annotated[str | None, typer.Option("--zone", help="IANA zone of the clock; else the ledger's, or UTC")]
AsJson = Annotated[bool, typer.Option("--json", help="print one JSON object")]

_SHAPES = ("flat", "upright")
_LIES = {"shelf": "shelf", "rack": "open"}
ESTIMATE = "An estimate: it may shorten a limit, and never makes one longer. What you see counts more."


class Question(NamedTuple):
    """What is asked: the container, its household where it has one, the clock."""

    subject: Subject | None
    board: Board | None
    store: Any
    now: int
    zone: str


def refuse(says: str) -> NoReturn:
    """End with one line that says what to mend."""
    raise UsageError(says)


def within(name: str, value: float | None, least: float, most: float) -> float | None:
    """A number as given, if it can be meant."""
    if value is not None and not least <= value <= most:
        refuse(f"{name} {value:g}: give {least:g} to {most:g}")
    return value


def one_of(name: str, value: str | None, among: tuple[str, ...]) -> str | None:
    """A word as given, if it is one of those."""
    if value is not None and value not in among:
        refuse(f"{name} {value[:40]!r}: choose one of {', '.join(among)}")
    return value


def question(
    file: str | None, code: str | None, ml: float | None, now: str | None, zone: str | None, *,
    shape: str | None = None, across: float | None = None, measured: bool = False, lies: str | None = None,
    needed: bool = True,
) -> Question:  # fmt: skip
    """The question as the command line asks it."""
    at = moment(now or datetime.now(UTC).isoformat())
    if file is not None and ml is not None:
        refuse("name a ledger and a container, or give --ml: one of the two")
    if file is not None:
        found = _of_ledger(file, code, at)
    else:
        found = Question(_described(ml, code, needed=needed), None, None, at, "UTC")
    named = str(zone_named(zone)) if zone is not None else found.zone
    return found._replace(zone=named, subject=_with(found.subject, shape, across, lies, measured=measured))


def _described(ml: float | None, code: str | None, *, needed: bool) -> Subject | None:
    from thawline.services.heat import Subject

    if code is not None:
        refuse("--container: name the ledger that holds it first")
    if ml is None and needed:
        refuse("name a ledger and a --container, or describe one with --ml")
    ml = within("--ml", ml, 1, 5000)
    return None if ml is None else Subject(ml)


def _of_ledger(file: str, code: str | None, now: int) -> Question:
    from thawline.services import board, heat

    store = heat.read(lines_of(file), now=now)
    there = board.board(store, now=now)
    found = None if code is None else board.one(store, code, now=now)
    if code is not None and (found is None or found.verdict.standing == "gone"):
        refuse(f"no container {code[:40]!r} is there at that time: name one of the ledger")
    return Question(heat.kept(found, there) if found is not None else None, there, store, now, there.settings.zone)


def _with(
    subject: Subject | None, shape: str | None, across: float | None, lies: str | None, *, measured: bool
) -> Subject | None:
    one_of("--shape", shape, _SHAPES)
    one_of("--lies", lies, tuple(_LIES))
    within("--across", across, 1, 300)
    if subject is None:
        return None
    if shape is not None and shape != subject.shape:
        subject = subject._replace(shape="flat" if shape == "flat" else "upright", across_mm=None, measured=False)
    if across is not None and subject.shape is None:
        refuse("--across: say --shape flat or upright as well")
    if across is not None:
        subject = subject._replace(across_mm=across, measured=measured, changed=False)
    return subject._replace(stands=_LIES.get(lies or "", ""))


def around(asked: Question, kind: str, kinds: tuple[str, ...], place: str | None, air_c: float | None) -> Around:
    """The air that is asked about: a place of the ledger, with what was read just now."""
    from thawline.services import heat

    within("--air", air_c, heat.COLDEST_AIR_C, heat.WARMEST_AIR_C)
    places = asked.board.of_kind(*kinds) if asked.board is not None else []
    here = asked.subject.place if asked.subject is not None else None
    found = next((one for one in places if one.name == (place or here)), None)
    if place is not None and found is None:
        refuse(f"no place {place[:40]!r} of that kind in the ledger: name one of it")
    found = found or next(iter(places), None)
    if asked.store is None:
        return heat.around(kind, found, air_c)
    lately = heat.lately(asked.store, found, now=asked.now)
    return heat.around(kind, found, air_c, lately, heat.film(asked.store, found, now=asked.now))


def start_c(asked: Question, start: str) -> Range:
    """How cold the milk is to begin with; frozen milk is as cold as its freezer."""
    from thawline.services import heat

    place = asked.board.place(asked.subject.place) if asked.board is not None and asked.subject is not None else None
    return heat.frozen_c(place) if start == "frozen" else heat.start_c(start)


# How it is told


def hours(triple: Triple | None) -> dict[str, float | None] | None:
    """Early, likely and late in hours; null where it may never happen."""
    if triple is None:
        return None
    values = (None if math.isinf(value) else round(value, 4) for value in triple)
    return dict(zip(("early", "likely", "late"), values, strict=True))


def at(when: When, zone: str) -> dict[str, str | None]:
    """Early, likely and late on the clock; null where it may never happen."""
    here = zone_named(zone)
    told = (None if value is None else written(value, here) for value in when)
    return dict(zip(("early", "likely", "late"), told, strict=True))


def span(c: Range) -> dict[str, float]:
    """An interval."""
    return {"low": round(c.low, 2), "likely": round(c.nominal, 2), "high": round(c.high, 2)}


def rests(asked: Question, air: Around | None, start: str, start_c: Range) -> dict[str, Any]:
    """What an answer rests on."""
    found: dict[str, Any] = {"start_c": {**span(start_c), "how": start}}
    if air is not None:
        found["air_c"] = {**span(air.c), "how": air.how, **({"place": air.place} if air.place else {})}
        found["film_w_m2k"] = {**span(air.clock.film), "thaws_watched": air.seen}
    subject = asked.subject
    if subject is not None:
        vessel = subject.vessels()[0]
        found["container"] = {
            **({"name": subject.code} if subject.code else {}), "ml": subject.ml, "shape": subject.shape,
            "across_mm": span(vessel.across_mm), "measured": subject.measured,
        }  # fmt: skip
    return found


def clock(text: str | None) -> str:
    """An instant for a reader: day and time."""
    return "never" if text is None else text[:16].replace("T", " ")


def between(found: dict[str, str | None], takes: dict[str, float | None] | None) -> str:
    """A moment with its doubt, the range first."""
    told = f"{clock(found['early'])} to {clock(found['late'])}, most likely {clock(found['likely'])}"
    return told + (f" ({span_h(takes)})" if takes else "")


def length(value_h: float | None) -> str:
    """A length of time."""
    if value_h is None:
        return "never"
    return f"{round(value_h * 60)} min" if value_h < 1 else f"{value_h:.3g} h"


def span_h(takes: dict[str, float | None]) -> str:
    """A range of lengths of time."""
    return f"{length(takes['early'])} to {length(takes['late'])}"


def _rest_lines(found: dict[str, Any]) -> list[str]:
    lines = []
    for name, what in (("start_c", "milk to begin with"), ("air_c", "air")):
        if name in found:
            one = found[name]
            lines.append(f"{what}: {one['low']:g} to {one['high']:g} °C ({one['how']})")
    if "container" in found:
        one = found["container"]
        mm = one["across_mm"]
        sure = "measured" if one["measured"] else "guessed"
        shape = one["shape"] or "shape not noted: bag and bottle both reckoned with"
        lines.append(f"{one['ml']:g} mL, {shape}, {mm['low']:.0f} to {mm['high']:.0f} mm ({sure})")
    return lines


def tell(found: dict[str, Any], lines: list[str], *, as_json: bool) -> None:
    """Print the answer: one JSON object, or lines for a reader with what they rest on."""
    if as_json:
        print(json.dumps(found, ensure_ascii=False, indent=2))
        return
    for line in [*lines, "", *(f"Rests on {line}" for line in _rest_lines(found["rests_on"])), ESTIMATE]:
        print("\n".join(wrap(line, rest="  ")) if line else "")
