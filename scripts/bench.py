"""Time `thawline replay` on made-up ledgers of growing size, start-up included."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

START = datetime(2027, 1, 1, 6, tzinfo=UTC)
SESSIONS = (0, 100, 1_000, 10_000)
THAWLINE = Path(sys.executable).with_name("thawline")


def ledger(sessions: int) -> Iterator[dict[str, object]]:
    """A household that expresses every four hours, chills all of it and feeds it a day later."""
    first = START.isoformat()
    yield {"id": "h", "at": first, "kind": "household", "zone": "UTC", "guideline": "cdc"}
    yield {"id": "p", "at": first, "kind": "place", "place": "fridge", "is": "refrigerator", "temp_c": 4}
    yield {"id": "c", "at": first, "kind": "child", "child": "B", "born": "2026-12-01", "care": "home"}
    for n in range(sessions):
        at = START + timedelta(hours=4 * n)
        into = [{"container": f"m{n}", "ml": 90}]
        fed = {"container": f"m{n}", "child": "B"}
        left = {"container": f"m{n}", "left_ml": 0}
        day, later = at + timedelta(days=1), at + timedelta(days=1, minutes=20)
        yield {"id": f"e{n}", "at": at.isoformat(), "kind": "expressed", "into": into, "place": "fridge"}
        yield {"id": f"f{n}", "at": day.isoformat(), "kind": "feed_began", **fed}
        yield {"id": f"g{n}", "at": later.isoformat(), "kind": "feed_ended", **left}


def seconds(path: Path, now: datetime) -> float:
    """How long one replay takes, the best of three."""
    command = [str(THAWLINE), "replay", str(path), "--now", now.isoformat(), "--json"]
    taken = []
    for _ in range(3):
        begun = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        taken.append(time.perf_counter() - begun)
    return min(taken)


def main() -> None:
    """Print one line per ledger size."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.ndjson"
        for sessions in SESSIONS:
            events = [json.dumps(event) for event in ledger(sessions)]
            path.write_text("\n".join(events) + "\n", encoding="utf-8")
            now = START + timedelta(hours=4 * sessions)
            print(f"{len(events):>7} events  {seconds(path, now):7.3f} s")


if __name__ == "__main__":
    main()
