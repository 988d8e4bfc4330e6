"""What surrounds a container: steady air, air that was recorded, or a bowl of water."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from . import numbers


class Recorded(NamedTuple):
    """Recorded air: hours from the start (rising) and degrees C; straight lines between, then the last one for ever."""

    hours: Sequence[float]
    c: Sequence[float]


class Bath(NamedTuple):
    """A bowl: kg of water, its temperature, the room's, what it loses in W/K, and the milk's surface in it in m2."""

    water_kg: float
    water_c: float
    room_c: float
    loss_w_k: float
    area_m2: float


Around = float | Recorded | Bath


class Steady:
    """Surroundings whose temperature the milk does not change."""

    def __init__(self, air: float | Recorded) -> None:
        series = air if isinstance(air, Recorded) else Recorded((0.0,), (air,))
        self._at = np.asarray(series.hours, dtype=float) * 3600
        self._c = np.asarray(series.c, dtype=float)
        if not len(self._at) or len(self._at) != len(self._c) or np.any(np.diff(self._at) < 0):
            raise ValueError("recorded hours must rise and have one temperature each")
        self._sum = np.concatenate([[0.0], np.cumsum(np.diff(self._at) * (self._c[1:] + self._c[:-1]) / 2)])
        self.ends_s = float(self._at[-1])
        self.constant = len(self._at) == 1

    def at(self, time_s: float) -> float:
        """Degrees C at a time in seconds."""
        if self.constant or time_s >= self.ends_s:
            return float(self._c[-1])
        return float(np.interp(time_s, self._at, self._c))

    def over(self, time_s: float, dt_s: float) -> float:
        """Mean degrees C over a stretch of so many seconds from a time in seconds."""
        if self.constant or time_s >= self.ends_s:
            return float(self._c[-1])
        return (self._until(time_s + dt_s) - self._until(time_s)) / dt_s

    def _until(self, time_s: float) -> float:
        place = int(np.searchsorted(self._at, time_s, side="right")) - 1
        if place < 0:
            return float(self._c[0] * (time_s - self._at[0]))
        return float(self._sum[place] + (time_s - self._at[place]) * (self._c[place] + self.at(time_s)) / 2)

    def reach(self, time_s: float) -> tuple[float, float]:
        """The lowest and the highest temperature from a time on, in degrees C."""
        if self.constant or time_s >= self.ends_s:
            return float(self._c[-1]), float(self._c[-1])
        ahead = self._c[int(np.searchsorted(self._at, time_s, side="right")) :]
        now = self.at(time_s)
        return min(now, float(ahead.min())), max(now, float(ahead.max()))


class Bowl:
    """A bath's water while it gives its heat to milk and room."""

    def __init__(self, bath: Bath, scale: float) -> None:
        """`scale` is how many of the grids lie in the bath; the water counts for one of them."""
        self.c = bath.water_c
        self.room_c = bath.room_c
        self.loss = bath.loss_w_k / scale
        self.holds = bath.water_kg * numbers.value("milk", "bath_water") * 1000 / scale
        self.lost_j = 0.0
        self._scale = scale

    def reach(self) -> tuple[float, float]:
        """The lowest and the highest temperature that the surroundings can still bring, in degrees C."""
        room = self.room_c if self.loss > 0 else self.c
        return min(self.c, room), max(self.c, room)

    def settle(self, water_c: float, dt_s: float) -> None:
        """Take over the water's temperature at the end of a step."""
        self.c = water_c
        self.lost_j += self._scale * self.loss * (water_c - self.room_c) * dt_s
