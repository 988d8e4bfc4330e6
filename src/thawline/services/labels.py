"""What a label bears: code, amount, child, and each date by its name; never more than the board promises."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from django.db import transaction

from thawline.core import events as ev
from thawline.core.clocks import Clock
from thawline.core.judge import Filling, Judge
from thawline.core.verdict import Verdict, verdict
from thawline.records.accounts.models import Service
from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore
from thawline.services.board import units
from thawline.services.childcare_rules import at_services
from thawline.services.known import Ground, known
from thawline.services.label_rules import Asked, label_rules
from thawline.services.people import CannotError, Home
from thawline.services.tags import address

TIMED = ("fine", "soon")
_LONGEST_NAME, _LONGEST_ADDRESS = 120, 120


class Dated(NamedTuple):
    """A date by its name: `expressed`, `frozen`, `use_by` …; `at` in microseconds, None where it is written by hand.

    `day_only` where only the day is known; `estimated` where nobody saw when its clock began.
    """

    what: str
    at: int | None
    day_only: bool = False
    estimated: bool = False


class Label(NamedTuple):
    """One container's label at the moment it is printed.

    `child` is what is printed of whom it is for; `name_line` leaves room to write the name, or the rest of it.
    `stays` is the kind of place in which the use-by holds (`frozen` where it holds while frozen), "" where it holds
    as it is. `standing` and `hospital` say whether there is a time at all.
    """

    code: str
    address: str
    ml: float
    form: str
    child: str
    name_line: bool
    standing: str
    hospital: bool
    warmed: bool
    stays: str
    dates: tuple[Dated, ...]

    @property
    def timed(self) -> bool:
        """Whether a time until when it may be used stands on it."""
        return self.standing in TIMED and not self.hospital

    def dated(self, what: str) -> Dated | None:
        """The date of that name."""
        return next((one for one in self.dates if one.what == what), None)


class Sheet(NamedTuple):
    """Labels, with how the household writes: its zone, its units of amounts and temperatures, and its language."""

    labels: tuple[Label, ...]
    zone: str
    units: tuple[str, str]


def full_names(preferences: Mapping[str, Any]) -> dict[str, str]:
    """The children's full names, by the name in the ledger."""
    names = _kept(preferences).get("names")
    return {str(child): str(name) for child, name in names.items() if name} if isinstance(names, dict) else {}


def kept_address(preferences: Mapping[str, Any]) -> str:
    """The address that labels lead to, as the family set it; "" where it has not."""
    return str(_kept(preferences).get("address") or "")


def kept_stock(preferences: Mapping[str, Any]) -> str:
    """The label stock the family uses; "" where it has not said."""
    return str(_kept(preferences).get("stock") or "")


def _kept(preferences: Mapping[str, Any]) -> dict[str, Any]:
    found = preferences.get("labels")
    return found if isinstance(found, dict) else {}


def keep(store: DatabaseStore, *, names: Mapping[str, str], address: str, stock: str) -> None:
    """Keep what is printed on labels; raises `CannotError`."""
    names = {child: checked_name(name) for child, name in names.items() if name.strip()}
    found = {"names": names, "address": checked_address(address), "stock": stock}
    with transaction.atomic():
        house = Household.objects.select_for_update().get(pk=store.id)
        house.preferences = {**house.preferences, "labels": found}
        house.save(update_fields=["preferences"])


def checked_name(name: str) -> str:
    """A name with single spaces; raises `CannotError`."""
    name = " ".join(name.split())
    if len(name) > _LONGEST_NAME or "\0" in name:
        raise CannotError(f"Write a name of at most {_LONGEST_NAME} characters.")
    return name


def checked_address(text: str) -> str:
    """An address that labels may lead to, scheme, host and port alone, or ""; raises `CannotError`."""
    text = text.strip().rstrip("/")
    if not text:
        return ""
    says = "Write the address as it stands in the browser, such as https://192.168.1.20:8300 and nothing after it."
    try:
        parts = urlsplit(text)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and (parts.port or 1) > 0
    except ValueError as fault:
        raise CannotError(says) from fault
    alone = not (parts.path or parts.query or parts.fragment or "@" in parts.netloc)
    plain = text.isascii() and text.isprintable() and not any(one in text for one in " \"'<>\\^`{|}")
    if not (good and alone and plain and len(text) <= _LONGEST_ADDRESS):
        raise CannotError(says)
    return text.lower()


def only_here(base: str) -> bool:
    """Whether an address means whatever computer it is opened on, so that a phone cannot open it."""
    host = (urlsplit(base).hostname or "").rstrip(".")
    return host in ("localhost", "::1", "0.0.0.0") or host.startswith("127.") or host.endswith(".localhost")  # noqa: S104  (compared, not listened at)


def home_named(name: str, store: DatabaseStore) -> Home:
    """A household as whoever runs the server sees it."""
    house = Household.objects.get(pk=store.id)
    return Home(store, name, "", "owner", dict(house.preferences))


def rules_in_force(store: DatabaseStore, *, now: int) -> list[Asked]:
    """What is asked of this household's labels: by its guideline, those beside it, and its childcare services."""
    cache = known(store)
    with cache.lock:
        return _rules(store, cache.ground(store, now))


def _rules(store: DatabaseStore, base: Ground) -> list[Asked]:
    services = Service.objects.filter(household=store.id, left=False).exclude(rule="").values_list("rule", flat=True)
    return label_rules([*(one.id for one in base.rules.all), *services])


