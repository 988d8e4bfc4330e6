"""A second, deliberately plain reading of the clock rules, to hold the real engine against.

It walks from the first event to now, one minute at a time. It shares nothing with the core but the guideline files
and the event types, and it is not meant to be fast.
"""

# Long plain lists of cases are the point here.
# ruff: noqa: C901, PLR0911, PLR0912, PLR0917

from __future__ import annotations

import calendar
import copy
import functools
import json
import re
import tomllib
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from thawline.core import events as ev

FILES = Path(__file__).resolve().parents[2] / "src" / "thawline" / "core" / "guidelines"
FREEZERS = ("freezer_compartment", "freezer", "deep_freezer")
FRESH = ("fresh_room", "fresh_cooler", "fresh_refrigerator", "brought_to_room")
ROOM_CLOCKS = ("brought_to_room", "thawed_room")
DAY = 24 * 60
OUTSIDE = None  # what choose() answers where rows exist and none holds
# Bands that are ours, for rows whose source prints none.
OUR_BANDS = {"room": 25.0, "refrigerator": 40.0, "freezer": 0.0, "deep_freezer": 0.0, "freezer_compartment": 0.0}
# These speak of the milk, not of where it lies; the place has a situation of its own beside them.
NO_OUR_BAND = ("warmed", "thawed_warm_water", "leftover")


# ---------------------------------------------------------------- guideline files


@functools.cache
def house() -> dict:
    return tomllib.loads((FILES / "house.toml").read_text())


@functools.cache
def load(name: str) -> dict:
    path = Path(name) if name.endswith(".toml") else FILES / f"{name}.toml"
    data = tomllib.loads(path.read_text())
    data.setdefault("limit", [])
    data.setdefault("ban", [])
    return data


@functools.cache
def shipped_homes() -> tuple[str, ...]:
    return tuple(sorted(p.stem for p in FILES.glob("*.toml") if tomllib.loads(p.read_text())["role"] == "home"))


def degrees(text: str) -> float:
    number, unit = text.split()
    if unit == "F":
        return (float(number) - 32) * 5 / 9
    if float(number) == -18:
        return (0 - 32) * 5 / 9  # 0 F counts as -18 C
    return float(number)


def holds(row: dict, situation: str, kind: str, temp: float | None, traits: tuple) -> bool:
    """Whether a row's `when` holds, for milk with these traits, in such a place."""
    very_clean, milk, added = traits
    when = row.get("when", {})
    if "kind" in when and kind not in when["kind"]:
        return False
    if when.get("known") and temp is None:
        return False
    if temp is not None:
        band = when.get("band", {})
        if kind in band:
            if temp > degrees(band[kind]) + 1e-6:
                return False
        elif kind in OUR_BANDS and situation not in NO_OUR_BAND:
            ours = OUR_BANDS[kind] if kind == "room" else (OUR_BANDS[kind] - 32) * 5 / 9
            if temp > ours + 1e-6:
                return False
        above = when.get("above", {})
        if kind in above and temp <= degrees(above[kind]) + 1e-6:
            return False
    if when.get("handling") == "very_clean" and not very_clean:
        return False
    if milk not in when.get("milk", ["own"]):
        return False
    allowed = set(when.get("added", []))
    if allowed:
        return bool(added) and added <= allowed
    return not added


def specific(row: dict) -> int:
    return sum(1 for key in ("known", "handling", "kind", "milk", "added") if key in row.get("when", {}))


def most_specific(rows: list[dict]) -> list[dict]:
    top = max(specific(r) for r in rows)
    return [r for r in rows if specific(r) == top]


def usable(file: str, situation: str, temp: float | None) -> list[dict]:
    """The `use` rows that may count at all: not from memory, nor wanting a temperature that nobody knows."""
    return [
        r
        for r in load(file)["limit"]
        if situation in r["situation"]
        and r["grade"] == "use"
        and r["mark"] != "memory"
        and not (temp is None and r.get("when", {}).get("known"))
    ]


@functools.cache
def choose(file: str, situation: str, kind: str, temp: float | None, traits: tuple) -> tuple | None:
    """The `use` rows that count: ('all', rows), ('earliest', rows) where only the first to end counts, or OUTSIDE."""
    rows = usable(file, situation, temp)
    if rows:
        good = [r for r in rows if holds(r, situation, kind, temp, traits)]
        return ("all", most_specific(good)) if good else OUTSIDE
    role = load(file)["role"]
    if role == "childcare":
        return ("all", [])
    if role != "home":
        return OUTSIDE
    rows = usable("cdc", situation, temp)
    if rows:
        good = [r for r in rows if holds(r, situation, kind, temp, traits)]
        return ("all", most_specific(good)) if good else OUTSIDE
    good = []
    for other in shipped_homes():
        fit = [r for r in usable(other, situation, temp) if holds(r, situation, kind, temp, traits)]
        good += [r for r in fit if not r["allows"].startswith("0 ")]
    return ("earliest", good) if good else OUTSIDE


