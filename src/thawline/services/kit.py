"""The expressing kit: when it was washed and sanitised, when next, and by which published line."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from thawline.core import events as ev
from thawline.core import figures
from thawline.core.times import DAY, HOUR, MINUTE, Span, day_start, is_date, zone_named
from thawline.records.store import Row, Store
from thawline.services.correcting import event_of, voids_of
from thawline.services.kit_risk import at_risk
from thawline.services.known import Ground, known

_FILE = "kit"
_PAGE = 40  # rows read at once
_MOST_USES = 400  # sessions looked through for the first one since the kit was sanitised
# From the strictest on.
CADENCES = ("every_use", "daily", "optional")


class Line(NamedTuple):
    """A line of a text: what it says, whose it is, and how sure that is (seen, second-hand, memory, derived, ours)."""

    says: str
    source: str
    mark: str
    short: str = ""


class Sanitising(NamedTuple):
    """When the kit was sanitised last and is due next, by which line. Instants in microseconds.

    `last_at` None: never noted. `due_at` None: nothing is due (`optional`, or not used since where every use counts).
    `cadence`: every_use, daily or optional. `child`: for whom it counts, "" where none is on the list. `unit`: the
    child is in a hospital's care, whose word comes first. `used`: whether the kit was used since it was sanitised.
    """

    last_at: int | None
    due_at: int | None
    cadence: str
    says: str
    source: str
    mark: str
    short: str = ""
    child: str = ""
    unit: bool = False
    used: bool = False

    def overdue(self, now: int) -> bool:
        """Whether it should have been sanitised by now: a kit that lies unused waits for its next use."""
        return self.due_at is not None and self.used and now > self.due_at


class Washing(NamedTuple):
    """When the kit was washed last (sanitised counts: washing comes before it), and the last use. In microseconds."""

    last_at: int | None
    used_at: int | None

    @property
    def overdue(self) -> bool:
        """Whether it was used since."""
        return self.used_at is not None and (self.last_at is None or self.used_at > self.last_at)


class Basin(NamedTuple):
    """When the basin and the brush were washed last, and by when again. In microseconds."""

    last_at: int | None
    due_at: int | None
    line: Line


class _Counted(NamedTuple):
    """The line that counts, for whom, and whether a hospital's unit comes first."""

    row: dict[str, Any]
    child: str
    unit: bool


def sanitising(store: Store, *, now: int, risk: Collection[str] | None = None) -> Sanitising:
    """When the kit has to be sanitised, for the child with the strictest line; raises `GuidelineError`.

    `risk`: children born early or with a weakened immune system; None: those of whom the household said so.
    """
    base = _ground(store, now)
    zone = zone_named(base.settings.zone)
    named = at_risk(store) if risk is None else frozenset(risk)
    found = _strictest(base, named, now=now, zone=zone)
    cadence = str(found.row["cadence"])
    last = _last(store, now, what="kit", hows=("sanitised",))
    uses = list(islice(_uses(store, now=now, after=last, zone=zone), _MOST_USES if cadence == "every_use" else 1))
    due = _due(cadence, last, uses)
    told = line(found.row)
    return Sanitising(
        last, due, cadence, told.says, told.source, told.mark, told.short, found.child, found.unit, bool(uses)
    )  # fmt: skip


def _due(cadence: str, last: int | None, uses: Sequence[int]) -> int | None:
    """When it is due; `uses` since `last`, latest first. Never sanitised: since the latest use."""
    if cadence == "optional":
        return None
    if last is None:
        return uses[0] if uses else None
    if cadence == "daily":
        return last + daily_h() * HOUR
    return uses[-1] if uses else None


def daily_h() -> int:
    """Hours that count as a day between two times."""
    return int(figures.entry(__package__, _FILE, "daily")["value"])


def washing(store: Store, *, now: int) -> Washing:
    """When the kit was washed last, and when it was used last."""
    zone = zone_named(_ground(store, now).settings.zone)
    last = _last(store, now, what="kit", hows=("washed", "sanitised"))
    return Washing(last, next(_uses(store, now=now, after=None, zone=zone), None))


def basin(store: Store, *, now: int) -> Basin:
    """When the basin and the brush were washed last, and by when again."""
    row = figures.entry(__package__, _FILE, "basin")
    last = _last(store, now, what="basin", hows=("washed", "sanitised"))
    return Basin(last, None if last is None else last + int(row["value"]) * DAY, line(row))


# Which line counts


def _ground(store: Store, now: int) -> Ground:
    cache = known(store)
    with cache.lock:
        return cache.ground(store, now)


def line(row: Mapping[str, Any]) -> Line:
    """A line of the data file, its source by its full name."""
    source = figures.entry(__package__, _FILE, "sources", str(row["source"]))
    return Line(str(row["says"]), str(source["title"]), str(row["mark"]), str(source["short"]))


