"""What the pages of a power cut say: hours, places, outcomes, and the rules with who publishes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.times import MINUTE
from thawline.core.verdict import Verdict
from thawline.faces.words import KINDS, STANDINGS, Words
from thawline.services import power
from thawline.services.power import Cut, Rules
from thawline.services.recording import new_act

FILLS = {
    "full": gettext_lazy("Full"),
    "half": gettext_lazy("Half full"),
    "little": gettext_lazy("Nearly empty, or opened often"),
}


class PlaceShown(NamedTuple):
    """A place without power as the page shows it."""

    name: str
    kind: str
    key: str
    says: str
    estimate: str
    asks: bool
    fill: str
    freezer: bool
    act: str


def long(micros: int) -> str:
    """A length of time in hours: "4 hours", "2 h 30 min"."""
    whole, minutes = divmod(micros // MINUTE, 60)
    if minutes == 0:
        return ngettext("%(n)d hour", "%(n)d hours", whole) % {"n": whole}
    return _("%(hours)d h %(minutes)d min") % {"hours": whole, "minutes": minutes}


def shown(cut: Cut, number: int, words: Words) -> PlaceShown:
    """Until when a place counts as cold, and why."""
    return PlaceShown(
        cut.place, str(KINDS[cut.kind]), f"place-{number}", _counts(cut, words), _estimate(cut, words),
        cut.back is None, cut.fill or "", power.is_freezer(cut.kind), new_act(),
    )  # fmt: skip


def _counts(cut: Cut, words: Words) -> str:
    if cut.hours.held == 0:
        return _("No hours are promised: only ice or a thermometer can tell.")
    until = words.clock(cut.cold_until)
    if cut.within:
        return _("The power was back within its hours: it counts as cold all the time.")
    if cut.back is not None:
        return _("It counted as cold until %(time)s. Then only ice or a thermometer can tell.") % {"time": until}
    if cut.cold_until < words.now:
        return _("It counted as cold until %(time)s. Look at the milk now.") % {"time": until}
    return _("Counts as cold until %(time)s, if the door stays shut.") % {"time": until}


def _estimate(cut: Cut, words: Words) -> str:
    """What the published rule says, and why less of it counts here."""
    rule = _("Published: %(hours)s for a closed box.") % {"hours": long(cut.hours.published)}
    if cut.hours.published == 0:
        if cut.fill is None:
            return _("How full it is has not been noted yet; the published hours depend on it.")
        return _("No hours are published for a freezer with little in it.")
    if not cut.hours.shortened:
        return rule
    why = _("Estimate: fewer here, for what is in it and how warm it is.")
    if cut.room_c is not None:
        why = _("Estimate: fewer here, for what is in it and a room of %(temp)s.") % {"temp": words.c(cut.room_c)}
    return f"{rule} {why}"


def outcome(found: Verdict | None, words: Words) -> str:
    """What would be said of a container then."""
    if found is None:
        return ""
    word = str(STANDINGS[found.standing])
    if found.standing == "gone":
        return ""
    if found.use_by is None or found.standing in ("outside", "breached"):
        return _("Then: %(word)s") % {"word": word}
    if found.standing == "held":
        by = words.until(found.use_by)
        if found.use_by < words.now:
            return _("Then: %(word)s, and its time ended %(time)s") % {"word": word, "time": by}
        return _("Then: %(word)s; if released, use by %(time)s") % {"word": word, "time": by}
    if found.standing == "past":
        return _("Then: %(word)s, since %(time)s") % {"word": word, "time": words.until(found.use_by)}
    return _("Then: %(word)s, use by %(time)s") % {"word": word, "time": words.until(found.use_by)}


def steps(rules: Rules, *, kinds: Sequence[str], hours: bool) -> list[str]:
    """What to do, in the order in which it is done; with the published hours where they stand nowhere else."""
    said = [_("Keep the doors shut. Every look costs time.")]
    said += hours_said(rules, kinds) if hours else []
    fridge = rules.published("refrigerator", None)
    if "refrigerator" in kinds and fridge is not None:
        said.append(
            _("Before the refrigerator's %(hours)s are over, move its milk to a cooler, against frozen packs.")
            % {"hours": long(fridge)}
        )
    return [
        *said,
        _("Do not taste milk to find out. A normal smell proves nothing."),
        _("Do not put milk outdoors in snow: sun warms it, and the cold comes and goes."),
        _("Milk that flood water touched: throw it away."),
    ]


def hours_said(rules: Rules, kinds: Sequence[str]) -> list[str]:
    """The published hours of the places of these kinds, a sentence each."""
    said = []
    fridge = rules.published("refrigerator", None)
    if "refrigerator" in kinds and fridge is not None:
        said.append(_("A closed refrigerator counts as cold for %(hours)s.") % {"hours": long(fridge)})
    full, half = rules.published("freezer", "full"), rules.published("freezer", "half")
    if {"freezer", "deep_freezer"} & set(kinds) and full and half:
        told = _("A closed freezer counts as cold for %(full)s if full, for %(half)s if half full.")
        said.append(told % {"full": long(full), "half": long(half)})
        said.append(_("With less in it, or opened often, nothing is promised."))
    shelf = rules.published("freezer_compartment", None)
    if "freezer_compartment" in kinds and shelf is not None:
        said.append(
            _("A freezer compartment behind the refrigerator's door: as the refrigerator, %(hours)s.")
            % {"hours": long(shelf)}
        )
    return said


def afterwards(rules: Rules, words: Words) -> list[str]:
    """What is looked for when the power is back."""
    line, span = words.c(rules.line_c), long(rules.above_for)
    return [
        _("Look at each container on its own."),
        _("Ice still in it: it counts as frozen, and may stay or go back in the freezer."),
        _("No ice, but cold, at most %(temp)s: it is thawed now. Into the refrigerator, and note it.") % {"temp": line},
        _("Above %(temp)s for more than %(hours)s: throw it away.") % {"temp": line, "hours": span},
    ]