@functools.cache
def choose_best(file: str, situation: str, kind: str, temp: float | None, traits: tuple) -> list[dict]:
    """The `best` rows that count; one from memory gives way to the CDC's."""
    rows = [r for r in load(file)["limit"] if situation in r["situation"] and r["grade"] == "best"]
    good = [r for r in rows if r["mark"] != "memory" and holds(r, situation, kind, temp, traits)]
    silent = load(file)["role"] == "home" and not usable(file, situation, temp)
    if not good and file != "cdc" and (silent or any(r["mark"] == "memory" for r in rows)):
        # Where the CDC's row stands in, so does its quality date.
        return choose_best("cdc", situation, kind, temp, traits)
    return most_specific(good) if good else []


# ---------------------------------------------------------------- time, in whole minutes since 1970


def minute(when: datetime) -> int:
    seconds = when.timestamp()
    if seconds % 60:
        raise ValueError(f"not on a whole minute: {when}")
    return int(seconds) // 60


def moment(m: int) -> datetime:
    return datetime.fromtimestamp(m * 60, UTC)


def is_bare(text: str) -> bool:
    return re.fullmatch(r"\d{4}-\d\d-\d\d", text) is not None


def read_time(text: str, zone: str) -> int:
    """RFC 3339, or a bare date: the first minute of that day in its zone."""
    if is_bare(text):
        return minute(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)))
    return minute(datetime.fromisoformat(text.replace("Z", "+00:00").replace("z", "+00:00")))


def add_allowance(start: int, allows: str, zone: str) -> int:
    number, unit = allows.split()
    n = int(number)
    unit = unit.rstrip("s")
    if unit != "month":
        return start + n * {"minute": 1, "hour": 60, "day": DAY, "week": 7 * DAY}[unit]
    local = moment(start).astimezone(ZoneInfo(zone))
    years, month0 = divmod(local.month - 1 + n, 12)
    year = local.year + years
    day = min(local.day, calendar.monthrange(year, month0 + 1)[1])
    return minute(local.replace(year=year, month=month0 + 1, day=day, fold=0))


# ---------------------------------------------------------------- the state


@dataclass
class Limit:
    id: str
    situation: str
    start: int
    until: int
    use: bool  # else it only says when the milk is best
    stay: bool
    firm: bool = True  # False: the excursion that started it may yet turn out short


@dataclass
class Place:
    kind: str
    temp: float | None = None
    last_cold: int = 0  # when a cooler was last read as cold
    off_since: int | None = None  # power
    fill: str | None = None
    unsure_since: int | None = None  # off for longer than anyone promises


@dataclass
class State:
    """One component: milk of one expression."""

    ml: float
    expressed: int
    very_clean: bool = False
    milk: str = "own"
    mother: str | None = None
    for_child: str | None = None
    zone: str | None = None
    added: frozenset = frozenset()
    form: str = "fresh"
    stay_since: int = 0
    received: int | None = None
    # the cold
    been_cold: bool = False
    cold_before_stay: bool = False
    room_minutes: int = 0  # all minutes out of the cold since expression
    cooler_since: int | None = None
    out_since: int | None = None  # the present excursion
    out_small_or_hot: bool = False  # it warms up fast: the short time is the shorter one
    short_minutes: int = 0  # short excursions so far
    # the freezer
    first_frozen: int | None = None
    entered_freezer: int | None = None
    left_freezer: int | None = None
    solid: bool = False  # certainly frozen
    last_ice: int | None = None
    also_fresh: bool = False  # taken out too soon: the fresh limits run on
    parked: dict = field(default_factory=dict)  # fresh limits, should it prove not to have frozen
    # warming, feeding
    warmed: int | None = None
    warmed_icy: bool = False
    fed: int | None = None
    fed_end: int | None = None
    # outside
    outside_since: int | None = None
    bad_since: int | None = None  # a known temperature has been out of the band
    outside_for_good: bool = False
    unsure_since: int | None = None
    checked: int | None = None  # somebody looked: ice, or cold by the thermometer
    limits: dict = field(default_factory=dict)
    breaches: set = field(default_factory=set)

    def traits(self) -> tuple:
        return (self.very_clean, self.milk, self.added)

    def gains_by_moves(self) -> bool:
        return self.warmed is None and self.fed is None


@dataclass
class Container:
    place: str
    parts: list[State]
    holds: set = field(default_factory=set)

    def ml(self) -> float:
        return sum(p.ml for p in self.parts)


@dataclass
class World:
    files: list[str]
    zone: str = "UTC"
    places: dict[str, Place] = field(default_factory=dict)
    children: dict[str, str] = field(default_factory=dict)
    containers: dict[str, Container] = field(default_factory=dict)
    gone: set = field(default_factory=set)

    def bans(self, act: str) -> bool:
        return any(b["act"] == act for f in (*self.files, "house") for b in load(f)["ban"])


