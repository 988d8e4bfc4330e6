"""By when milk that is out of the cold must be put away so that it keeps as long as if that were done now."""

from __future__ import annotations

from thawline.core.times import HOUR, MINUTE, SECOND, written
from thawline.core.verdict import Option, Verdict
from thawline.services.known import fold_kins, judged
from thawline.services.plan_seen import Seen
from thawline.services.recording import line_of

_STEPS = 7
_ASKED = "asked.put_away"


def put_by(seen: Seen, found: Verdict, chill: Option) -> int:
    """The latest instant found at which putting it away still gives the deadline that it gives now; `now` at least.

    Being out adds up: done at the last moment that is no breach, it may keep for an hour only.
    """
    if _until(seen, found.container, chill, chill.not_after) >= (chill.then_use_by or 0):
        return chill.not_after
    early, late = seen.now, chill.not_after
    for _ in range(_STEPS):
        middle = (early + late) // 2
        if _until(seen, found.container, chill, middle) >= (chill.then_use_by or 0):
            early = middle
        else:
            late = middle
    return max(seen.now, early - early % MINUTE)


def _until(seen: Seen, name: str, chill: Option, at: int) -> int:
    """Its deadline if it were put away at an instant; 0 where there is none."""
    at = min(at - at % SECOND, seen.now + 1000 * HOUR)
    row = {"id": _ASKED, "kind": "moved", "at": written(at, seen.zone), "container": name, "to": chill.place}
    parts, _ = fold_kins(seen.base, {0: [*seen.lines_of([name]), line_of(row)]}, at)
    part = parts.get(0)
    rows = [] if part is None else judged(seen.base, part, at, options=False)
    return next((one.use_by or 0 for one in rows if one.container == name), 0)
