"""A child got milk that was not meant for it: the published steps, noted, added to, without names between families."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from tests.check_families import Two, phone, two
from tests.pages import Family, text

from thawline.core import events as ev
from thawline.records.ledger.models import Event
from thawline.services import mix_up, tags
from thawline.services.people import homes_of
from thawline.services.permissions import ROLES

# What the sources say, in their own order, as words that each step must hold. CDC, Breast Milk Mix-Up; Caring for Our
# Children 4.3.1.4; Oregon Administrative Rule 414-305-0610: check case 89.
STEPS = {
    "calm": (("calm", "small"), ("US CDC", "Caring for Our Children")),
    "both_told": (("both families", "at once"), ("Oregon",)),
    "logged": (("incident",), ("Oregon",)),
    "asked_handling": (("expressed", "handled before it arrived"), ("US CDC", "Caring for Our Children")),
    "asked_to_share": (("willing to share", "medicines", "infection", "cracked or bleeding"), ("US CDC",)),
    "told_what": (("that it happened", "small", "expressed", "handled"), ("US CDC", "Caring for Our Children")),
    "told_clinician": (("clinician",), ("US CDC", "Caring for Our Children")),
    "their_decision": (("clinician's and the family's decision",), ("US CDC", "Caring for Our Children")),
}


def incidents(of: Family) -> list[ev.Incident]:
    rows = Event.objects.filter(household=of.store.id, kind="incident").order_by("revision")
    return [ev.decoder.decode(row.line.encode()) for row in rows]  # type: ignore[misc]


def note(both: Two, client: Any, child: str = "Mira", **more: Any) -> Any:
    """Note an incident; the answer after the redirect."""
    both.mine.number += 1
    sent = {"act": f"01990000-0000-7000-8000-{both.mine.number:012d}", "child": both.child(child), "when": "now"}
    return client.post("/mix-up/", {**sent, **more}, follow=True)


def test_each_step_says_what_its_sources_say_and_names_them() -> None:
    assert [one.id for one in mix_up.steps()] == list(STEPS)
    for step in mix_up.steps():
        words, sources = STEPS[step.id]
        assert step.mark == "seen"
        assert all(word in step.says for word in words), step
        assert all(any(source in one for one in step.sources) for source in sources), step


def test_no_treatment_and_no_test_is_advised(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    said = text(home.see("/mix-up/"))
    # Texts of 2016-17 asked about HIV tests; the current ones do not lead with that.
    assert not re.search(
        r"\b(HIV|hepatitis|blood|baseline|vaccin\w*|antibiotic\w*|treat\w*|safe\w*)\b", said, re.IGNORECASE
    )
    assert "Call a clinician" in said


def test_an_incident_is_noted_once_and_its_facts_gathered(home: Family) -> None:
    both = two(home)
    home.note("warmed", 0.2, container="AN39", how="warm_water")
    answer = note(both, home.phone, code="an39", step=["both_told"], says="Drank 10 mL.")
    said = answer.content.decode()
    for one in ("Drank 10 mL.", "expressed: room", "moved: refrigerator", "warmed: in warm water", "Still to do"):
        assert one in said, one
    home.phone.post("/mix-up/", {"act": incidents(home)[0].id[:-2], "child": both.child("Mira"), "when": "now"})
    [event] = incidents(home)
    assert (event.child, event.container, event.steps, event.says, event.by) == (
        "Mira", "AN39", ["both_told", "logged"], "Drank 10 mL.", "Marta",
    )  # fmt: skip


def test_what_was_done_later_is_added_and_keeps_who_and_when(home: Family) -> None:
    both = two(home)
    note(both, home.phone, code="AN39")
    home.hours(3)
    address = home.see("/mix-up/").select_one('main a[href*="?of="]')["href"]  # type: ignore[index]
    page = home.see(str(address))
    done = home.send(str(address), home.fill(page, step="told_clinician", says="They called at five."))
    assert "They called at five." in text(done)
    first, second = incidents(home)
    assert (first.at, first.child, first.container) == (second.at, second.child, second.container)
    assert second.noted is not None and second.noted > first.at
    [mixed] = mix_up.incidents(_home(home), now=home.now)
    assert [one.id for one in mixed.done] == ["logged", "told_clinician"]
    assert len(mixed.open) == 4
    page = home.send(str(address), home.fill(home.see(str(address)), says=""), status=422)
    assert "Tick what was done" in text(page)


def _home(family: Family) -> Any:
    return homes_of(get_user_model().objects.get(username="marta").pk)[0]


@pytest.mark.parametrize("role", ROLES)
def test_between_families_no_name_passes(home: Family, role: str) -> None:
    both = two(home)
    client = phone(both, role)
    answer = note(both, client, code="RE47", step=["both_told"], says="Mira drank it all.")
    assert answer.status_code == 200
    [own], [theirs] = incidents(both.mine), incidents(both.theirs)
    assert (own.child, own.container) == ("Mira", None)
    assert (theirs.child, theirs.container, theirs.says) == ("another child", "RE47", None)
    assert own.steps == theirs.steps == ["both_told", "logged"]
    # The other family is told when it was expressed and how it was handled: without a name.
    assert own.says is not None and "expressed: room" in own.says
    everything = str(own)
    assert not any(name in everything for name in ("Olin", "Olga", "RE47", "Next door"))
    assert not any(name in str(theirs) for name in ("Mira", "Rui", "Lisbon"))


def test_a_step_done_is_ticked_in_both_ledgers(home: Family) -> None:
    both = two(home)
    client = phone(both, "childcare")
    note(both, client, code="RE47")
    page = client.get("/mix-up/", follow=True).content.decode()
    assert page.count("?of=") == 2
    own = f"/mix-up/?of={tags.tag_of(home.store)}/{incidents(home)[0].id}"
    client.post(own, {"act": "01990000-0000-7000-8000-999999999999", "step": ["told_what"], "says": "Told at noon."})
    assert incidents(both.theirs)[-1].steps == ["told_what"]
    assert incidents(both.theirs)[-1].says is None


def test_childcare_sees_only_the_incidents_of_its_own_staff(home: Family) -> None:
    both = two(home)
    note(both, home.phone, code="AN39", says="At home, by night.")
    client = phone(both, "childcare")
    assert "?of=" not in client.get("/mix-up/", follow=True).content.decode()
    address = f"/mix-up/?of={tags.tag_of(home.store)}/{incidents(home)[0].id}"
    assert client.get(address).status_code == 404
    note(both, client, code="AN39")
    assert client.get("/mix-up/", follow=True).content.decode().count("?of=") == 1


def test_a_feed_to_another_child_leads_to_the_steps(home: Family) -> None:
    two(home)
    home.note("feed_began", 0.1, container="AN39", child="Mira")
    page = home.see("/milk/AN39/")
    assert page.select_one('main a[href^="/mix-up/"]') is not None


def test_a_child_whose_name_is_part_of_another_name_counts_as_another_child(home: Family) -> None:
    home.note("child", 24 * 300, child="Mi", born="2026-12-01", care="home")
    home.note("expressed", 1, into=[{"container": "KA34", "ml": 60}], place="fridge", for_="Mira")
    home.note("feed_began", 0.1, container="KA34", child="Mi")
    assert home.see("/milk/KA34/").select_one('main a[href^="/mix-up/"]') is not None


def test_what_is_wrong_in_the_form_is_said_and_nothing_recorded(home: Family) -> None:
    both = two(home)
    for wrong in ({"child": "nobody"}, {"code": "ZZ99"}, {"says": "x" * 1600}, {"when": "at", "when_at": "soon"}):
        answer = note(both, home.phone, **wrong)
        assert answer.status_code == 422, wrong
    assert incidents(home) == []
    assert home.phone.get("/mix-up/?of=ABCDEFGH/nothing").status_code == 404


def test_history_tells_an_incident_and_lets_it_be_taken_back(home: Family) -> None:
    both = two(home)
    note(both, home.phone, code="AN39", says="Drank 10 mL.")
    assert "Mira got milk that was not meant for this child. Drank 10 mL." in text(home.see("/history/?kind=checks"))
    act = incidents(home)[0].id[:-2]
    home.send(f"/undo/{act}/", {"act": "01990000-0000-7000-8000-888888888888"})
    assert mix_up.incidents(_home(home), now=home.now) == []
