"""Of milk that is handed over, no time printed or shown is later than the core's under the rules named beside it.

Random ledgers; the core is asked by a replay of the whole ledger, not by what the pages keep. No other source.
"""

from __future__ import annotations

import io
import re
import uuid
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import icalendar
import pdfplumber
import pytest
from bs4 import BeautifulSoup
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.pages import Family
from tests.people import childcare as others_at
from tests.people import service
from tests.strategies import (
    CHILDREN,
    COMMON,
    DAY,
    EPOCH,
    NAMES,
    SELDOM,
    STARTS,
    ZONES,
    Json,
    Story,
    gaps,
    lines,
    stories,
    text,
)

from thawline.core.guideline import shipped, shipped_ids
from thawline.core.replay import run
from thawline.core.times import HOUR, MINUTE
from thawline.core.verdict import Verdict
from thawline.faces.calendar.read import uid, written
from thawline.faces.handing import ends, handing
from thawline.faces.sheets.label_words import pieces, stamp
from thawline.faces.words import words_for
from thawline.records.accounts.models import Service
from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore
from thawline.services import agenda, checking_why, childcare, labels, recording, tags
from thawline.services.calendar_links import Opened
from thawline.services.checking import Asked, check
from thawline.services.ledger_bounds import of_ledger
from thawline.services.people import Home
from thawline.services.tags import Read

