"""What a label bears: each date by its name, what a rule asks, and never more than the board promises.

What rules ask is typed in from the rules: CDC, Breast Milk Storage and Preparation, 2023-24 (date expressed; for
childcare the child's name); Oregon Administrative Rule 414-305-0610 (full name, date expressed); Washington
Administrative Code 110-300-0281 (first and last name, date received); Tasmania Department of Health and Human Services,
Breast milk handling practices (name, date to be used).
"""

from __future__ import annotations

import pytest
from tests.pages import Family
from tests.people import service as a_service

from thawline.core.replay import moment
from thawline.core.times import HOUR
from thawline.faces.sheets.label_words import pieces, stamp
from thawline.faces.words import words_for
from thawline.services import board, labels
from thawline.services.label_rules import label_rules
from thawline.services.labels import Dated, Label
from thawline.services.people import CannotError, Home
from thawline.services.tags import read, tag_of

BASE = "https://thawline.lan:8600"


def of(home: Family, *codes: str) -> list[Label]:
    return labels.labels(as_home(home), codes, now=home.now, base=BASE)


def one(home: Family, code: str) -> Label:
    (found,) = of(home, code)
    return found


def told(home: Family, label: Label) -> list[str]:
    """Every line of a label, with spaces that may break."""
    words = words_for("Europe/Lisbon", home.now)
    return [part.text.replace("\u00a0", " ") for piece in pieces(label, words) for part in piece.parts]


def as_home(home: Family) -> Home:
    return labels.home_named("Lisbon kitchen", home.store)


@pytest.mark.parametrize(
    ("rules", "asks"),
    [
        (["cdc"], {"expressed"}),
        (["cdc", "us-or"], {"expressed", "name", "full_name"}),
        (["cdc", "us-wa"], {"expressed", "name", "full_name", "received"}),
        (["nhmrc", "au-tas"], {"name", "use_on"}),
        (["nhmrc"], set()),
    ],
)
def test_labels_ask_what_the_rules_in_force_ask(rules: list[str], asks: set[str]) -> None:
    found = label_rules(rules)
    assert {ask for rule in found for ask in rule.asks} == asks
    assert all(rule.source and rule.mark == "seen" for rule in found)


def test_fresh_milk_says_in_which_place_its_use_by_holds(home: Family) -> None:
    # CDC: 4 days in the refrigerator from the time expressed.
    home.expressed("FA37", 120, 7)
    assert told(home, one(home, "FA37")) == [
        "Mira", "Use by Sun 7 Feb 2027 07:00", "if it stays in the refrigerator", "Expressed Wed 3 Feb 2027 07:00",
    ]  # fmt: skip


def test_milk_on_the_counter_says_so(home: Family) -> None:
    home.expressed("FA37", 120, 1, place="counter")
    assert told(home, one(home, "FA37"))[1:3] == ["Use by Wed 3 Feb 2027 17:00", "if it stays at room temperature"]


def test_frozen_milk_names_expressed_and_frozen_and_leaves_a_line_for_the_thaw(home: Family) -> None:
    home.expressed("KU94", 90, 30)
    home.note("moved", 26, container="KU94", to="freezer")
    label = one(home, "KU94")
    assert (label.form, label.stays) == ("frozen", "frozen")
    said = told(home, label)
    assert "Expressed Tue 2 Feb 2027 08:00" in said and "Frozen Tue 2 Feb 2027 12:00" in said
    assert "if it stays frozen" in said and label.dated("thawed") == Dated("thawed", None)
    verdict = next(row for row in board.board(home.store, now=home.now).verdicts if row.container == "KU94")
    assert (label.dated("use_by") or Dated("", 0)).at == verdict.use_by
    assert (label.dated("best_by") or Dated("", 0)).at == verdict.best_by


def test_thawed_milk_says_when_it_left_the_freezer_and_that_its_time_is_estimated(home: Family) -> None:
    home.expressed("KU94", 90, 100)
    home.note("moved", 96, container="KU94", to="freezer")
    home.note("moved", 10, container="KU94", to="fridge")
    said = told(home, one(home, "KU94"))
    assert "Out of the freezer Wed 3 Feb 2027 04:00" in said
    assert any(line.startswith("Use by") and line.endswith(", estimated") for line in said)


