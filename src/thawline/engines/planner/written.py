"""A choice written out as a plan: feeds with their milk, chores, what is short, what is thrown away."""

from __future__ import annotations

from . import why
from .case import TINY_ML, Case, Choice
from .chores import Rest, chores, rests
from .demand import planned_ml
from .kinds import Part, Plan, Serving, Short, Stage


def plan(case: Case, choice: Choice, stage: Stage) -> Plan:
    """The plan of a choice; nothing is proven yet."""
    rest = rests(case, choice)
    todo = tuple(chores(case, choice, rest))
    names = case.problem.lots
    thrown = tuple((names[number].name, ml) for number, ml in sorted(rest.thrown.items()))
    return Plan(
        servings=_servings(case, choice, rest),
        chores=todo,
        short=_short(case, choice, rest),
        thrown=thrown,
        planned_ml={need.name: planned_ml(need) for need in case.problem.needs},
        better_ml=sum(ml for _, ml in thrown),
        proven=False,
        stage=stage,
        opened=len(choice.opened),
        night_chores=sum(chore.night for chore in todo),
    )


def _servings(case: Case, choice: Choice, rest: Rest) -> tuple[Serving, ...]:
    frozen = set(rest.slots) - {lot for lot, _ in choice.parts}
    order = {cold.lot: number for number, cold in enumerate(why.first_by_age(case))}
    parts: list[list[tuple[int, int, float]]] = [[] for _ in case.wants]
    for (lot, i), ml in choice.parts.items():
        if ml > TINY_ML:
            parts[i].append((order.get(lot, -1), lot, ml))
    found = []
    for i, want in enumerate(case.wants):
        gives = tuple(
            Part(case.problem.lots[lot].name, ml, why.part(case, choice, lot, i, frozen))
            for _, lot, ml in sorted(parts[i])
        )
        found.append(Serving(want.at_h, want.need, want.ml, gives))
    return tuple(found)


def _short(case: Case, choice: Choice, rest: Rest) -> tuple[Short, ...]:
    """What each need lacks, in the order of the first feed that is short."""
    fed = [0.0] * len(case.wants)
    for (_, i), ml in choice.parts.items():
        fed[i] += ml
    missing: dict[str, dict[int, float]] = {}
    for i, want in enumerate(case.wants):
        if want.ml - fed[i] > 1e-4:
            missing.setdefault(want.need, {})[i] = want.ml - fed[i]
    return tuple(
        Short(
            need,
            case.wants[min(by_feed)].at_h,
            sum(by_feed.values()),
            why.mends(case, choice, need, by_feed, rest.slots),
        )
        for need, by_feed in missing.items()
    )