def kind_of(place: Place) -> str:
    """The kind a place counts as: a warm cooler is a room."""
    if place.kind == "cooler" and place.temp is not None and place.temp > degrees(house()["warm_cooler"]["above"]):
        return "room"
    return place.kind


# ---------------------------------------------------------------- what runs


def situations(c: State, kind: str) -> list[str]:
    found = []
    thawed = c.form in ("thawing", "thawed")
    if c.form == "fresh" or (c.also_fresh and thawed):
        if kind == "room":
            found.append("fresh_room")
            if c.been_cold:
                found.append("brought_to_room")
        elif kind == "cooler":
            found.append("fresh_cooler")
        elif kind == "refrigerator":
            found.append("fresh_refrigerator")
    if thawed:
        found.append("thawed_room" if kind == "room" else "thawed_cold")
    if c.form == "frozen" and kind in FREEZERS:
        found.append(kind)
    if c.warmed is not None and (not c.warmed_icy or c.also_fresh):
        # Thawed in warm water has a row of its own.
        found.append("warmed")
    if c.warmed_icy:
        found.append("thawed_warm_water")
    if c.fed is not None:
        found.append("leftover")
    return found


def left_cold(c: State) -> int | None:
    if c.out_since is not None and c.form == "thawing" and c.last_ice is not None:
        return max(c.out_since, c.last_ice)
    return c.out_since


def start_of(c: State, situation: str, starts: str, m: int) -> int | None:
    if starts == "received":
        return c.received
    if situation == "fresh_room":
        return m - c.room_minutes
    if starts == "expressed":
        return c.expressed
    if starts == "entered_place":
        return c.cooler_since if situation == "fresh_cooler" else c.stay_since
    if starts == "first_frozen":
        return c.first_frozen
    if starts == "left_freezer":
        return c.left_freezer
    if starts == "thawed":
        return c.last_ice if c.last_ice is not None else c.left_freezer
    if starts == "left_cold":
        return left_cold(c)
    if starts == "warmed":
        return c.warmed
    if starts == "feed_began":
        return c.fed
    if starts == "feed_ended":
        return c.fed_end if c.fed_end is not None else c.fed
    raise ValueError(starts)


def start_rows(w: World, c: State, situation: str, kind: str, temp: float | None, m: int, firm: bool = True) -> bool:
    """Start the limits of a situation, each once. False where a guideline gives no time for it."""
    inside = True
    for file in w.files:
        chosen = choose(file, situation, kind, temp, c.traits())
        if chosen is OUTSIDE:
            inside = False
            chosen = ("all", [])
        how, rows = chosen
        running = {row["id"] for row in rows if (file, row["id"], situation) in c.limits}
        if how == "earliest" and running:
            rows = []
        made = [make_limit(w, c, situation, row, m, firm) for row in rows if row["id"] not in running]
        made = [x for x in made if x is not None]
        if how == "earliest" and made:
            made = [min(made, key=lambda x: (x.until, x.id))]
        for row in choose_best(file, situation, kind, temp, c.traits()):
            if (file, row["id"], situation) not in c.limits:
                made.append(make_limit(w, c, situation, row, m, firm))
        for limit in made:
            if limit is not None:
                c.limits[(file, limit.id, situation)] = limit
    return inside


def make_limit(w: World, c: State, situation: str, row: dict, m: int, firm: bool) -> Limit | None:
    start = start_of(c, situation, row["starts"], m)
    if start is None:
        return None
    until = add_allowance(start, row["allows"], c.zone or w.zone)
    return Limit(row["id"], situation, start, until, row["grade"] == "use", row["runs"] == "stay", firm)


def look(w: World, c: State, place: Place, m: int) -> None:
    """What runs for this milk at this minute, and whether any guideline gives it time at all."""
    kind = kind_of(place)
    inside = True
    inside_if_unknown = True
    for situation in situations(c, kind):
        firm = situation not in ROOM_CLOCKS or c.warmed is not None or c.fed is not None
        if not start_rows(w, c, situation, kind, place.temp, m, firm):
            inside = False
            for file in w.files:
                if choose(file, situation, kind, None, c.traits()) is OUTSIDE:
                    inside_if_unknown = False
    bad_temp = place.temp is not None and not inside and inside_if_unknown
    if bad_temp and c.bad_since is None:
        c.bad_since = m
    if c.bad_since is not None:
        if m - c.bad_since > house()["for_good"]["hours"] * 60 and not c.outside_for_good:
            c.outside_for_good = True
            c.outside_since = c.bad_since
        if not bad_temp:
            c.bad_since = None
    unsure = place.unsure_since
    if unsure is not None and c.unsure_since is None and c.stay_since <= unsure:
        looked = c.checked is not None and c.checked >= unsure
        if not looked:
            c.unsure_since = unsure
            c.room_minutes += m - unsure
    before = c.outside_since
    if not c.outside_for_good:
        if not inside and c.outside_since is None:
            c.outside_since = m
        elif inside and c.unsure_since is not None:
            c.outside_since = c.unsure_since
        elif inside:
            c.outside_since = None
    if c.outside_since is not None and (c.form == "fresh" or (c.also_fresh and c.form != "frozen")):
        # Time outside counts as room time, and the sum has its limit wherever the milk lies.
        start_rows(w, c, "fresh_room", "room", None, m)
    if before is not None and c.outside_since is None and kind != "room":
        end_room_in_time(c, m)


