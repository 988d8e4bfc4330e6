"""How much one session of expressing brings, and a day of them: from a day's milk and the parent's own sessions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from math import hypot, sqrt

import numpy as np
import numpy.typing as npt

from . import learning, numbers
from .bands import band
from .kinds import Band, Session, Sides

FULL_GAP_H = numbers.value("yields", "full_gap")
USUAL_GAP_H = numbers.value("yields", "usual_gap")
BETWEEN_MOTHERS = numbers.value("yields", "between_mothers")
BETWEEN_SLOTS = numbers.value("yields", "between_slots")
WITHIN = numbers.value("yields", "within_session")
COMMON = numbers.value("yields", "common_day")
SPELLS = numbers.value("yields", "common_spells")
FLOOR = numbers.value("yields", "level_floor")
MOST = 1 + numbers.value("yields", "most")
SLOTS = 4
LEAST_GAP_H, LEAST_DAY_ML = 0.1, 1.0  # below these a session says nothing of the level


def slot(hour: float) -> int:
    """Which quarter of the day, from midnight: 0 to 3."""
    return int(hour % 24 // (24 / SLOTS))


def usual_ml(day_ml: float, hour: float, gap_h: float | None, sides: Sides = "both") -> float:
    """What a session in place of a feed usually brings, in mL, where a day's milk is `day_ml`.

    The milk of the hours since the last emptying, 7 at the most. Mornings bring more mostly by their longer gap, so the
    clock hour counts only where `gap_h` is None.
    """
    waited = min(USUAL_GAP_H if gap_h is None else max(gap_h, 0.0), FULL_GAP_H)
    of_hour = numbers.row("yields", "hour", "factor")[slot(hour)] if gap_h is None else 1.0
    return day_ml / 24 * waited * float(numbers.table("yields", "sides")[sides]) * of_hour


def top_up_ml(day_ml: float, used_d: float = 0) -> Band:
    """What all sessions after full feeds bring in a day, in mL; more after one to two weeks of steady use.

    The middle is what a day of nursing leaves; `high` is what the literature's best reached, nothing to aim at.
    """
    share, done = numbers.table("yields", "top_up"), min(1.0, used_d / numbers.value("yields", "top_up_weeks"))
    likely = share["first"] + done * (share["later_low"] - share["first"])
    high = share["first"] + done * (share["later_high"] - share["first"])
    return Band(share["first"] * (1 - WITHIN) * day_ml, likely * day_ml, high * day_ml)


@dataclass(frozen=True, slots=True)
class Yields:
    """What sessions will bring; spreads are parts of the mean (CV).

    `level`: the parent's sessions against the usual, all together; `levels`: by quarter of the day; `level_between`:
    what stays uncertain of the level however many days are added up, `slot_between`: of one quarter's own level about
    it, `slot_k`: how far a quarter's own sessions count. `common`: what the sessions of one day share, `days_between`:
    what the days noted had of it and coming ones may not have. `session_within`: from session to session, `a_day`:
    sessions a day, by their gaps. `n`: sessions learned from, `k`: how far they count, `own_ml`: their milk by quarter;
    `after_feeds_ml`: what sessions after full feeds brought.
    """

    day_ml: float
    level: float
    levels: tuple[float, ...]
    level_between: float
    slot_between: tuple[float, ...]
    slot_k: tuple[float, ...]
    common: float
    days_between: float
    session_within: float
    a_day: float
    k: float
    n: int
    own_ml: tuple[float, ...]
    after_feeds_ml: tuple[float, ...] = ()

    @property
    def between(self) -> float:
        """The CV of the mean of a day with the sessions of the past days, that does not shrink with days."""
        return self._of_quarters(np.array(self.own_ml))

    @property
    def within(self) -> float:
        """The CV of a day of `a_day` sessions from day to day."""
        return self.within_of(self.a_day)

    @property
    def most_ml(self) -> float:
        """Nothing above this is forecast for a day: 40 % above the present output."""
        return MOST * self.day_ml * self.level

    def within_of(self, sessions: float) -> float:
        """The CV of a day of so many sessions from day to day: sessions make up for each other, a poor day does not."""
        return hypot(self.session_within / sqrt(max(sessions, 1)), self.common)

    def session(self, hour: float, gap_h: float | None = None, sides: Sides = "both") -> tuple[float, float]:
        """Mean in mL and CV of one session in place of a feed."""
        at = slot(hour)
        mean = min(usual_ml(self.day_ml, hour, gap_h, sides) * self.levels[at], self.most_ml)
        of_level = self.level_between * (1 - self.slot_k[at])
        known = max(FLOOR, hypot(of_level, self.slot_between[at], self.days_between)) if self.n else BETWEEN_MOTHERS
        return mean, hypot(known, self.session_within, self.common)

    def top_up(self, sessions: float, used_d: float = 0) -> tuple[float, float]:
        """Mean in mL and CV of one session after a full feed, of so many a day."""
        usual = top_up_ml(self.day_ml, used_d).likely / max(sessions, 1)
        mean = learning.blend(usual, self.after_feeds_ml, BETWEEN_MOTHERS * usual, WITHIN * usual)
        return mean, learning.one_day_cv(len(self.after_feeds_ml), BETWEEN_MOTHERS, WITHIN)

    def day(self, sessions: Sequence[tuple[float, float | None]]) -> Band:
        """A day of sessions, each the hour of its start and the hours since the one before; both breasts."""
        mean = sum(self.session(hour, gap_h)[0] for hour, gap_h in sessions)
        return band(min(mean, self.most_ml), hypot(self.between_of(sessions), self.within_of(len(sessions))))

    def between_of(self, sessions: Sequence[tuple[float, float | None]]) -> float:
        """What stays uncertain of such a day's mean (CV): the level, the quarters, and the days that were noted.

        The level counts only as far as a quarter's own sessions do not say its mean. Never below a floor.
        """
        ml = np.zeros(SLOTS)
        for hour, gap_h in sessions:
            ml[slot(hour)] += self.session(hour, gap_h)[0]
        return self._of_quarters(ml)

    def _of_quarters(self, ml: npt.NDArray[np.float64]) -> float:
        if not self.n or not ml.sum():
            return max(FLOOR, hypot(self.level_between, self.days_between))
        share = ml / ml.sum()
        of_level = self.level_between * float(share @ (1 - np.array(self.slot_k)))
        return max(FLOOR, hypot(of_level, float(np.linalg.norm(share * self.slot_between)), self.days_between))


def learn(sessions: Sequence[Session], *, day_ml: float) -> Yields:
    """What the parent's recent sessions say beside what is usual for a day's milk of `day_ml`.

    Per quarter of the day the parent's own mean, shrunk to that of all their sessions, and that to the usual.
    Raises `ValueError` for amounts or gaps that are none.
    """
    _check(sessions, day_ml)
    in_place = [one for one in sessions if one.in_place_of_feed]
    usual = [usual_ml(day_ml, one.hour, one.gap_h, one.sides) for one in in_place]
    pairs = [(one, ml) for one, ml in zip(in_place, usual, strict=True) if _tells(one, day_ml)]
    within = _within(pairs)
    k = learning.trust(len(pairs), BETWEEN_MOTHERS, within)
    level = 1 - k + k * _ratio(pairs) if pairs else 1.0
    by_slot = [[(one, ml) for one, ml in pairs if slot(one.hour) == at] for at in range(SLOTS)]
    slot_k = tuple(learning.trust(len(part), BETWEEN_SLOTS, within) for part in by_slot)
    levels = tuple(map(partial(_slot_level, level), by_slot, slot_k))
    days = _days(pairs, levels)
    common = _common(days, within, len(pairs))
    return Yields(
        day_ml=day_ml, level=level, levels=levels, level_between=BETWEEN_MOTHERS * sqrt(1 - k),
        slot_between=tuple(BETWEEN_SLOTS * sqrt(1 - one) for one in slot_k), slot_k=slot_k, common=common,
        days_between=_days_between(len(days), common), session_within=within, a_day=_a_day(in_place), k=k,
        n=len(pairs), own_ml=tuple(sum(one.ml for one, _ml in part) for part in by_slot),
        after_feeds_ml=tuple(one.ml for one in sessions if not one.in_place_of_feed),
    )  # fmt: skip


def _check(sessions: Sequence[Session], day_ml: float) -> None:
    if not 0 <= day_ml < np.inf:
        raise ValueError("a day's milk is a number of mL, not below zero")
    if not all(0 <= one.ml < np.inf and 0 <= (one.gap_h or 0) < np.inf for one in sessions):
        raise ValueError("a session has an amount in mL and hours since the last one, neither below zero")


def _tells(one: Session, day_ml: float) -> bool:
    return day_ml >= LEAST_DAY_ML and (one.gap_h is None or one.gap_h >= LEAST_GAP_H)


def _ratio(pairs: Sequence[tuple[Session, float]]) -> float:
    return sum(one.ml for one, _ml in pairs) / sum(ml for _one, ml in pairs)


def _within(pairs: Sequence[tuple[Session, float]]) -> float:
    """From session to session about each quarter's mean; the usual figure where there is little to go by."""
    groups = [[one.ml / ml for one, ml in pairs if slot(one.hour) == at] for at in range(SLOTS)]
    return learning.own_within(groups, WITHIN, numbers.value("yields", "within_trust"))


