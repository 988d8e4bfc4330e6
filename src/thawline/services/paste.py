# shape: the words of seven languages stand beside the reading that needs them, in one file
"""Reads stock pasted from a spreadsheet or from notes: each line as a row, and what must be mended or asked first."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Literal, NamedTuple

from thawline.core.times import FIRST_YEAR, LAST_YEAR, BadTimeError, parse_instant


def _split(words: str) -> list[str]:
    return words.split()


Unit = Literal["ml", "fl_oz"]
Form = Literal["fresh", "frozen", "thawed"]
MOST_ROWS, MOST_IN_LINE, MOST_IN_TEXT, MOST_ML, MOST_ALIKE = 500, 2000, 200_000, 5000, 100
# The US fluid ounce, exact: NIST Handbook 44, Appendix C, "Units of Liquid Volume".
ML_PER_FL_OZ = 29.5735295625

# Words of English, German, French, Spanish, Portuguese, Italian and Dutch, without accents. The first role that fits.
_HEADS = {
    "ml": r"(?:ml|cc|cl|oz|ounces?|unzen|onces?|onzas?|oncas?)\b|fl oz|millilit|mililit",
    "note": r"expir|use by|best before|thaw|haltbar|verbrauch|aufgetaut|perempt|decongel|caduc|descongel|validade"
    r"|scaden|scongel|houdbaar|ontdooi|note|comment|bemerk|notiz|remarque|nota|observ|comentari|opmerking"
    r"|^time|^uhrzeit|^heure|^hora",
    "frozen_on": r"frozen|froze\b|freezing|freeze date|eingefror|gefror|einfrier|congele\b|congelacion|congelad[oa]s?\b"
    r"|congelament|congelat[oa]\b|congelacao|ingevror|bevror|invries",
    "amount": r"amount|volume|vol\b|size|menge|inhalt|fullmenge|volumen|tamano|tamanho|hoeveelheid|contenu",
    "quantity": r"quantity|quantit|cantidad|quantidad",
    "count": r"number of|how many|count|qty|bags\b|bottles|anzahl|stuck|nombre|combien|sachets|unidades|cuant[oa]s"
    r"|bolsas|quant[oaie]s?\b|aantal|stuks|sacchetti|numero d[ei]\b",
    "code": r"label|code|bag|id\b|no?\b|nr\b|number|nummer|numero|etikett|kennung|etiquette|etiqueta|codigo|rotulo"
    r"|etichetta|codice|bottle|beutel",
    "place": r"place|where|location|stored|storage|lager|ort\b|wo\b|lieu|endroit|emplacement|lugar|donde|ubicacion"
    r"|local|onde\b|luogo|dove\b|posto|plaats|waar\b|locatie",
    "expressed": r"date|day\b|when|pumped|expressed|collected|datum|tag\b|wann|abgepumpt|abpump|gepumpt|jour|tire"
    r"|fecha|dia\b|extra|data\b|giorno|tirat|dag\b|afgekolf|gekolfd",
    "unit": r"unit|einheit|unite|unidad|eenheid",
    "form": r"state|status|form|zustand|etat|estado|stato|staat|toestand",
}
_MONTHS = [
    names.split()
    for names in (
        "january januar janvier enero janeiro gennaio januari janner",
        "february februar fevrier febrero fevereiro febbraio februari",
        "march marz maerz mrz mars marzo marco maart mrt",
        "april avril abril aprile",
        "may mai mayo maio maggio mei",
        "june juni juin junio junho giugno",
        "july juli juillet julio julho luglio",
        "august aout agosto augustus",
        "september septembre septiembre setembro settembre",
        "october oktober octobre octubre outubro ottobre",
        "november novembre noviembre novembro",
        "december dezember decembre diciembre dezembro dicembre",
    )
]
_DAYS_BACK = dict.fromkeys(_split("today heute aujourd'hui hoy hoje oggi vandaag"), 0)
_DAYS_BACK |= dict.fromkeys(_split("yesterday gestern hier ayer ontem ieri gisteren"), 1)
# Words that say nothing beside a date, an amount or a place.
_IDLE = set(
    _split(
        "mon tue tues wed thu thur thurs fri sat sun monday tuesday wednesday thursday friday saturday sunday mo di "
        "mi do fr sa so montag dienstag mittwoch donnerstag freitag samstag sonntag lun mar mer jeu ven sam dim lundi "
        "mardi mercredi jeudi vendredi samedi dimanche mie jue vie sab dom lunes martes miercoles jueves viernes "
        "sabado domingo seg ter qua qui sex segunda terca quarta quinta sexta gio lunedi martedi mercoledi giovedi "
        "venerdi sabato domenica ma wo vr za zo maandag dinsdag woensdag donderdag vrijdag zaterdag zondag in the at "
        "on my am im dem der le la au dans el en no na nel nella il de het is "
    )
)
_FORMS: dict[str, Form] = dict.fromkeys(_split("fresh frisch frais fresco fresca vers"), "fresh")
_FORMS |= dict.fromkeys(_split("frozen gefroren congele congelado congelada congelato surgele bevroren"), "frozen")
_FORMS |= dict.fromkeys(_split("thawed aufgetaut decongele descongelado scongelato ontdooid"), "thawed")
_KINDS = {
    word: kind
    for kind, words in {
        "room": "room|room temperature|counter|countertop|zimmer|raumtemperatur|temperature ambiante"
        "|temperatura ambiente",
        "cooler": "cooler|cool bag|cooler bag|cool box|kuhltasche|kuhlbox|glaciere|sac isotherme|nevera portatil"
        "|bolsa termica|borsa termica|koeltas|koelbox",
        "refrigerator": "fridge|refrigerator|kuhlschrank|frigo|refrigerateur|nevera|refrigerador|heladera|frigorifico"
        "|geladeira|frigorifero|koelkast|ijskast",
        "freezer_compartment": "freezer compartment|freezer box|gefrierfach|eisfach|tiefkuhlfach|freezerfach|vriesvak",
        "freezer": "freezer|gefrierschrank|gefrierer|tiefkuhler|congelateur|congelador|congelatore|vriezer|diepvries",
        "deep_freezer": "deep freezer|deep freeze|chest freezer|gefriertruhe|tiefkuhltruhe|congelateur coffre|arcon"
        "|arcon congelador|congelador horizontal|freezer horizontal|pozzetto|congelatore a pozzetto|vrieskist",
    }.items()
    for word in words.split("|")
}
_YES = set(_split("x y yes ja oui si sim true ✓ ✔")) | {word for word, form in _FORMS.items() if form == "frozen"}
_TOTAL = re.compile(r"(?:grand |sub ?)?(?:total|totals|totale|totaal|sum|summe|gesamt|insgesamt|somme|suma|soma)\b")
_SAYS = {
    "missing_amount": "Say how much is in it.",
    "amount_unclear": "“{}” is no clear amount: write it like 120 ml or 4 oz.",
    "too_little": "“{}” is no milk at all: write more than 0 mL, or leave the line out.",
    "too_much": "“{}” is more than 5000 mL: check the amount and its unit.",
    "date_missing": "Say on which day it was expressed.",
    "date_unclear": "“{}” is no clear day: write it like 2027-04-03.",
    "date_order": "“{}” can be two days: answer the question about dates.",
    "dates_disagree": "“{}” puts day and month the other way round than other lines: check the day.",
    "date_ahead": "{} is still to come: check the day.",
    "dates_out_of_order": "Frozen {} before it was expressed: check both days.",
    "place_missing": "Say where it is kept.",
    "unknown_place": "“{}” is not one of your places: choose one.",
    "count_unclear": "“{}”: say how many alike, from 1 to 100.",
    "code_repeated": "“{}” stands on an earlier line too: give each its own label.",
    "code_too_long": "The label is longer than 200 characters: shorten it.",
}

_NUMBER = r"(?:\d{1,4} \d{1,2}/\d{1,2}|\d{1,2}/\d{1,2}|\d{1,6}(?:[.,]\d{1,6})?)"
_OZ = r"(?:fl\.? ?)?oz\.?|(?:fluid )?ounces?|unzen?|onces?|onzas?|on[çc]as?|oncia"
_UNIT = rf"(?P<ml>ml|cc|milli?lit\w{{1,6}})|(?P<cl>cl)|(?P<oz>{_OZ})"
_BAGS = r"bags?|bottles?|beutel|flaschen?|sachets?|bolsas?|sacos?|sacchetti|zakjes?"
_MANY = rf"(?:[x\u00d7*]|(?:{_BAGS})(?: (?:of|à|a|de|da|van))?)"
_AMOUNT = re.compile(
    rf"(?<![\w/.,:])(?:(?P<n>\d{{1,3}}) ?{_MANY} ?)?(?P<v>{_NUMBER}) ?(?:{_UNIT})(?![^\W\d_])"
    r"(?: ?[x\u00d7*] ?(?P<m>\d{1,3})\b)?",
    re.IGNORECASE | re.ASCII,
)
_BARE = re.compile(
    rf"(?<![\w/.,:#])(?:(?P<n>\d{{1,3}}) ?[x\u00d7*] ?)?(?P<v>{_NUMBER})(?![\w/:]|[.,]\d)", re.IGNORECASE | re.ASCII
)
_ISO = re.compile(r"(?<![\d/.-])(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?![\d/-])", re.ASCII)
_PAIR = re.compile(r"(?<![\d/.,:-])(\d{1,2})([/.-])(\d{1,2})(?:\2(\d{4}|\d{2}))?(\.?)(?![\d/]|[.-]\d)", re.ASCII)
_WORD, _NTH = r"(?<![^\W\d_])([^\W\d_]{3,12})(?![^\W\d_])", r"(?:st|nd|rd|th|er|[.ºª°])?"
_YEAR = r"(?:[ ,]{0,2}(?:del? )?[-/.'\u2019]?([0-9]{4})|[-/.'\u2019]([0-9]{2}))?(?![0-9])"
_LONE_YEAR = r"(?:[ ,\-/.'\u2019]{0,3}(?:del? )?([0-9]{4}|[0-9]{2})(?![0-9:h]))?()(?![0-9])"
_NAMED = {
    lone: (
        re.compile(
            rf"(?<![\d/.,:])([0-9]{{1,2}}){_NTH}[ \-./]{{0,3}}(?:(?:de|of|di) )?{_WORD}\.?{year}", re.IGNORECASE
        ),
        re.compile(rf"{_WORD}\.?[ \-./]{{0,3}}([0-9]{{1,2}}){_NTH}(?![0-9/:]){year}", re.IGNORECASE),
    )
    for lone, year in ((False, _YEAR), (True, _LONE_YEAR))
}
_TIME = re.compile(
    r"(?:[ T,@]| at | um ){0,3}([01]?\d|2[0-3])[:h]([0-5]\d)(?::([0-5]\d)(?:\.\d{1,9})?)? ?(?:([ap])\.?m\b\.?)?"
    r" ?(Z\b|[+-]\d{2}:?\d{2})?(?!\d)",
    re.IGNORECASE | re.ASCII,
)
_COMMA = re.compile(r",(?!\d{1,2}(?![\d/.-]))|(?<![\d]),|(?<=[/.-]\d),|(?<=[/.-]\d\d),")
_DATE_COMMA = re.compile(r"([^\W\d_]{3}\.? \d{1,2}),(?= 20\d\d\b(?!-))")
_SPLIT = re.compile(r"[,;|()\[\]]+|(?:^| )[-\u2013—:]+(?= |$)")


class PasteTooLongError(ValueError):
    """More than 500 rows, or a line past all measure; its text says what to do."""


class Problem(NamedTuple):
    """One thing to mend in a row."""

    field: str
    code: str
    says: str


class Question(NamedTuple):
    """Something only the family knows, asked once for the whole paste; choices are value and label."""

    kind: Literal["day_first", "unit"]
    says: str
    choices: tuple[tuple[str, str], ...]


class Row(NamedTuple):
    """One line: `count` containers alike, each of `ml` millilitres, as far as it could be read."""

    number: int
    raw: str
    code: str | None
    ml: float | None
    expressed: str | None
    frozen_on: str | None
    place: str | None
    form: Form | None
    count: int  # type: ignore[assignment]  # the household's word; nobody counts values in a row
    note: str | None
    problems: tuple[Problem, ...]


class Pasted(NamedTuple):
    """The whole paste; every line is a row or stands in `skipped` (blank, heading, rule or total)."""

    rows: tuple[Row, ...]
    questions: tuple[Question, ...]
    columns: tuple[str, ...]
    header: bool
    skipped: tuple[int, ...]


class _When(NamedTuple):
    """A day as written, read with the day first and with the month first."""

    text: str
    day: str | None
    month: str | None
    only_day_first: bool | None = None

    @property
    def open(self) -> bool:
        return self.day != self.month


class _Amount(NamedTuple):
    text: str
    value: float | None
    unit: str | None


@dataclass(slots=True)
class _Draft:
    number: int
    raw: str
    dates: dict[str, _When] = field(default_factory=dict)
    amount: _Amount | None = None
    place: str | None = None
    code: str | None = None
    form: Form | None = None
    count: int = 1
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def problem(self, name: str, code: str, text: str = "") -> None:
        short = text if len(text) <= 60 else text[:59] + "…"
        self.problems.append(Problem(name, code, _SAYS[code].format(short)))

    def many(self, text: str) -> None:
        number = int(text) if re.fullmatch(r"[0-9]{1,3}", text) else 0
        if not 1 <= number <= MOST_ALIKE or self.count not in (1, number):
            self.problem("count", "count_unclear", text)
        else:
            self.count = number


def _fold(text: str) -> str:
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def _words(text: str) -> str:
    return " ".join(word for word in re.findall(r"\w+", _fold(text)) if word not in _IDLE)


def _month(word: str) -> int | None:
    folded = _fold(word)
    fits = [index for index, names in enumerate(_MONTHS, 1) if any(name.startswith(folded) for name in names)]
    return fits[0] if len(fits) == 1 else None


def _day(year: str | None, month: int, day: int, today: date) -> str | None:
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


class _Reader:
    """Reads cells with what the household knows; `lone` is a cell that should hold nothing but a day."""

    def __init__(self, today: date, places: Mapping[str, str]) -> None:
        self.today, self.places = today, places
        self.keys = {name: _words(name) for name in places}

    def place(self, text: str) -> str | None:
        """The one place of the household meant by these words."""
        key = _words(text)
        if text in self.places or not key:
            return text if text in self.places else None
        named = [name for name, own in self.keys.items() if own == key]
        named = named or [name for name, kind in self.places.items() if kind == _KINDS.get(key)]
        return named[0] if len(named) == 1 else None

    def like_place(self, text: str) -> bool:
        key = f" {_words(text)} "
        return any(f" {word} " in key for word in (*_KINDS, *filter(None, self.keys.values())))

    def find(self, text: str, lone: bool) -> tuple[_When, int, int] | None:
        """The first day in a text, and where it stands."""
        for word in re.finditer(r"[^\W\d_]+(?:'hui)?", text):
            if (back := _DAYS_BACK.get(word[0].casefold())) is not None and self.today.toordinal() > 1:
                day = (self.today - timedelta(days=back)).isoformat()
                return _When(word[0], day, day), *word.span()
        if iso := _ISO.search(text):
            day_or_none = _day(iso[1], int(iso[3]), int(iso[4]), self.today)
            return _When(iso[0], day_or_none, day_or_none), *iso.span()
        for pair in _PAIR.finditer(text):
            if pair[4] or pair[2] == "/" or (pair[2] == "." and pair[5]) or lone:
                one, two = int(pair[1]), int(pair[3])
                first, second = _day(pair[4], two, one, self.today), _day(pair[4], one, two, self.today)
                only = None if bool(first) == bool(second) else first is not None
                return _When(pair[0], first or second, second or first, only), *pair.span()
        return self._named(text, lone)

    def _named(self, text: str, lone: bool) -> tuple[_When, int, int] | None:
        for turn, pattern in enumerate(_NAMED[lone]):
            for match in pattern.finditer(text):
                word, number = (match[1], match[2]) if turn else (match[2], match[1])
                if month := _month(word):
                    day = _day(match[3] or match[4], month, int(number), self.today)
                    return _When(match[0], day, day), *match.span()
        return None

    def date(self, draft: _Draft, name: str, text: str, lone: bool) -> str:
        """Note the day in a text, if there is one; returns the rest."""
        if lone and re.fullmatch(r"[345][0-9]{4}(?:[.,][0-9]{1,9})?", text):
            day = date(1899, 12, 30) + timedelta(days=int(text[:5]))
            if abs((day - self.today).days) < 3660:
                draft.dates[name] = _When(text, day.isoformat(), day.isoformat())
                draft.notes.append(f"{text} read as a spreadsheet's day number")
                return ""
        found = self.find(text, lone)
        if found is None:
            return text
        when, start, end = found
        time = _TIME.match(text, end)
        if time:
            end = time.end()
            when = _with_time(when, text[start:end], time)
        draft.dates[name] = when
        clock = time[0].strip("T ,@") if time and not time[5] and not re.match(r"\D*0?0:00", time[0]) else ""
        return f"{text[:start]};{clock};{text[end:]}"


def _with_time(when: _When, text: str, time: re.Match[str]) -> _When:
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

    return _When(text, stamp(when.day), stamp(when.month), when.only_day_first)


def _number(text: str) -> float | None:
    """The figure meant; None where 1,000 could be one or a thousand, or a fraction has no sense."""
    if "/" in text:
        whole, _, part = text.rpartition(" ")
        top, _, bottom = part.partition("/")
        return int(whole or 0) + int(top) / int(bottom) if 0 < int(top) < int(bottom) else None
    return None if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", text) else float(text.replace(",", "."))


def _amounts(draft: _Draft, text: str, alone: bool) -> str:
    """Note the amount in a text, if there is one; `alone` is a cell that should hold nothing else. Returns the rest."""
    plain = re.sub(r"(?<=\d)(?=[¼-¾⅐-⅞])", " ", text)
    plain = re.sub(r"[¼-¾⅐-⅞]", lambda sign: unicodedata.normalize("NFKD", sign[0]).replace("\u2044", "/"), plain)
    found = list(_AMOUNT.finditer(plain))
    if not found and (bare := _BARE.fullmatch(plain) if alone else None):
        found = [bare]
    if not found:
        return text
    read = [(_number(match["v"]), match.groupdict()) for match in found]
    units = [
        "cl" if got.get("cl") else "ml" if got.get("ml") else "fl_oz" if got.get("oz") else None for _, got in read
    ]
    sizes = [_ml(value or 0, unit) for (value, _), unit in zip(read, units, strict=True)]
    # 4 oz (118 ml) says one thing twice; 60 ml + 60 ml does not.
    clear = len(set(units)) == len(units) and max(sizes) - min(sizes) <= 0.05 * max(sizes) and "+" not in plain
    clear = clear and not (alone and plain[0] in "-\u2212<>")
    draft.amount = _Amount(text, read[0][0] if clear else None, units[0])
    for many in filter(None, (read[0][1]["n"], read[0][1].get("m"))):
        draft.many(many)
    return _AMOUNT.sub(";", plain) if found[0].re is _AMOUNT else ""


def _ml(value: float, unit: str | None) -> float:
    return round(value * ML_PER_FL_OZ, 1) if unit == "fl_oz" else value * 10 if unit == "cl" else value


def _chunks(reader: _Reader, draft: _Draft, text: str, seek: bool) -> None:
    """Take what is left of a cell: place and form where they are sought, else a note."""
    for part in _SPLIT.split(text):
        chunk = part.strip(" -\u2013—:.~'\u2019")
        if not _words(chunk):
            continue
        words = _words(chunk).split()
        forms = [_FORMS[word] for word in words if word in _FORMS]
        left = " ".join(word for word in words if word not in _FORMS)
        open_place = seek and draft.place is None
        if open_place and reader.place(chunk):
            draft.place = chunk
        elif seek and len(forms) == 1 and (not left or (open_place and reader.place(left))):
            draft.form, draft.place = forms[0], draft.place or left or None
        elif open_place and reader.like_place(chunk):
            draft.place = chunk
        else:
            draft.notes.append(chunk)


def _expressed(reader: _Reader, draft: _Draft, cell: str) -> None:
    rest = reader.date(draft, "expressed", cell, lone=True)
    if "expressed" in draft.dates:
        _chunks(reader, draft, rest, seek=False)
    else:
        draft.problem("expressed", "date_unclear", cell)


def _frozen_on(reader: _Reader, draft: _Draft, cell: str) -> None:
    if _fold(cell) in _YES:
        draft.form = "frozen"
        return
    _chunks(reader, draft, reader.date(draft, "frozen_on", cell, lone=True), seek=False)
    if "frozen_on" not in draft.dates and re.search(r"\d", cell):
        draft.problem("frozen_on", "date_unclear", cell)


def _in_ml(reader: _Reader, draft: _Draft, cell: str) -> None:
    rest = _amounts(draft, cell, alone=True)
    if draft.amount is None:
        draft.problem("ml", "amount_unclear", cell)
    else:
        _chunks(reader, draft, rest, seek=False)


def _place(reader: _Reader, draft: _Draft, cell: str) -> None:
    if reader.place(cell) or not any(reader.place(part.strip()) for part in _SPLIT.split(cell)):
        draft.place = cell
    else:
        _chunks(reader, draft, cell, seek=True)


def _form(reader: _Reader, draft: _Draft, cell: str) -> None:
    form = _FORMS.get(_words(cell))
    if form:
        draft.form = form
    else:
        draft.notes.append(cell)


def _code(reader: _Reader, draft: _Draft, cell: str) -> None:
    draft.code = cell
    if len(cell) > 200:
        draft.problem("code", "code_too_long")


def _free(reader: _Reader, draft: _Draft, cell: str) -> None:
    rest = cell if draft.amount else _amounts(draft, cell, alone=False)
    if "expressed" not in draft.dates:
        rest = reader.date(draft, "expressed", rest, lone=False)
    bare = [] if draft.amount else list(_BARE.finditer(rest))
    if len(bare) == 1:
        _amounts(draft, bare[0][0], alone=True)
        rest = rest.replace(bare[0][0], ";", 1)
    elif bare:
        draft.problem("ml", "amount_unclear", cell)
    _chunks(reader, draft, rest, seek=True)


_TAKE: dict[str, Callable[[_Reader, _Draft, str], None]] = {
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


# ---- columns -----------------------------------------------------------------------------------------------


def _lines(text: str) -> list[str]:
    plain = re.sub("[\ufeff\u200b]", "", text).replace("\r\n", "\n").replace("\r", "\n")
    lines = re.sub(r"[^\S\t\n ]", " ", plain).split("\n")
    if len(plain) > MOST_IN_TEXT:
        raise PasteTooLongError("That is more text than fits: paste at most 500 lines at a time.")
    if not lines[-1]:
        lines.pop()
    for number, line in enumerate(lines, 1):
        if len(line) > MOST_IN_LINE:
            raise PasteTooLongError(
                f"Line {number} is longer than {MOST_IN_LINE} characters: paste one container a line."
            )
    return lines


def _separator(lines: list[str]) -> str:
    """What stands between the cells of at least half of the lines; empty where nothing does."""
    for sign, pattern in (("\t", r"\t"), (";", ";"), ("|", r"\|"), (",", _COMMA), ("  ", r"\S {2,}\S")):
        if lines and 2 * sum(bool(re.search(pattern, line)) for line in lines) >= len(lines):
            return sign
    return ""


def _cells(line: str, sign: str) -> list[str]:
    if sign in ("", "  "):
        cells = re.split(" {2,}", line.strip()) if sign else [line]
    else:
        # "Apr 3, 2027" is one cell.
        whole = _DATE_COMMA.sub(r"\1", line) if sign == "," else line
        # A lone quote would swallow the rest of the line.
        quoting: Literal[0, 3] = csv.QUOTE_NONE if whole.count('"') % 2 else csv.QUOTE_MINIMAL
        cells = next(csv.reader([whole], delimiter=sign, skipinitialspace=True, quoting=quoting), [])
        cells = cells[1:] if sign == "|" and line.lstrip().startswith("|") else cells
    cells = [" ".join(cell.split()) for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _heads(text: str) -> list[str]:
    """The roles that a heading's words name, the most telling first."""
    words = "code" if text == "#" else " ".join(re.findall(r"\w+", _fold(text)))
    return [role for role, pattern in _HEADS.items() if re.search(rf"\b(?:{pattern})", words)]


