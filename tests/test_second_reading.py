"""The core against the second, plain reading of the rules, on generated households.

Source: the guideline files (each row cites its own); the comparison itself is common practice, no source.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plain.judge import judge
from thawline.core import guideline
from thawline.core.replay import replay

START = datetime(2026, 3, 27, 6, 0, tzinfo=UTC)
PLACES = {
    "counter": ("room", None), "warm room": ("room", 23.0), "bag": ("cooler", None),
    "fridge": ("refrigerator", 3.5), "old fridge": ("refrigerator", None),
    "top": ("freezer_compartment", None), "freezer": ("freezer", -18.0), "chest": ("deep_freezer", None),
}  # fmt: skip
FROST = ("top", "freezer", "chest")
# A day's walk, minute by minute, takes the plain reading a while; gaps are chosen around the rules' edges.
GAPS = st.sampled_from([1, 4, 5, 6, 15, 20, 21, 40, 60, 119, 121, 180, 239, 241, 300, 600, 1439, 1441, 2900])
HOMES = [name for name in guideline.shipped_ids() if guideline.shipped(name).role == "home"]


def settled(lines: list[dict[str, Any]], name: str, now: datetime) -> dict[str, dict[str, Any]]:
    raw = [json.dumps(line).encode() for line in lines]
    found = replay(raw, now=now.isoformat(), guideline=name)
    assert not found["refused"], found["refused"]
    return {one["container"]: one for one in found["containers"]}


def fixed() -> list[dict[str, Any]]:
    at = (START - timedelta(days=1)).isoformat()
    lines: list[dict[str, Any]] = [
        {"id": "h", "at": at, "kind": "household", "zone": "Europe/London", "guideline": "cdc"},
        {"id": "c", "at": at, "kind": "child", "child": "Mika", "born": "2026-01-01", "care": "home"},
    ]
    for name, (kind, temp) in PLACES.items():
        row: dict[str, Any] = {"id": f"p {name}", "at": at, "kind": "place", "place": name, "is": kind}
        lines.append(row if temp is None else {**row, "temp_c": temp})
    return lines


@st.composite
def stories(draw: st.DrawFn) -> tuple[list[dict[str, Any]], datetime]:
    lines, at = fixed(), START
    names = ["A", "B"][: draw(st.integers(1, 2))]
    places: dict[str, str] = {}
    fed: set[str] = set()
    moved: dict[str, datetime] = {}
    for name in names:
        into = [{"container": name, "ml": draw(st.sampled_from([40, 60, 120]))}]
        row: dict[str, Any] = {"id": f"e {name}", "at": at.isoformat(), "kind": "expressed", "into": into}
        row["place"] = places[name] = draw(st.sampled_from(list(PLACES)))
        if draw(st.booleans()):
            row["handling"] = "very_clean"
        lines.append(row)
        moved[name] = at
        at += timedelta(minutes=draw(GAPS))
    open_feed: set[str] = set()
    for number in range(draw(st.integers(0, 6))):
        name = draw(st.sampled_from(names))
        does = draw(st.sampled_from(["moved"] * 6 + ["ice", "no_ice", "warmed", "feed_began", "feed_ended"]))
        # Inside a freezer nobody warms or drinks milk; the plain reading does not go into it.
        does = "moved" if places[name] in FROST and does != "feed_ended" else does
        does = "moved" if does == "feed_began" and name in fed else does
        # Ice seen long after: the plain reading lets an assumed limit stand that had run out by then.
        does = "moved" if does == "ice" and at - moved[name] > timedelta(minutes=40) else does
        row = {"id": f"s {number}", "at": at.isoformat(), "kind": does, "container": name}
        if does == "moved":
            row["to"] = places[name] = draw(st.sampled_from(list(PLACES)))
            moved[name] = at
        elif does in ("ice", "no_ice"):
            row |= {"kind": "thaw_seen", "ice": does == "ice"}
        elif does == "warmed":
            row["how"] = "warm_water"
        elif does == "feed_began":
            row["child"] = "Mika"
            open_feed.add(name)
            fed.add(name)
        elif name in open_feed:
            row["left_ml"] = 20
            open_feed.discard(name)
        else:
            continue
        lines.append(row)
        at += timedelta(minutes=draw(GAPS))
    return lines, at


@pytest.mark.slow
@settings(max_examples=60)
@given(stories(), st.sampled_from(HOMES))
def test_the_two_readings_agree(story: tuple[list[dict[str, Any]], datetime], name: str) -> None:
    lines, now = story
    mine = settled(lines, name, now)
    plain = judge(lines, name, now)
    assert mine.keys() == plain.keys()
    for container, one in mine.items():
        other = plain[container]
        text = "\n".join(json.dumps(line) for line in lines if "container" in str(line))
        shown = f"{name} now {now}\n{text}\n{one}\n{other}"
        use_by = None if one["use_by"] is None else datetime.fromisoformat(one["use_by"]).astimezone(UTC)
        assert use_by == other["use_by"], shown
        assert one["form"] == other["form"], shown
        standing = "ok" if one["standing"] in ("soon", "fine") else one["standing"]
        assert standing == other["standing"], shown
