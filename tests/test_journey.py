"""A household's first days on a phone, from the set-up to the file with everything in it."""

from __future__ import annotations

import json
import os
import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser
from tests.browser import PASSWORD, THEMES, Phone, Server, Theme, browser, family, screen, served

__all__ = ["browser", "family"]
pytestmark = pytest.mark.slow

TODAY = datetime.now(ZoneInfo("Europe/Lisbon")).date()
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
        self.touch(self.page.locator("summary", has_text="More you can do"))
        self.tap("link", verb, within=self.page.locator("details[open]"))

    def look_at(self, code: str) -> None:
        """To the page of a container, by way of the stock."""
        self.tap("link", "Stock")
        self.touch(self.page.locator("main").get_by_role("link", name=code))

    def undo(self) -> None:
        """Take back what was just recorded."""
        self.tap("button", "Undo")


def _set_up(on: Journey) -> None:
    on.open()
    assert on.page.url.endswith("/begin/")
    on.fill("Your name", "Marta")
    on.fill("Name to sign in with", "marta")
    on.fill("Password", PASSWORD)
    on.fill("Name of the household", "Lisbon kitchen")
    on.fill("Time zone", "Europe/Lisbon")
    on.fill("Name", "Mira")
    on.fill("Born on", (TODAY - timedelta(weeks=12)).isoformat())
    on.page.evaluate("scrollTo(0, 0)")
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


def _feed(on: Journey, thawed: str) -> None:
    on.tap("link", "Now")
    on.taps = 0
    on.tap("button", f"Fed, all gone {thawed}")
    assert on.taps == 1, "a feed that leaves nothing takes one tap"
    assert thawed in on.banner()
    on.sees_not(thawed, within=on.page.locator("main"))
    open_one = on.log(110, "1 hour ago")
    on.verb(open_one, "Feed it")
    on.sees("After a feed the remainder has a short life.")
    on.choose("Ended, some is left")
    on.fill("If some is left, how much?", "40")
    on.choose("30 min", within=on.page.get_by_role("group", name="If some is left, how long"))
    on.picture("feed")
    on.tap("button", "Record")
    on.sees("40 mL", within=on.page.locator("section.next"))
    on.verb(open_one, "Throw it away")
    on.sees("a normal smell proves nothing")
    on.choose("Left over from a feed")
    on.tap("button", "Thrown away")
    assert open_one in on.banner()
    on.picture("undo")
    on.tap("button", "Undo")
    on.look_at(open_one)
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
        on.fill("Expressed on", (TODAY - timedelta(days=days)).isoformat(), within=row)
    on.tap("button", "Look it through")
    on.sees("2 containers, 220 mL", "Within its limits")
    on.tap("button", "Record 2 containers")
    on.sees("Write these on them")
    on.picture("enter")
    return [on.text(one) for one in on.page.locator("main .code").all()]


def _paste(on: Journey) -> None:
    on.tap("link", "Paste a list")
    year = TODAY.year - (1 if TODAY.month < 4 else 0)
    lines = ["ml\tdate\tplace", f"110\t02/03/{year}\tfreezer", f"95\t04/03/{year}\tfreezer", f"70\t05/03/{year}\tattic"]
    on.fill("From a spreadsheet or from your notes", "\n".join(lines))
    on.tap("button", "Go on")
    on.sees("A question first", "3 lines were read. Nothing is recorded yet.", f"Which day is 02/03/{year}?")
    on.picture("paste")
    on.choose(f"2 March {year}")
    on.tap("button", "Go on")
    on.sees("2 containers, 205 mL", "1 row is kept here to mend.", "“attic” is not one of your places")
    on.picture("mend")
    on.fill("Where?", "freezer", within=on.page.get_by_role("group", name="Row 3"))
    on.tap("button", "Look again")
    on.sees("3 containers, 275 mL")
    on.sees_not("attic", "to mend")
    on.tap("button", "Record 3 containers")
    on.sees("Write these on them", "110 mL", "95 mL", "70 mL")


def _switch(on: Journey, code: str) -> None:
    on.tap("link", "More")
    on.tap("link", "Guidelines")
    on.sees("US CDC", "In force in your household.")
    on.tap("link", "NHMRC (Australia)")
    on.tap("link", "See what it would change")
    on.sees("get another deadline", code, "Now: use by", "Then: use by")
    on.picture("switch")
    on.tap("button", "Switch")
    on.sees("NHMRC (Australia)", "In force in your household.")
    on.tap("button", "Undo")
    on.sees("US CDC", "In force in your household.")


