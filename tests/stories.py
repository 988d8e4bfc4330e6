"""Generated households for comparing the core with the second, plain reading; the same seed gives the same story."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

from thawline.core import guideline

START = datetime(2026, 3, 27, 6, 0, tzinfo=UTC)
PLACES: dict[str, tuple[str, float | None]] = {
    "counter": ("room", None), "warm room": ("room", 23.0), "mild room": ("room", 26.0), "hot room": ("room", 31.0),
    "bag": ("cooler", None), "fridge": ("refrigerator", 3.5), "old fridge": ("refrigerator", None),
    "fair fridge": ("refrigerator", 4.3), "bad fridge": ("refrigerator", 7.0), "top": ("freezer_compartment", None),
    "cold top": ("freezer_compartment", -18.0), "freezer": ("freezer", -18.0), "chest": ("deep_freezer", None),
    "weak chest": ("deep_freezer", -15.0),
}  # fmt: skip
FROST = ("top", "cold top", "freezer", "chest", "weak chest")
OFF = ("mild room", "hot room", "fair fridge", "bad fridge", "cold top", "weak chest")
# Around the edges of the rules: 5 and 20 min, 1, 2, 4, 6 and 24 h, days.
GAPS = [1, 4, 5, 6, 15, 20, 21, 40, 60, 119, 121, 180, 239, 241, 300, 359, 361, 600, 1439, 1441, 2900]
HOMES = [name for name in guideline.shipped_ids() if guideline.shipped(name).role == "home"]
OVERLAYS = [name for name in guideline.shipped_ids() if guideline.shipped(name).role == "childcare"]
Line = dict[str, Any]


def _fixed() -> list[Line]:
    at = (START - timedelta(days=1)).isoformat()
    lines: list[Line] = [
        {"id": "h", "at": at, "kind": "household", "zone": "Europe/London", "guideline": "cdc"},
        {"id": "c", "at": at, "kind": "child", "child": "Mika", "born": "2026-01-01", "care": "home"},
    ]
    for name, (kind, temp) in PLACES.items():
        row: Line = {"id": f"p {name}", "at": at, "kind": "place", "place": name, "is": kind}
        lines.append(row if temp is None else {**row, "temp_c": temp})
    return lines


class Story:
    """One household's few days, told step by step."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(seed)
        self.lines = _fixed()
        self.at = START
        self.where: dict[str, str] = {}
        self.moved: dict[str, datetime] = {}
        self.fed: set[str] = set()
        self.iced: set[str] = set()
        self.guideline = self.rng.choice(HOMES)
        # Outside the bands, the readings agree on what may be used, not on every date.
        self.rough = self.rng.random() < 0.3
        self.places = list(PLACES) if self.rough else [name for name in PLACES if name not in OFF]
        self.also = [self.rng.choice(OVERLAYS)] if self.rng.random() < 0.2 else []
        for name in ["A", "B"][: self.rng.choice([1, 1, 2])]:
            self._begin(name)
        for _ in range(self.rng.randint(0, 6)):
            self._step()
        self.now = self.at

    def _write(self, **line: object) -> None:
        self.lines.append({"id": f"e{len(self.lines)}", "at": self.at.isoformat(), **line})
        self.at += timedelta(minutes=self.rng.choice(GAPS))

    def _place(self) -> str:
        return self.rng.choice(self.places)

    def _begin(self, name: str) -> None:
        place, ml = self._place(), self.rng.choice([40, 60, 120])
        self.where[name], self.moved[name] = place, self.at
        if self.rng.random() < 0.15:
            written = (self.at - timedelta(days=self.rng.randint(0, 5))).date().isoformat()
            self._write(kind="stocked", container=name, ml=ml, place=place, expressed=written)
            return
        extra = {"handling": "very_clean"} if self.rng.random() < 0.3 else {}
        self._write(kind="expressed", into=[{"container": name, "ml": ml}], place=place, **extra)

    def _step(self) -> None:
        name = self.rng.choice(list(self.where))
        does = self.rng.choice(["moved"] * 6 + ["ice", "no_ice", "warmed", "feed", "poured", "held"])
        since = self.at - self.moved[name]
        # Inside a freezer nobody warms or drinks milk; ice seen long after is where the readings differ by design.
        late = does == "ice" and (since > timedelta(minutes=15) or name in self.iced)
        if does == "moved" or late or (self.where[name] in FROST and does not in ("ice", "held")):
            self.where[name], self.moved[name] = self._place(), self.at
            self._write(kind="moved", container=name, to=self.where[name])
        elif does in ("ice", "no_ice"):
            self.iced.add(name)
            self._write(kind="thaw_seen", container=name, ice=does == "ice")
        elif does == "warmed":
            self._write(kind="warmed", container=name, how=self.rng.choice(["warm_water", "warmer", "microwave"]))
        elif does == "held":
            self._write(kind="held", container=name, why="medicine")
        elif does == "feed" and name not in self.fed:
            self.fed.add(name)
            self._write(kind="feed_began", container=name, child="Mika")
            self._write(kind="feed_ended", container=name, left_ml=20)
        elif does == "poured" and len(self.where) > 1:
            others = [other for other in self.where if other != name and self.where[other] not in FROST]
            if others and name not in self.fed:
                self._write(kind="poured", into=others[0], **{"from": [{"container": name, "ml": 10}]})

    def told(self) -> str:
        """The story in a few lines, for a failing test."""
        rows = [json.dumps(line) for line in self.lines if line["id"].startswith("e")]
        return "\n".join([f"{self.guideline} {self.also} now {self.now}", *rows])
