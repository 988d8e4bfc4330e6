"""Which column of a table holds what: proposals from its heading and from its cells, for the family to mend."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Literal, NamedTuple

from thawline.services.bring_in_table import Table
from thawline.services.paste_cells import Draft, Reader, take_amounts
from thawline.services.paste_words import FORMS, HEADS, UNIT, Unit, fold, plain_words
from thawline.services.readings_cells import is_clock, is_day, stamp

What = Literal["sessions", "stock"]
Measure = Literal["ml", "cl", "fl_oz"]
Role = Literal["date", "time", "amount", "unit", "side", "minutes", "code", "place", "frozen_on", "form"]
ROLES: Mapping[What, tuple[Role, ...]] = {
    "sessions": ("date", "time", "amount", "unit", "side", "minutes", "code", "place", "frozen_on"),
    "stock": ("date", "time", "amount", "unit", "code", "place", "frozen_on", "form"),
}
NEEDED: tuple[Role, ...] = ("date", "amount")
_HEADS: dict[Role, str] = {
    "frozen_on": HEADS["frozen_on"],
    "minutes": r"minut|\bmins?\b|duration|dauer|duree|duracion|duracao|durata|duur\b|how long",
    "unit": HEADS["unit"],
    "time": r"^time|^uhrzeit|^zeit|^heure|^hora|^ora\b|^tijd|^start|^begin|^debut|^inicio|^inizio",
    "side": r"\bside|seite|^cote\b|\blado\b|\blato\b|\bkant\b|breast|brust|^sein\b",
    "amount": rf"{HEADS['ml']}|{HEADS['amount']}|{HEADS['quantity']}|^output|^yield|^total",
    "date": rf"^at\b|^when\b|{HEADS['expressed']}",
    "form": HEADS["form"],
    "place": HEADS["place"],
    "code": HEADS["code"],
}
KNOWN_HEAD = re.compile("|".join(f"(?:{pattern})" for pattern in _HEADS.values()))
SIDES = {
    word: side
    for side, words in {
        "left": "l left links gauche izquierda izquierdo izq esquerda esquerdo sinistra sinistro",
        "right": "r right rechts droite droit derecha derecho der direita direito destra destro",
        "both": "b both beide beides deux ambos ambas entrambi lr l+r r+l l/r r/l left+right",
    }.items()
    for word in words.split()
}
_SAMPLE, _MOST_OF = 120, 0.7


class Mapped(NamedTuple):
    """What each column holds, by number from 0; the unit of bare figures, the order of days, and what goes for all.

    `gone`: the milk of past sessions is not there any more. `place` is where milk lies that names no place.
    """

    columns: Mapping[Role, int]
    unit: Measure | None = None
    day_first: bool | None = None
    gone: bool = True
    place: str | None = None


def _headed(table: Table, roles: Sequence[Role]) -> dict[Role, int]:
    """The columns that a word of the heading names; each column once, each role once."""
    found: dict[Role, int] = {}
    if not table.headed:
        return found
    for role, pattern in _HEADS.items():
        if role not in roles:
            continue
        for column, head in enumerate(table.heads):
            words = " ".join(re.findall(r"[\w+]+", fold(head).replace("_", " ")))
            if column not in found.values() and re.search(pattern, words):
                found[role] = column
                break
    return found


def _looks(reader: Reader) -> dict[Role, Callable[[str], bool]]:
    def amount(cell: str) -> bool:
        draft = Draft(0, cell)
        return not plain_words(take_amounts(draft, cell, alone=True)) and draft.amount is not None

    return {
        "date": lambda cell: stamp(cell) is not None or is_day(cell) or reader.find(cell, lone=True) is not None,
        "time": is_clock,
        "side": lambda cell: side_of(cell) is not None,
        "form": lambda cell: plain_words(cell) in FORMS,
        "place": lambda cell: reader.place(cell) is not None,
        "amount": amount,
    }  # fmt: skip


def proposed(table: Table, what: What, reader: Reader) -> dict[Role, int]:
    """What each role's column seems to be: by its head, else by what most of its cells look like."""
    roles = ROLES[what]
    found = _headed(table, roles)
    for role, looks in _looks(reader).items():
        if role not in roles or role in found:
            continue
        for column in range(len(table.heads)):
            if column not in found.values() and _mostly(_cells(table, column), looks):
                found[role] = column
                break
    # A moment in one cell needs no column of times beside it.
    if "date" in found and "time" in found and _mostly(_cells(table, found["date"]), _timed):
        del found["time"]
    return found


def _timed(cell: str) -> bool:
    found = stamp(cell)
    if found is None:
        return False
    return found.zone is not None or not re.search(r"\b0?0:00(:00)?$", cell)


def _cells(table: Table, column: int) -> list[str]:
    return [row.cells[column] for row in table.rows[:_SAMPLE] if column < len(row.cells) and row.cells[column]]


def _mostly(cells: Sequence[str], looks: Callable[[str], bool]) -> bool:
    return bool(cells) and sum(map(looks, cells)) >= _MOST_OF * len(cells)


def side_of(cell: str) -> str | None:
    """Left, right or both, in seven languages; None where the cell names none."""
    words = re.findall(r"[a-z+/]+", fold(cell).replace(" + ", "+").replace(" / ", "/"))
    sides = {SIDES[word] for word in words if word in SIDES}
    return "both" if len(sides) > 1 else next(iter(sides), None)


def unit_of(table: Table, columns: Mapping[Role, int], usual: Unit) -> Measure | None:
    """The unit of bare figures: as the head says, else the household's where it fits them; None: to be asked."""
    column = columns.get("amount")
    if column is None:
        return None
    head = re.search(rf"(?<![^\W\d_])(?:{UNIT})(?![^\W\d_])", table.heads[column].replace("_", " "), re.IGNORECASE)
    if head is not None:
        return "ml" if head["ml"] else "cl" if head["cl"] else "fl_oz"
    drafts = [Draft(0, cell) for cell in _cells(table, column)]
    for draft in drafts:
        take_amounts(draft, draft.raw, alone=True)
    bare = [one.amount.value for one in drafts if one.amount and one.amount.value and not one.amount.unit]
    # A session brings some 20 to 300 mL, which is 1 to 10 fl oz.
    odd = bool(bare) and (max(bare) <= 12 if usual == "ml" else max(bare) >= 20)
    return None if odd else usual
