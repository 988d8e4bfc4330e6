"""What a trip comes to, in words: how long the packs last, what to use first, and where each container goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from thawline.core.times import HOUR, zone_named
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views import paper
from thawline.faces.web.views.heat_kit import hours_text
from thawline.faces.web.views.trip_form import Asked
from thawline.faces.words import Words
from thawline.services import trip, trip_milk
from thawline.services.board import Board
from thawline.services.trip import Held, Outfit
from thawline.services.trip_milk import Onward, Rest


class PaperWords(Words):
    """Words that stay true on paper: no today, no tomorrow."""

    def day(self, at: int) -> str:
        """The day alone: "Wed 3 Feb", with the year where it is another."""
        return paper.day(at, self)


class Caution(NamedTuple):
    """A word to mind, as `caution.html` shows it."""

    kind: str
    says: str
    more: str = ""


class Clocks(NamedTuple):
    """One moment on both clocks."""

    what: str
    here: str
    there: str


class Rule(NamedTuple):
    """What the guideline in force says of milk in a cooler."""

    says: str
    source: str
    mark: str
    until: str


def rule_of(found: Verdict | None, words: Words, until: int | None) -> Rule | None:
    """The guideline's own words, with its source; None under a hospital's care."""
    if found is None or not found.why:
        return None
    link = found.why[0]
    return Rule(link.says, link.source, link.mark, words.until(until) if until is not None else "")


def hold_says(held: Held) -> dict[str, str]:
    """The hours in words: the early ones first, then what is likely and the most."""
    if held.hours is None:
        return {}
    early, likely, late = (hours_text(one) for one in held.hours)
    return {"early": early, "likely": likely, "late": late, "none": "yes" if held.hours.early_h <= 0 else ""}


def packs_says(held: Held, outfit: Outfit, hours: float) -> Caution | None:
    """Whether the packs cover the trip, and how many it takes."""
    if held.hours is None:
        return None
    takes = hours_text(hours)
    if held.published_h is not None and hours > held.published_h:
        says = _("Your trip takes %(takes)s: longer than the guideline gives milk in a cooler.") % {"takes": takes}
        return Caution("warn", says, _("Use it on the way, or chill or freeze it in time at a stop."))
    if held.enough:
        return Caution("note", _("That covers your trip of %(takes)s, counted at its worst.") % {"takes": takes},
                       _too_full(held))  # fmt: skip
    says = _("Your trip takes %(takes)s: longer than these packs can be counted on.") % {"takes": takes}
    return Caution("warn", says, _needed_says(held, outfit))


def _needed_says(held: Held, outfit: Outfit) -> str:
    if held.needed is None:
        return _("Packs that are not frozen hold no cold: freeze them first.")
    each = {"n": held.needed, "g": f"{outfit.pack_g:g}"}
    needs = ngettext("It takes %(n)d pack of %(g)s g.", "It takes %(n)d packs of %(g)s g.", held.needed) % each
    if held.fits:
        return needs
    return (
        needs
        + " "
        + _("They do not find room beside the milk: take a larger or thicker cooler, or fresh packs on the way.")
    )


def _too_full(held: Held) -> str:
    return _("Packs and milk do not find room in this cooler: look at the numbers once more.") if held.crowded else ""


def cautions(held: Held, outfit: Outfit, words: Words) -> list[Caution]:
    """What to mind of this cooler."""
    found = [_contact(held, outfit, words)]
    if held.freezes:
        says = _("Packs this cold can freeze milk that they touch.")
        more = _("If it is to stay liquid, let the packs stand until they are damp outside before you pack them.")
        if not outfit.water:
            more = _("Salt solution melts far below 0 °C.") + " " + more
        found.append(Caution("note", says, more))
    if not outfit.water:
        says = _("For packs of salt solution there are no figures here: no hours are promised.")
        found.insert(0, Caution("warn", says, _("Take packs of water or gel, or look at a thermometer in the cooler.")))
    return found


def _contact(held: Held, outfit: Outfit, words: Words) -> Caution:
    near = {"near": words.c(round(held.near_c, 1)), "cold": words.c(trip.cold_c())}
    if outfit.touching and held.stays_cold:
        return Caution(
            "note", _("With packs on both sides the milk itself comes to about %(near)s while there is ice.") % near
        )
    if outfit.touching:
        says = _("In such heat the milk may come to about %(near)s, also between packs.") % near
        return Caution("warn", says, _("Keep the cooler out of the sun, with more packs around the milk."))
    says = (
        _("Where packs do not touch the milk on both sides, nobody can tell that it stays at %(cold)s or below.") % near
    )
    more = _("It may come to about %(near)s although there is ice. Lay it between packs: that helps most.") % near
    return Caution("warn", says, more if held.near_c > trip.cold_c() else _("Lay it between packs: that helps most."))


# Container by container


class Travels(NamedTuple):
    """A container on the trip: its line, and what it does at the end; `ends` where its time ends on the way."""

    milk: MilkLine
    ends: bool
    breaks: tuple[str, ...]


def travels(rows: Sequence[Onward], words: Words, arrive: int) -> list[Travels]:
    """The containers, the first to be used first."""
    return [
        Travels(
            milk_line(one.packed, words, hint=arrival_says(one, words, arrive)),
            one.packed.use_by is not None and one.packed.use_by < arrive,
            one.breaks,
        )
        for one in rows
    ]


def arrival_says(one: Onward, words: Words, arrive: int) -> str:
    """What to do with a container at the end, and by when it is then to be used."""
    if one.packed.use_by is not None and one.packed.use_by < arrive:
        return _("Its time ends before you arrive: use it on the way.")
    if one.packed.standing not in ("fine", "soon"):
        return ""
    if not one.frozen:
        return _rest_says(one.best(), words) or _("On arrival: use it.")
    icy = _rest_says(one.best(ice=True), words, _("With ice in it:"))
    none = _rest_says(one.best(ice=False), words, _("With none left:"))
    return " ".join(part for part in (icy, none) if part)


def _rest_says(rest: Rest | None, words: Words, lead: str = "") -> str:
    if rest is None or rest.verdict.use_by is None:
        return ""
    says = _("%(place)s, then use by %(time)s.") % {"place": rest.place, "time": words.until(rest.verdict.use_by)}
    return f"{lead or _('On arrival:')} {says}"


def thaw_says(rows: Sequence[Onward]) -> list[str]:
    """What speaks against freezing again what travelled frozen, with ice still in it and with none."""
    tried = [rest for one in rows if one.frozen for rest in one.rests if rest.kind != "refrigerator"]
    says = [word for seen in (True, False) for rest in tried if rest.ice is seen for word in rest.breaks]
    return list(dict.fromkeys(says))


# The whole answer


def answer(request: Request, one: Asked) -> dict[str, Any]:
    """What a trip comes to, for its page and its packing list."""
    words, way, outfit = one.words, one.way, one.outfit
    coolers = one.board.of_kind("cooler")
    into = coolers[0].name if coolers else cooler_name(one.board)
    seen = trip_milk.ahead(
        request.home.store, one.board, one.chosen, leave=way.leave, arrive=way.arrive, cooler=into
    )  # fmt: skip
    rule = trip_milk.household_rule(one.board)
    most_h = None if rule is None else trip.published_h(rule, one.board.now)
    loads = [trip_milk.load_of(one.board, milk) for milk in one.chosen]
    loads += [trip.Milk(one.empties.ml, trip.body_c())] * one.empties.number
    held = trip.held(outfit, loads, hours=way.hours, published_h=most_h)
    ends = None if most_h is None else way.leave + round(most_h * HOUR)
    return {
        "held": held, "hold": hold_says(held), "packs_says": packs_says(held, outfit, way.hours),
        "rule": rule_of(rule, words, ends), "hospital": rule is None,
        "cautions": cautions(held, outfit, words),
        "travels": travels(seen.containers, words, way.arrive),
        "frozen": any(row.frozen for row in seen.containers), "thaw_says": thaw_says(seen.containers),
        "look": trip.facts()["look"],
        "clocks": clocks(one, held, ends), "two": way.zone != way.there, "takes": hours_text(way.hours),
        "zone_here": zone_word(way.zone), "zone_there": zone_word(way.there),
        "rests_on": rests_on(one), "worst": worst_says(words), "empties": one.empties.number,
    }  # fmt: skip


def cooler_name(found: Board) -> str:
    """A name for a new cooler that no place has yet."""
    names = [_("cooler"), *(f"{_('cooler')} {number}" for number in range(2, len(found.places) + 3))]
    return next(name for name in names if found.place(name) is None)


def zone_word(zone: str) -> str:
    """A time zone by its city."""
    return zone.rpartition("/")[2].replace("_", " ")


def clocks(one: Asked, held: Held, ends: int | None) -> list[Clocks]:
    """The moments of the trip on the clocks of both ends, in their order."""
    way = one.way
    moments = [(way.leave, _("You leave")), (way.arrive, _("You arrive"))]
    if held.hours is not None:
        moments.append((way.leave + round(held.hours.early_h * HOUR), _("Count on the packs until")))
    if ends is not None:
        moments.append((ends, _("The guideline's time in a cooler ends")))
    here, there = (one.words._replace(zone=zone_named(zone)) for zone in (way.zone, way.there))
    return [Clocks(what, here.clock(at), there.clock(at)) for at, what in sorted(moments)]


def rests_on(one: Asked) -> list[str]:
    """What the hours rest on, in words."""
    outfit, words = one.outfit, one.words
    a, b, c = outfit.inside_cm
    size = _("Inside %(a)g x %(b)g x %(c)g cm, wall %(mm)g mm.") % {"a": a, "b": b, "c": c, "mm": outfit.wall_mm}
    packs = ngettext("%(n)d pack of %(g)g g", "%(n)d packs of %(g)g g", outfit.packs) % {
        "n": outfit.packs,
        "g": outfit.pack_g,
    }
    cold = words.c(outfit.pack_c) if outfit.pack_c is not None else _("how cold is not known")
    warm = [trip_milk.load_of(one.board, milk).c for milk in one.chosen] + [trip.body_c()] * bool(one.empties.number)
    found = [
        size,
        f"{packs}, {cold}.",
        _("Outside %(temp)s.") % {"temp": words.c(outfit.outside_c)},
        ngettext("The lid is opened %(n)d time.", "The lid is opened %(n)d times.", outfit.openings)
        % {"n": outfit.openings},
    ]
    if warm:
        found.append(_("Milk goes in at %(temp)s at the warmest.") % {"temp": words.c(max(warm))})
    return found


def worst_says(words: Words) -> str:
    """What the first figure takes at its worst."""
    worst = trip.caution()
    more = f"{worst.more_k * 9 / 5:g} °F" if words.temp == "F" else f"{worst.more_k:g} °C"
    return _(
        "The first figure takes packs at %(pack)s unless you know better, %(more)s more outside, a damp wall, "
        "%(lid)g times the openings, and %(part)g of what remains: cautious choices of ours, not measured."
    ) % {"pack": words.c(worst.pack_c), "more": more, "lid": worst.openings_times, "part": worst.hours_times}
