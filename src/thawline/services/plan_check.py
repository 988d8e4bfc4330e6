"""A plan carried out on paper: its moves, thaws and feeds go through the core before anybody sees it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thawline.core.fold import Fold
from thawline.core.times import HOUR, MINUTE, SECOND, written
from thawline.engines.planner.kinds import Chore, Plan, Problem, Serving
from thawline.services.known import fold_kins, judged
from thawline.services.plan_lots import Stock
from thawline.services.plan_seen import Seen
from thawline.services.recording import line_of
from thawline.services.terms import under

_MOVES = ("chill", "freeze", "thaw")
_PLANNED = "planned"
_HAIR_ML = 0.1


def breached(
    seen: Seen, plan: Plan, problem: Problem, there: Stock, about: Mapping[str, tuple[str, str, object]],
    rules: Mapping[str, str],
) -> set[str]:  # fmt: skip
    """The containers whose planned use would break a rule that they do not break today; empty where all is well.

    `about` tells where each need is fed (second), `rules` the overlay in force there: it counts for what is fed there.
    """
    lots = {lot.name: lot for lot in problem.lots}
    names = _used(plan, {name for name, lot in lots.items() if not lot.coming})
    if not names:
        return set()
    script = _script(seen, plan, problem, there, names)
    rows, made = script.rows, script.made
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
        # Fed when no guideline gave it a time any more is no breach, and no plan either.
        late = one.container in script.fed and (one.use_by is None or one.use_by < script.at[one.container])
        if owner in names and (late or set(one.breaches) - before.get(owner, set())):
            found.add(owner)
    for where, rule in rules.items():
        cups = {cup for cup, need in script.fed.items() if about[need][1] == where}
        found |= _breached_there(seen, parts[0], rule, end, {cup: made[cup] for cup in cups})
    return found & names


def _breached_there(seen: Seen, part: Fold, rule: str, end: int, cups: Mapping[str, str]) -> set[str]:
    """Whose milk would break the rule of the place where these cups are drunk."""
    base = under(seen.base, [rule])
    if not cups or base is seen.base:
        return set()
    rows = judged(base, part, end, options=False, gone=True)
    return {cups[one.container] for one in rows if one.container in cups and one.breaches}


def _used(plan: Plan, real: set[str]) -> set[str]:
    fed = {part.lot for serving in plan.servings for part in serving.parts}
    moved = {chore.lot for chore in plan.chores if chore.does in _MOVES}
    return (fed | moved) & real


class _Script:
    """The events that a plan implies with their instants, and whose milk each event or new container is."""

    def __init__(self, seen: Seen, problem: Problem, names: set[str]) -> None:
        self.now, self.zone, self.names = seen.now, seen.zone, names
        self.held = {lot.name: lot.ml for lot in problem.lots}
        self.child = {need.name: need.child for need in problem.needs}
        self.rows: list[tuple[int, dict[str, Any]]] = []
        self.made: dict[str, str] = {}
        self.fed: dict[str, str] = {}
        self.at: dict[str, int] = {}

    def add(self, at_h: float, lot: str, kind: str, fields: dict[str, Any], *, after: int = 0) -> None:
        """Write one event down."""
        # Of one moment the core takes pouring before warming: what follows comes a second later.
        at = self.now + round(at_h * HOUR) + after * SECOND
        at += -at % SECOND
        name = f"{_PLANNED}.{len(self.rows):05d}"
        self.made[name] = lot
        self.rows.append((at, {"id": name, "kind": kind, "at": written(at, self.zone), **fields}))

    def pour(self, at_h: float, lot: str, ml: float, *, after: int = 0) -> str:
        """Some of a container's milk into a new one; its name."""
        cup = f"{_PLANNED}.cup.{len(self.rows):05d}"
        self.made[cup] = lot
        self.add(at_h, lot, "poured", {"from": [{"container": lot, "ml": ml}], "into": cup}, after=after)
        return cup

    def chore(self, chore: Chore, to: str | None) -> None:
        """Move it, warm it, or pour off and freeze what is over."""
        if quick(chore):
            self.add(chore.at_h, chore.lot, "warmed", {"container": chore.lot, "how": "warm_water"})
        elif to is not None:
            part = chore.does == "freeze" and chore.ml < self.held[chore.lot] - _HAIR_ML
            name = self.pour(chore.at_h, chore.lot, chore.ml) if part else chore.lot
            self.add(chore.at_h, chore.lot, "moved", {"container": name, "to": to}, after=int(part))

    def serving(self, serving: Serving) -> None:
        """Each part of it is poured into a cup and drunk."""
        for part in serving.parts:
            if part.lot in self.names and part.ml > 0:
                cup = self.pour(serving.at_h, part.lot, min(part.ml, self.held[part.lot]), after=1)
                self.fed[cup], self.at[cup] = serving.need, self.now + round(serving.at_h * HOUR)
                fed = {"container": cup, "child": self.child[serving.need]}
                self.add(serving.at_h, part.lot, "feed_began", fed, after=2)
                self.add(serving.at_h, part.lot, "feed_ended", {"container": cup, "left_ml": 0}, after=3)


def _script(seen: Seen, plan: Plan, problem: Problem, there: Stock, names: set[str]) -> _Script:
    script = _Script(seen, problem, names)
    for chore in plan.chores:
        if chore.lot in names and chore.does in _MOVES:
            script.chore(chore, goes_to(there, chore))
    for serving in sorted(plan.servings, key=lambda serving: serving.at_h):
        script.serving(serving)
    return script


def quick(chore: Chore) -> bool:
    """Whether it is thawed in warm water, right before the one feed that it is for."""
    return chore.does == "thaw" and bool(chore.need)


def goes_to(there: Stock, chore: Chore) -> str | None:
    """The place that a container goes to with a chore; None in water, or where there is none."""
    option = there.options.get(chore.lot, {}).get({"chill": "refrigerate"}.get(chore.does, chore.does))
    return None if option is None or quick(chore) else option.place
