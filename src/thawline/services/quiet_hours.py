"""When somebody wants to be left alone, on the household's clock, also over the nights on which it changes."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from thawline.core.times import MINUTE, local
from thawline.services.plan_days import clock_on

CLOCK = re.compile(r"(?:[01]\d|2[0-3]):[0-5]\d", re.ASCII)
# What falls due within quiet hours is told so long before they begin.
BEFORE = 15 * MINUTE


class Quiet(NamedTuple):
    """Quiet hours by two clock times such as 22:00 and 06:30; none where one is empty or both are the same."""

    start: str
    end: str
    zone: ZoneInfo

    def around(self, at: int) -> tuple[int, int] | None:
        """The stretch of quiet hours (start, end) in which an instant lies; the end itself is no longer quiet."""
        if not self.start or not self.end or self.start == self.end:
            return None
        today = local(at, self.zone).date()
        for day in (today - timedelta(days=1), today):
            start = clock_on(day, self.start, self.zone)
            end = clock_on(day + timedelta(days=int(self.end < self.start)), self.end, self.zone)
            if start <= at < end:
                return start, end
        return None

    def moment(self, ring: int, by: int) -> int:
        """When to tell of what is due at `by`, wanted at `ring`: after quiet hours, or before them if that is late."""
        found = self.around(ring)
        if found is None:
            return ring
        start, end = found
        return start - BEFORE if by <= end else end
