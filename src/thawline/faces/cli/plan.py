"""`thawline plan`: which container for which feed, what to chill, freeze, thaw and pack over the next days, and why."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thawline.core.guideline import GuidelineError
from thawline.core.ledger import NotALedgerError
from thawline.core.replay import moment
from thawline.faces.cli import plan_words as say
from thawline.faces.cli.plan_words import Words, wrap
from thawline.faces.cli.replay import UsageError, lines_of
from thawline.faces.cli.table import plain

if TYPE_CHECKING:
    from thawline.engines.forecast.kinds import Band
    from thawline.services.habits import Habits
    from thawline.services.plan_kinds import PlanChore, PlanFeed, PlanNow, Portions
    from thawline.services.plan_seen import Seen

File = Annotated[str, typer.Argument(help="a ledger, one event a line (NDJSON); - reads standard input")]
HabitsFile = Annotated[str | None, typer.Option("--habits", metavar="FILE", help="how the family uses its milk (JSON)")]
Now = Annotated[str | None, typer.Option("--now", help="as of this time (RFC 3339); else the clock's")]
AsJson = Annotated[bool, typer.Option("--json", help="print one JSON object")]


def looked_at(file: str, habits: str | None, now: str | None) -> tuple[Seen, Habits, Words]:
    """The household of a file, its habits, and how it writes; raises `UsageError`."""
    from thawline.services.board import units  # noqa: PLC0415  (start-up time)
    from thawline.services.plan_seen import seen_of  # noqa: PLC0415  (start-up time)

    at = moment(now or datetime.now(UTC).isoformat())
    try:
        seen = seen_of(lines_of(file), now=at)
    except NotALedgerError as fault:
        raise UsageError(str(fault)) from fault
    found = _habits(habits, seen)
    return seen, found, Words(at, seen.base.settings.zone, units(seen.base, at)[0])


def _habits(file: str | None, seen: Seen) -> Habits:
    from thawline.services import habits as of  # noqa: PLC0415  (start-up time)
    from thawline.services.habits_faults import HabitsError  # noqa: PLC0415  (start-up time)

    if file is None:
        return of.Habits()
    try:
        data = b"\n".join(lines_of(file))
        return of.check(of.parsed(data), [kid.name for kid in seen.kids])
    except HabitsError as fault:
        raise UsageError(f"{file}: {fault}") from fault


def plan_command(
    file: File, *, habits: HabitsFile = None, now: Now = None,
    days: Annotated[int, typer.Option(help="how many days beyond today: 1 to 14")] = 3,
    quick: Annotated[bool, typer.Option("--quick", help="the answer at once, not refined")] = False,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """The plan for the next days: which milk for which feed, what to do with it by when, and why."""
    from thawline.services.plan import MOST_DAYS, plan_from  # noqa: PLC0415  (start-up time)

    if not 1 <= days <= MOST_DAYS:
        raise UsageError(f"--days {days}: give 1 to {MOST_DAYS} days")
    seen, family, words = looked_at(file, habits, now)
    try:
        found = plan_from(seen, family, days=days, refine=not quick)
    except GuidelineError as fault:
        raise UsageError(str(fault)) from fault
    print(json.dumps(as_object(found, words), ensure_ascii=False, indent=2) if as_json else said(found, words))


# For a terminal


def said(found: PlanNow, words: Words) -> str:
    """The plan as text, 80 columns wide."""
    lines = wrap(f"{words.day(found.now)}, {words.clock(found.now)} ({found.zone})")
    lines += wrap(f"Plan by {' + '.join((found.guideline, *found.also))}, until {words.when(found.until)}")
    for one in found.none:
        lines += wrap(say.none_line(one, words))
    for child, band in found.need.items():
        if band.likely >= 1:
            lines += wrap(f"{child} will likely drink {words.between(band)} a day from bottles.")
    lines += ["", "TO DO", *(_chores(found, words) or ["  Nothing."])]
    if found.feeds:
        lines += ["", "FEEDS", *_feeds(found, words)]
    lines += [*_short(found, words), *_thrown(found, words), *_sizes(found, words)]
    return "\n".join([*lines, *say.cautions()])


def _chores(found: PlanNow, words: Words) -> list[str]:
    lines: list[str] = []
    day = ""
    for one in found.chores:
        if (today := words.day(one.at)) != day:
            day = today
            lines.append(f"  {day}")
        lines += wrap(f"{_time(one, found, words)}  {_does(one, words)}", "    ", " " * 11)
        lines += wrap(words.why(one.reason), " " * 11)
    return lines


def _time(one: PlanChore, found: PlanNow, words: Words) -> str:
    return "now  " if one.at <= found.now else words.clock(one.at)


def _does(one: PlanChore, words: Words) -> str:
    to = plain(one.to) if one.to else "a place for it"
    what = ", ".join(say.milk(name) for name in one.containers) or "milk yet to be expressed"
    does = say.DOES["thaw_quick" if one.does == "thaw" and one.to is None else one.does].format(to=to)
    where = f" for {plain(one.where)}" if one.does == "pack" and one.where else ""
    to_bag = f" into {to}" if one.does == "pack" and one.to else ""
    by = f", by {words.when(one.by)} at the latest" if one.by > one.at and one.does != "discard" else ""
    night = ", at night" if one.night else ""
    return f"{does}{where}{to_bag}: {what} ({words.ml(one.ml)}){by}{night}"


def _feeds(found: PlanNow, words: Words) -> Iterator[str]:
    day = ""
    for one in found.feeds:
        if (today := words.day(one.at)) != day:
            day = today
            yield f"  {day}"
        yield from wrap(f"{words.clock(one.at)}  {_feed(one, words)}", "    ", " " * 11)


def _feed(one: PlanFeed, words: Words) -> str:
    parts = "; ".join(
        f"{say.milk(part.container)} {words.ml(part.ml)} ({words.why(part.reason)})"
        for part in one.parts
        if not part.coming
    )
    short = f"; {words.ml(one.short_ml)} short" if one.short_ml >= 1 else ""
    ml = one.coming_ml + sum(part.ml for part in one.parts if part.coming)
    later = f"{words.ml(ml)} of milk yet to be expressed" if ml >= 1 else ""
    told = "; ".join(filter(None, (parts, later))) or "nothing there"
    return f"{plain(one.child)}, {plain(one.where)}, {words.ml(one.ml)}: {told}{short}"


def _short(found: PlanNow, words: Words) -> list[str]:
    lines: list[str] = []
    for one in found.short:
        head = f"{words.ml(one.ml)} short for {plain(one.child)}, {plain(one.where)}, from {words.when(one.at)}"
        lines += ["", *wrap(head + "; what would mend it:")]
        for mend in one.mends:
            lines += wrap("- " + words.why(mend), "  ", "    ")
    return lines


def _thrown(found: PlanNow, words: Words) -> list[str]:
    total = sum(ml for _, ml in found.thrown)
    lines = ["", *wrap(f"Left to be thrown away in these days: {words.ml(total)}.")]
    if found.proven:
        better = "No plan could do better." if found.better_ml < 0.5 else (
            f"No plan could do better by more than {words.ml(found.better_ml)}."
        )  # fmt: skip
        lines += wrap(better)
    if found.try_one is not None:
        one = plain(found.try_one)
        lines += wrap(f"Some babies refuse thawed milk: thaw {one}, the smallest, for a try before more is frozen.")
    return lines


def _sizes(found: PlanNow, words: Words) -> list[str]:
    lines: list[str] = ["", "SIZES"] if found.portions else []
    for one in found.portions:
        packed = ""
        if one.where != "home":
            bottles = ", ".join(words.ml(ml) for ml in one.bottles)
            packed = f"; pack {bottles} and {words.ml(one.spare_ml)} to spare"
        text = f"{plain(one.where)}: pour {words.ml(one.pour_ml)} first, then {words.ml(one.step_ml)} at a time"
        lines += wrap(f"{text}{packed}; freeze in {words.ml(one.freeze_ml)}", "  ", "    ")
        lines += wrap("; ".join(words.why(why) for why in one.reasons), "    ")
    return lines


# As an object


def as_object(found: PlanNow, words: Words) -> dict[str, Any]:
    """The plan as one JSON object; times are RFC 3339 on the household's clock, amounts mL."""
    return {
        "now": words.iso(found.now), "until": words.iso(found.until), "zone": found.zone, "way": found.way,
        "guideline": found.guideline, "also": list(found.also),
        "chores": [_chore_object(one, words) for one in found.chores],
        "feeds": [_feed_object(one, words) for one in found.feeds],
        "short": [
            {"at": words.iso(one.at), "child": one.child, "where": one.where, "ml": one.ml,
             "mends": [say.reason_object(mend, words) for mend in one.mends]}
            for one in found.short
        ],
        "thrown": [{"container": name, "ml": ml} for name, ml in found.thrown],
        "better_ml": found.better_ml, "proven": found.proven, "refined": found.refined,
        "need": {child: _band(band) for child, band in found.need.items()},
        "portions": [_sizes_object(one, words) for one in found.portions],
        "none": [say.none_object(one, words) for one in found.none], "try_one": found.try_one,
    }  # fmt: skip


