"""The addresses of what is printed; each sheet's module names its own."""

from __future__ import annotations

from types import ModuleType

from thawline.faces.sheets import bank_log, hand_over, labels, summary

app_name = "sheets"
_SHEETS: tuple[ModuleType, ...] = (labels, hand_over, summary, bank_log)
urlpatterns = [route for module in _SHEETS for route in module.routes]
