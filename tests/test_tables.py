"""The published tables, as rows: what each guideline says about one story of milk.

Every row of `tables/*.csv` is one story, one moment, and what a reader of the source expects there. The
figures are typed in from the sources that `tables/SOURCES.toml` names, never from the program's own output.
Mark `ours` means that no source says it and the project chose the cautious reading.

Columns: case, guideline, also, zone, places, story, now, container, use_by, best_by, standing, breaches,
form, rule, source, place, mark, note. `case` begins with the number of a check case where it has one. An
empty expectation is not checked; `-` means "none", and `*` among breaches "some, whichever". `breaches` are
rule ids, or the acts after their dot, separated by `|`; `standing` may name alternatives in the same way.

A **story** is a list of statements separated by `;`. Each is `TIME VERB WORDS`:

- TIME is `2026-05-06 09:20`, or `09:20` (the day of the statement before), each optionally with seconds or an
  offset (`2026-07-17 10:45-07:00`); `2026-07-03 date` means that only the date is known. Without an offset it
  is local time in `zone`; a time that comes twice is the first of the two.
- `expressed A:120+B:60 room [very_clean] [mother=..] [for=..]`, `stocked A 120 freezer expressed=2026-06-01
  [frozen_on=..] [form=..] [milk=..]`, `moved A fridge`, `poured A:60+B:60 C`, `ice A`, `no_ice A`,
  `warmed A warm_water`, `feed A [child]`, `fed A 30` (30 mL left), `discarded A`, `counted A 100`,
  `added A fortifier`, `handed A childcare [place]`, `received A fridge`, `returned A fridge`,
  `held A medicine`, `released A`, `measured fridge 7.8` (a place) or `measured A 38F` (a container),
  `power_lost freezer [full]`, `power_back freezer`, `child mia hospital`.

**places** changes the places of a row from `DEFAULT_PLACES`: `room=78F fridge=? freezer=-17.8`; `?` is
unknown, a number without a unit is in degrees Celsius. A place that a story does not mention is not in its
ledger.
"""

from __future__ import annotations

import csv
import json
import re
import tomllib
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
import pytest

HERE = Path(__file__).parent
TABLES = HERE / "tables"
FILES = HERE.parent / "src" / "thawline" / "core" / "guidelines"

COLUMNS = [
    *("case", "guideline", "also", "zone", "places", "story", "now", "container"),
    *("use_by", "best_by", "standing", "breaches", "form", "rule", "source", "place", "mark", "note"),
]
KINDS = {
    "room": "room",
    "nursery": "room",
    "cooler": "cooler",
    "cooler2": "cooler",
    "fridge": "refrigerator",
    "ice_box": "freezer_compartment",
    "freezer": "freezer",
    "deep": "deep_freezer",
}
DEFAULT_PLACES = "room=22 nursery=22 cooler=? cooler2=? fridge=3.5 ice_box=? freezer=-18 deep=-20"
MARKS = {"seen", "second-hand", "ours", "common practice, no source"}
STANDINGS = {"gone", "breached", "past", "outside", "held", "soon", "fine"}
FORMS = {"fresh", "frozen", "thawing", "thawed"}
DEFAULT_CHILD = "mia"

# Limits that never stand alone in front: every home guideline has the same figure, or a shorter one, for the
# same milk. That they are not longer cannot be seen from outside; that they are not shorter can.
TIED = {"us-wa.thawed_cold", "au-tas.thawed_cold", "au-tas.thawed_warm_water"}

TIME = re.compile(
    r"(?:(?P<day>\d{4}-\d\d-\d\d) )?"
    r"(?:(?P<clock>\d\d:\d\d(?::\d\d)?)(?P<offset>[+-]\d\d:\d\d|Z)?|(?P<bare>date))"
)


@dataclass(frozen=True)
class Row:
    """One line of a table."""

    table: str
    case: str
    guideline: str
    also: list[str]
    zone: str
    places: str
    story: str
    now: str
    container: str
    use_by: str
    best_by: str
    standing: str
    breaches: str
    form: str
    rule: str
    source: str
    place: str
    mark: str
    note: str


# ---- reading ---------------------------------------------------------------------------------------------


