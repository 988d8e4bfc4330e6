"""A family's way of handing milk over: a label, a check before the feed, somebody invited, a bottle for childcare."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pypdfium2
import pytest
from playwright.sync_api import Browser
from tests.browser import PASSWORD, Phone, Server, Theme, browser, family, screen
from tests.test_journey import Journey, journey
from tests.test_journey_heat import WALKS

__all__ = ["browser", "family"]
pytestmark = [pytest.mark.slow, pytest.mark.timeout(300)]

ROLL = "roll-62"


def _label(on: Journey, code: str, folder: Path) -> Path:
    """The label of the session just logged, as a photo of it."""
    on.taps = 0
    on.tap("link", "Print")
    on.sees(code, "Before you print")
    on.picture("labels")
    on.page.locator("select[name=stock]").select_option(ROLL)
    query = on.page.locator("#labels").evaluate("form => new URLSearchParams(new FormData(form)).toString()")
    assert on.taps + 1 == 2, "a label of the last session takes two taps"
    answer = on.page.request.get(f"{on.server.address}/print/labels/?{query}")
    assert answer.headers["content-type"] == "application/pdf"
    photo = folder / f"{code}.jpg"
    pypdfium2.PdfDocument(answer.body())[0].render(scale=4).to_pil().convert("RGB").save(photo, quality=70)
    return photo


def _check(on: Journey, code: str, photo: Path) -> None:
    on.tap("link", "Now")
    on.taps = 0
    on.tap("link", "Check a label")
    on.page.locator("input[name=photo]").set_input_files(photo)
    on.tap("button", "Check it")
    assert on.taps == 2, "a check takes two taps and a photo"
    on.sees("MATCH", code, "within its limits until", "Mira")
    on.sees_not("safe")
    on.picture("match")
    on.tap("button", "Fed, all gone")
    assert code in on.banner()


def _stopped(on: Journey, code: str) -> None:
    """What was drunk is gone; to check it again is a stop, without a way to feed it."""
    on.open("/check/")
    on.fill("Or type its code", code.lower())
    on.tap("button", "Check it")
    on.sees("STOP", code)
    assert on.page.get_by_role("button", name=re.compile("Fed|Drinking")).count() == 0
    on.picture("stop")


def _invite(on: Journey, name: str) -> str:
    on.tap("link", "More")
    on.tap("link", "People, and inviting them")
    on.tap("link", "Invite somebody")
    on.fill("Their name", name)
    on.choose("Carer")
    on.picture("invite")
    on.tap("button", "Make the invitation")
    return urlsplit(on.page.locator("#link").input_value()).path


def _join(browser: Browser, server: Server, path: str, name: str, *, script: bool) -> None:
    """The grandparent's phone: coming in, and a feed noted under their own name. The link opens nothing twice."""
    guest = Phone(screen(browser, java_script_enabled=script).new_page(), server)
    guest.open(path)
    guest.sees("Come in to Lisbon kitchen", name)
    guest.fill("Name to sign in with", name.replace(" ", "").lower())
    guest.fill("Password", PASSWORD)
    guest.tap("button", "Come in")
    guest.sees("Feed next", name)
    guest.tap("link", "More")
    guest.sees_not("Settings", "Outlook")
    guest.tap("link", "Log")
    guest.fill("How much?", "45")
    guest.tap("button", "Save")
    guest.tap("link", "History")
    guest.sees(name, "45 mL")
    guest.page.context.clear_cookies()
    guest.open(path)
    guest.sees("This invitation opens nothing now")
    assert guest.wrong == []
    guest.page.context.close()


def _hand_over(on: Journey, code: str) -> None:
    """A bottle goes to the service, its sheet is shown, and it comes back."""
    on.tap("link", "More")
    on.tap("link", "Hand over to childcare")
    box = on.page.locator(f'input[name=code][value="{code}"]')
    if not box.is_visible():
        on.touch(on.page.locator("summary", has_text="Something else"))
    on.page.locator("input[name=code]:checked").evaluate_all("all => all.forEach((one) => { one.checked = false })")
    box.check(force=True)
    on.tap("button", "Look before handing over")
    on.sees("Within both rules", code)
    on.tap("button", "Handed over")
    on.sees(code, "Milk for Kingfisher room", "Oregon")
    on.picture("sheet")
    on.open("/hand-over/back/")
    line = on.line(code)
    on.tap("button", "Back", within=line)
    assert code in on.banner()


@pytest.mark.parametrize(
    ("theme", "script"), WALKS, ids=[f"{theme}-{'script' if script else 'no_script'}" for theme, script in WALKS]
)
def test_the_way_of_handing_milk_over(
    browser: Browser, family: tuple[Server, Any], tmp_path: Path, theme: Theme, script: bool
) -> None:
    server, kept = family
    on = journey(browser, server, theme, script=script, storage_state=kept)
    on.open()
    code = on.log(80)
    _check(on, code, _label(on, code, tmp_path))
    _stopped(on, code)
    name = f"Tia {theme} {'one' if script else 'two'}"
    _join(browser, server, _invite(on, name), name, script=script)
    _hand_over(on, on.log(75))
    assert on.wrong == []
    on.page.context.close()