def _header(table: dict[int, list[str]]) -> int | None:
    """The number of the line that names the columns, if one does before the first line with a figure."""
    for number, cells in list(table.items())[:5]:
        if re.search(r"\d", "".join(cells)):
            return None
        named = [_heads(cell) for cell in cells]
        if sum(map(bool, named)) >= 2 or (len(cells) == 1 and len(named[0]) >= 3):
            return number
    return None


def _named_roles(cells: list[str]) -> list[str]:
    """The role of each headed column; empty where the heading says nothing we know."""
    roles = [(_heads(cell) or ["unknown" if cell else ""])[0] for cell in cells]
    measured = "ml" in roles or "amount" in roles
    merged = {"amount": "note" if "ml" in roles else "ml", "quantity": "count" if measured else "ml"}
    roles = [merged.get(role, role) for role in roles]
    return [
        "note" if role in roles[:index] and role not in ("", "unknown") else role for index, role in enumerate(roles)
    ]


def _kind(reader: _Reader, cell: str) -> str:
    """What a cell by itself looks like."""
    if re.fullmatch(r"\d+(?:[.,]\d+)?", cell) and not re.fullmatch(r"[345][0-9]{4}(?:[.,]\d+)?", cell):
        return "number"
    trial = _Draft(0, cell)
    left = [part for part in _SPLIT.split(reader.date(trial, "expressed", cell, lone=True)) if _words(part)]
    if trial.dates and all(re.fullmatch(_TIME, part) for part in left):
        return "expressed"
    rest = _amounts(trial, cell, alone=True)
    if trial.amount and not _words(rest):
        return "ml"
    if reader.place(cell):
        return "place"
    if _words(cell) in _FORMS:
        return "form"
    if trial.dates or trial.amount:
        return "free"
    return "code" if re.fullmatch(r"#?[A-Za-z]{0,4}[- ]?[0-9]{1,4}[A-Za-z]?", cell) else "note"