def instant(text: str, zone: str) -> datetime:
    """`2026-05-06 13:20`, in the row's zone unless an offset is written."""
    found = TIME.fullmatch(text)
    if not found or not found["day"] or not found["clock"]:
        raise ValueError(f"not an instant: {text!r}")
    if found["offset"]:
        return datetime.fromisoformat(f"{found['day']}T{found['clock']}{found['offset']}")
    return datetime.fromisoformat(f"{found['day']}T{found['clock']}").replace(tzinfo=ZoneInfo(zone), fold=0)


def celsius(text: str) -> float | None:
    """`3.5`, `3.5C`, `40F`, or `?` where it is not known."""
    if text == "?":
        return None
    if text.endswith("F"):
        return (float(text[:-1]) - 32) / 1.8
    return float(text.removesuffix("C"))


def temperatures(words: str) -> dict[str, float | None]:
    pairs = dict(word.split("=", 1) for word in f"{DEFAULT_PLACES} {words}".split())
    if unknown := pairs.keys() - KINDS.keys():
        raise ValueError(f"unknown places: {sorted(unknown)}")
    return {name: celsius(value) for name, value in pairs.items()}


def portions(text: str) -> list[dict[str, object]]:
    return [{"container": name, "ml": float(ml)} for name, ml in (part.split(":") for part in text.split("+"))]


# What may follow each verb: its words by field, `?` for one that may be missing.
SHAPES: dict[str, tuple[dict[str, Any], str]] = {
    "expressed": ({"kind": "expressed"}, "into place handling?"),
    "stocked": ({"kind": "stocked"}, "container ml place"),
    "moved": ({"kind": "moved"}, "container to"),
    "poured": ({"kind": "poured"}, "from into_one"),
    "ice": ({"kind": "thaw_seen", "ice": True}, "container"),
    "no_ice": ({"kind": "thaw_seen", "ice": False}, "container"),
    "warmed": ({"kind": "warmed"}, "container how"),
    "feed": ({"kind": "feed_began", "child": DEFAULT_CHILD}, "container child?"),
    "fed": ({"kind": "feed_ended"}, "container left_ml"),
    "discarded": ({"kind": "discarded"}, "container"),
    "counted": ({"kind": "counted"}, "container ml"),
    "added": ({"kind": "added"}, "container what"),
    "handed": ({"kind": "handed_over"}, "container to place?"),
    "received": ({"kind": "received"}, "container place"),
    "returned": ({"kind": "returned"}, "container place"),
    "held": ({"kind": "held"}, "container why"),
    "released": ({"kind": "released"}, "container why?"),
    "measured": ({"kind": "measured"}, "thing temp_c"),
    "power_lost": ({"kind": "power_lost"}, "place fill?"),
    "power_back": ({"kind": "power_back"}, "place fill?"),
    "child": ({"kind": "child", "born": "2026-01-02"}, "child care"),
}


def field(name: str, word: str) -> tuple[str, object]:
    """One word of a statement as a field of its event."""
    if name in ("into", "from"):
        return name, portions(word)
    if name in ("ml", "left_ml"):
        return name, float(word)
    if name == "temp_c":
        return name, celsius(word)
    if name == "thing":
        return ("place" if word in KINDS else "container"), word
    return name.removesuffix("_one"), word


def statement(verb: str, words: list[str]) -> dict[str, Any]:
    """One statement of a story as an event, without `id` and `at`."""
    fixed, shape = SHAPES[verb]
    names = shape.split()
    plain = [word for word in words if "=" not in word]
    least = sum(not name.endswith("?") for name in names)
    if not least <= len(plain) <= len(names):
        raise ValueError(f"{verb} wants: {shape}; got: {words}")
    fields = (field(name.removesuffix("?"), word) for name, word in zip(names, plain, strict=False))
    named = dict(word.split("=", 1) for word in words if "=" in word)
    return {**fixed, **dict(fields), **named}


def story(text: str, zone: str) -> list[dict[str, Any]]:
    """The events of a story, in its order, with ids e1, e2 ..."""
    events: list[dict[str, Any]] = []
    day = None
    for part in re.split(r";\s*", text):
        found = TIME.match(part)
        if not found or part[found.end() : found.end() + 1] != " ":
            raise ValueError(f"no time in {part!r}")
        day = found["day"] or day
        if not day:
            raise ValueError(f"no day in {part!r}")
        if found["bare"]:
            at = day
        else:
            at = instant(f"{day} {found['clock']}{found['offset'] or ''}", zone).isoformat()
        verb, *words = part[found.end() :].split()
        events.append({"id": f"e{len(events) + 1}", "at": at, **statement(verb, words)})
    return events


