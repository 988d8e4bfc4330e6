"""Temperatures as a picture: it says the same drawn, in words and in numbers, and nothing rests on colour alone."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag
from django.template.loader import render_to_string

from thawline.core.replay import moment
from thawline.core.times import DAY, HOUR, MINUTE
from thawline.faces.web.charts import Band, Chart, Limit, Mark, Series, Stretch, chart
from thawline.faces.web.charts_axes import clock_ticks, hour_ticks, round_steps
from thawline.faces.words import Words, words_for

NOW = moment("2027-02-03T14:00:00+00:00")
NONE = "\N{EN DASH}"
WORDS = words_for("Europe/Lisbon", NOW)


def drawn(**more: Any) -> Chart:
    """A picture of four hours of cooling, with what else is asked for."""
    given: dict[str, Any] = {"unit": "°C", "series": [Series("milk", [(0, 30.0), (1, 14.0), (2, 8.0), (4, 4.0)])]}
    found = chart("test", "A bottle cools", **{**given, **more})
    assert found is not None
    return found


def shown(found: Chart | None) -> BeautifulSoup:
    return BeautifulSoup(render_to_string("elements/chart.html", {"chart": found}), "html.parser")


def path(page: BeautifulSoup, kind: str) -> list[tuple[float, float]]:
    """The points of the first path of a class."""
    one = page.select_one(f".chart-drawn .{kind}")
    assert isinstance(one, Tag)
    return [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", str(one["d"]))]


def table(page: BeautifulSoup) -> list[list[str]]:
    return [[cell.text for cell in row.select("th, td")] for row in page.select("tbody tr")]


def test_a_picture_is_told_to_who_cannot_see_it() -> None:
    page = shown(drawn(limits=[Limit("4 °C", 4)]))
    svg = page.select_one("svg.chart-drawn")
    assert isinstance(svg, Tag) and svg["role"] == "img"
    named = [page.find(id=name) for name in str(svg["aria-labelledby"]).split()]
    title, says = (one.text if one else "" for one in named)
    assert title == "A bottle cools"
    assert says == "milk: 30 °C at 0 h, 4 °C at 4 h. Lowest 4, highest 30. Lines drawn across: 4 °C."


def test_the_table_beside_it_has_the_numbers_that_are_drawn() -> None:
    page = shown(drawn(bands=[Band("between", [(0, 29.0), (4, 3.0)], [(0, 31.0), (4, 6.0)])]))
    assert [head.text for head in page.select("thead th")] == ["Hours", "milk, °C", "between, °C"]
    assert table(page)[1] == ["1", "14", "22.5 to 24.8"]
    assert [row[0] for row in table(page)] == ["0", "1", "2", "4"]


def test_warmer_is_higher_and_later_is_further_on() -> None:
    points = path(shown(drawn()), "chart-line")
    assert all(one[0] < other[0] and one[1] < other[1] for one, other in pairwise(points))


def test_a_limit_is_a_level_line_with_its_words_on_it() -> None:
    page = shown(drawn(limits=[Limit("4 °C, chilled", 4), Limit("4.4 °C", 4.4)]))
    words = [one for one in page.select("text.chart-says") if "°C" in one.text]
    assert [one.text for one in words] == ["4.4 °C", "4 °C, chilled"]
    heights = [float(str(one["y"])) for one in words]
    assert heights[1] - heights[0] >= 15, "the words of two near lines do not lie upon each other"


def test_a_gap_is_left_open() -> None:
    page = shown(drawn(series=[Series("milk", [(0, 5.0), (1, 5.0), (2, None), (3, 5.0), (4, float("inf")), (5, 5.0)])]))
    line = page.select_one(".chart-drawn .chart-line")
    assert isinstance(line, Tag)
    assert str(line["d"]).count("M") == 3
    assert [row[1] for row in table(page)] == ["5", "5", NONE, "5", NONE, "5"]


def test_what_is_marked_is_hatched_numbered_and_named() -> None:
    page = shown(drawn(stretches=[Stretch("above 10 °C", 0, 1.6), Stretch("door open", 3, 3)]))
    assert len(page.select(".chart-drawn .chart-hatch")) == 2
    assert [one.text.split() for one in page.select(".chart-key li") if one.b] == [
        ["1", "above", "10", "°C"],
        ["2", "door", "open"],
    ]
    widths = [float(str(one["width"])) for one in page.select(".chart-drawn .chart-stretch")]
    assert widths[0] > 50 and widths[1] >= 2, "what is short can still be seen"


def test_ten_thousand_stretches_are_few_shapes_and_nine_names() -> None:
    page = shown(drawn(stretches=[Stretch(f"warm {n}", n / 2500, n / 2500 + 0.0001) for n in range(10_000)]))
    assert len(page.select(".chart-drawn .chart-stretch")) <= 150
    assert len([one for one in page.select(".chart-key li") if one.b]) == 9
    last = page.select(".chart-drawn .chart-stretch")[-1]
    assert float(str(last["x"])) + float(str(last["width"])) >= 278, "they reach as far as the last of them"


def test_lines_differ_by_their_dashes_too() -> None:
    page = shown(drawn(series=[Series(name, [(0, n), (1, n)]) for n, name in enumerate("abcd")]))
    kinds = [str(one["class"][-1]) for one in page.select(".chart-drawn .chart-line")]
    assert kinds == ["chart-1", "chart-2", "chart-3", "chart-4"]
    assert [one.text.strip() for one in page.select(".chart-key li")] == ["a", "b", "c", "d"]


def test_nothing_in_it_needs_styles_or_scripts_of_its_own() -> None:
    page = shown(drawn(marks=[Mark("early", 2)], stretches=[Stretch("warm", 0, 1)], limits=[Limit("4 °C", 4)]))
    assert not page.select("[style], script, style, [onclick]")
    assert not page.select("svg [fill], svg [stroke]"), "colours come from the sheet, light and dark"


def test_nothing_is_shown_where_there_is_nothing_to_draw() -> None:
    assert chart("none", "Nothing", unit="°C", series=[Series("milk", [(0, None), (1, float("nan"))])]) is None
    assert shown(None).text.strip() == ""


@pytest.mark.parametrize("value", [4.0, -18.0, 0.0])
def test_a_flat_line_and_a_lone_point_can_be_drawn(value: float) -> None:
    for points in ([(0.0, value), (5.0, value)], [(2.0, value)]):
        ys = path(shown(drawn(series=[Series("milk", points)])), "chart-line")
        assert all(40 < y < 180 for _x, y in ys)


def test_of_a_hundred_thousand_readings_the_extremes_are_drawn_and_told() -> None:
    points = [(float(n), 4 + (n % 50) / 100) for n in range(100_000)]
    points[61_803] = (61_803.0, 19.0)
    found = drawn(series=[Series("fridge", points)])
    assert len(found.lines[0].d) < 40_000
    ys = [y for _x, y in path(shown(found), "chart-line")]
    assert min(ys) < 60
    assert ["61803", "19"] in table(shown(found))
    assert found.table.note == "25 of 100000 moments, with the lowest and the highest among them."


def test_everything_lies_within_the_drawing() -> None:
    page = shown(
        drawn(
            limits=[Limit("40 °F", 4.44), Limit("10 °C", 10)],
            marks=[Mark("late", 4), Mark("never", 99)],
            stretches=[Stretch("x", -5, 90)],
            span=(0, 4),
        )
    )
    for text in page.select("svg.chart-drawn text"):
        assert 0 <= float(str(text["x"])) <= 288 and 0 <= float(str(text["y"])) <= 232, text
    assert "never" not in [one.text for one in page.select("text")]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(3.2, 9.6, [2, 4, 6, 8, 10]), (-18.4, -4.1, [-20, -15, -10, -5, 0]), (0, 1, [0, 0.5, 1])],
)
def test_levels_are_round_and_hold_all_there_is(low: float, high: float, expected: list[float]) -> None:
    found = round_steps(low, high, 5)
    assert found == expected


@pytest.mark.parametrize("span", [10 * MINUTE, HOUR, 5 * HOUR, 26 * HOUR, 3 * DAY, 40 * DAY, 400 * DAY])
def test_times_on_the_axis_are_round_on_the_households_clock(span: int) -> None:
    found = clock_ticks(NOW - span, NOW, 4, WORDS)
    assert 1 <= len(found) <= 5
    assert all(NOW - span <= tick.at <= NOW for tick in found)
    for tick in found:
        when = WORDS.local(int(tick.at))
        assert when.second == 0 and when.minute % 5 == 0
        if span > 2 * DAY:
            assert (when.hour, when.minute) == (0, 0)


@pytest.mark.parametrize(("day", "hours"), [("2027-03-28", 23), ("2026-10-25", 25)])
def test_round_times_stay_round_where_the_clocks_change(day: str, hours: int) -> None:
    start = moment(f"{day}T00:00:00+0{0 if hours == 23 else 1}:00")
    words = Words(WORDS.zone, start)
    found = clock_ticks(start, start + hours * HOUR, 8, words)
    assert {words.local(int(tick.at)).hour % 3 for tick in found} == {0}


def test_the_day_stands_below_where_it_begins_to_count() -> None:
    found = clock_ticks(NOW - 26 * HOUR, NOW, 4, WORDS)
    assert [tick.below for tick in found if tick.below] == ["yesterday", "today"]


def test_hours_are_counted_in_whole_steps() -> None:
    assert [tick.at for tick in hour_ticks(0, 20, 5)] == [0, 6, 12, 18]
    assert [tick.at for tick in hour_ticks(0, 1, 5)] == [0, 0.25, 0.5, 0.75, 1]


def test_words_of_marks_close_together_do_not_run_into_each_other() -> None:
    marks = drawn(marks=[Mark("now", 1), Mark("hours end", 1.2), Mark("far", 3.5)]).marks
    placed = [(float(one.label.x), float(one.label.y), len(one.label.says) * 8) for one in marks if one.label]
    assert len(placed) == 3
    for (x, y, wide), (x2, y2, _wide) in pairwise(placed):
        assert y != y2 or x + wide <= x2
    assert placed[0][1] == placed[2][1], "where there is room they stand on the same line"
