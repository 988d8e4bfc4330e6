"""What every store does, whatever it keeps the ledger in."""

from __future__ import annotations

import pytest
from django.db import IntegrityError
from tests.stores import Make, bottle, event, parsed, pour, put, void

from thawline.records.memory import TwiceError
from thawline.records.store import GROUPS, LOOSE, OTHER, PLACES, SETTINGS, KinRow, Store

HOUSEHOLD = event("household", "h", zone="Europe/Lisbon")
FRIDGE = event("place", "p", place="fridge", is_="refrigerator")
READING = event("measured", "t", place="fridge", temp_c=4)
NURSED = event("nursed", "n", child="Mira")
TWICE = (IntegrityError, TwiceError)


def names_of_kins(store: Store, *names: str) -> list[set[str]]:
    """Which of the names belong together."""
    found: dict[int, set[str]] = {}
    for name, row in store.kins_of(names).items():
        found.setdefault(row.key, set()).add(name)
    return sorted(found.values(), key=min)


def lines_with(store: Store, name: str) -> list[bytes]:
    """Every event of the kin of a name."""
    key = store.kins_of([name])[name].key
    return store.kin_lines([key])[key]


def kin(store: Store, name: str) -> KinRow:
    return store.kins_of([name])[name]


# Adding


def test_the_revision_counts_events(make: Make) -> None:
    store = make()
    assert store.standing() == (0, 0, 0)
    put(store, HOUSEHOLD, FRIDGE, recorded_at=5)
    put(store, bottle("a", "A"), recorded_at=7)
    assert store.standing() == (3, 2, 7)
    assert [store.rows([name])[name].revision for name in ("h", "p", "a")] == [1, 2, 3]


def test_settings_and_what_is_known_of_places_move_the_settings_revision_and_nothing_else_does(make: Make) -> None:
    store = make()
    for line, expected in ((bottle("a", "A"), 0), (READING, 2), (NURSED, 2), (HOUSEHOLD, 4), (void("v", "t"), 5)):
        put(store, line)
        assert store.standing().settings_revision == expected
    put(store, void("w", "n"), void("x", "nothing"))
    assert store.standing().settings_revision == 5


def test_the_newest_record_stays_the_newest_when_the_clock_goes_back(make: Make) -> None:
    store = make()
    put(store, HOUSEHOLD, recorded_at=9)
    put(store, FRIDGE, recorded_at=4)
    assert store.standing().recorded_at == 9
    assert store.rows(["p"])["p"].recorded_at == 4


def test_adding_nothing_changes_nothing(make: Make) -> None:
    store = make()
    put(store, recorded_at=9)
    assert store.standing() == (0, 0, 0)


def test_a_transaction_keeps_all_or_nothing(make: Make) -> None:
    store = make()
    put(store, HOUSEHOLD)
    with pytest.raises(ZeroDivisionError):
        _break_off(store)
    assert list(store.lines()) == [HOUSEHOLD]
    assert store.standing() == (1, 1, 1)
    assert store.kins() == []


def _break_off(store: Store) -> None:
    with store.transaction():
        store.add([parsed(bottle("a", "A"))], recorded_at=9, person="")
        store.settle([row._replace(refused=3) for row in store.all_kins()])
        raise ZeroDivisionError


def test_an_id_counts_once_and_what_came_with_the_second_is_not_kept(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"))
    with pytest.raises(TWICE):
        put(store, bottle("b", "B"), bottle("a", "C"))
    assert list(store.lines()) == [bottle("a", "A")]
    assert store.taken(["A", "B", "C"]) == {"A"}


def test_known_gives_the_lines_of_ids_that_are_there(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), NURSED)
    assert store.known(["n", "nothing", "a"]) == {"a": bottle("a", "A"), "n": NURSED}
    assert store.known([]) == {}


def test_many_ids_can_be_asked_for_at_once(make: Make) -> None:
    store = make()
    put(store, *(bottle(f"e{number}", f"m{number}") for number in range(60)))
    ids = [f"e{number}" for number in range(1200)]
    names = [f"m{number}" for number in range(1200)]
    assert len(store.known(ids)) == len(store.rows(ids)) == 60
    assert len(store.taken(names)) == len(store.kins_of(names)) == len(store.touched(ids)) == 60
    assert len(store.kin_lines([row.key for row in store.all_kins()])) == 60


# Lines

