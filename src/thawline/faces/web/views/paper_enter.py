"""Enter what was written on paper: rows in any order, each at its own time."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.core import events as ev
from thawline.core.ledger import Refusal
from thawline.core.places import FREEZERS
from thawline.core.times import zone_named
from thawline.faces.request import Request
from thawline.faces.tell import tell
from thawline.faces.web.acting import act_id, back_to, done, numbered, perform, told, words_of
from thawline.faces.web.amounts import BadAmountError, amount_ml
from thawline.faces.web.views.history_shown import changed_rows
from thawline.faces.words import Words
from thawline.services import acts, correcting
from thawline.services.acts import Act, BadWhenError
from thawline.services.board import Board, PlaceNow, board, today, warmest
from thawline.services.codes import new_codes
from thawline.services.looking_ahead import Preview
from thawline.services.people import people
from thawline.services.permissions import may
from thawline.services.recording import line_of

ROWS, MOST = 8, 64
_RNG = random.SystemRandom()
_CELLS = ("day", "time", "code", "what", "amount", "who")


class Tick(NamedTuple):
    """A word to tick on paper, and to choose in the form."""

    value: str
    label: str


@dataclass
class Row:
    """A row as it was sent: what stands in its cells, when it was, and what is wrong with it."""

    n: int
    day: str = ""
    time: str = ""
    code: str = ""
    what: str = ""
    amount: str = ""
    who: str = ""
    at: str = ""
    instant: int = 0
    ml: float | None = None
    errors: list[str] = field(default_factory=list)

    @property
    def empty(self) -> bool:
        """Whether nothing was written in it; a day and a name alone are nothing."""
        return not (self.time or self.code or self.what or self.amount)


class Told(NamedTuple):
    """What a row will record, in words."""

    n: int
    when: str
    who: str
    says: list[str]


def _thaw_place(found: Board) -> PlaceNow | None:
    """The refrigerator that is used most: where milk is taken to thaw."""
    fridges = found.of_kind("refrigerator")
    full = [one.place for one in found.verdicts]
    return max(fridges, key=lambda place: full.count(place.name), default=None)


def ticks(found: Board) -> list[Tick]:
    """What can happen on paper, in the household's own places."""
    words = [Tick("expressed", _("expressed"))]
    for places, one in ((found.of_kind("refrigerator"), _("to fridge")), (found.of_kind(*FREEZERS), _("to freezer"))):
        for place in places:
            label = one if len(places) == 1 else _("to %(place)s") % {"place": place.name}
            words.append(Tick(f"to:{place.name}", label))
    if _thaw_place(found) is not None:
        words.append(Tick("thaw", _("thaw")))
    return [*words, Tick("fed", _("fed")), Tick("left", _("left over")), Tick("thrown", _("thrown away"))]


def _count(request: Request) -> int:
    sent = request.POST.get("rows") or request.GET.get("rows") or ""
    count = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 4 else ROWS
    return min(max(count, ROWS), MOST)


