"""How a container's measure is written in the ledger, and which one was written last."""

from __future__ import annotations

from typing import Literal

from thawline.core import events as ev
from thawline.records.store import Store

Shape = Literal["flat", "upright"]
_LOOK_BACK = 40


def noted(shape: Shape, across_mm: float | None = None) -> dict[str, object]:
    """A container as the ledger keeps it: a bag with its thickness, or a bottle with its inside width, in mm."""
    kind, size = ("bag", "thickness_mm") if shape == "flat" else ("bottle", "diameter_mm")
    return {"kind": kind, "shape": shape} | ({} if across_mm is None else {size: across_mm})


def last_measures(store: Store) -> dict[Shape, float]:
    """The measure that was noted last for each shape, in mm, among the newest milk."""
    found: dict[Shape, float] = {}
    for row in store.history(before=None, limit=_LOOK_BACK, kinds=("expressed", "stocked")):
        vessel = getattr(ev.decoder.decode(row.line), "vessel", None)
        if vessel is None:
            continue
        if vessel.thickness_mm is not None:
            found.setdefault("flat", vessel.thickness_mm)
        if vessel.diameter_mm is not None:
            found.setdefault("upright", vessel.diameter_mm)
    return found
