"""The four questions of heat, answered: thawed when, frozen when, warmed in which bowl, cold enough when."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import takewhile
from typing import Any, NamedTuple

from thawline.core.times import DAY, MINUTE
from thawline.engines.physics import ask, assumed
from thawline.engines.physics.course import Course, Path, course, ice_shares, in_bowl, settles_c
from thawline.engines.physics.numbers import table, value
from thawline.engines.physics.spread import Air, Range, Triple
from thawline.services import heat
from thawline.services.board import Board, One
from thawline.services.heat import IN_AIR, IN_WATER, Around, Subject, When, on_clock, widest

_HOUR = 60 * MINUTE
_COLD = ("refrigerator", "cooler")


# Thawing


class Wanted(NamedTuple):
    """When milk is wanted thawed, and by when to move it, for certain and likely; None where it may never thaw."""

    at: int
    by: int | None
    likely_by: int | None


class Thaw(NamedTuple):
    """When milk is completely thawed, in hours and on the clock: early as safety takes it, late as planning does."""

    takes: Triple
    around: Around
    when: When
    began: int

    @property
    def freezing_c(self) -> float:
        """Where the last ice goes, degrees Celsius."""
        return assumed.FREEZING.nominal

    @property
    def never(self) -> bool:
        """Whether it does not thaw there at all."""
        return math.isinf(self.takes.early_h)

    @property
    def unlikely(self) -> bool:
        """Whether it most likely does not thaw there."""
        return math.isinf(self.takes.nominal_h)

    @property
    def perhaps(self) -> bool:
        """Whether it may not thaw there."""
        return math.isinf(self.takes.late_h)


def _thaws(subject: Subject, around: Around, start: Range) -> Triple:
    """Hours until thawed: early as safety takes it, late as planning does."""
    clock = widest([ask.thaw(one, around.clock, start_c=start) for one in subject.vessels()])
    plan = widest([ask.thaw(one, around.plan, start_c=start) for one in subject.vessels(planning=True)])
    return Triple(min(clock.early_h, plan.early_h), plan.nominal_h, plan.late_h).rounded(IN_AIR)


def thaw(subject: Subject, around: Around, start: Range, *, now: int, zone: str) -> Thaw:
    """When it is thawed if it goes there now; milk that thaws already counts from when it left the freezer."""
    seen = _thaws(subject, around, start)
    left, since = subject.left_freezer, subject.since
    if subject.form != "thawing" or left is None or since is None:
        return Thaw(seen, around, on_clock(seen, now, zone=zone), now)
    early = on_clock(seen, left, zone=zone).early
    late = on_clock(seen, since, zone=zone)
    if early is not None and subject.ice_seen is not None:
        early = max(early, subject.ice_seen)
    return Thaw(seen, around, late._replace(early=early), left)


def thaw_course(subject: Subject, around: Around, start: Range, found: Thaw) -> Course:
    """How its temperature runs on the way; early as safety counts, late as planning does."""
    return course(subject.vessels()[0], around.clock, found.takes, start_c=start.nominal, end_c=found.freezing_c)


def wanted(found: Thaw, first: int, *, now: int) -> list[Wanted]:
    """By when to move it for this moment; where that has gone by, also for the first day on which it can be kept."""
    rows = [_wanted(found, first)]
    if rows[0].by is not None and rows[0].by < now:
        days = -((rows[0].by - now) // DAY)
        rows.append(_wanted(found, first + days * DAY))
    return rows


def _wanted(found: Thaw, at: int) -> Wanted:
    return Wanted(at, _before(at, found.takes.late_h), _before(at, found.takes.nominal_h))


def ice_left(runs: Course) -> Course:
    """The same way as a share of its ice, 1 to begin with and 0 at the end."""
    return Course(*(ice_shares(path) for path in runs))


def by_lying(subject: Subject, around: Around, start: Range) -> list[tuple[str, Triple]]:
    """How long a bag takes on a rack and on a shelf, where nobody said how it lies; none for other containers."""
    if subject.shape != "flat" or subject.stands:
        return []
    return [(stands, _thaws(subject._replace(stands=stands), around, start)) for stands in ("open", "shelf")]


def _before(at: int, hours: float) -> int | None:
    if math.isinf(hours):
        return None
    step = IN_AIR * MINUTE
    return (at - round(hours * _HOUR)) // step * step


# Freezing


class Freeze(NamedTuple):
    """When milk is solid and when it is hard, in hours and on the clock."""

    solid: Triple
    hard: Triple
    around: Around
    solid_at: When
    hard_at: When

    @property
    def never(self) -> bool:
        """Whether it does not freeze there at all."""
        return math.isinf(self.hard.early_h)


class Layer(NamedTuple):
    """A way to lay bags: how thick (mm) the layer is, how many lie on each other, and until when it is hard."""

    mm: float
    bags: int
    shelf: Triple
    rack: Triple


def freeze(subject: Subject, around: Around, start: Range, *, began: int, zone: str) -> Freeze:
    """When it is frozen if it went there at `began`."""
    found = [ask.freeze(one, around.clock, start_c=start) for one in subject.vessels()]
    solid = widest([one.solid for one in found]).rounded(IN_AIR)
    hard = widest([one.hard for one in found]).rounded(IN_AIR)
    return Freeze(solid, hard, around, on_clock(solid, began, zone=zone), on_clock(hard, began, zone=zone))


def layers(around: Around, start: Range, ml: float = 120) -> list[Layer]:
    """How long bags take that lie this thick, on a solid shelf and on a rack; the last two lie on each other."""
    thick = [float(mm) for mm in table("questions", "layers_mm")["value"]]
    rows = [(mm, 1) for mm in thick] + [(2 * thick[1], 2)]
    return [Layer(mm, bags, _layer(around, start, ml, mm, 1), _layer(around, start, ml, mm, 2)) for mm, bags in rows]


def _layer(around: Around, start: Range, ml: float, mm: float, faces: float) -> Triple:
    one = assumed.vessel("flat", ml, mm, measured=True, faces=faces)
    return ask.freeze(one, around.clock, start_c=start).hard.rounded(IN_AIR)


def layer_course(rows: Sequence[Layer], around: Around, start: str, ml: float = 120) -> list[tuple[float, Path]]:
    """How single layers freeze on a rack: mm, and the likely way of their temperature."""
    c, found = heat.start_c(start).nominal, []
    for row in (one for one in rows if one.bags == 1):
        vessel = assumed.vessel("flat", ml, row.mm, measured=True, faces=2)
        found.append((row.mm, course(vessel, around.clock, row.rack, start_c=c, end_c=hard_c()).nominal))
    return found


def hard_c() -> float:
    """How cold the middle of hard frozen milk is, degrees Celsius."""
    return assumed.HARD_C


# Warming


class Bowl(NamedTuple):
    """What a bowl of warm water does: the temperature at which it settles, and how long it takes still and swirled.

    `thawed_*` are None for milk that is liquid; `enough_l` is the least water that can do it, infinite where none can,
    `enough_hotter_l` the same at the warmest that is advised, `changed_once` whether the same water once more will do.
    """

    water_c: float
    too_hot: bool
    to_c: float
    settles: Range
    thawed_swirled: Triple | None
    thawed_still: Triple | None
    swirled: Triple
    still: Triple
    enough_l: float
    enough_hotter_l: float
    changed_once: bool

    @property
    def reaches(self) -> str:
        """Whether it comes that warm: `yes`, `likely`, `perhaps` or `no`."""
        if math.isinf(self.swirled.early_h):
            return "no"
        if math.isinf(self.swirled.nominal_h):
            return "perhaps"
        return "likely" if math.isinf(self.swirled.late_h) else "yes"


def warm(subject: Subject, start: Range, *, water_l: float, water_c: float, to_c: float) -> Bowl:
    """What this bowl does to this container; water that is too hot counts as let cool to the most that is advised."""
    most = assumed.MOST_BATH_C
    row = table("questions", "water")
    c = min(water_c, most)
    kg, temp = Range.about(water_l, row["off_part"]), Range(c - row["off_k"], c, min(c + row["off_k"], most))
    found = [ask.bath(one, water_kg=kg, water_c=temp, start_c=start, to_c=to_c) for one in subject.vessels("upright")]
    thawed = [(one.swirled_thawed, one.still_thawed) for one in found]
    bowl = Bowl(
        c, water_c > most, to_c, found[0].settles_c,
        _whole([one for one, _still in thawed]), _whole([one for _swirled, one in thawed]),
        widest([one.swirled_reached for one in found]).rounded(IN_WATER),
        widest([one.still_reached for one in found]).rounded(IN_WATER),
        found[0].enough_kg, math.inf, changed_once=False,
    )  # fmt: skip
    return bowl if bowl.reaches in ("yes", "likely") else bowl._replace(**_otherwise(subject, start, bowl, kg, temp))


def _otherwise(subject: Subject, start: Range, bowl: Bowl, kg: Range, temp: Range) -> dict[str, Any]:
    """What would do instead: the same water once more, or more of the warmest that is advised."""
    once = settles_c(subject.ml, water_kg=kg.low, water_c=temp.low, start_c=bowl.settles.low) >= bowl.to_c
    most, hotter = assumed.MOST_BATH_C, math.inf
    if math.isinf(bowl.enough_l) and bowl.water_c < most:
        vessel = subject.vessels("upright")[0]
        hotter = ask.bath(
            vessel, water_kg=kg, water_c=Range.exactly(most), start_c=start, to_c=bowl.to_c
        ).enough_kg  # fmt: skip
    return {"enough_hotter_l": hotter, "changed_once": once}


def _whole(triples: Sequence[Triple | None]) -> Triple | None:
    known = [one for one in triples if one is not None]
    return widest(known).rounded(IN_WATER) if known else None


def bowl_course(subject: Subject, start: Range, found: Bowl, *, water_l: float) -> Path:
    """How milk that is swirled warms in this bowl."""
    vessel = subject.vessels("upright")[0]
    return in_bowl(vessel, water_kg=water_l, water_c=found.water_c, start_c=start.nominal, end_c=found.to_c)


def most_c() -> float:
    """The warmest water that is advised, degrees Celsius."""
    return assumed.MOST_BATH_C


def warm_to() -> float:
    """How warm a bottle is wanted where nothing is typed, degrees Celsius."""
    return value("questions", "warm_to")


# Chilling


class Cool(NamedTuple):
    """When milk is as cold as the refrigerator within a degree or two: there, and in ice water (hours)."""

    to_c: float
    soon_c: float
    air: Triple
    ice: Triple
    around: Around
    when: When


def cool(subject: Subject, around: Around, start: Range, *, began: int, zone: str) -> Cool:
    """When it is cold enough to go together with cold milk, if it went there at `began`."""
    soon, sure = (_cooled(subject, around.clock, start, _k(name)) for name in ("soon", "value"))
    triple = Triple(soon.early_h, sure.nominal_h, sure.late_h).rounded(IN_AIR)
    to_c = max(around.c.nominal + _k("value"), table("questions", "ice_water")["high"] + _k("soon"))
    quick = widest([ask.cool(one, ice_water(), start_c=start, to_c=to_c) for one in subject.vessels("upright")])
    nominal, when = around.c.nominal, on_clock(triple, began, zone=zone)
    return Cool(
        nominal + _k("value"), nominal + _k("soon"), triple, quick.rounded(IN_WATER), around, when
    )  # fmt: skip


def not_cold_before(found: One, board: Board) -> int | None:
    """When fresh milk that was put into the cold is surely cold; None where it is, or where that is not asked."""
    place = board.place(found.verdict.place)
    fresh = found.verdict.form == "fresh" and found.verdict.warmed is None and not found.container.sources
    if not fresh or place is None or place.kind not in _COLD:
        return None
    cold = {one.name for one in board.places if one.kind in _COLD}
    trail = takewhile(lambda stay: stay.place in cold, reversed(found.container.stays))
    since = min(stay.at for stay in trail)
    takes = _cooled(heat.kept(found, board), heat.around("refrigerator", place).clock, heat.start_c("body"), _k("soon"))
    at = on_clock(takes, since, zone=board.settings.zone).late
    return at if at is None or at > board.now else None


def cool_course(subject: Subject, found: Cool, start: str) -> Course:
    """How its temperature runs on the way."""
    air = Air(Range.exactly(found.around.c.nominal), found.around.clock.film)
    vessel = subject.vessels("upright")[0]
    return course(vessel, air, found.air, start_c=heat.start_c(start).nominal, end_c=found.to_c)


def _k(name: str) -> float:
    return float(table("questions", "cold_enough_k")[name])


def ice_water() -> Air:
    """Water with plenty of ice, stirred."""
    ice = table("questions", "ice_water")
    return Air(Range(ice["low"], ice["value"], ice["high"]), assumed.bath_film())


def _cooled(subject: Subject, air: Air, start: Range, above_k: float) -> Triple:
    """Until it is within `above_k` of the air: in a cold refrigerator as in a warm one."""
    found = []
    for c in (air.c.nominal, air.c.low, air.c.high):
        here = Air(Range.exactly(c), air.film)
        found += [ask.cool(one, here, start_c=start, to_c=c + above_k) for one in subject.vessels("upright")]
    return widest(found)
