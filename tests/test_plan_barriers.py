"""The plan in a real browser: no barrier at any fold of it, and a chore ticked off and undone with a thumb."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser
from tests.browser import Phone, Server, browser, complaints, family, screen

__all__ = ["browser", "family"]
pytestmark = [pytest.mark.slow, pytest.mark.timeout(300)]


@pytest.fixture(params=[True, False], ids=["script", "no_script"])
def phone(browser: Browser, family: tuple[Server, Any], request: pytest.FixtureRequest) -> Iterator[Phone]:
    """The phone of somebody in the invented family, with script and without."""
    server, kept = family
    context = screen(browser, storage_state=kept, java_script_enabled=request.param)
    yield Phone(context.new_page(), server)
    context.close()


def _unfolded(phone: Phone, address: str) -> list[str]:
    phone.open(address)
    phone.page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
    return complaints(phone)


def test_the_plan_and_what_ticks_it_off_have_no_barrier(browser: Browser, family: tuple[Server, Any]) -> None:
    server, kept = family
    phone = Phone(screen(browser, storage_state=kept).new_page(), server)
    wrong = _unfolded(phone, "/plan/") + _unfolded(phone, "/plan/?days=14")
    forms = phone.page.locator('.chore a[href^="/plan/done/"]')
    seen = {str(one.get_attribute("href")) for one in forms.all()}
    kinds = {address.partition("does=")[2].partition("&")[0]: address for address in seen}
    assert kinds, seen
    for address in kinds.values():
        wrong += _unfolded(phone, address)
        phone.page.evaluate("document.querySelectorAll('[name=code]').forEach((one) => { one.checked = false; })")
        phone.tap("button", "It is done: record it")
        phone.sees("Tick at least one container.")
        wrong += complaints(phone)
    phone.page.context.close()
    assert not wrong + phone.wrong, "\n".join(wrong + phone.wrong)


def test_a_chore_is_ticked_off_with_one_tap_and_undone_with_one(phone: Phone) -> None:
    phone.open("/plan/")
    chore = phone.page.locator(".chore:has(form)").first
    codes = chore.locator(".code").all_inner_texts()
    phone.taps = 0
    with phone.page.expect_navigation():
        phone.touch(chore.locator("form button"))
    # Of several containers the banner names one.
    assert any(code in phone.banner() for code in codes)
    phone.tap("button", "Undo")
    assert phone.taps == 2
    again = phone.text(phone.page.locator(".chore:has(form)").first)
    assert all(code in again for code in codes)
    assert not phone.wrong, phone.wrong
