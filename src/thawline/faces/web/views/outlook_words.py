"""The outlook in words: days as ranges, amounts as ranges, chances as a word beside their number."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.units import ML_PER_FL_OZ
from thawline.engines.forecast.kinds import Band
from thawline.faces.words import Words
from thawline.services.outlook_kinds import Lasts
from thawline.services.plan_kinds import NoPlan

# Up to which chance a word holds; common practice, no source: the number always stands beside it.
_CHANCES = (
    (0.02, gettext_lazy("hardly possible")),
    (0.10, gettext_lazy("very unlikely")),
    (0.30, gettext_lazy("unlikely")),
    (0.45, gettext_lazy("it may well be")),
    (0.55, gettext_lazy("as likely as not")),
    (0.70, gettext_lazy("more likely than not")),
    (0.90, gettext_lazy("likely")),
    (0.98, gettext_lazy("very likely")),
    (1.01, gettext_lazy("almost certain")),
)
_NEAR_D = 270
_WEEK_D = 7
# From so much on, amounts are told in litres.
_LITRES_ML = 10_000.0
_NO_BREAK = "\N{NO-BREAK SPACE}"
# Two chances that differ by less tell the same; past the second nothing more is told. Ours.
_HARDLY, _ALMOST = 0.05, 0.99
WEEKDAYS = (
    gettext_lazy("Monday"), gettext_lazy("Tuesday"), gettext_lazy("Wednesday"), gettext_lazy("Thursday"),
    gettext_lazy("Friday"), gettext_lazy("Saturday"), gettext_lazy("Sunday"),
)  # fmt: skip
GOALS = {
    "apart": gettext_lazy("The time apart"),
    "trip": gettext_lazy("The trip"),
    "weaning": gettext_lazy("The milk after weaning"),
}
# What begins then, in a word, for the picture.
BEGINS = {
    "apart": gettext_lazy("apart"),
    "trip": gettext_lazy("trip"),
    "weaning": gettext_lazy("weaned"),
}
ROUTES = {
    "age": gettext_lazy("By age"),
    "weight": gettext_lazy("By weight"),
    "own_days": gettext_lazy("By your own complete days"),
}


def day_text(day: str, words: Words) -> str:
    """An ISO day as people write it: "11 March", with the year where it might be taken for another's."""
    found = date.fromisoformat(day)
    near = abs((found - words.local(words.now).date()).days) < _NEAR_D
    # A day and its month stay on one line.
    return formats.date_format(found, "j F" if near else "j F Y").replace(" ", _NO_BREAK)


def week_day_text(day: str, words: Words) -> str:
    """An ISO day, in the coming week with its weekday: "Fri 5 February"."""
    found = date.fromisoformat(day)
    soon = 0 <= (found - words.local(words.now).date()).days < _WEEK_D
    told = day_text(day, words)
    return f"{formats.date_format(found, 'D')}{_NO_BREAK}{told}" if soon else told


def two_days(early: str, late: str, words: Words) -> str:
    """Two ISO days: "3 and 20 March", "28 February and 20 March"."""
    first, last = date.fromisoformat(early), date.fromisoformat(late)
    start, end = week_day_text(early, words), week_day_text(late, words)
    if (first.year, first.month) == (last.year, last.month):
        start = start.removesuffix(f"{_NO_BREAK}{formats.date_format(first, 'F')}")
    return _("%(early)s and %(late)s") % {"early": start, "late": end}


def between(band: Band, words: Words) -> str:
    """A range in the household's unit, rounded outwards: "660 to 910 mL"; one amount where both ends are one."""
    step = ML_PER_FL_OZ / 2 if words.amount == "fl_oz" else 10.0
    if band.high >= _LITRES_ML and words.amount != "fl_oz":
        ends = {"low": math.floor(max(band.low, 0.0) / 1000), "high": math.ceil(band.high / 1000)}
        return _("%(low)s to %(high)s L") % ends
    low = math.floor(max(band.low, 0.0) / step + 1e-6) * step
    high = math.ceil(max(band.high, 0.0) / step - 1e-6) * step
    if high <= low:
        return words.ml(low)
    unit = _("fl oz") if words.amount == "fl_oz" else _("mL")
    return _("%(low)s to %(high)s") % {"low": words.ml(low).removesuffix(f" {unit}"), "high": words.ml(high)}