def end_room_in_time(c: State, m: int) -> None:
    """The cold came back to the milk: nobody moved it, so too late is no breach, but it stands."""
    for key, limit in list(c.limits.items()):
        if limit.situation == "fresh_room" and m <= limit.until and c.gains_by_moves():
            del c.limits[key]


def tick(w: World, box: Container, c: State, place: Place, m: int) -> None:
    """One minute passes."""
    look(w, c, place, m)
    warm = kind_of(place) == "room"
    if warm or c.outside_since is not None:
        c.room_minutes += 1
    if not warm:
        c.been_cold = True
    if c.left_freezer is not None or c.out_since is not None:
        rule = house()["short_excursion"]
        hot = warm and place.temp is not None and place.temp > degrees(rule["hot_room"])
        if hot or box.ml() < rule["from_ml"]:
            c.out_small_or_hot = True


def power_tick(place: Place, m: int) -> None:
    if place.off_since is None or place.unsure_since is not None:
        return
    hours = house()["power"].get(place.kind)
    if hours is None:
        return
    if isinstance(hours, dict):
        hours = hours[place.fill or "little"]
    if m > place.off_since + hours * 60:
        place.unsure_since = place.off_since + hours * 60


# ---------------------------------------------------------------- moves


def breach(w: World, c: State, what: str, m: int) -> None:
    c.breaches.add((what, m))


def banned(w: World, c: State, act: str, m: int) -> None:
    if w.bans(act):
        breach(w, c, act, m)


def passed(c: State, m: int) -> list[Limit]:
    return [x for x in c.limits.values() if x.use and m > x.until]


def short_time(c: State) -> int:
    rule = house()["short_excursion"]
    return rule["small_minutes"] if c.out_small_or_hot else rule["minutes"]


def stay_ends(situation: str, here: str, there: str) -> bool:
    if situation == "fresh_room":
        return there != "room"
    if situation == "fresh_cooler":
        return there == "refrigerator" or there in FREEZERS
    if situation in FREEZERS:
        return True
    return here != there


def come_back(w: World, c: State, m: int) -> None:
    """Out of the room again: was it short enough to forget?"""
    began = left_cold(c)
    if began is None:
        return
    length = m - began
    short = length <= short_time(c) and c.short_minutes + length <= short_time(c)
    if short and c.gains_by_moves():
        c.short_minutes += length
        for key in [k for k, x in c.limits.items() if x.situation in ROOM_CLOCKS and not x.firm]:
            del c.limits[key]
    else:
        # A room too hot for the row has started nothing, and must not be the better for it.
        for situation in situations(c, "room"):
            if situation in ROOM_CLOCKS:
                start_rows(w, c, situation, "room", None, m)
        for limit in c.limits.values():
            limit.firm = True
    c.out_since = None


def move(w: World, c: State, here_name: str, there_name: str, m: int) -> None:
    if here_name == there_name:
        return
    here, there = kind_of(w.places[here_name]), kind_of(w.places[there_name])
    # Leaving a stay: in time it ends, too late it stands.
    for key, limit in list(c.limits.items()):
        if limit.stay and stay_ends(limit.situation, here, there):
            if m > limit.until:
                limit.stay = False
                if limit.use:
                    breach(w, c, limit.id, m)
            elif c.gains_by_moves():
                del c.limits[key]
    if c.warmed is not None and there != "room":
        banned(w, c, "warmed_to_cold", m)
    if here == "room" and there != "room":
        come_back(w, c, m)
    if there in FREEZERS and here not in FREEZERS:
        enter_freezer(w, c, m)
    if here in FREEZERS and there not in FREEZERS and c.form == "frozen":
        leave_freezer(w, c, m)
    if there == "room" and here != "room":
        c.out_small_or_hot = False
        c.out_since = m if c.been_cold else None
    if there == "cooler" and c.cooler_since is None:
        c.cooler_since = m
    if there == "refrigerator" or there in FREEZERS:
        c.cooler_since = None
    c.cold_before_stay = c.been_cold
    c.stay_since = m


