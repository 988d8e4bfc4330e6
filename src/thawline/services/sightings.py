"""What a family saw of its own thaws, and the film coefficient in air that this supports."""

from __future__ import annotations

import math
from collections.abc import Collection
from functools import lru_cache
from typing import NamedTuple

from thawline.core.fold import Fold
from thawline.core.places import FREEZERS
from thawline.core.times import DAY, HOUR
from thawline.services.bounds import COLD, Film, Measured, logged, measured

# What a family saw long ago says less of today's refrigerator, and each thaw seen has to be gone through.
MOST_SEEN = 60


class Observation(NamedTuple):
    """One thaw in a logged refrigerator: ice still there after `ice_h`, none any more after `gone_h`.

    Temperatures in degrees Celsius: the refrigerator's coldest and warmest reading, and the freezer's last, if known.
    """

    shape: Measured
    coldest_c: float
    warmest_c: float
    freezer_c: float | None
    ice_h: float
    gone_h: float | None


def observed(fold: Fold, names: Collection[str]) -> tuple[tuple[Observation, ...], bool]:
    """What was seen of these containers' thaws, and whether later events may still say more."""
    found = []
    more = any(name not in fold.containers for name in names)
    for name in sorted(set(names) & set(fold.containers)):
        container = fold.containers[name]
        shape = measured(container)
        if shape is None:
            continue
        more = True
        for before, stay, after in zip(
            container.stays, container.stays[1:], [*container.stays[2:], None], strict=False
        ):
            line, freezer = fold.places.lines[stay.place], fold.places.lines[before.place]
            end = after.at if after is not None else container.left or stay.at + 5 * DAY
            rows = [row for row in logged(line, stay.at) if row[0] <= end]
            if freezer.kind_at(before.at) not in FREEZERS or line.kind_at(stay.at) != COLD or not rows:
                continue
            looks = [
                (look.at, look.value) for look in container.looks if look.what == "look" and stay.at <= look.at <= end
            ]
            ice = max((at for at, value in looks if value is True), default=stay.at)
            gone = min((at for at, value in looks if value is False), default=None)
            if ice > stay.at or gone is not None:
                found.append(
                    Observation(
                        shape, min(c for _, c in rows), max(c for _, c in rows), freezer.temp_at(stay.at),
                        (ice - stay.at) / HOUR, None if gone is None else (gone - stay.at) / HOUR,
                    )
                )  # fmt: skip
    return tuple(found), more


@lru_cache(maxsize=64)
def film_of(seen: tuple[Observation, ...]) -> Film | None:
    """The film that these sightings support, in W/(m2 K); None where there are none."""
    if not seen:
        return None
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