def about(ml: float, words: Words) -> str:
    """An estimate in the household's unit, rounded to 10 mL or to half an ounce."""
    step = ML_PER_FL_OZ / 2 if words.amount == "fl_oz" else 10.0
    return words.ml(round(max(ml, 0.0) / step) * step)


def chance_text(chance: float) -> str:
    """A chance as a word and as a number: "unlikely, about 8 in 100"."""
    word = next(said for most, said in _CHANCES if chance <= most)
    whole = round(chance * 100)
    if whole < 1 or whole > 99:
        told = _("less than 1 in 100") if whole < 1 else _("more than 99 in 100")
    else:
        told = _("about %(n)d in 100") % {"n": whole}
    return f"{word}, {told.replace(' ', _NO_BREAK)}"


def few_chances(chances: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """Days with their chances, without those that tell hardly more than the one before; the last stays."""
    kept: list[tuple[str, float]] = []
    for one in chances:
        if kept and one[1] - kept[-1][1] < _HARDLY:
            continue
        kept.append(one)
    last = chances[-1] if chances else None
    if last is None or kept[-1] == last or kept[-1][1] >= _ALMOST:
        return kept
    return [*(one for one in kept if last[1] - one[1] >= _HARDLY), last]


def looked_at(days: int) -> str:
    """How far it looks: "the 90 days looked at"."""
    return ngettext("the %(n)d day looked at", "the %(n)d days looked at", days) % {"n": days}


def lasts_text(lasts: Lasts, days: int, words: Words) -> tuple[str, str]:
    """Until when it lasts: the range, and what is likely (or what may be) beside it."""
    longer = _("Longer than that: %(chance)s.") % {"chance": chance_text(lasts.never)}
    if lasts.early is None:
        return _("It does not run out within %(days)s.") % {"days": looked_at(days)}, longer
    likely = (
        longer
        if lasts.likely is None
        else _("Most likely until about %(day)s.") % {"day": week_day_text(lasts.likely, words)}
    )
    if lasts.late is None:
        early = week_day_text(lasts.early, words)
        return _("Until %(early)s or later, maybe past %(days)s.") % {"early": early, "days": looked_at(days)}, likely
    if lasts.early == lasts.late:
        return _("Until %(day)s.") % {"day": week_day_text(lasts.early, words)}, ""
    return _("Until between %(days)s.") % {"days": two_days(lasts.early, lasts.late, words)}, likely


def none_text(none: NoPlan, words: Words) -> tuple[str, str]:
    """Why there is no outlook for a child, and what comes then."""
    child = {"child": none.child}
    if none.code == "too_young":
        why = _("In a baby's first two weeks the supply is still climbing, and a day tells little of the days to come.")
        if none.until is None:
            return why, ""
        return why, _("For %(child)s there is an outlook from %(day)s on.") % {**child, "day": words.day(none.until)}
    if none.code == "hospital":
        why = _("%(child)s is in a hospital's care: the care team there says how much milk, and which.") % child
        return why, _("Ask them before you use anything written here.")
    if none.code == "nothing_by_bottle":
        why = _("As it is noted, %(child)s drinks nothing from bottles, so nothing is used up.") % child
        return why, _("Say when you are apart, or that all feeds are by bottle.")
    if none.code == "too_old":
        why = _("%(child)s is older than two years: how much a child drinks at that age is not known here.") % child
        return why, _("All time limits go on as they are.")
    return _("There is no outlook for %(child)s yet.") % child, ""
