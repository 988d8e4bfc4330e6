"""The first run, and the pages that need no milk: who is noting, more, cautions, encryption."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods

from thawline.core.times import local, zone_named
from thawline.faces.request import Request, sent_here
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import KINDS
from thawline.services import household, people, present, sessions
from thawline.services.acts import Act, written_now
from thawline.services.people import CannotError
from thawline.services.recording import new_act

PLACE_NAMES = {
    "counter": gettext_lazy("counter"),
    "fridge": gettext_lazy("fridge"),
    "freezer": gettext_lazy("freezer"),
    "cooler bag": gettext_lazy("cooler bag"),
}


def amount_choices() -> list[dict[str, str]]:
    """The units of amounts, to choose from."""
    return [{"value": "ml", "label": _("mL")}, {"value": "fl_oz", "label": _("fl oz")}]


def temp_choices() -> list[dict[str, str]]:
    """The units of temperatures, to choose from."""
    return [{"value": "C", "label": "°C"}, {"value": "F", "label": "°F"}]


def care_choices() -> list[dict[str, str]]:
    """Who gives the rules for a child."""
    hidden = _("Preterm, ill or in hospital. Home limits are hidden: follow your care team.")
    return [
        {"value": "home", "label": _("At home"), "says": _("A healthy baby, born at term.")},
        {"value": "hospital", "label": _("A hospital's care"), "says": hidden},
    ]


def guideline_choices() -> list[dict[str, str]]:
    """The guidelines for a home, each with its edition."""
    return [{"value": one.id, "label": one.name, "says": one.source} for one in household.homes()]


# The first run


def _first_values() -> dict[str, str]:
    found = {"household": _("Home"), "zone": household.zone_here(), "amount": "ml", "temp": "C", "care": "home",
             "guideline": household.usual_guideline()}  # fmt: skip
    for number, usual in enumerate(household.PRESET):
        found[f"keep_{number}"] = "yes"
        found[f"place_{number}"] = str(PLACE_NAMES[usual.key])
    return found


def _place_rows(form: Form) -> list[dict[str, Any]]:
    return [
        {
            "n": number, "place_key": f"place_{number}", "temp_key": f"temp_{number}",
            "kind": KINDS[usual.kind], "keep": form.sent.get(f"keep_{number}"),
            "name": form.sent.get(f"place_{number}", ""), "temp": form.sent.get(f"temp_{number}", ""),
            "name_errors": form.errors.get(f"place_{number}"), "temp_errors": form.errors.get(f"temp_{number}"),
        }
        for number, usual in enumerate(household.PRESET)
    ]  # fmt: skip


def _begin_page(request: HttpRequest, form: Form, status: int = 200) -> HttpResponse:
    opened = any(name.startswith(("place_", "temp_", "keep_", "guideline")) for name in form.errors)
    page = {
        "form": form, "sent": form.sent, "errors": form.errors, "problems": form.problems, "zones": household.zones(),
        "amounts": amount_choices(), "temps": temp_choices(), "cares": care_choices(), "places": _place_rows(form),
        "guidelines": guideline_choices(), "opened": opened,
        "usual": household.homes()[0],
    }  # fmt: skip
    return render(request, "web/begin.html", page, status=status)


@login_not_required
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def begin(request: HttpRequest) -> HttpResponse:
    """Set up the household, in one go; only while there is no owner."""
    if people.owner_exists():
        raise Http404
    # A foreign page can make its own name mean this computer, and would then be the first to choose the password.
    if not (request.is_secure() or sent_here(request)):
        return render(request, "web/error.html", {"what": "begin_here"}, status=403)
    if request.method == "GET":
        return _begin_page(request, Form(_first_values()))
    form = Form(request.POST.dict())
    owner = _owner(form)
    act = _described(form, owner["name"])
    if form.errors:
        return _begin_page(request, form, 422)
    try:
        household.found(act, now=present.now(), **owner)
    except CannotError as fault:
        form.wrong("username", str(fault))
        return _begin_page(request, form, 422)
    sessions.sign_in(request, username=owner["username"], password=owner["password"])
    return redirect("web:now")


def _owner(form: Form) -> dict[str, str]:
    """Who sets it up; the password is taken as typed."""
    username = form.text("username", _("Choose a name to sign in with."), most=150)
    password = form.sent.get("password", "")
    if username and "username" not in form.errors:
        form.errors.update({"username": found} if (found := household.username_faults(username)) else {})
    faults = household.password_faults(password, username)
    if faults:
        form.wrong("password", *faults)
    name = form.text("name", _("Write your name, as it shall stand beside what you note."))
    home = form.text("household", _("Give your household a name."))
    return {"name": name, "username": username, "password": password, "household": home}


def _described(form: Form, by: str) -> Act:
    """The household, its child and its places, as events of one act."""
    zone = form.text("zone", _("Choose your zone."))
    if zone and not household.known_zone(zone):
        form.wrong("zone", _("This zone is not known. Write it like Europe/Lisbon."))
    zone = "UTC" if "zone" in form.errors else zone
    now = present.now()
    amount = form.choice("amount", household.AMOUNTS)
    temp = form.choice("temp", household.TEMPS)
    guideline = form.choice("guideline", {one.id for one in household.homes()})
    act = Act(new_act(), by=by, at=written_now(now, zone))
    household.describe(act, zone=zone, guideline=guideline, also=(), units=(amount, temp))
    today = local(now, zone_named(zone)).date().isoformat()
    household.child(
        act,
        form.text("child", _("Write your child's name.")),
        born=form.day("born", _("Choose the day of birth."), latest=today),
        care=form.choice("care", household.CARES),
    )
    _places(act, form, temp)
    return act


def _places(act: Act, form: Form, unit: str) -> None:
    names: set[str] = set()
    for number, usual in enumerate(household.PRESET):
        if form.sent.get(f"keep_{number}") != "yes":
            continue
        name = form.text(f"place_{number}", _("Give this place a name, or take it off."))
        if name in names:
            form.wrong(f"place_{number}", _("Two places have this name. Give each its own."))
        names.add(name)
        household.place(act, name, kind=usual.kind, temp_c=form.temp(f"temp_{number}", unit))
    if not names:
        form.wrong("keep_0", _("Keep at least one place."))


# Who is noting


@require_http_methods(["GET", "POST"])
def who(request: Request) -> HttpResponse:
    """Whose name stands beside what is noted on this phone: one tap."""
    store = request.home.store
    if request.method == "POST" and "new" not in request.POST:
        chosen = request.POST.get("who", "")
        if chosen not in {person.name for person in people.people(store)}:
            raise Http404
        return _as(request, chosen)
    form = Form(request.POST.dict())
    if request.method == "POST":
        name = form.text("new", _("Write a name."))
        if not form.errors:
            try:
                people.add_person(store, name)
                return _as(request, name)
            except CannotError as fault:
                form.wrong("new", _(str(fault)))
    names = [{"id": one.name, "name": one.name, "current": one.name == request.who} for one in people.people(store)]
    page = {"people": names, "next": _next(request), "sent": form.sent, "errors": form.errors,
            "problems": form.problems}  # fmt: skip
    return render(request, "web/who.html", page, status=422 if form.errors else 200)


def _as(request: Request, name: str) -> HttpResponse:
    request.session["who"] = name
    return HttpResponseRedirect(_next(request))


def _next(request: Request) -> str:
    sent: Mapping[str, str] = request.POST if request.method == "POST" else request.GET
    wanted = sent.get("next", "")
    ours = wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None)
    return wanted if ours else reverse("web:now")


# Pages to read


@require_GET
def more(request: Request) -> HttpResponse:
    """What is needed seldom."""
    return render(request, "web/more.html")


@login_not_required
@require_GET
def cautions(request: HttpRequest) -> HttpResponse:
    """What this cannot tell, and when to ask somebody."""
    return render(request, "web/cautions.html")


@login_not_required
@require_GET
def https(request: HttpRequest) -> HttpResponse:
    """How to have the connection encrypted at home."""
    return render(request, "web/https.html")


routes = [
    path("begin/", begin, name="begin"),
    path("who/", who, name="who"),
    path("more/", more, name="more"),
    path("cautions/", cautions, name="cautions"),
    path("https/", https, name="https"),
]