def enter_freezer(w: World, c: State, m: int) -> None:
    if c.warmed is not None:
        banned(w, c, "freeze_warmed", m)
    if c.fed is not None:
        banned(w, c, "freeze_leftover", m)
    still_frozen = False
    if c.form in ("thawing", "thawed"):
        if c.form == "thawing" and c.warmed is None:
            ice = house()["short_excursion"]["ice_minutes"]
            if m - c.left_freezer <= short_time(c):
                still_frozen = True
            elif c.last_ice is not None and m - c.last_ice <= ice:
                still_frozen = True
                banned(w, c, "refreeze_partial", m)
        if not still_frozen:
            banned(w, c, "refreeze", m)
    if still_frozen and c.gains_by_moves():
        for key in [k for k, x in c.limits.items() if x.situation in ("thawed_cold", "thawed_room")]:
            del c.limits[key]
    late = passed(c, m)
    for limit in late:
        breach(w, c, limit.id, m)
    if not late and c.gains_by_moves() and (c.form == "fresh" or still_frozen):
        c.parked = {k: x for k, x in c.limits.items() if x.situation in FRESH}
        for key in c.parked:
            del c.limits[key]
    if c.form == "fresh":
        c.solid = False
    if c.first_frozen is None:
        c.first_frozen = m
    c.entered_freezer = m
    c.form = "frozen"


def leave_freezer(w: World, c: State, m: int) -> None:
    if not c.solid and m - c.entered_freezer < house()["frozen_solid"]["hours"] * 60:
        run_on_fresh(w, c, m)
    else:
        c.solid = True
        c.also_fresh = False
        c.parked = {}
        c.short_minutes = 0
    c.form = "thawing"
    c.left_freezer = m
    c.last_ice = None
    c.out_small_or_hot = False


def run_on_fresh(w: World, c: State, m: int) -> None:
    """Not certainly frozen: as if it had stayed in a refrigerator of unknown temperature."""
    c.also_fresh = True
    c.limits.update(c.parked)
    c.parked = {}
    start_rows(w, c, "fresh_refrigerator", "refrigerator", None, m)


def set_temp(w: World, name: str, temp: float, m: int) -> None:
    place = w.places[name]
    before = kind_of(place)
    place.temp = temp
    after = kind_of(place)
    place.unsure_since = None
    if place.off_since is not None:
        place.off_since = None  # somebody looked: from here on the readings count
    inside = [c for box in w.containers.values() if box.place == name for c in box.parts]
    for c in inside:
        c.unsure_since = None
        if before == "cooler" and after == "room":
            since = max(c.stay_since, place.last_cold)
            c.room_minutes += m - since
            c.been_cold = c.cold_before_stay or since > c.stay_since
            c.out_since = since if c.been_cold else None
            c.out_small_or_hot = False
        if before == "room" and after == "cooler":
            come_back(w, c, m)
            end_room_in_time(c, m)
    if after == "cooler":
        place.last_cold = m


# ---------------------------------------------------------------- events


def remove(box: Container, ml: float) -> None:
    total = box.ml()
    for c in box.parts:
        c.ml -= min(ml, total) * c.ml / total if total else 0


def drop_if_empty(w: World, name: str) -> None:
    if w.containers[name].ml() < 0.05:
        del w.containers[name]
        w.gone.add(name)


def expressed(w: World, e: ev.Expressed, m: int) -> None:
    if e.place not in w.places:
        return
    for portion in e.into:
        if portion.container in w.containers or portion.container in w.gone:
            continue
        c = State(portion.ml, m, e.handling == "very_clean", "own", e.mother, e.for_, e.zone)
        c.stay_since = m
        kind = kind_of(w.places[e.place])
        if kind == "cooler":
            c.cooler_since = m
        if kind in FREEZERS:
            enter_freezer(w, c, m)
        w.containers[portion.container] = Container(e.place, [c])


def stocked(w: World, e: ev.Stocked, m: int) -> None:
    if e.place not in w.places or e.container in w.containers or e.container in w.gone:
        return
    zone = e.zone or w.zone
    born = read_time(e.expressed, zone)
    if born > m:
        return
    kind = kind_of(w.places[e.place])
    form = e.form or ("frozen" if kind in FREEZERS else "fresh")
    c = State(e.ml, born, False, e.milk, e.mother, e.for_, e.zone)
    c.stay_since = born  # not known, so taken at its earliest
    c.been_cold = c.cold_before_stay = kind != "room"
    if kind == "room":
        c.room_minutes = m - born
    if kind == "cooler":
        c.cooler_since = born
    if form == "fresh":
        if kind in FREEZERS:
            c.stay_since = m
            start_rows(w, c, "fresh_refrigerator", "refrigerator", None, m)
            enter_freezer(w, c, m)
    else:
        c.first_frozen = max(born, read_time(e.frozen_on, zone)) if e.frozen_on else born
        c.entered_freezer = c.first_frozen
        c.solid = True
        c.been_cold = True
        c.form = "frozen"
        if form == "frozen" and kind not in FREEZERS:
            c.form = "thawing"  # seen frozen when it was stocked
            c.left_freezer = c.last_ice = m
        if form == "thawed":
            c.form = "thawed"
            c.left_freezer = c.first_frozen  # nobody knows when: the earliest it can have been
        if kind == "room":
            c.out_since = c.left_freezer
    w.containers[e.container] = Container(e.place, [c])


def is_warm(c: State, kind: str, m: int) -> bool:
    """Milk that would warm what it is poured onto."""
    if c.warmed is not None:
        return True
    if kind != "room" or c.form == "frozen":
        return False
    began = left_cold(c)
    if began is None:
        return True
    return c.short_minutes + m - began > short_time(c)


