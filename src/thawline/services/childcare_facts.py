"""What a service's rule says beyond its clocks: labels, warming, milk left over or not served, with sources."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from thawline.core import figures
from thawline.core.guideline import Guideline, GuidelineError, shipped
from thawline.core.rules import Rules
from thawline.services.label_rules import label_rules

HEADINGS = ("arrival", "check", "thaw", "warm", "never", "leftover", "unused", "also", "mix_up")
_NEVER = ("microwave", "stovetop", "refreeze", "refreeze_partial", "rewarm", "warmed_to_cold")


class Line(NamedTuple):
    """One line of what to do, with its source and mark."""

    says: str
    source: str
    mark: str


class Facts(NamedTuple):
    """What a service's rule wants: `full_name` on the label, without which a bottle is not accepted for feeding.

    `unused` says what becomes of milk that was not served: `return`, `return_or_mark`, `discard` or `ask`.
    """

    rule: str
    full_name: bool
    unused: str
    source: str
    mark: str


def _data() -> dict[str, Any]:
    return figures.load("thawline.services", "childcare")


def facts(rule: str) -> Facts:
    """What is known of a rule; of one that is not in the file, or `""`, that it has to be asked for."""
    found = _data()["rule"].get(rule) or _data()["none"]
    source = str(_data()["sources"][found["source"]])
    full = any("full_name" in asked.asks for asked in label_rules([rule] if chosen(rule) is not None else []))
    return Facts(rule, full, found["unused"], source, found["mark"])


def chosen(rule: str) -> Guideline | None:
    """The rule's own file; None where none was chosen, or it is not there any more."""
    try:
        return shipped(rule) if rule else None
    except GuidelineError:
        return None


def lines(rule: str, rules: Rules) -> dict[str, tuple[Line, ...]]:
    """What to do, by heading: what this rule says first, then the bans of the guidelines in force, what holds anywhere.

    `rules` are those in force together, at home and at the service.
    """
    return {heading: tuple(dict.fromkeys(_under(heading, rule, rules))) for heading in HEADINGS}


def _under(heading: str, rule: str, rules: Rules) -> Iterator[Line]:
    own = list(_of_rule(heading, rule))
    yield from own
    if heading == "unused" and not _data()["rule"].get(rule):
        none = _data()["none"]
        yield Line(none["says"], _data()["sources"][none["source"]], none["mark"])
    if heading == "never":
        yield from _bans(rules)
    if heading == "leftover":
        yield from _leftovers(rules)
    for one in _data()["line"]:
        if one["heading"] == heading and not (own and one.get("else")):
            yield Line(one["says"], _data()["sources"][one["source"]], one["mark"])


def _of_rule(heading: str, rule: str) -> Iterator[Line]:
    found = chosen(rule)
    ids: Sequence[str] = _data()["rule"].get(rule, {}).get("lines", {}).get(heading, ())
    if found is not None:
        yield from (Line(one.says, one.source, one.mark) for one in found.advice if one.id in ids)


def _bans(rules: Rules) -> Iterator[Line]:
    said = set()
    for act in _NEVER:
        for ban in rules.bans(act)[-1:]:
            if ban.says not in said:
                said.add(ban.says)
                yield Line(ban.says, ban.source, ban.mark)


def _leftovers(rules: Rules) -> Iterator[Line]:
    # The service's own rule first: it is the one that its staff go by.
    for guideline in (*rules.all[1:], rules.guideline):
        for row in guideline.rows.get("leftover", ()):
            if not row.best and row.mark != "memory":
                yield Line(row.says, row.source, row.mark)
