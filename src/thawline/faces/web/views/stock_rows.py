"""Rows in which existing stock is entered: as typed, what is to mend in each, and what each would be."""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import told
from thawline.faces.web.amounts import BadAmountError, amount_ml
from thawline.services import acts
from thawline.services.acts import Act, BadWhenError, written_now
from thawline.services.board import Board
from thawline.services.codes import new_codes
from thawline.services.looking_ahead import preview
from thawline.services.recording import new_act

MOST_ROWS, MOST_ALIKE, MOST_CONTAINERS, LONGEST_CODE = 500, 100, 1000, 200
_RNG = random.SystemRandom()
_FORMS = ("fresh", "frozen", "thawed")


class Draft(NamedTuple):
    """A row as typed. `doubt` is what was unclear when it was pasted, `was` how the row read then."""

    n: int
    ml: str = ""
    on: str = ""
    time: str = ""
    place: str = ""
    form: str = ""
    frozen: str = ""
    number: str = ""
    code: str = ""
    doubt: str = ""
    was: str = ""
    right: str = ""

    @property
    def blank(self) -> bool:
        """Whether nothing was entered; a place alone is nothing."""
        return not any((self.ml, self.on, self.time, self.frozen, self.code, self.doubt)) and self.number in ("", "1")

    @property
    def reads(self) -> str:
        """What the row says, to tell whether it was changed."""
        return "|".join(self[1:9])

    @property
    def doubtful(self) -> bool:
        """Whether nobody has looked yet at what was unclear."""
        return bool(self.doubt) and self.right != "yes" and self.was == self.reads

    @property
    def more(self) -> bool:
        """Whether one of the seldom fields is filled."""
        return any((self.time, self.form, self.frozen, self.code))


class Whole(NamedTuple):
    """What holds for every row: whose milk it is, and for which child."""

    donor: bool
    child: str | None
    mother: str | None


class Checked(NamedTuple):
    """A row with what is to mend, or with its event's fields, and what it would be."""

    draft: Draft
    errors: list[str]
    fields: dict[str, Any]
    names: list[str]
    alike: int
    verdict: Verdict | None = None


def rows_sent(sent: Mapping[str, str]) -> list[Draft]:
    """The rows of the form, blank ones too."""
    digits = re.fullmatch(r"\d{1,4}", sent.get("rows", ""), re.ASCII)
    most = min(int(digits[0]) if digits else 0, MOST_ROWS)
    names = Draft._fields[1:]
    return [Draft(n, *(_plain(sent.get(f"{name}-{n}", "")) for name in names)) for n in range(1, most + 1)]


def _plain(text: str) -> str:
    # PostgreSQL takes no text with a NUL.
    return text.replace("\0", "").strip()


def whole_sent(sent: Mapping[str, str], found: Board) -> Whole:
    """What the form says of all rows."""
    child = sent.get("for")
    named = child if child in [one.name for one in found.children] else None
    return Whole(sent.get("donor") == "yes", named, " ".join(sent.get("mother", "").split())[:200] or None)


def check(
    request: Request, found: Board, drafts: Sequence[Draft], whole: Whole, *, mine: frozenset[str] = frozenset()
) -> list[Checked]:
    """Every row that is not blank, with what is to mend; `mine` are codes that this form itself has taken."""
    rows = [_row(draft, found, whole) for draft in drafts if not draft.blank]
    _codes(rows, request.home.store.taken([name for row in rows for name in row.names]) - mine)
    return _judge(request, found, rows) if not mine else rows


def _row(draft: Draft, found: Board, whole: Whole) -> Checked:
    if draft.doubtful:
        return Checked(draft, [draft.doubt], {}, [], 0)
    errors: list[str] = []
    fields: dict[str, Any] = {}
    for name, reader in _READERS.items():
        try:
            value = reader(draft, found)
        except (BadAmountError, BadWhenError) as fault:
            errors.append(str(fault))
        else:
            if value is not None:
                fields[name] = value
    if not errors and "frozen_on" in fields and fields["frozen_on"] < fields["expressed"][:10]:
        errors.append(_("It was frozen before it was expressed: look at both days."))
    fields |= {key: value for key, value in _common(whole).items() if value is not None}
    alike = fields.pop("alike", 1)
    return Checked(draft, errors, fields, _names(draft.code, alike), alike)


