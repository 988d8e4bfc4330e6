"""The pages of a check and of a mix-up in a real browser: no barrier, nothing too wide or small, no script needed."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser
from tests.browser import Phone, Server, browser, complaints, family, screen
from tests.check_families import photo

__all__ = ["browser", "family"]
pytestmark = pytest.mark.slow


def _phone(browser: Browser, family: tuple[Server, Any], **more: Any) -> Phone:
    server, kept = family
    return Phone(screen(browser, storage_state=kept, **more).new_page(), server)


def _code(phone: Phone) -> str:
    """The code of what is to be fed next."""
    phone.open()
    return phone.text(phone.page.locator("section.next .code").first)


def _check(phone: Phone, code: str) -> None:
    phone.open("/check/")
    if not phone.page.locator("input[name=child]:checked").count():
        phone.page.locator("input[name=child]").first.check(force=True)
    phone.fill("Or type its code", code)
    phone.tap("button", "Check it")


def test_every_page_of_a_check_is_without_barriers(browser: Browser, family: tuple[Server, Any]) -> None:
    phone = _phone(browser, family)
    code = _code(phone)
    wrong: dict[str, list[str]] = {}
    for name, ask in (("match", code), ("stop", "ZZ99")):
        _check(phone, ask)
        wrong[name] = complaints(phone)
        assert phone.page.locator(f"section.check-{name}").count() == 1
    for path in ("/check/", f"/milk/{code}/", "/mix-up/", "/history/?kind=checks"):
        phone.open(path)
        wrong[path] = complaints(phone)
    phone.open("/check/")
    phone.tap("button", "Check it")
    wrong["to mend"] = complaints(phone)
    assert {key: found for key, found in wrong.items() if found} == {}
    assert phone.wrong == []


def test_the_word_stands_on_the_first_screen_and_the_button_at_the_thumb(
    browser: Browser, family: tuple[Server, Any]
) -> None:
    phone = _phone(browser, family)
    code = _code(phone)
    for ask in (code, "ZZ99"):
        _check(phone, ask)
        sign = phone.page.locator("section.check h1").bounding_box()
        button = phone.page.locator(".thumb-actions .button").first.bounding_box()
        height = phone.page.evaluate("innerHeight")
        assert sign is not None and sign["y"] + sign["height"] < height / 2
        assert sign["height"] >= 40
        assert button is not None and button["y"] > height / 2


def test_a_photo_is_read_without_script_and_without_encryption(browser: Browser, family: tuple[Server, Any]) -> None:
    phone = _phone(browser, family, java_script_enabled=False)
    code = _code(phone)
    phone.open(f"/milk/{code}/")
    address = phone.page.locator("main a[href^='/check/?']").first.get_attribute("href") or ""
    tag = address.partition("tag=")[2].partition("&")[0]
    phone.open("/check/")
    if not phone.page.locator("input[name=child]:checked").count():
        phone.page.locator("input[name=child]").first.check(force=True)
    label = photo(f"HTTP://THAWLINE.LAN/L/{tag}/{code}")
    upload = {"name": "label.png", "mimeType": "image/png", "buffer": label.read()}
    phone.page.locator("input[name=photo]").set_input_files(upload)  # type: ignore[arg-type]
    phone.tap("button", "Check it")
    phone.sees("MATCH", code)
