"""A family's way through what lies ahead: how milk is used, tonight's chores, what to pack, how long it lasts."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator
from tests.browser import Server, Theme, browser, family
from tests.test_journey import TODAY, Journey, journey
from tests.test_journey_heat import WALKS

from thawline.faces.web.charts import BOTTOM

__all__ = ["browser", "family"]
pytestmark = [pytest.mark.slow, pytest.mark.timeout(300)]

# The place of a point beside those of two numbers on its scale, in parts of the scale: a line's own width.
CLOSE = 0.02
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


def _habits(on: Journey) -> None:
    """A time apart is added and taken off again; what milk is saved for stays."""
    on.open()
    on.tap("link", "More")
    on.tap("link", "Outlook")
    on.tap("link", "How we use our milk")
    on.tap("link", "Add a time apart")
    on.choose("Saturday")
    on.fill("From", "10:00")
    on.fill("To", "14:00")
    on.fill("Where?", "grandmother")
    on.tap("button", "Keep")
    on.sees("Saturday", "10:00", "grandmother")
    on.picture("habits")
    on.tap("link", "Mira Saturday")
    on.tap("button", "Take it off the list")
    on.sees_not("grandmother")
    on.open("/settings/habits/goal/")
    on.choose("A trip")
    on.fill("First day", (TODAY + timedelta(days=30)).isoformat())
    on.fill("Last day", (TODAY + timedelta(days=32)).isoformat())
    on.tap("button", "Keep")
    on.sees("The trip, ")


def _chores(on: Journey) -> Locator:
    return on.page.locator(".chore:has(form)")


def _tick(on: Journey) -> None:
    """One tap records a chore, one takes it back."""
    on.tap("link", "Now")
    on.tap("link", "Plan for tonight")
    on.sees("Next feeds", "at the latest", "The baby decides when and how much.")
    on.picture("plan")
    before = on.text(on.page.locator("main"))
    codes = [on.text(one) for one in _chores(on).first.locator(".code").all()]
    on.taps = 0
    with on.page.expect_navigation():
        on.touch(_chores(on).first.locator("form button"))
    assert on.taps == 1, "a chore takes one tap"
    # Of several containers the banner names one.
    assert any(code in on.banner() for code in codes)
    on.undo()
    on.sees(*codes, within=_chores(on).first)
    feeds = on.page.get_by_role("region", name="Next feeds")
    if on.pictures is not None:
        feeds.evaluate("one => one.scrollIntoView()")
        on.picture("feeds")
    assert on.text(on.page.locator("main"))[:40] == before[:40], "after the undo the plan is as it was"


def _number(text: str) -> float:
    found = NUMBER.search(text)
    assert found is not None, text
    return float(found[0].replace(",", ""))


def _drawn(figure: Locator) -> tuple[float, float]:
    """The first and the last value of the first line of a picture, as its scale tells them."""
    marks = [
        (float(one.get_attribute("y") or 0), _number(one.text_content() or ""))
        for one in figure.locator("svg.chart-drawn text.chart-end:not(.chart-says)").all()
    ]
    (low_y, low), (high_y, high) = max(marks), min(marks)
    path = figure.locator("svg.chart-drawn path.chart-line").first.get_attribute("d") or ""
    points = [float(y) for _x, y in re.findall(r"([\d.]+)[ ,]([\d.]+)", path)]
    each = (high - low) / (low_y - high_y)
    return (BOTTOM - points[0]) * each, (BOTTOM - points[-1]) * each


def _same_in_numbers(on: Journey) -> None:
    """Each picture's line begins and ends where its table does."""
    for figure in on.page.locator("main figure").all():
        on.touch(figure.locator("summary"))
        rows = figure.locator("tbody tr")
        told = [_number(on.text(rows.nth(n).locator("td").first)) for n in (0, rows.count() - 1)]
        top = max(_number(one) for one in figure.locator("svg text.chart-end:not(.chart-says)").all_text_contents())
        for drawn, said in zip(_drawn(figure), told, strict=True):
            assert abs(drawn - said) <= CLOSE * top, (on.text(figure.locator("figcaption")), drawn, said)


def _outlook(on: Journey) -> None:
    on.tap("link", "More")
    on.tap("link", "Outlook")
    on.sees("How long it lasts", "The trip", "These are ranges, not targets.")
    on.sees_not("express more")
    on.picture("outlook")
    if on.pictures is not None:
        on.page.locator("main figure").first.evaluate("one => one.scrollIntoView()")
        on.picture("outlook_days")
    _same_in_numbers(on)
    on.touch(on.page.locator("summary", has_text="What if"))
    on.fill("Sessions of expressing a day", "2")
    on.tap("button", "Show it")
    on.sees("With 2 sessions a day", "As it is now:")
    on.tap("link", "Back to how it is")


def _learn(on: Journey) -> None:
    """A complete day and a weight, each taken back."""
    on.tap("link", "Mark a day as complete")
    on.tap("button", "It is complete")
    assert "All feeds of Mira" in on.banner()
    on.undo()
    on.tap("link", "Note a weight")
    on.fill("Weight, in kg", "6.9")
    on.tap("button", "Note it")
    assert "6.9" in on.banner()
    on.undo()
    on.sees("What it learns from")


@pytest.mark.parametrize(
    ("theme", "script"), WALKS, ids=[f"{theme}-{'script' if script else 'no_script'}" for theme, script in WALKS]
)
def test_the_way_through_what_lies_ahead(
    browser: Browser, family: tuple[Server, Any], theme: Theme, script: bool
) -> None:
    server, kept = family
    on = journey(browser, server, theme, script=script, storage_state=kept)
    _habits(on)
    _tick(on)
    _outlook(on)
    _learn(on)
    assert on.wrong == []
    on.page.context.close()