def _band(band: Band) -> dict[str, float]:
    return {name: round(value, 1) for name, value in band._asdict().items()}


def _chore_object(one: PlanChore, words: Words) -> dict[str, Any]:
    return {
        "key": one.key, "do": one.does, "containers": list(one.containers), "ml": one.ml, "at": words.iso(one.at),
        "by": words.iso(one.by), "night": one.night, "to": one.to, "where": one.where, "coming": one.coming,
        "why": say.reason_object(one.reason, words),
    }  # fmt: skip


def _feed_object(one: PlanFeed, words: Words) -> dict[str, Any]:
    parts = [
        {"container": part.container, "ml": part.ml, "coming": part.coming,
         "why": say.reason_object(part.reason, words)}
        for part in one.parts
    ]  # fmt: skip
    return {
        "at": words.iso(one.at), "child": one.child, "where": one.where, "ml": one.ml, "parts": parts,
        "short_ml": one.short_ml, "coming_ml": one.coming_ml, "pour_ml": one.pour_ml, "step_ml": one.step_ml,
    }  # fmt: skip


def _sizes_object(one: Portions, words: Words) -> dict[str, Any]:
    reasons = [say.reason_object(why, words) for why in one.reasons]
    return {**one._asdict(), "bottles": list(one.bottles), "reasons": reasons}
