"""Whose milk: for someone who belongs to several households."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods

from thawline.faces.request import Request
from thawline.faces.web.people_words import role_text
from thawline.services import people


@require_http_methods(["GET", "POST"])
def page(request: Request) -> HttpResponse:
    """The households that this person belongs to, and going to one of them."""
    found = people.homes_of(int(request.user.pk or 0))
    if request.method == "GET":
        rows = [
            {"key": one.store.key, "name": one.name, "role": role_text(one.role, one.service),
             "current": one.store.key == request.home.store.key}
            for one in found
        ]  # fmt: skip
        return render(request, "web/homes.html", {"homes": rows})
    if request.POST.get("home") not in {one.store.key for one in found}:
        raise Http404
    request.session["home"] = request.POST["home"]
    request.session.pop("who", None)
    return redirect("web:now")


routes = [path("homes/", page, name="homes")]