def _roles(reader: _Reader, rows: list[list[str]], named: list[str]) -> list[str]:
    """What each column is taken for: by its heading, else by what most of its cells look like."""
    width = max(map(len, rows), default=0)
    roles = (named + [""] * width)[: max(width, len(named))]
    numbers: dict[int, float] = {}
    for index, head in enumerate(roles):
        cells = [row[index] for row in rows if index < len(row) and row[index]]
        if head not in ("", "unknown"):
            continue
        kind = Counter(_kind(reader, cell) for cell in cells).most_common(1)[0][0] if cells else "empty"
        if kind == "number" and not head:
            numbers[index] = max(
                float(found[0]) for cell in cells if (found := re.match(r"[0-9]{1,9}|$", cell)) if found[0]
            )
        unheard = head == "unknown" and kind in ("expressed", "number", "free")
        roles[index] = "note" if unheard or (kind in roles and kind != "free") else kind
    for index, most in numbers.items():
        amount = "ml" not in roles and most == max(numbers.values())
        roles[index] = "ml" if amount else "unsure"
    return roles


# ---- the whole paste ---------------------------------------------------------------------------------------


def _draft(reader: _Reader, number: int, cells: list[str], roles: list[str], headed: int) -> _Draft:
    draft = _Draft(number, " | ".join(cells))
    for index, cell in enumerate(cells):
        role = roles[index]
        if index >= headed and role not in ("note", "unsure"):
            kind = _kind(reader, cell) if cell else role
            role = kind if kind in ("expressed", "ml", "place", "form", "free") else role
        if "unit" in roles and role == "ml" and roles.index("unit") < len(cells) and re.search(r"\d$", cell):
            cell = f"{cell} {cells[roles.index('unit')]}"  # noqa: PLW2901  (one reading for both ways to write it)
        filled = {"expressed": "expressed" in draft.dates, "ml": draft.amount, "place": draft.place}.get(role)
        if cell and role in _TAKE:
            _TAKE["note" if filled else role](reader, draft, cell)
    return draft


