"""What is said of milk at a childcare service, on pages and on paper alike: the day's sheet, the day's record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from django.utils import formats
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core import events as ev
from thawline.core.verdict import Verdict
from thawline.faces.tell import HOW
from thawline.faces.words import FORMS, STANDINGS, SURE, Words, words_for
from thawline.services import labels
from thawline.services.board import board
from thawline.services.childcare import ServiceNow, in_window, service
from thawline.services.childcare_day import Happened
from thawline.services.childcare_facts import HEADINGS, Line, chosen, facts, lines
from thawline.services.childcare_rules import WITHIN, Deadline, child_of, deadlines, ground_there
from thawline.services.known import Ground, names_touched
from thawline.services.people import Home

HEADS = {
    "arrival": gettext_lazy("When it arrives"),
    "check": gettext_lazy("Before every feed"),
    "thaw": gettext_lazy("Thaw"),
    "warm": gettext_lazy("Warm"),
    "never": gettext_lazy("Never"),
    "leftover": gettext_lazy("What is left after a feed"),
    "unused": gettext_lazy("Milk that was not fed"),
    "also": gettext_lazy("Also"),
    "mix_up": gettext_lazy("If a child got another child's milk"),
}
DATES = {
    "expressed": gettext_lazy("Expressed"),
    "frozen": gettext_lazy("Frozen"),
    "received": gettext_lazy("Received"),
    "left_freezer": gettext_lazy("Out of the freezer"),
    "thawed": gettext_lazy("Thawed, no ice left"),
}
UNUSED = {
    "return": gettext_lazy("Milk that was not fed goes home today, in its container."),
    "return_or_mark": gettext_lazy("Milk that was not fed goes home today, or is marked “do not use”."),
    "discard": gettext_lazy("Milk that was not fed today is thrown away."),
    "ask": gettext_lazy("Milk that was not fed: ask the service for its rule."),
}
STAYS = {
    "room": gettext_lazy("if it stays at room temperature"),
    "cooler": gettext_lazy("if it stays in the cooler with ice packs"),
    "refrigerator": gettext_lazy("if it stays in the refrigerator"),
    "frozen": gettext_lazy("if it stays frozen"),
    "freezer": gettext_lazy("if it stays in the freezer"),
}
# The headings under which limits for home are told.
LIMITS = ("thaw", "leftover", "unused")
# Lines to write on for a service that notes by hand, beside those for the containers.
SPARE_LINES = 4


class Row(NamedTuple):
    """A container on the sheet: big words first; `by` names the rule that gives its time."""

    code: str
    ml: str
    child: str
    name_line: bool
    form: str
    dates: tuple[tuple[str, str], ...]
    then: str
    until: str
    by: str
    standing: str
    address: str
    says: str
    stays: str


class Section(NamedTuple):
    """A heading with what to do: each line with the number of its source."""

    heading: str
    title: str
    lines: tuple[tuple[str, int], ...]


class Handing(NamedTuple):
    """The day's sheet of one service."""

    service: ServiceNow
    household: str
    printed: str
    rows: tuple[Row, ...]
    sections: tuple[Section, ...]
    sources: tuple[str, ...]
    rule: str
    rule_source: str
    guidelines: tuple[tuple[str, str], ...]
    unused: str
    write: int
    hospital: tuple[str, ...]
    clock_wrong: bool = False

    @property
    def by_hand(self) -> bool:
        """Whether the day's record is written on the sheet, for nobody signs in there."""
        return not self.service.staff


def handing(home: Home, there: ServiceNow, *, now: int, base: str) -> Handing:
    """The sheet as it is now: what is in the service's window, most urgent first; raises `GuidelineError`."""
    found = board(home.store, now=now)
    words = words_for(found.settings.zone, now, found.units)
    codes = in_window(home.store, there.name, now=now)
    strict = deadlines(home.store, there, codes, now=now)
    ground = ground_there(home.store, there, now=now)
    printed = {one.code: one for one in labels.labels(home, codes, now=now, base=base)}
    rows = tuple(_row(one, printed[one.found.container], words) for one in strict if one.found.container in printed)
    rule = chosen(there.rule)
    said = told_lines(there.rule, ground, [one.found for one in strict])
    hospital = {child_of(found, one.found) or "" for one in strict} & found.settings.hospital
    return Handing(
        there, home.name, dated(now, words), rows,
        *sections(said),
        rule.name if rule is not None else "", rule.source if rule is not None else "",
        tuple((one.name, one.source) for one in ground.rules.all),
        str(UNUSED[facts(there.rule).unused]), len(rows) + SPARE_LINES, tuple(sorted(hospital)),
        found.clock_wrong,
    )  # fmt: skip


