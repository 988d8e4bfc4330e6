"""Time the pages around a logger's file: two places whose thermometers cross a limit every few minutes for weeks.

The pages are asked for in this process, on a household of 80 containers. Goals, not a gate: the exit status is 0
whatever the figures.
"""

from __future__ import annotations

import json
import logging
import math
import os
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from django.test import Client

T = TypeVar("T")
READINGS, CONTAINERS, CYCLE_MIN = 28_000, 80, 22
GOALS_S = {"preview": 3.0, "recording": 3.0, "stock": 1.0, "history": 1.0}
PLACES = (("fridge", 4.55, 0.3), ("freezer", -17.9, 0.4))


def events(now: datetime) -> list[bytes]:
    """A household whose milk lies in a refrigerator, a freezer, or went from one into the other and out of it."""
    start = now - timedelta(minutes=READINGS)
    found: list[bytes] = []

    def put(at: datetime, kind: str, **fields: object) -> None:
        given = {key.rstrip("_"): value for key, value in fields.items()}
        found.append(json.dumps({"id": f"b{len(found)}", "at": at.isoformat(), "kind": kind, **given}).encode())

    put(start, "household", zone="Europe/Lisbon", guideline="cdc")
    put(start, "child", child="Mira", born="2026-01-01", care="home")
    for place, is_, temp_c in (("counter", "room", 21), ("fridge", "refrigerator", 4), ("freezer", "freezer", -18)):
        put(start, "place", place=place, is_=is_, temp_c=temp_c)
    for number in range(CONTAINERS):
        at, name = start + (now - start) * number / CONTAINERS, f"M{number}"
        vessel = {"kind": "bag", "shape": "flat", "thickness_mm": 15} if number % 4 == 0 else None
        put(at, "expressed", into=[{"container": name, "ml": 60 + number}], place="counter",
            **({"vessel": vessel} if vessel else {}))  # fmt: skip
        put(at + timedelta(minutes=5), "moved", container=name, to="fridge")
        if number % 3:
            put(at + timedelta(minutes=40), "moved", container=name, to="freezer")
        if number % 9 == 1:
            put(min(at + timedelta(days=3), now - timedelta(minutes=30)), "moved", container=name, to="fridge")
    return found


def record(now: datetime, mean_c: float, swing_c: float) -> str:
    """A logger's file: one reading a minute, up and down about a mean."""
    start = now - timedelta(minutes=READINGS)
    rows = [
        f"{start + timedelta(minutes=n):%Y-%m-%dT%H:%MZ},{mean_c + swing_c * math.sin(n * math.tau / CYCLE_MIN):.2f}"
        for n in range(READINGS)
    ]
    return "\n".join(["time,temperature (°C)", *rows])


class Watch:
    """Times of what was asked, the longest of each name."""

    def __init__(self) -> None:
        self.took: dict[str, float] = {}

    def time(self, name: str, ask: Callable[[], T]) -> T:
        """Ask once, and note how long it took."""
        started, busy = time.perf_counter(), time.process_time()
        found = ask()
        took = time.perf_counter() - started
        self.took[name] = max(took, self.took.get(name, 0.0))
        print(f"  {name:<10} {took:6.2f} s (goal {GOALS_S[name]:g}), {time.process_time() - busy:.2f} s of it work")
        return found


def main() -> None:
    """Print the figures, and as JSON with `--json`."""
    with tempfile.TemporaryDirectory() as home:
        os.environ |= {"THAWLINE_HOME": home, "DJANGO_SETTINGS_MODULE": "thawline.site.settings"}
        import django  # noqa: PLC0415  (needs the folder)

        django.setup()
        logging.disable(logging.WARNING)
        took = _pages(datetime.now(UTC).replace(second=0, microsecond=0) - timedelta(minutes=5))
    if "--json" in sys.argv:
        print(json.dumps(took))


def _bring_in(phone: Client, watch: Watch, place: str, csv: str) -> None:
    """Look a file through and record what is to be kept of it."""
    from bs4 import BeautifulSoup  # noqa: PLC0415  (a tool's, not needed to run)

    seen = watch.time("preview", lambda: phone.post("/readings/", {"place": place, "text": csv}))
    form = BeautifulSoup(seen.content, "html.parser").select_one('form[action="/readings/record/"]')
    if form is None:
        raise SystemExit(f"no preview: {seen.status_code}")
    sent = {str(one["name"]): str(one.get("value", "")) for one in form.select("input[name]")} | {"sure": "yes"}
    print(f"  {len(sent['packed'].split()):,} kept")
    done = watch.time("recording", lambda: phone.post("/readings/record/", sent))
    if done.status_code != 302:
        raise SystemExit(f"could not record: {done.status_code}")


def _pages(now: datetime) -> dict[str, float]:
    from django.contrib.auth import get_user_model  # noqa: PLC0415
    from django.core.management import call_command  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415

    from thawline.services import bounds, people, present, recording  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    store = people.begin(household="Bench", name="Marta", username="marta", password="owl-lantern-river")  # noqa: S106
    recording.record(store, events(now), now=present.now())
    bounds.prepare()
    phone, watch = Client(), Watch()
    phone.force_login(get_user_model().objects.get(username="marta"), backend=None)
    for place, mean_c, swing_c in PLACES:
        print(f"{place}: {READINGS:,} readings")
        _bring_in(phone, watch, place, record(now, mean_c, swing_c))
        watch.time("stock", lambda: phone.get("/stock/"))
        watch.time("history", lambda: phone.get("/history/"))
        for number in range(3):
            line = {"id": f"{place}{number}", "at": datetime.now(UTC).isoformat(), "kind": "measured",
                    "place": place, "temp_c": mean_c + number / 10}  # fmt: skip
            recording.record(store, [recording.line_of(line)], now=present.now())
            watch.time("stock", lambda: phone.get("/stock/"))
    return watch.took


if __name__ == "__main__":
    main()
