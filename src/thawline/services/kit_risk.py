"""Children born early or with a weakened immune system, as their household said: their kit is sanitised daily."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction

from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore
from thawline.records.store import Store

_KEY = "kit_daily"


def at_risk(store: Store) -> frozenset[str]:
    """The names of those children; none where nothing was said."""
    if not isinstance(store, DatabaseStore):
        return frozenset()
    found = Household.objects.filter(pk=store.id).values_list("preferences", flat=True).first() or {}
    names = found.get(_KEY, [])
    return frozenset(str(name) for name in names) if isinstance(names, list) else frozenset()


def keep_at_risk(store: DatabaseStore, names: Iterable[str]) -> None:
    """Keep with the household of which children that was said."""
    with transaction.atomic():
        house = Household.objects.select_for_update().get(pk=store.id)
        house.preferences = {**house.preferences, _KEY: sorted(set(names))}
        house.save(update_fields=["preferences"])
