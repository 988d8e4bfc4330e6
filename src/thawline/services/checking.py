"""Check before feeding: one label and one child, a match or a stop, kept in the ledger either way."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from typing import Any, Literal, NamedTuple

from thawline.core import events as ev
from thawline.core.verdict import Verdict
from thawline.records.store import Row
from thawline.services import board, childcare, correcting
from thawline.services.acts import Act, written_now
from thawline.services.board import One
from thawline.services.checking_codes import awaited, in_sight, meant
from thawline.services.checking_why import CLOCK, NOT_OURS, OTHER_CHILD, UNKNOWN, UNSURE, against, drunk_by_another
from thawline.services.childcare_rules import at_services, deadlines
from thawline.services.people import Home
from thawline.services.permissions import may, may_record
from thawline.services.recording import line_of, record
from thawline.services.scanning import plain
from thawline.services.tags import Read, tag_of

# What stands in one family's ledger of another family; no name of theirs.
ANOTHER_FAMILYS, ANOTHER_CHILD = "another family's", "another child"
_LONGEST_LABEL = 60


class Asked(NamedTuple):
    """A check: the child and its household, what was read, and whether a person typed it."""

    home: Home
    child: str
    read: Read | None
    typed: bool = False


class Finding(NamedTuple):
    """What a check found. `why` are codes of `checking_why.WHY`, none at a match.

    `container` is one of the child's own household, with its `verdict` under the rules that count for whoever asks;
    otherwise `label` is what was read. `alike`: codes between which only a person can tell. `theirs`: whose milk it
    is instead, and its code there.
    """

    asked: Asked
    found: Literal["match", "stop"]
    why: tuple[str, ...]
    container: str | None = None
    verdict: Verdict | None = None
    label: str | None = None
    alike: tuple[str, ...] = ()
    theirs: tuple[Home, str] | None = None


def check(homes: Sequence[Home], asked: Asked, *, now: int) -> Finding:
    """Compare a label with a child, at `now`; `homes` are all households of whoever asks. Nothing is recorded."""
    read = asked.read
    if read is None or "\0" in read.code:
        return _stop(asked, NOT_OURS)
    others = [home for home in homes if home.store.key != asked.home.store.key]
    if read.tag is None:
        return _of_code(asked, read.code, others, now)
    if read.tag == tag_of(asked.home.store):
        found = meant(asked.home, read.code, typed=asked.typed, now=now)
        return _of_found(asked, found, now) if found else _stop(asked, UNKNOWN)
    theirs = next((home for home in others if tag_of(home.store) == read.tag), None)
    return _stop(asked, NOT_OURS) if theirs is None else _of_others(asked, theirs, read.code, now)


def _of_code(asked: Asked, code: str, others: Sequence[Home], now: int) -> Finding:
    """A bare code is looked for in the child's household; where another family has it as well, nobody can tell."""
    found = meant(asked.home, code, typed=asked.typed, now=now)
    elsewhere = next((home for home in others if _there(home, code, asked, now)), None)
    if found and elsewhere is not None:
        return _stop(asked, UNSURE)
    if found:
        return _of_found(asked, found, now)
    return _stop(asked, UNKNOWN) if elsewhere is None else _of_others(asked, elsewhere, code, now)


def _there(home: Home, code: str, asked: Asked, now: int) -> bool:
    """Whether that household has milk of this code, still there, or on its way to the service."""
    if awaited(home, code, now=now):
        return True
    found = meant(home, code, typed=asked.typed, now=now)
    seen = [one for code in found if (one := board.one(home.store, code, now=now)) is not None]
    return any(one.verdict.standing != "gone" for one in seen)


def _of_others(asked: Asked, home: Home, code: str, now: int) -> Finding:
    found = meant(home, code, typed=asked.typed, now=now)
    theirs = (home, found[0] if len(found) == 1 else "")
    return Finding(asked, "stop", (OTHER_CHILD,), label=ANOTHER_FAMILYS, theirs=theirs)


