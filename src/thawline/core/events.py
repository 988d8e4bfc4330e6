"""What can happen to milk: the events of a ledger, as written, with strict validation."""

# Annotations are evaluated as they stand: thirty types resolved from text would cost start-up time.
from typing import Annotated, Literal

import msgspec
from msgspec import Meta, Struct

Name = Annotated[str, Meta(min_length=1, max_length=200)]
Text = Annotated[str, Meta(max_length=2000)]
Ml = Annotated[float, Meta(ge=0, le=5000)]
TempC = Annotated[float, Meta(ge=-60, le=110)]
Kg = Annotated[float, Meta(ge=0.3, le=40)]
Minutes = Annotated[float, Meta(ge=0, le=1440)]
Mm = Annotated[float, Meta(gt=0, le=1000)]
PlaceKind = Literal["room", "cooler", "refrigerator", "freezer_compartment", "freezer", "deep_freezer"]


class Vessel(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What the milk is kept in; lengths in millimetres, capacity in millilitres."""

    kind: Literal["bottle", "bag", "jar", "syringe"] | None = None
    capacity_ml: Ml | None = None
    shape: Literal["flat", "upright"] | None = None
    thickness_mm: Mm | None = None
    diameter_mm: Mm | None = None
    tag: Name | None = None


class Portion(Struct, frozen=True, forbid_unknown_fields=True):
    """An amount in, or taken from, one container."""

    container: Name
    ml: Ml


class Event(Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, tag_field="kind"):
    """What every event carries. `at` is RFC 3339 with an offset, or a bare date, kept as written."""

    id: Name
    at: Annotated[str, Meta(min_length=1, max_length=64)]
    noted: Annotated[str, Meta(max_length=64)] | None = None
    zone: Name | None = None
    by: Name | None = None


class Household(Event, frozen=True, tag="household", kw_only=True):
    """The household's zone, guideline in force, overlays and units."""

    zone: Name
    guideline: Name | None = None
    also: list[Name] = []
    units: str | list[str] | dict[str, str] | None = None


class Place(Event, frozen=True, tag="place", kw_only=True, rename={"is_": "is"}):
    """A place milk can be in, with its usual temperature."""

    place: Name
    is_: PlaceKind
    temp_c: TempC | None = None


class Child(Event, frozen=True, tag="child", kw_only=True):
    """A child; under a hospital's care the home limits are not shown."""

    child: Name
    born: str
    care: Literal["home", "hospital"]
    sex: Text | None = None


class Expressed(Event, frozen=True, tag="expressed", kw_only=True, rename={"for_": "for"}):
    """A session of expressing; `at` is its start."""

    into: Annotated[list[Portion], Meta(min_length=1, max_length=100)]
    place: Name
    side: Literal["left", "right", "both"] | None = None
    minutes: Minutes | None = None
    handling: Literal["very_clean"] | None = None
    mother: Name | None = None
    for_: Name | None = None
    vessel: Vessel | None = None


class Stocked(Event, frozen=True, tag="stocked", kw_only=True, rename={"for_": "for"}):
    """Milk from before the ledger."""

    container: Name
    ml: Ml
    place: Name
    expressed: str
    frozen_on: str | None = None
    form: Literal["fresh", "frozen", "thawed"] | None = None
    milk: Literal["own", "donor"] = "own"
    for_: Name | None = None
    mother: Name | None = None
    vessel: Vessel | None = None


class Moved(Event, frozen=True, tag="moved", kw_only=True):
    """A container went to another place."""

    container: Name
    to: Name


class Poured(Event, frozen=True, tag="poured", kw_only=True, rename={"from_": "from"}):
    """Milk went from one or more containers into another."""

    from_: Annotated[list[Portion], Meta(min_length=1, max_length=100)]
    into: Name
    vessel: Vessel | None = None


class ThawSeen(Event, frozen=True, tag="thaw_seen", kw_only=True):
    """Somebody looked: ice still there, or none left."""

    container: Name
    ice: bool


class Warmed(Event, frozen=True, tag="warmed", kw_only=True):
    """Warming began."""

    container: Name
    how: Literal["warm_water", "warmer", "microwave", "stovetop"]


class FeedBegan(Event, frozen=True, tag="feed_began", kw_only=True):
    """A child began to drink from it."""

    container: Name
    child: Name


class FeedEnded(Event, frozen=True, tag="feed_ended", kw_only=True):
    """The feed ended; `left_ml` is still in the container."""

    container: Name
    left_ml: Ml


class Discarded(Event, frozen=True, tag="discarded", kw_only=True):
    """Thrown away; all of it where no amount is given."""

    container: Name
    ml: Ml | None = None
    why: Text | None = None


class Counted(Event, frozen=True, tag="counted", kw_only=True):
    """What is really in it."""

    container: Name
    ml: Ml


class Added(Event, frozen=True, tag="added", kw_only=True):
    """Something was added to the milk."""

    container: Name
    what: Literal["fortifier", "formula", "other"]


class HandedOver(Event, frozen=True, tag="handed_over", kw_only=True):
    """Given to someone else; without a place of this ledger it has left."""

    container: Name
    to: Text
    place: Name | None = None


class Received(Event, frozen=True, tag="received", kw_only=True):
    """Taken in by a childcare service."""

    container: Name
    place: Name


class Returned(Event, frozen=True, tag="returned", kw_only=True):
    """Came back unused."""

    container: Name
    place: Name


class Held(Event, frozen=True, tag="held", kw_only=True):
    """Not to be fed until released."""

    container: Name
    why: Literal["medicine", "alcohol", "clinician", "other"]
    until: str | None = None


class Released(Event, frozen=True, tag="released", kw_only=True):
    """A hold ended."""

    container: Name
    why: Literal["medicine", "alcohol", "clinician", "other"] | None = None
    until: str | None = None


class Measured(Event, frozen=True, tag="measured", kw_only=True):
    """A temperature, of a place or of one container's milk, in degrees Celsius."""

    temp_c: TempC
    place: Name | None = None
    container: Name | None = None


class PowerLost(Event, frozen=True, tag="power_lost", kw_only=True):
    """The power of a place went off."""

    place: Name
    fill: Literal["full", "half", "little"] | None = None


class PowerBack(Event, frozen=True, tag="power_back", kw_only=True):
    """The power of a place came back."""

    place: Name
    fill: Literal["full", "half", "little"] | None = None


class Nursed(Event, frozen=True, tag="nursed", kw_only=True):
    """A feed at the breast."""

    child: Name
    minutes: Minutes | None = None


class FedOther(Event, frozen=True, tag="fed_other", kw_only=True):
    """A feed of something else."""

    child: Name
    what: Literal["formula", "donor", "solids"]
    ml: Ml | None = None


class DayComplete(Event, frozen=True, tag="day_complete", kw_only=True):
    """All feeds of that day are in the ledger."""

    child: Name
    date: str


class Weighed(Event, frozen=True, tag="weighed", kw_only=True):
    """The child's weight, in kilograms."""

    child: Name
    kg: Kg


class Checked(Event, frozen=True, tag="checked", kw_only=True):
    """Somebody compared a label with a child before a feed. Moves no clock.

    `label` is what was read where it names no container of this ledger; `why` the codes of what spoke against it.
    """

    child: Name
    found: Literal["match", "stop"]
    container: Name | None = None
    label: Text | None = None
    why: Annotated[list[Name], Meta(max_length=20)] = []


class Incident(Event, frozen=True, tag="incident", kw_only=True):
    """A child got milk that was not meant for it: what has been done about it since, and what is to be remembered."""

    child: Name
    container: Name | None = None
    steps: Annotated[list[Name], Meta(max_length=20)] = []
    says: Text | None = None


class Cleaned(Event, frozen=True, tag="cleaned", kw_only=True):
    """The expressing kit, or the basin and brush it is washed with, was washed or sanitised."""

    what: Literal["kit", "basin"]
    how: Literal["washed", "sanitised"]


class Voided(Event, frozen=True, tag="voided", kw_only=True):
    """Another event is taken as if it had never been."""

    event: Name
    why: Text | None = None


AnyEvent = (
    Household
    | Place
    | Child
    | Expressed
    | Stocked
    | Moved
    | Poured
    | ThawSeen
    | Warmed
    | FeedBegan
    | FeedEnded
    | Discarded
    | Counted
    | Added
    | HandedOver
    | Received
    | Returned
    | Held
    | Released
    | Measured
    | PowerLost
    | PowerBack
    | Nursed
    | FedOther
    | DayComplete
    | Weighed
    | Checked
    | Incident
    | Cleaned
    | Voided
)

# Events with equal `at` are taken in this order; a kind that is not listed comes last.
ORDER: dict[type[Event], int] = {
    Household: 0,
    Place: 0,
    Child: 0,
    Expressed: 1,
    Stocked: 1,
    Poured: 2,
    Moved: 3,
    ThawSeen: 4,
    Measured: 4,
    Counted: 4,
    Warmed: 5,
    FeedBegan: 6,
    FeedEnded: 7,
}
LAST = 8

decoder: msgspec.json.Decoder[AnyEvent] = msgspec.json.Decoder(AnyEvent)


def names_born(event: AnyEvent) -> list[str]:
    """The containers that an event brings in, or pours into."""
    if isinstance(event, Expressed):
        return [portion.container for portion in event.into]
    if isinstance(event, Stocked):
        return [event.container]
    return [event.into] if isinstance(event, Poured) else []


def event_schema() -> dict[str, object]:
    """The JSON Schema of one event, for the docs and `thawline replay --schema`."""
    return msgspec.json.schema(AnyEvent)
