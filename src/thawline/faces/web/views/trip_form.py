"""The questions of a trip: the cooler, its packs, the way, and the milk that goes along."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.http import Http404, QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from thawline.core.times import DAY, HOUR, BadTimeError, zone_named
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.amounts import BadAmountError, amount_ml, number
from thawline.faces.web.views.settings_kit import Form
from thawline.faces.words import Words, words_for
from thawline.services import trip
from thawline.services.acts import BadWhenError, moment
from thawline.services.board import Board, board
from thawline.services.household import known_zone
from thawline.services.many import oldest_first
from thawline.services.trip import Outfit

OWN = "own"
WALLS = {
    "bag": gettext_lazy("soft foam, as in a bag"),
    "box": gettext_lazy("white foam beads (polystyrene)"),
    "foam": gettext_lazy("hard box, filled with foam"),
}
SIZES = {
    "bag": gettext_lazy("Small soft bag"),
    "bag_large": gettext_lazy("Larger soft bag"),
    "box": gettext_lazy("Box of foam beads"),
    "foam": gettext_lazy("Hard box"),
    "foam_large": gettext_lazy("Larger hard box"),
}
# What the cooler's part of the form sends, to be carried along to where it is packed.
OUTFIT_FIELDS = (
    "size", "long", "wide", "high", "wall_mm", "wall", "packs", "grams", "pack_c", "water", "touch", "outside",
    "openings",
)  # fmt: skip


class Empties(NamedTuple):
    """Empty containers for milk that is expressed on the way: how many, and mL in each."""

    number: int
    ml: float


class Way(NamedTuple):
    """When it leaves and arrives (instants), and the zones of both ends."""

    leave: int
    arrive: int
    zone: str
    there: str

    @property
    def hours(self) -> float:
        """How long it takes, in hours that pass, whatever the clocks say."""
        return (self.arrive - self.leave) / HOUR


class Asked(NamedTuple):
    """What was asked: the form with what is to mend, and what it says."""

    form: Form
    board: Board
    words: Words
    outfit: Outfit
    way: Way
    chosen: list[Verdict]
    empties: Empties
    begun: bool


def asked(request: Request) -> Asked:
    """The trip that a page's address asks for; 404 where it names a container that is not there."""
    found = board(request.home.store, now=request.now)
    words = words_for(found.settings.zone, found.now, found.units)
    last = trip.kept(request.home.preferences.get("cooler"))
    sent = request.POST if request.method == "POST" else request.GET
    form = Form({**_first(last or trip.usual(), words), **{key: sent[key] for key in sent}})
    outfit = _outfit(form, found)
    coolers = {place.name for place in found.of_kind("cooler")}
    milk = [one for one in chosen(request, found)[0] if one.place not in coolers]
    return Asked(form, found, words, outfit, _way(form, found), milk, _empties(form, found), "hours" in sent)


def chosen(request: Request, found: Board) -> tuple[list[Verdict], list[str]]:
    """The containers that were ticked, oldest first, and those of them that are gone; 404 for one nobody knows."""
    sent = request.POST if request.method == "POST" else request.GET
    there = {one.container: one for one in found.verdicts}
    codes = list(dict.fromkeys(sent.getlist("code")))
    gone = [code for code in codes if code not in there]
    # PostgreSQL takes no text with a NUL.
    known = request.home.store.taken([code for code in gone if "\0" not in code]) if gone else set()
    if any(code not in known for code in gone):
        raise Http404
    return oldest_first(there[code] for code in codes if code in there), gone


def at_hand(found: Board) -> list[Verdict]:
    """What may be packed: all that is not in a cooler yet, what is within its limits first, oldest first."""
    packed = {place.name for place in found.of_kind("cooler")}
    rows = [one for one in oldest_first(found.verdicts) if one.place not in packed]
    return sorted(rows, key=lambda one: one.standing not in ("fine", "soon"))


def _first(outfit: Outfit, words: Words) -> dict[str, str]:
    a, b, c = outfit.inside_cm
    first = trip.facts()["usual"]
    return {
        "size": outfit.size, "long": f"{a:g}", "wide": f"{b:g}", "high": f"{c:g}", "wall_mm": f"{outfit.wall_mm:g}",
        "wall": outfit.wall, "packs": str(outfit.packs), "grams": f"{outfit.pack_g:g}",
        "pack_c": "" if outfit.pack_c is None else words.c(outfit.pack_c), "water": "yes" if outfit.water else "no",
        "touch": "yes" if outfit.touching else "no", "outside": words.c(outfit.outside_c),
        "openings": str(outfit.openings), "hours": f"{first['hours']:g}", "leave": "", "arrive": "", "zone": "",
        "there": "", "empty": "", "empty_ml": "",
    }  # fmt: skip


def _number(form: Form, name: str, most: float, missing: float, *, least: float = 0.0) -> float:
    """A number from `least` to `most`; `missing` where the field is empty or has to be mended."""
    text = form.sent.get(name, "").strip()
    if not text:
        return missing
    return _read(form, name, lambda: _within(number(text), least, most), missing)


def _within(found: float, least: float, most: float) -> float:
    if not least <= found <= most:
        raise BadAmountError(_("Write a number from %(least)g to %(most)g.") % {"least": least, "most": most})
    return found


def _read(form: Form, name: str, read: Callable[[], float], missing: float) -> float:
    try:
        return read()
    except BadAmountError as fault:
        form.wrong(name, str(fault))
        return missing


