"""The fields of an event as words, and as a form in which they can be mended."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

import msgspec
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from msgspec import inspect as shape

from thawline.core import events as ev
from thawline.core.times import BadTimeError, check_date, is_date, parse_instant, written
from thawline.core.units import ML_PER_FL_OZ
from thawline.faces.tell import ADDED, HELD_WHY, HOW, OTHER_FEED, STOPPED_BY
from thawline.faces.web.amounts import BadAmountError, amount_ml, number, temp_c
from thawline.faces.words import FORMS, KINDS, Words
from thawline.services import mix_up
from thawline.services.acts import BadWhenError, moment

LABELS = {
    "container": gettext_lazy("Container"), "ml": gettext_lazy("Amount"), "left_ml": gettext_lazy("Left in it"),
    "place": gettext_lazy("Where?"), "to": gettext_lazy("To"), "child": gettext_lazy("Child"),
    "for": gettext_lazy("For"), "why": gettext_lazy("Why"), "how": gettext_lazy("How"), "what": gettext_lazy("What"),
    "side": gettext_lazy("Side"), "minutes": gettext_lazy("Minutes"), "handling": gettext_lazy("Handling"),
    "mother": gettext_lazy("Whose milk"), "temp_c": gettext_lazy("Temperature"), "kg": gettext_lazy("Weight"),
    "fill": gettext_lazy("How full"), "ice": gettext_lazy("Ice still there?"), "until": gettext_lazy("Until"),
    "expressed": gettext_lazy("Expressed"), "frozen_on": gettext_lazy("Frozen on"), "form": gettext_lazy("Form"),
    "milk": gettext_lazy("Milk"), "date": gettext_lazy("Day"), "born": gettext_lazy("Born"),
    "care": gettext_lazy("Care"), "sex": gettext_lazy("Sex"), "is": gettext_lazy("Kind of place"),
    "into": gettext_lazy("Into"), "event": gettext_lazy("Entry"), "zone": gettext_lazy("Time zone"),
    "found": gettext_lazy("Found"), "label": gettext_lazy("Label"), "steps": gettext_lazy("Done since"),
    "says": gettext_lazy("To be remembered"),
    "guideline": gettext_lazy("Guideline"), "also": gettext_lazy("Also in force"), "units": gettext_lazy("Units"),
}  # fmt: skip
_SIDES = {"left": gettext_lazy("left"), "right": gettext_lazy("right"), "both": gettext_lazy("both")}
_FILLS = {"full": gettext_lazy("full"), "half": gettext_lazy("half full"), "little": gettext_lazy("little in it")}
_CARE = {"home": gettext_lazy("healthy, at home"), "hospital": gettext_lazy("by a hospital")}
_MILK = {"own": gettext_lazy("own"), "donor": gettext_lazy("donor milk")}
_CLEAN = {"very_clean": gettext_lazy("very clean")}
_CLEANED = {
    "kit": gettext_lazy("kit"), "basin": gettext_lazy("basin and brush"),
    "washed": gettext_lazy("washed"), "sanitised": gettext_lazy("sanitised"),
}  # fmt: skip
_ICE = {"true": gettext_lazy("yes"), "false": gettext_lazy("no, none left")}
_WORDS: dict[str, Mapping[str, Any]] = {
    "how": HOW, "side": _SIDES, "fill": _FILLS, "care": _CARE, "milk": _MILK, "handling": _CLEAN, "form": FORMS,
    "is": KINDS, "ice": _ICE,
}  # fmt: skip
_DATES = ("born", "date", "frozen_on")
_TIMES = ("expressed", "until")
_COMMON = ("id", "at", "noted", "by")
# Mended elsewhere: the household on its own page; a void by restoring; a vessel by the container's page.
FIXED = ("vessel", "zone", "guideline", "also", "units", "event")


class Names(NamedTuple):
    """What may be chosen: places, children and containers by name."""

    places: Sequence[str]
    children: Sequence[str]
    containers: Sequence[str]


class Field(NamedTuple):
    """One field: its name in the form, what it is called, how it is asked for, and what it holds as written there."""

    name: str
    label: str
    how: str
    value: str
    choices: list[dict[str, str]]
    optional: bool
    unit: str = ""

    @property
    def shown(self) -> str:
        """Its value in words."""
        word = next((one["label"] for one in self.choices if one["value"] == self.value), self.value)
        return f"{word} {self.unit}".strip()


@cache
def _fields(kind: type[ev.Event]) -> tuple[shape.Field, ...]:
    found = shape.type_info(kind)
    assert isinstance(found, shape.StructType)  # noqa: S101  (every event is one)
    own = [one for one in found.fields if one.encode_name not in _COMMON]
    if kind is not ev.Household:
        own = [one for one in own if one.encode_name != "zone"]
    return tuple(own)


def _plain(kind: shape.Type) -> shape.Type:
    """A type without its None."""
    if isinstance(kind, shape.UnionType):
        return next(one for one in kind.types if not isinstance(one, shape.NoneType))
    return kind


def fields_of(event: ev.AnyEvent, words: Words, names: Names) -> list[Field]:
    """Every field of an event but its id, its time and who did it."""
    old: dict[str, Any] = msgspec.to_builtins(event)
    found: list[Field] = []
    for one in _fields(type(event)):
        name, value, kind = one.encode_name, old.get(one.encode_name), _plain(one.type)
        if isinstance(kind, shape.ListType) and isinstance(kind.item_type, shape.StructType):
            for number_, portion in enumerate(value or ()):
                found += _portion(event, name, number_, portion, words, names)
        elif not (name in FIXED and value in (None, [], "")):
            found.append(_field(event, name, kind, value, words, names, optional=not one.required))
    return found


def _portion(
    event: ev.AnyEvent, name: str, place: int, portion: Mapping[str, Any], words: Words, names: Names
) -> list[Field]:
    stem = f"{name}-{place}"
    code = str(portion["container"])
    label = _("Container") if name == "into" else _("From")
    of_code = _field(event, "into" if name == "into" else "container", None, code, words, names)
    amount = _field(event, "ml", None, portion["ml"], words, names)
    told = _("Amount, %(code)s") % {"code": code}
    return [of_code._replace(name=f"{stem}-container", label=label), amount._replace(name=f"{stem}-ml", label=told)]


def _how(event: ev.AnyEvent, name: str, kind: shape.Type | None) -> str:
    """How a field is asked for."""
    if name in FIXED:
        return "fixed"
    if isinstance(kind, shape.ListType):
        return "fixed"
    if isinstance(kind, (shape.LiteralType, shape.BoolType)):
        return "choice"
    if name == "container" and isinstance(event, (ev.Stocked,)):
        return "text"
    if name == "to":
        return "place" if isinstance(event, ev.Moved) else "text"
    described = (isinstance(event, ev.Place) and name == "place") or (isinstance(event, ev.Child) and name == "child")
    known = {
        "container": "container", "place": "place", "child": "child", "for": "child", "ml": "ml", "left_ml": "ml",
        "temp_c": "temp", "kg": "number", "minutes": "number",
    }  # fmt: skip
    return "text" if described else known.get(name, "date" if name in _DATES else "text")


def _field(
    event: ev.AnyEvent, name: str, kind: shape.Type | None, value: object, words: Words, names: Names, *,
    optional: bool = False,
) -> Field:  # fmt: skip
    how = _how(event, name, kind)
    text = _text(name, how, value, words)
    choices: list[dict[str, str]] = []
    if isinstance(kind, shape.LiteralType):
        choices = [{"value": str(one), "label": _word(event, name, str(one))} for one in kind.values]
    elif how == "choice":
        choices = [{"value": one, "label": str(word)} for one, word in _ICE.items()]
    elif how in ("place", "child", "container"):
        offered = {"place": names.places, "child": names.children, "container": names.containers}[how]
        every = dict.fromkeys([*([text] if text else []), *offered])
        choices = [{"value": one, "label": one} for one in every]
    unit = {"ml": words.ml(0).partition(" ")[2], "temp": f"°{words.temp}"}.get(how, "kg" if name == "kg" else "")
    if unit and how == "ml":
        unit = "fl oz" if words.amount == "fl_oz" else "mL"
    return Field(name, str(LABELS.get(name, name)), how, text, choices, optional, unit)


def _word(event: ev.AnyEvent, name: str, value: str) -> str:
    table = _WORDS.get(name, {})
    if name == "why":
        table = HELD_WHY
    if name == "what":
        table = ADDED if isinstance(event, ev.Added) else OTHER_FEED
    if isinstance(event, ev.Cleaned):
        table = _CLEANED
    return str(table.get(value, value))


def _text(name: str, how: str, value: object, words: Words) -> str:
    if value is None:
        return ""
    if how == "fixed":
        return _listed(_codes(name, value) if isinstance(value, list) else value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        if how == "ml" and words.amount == "fl_oz":
            value = round(value / ML_PER_FL_OZ, 2)
        if how == "temp" and words.temp == "F":
            value = round(words.degrees(value), 1)
        return f"{value:g}"
    if name in _TIMES and not is_date(str(value)):
        return words.local(parse_instant(str(value))).strftime("%Y-%m-%d %H:%M")
    return str(value)


def _codes(name: str, codes: list[Any]) -> list[Any]:
    """Codes of a check or of a mix-up's steps in words; other lists as they are."""
    said: Mapping[str, Any] = STOPPED_BY if name == "why" else {one.id: one.says for one in mix_up.steps()}
    return [said.get(one, one) for one in codes] if name in ("why", "steps") else codes