def told_lines(rule: str, there: Ground, milk: Sequence[Verdict]) -> dict[str, tuple[Line, ...]]:
    """What to do, by heading; where all milk is under a hospital's care without what tells limits for home."""
    said = lines(rule, there.rules)
    if milk and all(one.use_by is None for one in milk):
        return {heading: them for heading, them in said.items() if heading not in LIMITS}
    return said


def sections(said: Mapping[str, Sequence[Line]]) -> tuple[tuple[Section, ...], tuple[str, ...]]:
    """What to do by heading, and the sources that its lines point to by number, from 1."""
    sources = list(dict.fromkeys(source_of(line) for heading in HEADINGS for line in said.get(heading, ())))
    found = [
        Section(
            heading, str(HEADS[heading]), tuple((one.says, sources.index(source_of(one)) + 1) for one in said[heading])
        )
        for heading in HEADINGS
        if said.get(heading)
    ]
    return tuple(found), tuple(sources)


def source_of(line: Line) -> str:
    """The source of a line, and how sure it is where it was not read in the publisher's own text."""
    return line.source if line.mark == "seen" else f"{line.source} ({SURE.get(line.mark, line.mark)})"


def _row(one: Deadline, label: labels.Label, words: Words) -> Row:
    found = one.found
    return Row(
        found.container, words.ml(found.ml), label.child, label.name_line, form_word(found),
        tuple(dates(label, words)), once_thawed(one, words), until(found, words), one.by if timed(found) else "",
        standing_word(found), label.address, limit_says(one), stays(label) if timed(found) else "",
    )  # fmt: skip


def stays(label: labels.Label) -> str:
    """Where it has to stay for its time to hold; empty where it holds as it is."""
    kind = "freezer" if "freezer" in label.stays else label.stays
    return str(STAYS[kind]) if kind in STAYS else ""


def dates(label: labels.Label, words: Words) -> list[tuple[str, str]]:
    """The dates that a label bears, each by its name; empty where it is to be written by hand."""
    found = []
    for one in label.dates:
        if one.what in DATES and one.at is not None:
            found.append((str(DATES[one.what]), day_word(one.at, words) if one.day_only else dated(one.at, words)))
        elif one.what in ("received", "thawed"):
            found.append((str(DATES[one.what]), ""))
    return found


def dated(at: int, words: Words) -> str:
    """A day and time that still says the same tomorrow: "Wed 3 Feb 14:10"."""
    return f"{day_word(at, words)} {words.hour(at)}"


def day_word(at: int, words: Words) -> str:
    """A day that still says the same tomorrow: "Wed 3 Feb"."""
    when, here = words.local(at), words.local(words.now)
    return formats.date_format(when, "D j M" if when.year == here.year else "j M Y")


def ends(at: int, words: Words) -> str:
    """An end that still says the same tomorrow; midnight is the end of the day before."""
    when = words.local(at)
    if (when.hour, when.minute, when.second) == (0, 0, 0):
        return _("end of %(day)s") % {"day": day_word(at - 1, words)}
    return dated(at, words)


def timed(found: Verdict) -> bool:
    """Whether it is within its limits, so that a time stands beside it."""
    return found.standing in WITHIN and found.use_by is not None


def until(found: Verdict, words: Words) -> str:
    """Until when it may be fed, in words; empty where no time stands beside it."""
    if not timed(found) or found.use_by is None:
        return ""
    by = ends(found.use_by, words)
    return _("%(time)s, estimated") % {"time": by} if found.estimated else by


def standing_word(found: Verdict) -> str:
    """How it stands, in words; a hospital's care is the unit's to judge."""
    return str(_("follow the care team") if found.use_by is None else STANDINGS[found.standing])


def form_word(found: Verdict) -> str:
    """Fresh, frozen, thawing, thawed, or warmed."""
    return str(_("warmed") if found.warmed is not None and found.form != "frozen" else FORMS[found.form])