def _of_found(asked: Asked, codes: Sequence[str], now: int) -> Finding:
    if len(codes) > 1:
        return _stop(asked, UNSURE)._replace(alike=tuple(codes))
    home = asked.home
    one = board.one(home.store, codes[0], now=now)
    if one is None:
        return _stop(asked, UNKNOWN)
    verdict = _strict(home, one, now)
    why = against(board.board(home.store, now=now), verdict, asked.child, held=bool(one.held))
    if drunk_by_another(home.store, verdict, asked.child, now=now):
        why = (*why, "drunk")
    if board.clock_wrong(home.store, now):
        # What was noted last does not count yet, and no time left is right.
        why = (*why, CLOCK)
    return Finding(asked, "stop" if why else "match", why, codes[0], verdict)


def _strict(home: Home, one: One, now: int) -> Verdict:
    """The verdict under the rules that count where it lies: at childcare the service's beside the household's."""
    name = one.verdict.container
    if not may(home.role, "serve"):
        return at_services(home.store, now=now, options=True).get(name, one.verdict)
    service = childcare.service(home.store, home.service)
    found = [] if service is None else deadlines(home.store, service, [name], now=now, options=True)
    return found[0].found if found else one.verdict


def _stop(asked: Asked, why: str) -> Finding:
    return Finding(asked, "stop", (why,), label=_label(asked))


def _label(asked: Asked) -> str:
    """What was read, as it is kept: a stranger's text, short and plain."""
    return plain(asked.read.code if asked.read is not None else "")[:_LONGEST_LABEL] or "?"


# Kept


def keep(found: Finding, act: str, *, by: str, now: int) -> bool:
    """Record a check under this id, once; between two families in both ledgers, without a name of the other.

    False where it was recorded already, or whoever asks may not.
    """
    home = found.asked.home
    entries = [(home, by, _own(found))]
    if found.theirs is not None:
        entries.append((found.theirs[0], found.theirs[0].member, _others(found)))
    if not all(may_record(one.role, [{"kind": "checked"}]) for one, _, _ in entries):
        return False
    with ExitStack() as both:
        # Always in the same order, so that two phones do not wait for each other.
        for one, _, _ in sorted(entries, key=lambda entry: entry[0].store.key):
            both.enter_context(one.store.transaction())
        if home.store.act(act):
            return False
        for one, who, fields in entries:
            _record(one, act, who, fields, now)
    return True


def _own(found: Finding) -> dict[str, Any]:
    return {"child": found.asked.child, "found": found.found, "container": found.container, "label": found.label,
            "why": list(found.why) or None}  # fmt: skip


def _others(found: Finding) -> dict[str, Any]:
    code = found.theirs[1] if found.theirs is not None else ""
    label = None if code else _label(found.asked)
    return {"child": ANOTHER_CHILD, "found": "stop", "container": code or None, "label": label, "why": [OTHER_CHILD]}


def _record(home: Home, act: str, by: str, fields: dict[str, Any], now: int) -> None:
    zone, _units = board.manners(home.store, now=now)
    written = Act(act, by=by, at=written_now(now, zone))
    written.add("checked", **fields)
    record(home.store, [line_of(event) for event in written.events], now=now, person=home.member)


class Kept(NamedTuple):
    """A check as it was recorded."""

    event: ev.Checked
    at: int
    by: str


def kept(home: Home, act: str, *, now: int) -> Kept | None:
    """A check that was recorded in this household under that id; None where there is none, or it was taken back.

    At childcare only what the service's own staff checked.
    """
    rows: list[Row] = [row for row in home.store.act(act) if row.kind == "checked" and _seen(home, row)]
    if len(rows) != 1 or correcting.voids_of(home.store, [rows[0].event_id], now=now).get(rows[0].event_id):
        return None
    event = correcting.event_of(rows[0])
    assert isinstance(event, ev.Checked)  # noqa: S101  (its kind says so)
    return Kept(event, rows[0].at, correcting.who_did(rows[0]))


def _seen(home: Home, row: Row) -> bool:
    if not may(home.role, "serve"):
        return True
    service = childcare.service(home.store, home.service)
    return service is not None and row.person in service.staff


def again(home: Home, event: ev.Checked, *, now: int) -> Finding | None:
    """The same check at `now`; None where it found no container of this household."""
    if event.container is None or event.child == ANOTHER_CHILD:
        return None
    asked = Asked(home, event.child, Read(tag_of(home.store), event.container))
    if may(home.role, "serve") and event.container not in in_sight(home, now=now):
        # It left the window: where it is since is not theirs to see.
        return Finding(asked, "stop", ("gone",), event.container)
    return _of_found(asked, [event.container], now)
