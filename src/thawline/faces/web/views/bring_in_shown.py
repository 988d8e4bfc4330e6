"""A table on its way in, as it is shown: which column is which, and what would be recorded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.times import day_start, is_date, parse_instant
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.words import FORMS, Words
from thawline.services import bring_in
from thawline.services.board import Board
from thawline.services.bring_in import Looked, Mapped, Question, Role, Row, Table, What

SHOWN, FAULTS = 8, 60
WHAT_WORDS = {
    "sessions": (gettext_lazy("Past sessions"), gettext_lazy("When you expressed, and how much.")),
    "stock": (gettext_lazy("Stock"), gettext_lazy("Milk that is there now, a row for each container.")),
}
ROLE_WORDS: dict[Role, Any] = {
    "date": gettext_lazy("Day (or day and time)"),
    "time": gettext_lazy("Time of day"),
    "amount": gettext_lazy("Amount"),
    "unit": gettext_lazy("Unit of the amount"),
    "side": gettext_lazy("Side"),
    "minutes": gettext_lazy("Minutes it took"),
    "code": gettext_lazy("Label on the container"),
    "place": gettext_lazy("Where it is"),
    "frozen_on": gettext_lazy("Day it was frozen"),
    "form": gettext_lazy("Fresh, frozen or thawed"),
}
SIDES = {"left": gettext_lazy("left"), "right": gettext_lazy("right"), "both": gettext_lazy("both sides")}
UNITS = {"ml": "mL", "fl_oz": gettext_lazy("fl oz (US)"), "cl": "cL"}


def asked(table: Table, mapped: Mapped, what: What) -> list[dict[str, Any]]:
    """For each thing that a column may hold: its word, and the columns with what stands in them."""
    columns = [
        {"value": str(number), "label": _column(table, number)}
        for number in range(len(table.heads))
    ]  # fmt: skip
    return [
        {
            "name": f"column-{role}", "label": ROLE_WORDS[role], "needed": role in bring_in.NEEDED,
            "value": "" if (chosen := mapped.columns.get(role)) is None else str(chosen), "choices": columns,
        }
        for role in bring_in.ROLES[what]
    ]  # fmt: skip


def _column(table: Table, number: int) -> str:
    example = ", ".join(table.examples(number)[:2])
    head = table.heads[number][:30]
    return f"{head}: {example[:36]}" if example else head


def columns_page(
    request: Request, found: Board, what: What, text: str, table: Table, mapped: Mapped, *,
    missing: Sequence[Role] = (), questions: Sequence[Question] = (), sure: bool = False,
) -> HttpResponse:  # fmt: skip
    """Which column is which, and what goes for all rows."""
    problems = [{"says": _("Say which column holds this: %(what)s.") % {"what": ROLE_WORDS[role]},
                 "id": f"column-{role}"} for role in missing]  # fmt: skip
    if sure:
        problems += [{"says": _(one.says), "id": one.kind} for one in questions]
    context = {
        "what": what, "title": WHAT_WORDS[what][0], "packed": bring_in.packed(text), "rows": len(table.rows),
        "written": _written(table), "columns": asked(table, mapped, what), "problems": problems,
        "units": [{"value": key, "label": label} for key, label in UNITS.items()], "unit": mapped.unit or "",
        "orders": _orders(questions), "order_says": _order_says(questions), "day_first": _order(mapped),
        "gone_choices": [
            {"value": "yes", "label": _("It is gone"), "says": _("Counts for your pattern and the outlook only.")},
            {"value": "no", "label": _("It is still here"), "says": _("Each row needs a place.")},
        ],
        "gone": "yes" if mapped.gone else "no", "place": mapped.place or "",
        "places": [{"value": place.name, "label": place.name} for place in found.places],
    }  # fmt: skip
    return render(request, "web/bring_in_columns.html", context, status=422 if problems else 200)


def _order(mapped: Mapped) -> str:
    """The order of days as it was said; empty where it was not."""
    return "" if mapped.day_first is None else "day" if mapped.day_first else "month"


def _order_says(questions: Sequence[Question]) -> str:
    asked_now = (_(one.says) for one in questions if one.kind == "day_first")
    return next(asked_now, _("In a day such as 3/4"))


def _orders(questions: Sequence[Question]) -> list[dict[str, str]]:
    """What a day may mean, in the words of the table's own first unclear day; asked of every table just in case."""
    choices = [{"value": "", "label": _("The table tells")}, {"value": "day", "label": _("Day first: 31/12")},
               {"value": "month", "label": _("Month first: 12/31")}]  # fmt: skip
    for one in questions:
        if one.kind == "day_first":
            choices = [{"value": value, "label": label} for value, label in one.choices]
    return choices


