"""Temperatures over time as an inline picture with a table beside it, for `elements/chart.html`."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from typing import NamedTuple

from django.utils import formats
from django.utils.translation import gettext as _

from thawline.faces.web.charts_axes import Tick, clock_ticks, hour_ticks, round_steps
from thawline.faces.words import Words

# In units of the drawing, of which 288 are as wide as a phone of 320 px leaves: letters are 15 of them high.
WIDTH, HEIGHT = 288, 232
LEFT, RIGHT, TOP, BOTTOM = 36, 280, 28, 186
_LETTER = 8
_MOST_ROWS = 24
NUMBERED = 9
Point = tuple[float, float | None]


class Series(NamedTuple):
    """A line: its name, and points of time and temperature; a point without temperature leaves a gap."""

    name: str
    points: Sequence[Point]


class Band(NamedTuple):
    """What lies between an early and a late (or a low and a high) curve."""

    name: str
    low: Sequence[tuple[float, float]]
    high: Sequence[tuple[float, float]]


class Limit(NamedTuple):
    """A level line with its words: "4 °C, refrigerator"."""

    says: str
    y: float


class Stretch(NamedTuple):
    """A span of time to be marked (hatched and numbered), and what it is."""

    says: str
    start: float
    end: float


class Mark(NamedTuple):
    """An instant to be marked by an upright line: "now"."""

    says: str
    at: float


class Text(NamedTuple):
    """Words in the drawing."""

    x: str
    y: str
    says: str


class Drawn(NamedTuple):
    """One shape: which of its sort (1 to 4, for its dashes and colour), its path, its words and where they stand."""

    nth: int
    d: str
    name: str = ""
    label: Text | None = None
    width: str = ""
    x: str = ""


class Table(NamedTuple):
    """The numbers of the drawing: heads, rows, and what it leaves out, if anything."""

    heads: list[str]
    rows: list[list[str]]
    note: str


class Chart(NamedTuple):
    """What `elements/chart.html` shows; made by `chart`."""

    key: str
    title: str
    says: str
    unit: str
    x_says: str
    lines: list[Drawn]
    bands: list[Drawn]
    limits: list[Drawn]
    stretches: list[Drawn]
    marks: list[Drawn]
    grid: str
    ticks_y: list[Text]
    ticks_x: list[Text]
    days: list[Text]
    table: Table
    table_open: bool


class _Frame(NamedTuple):
    """From times and temperatures to places in the drawing."""

    x0: float
    x1: float
    levels: list[float]

    @property
    def y0(self) -> float:
        return self.levels[0]

    @property
    def y1(self) -> float:
        return self.levels[-1]

    def x(self, at: float) -> float:
        return LEFT + (at - self.x0) / (self.x1 - self.x0) * (RIGHT - LEFT)

    def y(self, value: float) -> float:
        return BOTTOM - (value - self.y0) / (self.y1 - self.y0) * (BOTTOM - TOP)

    def within(self, at: float) -> float:
        return min(max(at, self.x0), self.x1)


def chart(
    key: str, title: str, *, unit: str, says: str = "",
    series: Sequence[Series] = (), bands: Sequence[Band] = (), limits: Sequence[Limit] = (),
    stretches: Sequence[Stretch] = (), marks: Sequence[Mark] = (), words: Words | None = None,
    span: tuple[float, float] | None = None, scale: tuple[float, float] | None = None,
    table: Table | None = None, table_open: bool = False,
) -> Chart | None:  # fmt: skip
    """A picture; None where there is nothing to draw.

    `key` is its id on the page. Times are instants on the household's clock where `words` is given, else hours.
    Temperatures are in the unit whose sign is `unit`. `says` is the picture in a sentence or two, read out in its
    place. `span` widens the time axis, `scale` sets the lowest and highest level; `table` replaces the
    numbers taken from the curves.
    """
    frame = _frame(series, bands, limits, stretches, span, scale)
    if frame is None:
        return None
    ticks = clock_ticks(int(frame.x0), int(frame.x1), 4, words) if words else hour_ticks(frame.x0, frame.x1, 5)
    return Chart(
        key, title, says or _spoken(series, limits, unit, _teller(words)), unit, "" if words else _("hours"),
        [Drawn(n % 4 + 1, _line(one.points, frame), one.name) for n, one in enumerate(series)],
        [Drawn(n % 4 + 1, _area(one, frame), one.name) for n, one in enumerate(bands)],
        _limits(limits, frame), _stretches(stretches, frame), _marks(marks, frame),
        "".join(f"M{LEFT} {_p(frame.y(one))}H{RIGHT}" for one in frame.levels)
        + "".join(f"M{_p(frame.x(tick.at))} {BOTTOM}v5" for tick in ticks),
        [Text(str(LEFT - 6), _p(frame.y(one) + 5), _number(one)) for one in frame.levels],
        _spaced(ticks, frame), _below(ticks, frame),
        table or _table(series, bands, unit, words), table_open,
    )  # fmt: skip


def _frame(
    series: Sequence[Series], bands: Sequence[Band], limits: Sequence[Limit], stretches: Sequence[Stretch],
    span: tuple[float, float] | None, scale: tuple[float, float] | None,
) -> _Frame | None:  # fmt: skip
    points = [(x, y) for one in series for x, y in one.points if y is not None and math.isfinite(y)]
    points += [point for one in bands for point in (*one.low, *one.high)]
    if not points:
        return None
    times = [x for x, _y in points] + [at for one in stretches for at in (one.start, one.end)] + list(span or ())
    temps = [y for _x, y in points] + [one.y for one in limits]
    x0, x1 = min(times), max(times)
    low, high = scale or (min(temps), max(temps))
    # A flat line stands in the middle of some degrees, not of nothing.
    room = 0.0 if scale else max((4 - (high - low)) / 2, (high - low) * 0.04)
    return _Frame(x0, x1 if x1 > x0 else x0 + 1, round_steps(low - room, high + room, 5))


def _p(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _number(value: float, places: int = 1) -> str:
    return str(formats.localize(round(value, places))).removesuffix(".0").removesuffix(",0")


def _line(points: Sequence[Point], frame: _Frame) -> str:
    """The path of a line: of many points in one column the first, lowest, highest and last."""
    path = []
    for there, run in groupby(points, key=lambda point: point[1] is not None and math.isfinite(point[1])):
        if not there:
            continue
        placed = [(frame.x(x), frame.y(y)) for x, y in run if y is not None]
        columns = (list(column) for _x, column in groupby(placed, key=lambda point: int(point[0])))
        drawn = [point for column in columns for point in _column(column)]
        # A lone point is drawn as a dot.
        path.append("M" + "L".join(f"{_p(x)} {_p(y)}" for x, y in drawn) + ("h0" if len(drawn) == 1 else ""))
    return "".join(path)


def _column(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    if len(points) <= 4:
        return points
    heights = [y for _x, y in points]
    kept = sorted({0, heights.index(min(heights)), heights.index(max(heights)), len(points) - 1})
    return [points[index] for index in kept]


def _area(band: Band, frame: _Frame) -> str:
    edge = [(frame.x(x), frame.y(y)) for x, y in (*band.low, *reversed(band.high))]
    return "M" + "L".join(f"{_p(x)} {_p(y)}" for x, y in edge) + "Z"


def _limits(limits: Sequence[Limit], frame: _Frame) -> list[Drawn]:
    found: list[Drawn] = []
    free = 0.0
    for one in sorted(limits, key=lambda one: -one.y):
        y = frame.y(one.y)
        # Words stand on their line, or below it where the words of the line above leave no room.
        base = max(y - 5, free)
        free = base + 17
        label = Text(str(RIGHT - 2), _p(base), one.says)
        found.append(Drawn(1, f"M{LEFT} {_p(y)}H{RIGHT}", one.says, label))
    return found


def _stretches(stretches: Sequence[Stretch], frame: _Frame) -> list[Drawn]:
    found: list[Drawn] = []
    last = float(LEFT)
    for number, (x0, x1, says) in enumerate(_spans(stretches, frame), 1):
        middle = (x0 + x1) / 2
        fits = number <= NUMBERED and (not found or middle - last >= 1.5 * _LETTER)
        last = middle if fits else last
        label = Text(_p(middle), str(TOP - 7), str(number)) if fits else None
        found.append(Drawn(number, _hatch(x0, x1), says, label, _p(x1 - x0), _p(x0)))
    return found


def _spans(stretches: Sequence[Stretch], frame: _Frame) -> list[tuple[float, float, str]]:
    """Where stretches begin and end in the drawing; those that no number tells apart are one where they meet."""
    found: list[tuple[float, float, str]] = []
    for one in stretches:
        x0, x1 = frame.x(frame.within(one.start)), frame.x(frame.within(one.end))
        # What is short must still be seen.
        x1 = max(x1, x0 + 2)
        if len(found) > NUMBERED and x0 <= found[-1][1]:
            found[-1] = (found[-1][0], max(x1, found[-1][1]), found[-1][2])
        else:
            found.append((x0, x1, one.says))
    return found


def _hatch(x0: float, x1: float) -> str:
    """Slanting strokes that fill a stretch from top to bottom."""
    tall, gap = BOTTOM - TOP, 9
    path = []
    start = math.floor((x0 - tall) / gap) * gap
    for foot in range(start, math.ceil(x1), gap):
        # The stroke runs from (foot, bottom) up to (foot + tall, top), cut at the sides.
        left, right = max(x0, foot), min(x1, foot + tall)
        if right > left:
            path.append(f"M{_p(left)} {_p(BOTTOM - (left - foot))}L{_p(right)} {_p(BOTTOM - (right - foot))}")
    return "".join(path)


def _marks(marks: Sequence[Mark], frame: _Frame) -> list[Drawn]:
    found = []
    free, base = float("-inf"), BOTTOM - 6
    for one in sorted(marks, key=lambda one: one.at):
        if not frame.x0 <= one.at <= frame.x1:
            continue
        x = frame.x(one.at)
        wide = len(one.says) * _LETTER
        at = max(LEFT + 2, min(x + 4, RIGHT - wide))
        # Words that would run into those before them stand a line higher.
        base = base - 18 if at < free else BOTTOM - 6
        free = max(free, at + wide + _LETTER)
        found.append(Drawn(1, f"M{_p(x)} {TOP}V{BOTTOM}", one.says, Text(_p(at), str(base), one.says)))
    return found


def _spaced(ticks: Sequence[Tick], frame: _Frame) -> list[Text]:
    """The words at the marks of the time axis that have room."""
    found: list[Text] = []
    free = 0.0
    for tick in ticks:
        half = len(tick.says) * _LETTER / 2
        x = min(frame.x(tick.at), WIDTH - half)
        if x - half >= free:
            found.append(Text(_p(x), str(BOTTOM + 21), tick.says))
            free = x + half + 4
    return found


def _below(ticks: Sequence[Tick], frame: _Frame) -> list[Text]:
    found: list[Text] = []
    free = float("-inf")
    for tick in ticks:
        half = len(tick.below) * _LETTER / 2
        x = min(max(frame.x(tick.at), half), WIDTH - half)
        if tick.below and x - half >= free:
            found.append(Text(_p(x), str(BOTTOM + 41), tick.below))
            free = x + half + 6
    return found


def _teller(words: Words | None) -> Callable[[float], str]:
    if words is None:
        return lambda at: _("%(hours)s h") % {"hours": _number(at, 2)}
    return lambda at: words.clock(int(at))


def _spoken(series: Sequence[Series], limits: Sequence[Limit], unit: str, told: Callable[[float], str]) -> str:
    """What the lines do, in sentences."""
    known = [(one.name, [(x, y) for x, y in one.points if y is not None and math.isfinite(y)]) for one in series]
    says = [_spoken_line(name, points, unit, told) for name, points in known if points]
    if limits:
        says.append(_("Lines drawn across: %(lines)s.") % {"lines": ", ".join(one.says for one in limits)})
    return " ".join(says)


def _spoken_line(name: str, points: list[tuple[float, float]], unit: str, told: Callable[[float], str]) -> str:
    (start, first), (end, last) = points[0], points[-1]
    ends = _("%(name)s: %(first)s %(unit)s at %(start)s, %(last)s %(unit)s at %(end)s.") % {
        "name": name, "unit": unit, "first": _number(first), "last": _number(last), "start": told(start),
        "end": told(end),
    }  # fmt: skip
    temps = [y for _x, y in points]
    most = _("Lowest %(low)s, highest %(high)s.") % {"low": _number(min(temps)), "high": _number(max(temps))}
    return f"{ends} {most}"


def _table(series: Sequence[Series], bands: Sequence[Band], unit: str, words: Words | None) -> Table:
    """The numbers of the curves; of many moments some, with the lowest and highest of every line among them."""
    curves = [one.points for one in series]
    lows: list[Sequence[Point]] = [list(one.low) for one in bands]
    highs: list[Sequence[Point]] = [list(one.high) for one in bands]
    moments = sorted({x for curve in [*curves, *lows, *highs] for x, _y in curve})
    rows = _chosen(moments, curves)
    heads = [
        _("Time") if words else _("Hours"),
        *(f"{one.name}, {unit}" for one in series),
        *(f"{one.name}, {unit}" for one in bands),
    ]
    found = []
    for x in rows:
        cells = [_value(curve, x) for curve in curves]
        pairs = [(_value(low, x), _value(high, x)) for low, high in zip(lows, highs, strict=True)]
        between = [
            _("%(low)s to %(high)s") % {"low": _number(low), "high": _number(high)}
            if low is not None and high is not None
            else ""
            for low, high in pairs
        ]
        when = words.clock(int(x)) if words else _number(x, 2)
        found.append([when, *("" if one is None else _number(one) for one in cells), *between])
    left_out = len(moments) - len(rows)
    note = _("%(some)d of %(all)d moments, with the lowest and the highest among them.")
    return Table(heads, found, note % {"some": len(rows), "all": len(moments)} if left_out else "")


def _chosen(moments: list[float], curves: Iterable[Sequence[Point]]) -> list[float]:
    if len(moments) <= _MOST_ROWS:
        return moments
    kept = {moments[round(number * (len(moments) - 1) / (_MOST_ROWS - 1))] for number in range(_MOST_ROWS)}
    for curve in curves:
        known = [(y, x) for x, y in curve if y is not None and math.isfinite(y)]
        if known:
            kept |= {min(known)[1], max(known)[1]}
    return sorted(kept)


def _value(curve: Sequence[Point], x: float) -> float | None:
    """The value of a curve at a moment, between two of its points on the straight line."""
    index = bisect_left(curve, x, key=lambda point: point[0])
    if index < len(curve) and curve[index][0] == x:
        y = curve[index][1]
        return y if y is not None and math.isfinite(y) else None
    if not 0 < index < len(curve):
        return None
    (x0, y0), (x1, y1) = curve[index - 1], curve[index]
    if y0 is None or y1 is None or not math.isfinite(y0) or not math.isfinite(y1):
        return None
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