def _common(whole: Whole) -> dict[str, str | None]:
    return {"milk": "donor" if whole.donor else None, "for": whole.child, "mother": whole.mother}


def _ml(draft: Draft, found: Board) -> float:
    if not draft.ml:
        raise BadAmountError(_("Write how much is in it."))
    return amount_ml(draft.ml, found.units[0], least_ml=0.1)


def _place(draft: Draft, found: Board) -> str:
    if found.place(draft.place) is None:
        raise BadWhenError(_("Choose where it is."))
    return draft.place


def _expressed(draft: Draft, found: Board) -> str:
    if not draft.on:
        raise BadWhenError(_("Write on which day it was expressed."))
    how = ("at", f"{draft.on}T{draft.time}", "") if draft.time else ("on", "", draft.on)
    return acts.when(*how, now=found.now, zone=found.settings.zone)


def _frozen_on(draft: Draft, found: Board) -> str | None:
    return acts.when("on", "", draft.frozen, now=found.now, zone=found.settings.zone) if draft.frozen else None


def _form(draft: Draft, found: Board) -> str | None:
    return draft.form if draft.form in _FORMS else None


def _alike(draft: Draft, found: Board) -> int:
    text = draft.number or "1"
    number = int(text) if re.fullmatch(r"\d{1,3}", text, re.ASCII) else 0
    if not 1 <= number <= MOST_ALIKE:
        raise BadAmountError(_("How many alike: write a number from 1 to %(most)d.") % {"most": MOST_ALIKE})
    return number


_READERS: dict[str, Callable[[Draft, Board], Any]] = {
    "ml": _ml, "place": _place, "expressed": _expressed, "frozen_on": _frozen_on, "form": _form, "alike": _alike,
}  # fmt: skip


def _names(code: str, alike: int) -> list[str]:
    code = " ".join(code.split())
    if not code:
        return []
    return [code] if alike == 1 else [f"{code}-{number}" for number in range(1, alike + 1)]


def _codes(rows: Sequence[Checked], taken: set[str]) -> None:
    """Note codes that are too long, on another container, or on two rows."""
    often = Counter(name for row in rows for name in row.names)
    for row in rows:
        code = row.draft.code
        if any(len(name) > LONGEST_CODE for name in row.names):
            row.errors.append(_("That code is too long: %(most)d characters at most.") % {"most": LONGEST_CODE})
        elif any(name in taken for name in row.names):
            row.errors.append(_("“%(code)s” is, or was, on another container. Choose another.") % {"code": code})
        elif any(often[name] > 1 for name in row.names):
            row.errors.append(_("“%(code)s” is on two rows. Give each its own.") % {"code": code})


def _judge(request: Request, found: Board, rows: list[Checked]) -> list[Checked]:
    """What each row would be, and what would not fit."""
    act = Act(new_act(), by="", at=written_now(found.now, found.settings.zone))
    good = [row for row in rows if not row.errors]
    for row in good:
        act.add("stocked", container=f"{act.id} {row.draft.n}", **row.fields)
    if not good:
        return rows
    seen = preview(request.home.store, act.events, now=found.now)
    refused = {refusal.event: told(refusal) for refusal in seen.refused}
    for event, row in zip(act.events, good, strict=True):
        if str(event["id"]) in refused:
            row.errors.append(refused[str(event["id"])])
    return [row._replace(verdict=seen.after.get(f"{act.id} {row.draft.n}")) for row in rows]


def write(request: Request, act: Act, rows: Sequence[Checked]) -> None:
    """The events of good rows, each container under its own code or a new one."""
    own = {name for row in rows for name in row.names}
    store = request.home.store
    wanted = sum(row.alike for row in rows if not row.names)
    fresh = iter(new_codes(wanted, taken=lambda names: store.taken(names) | (own & set(names)), rng=_RNG))
    for row in rows:
        for name in row.names or [next(fresh) for _number in range(row.alike)]:
            act.add("stocked", container=name, **row.fields)
