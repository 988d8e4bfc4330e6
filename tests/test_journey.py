"""A household's first days on a phone, from the set-up to the file with everything in it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator
from tests.browser import PASSWORD, TALL, THEMES, WIDE, Phone, Server, Theme, browser, family, screen, served

__all__ = ["browser", "family"]
pytestmark = pytest.mark.slow

CODE = re.compile(r"\b[A-Z]{2}\d{2}\b")
# Where to put pictures of the way, if anywhere; scripts/journey_pictures.py sets it.
PICTURES = os.environ.get("THAWLINE_PICTURES")


class Journey(Phone):
    """One household's way through the pages; `milk` holds the codes it was given."""

    theme: Theme = "light"
    pictures: str | None = None

    def picture(self, step: str) -> None:
        """Keep what the screen shows, where pictures are wanted."""
        if self.pictures is not None:
            self.page.screenshot(path=Path(self.pictures) / f"{step}-{self.theme}.png")

    def code(self) -> str:
        """The code in what was just recorded."""
        found = CODE.search(self.banner())
        assert found is not None, self.banner()
        return found[0]

    def log(self, ml: int, when: str = "", place: str = "") -> str:
        """Log one container; returns its code."""
        self.tap("link", "Log")
        self.fill("How much?", str(ml))
        if when:
            self.choose(when)
        if place:
            self.fill("Where did you put it?", place)
        self.tap("button", "Save")
        return self.code()

    def verb(self, code: str, verb: str) -> None:
        """From anywhere to the form of something that is done with a container."""
        self.look_at(code)
        self.tap("link" if verb == "More" else "link", verb) if self._at_hand(verb) else self._more(verb)

    def _at_hand(self, verb: str) -> bool:
        return self.page.locator(".next").get_by_role("link", name=verb).count() > 0

    def _more(self, verb: str) -> None:
        self.touch(self.page.locator("summary", has_text="More you can do"))
        self.tap("link", verb, within=self.page.locator("details[open]"))

    def look_at(self, code: str) -> None:
        """To the page of a container, by way of the stock."""
        self.tap("link", "Stock")
        self.touch(self.page.locator("main").get_by_role("link", name=code))

    def undo(self) -> None:
        """Take back what was just recorded."""
        self.tap("button", "Undo")


def test_print() -> None:
    pass


def _set_up(on: Journey) -> None:
    on.open()
    assert on.page.url.endswith("/begin/")
    on.fill("Your name", "Marta")
    on.fill("Name to sign in with", "marta")
    on.fill("Password", PASSWORD)
    on.fill("Name of the household", "Lisbon kitchen")
    on.fill("Time zone", "Europe/Lisbon")
    on.fill("Name", "Mira")
    on.fill("Born on", (date.today() - timedelta(weeks=12)).isoformat())
    on.picture("begin")
    on.tap("button", "Begin")
    on.sees("No milk is noted yet.", "Lisbon kitchen", "Marta")


def _sign_out_and_in(on: Journey) -> None:
    on.tap("link", "More")
    on.tap("link", "Sign out")
    on.tap("button", "Sign out")
    on.open("/stock/")
    on.sees("Sign in")
    on.sees_not("Lisbon kitchen")
    on.fill("Name to sign in with", "marta")
    on.fill("Password", PASSWORD)
    on.tap("button", "Sign in")
    on.sees("Cold stock")


def _add_rui(on: Journey) -> None:
    on.tap("link", "Who is noting this: Marta")
    on.touch(on.page.locator("summary", has_text="Another name"))
    on.fill("Name", "Rui")
    on.tap("button", "Add, and note as this one")
    on.sees("Rui")


def _log_and_chill(on: Journey) -> tuple[str, str]:
    on.tap("link", "Now")
    on.taps = 0
    on.tap("link", "Log")
    on.fill("How much?", "90")
    on.picture("log")
    on.tap("button", "Save")
    assert on.taps == 2, "a session takes two taps and a number"
    first = on.code()
    on.sees(first, "90 mL", "fridge", "Use by", within=on.page.locator("main"))
    second = on.log(70, "1 hour ago", "counter")
    line = on.line(second)
    on.sees("counter", within=line)
    on.picture("chill")
    on.taps = 0
    on.tap("button", "Chill: fridge", within=line)
    assert on.taps == 1, "chilling takes one tap"
    assert second in on.banner() and "fridge" in on.banner()
    return first, second


def _combine(on: Journey, first: str, second: str) -> None:
    on.verb(first, "Pour or combine")
    on.sees("Chill fresh milk before adding it", "Nothing is recorded yet.")
    on.choose(second)
    on.tap("button", "Show what it gives")
    on.sees("It would give", "160 mL", "Combined milk goes by its oldest part.")
    on.picture("combine")
    on.tap("button", "Record it")
    on.sees("160 mL", first, within=on.page.locator("main"))


