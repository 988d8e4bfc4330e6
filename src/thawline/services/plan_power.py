"""Places without power, and until when milk in them counts as cold."""

from __future__ import annotations

from thawline.core.containers import Container
from thawline.core.verdict import FOREVER
from thawline.services.plan_seen import Seen


def without_power(seen: Seen) -> frozenset[str]:
    """Places whose power has gone and is not back: no chore takes milk there."""
    lines = seen.base.places.lines.items()
    return frozenset(name for name, line in lines if any(back is None for _, back, _ in line.outages))


def cold_until(seen: Seen, container: Container) -> int:
    """Until when a container in a place without power counts as cold, whenever it went in; for ever with power."""
    places = seen.base.places
    line = places.lines[container.place]
    ends = [
        places.cold_until(container.place, line.kind_at(seen.now), lost, fill)
        for lost, back, fill in line.outages
        if back is None
    ]
    return min((end for end in ends if end is not None), default=FOREVER)