def _finish_dates(draft: _Draft, day_first: bool | None, mixed: bool, today: date) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, when in draft.dates.items():
        value = when.month if day_first is False else when.day
        if when.open and day_first is None:
            draft.problem(name, "date_order", when.text)
        elif value is None:
            draft.problem(name, "date_unclear", when.text)
        else:
            found[name] = value
            if when.only_day_first is not None and (mixed if day_first is None else when.only_day_first != day_first):
                draft.problem(name, "dates_disagree", when.text)
            if value[:10] > today.isoformat():
                draft.problem(name, "date_ahead", when.text)
    if "frozen_on" in found:
        found["frozen_on"] = found["frozen_on"][:10]
        if found["frozen_on"] < found.get("expressed", "")[:10]:
            draft.problem("frozen_on", "dates_out_of_order", found["frozen_on"])
    if "expressed" not in draft.dates and not any(problem.field == "expressed" for problem in draft.problems):
        draft.problem("expressed", "date_missing")
    return found


def _finish_ml(draft: _Draft, unit: str | None) -> float | None:
    amount = draft.amount
    if amount is None:
        if not any(problem.field == "ml" for problem in draft.problems):
            draft.problem("ml", "missing_amount")
        return None
    if amount.value is None or (amount.unit or unit) is None:
        draft.problem("ml", "amount_unclear", amount.text)
        return None
    ml = _ml(amount.value, amount.unit or unit)
    if ml <= 0 or ml > MOST_ML:
        draft.problem("ml", "too_little" if ml <= 0 else "too_much", amount.text)
    return ml