def _freeze_and_thaw(on: Journey) -> str:
    code = on.log(80, "About 2 h ago")
    on.verb(code, "Move it")
    on.choose("freezer")
    on.choose("1 hour ago")
    on.tap("button", "It is there now")
    on.sees("frozen", "freezer", within=on.page.locator("section.next"))
    on.tap("button", "Thaw: fridge")
    on.sees("thawing", "fridge", within=on.page.locator("section.next"))
    on.tap("link", "Now")
    on.picture("thaw")
    on.tap("button", f"No ice left {code}")
    on.look_at(code)
    on.sees("thawed", within=on.page.locator("section.next"))
    return code


def _feed(on: Journey, thawed: str, combined: str) -> None:
    on.tap("link", "Now")
    on.taps = 0
    on.tap("button", f"Fed, all gone {thawed}")
    assert on.taps == 1, "a feed that leaves nothing takes one tap"
    assert thawed in on.banner()
    on.sees_not(thawed, within=on.page.locator("main"))
    on.verb(combined, "Feed it")
    on.sees("After a feed the remainder has a short life.")
    on.choose("Ended, some is left")
    on.fill("If some is left, how much?", "40")
    on.picture("feed")
    on.tap("button", "Record")
    on.sees("40 mL", within=on.page.locator("section.next"))
    on.verb(combined, "Throw it away")
    on.sees("a normal smell proves nothing")
    on.choose("Left over from a feed")
    on.tap("button", "Thrown away")
    assert combined in on.banner()
    on.picture("undo")
    on.tap("button", "Undo")
    on.look_at(combined)
    on.sees("40 mL", within=on.page.locator("section.next"))


def _four(on: Journey) -> list[str]:
    on.tap("link", "Log")
    on.fill("How much?", "60")
    on.touch(on.page.locator("summary", has_text="More than one container"))
    for number, ml in ((2, 70), (3, 80), (4, 90)):
        on.fill(f"Container {number}", str(ml))
    on.tap("button", "Save")
    codes = CODE.findall(on.banner())
    assert len(codes) == 4, on.banner()
    return codes


def _pack(on: Journey, codes: list[str]) -> None:
    on.tap("link", "Stock")
    for code in codes:
        on.choose(f"Choose {code}")
    on.picture("stock")
    on.tap("button", "Move")
    on.sees("4 containers, 300 mL", *codes)
    on.choose("cooler bag")
    on.picture("pack")
    on.tap("button", "They went there")
    bag = on.page.get_by_role("region", name="cooler bag")
    on.sees(*codes, "300 mL", within=bag)
    on.tap("button", "Undo")
    on.tap("link", "Stock")
    assert bag.count() == 0
    on.sees(*codes, within=on.page.get_by_role("region", name="fridge"))


def _enter(on: Journey) -> list[str]:
    on.tap("link", "Enter what is there")
    for number, (ml, days) in enumerate(((100, 30), (120, 20)), 1):
        row = on.page.get_by_role("group", name=f"Row {number}")
        on.fill("Amount, mL", str(ml), within=row)
        on.fill("Expressed on", (date.today() - timedelta(days=days)).isoformat(), within=row)
    on.tap("button", "Look it through")
    on.sees("2 containers, 220 mL", "Within its limits")
    on.tap("button", "Record 2 containers")
    on.sees("Write these on them")
    on.picture("enter")
    return [on.text(one) for one in on.page.locator("main .code").all()]


def _paste(on: Journey) -> None:
    on.tap("link", "Paste a list")
    year = date.today().year - (1 if date.today().month < 4 else 0)
    on.fill("From a spreadsheet or from your notes", f"ml\tdate\tplace\n110\t02/03/{year}\tfreezer\n95\t04/03/{year}\tfreezer\n70\t05/03/{year}\tattic")
    on.tap("button", "Go on")
    on.sees("A question first", "3 lines were read. Nothing is recorded yet.")
    on.picture("paste")
    print(on.text())
    on.choose("The day")
    on.tap("button", "Go on")
    print(on.text())
    on.sees("Look it through", "is kept here to mend")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
@pytest.mark.parametrize("theme", THEMES)
def test_the_journey(browser: Browser, tmp_path: Path, theme: Theme, script: bool) -> None:
    with served(tmp_path / "home") as server:
        context = screen(
            browser, theme=theme, java_script_enabled=script, device_scale_factor=1.5 if PICTURES else 1, accept_downloads=True
        )
        on = Journey(context.new_page(), server)
        on.theme, on.pictures = theme, PICTURES if script else None
        try:
            _set_up(on)
            _sign_out_and_in(on)
            _add_rui(on)
            first, second = _log_and_chill(on)
            _combine(on, first, second)
            thawed = _freeze_and_thaw(on)
            _feed(on, thawed, first)
            codes = _four(on)
            _pack(on, codes)
            print(_enter(on))
            _paste(on)
        except BaseException:
            print(on.page.url, on.text())
            on.page.screenshot(path="/tmp/jfail.png")
            raise
        assert not on.wrong
        context.close()
