"""The outlook's page: ranges in words first, chances with their number, nothing that urges, and what if."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from unittest import mock

import msgspec
import pytest
from bs4 import BeautifulSoup, Tag
from tests.pages import NOW, ZONE, Family, text

from thawline.core.replay import moment
from thawline.core.times import DAY
from thawline.engines.forecast.kinds import Band
from thawline.faces.web.views import outlook, outlook_note
from thawline.faces.web.views.outlook_charts import reach
from thawline.faces.web.views.outlook_words import (
    between,
    chance_text,
    day_text,
    few_chances,
    lasts_text,
    none_text,
    two_days,
)
from thawline.faces.words import words_for
from thawline.services import habits
from thawline.services.habits import Apart, Habits
from thawline.services.outlook_kinds import Enough, GoalSeen, Lasts, OutlookDay, OutlookNow, Route, WhatIf
from thawline.services.plan_kinds import NoPlan

WORDS = words_for(ZONE, moment(NOW))
OUNCES = words_for(ZONE, moment(NOW), ("fl_oz", "C"))
FIRST = date(2027, 2, 3)
# What would urge to express more, or set a mark to reach; the page may only deny such things.
URGING = r"\b(should|must|need to|try to|reach your|keep going|behind|goal met|target of|express more|pump)\b"


def _days(number: int = 90, start_ml: float = 1800, a_day: float = 52) -> tuple[OutlookDay, ...]:
    found = []
    for ahead in range(number):
        likely = max(0.0, start_ml - a_day * ahead)
        stock = Band(max(0.0, likely - 12 * ahead), likely, likely + 9 * ahead)
        need = Band(210, 300, 400) if (FIRST + timedelta(days=ahead)).weekday() < 5 else Band(0, 0, 0)
        found.append(OutlookDay((FIRST + timedelta(days=ahead)).isoformat(), stock, need, Band(180, 248, 330)))
    return tuple(found)


def an_outlook(**more: Any) -> OutlookNow:
    """An invented answer of the forecast, with what else is asked for."""
    given: dict[str, Any] = {
        "now": moment(NOW), "zone": ZONE, "children": ("Mira",), "days": _days(),
        "routes": (
            Route("age", Band(610, 783, 960), "published days of one age"),
            Route("weight", Band(640, 810, 990), "published growth"),
            Route("own_days", Band(655, 720, 790), "your own days"),
        ),
        "routes_differ": False, "complete_days": 12, "sessions": 96,
        "lasts": Lasts("2027-03-03", "2027-03-11", "2027-03-20", 0.02),
        "short_chance": (("2027-03-01", 0.08), ("2027-03-15", 0.64)),
        "goal": GoalSeen("apart", "2027-03-01", "2027-04-30", Band(1210, 1500, 1890), Band(880, 1200, 1490),
                         Band(4, 15, 38), 0.22),
        "enough": Enough(4180, False, None, Band(0, 0, 0)), "what_if": WhatIf(), "none": (), "guideline": "US CDC",
        "paths": 2000,
    }  # fmt: skip
    return OutlookNow(**{**given, **more})


@dataclass
class Asked:
    """What the page asked of the forecast, and what it is answered."""

    answer: OutlookNow = field(default_factory=an_outlook)
    by_question: dict[WhatIf, OutlookNow] = field(default_factory=dict)
    what_if: list[WhatIf] = field(default_factory=list)

    def __call__(self, _store: Any, _habits: Any, **given: Any) -> OutlookNow:
        self.what_if.append(given["what_if"])
        return self.by_question.get(given["what_if"], self.answer)


@pytest.fixture
def asked(home: Family) -> Iterator[Asked]:
    """The page over an invented answer."""
    found = Asked()
    with mock.patch.object(outlook, "outlook_now", side_effect=found, autospec=False):
        yield found


def spoken(page: BeautifulSoup) -> str:
    """What the page says itself, without what a publication is called."""
    for one in page.select(".source"):
        one.decompose()
    return text(page)


# Until when


def test_how_long_it_lasts_is_told_as_a_range_before_what_is_likely(home: Family, asked: Asked) -> None:
    page = text(home.see("/outlook/"))
    assert page.index("Until between 3 and 20 March.") < page.index("Most likely until about 11 March.")


@pytest.mark.parametrize(
    ("lasts", "says", "likely"),
    [
        (Lasts("2027-02-26", "2027-03-11", "2027-03-20", 0), "Until between 26 February and 20 March.", "11 March"),
        (
            Lasts("2027-03-03", "2027-03-11", None, 0.2),
            "Until 3 March or later, maybe past the 90 days looked at.",
            "11 M",
        ),
        (
            Lasts("2027-04-09", None, None, 0.7),
            "Until 9 April or later, maybe past the 90 days looked at.",
            "Longer than that: more likely than not, about 70 in 100.",
        ),
        (Lasts(None, None, None, 0.97), "It does not run out within the 90 days looked at.", "about 97 in 100"),
        (Lasts("2027-03-03", "2027-03-03", "2027-03-03", 0), "Until 3 March.", ""),
        (
            Lasts("2027-12-30", "2028-01-02", "2028-01-04", 0),
            "Until between 30 December 2027 and 4 January 2028.",
            "2 J",
        ),
    ],
)
def test_an_end_that_lies_beyond_what_is_looked_at_is_not_made_up(lasts: Lasts, says: str, likely: str) -> None:
    found = [" ".join(one.split()) for one in lasts_text(lasts, 90, WORDS)]
    assert found[0] == says
    assert likely in found[1] and bool(likely) == bool(found[1])


def test_the_line_beside_the_words_runs_from_early_to_late_and_is_open_where_no_end_is_known() -> None:
    closed, opened = reach(28, 36, 45, 90), reach(28, 36, None, 90)
    assert float(closed.low) < float(closed.likely) < float(closed.high) < 286
    assert float(closed.low) + float(closed.span) == pytest.approx(float(closed.high), abs=0.2)
    assert not closed.open and opened.open and opened.high == "286.0"


def test_chances_are_a_word_and_a_number(home: Family, asked: Asked) -> None:
    page = text(home.see("/outlook/"))
    assert "before 1 March very unlikely, about 8 in 100" in page
    assert "before 15 March more likely than not, about 64 in 100" in page


@pytest.mark.parametrize(
    ("chance", "says"),
    [
        (0.0, "hardly possible, less than 1 in 100"), (0.004, "hardly possible, less than 1 in 100"),
        (0.5, "as likely as not, about 50 in 100"), (0.9, "likely, about 90 in 100"),
        (1.0, "almost certain, more than 99 in 100"),
    ],
)  # fmt: skip
def test_a_chance_is_never_told_as_none_or_as_certain(chance: float, says: str) -> None:
    assert " ".join(chance_text(chance).split()) == says


@pytest.mark.parametrize(
    ("chances", "kept"),
    [
        ([0.02, 0.13, 0.27, 0.30, 0.36, 0.43], [0.02, 0.13, 0.27, 0.36, 0.43]),
        ([0.04, 0.17, 0.30, 0.31, 0.40, 0.42, 0.43], [0.04, 0.17, 0.30, 0.43]),
        ([0.995, 1.0, 1.0, 1.0], [0.995]), ([0.0, 0.001, 0.004], [0.004]), ([0.5], [0.5]), ([], []),
    ],
)  # fmt: skip
def test_days_that_tell_hardly_more_than_the_one_before_are_left_out(chances: list[float], kept: list[float]) -> None:
    given = [(f"2027-03-{number + 1:02d}", chance) for number, chance in enumerate(chances)]
    assert [chance for _day, chance in few_chances(given)] == kept


# Goal and enough


def test_a_goal_is_two_ranges_and_a_chance_and_no_target(home: Family, asked: Asked) -> None:
    page = text(home.see("/outlook/"))
    assert "from 1 March to 30 April" in page
    assert "It takes 1210 to 1890 mL" in page and "There will be 880 to 1490 mL" in page
    assert "That it is enough: unlikely, about 22 in 100." in page
    assert "What is missing comes to 0 to 40 mL a day. It need not come from expressing" in page
    assert "ranges, not targets" in page


def test_where_there_is_enough_for_the_goal_nothing_more_is_named(home: Family, asked: Asked) -> None:
    goal = GoalSeen("trip", "2027-03-01", "2027-03-04", Band(800, 900, 1000), Band(1300, 1400, 1500), Band(0, 0, 0), 1)
    asked.answer = an_outlook(goal=goal)
    page = text(home.see("/outlook/"))
    assert "The trip" in page and "What is missing" not in page


def test_a_day_more_that_may_be_nothing_says_so(home: Family, asked: Asked) -> None:
    goal = GoalSeen("apart", "2027-03-01", "2027-03-04", Band(8, 9, 10), Band(8, 9, 10), Band(0, 0, 38), 0.5)
    asked.answer = an_outlook(goal=goal)
    assert "at most 40 mL a day" in text(home.see("/outlook/"))


@pytest.mark.parametrize(
    ("enough", "says"),
    [
        (Enough(4180, True, None, Band(300, 500, 900)), "You have enough."),
        (Enough(4180, False, "2027-03-09", Band(0, 0, 0)), "Around 9 March there is likely enough."),
        (Enough(4180, False, None, Band(0, 0, 0)),
         "Too much is not likely within the 90 days looked at."),
    ],
)  # fmt: skip
def test_enough_is_said_kindly_with_whom_to_ask(home: Family, asked: Asked, enough: Enough, says: str) -> None:
    asked.answer = an_outlook(enough=enough, lasts=Lasts("2027-03-03", None, None, 0.6))
    page = text(home.see("/outlook/"))
    assert says in page
    near = enough.reached or enough.on is not None
    assert ("Past about 4180 mL, more milk has no use before its date." in page) == near, "no far level to strive for"
    assert "lactation consultant" in page
    assert ("300 to 900 mL may reach its date unused" in page) == enough.reached


def test_a_family_that_runs_short_is_told_nothing_of_too_much(home: Family, asked: Asked) -> None:
    asked.answer = an_outlook(enough=Enough(4180, False, None, Band(0, 0, 0)))
    page = text(home.see("/outlook/"))
    assert "Too much" not in page and "Making much more" not in page


def test_a_gap_that_expressing_cannot_close_has_no_figure(home: Family, asked: Asked) -> None:
    goal = GoalSeen("weaning", "2027-04-30", "2027-07-01", Band(70e3, 90e3, 108e3), Band(0, 0, 8000),
                    Band(800, 1000, 1250), 0.0)  # fmt: skip
    asked.answer = an_outlook(goal=goal)
    page = text(home.see("/outlook/"))
    assert "That gap is too wide for expressing to close, and it need not" in page
    assert "What is missing comes to" not in page
    assert "70 to 108 L" in page, "no digit that nobody can know"


def test_a_stock_that_hardly_runs_out_has_no_list_of_chances(home: Family, asked: Asked) -> None:
    asked.answer = an_outlook(lasts=Lasts(None, None, None, 0.995), short_chance=(("2027-05-04", 0.005),))
    page = text(home.see("/outlook/"))
    assert "It does not run out within the 90 days looked at." in page
    assert "Chance of running short" not in page and "It counts to the first day" not in page


def test_a_day_of_the_coming_week_has_its_weekday(home: Family, asked: Asked) -> None:
    asked.answer = an_outlook(lasts=Lasts("2027-02-05", "2027-02-07", "2027-02-12", 0.0))
    page = text(home.see("/outlook/"))
    assert "Until between Fri 5 and 12 February. Most likely until about Sun 7 February." in " ".join(
        page.replace("today 3 May", "").split()
    )


def test_of_several_children_it_says_whose_milk_it_is(home: Family, asked: Asked) -> None:
    asked.answer = an_outlook(children=("Mira", "Tomás"))
    assert "For Mira, Tomás together." in text(home.see("/outlook/"))


def test_nothing_urges_to_express_more(home: Family, asked: Asked) -> None:
    for answer in (an_outlook(), an_outlook(enough=Enough(100, True, None, Band(1, 2, 3))), an_outlook(goal=None)):
        asked.answer = answer
        said = spoken(home.see("/outlook/"))
        assert re.search(URGING, said, re.IGNORECASE) is None, re.search(URGING, said, re.IGNORECASE)


# A day's milk


def test_every_way_to_a_days_milk_has_its_range_and_its_source(home: Family, asked: Asked) -> None:
    page = home.see("/outlook/")
    rows = [" ".join(one.get_text(" ").split()) for one in page.select("#routes dl > div")]
    assert rows == [
        "By age 610 to 960 mL , likely 780 mL published days of one age",
        "By weight 640 to 990 mL , likely 810 mL published growth",
        "By your own complete days 650 to 790 mL , likely 720 mL your own days",
    ]
    assert "Published studies of one age disagree too" in text(page)
    assert "12 complete days and 96 sessions of expressing" in text(page)


def test_ways_far_apart_are_told(home: Family, asked: Asked) -> None:
    assert "far apart" not in text(home.see("/outlook/"))
    asked.answer = an_outlook(routes_differ=True)
    assert "far apart here, so the range is widened" in text(home.see("/outlook/"))


def test_a_range_is_rounded_outwards_and_in_the_households_unit() -> None:
    assert between(Band(614, 700, 956), WORDS) == "610 to 960 mL"
    assert between(Band(614, 700, 956), OUNCES) == "20.5 to 32.5 fl oz"
    assert between(Band(0, 0, 0), WORDS) == "0 mL"
    assert between(Band(300, 300, 300), WORDS) == "300 mL"
    assert between(Band(76_300, 90_000, 108_200), WORDS) == "76 to 109 L"
    assert two_days("2027-03-03", "2027-03-20", WORDS) == "3 and 20\N{NO-BREAK SPACE}March", "no line ends in a day"


# Pictures


def _rows(page: BeautifulSoup, key: str) -> list[list[str]]:
    figure = next(one for one in page.select("figure.chart") if one.select_one(f"#{key}-title"))
    return [[" ".join(cell.text.split()) for cell in row.select("th, td")] for row in figure.select("tbody tr")]


def test_the_tables_have_the_numbers_that_are_drawn(home: Family, asked: Asked) -> None:
    page = home.see("/outlook/")
    days = {" ".join(day_text(one.day, WORDS).split()): one for one in asked.answer.days}
    rows = _rows(page, "stock")
    assert 10 <= len(rows) <= 20 and rows[-1][0] == "3 May"
    for day, *cells in rows:
        one = days[day].stock
        assert cells == [f"{one.likely:.0f} ({one.low:.0f} to {one.high:.0f})"]


def test_weekdays_and_weekends_are_drawn_as_the_mean_of_their_week(home: Family, asked: Asked) -> None:
    rows = _rows(home.see("/outlook/"), "flow")
    assert len(rows) == 13 and rows[1] == ["10 February", "214 (150 to 286)", "248 (180 to 330)"]
    assert rows[-1][0] == "28 April", "the week that is cut off counts its own days: 28 to 30 April, 1 to 3 May"
    assert rows[-1][1].startswith(f"{300 * 4 / 6:.0f} (")


def test_pictures_say_in_words_what_they_show(home: Family, asked: Asked) -> None:
    page = home.see("/outlook/")
    pictures = page.select("svg.chart-drawn")
    assert len(pictures) == 2
    for one in pictures:
        title, says = one.select_one("title"), one.select_one("desc")
        assert (
            isinstance(title, Tag)
            and isinstance(says, Tag)
            and "from 3 February to 3 May" in " ".join(says.text.split())
        )
    key = " ".join(page.select(".chart-key")[0].get_text(" ").split())
    assert "what the goal takes" in key and "8 of 10 cases" in key
    assert "apart" in [one.text for one in pictures[0].select(".chart-says")]


def test_a_large_stock_is_drawn_in_litres(home: Family, asked: Asked) -> None:
    asked.answer = an_outlook(days=_days(start_ml=24_000, a_day=10))
    page = home.see("/outlook/")
    assert _rows(page, "stock")[0] == ["3 February", "24.0 (24.0 to 24.0)"]
    assert [one.text for one in page.select("svg.chart-drawn text")][:1] == ["L"]
    for one in page.select("svg.chart-drawn .chart-end"):
        assert len(one.text) <= 4, "no number runs out of the drawing"


def test_no_level_of_enough_is_drawn_where_it_would_press_all_else_together(home: Family, asked: Asked) -> None:
    assert not home.see("/outlook/").select(".chart-limit")
    asked.answer = an_outlook(enough=Enough(9900, False, "2027-04-01", Band(0, 0, 0)))
    assert not home.see("/outlook/").select(".chart-limit")
    asked.answer = an_outlook(enough=Enough(2100, False, "2027-04-01", Band(0, 0, 0)))
    assert len(home.see("/outlook/").select(".chart-limit")) == 1


def test_what_a_goal_takes_is_not_drawn_where_it_would_press_the_stock_flat(home: Family, asked: Asked) -> None:
    far = GoalSeen("apart", "2027-03-01", "2027-04-30", Band(11e3, 14e3, 18e3), Band(1, 2, 3), Band(1, 2, 3), 0.0)
    asked.answer = an_outlook(goal=far)
    assert "what the goal takes" not in home.see("/outlook/").select(".chart-key")[0].text


# What if


def test_what_if_keeps_what_was_written_and_tells_both_answers(home: Family, asked: Asked) -> None:
    other = WhatIf(4, 9.5, "2027-03-01")
    asked.by_question[other] = an_outlook(what_if=other, lasts=Lasts("2027-04-01", "2027-04-08", "2027-04-19", 0))
    page = home.see("/outlook/?sessions=4&apart=9,5&start=2027-03-01")
    said = text(page)
    assert "With 4 sessions a day, 9.5 hours on a day apart, from 1 March on" in said
    assert "Until between 1 and 19 April." in said
    assert "As it is now: Until between 3 and 20 March. Most likely until about 11 March." in said
    kept = {str(one["name"]): str(one["value"]) for one in page.select("#what-if input")}
    assert kept == {"sessions": "4", "apart": "9,5", "start": "2027-03-01"}
    assert page.select_one("#what-if[open]") is not None


def test_nothing_asked_is_asked_once_and_as_it_is(home: Family, asked: Asked) -> None:
    page = home.see("/outlook/?sessions=&apart=&start=")
    assert asked.what_if == [WhatIf()]
    assert "As it is now" not in text(page) and page.select_one("#what-if[open]") is None


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("sessions=many", "“many” is not a number. Write it like 120 or 4.5."),
        ("sessions=40", "Write how many a day, from 0 to 12."),
        ("sessions=-1", "Write how many a day, from 0 to 12."),
        ("apart=24", "Write the hours of a day apart, from 0 to 23."),
        ("start=soon", "Write the day like 2027-02-03."),
        ("start=2027-02-30", "Write the day like 2027-02-03."),
        ("start=2027-02-02", "Choose a day from 3 February to 4 May."),
        ("start=2031-01-01", "Choose a day from 3 February to 4 May."),
    ],
)
def test_what_cannot_be_asked_is_named_beside_its_field(home: Family, asked: Asked, query: str, says: str) -> None:
    page = home.see(f"/outlook/?{query}", 422)
    name, _is, value = query.partition("=")
    field = page.select_one(f"#what-if #{name}")
    assert isinstance(field, Tag) and field["value"] == value and field["aria-invalid"] == "true"
    told = page.select_one(f"#{name}-error")
    assert isinstance(told, Tag) and " ".join(told.text.split()) == says
    assert asked.what_if == [WhatIf()], "the outlook as it is stays on the page"


def test_a_question_that_is_half_understood_is_not_answered(home: Family, asked: Asked) -> None:
    page = home.see("/outlook/?sessions=6&apart=30", 422)
    assert asked.what_if == [WhatIf()] and "With 6 sessions" not in text(page)
    assert [str(one["value"]) for one in page.select("#what-if input")] == ["6", "30", ""]


# Where there is none


@pytest.mark.parametrize(
    ("none", "says"),
    [
        (NoPlan("too_young", "Mira", moment(NOW) + 5 * DAY),
         ("supply is still climbing", "For Mira there is an outlook from Mon 8 Feb on.")),
        (NoPlan("too_young", "Mira"), ("supply is still climbing",)),
        (NoPlan("hospital", "Mira"), ("Mira is in a hospital's care: the care team there says", "Ask them")),
        (NoPlan("nothing_by_bottle", "Mira"), ("Mira drinks nothing from bottles", "Say when you are apart")),
        (NoPlan("too_old", "Mira"), ("Mira is older than two years", "All time limits go on as they are.")),
        (NoPlan("something_new", "Mira"), ("There is no outlook for Mira yet.",)),
    ],
)  # fmt: skip
def test_where_there_is_no_outlook_it_says_kindly_why(
    home: Family, asked: Asked, none: NoPlan, says: tuple[str, ...]
) -> None:
    asked.answer = an_outlook(days=(), routes=(), none=(none,), goal=None)
    page = home.see("/outlook/")
    for one in says:
        assert one in text(page)
    assert not page.select("figure") and not page.select("#what-if")
    assert none_text(none, WORDS)[0] in text(page)


def test_a_household_without_a_child_is_shown_where_to_begin(home: Family, asked: Asked) -> None:
    asked.answer = an_outlook(days=(), routes=(), children=(), goal=None)
    assert "Nothing can be said ahead yet." in text(home.see("/outlook/"))


# The forecast itself


@pytest.fixture
def stocked(home: Family) -> Family:
    """A family that is apart on three days a week, with two weeks of sessions and some frozen milk."""
    habits.keep(home.store, Habits(apart=(Apart("Mira", (0, 2, 4), "08:00", "17:00"),)))
    for bag in range(8):
        home.expressed(f"FR{bag}", 120, 24 * (20 + bag), place="freezer")
    for number in range(28):
        home.expressed(f"NW{number}", 90, 12 * number + 2, place="fridge" if number < 6 else "freezer")
    return home


def _first(page: BeautifulSoup) -> str:
    found = page.select_one(".outlook-first")
    assert isinstance(found, Tag)
    return found.text


def test_the_forecast_is_shown_and_the_same_look_gives_the_same_answer(stocked: Family) -> None:
    page = stocked.see("/outlook/")
    assert "8 of 10 cases" in text(page) and len(page.select("figure.chart")) == 2
    assert text(page) == text(stocked.see("/outlook/"))
    assert len(page.select("#routes dl > div")) >= 1 and page.select_one("#routes .source") is not None
    assert re.search(URGING, spoken(page), re.IGNORECASE) is None


def test_another_question_has_another_answer(stocked: Family) -> None:
    none, many = stocked.see("/outlook/?sessions=0&apart=11"), stocked.see("/outlook/?sessions=6&apart=2")
    assert _first(none) != _first(many)
    assert _first(none).startswith("Until ")
    as_it_is = " ".join(_first(stocked.see("/outlook/")).split())
    assert f"As it is now: {as_it_is}" in text(none) and f"As it is now: {as_it_is}" in text(many)


def test_the_widest_question_that_the_form_takes_has_an_answer(stocked: Family) -> None:
    last = (FIRST + timedelta(days=90)).isoformat()
    for query in (
        "sessions=12&apart=23",
        f"sessions=0&apart=0&start={last}",
        f"apart=23&start={FIRST}",
        "sessions=2.5",
    ):
        page = text(stocked.see(f"/outlook/?{query}"))
        assert "As it is now" in page or "drinks nothing from bottles" in page


def test_a_question_without_an_answer_keeps_its_fields_and_the_way_back(home: Family) -> None:
    page = home.see("/outlook/?sessions=4&apart=0")
    assert "With 4 sessions a day, 0 hours on a day apart" in text(page) and "drinks nothing from bottles" in text(page)
    assert [str(one["value"]) for one in page.select("#what-if input")] == ["4", "0", ""]
    assert page.select_one('main a.button[href="/outlook/"]') is not None


@pytest.mark.parametrize(
    ("born", "care", "says"),
    [
        ("2027-01-28", "home", "For Ivo there is an outlook from"),
        ("2026-12-01", "hospital", "Ivo is in a hospital's care"),
    ],
)
def test_for_a_newborn_and_for_a_child_in_hospital_it_says_why_there_is_none(
    stocked: Family, born: str, care: str, says: str
) -> None:
    stocked.note("child", 1, child="Ivo", born=born, care=care)
    page = text(stocked.see("/outlook/"))
    assert says in page


def test_where_nothing_is_fed_by_bottle_there_is_nothing_to_foretell(home: Family) -> None:
    page = text(home.see("/outlook/"))
    assert "Mira drinks nothing from bottles" in page and "How we use our milk" in page


# What it learns from


def _last(home: Family) -> dict[str, Any]:
    found: dict[str, Any] = msgspec.json.decode(list(home.store.lines())[-1])
    return {key: found[key] for key in found if key not in ("id", "at", "by", "noted")}


@pytest.mark.parametrize(("hours", "day"), [(0, "2027-02-02"), (7.5, "2027-02-03")])
def test_a_day_that_is_not_over_is_not_put_forward(home: Family, asked: Asked, hours: float, day: str) -> None:
    home.hours(hours)
    field = home.see("/outlook/day/").select_one("input[name=day]")
    assert isinstance(field, Tag) and field["value"] == day


def test_a_day_is_marked_as_complete_once_and_can_be_taken_back(home: Family, asked: Asked) -> None:
    sent = home.fill(home.see("/outlook/day/"), day="2027-02-02")
    page = home.send("/outlook/day/", sent)
    assert _last(home) == {"kind": "day_complete", "child": "Mira", "date": "2027-02-02"}
    assert page.select_one(".undo") is not None
    count = len(list(home.store.lines()))
    home.send("/outlook/day/", sent)
    assert len(list(home.store.lines())) == count


@pytest.mark.parametrize(
    ("day", "says"),
    [
        ("2027-02-04", "That day is still ahead. Look at it once more."), ("", "Choose the day."),
        ("2026-11-30", "That day is before the birth. Look at it once more."), ("x", "Write the day like 2027-02-03."),
    ],
)  # fmt: skip
def test_a_day_that_cannot_be_complete_is_named(home: Family, asked: Asked, day: str, says: str) -> None:
    page = home.send("/outlook/day/", home.fill(home.see("/outlook/day/"), day=day), 422)
    told = page.select_one("#day-error")
    assert isinstance(told, Tag) and told.text == says
    box = page.select_one("#day")
    assert isinstance(box, Tag) and box["value"] == day


@pytest.mark.parametrize(
    ("written", "kg"), [("5,62", 5.62), ("5.62 kg", 5.62), ("12 lb 6 oz", 5.613), ("12.5lb", 5.67), ("12 lbs", 5.443)]
)
def test_a_weight_is_noted_in_kilograms_or_pounds(home: Family, asked: Asked, written: str, kg: float) -> None:
    # Pounds by NIST Handbook 44, Appendix C: 0.45359237 kg, exact.
    home.send("/outlook/weight/", home.fill(home.see("/outlook/weight/"), kg=written))
    assert _last(home) == {"kind": "weighed", "child": "Mira", "kg": kg}


@pytest.mark.parametrize("written", ["", "heavy", "0.1", "90", "5620", "9" * 90, "12 lb oz"])
def test_a_weight_that_cannot_be_is_named_and_kept_in_its_field(home: Family, asked: Asked, written: str) -> None:
    page = home.send("/outlook/weight/", home.fill(home.see("/outlook/weight/"), kg=written), 422)
    told, box = page.select_one("#kg-error"), page.select_one("#kg")
    assert isinstance(told, Tag) and len(told.text) < 90 and isinstance(box, Tag) and box["value"] == written
    assert outlook_note.LEAST_KG < outlook_note.MOST_KG


def test_the_way_to_it_is_under_more(home: Family) -> None:
    assert home.see("/more/").select_one('a[href="/outlook/"]') is not None
