"""A trip's cooler: how long its packs keep milk cold, how many it takes, and what is published on the way."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, NamedTuple

import msgspec
from msgspec import Struct

from thawline.core.replay import run
from thawline.core.times import HOUR, MINUTE, written, zone_named
from thawline.core.verdict import Verdict
from thawline.engines.physics import cooler as physics
from thawline.engines.physics.numbers import table, value
from thawline.engines.physics.spread import Triple

# Estimates in air are shown in half hours.
STEP_MIN = 30
MADE_UP = "on the way"


@cache
def facts() -> Mapping[str, Any]:
    """What the data file says of sizes, usual figures and flying."""
    return MappingProxyType(tomllib.loads((files(__package__ or "") / "travel.toml").read_text("utf-8")))


class Size(NamedTuple):
    """A cooler to start from: inside length, width and height in cm, wall in mm, and what the wall is made of."""

    key: str
    inside_cm: tuple[float, float, float]
    wall_mm: float
    wall: str

    @property
    def litres(self) -> int:
        """Room inside, in whole litres."""
        return round(math.prod(self.inside_cm) / 1000)


@cache
def sizes() -> tuple[Size, ...]:
    """Coolers by size and wall, the smallest first."""
    found = []
    for one in facts()["size"]:
        kind = physics.kinds()[one["kind"]]
        a, b, c = one.get("inside_cm", kind.inside_cm)
        found.append(Size(one["key"], (a, b, c), one.get("wall_mm", kind.wall_mm), one["kind"]))
    return tuple(found)


def walls() -> tuple[str, ...]:
    """What a cooler's wall may be made of."""
    return tuple(physics.kinds())


class Outfit(Struct, frozen=True):
    """A cooler as a family packs it: inside in cm, wall in mm, packs in grams, temperatures in C.

    `pack_c` is None where nobody knows how cold the packs are; `water` whether they are water-based;
    `touching` whether they lie on the milk on both sides; `since` when it was packed, an instant (0: not noted).
    """

    size: str
    inside_cm: tuple[float, float, float]
    wall_mm: float
    wall: str
    packs: int
    pack_g: float
    pack_c: float | None
    water: bool
    touching: bool
    outside_c: float
    openings: int
    place: str = ""
    since: int = 0

    @property
    def cooler(self) -> physics.Cooler:
        """Its walls."""
        return physics.Cooler(self.inside_cm, self.wall_mm, physics.kinds()[self.wall].wall_k)

    @property
    def cold(self) -> physics.Packs:
        """Its packs."""
        return physics.Packs(self.packs, self.pack_g / 1000, self.pack_c)


def usual() -> Outfit:
    """What a form starts with where nothing was packed before."""
    size, first = sizes()[0], facts()["usual"]
    return Outfit(
        size.key, size.inside_cm, size.wall_mm, size.wall, first["packs"], first["pack_g"], None, True, False,
        first["outside_c"], first["openings"],
    )  # fmt: skip


def kept(data: object) -> Outfit | None:
    """The cooler used last, as it is kept with the household; None where there is none that can be read."""
    try:
        found = msgspec.convert(data, Outfit)
    except msgspec.ValidationError:
        return None
    return found if found.wall in walls() else None


def as_kept(outfit: Outfit) -> dict[str, Any]:
    """The cooler as it is kept with the household."""
    found: dict[str, Any] = msgspec.to_builtins(outfit)
    return found


class Milk(NamedTuple):
    """Milk that goes into the cooler: mL, and how warm it is at the worst, in C."""

    ml: float
    c: float


def together(loads: Sequence[Milk]) -> physics.Load:
    """All of it as one load that takes the same cold: what is colder than 4 C gives none to the rest."""
    ml = sum(one.ml for one in loads)
    if ml <= 0:
        return physics.Load(0.0, value("cooler", "cold_c"))
    cold = value("cooler", "cold_c")
    return physics.Load(ml, cold + sum(one.ml * max(one.c - cold, 0.0) for one in loads) / ml)


class Held(NamedTuple):
    """How long a cooler holds: hours early, nominal and late, the published hours above them, packs needed.

    `hours` is None where nothing can be promised: packs that are not water-based, or no published time.
    `needed` is None where no number of packs serves; `fits` whether so many find room; `near_c` is where
    the milk's temperature settles; `freezes` whether packs can freeze milk that they touch.
    """

    hours: Triple | None
    published_h: float | None
    enough: bool
    needed: int | None
    fits: bool
    near_c: float
    stays_cold: bool
    freezes: bool
    crowded: bool