def ledger(row: Row) -> list[bytes]:
    """The whole ledger of a row: settings, then the story."""
    told = story(row.story, row.zone)
    start = "2026-01-01T00:00:00Z"
    used = {event.get("place") or event.get("to") for event in told}
    used |= {event["place"] for event in told if event["kind"] == "handed_over" and "place" in event}
    children = {event["child"] for event in told if event["kind"] == "child"}
    settings: list[dict[str, Any]] = [{"id": "h", "at": start, "kind": "household", "zone": row.zone}]
    for name, value in temperatures(row.places).items():
        if name in used:
            usual = {} if value is None else {"temp_c": value}
            settings.append(
                {"id": f"p-{name}", "at": start, "kind": "place", "place": name, "is": KINDS[name], **usual}
            )
    for name in (DEFAULT_CHILD, "ben"):
        mentioned = name == DEFAULT_CHILD or re.search(rf"\b{name}\b", row.story)
        if name not in children and mentioned:
            child = {
                "id": f"c-{name}",
                "at": start,
                "kind": "child",
                "child": name,
                "born": "2026-01-02",
                "care": "home",
            }
            settings.append(child)
    return [json.dumps(event).encode() for event in settings + told]


@cache
def rows() -> tuple[Row, ...]:
    found = []
    for path in sorted(TABLES.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            reader = csv.DictReader(lines, strict=True)
            assert reader.fieldnames == COLUMNS, path.name
            for line in reader:
                assert None not in line and None not in line.values(), (path.name, line)
                fields: dict[str, Any] = {**line, "also": line["also"].split()}
                found.append(Row(table=path.stem, **fields))
    return tuple(found)


@cache
def sources() -> dict[str, dict[str, Any]]:
    return tomllib.loads((TABLES / "SOURCES.toml").read_text(encoding="utf-8"))


@cache
def guideline_files() -> dict[str, dict[str, Any]]:
    return {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FILES.glob("*.toml"))}


@cache
def limits() -> dict[str, dict[str, Any]]:
    return {limit["id"]: limit for data in guideline_files().values() for limit in data.get("limit", [])}


def owner(rule: str) -> str:
    return rule.split(".", 1)[0]


# ---- judging ---------------------------------------------------------------------------------------------


def replay(row: Row, files: dict[str, dict[str, Any]] | None = None) -> dict[str, Any]:
    run = import_module("thawline.core.replay").replay
    more = {} if files is None else {"files": files}
    now = instant(row.now, row.zone).isoformat()
    lines = ledger(row)
    answer: dict[str, Any] = run(lines, now=now, guideline=row.guideline, also=row.also, everything=True, **more)
    return answer


def same_instant(expected: str, found: str | None, zone: str) -> bool:
    if expected in ("", "-") or found is None:
        return expected == "-" and found is None
    return datetime.fromisoformat(found) == instant(expected, zone)


def same_breaches(expected: str, found: set[str]) -> bool:
    """Each expected name (a rule id, or what follows its dot) is there, and nothing else is; `*` is any."""
    if expected in ("-", "*"):
        return bool(found) == (expected == "*")
    names = expected.split("|")

    def fits(name: str, rule: str) -> bool:
        return rule == name or rule.endswith(f".{name}")

    return all(any(fits(n, r) for r in found) for n in names) and all(any(fits(n, r) for n in names) for r in found)


def differences(row: Row, answer: dict[str, Any]) -> list[str]:
    """What is not as the row expects; empty where all is."""
    held = {entry["container"]: entry for entry in answer["containers"]}
    if row.container not in held:
        return [f"no container {row.container!r} among {sorted(held)}; refused: {answer['refused']}"]
    got = held[row.container]
    found = {breach["rule"] for breach in got["breaches"]}
    chain = [link["rule"] for link in got["why"]]
    names_limit = row.rule and limits()[row.rule]["grade"] == "use"
    checks = {
        "use_by": (row.use_by, got["use_by"], same_instant(row.use_by, got["use_by"], row.zone)),
        "best_by": (row.best_by, got["best_by"], same_instant(row.best_by, got["best_by"], row.zone)),
        "standing": (row.standing, got["standing"], got["standing"] in row.standing.split("|")),
        "form": (row.form, got["form"], got["form"] == row.form),
        "breaches": (row.breaches, sorted(found), same_breaches(row.breaches, found)),
        "rule": (row.rule if names_limit else "", chain, row.rule in chain),
        "refused": ("-", answer["refused"], not answer["refused"]),
    }
    return [
        f"{name}: expected {expected}, got {was}"
        for name, (expected, was, same) in checks.items()
        if expected and not same
    ]


