"""The outlook's pictures: stock over time, what is expressed and needed, and ranges as lines on one scale."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, timedelta
from statistics import fmean
from typing import NamedTuple

from django.utils import formats
from django.utils.translation import gettext as _

from thawline.core.times import day_start
from thawline.core.units import ML_PER_FL_OZ
from thawline.engines.forecast.kinds import Band as Range
from thawline.faces.web.charts import Band, Chart, Limit, Mark, Series, Table, chart
from thawline.faces.web.views.outlook_words import BEGINS, day_text
from thawline.faces.words import Words
from thawline.services.outlook_kinds import GoalSeen, OutlookDay, OutlookNow

# A level so far above all else would press the rest together; ours.
_MOST_ABOVE = 1.5
_MOST_ROWS = 16
_LITRES_FROM_ML = 9000.0
_WIDTH = 288.0


class Reach(NamedTuple):
    """A range as a line on a scale, in units of its drawing: from the start to `low`, on to `high`, a tick at `likely`.

    `open`: it goes on past the end of the scale.
    """

    low: str
    likely: str
    high: str
    span: str
    open: bool = False


def reach(low: float, likely: float | None, high: float | None, most: float) -> Reach:
    """A range on a scale from 0 to `most`; `high` None: past its end; `likely` None: no tick."""

    def at(value: float) -> float:
        return 2 + min(max(value / most, 0.0), 1.0) * (_WIDTH - 4)

    first, last = at(low), at(most if high is None else high)
    tick = "" if likely is None else f"{at(likely):.1f}"
    return Reach(f"{first:.1f}", tick, f"{last:.1f}", f"{max(last - first, 2.0):.1f}", high is None)


def in_unit(ml: float, words: Words) -> float:
    """An amount in the household's unit, as a number."""
    return ml / ML_PER_FL_OZ if words.amount == "fl_oz" else ml


class Scale(NamedTuple):
    """How amounts are drawn: in which unit, how many mL are one of it, and with how many places."""

    words: Words
    unit: str
    ml: float
    places: int

    def of(self, ml: float) -> float:
        """An amount on this scale."""
        return ml / self.ml


def _scale(words: Words, highest_ml: float) -> Scale:
    """The household's unit; litres where mL would need more digits than stand beside the drawing."""
    if words.amount == "fl_oz":
        return Scale(words, _("fl oz"), ML_PER_FL_OZ, 1)
    return Scale(words, _("L"), 1000.0, 2) if highest_ml >= _LITRES_FROM_ML else Scale(words, _("mL"), 1.0, 0)


def stock_chart(found: OutlookNow, words: Words) -> Chart | None:
    """Stock at the end of each day with its range, what the goal takes, and the level past which more has no use."""
    scale = _scale(words, _MOST_ABOVE * _highest(found))
    ends = [_start(_next(one.day), words) for one in found.days]
    series = [Series(_("stock, likely"), _points(ends, found.days, scale, lambda one: one.stock.likely))]
    bands = [_band(_("stock, 8 of 10 cases"), ends, [one.stock for one in found.days], scale)]
    if found.goal is not None and ends:
        bands += _takes(found.goal, _highest(found), ends[0], ends[-1], scale)
    limits = _enough(found, scale)
    top = max([point[1] for one in bands for point in one.high] + [one.y for one in limits], default=1.0)
    says = _("Stock at the end of each day, from %(first)s to %(last)s; its numbers are in the table below.")
    return chart(
        "stock", _("Stock over time"), unit=scale.unit, series=series, bands=bands, limits=limits,
        marks=_goal_begins(found, words), words=words, scale=(0.0, max(top, 1.0)),
        says=says % _ends(found, words) if found.days else "",
        table=_table(found.days, scale, [(_("stock"), lambda one: one.stock)]),
    )  # fmt: skip