def test_only_a_day_known_is_only_a_day_printed(home: Family) -> None:
    home.note(
        "stocked", 1, container="old bag", ml=100, place="freezer", expressed="2027-01-04", frozen_on="2027-01-05"
    )
    said = told(home, one(home, "old bag"))
    assert "Expressed Mon 4 Jan 2027" in said and "Frozen Tue 5 Jan 2027" in said


def test_when_it_was_frozen_is_not_guessed(home: Family) -> None:
    home.note("stocked", 1, container="old bag", ml=100, place="freezer", expressed="2027-01-04")
    assert one(home, "old bag").dated("frozen") is None


@pytest.mark.parametrize(("why", "bar"), [("held", "Held back: do not feed"), ("past", "Past its limit: do not feed"),
                                          ("breached", "A rule was broken: look it up first")])  # fmt: skip
def test_milk_without_a_time_bears_words_and_no_use_by(home: Family, why: str, bar: str) -> None:
    home.expressed("FA37", 120, 200 if why == "past" else 7)
    if why == "held":
        home.note("held", 1, container="FA37", why="medicine")
    if why == "breached":
        home.note("warmed", 1, container="FA37", how="microwave")
    label = one(home, "FA37")
    assert label.standing == why
    said = told(home, label)
    assert bar in said and not any("Use by" in line or "Best by" in line for line in said)
    assert any(line.startswith("Expressed") for line in said)


def test_milk_under_a_hospitals_care_bears_no_home_limit(home: Family) -> None:
    home.note("child", 2, child="Mira", born="2026-12-01", care="hospital")
    home.expressed("FA37", 120, 1)
    said = told(home, one(home, "FA37"))
    assert "Follow the care team" in said and not any("by" in line for line in said)


def test_a_label_never_promises_more_than_the_board(home: Family) -> None:
    for number in range(12):
        home.expressed(f"FA{number}", 100, 8.0 * number)
        if number % 3 == 1:
            home.note("moved", 8.0 * number - 1, container=f"FA{number}", to="freezer")
    found = {row.container: row for row in board.board(home.store, now=home.now).verdicts}
    for label in of(home, *found):
        printed, verdict = label.dated("use_by"), found[label.code]
        assert (printed is not None) == (verdict.standing in ("fine", "soon"))
        assert printed is None or printed.at == verdict.use_by


