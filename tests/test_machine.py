"""A household at work, step by step, with a plain count of places and millilitres kept beside the core."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    MultipleResults,
    RuleBasedStateMachine,
    consumes,
    initialize,
    invariant,
    multiple,
    rule,
)
from tests.strategies import (
    CHILDREN,
    HOMES,
    IN_BAND,
    KINDS,
    ZONES,
    Json,
    Story,
    amounts,
    gaps,
    held,
    minute_of,
    settings,
    text,
)

START = 1_000
SHARES = st.sampled_from([0.1, 0.25, 0.5, 1.0])
PLACES = st.sampled_from(sorted(KINDS))


class Household(RuleBasedStateMachine):
    """Expresses, moves, pours, feeds and throws away, always in order and never more than there is."""

    containers: Bundle[str] = Bundle("containers")

    def __init__(self) -> None:
        super().__init__()
        self.story = Story([], START, "UTC", "cdc", ())
        self.count = 0
        self.ml: dict[str, float] = {}
        self.place: dict[str, str] = {}
        self.brought = 0.0
        self.out = dict.fromkeys(("fed", "discarded", "handed_over", "miscounted"), 0.0)
        self.fed_from: set[str] = set()
        self.warmed: set[str] = set()
        self.breaches: dict[str, list[Json]] = {}

    @initialize(data=st.data(), zone=st.sampled_from(ZONES), guideline=st.sampled_from(HOMES))
    def move_in(self, data: st.DataObject, zone: str, guideline: str) -> None:
        self.story = Story(data.draw(settings(IN_BAND, zone, START)), START, zone, guideline, ())

    def tell(self, wait: int, kind: str, **fields: object) -> None:
        self.count += 1
        now = self.story.last + wait
        event = {"id": f"e{self.count:03}", "at": text(now), "kind": kind}
        self.story = self.story._replace(last=now)
        self.story.events.append({**event, **{name.rstrip("_"): value for name, value in fields.items()}})

    def new(self, ml: float, place: str) -> str:
        name = f"m{len(self.ml)}"
        self.ml[name], self.place[name] = ml, place
        return name

    def take(self, name: str, ml: float) -> None:
        self.ml[name] -= ml
        if self.ml[name] < 0.05:
            self.out["miscounted"] += self.ml[name]
            self.ml[name] = 0.0

    # Every rule waits at least a minute, so that events of one minute need no ordering here.
    waits = gaps(5 * 1440).map(lambda gap: gap + 1)

    @rule(target=containers, wait=waits, into=st.lists(amounts(), min_size=1, max_size=2), place=PLACES)
    def express(self, wait: int, into: list[float], place: str) -> MultipleResults[str]:
        names = [self.new(ml, place) for ml in into]
        portions = [{"container": name, "ml": ml} for name, ml in zip(names, into, strict=True)]
        self.tell(wait, "expressed", into=portions, place=place)
        self.brought += sum(into)
        return multiple(*names)

    @rule(name=containers, wait=waits, to=PLACES)
    def move(self, name: str, wait: int, to: str) -> None:
        self.tell(wait, "moved", container=name, to=to)
        if self.ml[name]:
            self.place[name] = to

    @rule(target=containers, name=containers, wait=waits, share=SHARES)
    def split(self, name: str, wait: int, share: float) -> MultipleResults[str]:
        ml = round(self.ml[name] * share, 1)
        if ml < 0.1 or ml > self.ml[name]:
            return multiple()
        part = self.new(ml, self.place[name])
        self.tell(wait, "poured", from_=[{"container": name, "ml": ml}], into=part)
        self.take(name, ml)
        self.inherit(part, [name])
        return multiple(part)

    @rule(into=containers, name=containers, wait=waits, share=SHARES)
    def combine(self, into: str, name: str, wait: int, share: float) -> None:
        ml = round(self.ml[name] * share, 1)
        if into == name or not self.ml[into] or ml < 0.1 or ml > self.ml[name]:
            return
        self.tell(wait, "poured", from_=[{"container": name, "ml": ml}], into=into)
        self.ml[into] += ml
        self.take(name, ml)
        self.inherit(into, [name])

    def inherit(self, into: str, sources: list[str]) -> None:
        for marked in (self.fed_from, self.warmed):
            if marked & set(sources):
                marked.add(into)
        known = self.breaches.get(into, []) + [b for name in sources for b in self.breaches.get(name, [])]
        self.breaches[into] = known

    @rule(name=containers, wait=waits, ice=st.booleans())
    def look(self, name: str, wait: int, ice: bool) -> None:
        self.tell(wait, "thaw_seen", container=name, ice=ice)

    @rule(name=containers, wait=waits, how=st.sampled_from(["warm_water", "warmer", "microwave"]))
    def warm(self, name: str, wait: int, how: str) -> None:
        self.tell(wait, "warmed", container=name, how=how)
        if self.ml[name]:
            self.warmed.add(name)

    @rule(name=containers, wait=waits, share=SHARES, child=st.sampled_from(CHILDREN))
    def feed(self, name: str, wait: int, share: float, child: str) -> None:
        left = round(self.ml[name] * (1 - share), 1)
        if not self.ml[name] or left > self.ml[name]:
            return
        self.tell(wait, "feed_began", container=name, child=child)
        self.tell(15, "feed_ended", container=name, left_ml=left)
        self.out["fed"] += self.ml[name] - left
        self.ml[name] = left
        self.take(name, 0.0)
        self.fed_from.add(name)

    @rule(name=consumes(containers), wait=waits)
    def discard(self, name: str, wait: int) -> None:
        self.tell(wait, "discarded", container=name, why="old")
        self.out["discarded"] += self.ml[name]
        self.ml[name] = 0.0

    @rule(name=containers, wait=waits, ml=amounts(0))
    def count_again(self, name: str, wait: int, ml: float) -> None:
        self.tell(wait, "counted", container=name, ml=ml)
        if self.ml[name]:
            self.out["miscounted"] += self.ml[name] - ml
            self.ml[name] = ml
            self.take(name, 0.0)

    @rule(name=containers, wait=waits, away=gaps(600), back=PLACES)
    def lend(self, name: str, wait: int, away: int, back: str) -> None:
        self.tell(wait, "handed_over", container=name, to="childcare")
        self.tell(away + 1, "returned", container=name, place=back)
        if self.ml[name]:
            self.place[name] = back

    @rule(name=consumes(containers), wait=waits)
    def give(self, name: str, wait: int) -> None:
        self.tell(wait, "handed_over", container=name, to="milk bank")
        self.out["handed_over"] += self.ml[name]
        self.ml[name] = 0.0

    @invariant()
    def agrees(self) -> None:
        if not self.story.events:
            return
        answer = self.story.judged(self.story.last)
        assert {refusal["code"] for refusal in answer["refused"]} <= {"already_gone"}
        found = held(answer)
        assert found.keys() == self.ml.keys()
        for name, entry in found.items():
            self.same(name, entry)
        book = answer["booked"]
        assert abs(book["expressed"] - self.brought) <= 0.1
        assert abs(book["still_there"] - sum(self.ml.values())) <= 0.1
        for where, ml in self.out.items():
            assert abs(book[where] - ml) <= 0.1, where

    def same(self, name: str, entry: Json) -> None:
        assert (entry["standing"] == "gone") == (self.ml[name] == 0), name
        if self.ml[name]:
            assert abs(entry["ml"] - self.ml[name]) <= 0.02, name
            assert entry["place"] == self.place[name], name
            assert bool(entry["fed_from"]) == (name in self.fed_from), name
            assert bool(entry["warmed"]) == (name in self.warmed), name
        assert all(breach in entry["breaches"] for breach in self.breaches.get(name, [])), name
        assert entry["best_by"] is None or minute_of(entry["best_by"]) <= minute_of(entry["use_by"])
        self.breaches[name] = entry["breaches"]


TestHousehold = Household.TestCase
