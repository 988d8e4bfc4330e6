"""Sizes to pour, pack and freeze in for each place, from the family's own feeds and the place's rule on leftovers."""

from __future__ import annotations

from thawline.core.times import DAY
from thawline.engines.forecast import portions as sizes
from thawline.engines.planner.kinds import Reason
from thawline.services import feeding_past as past_of
from thawline.services.habits import Habits
from thawline.services.habits_faults import HOME
from thawline.services.plan_figures import figure
from thawline.services.plan_kinds import Portions
from thawline.services.plan_lots import rules_of, terms_at
from thawline.services.plan_needs import Wanted
from thawline.services.plan_rhythm import bottles
from thawline.services.plan_seen import Kid, Seen
from thawline.services.terms import Terms


def portions(seen: Seen, habits: Habits, need: Wanted, allowed: Terms) -> tuple[Portions, ...]:
    """For home and each place apart: sizes for the child that drinks most often there."""
    rules = rules_of(habits)
    none = {one.child for one in need.none if one.code != "nothing_by_bottle"}
    kids = {kid.name: kid for kid in seen.kids if kid.name not in none}
    if not kids:
        return ()
    places = [HOME, *dict.fromkeys(one.where for one in habits.apart)]
    found = []
    for where in places:
        look = terms_at(seen, habits, rules[where]) if where in rules else allowed
        child = next((one.child for one in habits.apart if one.where == where and one.child in kids), None)
        kid = kids[child] if child is not None else _most(seen, list(kids.values()))
        if where == HOME or child is not None:
            found.append(_of_place(seen, habits, need, look, where, kid))
    return tuple(found)


def _most(seen: Seen, kids: list[Kid]) -> Kid:
    return max(kids, key=lambda kid: len(bottles(seen.past, kid.name)))


def _of_place(seen: Seen, habits: Habits, need: Wanted, look: Terms, where: str, kid: Kid) -> Portions:
    leftover = look.leftover_h or 0.0
    advice = _advice(seen, kid, leftover, where)
    bottles_ml, spare = advice.bottles, advice.spare_ml
    first = next((n for n in need.needs if need.about[n.name][1] == where and n.leave_h is not None), None)
    if first is not None:
        packed = sizes.pack(first.mean_ml, first.sd_ml, advice)
        bottles_ml, spare = packed.bottles, packed.spare_ml
    return Portions(
        where, habits.pour_ml or advice.pour_ml, advice.step_ml, bottles_ml, spare,
        habits.freeze_ml or advice.freeze_ml, leftover, advice.left_ml,
        tuple(Reason(code, args) for code, args in advice.reasons),
    )  # fmt: skip


def freeze_ml(seen: Seen, habits: Habits, allowed: Terms) -> float:
    """The size to freeze in, in mL: the family's own choice, else the advice for home."""
    return habits.freeze_ml or _at_home(seen, allowed).freeze_ml


def left_share(seen: Seen, habits: Habits, allowed: Terms) -> float:
    """The part of what is poured that is thrown away with the feeds, as the advice for home expects it."""
    advice = _at_home(seen, allowed)
    return advice.left_ml / (advice.left_ml + advice.feed.mean_ml)


def _at_home(seen: Seen, allowed: Terms) -> sizes.Advice:
    kids = [kid for kid in seen.kids if kid.care == "home"] or list(seen.kids)
    kid = _most(seen, kids)
    return _advice(seen, kid, allowed.leftover_h or 0.0, HOME)


def _advice(seen: Seen, kid: Kid, leftover_h: float, where: str) -> sizes.Advice:
    since = seen.now - int(figure("past", "portion_days") * DAY)
    feeds = past_of.feeds_of(seen.past, kid.name, seen.zone, since)
    age = max(0.0, past_of.age_d(kid.born, seen.now, seen.zone))
    return sizes.advise(feeds, age_d=age, leftover_h=leftover_h, where=where)