def sources() -> list[tuple[str, str]]:
    """Every source, by its short name and in full."""
    rows: dict[str, dict[str, str]] = figures.entry(__package__, _FILE, "sources")
    return [(row["short"], row["title"]) for row in rows.values() if row["short"] != row["title"]]


def children(store: Store, *, now: int) -> list[str]:
    """The names of the children."""
    return [child.child for child in children_in(_ground(store, now), now)]


def children_in(base: Ground, now: int) -> list[ev.Child]:
    """The children as they were described last; one that is still ahead, as it is described first."""
    found: dict[str, ev.Child] = {}
    for entry in base.entries:
        event = entry.event
        if isinstance(event, ev.Child) and (entry.at <= now or event.child not in found):
            found[event.child] = event
    return list(found.values())


def _strictest(base: Ground, risk: Collection[str], *, now: int, zone: ZoneInfo) -> _Counted:
    children = children_in(base, now)
    unit = any(child.care == "hospital" for child in children)
    if not children:
        return _Counted(figures.entry(__package__, _FILE, "nobody"), "", unit)
    found = [
        _Counted(row, child.child, unit) for child in children
        for row in _rows(child, base.rules.guideline.id, risk, now=now, zone=zone)
    ]  # fmt: skip
    return min(found, key=lambda one: CADENCES.index(str(one.row["cadence"])))


def _rows(child: ev.Child, guideline: str, risk: Collection[str], *, now: int, zone: ZoneInfo) -> list[dict[str, Any]]:
    """The lines that hold for a child: the guideline's own where it has any, and those that hold whoever writes."""
    every: list[dict[str, Any]] = figures.entry(__package__, _FILE, "cadence")
    own = [row for row in every if guideline in row["guidelines"]]
    general = [row for row in every if not row["guidelines"] and "for" not in row]
    of_risk = [row for row in every if row.get("for") == "risk" and child.child in risk]
    found = [row for row in (*of_risk, *(own or general)) if _young(child.born, row["months"], now=now, zone=zone)]
    return [*([figures.entry(__package__, _FILE, "hospital")] if child.care == "hospital" else []), *found]


def _young(born: str, months: int, *, now: int, zone: ZoneInfo) -> bool:
    """Whether a child is younger than so many calendar months; 0: at any age."""
    return months == 0 or now < Span(months, "months").after(day_start(born, zone), zone)


def beside(store: Store, *, now: int) -> list[Line]:
    """Other published lines, to be seen beside the one that counts."""
    guideline = _ground(store, now).rules.guideline.id
    rows = figures.entry(__package__, _FILE, "beside")
    return [line(row) for row in rows if guideline not in row["guidelines"]]


def steps(part: str, store: Store, *, now: int) -> list[Line]:
    """What to do `before`, `after`, or to `sanitise`; what only one guideline says, under that one alone."""
    guideline = _ground(store, now).rules.guideline.id
    rows = figures.entry(__package__, _FILE, "steps", part)
    return [line(row) for row in rows if guideline in row.get("guidelines", [guideline])]


# What was noted


def _last(store: Store, now: int, *, what: str, hows: Collection[str]) -> int | None:
    """When it was cleaned last; a day alone counts from its beginning."""
    for row, event in _standing(store, "cleaned", now=now):
        if isinstance(event, ev.Cleaned) and event.what == what and event.how in hows:
            return row.at
    return None


def _uses(store: Store, *, now: int, after: int | None, zone: ZoneInfo) -> Iterator[int]:
    """When sessions ended, latest first, back to an instant."""
    for row, event in _standing(store, "expressed", now=now):
        if after is not None and row.at + DAY < after:
            return
        if isinstance(event, ev.Expressed) and (after is None or _ended(row, event, now, zone) > after):
            yield _ended(row, event, now, zone)


def _ended(row: Row, event: ev.Expressed, now: int, zone: ZoneInfo) -> int:
    """When a session ended: before it was noted; of a day alone, before that day's end."""
    end = row.at + (DAY if is_date(event.at) else int((event.minutes or 0) * MINUTE))
    return max(row.at, min(now, row.recorded_at, end))


def _standing(store: Store, kind: str, *, now: int) -> Iterator[tuple[Row, ev.AnyEvent]]:
    """Events of a kind that happened and count, latest first."""
    before: tuple[int, str] | None = None
    while True:
        rows = store.history(before=before, limit=_PAGE, kinds=(kind,))
        there = [row for row in rows if row.at <= now]
        voided = voids_of(store, [row.event_id for row in there], now=now)
        yield from ((row, event_of(row)) for row in there if row.event_id not in voided)
        if len(rows) < _PAGE:
            return
        before = rows[-1].at, rows[-1].event_id
