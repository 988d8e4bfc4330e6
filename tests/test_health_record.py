"""The FHIR R5 export: valid by an independent model of the standard, and what comes out is what the ledger says."""

from __future__ import annotations

import json
from typing import Any

import fhir.resources
import pytest
from fhir.resources.bundle import Bundle
from hypothesis import given, settings
from tests.households import Tale, tales
from tests.pages import Family, home
from tests.test_bring_in import NOW, furnish

from thawline.core import events as ev
from thawline.core.replay import run
from thawline.records.memory import MemoryStore
from thawline.services import health_record, recording, take_out, transfer
from thawline.services.demo import demo_ledger
from thawline.services.recording import line_of

__all__ = ["home"]


@pytest.fixture
def demo() -> Any:
    store = MemoryStore()
    recording.record(store, demo_ledger(now=NOW), now=NOW)
    return store


def read(store: Any, **more: Any) -> tuple[dict[str, Any], Any]:
    """The bundle as it is written to a file, and as another library reads it."""
    data = health_record.text_of(health_record.bundle(store, now=NOW, **more))
    return json.loads(data), Bundle.model_validate_json(data)


def resources(bundle: Any, kind: str) -> list[Any]:
    found = [entry.resource for entry in bundle.entry or ()]
    return [one for one in found if one.get_resource_type() == kind]


def test_the_library_that_checks_it_is_of_release_5() -> None:
    assert fhir.resources.__fhir_version__.startswith("5.")


def test_it_is_valid_and_its_sums_are_the_ledgers(demo: Any) -> None:
    booked = run(demo.lines(), now=NOW).fold.booked()
    _, bundle = read(demo)
    drunk = [
        item.amount.value
        for one in resources(bundle, "NutritionIntake")
        for item in one.consumedItem
        if item.type.text == "Expressed human milk"
    ]
    assert float(sum(drunk)) == pytest.approx(booked.fed)
    volumes = [one.valueQuantity.value for one in resources(bundle, "Observation") if not one.category]
    assert float(sum(volumes)) == pytest.approx(booked.expressed)


def test_weights_carry_the_one_code_that_has_a_source(demo: Any) -> None:
    # LOINC 29463-7 and the category vital-signs: HL7 FHIR Body Weight Profile; kg: UCUM.
    _, bundle = read(demo)
    weights = [one for one in resources(bundle, "Observation") if one.category]
    kept = [
        entry.event.kg for entry in take_out.whole(demo, now=NOW).of(ev.Weighed) if isinstance(entry.event, ev.Weighed)
    ]
    assert [float(one.valueQuantity.value) for one in weights] == kept and kept
    for one in weights:
        (coding,) = one.code.coding
        assert (coding.system, coding.code, one.valueQuantity.code) == ("http://loinc.org", "29463-7", "kg")
        assert one.category[0].coding[0].code == "vital-signs"


def test_no_other_code_is_given() -> None:
    assert "snomed" not in json.dumps(read(demo_store())[0]).casefold()
    codes = {value for key, value in _pairs(read(demo_store())[0]) if key == "code" and isinstance(value, str)}
    assert codes == {"29463-7", "vital-signs", "kg", "mL"}


def demo_store() -> Any:
    store = MemoryStore()
    recording.record(store, demo_ledger(now=NOW), now=NOW)
    return store


def _pairs(one: Any) -> list[tuple[str, Any]]:
    if isinstance(one, dict):
        return [pair for key, value in one.items() for pair in [(key, value), *_pairs(value)]]
    return [pair for value in one for pair in _pairs(value)] if isinstance(one, list) else []


def test_a_feed_at_the_breast_has_no_amount_and_says_so(demo: Any) -> None:
    told, _ = read(demo)
    nursed = [
        one["resource"]
        for one in told["entry"]
        if one["resource"].get("note", [{}])[0].get("text", "").startswith("The amount was not")
    ]
    assert nursed and all("amount" not in one["consumedItem"][0] for one in nursed)


def test_what_is_written_reads_back_as_the_same_feeds(demo: Any) -> None:
    told, _ = read(demo)
    found = take_out.whole(demo, now=NOW)
    writer = health_record.Writer(demo, found, names=False)
    wanted = [
        health_record.Drunk(
            writer.when(one.at), writer.patient(one.child), "Expressed human milk", round(one.drunk_ml, 2)
        )
        for one in found.feeds()
    ]
    bottles = [one for one in health_record.drunk_in(told) if one.what == "Expressed human milk"]
    assert sorted(bottles) == sorted(wanted)


def test_names_and_the_households_key_stand_nowhere_unless_names_are_wished_for(demo: Any) -> None:
    plain = json.dumps(read(demo)[0], ensure_ascii=False)
    for word in (
        "Mira",
        "Marta",
        "Rui",
        demo.key,
        *(entry.id for entry in take_out.whole(demo, now=NOW).of(ev.Expressed)),
    ):
        assert word not in plain
    assert "Mira" in json.dumps(read(demo, names=True)[0])


def test_the_same_records_give_the_same_names_of_resources(demo: Any) -> None:
    assert read(demo) == read(demo)
    urls = [one["fullUrl"] for one in read(demo)[0]["entry"]]
    assert len(urls) == len(set(urls)) and all(url.startswith("urn:uuid:") for url in urls)


def test_every_reference_leads_to_somebody_in_the_bundle(demo: Any) -> None:
    told, _ = read(demo)
    urls = {one["fullUrl"] for one in told["entry"]}
    assert {value for key, value in _pairs(told) if key == "reference"} <= urls


def test_a_day_alone_stays_a_day() -> None:
    store = furnish(MemoryStore())
    event = {
        "id": "e",
        "at": "2027-01-12",
        "kind": "expressed",
        "place": "fridge",
        "into": [{"container": "A1", "ml": 90}],
    }
    recording.record(store, [line_of(event)], now=NOW)
    told, _ = read(store)
    assert [
        one["resource"]["effectiveDateTime"] for one in told["entry"] if "effectiveDateTime" in one["resource"]
    ] == ["2027-01-12"]


def test_an_empty_household_is_a_valid_empty_bundle() -> None:
    told, bundle = read(MemoryStore())
    assert "entry" not in told and bundle.entry is None


@settings(deadline=None, max_examples=15)
@given(tales())
def test_any_household_gives_a_valid_bundle(tale: Tale) -> None:
    store = MemoryStore()
    transfer.take_in(store, [line_of(event) for batch in tale.batches for event in batch], now=NOW)
    told, _ = read(store, names=True)
    booked = run(list(store.lines()), now=NOW).fold.booked() if list(store.lines()) else None
    volumes = [
        one["resource"]["valueQuantity"]["value"]
        for one in told.get("entry", ())
        if one["resource"].get("code", {}).get("text") == "Volume of human milk expressed"
    ]
    assert booked is None or sum(volumes) == pytest.approx(booked.expressed, abs=0.05)


def test_it_comes_as_a_file(home: Family) -> None:
    home.expressed("KA34", 90, 5)
    home.note("weighed", 3, child="Mira", kg=4.2)
    answer = home.phone.get("/out/health-record/")
    assert answer.headers["Content-Type"] == "application/fhir+json; fhirVersion=5.0"
    assert "attachment" in answer.headers["Content-Disposition"]
    assert b"Mira" not in answer.content and b"Mira" in home.phone.get("/out/health-record/?names=yes").content
    assert Bundle.model_validate_json(answer.content).entry
