"""The ledger in a database: SQLite or PostgreSQL."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import NamedTuple

from django.db import transaction
from django.db.models import F, Q, Sum

from thawline.records.ledger.models import Erasure, Event, Household, Kin, Name, Touch
from thawline.records.store import LOOSE, PLACES, SETTINGS, KinRow, Parsed, Row, Standing

_FEW = 500  # parameters of one query


def _key(name: str) -> str:
    return f"={name}"


_KIN = ("pk", "revision", "open", "refused", "wake_at")


def _kin(kin: Kin) -> KinRow:
    return KinRow(kin.pk, kin.revision, kin.open, kin.refused, kin.wake_at)


def _row(event: Event) -> Row:
    return Row(
        event.event_id, event.revision, event.kind, event.at, event.recorded_at, event.person, event.line.encode()
    )  # fmt: skip


def _parts(items: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(items), _FEW):
        yield items[start : start + _FEW]


class _Class(NamedTuple):
    """Names that belong together, and the kins that they had so far."""

    names: set[str]
    kins: list[int]


def _classes(named: list[list[str]], kin_of: dict[str, int]) -> list[_Class]:
    """Which names belong together, by the events that touch them and by the kins that they are in."""
    class_of: dict[str | int, _Class] = {}
    for names in named:
        members: list[str | int] = [*names, *(kin_of[name] for name in names if name in kin_of)]
        met = {id(one): one for member in members if (one := class_of.get(member)) is not None}
        joined = _Class(set(names), sorted({kin_of[name] for name in names if name in kin_of}))
        for one in met.values():
            joined.names.update(one.names)
            joined.kins[:] = sorted({*joined.kins, *one.kins})
        class_of.update(dict.fromkeys(joined.names, joined))
        class_of.update(dict.fromkeys(joined.kins, joined))
    return list({id(one): one for one in class_of.values()}.values())


class DatabaseStore:
    """One household's ledger in the database."""

    def __init__(self, household: uuid.UUID) -> None:
        self.id = household
        self.key = str(household)

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All or nothing; on PostgreSQL the household's row is locked, so that revisions follow one another."""
        with transaction.atomic():
            Household.objects.select_for_update().filter(pk=self.id).first()
            yield

    def standing(self) -> Standing:
        row = Household.objects.values_list("revision", "settings_revision", "recorded_at").get(pk=self.id)
        return Standing(*row)

    def known(self, ids: Sequence[str]) -> dict[str, bytes]:
        found: dict[str, bytes] = {}
        for part in _parts(ids):
            rows = Event.objects.filter(household=self.id, event_id__in=part).values_list("event_id", "line")
            found.update((name, line.encode()) for name, line in rows)
        return found

    # Adding

    def add(self, events: Sequence[Parsed], *, recorded_at: int, person: str) -> None:
        if not events:
            return
        start = Household.objects.values_list("revision", flat=True).get(pk=self.id)
        rows = [
            Event(
                household_id=self.id, event_id=one.event_id, revision=start + number, kind=one.kind, at=one.at,
                recorded_at=recorded_at, person=person, voids=one.voids or None, line=one.line.decode(),
            )
            for number, one in enumerate(events, 1)
        ]  # fmt: skip
        Event.objects.bulk_create(rows, batch_size=_FEW // 5)
        saved = dict(Event.objects.filter(household=self.id, revision__gt=start).values_list("event_id", "pk"))
        end = start + len(rows)
        keys = self._keys(events)
        Touch.objects.bulk_create(
            [
                Touch(household_id=self.id, key=key, event_id=saved[name])
                for name, found in keys.items()
                for key in found
            ],
            batch_size=_FEW // 3,
        )
        keys |= self._awaited(keys)
        touched = {key for found in keys.values() for key in found}
        self._join(list(keys.values()), end)
        changed = {"revision": end, "recorded_at": max(recorded_at, self.standing().recorded_at)}
        if touched & {SETTINGS, PLACES}:
            changed["settings_revision"] = end
        Household.objects.filter(pk=self.id).update(**changed)

    def _keys(self, events: Sequence[Parsed]) -> dict[str, set[str]]:
        """What each event touches; a void touches what its target does."""
        found = {
            one.event_id: {_key(name) for name in one.names} | ({one.group} if one.group else set())
            for one in events
            if not one.voids
        }
        voids = {one.event_id: one.voids for one in events if one.voids}
        targets = self._touched(list(voids.values()))
        for name, first in voids.items():
            target = first
            seen = {name}
            # A void of a void in the same request.
            while target in voids and target not in seen:
                seen.add(target)
                target = voids[target]
            found[name] = set(found.get(target) or targets.get(first) or self._of(target) or {LOOSE})
        return found

    def _of(self, event_id: str) -> set[str]:
        return self._touched([event_id]).get(event_id, set())

    def _touched(self, ids: Sequence[str]) -> dict[str, set[str]]:
        found: dict[str, set[str]] = defaultdict(set)
        for part in _parts(ids):
            # By the events' household alone: else all that the household ever touched is read.
            rows = Touch.objects.filter(event__event_id__in=part, event__household=self.id)
            for name, key in rows.values_list("event__event_id", "key"):
                found[name].add(key)
        return dict(found)

    def _awaited(self, keys: dict[str, set[str]]) -> dict[str, set[str]]:
        """Voids that came before their target: now it is known what they touch."""
        waiting = list(keys)
        late: dict[str, set[str]] = {}
        while waiting:
            rows: list[tuple[int, str, str]] = []
            for part in _parts(waiting):
                found = Event.objects.filter(household=self.id, voids__in=part)
                rows += [(pk, name, str(target)) for pk, name, target in found.values_list("pk", "event_id", "voids")]
            waiting = []
            for pk, name, target in rows:
                wanted = late.get(target) or keys[target]
                if name in late or keys.get(name) == wanted:
                    continue
                late[name] = set(wanted)
                waiting.append(name)
                Touch.objects.filter(household=self.id, event_id=pk).delete()
                Touch.objects.bulk_create([Touch(household_id=self.id, key=key, event_id=pk) for key in wanted])
        return late

    def _join(self, groups: list[set[str]], revision: int) -> None:
        """Names that one event touches belong to one kin."""
        named = [sorted(key[1:] for key in group if key.startswith("=")) for group in groups]
        wanted = sorted({name for names in named for name in names})
        kin_of: dict[str, int] = {}
        for part in _parts(wanted):
            kin_of.update(Name.objects.filter(household=self.id, name__in=part).values_list("name", "kin_id"))
        classes = _classes(named, kin_of)
        fresh = [one for one in classes if not one.kins]
        made = Kin.objects.bulk_create(
            [Kin(household_id=self.id, revision=revision) for _ in fresh], batch_size=_FEW // 5
        )
        for one, kin in zip(fresh, made, strict=True):
            one.kins.append(kin.pk)
        for one in classes:
            for other in one.kins[1:]:
                Name.objects.filter(household=self.id, kin_id=other).update(kin_id=one.kins[0])
                Kin.objects.filter(pk=other).delete()
        new = [(name, one.kins[0]) for one in classes for name in one.names if name not in kin_of]
        Name.objects.bulk_create(
            [Name(household_id=self.id, name=name, kin_id=kin) for name, kin in new], batch_size=_FEW // 3
        )
        self._update_kins([one.kins[0] for one in classes], revision=revision)

    def _update_kins(self, keys: Sequence[int], **values: object) -> None:
        for start in range(0, len(keys), _FEW):
            Kin.objects.filter(household=self.id, pk__in=keys[start : start + _FEW]).update(**values)

    # Reading

    def lines(self) -> Iterator[bytes]:
        rows = Event.objects.filter(household=self.id).order_by("revision").values_list("line", flat=True)
        for line in rows.iterator(chunk_size=2000):
            yield line.encode()

    def group(self, group: str, *, after: int = 0) -> list[bytes]:
        rows = Touch.objects.filter(household=self.id, key=group)
        if after:
            newer = Event.objects.filter(household=self.id, revision__gt=after).order_by("revision")
            first = newer.values_list("pk", flat=True).first()
            if first is None:
                return []
            # Keys of rows rise with revisions, and the index by key goes on by event.
            rows = rows.filter(event__gte=first)
        return [line.encode() for line in rows.order_by("event").values_list("event__line", flat=True)]

    def kins(self) -> list[KinRow]:
        own = Kin.objects.filter(household=self.id).values_list(*_KIN)
        # Two queries, since each has its own small index.
        found = {*own.filter(open=True), *own.filter(wake_at__isnull=False)}
        return [KinRow(*row) for row in sorted(found)]

    def all_kins(self) -> list[KinRow]:
        return [KinRow(*row) for row in Kin.objects.filter(household=self.id).order_by("pk").values_list(*_KIN)]

    def kins_of(self, names: Sequence[str]) -> dict[str, KinRow]:
        found: dict[str, KinRow] = {}
        for part in _parts(names):
            rows = Name.objects.filter(household=self.id, name__in=part).select_related("kin")
            found.update((row.name, _kin(row.kin)) for row in rows)
        return found

    def kin_lines(self, keys: Sequence[int]) -> dict[int, list[bytes]]:
        found: dict[int, dict[int, bytes]] = {key: {} for key in keys}
        for start in range(0, len(keys), _FEW):
            part = keys[start : start + _FEW]
            names = dict(Name.objects.filter(household=self.id, kin_id__in=part).values_list("name", "kin_id"))
            for few in _parts([_key(name) for name in names]):
                rows = Touch.objects.filter(household=self.id, key__in=few)
                for key, revision, line in rows.values_list("key", "event__revision", "event__line"):
                    found[names[key[1:]]][revision] = line.encode()
        return {key: [lines[number] for number in sorted(lines)] for key, lines in found.items()}

    def touched(self, ids: Sequence[str]) -> set[str]:
        return {key[1:] for keys in self._touched(ids).values() for key in keys if key.startswith("=")}

    def settle(self, kins: Iterable[KinRow]) -> None:
        alike: dict[tuple[bool, int, int | None], list[int]] = defaultdict(list)
        for kin in kins:
            alike[(kin.open, kin.refused, kin.wake_at)].append(kin.key)
        for (is_open, refused, wake_at), keys in alike.items():
            self._update_kins(keys, open=is_open, refused=refused, wake_at=wake_at)

    def refused(self) -> int:
        own = Kin.objects.filter(household=self.id, refused__gt=0)
        return own.aggregate(total=Sum("refused"))["total"] or 0

    def taken(self, names: Sequence[str]) -> set[str]:
        return set(self.kins_of(names))

    def history(
        self, *, before: tuple[int, str] | None, limit: int, name: str | None = None, kinds: Sequence[str] = ()
    ) -> list[Row]:
        rows = Event.objects.filter(household=self.id)
        if kinds:
            rows = rows.filter(kind__in=kinds)
        if name is not None:
            rows = rows.filter(touches__household=self.id, touches__key=_key(name))
        if before is not None:
            at, event_id = before
            # The first condition lets the index by time begin where the page does.
            rows = rows.filter(at__lte=at).filter(Q(at__lt=at) | Q(event_id__lt=event_id))
        return [_row(event) for event in rows.order_by(F("at").desc(), F("event_id").desc())[:limit]]

    def kinds_after(self, revision: int) -> set[str]:
        newer = Event.objects.filter(household=self.id, revision__gt=revision)
        return set(newer.order_by().values_list("kind", flat=True).distinct())

    def rows(self, ids: Sequence[str]) -> dict[str, Row]:
        found: dict[str, Row] = {}
        for part in _parts(ids):
            rows = Event.objects.filter(household=self.id, event_id__in=part)
            found.update((event.event_id, _row(event)) for event in rows)
        return found

    def voided_by(self, ids: Sequence[str]) -> dict[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for part in _parts(ids):
            # Sorted here: asked for in order, SQLite reads all events by revision instead of the few voids.
            rows = Event.objects.filter(household=self.id, voids__in=part)
            for _revision, target, name in sorted(rows.values_list("revision", "voids", "event_id")):
                found[str(target)].append(name)
        return dict(found)

    def act(self, prefix: str) -> list[Row]:
        own = Event.objects.filter(household=self.id)
        first = own.filter(event_id=f"{prefix}.0").values_list("revision", flat=True).first()
        found: list[Row] = []
        # Recorded in one go, so they follow one another.
        for event in own.filter(revision__gte=first or 0).order_by("revision").iterator(chunk_size=100):
            if first is None or not event.event_id.startswith(f"{prefix}."):
                break
            found.append(_row(event))
        return found

    def away(self) -> frozenset[str]:
        services = Household.objects.filter(pk=self.id, services__left=False)
        return frozenset(services.values_list("services__place", flat=True))

    def erase(self) -> None:
        with transaction.atomic():
            household = Household.objects.select_for_update().get(pk=self.id)
            Erasure.objects.create(household=household)
            Touch.objects.filter(household=household).delete()
            Name.objects.filter(household=household).delete()
            Kin.objects.filter(household=household).delete()
            Event.objects.filter(household=household).delete()
            Erasure.objects.filter(household=household).delete()
            household.delete()
