"""Amounts and temperatures as people type them."""

from __future__ import annotations

import re

from django.utils.translation import gettext as _

from thawline.core.units import ML_PER_FL_OZ, celsius

MOST_ML = 5000
MOST_MM = 300
MOST_WATER_L = 40
LONGEST = 40  # characters; what is longer is no number, and would be slow to look through
_AMOUNT_UNIT = re.compile(r"\s*(ml|fl\.?\s*oz|oz)\.?\s*$", re.IGNORECASE)
_TEMP_UNIT = re.compile(r"\s*°?\s*[cf]\s*$", re.IGNORECASE)
_LENGTH_UNIT = re.compile(r"\s*(mm|cm|in|inch|inches|″|\")\.?\s*$", re.IGNORECASE)
_WATER_UNIT = re.compile(r"\s*(ml|l|litres?|liters?|fl\.?\s*oz|oz)\.?\s*$", re.IGNORECASE)
_MM_PER = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, "″": 25.4, '"': 25.4}
_NUMBER = re.compile(r"-?\d{1,6}(?:[.,]\d{1,4})?", re.ASCII)


class BadAmountError(ValueError):
    """A number that can't be used; its text says what to mend."""


def _no_number(text: str) -> BadAmountError:
    return BadAmountError(_("“%(text)s” is not a number. Write it like 120 or 4.5.") % {"text": text.strip()[:20]})


def _without(unit: re.Pattern[str], text: str) -> str:
    if len(text.strip()) > LONGEST:
        raise _no_number(text)
    return unit.sub("", text.strip())


def number(text: str) -> float:
    """A number with a decimal point or comma; raises `BadAmountError`."""
    plain = "".join(text.split()).replace("\u2212", "-")
    if len(plain) > 6 and plain.isascii() and plain.isdigit():
        raise BadAmountError(_("That number is too large. Look at it once more."))
    if _NUMBER.fullmatch(plain) is None:
        raise _no_number(text)
    return float(plain.replace(",", "."))


def amount_ml(text: str, unit: str, *, least_ml: float = 0) -> float:
    """An amount in the household's unit (`ml` or `fl_oz`), in mL to a tenth; raises `BadAmountError`."""
    found = number(_without(_AMOUNT_UNIT, text))
    ml = round(found * ML_PER_FL_OZ, 1) if unit == "fl_oz" else round(found, 1)
    if ml < least_ml or ml < 0:
        raise BadAmountError(_("The amount is too small. Look at it once more."))
    if ml > MOST_ML:
        raise BadAmountError(_("That is more than %(most)s mL. Look at it once more.") % {"most": MOST_ML})
    return ml


def temp_c(text: str, unit: str) -> float:
    """A temperature in the household's unit (`C` or `F`), in degrees Celsius; raises `BadAmountError`."""
    found = number(_without(_TEMP_UNIT, text))
    value = round(celsius(found) if unit == "F" else found, 1)
    if not -60 <= value <= 110:
        raise BadAmountError(_("That temperature is out of range. Look at it once more."))
    return value


def _unit_in(unit: re.Pattern[str], text: str) -> str:
    found = unit.search(text.strip()[-LONGEST:])
    return found[1].lower() if found else ""


def length_mm(text: str) -> float:
    """A length in mm, or with its unit (`1.5 cm`, `0.6 in`), in mm to a tenth; raises `BadAmountError`."""
    mm = round(number(_without(_LENGTH_UNIT, text)) * _MM_PER.get(_unit_in(_LENGTH_UNIT, text), 1.0), 1)
    if not 1 <= mm <= MOST_MM:
        raise BadAmountError(
            _("Write a length from 1 to %(most)s mm. In another unit: 1.5 cm, or 0.6 in.") % {"most": MOST_MM}
        )
    return mm


def water_l(text: str) -> float:
    """Water in litres, or with its unit (`1500 mL`, `64 fl oz`), in litres; raises `BadAmountError`."""
    found, unit = number(_without(_WATER_UNIT, text)), _unit_in(_WATER_UNIT, text)
    litres = found / 1000 if unit == "ml" else found * ML_PER_FL_OZ / 1000 if "oz" in unit else found
    if not 0.1 <= litres <= MOST_WATER_L:
        raise BadAmountError(_("Write the water in litres, from 0.1 to %(most)s.") % {"most": MOST_WATER_L})
    return round(litres, 2)
