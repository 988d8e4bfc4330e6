"""Units in which people write amounts and temperatures."""

from __future__ import annotations

# One US customary fluid ounce, exact: NIST Handbook 44, Appendix C (231 cubic inches a gallon, 128 fluid ounces).
ML_PER_FL_OZ = 29.5735295625


def celsius(fahrenheit: float) -> float:
    """Degrees Celsius from degrees Fahrenheit."""
    return (fahrenheit - 32) * 5 / 9