def held(outfit: Outfit, loads: Sequence[Milk], *, hours: float, published_h: float | None) -> Held:
    """How long a cooler keeps milk cold, and whether that covers so many hours; never above the published ones."""
    load, contact = together(loads), _contact(outfit)
    spread, need = None, physics.Needed(None, fits=False)
    if outfit.water and published_h is not None:
        spread = physics.hold(
            outfit.cooler, outfit.cold, load,
            ambient_c=outfit.outside_c, openings=outfit.openings, published_h=published_h,
        ).rounded(STEP_MIN)  # fmt: skip
        # Rounded up, it must not pass them; and they are published for frozen packs, also on a cold day.
        most = published_h if physics.stock_kj(outfit.cold, cautious=True) > 0 else 0.0
        spread = Triple(*(min(one, most) for one in spread))
        need = _needed(outfit, load, hours, published_h)
    chilled = load._replace(start_c=min(load.start_c, value("cooler", "cold_c")))
    return Held(
        spread, published_h, spread is not None and hours <= spread.early_h, need.number, need.fits,
        physics.milk_near_packs_c(contact, outfit.outside_c), physics.stays_cold(contact, outfit.outside_c),
        not outfit.water or physics.may_freeze_ml(outfit.cold, chilled._replace(ml=max(chilled.ml, 1.0))) > 0,
        not physics.fits(outfit.cooler, outfit.cold, load),
    )  # fmt: skip


def _contact(outfit: Outfit) -> physics.Contact:
    return "touching" if outfit.touching else "loose"


def _needed(outfit: Outfit, load: physics.Load, hours: float, published_h: float) -> physics.Needed:
    # What is shown is rounded down to half hours: the packs must reach the next one.
    wanted = math.ceil(hours * 60 / STEP_MIN - 1e-9) * STEP_MIN / 60
    return physics.packs_needed(
        outfit.cooler, load,
        wanted_h=min(wanted, published_h) if hours <= published_h else hours,
        ambient_c=outfit.outside_c, pack_kg=outfit.pack_g / 1000, pack_start_c=outfit.pack_c,
        openings=outfit.openings, published_h=published_h,
    )  # fmt: skip


def warmth_c(kind: str, temp_c: float | None, form: str) -> float:
    """How warm milk is at the worst that comes from a place of that kind, in C; frozen milk takes no cold."""
    goes = facts()["goes_in"]
    if form == "frozen":
        return value("cooler", "ice_melts_c")
    if kind == "room":
        return float(goes["body_c"])
    return max(float(goes["refrigerator_c"]), temp_c or 0.0)


class Caution(NamedTuple):
    """What the early hours take at its worst: packs at so many C, K more outside, and factors of openings and hours."""

    pack_c: float
    more_k: float
    openings_times: float
    hours_times: float


def caution() -> Caution:
    """What the early hours take at its worst, as the data file says."""
    early = table("cooler")["early"]
    pack_c = table("cooler")["pack_start_c"]["high"]
    return Caution(pack_c, early["ambient_plus_k"], early["openings_times"], early["times"])


def cold_c() -> float:
    """The line that a cooler is asked to keep, in C."""
    return value("cooler", "cold_c")


def body_c() -> float:
    """How warm milk is that was just expressed, in C."""
    return float(facts()["goes_in"]["body_c"])


# The rule


def published_h(packed: Verdict, put_in: int) -> float | None:
    """The hours that a guideline gives milk in a cooler, from what it says of some put in; None where it gives none."""
    return None if packed.use_by is None or packed.standing == "outside" else (packed.use_by - put_in) / HOUR


def rule_under(guideline: str | None, *, also: Sequence[str] = (), now: int) -> Verdict:
    """What a guideline says of fresh milk that goes chilled into a cooler now; raises `GuidelineError`."""
    zone = zone_named("UTC")
    events: list[dict[str, Any]] = [
        {"kind": "place", "at": written(now - 2 * MINUTE, zone), "place": "fridge", "is": "refrigerator", "temp_c": 4},
        {"kind": "place", "at": written(now - 2 * MINUTE, zone), "place": "cooler", "is": "cooler"},
        {"kind": "expressed", "at": written(now - MINUTE, zone), "into": [{"container": MADE_UP, "ml": 100}],
         "place": "fridge"},
        {"kind": "moved", "at": written(now, zone), "container": MADE_UP, "to": "cooler"},
    ]  # fmt: skip
    lines = [msgspec.json.encode({"id": f"trip.{n}", **event}) for n, event in enumerate(events)]
    return run(lines, now=now, guideline=guideline, also=also).verdicts[0]