ODD = (
    ' {"id":"é\\u00e9","at":"2027-01-01","kind":"voided", "event" :"x\\/y"}'.strip(),
    '{"kind":"voided","event":"雪 \\ud83c\\udf7c 🍼","id":"b","at":"2027-01-01"}',
    '{"id":"c","at":"2027-01-01","kind":"expressed","into":[{"ml":1e2,"container":"A  B"}],"place":"fri\\tdge"}',
    '{\t"id":"d", "kind":"counted" ,"at":"2027-01-01T00:00:00.500+05:45","container":"A  B","ml":1.50E+1}',
    '{"id":"e","at":"2027-01-01","kind":"voided","event":"\u2028 % %s {0} \' \\" ;--","why":"\u202eright\\r\\n"}',
)


def test_lines_stay_to_the_byte_and_in_the_order_of_arrival(make: Make) -> None:
    store = make()
    lines = [line.encode() for line in ODD]
    for line in reversed(lines):
        put(store, line)
    assert list(store.lines()) == lines[::-1]
    assert {row.line for row in store.history(before=None, limit=9)} == set(lines)
    assert set(lines_with(store, "A  B")) == {lines[2], lines[3]}
    assert store.known(["éé"]) == {"éé": lines[0]}


def test_names_that_differ_in_case_accents_or_spaces_are_different(make: Make) -> None:
    store = make()
    names = ["a", "A", "á", "a ", " a", "\uff41", "a%", "a_", "=a", "'"]
    for number, name in enumerate(names):
        put(store, bottle(f"e{number}", name))
    assert len(store.all_kins()) == len(names)
    for number, name in enumerate(names):
        assert lines_with(store, name) == [bottle(f"e{number}", name)]


def test_the_longest_names_are_kept(make: Make) -> None:
    store = make()
    name, code = "🍼" * 200, "é" * 200
    put(store, bottle(name, code), void("v" * 200, name))
    assert store.touched(["v" * 200]) == {code}
    assert store.rows([name])[name].person == "Marta"


# Groups


def test_each_group_has_its_own_events_in_the_order_of_arrival(make: Make) -> None:
    store = make()
    more = event("child", "c", "2020-01-01T00:00:00Z", child="Mira", born="2027-01-02", care="home")
    put(store, NURSED, HOUSEHOLD, READING, bottle("a", "A"), FRIDGE, void("v", "nothing"), more)
    assert [store.group(group) for group in (SETTINGS, PLACES, OTHER, LOOSE)] == [
        [HOUSEHOLD, FRIDGE, more], [READING], [NURSED], [void("v", "nothing")],
    ]  # fmt: skip


def test_a_group_can_be_asked_for_what_came_after_a_revision(make: Make) -> None:
    store = make()
    put(store, HOUSEHOLD, NURSED, FRIDGE)
    assert store.group(SETTINGS, after=1) == [FRIDGE]
    assert store.group(SETTINGS, after=3) == []


def test_the_kinds_of_what_came_after_a_revision_are_known(make: Make) -> None:
    store = make()
    put(store, bottle("1", "A"), event("moved", "2", container="A", to="fridge"), bottle("3", "B"))
    assert store.kinds_after(0) == {"expressed", "moved"}
    assert store.kinds_after(2) == {"expressed"}
    assert store.kinds_after(3) == set()


# Kins


def test_containers_between_which_milk_was_poured_are_one_kin(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), bottle("b", "B"), bottle("c", "C"), bottle("d", "D"))
    put(store, pour("x", "A", "B"))
    assert names_of_kins(store, *"ABCDE") == [{"A", "B"}, {"C"}, {"D"}]
    put(store, pour("y", "C", "D"), pour("z", "B", "D"))
    assert names_of_kins(store, *"ABCDE") == [{"A", "B", "C", "D"}]
    assert lines_with(store, "C") == list(store.lines())
    assert len(store.all_kins()) == 1


def test_kins_join_also_where_the_pours_come_before_the_milk(make: Make) -> None:
    store = make()
    put(store, pour("z", "B", "D"))
    put(store, bottle("d", "D"), pour("y", "C", "D"), bottle("a", "A"))
    put(store, pour("x", "A", "B"), bottle("c", "C"), bottle("b", "B"))
    assert names_of_kins(store, *"ABCD") == [{"A", "B", "C", "D"}]
    assert lines_with(store, "A") == list(store.lines())


def test_one_session_into_two_bottles_makes_them_kin(make: Make) -> None:
    store = make()
    put(store, event("expressed", "a", into=[{"container": "A", "ml": 1}, {"container": "B", "ml": 1}], place="x"))
    assert names_of_kins(store, "A", "B") == [{"A", "B"}]