def _rows(request: Request, count: int, day: str) -> list[Row]:
    fresh = {"day": day, "who": request.who}
    rows = []
    for n in range(1, count + 1):
        cells = [request.POST.get(f"{key}-{n}", fresh.get(key, "")).replace("\x00", "") for key in _CELLS]
        day_, time, code, what, amount, who = (" ".join(cell.split())[:200] for cell in cells)
        rows.append(Row(n, day_, time, code, what, amount, who))
    return rows


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The form, what it would record, and what records it."""
    if request.method == "GET":
        there = numbered(request)
        if there is not None:
            return there
    store = request.home.store
    act = act_id(request)
    back = back_to(request, reverse("web:now"))
    if act is not None and request.method == "POST" and store.act(act):
        return done(back, act)
    found = board(store, now=request.now)
    count = _count(request)
    more = "more" in request.POST
    rows = _rows(request, min(MOST, count + ROWS) if more else count, today(found))
    if request.method == "GET" or more or "edit" in request.POST:
        return _form(request, found, rows, ())
    if act is None:
        return _form(request, found, rows, [_("This form is too old. Please fill it in again.")])
    return _sent(request, found, rows, Act(act, by=request.who, at=""), back)


def _names(request: Request) -> list[str]:
    """Who may be named: for a parent everybody, for others themselves."""
    if not may(request.home.role, "settle"):
        return [request.who]
    return list(dict.fromkeys([request.who, *(one.name for one in people(request.home.store))]))


def _form(request: Request, found: Board, rows: Sequence[Row], errors: Sequence[str]) -> HttpResponse:
    problems = [{"says": says, "id": None} for says in errors]
    problems += [
        {"says": _("Line %(n)d: %(says)s") % {"n": row.n, "says": says}, "id": f"row-{row.n}"}
        for row in rows for says in row.errors
    ]  # fmt: skip
    names = _names(request)
    context = {
        "rows": rows, "ticks": ticks(found), "problems": problems, "act": act_id(request),
        "people": dict.fromkeys([*names, *(row.who for row in rows if row.who)]),
        "children": [child.name for child in found.children], "child": request.POST.get("child", ""),
        "unit": _("fl oz") if found.units[0] == "fl_oz" else _("mL"), "today": today(found),
        "full": len(rows) >= MOST, "back": back_to(request, ""), "action": request.path,
    }  # fmt: skip
    return render(request, "web/paper_enter.html", context, status=422 if problems else 200)


def _check(row: Row, found: Board, now: int) -> None:
    """Read a row's time and amount; what is wrong is noted in the row."""
    zone = found.settings.zone
    choice, at = ("at", f"{row.day}T{row.time}") if row.time else ("on", "")
    try:
        row.at = acts.when(choice, at, row.day, now=now, zone=zone)
        row.instant = correcting.instant_of(row.at, zone_named(zone))
    except BadWhenError as fault:
        row.errors.append(str(fault))
    if row.what not in [tick.value for tick in ticks(found)]:
        row.errors.append(_("Choose what happened."))
    try:
        row.ml = amount_ml(row.amount, found.units[0]) if row.amount else None
    except BadAmountError as fault:
        row.errors.append(str(fault))
        return
    if row.what == "expressed" and not row.ml:
        row.errors.append(_("Write how much was expressed."))
    if row.what == "left" and row.ml is None:
        row.errors.append(_("Write how much was left over, 0 if nothing was."))
    if row.what in ("fed", "left") and not found.children:
        row.errors.append(_("No child is described yet. Do that in the settings first."))


def _name(rows: Sequence[Row], taken: set[str], fresh: Sequence[str]) -> None:
    """Give expressed milk its codes, and find the containers that the other rows mean."""
    spare = iter(fresh)
    new: set[str] = set()
    for row in rows:
        if row.what == "expressed":
            row.code = row.code or next(spare)
            if row.code in taken or row.code in new:
                row.errors.append(_("The code %(code)s was used before. Choose another.") % {"code": row.code})
            new.add(row.code)
    known = taken | new
    for row in rows:
        if row.what == "expressed":
            continue
        if not row.code:
            row.errors.append(_("Write the code of the container."))
        elif row.code not in known:
            meant = next((name for name in (row.code.upper(), row.code.lower()) if name in known), None)
            if meant is None:
                row.errors.append(_("No container has the code %(code)s.") % {"code": row.code})
            row.code = meant or row.code


def _sent(request: Request, found: Board, rows: list[Row], act: Act, back: str) -> HttpResponse:
    store = request.home.store
    filled = [row for row in rows if not row.empty]
    names = _names(request)
    for row in filled:
        _check(row, found, request.now)
        row.errors += [_("Choose who it was.")] if row.who and row.who not in names else []
    spellings = {name for row in filled for name in (row.code, row.code.upper(), row.code.lower()) if name}
    nameless = sum(row.what == "expressed" and not row.code for row in filled)
    _name(filled, store.taken(sorted(spellings)), new_codes(nameless, taken=store.taken, rng=_RNG))
    if not filled:
        return _form(request, found, rows, [_("Nothing is filled in yet.")])
    if any(row.errors for row in filled):
        return _form(request, found, rows, ())
    owners = _Writer(found, act, request.POST.get("child", "")).write(filled)
    if any(row.errors for row in filled):
        return _form(request, found, rows, ())
    seen = correcting.look_ahead(store, act.events, now=request.now)
    if seen.refused:
        _blame(seen.refused, act, owners)
        return _form(request, found, rows, [told(one) for one in seen.refused if not _owner(one, act, owners)])
    if request.POST.get("sure") == "yes":
        return perform(request, act, back=back, again=lambda errors: _form(request, found, rows, errors))
    return _preview(request, rows, act, owners, seen)