def poured(w: World, e: ev.Poured, m: int) -> None:
    if e.into in w.gone or not e.from_:
        return
    for portion in e.from_:
        if portion.container not in w.containers or portion.container == e.into:
            return
        if portion.ml > w.containers[portion.container].ml() * 1.2:
            return
    target = w.containers.get(e.into)
    place = target.place if target else w.containers[e.from_[0].container].place
    base = [(c, kind_of(w.places[place])) for c in target.parts] if target else []
    groups, holds_on = [], set()
    for portion in e.from_:
        box = w.containers[portion.container]
        total = box.ml()
        share = min(portion.ml, total) / total if total else 0
        kind = kind_of(w.places[box.place])
        group = []
        for c in box.parts:
            look(w, c, w.places[box.place], m)
            new = copy.deepcopy(c)
            new.ml = c.ml * share
            group.append((new, kind, box.place))
        groups.append(group)
        holds_on |= box.holds
        remove(box, portion.ml)
    for c, _ in base:
        look(w, c, w.places[place], m)
    acts = pour_acts(base, [[(c, k) for c, k, _ in g] for g in groups], m)
    for group in groups:
        for c, _, came_from in group:
            move(w, c, came_from, place, m)
    parts = [c for group in groups for c, _, _ in group]
    if target:
        target.parts += parts
        target.holds |= holds_on
    else:
        target = w.containers[e.into] = Container(place, parts, holds_on)
    for act in acts:
        for c in target.parts:
            banned(w, c, act, m)
    everything = set().union(*(c.breaches for c in target.parts))
    for c in target.parts:
        c.breaches |= everything
    for name in {p.container for p in e.from_}:
        drop_if_empty(w, name)


def pour_acts(base: list, groups: list, m: int) -> set[str]:
    """What pouring these onto that amounts to. In a new container each source counts as poured onto the others."""
    acts = set()
    everything = base + [x for g in groups for x in g]
    mothers = {c.mother for c, _ in everything if c.mother is not None}
    if len(mothers) > 1:
        acts.add("two_mothers")
    if (base or len(groups) > 1) and any(passed(c, m) for c, _ in everything):
        acts.add("combine_past")
    if any(c.been_cold or c.form != "fresh" for c, _ in base):
        acts.add("onto_stored")
    for i, group in enumerate(groups):
        onto = base or [x for j, g in enumerate(groups) if j != i for x in g]
        for c, kind in group:
            for other, other_kind in onto:
                if is_warm(c, kind, m) and other.form == "frozen":
                    acts.add("warm_onto_frozen")
                elif is_warm(c, kind, m) and other.been_cold and not is_warm(other, other_kind, m):
                    acts.add("warm_onto_cold")
                if c.fed is not None and other.fed is None:
                    acts.add("leftover_into_unfed")
                if base and c.fed is None and other.fed is not None:
                    acts.add("fresh_onto_leftover")
    return acts


def moved(w: World, name: str, to: str, m: int) -> None:
    if to not in w.places:
        return
    box = w.containers[name]
    for c in box.parts:
        look(w, c, w.places[box.place], m)
        move(w, c, box.place, to, m)
    box.place = to


def thaw_seen(w: World, c: State, place: Place, ice: bool, m: int) -> None:
    if ice and c.form in ("frozen", "thawing"):
        c.last_ice = c.checked = m
        c.solid = True
        c.unsure_since = None
        # It has not thawed before now, whatever ran so far.
        for key in [k for k, x in c.limits.items() if x.situation in ("thawed_cold", "thawed_room")]:
            del c.limits[key]
        if c.also_fresh:
            c.also_fresh = False
            for key in [k for k, x in c.limits.items() if x.situation in FRESH and m <= x.until and not c.warmed]:
                del c.limits[key]
        c.parked = {}
        c.short_minutes = 0
    if not ice and c.form == "thawing":
        c.form = "thawed"
    if not ice and c.form == "frozen":
        # Thawed in the freezer, in a power cut: at the last moment it was known frozen.
        known = c.last_ice if c.last_ice is not None else c.entered_freezer
        if place.unsure_since is not None:
            known = max(known, place.unsure_since)
        elif place.off_since is not None:
            known = max(known, place.off_since)
        for key, limit in list(c.limits.items()):
            if limit.situation in FREEZERS and m <= limit.until:
                del c.limits[key]
        if not c.solid and m - c.entered_freezer < house()["frozen_solid"]["hours"] * 60:
            run_on_fresh(w, c, m)
        c.form = "thawed"
        c.left_freezer = c.last_ice = known