def _outfit(form: Form, found: Board) -> Outfit:
    most, first = trip.facts()["longest"], trip.usual()
    size = next((one for one in trip.sizes() if one.key == form.sent.get("size")), None)
    inside, wall_mm, wall = first.inside_cm, first.wall_mm, first.wall
    if size is not None:
        inside, wall_mm, wall = size.inside_cm, size.wall_mm, size.wall
    elif form.choice("size", (OWN,)):
        a, b, c = (_number(form, name, most["side_cm"], 20.0, least=3) for name in ("long", "wide", "high"))
        inside, wall_mm = (a, b, c), _number(form, "wall_mm", most["wall_mm"], wall_mm, least=1)
        wall = form.choice("wall", trip.walls())
    outside = form.temp("outside", found.units[1])
    return Outfit(
        size.key if size is not None else OWN, inside, wall_mm, wall if wall in trip.walls() else first.wall,
        int(_number(form, "packs", most["packs"], 0)), _number(form, "grams", most["pack_g"], first.pack_g, least=1),
        form.temp("pack_c", found.units[1]), form.sent.get("water") != "no", form.sent.get("touch") == "yes",
        first.outside_c if outside is None else outside, int(_number(form, "openings", most["openings"], 0)),
    )  # fmt: skip


def _empties(form: Form, found: Board) -> Empties:
    count = int(_number(form, "empty", trip.facts()["longest"]["empties"], 0))
    text = form.sent.get("empty_ml", "").strip()
    ml = _read(form, "empty_ml", lambda: amount_ml(text, found.units[0], least_ml=1), 0.0) if text else 0.0
    if count and not ml and "empty_ml" not in form.errors:
        form.wrong("empty_ml", _("Write how much goes into each of them."))
    return Empties(count, ml)


def _zone(form: Form, name: str, usual: str) -> str:
    given = form.sent.get(name, "").strip()
    if not given or known_zone(given):
        return given or usual
    form.wrong(name, _("Choose a time zone from the list, such as Europe/Lisbon."))
    return usual


def _way(form: Form, found: Board) -> Way:
    zone = _zone(form, "zone", found.settings.zone)
    there = _zone(form, "there", zone)
    most = float(trip.facts()["longest"]["hours"])
    # A trip that is thought of has not begun.
    leave = max(_moment(form, "leave", zone) or found.now, found.now)
    if leave > found.now + int(trip.facts()["longest"]["ahead_days"]) * DAY:
        form.wrong("leave", _("That is more than a year ahead. Look at it once more."))
        leave = found.now
    arrive = _moment(form, "arrive", there)
    if arrive is None:
        hours = _number(form, "hours", most, trip.facts()["usual"]["hours"], least=0.25)
        return Way(leave, leave + round(hours * HOUR), zone, there)
    if not 0 < arrive - leave <= most * HOUR:
        form.wrong("arrive", _("That is not after you leave, or more than %(most)g hours later.") % {"most": most})
        arrive = leave + HOUR
    return Way(leave, arrive, zone, there)


def _moment(form: Form, name: str, zone: str) -> int | None:
    text = form.sent.get(name, "").strip()
    if not text:
        return None
    try:
        return moment(text, zone_named(zone))
    except BadWhenError as fault:
        form.wrong(name, _(str(fault)))
    except BadTimeError:
        form.wrong(name, _("Write the day and the time, such as 2027-02-03 07:10."))
    return None


# What the page shows


def fields(one: Asked) -> dict[str, Any]:
    """The form's choices."""
    sizes = [
        {"value": size.key, "label": SIZES[size.key],
         "says": _("about %(litres)d L, wall %(mm)g mm") % {"litres": size.litres, "mm": size.wall_mm}}
        for size in trip.sizes()
    ]  # fmt: skip
    fl_oz = one.words.amount == "fl_oz"
    return {
        "sent": one.form.sent,
        "errors": one.form.errors,
        "problems": one.form.problems,
        "sizes": [*sizes, {"value": OWN, "label": _("Another, with my numbers")}],
        "walls": [{"value": key, "label": WALLS[key]} for key in trip.walls()],
        "waters": [
            {"value": "yes", "label": _("Water or gel"), "says": _("melts at 0 °C")},
            {"value": "no", "label": _("Salt solution"), "says": _("made for deep cold")},
        ],
        "touches": [
            {"value": "yes", "label": _("Yes"), "says": _("on both sides of each container")},
            {"value": "no", "label": _("No, or not sure")},
        ],
        "temp_unit": f"°{one.words.temp}",
        "amount_unit": _("fl oz") if fl_oz else _("mL"),
        "amount_by": "0.5" if fl_oz else "10",
        "own": one.form.sent.get("size") == OWN,
        "zones_open": bool({"zone", "there", "leave", "arrive"} & set(one.form.errors)) or _zoned(one.form.sent),
    }


def _zoned(sent: Mapping[str, str]) -> bool:
    return any(sent.get(name) for name in ("zone", "there", "leave", "arrive"))


def query(sent: QueryDict) -> str:
    """The form as an address carries it."""
    return urlencode([(key, value) for key, values in sent.lists() for value in values
                      if key not in ("act", "done", "csrfmiddlewaretoken") and value])  # fmt: skip


def carried(one: Asked) -> list[tuple[str, str]]:
    """What of the form goes along to where the cooler is packed."""
    return [(name, one.form.sent.get(name, "")) for name in OUTFIT_FIELDS]