def _owner(refusal: Refusal, act: Act, owners: Sequence[Row]) -> Row | None:
    ids = [str(event["id"]) for event in act.events]
    number = refusal.event.removeprefix("line ")
    if refusal.event in ids:
        return owners[ids.index(refusal.event)]
    return owners[int(number) - 1] if number != refusal.event and number.isdigit() else None


def _blame(refused: Sequence[Refusal], act: Act, owners: Sequence[Row]) -> None:
    for refusal in refused:
        row = _owner(refusal, act, owners)
        if row is not None and told(refusal) not in row.errors:
            row.errors.append(told(refusal))


class _Writer:
    """Writes rows as events in the order of their times, and keeps count of what is in each container (mL)."""

    def __init__(self, found: Board, act: Act, child: str) -> None:
        names = [one.name for one in found.children]
        self.act = act
        self.child = child if child in names else (names or [""])[0]
        self.left = {one.container: one.ml for one in found.verdicts}
        self.feeding = set(found.feeding)
        # Fresh milk stands there until a row takes it elsewhere.
        room = warmest(found)
        self.room = room.name if room is not None else ""
        thaw = _thaw_place(found)
        self.thaw = thaw.name if thaw is not None else ""

    def write(self, rows: Sequence[Row]) -> list[Row]:
        """Write all rows; for each event the row that it came from."""
        owners: list[Row] = []
        order = sorted(rows, key=lambda row: (row.instant, row.what != "expressed", row.what == "left", row.n))
        for index, row in enumerate(order):
            self.act.by, self.act.at = row.who, row.at
            later = next((one.what for one in order[index + 1 :] if one.code == row.code), "")
            self._one(row, later)
            owners += [row] * (len(self.act.events) - len(owners))
        return owners

    def _one(self, row: Row, later: str) -> None:
        code, ml = row.code, row.ml
        if row.what == "expressed":
            self.act.add("expressed", into=[{"container": code, "ml": ml}], place=self.room)
            self.left[code] = ml or 0
        elif row.what == "thrown":
            self.act.add("discarded", container=code, ml=ml)
            self.left[code] = max(0, self.left.get(code, 0) - ml) if ml is not None else 0
        elif row.what in ("fed", "left"):
            self._fed(row, later)
        else:
            self.act.add("moved", container=code, to=self.thaw if row.what == "thaw" else row.what.partition(":")[2])

    def _fed(self, row: Row, later: str) -> None:
        code = row.code
        if row.what == "fed" and later == "left":
            # What was left over stands in a row of its own: it ends this feed.
            if code not in self.feeding:
                self.act.add("feed_began", container=code, child=self.child)
            self.feeding.add(code)
            return
        if row.what == "left" and code not in self.feeding:
            row.errors.append(_("When did drinking begin? Write that on a line of its own, as “fed”."))
        drunk = row.ml if row.what == "fed" else None
        left = row.ml or 0 if row.what == "left" else 0
        if drunk is not None:
            left = round(max(0, self.left.get(code, 0) - drunk), 1)
        self.act.fed(code, self.child, left_ml=left, open_feed=code in self.feeding)
        self.feeding.discard(code)
        self.left[code] = left


def _told(act: Act, owners: Sequence[Row], words: Words) -> list[Told]:
    found: dict[int, Told] = {}
    for event, row in zip(act.events, owners, strict=True):
        when = words.clock(row.instant) if row.time else _("%(day)s, day only") % {"day": words.day(row.instant)}
        one = found.setdefault(row.n, Told(row.n, when, row.who, []))
        one.says.append(tell(ev.decoder.decode(line_of(event)), words))
    return [found[n] for n in sorted(found)]


def _preview(request: Request, rows: Sequence[Row], act: Act, owners: Sequence[Row], seen: Preview) -> HttpResponse:
    words = words_of(request)
    fields = [(f"{key}-{row.n}", getattr(row, key)) for row in rows if not row.empty for key in _CELLS]
    more: Mapping[str, str] = {
        "rows": str(len(rows)), "act": act.id, "child": request.POST.get("child", ""),
        "back": request.POST.get("back", ""),
    }  # fmt: skip
    context = {
        "rows": _told(act, owners, words), "breaches": seen.breaches,
        "changes": changed_rows(correcting.changes(seen), words),
        "fields": [*fields, *((key, value) for key, value in more.items() if value)], "action": request.path,
    }  # fmt: skip
    return render(request, "web/paper_preview.html", context)
