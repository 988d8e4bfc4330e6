"""The wrong child's milk is stopped for every child, role and route; the right one is a match."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client
from tests.check_families import CHILDREN, MEANT, THEIRS, Two, phone, photo, two
from tests.pages import Family

from thawline.core import events as ev
from thawline.records.ledger.models import Event
from thawline.services import tags
from thawline.services.permissions import ROLES

# Milk of this code is in both families: a bare code cannot tell which.
SHARED = set(MEANT) & set(THEIRS)
# Tried where only one family is in sight: there the rest differs in nothing.
FEW = ("photo", "address in small letters", "bare", "label")


def routes(both: Two, code: str, of: Family) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every way in which a label comes into the form, with what the form then sends."""
    address = both.address(code, of=of)
    yield "photo", {"photo": photo(address)}
    yield "photo in small letters", {"photo": photo(address.lower())}
    yield "address", {"code": address}
    yield "address in small letters", {"code": address.lower()}
    yield "address with a slash", {"code": f"{address}/"}
    yield "bare", {"code": code}
    yield "bare in small letters", {"code": code.lower()}
    yield "bare, spaced", {"code": f" {code[:2]} {code[2:].lower()} "}
    yield "photo, another code in the field", {"photo": photo(address), "code": "MI37"}
    yield "label", {"code": code, "coded": code, "tag": tags.tag_of(of.store)}


def ask(client: Client, child: str, sent: dict[str, Any]) -> tuple[str, str]:
    """What the page says, and where it stands."""
    answer = client.post("/check/", {"child": child, "act": ev_id(), **sent}, follow=True)
    assert answer.status_code == 200, (answer.status_code, sent, answer.content.decode()[:3000])
    sign = BeautifulSoup(answer.content, "html.parser").select_one("section.check h1")
    assert sign is not None, answer.redirect_chain
    return sign.get_text(strip=True), answer.redirect_chain[-1][0]


_numbers = count()


def ev_id() -> str:
    """An id for one more form."""
    return f"01990000-0000-7000-8000-{next(_numbers):012d}"


def kept(address: str) -> list[tuple[str, ev.Checked]]:
    """The checks recorded under the id of a page, each with its household."""
    act = address.rstrip("/").rpartition("/")[2]
    rows = Event.objects.filter(event_id=f"{act}.0").values_list("household_id", "line")
    return [(str(home), ev.decoder.decode(line.encode())) for home, line in rows]  # type: ignore[misc]


@pytest.mark.slow
@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("in_both", [True, False])
def test_the_wrong_childs_milk_is_stopped_whoever_asks_and_however(home: Family, role: str, in_both: bool) -> None:
    both = two(home)
    client = phone(both, role, in_both=in_both)
    seen = {"Match": 0, "Stop": 0}
    children = (*CHILDREN, "Olin") if in_both else CHILDREN
    for of, codes in ((both.mine, MEANT), (both.theirs, THEIRS)):
        for code, meant in codes.items():
            for child in children:
                for route, sent in routes(both, code, of):
                    if not in_both and route not in FEW:
                        continue
                    says, address = ask(client, both.child(child), sent)
                    seen[says] += 1
                    bare = route.startswith("bare")
                    # With one family in sight, a bare code of the other one's is read as one's own.
                    own = MEANT.get(code, set()) if bare and not in_both else meant
                    right = child in own and not (bare and in_both and code in SHARED)
                    assert says == ("Match" if right else "Stop"), (role, code, of is both.mine, child, route)
                    events = kept(address)
                    assert len({one for one, _ in events}) == len(events) in (1, 2)
                    assert {event.found for _, event in events} == {says.lower()}
    assert min(seen.values()) > (100 if in_both else 30), seen


@pytest.mark.parametrize("role", ROLES)
def test_another_familys_milk_is_kept_in_both_ledgers_without_a_name_of_the_other(home: Family, role: str) -> None:
    both = two(home)
    client = phone(both, role)
    says, address = ask(client, both.child("Mira"), {"photo": photo(both.address("RE47", of=both.theirs))})
    assert says == "Stop"
    events = dict(kept(address))
    own, others = events[both.mine.store.key], events[both.theirs.store.key]
    assert (own.child, own.container, own.label, own.why) == ("Mira", None, "another family's", ["other_child"])
    assert (others.child, others.container, others.label, others.why) == (
        "another child",
        "RE47",
        None,
        ["other_child"],
    )
    page = client.get(address).content.decode()
    assert "Olin" not in page
    assert "RE47" not in page
    assert "Next door" not in re.sub(r"(?s)<header.*?</header>", "", page)


def test_a_code_that_two_families_have_is_never_guessed(home: Family) -> None:
    both = two(home)
    _, address = ask(phone(both, "childcare"), both.child("Mira"), {"code": "KA34"})
    [(_, event)] = kept(address)
    assert event.why == ["unsure"]


@pytest.mark.parametrize("role", ROLES)
def test_the_label_of_an_unknown_household_is_stopped(home: Family, role: str) -> None:
    both = two(home)
    client = phone(both, role, in_both=False)
    for text in (
        "HTTP://THAWLINE.LAN/L/ABCDEFGH/KA34",
        both.address("RE47", of=both.theirs),
        "https://elsewhere.example/KA34",
    ):
        says, address = ask(client, both.child("Mira"), {"photo": photo(text)})
        assert says == "Stop"
        [(where, event)] = kept(address)
        assert where == both.mine.store.key
        assert event.why == ["not_ours"]


def test_at_childcare_only_milk_in_the_window_can_match(home: Family) -> None:
    both = two(home)
    home.note("expressed", 2, into=[{"container": "HU77", "ml": 60}], place="fridge")
    client = phone(both, "childcare")
    says, address = ask(client, both.child("Mira"), {"photo": photo(both.address("HU77"))})
    assert says == "Stop"
    assert kept(address)[0][1].why == ["unknown"]
    assert kept(address)[0][1].container is None
    assert ask(home.phone, both.child("Mira"), {"code": "HU77"})[0] == "Match"


def test_at_childcare_the_stricter_rule_of_both_counts(home: Family) -> None:
    # Oregon childcare: milk defrosting or thawed is served within 24 h of leaving the freezer (OAR 414-305-0610);
    # CDC counts 24 h from the complete thaw.
    both = two(home)
    home.expressed("FR79", 60, 24 * 9, place="freezer")
    home.note("moved", 26, container="FR79", to="fridge")
    home.note("thaw_seen", 20.5, container="FR79", ice=True)
    home.note("thaw_seen", 20, container="FR79", ice=False)
    where = "fridge at Kingfisher room"
    home.note("handed_over", 1, container="FR79", to="Kingfisher room", place=where)
    home.note("received", 1, container="FR79", place=where)
    assert ask(phone(both, "childcare"), both.child("Mira"), {"code": "FR79"})[0] == "Stop"
    # While it lies there both rules count for whoever asks; back at home the family's own do.
    assert ask(home.phone, both.child("Mira"), {"code": "FR79"})[0] == "Stop"
    home.note("returned", 0, container="FR79", place="fridge")
    says, address = ask(home.phone, both.child("Mira"), {"code": "FR79"})
    assert says == "Match", kept(address)
