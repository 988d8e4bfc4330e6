"""What holds for every ledger: the invariants of the clock rules, each as a property of random ledgers."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

import msgspec
from hypothesis import assume, given
from hypothesis import strategies as st
from tests.strategies import (
    COLD_AND_ROOM,
    DAY,
    FREEZERS,
    HOMES,
    HOUR,
    IN_BAND,
    KINDS,
    OVERLAYS,
    STARTS,
    ZONES,
    Json,
    Story,
    amounts,
    day_of,
    gaps,
    held,
    lines,
    minute_of,
    settings,
    stories,
    text,
)

from thawline.core.events import decoder
from thawline.core.replay import moment, run

waits = gaps()


# ---- comparing deadlines -----------------------------------------------------------------------------------


def is_outside(entry: Json) -> bool:
    """Whether `use_by` is the moment since which the guideline gives no time."""
    return bool(entry["why"]) and entry["why"][0]["rule"].endswith(".outside")


def never_later(entry: Json, than: Json, now: int) -> None:
    """The first deadline is not the later one.

    A time already past and the moment of `outside` answer different questions; between them only this counts:
    what is in order the first time is in order the second.
    """
    if is_outside(entry) == is_outside(than):
        assert minute_of(entry["use_by"]) <= minute_of(than["use_by"]), (entry, than)
    elif is_outside(than):
        assert minute_of(entry["use_by"]) <= now, (entry, than)


# ---- order, resending, voiding -----------------------------------------------------------------------------


@given(stories(sloppy=True, voids=True), st.data())
def test_arrival_order_and_resending_change_nothing(story: Story, data: st.DataObject) -> None:
    resent = data.draw(st.lists(st.sampled_from(story.events), max_size=5))
    shuffled = data.draw(st.permutations(story.events + resent))
    now = story.last + data.draw(waits)
    assert story.judged(now, shuffled) == story.judged(now)


@given(stories(sloppy=True), waits, st.data())
def test_voiding_an_event_is_the_ledger_without_it(story: Story, wait: int, data: st.DataObject) -> None:
    gone = data.draw(st.sampled_from([event for event in story.events if event["id"] != "h"]))
    now = story.last + wait
    at = data.draw(st.integers(story.last - DAY, now))
    void = {"id": "v", "at": text(at), "kind": "voided", "event": gone["id"]}
    without = [event for event in story.events if event is not gone]
    assert story.judged(now, story.told(void)) == story.judged(now, without)


@given(stories(sloppy=True), waits, st.data())
def test_voiding_a_void_restores(story: Story, wait: int, data: st.DataObject) -> None:
    gone = data.draw(st.sampled_from(story.events))
    now = story.last + wait
    void = {"id": "v", "at": text(story.last), "kind": "voided", "event": gone["id"]}
    again = {"id": "w", "at": text(story.last), "kind": "voided", "event": "v"}
    assert story.judged(now, story.told(void, again)) == story.judged(now)


@given(stories(sloppy=True, voids=True), waits)
def test_what_is_printed_reads_the_same(story: Story, wait: int) -> None:
    read = [decoder.decode(line) for line in lines(story.events)]
    printed = [msgspec.json.encode(event) for event in read]
    assert [decoder.decode(line) for line in printed] == read
    now = story.last + wait
    assert story.judged(now, [msgspec.json.decode(line) for line in printed]) == story.judged(now)


# ---- millilitres -------------------------------------------------------------------------------------------


@given(stories(sloppy=True, voids=True), waits)
def test_booked_millilitres_add_up(story: Story, wait: int) -> None:
    answer = story.judged(story.last + wait)
    book = answer["booked"]
    out = sum(book[where] for where in ("fed", "discarded", "handed_over", "miscounted", "still_there"))
    assert abs(book["expressed"] + book["stocked"] - out) <= 0.1, book
    there = sum(entry["ml"] for entry in answer["containers"] if entry["standing"] != "gone")
    assert abs(there - book["still_there"]) <= 0.1


# ---- pouring -----------------------------------------------------------------------------------------------


@given(stories(sloppy=True), waits, st.data())
def test_checks_incidents_and_a_clean_kit_move_no_clock(story: Story, wait: int, data: st.DataObject) -> None:
    now = story.last + wait
    before = story.judged(now)
    names = [entry["container"] for entry in before["containers"]] or [None]
    noted: list[Json] = []
    for number, kind in enumerate(data.draw(st.lists(st.sampled_from(("checked", "incident", "cleaned")), max_size=4))):
        event: Json = {"id": f"x{number}", "at": text(data.draw(st.integers(story.last - DAY, now))), "kind": kind}
        if kind == "cleaned":
            event |= {"what": "kit", "how": "washed"}
        else:
            event |= {"child": "mia", "container": data.draw(st.sampled_from(names))}
            event |= {"found": "stop", "why": ["held"]} if kind == "checked" else {"says": "Told both families."}
        noted.append({key: value for key, value in event.items() if value is not None})
    after = story.judged(now, [*story.events, *noted])
    after["refused"] = [one for one in after["refused"] if not one["event"].startswith("x")]
    assert after == before


@given(stories(sloppy=True), waits, st.data())
def test_combining_and_splitting_are_never_later(story: Story, wait: int, data: st.DataObject) -> None:
    at = story.last + 1
    now = at + wait
    before = {name: entry for name, entry in held(story.judged(at)).items() if entry["standing"] != "gone"}
    assume(before)
    first = data.draw(st.sampled_from(sorted(before)))
    together = [name for name, entry in before.items() if entry["place"] == before[first]["place"]]
    sources = data.draw(st.sets(st.sampled_from(sorted(together)), min_size=1, max_size=3))
    share = data.draw(st.sampled_from([0.5, 0.9]))
    portions = [{"container": name, "ml": before[name]["ml"] * share} for name in sorted(sources)]
    pour = {"id": "pour", "at": text(at), "kind": "poured", "from": portions, "into": "N"}
    after, without = held(story.judged(now, story.told(pour))), held(story.judged(now))
    for name in sources:
        never_later(after["N"], without[name], now)
        never_later(after[name], without[name], now)


@given(stories(sloppy=True), waits, st.data())
def test_a_part_moved_about_is_never_later_than_the_whole(story: Story, wait: int, data: st.DataObject) -> None:
    at = story.last + 1
    before = {name: entry for name, entry in held(story.judged(at)).items() if entry["standing"] != "gone"}
    assume(before)
    whole = data.draw(st.sampled_from(sorted(before)))
    portion = {"container": whole, "ml": before[whole]["ml"] / 2}
    pour = {"id": "pour", "at": text(at), "kind": "poured", "from": [portion], "into": "N"}
    split, together, now = story.told(pour), story.told(), at
    for number in range(data.draw(st.integers(1, 4))):
        now += data.draw(gaps(2 * DAY))
        moved = {"id": f"m{number}", "at": text(now), "kind": "moved", "to": data.draw(st.sampled_from(list(KINDS)))}
        split.append({**moved, "container": "N"})
        together.append({**moved, "container": whole})
    now += wait
    never_later(held(story.judged(now, split))["N"], held(story.judged(now, together))[whole], now)


@given(stories(sloppy=True), waits)
def test_a_breach_goes_with_the_milk(story: Story, wait: int) -> None:
    at = story.last + 1
    for name, entry in held(story.judged(at)).items():
        if entry["standing"] == "gone":
            continue
        portion = {"container": name, "ml": entry["ml"] / 2}
        pour = {"id": "pour", "at": text(at), "kind": "poured", "from": [portion], "into": "N"}
        poured = held(story.judged(at + wait, story.told(pour)))["N"]
        assert all(breach in poured["breaches"] for breach in entry["breaches"])


# ---- breaches stay -----------------------------------------------------------------------------------------


@given(stories(sloppy=True), st.data())
def test_a_breach_never_disappears(story: Story, data: st.DataObject) -> None:
    start = minute_of(text(story.last)) - data.draw(gaps(30 * DAY))
    before, after = held(story.judged(start)), held(story.judged(story.last + 1))
    for name, entry in before.items():
        later = [(breach["rule"], breach["at"]) for breach in after[name]["breaches"]]
        assert all((breach["rule"], breach["at"]) in later for breach in entry["breaches"]), (entry, after[name])


# ---- knowing more and less ---------------------------------------------------------------------------------


@given(stories(), waits, st.data())
def test_not_having_seen_ice_is_never_later(story: Story, wait: int, data: st.DataObject) -> None:
    now = story.last + wait
    names = sorted(held(story.judged(now)))
    assume(names)
    name = data.draw(st.sampled_from(names))
    at = story.last - data.draw(gaps(2 * DAY))
    ice = {"id": "ice", "at": text(at), "kind": "thaw_seen", "container": name, "ice": True}
    less, more = story.judged(now), story.judged(now, story.told(ice))
    never_later(held(less)[name], held(more)[name], now)


@st.composite
def one_milk(draw: st.DrawFn, places: tuple[str, ...], longest: int = 2 * DAY) -> tuple[Story, int]:
    """One milk moved about: the first event after the settings brings it in; and that minute."""
    zone = draw(st.sampled_from(ZONES))
    start = draw(st.sampled_from(STARTS)) + draw(st.integers(0, DAY))
    events = draw(settings(IN_BAND, zone, start - 40 * DAY))
    ml = draw(amounts())
    expressed = {"id": "e", "at": text(start), "kind": "expressed", "into": [{"container": "A", "ml": ml}]}
    handling = draw(st.sampled_from([{}, {"handling": "very_clean"}]))
    events.append({**expressed, "place": draw(st.sampled_from(places)), **handling})
    last = start
    for number in range(draw(st.integers(0, 6))):
        last += draw(gaps(longest))
        to = draw(st.sampled_from(places))
        events.append({"id": f"m{number}", "at": text(last), "kind": "moved", "container": "A", "to": to})
    also = draw(st.sampled_from([(), (), *((name,) for name in OVERLAYS)]))
    return Story(events, last, zone, draw(st.sampled_from(HOMES)), also), start


@given(one_milk(tuple(KINDS)), waits)
def test_only_the_day_of_expression_known_is_never_later(told: tuple[Story, int], wait: int) -> None:
    story, start = told
    now = story.last + wait
    exact = held(story.judged(now))["A"]
    vague = [{**e, "at": day_of(start, story.zone)} if e["id"] == "e" else e for e in story.events]
    never_later(held(story.judged(now, vague))["A"], exact, now)


@given(one_milk(tuple(KINDS)), waits, st.integers(0, 3 * DAY), st.sampled_from(["fresh", "frozen", None]))
def test_only_the_day_before_stocking_known_is_never_later(
    told: tuple[Story, int], wait: int, age: int, form: str | None
) -> None:
    story, start = told
    now = story.last + wait
    (born,) = [event for event in story.events if event["id"] == "e"]
    stocked = {"id": "e", "at": born["at"], "kind": "stocked", "container": "A", "ml": 90, "place": born["place"]}
    if form is not None:
        stocked["form"] = form
    rest = [event for event in story.events if event["id"] != "e"]
    exact = held(story.judged(now, [*rest, {**stocked, "expressed": text(start - age)}]))["A"]
    vague = held(story.judged(now, [*rest, {**stocked, "expressed": day_of(start - age, story.zone)}]))["A"]
    never_later(vague, exact, now)


# ---- stricter guidelines -----------------------------------------------------------------------------------


@cache
def published() -> list[str]:
    """The text of every shipped guideline file, the house's among them."""
    folder = files("thawline.core").joinpath("guidelines")
    return [path.read_text(encoding="utf-8") for path in folder.iterdir() if path.name.endswith(".toml")]


