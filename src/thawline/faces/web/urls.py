"""The addresses of the pages; each page's module names its own."""

from __future__ import annotations

from types import ModuleType

from thawline.faces.web.views import (
    guidelines,
    heat,
    history,
    labels,
    log,
    milk,
    now,
    outlook,
    paper,
    plan,
    power,
    readings,
    settings,
    settings_habits,
    setup,
    stock,
    trip,
    wait,
)

app_name = "web"
_AREAS: tuple[ModuleType, ...] = (
    now,
    log,
    milk,
    stock,
    history,
    guidelines,
    settings,
    setup,
    paper,
    heat,
    trip,
    power,
    readings,
    plan,
    outlook,
    settings_habits,
    wait,
    labels,
)
urlpatterns = [route for module in _AREAS for route in module.routes]