def sheet(home: Home, codes: Sequence[str], *, now: int, base: str) -> Sheet:
    """The labels of these containers, in their order; those gone or unknown are left out. `base` as in `tags.address`.

    Raises `GuidelineError`.
    """
    cache = known(home.store)
    codes = [code for code in dict.fromkeys(codes) if "\0" not in code]
    strict = at_services(home.store, now=now)
    with cache.lock:
        kins = home.store.kins_of(codes)
        rows = list({row.key: row for row in kins.values()}.values())
        ground = cache.refresh(home.store, rows, now)
        writer = _Writer(home, ground, base, now, strict)
        found = {one.code: one for row in rows for one in writer.of_kin(row.key, set(codes))}
    labels = tuple(found[code] for code in codes if code in found)
    return Sheet(labels, ground.settings.zone, units(ground, now))


def labels(home: Home, codes: Sequence[str], *, now: int, base: str) -> list[Label]:
    """The labels alone; see `sheet`."""
    return list(sheet(home, codes, now=now, base=base).labels)


def blank(home: Home, *, now: int) -> tuple[Label, Sheet]:
    """A label to write on: lines with named dates, the child's name where there is one child, and no code."""
    cache = known(home.store)
    with cache.lock:
        ground = cache.ground(home.store, now)
        child, name_line = _Writer(home, ground, "", now).child(set())
        asked = _codes_asked(_rules(home.store, ground))
    named = ["use_by", "expressed", "frozen", *(what for what in ("received", "use_on") if what in asked)]
    dates = tuple(Dated(what, None) for what in named)
    label = Label("", "", 0.0, "", child, name_line, "fine", False, False, "", dates)
    return label, Sheet((label,), ground.settings.zone, units(ground, now))


def _codes_asked(rules: Iterable[Asked]) -> set[str]:
    return {ask for rule in rules for ask in rule.asks}


class _Writer:
    """Makes labels of judged containers."""

    def __init__(
        self, home: Home, ground: Ground, base: str, now: int, strict: Mapping[str, Verdict] = MappingProxyType({})
    ) -> None:
        # `strict`: what lies at a childcare service, under its rule as well.
        self.strict = strict
        self.home, self.ground, self.base, self.now = home, ground, base, now
        self.names = full_names(home.preferences)
        self.asked = _codes_asked(_rules(home.store, ground))

    def of_kin(self, key: int, codes: set[str]) -> Iterator[Label]:
        """The labels of those containers of a kin that are there."""
        part, settings = known(self.home.store).kins[key].fold, self.ground.settings
        judge = Judge(part, self.ground.rules, self.ground.bounds(part), now=self.now, everything=False)
        for name, filling in judge.fillings.items():
            if name in codes and filling.container.left is None:
                found = verdict(judge, filling, settings.hospital, settings.children, options=False)
                yield self.label(filling, self.strict.get(name, found))

    def label(self, filling: Filling, found: Verdict) -> Label:
        """One container's label."""
        child, name_line = self.child({name for name in filling.wanted if name is not None})
        touched = found.warmed is not None or found.fed_from is not None
        hospital = found.use_by is None and bool(self.ground.settings.hospital)
        stays = "frozen" if found.form == "frozen" else "" if touched else filling.clocks[0].kind
        label = Label(
            found.container, address(self.base, self.home.store, found.container), found.ml, found.form, child,
            name_line, found.standing, hospital, found.warmed is not None, stays, (),
        )  # fmt: skip
        return label._replace(dates=tuple(self._dates(filling, found, timed=label.timed)))

    def child(self, wanted: set[str]) -> tuple[str, bool]:
        """Whom it is for, as it is printed, and whether room is left to write the name or the rest of it."""
        children = sorted(wanted) or (list(self.ground.settings.children) if self._only_child() else [])
        if not children:
            return "", bool(self.ground.settings.children) and bool(self.asked & {"name", "full_name"})
        if "full_name" not in self.asked:
            return " + ".join(children), False
        return " + ".join(self.names.get(one, one) for one in children), any(one not in self.names for one in children)

    def _only_child(self) -> bool:
        return len(self.ground.settings.children) == 1

    def _dates(self, filling: Filling, found: Verdict, *, timed: bool) -> Iterator[Dated]:
        if timed and found.use_by is not None:
            yield Dated("use_by", found.use_by, estimated=found.estimated)
        oldest = min(filling.clocks, key=lambda clock: clock.expressed.at).expressed
        yield Dated("expressed", oldest.at, day_only=oldest.guessed)
        if (frozen := _frozen(filling)) is not None:
            yield frozen
        if timed and found.best_by is not None and found.best_by != found.use_by:
            yield Dated("best_by", found.best_by, estimated=found.estimated)
        yield from self._thawing(filling.clocks, found)
        if "received" in self.asked:
            yield Dated("received", min((one.received for one in filling.clocks if one.received), default=None))
        if "use_on" in self.asked:
            yield Dated("use_on", None)

    def _thawing(self, clocks: Sequence[Clock], found: Verdict) -> Iterator[Dated]:
        if found.form == "frozen":
            yield Dated("thawed", None)
        elif found.form != "fresh":
            left = [one.left_freezer for one in clocks if one.left_freezer is not None]
            if left:
                yield Dated("left_freezer", min(left))


def _frozen(filling: Filling) -> Dated | None:
    """When it first went into a freezer; None where that is not known, and where it never did."""
    anchors = [clock.first_frozen for clock in filling.clocks if clock.first_frozen is not None]
    if not anchors:
        return None
    first = min(anchors)
    event = filling.container.event
    guessed = any(one.guessed for one in anchors)
    known_day = not isinstance(event, ev.Poured) and (not isinstance(event, ev.Stocked) or event.frozen_on is not None)
    return None if guessed and not known_day else Dated("frozen", first.at, day_only=guessed)