def _listed(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{one}" for one in value.values() if one is not None)
    return ", ".join(str(one) for one in value) if isinstance(value, list) else str(value)


class BadFieldError(ValueError):
    """A field that can't be used; its text says what to mend."""


def _moment(text: str, words: Words) -> str:
    """A day, or a local time; one that came twice is the earlier, one that never came has to be mended."""
    try:
        if is_date(text):
            check_date(text)
            return text
        return written(moment(text, words.zone), words.zone)
    except BadWhenError as fault:
        raise BadFieldError(str(fault)) from fault
    except BadTimeError as fault:
        raise BadFieldError(_("Write the day, or the day and the time, such as 2027-02-03 07:10.")) from fault


def _day(text: str) -> str:
    try:
        check_date(text)
    except BadTimeError as fault:
        raise BadFieldError(_("Write the day, such as 2027-02-03.")) from fault
    return text


def _choice(text: str, field: Field) -> str:
    if text not in [one["value"] for one in field.choices]:
        raise BadFieldError(_("Choose one of those on the list."))
    return text


def _value(field: Field, text: str, words: Words) -> object:
    if not text:
        if field.optional:
            return None
        raise BadFieldError(_("This can't be empty."))
    name = field.name.rpartition("-")[2]
    reader: dict[str, Callable[[], object]] = {
        "ml": lambda: amount_ml(text, words.amount), "temp": lambda: temp_c(text, words.temp),
        "number": lambda: number(text), "date": lambda: _day(text),
    }  # fmt: skip
    if field.how in reader:
        return reader[field.how]()
    if name in _TIMES:
        return _moment(text, words)
    if field.how != "text":
        chosen = _choice(text, field)
        return chosen == "true" if name == "ice" else chosen
    return text


def changed_of(
    event: ev.AnyEvent, fields: Sequence[Field], sent: Mapping[str, str], words: Words
) -> tuple[dict[str, Any], dict[str, str]]:
    """What a form changes, and by field what is wrong; a field left as it was shown stays as it was written."""
    old: dict[str, Any] = msgspec.to_builtins(event)
    changed: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for field in fields:
        text = " ".join(str(sent.get(field.name, field.value)).replace("\x00", "").split())
        if field.how == "fixed" or text == field.value:
            continue
        try:
            value = _value(field, text, words)
        except (BadFieldError, BadAmountError) as fault:
            wrong[field.name] = str(fault)
            continue
        stem, place, part = [*field.name.split("-"), "", ""][:3]
        if part:
            portions = changed.setdefault(stem, [dict(one) for one in old[stem]])
            portions[int(place)][part] = value
        else:
            changed[stem] = value
    return changed, wrong
