"""No page has a barrier that can be found by rule: in both themes, at two widths, and where something is to mend."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser
from tests.browser import Phone, Server, browser, complaints, family, screen, served
from tests.test_sweeps import addresses

from thawline.faces.web.views import milk, stock_many

__all__ = ["browser", "family"]
pytestmark = [pytest.mark.slow, pytest.mark.timeout(600)]

# Answers no page of their own, or end the session.
NO_PAGE = {
    *("web:undo", "account_logout", "account_login", "web:begin", "calendar:read", "web:table", "web:health_record"),
    *("sheets:labels", "sheets:blank_labels", "sheets:hand_over", "sheets:summary", "sheets:bank_log"),
}
# Everything emptied or senseless, and a time asked for but not given.
_SPOIL = """() => {
  const form = document.querySelector('main form[method=post]');
  if (!form) return false;
  for (const one of form.elements) {
    if (one.type === 'text') one.value = 'abc';
    else if (one.type === 'date' || one.type === 'password' || one.tagName === 'SELECT') one.value = '';
    else if (one.type === 'radio') one.checked = one.value === 'at';
    else if (one.name === 'act') one.value = crypto.randomUUID();
  }
  form.submit();
  return true;
}"""


@pytest.fixture
def phone(browser: Browser, family: tuple[Server, Any]) -> Iterator[Phone]:
    """The phone of somebody in the invented family."""
    server, kept = family
    context = screen(browser, storage_state=kept)
    yield Phone(context.new_page(), server)
    context.close()


def _values(phone: Phone) -> dict[str, list[str]]:
    """What the addresses of this household are made of: one container for every verb, one entry."""
    phone.open("/stock/")
    fridge = phone.page.get_by_role("region", name="fridge")
    code = fridge.locator("li", has_text="Within its limits").locator("a.code").first.inner_text()
    phone.open("/history/")
    entry = phone.page.get_by_role("link", name=re.compile("^Correct")).first.get_attribute("href") or ""
    event = entry.strip("/").rpartition("/")[2]
    phone.open("/settings/people/")
    member = phone.page.locator('a[href^="/settings/people/"]', has_text="Celeste").first.get_attribute("href") or ""
    tag, act = _checked(phone, code)
    return {
        "code": [code], "verb": list(milk.VERBS), "event_id": [event], "act": [event], "pk": ["1"],
        "secret": ["x" * 43], "key": re.findall(r"\d+", member)[-1:], "tag": [tag], "web:check_done.act": [act],
    }  # fmt: skip


def _checked(phone: Phone, code: str) -> tuple[str, str]:
    """A check of this container, and what its address is made of: the household's tag, the check's act."""
    phone.open("/check/")
    phone.page.locator("input[name=code]").fill(code)
    phone.tap("button", "Check it")
    found = re.search(r"/check/(\w+)/([\w-]+)/", phone.page.url)
    assert found is not None, phone.page.url
    return found[1], found[2]


def _codes(phone: Phone) -> dict[str, str]:
    """One container of each standing and form, by what the stock says of it."""
    phone.open("/stock/")
    found: dict[str, str] = {}
    for one in phone.page.locator("main li:has(a.code)").all():
        standing = one.locator(".standing").inner_text()
        form = next((word for word in ("thawing", "thawed", "frozen", "fresh") if word in one.inner_text()), "")
        found.setdefault(f"{standing}, {form}", one.locator("a.code").inner_text())
    return found


def test_no_page_has_a_barrier_nor_has_it_with_something_to_mend(phone: Phone) -> None:
    wrong: list[str] = []
    pages = mended = 0
    for name, address in addresses(_values(phone)):
        if name in NO_PAGE:
            continue
        if phone.page.request.get(phone.server.address + address).status != 200:
            continue
        phone.open(address)
        pages += 1
        wrong += complaints(phone)
        with phone.page.expect_navigation() if phone.page.locator("main form[method=post]").count() else nullcontext():
            spoiled = phone.page.evaluate(_SPOIL)
        if spoiled and phone.page.locator(".field-error, #problems, [aria-invalid]").count():
            mended += 1
            wrong += complaints(phone)
    _fails(wrong, phone)
    assert pages > 40 and mended > 15, (pages, mended)


def _fails(wrong: list[str], *phones: Phone) -> None:
    found = wrong + [one for phone in phones for one in phone.wrong]
    assert not found, "\n".join(found)


def test_containers_of_every_standing_have_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    codes = _codes(phone)
    assert len(codes) > 3, codes
    for code in codes.values():
        phone.open(f"/milk/{code}/")
        wrong += complaints(phone)
    _fails(wrong, phone)


def test_acts_on_several_have_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    chosen = "&".join(f"code={code}" for code in _codes(phone).values())
    for verb in ("", *stock_many.VERBS):
        phone.open(f"/stock/many/?{chosen}&verb={verb}")
        wrong += complaints(phone)
    for address in ("/stock/?by=age", "/guidelines/?see=nhmrc", "/guidelines/switch/?to=nhmrc", "/paper/?blank=1"):
        phone.open(address)
        wrong += complaints(phone)
    _fails(wrong, phone)


def test_questions_and_previews_have_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    phone.open("/stock/enter/")
    phone.fill("Amount, mL", "90", within=phone.page.get_by_role("group", name="Row 1"))
    phone.tap("button", "Look it through")
    wrong += complaints(phone)
    phone.open("/stock/paste/")
    phone.fill("From a spreadsheet or from your notes", "110\t02/03/2026\tfreezer\n70\t05/03/2026\tattic")
    phone.tap("button", "Go on")
    wrong += complaints(phone)
    phone.choose("2 March")
    phone.tap("button", "Go on")
    wrong += complaints(phone)
    phone.open("/paper/enter/")
    line = phone.page.get_by_role("group", name="Line 1")
    phone.fill("What happened", "expressed", within=line)
    phone.fill("Amount, mL", "85", within=line)
    phone.tap("button", "See what it records")
    phone.sees("Is this right?")
    wrong += complaints(phone)
    _fails(wrong, phone)


def test_the_question_before_a_breach_and_pouring_have_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    phone.open("/log/")
    phone.fill("How much?", "75")
    phone.tap("button", "Save")
    code = re.findall(r"[A-Z]{2}\d\d", phone.banner())[0]
    wrong += complaints(phone)
    phone.open(f"/milk/{code}/pour/")
    wrong += complaints(phone)
    phone.tap("button", "Show what it gives")
    phone.sees("It would give")
    wrong += complaints(phone)
    for place in ("freezer", "fridge", "ice", "freezer"):
        phone.open(f"/milk/{code}/{'ice' if place == 'ice' else 'to'}/")
        phone.choose("No ice left" if place == "ice" else place)
        phone.tap("button", "Record" if place == "ice" else "It is there now")
    phone.sees("One moment")
    wrong += complaints(phone)
    phone.tap("button", "It happened: record it")
    phone.open(f"/milk/{code}/")
    phone.sees("A rule was broken")
    wrong += complaints(phone)
    _fails(wrong, phone)


def _unfold(phone: Phone) -> None:
    """Open everything that is folded away."""
    phone.page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")


def _one_of(codes: dict[str, str], form: str) -> str:
    return next(code for says, code in codes.items() if says.endswith(form))


def test_answered_questions_of_warm_and_cold_have_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    codes = _codes(phone)
    frozen, fresh = _one_of(codes, "frozen"), _one_of(codes, "fresh")
    for address in (
        f"/heat/thaw/?code={frozen}",
        f"/heat/thaw/?code={frozen}&again=1",
        "/heat/thaw/?ml=120&shape=flat&across=18&temp=0",
        "/heat/thaw/?ml=120&temp=-5",
        "/heat/thaw/?code=&ml=&temp=abc&across=-1",
        f"/heat/freeze/?code={fresh}",
        f"/heat/warm/?code={frozen}&water=2&water_c=60",
        "/heat/warm/?ml=120&water=0.3",
        f"/heat/cool/?code={fresh}",
        f"/heat/measure/?code={frozen}",
    ):
        phone.open(address)
        _unfold(phone)
        wrong += complaints(phone)
    _fails(wrong, phone)


def test_a_trip_from_the_plan_to_the_arrival_has_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    codes = _codes(phone)
    chosen = "&".join(f"code={_one_of(codes, form)}" for form in ("frozen", "fresh"))
    outfit = f"{chosen}&size=foam&packs=3&grams=400&touch=yes&outside=25&hours=6&water=yes&openings=4"
    there = f"{outfit}&zone=Europe/Lisbon&there=Asia/Tokyo&empty=2&empty_ml=100"
    for address in (
        f"/trip/?{outfit}",
        f"/trip/?{there}",
        "/trip/?plan=1&packs=abc&outside=900",
        f"/trip/list/?{there}",
    ):
        phone.open(address)
        _unfold(phone)
        wrong += complaints(phone)
    phone.open(f"/trip/?{outfit}")
    phone.tap("link", "It goes in now")
    wrong += complaints(phone)
    phone.tap("button", "They are in the cooler")
    wrong += complaints(phone)
    phone.open("/stock/")
    phone.tap("link", "On the way")
    phone.tap("link", "Arrived: take it out")
    wrong += complaints(phone)
    phone.tap("button", "They are there")
    wrong += complaints(phone)
    _fails(wrong, phone)


def test_a_power_cut_from_its_first_minute_to_the_last_container_has_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    phone.open("/power/")
    phone.tap("button", "The power is out now")
    wrong += complaints(phone)
    phone.tap("button", "Half full")
    _unfold(phone)
    wrong += complaints(phone)
    for address in ("/", "/power/times/", "/power/warming/", "/power/look/"):
        phone.open(address)
        wrong += complaints(phone)
    phone.open("/power/")
    phone.tap("button", "The power is back")
    wrong += complaints(phone)
    phone.open("/power/look/")
    phone.choose("Ice still in it")
    phone.tap("button", "Show what follows")
    wrong += complaints(phone)
    phone.tap("button", "Record it")
    phone.open("/power/look/")
    wrong += complaints(phone)
    _fails(wrong, phone)


def test_a_record_of_a_thermometer_has_no_barrier(phone: Phone) -> None:
    wrong: list[str] = []
    lines = "".join(f"03/02/2026 {hour:02d}:00;{'8,2' if 4 < hour < 9 else '3,6'}\n" for hour in range(24))
    phone.open("/readings/")
    phone.touch(phone.page.locator("summary", has_text="Paste it instead"))
    phone.fill("Its lines", "When;Degrees\n" + lines)
    phone.tap("button", "Look it through")
    phone.sees("A question first")
    wrong += complaints(phone)
    phone.choose("Tuesday 3 February")
    phone.tap("button", "Go on")
    _unfold(phone)
    wrong += complaints(phone)
    phone.tap("button", "Record it")
    phone.sees("its temperatures")
    wrong += complaints(phone)
    _fails(wrong, phone)


def test_what_a_stranger_sees_has_no_barrier(browser: Browser, family: tuple[Server, Any], tmp_path: Path) -> None:
    wrong: list[str] = []
    with served(tmp_path) as fresh:
        new = Phone(screen(browser).new_page(), fresh)
        for path in ("/begin/", "/cautions/", "/https/"):
            new.open(path)
            wrong += complaints(new)
        new.open("/begin/")
        with new.page.expect_navigation():
            new.page.evaluate(_SPOIL)
        new.sees("Set up your household")
        wrong += complaints(new)
        new.page.context.close()
    stranger = Phone(screen(browser).new_page(), family[0])
    stranger.open("/sign-in/")
    wrong += complaints(stranger)
    stranger.fill("Name to sign in with", "marta")
    stranger.fill("Password", "not-the-right-one")
    stranger.tap("button", "Sign in")
    wrong += complaints(stranger)
    stranger.page.context.close()
    _fails(wrong, new, stranger)
