"""A plan carried out on paper: its moves, thaws and feeds go through the core before anybody sees it."""

from __future__ import annotations

from typing import Any

from thawline.core.times import HOUR, MINUTE, SECOND, written, zone_named
from thawline.engines.planner.kinds import Chore, Plan, Problem
from thawline.services.known import fold_kins, judged
from thawline.services.plan_seen import Seen
from thawline.services.recording import line_of
from thawline.services.terms import Terms

_MOVES = ("chill", "freeze", "thaw")
_PLANNED = "planned"


def breached(seen: Seen, plan: Plan, problem: Problem, allowed: Terms) -> set[str]:
    """The containers whose planned use would break a rule that they do not break today; empty where all is well."""
    lots = {lot.name: lot for lot in problem.lots}
    names = _used(plan, {name for name, lot in lots.items() if not lot.coming})
    if not names:
        return set()
    rows, made = _events(seen, plan, problem, allowed, names)
    if not rows:
        return set()
    events = [line_of(row) for _, row in sorted(rows, key=lambda row: (row[0], row[1]["id"]))]
    end = max(at for at, _ in rows) + MINUTE
    before = {one.container: set(one.breaches) for one in seen.verdicts}
    parts, _ = fold_kins(seen.base, {0: [*seen.lines_of(sorted(names)), *events]}, end)
    ids = {row["id"] for _, row in rows}
    found = {made[refusal.event] for refusal in parts[0].refused if refusal.event in ids}
    for one in judged(seen.base, parts[0], end, options=False, gone=True):
        owner = made.get(one.container, one.container)
        if owner in names and set(one.breaches) - before.get(owner, set()):
            found.add(owner)
    return found & names


def _used(plan: Plan, real: set[str]) -> set[str]:
    fed = {part.lot for serving in plan.servings for part in serving.parts}
    moved = {chore.lot for chore in plan.chores if chore.does in _MOVES}
    return (fed | moved) & real


def _events(
    seen: Seen, plan: Plan, problem: Problem, allowed: Terms, names: set[str]
) -> tuple[list[tuple[int, dict[str, Any]]], dict[str, str]]:
    """The events that the plan implies with their instants, and whose milk each event or new container is."""
    zone = zone_named(seen.base.settings.zone)
    needs = {need.name: need for need in problem.needs}
    rows: list[tuple[int, dict[str, Any]]] = []
    made: dict[str, str] = {}

    def add(at_h: float, lot: str, kind: str, **fields: object) -> None:
        at = seen.now + round(at_h * HOUR)
        at += -at % SECOND
        name = f"{_PLANNED}.{len(rows):05d}"
        made[name] = lot
        rows.append((at, {"id": name, "kind": kind, "at": written(at, zone), **fields}))

    for chore in plan.chores:
        if chore.lot in names and chore.does in _MOVES and (to := _to(chore, allowed)) is not None:
            add(chore.at_h, chore.lot, "moved", container=chore.lot, to=to)
    thawed = {chore.lot for chore in plan.chores if chore.does == "thaw"}
    frozen = {lot.name for lot in problem.lots if lot.form == "frozen"}
    given: dict[str, float] = {}
    held = {lot.name: lot.ml for lot in problem.lots}
    for serving in sorted(plan.servings, key=lambda serving: serving.at_h):
        child = needs[serving.need].child
        for part in serving.parts:
            if part.lot not in names or part.ml <= 0:
                continue
            if part.lot in frozen and part.lot not in thawed:
                add(serving.at_h, part.lot, "warmed", container=part.lot, how="warm_water")
            cup = f"{_PLANNED}.cup.{len(rows):05d}"
            made[cup] = part.lot
            given[part.lot] = given.get(part.lot, 0.0) + part.ml
            ml = min(part.ml, held[part.lot])
            add(serving.at_h, part.lot, "poured", **{"from": [{"container": part.lot, "ml": ml}], "into": cup})
            add(serving.at_h, part.lot, "feed_began", container=cup, child=child)
            add(serving.at_h, part.lot, "feed_ended", container=cup, left_ml=0)
    return rows, made


def _to(chore: Chore, allowed: Terms) -> str | None:
    return allowed.freezer if chore.does == "freeze" else allowed.fridge
