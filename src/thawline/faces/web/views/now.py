"""What now: everything that needs a hand."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET

from thawline.faces.web.request import Request
from thawline.services import board


@require_GET
def page(request: Request) -> HttpResponse:
    """The first page."""
    found = board.board(request.home.store, now=request.now)
    return render(request, "web/now.html", {"board": found})


routes = [path("", page, name="now")]