def goes_unnoticed(rule: str, step: int) -> bool:
    """Whether every row that names the rule still holds with its `allows` moved by `step` units."""
    data: dict[str, Any] = json.loads(json.dumps(guideline_files()[owner(rule)]))
    limit = next(limit for limit in data["limit"] if limit["id"] == rule)
    number, unit = limit["allows"].split()
    limit["allows"] = f"{int(number) + step} {unit}"
    named = [row for row in rows() if row.rule == rule]
    assert named, f"no row names {rule}"
    return not any(differences(row, replay(row, {owner(rule): data})) for row in named)


# ---- tests -----------------------------------------------------------------------------------------------


def swept() -> list[str]:
    return [rule for rule, limit in limits().items() if limit["mark"] != "memory"]


def test_tables_are_well_formed() -> None:
    seen: set[tuple[str, str]] = set()
    for row in rows():
        label = f"{row.table}:{row.case}"
        assert row.case and (row.table, row.case) not in seen, f"{label}: case missing or twice"
        seen.add((row.table, row.case))
        assert {row.table, row.source} <= sources().keys(), f"{label}: not in SOURCES.toml: {row.source!r}"
        assert row.place and row.mark in MARKS, label
        assert row.guideline in guideline_files(), label
        assert all(guideline_files()[name]["role"] == "childcare" for name in row.also), label
        assert not row.standing or set(row.standing.split("|")) <= STANDINGS, label
        assert not row.form or row.form in FORMS, label
        for text in (row.use_by, row.best_by):
            assert text in ("", "-") or instant(text, row.zone).tzinfo, label
        expected = (row.use_by, row.best_by, row.standing, row.breaches, row.form)
        assert any(expected), f"{label}: nothing expected"
        now = instant(row.now, row.zone)
        for line in ledger(row):
            at = json.loads(line)["at"]
            assert len(at) == 10 or datetime.fromisoformat(at) <= now, f"{label}: the story runs past its now"


def test_stories_are_valid_events() -> None:
    events = import_module("thawline.core.events")
    for row in rows():
        for line in ledger(row):
            try:
                events.decoder.decode(line)
            except msgspec.MsgspecError as error:
                pytest.fail(f"{row.table}:{row.case}: {line.decode()}: {error}")


def test_sources_cite_publisher_title_edition_and_place() -> None:
    for name, source in sources().items():
        assert {"publisher", "title", "edition", "place", "mark"} <= source.keys(), name
        assert all(source[key] for key in ("publisher", "title", "edition", "place")), name
        assert source["mark"] in MARKS, name


def test_there_are_rows_for_every_shipped_guideline() -> None:
    assert len(rows()) >= 130
    named = {row.guideline for row in rows()} | {name for row in rows() for name in row.also}
    assert named == guideline_files().keys() - {"house"}


def test_rules_named_exist() -> None:
    for row in rows():
        if not row.rule:
            continue
        assert row.rule in limits(), f"{row.table}:{row.case}: no rule {row.rule}"
        expectation = row.use_by if limits()[row.rule]["grade"] == "use" else row.best_by
        assert expectation not in ("", "-"), f"{row.table}:{row.case}: names {row.rule} but expects no time"


@pytest.mark.parametrize("rule", swept())
def test_every_limit_has_a_row(rule: str) -> None:
    assert any(row.rule == rule for row in rows()), f"no row names {rule}"


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row.table}:{row.case}")
def test_row(row: Row) -> None:
    wrong = differences(row, replay(row))
    assert not wrong, f"{row.note}\n" + "\n".join(wrong)


@pytest.mark.parametrize("rule", [rule for rule in swept() if not limits()[rule]["allows"].startswith("0 ")])
def test_a_figure_moved_one_step_shorter_turns_a_row_red(rule: str) -> None:
    assert not goes_unnoticed(rule, -1)


@pytest.mark.parametrize("rule", [rule for rule in swept() if rule not in TIED])
def test_a_figure_moved_one_step_longer_turns_a_row_red(rule: str) -> None:
    """So some row has this limit alone in front."""
    assert not goes_unnoticed(rule, 1)
