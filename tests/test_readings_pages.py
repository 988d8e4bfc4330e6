"""A logger's record: looked through before anything is recorded, recorded in one go, undone, and shown again."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile
from tests.pages import ZONE, Family, home, text

from thawline.core.times import HOUR, MINUTE, written, zone_named
from thawline.services import readings

__all__ = ["home"]


def record(home: Family, hours: int = 6, step_min: int = 10, warm: Collection[int] = ()) -> str:
    """A CSV text: 3.9 °C all the while, 9 °C at the steps named."""
    start, step = home.now - hours * HOUR, step_min * MINUTE
    zone = zone_named(ZONE)
    rows = [f"{written(start + n * step, zone)},{9 if n in warm else 3.9}" for n in range(hours * 60 // step_min)]
    return "time,temperature (°C)\n" + "\n".join(rows) + "\n"


def look(home: Family, csv: str, **more: Any) -> BeautifulSoup:
    """What the page says of a pasted record."""
    return home.send("/readings/", {"place": "fridge", "text": csv, **more})


def keep(home: Family, page: BeautifulSoup) -> BeautifulSoup:
    """Record what a page looked through."""
    return home.send("/readings/record/", home.fill(page, "/readings/record/"))


def measured(home: Family, place: str = "fridge") -> list[readings.Reading]:
    return readings.recorded(home.store, now=home.now).get(place, [])


def test_a_file_is_shown_before_anything_is_recorded(home: Family) -> None:
    file = SimpleUploadedFile("log.csv", record(home, warm=(10, 11, 12)).encode())
    page = home.send("/readings/", {"place": "fridge", "file": file})
    assert "fridge: what the file shows" in text(page) and "Nothing is recorded yet." in text(page)
    assert page.select_one("figure.chart svg[role=img] desc") is not None
    assert "Above 4.4 °C" in text(page) and "1 time, in all at least 20 minutes, at most 40 minutes." in text(page)
    assert "It can have begun as early as today 09:30." in text(page)
    assert measured(home) == []


def test_what_it_changes_for_the_milk_is_shown_first(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    page = look(home, record(home, warm=range(8, 30)))
    assert "1 container gets another deadline." in text(page)
    line = page.select_one("ul.lines li")
    assert line is not None and "KA34" in line.text and "within its limits" in line.text
    assert "Then: since today 13:19, past its limit" in line.text


def test_recording_is_one_act_and_is_undone_as_one(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    before = home.see("/milk/KA34/")
    done = keep(home, look(home, record(home, warm=range(8, 30))))
    assert "fridge: its temperatures" in text(done)
    assert len(measured(home)) > 3
    assert "past its limit" in text(home.see("/milk/KA34/"))
    undo = done.select_one(".undo form")
    assert undo is not None
    home.send(str(undo["action"]), home.fill(done, str(undo["action"])))
    assert measured(home) == []
    assert "past its limit" not in text(home.see("/milk/KA34/")) + text(before)


def test_a_form_sent_twice_records_once(home: Family) -> None:
    page = look(home, record(home))
    keep(home, page)
    first = measured(home)
    keep(home, page)
    assert measured(home) == first and len(first) == len(set(first))


def test_a_file_chosen_again_has_nothing_new(home: Family) -> None:
    keep(home, look(home, record(home, warm=[10])))
    again = look(home, record(home, warm=[10]))
    assert "There is nothing new to record." in text(again)
    assert not again.select('.thumb-actions button[form="keep"]')


def test_it_says_how_many_readings_are_kept_and_why(home: Family) -> None:
    page = look(home, record(home, hours=24, step_min=1, warm=[700]))
    kept = int(text(page).split(" of 1440 readings")[0].rsplit(" ", 1)[1])
    assert 24 <= kept <= 40
    assert "the warmest of every hour" in text(page)
    keep(home, page)
    assert len(measured(home)) == kept
    assert max(one.c for one in measured(home)) == 9.0


def test_a_question_is_asked_once_and_the_file_goes_on_with_it(home: Family) -> None:
    page = look(home, "time,value\n1/2/2027 07:10,40\n1/2/2027 07:20,41\n", limit="5")
    assert "A question first" in text(page)
    sent = home.fill(page, day_first="day", unit="F")
    assert sent["place"] == "fridge" and sent["limit"] == "5"
    seen = home.send("/readings/", sent)
    assert "2 readings, Mon 1 Feb 07:10 to Mon 1 Feb 07:20." in text(seen)
    assert "Above 4.4 °C" in text(seen) and "Above 5 °C" in text(seen)


def test_times_without_an_offset_are_the_households(home: Family) -> None:
    keep(home, look(home, "time,°C\n2027-02-02 23:30,4\n2027-02-03 00:30,5\n"))
    assert [written(one.at, zone_named("UTC")) for one in measured(home)] == [
        "2027-02-02T23:30:00+00:00",
        "2027-02-03T00:30:00+00:00",
    ]


def test_faults_doubles_and_gaps_are_told_aloud(home: Family) -> None:
    at = [written(home.now - minutes * MINUTE, zone_named(ZONE)) for minutes in (600, 590, 590, 300, 290)]
    csv = "time,°C\n" + "\n".join(f"{a},{c}" for a, c in zip(at, (4, 4, 6, -99, 4), strict=True))
    page = look(home, csv + "\nnot a line\n")
    said = [one.text for one in page.select(".caution-warn")]
    assert any("can not be right (-99 °C)" in one for one in said)
    assert any("two readings differ" in one and "the warmer one counts" in one for one in said)
    assert any("1 gap without a reading" in one for one in said)
    assert "No mean is given: more than 3 h lie between two readings." in text(page)
    assert "One line gave no reading" in text(page)


def test_the_mean_kinetic_temperature_is_for_information_only(home: Family) -> None:
    page = look(home, record(home))
    assert "Mean kinetic temperature 3.9 °C plain mean 3.9 °C For information only" in text(page)
    assert "clocks run on time above limits" in text(page)


def test_a_page_in_fahrenheit_speaks_fahrenheit(home: Family) -> None:
    home.note("household", 0, zone=ZONE, guideline="cdc", units=["fl_oz", "F"])
    page = look(home, record(home, warm=[10]))
    assert "Above 40 °F" in text(page) and "warmest 48.2 °F" in text(page)
    unit = page.select_one("svg.chart-drawn text")
    assert unit is not None and unit.text == "°F"


def test_what_is_recorded_is_shown_as_a_picture_over_a_span(home: Family) -> None:
    keep(home, look(home, record(home, hours=60, step_min=30, warm=[10])))
    page = home.see("/readings/?place=fridge&days=1")
    assert page.select_one("figure.chart table") is not None and "Above 4.4 °C" in text(page)
    assert "Never: " in text(page), "the warm reading lies before that day"
    wide = home.see("/readings/?place=fridge&days=3")
    assert "warmest 9 °C" in text(wide)
    assert [one.text for one in wide.select('[aria-current="true"]')] == ["3 days"]
    assert "fridge" in text(home.see("/readings/"))


def test_a_place_without_readings_says_so_and_an_unknown_one_is_not_found(home: Family) -> None:
    assert "No temperature is recorded of this place." in text(home.see("/readings/?place=freezer"))
    home.see("/readings/?place=attic", 404)
    home.send("/readings/record/", {"place": "attic"}, 404)


def test_what_cannot_be_read_is_said_at_its_field(home: Family) -> None:
    page = home.send("/readings/", {"place": "fridge", "text": "no readings here"}, 422)
    problem = page.select_one("#text-error")
    assert problem is not None and "No line has a time and a temperature." in problem.text
    area = page.select_one("textarea#text")
    assert area is not None and area["aria-invalid"] == "true" and "no readings here" in area.text
    page = home.send("/readings/", {"text": record(home)}, 422)
    assert page.select_one("#place-error") is not None


def test_a_file_past_all_measure_is_refused_kindly(home: Family) -> None:
    file = SimpleUploadedFile("log.csv", b"2027-02-03 07:10,4.1\n" * 50_000)
    page = home.send("/readings/", {"place": "fridge", "file": file}, 422)
    assert "That is more than 1 MB." in text(page)


def test_readings_that_did_not_arrive_whole_are_not_recorded(home: Family) -> None:
    page = look(home, record(home))
    sent = home.fill(page, "/readings/record/")
    answer = home.send("/readings/record/", {**sent, "packed": sent["packed"] + " 12"}, 422)
    assert "The readings did not arrive whole." in text(answer)
    assert measured(home) == []


def test_many_excursions_are_listed_up_to_a_screenful(home: Family) -> None:
    page = look(home, record(home, hours=24, warm=range(1, 140, 2)))
    assert "70 times, in all" in text(page) and "And 50 more." in text(page)


def test_a_form_sent_with_nothing_says_what_to_choose(home: Family) -> None:
    page = home.see("/readings/")
    sent = home.send("/readings/", home.fill(page, "/readings/"), status=422)
    assert "Choose a file, or paste its lines." in text(sent)
