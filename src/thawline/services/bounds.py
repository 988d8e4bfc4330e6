"""What the physics lets the clocks assume: worked out from a household's containers, places and readings.

Only containers that somebody measured are spoken for. Each entry rests on the cautious end of everything that is not
known; where too little is known there is none, and the strict rule stands.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from thawline.core.component import Bounds
from thawline.core.containers import Container, Past, Stay
from thawline.core.fold import LONGEST_DAY, Fold
from thawline.core.places import FREEZERS, PlaceLine
from thawline.core.times import DAY, HOUR, SECOND, parse_instant
from thawline.services import bound_hours as hours
from thawline.services.bound_hours import Film
from thawline.services.place_logs import FRESH_READING, changed, cuts_within, logged, warmest
from thawline.services.shapes import Measured, figure, measured

__all__ = ["COLD", "FRESH_READING", "Film", "View", "Visit", "amounts_of", "bounds_of", "prepare"]

COLD = "refrigerator"
_NEVER = 1 << 62
# After these milk is not as it was where it lies: warmer, stirred, or out of it.
_STIRRED = ("warmed", "poured", "feed_began", "added", "away")
_CENTURY_H = 876_600
LATEST = parse_instant("2100-12-30T00:00:00Z")


NOTHING_SEEN: Mapping[str, Film] = MappingProxyType({})


def prepare() -> None:
    """Load the physics ahead of the first page that needs it."""
    hours.thaw_h("flat", 120, 15, 4, -18, None)


def bounds_of(fold: Fold, films: Mapping[str, Film] = NOTHING_SEEN) -> Bounds:
    """The bounds for all containers of a fold; `films` by refrigerator, as far as its thaws were watched."""
    thawed: dict[tuple[str, int], int] = {}
    solid: dict[tuple[str, int], int] = {}
    warm: dict[tuple[str, int], int] = {}
    amounts: dict[str, list[tuple[int, float]]] | None = None
    for name, container in fold.containers.items():
        shape = measured(container)
        if shape is None:
            continue
        if amounts is None:
            amounts = amounts_of(fold)
        view = View(fold, container, shape, amounts[name], films)
        solid.update(((name, at), end) for at, end in view.solid())
        thawed.update(((name, at), end) for at, end in view.thawed())
        warm.update(((name, at), end) for at, end in view.warm())
    return Bounds(thawed, solid, warm)


def amounts_of(fold: Fold) -> dict[str, list[tuple[int, float]]]:
    """Every amount in mL that a container held from an instant on."""
    found: dict[str, list[tuple[int, float]]] = {}
    poured: dict[str, int] = {}
    for step in fold.steps:
        rows = found.setdefault(step.container, [])
        if step.container in poured:
            # What was left when some was poured out is told by what comes next.
            left = step.detail[2] if step.does == "poured" else step.ml
            rows.append((poured.pop(step.container), left))
        rows.append((step.at, step.ml))
        if step.does == "pour_out":
            poured[step.container] = step.at
    for name, container in fold.containers.items():
        end = container.left if container.left is not None else found[name][-1][0]
        found[name].append((end, container.ml))
    return found


class Visit(NamedTuple):
    """Stays in freezers, one after another: each with the instant at which it ended, None where it lasts."""

    stays: tuple[tuple[Stay, int | None], ...]

    @property
    def start(self) -> int:
        """When it came into the first of them."""
        return self.stays[0][0].at


class View:
    """One measured container in its places."""

    def __init__(
        self,
        fold: Fold,
        container: Container,
        shape: Measured,
        amounts: list[tuple[int, float]],
        films: Mapping[str, Film],
    ) -> None:
        self.fold = fold
        self.container = container
        self.shape = shape
        self.amounts = amounts
        self.films = films
        own = [step for step in fold.steps if step.container == container.name]
        self.vague = {step.at for step in own if step.vague}
        self.steps = [(step.at, step.does) for step in own]
        self.past: Past | None = next((step.detail for step in own if step.does == "stocked"), None)
        at = [stay.at for stay in container.stays]
        # Of two moves in one minute nobody knows which stay a moment means.
        self.doubtful = self.vague | {one for one in at if at.count(one) > 1}

    def line(self, stay: Stay) -> PlaceLine:
        """The place of a stay."""
        return self.fold.places.lines[stay.place]

    def _stays(self) -> Iterator[tuple[Stay | None, Stay, int | None]]:
        """Each stay with the one before it, and the moment at which it ended."""
        stays = self.container.stays
        for index, stay in enumerate(stays):
            before = stays[index - 1] if index else None
            after = stays[index + 1].at if index + 1 < len(stays) else self.container.left
            yield before, stay, after

    def _kind(self, stay: Stay | None) -> str:
        return "" if stay is None else self.line(stay).kind_at(stay.at)

    def _visits(self) -> Iterator[tuple[Visit, Stay | None, int | None]]:
        """Each time in freezers, with the stay that followed it and the end of that."""
        here: list[tuple[Stay, int | None]] = []
        for _, stay, after in self._stays():
            if self._kind(stay) in FREEZERS:
                here.append((stay, after))
            elif here:
                yield Visit(tuple(here)), stay, after
                here = []
        if here:
            yield Visit(tuple(here)), None, None

    def _mm(self, start: int, end: int | None, *, thick: bool = False) -> tuple[float, float]:
        """The mL within a span, least or most, and how thick that lies, in mm."""
        held = [ml for at, ml in self.amounts if at <= start][-1:]
        held += [ml for at, ml in self.amounts if at >= start and (end is None or at <= end)]
        some = [ml for ml in held if ml > 0] or [self.shape.ml]
        ml = max(some) if thick else min(some)
        # A bag may give way when its amount changes: no thicker, or no thinner, than it was measured.
        part = max(1.0, ml / self.shape.ml) if thick else min(1.0, ml / self.shape.ml)
        return ml, self.shape.across_mm * (part if self.shape.shape == "flat" else 1.0)

    def since(self, does: Collection[str], start: int, end: int | None) -> list[int]:
        """When such things happened to it from `start` to `end`."""
        return [at for at, what in self.steps if what in does and start <= at and (end is None or at <= end)]

    # Certainly frozen

    def solid(self) -> Iterator[tuple[int, int]]:
        """For each going into a freezer, when it is certainly frozen through."""
        for visit, _, _ in self._visits():
            if visit.start not in self.doubtful:
                late = self._solid(visit, visit.start)
                if late is not None:
                    yield visit.start, late

    def _solid(self, visit: Visit, start: int) -> int | None:
        """When milk that was liquid at `start` is certainly frozen; None where nobody can tell."""
        cuts = [cut for stay, after in visit.stays for cut in cuts_within(self.line(stay), stay.at, after)]
        while True:
            late = self._powered(visit, start)
            if late is None:
                return None
            if late >= LATEST:
                # Too warm to freeze it: from the next reading on, perhaps it was colder.
                later = [
                    at
                    for stay, end in visit.stays
                    for at, c in self.line(stay).measured
                    if at > max(start, stay.at) and (end is None or at < end) and c < figure("ends_c", "solid")
                ]
                if not later:
                    return LATEST
                start = min(later)
                continue
            failed = [back for lost, back in cuts if lost < late and (back is None or back > start)]
            if not failed:
                return late
            if None in failed:
                return LATEST
            # Where the power failed before, it begins anew.
            start = max(back for back in failed if back is not None)

    def _powered(self, visit: Visit, start: int) -> int | None:
        ml, mm = self._mm(start, visit.stays[-1][1], thick=True)
        mm *= self._stacked(visit.stays[0][0])
        late = start
        asked: list[float | None] = []
        while True:
            # What was read after it was solid says nothing of how it froze.
            c, told = self._freezer_c(visit, start, late)
            if not told:
                return None
            if c in asked:
                return late
            asked.append(c)
            late = _after(start, hours.solid_h(self.shape.shape, ml, mm, c))

    def _stacked(self, stay: Stay) -> int:
        """How many bags of the same session may lie on each other: touching ones freeze, and cool, as one."""
        if self.shape.shape != "flat":
            return 1
        same = [
            other
            for other in self.fold.containers.values()
            if other.event is self.container.event
            and any(there.place == stay.place and abs(there.at - stay.at) < DAY for there in other.stays)
        ]
        return max(1, len(same))

    def _freezer_c(self, visit: Visit, start: int, end: int) -> tuple[float | None, bool]:
        """The warmest that its freezers were from `start` to `end`, as read within a day; None as is usual.

        And whether that can be told: a compartment that nobody read may be hardly below freezing.
        """
        known: list[float] = []
        usual = figure("air", "freezer", "clock", "high")
        unread = False
        for stay, after in visit.stays:
            low, high = max(stay.at, start), end if after is None else min(after, end)
            if low > high:
                continue
            line = self.line(stay)
            rows = [c for at, c in line.measured if low - FRESH_READING <= at <= low][-1:]
            rows += [c for at, c in line.measured if low < at <= high]
            if not rows and self._kind(stay) == "freezer_compartment":
                return None, False
            known += rows
            # What was said of it, or read long ago, only counts where that is warmer than usual.
            last = line.temp_at(low)
            known += [last] if last is not None and last > usual else []
            unread = unread or not rows
        known += [usual] if unread and known else []
        return (max(*known, figure("coldest", "freezer")) if known else None), True

    # Completely thawed

    def thaws(self) -> Iterator[tuple[Visit, Stay, int | None]]:
        """Each move of what was surely solid from a freezer to a refrigerator, with the end of its stay there."""
        for visit, stay, after in self._visits():
            if stay is not None and self._kind(stay) == COLD and stay.at not in self.doubtful:
                sure = self._sure(visit, stay.at)
                if sure is not None and sure <= stay.at:
                    yield visit, stay, after

    def _sure(self, visit: Visit, leaves: int) -> int | None:
        """From when on it was certainly solid until it left the freezer."""
        if visit.start in self.doubtful or any(changed(self.line(stay), stay.at, end) for stay, end in visit.stays):
            return None
        start = visit.start
        if self.past is not None and visit.start == self.container.stays[0].at and self.past.vague_frozen:
            start += LONGEST_DAY
        starts = [start, *self.since((*_STIRRED, "no_ice"), visit.start, leaves - 1)]
        for stay, after in visit.stays:
            line = self.line(stay)
            for _, back in cuts_within(line, stay.at, after):
                if back is None or back >= leaves:
                    return None
                starts.append(back)
            # It may have thawed where the freezer itself was too warm.
            starts += [at for at, c in line.measured if stay.at <= at < leaves and c > figure("ends_c", "solid")]
        return self._solid(visit, max(starts))

    def thawed(self) -> Iterator[tuple[int, int]]:
        """For each move from a freezer to a refrigerator whose temperature is logged, the earliest complete thaw."""
        for visit, stay, after in self.thaws():
            early = self._thaw(visit, stay, after)
            if early is not None:
                yield stay.at, early

    def undisturbed(self, stay: Stay, after: int | None) -> int:
        """Until when a stay in a refrigerator went on as it began."""
        line = self.line(stay)
        ends = [lost for lost, _ in cuts_within(line, stay.at, None)]
        ends += [at for at, kind in line.kinds if at > stay.at and kind != COLD][:1]
        ends += self.since(_STIRRED, stay.at, after)
        return min([*ends, _NEVER if after is None else after])

    def _thaw(self, visit: Visit, stay: Stay, after: int | None) -> int | None:
        until = min(self.undisturbed(stay, after), stay.at + FRESH_READING)
        ml, mm = self._mm(stay.at, until)
        leaves, _ = self._freezer_c(visit, stay.at - FRESH_READING, stay.at)

        def early(c: float) -> int:
            c = max(c, figure("coldest", "refrigerator"))
            return _after(stay.at, hours.thaw_h(self.shape.shape, ml, mm, c, leaves, self.films.get(stay.place)))

        rows = logged(self.line(stay), stay.at)
        if not rows:
            return None
        # A reading that comes after it can have thawed already says nothing.
        counted = [c for at, c in [*rows, *self._read(stay.at, until)] if at <= early(rows[0][1])]
        found = max(stay.at, min(early(max(counted)), rows[-1][0] + FRESH_READING, until))
        # Where somebody saw it liquid before, the model was wrong.
        liquid = [one.at for one in self.container.looks if one.what == "look" and one.value is False]
        return None if any(stay.at <= at < found for at in liquid) else found

    def _read(self, start: int, end: int | None) -> list[tuple[int, float]]:
        """What a thermometer in the milk said: where it lies it was at least as warm."""
        return [
            (one.at, float(str(one.value)))
            for one in self.container.looks
            if one.what == "milk" and start <= one.at and (end is None or one.at <= end)
        ]

    # Brought to room temperature

    def warm(self) -> Iterator[tuple[int, int]]:
        """For each going from a refrigerator into a room, how soon it can have warmed up."""
        for before, stay, after in self._stays():
            if before is None or self._kind(stay) != "room" or self._kind(before) != COLD or stay.at in self.doubtful:
                continue
            since = self._cold_since(before, stay.at)
            fridge_c = self._fridge_c(before, stay.at)
            ml, mm = self._mm(before.at, stay.at, thick=True)
            cold = hours.cool_h(
                self.shape.shape, ml, mm * self._stacked(before), fridge_c, self.films.get(before.place)
            )
            if since is None or stay.at < _after(since, cold):
                continue
            if any(c >= figure("warm_c", "value") for _, c in self._read(stay.at, after)):
                yield stay.at, stay.at
                continue
            ml, mm = self._mm(stay.at, after)
            room_c = self._room_c(stay, after)
            yield stay.at, _after(stay.at, hours.warm_h(self.shape.shape, ml, mm, room_c, fridge_c))

    def _cold_since(self, before: Stay, leaves: int) -> int | None:
        """Since when it certainly lay in the cold, whatever its warmth then; None where nobody can tell."""
        line = self.line(before)
        cuts = [back for _, back in cuts_within(line, before.at, leaves)]
        if None in cuts or changed(line, before.at, leaves):
            return None
        # Milk of before the ledger was first seen there when it was noted.
        first = self.container.born if before is self.container.stays[0] else before.at
        first += LONGEST_DAY if {first, before.at} & self.vague else 0
        # Milk that was poured in warm may not be cold yet.
        return max([first, *self.since(_STIRRED, before.at, leaves), *(back for back in cuts if back is not None)])

    def _fridge_c(self, before: Stay, leaves: int) -> float | None:
        """The warmest that its refrigerator was read, also where that was long ago; None as is usual."""
        rows = [row for row in self.line(before).measured if before.at - FRESH_READING <= row[0] <= leaves]
        rows += self._read(before.at, leaves)
        usual = figure("air", "refrigerator", "clock", "high") - figure("air_elsewhere_k", "value")
        found = warmest(rows, usual, leaves - FRESH_READING)
        return None if found is None else max(found, figure("coldest", "refrigerator"))

    def _room_c(self, stay: Stay, after: int | None) -> float | None:
        """The warmest that the room was read, in that time or the day before; None as is usual."""
        low = stay.at - FRESH_READING
        rows = [row for row in self.line(stay).measured if low <= row[0] and (after is None or row[0] <= after)]
        usual = figure("air", "room", "clock", "high") - figure("air_elsewhere_k", "value")
        found = warmest(rows, usual, stay.at - round(figure("room_read_within", "value") * HOUR))
        return None if found is None else max(found, figure("coldest", "room"))


def _after(at: int, hours: float) -> int:
    """An instant so many hours on; what never happens lies at the end of the calendar that a ledger knows."""
    return LATEST if hours > _CENTURY_H else min(LATEST, at + round(hours * 3600) * SECOND)