def limit_says(one: Deadline) -> str:
    """The rule that gives the time, in its own words."""
    return one.why.says if one.why is not None else ""


def once_thawed(one: Deadline, words: Words) -> str:
    """Until when frozen milk may be fed if it goes into the refrigerator now; empty where that is not known."""
    if one.thawed is None:
        return ""
    return _("Thawed in the refrigerator from now on: use by %(time)s") % {"time": ends(one.thawed, words)}


# The day's record

FOUND = {"match": gettext_lazy("checked, a match"), "stop": gettext_lazy("checked, stopped")}
_PLAIN: Mapping[type, Promise] = {
    ev.HandedOver: gettext_lazy("handed over"),
    ev.Returned: gettext_lazy("given back"),
    ev.Poured: gettext_lazy("poured into this container"),
    ev.Incident: gettext_lazy("a child got milk that was not meant for it"),
}


def happened_says(one: Happened, service: ServiceNow, words: Words) -> str:
    """One line of the day's record without its time; places that are not the service's own are not named."""
    event = one.event
    plain = _PLAIN.get(type(event))
    if plain is not None:
        return str(plain)
    if isinstance(event, (ev.Received, ev.Moved)):
        return _went(event, service)
    if isinstance(event, ev.Warmed):
        return _("warmed %(how)s") % {"how": HOW[event.how]}
    if isinstance(event, ev.ThawSeen):
        return _("ice still there") if event.ice else _("no ice left")
    if isinstance(event, ev.Measured):
        return _("measured %(temp)s") % {"temp": words.c(event.temp_c)}
    if isinstance(event, ev.Checked):
        return str(FOUND[event.found])
    return _fed(one, words)


def tell_there(events: Sequence[ev.AnyEvent], home: Home, words: Words) -> str:
    """What a service's staff just recorded, in a sentence; nothing of the family's home is named."""
    found = service(home.store, home.service)
    if found is None:
        return _("Recorded.")
    told: dict[str, list[str]] = {}
    for event in events:
        names = names_touched(event)
        says = happened_says(Happened(0, "", event, names[0] if names else None), found, words) or _("recorded")
        told.setdefault(says, []).extend(names[:1])
    # What was noted of several in one go is one sentence.
    rows = list(told.items())[-3:]
    return " ".join(
        f"{', '.join(codes)}: {says}." if codes else f"{says[:1].upper()}{says[1:]}."
        for says, codes in ((says, list(dict.fromkeys(codes))) for says, codes in rows)
    )


def given_says(event: ev.Received, service: ServiceNow) -> str:
    """What was handed over and received in one go."""
    where = _where(event.place, service)
    return _("handed over, %(where)s") % {"where": where} if where else _("handed over")


def _where(place: str, service: ServiceNow) -> str | None:
    return {service.place: _("into the refrigerator"), service.freezer: _("into the freezer")}.get(place)


def _went(event: ev.Received | ev.Moved, service: ServiceNow) -> str:
    where = _where(event.place if isinstance(event, ev.Received) else event.to, service)
    if isinstance(event, ev.Received):
        return _("received, %(where)s") % {"where": where} if where else _("received")
    return where or _("taken away")


def _fed(one: Happened, words: Words) -> str:
    event = one.event
    if isinstance(event, ev.FeedBegan):
        return _("%(child)s began to drink") % {"child": event.child}
    if isinstance(event, ev.FeedEnded) and one.ml is None:
        return _("fed, left %(left)s") % {"left": words.ml(event.left_ml)}
    if isinstance(event, ev.FeedEnded):
        return _("fed %(ml)s, left %(left)s") % {"ml": words.ml(one.ml or 0), "left": words.ml(event.left_ml)}
    if isinstance(event, ev.Discarded) and one.ml is None:
        return _("thrown away")
    if isinstance(event, ev.Discarded):
        why = f" ({event.why})" if event.why else ""
        return _("thrown away %(ml)s%(why)s") % {"ml": words.ml(one.ml or 0), "why": why}
    if isinstance(event, ev.Counted):
        return _("%(ml)s in it, counted") % {"ml": words.ml(event.ml)}
    return ""


def counted_word(rows: Sequence[Row]) -> str:
    """How many containers."""
    return ngettext("%(n)d container", "%(n)d containers", len(rows)) % {"n": len(rows)}
