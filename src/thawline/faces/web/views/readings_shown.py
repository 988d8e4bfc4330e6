"""A record of temperatures in words and as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.faces.web import charts
from thawline.faces.web.charts import Chart
from thawline.faces.words import Words, span
from thawline.services import readings
from thawline.services.readings import Beyond, Clean, Excursion, Limit, Looked, Reading

_MOST_LISTED = 20
# A line this far from everything measured is left out of the picture, in degrees Celsius.
_NEAR_C = 3.0
# Two lines closer than this are one in the picture: the guideline's.
_APART_C = 0.9


class ExcursionLine(NamedTuple):
    """One time beyond a limit, in words."""

    when: str
    lasted: str
    extreme: str
    note: str


class LimitLines(NamedTuple):
    """A limit and the times beyond it, in words."""

    title: str
    whose: str
    in_all: str
    excursions: list[ExcursionLine]
    more: int


def shown(looked: Looked, name: str, words: Words) -> dict[str, Any]:
    """What `web/readings_shown.html` shows of a record."""
    record = looked.record
    return {
        "chart": picture(looked, name, words),
        "limits": [limit_lines(one, words) for one in looked.beyond if one.excursions],
        "never": [_title(one.limit, words) for one in looked.beyond if not one.excursions],
        "mean": _mean(looked, words),
        "told": told(record, words),
        "count": len(record.readings),
        "first": words.clock(record.readings[0].at) if record.readings else "",
        "last": words.clock(record.readings[-1].at) if record.readings else "",
    }


def picture(looked: Looked, name: str, words: Words) -> Chart | None:
    """The record as a picture, with the times beyond its main limit marked."""
    record = looked.record
    points: list[charts.Point] = [(one.at, words.degrees(one.c)) for one in record.readings]
    for gap in reversed(record.gaps):
        index = next(n for n, point in enumerate(points) if point[0] == gap.end)
        points.insert(index, (gap.start + 1, None))
    drawn = _drawn(looked)
    main = next((one for one in looked.beyond if one.limit is _main(looked)), None)
    return charts.chart(
        "record",
        _("%(place)s, recorded") % {"place": name},
        unit=f"°{words.temp}",
        series=[charts.Series(name, points)],
        limits=[charts.Limit(words.c(one.c), words.degrees(one.c)) for one in drawn],
        stretches=_stretches(main, record, words),
        words=words,
    )


def _main(looked: Looked) -> Limit | None:
    """The limit whose excursions are marked: one's own, else the guideline's, else the coldest usual one."""
    for whose in (readings.OWN, readings.GUIDELINE, readings.USUAL):
        found = [one.limit for one in looked.beyond if one.limit.whose == whose and one.limit.above]
        if found:
            return found[-1]
    return None


def _drawn(looked: Looked) -> list[Limit]:
    temps = [one.c for one in looked.record.readings]
    if not temps:
        return []
    first = _main(looked)
    near = [one.limit for one in looked.beyond if min(temps) - _NEAR_C <= one.limit.c <= max(temps) + _NEAR_C]
    found = [first] if first is not None else []
    for one in near:
        if all(abs(one.c - other.c) > _APART_C for other in found):
            found.append(one)
    return found


def _stretches(main: Beyond | None, record: Clean, words: Words) -> list[charts.Stretch]:
    if main is None or not record.readings:
        return []
    start, end = record.readings[0].at, record.readings[-1].at
    title = _title(main.limit, words)
    return [
        charts.Stretch(
            f"{title}: {_when(one, words)}" if number < charts.NUMBERED else "",
            start if one.earliest is None else one.earliest,
            end if one.latest is None else one.latest,
        )
        for number, one in enumerate(main.excursions)
    ]


def _title(limit: Limit, words: Words) -> str:
    shape = _("Above %(degrees)s") if limit.above else _("Below %(degrees)s")
    return shape % {"degrees": words.c(limit.c)}


def limit_lines(found: Beyond, words: Words) -> LimitLines:
    """A limit and the times beyond it, in words."""
    limit = found.limit
    lines = [_excursion(one, words) for one in found.excursions[:_MOST_LISTED]]
    return LimitLines(
        _title(limit, words), _(limit.says), _in_all(found), lines, max(0, len(found.excursions) - _MOST_LISTED)
    )


def _in_all(found: Beyond) -> str:
    times = ngettext("%(n)d time", "%(n)d times", len(found.excursions)) % {"n": len(found.excursions)}
    return _("%(times)s, in all %(length)s.") % {"times": times, "length": _between(found.known, found.most)}


def _between(known: int, most: int | None) -> str:
    """How long something lasted: at least rounded down, at most rounded up."""
    if most is None and known < MINUTE:
        return _("a single reading")
    if most is None:
        return _("at least %(least)s") % {"least": span(known)}
    if known < MINUTE:
        return _("at most %(most)s") % {"most": _up(most)}
    return _("at least %(least)s, at most %(most)s") % {"least": span(known), "most": _up(most)}


def _up(micros: int) -> str:
    """A length of time rounded up to what is written of it."""
    step = next(step for most, step in ((HOUR, MINUTE), (6 * HOUR, 5 * MINUTE), (2 * DAY, HOUR), (micros + 1, DAY))
                if micros < most)  # fmt: skip
    return span(-(-micros // step) * step)


def _when(one: Excursion, words: Words) -> str:
    if one.first == one.last:
        return words.clock(one.first)
    last = words.hour(one.last) if words.day(one.first) == words.day(one.last) else words.clock(one.last)
    return _("%(start)s to %(end)s") % {"start": words.clock(one.first), "end": last}


def _excursion(one: Excursion, words: Words) -> ExcursionLine:
    notes = []
    if one.earliest is None:
        notes.append(_("It may have begun before the record."))
    else:
        notes.append(_("It can have begun as early as %(time)s.") % {"time": words.clock(one.earliest)})
    if one.latest is None:
        notes.append(_("It was not over at the last reading."))
    if one.gap:
        notes.append(_("There is a gap in it."))
    extreme = _("warmest %(degrees)s") if one.above else _("coldest %(degrees)s")
    return ExcursionLine(
        _when(one, words), _between(one.known, one.most), extreme % {"degrees": words.c(one.extreme_c)}, " ".join(notes)
    )


def _mean(looked: Looked, words: Words) -> dict[str, str]:
    mean = looked.mean
    if mean.kinetic_c is None or mean.plain_c is None:
        hours = readings.gap_limit() // HOUR
        return (
            {"why": _("No mean is given: more than %(n)d h lie between two readings.") % {"n": hours}}
            if mean.gaps
            else {}
        )
    return {"kinetic": words.c(round(mean.kinetic_c, 1)), "plain": words.c(round(mean.plain_c, 1))}


def told(record: Clean, words: Words) -> list[str]:
    """What was done to the readings, and what is missing among them, in sentences."""
    found = []
    if record.faults:
        n = len(record.faults)
        says = ngettext(
            "%(n)d reading can not be right (%(some)s) and was left out: look at the sensor.",
            "%(n)d readings can not be right (%(some)s) and were left out: look at the sensor.",
            n,
        )
        found.append(says % {"n": n, "some": _some([f"{one.c:g} °C" for one in record.faults])})
    if record.differing:
        n = len(record.differing)
        says = ngettext(
            "At %(n)d moment two readings differ (%(some)s): the warmer one counts.",
            "At %(n)d moments two readings differ (%(some)s): the warmer one counts.",
            n,
        )
        some = [
            f"{words.clock(one.at)}: {words.c(one.coldest_c)}, {words.c(one.warmest_c)}" for one in record.differing
        ]
        found.append(says % {"n": n, "some": _some(some)})
    if record.alike:
        says = ngettext("%(n)d reading stood there twice.", "%(n)d readings stood there twice.", record.alike)
        found.append(says % {"n": record.alike})
    if record.gaps:
        says = ngettext(
            "%(n)d gap without a reading: %(some)s.", "%(n)d gaps without a reading: %(some)s.", len(record.gaps)
        )
        some = [
            _("%(start)s to %(end)s") % {"start": words.clock(one.start), "end": words.clock(one.end)}
            for one in record.gaps
        ]
        found.append(says % {"n": len(record.gaps), "some": _some(some)})
    return found


def _some(items: Sequence[str]) -> str:
    return "; ".join(items[:3]) + ("; …" if len(items) > 3 else "")


def within(found: Sequence[Reading], days: int) -> list[Reading]:
    """The readings of the last days before the newest one."""
    return [one for one in found if one.at >= found[-1].at - days * DAY] if found else []
