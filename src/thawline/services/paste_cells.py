"""Reads one cell of pasted stock: a day, an amount, a place, or words to keep as a note."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import NamedTuple

from thawline.core.times import FIRST_YEAR, LAST_YEAR, BadTimeError, parse_instant
from thawline.services.paste_words import (
    AMOUNT,
    BARE,
    DAYS_BACK,
    FORMS,
    ISO,
    KINDS,
    ML_PER_FL_OZ,
    MOST_ALIKE,
    NAMED,
    PAIR,
    SAYS,
    SPLIT,
    TIME,
    YES,
    Form,
    fold,
    month_named,
    plain_words,
)


class Problem(NamedTuple):
    """One thing to mend in a row."""

    field: str
    code: str
    says: str


class When(NamedTuple):
    """A day as written, read with the day first and with the month first."""

    text: str
    day: str | None
    month: str | None
    only_day_first: bool | None = None

    @property
    def open(self) -> bool:
        return self.day != self.month


class Amount(NamedTuple):
    """An amount as written; without a value where it is unclear."""

    text: str
    value: float | None
    unit: str | None


@dataclass(slots=True)
class Draft:
    """A line while it is being read."""

    number: int
    raw: str
    dates: dict[str, When] = field(default_factory=dict)
    amount: Amount | None = None
    place: str | None = None
    code: str | None = None
    form: Form | None = None
    count: int = 1
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def problem(self, name: str, code: str, text: str = "") -> None:
        short = text if len(text) <= 60 else text[:59] + "…"
        self.problems.append(Problem(name, code, SAYS[code].format(short)))

    def many(self, text: str) -> None:
        number = int(text) if re.fullmatch(r"[0-9]{1,3}", text) else 0
        if not 1 <= number <= MOST_ALIKE or self.count not in (1, number):
            self.problem("count", "count_unclear", text)
        else:
            self.count = number


def day_meant(year: str | None, month: int, day: int, today: date) -> str | None:
    """That day; without a year the latest one not after today."""
    years = [int(year) + 2000 * (len(year) == 2)] if year else range(today.year, today.year - 9, -1)
    for number in years:
        try:
            found = date(number, month, day)
        except ValueError:
            continue
        if FIRST_YEAR <= number <= LAST_YEAR and (year or found <= today):
            return found.isoformat()
    return None


class Reader:
    """Reads cells with what the household knows; `lone` is a cell that should hold nothing but a day."""

    def __init__(self, today: date, places: Mapping[str, str]) -> None:
        self.today, self.places = today, places
        self.keys = {name: plain_words(name) for name in places}

    def place(self, text: str) -> str | None:
        """The one place of the household meant by these words."""
        key = plain_words(text)
        if text in self.places or not key:
            return text if text in self.places else None
        named = [name for name, own in self.keys.items() if own == key]
        named = named or [name for name, kind in self.places.items() if kind == KINDS.get(key)]
        return named[0] if len(named) == 1 else None

    def like_place(self, text: str) -> bool:
        key = f" {plain_words(text)} "
        return any(f" {word} " in key for word in (*KINDS, *filter(None, self.keys.values())))

    def find(self, text: str, lone: bool) -> tuple[When, int, int] | None:
        """The first day in a text, and where it stands."""
        for word in re.finditer(r"[^\W\d_]+(?:'hui)?", text):
            back = DAYS_BACK.get(word[0].casefold())
            # "hier" is also German for "here".
            if back is not None and (lone or word[0].casefold() != "hier"):
                day = (self.today - timedelta(days=back)).isoformat()
                return When(word[0], day, day), *word.span()
        if iso := ISO.search(text):
            day_or_none = day_meant(iso[1], int(iso[3]), int(iso[4]), self.today)
            return When(iso[0], day_or_none, day_or_none), *iso.span()
        for pair in PAIR.finditer(text):
            if pair[4] or pair[2] == "/" or (pair[2] == "." and pair[5]) or lone:
                one, two = int(pair[1]), int(pair[3])
                first, second = day_meant(pair[4], two, one, self.today), day_meant(pair[4], one, two, self.today)
                only = None if bool(first) == bool(second) else first is not None
                return When(pair[0], first or second, second or first, only), *pair.span()
        return self._named(text, lone)

    def _named(self, text: str, lone: bool) -> tuple[When, int, int] | None:
        for turn, pattern in enumerate(NAMED[lone]):
            for match in pattern.finditer(text):
                word, number = (match[1], match[2]) if turn else (match[2], match[1])
                if month := month_named(word):
                    day = day_meant(match[3] or match[4], month, int(number), self.today)
                    return When(match[0], day, day), *match.span()
        return None

    def date(self, draft: Draft, name: str, text: str, lone: bool) -> str:
        """Note the day in a text, if there is one; returns the rest."""
        if lone and re.fullmatch(r"[345][0-9]{4}(?:[.,][0-9]{1,9})?", text):
            day = date(1899, 12, 30) + timedelta(days=int(text[:5]))
            if abs((day - self.today).days) < 3660:
                draft.dates[name] = When(text, day.isoformat(), day.isoformat())
                draft.notes.append(f"{text} read as a spreadsheet's day number")
                return ""
        found = self.find(text, lone)
        if found is None:
            return text
        when, start, end = found
        time = TIME.match(text, end)
        if time:
            end = time.end()
            when = _with_time(when, text[start:end], time)
        draft.dates[name] = when
        clock = time[0].strip("T ,@") if time and not time[5] and not re.match(r"\D*0?0:00", time[0]) else ""
        return f"{text[:start]};{clock};{text[end:]}"


def _with_time(when: When, text: str, time: re.Match[str]) -> When:
    """The instant, where a zone offset was written; else the bare day."""
    if not time[5]:
        return when
    hour = int(time[1]) % 12 + 12 * (time[4] in "pP") if time[4] else int(time[1])
    zone = "Z" if time[5] in "zZ" else f"{time[5][:3]}:{time[5][-2:]}"

    def stamp(day: str | None) -> str | None:
        for shape in (text.strip(), f"{day}T{hour:02}:{time[2]}:{time[3] or '00'}{zone}"):
            try:
                parse_instant(shape)
            except BadTimeError:
                continue
            return shape
        return None

    return When(text, stamp(when.day), stamp(when.month), when.only_day_first)


def _number(text: str) -> float | None:
    """The figure meant; None where 1,000 could be one or a thousand, or a fraction has no sense."""
    if "/" in text:
        whole, _, part = text.rpartition(" ")
        top, _, bottom = part.partition("/")
        return int(whole or 0) + int(top) / int(bottom) if 0 < int(top) < int(bottom) else None
    return None if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", text) else float(text.replace(",", "."))


def take_amounts(draft: Draft, text: str, alone: bool) -> str:
    """Note the amount in a text, if there is one; `alone` is a cell that should hold nothing else. Returns the rest."""
    plain = re.sub(r"(?<=\d)(?=[¼-¾⅐-⅞])", " ", text)
    plain = re.sub(r"[¼-¾⅐-⅞]", lambda sign: unicodedata.normalize("NFKD", sign[0]).replace("\u2044", "/"), plain)
    found = list(AMOUNT.finditer(plain))
    if not found and (bare := BARE.fullmatch(plain) if alone else None):
        found = [bare]
    if not found:
        return text
    read = [(_number(match["v"]), match.groupdict()) for match in found]
    units = [
        "cl" if got.get("cl") else "ml" if got.get("ml") else "fl_oz" if got.get("oz") else None for _, got in read
    ]
    sizes = [to_ml(value or 0, unit) for (value, _), unit in zip(read, units, strict=True)]
    # 4 oz (118 ml) says one thing twice; 60 ml + 60 ml does not.
    clear = len(set(units)) == len(units) and max(sizes) - min(sizes) <= 0.05 * max(sizes)
    clear = clear and not (len(units) > 1 and "+" in plain)
    clear = clear and not (alone and plain[0] in "-\u2212<>")
    draft.amount = Amount(text, read[0][0] if clear else None, units[0])
    for many in filter(None, (read[0][1]["n"], read[0][1].get("m"))):
        draft.many(many)
    return AMOUNT.sub(";", plain) if found[0].re is AMOUNT else ""


def to_ml(value: float, unit: str | None) -> float:
    """In mL; a figure without unit is taken as mL."""
    return round(value * ML_PER_FL_OZ, 1) if unit == "fl_oz" else value * 10 if unit == "cl" else value


def _chunks(reader: Reader, draft: Draft, text: str, seek: bool) -> None:
    """Take what is left of a cell: place and form where they are sought, else a note."""
    for part in SPLIT.split(text):
        chunk = part.strip(" -\u2013—:.~'\u2019")
        if not plain_words(chunk):
            continue
        words = plain_words(chunk).split()
        forms = [FORMS[word] for word in words if word in FORMS]
        left = " ".join(word for word in words if word not in FORMS)
        open_place = seek and draft.place is None
        if open_place and reader.place(chunk):
            draft.place = chunk
        elif seek and len(forms) == 1 and (not left or (open_place and reader.place(left))):
            draft.form, draft.place = forms[0], draft.place or left or None
        elif open_place and reader.like_place(chunk):
            draft.place = chunk
        else:
            draft.notes.append(chunk)


def _expressed(reader: Reader, draft: Draft, cell: str) -> None:
    rest = reader.date(draft, "expressed", cell, lone=True)
    if "expressed" in draft.dates:
        _chunks(reader, draft, rest, seek=False)
    else:
        draft.problem("expressed", "date_unclear", cell)


def _frozen_on(reader: Reader, draft: Draft, cell: str) -> None:
    if fold(cell) in YES:
        draft.form = "frozen"
        return
    _chunks(reader, draft, reader.date(draft, "frozen_on", cell, lone=True), seek=False)
    if "frozen_on" not in draft.dates and re.search(r"\d", cell):
        draft.problem("frozen_on", "date_unclear", cell)


def _in_ml(reader: Reader, draft: Draft, cell: str) -> None:
    rest = take_amounts(draft, cell, alone=True)
    if draft.amount is None:
        draft.problem("ml", "amount_unclear", cell)
    else:
        _chunks(reader, draft, rest, seek=False)


def _place(reader: Reader, draft: Draft, cell: str) -> None:
    if reader.place(cell) or not any(reader.place(part.strip()) for part in SPLIT.split(cell)):
        draft.place = cell
    else:
        _chunks(reader, draft, cell, seek=True)


def _form(reader: Reader, draft: Draft, cell: str) -> None:
    form = FORMS.get(plain_words(cell))
    if form:
        draft.form = form
    else:
        draft.notes.append(cell)


def _code(reader: Reader, draft: Draft, cell: str) -> None:
    draft.code = cell
    if len(cell) > 200:
        draft.problem("code", "code_too_long")


def _free(reader: Reader, draft: Draft, cell: str) -> None:
    if draft.amount and AMOUNT.search(cell):
        draft.problem("ml", "amount_unclear", cell)
    rest = cell if draft.amount else take_amounts(draft, cell, alone=False)
    if "expressed" not in draft.dates:
        rest = reader.date(draft, "expressed", rest, lone=False)
    bare = [] if draft.amount else list(BARE.finditer(rest))
    if len(bare) == 1:
        take_amounts(draft, bare[0][0], alone=True)
        rest = rest.replace(bare[0][0], ";", 1)
    elif bare:
        draft.problem("ml", "amount_unclear", cell)
    _chunks(reader, draft, rest, seek=True)


TAKE: dict[str, Callable[[Reader, Draft, str], None]] = {
    "expressed": _expressed,
    "frozen_on": _frozen_on,
    "ml": _in_ml,
    "place": _place,
    "count": lambda reader, draft, cell: draft.many(cell.strip("x\u00d7 ")),
    "code": _code,
    "form": _form,
    "free": _free,
    "unsure": lambda reader, draft, cell: draft.problem("count", "count_unclear", cell),
    "note": lambda reader, draft, cell: draft.notes.append(cell),
}
