"""`thawline heat readings`: what a thermometer's record shows."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thawline.core.guideline import KINDS
from thawline.core.replay import moment
from thawline.core.times import HOUR, MINUTE, local, written, zone_named
from thawline.faces.cli.heat import heat
from thawline.faces.cli.replay import UsageError, lines_of
from thawline.faces.cli.table import plain, wrap

if TYPE_CHECKING:
    from thawline.services.readings import Beyond, Excursion, Looked, Parsed

_SAY_WITH = {
    "temp": "--temp-column N",
    "time": "--time-column N",
    "day_first": "--day-first or --month-first",
    "unit": "--unit C or --unit F",
    "clock": "--clock local, or an offset such as --clock +01:00",
}


@heat.command("readings")
def readings_command(
    file: Annotated[str, typer.Argument(help="a logger's file (CSV or text); - reads standard input")],
    *,
    place: Annotated[str, typer.Option(help=f"kind of place: {', '.join(KINDS)}")] = "",
    zone: Annotated[str, typer.Option(help="zone of times without an offset, such as Europe/Lisbon")] = "UTC",
    limit: Annotated[str, typer.Option(help="a limit of your own: 4, 4C or 40F")] = "",
    unit: Annotated[str, typer.Option(help="C or F, where the file does not say")] = "",
    clock: Annotated[str, typer.Option(help="the thermometer's clock: local, or an offset such as +01:00")] = "",
    day_first: Annotated[bool | None, typer.Option("--day-first/--month-first", help="how 3/2 is meant")] = None,
    time_column: Annotated[int, typer.Option(help="number of the column with the time, from 1")] = 0,
    temp_column: Annotated[int, typer.Option(help="number of the column with the temperature, from 1")] = 0,
    now: Annotated[str | None, typer.Option(help="as of this time (RFC 3339); else the clock's")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="print one JSON object")] = False,
) -> None:
    """Show the times above limits, gaps and faults, and the mean kinetic temperature (for information only)."""
    from thawline.services import present, readings

    if place and place not in KINDS:
        raise UsageError(f"no kind of place {place[:40]!r}: choose one of {', '.join(KINDS)}")
    if unit.upper() not in ("", "C", "F"):
        raise UsageError("--unit is C or F")
    chosen: readings.Unit | None = "F" if unit.upper() == "F" else "C" if unit.upper() == "C" else None
    answers = readings.Answers(_column(time_column), _column(temp_column), day_first, chosen, clock or None)
    try:
        text = readings.decoded(b"\n".join(lines_of(file)))
        found = readings.parse(text, zone=zone, usual="C", now=moment(now) if now else present.now(), answers=answers)
    except readings.UnreadableError as fault:
        raise UsageError(f"{Path(file).name}: {fault}") from fault
    if found.questions:
        asked = found.questions[0]
        choices = "; ".join(label for _value, label in asked.choices)
        raise UsageError(f"{asked.says} {choices}. Say it with {_SAY_WITH[asked.kind]}")
    if not found.readings:
        raise UsageError(f"{Path(file).name}: no reading could be taken from it: {found.skipped[0].why}")
    held = readings.usual_limits(place or None, _limit_c(limit))
    looked = readings.look(found.readings, held)
    told = _as_object(looked, found, zone) if as_json else None
    print(json.dumps(told, ensure_ascii=False) if told else "\n".join(_as_text(looked, found, zone)))


def _column(number: int) -> int | None:
    return number - 1 if number > 0 else None


def _limit_c(text: str) -> float | None:
    from thawline.core.units import celsius
    from thawline.services.readings_cells import temp

    found = temp(text.strip()) if text else None
    if text and found is None:
        raise UsageError(f"--limit {text[:20]!r} is no temperature: write 4, 4C or 40F")
    return None if found is None else celsius(found.value) if found.unit == "F" else found.value


def _as_object(looked: Looked, found: Parsed, zone: str) -> dict[str, Any]:
    here = zone_named(zone)
    record = looked.record
    return {
        "readings": len(record.readings),
        "first": written(record.readings[0].at, here) if record.readings else None,
        "last": written(record.readings[-1].at, here) if record.readings else None,
        "limits": [
            {
                "c": round(one.limit.c, 3), "above": one.limit.above, "says": one.limit.says,
                "at_least_min": one.known // MINUTE, "at_most_min": _minutes(one.most),
                "excursions": [_excursion(each, zone) for each in one.excursions],
            }
            for one in looked.beyond
        ],
        "mean_kinetic_c": _rounded(looked.mean.kinetic_c), "mean_c": _rounded(looked.mean.plain_c),
        "gaps": [{"from": written(one.start, here), "until": written(one.end, here)} for one in record.gaps],
        "faults": [{"at": written(one.at, here), "c": one.c} for one in record.faults],
        "twice_alike": record.alike,
        "twice_differing": [
            {"at": written(one.at, here), "coldest_c": one.coldest_c, "warmest_c": one.warmest_c}
            for one in record.differing
        ],
        "skipped": [{"line": one.line, "why": one.why} for one in found.skipped],
        "notes": list(found.notes), "kept": len(looked.kept),
    }  # fmt: skip


def _excursion(one: Excursion, zone: str) -> dict[str, Any]:
    here = zone_named(zone)
    return {
        "first": written(one.first, here), "last": written(one.last, here),
        "earliest": None if one.earliest is None else written(one.earliest, here),
        "over_by": None if one.latest is None else written(one.latest, here),
        "at_least_min": one.known // MINUTE, "at_most_min": _minutes(one.most), "extreme_c": one.extreme_c,
        "gap": one.gap,
    }  # fmt: skip


def _minutes(micros: int | None) -> int | None:
    return None if micros is None else -(-micros // MINUTE)


def _rounded(c: float | None) -> float | None:
    return None if c is None else round(c, 3)


def _as_text(looked: Looked, found: Parsed, zone: str) -> list[str]:
    record = looked.record
    lines = [f"{len(record.readings)} readings"]
    if record.readings:
        lines[0] += f", {_clock(record.readings[0].at, zone)} to {_clock(record.readings[-1].at, zone)}"
    lines += [plain(f"note: {note}") for note in found.notes]
    if found.skipped:
        lines += wrap(f"lines that gave no reading: {len(found.skipped)}, the first is {found.skipped[0].line}: "
                      f"{found.skipped[0].why}", "", "  ")  # fmt: skip
    if record.faults:
        lines += wrap(f"left out, since they can not be right: {len(record.faults)}; look at the sensor", "", "  ")
    if record.differing:
        lines += wrap(f"moments with two readings, of which the warmer one counts: {len(record.differing)}", "", "  ")
    lines += [f"gap: {_clock(one.start, zone)} to {_clock(one.end, zone)}" for one in record.gaps]
    lines.append("")
    for one in looked.beyond:
        lines += _limit_lines(one, zone)
    if looked.mean.kinetic_c is not None and looked.mean.plain_c is not None:
        lines += ["", f"mean kinetic temperature {looked.mean.kinetic_c:.3f} C, plain mean {looked.mean.plain_c:.3f} C"]
    else:
        lines += ["", f"no mean: more than {_gap_hours()} h lie between two readings"]
    return [*lines, "(for information only: clocks run on time above limits)"]


def _gap_hours() -> int:
    from thawline.services.readings import gap_limit

    return gap_limit() // HOUR


def _limit_lines(found: Beyond, zone: str) -> list[str]:
    side = "above" if found.limit.above else "below"
    lines = wrap(f"{side} {found.limit.c:.4g} C ({found.limit.says}): {_total(found)}", "", "  ")
    for one in found.excursions[:20]:
        start = "before the record" if one.earliest is None else _clock(one.earliest, zone)
        lines.append(f"  {_clock(one.first, zone)} to {_clock(one.last, zone)}, {one.extreme_c:g} C")
        lines.append(f"    {_lasted(one.known, one.most)}; earliest start {start}")
    return lines


def _total(found: Beyond) -> str:
    if not found.excursions:
        return "never"
    times = len(found.excursions)
    return f"{times} time{'s' if times > 1 else ''}, {_lasted(found.known, found.most)}"


def _lasted(known: int, most: int | None) -> str:
    at_most = "" if most is None else f", at most {_minutes(most)} min"
    return f"at least {known // MINUTE} min{at_most}"


def _clock(at: int, zone: str) -> str:
    return local(at, zone_named(zone)).strftime("%d %b %Y %H:%M")
