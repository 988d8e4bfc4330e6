"""Words about places and amounts that the pages of the stock share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from thawline.core.places import FREEZERS
from thawline.core.units import ML_PER_FL_OZ
from thawline.faces.words import KINDS, Words
from thawline.services.board import WARMEST_FIRST, Board, PlaceNow
from thawline.services.many import Total

# A sentence names so many codes, then how many more.
NAMED = 12


def coldest_first(places: Iterable[PlaceNow]) -> list[PlaceNow]:
    """Places from the deep freezer to the room."""
    return sorted(places, key=lambda place: (-WARMEST_FIRST.index(place.kind), place.name))


def usual_freezer(found: Board) -> str:
    """Where existing stock most likely lies: the only freezer; empty, to be chosen, where that is not clear."""
    frozen = found.of_kind(*FREEZERS)
    return frozen[0].name if len(frozen) == 1 else ""


def place_says(place: PlaceNow, words: Words) -> str:
    """What a place is, and its last known temperature."""
    kind = str(KINDS[place.kind])
    if place.temp_c is None:
        return _("%(kind)s, temperature not known") % {"kind": kind}
    return _("%(kind)s, last known %(temp)s") % {"kind": kind, "temp": words.c(place.temp_c)}


def age_word(key: str) -> str:
    """This week, last week, or a month by name."""
    if key in ("this", "last"):
        return _("This week") if key == "this" else _("Last week")
    year, _dash, month = key.partition("-")
    return str(formats.date_format(date(int(year), int(month), 1), "F Y"))


def count_word(count: int) -> str:
    """So many containers."""
    return ngettext("%(n)d container", "%(n)d containers", count) % {"n": count}


def total_says(total: Total, words: Words) -> str:
    """How many there are, and how much of it may not be fed as it stands."""
    says = count_word(total.containers)
    if total.barred:
        says += ", " + _("of these %(ml)s held back or not within limits") % {"ml": words.ml(total.barred_ml)}
    return says


def named(codes: Sequence[str]) -> str:
    """Some codes as part of a sentence."""
    says = ", ".join(codes[:NAMED])
    if len(codes) > NAMED:
        more = len(codes) - NAMED
        says += " " + ngettext("and %(n)d more", "and %(n)d more", more) % {"n": more}
    return says


def unit_word(found: Board) -> str:
    """The household's unit of amounts."""
    return _("fl oz") if found.units[0] == "fl_oz" else _("mL")


def typed(ml: float, unit: str) -> str:
    """An amount as it stands in a field to be changed, without its unit: as short as reads back to the same."""
    if unit != "fl_oz":
        return f"{ml:g}"
    texts = [f"{ml / ML_PER_FL_OZ:.{places}f}" for places in range(4)]
    return next((text for text in texts if round(float(text) * ML_PER_FL_OZ, 1) == round(ml, 1)), texts[-1])