def flow_chart(found: OutlookNow, words: Words) -> Chart | None:
    """What is expressed and what is needed from bottles: a day's mean of each week, as weekdays differ."""
    scale = _scale(words, 0.0)
    weeks = list(_weeks(found.days))
    middles = [(_start(one.day, words) + _start(_next(last), words)) // 2 for one, last in weeks]
    of = [one for one, _last in weeks]
    series = [
        Series(_("needed by bottle, likely"), _points(middles, of, scale, lambda one: one.need.likely)),
        Series(_("expressed, likely"), _points(middles, of, scale, lambda one: one.supply.likely)),
    ]
    bands = [
        _band(_("needed, 8 of 10 cases"), middles, [one.need for one in of], scale),
        _band(_("expressed, 8 of 10 cases"), middles, [one.supply for one in of], scale),
    ]
    top = max([y for one in bands for _x, y in one.high], default=1.0)
    says = _(
        "What is needed by bottle and what is expressed a day, as the mean of each week, from %(first)s to %(last)s."
    )
    return chart(
        "flow", _("Expressed and needed, a day"), unit=scale.unit, series=series, bands=bands, words=words,
        scale=(0.0, max(top, 1.0)), says=says % _ends(found, words) if found.days else "",
        table=_table(
            of, scale, [(_("needed"), lambda one: one.need), (_("expressed"), lambda one: one.supply)],
            head=_("Week from"),
        ),
    )  # fmt: skip


def _weeks(days: Sequence[OutlookDay]) -> Iterator[tuple[OutlookDay, str]]:
    """Each seven days as one, with the mean of their ranges, and the last of its days; stock as that day's end."""
    for first in range(0, len(days), 7):
        week = days[first : first + 7]
        need, supply = (_mean([one.need for one in week]), _mean([one.supply for one in week]))
        yield OutlookDay(week[0].day, week[-1].stock, need, supply), week[-1].day


def _mean(ranges: Sequence[Range]) -> Range:
    """The mean of ranges, end by end: days are taken to be high or low together, so that it is never too narrow."""
    low, likely, high = (fmean(column) for column in zip(*ranges, strict=True))
    return Range(low, likely, high)


def _ends(found: OutlookNow, words: Words) -> dict[str, str]:
    return {"first": day_text(found.days[0].day, words), "last": day_text(found.days[-1].day, words)}


def _start(day: str, words: Words) -> int:
    return day_start(day, words.zone)


def _next(day: str) -> str:
    return (date.fromisoformat(day) + timedelta(days=1)).isoformat()


def _points(
    ats: Sequence[int], days: Sequence[OutlookDay], scale: Scale, of: Callable[[OutlookDay], float]
) -> list[tuple[float, float | None]]:  # fmt: skip
    return [(at, scale.of(of(one))) for at, one in zip(ats, days, strict=True)]


def _band(name: str, ats: Sequence[int], ranges: Sequence[Range], scale: Scale) -> Band:
    low = [(float(at), scale.of(one.low)) for at, one in zip(ats, ranges, strict=True)]
    high = [(float(at), scale.of(one.high)) for at, one in zip(ats, ranges, strict=True)]
    return Band(name, low, high)


def _highest(found: OutlookNow) -> float:
    return max((one.stock.high for one in found.days), default=0.0)


def _takes(goal: GoalSeen, highest: float, first: int, last: int, scale: Scale) -> list[Band]:
    """What the goal takes, as a level band up to its beginning; none where it lies far beyond what is drawn."""
    if goal.takes.high > _MOST_ABOVE * highest:
        return []
    until = min(_start(goal.on, scale.words), last)
    return [] if until <= first else [_band(_("what the goal takes"), (first, until), (goal.takes, goal.takes), scale)]


def _enough(found: OutlookNow, scale: Scale) -> list[Limit]:
    near = found.enough.reached or found.enough.on is not None
    if not near or not 0 < found.enough.ml <= _MOST_ABOVE * _highest(found):
        return []
    return [Limit(_("enough"), scale.of(found.enough.ml))]


def _goal_begins(found: OutlookNow, words: Words) -> list[Mark]:
    return [] if found.goal is None else [Mark(str(BEGINS[found.goal.why]), _start(found.goal.on, words))]


def _table(
    days: Sequence[OutlookDay], scale: Scale, columns: Sequence[tuple[str, Callable[[OutlookDay], Range]]],
    *, head: str = "",
) -> Table:  # fmt: skip
    """The numbers that are drawn: every day, or of many days some, evenly, and the last."""
    heads = [head or _("Day"), *(f"{name}, {scale.unit} ({_('8 of 10 cases')})" for name, _of in columns)]
    step = -(-len(days) // _MOST_ROWS)
    rows = [one for number, one in enumerate(days) if number % step == 0 or number == len(days) - 1]
    # In a narrow column a day may break.
    cells = [
        [
            day_text(one.day, scale.words).replace("\N{NO-BREAK SPACE}", " "),
            *(_cell(of(one), scale) for _name, of in columns),
        ]
        for one in rows
    ]
    note = _("%(some)d of %(all)d days.") % {"some": len(rows), "all": len(days)} if len(rows) < len(days) else ""
    return Table(heads, cells, note)


def _cell(band: Range, scale: Scale) -> str:
    low, likely, high = (_number(scale.of(one), scale.places) for one in band)
    return _("%(likely)s (%(low)s to %(high)s)") % {"likely": likely, "low": low, "high": high}


def _number(value: float, places: int) -> str:
    return str(formats.localize(round(value, places) if places else round(value)))
