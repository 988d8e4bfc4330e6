"""Pictures of sessions: what days came to, amounts over the day and by the hours before, and minutes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import pairwise

from django.utils import formats
from django.utils.translation import gettext as _

from thawline.core.times import DAY, day_start
from thawline.core.units import ML_PER_FL_OZ
from thawline.faces.web.charts import Chart, Point, Series, Table, chart
from thawline.faces.words import Words
from thawline.services import pattern as of
from thawline.services.pattern import Middle, Pattern, Sat

# Gaps that are drawn, in hours, and the steps of their table; ours.
_LONGEST_H = 24.0
_STEPS_H = (0, 2, 3, 4, 6, 9, 24)
_HOURS = 4
_EMPTY = ""


def _unit(words: Words) -> str:
    return _("fl oz") if words.amount == "fl_oz" else _("mL")


def _of(ml: float, words: Words) -> float:
    return ml / ML_PER_FL_OZ if words.amount == "fl_oz" else ml


def _cell(ml: float | None, words: Words) -> str:
    if ml is None:
        return _EMPTY
    places = 1 if words.amount == "fl_oz" else 0
    return str(formats.localize(round(_of(ml, words), places) if places else round(ml)))


def dots(points: Iterable[tuple[float, float]]) -> list[Point]:
    """Points that no line joins."""
    return [point for x, y in points for point in ((x, y), (x, None))]


def day_chart(found: Pattern, words: Words) -> Chart | None:
    """What each day came to, and the middle of seven days; a day without a note leaves a gap."""
    noons = [day_start(one.day, words.zone) + DAY // 2 for one in found.days]
    pairs = list(zip(noons, found.days, strict=True))
    known = [(float(at), _of(one.ml, words)) for at, one in pairs if one.ml is not None]
    line: list[Point] = [(at, None if one.week_ml is None else _of(one.week_ml, words)) for at, one in pairs]
    rows = [
        [
            formats.date_format(date.fromisoformat(one.day), "j M"),
            _("nothing noted") if one.ml is None else _cell(one.ml, words),
            "" if one.ml is None else str(one.sessions),
            _cell(one.week_ml, words),
        ]
        for one in reversed(found.days)
    ]
    heads = [_("Date"), _("Day, %(unit)s") % {"unit": _unit(words)}, _("Sessions"), _("7 days")]
    says = _("What each day came to, as dots, with the middle of seven days as a line. Days without a note are gaps.")
    return chart(
        "days", _("Each day"), unit=_unit(words), words=words, says=says, scale=_scale([y for _x, y in known]),
        series=[Series(_("middle of 7 days"), line), Series(_("a day"), dots(known))],
        span=(noons[0], noons[-1]) if noons else None, table=Table(heads, rows, ""),
    )  # fmt: skip


def _scale(values: Sequence[float]) -> tuple[float, float]:
    return 0.0, max(values, default=1.0) or 1.0


def hour_chart(found: Pattern, words: Words) -> Chart | None:
    """Amounts of sessions by the hour of the day at which they began."""
    points = [(one.hour, _of(one.ml, words)) for one in found.sessions if one.hour is not None]
    by_hours = of.by_hours(found.sessions, width_h=_HOURS)
    middles: list[Point] = [(start + _HOURS / 2, _of(one.median_ml, words)) for start, one in by_hours]
    rows = [[_hours(start), str(one.number), _cell(one.median_ml, words), _half(one, words)] for start, one in by_hours]
    heads = [_("Hour"), _("Sessions"), _("Middle, %(unit)s") % {"unit": _unit(words)}, _("Half")]
    drawn = chart(
        "hours", _("Over the day"), unit=_unit(words), span=(0, 24), scale=_scale([y for _x, y in points]),
        says=_("Each session as a dot at the hour when it began, and the middle of every four hours as a line."),
        series=[Series(_("middle of 4 hours"), middles), Series(_("a session"), dots(points))],
        table=Table(heads, rows, ""),
    )  # fmt: skip
    return None if drawn is None else drawn._replace(x_says=_("hour of the day"))


def _hours(start: int) -> str:
    return _("%(from)d\N{EN DASH}%(to)d") % {"from": start, "to": start + _HOURS}


def _half(one: Middle, words: Words) -> str:
    if one.low_ml is None:
        return _EMPTY
    return _("%(low)s\N{EN DASH}%(high)s") % {"low": _cell(one.low_ml, words), "high": _cell(one.high_ml, words)}


def gap_chart(found: Pattern, words: Words) -> Chart | None:
    """Amounts by the hours since the session before."""
    known = [(one.gap_h, one) for one in found.sessions if one.gap_h is not None and one.gap_h <= _LONGEST_H]
    rows = []
    for low, high in pairwise(_STEPS_H):
        one = of.middle([row for gap, row in known if low <= gap < high or gap == high == _LONGEST_H])
        if one is not None:
            span = _("%(low)d to %(high)d h") % {"low": low, "high": high}
            rows.append([span, str(one.number), _cell(one.median_ml, words)])
    heads = [_("Since the last"), _("Sessions"), _("Middle, %(unit)s") % {"unit": _unit(words)}]
    points = [(gap, _of(row.ml, words)) for gap, row in known]
    drawn = chart(
        "gaps", _("By the time since the session before"), unit=_unit(words), scale=_scale([y for _x, y in points]),
        says=_("Each session as a dot at the hours that had passed since the one before."),
        series=[Series(_("a session"), dots(points))], table=Table(heads, rows, ""), span=(0, 1),
    )  # fmt: skip
    return None if drawn is None else drawn._replace(x_says=_("hours since the last"))


def minutes_chart(found: Pattern, words: Words) -> Chart | None:
    """How long sessions took, over time, where that was noted."""
    known: list[tuple[Sat, float]] = [(one, one.minutes) for one in found.sessions if one.minutes is not None]
    points = [(float(one.at), minutes) for one, minutes in known]
    rows = [[words.clock(one.at), f"{minutes:.0f}", _cell(one.ml, words)] for one, minutes in reversed(known[-24:])]
    heads = [_("Begun"), _("Minutes"), _("Amount, %(unit)s") % {"unit": _unit(words)}]
    note = _("The last %(some)d of %(all)d.") % {"some": len(rows), "all": len(known)} if len(known) > len(rows) else ""
    return chart(
        "minutes", _("Minutes of a session"), unit=_("min"), words=words, scale=_scale([y for _x, y in points]),
        says=_("How many minutes each session took, as dots over the days."),
        series=[Series(_("a session"), dots(points))], table=Table(heads, rows, note),
    )  # fmt: skip
