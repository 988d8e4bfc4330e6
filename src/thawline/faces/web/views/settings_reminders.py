"""Settings: reminders beyond the calendar, each person's own; nothing is sent until they are switched on."""

from __future__ import annotations

from django.contrib import messages
from django.core.cache import cache
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from thawline.faces.due_words import kind_choices
from thawline.faces.reminder_words import test_message
from thawline.faces.request import Request
from thawline.faces.web.views.settings_kit import Form
from thawline.services import agenda, reminders, reminders_way
from thawline.services.people import CannotError

_TRY_AGAIN = 15  # seconds between two tests


@sensitive_post_parameters("address")
@require_http_methods(["GET", "POST"])
def of_reminders(request: Request) -> HttpResponse:
    """Where to, of what, when not, and whether at all."""
    form = Form(request.POST.dict())
    if request.method == "POST":
        if "remove" in request.POST:
            reminders.remove(request.home)
            return HttpResponseRedirect(reverse("web:reminders"))
        _keep(request, form)
        if not form.errors:
            return HttpResponseRedirect(reverse("web:reminders"))
    return _page(request, form)


def _keep(request: Request, form: Form) -> None:
    try:
        reminders.keep(
            request.home,
            form.sent.get("address", ""),
            request.POST.getlist("about"),
            on=form.sent.get("on") == "yes",
            quiet_from=form.sent.get("quiet_from", "").strip(),
            quiet_until=form.sent.get("quiet_until", "").strip(),
        )
    except CannotError as fault:
        form.wrong(_field(str(fault)), _(str(fault)))


def _field(says: str) -> str:
    """The field that an error speaks of."""
    return "quiet_from" if "quiet hours" in says else "about" if "at least one" in says else "address"


def _page(request: Request, form: Form) -> HttpResponse:
    kept = reminders.kept(request.home)
    sent = form.sent or ({} if kept is None else {
        "on": "yes" if kept.on else "no", "quiet_from": kept.quiet_from, "quiet_until": kept.quiet_until})  # fmt: skip
    about = request.POST.getlist("about") if form.sent else list(agenda.KINDS if kept is None else kept.about)
    context = {
        "offered": reminders_way.offered(), "kept": kept, "kinds": kind_choices(), "about": about,
        "on": sent.get("on", "no"), "sent": sent, "errors": form.errors, "problems": form.problems,
        "switch": [{"value": "yes", "label": _("On")}, {"value": "no", "label": _("Off")}],
    }  # fmt: skip
    return render(request, "web/settings_reminders.html", context, status=422 if form.errors else 200)


@require_POST
def test(request: Request) -> HttpResponse:
    """Send a test to one's own address and tell how it went."""
    if not cache.add(f"reminders-test-{request.home.member_id}", 1, _TRY_AGAIN):
        messages.warning(request, _("A test was sent just now. Wait a moment before the next."))
        return HttpResponseRedirect(reverse("web:reminders"))
    try:
        reminders.try_out(request.home, *test_message())
        messages.success(request, _("The service took the test. Look whether it arrived."))
    except CannotError as fault:
        messages.error(request, _(str(fault)))
    return HttpResponseRedirect(reverse("web:reminders"))


routes = [
    path("settings/reminders/", of_reminders, name="reminders"),
    path("settings/reminders/test/", test, name="reminders_test"),
]