def test_a_kins_revision_is_that_of_its_last_change(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), bottle("b", "B"))
    put(store, event("moved", "m", container="B", to="freezer"))
    assert (kin(store, "A").revision, kin(store, "B").revision) == (2, 3)
    put(store, HOUSEHOLD, void("v", "a"))
    assert (kin(store, "A").revision, kin(store, "B").revision) == (5, 3)
    put(store, NURSED)
    assert (kin(store, "A").revision, kin(store, "B").revision) == (5, 3)
    put(store, pour("x", "A", "B"))
    assert kin(store, "A") == kin(store, "B")
    assert kin(store, "A").revision == 7


def test_every_event_of_a_kin_comes_once_and_in_the_order_of_arrival(make: Make) -> None:
    store = make()
    put(store, void("v", "a"), pour("x", "A", "B"))
    put(store, bottle("a", "A", "2027-02-04T08:00:00Z"), bottle("c", "C"), bottle("b", "B", "2027-02-01T08:00:00Z"))
    assert lines_with(store, "B") == [line for line in store.lines() if line != bottle("c", "C")]


def test_unknown_kins_and_names_give_nothing(make: Make) -> None:
    store = make()
    assert store.kins_of(["A"]) == {}
    assert store.kin_lines([12345]) == {12345: []}
    assert store.kin_lines([]) == {}
    assert store.touched(["nothing"]) == set()


def test_only_kins_with_milk_or_with_something_ahead_are_on_the_board(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), bottle("b", "B"), bottle("c", "C"))
    assert [row.open for row in store.kins()] == [True, True, True]
    rows = {name: kin(store, name) for name in "ABC"}
    store.settle([rows["A"]._replace(open=False), rows["B"]._replace(open=False, wake_at=99)])
    assert {row.key for row in store.kins()} == {rows["B"].key, rows["C"].key}
    assert len(store.all_kins()) == 3
    assert kin(store, "B").wake_at == 99


def test_what_did_not_fit_adds_up_over_kins(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), bottle("b", "B"), void("v", "nothing"))
    assert store.refused() == 0
    store.settle([kin(store, "A")._replace(refused=2, open=False), kin(store, "B")._replace(refused=1)])
    assert store.refused() == 3


# Voids


def test_a_void_touches_what_its_target_touches(make: Make) -> None:
    store = make()
    put(store, HOUSEHOLD, READING, NURSED, bottle("a", "A"), pour("x", "A", "B"))
    put(store, void("1", "h"), void("2", "t"), void("3", "n"), void("4", "a"), void("5", "x"))
    assert store.group(SETTINGS) == [HOUSEHOLD, void("1", "h")]
    assert store.group(PLACES) == [READING, void("2", "t")]
    assert store.group(OTHER) == [NURSED, void("3", "n")]
    assert [store.touched([name]) for name in "12345"] == [set(), set(), set(), {"A"}, {"A", "B"}]
    assert store.group(LOOSE) == []


def test_a_void_that_comes_first_finds_its_target_when_that_arrives(make: Make) -> None:
    store = make()
    put(store, void("v", "a"), void("w", "h"))
    assert store.group(LOOSE) == [void("v", "a"), void("w", "h")]
    put(store, bottle("a", "A"), HOUSEHOLD)
    assert store.group(LOOSE) == []
    assert lines_with(store, "A") == [void("v", "a"), bottle("a", "A")]
    assert store.group(SETTINGS) == [void("w", "h"), HOUSEHOLD]
    assert store.standing().settings_revision == 4


@pytest.mark.parametrize("order", ["a v w", "w v a", "v w a", "a w v", "w a v", "v a w"])
@pytest.mark.parametrize("together", [True, False])
def test_a_void_of_a_void_touches_the_same_in_every_order(make: Make, order: str, together: bool) -> None:
    store = make()
    lines = {"a": bottle("a", "A"), "v": void("v", "a"), "w": void("w", "v")}
    arriving = [lines[name] for name in order.split()]
    for some in [arriving] if together else [[line] for line in arriving]:
        put(store, *some)
    assert store.touched(["w"]) == store.touched(["v"]) == {"A"}
    assert lines_with(store, "A") == arriving
    assert store.group(LOOSE) == []
    assert store.voided_by(["a", "v", "w"]) == {"a": ["v"], "v": ["w"]}


@pytest.mark.parametrize("together", [True, False])
def test_voids_that_void_each_other_in_a_ring_touch_nothing(make: Make, together: bool) -> None:
    store = make()
    ring = [void("1", "2"), void("2", "3"), void("3", "1"), void("4", "1")]
    for some in [ring] if together else [[line] for line in ring]:
        put(store, *some)
    assert store.group(LOOSE) == ring
    assert store.touched(["1", "2", "3", "4"]) == set()