def warmed(w: World, box: Container, e: ev.Warmed, m: int) -> None:
    for c in box.parts:
        place = w.places[box.place]
        look(w, c, place, m)
        if e.how in ("microwave", "stovetop"):
            banned(w, c, e.how, m)
        if c.warmed is not None:
            banned(w, c, "rewarm", m)
        if c.form == "frozen":
            for key, limit in list(c.limits.items()):
                if limit.situation in FREEZERS and m <= limit.until:
                    del c.limits[key]
            leave_freezer(w, c, m)
        if c.form == "thawing":
            c.warmed_icy = True
        if c.warmed is None:
            c.warmed = m
        # Warming brings cold milk to room temperature at once.
        if c.been_cold or c.form != "fresh":
            outing = c.out_since
            if outing is None:
                c.out_since = m
            for situation in situations(c, "room"):
                if situation in ROOM_CLOCKS:
                    start_rows(w, c, situation, "room", None, m)
            if kind_of(place) != "room":
                c.out_since = outing
        for limit in c.limits.values():
            limit.firm = True


def feed_began(w: World, box: Container, child: str, m: int) -> None:
    for c in box.parts:
        look(w, c, w.places[box.place], m)
        for limit in passed(c, m):
            breach(w, c, limit.id, m)
        if c.for_child is not None and c.for_child != child:
            banned(w, c, "other_child", m)
        if c.fed is None:
            c.fed = m


def feed_ended(w: World, name: str, left: float, m: int) -> None:
    box = w.containers[name]
    if left > box.ml() * 1.2:
        return
    for c in box.parts:
        if c.fed is None:
            c.fed = m
        if c.fed_end is None:
            c.fed_end = m
            for key in [k for k, x in c.limits.items() if x.situation == "leftover"]:
                del c.limits[key]
    rescale(w, name, left)


def rescale(w: World, name: str, ml: float) -> None:
    box = w.containers[name]
    total = box.ml()
    for c in box.parts:
        c.ml = ml * c.ml / total if total else ml / len(box.parts)
    drop_if_empty(w, name)


def apply(w: World, e: ev.Event, m: int) -> None:
    if isinstance(e, ev.Household):
        w.zone = e.zone
    elif isinstance(e, ev.Place):
        w.places[e.place].kind = e.is_
        if e.temp_c is not None:
            set_temp(w, e.place, e.temp_c, m)
    elif isinstance(e, ev.Child):
        w.children[e.child] = e.care
    elif isinstance(e, ev.Expressed):
        expressed(w, e, m)
    elif isinstance(e, ev.Stocked):
        stocked(w, e, m)
    elif isinstance(e, ev.Poured):
        poured(w, e, m)
    elif isinstance(e, ev.Measured) and e.place in w.places:
        set_temp(w, e.place, e.temp_c, m)
    elif isinstance(e, ev.PowerLost) and e.place in w.places:
        place = w.places[e.place]
        if place.off_since is None:
            place.off_since, place.fill = m, e.fill
    elif isinstance(e, ev.PowerBack) and e.place in w.places:
        w.places[e.place].off_since = None
    elif getattr(e, "container", None) in w.containers:
        with_container(w, e, m)


def with_container(w: World, e: ev.Event, m: int) -> None:
    name = e.container
    box = w.containers[name]
    if isinstance(e, ev.Moved):
        moved(w, name, e.to, m)
    elif isinstance(e, ev.ThawSeen):
        for c in box.parts:
            look(w, c, w.places[box.place], m)
            thaw_seen(w, c, w.places[box.place], e.ice, m)
    elif isinstance(e, ev.Warmed):
        warmed(w, box, e, m)
    elif isinstance(e, ev.FeedBegan):
        if e.child in w.children:
            feed_began(w, box, e.child, m)
    elif isinstance(e, ev.FeedEnded):
        feed_ended(w, name, e.left_ml, m)
    elif isinstance(e, ev.Discarded):
        if e.ml is None:
            rescale(w, name, 0)
        elif e.ml <= box.ml() * 1.2:
            remove(box, e.ml)
            drop_if_empty(w, name)
    elif isinstance(e, ev.Counted):
        rescale(w, name, e.ml)
    elif isinstance(e, ev.Added):
        for c in box.parts:
            c.added = c.added | {e.what}
    elif isinstance(e, ev.HandedOver):
        if e.place is None:
            rescale(w, name, 0)
        else:
            moved(w, name, e.place, m)
    elif isinstance(e, (ev.Received, ev.Returned)):
        moved(w, name, e.place, m)
        if isinstance(e, ev.Received):
            for c in box.parts:
                c.received = m
    elif isinstance(e, ev.Measured):
        for c in box.parts:
            if e.temp_c <= (OUR_BANDS["refrigerator"] - 32) * 5 / 9:
                c.checked = m
                c.unsure_since = None
    elif isinstance(e, ev.Held):
        box.holds.add(e.why)
    elif isinstance(e, ev.Released):
        box.holds = {h for h in box.holds if e.why is not None and h != e.why}


# ---------------------------------------------------------------- the walk


