"""A real browser on a phone's screen, and the default server that it talks to."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Locator,
    Page,
    Request,
    Response,
    sync_playwright,
)

Theme = Literal["light", "dark"]
THEMES: tuple[Theme, Theme] = ("light", "dark")
NARROW, WIDE, TALL = 320, 390, 844
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
AXE = Axe()
PASSWORD = "owl-lantern-river"
# What is pressed with a thumb has to be so many CSS pixels; a link within a sentence may be lower.
TARGET, IN_TEXT = 44, 24
_SMALL = """([target, inText]) => [...document.querySelectorAll(
    'a[href], button, summary, select, textarea, input:not([type=hidden])')]
  .filter((one) => one.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }))
  .filter((one) => !one.matches('.skip, .hide'))
  .map((one) => {
    const area = one.matches('.pill input, .pick input, .pick-box input') ? one.closest('label') : one;
    const box = area.getBoundingClientRect();
    const bar = one.matches('.button, summary, select, textarea, input, .nav a, .links a, .top a');
    const least = bar ? target : inText;
    const inSentence = getComputedStyle(one).display === 'inline' && one.matches('p a, li a, dd a');
    return { says: one.outerHTML.slice(0, 120), low: box.height + 0.5 < least && !inSentence,
             thin: box.width + 0.5 < least && !inSentence, is: `${box.width}x${box.height}` };
  })
  .filter((one) => one.low || one.thin).map((one) => `${one.is} ${one.says}`)"""


@dataclass
class Server:
    """A Thawline that was started as a household starts it."""

    address: str
    folder: Path
    said: list[str]


@contextmanager
def served(folder: Path, *command: str) -> Iterator[Server]:
    """Start `thawline serve` (or `demo`) on a free port, with its data in this folder."""
    dropped = ("DJANGO_SETTINGS_MODULE", "THAWLINE_SECRET_KEY", "DATABASE_URL")
    environment = {key: value for key, value in os.environ.items() if key not in dropped}
    environment |= {"THAWLINE_HOME": str(folder), "PYTHONUNBUFFERED": "1"}
    start = [str(Path(sys.executable).parent / "thawline"), *(command or ("serve",)), "--port", "0"]
    with subprocess.Popen(
        start, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        said: list[str] = []
        ready = threading.Event()
        assert process.stdout is not None
        listener = threading.Thread(target=_listen, args=(process.stdout, said, ready), daemon=True)
        listener.start()
        try:
            assert ready.wait(60) and process.poll() is None, said
            address = next(found[0] for line in said if (found := re.search(r"http://\S+", line)))
            yield Server(address, folder, said)
        finally:
            process.terminate()
            process.wait(20)
            listener.join(5)


def _listen(lines: Any, said: list[str], ready: threading.Event) -> None:
    for line in lines:
        said.append(line.rstrip())
        if "Ctrl-C" in line:
            ready.set()
    ready.set()


@dataclass
class Phone:
    """A page on a phone: what a thumb does with it, and what went wrong behind it."""

    page: Page
    server: Server
    taps: int = 0
    wrong: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.wrong.append(f"script: {error}"))
        self.page.on("request", self._request)
        self.page.on("response", self._answer)

    def _console(self, said: ConsoleMessage) -> None:
        # A page that tells of something to mend answers 422, and Chromium calls that an error: see _answer.
        if said.type in ("error", "warning") and not said.text.startswith("Failed to load resource"):
            self.wrong.append(f"console: {said.text}")

    def _answer(self, answer: Response) -> None:
        if answer.status >= 500 or (answer.status >= 400 and answer.request.resource_type != "document"):
            self.wrong.append(f"{answer.status}: {answer.url}")

    def _request(self, request: Request) -> None:
        if urlsplit(request.url).netloc != urlsplit(self.server.address).netloc:
            self.wrong.append(f"request elsewhere: {request.url}")

    def open(self, path: str = "/") -> None:
        """Go to an address of the household."""
        self.page.goto(self.server.address + path)

    def tap(self, role: Literal["link", "button"], name: str, *, within: Locator | None = None) -> None:
        """Tap the first link or button that begins with this name, and wait for the page it leads to."""
        place = within or self.page.locator("body")
        with self.page.expect_navigation():
            self.touch(place.get_by_role(role, name=re.compile(rf"^\s*{re.escape(name)}")))

    def touch(self, what: Locator) -> None:
        """Tap the first of these."""
        self.taps += 1
        what.first.tap()

    def fill(self, label: str, value: str, *, within: Locator | None = None) -> None:
        """Type into the field of this label, or choose there."""
        found = (within or self.page.locator("main")).get_by_label(label, exact=True).first
        if found.evaluate("one => one.tagName") == "SELECT":
            found.select_option(label=value)
        else:
            found.fill(value)

    def choose(self, label: str, *, within: Locator | None = None) -> None:
        """Tap one of several choices, or a box to tick."""
        self.touch((within or self.page.locator("main")).get_by_label(re.compile(rf"^\s*{re.escape(label)}")))

    def sees(self, *words: str, within: Locator | None = None) -> None:
        """Each of these stands on the page for everybody to read."""
        text = self.text(within)
        for one in words:
            assert one in text, (one, text)

    def sees_not(self, *words: str, within: Locator | None = None) -> None:
        """None of these stands on the page."""
        text = self.text(within)
        for one in words:
            assert one not in text, (one, text)

    def text(self, within: Locator | None = None) -> str:
        """What the page says, with single spaces."""
        return " ".join((within or self.page.locator("body")).inner_text().split())

    def banner(self) -> str:
        """What the page says was just recorded."""
        return self.text(self.page.get_by_role("status", name="Just recorded"))

    def line(self, code: str) -> Locator:
        """The line of a container, or what is to be fed next."""
        return self.page.locator("li.line, section.next").filter(has_text=code).first


@contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's Chromium; without one the test is skipped, but not in CI."""
    found = shutil.which("chromium")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not on PATH, and CI has to run the browser's tests")
        pytest.skip("chromium is not on PATH")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for the tests of a module: beyond it, Django could not use its database in this process."""
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def family(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Any]]:
    """The invented family on the default server, and what a phone that is signed in keeps."""
    with served(tmp_path_factory.mktemp("family"), "demo") as server:
        word = next(found[1] for line in server.said if (found := re.search(r"password (\S+)", line)))
        context = screen(browser)
        phone = Phone(context.new_page(), server)
        phone.open()
        phone.fill("Name to sign in with", "marta")
        phone.fill("Password", word)
        phone.tap("button", "Sign in")
        phone.sees("Now", "Log", "Stock")
        kept = context.storage_state()
        context.close()
        yield server, kept


def screen(browser: Browser, *, theme: Theme = "light", **more: Any) -> BrowserContext:
    """A phone's screen that is touched, in one of the two themes."""
    context = browser.new_context(
        **{"viewport": {"width": WIDE, "height": TALL}, "color_scheme": theme, "has_touch": True, "locale": "en-GB"}
        | more
    )
    context.set_default_timeout(10_000)
    return context


def complaints(phone: Phone, widths: Sequence[int] = (NARROW, WIDE)) -> list[str]:
    """What is wrong with the page as it stands, in both themes: barriers, too wide, too small to hit."""
    page = phone.page
    wrong: list[str] = []
    for width in widths:
        page.set_viewport_size({"width": width, "height": TALL})
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        wrong += [f"wider than {width} px by {wide}"] if wide > 0 else []
        wrong += [f"small at {width} px: {one}" for one in page.evaluate(_SMALL, [TARGET, IN_TEXT])]
    # As tall as the page, so that the bar at the thumb covers nothing that scrolling would show.
    page.set_viewport_size({"width": WIDE, "height": page.evaluate("document.documentElement.scrollHeight")})
    for theme in THEMES:
        page.emulate_media(color_scheme=theme)
        for one in AXE.run(page, options={"runOnly": RULES}).response["violations"]:
            wrong += [f"{theme} {one['id']}: {node['html'][:160]} {node['failureSummary']}" for node in one["nodes"]]
    page.set_viewport_size({"width": WIDE, "height": TALL})
    where = urlsplit(page.url)
    return [f"{where.path}?{where.query}: {one}" for one in wrong]
