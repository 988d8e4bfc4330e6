"""A family's way through warm and cold on a phone: a power cut, a trip, a thaw, a thermometer's record."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser
from tests.browser import Server, Theme, browser, family
from tests.test_journey import PICTURES, TODAY, Journey, journey

__all__ = ["browser", "family"]
pytestmark = pytest.mark.slow

# Half an hour apart, with a comma for the tenths; 03/02 may be a day of February or of March.
RECORD = "When;Degrees\n" + "".join(
    f"03/02/{TODAY.year - 1} {n // 2:02d}:{30 * (n % 2):02d};{'8,2' if 9 < n < 15 else '3,6'}\n" for n in range(24)
)


def _power_cut(on: Journey) -> None:
    on.open()
    on.tap("link", "The power is out")
    on.taps = 0
    on.tap("button", "The power is out now")
    assert on.taps == 1, "when the power goes, one tap notes it"
    on.sees("No power since", "Keep the doors shut.", "How full is it?")
    on.picture("power")
    on.tap("button", "Half full")
    on.sees("✓ Half full", "Counts as cold until")
    on.tap("link", "Now")
    on.sees("The power is out since")
    assert on.page.get_by_role("button", name="Freeze: freezer").count() == 0, "nothing freezes without power"
    on.tap("link", "What holds until when")
    on.tap("button", "The power is back")
    on.tap("link", "Look all the same")
    freezer = on.page.get_by_role("region", name="freezer")
    rows = freezer.get_by_role("group").filter(has=on.page.locator("b.code"))
    frozen = rows.count()
    on.taps = 0
    for row in rows.all():
        on.choose("Ice still in it", within=row)
    on.picture("look")
    on.tap("button", "Record it")
    assert on.taps == frozen + 1, "a tap for each container, and one to record"
    assert "ice still there" in on.banner() and f"And {frozen - 1} more." in on.banner()


def _trip(on: Journey) -> None:
    on.tap("link", "More")
    on.tap("link", "Take milk along")
    if on.page.get_by_role("link", name="Plan a trip").count():
        on.tap("link", "Plan a trip")
    on.taps = 0
    picks = on.page.locator("main details").first
    on.touch(picks.locator("summary"))
    for row in picks.locator("label.pick").all()[:6]:
        on.touch(row)
    on.fill("Ice packs", "4")
    on.tap("button", "Work it out")
    on.sees("How long the packs last", "Count on", "What to use first")
    on.picture("trip")
    on.tap("link", "It goes in now")
    on.tap("button", "They are in the cooler")
    assert on.taps == 1 + 6 + 3, "six containers are planned and packed in ten taps"
    on.sees("In the cooler bag now", "Count on the packs until")
    on.picture("packed")
    on.tap("link", "Now")
    on.tap("link", "Milk is packed")
    on.tap("link", "Arrived: take it out")
    on.tap("button", "They are there")
    assert "And" in on.banner()
    on.sees_not("In the cooler bag now")


def _thaw(on: Journey) -> None:
    on.tap("link", "Stock")
    freezer = on.page.get_by_role("region", name="freezer")
    code = on.text(freezer.locator("a.code").first)
    on.look_at(code)
    on.touch(on.page.locator("summary", has_text="More you can do"))
    on.tap("link", "How long will it take?")
    on.sees("When is it thawed?", code, "Moved to fridge now", "estimated", "Thawed by")
    on.picture("thawed")
    on.tap("link", "Ask again")
    on.fill("Thawed by what time?", "06:00")
    on.tap("button", "Work it out")
    on.sees("06:00")
    on.tap("link", "Thaw: fridge")
    on.tap("button", "It is there now")
    assert code in on.banner()
    on.undo()


def _record(on: Journey, folder: Path) -> None:
    file = folder / "fridge.csv"
    file.write_text(RECORD, encoding="utf-8")
    on.tap("link", "More")
    on.tap("link", "Temperatures of a place")
    on.fill("Which place?", "nursery fridge (refrigerator)")
    on.page.get_by_label("The file, CSV or text").set_input_files(file)
    on.tap("button", "Look it through")
    on.sees("A question first", "Nothing is recorded yet.")
    on.choose(on.text(on.page.locator("label.pill").filter(has_text="February")))
    on.tap("button", "Go on")
    on.sees("what the file shows", "24 readings", "Above 4.4 °C", "8.2 °C", "Nothing is recorded yet.")
    on.page.locator("figure").scroll_into_view_if_needed()
    on.picture("record")
    on.tap("button", "Record it")
    on.sees("nursery fridge: its temperatures", "kept")
    on.undo()
    on.sees_not("8.2 °C")


# The dark pictures are the only thing that a third walk would add.
WALKS: list[tuple[Theme, bool]] = [("light", True), ("dark", False)]
if PICTURES:
    WALKS.append(("dark", True))


@pytest.mark.parametrize(
    ("theme", "script"), WALKS, ids=[f"{theme}-{'script' if script else 'no_script'}" for theme, script in WALKS]
)
def test_the_way_through_warm_and_cold(
    browser: Browser, family: tuple[Server, Any], tmp_path: Path, theme: Theme, script: bool
) -> None:
    server, kept = family
    on = journey(browser, server, theme, script=script, storage_state=kept)
    _power_cut(on)
    _trip(on)
    _thaw(on)
    _record(on, tmp_path)
    assert on.wrong == []
    on.page.context.close()
