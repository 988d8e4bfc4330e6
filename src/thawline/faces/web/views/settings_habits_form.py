"""Fields of a family's habits: clock times, days that may lie ahead, weekdays, hours and sizes."""

from __future__ import annotations

import re
from collections.abc import Sequence

from django.utils.translation import gettext as _

from thawline.core.times import BadTimeError, check_date
from thawline.faces.web.amounts import BadAmountError, amount_ml, number
from thawline.faces.web.views.settings_kit import Form
from thawline.services.plan_figures import figure

_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.h]([0-5]\d)", re.ASCII)


class HabitsForm(Form):
    """A form of settings with fields that may be left empty."""

    def clock(self, name: str, missing: str) -> str:
        """A clock time such as 08:00."""
        text = self.sent.get(name, "").strip()
        found = _CLOCK.fullmatch(text)
        if found is None:
            self.wrong(name, _("Write the time like 08:00.") if text else missing)
            return ""
        return f"{int(found[1]):02d}:{found[2]}"

    def any_day(self, name: str, missing: str = "") -> str:
        """A day, ISO, past or ahead; empty where nothing was written and nothing has to be."""
        text = self.sent.get(name, "").strip()
        if not text:
            if missing:
                self.wrong(name, missing)
            return ""
        try:
            check_date(text)
        except BadTimeError:
            self.wrong(name, _("Write the day like 2027-02-03."))
            return ""
        return text

    def in_order(self, first: str, last: str, name: str) -> None:
        """That a day does not end before it began; either may be open."""
        if first and last and last < first:
            self.wrong(name, _("That is before it begins. Look at both days once more."))

    def hours(self, name: str) -> float:
        """Hours of a day, more than none."""
        found = self._number(name, _("Write how many hours."))
        if found is not None and not 0 < found <= 24:
            self.wrong(name, _("Write the hours of a day, at most 24."))
        return found or 0.0

    def size(self, name: str, unit: str) -> float | None:
        """A size in the household's unit, in mL; None where it is empty."""
        text = self.sent.get(name, "").strip()
        if not text:
            return None
        try:
            ml = amount_ml(text, unit)
        except BadAmountError as fault:
            self.wrong(name, str(fault))
            return None
        least, most = figure("sizes", "least_ml"), figure("sizes", "most_ml")
        if not least <= ml <= most:
            self.wrong(name, _("Write a size from %(least)g to %(most)g mL.") % {"least": least, "most": most})
        return ml

    def weekdays(self, name: str, chosen: Sequence[str]) -> tuple[int, ...]:
        """At least one day of the week, 0 for Monday."""
        found = tuple(sorted({int(one) for one in chosen if one in tuple("0123456")}))
        if not found:
            self.wrong(name, _("Choose at least one day."))
        return found

    def _number(self, name: str, missing: str) -> float | None:
        text = self.sent.get(name, "").strip()
        if not text:
            self.wrong(name, missing)
            return None
        try:
            return number(text)
        except BadAmountError as fault:
            self.wrong(name, str(fault))
            return None
