"""Milk that a child has along while apart: in a cooler since it left, or where it was handed over."""

from __future__ import annotations

from collections.abc import Iterator

from thawline.core.times import HOUR
from thawline.services.habits import Habits
from thawline.services.plan_days import Stretch, days_from, stretches
from thawline.services.plan_figures import figure
from thawline.services.plan_seen import Seen

_BEGUN = "begun"


def away_places(seen: Seen, habits: Habits) -> frozenset[str]:
    """Places that are not the family's own: milk was handed over to them, or they are called as a place apart is."""
    named = {one.where for one in habits.apart} & set(seen.base.places.lines)
    return seen.past.away | named


def begun(where: str, stretch: Stretch) -> str:
    """What a place is called while a time apart there has begun: only milk that is along serves then."""
    return f"{where}|{_BEGUN}|{stretch.start}"


def plain(where: str) -> str:
    """The place itself."""
    return where.split(f"|{_BEGUN}|", 1)[0]


def along(seen: Seen, habits: Habits, stretch: Stretch) -> frozenset[str]:
    """The containers that are along on a time apart: where milk is handed over, or in a cooler since it left."""
    since = stretch.start - int(figure("apart", "packed_h") * HOUR)
    if not since <= seen.now < stretch.end:
        return frozenset()
    away, lines = away_places(seen, habits), seen.base.places.lines
    found = set()
    for name, one in seen.containers.items():
        in_bag = lines[one.place].kind_at(seen.now) == "cooler" and one.stays[-1].at >= since
        if one.place in away or in_bag:
            found.add(name)
    return frozenset(found)


def now_apart(seen: Seen, habits: Habits) -> Iterator[Stretch]:
    """The times apart of all children that have begun, or that milk may be packed for already."""
    soon = seen.now + int(figure("apart", "packed_h") * HOUR)
    for day in days_from(seen.now, 1, seen.zone):
        for kid in seen.kids:
            yield from (
                one for one in stretches(habits, kid.name, day, seen.zone) if one.start <= soon and seen.now < one.end
            )
