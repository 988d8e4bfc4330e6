"""The invented household's childcare service, with what was handed to it this morning."""

from __future__ import annotations

from thawline.core.times import DAY, HOUR, MINUTE, written, zone_named
from thawline.records.ledger.store import DatabaseStore
from thawline.services import childcare, labels
from thawline.services.acts import Act
from thawline.services.childcare_rules import hand_over
from thawline.services.demo import CARER, CHILD, COUNTER, FATHER, FRIDGE, MOTHER, ZONE
from thawline.services.recording import line_of, new_act, record

SERVICE = "Kingfisher room"
# Codes that the rest of the invented ledger never gives.
_BOTTLES = (("HU34", 95, 21 * HOUR), ("KU47", 80, 14 * HOUR), ("MU73", 110, 12 * HOUR))
_OVER, _FED = 4 * HOUR, 70 * MINUTE


def furnish(store: DatabaseStore, *, now: int) -> None:
    """A service with three bottles of this morning, of which one was drunk but for a rest."""
    there = childcare.add(
        store, SERVICE, by=MOTHER, now=now - 20 * DAY, rule="us-or", temp_c=4, closes="17:30", calls="Marta, 0100 2040"
    )
    labels.keep(store, names={CHILD: f"{CHILD} Duarte Sol"}, address="", stock="")
    zone = zone_named(ZONE)
    act = Act(new_act(), by=MOTHER, at=written(now, zone))
    for code, ml, ago in _BOTTLES:
        into = [{"container": code, "ml": ml}]
        act.add("expressed", at=written(now - ago, zone), into=into, place=COUNTER, side="both", minutes=16)
        act.add("moved", at=written(now - ago + 25 * MINUTE, zone), container=code, to=FRIDGE)
    over = Act(new_act(), by=FATHER, at=written(now - _OVER, zone))
    hand_over(over, there, {code: there.place for code, _ml, _ago in _BOTTLES})
    fed = Act(new_act(), by=CARER, at=written(now - _FED, zone))
    first = _BOTTLES[0][0]
    fed.add("warmed", at=written(now - _FED - 25 * MINUTE, zone), container=first, how="warm_water")
    fed.fed(first, CHILD, left_ml=25, began=written(now - _FED - 20 * MINUTE, zone))
    lines = [line_of(event) for one in (act, over, fed) for event in one.events]
    record(store, lines, now=now, person=MOTHER)
