"""The words and shapes in which people write stock down, in seven languages, without accents."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Literal


def _split(words: str) -> list[str]:
    return words.split()


Unit = Literal["ml", "fl_oz"]
Form = Literal["fresh", "frozen", "thawed"]
MOST_ROWS, MOST_IN_LINE, MOST_IN_TEXT, MOST_ML, MOST_ALIKE = 500, 2000, 200_000, 5000, 100
# The US fluid ounce, exact: NIST Handbook 44, Appendix C, "Units of Liquid Volume".
ML_PER_FL_OZ = 29.5735295625

# Words of English, German, French, Spanish, Portuguese, Italian and Dutch, without accents. The first role that fits.
HEADS = {
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
MONTHS = [
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
DAYS_BACK = dict.fromkeys(_split("today heute aujourd'hui hoy hoje oggi vandaag"), 0)
DAYS_BACK |= dict.fromkeys(_split("yesterday gestern hier ayer ontem ieri gisteren"), 1)
# Words that say nothing beside a date, an amount or a place.
IDLE = set(
    _split(
        "mon tue tues wed thu thur thurs fri sat sun monday tuesday wednesday thursday friday saturday sunday mo di "
        "mi do fr sa so montag dienstag mittwoch donnerstag freitag samstag sonntag lun mar mer jeu ven sam dim lundi "
        "mardi mercredi jeudi vendredi samedi dimanche mie jue vie sab dom lunes martes miercoles jueves viernes "
        "sabado domingo seg ter qua qui sex segunda terca quarta quinta sexta gio lunedi martedi mercoledi giovedi "
        "venerdi sabato domenica ma wo vr za zo maandag dinsdag woensdag donderdag vrijdag zaterdag zondag in the at "
        "on my am im dem der le la au dans el en no na nel nella il de het is "
    )
)
FORMS: dict[str, Form] = dict.fromkeys(_split("fresh frisch frais fresco fresca vers"), "fresh")
FORMS |= dict.fromkeys(_split("frozen gefroren congele congelado congelada congelato surgele bevroren"), "frozen")
FORMS |= dict.fromkeys(_split("thawed aufgetaut decongele descongelado scongelato ontdooid"), "thawed")
KINDS = {
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
YES = set(_split("x y yes ja oui si sim true ✓ ✔")) | {word for word, form in FORMS.items() if form == "frozen"}
TOTAL = re.compile(r"(?:grand |sub ?)?(?:total|totals|totale|totaal|sum|summe|gesamt|insgesamt|somme|suma|soma)\b")
SAYS = {
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
UNIT = rf"(?P<ml>ml|cc|milli?lit\w{{1,6}})|(?P<cl>cl)|(?P<oz>{_OZ})"
_BAGS = r"bags?|bottles?|beutel|flaschen?|sachets?|bolsas?|sacos?|sacchetti|zakjes?"
_MANY = rf"(?:[x\u00d7*]|(?:{_BAGS})(?: (?:of|à|a|de|da|van))?)"
AMOUNT = re.compile(
    rf"(?<![\w/.,:])(?:(?P<n>\d{{1,3}}) ?{_MANY} ?)?(?P<v>{_NUMBER}) ?(?:{UNIT})(?![^\W\d_])"
    r"(?: ?[x\u00d7*] ?(?P<m>\d{1,3})\b)?",
    re.IGNORECASE | re.ASCII,
)
BARE = re.compile(
    rf"(?<![\w/.,:#])(?:(?P<n>\d{{1,3}}) ?[x\u00d7*] ?)?(?P<v>{_NUMBER})(?![\w/:]|[.,]\d)", re.IGNORECASE | re.ASCII
)
ISO = re.compile(r"(?<![\d/.-])(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?![\d/-])", re.ASCII)
PAIR = re.compile(r"(?<![\d/.,:-])(\d{1,2})([/.-])(\d{1,2})(?:\2(\d{4}|\d{2}))?(\.?)(?![\d/]|[.-]\d)", re.ASCII)
_WORD, _NTH = r"(?<![^\W\d_])([^\W\d_]{3,12})(?![^\W\d_])", r"(?:st|nd|rd|th|er|[.ºª°])?"
_YEAR = r"(?:[ ,]{0,2}(?:del? )?[-/.'\u2019]?([0-9]{4})|[-/.'\u2019]([0-9]{2}))?(?![0-9])"
_LONE_YEAR = r"(?:[ ,\-/.'\u2019]{0,3}(?:del? )?([0-9]{4}|[0-9]{2})(?![0-9:h]))?()(?![0-9])"
NAMED = {
    lone: (
        re.compile(
            rf"(?<![\d/.,:])([0-9]{{1,2}}){_NTH}[ \-./]{{0,3}}(?:(?:de|of|di) )?{_WORD}\.?{year}", re.IGNORECASE
        ),
        re.compile(rf"{_WORD}\.?[ \-./]{{0,3}}([0-9]{{1,2}}){_NTH}(?![0-9/]|:[0-9]){year}", re.IGNORECASE),
    )
    for lone, year in ((False, _YEAR), (True, _LONE_YEAR))
}
TIME = re.compile(
    r"(?:[ T,@]| at | um ){0,3}([01]?\d|2[0-3])[:h]([0-5]\d)(?::([0-5]\d)(?:\.\d{1,9})?)? ?(?:([ap])\.?m\b\.?)?"
    r" ?(Z\b|[+-]\d{2}:?\d{2})?(?!\d)",
    re.IGNORECASE | re.ASCII,
)
COMMA = re.compile(r",(?!\d{1,2}(?![\d/.-]))|(?<![\d]),|(?<=[/.-]\d),|(?<=[/.-]\d\d),")
DATE_COMMA = re.compile(r"([^\W\d_]{3}\.? \d{1,2}),(?= 20\d\d\b(?!-))")
SPLIT = re.compile(r"[,;|()\[\]]+|(?:^| )[-\u2013—:]+(?= |$)")


def fold(text: str) -> str:
    """Small letters without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    if apart.isascii():
        return apart
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


# A cell is looked at from several sides.
@lru_cache(maxsize=2048)
def plain_words(text: str) -> str:
    """The telling words of a text, folded."""
    return " ".join(word for word in re.findall(r"\w+", fold(text)) if word not in IDLE)


@lru_cache(maxsize=4096)
def month_named(word: str) -> int | None:
    """The month that a word or its beginning names, 1 to 12, if only one does."""
    folded = fold(word)
    fits = [index for index, names in enumerate(MONTHS, 1) if any(name.startswith(folded) for name in names)]
    return fits[0] if len(fits) == 1 else None
