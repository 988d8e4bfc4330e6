"""The app of the ledger; the triggers that keep it append-only are installed anew after every migrate."""

from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from thawline.records.ledger import triggers


class LedgerConfig(AppConfig):
    """Events, and what is derived from them to find them again."""

    name = "thawline.records.ledger"
    label = "ledger"

    def ready(self) -> None:
        post_migrate.connect(triggers.after_migrate, sender=self)
