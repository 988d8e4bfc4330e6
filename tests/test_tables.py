"""The published tables, as rows: what each guideline says about one story of milk.

Every row of `tables/*.csv` is one story, one moment, and what a reader of the source expects there. The figures are typed in
from the sources that `tables/SOURCES.toml` names, never from the program's own output. Mark `ours` means that no source says
it and the project chose the cautious reading.

Columns: case, guideline, also, zone, places, story, now, container, use_by, best_by, standing, breaches, form, rule, source,
place, mark, note. An empty expectation is not checked; `-` means "none". `standing` may name alternatives, separated by `|`.

A **story** is a list of statements separated by `;`. Each is `TIME VERB WORDS`:

- TIME is `2026-05-06 09:20`, or `09:20` (the day of the statement before), each optionally with seconds or an offset
  (`2026-07-17 10:45-07:00`); `2026-07-03 date` means that only the date is known. Without an offset it is local time in
  `zone`; a time that comes twice is the first of the two.
- `expressed A:120+B:60 room [very_clean] [mother=..] [for=..]`, `stocked A 120 freezer expressed=2026-06-01 [frozen_on=..]
  [form=..] [milk=..] [for=..] [mother=..]`, `moved A fridge`, `poured A:60+B:60 C`, `ice A`, `no_ice A`,
  `warmed A warm_water`, `feed A [child]`, `fed A 30` (30 mL left), `discarded A`, `counted A 100`, `added A fortifier`,
  `handed A childcare [place]`, `received A fridge`, `returned A fridge`, `held A medicine`, `released A`,
  `measured fridge 7.8` (a place) or `measured A 3.3C` (a container), `power_lost freezer [full]`, `power_back freezer`,
  `child ben hospital`.

**places** changes the places of a row from `DEFAULT_PLACES`: `room=78F fridge=? freezer=-17.8`; `?` is unknown, a number
without a unit is in degrees Celsius. A place that a story does not mention is not in its ledger.
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

import pytest

HERE = Path(__file__).parent
TABLES = HERE / "tables"
FILES = HERE.parent / "src" / "thawline" / "core" / "guidelines"

COLUMNS = (
    "case guideline also zone places story now container use_by best_by standing breaches form rule source place mark note"
).split()
KINDS = {
    "room": "room",
    "nursery": "room",
    "cooler": "cooler",
    "cooler2": "cooler",
    "fridge": "refrigerator",
    "fridge2": "refrigerator",
    "ice_box": "freezer_compartment",
    "freezer": "freezer",
    "deep": "deep_freezer",
}
DEFAULT_PLACES = "room=22 nursery=22 cooler=? cooler2=? fridge=3.5 fridge2=3.5 ice_box=? freezer=-18 deep=-20"
MARKS = {"seen", "second-hand", "ours", "common practice, no source"}
STANDINGS = {"gone", "breached", "past", "outside", "held", "soon", "fine"}
FORMS = {"fresh", "frozen", "thawing", "thawed"}
DEFAULT_CHILD = "mia"

TIME = re.compile(
    r"(?:(?P<day>\d{4}-\d\d-\d\d) )?(?:(?P<clock>\d\d:\d\d(?::\d\d)?)(?P<offset>[+-]\d\d:\d\d|Z)?|(?P<bare>date))"
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


# ---- reading ---------------------------------------------------------------------------------------------------------


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


def statement(verb: str, words: list[str]) -> dict[str, Any]:
    """One statement of a story as an event, without `id` and `at`."""
    plain = [word for word in words if "=" not in word]
    named = dict(word.split("=", 1) for word in words if "=" in word)
    match verb, plain:
        case "expressed", [into, place, *flags]:
            handling = {"handling": "very_clean"} if flags == ["very_clean"] else {}
            if flags and not handling:
                raise ValueError(f"unknown flags {flags}")
            return {"kind": "expressed", "into": portions(into), "place": place, **handling, **named}
        case "stocked", [name, ml, place]:
            return {"kind": "stocked", "container": name, "ml": float(ml), "place": place, **named}
        case "moved", [name, place]:
            return {"kind": "moved", "container": name, "to": place}
        case "poured", [sources, into]:
            return {"kind": "poured", "from": portions(sources), "into": into}
        case ("ice" | "no_ice"), [name]:
            return {"kind": "thaw_seen", "container": name, "ice": verb == "ice"}
        case "warmed", [name, how]:
            return {"kind": "warmed", "container": name, "how": how}
        case "feed", [name, *child]:
            return {"kind": "feed_began", "container": name, "child": child[0] if child else DEFAULT_CHILD}
        case "fed", [name, left]:
            return {"kind": "feed_ended", "container": name, "left_ml": float(left)}
        case "discarded", [name]:
            return {"kind": "discarded", "container": name}
        case "counted", [name, ml]:
            return {"kind": "counted", "container": name, "ml": float(ml)}
        case "added", [name, what]:
            return {"kind": "added", "container": name, "what": what}
        case "handed", [name, to, *place]:
            return {"kind": "handed_over", "container": name, "to": to, **({"place": place[0]} if place else {})}
        case ("received" | "returned"), [name, place]:
            return {"kind": verb, "container": name, "place": place}
        case ("held" | "released"), [name, *why]:
            return {"kind": verb, "container": name, **({"why": why[0]} if why else {})}
        case "measured", [what, value]:
            return {"kind": "measured", "place" if what in KINDS else "container": what, "temp_c": celsius(value)}
        case ("power_lost" | "power_back"), [place, *fill]:
            return {"kind": verb, "place": place, **({"fill": fill[0]} if fill else {})}
        case "child", [name, care]:
            return {"kind": "child", "child": name, "born": "2026-01-02", "care": care}
    raise ValueError(f"not a statement: {verb} {' '.join(words)}")


def story(text: str, zone: str) -> list[dict[str, Any]]:
    """The events of a story, in its order, with ids e1, e2 ..."""
    events: list[dict[str, Any]] = []
    day = None
    for part in text.split(";"):
        part = part.strip()
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
            settings.append({"id": f"p-{name}", "at": start, "kind": "place", "place": name, "is": KINDS[name], **usual})
    for name in (DEFAULT_CHILD, "ben"):
        mentioned = name == DEFAULT_CHILD or re.search(rf"\b{name}\b", row.story)
        if name not in children and mentioned:
            child = {"id": f"c-{name}", "at": start, "kind": "child", "child": name, "born": "2026-01-02", "care": "home"}
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
                found.append(Row(table=path.stem, **{**line, "also": line["also"].split()}))  # type: ignore[arg-type]
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


# ---- judging ---------------------------------------------------------------------------------------------------------


def replay(row: Row, files: dict[str, dict[str, Any]] | None = None) -> dict[str, Any]:
    run = import_module("thawline.core.replay").replay
    more = {} if files is None else {"files": files}
    now = instant(row.now, row.zone).isoformat()
    return run(ledger(row), now=now, guideline=row.guideline, also=row.also, everything=True, **more)


def moment(value: str | None) -> datetime | None:
    return None if value is None else datetime.fromisoformat(value)


def same_breaches(expected: str, found: set[str]) -> bool:
    """Each expected name (a rule id, or the act after its dot) is there, and nothing else is."""
    if expected == "-":
        return not found
    names = expected.split("|")

    def fits(name: str, rule: str) -> bool:
        return rule == name or rule.endswith(f".{name}")

    return all(any(fits(n, r) for r in found) for n in names) and all(any(fits(n, r) for n in names) for r in found)


def differences(row: Row, answer: dict[str, Any]) -> list[str]:
    """What is not as the row expects; empty where all is."""
    wrong: list[str] = []
    if answer["refused"]:
        wrong.append(f"refused: {answer['refused']}")
    held = {entry["container"]: entry for entry in answer["containers"]}
    if row.container not in held:
        return [*wrong, f"no container {row.container!r} among {sorted(held)}"]
    got = held[row.container]

    for name in ("use_by", "best_by"):
        expected = getattr(row, name)
        if not expected:
            continue
        want = None if expected == "-" else instant(expected, row.zone)
        if moment(got[name]) != want:
            wrong.append(f"{name}: expected {want and want.isoformat()}, got {got[name]}")
    if row.standing and got["standing"] not in row.standing.split("|"):
        wrong.append(f"standing: expected {row.standing}, got {got['standing']}")
    if row.form and got["form"] != row.form:
        wrong.append(f"form: expected {row.form}, got {got['form']}")
    found = {breach["rule"] for breach in got["breaches"]}
    if row.breaches and not same_breaches(row.breaches, found):
        wrong.append(f"breaches: expected {row.breaches}, got {sorted(found)}")
    if row.rule and limits()[row.rule]["grade"] == "use":
        chain = [link["rule"] for link in got["why"]]
        if row.rule not in chain:
            wrong.append(f"rule: expected {row.rule}, got {chain}")
    return wrong


def stepped(rule: str, step: int) -> dict[str, Any] | None:
    """The guideline file of a rule with its `allows` moved by one unit; None where it cannot go that way."""
    data = json.loads(json.dumps(guideline_files()[owner(rule)]))
    limit = next(limit for limit in data["limit"] if limit["id"] == rule)
    number, unit = limit["allows"].split()
    if int(number) + step < 0:
        return None
    limit["allows"] = f"{int(number) + step} {unit}"
    return data


# ---- tests -----------------------------------------------------------------------------------------------------------


def swept() -> list[str]:
    return [rule for rule, limit in limits().items() if limit["mark"] != "memory"]


def test_tables_are_well_formed() -> None:
    seen: set[tuple[str, str]] = set()
    for row in rows():
        label = f"{row.table}:{row.case}"
        assert row.case and (row.table, row.case) not in seen, f"{label}: case missing or twice"
        seen.add((row.table, row.case))
        assert row.table in sources() and row.source in sources(), f"{label}: source {row.source!r} not in SOURCES.toml"
        assert row.place and row.mark in MARKS, label
        assert row.guideline in guideline_files(), label
        assert all(guideline_files()[name]["role"] == "childcare" for name in row.also), label
        assert not row.standing or set(row.standing.split("|")) <= STANDINGS, label
        assert not row.form or row.form in FORMS, label
        for text in (row.use_by, row.best_by):
            assert text in ("", "-") or instant(text, row.zone), label
        assert any((row.use_by, row.best_by, row.standing, row.breaches, row.form)), f"{label}: nothing expected"
        now = instant(row.now, row.zone)
        for line in ledger(row):
            at = json.loads(line)["at"]
            assert len(at) == 10 or datetime.fromisoformat(at) <= now, f"{label}: a story must not run past its now"


def test_stories_are_valid_events() -> None:
    events = import_module("thawline.core.events")
    for row in rows():
        for line in ledger(row):
            try:
                events.decoder.decode(line)
            except Exception as error:
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


@pytest.mark.parametrize("rule", swept())
def test_a_figure_moved_one_step_turns_a_row_red(rule: str) -> None:
    """One unit shorter (longer, where it is already no time at all) must not go unnoticed."""
    step = -1 if stepped(rule, -1) else 1
    changed = stepped(rule, step)
    assert changed
    named = [row for row in rows() if row.rule == rule]
    assert named, f"no row names {rule}"
    assert any(differences(row, replay(row, {owner(rule): changed})) for row in named), f"{rule}: {step:+d} goes unnoticed"


@pytest.mark.parametrize("rule", swept())
def test_a_figure_moved_one_step_later_turns_a_row_red(rule: str) -> None:
    """One unit longer must not go unnoticed, so some row has this limit alone in front."""
    changed = stepped(rule, 1)
    named = [row for row in rows() if row.rule == rule]
    assert named, f"no row names {rule}"
    assert any(differences(row, replay(row, {owner(rule): changed})) for row in named), f"{rule}: +1 goes unnoticed"
