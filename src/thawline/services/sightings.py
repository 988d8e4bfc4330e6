"""What a family saw of its own thaws, and the film coefficient in air that this supports."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from functools import lru_cache
from typing import NamedTuple

from thawline.core import events as ev
from thawline.core.containers import Stay
from thawline.core.fold import Fold
from thawline.core.times import DAY, HOUR
from thawline.records.store import Store
from thawline.services.bound_hours import Film
from thawline.services.bounds import View, Visit, amounts_of
from thawline.services.place_logs import FRESH_READING, logged
from thawline.services.shapes import Measured, measured

# What a family saw long ago says less of today's refrigerator, and each thaw seen has to be gone through.
MOST_SEEN = 60

Folded = Callable[[list[bytes]], tuple[Fold | None, int | None]]


class Observation(NamedTuple):
    """One thaw in a logged refrigerator, `place`: ice still there after `ice_h`, none any more after `gone_h`.

    Temperatures in degrees Celsius: the refrigerator's coldest and warmest reading, and the freezer's last, if known.
    """

    place: str
    shape: Measured
    coldest_c: float
    warmest_c: float
    freezer_c: float | None
    ice_h: float
    gone_h: float | None


def observed(fold: Fold, names: Collection[str]) -> tuple[Observation, ...]:
    """What was seen of these containers' thaws."""
    found: list[Observation] = []
    amounts: dict[str, list[tuple[int, float]]] | None = None
    for name in sorted(set(names) & set(fold.containers)):
        container = fold.containers[name]
        shape = measured(container)
        if shape is not None:
            amounts = amounts or amounts_of(fold)
            view = View(fold, container, shape, amounts[name], {})
            found += [one for thaw in view.thaws() if (one := _seen(view, *thaw)) is not None]
    return tuple(found)


def _seen(view: View, visit: Visit, stay: Stay, after: int | None) -> Observation | None:
    """What was seen of a thaw while nothing disturbed it and the refrigerator was read; None where that is nothing."""
    rows = logged(view.line(stay), stay.at)
    if not rows:
        return None
    end = min(view.undisturbed(stay, after), rows[-1][0] + FRESH_READING, stay.at + 5 * DAY)
    looks = [one for one in view.container.looks if one.what == "look" and stay.at < one.at <= end]
    ice = max((one.at for one in looks if one.value is True), default=stay.at)
    gone = min((one.at for one in looks if one.value is False), default=None)
    # Ice after there was none: one of the two is a mistake.
    if (ice == stay.at and gone is None) or (gone is not None and gone <= ice):
        return None
    temps = [c for at, c in rows if at <= end]
    return Observation(
        stay.place, view.shape, min(temps), max(temps), view.line(visit.stays[-1][0]).temp_at(stay.at),
        (ice - stay.at) / HOUR, None if gone is None else (gone - stay.at) / HOUR,
    )  # fmt: skip


def films_of(seen: Collection[Observation]) -> dict[str, Film]:
    """The film that these sightings support, in W/(m2 K), for each refrigerator in which something was seen."""
    places = {one.place for one in seen}
    return {place: _film_of(tuple(one for one in seen if one.place == place)) for place in sorted(places)}


@lru_cache(maxsize=256)
def _film_of(seen: tuple[Observation, ...]) -> Film:
    from thawline.engines.physics import assumed, fit  # noqa: PLC0415  (start-up time)
    from thawline.engines.physics.spread import Range  # noqa: PLC0415

    told = []
    for one in seen:
        shape = one.shape
        milk = assumed.vessel(shape.shape, shape.ml, shape.across_mm, measured=True)
        c = Range(one.coldest_c, (one.coldest_c + one.warmest_c) / 2, one.warmest_c)
        frozen = assumed.FREEZER if one.freezer_c is None else assumed.elsewhere(one.freezer_c)
        gone_h = math.inf if one.gone_h is None else one.gone_h
        told.append(fit.Seen(milk, assumed.air("refrigerator", c), one.ice_h, gone_h, frozen))
    return Film(*fit.film(told), len(told))


class Watched:
    """One household's watched thaws, kept between two looks; asked anew only where their milk may have changed."""

    def __init__(self) -> None:
        self._revision: int | None = None
        self._names: list[str] = []
        self._kins: dict[int, int] = {}
        self._wakes: int | None = None
        self._seen: tuple[Observation, ...] = ()

    def films(self, store: Store, revision: int, now: int, folded: Folded) -> dict[str, Film]:
        """What the thaws seen up to a revision support, by place; `folded` folds lines and tells the next wake."""
        waking = self._wakes is not None and now >= self._wakes
        if revision != self._revision or waking:
            self._find(store, revision, anew=waking or self._revision is None)
            kins = {row.key: row.revision for row in store.kins_of(self._names).values()} if self._names else {}
            if kins != self._kins or waking:
                self._kins = kins
                lines = [line for kin in store.kin_lines(sorted(kins)).values() for line in kin]
                part, self._wakes = folded(lines) if lines else (None, None)
                self._seen = observed(part, self._names) if part is not None else ()
                if part is not None:
                    # Of milk that nobody measured no later event says more, but a correction: then all are found anew.
                    self._names = [name for name in self._names if _tells(part, name)]
                    self._kins = {row.key: row.revision for row in store.kins_of(self._names).values()}
        return films_of(self._seen)

    def _find(self, store: Store, revision: int, *, anew: bool) -> None:
        """The containers that somebody looked at last, where something was seen since."""
        anew = anew or bool(store.kinds_after(self._revision or 0) & _SIGHTINGS)
        self._revision = revision
        if anew:
            rows = store.history(before=None, limit=MOST_SEEN, kinds=["thaw_seen"])
            events = [ev.decoder.decode(row.line) for row in rows]
            self._names = sorted({event.container for event in events if isinstance(event, ev.ThawSeen)})


def _tells(fold: Fold, name: str) -> bool:
    """Whether a container was measured, or is not there yet."""
    return name not in fold.containers or measured(fold.containers[name]) is not None


# After these something else may have been seen.
_SIGHTINGS = {"thaw_seen", "voided"}