def _finish_place(reader: _Reader, draft: _Draft) -> str | None:
    if draft.place is None:
        draft.problem("place", "place_missing")
        return None
    place = reader.place(draft.place)
    if place is None:
        draft.problem("place", "unknown_place", draft.place)
    return place or draft.place


def _order(drafts: list[_Draft], day_first: bool | None) -> tuple[bool | None, bool, list[Question]]:
    """Day or month first, whether lines disagree, and what to ask."""
    whens = [when for draft in drafts for when in draft.dates.values()]
    votes = {when.only_day_first for when in whens} - {None}
    unclear = next((when for when in whens if when.open), None)
    if day_first is not None or unclear is None or len(votes) == 1:
        return (next(iter(votes)) if day_first is None and len(votes) == 1 else day_first), len(votes) > 1, []
    choices = (("day", _long(unclear.day)), ("month", _long(unclear.month)))
    return None, len(votes) > 1, [Question("day_first", f"Which day is {unclear.text.strip()}?", choices)]


def _long(day: str | None) -> str:
    year, month, number = (day or "2000-01-01")[:10].split("-")
    return f"{int(number)} {_MONTHS[int(month) - 1][0].title()} {year}"


def _unit(drafts: list[_Draft], told: str | None, household: Unit) -> tuple[str | None, list[Question]]:
    """The unit of bare figures, and the question where the household's own would make odd containers."""
    bare = [draft.amount.value for draft in drafts if draft.amount and draft.amount.value and not draft.amount.unit]
    # A bag holds some 60 to 250 mL, which is 2 to 8 fl oz.
    odd = bool(bare) and (max(bare) <= 12 if household == "ml" else max(bare) >= 20)
    if told or not odd:
        return told or household, []
    says = f"Amounts like {bare[0]:g} have no unit. Are they mL or fl oz?"
    return None, [Question("unit", says, (("ml", "mL"), ("fl_oz", "fl oz")))]


