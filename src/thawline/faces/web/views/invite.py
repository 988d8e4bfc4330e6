"""Settings: who else may come in, with what role, and who is shown out."""

from __future__ import annotations

from collections.abc import Mapping

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from thawline.faces.request import Request, asked_here
from thawline.faces.web.acting import words_of
from thawline.faces.web.people_words import ROLE_SAYS, STATE_WORDS, hours_word, role_choices, role_text
from thawline.faces.web.qr import qr_picture
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.web.views.settings_people import DEVICES
from thawline.services import invitations, people_out
from thawline.services.people import CannotError, Person

_SHOWN = 20  # invitations listed, the latest first


@require_http_methods(["GET", "POST"])
def invite(request: Request) -> HttpResponse:
    """Invite somebody, or withdraw an invitation; the link is shown once."""
    form = Form(request.POST.dict())
    if request.method == "POST" and "withdraw" in request.POST:
        if not invitations.withdraw(request.home.store, _number(request.POST["withdraw"])):
            raise Http404
        return HttpResponseRedirect(reverse("web:invite"))
    if request.method == "GET":
        form = Form({"name": request.GET.get("name", "").replace("\0", "")[:80], "role": "carer",
                     "hours": str(invitations.HOURS[0])})  # fmt: skip
        return _page(request, form)
    secret = _invited(request, form)
    return _page(request, form) if secret is None else _made(request, secret, form)


def _number(text: str) -> int:
    """A key as sent; raises `Http404`."""
    if not (text.isascii() and text.isdigit() and len(text) < 19):
        raise Http404
    return int(text)


def _invited(request: Request, form: Form) -> str | None:
    name = form.text("name", _("Write the name, as it shall stand beside what they note."))
    role = form.choice("role", invitations.ROLES)
    hours = form.choice("hours", [str(one) for one in invitations.HOURS])
    service = form.sent.get("service", "")
    if form.errors:
        return None
    try:
        return invitations.invite(
            request.home, name=name, role=role, hours=int(hours), now=request.now,
            service=_number(service) if service and role == "childcare" else None,
        )  # fmt: skip
    except CannotError as fault:
        form.wrong("service" if role == "childcare" and not service else "name", _(str(fault)))
        return None


def _page(request: Request, form: Form) -> HttpResponse:
    words, store = words_of(request), request.home.store
    services = [{"value": str(key), "label": name} for key, name in invitations.services(store)]
    context = {
        "roles": role_choices(bool(services)), "services": services, "sent": form.sent,
        "hours": [{"value": str(one), "label": hours_word(one)} for one in invitations.HOURS],
        "errors": form.errors, "problems": form.problems,
        "invited": [
            {"id": one.id, "name": one.name, "role": role_text(one.role, one.service), "by": one.by,
             "state": STATE_WORDS[one.state], "open": one.state == "open", "until": words.until(one.expires_at)}
            for one in invitations.listed(store, now=request.now)[:_SHOWN]
        ],
    }  # fmt: skip
    return render(request, "web/invite.html", context, status=422 if form.errors else 200)


def _made(request: Request, secret: str, form: Form) -> HttpResponse:
    """The link, once: nobody can show it again."""
    base, reaches = base_address(request)
    link = f"{base}{reverse('web:join', args=[secret])}"
    context = {
        "link": link, "name": form.sent["name"], "hours": hours_word(int(form.sent["hours"])), "reaches": reaches,
        "qr": qr_picture(link, _("QR code of the invitation")), "role_says": ROLE_SAYS[form.sent["role"]],
    }  # fmt: skip
    return render(request, "web/invite_made.html", context)


def base_address(request: Request) -> tuple[str, bool]:
    """Under what address other phones find this, such as `https://thawline.lan:8600`; and whether they do."""
    if not asked_here(request):
        return f"{request.scheme}://{request.get_host()}", True
    kept = request.home.preferences.get("labels")
    known = str(kept.get("address") or "") if isinstance(kept, dict) else ""
    return (known.rstrip("/"), True) if known else (f"{request.scheme}://{request.get_host()}", False)


@require_http_methods(["GET", "POST"])
def member(request: Request, key: int) -> HttpResponse:
    """Somebody of the household: what they may do, their phones, and the way out."""
    person = people_out.find(request.home.store, key)
    if person is None:
        raise Http404
    form = Form(request.POST.dict())
    if request.method == "GET":
        return _member_page(request, person, form)
    try:
        return HttpResponseRedirect(_done(request, key, person.name, form.sent))
    except CannotError as fault:
        form.wrong("role", _(str(fault)))
        return _member_page(request, person, form)


def _done(request: Request, key: int, name: str, sent: Mapping[str, str]) -> str:
    """Do what the form asks; where to go then. Raises `CannotError`, `Http404`."""
    here, what = request.session.session_key or "", sent.get("do")
    if what == "role":
        service = sent.get("service", "")
        role = sent.get("role", "")
        people_out.change_role(request.home, key, role, _number(service) if service and role == "childcare" else None)
    elif what == "out":
        people_out.show_out(request.home, key)
        messages.success(request, _("%(name)s was shown out.") % {"name": name})
        return reverse("web:settings_people")
    elif what in ("phone", "phones"):
        phone = _number(sent.get("phone", "")) if what == "phone" else None
        if not people_out.sign_out(request.home, key, phone, keep=here):
            raise Http404
    else:
        raise Http404
    return reverse("web:member", args=[key])


def _member_page(request: Request, person: Person, form: Form) -> HttpResponse:
    words, home = words_of(request), request.home
    services = invitations.services(home.store)
    now_at = next((str(key) for key, name in services if name == person.service), "")
    context = {
        "person": person, "role": role_text(person.role, person.service), "may_do": ROLE_SAYS[person.role],
        "roles": role_choices(bool(services)),
        "services": [{"value": str(key), "label": name} for key, name in services],
        "sent": form.sent or {"role": person.role, "service": now_at}, "errors": form.errors,
        "problems": form.problems, "own": person.id == home.member_id,
        "changeable": people_out.may_change(home, person),
        "phones_seen": people_out.may_sign_out(home, person),
        "phones": [
            {"id": one.id, "device": DEVICES[one.device], "since": words.clock(one.since) if one.since else None}
            for one in people_out.phones(home, person.id)
        ],
    }  # fmt: skip
    return render(request, "web/member.html", context, status=422 if form.errors else 200)


routes = [
    path("settings/people/invite/", invite, name="invite"),
    path("settings/people/<int:key>/", member, name="member"),
]
