"""Roles, and how an invitation stands, in words."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.services.invitations import ROLES

ROLE_WORDS = {
    "owner": gettext_lazy("owner"),
    "parent": gettext_lazy("parent"),
    "carer": gettext_lazy("carer"),
    "childcare": gettext_lazy("childcare"),
}
ROLE_SAYS = {
    "owner": gettext_lazy("Everything, also a copy of the whole ledger, and erasing it."),
    "parent": gettext_lazy("Everything but a copy of the whole ledger, and erasing it."),
    "carer": gettext_lazy("Sees the milk and the plan, notes what is done with it. No settings."),
    "childcare": gettext_lazy("Sees only what is handed to their service, and notes what becomes of it."),
}
STATE_WORDS = {
    "open": gettext_lazy("open"),
    "used": gettext_lazy("used"),
    "withdrawn": gettext_lazy("withdrawn"),
    "expired": gettext_lazy("expired"),
}


def role_choices(service: bool) -> list[dict[str, Any]]:
    """The roles that may be given; childcare only where there is a service."""
    return [
        {"value": role, "label": str(ROLE_WORDS[role]).capitalize(), "says": ROLE_SAYS[role]}
        for role in ROLES
        if service or role != "childcare"
    ]


def hours_word(hours: int) -> str:
    """So many hours, in words: days where they are whole."""
    if hours % 24 == 0 and hours > 48:
        return ngettext("%(n)d day", "%(n)d days", hours // 24) % {"n": hours // 24}
    return ngettext("%(n)d hour", "%(n)d hours", hours) % {"n": hours}


def role_text(role: str, service: str | None) -> str:
    """A role, with the service where they work."""
    return (
        _("%(role)s, %(service)s") % {"role": ROLE_WORDS[role], "service": service}
        if service
        else str(ROLE_WORDS[role])
    )
