"""What a guideline, or a childcare service's rule, asks of a label."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from thawline.core.figures import load
from thawline.core.guideline import shipped, shipped_ids


class Asked(NamedTuple):
    """What a rule in force wants on a label: its codes, in words, its mark and its source."""

    rule: str
    asks: tuple[str, ...]
    says: str
    mark: str
    source: str


def label_rules(ids: Iterable[str]) -> list[Asked]:
    """What these guidelines and rules ask of a label, in their order, each once."""
    ids = list(dict.fromkeys(ids))
    childcare = any(_is_childcare(one) for one in ids)
    table = load(__package__, "labels")
    found = [_asked(one, table["rule"][one], childcare=childcare) for one in ids if one in table["rule"]]
    silent = any(_is_childcare(one) and one not in table["rule"] for one in ids)
    return [*found, _asked("childcare", table["childcare"], childcare=True)] if silent else found


def _is_childcare(one: str) -> bool:
    return one in shipped_ids() and shipped(one).role == "childcare"


def _asked(rule: str, row: Mapping[str, Any], *, childcare: bool) -> Asked:
    asks = (*row["asks"], *(row.get("childcare", ()) if childcare else ()))
    return Asked(rule, asks, row["says"], row["mark"], row["source"])