def _slot_level(level: float, pairs: Sequence[tuple[Session, float]], k: float) -> float:
    return k * _ratio(pairs) + (1 - k) * level if pairs else level


def _days(pairs: Sequence[tuple[Session, float]], levels: Sequence[float]) -> list[float]:
    """What each noted day brought over what its sessions usually bring this parent.

    Where the day is not said, a new one begins with an hour that is not later than the one before.
    """
    found: dict[int, list[float]] = {}
    number, before = 0, -1.0
    for one, ml in pairs:
        number += one.hour <= before
        before = one.hour
        day = found.setdefault(number if one.day is None else one.day, [0.0, 0.0])
        day[0] += one.ml
        day[1] += ml * levels[slot(one.hour)]
    return [came / usual if usual else 1.0 for came, usual in found.values()]


def _common(days: Sequence[float], within: float, sessions: int) -> float:
    """The CV that the sessions of one day share: the usual one, more where this parent's own days jump."""
    if not days:
        return COMMON
    of_sessions = within / sqrt(sessions / len(days))
    seen = learning.own_within([days], hypot(COMMON, of_sessions), numbers.value("yields", "common_trust"))
    return max(COMMON, sqrt(max(0.0, seen**2 - of_sessions**2)))


def _days_between(days: int, common: float) -> float:
    """What the noted days had in common (CV): all sessions of a poor day are poor, so they count once a day only."""
    return common * sqrt(learning.together(days, SPELLS) / days) if days else 0.0


def _a_day(sessions: Sequence[Session]) -> float:
    """Sessions a day as their gaps say; 8 where nobody wrote them down."""
    gaps = [one.gap_h for one in sessions if one.gap_h is not None and one.gap_h >= LEAST_GAP_H]
    return float(np.clip(24 / np.mean(gaps) if gaps else 24 / USUAL_GAP_H, 1, 12))
