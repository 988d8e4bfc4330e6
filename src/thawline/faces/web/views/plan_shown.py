"""The plan as the page shows it: chores by night and day, feeds, what is short, what to pack, and how good it is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from itertools import groupby
from typing import NamedTuple
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.times import DAY, HOUR, MINUTE, local
from thawline.faces.web.lines import do_url, url_of
from thawline.faces.web.plan_words import LEAST_ML, Teller, roughly
from thawline.faces.web.views.plan_done import INTO
from thawline.faces.words import FORMS, STEPS, Words
from thawline.services.board import Board
from thawline.services.plan_kinds import PlanChore, PlanFeed, PlanNow, PlanPart
from thawline.services.recording import new_act

DOES = {
    "chill": STEPS["refrigerate"],
    "freeze": STEPS["freeze"],
    "thaw": STEPS["thaw"],
    "pack": STEPS["cooler"],
    "discard": gettext_lazy("Throw away"),
    "measure": gettext_lazy("Measure it"),
    "look_for_ice": gettext_lazy("Look for ice"),
}
HAPPENED = {
    "chill": gettext_lazy("Chilled now"),
    "freeze": gettext_lazy("In the freezer now"),
    "thaw": gettext_lazy("Out to thaw now"),
    "pack": gettext_lazy("Packed now"),
    "discard": gettext_lazy("Thrown away"),
}
# Why it was thrown away, as it is kept in the ledger.
_WHY = {"past": "past its limit", "not_needed": "not needed", "left_over": "not needed"}
_EVENING = 17
# A chore further ahead than this is not ticked off with one tap, as that would most likely be a slip.
_NEAR = 12 * HOUR
# What is due within this is the page's main button; what comes later has a plain one.
_DUE = 90 * MINUTE
_SOON = 20 * MINUTE
_FIVE = 5 * MINUTE
_FAR = 366 * DAY
# So many feeds, and nights or days, are told in full; those after them are folded.
FEEDS, TURNS = 3, 2
# So many containers of a chore are told at once, if there are more than one above that.
MILKS = 4


class Milk(NamedTuple):
    """A container in a chore or a feed."""

    code: str
    ml_text: str
    url: str
    says: str


class Chore(NamedTuple):
    """One chore: what, until when, of which containers, why, and what ticks it off."""

    title: str
    by: str
    water: bool
    best: str
    night: bool
    overdue: bool
    due: bool
    milks: list[Milk]
    folded: list[Milk]
    folded_says: str
    coming: str
    why: str
    fields: list[tuple[str, str]]
    button: str
    form_url: str
    links: list[tuple[str, str]]
    bottles: str
    trip_url: str
    over_url: str


class Part(NamedTuple):
    """Milk of one container for a feed; `why` where it differs from that of the part before."""

    milk: Milk
    why: str


class Feed(NamedTuple):
    """An expected feed."""

    hour: str
    day: str
    who: str
    ml_text: str
    parts: list[Part]
    short: str
    pour: str
    url: str


class Day(NamedTuple):
    """A night or a day, with its chores; `says` how many there are."""

    key: str
    name: str
    says: str
    chores: list[Chore]


class FeedDay(NamedTuple):
    """The feeds of a night or a day that are folded away."""

    name: str
    says: str
    feeds: list[Feed]


class Shown:
    """Puts a plan into the lines of the page; `night_until` is when the household's night ends (06:00).

    `services`: the names of its childcare services, to which what is packed is handed over.
    """

    def __init__(
        self, plan: PlanNow, board: Board, words: Words, *, night_until: str, back: str, services: Sequence[str] = ()
    ) -> None:
        self.services = services
        self.plan, self.words, self.back = plan, words, back
        self.there = {one.container: one for one in board.verdicts}
        self.children = len(board.children)
        self.tell = Teller(plan, words)
        self.sizes = {one.where: one for one in plan.portions}
        hour, _colon, minute = night_until.partition(":")
        self.day_begins = time(int(hour), int(minute or 0))

    # When

    def _turn(self, at: int) -> int:
        """Which night and day from now: 0 until this coming night ends, then 1 and so on."""
        here, there = (self._date(one) for one in (self.plan.now, max(at, self.plan.now)))
        return (there.date() - here.date()).days

    def _date(self, at: int) -> datetime:
        when = local(at, self.words.zone).replace(tzinfo=None)
        return when - timedelta(hours=self.day_begins.hour, minutes=self.day_begins.minute)

    def tonight(self, at: int) -> bool:
        """Whether it falls into this day and the coming night."""
        return self._turn(at) == 0

    def lacks_when(self) -> str:
        """Where what may be missing is told: before what is to be done tonight, after it, or after all days."""
        lacks = self.tell.lacks()
        turn = self._turn(lacks.at) if lacks is not None else TURNS
        return "first" if turn == 0 else "soon" if turn < TURNS else "later"

    def turn_name(self, turn: int) -> str:
        """Tonight, tomorrow, or the day by its name."""
        now = self.words.local(self.plan.now)
        night = now.time() < self.day_begins
        if turn == 0:
            return _("Tonight") if night or now.hour >= _EVENING else _("Today and tonight")
        if turn == 1:
            return _("Today") if night else _("Tomorrow")
        first = self._date(self.plan.now) + timedelta(days=turn)
        noon = datetime.combine(first.date(), time(12), tzinfo=self.words.zone)
        name = self.words.day(int(noon.timestamp()) * 1_000_000)
        return name[:1].upper() + name[1:]

    # What is there

    def milk(self, code: str, ml: float | None = None) -> Milk:
        """A container of the board, or one that is named only."""
        found = self.there.get(code)
        if found is None:
            return Milk(code, self.words.ml(ml) if ml is not None else "", "", "")
        says = ", ".join(filter(None, [str(FORMS[found.form]), found.place or ""]))
        return Milk(code, self.words.ml(found.ml if ml is None else ml), url_of(code), says)

    # Chores

    def days(self) -> tuple[list[Day], list[Day]]:
        """The chores of each night and day: tonight always, and tomorrow; and those after them."""
        turns: dict[int, list[Chore]] = {0: []}
        filled: set[tuple[int, str]] = set()
        # Where no feed is foretold, neither is milk to come.
        for one in sorted((one for one in self.plan.chores if self.plan.feeds or not one.coming), key=_order):
            turn = self._turn(one.at)
            found = self._chore(one)
            # Which bottles to fill is told once for each day and place.
            if (turn, one.where) in filled:
                found = found._replace(bottles="")
            elif found.bottles:
                filled.add((turn, one.where))
            turns.setdefault(turn, []).append(found)
        days = [(turn, self._day(turn, chores)) for turn, chores in sorted(turns.items())]
        return [day for turn, day in days if turn < TURNS], [day for turn, day in days if turn >= TURNS]

    def _day(self, turn: int, chores: list[Chore]) -> Day:
        says = ngettext("%(n)d thing to do", "%(n)d things to do", len(chores)) % {"n": len(chores)}
        return Day(f"turn-{turn}", self.turn_name(turn), says, chores)

    def _chore(self, one: PlanChore) -> Chore:
        milks = [self._handled(one, code) for code in one.containers if code in self.there]
        coming = _("About %(ml)s that is still to be expressed") % {"ml": self.tell.about(one.ml)} if one.coming else ""
        does = one.does in HAPPENED and bool(milks) and not _in_water(one)
        near = self.tonight(one.at) and one.at <= self.plan.now + (MINUTE if one.does == "discard" else _NEAR)
        direct = does and near and (one.does == "discard" or one.to is not None)
        first = MILKS if len(milks) > MILKS + 1 else len(milks)
        return Chore(
            self._title(one), self._by(one), _in_water(one), self._best(one), one.night,
            one.does != "discard" and one.by < self.plan.now, one.at <= self.plan.now + _DUE,
            milks[:first], milks[first:], self._folded(milks[first:]), coming,
            self.tell.says(one.reason), self._fields(one, milks) if direct else [],
            str(HAPPENED.get(one.does, "")) if does else "", self._form_url(one, milks) if milks else "",
            self._singly(one, milks), *self._along(one, milks),
        )  # fmt: skip

    def _handled(self, one: PlanChore, code: str) -> Milk:
        """A container of a chore: with what the chore is about, where that is a part of it."""
        there = self.there[code].ml
        part = len(one.containers) == 1 and 0 < one.ml < there - 1
        found = self.milk(code)
        return found._replace(ml_text=_("about %(ml)s") % {"ml": self.tell.about(one.ml)}) if part else found

    def _folded(self, milks: Sequence[Milk]) -> str:
        ml = sum(self.there[one.code].ml for one in milks)
        told = ngettext("and %(n)d more, %(ml)s", "and %(n)d more, %(ml)s", len(milks))
        return told % {"n": len(milks), "ml": self.words.ml(ml)} if milks else ""

    def _title(self, one: PlanChore) -> str:
        where = one.to or (self.tell.where(one.where) if one.does == "pack" else "")
        told = str(DOES[one.does])
        if _in_water(one):
            return _("Thaw in water")
        return _("%(do)s: %(place)s") % {"do": told, "place": where} if where else told

    def _by(self, one: PlanChore) -> str:
        """The latest moment; empty where it is this one, or none that matters."""
        if one.does == "discard" or one.by - self.plan.now > _FAR:
            return ""
        if _in_water(one):
            return self.words.clock(max(roughly(_needed(one)), self.plan.now))
        # The feed that it is thawed for is an estimate: earlier by some minutes, never later.
        by = one.by - one.by % _FIVE if one.does == "thaw" else one.by
        by = one.by if by <= self.plan.now else by
        return "" if 0 <= by - self.plan.now < MINUTE else self.words.until(by)

    def _best(self, one: PlanChore) -> str:
        if one.does == "discard":
            return self._discarded(one) if one.at - self.plan.now >= MINUTE else ""
        if _in_water(one) or (one.by - one.at < _SOON and one.by - self.plan.now >= MINUTE):
            return ""
        if one.at <= self.plan.now + _SOON:
            return _("now") if one.by - self.plan.now < MINUTE else _("best now")
        same = self.words.day(one.at) == self.words.day(one.by)
        told = self.words.hour(one.at) if same else self.words.clock(one.at)
        return _("best around %(time)s") % {"time": told}

    def _discarded(self, one: PlanChore) -> str:
        """When something is over that is not yet: by its own time, or at a moment to look for it."""
        until = dict(one.reason.args).get("until")
        if isinstance(until, (int, float)):
            return _("after %(time)s, if it is still there") % {"time": self.words.until(int(until))}
        return _("look around %(time)s whether some is left") % {"time": self.words.clock(one.at)}

    def _fields(self, one: PlanChore, milks: Sequence[Milk]) -> list[tuple[str, str]]:
        return [*self._about(one, milks), ("act", new_act()), ("back", self.back)]

    def _about(self, one: PlanChore, milks: Sequence[Milk]) -> list[tuple[str, str]]:
        codes = [(name, milk.code) for milk in milks for name in ("of", "code")]
        found = [("does", one.does), *codes]
        if one.does in INTO and one.to:
            found.append(("to", one.to))
        if one.does == "discard" and one.reason.code in _WHY:
            found.append(("why", _WHY[one.reason.code]))
        return found

    def _form_url(self, one: PlanChore, milks: Sequence[Milk]) -> str:
        if one.does == "measure" or _in_water(one):
            return ""
        if one.does == "pack" and one.to is None:
            chosen = [("code", milk.code) for milk in milks]
            return f"{reverse('web:trip_pack')}?{urlencode([*chosen, ('back', self.back)])}"
        return f"{reverse('web:plan_done')}?{urlencode([*self._about(one, milks), ('back', self.back)])}"

    def _singly(self, one: PlanChore, milks: Sequence[Milk]) -> list[tuple[str, str]]:
        """What is noted of one container after the other, with its label."""
        if one.does == "measure":
            return self._each(_("Note the temperature"), milks, "measure")
        return self._each(_("It is in the water"), milks, "warm", how="warm_water") if _in_water(one) else []

    def _each(self, label: str, milks: Sequence[Milk], verb: str, **preset: str) -> list[tuple[str, str]]:
        many = len(milks) > 1
        return [
            (f"{label}: {one.code}" if many else label, do_url(one.code, verb, **preset, back=self.back))
            for one in milks
        ]  # fmt: skip

    def _along(self, one: PlanChore, milks: Sequence[Milk]) -> tuple[str, str, str]:
        """For what is packed: which bottles to pour it into, how long a cooler holds, and where it is handed over."""
        if one.does != "pack":
            return "", "", ""
        codes = [("code", milk.code) for milk in milks]
        trip = f"{reverse('web:trip')}?{urlencode(codes)}" if codes else ""
        name = one.where if one.where in self.services else next(iter(self.services), "")
        over = f"{reverse('web:hand_over')}?{urlencode([('service', name), *codes])}" if codes and name else ""
        return self.tell.bottles(self.sizes.get(one.where)), trip, over

    # Feeds

    def feeds(self) -> tuple[list[Feed], list[FeedDay]]:
        """The next feeds in full, and those after them by day."""
        rows = sorted((one for one in self.plan.feeds if one.at > self.plan.now - HOUR), key=lambda one: one.at)
        later = groupby(rows[FEEDS:], key=lambda one: self._turn(one.at))
        told = {one.where: one for one in reversed(rows[:FEEDS])}
        first = [self._feed(one, pour=told[one.where] is one) for one in rows[:FEEDS]]
        return first, [self._feed_day(turn, list(found)) for turn, found in later]

    def _feed_day(self, turn: int, rows: list[PlanFeed]) -> FeedDay:
        says = ngettext("%(n)d feed, about %(ml)s", "%(n)d feeds, about %(ml)s", len(rows)) % {
            "n": len(rows), "ml": self.tell.about(sum(one.ml for one in rows))}  # fmt: skip
        return FeedDay(self.turn_name(turn), says, [self._feed(one) for one in rows])

    def _feed(self, one: PlanFeed, *, pour: bool = False) -> Feed:
        who = ", ".join(filter(None, [one.child if self.children > 1 else "", self.tell.where(one.where)]))
        first = next((part.container for part in one.parts if not part.coming and part.container in self.there), None)
        short = (
            _("about %(ml)s may be missing") % {"ml": self.tell.about(one.short_ml)}
            if (one.short_ml >= LEAST_ML)
            else ""
        )
        url = do_url(first, "feed", back=self.back) if first is not None else ""
        at = roughly(one.at)
        return Feed(
            self.words.hour(at), self.words.day(at), who, self.tell.about(one.ml), self._parts(one),
            short, self._pour(one) if pour else "", url,
        )  # fmt: skip

    def _parts(self, feed: PlanFeed) -> list[Part]:
        """What is there, then in one all that is yet to be expressed; a reason is told once in a row."""
        there = [one for one in feed.parts if not one.coming]
        told = [self.tell.says(one.reason) for one in there]
        found = [
            Part(self._taken(one), why if why != before else "")
            for one, why, before in zip(there, told, ["", *told], strict=False)
        ]
        # What no part gives and is not short either is counted on, but on no session of its own.
        coming = feed.ml - sum(one.ml for one in there) - feed.short_ml
        if coming >= LEAST_ML:
            found.append(Part(Milk("", self.tell.about(coming), "", _("milk still to be expressed")), ""))
        return found

    def _taken(self, one: PlanPart) -> Milk:
        """What is taken of a container: all of it to the mL, of a part of it about how much."""
        milk = self.milk(one.container, one.ml)
        there = self.there.get(one.container)
        whole = there is not None and one.ml >= there.ml - 1
        return milk if whole else milk._replace(ml_text=self.tell.about(one.ml))

    def _pour(self, one: PlanFeed) -> str:
        if not 0 < one.pour_ml < one.ml or one.step_ml <= 0:
            return ""
        return self.tell.pours(one.pour_ml, one.step_ml)


def _in_water(one: PlanChore) -> bool:
    return one.does == "thaw" and one.reason.code == "thaw_quick"


def _needed(one: PlanChore) -> int:
    at = dict(one.reason.args).get("at", one.by)
    return int(at) if isinstance(at, (int, float)) else one.by


def _order(one: PlanChore) -> tuple[bool, int, int, str]:
    """By time; what is only to be thrown away comes after what keeps milk."""
    return one.does == "discard", one.at, one.by, one.key
