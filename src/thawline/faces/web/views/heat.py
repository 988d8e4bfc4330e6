"""How long will it take: the questions of heat, and writing down a container's measure."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET

from thawline.faces.request import Request
from thawline.faces.web.views import heat_cool, heat_freeze, heat_measure, heat_thaw, heat_warm


@require_GET
def page(request: Request) -> HttpResponse:
    """The questions."""
    return render(request, "web/heat.html")


routes = [
    path("heat/", page, name="heat"),
    path("heat/thaw/", heat_thaw.page, name="heat_thaw"),
    path("heat/freeze/", heat_freeze.page, name="heat_freeze"),
    path("heat/warm/", heat_warm.page, name="heat_warm"),
    path("heat/cool/", heat_cool.page, name="heat_cool"),
    path("heat/measure/", heat_measure.page, name="heat_measure"),
]
