"""How long the first page takes: one phone, signed in, 500 looks, half of them right after a write.

The default server runs as `thawline serve` does, once behind ten years of history and once behind a month. The ratio of
the two says whether the cost grows with the years. Goals, not a gate: the exit status is 0 whatever the figures.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlencode

from bench import bench_replay

LOOKS = 500
GOAL_MS, GOAL_RATIO, GOAL_BYTES = 50, 1.3, 80 * 1024
THAWLINE = Path(sys.executable).with_name("thawline")
PASSWORD = "owl-lantern-river"  # noqa: S105  (of an invented family)


def history(days: int) -> list[bytes]:
    """A household's events over so many days, ending an hour ago."""
    begin = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(days=days)
    bench_replay.START = begin.replace(hour=5) - timedelta(days=1)
    family = bench_replay.Family()
    family.begin()
    for number in range(days):
        family.day(number)
    return family.lines


class Phone:
    """One signed-in client that keeps its connection and its cookies."""

    def __init__(self, port: int) -> None:
        self.http = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.cookies: dict[str, str] = {}

    def ask(self, method: str, path: str, fields: dict[str, str] | None = None) -> tuple[int, bytes, dict[str, str]]:
        """Status, body and headers of one request."""
        headers = {"Cookie": "; ".join(f"{key}={value}" for key, value in self.cookies.items())}
        headers |= {"Accept-Encoding": "gzip"}
        body = None
        if fields is not None:
            body = urlencode({"csrfmiddlewaretoken": self.cookies.get("thawline_csrf", ""), **fields})
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.http.request(method, path, body, headers)
        answer = self.http.getresponse()
        found = answer.read()
        for line in answer.headers.get_all("Set-Cookie") or []:
            key, _, value = line.partition(";")[0].partition("=")
            self.cookies[key] = value
        return answer.status, found, dict(answer.headers.items())

    def sign_in(self) -> None:
        """Sign in as the household's owner."""
        self.ask("GET", "/sign-in/")
        status, _, _ = self.ask("POST", "/sign-in/", {"login": "marta", "password": PASSWORD, "remember": "on"})
        if status != 302:
            raise SystemExit(f"could not sign in: {status}")

    def write(self, number: int) -> None:
        """Log a session, as the form does."""
        _, _, headers = self.ask("GET", "/log/")
        path = headers["Location"]
        act = path.rpartition("act=")[2]
        fields = {"act": act, "ml_1": str(60 + number % 60), "when": "now", "place": "fridge"}
        status, body, _ = self.ask("POST", path, fields)
        if status != 302:
            raise SystemExit(f"could not log: {status} {body[:300]!r}")


@contextmanager
def server(days: int) -> Iterator[int]:
    """The default server on a household of so many days; yields its port."""
    with tempfile.TemporaryDirectory() as home:
        lines = history(days)
        ledger = Path(home) / "history.ndjson"
        ledger.write_bytes(b"\n".join(lines))
        environment = {**os.environ, "THAWLINE_HOME": home, "DJANGO_SETTINGS_MODULE": "thawline.site.settings"}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        setup = Path(__file__).with_name("make_household.py")
        started = time.perf_counter()
        subprocess.run([sys.executable, setup, ledger], env=environment, check=True)
        print(f"  {len(lines):,} events imported in {time.perf_counter() - started:.1f} s")
        port = 8600 + days % 97
        running = subprocess.Popen(
            [THAWLINE, "serve", "--port", str(port)], env=environment,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            _wait(port)
            yield port
        finally:
            running.terminate()
            running.wait(timeout=20)


def _wait(port: int) -> None:
    for _ in range(300):
        try:
            Phone(port).ask("GET", "/sign-in/")
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise SystemExit("the server did not start")


def looks(port: int) -> tuple[list[float], int]:
    """Milliseconds of each look at the first page, every second one right after a write; and its bytes on the wire."""
    phone = Phone(port)
    phone.sign_in()
    phone.ask("GET", "/")
    times = []
    size = 0
    for number in range(LOOKS):
        if number % 2:
            phone.write(number)
        started = time.perf_counter()
        status, body, _ = phone.ask("GET", "/")
        times.append((time.perf_counter() - started) * 1000)
        if status != 200:
            raise SystemExit(f"the first page answered {status}")
        size = max(size, len(body))
    return times, size


def first_view(port: int) -> int:
    """The bytes of the first page with everything that it loads, compressed as a browser asks for it."""
    phone = Phone(port)
    phone.sign_in()
    _, body, headers = phone.ask("GET", "/")
    total = len(body)
    page = _plain(body, headers)
    for path in sorted(set(re.findall(r'(?:src|href)="(/static/[^"#]+)', page))):
        total += len(phone.ask("GET", path)[1])
    return total


def _plain(body: bytes, headers: dict[str, str]) -> str:
    import gzip  # noqa: PLC0415

    return (gzip.decompress(body) if headers.get("Content-Encoding") == "gzip" else body).decode()


def percentile(times: list[float], share: float) -> float:
    """The value below which that share of the times lies."""
    return statistics.quantiles(times, n=100, method="inclusive")[round(share * 100) - 1]


def main() -> None:
    """Print the figures of both households, and as JSON with `--json`."""
    found: dict[str, float] = {}
    for label, days in (("month", 30), ("ten years", 3650)):
        print(f"{label}:")
        with server(days) as port:
            times, size = looks(port)
            found[f"{label} p50"] = statistics.median(times)
            found[f"{label} p95"] = percentile(times, 0.95)
            found[f"{label} bytes"] = first_view(port)
        print(
            f"  {LOOKS} looks: p50 {found[f'{label} p50']:.1f} ms, p95 {found[f'{label} p95']:.1f} ms (goal {GOAL_MS})"
        )
        print(f"  first page {size:,} bytes; first view {found[f'{label} bytes']:,.0f} bytes (goal {GOAL_BYTES:,})")
    ratio = found["ten years p95"] / found["month p95"]
    print(f"ten years : month, p95: {ratio:.2f} (goal {GOAL_RATIO})")
    if "--json" in sys.argv:
        print(json.dumps({**found, "ratio": ratio}))


if __name__ == "__main__":
    main()