@cache
def halved() -> dict[str, Json]:
    """Every shipped guideline with every figure halved."""
    found = {}
    parts = {"months": (15, "days"), "weeks": (84, "hours"), "days": (12, "hours"), "hours": (30, "minutes")}
    for file in published():
        data: dict[str, Any] = tomllib.loads(file)
        for limit in data.get("limit", []):
            count, unit = limit["allows"].split()
            number, smaller = parts[unit if unit.endswith("s") else unit + "s"]
            limit["allows"] = f"{int(count) * number} {smaller}"
        if data["role"] != "house":
            found[data["id"]] = data
    return found


@given(stories(sloppy=True), waits)
def test_a_stricter_guideline_is_never_later(story: Story, wait: int) -> None:
    now = story.last + wait
    strict, plain = held(story.judged(now, files=halved())), held(story.judged(now))
    for name, entry in plain.items():
        never_later(strict[name], entry, now)


# ---- options -----------------------------------------------------------------------------------------------


def _acted(do: str, name: str, place: str | None, at: int) -> Json:
    event: Json = {"id": "act", "at": text(at), "container": name}
    if do == "warm":
        return {**event, "kind": "warmed", "how": "warm_water"}
    if do == "feed":
        return {**event, "kind": "feed_began", "child": "mia"}
    return {**event, "kind": "moved", "to": place}


