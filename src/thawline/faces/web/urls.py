"""The addresses of the pages; each page's module names its own."""

from __future__ import annotations

from thawline.faces.web.views import guidelines, history, log, milk, now, paper, settings, setup, stock

app_name = "web"
urlpatterns = [
    route for module in (now, log, milk, stock, history, guidelines, settings, setup, paper) for route in module.routes
]