def _head_unit(cells: list[str]) -> str | None:
    for match in re.finditer(rf"(?<![^\W\d_])(?:{_UNIT})(?![^\W\d_])", " ".join(cells), re.IGNORECASE):
        return "ml" if match["ml"] else "cl" if match["cl"] else "fl_oz"
    return None


def _is_total(reader: _Reader, cells: list[str]) -> bool:
    first = next(filter(None, cells), "")
    return bool(_TOTAL.match(_fold(first))) and not any(reader.find(cell, lone=False) for cell in cells)


def read_paste(
    text: str,
    *,
    today: date,
    places: Mapping[str, str],
    unit: Unit,
    day_first: bool | None = None,
    amount_unit: Unit | None = None,
) -> Pasted:
    """What a paste says, line by line, in mL; `places` maps each place's name to its kind."""
    reader, lines = _Reader(today, places), _lines(text)
    filled = [line for line in lines if re.search(r"[^\W_]", line)]
    sign = _separator(filled)
    table = {number: _cells(line, sign) for number, line in enumerate(lines, 1) if re.search(r"[^\W_]", line)}
    header = _header(table)
    heading = table.pop(header) if header else []
    table = {number: cells for number, cells in table.items() if not _is_total(reader, cells)}
    if len(table) > MOST_ROWS:
        raise PasteTooLongError(f"That is {len(table)} lines: paste at most {MOST_ROWS} at a time.")
    named = _named_roles(heading) if len(heading) > 1 else []
    roles = _roles(reader, list(table.values()), named)
    drafts = [_draft(reader, number, cells, roles, len(named)) for number, cells in table.items()]
    order, mixed, questions = _order(drafts, day_first)
    bare_unit, more = _unit(drafts, _head_unit(heading) or amount_unit, unit)
    seen: set[str] = set()
    rows = tuple(_row(reader, draft, order, mixed, bare_unit, seen) for draft in drafts)
    skipped = tuple(number for number in range(1, len(lines) + 1) if number not in table)
    return Pasted(rows, tuple(questions + more), tuple(roles), header is not None, skipped)


def _row(reader: _Reader, draft: _Draft, order: bool | None, mixed: bool, unit: str | None, seen: set[str]) -> Row:
    dates = _finish_dates(draft, order, mixed, reader.today)
    ml, place = _finish_ml(draft, unit), _finish_place(reader, draft)
    if draft.code:
        if _fold(draft.code) in seen:
            draft.problem("code", "code_repeated", draft.code)
        seen.add(_fold(draft.code))
    return Row(
        draft.number,
        draft.raw,
        draft.code,
        ml,
        dates.get("expressed"),
        dates.get("frozen_on"),
        place,
        draft.form,
        draft.count,
        "; ".join(draft.notes) or None,
        tuple(draft.problems),
    )