@given(stories(sloppy=True), gaps(5 * DAY), st.data())
def test_options_are_true(story: Story, wait: int, data: st.DataObject) -> None:
    now = story.last + 1 + wait
    found = run(lines(story.events), now=moment(text(now)), guideline=story.guideline, also=story.also)
    answer = held(story.judged(now))
    choices = [(one, option) for one in found.verdicts for option in one.options]
    assume(choices)
    one, option = data.draw(st.sampled_from(choices))
    name, before = one.container, answer[one.container]
    told = next(o for o in before["options"] if o["do"] == option.do)
    done = held(story.judged(now, story.told(_acted(option.do, name, option.place, now))))[name]
    assert (done["use_by"], done["best_by"]) == (told["then_use_by"], told["then_best_by"]), (told, done)
    last = minute_of(told["not_after"])
    assert last >= now
    for at in {last, data.draw(st.integers(now, last))}:
        acted = held(story.judged(at, story.told(_acted(option.do, name, option.place, at))))[name]
        assert acted["breaches"] == before["breaches"], (at, told, acted)


# ---- nothing lengthens a deadline --------------------------------------------------------------------------


def _stayed(story: Story) -> list[Json]:
    """The same milk in the refrigerator from the start."""
    told = [event for event in story.events if event["kind"] != "moved"]
    return [{**event, "place": "fridge"} if event["kind"] == "expressed" else event for event in told]