def test_gone_and_unknown_containers_get_no_label(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    home.note("discarded", 1, container="FA37")
    assert of(home, "FA37", "NEVER", "with\0null") == []


def test_the_full_name_is_printed_where_a_rule_in_force_asks_for_it(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    labels.keep(home.store, names={"Mira": "Mira Costa Pereira"}, address="", stock="")
    assert one(home, "FA37").child == "Mira"
    a_service(home, rule="us-or")
    assert (one(home, "FA37").child, one(home, "FA37").name_line) == ("Mira Costa Pereira", False)


def test_where_the_full_name_is_wanted_but_unknown_room_is_left_for_it(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    a_service(home, rule="us-wa")
    label = one(home, "FA37")
    assert (label.child, label.name_line) == ("Mira", True)
    assert label.dated("received") == Dated("received", None)


def test_washington_gets_the_date_received_once_it_is_noted(home: Family) -> None:
    place = a_service(home, rule="us-wa").place
    home.expressed("FA37", 120, 5)
    home.note("handed_over", 3, container="FA37", to="Kingfisher room", place=place)
    home.note("received", 2, container="FA37", place=place)
    assert "Received Wed 3 Feb 2027 12:00" in told(home, one(home, "FA37"))


def test_tasmania_gets_a_line_for_the_day_of_use(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    a_service(home, rule="au-tas")
    assert one(home, "FA37").dated("use_on") == Dated("use_on", None)
    assert "To be used on" in told(home, one(home, "FA37"))


def test_milk_for_one_of_two_children_bears_that_childs_name_and_for_either_a_line(home: Family) -> None:
    home.note("child", 100, child="Theo", born="2026-12-01", care="home")
    home.note("expressed", 3, into=[{"container": "FA37", "ml": 100}], place="fridge", for_="Theo")
    home.expressed("KU94", 100, 3)
    assert one(home, "FA37").child == "Theo"
    assert (one(home, "KU94").child, one(home, "KU94").name_line) == ("", False)
    a_service(home, rule="us-or")
    assert one(home, "KU94").name_line


def test_the_code_leads_to_this_households_container(home: Family) -> None:
    home.expressed("FA37", 120, 3)
    found = read(one(home, "FA37").address)
    assert found is not None and (found.tag, found.code) == (tag_of(home.store), "FA37")


@pytest.mark.parametrize(
    ("at", "zone", "says"),
    [
        # The hour that comes twice is told apart: Europe/Lisbon, 31 October 2027, 01:30 WEST and WET (IANA tzdata).
        ("2027-10-31T00:30:00+00:00", "Europe/Lisbon", "Expressed Sun 31 Oct 2027 01:30 WEST"),
        ("2027-10-31T01:30:00+00:00", "Europe/Lisbon", "Expressed Sun 31 Oct 2027 01:30 WET"),
        ("2027-03-14T07:00:00+00:00", "America/New_York", "Expressed Sun 14 Mar 2027 03:00"),
        ("2027-02-03T14:10:00+00:00", "Asia/Kathmandu", "Expressed Wed 3 Feb 2027 19:55"),
    ],
)
def test_dates_are_on_the_households_clock_with_the_month_in_letters(at: str, zone: str, says: str) -> None:
    words = words_for(zone, moment("2027-02-03T14:00:00+00:00"))
    assert "Expressed " + stamp(Dated("expressed", moment(at)), words).replace("\u00a0", " ") == says


def test_an_end_at_midnight_is_the_end_of_the_day_before() -> None:
    words = words_for("Europe/Lisbon", moment("2027-02-03T14:00:00+00:00"))
    midnight = Dated("use_by", moment("2027-02-05T00:00:00+00:00"))
    assert stamp(midnight, words).replace("\u00a0", " ") == "end of Thu 4 Feb 2027"
    assert stamp(midnight._replace(at=(midnight.at or 0) - HOUR), words).endswith("23:00")


@pytest.mark.parametrize(
    "address",
    ["ftp://home", "https://", "home.lan", "https://a b", "https://u:p@home", "https://h/x", "https://h?x",
     "https://h:99999", "https://" + "h" * 200, "javascript:alert(1)"],
)  # fmt: skip
def test_an_address_that_cannot_be_one_is_refused(address: str) -> None:
    with pytest.raises(CannotError):
        labels.checked_address(address)


@pytest.mark.parametrize(
    ("base", "here"),
    [("http://localhost:8300", True), ("http://127.0.0.1:8300", True), ("http://[::1]:8300", True),
     ("https://192.168.1.20:8300", False), ("https://thawline.lan", False)],
)  # fmt: skip
def test_an_address_of_this_computer_alone_is_known(base: str, here: bool) -> None:
    assert labels.only_here(base) is here


def test_blank_labels_name_their_dates_and_bear_no_code(home: Family) -> None:
    label, _sheet = labels.blank(as_home(home), now=home.now)
    assert (label.code, label.address, label.child) == ("", "", "Mira")
    assert [one.what for one in label.dates] == ["use_by", "expressed", "frozen"]
    assert all(one.at is None for one in label.dates)


def test_printing_settings_stay_with_the_household(home: Family) -> None:
    labels.keep(home.store, names={"Mira": " Mira  Costa "}, address="HTTPS://Thawline.lan:8600/", stock="roll-62")
    kept = as_home(home).preferences
    assert labels.full_names(kept) == {"Mira": "Mira Costa"}
    assert labels.kept_address(kept) == "https://thawline.lan:8600"
    assert labels.kept_stock(kept) == "roll-62"
