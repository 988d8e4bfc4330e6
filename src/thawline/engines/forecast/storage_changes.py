"""What storage does to the milk, as published: for information, and never a reason to count it as less."""

from __future__ import annotations

from typing import Literal, NamedTuple

from . import numbers

Kept = Literal["fridge_1_d", "frozen_1_mo", "frozen_2_mo"]


class Share(NamedTuple):
    """What is left as a share of fresh milk: the lowest found, the mean, the highest found; and the source."""

    low: float
    likely: float
    high: float
    source: str


def vitamin_c(kept: Kept) -> Share:
    """Vitamin C after a day in the refrigerator, or one or two months frozen."""
    row = numbers.table("storage_changes", "vitamin_c", kept)
    return Share(float(row["low"]), float(row["value"]), float(row["high"]), str(row["source"]))


def energy_24_wk() -> float:
    """Energy after 24 weeks at -20 C as a share of that after 4 weeks."""
    return numbers.value("storage_changes", "energy", "from_4_to_24_wk")


def fat_24_wk() -> float:
    """Fat after 24 weeks at -20 C as a share of that after 4 weeks."""
    return numbers.value("storage_changes", "fat", "from_4_to_24_wk")


def energy_source() -> str:
    """Where the figures of energy and fat are from."""
    return str(numbers.table("storage_changes", "energy", "from_4_to_24_wk")["source"])


def kcal_per_fl_oz(kcal_per_ml: float) -> float:
    """Energy in a US fluid ounce, in kcal."""
    return kcal_per_ml * numbers.value("storage_changes", "fl_oz")
