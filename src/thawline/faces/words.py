"""Instants, amounts and standings as a tired person reads them, on the household's clock."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.times import DAY, HOUR, MINUTE, local, zone_named
from thawline.core.units import ML_PER_FL_OZ, celsius

STANDINGS = {
    "fine": gettext_lazy("within its limits"),
    "soon": gettext_lazy("soon"),
    "outside": gettext_lazy("no time given: act now"),
    "held": gettext_lazy("held back"),
    "past": gettext_lazy("past its limit"),
    "breached": gettext_lazy("a rule was broken"),
    "gone": gettext_lazy("gone"),
}
# How sure a line is, by its mark.
SURE = {
    "seen": gettext_lazy("read in the publisher's text"),
    "second-hand": gettext_lazy("read where others restate it"),
    "memory": gettext_lazy("not found in a text"),
    "derived": gettext_lazy("worked out from a text"),
    "ours": gettext_lazy("a cautious reading of Thawline's own"),
}
FORMS = {
    "fresh": gettext_lazy("fresh"),
    "frozen": gettext_lazy("frozen"),
    "thawing": gettext_lazy("thawing"),
    "thawed": gettext_lazy("thawed"),
}
KINDS = {
    "room": gettext_lazy("room"),
    "cooler": gettext_lazy("cooler with ice packs"),
    "refrigerator": gettext_lazy("refrigerator"),
    "freezer_compartment": gettext_lazy("freezer compartment inside a refrigerator"),
    "freezer": gettext_lazy("freezer with its own door"),
    "deep_freezer": gettext_lazy("deep freezer"),
}
STEPS = {
    "refrigerate": gettext_lazy("Chill"),
    "freeze": gettext_lazy("Freeze"),
    "thaw": gettext_lazy("Thaw"),
    "warm": gettext_lazy("Warm"),
    "feed": gettext_lazy("Feed"),
    "cooler": gettext_lazy("Pack"),
}


class Words(NamedTuple):
    """How this household writes: its clock, and its units."""

    zone: ZoneInfo
    now: int
    amount: str = "ml"
    temp: str = "C"

    def ml(self, ml: float) -> str:
        """An amount in the household's unit."""
        if self.amount == "fl_oz":
            return _("%(amount)s fl oz") % {"amount": _number(ml / ML_PER_FL_OZ, 1)}
        return _("%(amount)s mL") % {"amount": _number(ml, 0 if ml >= 10 else 1)}

    def c(self, temp_c: float) -> str:
        """A temperature in the household's unit, so that it reads back to the same tenth of a degree Celsius."""
        if self.temp == "F":
            degrees = self.degrees(temp_c)
            whole = round(celsius(round(degrees)), 1) == round(temp_c, 1)
            return f"{_number(degrees, 0 if whole else 1)} °F"
        return f"{_number(temp_c, 1)} °C"

    def degrees(self, temp_c: float) -> float:
        """A temperature in the household's unit, as a number."""
        return temp_c * 9 / 5 + 32 if self.temp == "F" else temp_c

    def clock(self, at: int) -> str:
        """The day and the time: "today 14:10", "Fri 3 Apr 14:10"."""
        return f"{self.day(at)} {self.hour(at)}"

    def until(self, at: int) -> str:
        """The day and the time of an end; midnight is the end of the day before: "end of Thu 3 Apr"."""
        when = local(at, self.zone)
        if (when.hour, when.minute, when.second) == (0, 0, 0):
            return _("end of %(day)s") % {"day": self.day(at - 1)}
        return self.clock(at)

    def hour(self, at: int) -> str:
        """The time alone; in the hour that comes twice when the clocks go back, with its zone: "01:10 WEST"."""
        when = local(at, self.zone)
        told = f"{when:%H:%M}"
        twice = when.replace(fold=0).utcoffset() != when.replace(fold=1).utcoffset()
        return f"{told} {when.tzname()}" if twice else told

    def day(self, at: int) -> str:
        """The day alone: "today", "tomorrow", "Fri 3 Apr", with the year where it is another."""
        when, here = local(at, self.zone).date(), local(self.now, self.zone).date()
        days = (when - here).days
        if -1 <= days <= 1:
            return (_("yesterday"), _("today"), _("tomorrow"))[days + 1]
        return formats.date_format(when, "D j M" if when.year == here.year else "j M Y")

    def left(self, at: int) -> str:
        """How long until an instant, or since it, cut so that it never promises more than there is."""
        return (
            _("%(span)s ago") % {"span": span(self.now - at)}
            if at < self.now
            else _("in %(span)s") % {"span": span(at - self.now)}
        )

    def local(self, at: int) -> datetime:
        """An instant on the household's clock."""
        return local(at, self.zone)


def span(micros: int) -> str:
    """A length of time in one or two words, rounded down."""
    if micros < HOUR:
        minutes = max(0, micros // MINUTE)
        return ngettext("%(n)d minute", "%(n)d minutes", minutes) % {"n": minutes}
    if micros < 2 * DAY:
        hours, minutes = micros // HOUR, micros % HOUR // MINUTE // 5 * 5
        if hours >= 6 or minutes == 0:
            return ngettext("%(n)d hour", "%(n)d hours", hours) % {"n": hours}
        return _("%(hours)d h %(minutes)d min") % {"hours": hours, "minutes": minutes}
    days = micros // DAY
    if days < 14:
        return ngettext("%(n)d day", "%(n)d days", days) % {"n": days}
    if days < 60:
        return ngettext("%(n)d week", "%(n)d weeks", days // 7) % {"n": days // 7}
    return ngettext("%(n)d month", "%(n)d months", days // 31) % {"n": days // 31}


def _number(value: float, places: int) -> str:
    text = formats.localize(round(value, places) if places else round(value))
    return str(text).removesuffix(".0").removesuffix(",0")


def words_for(zone: str, now: int, units: tuple[str, str] = ("ml", "C")) -> Words:
    """The words of a household."""
    return Words(zone_named(zone), now, *units)