def test_voids_of_an_event_come_in_the_order_of_arrival(make: Make) -> None:
    store = make()
    put(store, void("z", "a"), bottle("a", "A"), bottle("b", "B"))
    put(store, void("c", "a"))
    assert store.voided_by(["a", "b", "nothing"]) == {"a": ["z", "c"]}
    assert store.voided_by([]) == {}


# History


def test_history_goes_back_page_by_page_also_where_times_are_equal(make: Make) -> None:
    store = make()
    put(store, *(bottle(name, name.upper()) for name in "gbfahdce"))
    put(store, event("counted", "late", "2027-02-03T09:00:00Z", container="A", ml=1))
    put(store, event("counted", "early", "2027-02-03T07:00:00Z", container="B", ml=1))
    found: list[str] = []
    before: tuple[int, str] | None = None
    while page := store.history(before=before, limit=3):
        assert len(page) <= 3
        found += [row.event_id for row in page]
        before = page[-1].at, page[-1].event_id
    assert found == ["late", *"hgfedcba", "early"]


def test_history_of_one_container_or_of_some_kinds(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), bottle("b", "B"), NURSED, pour("x", "A", "B"), void("v", "a"))
    assert [row.event_id for row in store.history(before=None, limit=9, name="A")] == ["v", "x", "a"]
    assert [row.event_id for row in store.history(before=None, limit=9, name="B")] == ["x", "b"]
    assert store.history(before=None, limit=9, name="settings") == []
    kinds = store.history(before=None, limit=9, kinds=("nursed", "voided"))
    assert [row.event_id for row in kinds] == ["v", "n"]
    one = store.history(before=None, limit=9, name="A", kinds=("poured",))
    assert [row.event_id for row in one] == ["x"]


def test_a_row_tells_when_and_by_whom_it_was_recorded(make: Make) -> None:
    store = make()
    put(store, bottle("a", "A"), recorded_at=77, person="Rui")
    row = store.rows(["a", "nothing"])["a"]
    assert row == ("a", 1, "expressed", parsed(bottle("a", "A")).at, 77, "Rui", bottle("a", "A"))
    assert store.history(before=None, limit=1) == [row]


def test_an_act_is_what_was_recorded_in_one_go(make: Make) -> None:
    store = make()
    put(store, bottle("act.0", "A"), bottle("act.1", "B"))
    put(store, bottle("other.0", "C"), bottle("act.2", "D"))
    assert [row.event_id for row in store.act("act")] == ["act.0", "act.1"]
    assert [row.event_id for row in store.act("other")] == ["other.0"]
    assert store.act("ac") == store.act("act.0") == store.act("") == []


def test_an_act_is_empty_without_its_first_event(make: Make) -> None:
    store = make()
    put(store, bottle("act.1", "A"), bottle("act", "B"))
    assert store.act("act") == []


# Households


def test_two_households_with_the_same_ids_do_not_meet(make: Make) -> None:
    one, other = make(), make()
    assert one.key != other.key
    put(one, HOUSEHOLD, bottle("a", "A"), void("v", "x"))
    put(other, void("v", "a"), pour("x", "A", "B"))
    assert lines_with(one, "A") == [bottle("a", "A")]
    assert lines_with(other, "A") == [pour("x", "A", "B")]
    assert one.group(LOOSE) == [void("v", "x")]
    assert other.group(LOOSE) == [void("v", "a")]
    assert other.group(SETTINGS) == []
    assert (one.standing().revision, other.standing().revision) == (3, 2)
    assert one.voided_by(["x", "a"]) == {"x": ["v"]}
    assert one.taken(["A", "B"]) == {"A"}
    assert [row.event_id for row in other.history(before=None, limit=9, name="A")] == ["x"]
    other.settle([kin(other, "A")._replace(open=False, refused=5)])
    assert kin(one, "A").open
    assert one.refused() == 0


def test_erasing_removes_all_of_one_household_and_nothing_of_another(make: Make) -> None:
    one, other = make(), make()
    told = (HOUSEHOLD, READING, NURSED, bottle("a", "A"), pour("x", "A", "B"), void("v", "a"), void("w", "nothing"))
    for store in (one, other):
        put(store, *told)
    one.erase()
    assert list(one.lines()) == []
    assert [one.group(group) for group in GROUPS] == [[]] * 4
    assert one.all_kins() == []
    assert one.history(before=None, limit=9) == []
    assert one.known(["h", "a"]) == {}
    assert one.rows(["a"]) == {}
    assert one.kins_of(["A"]) == {}
    assert list(other.lines()) == list(told)
    assert names_of_kins(other, "A", "B") == [{"A", "B"}]
    assert other.standing() == (7, 7, 1)
