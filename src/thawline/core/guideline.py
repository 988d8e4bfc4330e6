"""Guidelines as data: read, check, and find the row that counts."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from .house import House, celsius
from .times import Span, span_of

ROLES = ("home", "childcare", "care_team", "house")
SITUATIONS = (
    "fresh_room", "fresh_cooler", "fresh_refrigerator", "freezer_compartment", "freezer", "deep_freezer",
    "thawed_cold", "thawed_room", "thawed_warm_water", "brought_to_room", "warmed", "leftover",
)  # fmt: skip
STARTS = (
    "expressed", "entered_place", "first_frozen", "left_freezer", "thawed", "left_cold",
    "warmed", "feed_began", "feed_ended", "received",
)  # fmt: skip
ACTS = (
    "refreeze", "refreeze_partial", "freeze_warmed", "freeze_leftover", "microwave", "stovetop", "warm_onto_cold",
    "warm_onto_frozen", "onto_stored", "leftover_into_unfed", "fresh_onto_leftover", "two_mothers", "combine_past",
    "other_child", "rewarm", "warmed_to_cold",
)  # fmt: skip
KINDS = ("room", "cooler", "refrigerator", "freezer_compartment", "freezer", "deep_freezer")
MARKS = ("seen", "second-hand", "memory", "ours")
ADDED = ("fortifier", "formula", "other")
_CHOICES = {"runs": ("stay", "on"), "grade": ("use", "best"), "starts": STARTS, "mark": MARKS}
_FOLDER = os.path.join(os.path.dirname(__file__), "guidelines")  # noqa: PTH118, PTH120  (pathlib costs start-up)
# A published 0 F or 40 F is a rounded line; this keeps 4.44 and -17.78 on its inner side.
ROUNDING_C = 0.005
COLDEST_C, WARMEST_C = -60, 110


class GuidelineError(ValueError):
    """A guideline file that cannot be used; its text names the row, the field and the mend."""


class Row(NamedTuple):
    """One published limit."""

    id: str
    guideline: str
    situations: tuple[str, ...]
    starts: str
    stay: bool
    allows: Span
    best: bool
    mark: str
    says: str
    source: str
    kinds: tuple[str, ...]
    band: Mapping[str, float]
    above: Mapping[str, float]
    known: bool
    very_clean: bool
    milk: tuple[str, ...]
    added: tuple[str, ...]
    weight: int

    def fits(self, kind: str, temp: float | None, milk: Milk) -> bool:
        """Whether the row holds in a place of that kind at that temperature, for that milk."""
        if self.kinds and kind not in self.kinds:
            return False
        if self.very_clean and not milk.very_clean:
            return False
        if milk.source not in self.milk or not set(milk.added) <= set(self.added):
            return False
        if self.added and not milk.added:
            return False
        return self._temperature_fits(kind, temp)

    def _temperature_fits(self, kind: str, temp: float | None) -> bool:
        if temp is None:
            return not self.known
        if kind in self.band and temp > self.band[kind] + ROUNDING_C:
            return False
        return not (kind in self.above and temp <= self.above[kind] + ROUNDING_C)


class Milk(NamedTuple):
    """What of the milk itself a row may ask for."""

    very_clean: bool = False
    source: str = "own"
    added: tuple[str, ...] = ()


class Ban(NamedTuple):
    """Something a guideline does not allow."""

    id: str
    act: str
    mark: str
    says: str
    source: str


class Advice(NamedTuple):
    """Good practice that is no limit."""

    id: str
    says: str
    mark: str
    source: str


class Guideline(NamedTuple):
    """One guideline, checked."""

    id: str
    name: str
    role: str
    about: str
    source: str
    rows: Mapping[str, tuple[Row, ...]]
    bans: Mapping[str, Ban]
    advice: tuple[Advice, ...]


def _need(table: Mapping[str, Any], key: str, where: str, choices: tuple[str, ...] = ()) -> str:
    value = table.get(key)
    if not isinstance(value, str) or not value.strip():
        raise GuidelineError(f'{where}: {key} is missing: write {key} = "..."')
    if choices and value not in choices:
        raise GuidelineError(f"{where}: {key} is {value[:40]!r}: choose one of {', '.join(choices)}")
    return value


def _listed(value: object, where: str, key: str, choices: tuple[str, ...]) -> tuple[str, ...]:
    if not isinstance(value, list) or not value or not all(isinstance(item, str) for item in value):
        raise GuidelineError(f'{where}: {key} must be a list of words, such as ["{choices[0]}"]')
    for item in value:
        if item not in choices:
            raise GuidelineError(f"{where}: {key} has {item[:40]!r}: choose from {', '.join(choices)}")
    return tuple(value)


def _temperatures(value: object, where: str, key: str) -> dict[str, float]:
    if not isinstance(value, dict):
        raise GuidelineError(f'{where}: {key} must name a place kind, such as {{ refrigerator = "4 C" }}')
    found = {}
    for kind, text in value.items():
        if kind not in KINDS:
            raise GuidelineError(f"{where}: {key} names {kind[:40]!r}: choose from {', '.join(KINDS)}")
        try:
            found[kind] = celsius(text)
            if not COLDEST_C <= found[kind] <= WARMEST_C:
                raise ValueError
        except (ValueError, AttributeError, TypeError) as fault:
            raise GuidelineError(f'{where}: {key}.{kind} is {text!r}: write "4 C" or "40 F"') from fault
    return found


def _cite(data: Mapping[str, Any], table: Mapping[str, Any]) -> str:
    parts = [table.get(key, data.get(key, "")) for key in ("publisher", "title", "edition")]
    return ", ".join(str(part) for part in (*parts, table.get("place", "")) if part)


def _only(table: Mapping[str, Any], allowed: tuple[str, ...], where: str) -> None:
    for key in table:
        if key not in allowed:
            raise GuidelineError(f"{where}: {key!r} is not a field: mend its name or take it out")


_WHEN = ("kind", "band", "above", "known", "handling", "milk", "added")
_CITE = ("publisher", "title", "edition", "place")


def _row(data: Mapping[str, Any], table: Mapping[str, Any], number: int) -> Row:
    where = f"limit {table.get('id') or number}"
    name = _need(table, "id", where)
    if not name.startswith(data["id"] + "."):
        raise GuidelineError(f"{where}: id must begin with {data['id']}.")
    _only(table, ("id", "situation", "allows", "says", "when", *_CHOICES, *_CITE), where)
    situations = _listed(table.get("situation"), where, "situation", SITUATIONS)
    picked = {key: _need(table, key, where, choices) for key, choices in _CHOICES.items()}
    when = table.get("when", {})
    if not isinstance(when, dict):
        raise GuidelineError(f"{where}: when must be a table: write [limit.when]")
    _only(when, _WHEN, where + ", when")
    try:
        allows = span_of(_need(table, "allows", where))
    except ValueError as fault:
        raise GuidelineError(f"{where}: allows: {fault}") from fault
    kinds = _listed(when["kind"], where, "kind", KINDS) if "kind" in when else ()
    milk = _listed(when["milk"], where, "milk", ("own", "donor")) if "milk" in when else ("own",)
    added = _listed(when["added"], where, "added", ADDED) if "added" in when else ()
    known = when.get("known", False)
    if not isinstance(known, bool) or when.get("handling", "very_clean") != "very_clean":
        raise GuidelineError(f'{where}: when: known is true or false, handling is "very_clean"')
    weight = sum([known, "handling" in when, "kind" in when, "milk" in when, "added" in when])
    return Row(
        name, data["id"], situations, picked["starts"], picked["runs"] == "stay", allows,
        picked["grade"] == "best", picked["mark"], _need(table, "says", where), _cite(data, table), kinds,
        _temperatures(when.get("band", {}), where, "band"), _temperatures(when.get("above", {}), where, "above"),
        known, "handling" in when, milk, added, weight,
    )  # fmt: skip


def _tables(data: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    tables = data.get(key, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise GuidelineError(f"{key}: write each as [[{key}]]")
    return tables


def _bans(data: Mapping[str, Any]) -> dict[str, Ban]:
    bans = {}
    for number, table in enumerate(_tables(data, "ban"), 1):
        where = f"ban {table.get('act') or number}"
        act = _need(table, "act", where, ACTS)
        _only(table, ("act", "says", "mark", *_CITE), where)
        mark = _need(table, "mark", where, MARKS)
        if act in bans:
            raise GuidelineError(f"{where}: the act stands twice: keep one")
        bans[act] = Ban(f"{data['id']}.{act}", act, mark, _need(table, "says", where), _cite(data, table))
    return bans


def _advice(data: Mapping[str, Any]) -> tuple[Advice, ...]:
    advice: dict[str, Advice] = {}
    for number, table in enumerate(_tables(data, "advice"), 1):
        where = f"advice {table.get('id') or number}"
        _only(table, ("id", "says", "mark", *_CITE), where)
        texts = _need(table, "id", where), _need(table, "says", where), _need(table, "mark", where, MARKS)
        if texts[0] in advice:
            raise GuidelineError(f"{where}: the id stands twice: give each its own")
        advice[texts[0]] = Advice(*texts, _cite(data, table))
    return tuple(advice.values())


def check(data: Mapping[str, Any]) -> Guideline:
    """A guideline from its parsed file; raises `GuidelineError` naming row, field and mend."""
    if data.get("role") != "house":
        _only(data, ("id", "name", "role", "about", "limit", "ban", "advice", *_CITE), "the file")
    for key in ("id", "name", "role", "publisher", "title", "edition", "about"):
        _need(data, key, "the file", ROLES if key == "role" else ())
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", data["id"]):
        raise GuidelineError("the file: id may hold lower-case letters, digits and single hyphens")
    rows: dict[str, list[Row]] = {}
    seen = set()
    for number, table in enumerate(_tables(data, "limit"), 1):
        row = _row(data, table, number)
        if row.id in seen:
            raise GuidelineError(f"limit {row.id}: the id stands twice: give each row its own")
        seen.add(row.id)
        for situation in row.situations:
            rows.setdefault(situation, []).append(row)
    if not rows and data["role"] != "house":
        raise GuidelineError("the file: it has no limit: write at least one [[limit]]")
    return Guideline(
        data["id"], data["name"], data["role"], data["about"], _cite(data, {}),
        {key: tuple(found) for key, found in rows.items()}, _bans(data), _advice(data),
    )  # fmt: skip


def parse(text: str) -> Guideline:
    """A guideline from the text of its file; raises `GuidelineError`."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as fault:
        raise GuidelineError(f"not TOML: {fault}") from fault
    _need(data, "role", "the file", ROLES[:3])
    return check(data)


@cache
def _data(name: str) -> Mapping[str, Any]:
    with open(os.path.join(_FOLDER, f"{name}.toml"), "rb") as file:  # noqa: PTH118, PTH123  (pathlib costs start-up)
        return tomllib.load(file)


@cache
def shipped(name: str) -> Guideline:
    """A guideline that comes with the program; raises `GuidelineError` where there is none of that id."""
    if name not in shipped_ids():
        known = ", ".join(shipped_ids())
        raise GuidelineError(f"no guideline {name[:40]!r}: choose one of {known}, or give a file")
    return check(_data(name))


@cache
def shipped_ids() -> tuple[str, ...]:
    """The ids of all guidelines that come with the program, the default at the head."""
    names = os.listdir(_FOLDER)  # noqa: PTH208  (pathlib costs start-up)
    found = {name.removesuffix(".toml") for name in names if name.endswith(".toml")}
    first = default_id()
    return (first, *sorted(found - {first, "house"}))


def default_id() -> str:
    """The guideline in force where none is named, and the first to stand in for one that is silent."""
    return str(_data("house")["default"])


@cache
def house() -> tuple[House, Mapping[str, Ban]]:
    """The house rules and the bans that hold under every guideline."""
    data = _data("house")
    return House(data), check(data).bans
