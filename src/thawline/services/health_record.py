"""What a child drank and weighed, and what was expressed, as HL7 FHIR R5: a bundle for another program to read.

NutritionIntake, Observation and Patient of FHIR 5.0.0 (hl7.org/fhir/R5). Codes: LOINC 29463-7 "Body weight" and the
category `vital-signs` (hl7.org, FHIR Body Weight Profile); `kg` (there too) and `mL` of UCUM (from memory). For all
else plain text: a code whose meaning has no source here is not given. Why these and no others: `docs/decisions/0007`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple
from uuid import UUID, uuid5

from thawline.core import events as ev
from thawline.core.ledger import Entry
from thawline.core.times import is_date, written
from thawline.records.store import Store
from thawline.services.take_out import Bottle, Whole, whole

MEDIA_TYPE = "application/fhir+json"
# Ours, made once: what resources are named under.
_NAMES = UUID("0b9f2c64-38c1-4c0e-9d59-6c1d7a3a55b1")
_UCUM = "http://unitsofmeasure.org"
_VITAL = {"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "vital-signs"}
_WEIGHT = {"system": "http://loinc.org", "code": "29463-7", "display": "Body weight"}
_MILK, _EXPRESSED = "Human milk", "Volume of human milk expressed"
_BY_BOTTLE, _AT_BREAST = "Expressed human milk", "Human milk at the breast"
_OTHER = {"formula": "Infant formula", "donor": "Donor human milk", "solids": "Solid food"}
Resource = dict[str, Any]


class Drunk(NamedTuple):
    """A feed as the bundle tells it: when (as FHIR writes it), whose, what, and mL where known."""

    at: str
    subject: str
    what: str
    ml: float | None


class Writer:
    """Makes the resources of one household; names only where they are wished for."""

    def __init__(self, store: Store, found: Whole, *, names: bool) -> None:
        self.key, self.found, self.names = store.key, found, names
        self.subjects: dict[str, Resource] = {}

    def address(self, *parts: str) -> str:
        """What a resource is called: the same each time, telling nothing of the household."""
        return f"urn:uuid:{uuid5(_NAMES, '|'.join((self.key, *parts)))}"

    def patient(self, name: str, *, born: str | None = None, sex: str | None = None, mother: bool = False) -> str:
        """A person, made once; returns the address."""
        address = self.address("mother" if mother else "child", name)
        if address not in self.subjects:
            count = sum("birthDate" in one for one in self.subjects.values())
            told = name if self.names and name else "Mother" if mother else f"Child {count + 1}"
            person: Resource = {"resourceType": "Patient", "name": [{"text": told}]}
            if born is not None:
                person["birthDate"] = born
            gender = {"girl": "female", "boy": "male"}.get((sex or "").casefold())
            self.subjects[address] = person | ({"gender": gender} if gender else {})
        return address

    def when(self, at: int, as_written: str = "") -> str:
        """A moment with its offset; a day alone where only that is known."""
        return as_written if is_date(as_written) else written(at, self.found.zone)

    def intake(self, name: str, at: str, child: str, what: str, ml: float | None, note: str = "") -> Resource:
        """What a child took in."""
        item: Resource = {"type": {"text": what}, "nutritionProduct": {"concept": {"text": what}}}
        if ml is not None:
            item["amount"] = _ml(ml)
        found: Resource = {
            "resourceType": "NutritionIntake", "identifier": [{"system": "urn:ietf:rfc:3986", "value": name}],
            "status": "completed", "subject": {"reference": child}, "occurrenceDateTime": at, "consumedItem": [item],
        }  # fmt: skip
        return found | ({"note": [{"text": note}]} if note else {})

    def bottle(self, feed: Bottle) -> tuple[str, Resource]:
        """A feed from a container; what was left in it stands as a note."""
        name = self.address("feed", feed.container, str(feed.at))
        left = f"{feed.left_ml:g} mL were left in the container." if feed.left_ml else ""
        child = self.patient(feed.child)
        return name, self.intake(name, self.when(feed.at), child, _BY_BOTTLE, feed.drunk_ml, left)

    def other(self, entry: Entry) -> tuple[str, Resource]:
        """A feed at the breast, which nobody measured, or of something else."""
        event = entry.event
        assert isinstance(event, (ev.Nursed, ev.FedOther))  # noqa: S101  (for the types)
        name = self.address("event", event.id)
        at, child = self.when(entry.at, event.at), self.patient(event.child)
        if isinstance(event, ev.FedOther):
            return name, self.intake(name, at, child, _OTHER[event.what], event.ml)
        took = f" It took {event.minutes:g} minutes." if event.minutes is not None else ""
        return name, self.intake(name, at, child, _AT_BREAST, None, f"The amount was not measured.{took}")

    def observation(
        self, entry: Entry, subject: str, value: Resource, code: Resource, **more: object
    ) -> tuple[str, Resource]:
        """Something measured by the family."""
        name = self.address("event", entry.event.id)
        return name, {
            "resourceType": "Observation", "identifier": [{"system": "urn:ietf:rfc:3986", "value": name}],
            "status": "final", **more, "code": code, "subject": {"reference": subject},
            "effectiveDateTime": self.when(entry.at, entry.event.at), "valueQuantity": value,
        }  # fmt: skip

    def weight(self, entry: Entry) -> tuple[str, Resource]:
        """A child's weight."""
        event = entry.event
        assert isinstance(event, ev.Weighed)  # noqa: S101  (for the types)
        code = {"coding": [dict(_WEIGHT)], "text": "Body weight"}
        value = {"value": event.kg, "unit": "kg", "system": _UCUM, "code": "kg"}
        return self.observation(entry, self.patient(event.child), value, code, category=[{"coding": [dict(_VITAL)]}])

    def expressed(self, entry: Entry) -> tuple[str, Resource]:
        """What a session brought."""
        event = entry.event
        assert isinstance(event, ev.Expressed)  # noqa: S101  (for the types)
        ml = sum(portion.ml for portion in event.into)
        mother = self.patient(event.mother or "", mother=True)
        return self.observation(entry, mother, _ml(ml), {"text": _EXPRESSED})