def _written(table: Table) -> str:
    sign = bring_in.SIGNS[table.sign]
    return _("%(encoding)s, cells apart by %(sign)s") % {"encoding": table.encoding, "sign": _(sign)}


# ---- what would be recorded --------------------------------------------------------------------------------


def look_page(
    request: Request, found: Board, what: What, text: str, table: Table, mapped: Mapped, *, looked: Looked,
    pressed: bool = False,
) -> HttpResponse:  # fmt: skip
    """The first rows as they will be recorded, counts and totals, and what is to be mended."""
    words = words_of(request)
    count = len(looked.new)
    problems = [_("Some rows can't be read. Tick that they are left out, or mend the table.")] if pressed else []
    context = {
        "what": what, "title": WHAT_WORDS[what][0], "packed": bring_in.packed(text), "seen": request.now,
        "fields": _fields(mapped), "count": count, "known": looked.known, "bad": looked.bad,
        "summary": _summary(looked, words), "notes": [_(note) for note in looked.notes],
        "rows": [_shown(one.row, one.code, what, words, gone=what == "sessions" and mapped.gone)
                 for one in looked.new[:SHOWN]],
        "more": max(0, count - SHOWN), "skipped": _lines(looked.skipped),
        "faults": [{"line": one.line, "column": one.column, "says": one.says} for one in looked.faults[:FAULTS]],
        "more_faults": max(0, len(looked.faults) - FAULTS), "back": len(looked.back),
        "record": ngettext("Record %(n)d row", "Record %(n)d rows", count) % {"n": count},
        "gone": what == "sessions" and mapped.gone, "problems": [{"says": says, "id": "without"} for says in problems],
    }  # fmt: skip
    return render(request, "web/bring_in_look.html", context, status=422 if problems else 200)


def _fields(mapped: Mapped) -> list[tuple[str, str]]:
    """What was said of the columns, for the next page."""
    said = [("unit", mapped.unit or ""), ("day_first", _order(mapped)), ("place", mapped.place or ""),
            ("gone", "yes" if mapped.gone else "no")]  # fmt: skip
    return [*((f"column-{role}", str(number)) for role, number in mapped.columns.items()), *said]


def _summary(looked: Looked, words: Words) -> str:
    if not looked.new:
        return ""
    count = len(looked.new)
    told = ngettext("%(n)d new row, %(ml)s in all", "%(n)d new rows, %(ml)s in all", count)
    first, last = (words.day(day_start(day, words.zone)) for day in (looked.first, looked.last))
    span = first if first == last else _("%(first)s to %(last)s") % {"first": first, "last": last}
    return told % {"n": f"{count:,}" if count > 9999 else count, "ml": words.ml(looked.ml)} + f", {span}"


def _exactly(ml: float, words: Words) -> str:
    """An amount as it will be recorded, not rounded to whole mL."""
    return _("%(n)s mL") % {"n": f"{ml:g}"} if words.amount == "ml" else words.ml(ml)


def _shown(row: Row, code: str | None, what: What, words: Words, *, gone: bool) -> dict[str, str]:
    """A row in words, as it will be recorded."""
    at = row.at
    when = words.day(day_start(at, words.zone)) if is_date(at) else words.clock(parse_instant(at))
    parts = [str(SIDES[row.side]) if row.side else "",
             _("%(n)s min") % {"n": f"{row.minutes:g}"} if row.minutes is not None else "",
             "" if gone else row.place or "", str(FORMS[row.form]) if row.form else "",
             _("frozen %(day)s") % {"day": row.frozen_on} if row.frozen_on else ""]  # fmt: skip
    label = "" if gone else code or _("gets a label")
    return {"line": str(row.line), "ml": _exactly(row.ml, words), "when": when, "label": label,
            "rest": ", ".join(filter(None, parts)), "what": what}  # fmt: skip


def _lines(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers[:20])) + (" …" if len(numbers) > 20 else "")
