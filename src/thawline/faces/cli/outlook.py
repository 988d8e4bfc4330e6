"""`thawline outlook`: how the stock will go, until when it lasts, how a goal stands, and how much is enough."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated, Any

import typer

from thawline.core.guideline import GuidelineError
from thawline.faces.cli import plan_words as say
from thawline.faces.cli.plan import AsJson, File, HabitsFile, Now, looked_at
from thawline.faces.cli.plan_words import Words, wrap
from thawline.faces.cli.replay import UsageError
from thawline.faces.cli.table import plain

if TYPE_CHECKING:
    from thawline.engines.forecast.kinds import Band
    from thawline.services.outlook_kinds import GoalSeen, OutlookDay, OutlookNow

ROUTES = {"age": "by age", "weight": "by weight", "own_days": "by your own days"}
KIND = "There is no need to express more than that; if it is a burden, a lactation consultant can help to ease off."


def outlook_command(
    file: File, *, habits: HabitsFile = None, now: Now = None,
    days: Annotated[int, typer.Option(help="how many days: 1 to 730")] = 90,
    sessions: Annotated[float | None, typer.Option("--sessions", help="what if: sessions a day")] = None,
    apart_h: Annotated[float | None, typer.Option("--apart-h", help="what if: hours apart")] = None,
    start: Annotated[str | None, typer.Option("--start", metavar="DATE", help="what if: from this day on")] = None,
    paths: Annotated[int, typer.Option(help="how many possible courses are drawn")] = 2000,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """The outlook: the stock over the days ahead with its range, need and supply, a goal, and what is enough."""
    from thawline.services.outlook import outlook_from  # noqa: PLC0415  (start-up time)
    from thawline.services.outlook_kinds import WhatIf  # noqa: PLC0415  (start-up time)

    seen, family, words = looked_at(file, habits, now)
    try:
        found = outlook_from(seen, family, days=days, what_if=WhatIf(sessions, apart_h, start), paths=paths)
    except (GuidelineError, ValueError) as fault:
        raise UsageError(str(fault)) from fault
    print(json.dumps(as_object(found, words), ensure_ascii=False, indent=2) if as_json else said(found, words))


def said(found: OutlookNow, words: Words) -> str:
    """The outlook as text, 80 columns wide."""
    lines = wrap(f"{words.day(found.now)}, {words.clock(found.now)} ({found.zone}); guideline {found.guideline}")
    for one in found.none:
        lines += wrap(say.none_line(one, words))
    if not found.days:
        return "\n".join([*lines, *say.cautions()])
    lines += [*_day_milk(found, words), "", *_table(found, words), "", *_lasts(found)]
    if found.goal is not None:
        lines += ["", *_goal(found.goal, words)]
    lines += ["", *_enough(found, words)]
    lines += ["", *wrap(f"Ranges hold four times in five ({found.paths} courses drawn).")]
    return "\n".join([*lines, *say.cautions()])


def _day_milk(found: OutlookNow, words: Words) -> list[str]:
    lines = ["", *wrap(f"{_names(found)}: a whole day's milk now")]
    for route in found.routes:
        lines += wrap(f"{ROUTES.get(route.code, route.code)}: {words.between(route.ml)}", "  ", "    ")
        lines += wrap(route.source, "    ")
    if found.routes_differ:
        lines += wrap("These differ by more than a fifth: the range is wider.", "  ")
    learned = f"Learned from {found.complete_days} complete days and {found.sessions} sessions."
    return [*lines, *wrap(learned, "  ")]


def _names(found: OutlookNow) -> str:
    return ", ".join(plain(name) for name in found.children)


def _table(found: OutlookNow, words: Words) -> list[str]:
    """Each of the first days, then one a week."""
    rows = [one for number, one in enumerate(found.days) if number < 7 or (number + 1) % 7 == 0]
    if found.days[-1] not in rows:
        rows.append(found.days[-1])
    unit = words.ml(0).split(" ", 1)[1]
    head = f"{'day':<12}{f'stock at its end, {unit}':>24}{'needed':>20}{'expressed':>20}"
    return [head, *(_row(one, words) for one in rows)]


def _row(one: OutlookDay, words: Words) -> str:
    def cell(band: Band) -> str:
        low, likely, high = (words.ml(value).split(" ", 1)[0] for value in band)
        return f"{likely} ({low}-{high})"

    return f"{one.day:<12}{cell(one.stock):>24}{cell(one.need):>20}{cell(one.supply):>20}"


def _lasts(found: OutlookNow) -> list[str]:
    lasts = found.lasts
    if lasts.early is None:
        lines = wrap(f"It lasts past these days in at least nine courses of ten ({lasts.never:.0%}).")
    else:
        likely = lasts.likely or "after these days"
        late = lasts.late or "after these days"
        text = f"The first day on which it falls short: likely {likely}, as early as {lasts.early}, as late as {late}"
        lines = wrap(f"{text}; not at all in these days with {lasts.never:.0%}.")
    empty, _, later = lasts.freezer
    if empty is not None and empty > found.days[0].day:
        text = f"The freezer is likely empty at the end of a day from {empty} to {later or 'after these days'}"
        lines += wrap(f"{text}; milk that is fresh may still do.")
    chances = ", ".join(f"{day} {chance:.0%}" for day, chance in found.short_chance)
    return [*lines, *wrap(f"Chance of having been short before: {chances}.")] if chances else lines


WHY = {"apart": "days apart", "trip": "a trip", "weaning": "weaning"}


def _goal(goal: GoalSeen, words: Words) -> list[str]:
    lines = wrap(f"The goal ({WHY[goal.why]}, {goal.on} to {goal.until}) takes {words.between(goal.takes)}.")
    lines += wrap(f"By then there will be {words.between(goal.there)}: enough with a chance of {goal.chance:.0%}.")
    if goal.extra_ml.high >= 1:
        low, high = words.ml(goal.extra_ml.low).split(" ", 1)[0], words.ml(goal.extra_ml.high)
        lines += wrap(f"What is missing comes to {low} to {high} a day until then.")
    if goal.beyond:
        lines += wrap(
            "Likely more is missing than more sessions have ever brought. Nobody has to reach it alone: plan for other "
            "milk or formula as well, as settled with whoever advises you."
        )
    return lines


def _enough(found: OutlookNow, words: Words) -> list[str]:
    enough = found.enough
    past = f"Past {words.ml(enough.ml)} in the freezer, more would have no use before its date."
    lines = wrap("All that you freeze now likely has a use before its date." if enough.all_used else past)
    if enough.reached:
        lines += wrap(f"You have that: it is enough. {KIND}")
    elif enough.on is not None:
        lines += wrap(f"That will likely be there by {enough.on}. {KIND}")
    if enough.unused_ml.high >= 1:
        low, high = words.ml(enough.unused_ml.low).split(" ", 1)[0], words.ml(enough.unused_ml.high)
        lines += wrap(f"Of what is frozen now, {low} to {high} will likely end unused.")
    return lines


def as_object(found: OutlookNow, words: Words) -> dict[str, Any]:
    """The outlook as one JSON object; amounts mL, days ISO dates, chances from 0 to 1."""
    return {
        "now": words.iso(found.now), "zone": found.zone, "guideline": found.guideline,
        "children": list(found.children), "paths": found.paths,
        "days": [
            {"day": one.day, "stock": _band(one.stock), "need": _band(one.need), "supply": _band(one.supply)}
            for one in found.days
        ],
        "routes": [{"code": one.code, "ml": _band(one.ml), "source": one.source} for one in found.routes],
        "routes_differ": found.routes_differ, "complete_days": found.complete_days, "sessions": found.sessions,
        "lasts": found.lasts._asdict(),
        "short_chance": [{"before": day, "chance": round(chance, 4)} for day, chance in found.short_chance],
        "goal": None if found.goal is None else {
            **found.goal._asdict(), "takes": _band(found.goal.takes), "there": _band(found.goal.there),
            "extra_ml": _band(found.goal.extra_ml),
        },
        "enough": {**found.enough._asdict(), "unused_ml": _band(found.enough.unused_ml)},
        "what_if": found.what_if._asdict(), "none": [say.none_object(one, words) for one in found.none],
    }  # fmt: skip


def _band(band: Band) -> dict[str, float]:
    return {name: round(value, 1) for name, value in band._asdict().items()}
