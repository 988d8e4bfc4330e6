"""A table brought in and taken out with a real browser, with script and without, and no barrier on the way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Browser
from tests.browser import NARROW, Phone, Server, browser, complaints, family, screen

__all__ = ["browser", "family"]
pytestmark = [pytest.mark.slow, pytest.mark.timeout(300)]
TABLE = "date;time;ml;side\n3/1/2026;07:10;120,5;left\n4/1/2026;08:10;90;both\n4/1/2026;lunch;90;top\n"
FILE: Any = {"name": "sessions.csv", "mimeType": "text/csv", "buffer": TABLE.encode("utf-16")}


@contextmanager
def phone_of(browser: Browser, family: tuple[Server, Any], *, script: bool) -> Iterator[Phone]:
    server, kept = family
    context = screen(browser, storage_state=kept, java_script_enabled=script)
    yield Phone(context.new_page(), server)
    context.close()


class Looks:
    """What is wrong with the pages on the way; the checker for barriers is a script itself."""

    def __init__(self, phone: Phone, *, script: bool) -> None:
        self.phone, self.script = phone, script
        self.wrong: list[str] = []

    def look(self) -> None:
        if not self.script:
            return
        self.wrong += complaints(self.phone)
        page = self.phone.page
        size = page.viewport_size
        assert size is not None
        page.set_viewport_size({"width": NARROW, "height": size["height"]})
        wide = page.evaluate("document.documentElement.scrollWidth")
        page.set_viewport_size(size)
        self.wrong += [] if wide <= NARROW else [f"{page.url} is {wide} px wide"]


@pytest.mark.parametrize("script", [True, False], ids=["script", "no_script"])
def test_a_table_comes_in_by_thumb_and_is_taken_back(
    browser: Browser, family: tuple[Server, Any], script: bool
) -> None:
    with phone_of(browser, family, script=script) as phone:
        looks = Looks(phone, script=script)
        phone.open("/in/")
        looks.look()
        _to_the_look(phone, looks)
        phone.sees("2 new rows", "120.5 mL", "“lunch” is no time of day")
        looks.look()
        phone.tap("button", "Record 2 rows")
        phone.sees("Tick that they are left out")
        looks.look()
        phone.touch(phone.page.get_by_label("Leave that row out"))
        phone.tap("button", "Record 2 rows")
        phone.sees("2 rows are recorded.")
        _to_the_look(phone, looks)
        phone.tap("button", "Take back what it brought in")
        phone.sees("taken back")
        assert not looks.wrong + phone.wrong, "\n".join(looks.wrong + phone.wrong)


def _to_the_look(phone: Phone, looks: Looks) -> None:
    phone.page.locator("#file").set_input_files(FILE)
    phone.tap("button", "Go on")
    phone.sees("Which column is which?", "Nothing is recorded yet.")
    looks.look()
    phone.touch(phone.page.get_by_label("3 January 2026"))
    phone.tap("button", "Look it through")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no_script"])
def test_what_can_be_taken_along_has_no_barrier(browser: Browser, family: tuple[Server, Any], script: bool) -> None:
    with phone_of(browser, family, script=script) as phone:
        looks = Looks(phone, script=script)
        phone.open("/out/")
        looks.look()
        with phone.page.expect_download() as got:
            phone.touch(phone.page.get_by_role("button", name="Get the table"))
        assert got.value.suggested_filename.startswith("thawline-sessions-")
        assert not looks.wrong + phone.wrong, "\n".join(looks.wrong + phone.wrong)
