"""What a clinician or a lactation consultant may want to know of some days: amounts, feeds, weights, stock."""

from __future__ import annotations

import calendar
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.ledger import Entry
from thawline.core.places import FREEZERS
from thawline.core.times import DAY, day_start, local
from thawline.engines.forecast import growth
from thawline.records.store import Store
from thawline.services import take_out
from thawline.services.board import Board, board
from thawline.services.take_out import Whole

LEAST_DAYS, USUAL_DAYS, MOST_DAYS = 7, 30, 180
_TREND = 7


class Day(NamedTuple):
    """One day: sessions and what they brought, what was drunk from bottles, feeds at the breast, other food; mL."""

    iso: str
    sessions: int
    expressed_ml: float
    bottles: int
    drunk_ml: float
    left_ml: float
    nursed: int
    other_ml: float


class Weight(NamedTuple):
    """A weight: when, the age in days, kg, and how many of a hundred children of that age weigh less (WHO)."""

    at: int
    age_d: float
    kg: float
    percentile: float | None


class Child(NamedTuple):
    """A child: name, day of birth, whether a hospital's care team has it, sex where noted, and its weights."""

    name: str
    born: str
    hospital: bool
    sex: str | None
    weights: tuple[Weight, ...]


class Stock(NamedTuple):
    """The milk in a place: how many containers, mL, frozen or not, and the day of the oldest."""

    place: str
    frozen: bool
    containers: int
    ml: float
    oldest: int


class Out(NamedTuple):
    """Milk that left in the span for one reason: times and mL."""

    why: str
    times: int
    ml: float


class Summary(NamedTuple):
    """The days looked at, oldest first, and what is known beside them; `hours`: sessions and mL by hour of the day."""

    now: int
    zone: str
    days: tuple[Day, ...]
    children: tuple[Child, ...]
    stock: tuple[Stock, ...]
    thrown: tuple[Out, ...]
    handed: tuple[Out, ...]
    hours: tuple[tuple[int, float], ...]
    sides: tuple[Out, ...]
    brought_in: int
    blank: int

    @property
    def sessions(self) -> int:
        """How many sessions there were."""
        return sum(day.sessions for day in self.days)

    def total(self, field: str) -> float:
        """The sum of a field over the days."""
        return round(sum(float(getattr(day, field)) for day in self.days), 2)

    def trend(self) -> tuple[float, float] | None:
        """The mean mL expressed a day in the last seven whole days and in the seven before; None where days are few."""
        whole = self.days[:-1]
        if len(whole) < 2 * _TREND or not any(day.expressed_ml for day in whole[-2 * _TREND : -_TREND]):
            return None
        last, before = whole[-_TREND:], whole[-2 * _TREND : -_TREND]
        return _mean(day.expressed_ml for day in last), _mean(day.expressed_ml for day in before)


def _mean(values: Iterable[float]) -> float:
    found = list(values)
    return sum(found) / len(found) if found else 0.0


def days_of(text: str) -> int:
    """How many days are asked for; the usual number where that can't be."""
    asked = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else USUAL_DAYS
    return min(max(asked, LEAST_DAYS), MOST_DAYS)


def summary(store: Store, *, now: int, days: int = USUAL_DAYS) -> Summary:
    """The last days of a household, today with them."""
    found = take_out.whole(store, now=now)
    here = board(store, now=now)
    today = local(now, found.zone).date()
    span = [(today - timedelta(days=n)).isoformat() for n in range(days - 1, -1, -1)]
    rows = _days(found, span)
    first = span[0]
    sessions = [one for one in found.of(ev.Expressed) if found.day(one.at) >= first]
    return Summary(
        now, here.settings.zone, rows, _children(found, here), _stock(found, here),
        _out(one for one in take_out.thrown_away(found) if found.day(one.at) >= first),
        _out(one for one in take_out.handed_over(found) if found.day(one.at) >= first),
        _hours(found, sessions), _sides(sessions), sum(take_out.from_before(one.event) for one in sessions),
        sum(not any((day.sessions, day.bottles, day.nursed, day.other_ml)) for day in rows),
    )  # fmt: skip


def _ml(event: ev.AnyEvent) -> float:
    assert isinstance(event, ev.Expressed)  # noqa: S101  (for the types)
    return sum(portion.ml for portion in event.into)