def _ml(ml: float) -> Resource:
    return {"value": round(ml, 2), "unit": "mL", "system": _UCUM, "code": "mL"}


def bundle(store: Store, *, now: int, names: bool = False) -> Resource:
    """The household's feeds, weights and sessions as a FHIR R5 Bundle of type `collection`."""
    found = whole(store, now=now)
    writer = Writer(store, found, names=names)
    for entry in found.ledger.settings:
        if isinstance(entry.event, ev.Child):
            writer.patient(entry.event.child, born=entry.event.born, sex=entry.event.sex)
    told = list(_resources(writer, found))
    entries = [{"fullUrl": name, "resource": one} for name, one in (*writer.subjects.items(), *told)]
    return {
        "resourceType": "Bundle", "type": "collection", "timestamp": written(now - now % 1_000_000, found.zone),
        "identifier": {"system": "urn:ietf:rfc:3986", "value": writer.address("bundle", str(now))},
    } | ({"entry": entries} if entries else {})  # fmt: skip


def _resources(writer: Writer, found: Whole) -> Iterator[tuple[str, Resource]]:
    for entry in found.of(ev.Expressed):
        yield writer.expressed(entry)
    for feed in found.feeds():
        yield writer.bottle(feed)
    for entry in found.of(ev.Nursed, ev.FedOther):
        yield writer.other(entry)
    for entry in found.of(ev.Weighed):
        yield writer.weight(entry)


def text_of(told: Mapping[str, Any]) -> bytes:
    """A bundle as a file."""
    return json.dumps(told, ensure_ascii=False, indent=1).encode("utf-8", "replace")


def drunk_in(told: Mapping[str, Any]) -> list[Drunk]:
    """The feeds that a bundle tells of: what another program reads out of it."""
    found = []
    for entry in told.get("entry", ()):
        one = entry["resource"]
        if one["resourceType"] == "NutritionIntake":
            item = one["consumedItem"][0]
            amount = item.get("amount")
            ml = None if amount is None else float(amount["value"])
            found.append(Drunk(str(one["occurrenceDateTime"]), one["subject"]["reference"], item["type"]["text"], ml))
    return found
