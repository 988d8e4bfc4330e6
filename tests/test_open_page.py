"""A page left open, a wrong clock, and what is sent twice: no stale time is shown, and everything counts once."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Route
from tests.browser import Phone, Server, browser, family, screen

__all__ = ["browser", "family"]
pytestmark = pytest.mark.slow

LEFT = ".time-left"
# Ends every running animation at a moment of its time line, as a page that was open for so long has it.
AMOUNTS = map(str, itertools.count(201))
_TWICE = """() => {
  const form = document.querySelector('main form[method=post]');
  const send = () => fetch(form.action, { method: 'POST', body: new URLSearchParams(new FormData(form)) });
  return Promise.all([send(), send()]).then((both) => both.map((one) => one.status));
}"""
_AFTER = "ms => document.getAnimations().forEach((one) => { one.pause(); one.currentTime = ms; })"


@pytest.fixture(params=[True, False], ids=["script", "no script"])
def either(browser: Browser, family: tuple[Server, Any], request: pytest.FixtureRequest) -> Iterator[Phone]:
    """A signed-in phone, with JavaScript and without."""
    yield from _phone(browser, family, java_script_enabled=request.param)


@pytest.fixture
def phone(browser: Browser, family: tuple[Server, Any]) -> Iterator[Phone]:
    """A signed-in phone."""
    yield from _phone(browser, family)


def _phone(browser: Browser, family: tuple[Server, Any], **more: Any) -> Iterator[Phone]:
    server, kept = family
    context: BrowserContext = screen(browser, storage_state=kept, **more)
    yield Phone(context.new_page(), server)
    context.close()


def _logged(phone: Phone, ml: str) -> int:
    """How many sessions of this amount the history tells of."""
    phone.open("/history/")
    return phone.page.locator("main .past-line > li", has_text=f"({ml} mL)").count()


def test_times_left_vanish_by_style_alone_after_ninety_seconds(either: Phone) -> None:
    either.open()
    shown = either.page.locator(LEFT)
    assert shown.count() > 0
    either.page.evaluate(_AFTER, 89_000)
    assert all(one.is_visible() for one in shown.all())
    either.page.evaluate(_AFTER, 90_500)
    assert not any(one.is_visible() for one in shown.all())
    either.sees("Use by")


def test_the_script_hides_times_left_where_a_sleeping_phone_stopped_the_animation(phone: Phone) -> None:
    phone.page.clock.install(time=datetime.now(UTC))
    phone.open()
    shown = phone.page.locator(LEFT)
    phone.page.evaluate("document.getAnimations().forEach((one) => one.cancel())")
    phone.page.clock.run_for(80_000)
    assert shown.count() > 0 and all(one.is_visible() for one in shown.all())
    phone.page.clock.run_for(16_000)
    assert not any(one.is_visible() for one in shown.all())


@pytest.mark.parametrize("minutes", [-3, 3])
def test_a_phone_whose_clock_is_wrong_is_told_and_shows_no_time_left(phone: Phone, minutes: int) -> None:
    phone.page.clock.install(time=datetime.now(UTC) + timedelta(minutes=minutes))
    phone.open()
    phone.sees("A clock is wrong", "differ by 3 minutes", "Use by")
    assert not any(one.is_visible() for one in phone.page.locator(LEFT).all())


def test_a_phone_whose_clock_is_right_is_told_nothing(phone: Phone) -> None:
    phone.open()
    phone.sees_not("A clock is wrong")
    assert phone.page.locator(LEFT).first.is_visible()


def test_going_back_and_sending_again_counts_once(either: Phone) -> None:
    ml = next(AMOUNTS)
    either.open("/log/")
    either.fill("How much?", ml)
    either.tap("button", "Save")
    either.page.go_back()
    either.fill("How much?", ml)
    either.tap("button", "Save")
    assert f"({ml} mL)" in either.banner()
    assert _logged(either, ml) == 1


def test_a_double_tap_counts_once(either: Phone) -> None:
    ml = next(AMOUNTS)
    either.open("/log/")
    either.fill("How much?", ml)
    either.page.get_by_role("button", name="Save").dblclick()
    either.page.wait_for_url("**/?done=*")
    assert f"({ml} mL)" in either.banner()
    assert _logged(either, ml) == 1


def test_a_form_that_arrives_twice_at_one_moment_counts_once(phone: Phone) -> None:
    ml = next(AMOUNTS)
    phone.open("/log/")
    phone.fill("How much?", ml)
    statuses = phone.page.evaluate(_TWICE)
    assert statuses == [200, 200]
    assert _logged(phone, ml) == 1


def test_sending_again_after_the_answer_was_lost_counts_once(either: Phone) -> None:
    ml = next(AMOUNTS)

    def lose(route: Route) -> None:
        if route.request.method == "POST":
            route.fetch(max_redirects=0)
            route.abort("connectionreset")
        else:
            route.continue_()

    either.open("/log/")
    either.fill("How much?", ml)
    form = either.page.url.removeprefix(either.server.address)
    either.page.route("**/log/**", lose)
    with either.page.expect_event("requestfailed"):
        either.page.get_by_role("button", name="Save").tap()
    either.page.unroute("**/log/**")
    either.open(form)
    either.fill("How much?", ml)
    either.tap("button", "Save")
    assert f"({ml} mL)" in either.banner()
    assert _logged(either, ml) == 1
