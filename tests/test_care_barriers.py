"""What a childcare worker sees, and a parent who hands over, in a real browser: no barrier, in both themes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser
from tests.browser import Phone, Server, browser, complaints, family, screen

from thawline.faces.web.views.care_verbs import VERBS

__all__ = ["browser", "family"]
pytestmark = [pytest.mark.slow, pytest.mark.timeout(600)]

SERVICE = "/?service=Kingfisher+room"


def _signed_in(browser: Browser, family: tuple[Server, Any], name: str) -> Phone:
    """The phone of someone of the invented family's people, by the password that the server printed."""
    server = family[0]
    word = next(found[1] for line in server.said if (found := re.search(r"password (\S+)", line)))
    phone = Phone(screen(browser).new_page(), server)
    phone.open()
    phone.fill("Name to sign in with", name)
    phone.fill("Password", word)
    phone.tap("button", "Sign in")
    return phone


@pytest.fixture
def staff(browser: Browser, family: tuple[Server, Any]) -> Iterator[Phone]:
    """Nadia, who works at the service."""
    found = _signed_in(browser, family, "nadia")
    yield found
    found.page.context.close()


@pytest.fixture
def parent(browser: Browser, family: tuple[Server, Any]) -> Iterator[Phone]:
    """Marta, the owner."""
    server, kept = family
    context = screen(browser, storage_state=kept)
    yield Phone(context.new_page(), server)
    context.close()


def _window(phone: Phone) -> tuple[str, list[str]]:
    """The address of the family's window, and the codes that stand there."""
    phone.open("/care/")
    tag = (phone.page.locator("main h2 a").first.get_attribute("href") or "").split("/")[2]
    return f"/care/{tag}/", phone.page.locator("main .care-lines a.code").all_inner_texts()


def _all(phone: Phone, paths: list[str]) -> dict[str, list[str]]:
    wrong: dict[str, list[str]] = {}
    for path in paths:
        phone.open(path)
        phone.page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        wrong[path] = complaints(phone)
    return {path: found for path, found in wrong.items() if found}


def test_no_page_of_the_window_has_a_barrier(staff: Phone) -> None:
    window, codes = _window(staff)
    code = codes[-1]
    pages = ["/care/", "/care/day/", window, f"{window}day/", f"{window}sheet/", f"{window}do/measured/", "/check/"]
    pages += [f"{window}milk/?code={one}" for one in codes]
    pages += [f"{window}do/{verb}/?code={code}" for verb in VERBS]
    pages += ["/mix-up/", "/homes/", "/settings/phones/", "/passkeys/"]
    assert _all(staff, pages) == {}
    assert staff.wrong == []


def _tick(parent: Phone, most: int) -> None:
    """On the first page of handing over, tick the first containers that are within their limits."""
    parent.open(f"/hand-over{SERVICE}")
    parent.page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
    for box in parent.page.locator("main label.pick:has([data-standing=fine]), main label[data-standing=fine]").all()[
        :most
    ]:
        box.locator("input[name=code]").check(force=True)
    parent.tap("button", "Look before handing over")


def test_what_staff_note_and_undo_has_no_barrier_nor_has_it_with_something_to_mend(parent: Phone, staff: Phone) -> None:
    wrong: dict[str, list[str]] = {}
    _tick(parent, 2)
    with parent.page.expect_navigation():
        parent.page.locator(".thumb-actions button[form=over]").first.tap()
    parent.sees("Milk for Kingfisher room", within=parent.page.locator("main"))
    wrong["handed over"] = complaints(parent)
    window, codes = _window(staff)
    wrong["to arrive"] = complaints(staff)
    arrived = staff.page.get_by_role("button", name=re.compile("arrived"))
    assert arrived.count() == 1
    staff.tap("button", "All")
    staff.sees("received, into the refrigerator", within=staff.page.get_by_role("status", name="Just recorded"))
    wrong["arrived"] = complaints(staff)
    staff.tap("button", "Undo")
    assert arrived.count() == 1
    staff.open(f"{window}do/began/?code={codes[-1]}")
    with staff.page.expect_navigation():
        staff.page.locator("button[form=note]").tap()
    staff.sees("Choose which child drinks")
    wrong["to mend"] = complaints(staff)
    staff.choose("Another child")
    with staff.page.expect_navigation():
        staff.page.locator("button[form=note]").tap()
    staff.sees("Stop: this milk is only for the child named on it")
    wrong["stopped"] = complaints(staff)
    staff.open(f"{window}do/measured/")
    staff.tap("button", "Note it")
    wrong["no temperature"] = complaints(staff)
    assert {key: found for key, found in wrong.items() if found} == {}
    assert staff.wrong == []


def test_from_the_hand_over_to_what_came_back_has_no_barrier(parent: Phone) -> None:
    paths = [f"/hand-over{SERVICE}", f"/hand-over/sheet{SERVICE}", f"/hand-over/back{SERVICE}", "/settings/services/"]
    wrong = _all(parent, paths)
    _tick(parent, 3)
    parent.sees("Within both rules")
    wrong["look"] = complaints(parent)
    parent.open(f"/hand-over{SERVICE}&look=1")
    parent.sees("Tick what you hand over")
    wrong["nothing ticked"] = complaints(parent)
    parent.open(f"/hand-over/back{SERVICE}")
    parent.touch(parent.page.locator("summary", has_text="Type what the paper says"))
    parent.choose("Fed", within=parent.page.locator("#what-0"))
    parent.page.locator("#left-0").fill("abc")
    parent.tap("button", "Record it")
    wrong["to mend"] = complaints(parent)
    assert {key: found for key, found in wrong.items() if found} == {}
    assert parent.wrong == []


def test_an_invitation_from_its_making_to_its_end_has_no_barrier(
    browser: Browser, parent: Phone, family: tuple[Server, Any]
) -> None:
    wrong: dict[str, list[str]] = {}
    parent.open("/settings/people/invite/")
    wrong["invite"] = complaints(parent)
    parent.fill("Their name", "Ilse")
    parent.page.locator("input[name=role]").first.check(force=True)
    parent.page.locator("input[name=hours]").first.check(force=True)
    parent.tap("button", "Make the invitation")
    wrong["made"] = complaints(parent)
    link = urlsplit(parent.page.locator("textarea#link").input_value()).path
    guest = Phone(screen(browser).new_page(), family[0])
    guest.open(link)
    guest.sees("Ilse")
    wrong["join"] = complaints(guest)
    guest.open("/join/" + "x" * 43 + "/")
    wrong["spent"] = complaints(guest)
    guest.page.context.close()
    assert {key: found for key, found in wrong.items() if found} == {}
    assert parent.wrong == []


def test_calendar_labels_and_passkeys_have_no_barrier(parent: Phone) -> None:
    parent.open("/settings/calendar/")
    with parent.page.expect_navigation():
        parent.page.locator("main form[method=post] button").first.tap()
    wrong = {"calendar made": complaints(parent)}
    wrong |= _all(parent, ["/labels/", "/settings/labels/", "/passkeys/", "/settings/phones/", "/mix-up/"])
    assert {key: found for key, found in wrong.items() if found} == {}
    assert parent.wrong == []