OAK, FRIDGE, FREEZER = "Oak room", "Oak room refrigerator", "Oak room freezer"
RULES = ("", *(one for one in shipped_ids() if shipped(one).role == "childcare"))
WITHIN = ("fine", "soon")
MIDNIGHT = int(EPOCH.timestamp()) * 1_000_000
few = settings(
    max_examples=max(12, settings().max_examples // 2),
    suppress_health_check=[*settings().suppress_health_check, HealthCheck.function_scoped_fixture],
)


class Handed(NamedTuple):
    """A household's ledger, the rule of its childcare service, and the minute at which somebody looks."""

    events: list[Json]
    rule: str
    minute: int

    @property
    def now(self) -> int:
        """The same as an instant."""
        return MIDNIGHT + self.minute * MINUTE


@st.composite
def handed(draw: st.DrawFn) -> Handed:
    """A random story, some of whose milk then goes to a service, and on from there."""
    story: Story = draw(stories(sloppy=draw(st.booleans()), voids=True, most=8, acts=COMMON * 2 + SELDOM))
    first = text(story.last - 900 * DAY)
    events = [_set(one, draw, story) for one in story.events]
    for place, kind, temps in ((FRIDGE, "refrigerator", (None, 3.0, 5.0, 9.0)), (FREEZER, "freezer", (None, -18.0))):
        temp = draw(st.sampled_from(temps))
        event = {"id": f"p-{kind}-oak", "at": first, "kind": "place", "place": place, "is": kind}
        events.append(event if temp is None else {**event, "temp_c": temp})
    minute, number = story.last, 0
    for name in draw(st.lists(st.sampled_from(NAMES[:3]), min_size=1, max_size=3, unique=True)):
        into = draw(st.sampled_from([FRIDGE, FRIDGE, FREEZER, None]))
        steps: list[Json] = [{"kind": "handed_over", "to": OAK, **({"place": into} if into else {})}]
        more = {
            "received": {"kind": "received", "place": into or FRIDGE}, "thaw": {"kind": "moved", "to": FRIDGE},
            "warmed": {"kind": "warmed", "how": "warm_water"}, "feed": {"kind": "feed_began", "child": "mia"},
            "back": {"kind": "returned", "place": draw(st.sampled_from(["fridge", "freezer", "room"]))},
        }  # fmt: skip
        steps += [more[one] for one in draw(st.lists(st.sampled_from(sorted(more)), max_size=3))]
        for step in steps:
            minute, number = minute + 1 + draw(gaps(2 * DAY)), number + 1
            events.append({"id": f"o{number:02}", "at": text(minute), "container": name, **step})
    return Handed(events, draw(st.sampled_from(RULES)), minute + draw(gaps(3 * DAY)))


def _set(event: Json, draw: st.DrawFn, story: Story) -> Json:
    if event["id"] == "h":
        units = draw(st.sampled_from([["ml", "C"], ["fl_oz", "F"]]))
        return {**event, "guideline": story.guideline, "also": list(story.also), "units": units}
    if event["id"] == f"c-{CHILDREN[0]}":
        return {**event, "care": draw(st.sampled_from(["home", "home", "hospital"]))}
    return event


def kept(found: Handed) -> Home:
    """That ledger as a household with its service, the owner looking."""
    house = Household.objects.create(pk=uuid.uuid4(), name="Home")
    store = DatabaseStore(house.pk)
    Service.objects.create(household=house, name=OAK, rule=found.rule, place=FRIDGE)
    recording.record(store, lines(found.events), now=found.now)
    return Home(store, "Home", "Marta", "owner", {})


def core(home: Home, now: int, rule: str = "", more: list[Json] | None = None) -> dict[str, Verdict]:
    """All verdicts by a replay of the whole ledger, with a service's rule beside the household's, if there is one."""
    told = [*home.store.lines(), *lines(more or [])]
    own = run(told, now=now).also
    also = dict.fromkeys([*(one.id for one in own), *([rule] if rule else [])])
    found = run(told, now=now, also=also, bounds=of_ledger(told, now=now))
    return {one.container: one for one in found.verdicts}


def receipts(home: Home, now: int) -> list[Json]:
    """What was handed over into a place there and of which nobody noted that it arrived, as if it had been noted."""
    part = run(list(home.store.lines()), now=now).fold
    refused = {one.event for one in part.refused}
    found: dict[str, Json] = {}
    for entry in part.entries:
        event: Any = entry.event
        kind = type(event).__struct_config__.tag
        if entry.id in refused or kind not in ("handed_over", "received"):
            continue
        found.pop(event.container, None) if kind == "received" else None
        if kind == "handed_over" and event.to == OAK and event.place is not None:
            at = text((entry.at - MIDNIGHT) // MINUTE)
            found[event.container] = {
                "id": f"{entry.id}~r", "at": at, "kind": "received", "container": event.container,
                "place": event.place,
            }  # fmt: skip
    return list(found.values())


def expected(home: Home, found: Handed) -> dict[str, Verdict]:
    """What counts for each container: at the service both rules, elsewhere the household's."""
    there = childcare.in_window(home.store, OAK, now=found.now)
    both = core(home, found.now, found.rule, receipts(home, found.now)) if there else {}
    return {name: both[name] if name in there else one for name, one in core(home, found.now).items()}


def timed(one: Verdict) -> int | None:
    """Until when it may be used; None where no time may stand beside it."""
    return one.use_by if one.standing in WITHIN else None


@pytest.mark.slow
@few
@given(handed())
def test_a_label_says_the_cores_time_or_none(db: None, found: Handed) -> None:
    home = kept(found)
    wanted, own = expected(home, found), core(home, found.now)
    sheet = labels.sheet(home, NAMES, now=found.now, base="https://x.example")
    assert {one.code for one in sheet.labels} == set(wanted)
    words = words_for(sheet.zone, found.now, sheet.units)
    for one in sheet.labels:
        use_by, best_by = one.dated("use_by"), one.dated("best_by")
        assert (use_by.at if use_by else None) == timed(wanted[one.code])
        if use_by is not None and timed(own[one.code]) is not None:
            assert use_by.at is not None
            assert use_by.at <= (own[one.code].use_by or 0)
        assert best_by is None or (use_by is not None and (best_by.at or 0) <= (use_by.at or 0))
        said = {piece.key for piece in pieces(one, words)}
        assert ("use_by" in said) is (use_by is not None)
        # Without a time a bar says why.
        assert ("warn" in said) is (use_by is None)


@pytest.mark.slow
@few
@given(handed())
def test_the_hand_over_sheet_says_the_cores_time_under_the_rules_that_it_names(db: None, found: Handed) -> None:
    home = kept(found)
    wanted = expected(home, found)
    sheet = handing(home, childcare.services(home.store)[0], now=found.now, base="https://x.example")
    zone = run(list(home.store.lines()), now=found.now).settings.zone
    words = words_for(zone, found.now, ("ml", "C"))
    assert {row.code for row in sheet.rows} == set(childcare.in_window(home.store, OAK, now=found.now))
    assert sheet.rule == (shipped(found.rule).name if found.rule else "")
    named = {name for name, _source in sheet.guidelines}
    assert not sheet.rule or sheet.rule in named
    for row in sheet.rows:
        at = timed(wanted[row.code])
        estimated = ", estimated" if wanted[row.code].estimated else ""
        assert row.until == ("" if at is None else ends(at, words) + estimated)
        assert bool(row.until or row.standing)
        # A gap's stand-in is another guideline's, and says so.
        assert row.by in named | {""} or "gives no figure" in row.says


@pytest.mark.slow
@few
@given(handed())
def test_the_calendar_says_the_cores_time_and_nothing_of_milk_without_one(db: None, found: Handed) -> None:
    home = kept(found)
    wanted = {name: at for name, one in expected(home, found).items() if (at := timed(one)) is not None}
    dues = agenda.agenda(home, now=found.now, days=agenda.FAR_DAYS)
    assert {one.container: one.by for one in dues if one.kind == "use"} == wanted
    for one in dues:
        if one.kind in ("freeze", "thaw"):
            assert one.container in wanted
            assert one.by <= wanted[one.container]
        assert not one.may_freeze or one.by == wanted[one.container]
        assert one.best_by is None or one.best_by <= one.by
    data = icalendar.Calendar.from_ical(written(Opened(home, agenda.KINDS), now=found.now, base=None))
    starts = {str(event["UID"]): event.get("DTSTART").dt for event in data.walk("VEVENT")}
    for name, at in wanted.items():
        said = starts[uid(home.store.key, agenda.key_of("use", name))]
        shown = (said - EPOCH) // timedelta(microseconds=1) + MIDNIGHT
        assert shown <= at
        assert at - shown < MINUTE


@pytest.mark.slow
@few
@given(handed())
def test_a_match_is_within_the_cores_limits_and_for_that_child(db: None, found: Handed) -> None:
    owner = kept(found)
    staff = owner._replace(member="Iris", role="childcare", service=OAK)
    hospital = run(list(owner.store.lines()), now=found.now).settings.hospital
    seen = expected(owner, found)
    there = childcare.in_window(owner.store, OAK, now=found.now)
    tag = tags.tag_of(owner.store)
    for home in (owner, staff):
        for child in (*CHILDREN, "Mia", "mia + ben"):
            for name, one in seen.items():
                for read, typed in ((Read(tag, name), False), (Read(None, name.lower()), True)):
                    if check([home], Asked(home, child, read, typed), now=found.now).found == "stop":
                        continue
                    assert timed(one) is not None
                    assert one.form != "frozen"
                    assert one.form != "thawing" or one.warmed is not None
                    assert child in CHILDREN
                    assert child not in hospital
                    assert one.meant_for is None or child in one.meant_for.split(" + ")
                    assert home is owner or name in there


@given(st.sampled_from(STARTS), st.integers(0, 4 * DAY * 60), st.sampled_from(ZONES))
def test_a_printed_end_read_back_is_within_the_minute_before_it(start: int, second: int, zone: str) -> None:
    # Around the days on which the clocks change; the hour that comes twice names its zone.
    at = MIDNIGHT + start * MINUTE + second * (MINUTE // 60)
    words = words_for(zone, at - 3 * HOUR)
    said = stamp(labels.Dated("use_by", at), words).replace("\N{NO-BREAK SPACE}", " ")
    if said.startswith("end of "):
        day = datetime.strptime(said.removeprefix("end of "), "%a %d %b %Y").replace(tzinfo=ZoneInfo(zone))
        ends_at = (day + timedelta(days=1)).timestamp() * 1_000_000
        assert ends_at == at
        return
    plain, _, name = said.partition(":")
    clock = datetime.strptime(f"{plain}:{name[:2]}", "%a %d %b %Y %H:%M").replace(tzinfo=ZoneInfo(zone))
    both = {int(clock.replace(fold=fold).timestamp()) * 1_000_000: clock.replace(fold=fold) for fold in (0, 1)}
    shown = [one for one in both if len(both) == 1 or (both[one].tzname() or "") in name or len(name) == 2]
    assert len(shown) == 1
    assert 0 <= at - shown[0] < MINUTE


# Single faults


def _two_children(home: Family) -> None:
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="home")


@pytest.mark.parametrize("pours", [1, 2])
def test_what_another_child_left_is_not_passed_on_through_a_pour(home: Family, pours: int) -> None:
    # Common practice, no source: a bottle that one child drank from is not given to another, whatever holds it then.
    _two_children(home)
    home.expressed("KA34", 90, 2)
    home.note("feed_began", 0.5, container="KA34", child="Mira")
    home.note("feed_ended", 0.4, container="KA34", left_ml=40)
    codes = ["KA34", "KA37", "KA39"][: pours + 1]
    for number, (out, into) in enumerate(pairwise(codes)):
        home.note("poured", 0.3 - number / 10, from_=[{"container": out, "ml": 40}], into=into)
    mine = Home(home.store, "Home", "Marta", "owner", {})
    read = Read(tags.tag_of(home.store), codes[-1])
    assert check([mine], Asked(mine, "Ana", read), now=home.now).why == ("drunk",)
    assert check([mine], Asked(mine, "Mira", read), now=home.now).found == "match"
    assert checking_why.next_for(mine, "Ana", now=home.now) is None


def _next_door(home: Family) -> Family:
    """Another household with a child and the same service, its milk handed over but not noted anywhere there."""
    house = Household.objects.create(pk=uuid.uuid4(), name="Next door")
    theirs = Family(DatabaseStore(house.pk), home.phone, home.now)
    theirs.note("household", 24.0 * 400, zone="Europe/Lisbon", guideline="cdc")
    theirs.note("place", 24.0 * 400, place="fridge", is_="refrigerator", temp_c=4)
    theirs.note("child", 24.0 * 300, child="Olin", born="2026-12-01", care="home")
    theirs.note("expressed", 3, into=[{"container": "KA34", "ml": 60}], place="fridge")
    Service.objects.create(household=house, name=OAK, rule="us-or", place=FRIDGE)
    theirs.note("handed_over", 1, container="KA34", to=OAK)
    return theirs


@pytest.mark.parametrize("typed", ["KA34", "ka34", "KA 34"])
def test_a_bare_code_is_not_guessed_while_another_familys_bottle_of_it_waits_to_be_noted(
    home: Family, typed: str
) -> None:
    home.note("place", 24.0 * 30, place=FRIDGE, is_="refrigerator", temp_c=4)
    Service.objects.create(household_id=home.store.id, name=OAK, rule="us-or", place=FRIDGE)
    home.expressed("KA34", 90, 2)
    home.note("handed_over", 1, container="KA34", to=OAK, place=FRIDGE)
    mine = Home(home.store, "Home", "Iris", "childcare", {}, 0, OAK)
    alone = check([mine], Asked(mine, "Mira", Read(None, typed), True), now=home.now)
    assert alone.found == "match"
    theirs = Home(_next_door(home).store, "Next door", "Iris", "childcare", {}, 0, OAK)
    found = check([mine, theirs], Asked(mine, "Mira", Read(None, typed), True), now=home.now)
    assert found.why == ("unsure",)


@pytest.mark.parametrize("label", ["KA3B", "ka3b"])
def test_a_label_of_milk_outside_the_window_is_never_read_as_one_in_it_that_looks_alike(
    home: Family, label: str
) -> None:
    home.note("place", 24.0 * 30, place=FRIDGE, is_="refrigerator", temp_c=4)
    Service.objects.create(household_id=home.store.id, name=OAK, rule="us-or", place=FRIDGE)
    for code in ("KA3B", "KA38"):
        home.expressed(code, 90, 2)
    home.note("handed_over", 1, container="KA38", to=OAK, place=FRIDGE)
    staff = Home(home.store, "Home", "Iris", "childcare", {}, 0, OAK)
    asked = Asked(staff, "Mira", Read(None, label), True)
    assert check([staff], asked, now=home.now).why == ("unknown",)
    right = Asked(staff, "Mira", Read(None, "ka38"), True)
    assert check([staff], right, now=home.now).found == "match"


@pytest.mark.parametrize(("rule", "left_h"), [("au-tas", 62), ("", 86)])
def test_while_milk_lies_at_a_service_label_sheet_and_calendar_all_say_the_stricter_time(
    home: Family, rule: str, left_h: int
) -> None:
    # Tasmania, breast milk handling practices: 72 hours in the refrigerator; CDC: 4 days. Expressed 10 hours ago.
    service(home, OAK, rule=rule, place=FRIDGE)
    home.expressed("KA34", 90, 10)
    home.note("handed_over", 5, container="KA34", to=OAK, place=FRIDGE)
    mine, by = Home(home.store, "Home", "Marta", "owner", {}), home.now + left_h * HOUR
    [label] = labels.labels(mine, ["KA34"], now=home.now, base="")
    assert [one.at for one in label.dates if one.what == "use_by"] == [by]
    assert [one.by for one in agenda.agenda(mine, now=home.now) if one.kind == "use"] == [by]
    words = words_for("Europe/Lisbon", home.now, ("ml", "C"))
    [row] = handing(mine, childcare.services(home.store)[0], now=home.now, base="").rows
    assert row.until == ends(by, words)


# Words and cautions

PAGES = (
    "labels", "check", "mix-up", "hand-over", "hand-over/back", "kit", "session", "holding", "pattern", "out", "in",
    "settings/calendar", "settings/reminders", "settings/services", "settings/labels",
)  # fmt: skip


def text_of(page: bytes) -> str:
    """The words of a page."""
    return " ".join(BeautifulSoup(page, "html.parser").get_text(" ").split())


def _says_no_safe_and_cautions(said: str, where: str) -> None:
    assert not re.search(r"\bsafe(ly)?\b", said, re.IGNORECASE), where
    assert re.search(r"care team", said, re.IGNORECASE), where


def _lying_there(home: Family, *, care: str = "home") -> Any:
    """Milk at a service, with the phone of someone who works there."""
    made = service(home, OAK, place=FRIDGE)
    home.note("child", 24 * 200, child="Mira", born="2026-12-01", care=care)
    home.expressed("KA34", 90, 2)
    home.note("handed_over", 1, container="KA34", to=OAK, place=FRIDGE)
    return others_at(home, service=made)


def test_no_page_of_handing_over_calls_milk_safe_and_each_says_when_to_ask(home: Family) -> None:
    staff = _lying_there(home)
    tag = tags.tag_of(home.store)
    for where in PAGES:
        answer = home.phone.get(f"/{where}/", follow=True)
        assert answer.status_code == 200, where
        _says_no_safe_and_cautions(text_of(answer.content), where)
    for where in ("", f"{tag}/", f"{tag}/milk/KA34/", f"{tag}/sheet/", f"{tag}/day/"):
        answer = staff.get(f"/care/{where}", follow=True)
        assert answer.status_code == 200
        _says_no_safe_and_cautions(text_of(answer.content), where)
    answer = home.phone.get("/print/hand-over/", {"service": OAK})
    with pdfplumber.open(io.BytesIO(answer.content)) as sheet:
        said = " ".join(" ".join((page.extract_text() or "").split()) for page in sheet.pages)
    _says_no_safe_and_cautions(said, "sheet")
    mine = Home(home.store, "Home", "Marta", "owner", {})
    body = written(Opened(mine, agenda.KINDS), now=home.now, base=None).decode().replace("\r\n ", "")
    _says_no_safe_and_cautions(body, "calendar")


def test_a_child_in_hospital_gets_no_home_limit_at_a_service_either(home: Family) -> None:
    staff = _lying_there(home, care="hospital")
    tag = tags.tag_of(home.store)
    mine = Home(home.store, "Home", "Marta", "owner", {})
    [label] = labels.labels(mine, ["KA34"], now=home.now, base="")
    assert (label.timed, label.dated("use_by"), label.dated("best_by")) == (False, None, None)
    assert not [one for one in agenda.agenda(mine, now=home.now) if one.container]
    [row] = handing(mine, childcare.services(home.store)[0], now=home.now, base="").rows
    assert (row.until, row.by, row.then) == ("", "", "")
    assert "care team" in row.says
    for where in (f"{tag}/", f"{tag}/milk/KA34/", f"{tag}/sheet/"):
        said = text_of(staff.get(f"/care/{where}").content)
        assert not re.search(r"use by (end of )?\w{3} \d", said, re.IGNORECASE), where
        assert "care team" in said
    for home_of in (mine, mine._replace(role="childcare", service=OAK)):
        assert check([home_of], Asked(home_of, "Mira", Read(tag, "KA34")), now=home.now).why[0] == "hospital"