def _correct(on: Journey, code: str) -> None:
    on.tap("link", "History")
    on.picture("history")
    on.tap("link", "Correct", within=on.page.locator("main li").filter(has_text=f"Expressed {code} (60 mL)"))
    on.tap("link", "Correct")
    on.fill(f"Amount, {code}", "65")
    on.tap("button", "See what changes")
    on.sees("Is this right?", f"Expressed {code} (60 mL)", f"Expressed {code} (65 mL)")
    on.picture("correct")
    on.tap("button", "Correct it")
    on.look_at(code)
    on.sees("65 mL", within=on.page.locator("section.next"))


def _paper(on: Journey) -> str:
    on.tap("link", "More")
    on.tap("link", "A sheet for the fridge door")
    on.sees("Milk at home, Lisbon kitchen", "US CDC", "What may be done until then")
    on.picture("paper")
    on.tap("link", "Enter what is on paper")
    line = on.page.get_by_role("group", name="Line 1")
    on.fill("What happened", "expressed", within=line)
    on.fill("Amount, mL", "85", within=line)
    on.tap("button", "See what it records")
    on.sees("Is this right?", "85 mL", "Line 1")
    on.tap("button", "Record it")
    return on.code()


def _told(on: Journey) -> int:
    """How many entries the history tells of, from the latest page to the earliest."""
    on.tap("link", "History")
    earlier = on.page.get_by_role("link", name="Earlier", exact=True)
    count = on.page.locator("main .past-line > li").count()
    while earlier.count():
        on.tap("link", "Earlier")
        count += on.page.locator("main .past-line > li").count()
    return count


def _export(on: Journey, code: str) -> None:
    told = _told(on)
    on.tap("link", "More")
    on.tap("link", "Keep a copy of everything")
    with on.page.expect_download() as coming:
        on.touch(on.page.get_by_role("link", name="Get the file"))
    lines = Path(coming.value.path()).read_text(encoding="utf-8").splitlines()
    events = [json.loads(line) for line in lines]
    assert len(events) == told > 30
    assert len({event["id"] for event in events}) == told
    assert any(code in str(event) for event in events)


def journey(browser: Browser, server: Server, theme: Theme, *, script: bool, **more: Any) -> Journey:
    scale = 1.5 if PICTURES else 1
    context = screen(browser, theme=theme, java_script_enabled=script, device_scale_factor=scale, **more)
    on = Journey(context.new_page(), server)
    on.theme, on.pictures = theme, PICTURES if script else None
    return on


@pytest.mark.parametrize("script", [True, False], ids=["script", "no_script"])
@pytest.mark.parametrize("theme", THEMES)
def test_the_journey(browser: Browser, tmp_path: Path, theme: Theme, script: bool) -> None:
    with served(tmp_path / "home") as server:
        on = journey(browser, server, theme, script=script)
        _set_up(on)
        _sign_out_and_in(on)
        _add_rui(on)
        first, second = _log_and_chill(on)
        _combine(on, first, second)
        thawed = _freeze_and_thaw(on)
        _feed(on, thawed)
        codes = _four(on)
        _pack(on, codes)
        entered = _enter(on)
        _paste(on)
        _switch(on, entered[0])
        _correct(on, codes[0])
        _export(on, _paper(on))
        assert on.wrong == []
        on.page.context.close()


@pytest.mark.parametrize("script", [True, False], ids=["script", "no_script"])
@pytest.mark.parametrize("theme", THEMES)
def test_what_a_guideline_speaks_against_is_asked_kindly_and_then_recorded(
    browser: Browser, family: tuple[Server, Any], theme: Theme, script: bool
) -> None:
    server, kept = family
    on = journey(browser, server, theme, script=script, storage_state=kept)
    on.open()
    on.sees("Feed next", "Needs a hand")
    on.picture("now")
    with on.page.expect_navigation():
        on.touch(on.page.locator("section.next a.code"))
    on.sees("What may be done with it", "Why this time")
    on.picture("milk")
    code = on.log(75)
    on.verb(code, "Move it")
    on.choose("freezer")
    on.tap("button", "It is there now")
    on.tap("button", "Thaw: fridge")
    on.tap("link", "Now")
    on.tap("button", f"No ice left {code}")
    on.verb(code, "Move it")
    on.sees("Once fully thawed, do not refreeze.")
    on.choose("freezer")
    on.tap("button", "It is there now")
    on.sees(
        "One moment", code, "Centers for Disease Control", "Go back", "what is written down should be what happened"
    )
    on.picture("ask")
    on.tap("link", "Go back")
    on.look_at(code)
    on.sees_not("A rule was broken")
    on.verb(code, "Move it")
    on.choose("freezer")
    on.tap("button", "It is there now")
    on.tap("button", "It happened: record it")
    on.look_at(code)
    on.sees("A rule was broken", "What the guideline says against it")
    assert on.wrong == []
    on.page.context.close()
