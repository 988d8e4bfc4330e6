"""Words: all go through translation, and lengths of time are cut rather than rounded up."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import thawline
from thawline.core.times import DAY, HOUR, MINUTE
from thawline.faces.web.amounts import BadAmountError, amount_ml, number, temp_c
from thawline.faces.words import span, words_for

TEMPLATES = sorted((Path(thawline.__file__).parent / "faces" / "web" / "templates").rglob("*.html"))
# This one shows the elements, with invented words in them.
SAID = [path for path in TEMPLATES if path.parts[-2:] != ("web", "elements.html")]
BLOCK = re.compile(r"{% (comment|blocktranslate)\b.*?{% end\1 %}", re.DOTALL)
TAG = re.compile(r"{%.*?%}|{{.*?}}|{#.*?#}", re.DOTALL)
# What is the same in every language.
NAMES = {"Thawline", "mL", "fl", "oz", "https", "http", "serve", "thawline", "html"}


def spoken(source: str) -> list[str]:
    """The words of a template that stand there as they are."""
    plain = TAG.sub(" ", BLOCK.sub(" ", source))
    shown = re.findall(r'(?:aria-label|placeholder|title|alt)="([^"]*)"', plain)
    plain = re.sub(r"<(script|style|svg|code|pre)\b.*?</\1>", " ", plain, flags=re.DOTALL)
    plain = re.sub(r"<!?[^>]*>", " ", plain)
    return [
        word
        for word in re.findall(r"[A-Za-z]{2,}", " ".join([plain, *shown]))
        if word not in NAMES | {"nbsp", "middot"}
    ]


@pytest.mark.parametrize("path", SAID, ids=lambda path: path.stem)
def test_every_word_of_a_page_goes_through_translation(path: Path) -> None:
    assert spoken(path.read_text(encoding="utf-8")) == []


@given(st.integers(min_value=0, max_value=400 * DAY))
def test_a_length_of_time_never_promises_more_than_there_is(micros: int) -> None:
    found = span(micros)
    units = {"minute": MINUTE, "hour": HOUR, "day": DAY, "week": 7 * DAY, "month": 30 * DAY, "h": HOUR, "min": MINUTE}
    said = sum(int(n) * units[unit.rstrip("s") if unit not in ("h", "min") else unit]
               for n, unit in re.findall(r"(\d+) (\w+)", found))  # fmt: skip
    assert said <= micros
    assert micros - said <= max(HOUR, micros // 2), found


@given(st.integers(min_value=-10 * DAY, max_value=10 * DAY))
def test_time_left_says_in_or_ago(delta: int) -> None:
    words = words_for("Europe/Lisbon", 1_800_000_000_000_000)
    found = words.left(words.now + delta)
    assert found.startswith("in ") if delta >= 0 else found.endswith(" ago")


@pytest.mark.parametrize(
    ("text", "unit", "ml"),
    [
        ("120", "ml", 120),
        ("120,5", "ml", 120.5),
        (" 60 mL ", "ml", 60),
        ("4", "fl_oz", 118.3),
        ("0.5 oz", "fl_oz", 14.8),
    ],
)
def test_amounts_as_people_type_them(text: str, unit: str, ml: float) -> None:
    # US customary fluid ounce = 29.5735295625 mL: NIST Handbook 44, Appendix C.
    assert amount_ml(text, unit) == pytest.approx(ml)


@given(st.text(max_size=30))
def test_a_number_is_read_or_refused_and_nothing_else(text: str) -> None:
    with contextlib.suppress(BadAmountError):
        assert -1e6 < number(text) < 1e6


def test_fahrenheit_where_the_household_counts_so() -> None:
    # 40 F is 4.4 C, 0 F is -17.8 C: NIST SP 811, B.9.
    assert (temp_c("40", "F"), temp_c("0 °F", "F"), temp_c("4", "C")) == (4.4, -17.8, 4)


def test_a_limit_at_midnight_reads_as_the_end_of_the_day_before() -> None:
    words = words_for("Europe/Lisbon", 1_801_663_200_000_000)  # Wed 3 Feb 2027 14:00
    midnight = 1_801_699_200_000_000  # Thu 4 Feb 00:00
    assert words.until(midnight) == "end of today"
    assert words.until(midnight + MINUTE) == "tomorrow 00:01"
    assert words.clock(midnight) == "tomorrow 00:00"
