"""Which sizes to freeze milk in that is over, so that the bags match what is opened."""

from __future__ import annotations

from .figures import cost


def sizes(over_ml: float, portion_ml: float) -> tuple[float, ...]:
    """Amounts in mL that add up to what is over: portions as advised, and the rest.

    A rest of at least a quarter of a portion gets a bag of its own, since a small one beside the others tops up a feed;
    a smaller rest is spread over the bags. Less than a portion stays one bag. ValueError for a portion of nothing.
    """
    if portion_ml <= 0 or over_ml < 0:
        raise ValueError("a portion is more than 0 mL, and what is over is not less than 0 mL")
    if over_ml == 0:
        return ()
    whole = int(over_ml / portion_ml + 1e-9)
    if whole == 0:
        return (over_ml,)
    rest = max(0.0, over_ml - whole * portion_ml)
    if rest >= cost("small_bag") * portion_ml:
        return (*[portion_ml] * whole, rest)
    return tuple([over_ml / whole] * whole)
