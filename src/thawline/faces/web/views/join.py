"""An invitation: the way in for one person, once."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from thawline.faces.web.account import passkey_lack
from thawline.faces.web.people_words import ROLE_SAYS, role_text
from thawline.faces.web.views.settings_kit import Form
from thawline.services import invitations, passkeys, present, sessions
from thawline.services.invitations import Invited, SpentError
from thawline.services.people import CannotError

_PENDING = "joining"  # in the session: the key of a sign-in whose passkey is not made yet


@login_not_required
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def page(request: HttpRequest, secret: str) -> HttpResponse:
    """What the invitation opens, and coming in; looking at it does not use it up."""
    if sessions.too_often(request, "join"):
        return render(request, "429.html", status=429)
    invited = invitations.find(secret, now=present.now())
    answer = _spent(request) if invited is None else _open(request, secret, invited)
    # The address is a secret, and no other page needs to know it.
    answer.headers["Referrer-Policy"] = "no-referrer"
    return answer


def _spent(request: HttpRequest) -> HttpResponse:
    """One page for every invitation that opens nothing, whatever the cause."""
    return render(request, "web/join_spent.html", status=404)


def _open(request: HttpRequest, secret: str, invited: Invited) -> HttpResponse:
    form = Form(request.POST.dict())
    if request.method == "GET":
        return _page(request, secret, invited, form)
    if form.sent.get("way") == "passkey" and not request.user.is_authenticated and not passkey_lack(request):
        return _passkey_page(request, secret, invited, form)
    try:
        key = _came_in(request, secret, form)
    except SpentError:
        return _spent(request)
    except CannotError as fault:
        form.wrong("username", _(str(fault)))
        key = None
    if key is None:
        return _page(request, secret, invited, form)
    return _welcome(request, key, invited)


def _came_in(request: HttpRequest, secret: str, form: Form) -> int | None:
    """The key of whoever came in: with the sign-in they have, or a new one; None where the form is to be mended."""
    now = present.now()
    if form.sent.get("credential"):
        return _by_passkey(request, secret, form, now)
    if request.user.is_authenticated:
        if form.sent.get("way") != "here":
            return None
        invitations.join(secret, request.user.pk, now=now)
        return request.user.pk
    username, password = form.sent.get("username", "").strip(), form.sent.get("password", "")
    for field, says in invitations.fresh_faults(username, password).items():
        form.wrong(field, *says)
    return None if form.errors else invitations.join_anew(secret, username=username, password=password, now=now)


def _passkey_page(request: HttpRequest, secret: str, invited: Invited, form: Form) -> HttpResponse:
    """The second half of coming in with a passkey: the phone is asked to make one for the name chosen."""
    username = form.sent.get("username", "").strip()
    try:
        key = invitations.begin_anew(secret, username, pending=request.session.get(_PENDING), now=present.now())
    except CannotError as fault:
        form.wrong("username", _(str(fault)))
        return _page(request, secret, invited, form)
    request.session[_PENDING] = key
    context = {"invited": invited, "secret": secret, "options": passkeys.to_make(key), "username": username}
    return render(request, "web/join_passkey.html", context)


def _by_passkey(request: HttpRequest, secret: str, form: Form, now: int) -> int | None:
    key = request.session.get(_PENDING)
    if request.user.is_authenticated or key is None:
        return None
    if passkeys.come_in(secret, key, form.sent, now=now):
        del request.session[_PENDING]
        return int(key)
    form.wrong("username", _("The passkey was not made. Try it once more."))
    return None


def _welcome(request: HttpRequest, key: int, invited: Invited) -> HttpResponse:
    if not request.user.is_authenticated:
        sessions.sign_in_as(request, key)
    request.session["home"] = invited.home
    request.session.pop("who", None)
    return redirect("web:now")


def _page(request: HttpRequest, secret: str, invited: Invited, form: Form) -> HttpResponse:
    context = {
        "invited": invited, "role": role_text(invited.role, invited.service), "may_do": ROLE_SAYS[invited.role],
        "secret": secret, "sent": form.sent, "errors": form.errors, "problems": form.problems,
    }  # fmt: skip
    return render(request, "web/join.html", context, status=422 if form.errors else 200)


routes = [path("join/<str:secret>/", page, name="join")]