def _days(found: Whole, span: Sequence[str]) -> tuple[Day, ...]:
    counts: dict[str, dict[str, float]] = {iso: defaultdict(float) for iso in span}

    def note(at: int, **more: float) -> None:
        day = counts.get(found.day(at))
        if day is not None:
            for field, value in more.items():
                day[field] += value

    for entry in found.of(ev.Expressed):
        note(entry.at, sessions=1, expressed_ml=_ml(entry.event))
    for feed in found.feeds():
        note(feed.at, bottles=1, drunk_ml=feed.drunk_ml, left_ml=feed.left_ml)
    for entry in found.of(ev.Nursed):
        note(entry.at, nursed=1)
    for entry in found.of(ev.FedOther):
        note(entry.at, other_ml=getattr(entry.event, "ml", None) or 0.0)
    return tuple(
        Day(
            iso, int(day["sessions"]), day["expressed_ml"], int(day["bottles"]), day["drunk_ml"], day["left_ml"],
            int(day["nursed"]), day["other_ml"],
        )
        for iso, day in counts.items()
    )  # fmt: skip


def _hours(found: Whole, sessions: Iterable[Entry]) -> tuple[tuple[int, float], ...]:
    """For each hour of the day how many sessions began, and the mL they brought; those without a time are left out."""
    count: Counter[int] = Counter()
    ml: Counter[int] = Counter()
    for entry in sessions:
        if not entry.vague:
            hour = local(entry.at, found.zone).hour
            count[hour] += 1
            ml[hour] += _ml(entry.event)  # type: ignore[assignment]
    return tuple((count[hour], float(ml[hour])) for hour in range(24))


def _sides(sessions: Iterable[Entry]) -> tuple[Out, ...]:
    counts: dict[str, list[float]] = defaultdict(list)
    for entry in sessions:
        counts[getattr(entry.event, "side", None) or ""].append(_ml(entry.event))
    return tuple(Out(side, len(held), sum(held)) for side, held in sorted(counts.items()))


def _out(gone: Iterable[take_out.Gone]) -> tuple[Out, ...]:
    """By reason, the most first."""
    counts: dict[str, list[float]] = defaultdict(list)
    for one in gone:
        counts[one.why].append(one.ml)
    return tuple(sorted((Out(why, len(held), sum(held)) for why, held in counts.items()), key=lambda one: -one.ml))


def _stock(found: Whole, here: Board) -> tuple[Stock, ...]:
    places: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for one in here.verdicts:
        places[one.place or ""].append((one.ml, one.dated))
    kinds = {place.name: place.kind for place in here.places}
    rows = [
        Stock(place, kinds.get(place) in FREEZERS, len(held), sum(ml for ml, _ in held), min(at for _, at in held))
        for place, held in places.items()
    ]
    return tuple(sorted(rows, key=lambda one: (not one.frozen, one.place)))


def _children(found: Whole, here: Board) -> tuple[Child, ...]:
    sexes = {e.event.child: e.event.sex for e in found.ledger.settings if isinstance(e.event, ev.Child)}
    weighed: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for entry in found.of(ev.Weighed):
        if isinstance(entry.event, ev.Weighed):
            weighed[entry.event.child].append((entry.at, entry.event.kg))
    rows = []
    for one in here.children:
        birth = day_start(one.born, found.zone)
        sex = _sex(sexes.get(one.name))
        # A hospital's care team has its own curves.
        hospital = one.care == "hospital"
        weights = [_weight(at, (at - birth) / DAY, kg, sex, told=not hospital) for at, kg in weighed[one.name]]
        rows.append(Child(one.name, one.born, hospital, sex, tuple(weights)))
    return tuple(rows)


def _sex(text: str | None) -> str | None:
    """As the growth tables have it; only what plainly says so."""
    word = (text or "").strip().casefold()
    return "girl" if word in ("girl", "female", "f") else "boy" if word in ("boy", "male", "m") else None


def _weight(at: int, age_d: float, kg: float, sex: str | None, *, told: bool = True) -> Weight:
    kind = sex if sex in ("girl", "boy") else None
    if not told or not growth.plausible(kind, age_d, kg):  # type: ignore[arg-type]
        return Weight(at, age_d, kg, None)
    score = growth.z_score(kind, age_d, kg)  # type: ignore[arg-type]
    return Weight(at, age_d, kg, float(growth.percentile(score)))


def age_of(born: str, on: date) -> tuple[int, int]:
    """An age in whole months and the days beyond, on the calendar."""
    birth = date.fromisoformat(born)
    months = (on.year - birth.year) * 12 + on.month - birth.month - (on.day < birth.day)
    year, month = divmod(birth.year * 12 + birth.month - 1 + max(months, 0), 12)
    start = date(year, month + 1, min(birth.day, calendar.monthrange(year, month + 1)[1]))
    return max(months, 0), max((on - start).days, 0)
