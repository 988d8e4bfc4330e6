"""What is taken of a container and its surroundings where a household does not say."""

from __future__ import annotations

import math
from typing import Final, Literal

from .numbers import table
from .spread import Air, Range, Shape, Triple, Vessel

Place = Literal["refrigerator", "freezer", "room"]
Wall = Literal["film", "plastic", "glass"]
_DATA: Final = table("intervals")


def interval(*path: str) -> Range:
    """The interval of one entry of the data file, in the unit that the entry names."""
    entry = table("intervals", *path)
    return Range(entry["low"], entry["value"], entry["high"])


def _purpose(planning: bool) -> str:
    return "plan" if planning else "clock"


FREEZER: Final = interval("air", "freezer", "clock")
REFRIGERATOR: Final = interval("air", "refrigerator", "clock")
FRESH: Final = interval("fresh_c")
CHILLED_K: Final[float] = _DATA["chilled_k"]["value"]
SOLID_C: Final[float] = _DATA["ends_c"]["solid"]
HARD_C: Final[float] = _DATA["ends_c"]["hard"]
WARM_C: Final[float] = _DATA["warm_c"]["value"]
MOST_BATH_C: Final[float] = _DATA["bath"]["most_c"]
BATH_LOSS_W_K: Final[float] = _DATA["bath"]["loss_w_k"]
MODEL_ERROR: Final[float] = _DATA["model_error"]["value"]
_FREEZING = table("milk", "freezing")
FREEZING: Final = Range(_FREEZING["low"], _FREEZING["value"], _FREEZING["high"])


def measured_c(value_c: float) -> Range:
    """A temperature that somebody read off a thermometer or a logger, in C."""
    doubt = _DATA["air_measured_k"]["value"]
    return Range(value_c - doubt, value_c, value_c + doubt)


def elsewhere(value_c: float) -> Range:
    """A temperature read somewhere in a place, in C: the milk may lie where it is a little colder or warmer."""
    doubt = _DATA["air_elsewhere_k"]["value"]
    return Range(value_c - doubt, value_c, value_c + doubt)


def air(place: Place, c: float | Range | None = None, film: Range | None = None, *, planning: bool = False) -> Air:
    """Air of a place: its temperature in C (a plain number was measured) and its film in W/(m2 K), else assumed."""
    purpose = _purpose(planning)
    if c is None:
        c = interval("air", place, purpose)
    elif not isinstance(c, Range):
        c = measured_c(float(c))
    return Air(c, film or interval("film", "air", purpose))


def bath_film() -> Range:
    """The film of a water bath, in W/(m2 K)."""
    return interval("film", "bath", "clock")


def across(shape: Shape, ml: float) -> float:
    """Thickness of a flat bag or inside diameter of a bottle, in mm, where only the volume is known."""
    if shape == "flat":
        return ml / float(_DATA["flat_face"]["value"]) * 10
    return float((4e3 * ml / (math.pi * _DATA["upright_fill"]["value"])) ** (1 / 3))


def vessel(
    shape: Shape,
    ml: float,
    across_mm: float | Range | None = None,
    *,
    measured: bool = False,
    faces: float | Range | None = None,
    wall: Wall | Range | None = None,
    planning: bool = False,
) -> Vessel:
    """A container from what is known of it: its volume in mL, thickness or diameter in mm, faces and wall if known.

    Without `across_mm` it follows from the volume and counts as not measured.
    """
    measured = measured and across_mm is not None
    if not isinstance(across_mm, Range):
        kind = "across_measured" if measured else "across_unmeasured"
        across_mm = Range.about(float(across_mm or across(shape, ml)), _DATA[kind][_purpose(planning)])
    if not isinstance(faces, Range):
        faces = interval("faces", shape) if faces is None else Range.exactly(float(faces))
    if not isinstance(wall, Range):
        wall = interval("wall", wall or ("film" if shape == "flat" else "upright"))
    return Vessel(shape, ml, across_mm, faces, wall, measured)


def widened(fast: float, nominal: float, slow: float, error: float = 0.0) -> Triple:
    """Hours at the corners, made earlier and later by the model's error and that of the way it was computed."""
    early = fast if math.isinf(fast) else fast * (1 - MODEL_ERROR) * (1 - error)
    return Triple(early, nominal, slow * (1 + MODEL_ERROR) * (1 + error))