@given(one_milk(COLD_AND_ROOM), waits)
def test_no_path_ends_later_than_the_refrigerator(told: tuple[Story, int], wait: int) -> None:
    story, _ = told
    now = story.last + wait
    never_later(held(story.judged(now))["A"], held(story.judged(now, _stayed(story)))["A"], now)


@given(one_milk(COLD_AND_ROOM), waits, st.data())
def test_a_short_visit_to_a_freezer_gains_nothing(told: tuple[Story, int], wait: int, data: st.DataObject) -> None:
    story, _ = told
    events, last = story.told(), story.last
    for number in range(data.draw(st.integers(1, 2))):
        last += data.draw(gaps(DAY))
        freezer, then = data.draw(st.sampled_from(FREEZERS)), data.draw(st.sampled_from(COLD_AND_ROOM))
        events.append({"id": f"f{number}", "at": text(last), "kind": "moved", "container": "A", "to": freezer})
        last += data.draw(st.one_of(st.integers(0, DAY - 1), st.sampled_from([1, HOUR, DAY - 1])))
        events.append({"id": f"g{number}", "at": text(last), "kind": "moved", "container": "A", "to": then})
    now = last + wait
    never_later(held(story.judged(now, events))["A"], held(story.judged(now, _stayed(story)))["A"], now)


# ---- published figures -------------------------------------------------------------------------------------


@cache
def longest(*situations: str) -> int:
    """The longest figure that any guideline publishes for these situations, in minutes; a month at its longest."""
    units = {"months": 31 * DAY, "weeks": 7 * DAY, "days": DAY, "hours": HOUR}
    found = []
    for file in published():
        for limit in tomllib.loads(file).get("limit", []):
            if set(limit["situation"]) & set(situations):
                count, unit = limit["allows"].split()
                found.append(int(count) * units[unit])
    return max(found)


@given(stories(), waits)
def test_use_by_is_never_later_than_the_longest_figure(story: Story, wait: int) -> None:
    now = story.last + wait
    odd = any(event["kind"] == "added" or event.get("milk") == "donor" for event in story.events)
    for entry in story.judged(now)["containers"]:
        use_by, dated = minute_of(entry["use_by"]), minute_of(entry["dated"])
        fresh = longest("fresh_room", "fresh_cooler", "fresh_refrigerator")
        if entry["form"] == "fresh":
            assert use_by <= dated + fresh
        frozen = longest("freezer_compartment", "freezer", "deep_freezer")
        thawed = longest("thawed_cold", "thawed_room", "thawed_warm_water")
        latest = dated + fresh + frozen + (0 if entry["form"] == "frozen" else thawed)
        assert use_by <= max(latest, dated + fresh)
        # Where a guideline has no row at all for such milk, it has none for warming it either.
        if entry["warmed"] and not odd:
            assert use_by <= minute_of(entry["warmed"]) + longest("warmed", "thawed_warm_water")


@given(one_milk(("room", "nursery"), HOUR), waits)
def test_at_room_it_is_the_figure_from_expression(told: tuple[Story, int], wait: int) -> None:
    story, start = told
    entry = held(story.judged(story.last + wait))["A"]
    assert minute_of(entry["use_by"]) <= start + longest("fresh_room")
    assert minute_of(entry["why"][-1]["from"]) == start
