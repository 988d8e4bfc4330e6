"""The app of those who sign in."""

from __future__ import annotations

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """People and what they may do."""

    name = "thawline.records.accounts"
    label = "accounts"