def read(lines: list[dict]) -> list[ev.Event]:
    """Each id once, without what was voided; voiding a void restores."""
    seen: dict[str, ev.Event] = {}
    for line in lines:
        e = ev.decoder.decode(json.dumps(line))
        seen.setdefault(e.id, e)
    voids = [e for e in seen.values() if isinstance(e, ev.Voided)]

    def is_void(event_id: str, path: tuple = ()) -> bool:
        return any(v.event == event_id and v.id not in path and not is_void(v.id, (*path, v.id)) for v in voids)

    return [e for e in seen.values() if not isinstance(e, ev.Voided) and not is_void(e.id)]


def when_of(e: ev.Event, zone: str, born: dict[str, int]) -> int:
    """Its minute; where only the date is known, the first of that day at which its container was there."""
    m = read_time(e.at, e.zone or zone)
    if is_bare(e.at):
        names = [e.container] if hasattr(e, "container") else []
        names += [p.container for p in getattr(e, "from_", [])]
        for name in names:
            if not isinstance(e, ev.Stocked) and m < born.get(name, 0) < m + DAY:
                m = born[name]
    return m


def judge(
    lines: list[dict],
    guideline_id: str,
    now: datetime,
    also: list[str] = [],  # noqa: B006
) -> dict[str, dict]:
    """What a ledger comes to at `now`: for each live container its dates, form, standing and breaches."""
    all_events = read(lines)
    until = int(now.timestamp()) // 60

    # Settings hold from the beginning as first described.
    def settings_order(e: ev.Event) -> tuple:
        return (read_time(e.at, e.zone or getattr(e, "zone", None) or "UTC"), e.id)

    w = World([guideline_id, *also])
    households = sorted((e for e in all_events if isinstance(e, ev.Household)), key=settings_order)
    if households:
        w.zone = households[0].zone
    for e in sorted((e for e in all_events if isinstance(e, ev.Place)), key=settings_order):
        w.places.setdefault(e.place, Place(e.is_, e.temp_c))
    for e in sorted((e for e in all_events if isinstance(e, ev.Child)), key=settings_order):
        w.children.setdefault(e.child, e.care)

    def zone_at(e: ev.Event) -> str:
        zone = w.zone
        for h in households:
            if h.at[:10] <= e.at[:10]:
                zone = h.zone
        return zone

    born: dict[str, int] = {}
    for e in all_events:
        if isinstance(e, ev.Expressed):
            for p in e.into:
                born[p.container] = read_time(e.at, e.zone or zone_at(e))
        elif isinstance(e, ev.Stocked):
            born[e.container] = read_time(e.at, e.zone or zone_at(e))
    for e in all_events:
        if isinstance(e, ev.Poured):
            born.setdefault(e.into, when_of(e, zone_at(e), born))

    timed = [(when_of(e, zone_at(e), born), ev.ORDER.get(type(e), ev.LAST), e.id, e) for e in all_events]
    timed = sorted((t for t in timed if t[0] <= until), key=lambda t: t[:3])
    if not timed:
        return {}

    # Before there is milk no minute matters.
    milk = [t[0] for t in timed if isinstance(t[3], (ev.Expressed, ev.Stocked))]
    at = 0
    for m in range(min(milk, default=until), until + 1):
        for place in w.places.values():
            power_tick(place, m)
        while at < len(timed) and timed[at][0] <= m:
            apply(w, timed[at][3], timed[at][0])
            at += 1
        for box in w.containers.values():
            for c in box.parts:
                if m < until:
                    tick(w, box, c, w.places[box.place], m)
                else:
                    look(w, c, w.places[box.place], m)
    return {name: verdict(w, box, now) for name, box in w.containers.items()}


def no_home_limits(w: World, box: Container) -> bool:
    """A child under a hospital's care: only a care team's file may speak."""
    if any(load(f)["role"] == "care_team" for f in w.files):
        return False
    for c in box.parts:
        if c.for_child is not None:
            if w.children.get(c.for_child) == "hospital":
                return True
        elif list(w.children.values()) == ["hospital"]:
            return True
    return False


def verdict(w: World, box: Container, now: datetime) -> dict:
    limits = [x for c in box.parts for x in c.limits.values()]
    use = min((x.until for x in limits if x.use), default=None)
    best = min((x.until for x in limits if not x.use), default=None)
    outside = min((c.outside_since for c in box.parts if c.outside_since is not None), default=None)
    breaches = {(what, moment(m)) for c in box.parts for what, m in c.breaches}
    past = use is not None and now > moment(use)
    silent = no_home_limits(w, box)
    if silent:
        use = best = None
        past = False
    elif outside is not None and not past:
        use = outside
    if best is not None and use is not None:
        best = min(best, use)
    if breaches:
        standing = "breached"
    elif past:
        standing = "past"
    elif box.holds:
        standing = "held"
    elif outside is not None or silent:
        standing = "outside"
    else:
        standing = "ok"
    forms = {c.form for c in box.parts}
    return {
        "use_by": None if use is None else moment(use),
        "best_by": None if best is None else moment(best),
        "form": next(f for f in ("thawed", "thawing", "frozen", "fresh") if f in forms),
        "standing": standing,
        "breaches": breaches,
    }
