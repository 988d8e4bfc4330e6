"""The audit: the core itself replays what a household wrote down, and the simulator's plain count stands beside it."""

from __future__ import annotations

import json
from datetime import datetime
from typing import NamedTuple

from bench.simulated.house import START, House

from thawline.core import replay
from thawline.core.times import HOUR
from thawline.core.verdict import Verdict


class Audit(NamedTuple):
    """What the core says of a whole ledger; mL. `late_ml`: fed past a deadline; `acts`: other breaches, by rule."""

    fed: float
    thrown: float
    still_there: float
    miscounted: float
    came: float
    late_ml: float
    refrozen_ml: float
    acts: dict[str, int]
    refused: int
    verdicts: tuple[Verdict, ...]


def audit(house: House, end_h: float) -> Audit:
    """Replay the ledger strictly at the end, everything in it."""
    end = _micro(max(end_h, house.now) + 1)
    lines = house.lines()
    found = replay.run(lines, now=end, everything=True)
    booked = found.fold.booked()
    fed, amounts = _amounts(lines)
    late = refrozen = 0.0
    acts: dict[str, int] = {}
    for one in found.verdicts:
        for broken in one.breaches:
            acts[broken.rule] = acts.get(broken.rule, 0) + 1
        if any(broken.says.startswith("Fed ") for broken in one.breaches):
            late += fed.get(one.container, 0.0)
        if any("refreeze" in broken.rule or "refrozen" in broken.says for broken in one.breaches):
            refrozen += amounts.get(one.container, one.ml)
    return Audit(
        booked.fed, booked.discarded, booked.still_there, booked.miscounted, booked.expressed + booked.stocked, late,
        refrozen, acts, len(found.fold.refused), tuple(found.verdicts),
    )  # fmt: skip


def _amounts(lines: list[bytes]) -> tuple[dict[str, float], dict[str, float]]:
    """By container: what was drunk from it, and how much was in it at first."""
    fed: dict[str, float] = {}
    amounts: dict[str, float] = {}
    for line in lines:
        event = json.loads(line)
        if event["kind"] == "expressed":
            amounts |= {one["container"]: one["ml"] for one in event["into"]}
        elif event["kind"] == "stocked":
            amounts[event["container"]] = event["ml"]
        elif event["kind"] == "poured":
            amounts[event["into"]] = sum(one["ml"] for one in event["from"])
        elif event["kind"] == "feed_ended":
            fed[event["container"]] = amounts[event["container"]] - event["left_ml"]
    return fed, amounts


def _micro(at_h: float) -> int:
    return int(START.timestamp() * 1e6) + round(at_h * HOUR)


def faults(house: House, found: Audit) -> list[str]:
    """Where the core's sums and the plain count differ by more than a hundredth of a mL a container."""
    count = house.count
    pairs = {
        "fed": (found.fed, count.fed), "thrown": (found.thrown, count.thrown),
        "came": (found.came, count.expressed + count.stocked),
        "there": (found.still_there, sum(box.ml for box in house.boxes.values())),
        "late": (found.late_ml, count.fed_past), "refrozen": (found.refrozen_ml, count.refrozen),
    }  # fmt: skip
    wrong = [f"{name}: core {a:.2f}, count {b:.2f}" for name, (a, b) in pairs.items() if abs(a - b) > 1 + 1e-4 * abs(a)]
    return wrong + ([f"{found.refused} events refused"] if found.refused else [])


def hours(at: str) -> float:
    """A written instant as hours since the first midnight."""
    return (datetime.fromisoformat(at) - START).total_seconds() / 3600
