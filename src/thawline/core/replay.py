"""Replay a ledger under a guideline: everything the contract promises, as one plain object."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from . import events as ev
from . import guideline as guidelines
from .component import Bounds
from .fold import Fold, fold
from .guideline import Guideline
from .judge import Judge
from .ledger import Entry, Ledger, read
from .places import Places
from .rules import Rules
from .times import BadTimeError, day_start, is_date, parse_instant, written, zone_named
from .verdict import Verdict, verdict

_OUT_OF_HAND = {"breached": 0, "past": 0, "outside": 0, "gone": 2}


class Settings(NamedTuple):
    """The household as it stands at `now`."""

    zone: str
    guideline: str | None
    also: tuple[str, ...]
    children: set[str]
    hospital: set[str]


class Replay(NamedTuple):
    """A judged ledger: settings, guidelines in force, verdicts (most urgent first), and the fold they come from."""

    now: int
    settings: Settings
    guideline: Guideline
    also: tuple[Guideline, ...]
    verdicts: list[Verdict]
    fold: Fold
    ledger: Ledger


def settings_of(entries: list[Entry], now: int) -> Settings:
    """The settings in force at `now`; before the first of a kind, that first one."""
    zone = "UTC"
    guideline: str | None = None
    also: tuple[str, ...] = ()
    care: dict[str, str] = {}
    seen_household = False
    for entry in entries:
        event = entry.event
        if isinstance(event, ev.Household) and (entry.at <= now or not seen_household):
            seen_household = True
            zone, guideline, also = event.zone, event.guideline, tuple(event.also)
        elif isinstance(event, ev.Child) and (entry.at <= now or event.child not in care):
            care[event.child] = event.care
    hospital = {name for name, how in care.items() if how == "hospital"}
    return Settings(zone, guideline, also, set(care), hospital)


class Library:
    """Guidelines by id: the shipped ones, and files given beside them."""

    def __init__(self, given: Mapping[str, Guideline] | None = None) -> None:
        self.given = dict(given or {})

    def find(self, name: str) -> Guideline:
        """The guideline of that id; raises `GuidelineError`."""
        return self.given[name] if name in self.given else guidelines.shipped(name)

    def homes(self) -> tuple[Guideline, ...]:
        """The shipped home guidelines, the first to stand in at the head."""
        all_of_them = [self.find(name) for name in guidelines.shipped_ids()]
        return tuple(one for one in all_of_them if one.role == "home")


def rules_of(settings: Settings, guideline: str | None, also: Iterable[str] | None, library: Library) -> Rules:
    """The rules of the guidelines in force, or of those named; raises `GuidelineError`."""
    home = library.find(guideline or settings.guideline or guidelines.default_id())
    if home.role == "childcare":
        raise guidelines.GuidelineError(f"{home.id} is a childcare overlay: give it beside a home guideline (--also)")
    names = settings.also if also is None else tuple(also)
    house, bans = guidelines.house()
    return Rules(home, tuple(library.find(name) for name in names if name != home.id), house, bans, library.homes)


def run(
    lines: Iterable[bytes],
    *,
    now: int,
    guideline: str | None = None,
    also: Iterable[str] | None = None,
    everything: bool = False,
    library: Library | None = None,
    bounds: Bounds | None = None,
) -> Replay:
    """Judge a ledger as it stood at `now`; raises `NotALedgerError` and `GuidelineError`."""
    ledger = read(lines, now=now)
    settings = settings_of(ledger.settings, now)
    rules = rules_of(settings, guideline, also, library or Library())
    bounds = bounds or Bounds()
    places = Places(ledger.settings, ledger.entries, rules.house, bounds.cold_early)
    state = fold(ledger, places)
    judge = Judge(state, rules, bounds, now=now, everything=everything)
    fillings = [f for f in judge.fillings.values() if everything or f.container.left is None]
    verdicts = [verdict(judge, filling, settings.hospital, settings.children) for filling in fillings]
    verdicts.sort(key=urgency)
    return Replay(now, settings, rules.guideline, rules.all[1:], verdicts, state, ledger)


def urgency(found: Verdict) -> tuple[int, int, str]:
    """What puts the most urgent first."""
    use_by = found.use_by if found.use_by is not None else -1
    return _OUT_OF_HAND.get(found.standing, 1), use_by, found.container


def as_object(replay: Replay) -> dict[str, Any]:
    """The object that `thawline replay --json` prints; times are RFC 3339 on the household's clock."""
    zone = zone_named(replay.settings.zone)

    def time(at: int | None) -> str | None:
        return None if at is None else written(at, zone)

    containers = [
        {
            "container": one.container,
            "ml": one.ml,
            "place": one.place,
            "for": one.meant_for,
            "form": one.form,
            "warmed": time(one.warmed),
            "fed_from": time(one.fed_from),
            "dated": time(one.dated),
            "use_by": time(one.use_by),
            "best_by": time(one.best_by),
            "standing": one.standing,
            "estimated": one.estimated,
            "why": [
                {"rule": w.rule, "from": time(w.start), "until": time(w.until), "says": w.says,
                 "source": w.source, "mark": w.mark}
                for w in one.why
            ],
            "options": [
                {"do": o.do, "not_after": time(o.not_after), "then_use_by": time(o.then_use_by),
                 "then_best_by": time(o.then_best_by)}
                for o in one.options
            ],
            "breaches": [
                {"rule": b.rule, "at": time(b.at), "says": b.says, "source": b.source} for b in one.breaches
            ],
        }
        for one in replay.verdicts
    ]  # fmt: skip
    return {
        "now": time(replay.now),
        "guideline": replay.guideline.id,
        "also": [one.id for one in replay.also],
        "containers": containers,
        "refused": [refusal._asdict() for refusal in replay.fold.refused],
        "ahead": replay.ledger.ahead,
        "booked": replay.fold.booked()._asdict(),
    }


def moment(text: str, zone: str = "UTC") -> int:
    """A time given on the command line: RFC 3339, or a bare date for its first instant; raises `BadTimeError`."""
    return day_start(text, zone_named(zone)) if is_date(text) else parse_instant(text)


def replay(
    lines: Iterable[bytes],
    *,
    now: str,
    guideline: str | None = None,
    also: Iterable[str] | None = None,
    everything: bool = False,
    files: Mapping[str, Mapping[str, Any]] | None = None,
) -> dict[str, Any]:
    """The contract's object for a ledger; `files` puts parsed guideline files in place of shipped ones."""
    library = Library({name: guidelines.check(data) for name, data in (files or {}).items()})
    found = run(lines, now=moment(now), guideline=guideline, also=also, everything=everything, library=library)
    return as_object(found)


__all__ = ["BadTimeError", "Library", "Replay", "as_object", "moment", "replay", "run"]
